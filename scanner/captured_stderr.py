"""Catching what a C library prints on the process's stderr, where the library has no other way to say it."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def captured_stderr() -> Iterator[Callable[[], bytes]]:
    """Send file descriptor 2 into a temporary file; the function given tells what has arrived there so far.

    The whole process's stderr is caught, so the block must be short. Where there is no stderr nothing is caught.
    """
    try:
        own = os.dup(2)
    except OSError:
        yield lambda: b""
        return
    with tempfile.TemporaryFile() as caught:
        if sys.stderr is not None:
            sys.stderr.flush()
        os.dup2(caught.fileno(), 2)
        try:
            yield lambda: os.pread(caught.fileno(), 4096, 0)
        finally:
            os.dup2(own, 2)
            os.close(own)
