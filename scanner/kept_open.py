"""Keeping the file used last open, so that a page out of the middle of a long pile costs no opening."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Generic, Protocol, TypeVar


class Closable(Protocol):
    """Anything with a `close`."""

    def close(self) -> None:
        """Let go of the file."""


Opened = TypeVar("Opened", bound=Closable)


class KeptOpen(Generic[Opened]):
    """A place for one open file of a kind.

    A file that changed on the disk is opened again, and so is one that was opened before a fork: parent and child would
    share its position. Whoever holds what `get` returned must not use it after the next `get`.
    """

    def __init__(self, opener: Callable[[Path], Opened]) -> None:
        self._opener = opener
        self._opened: Opened | None = None
        self._key: tuple[object, ...] = ()

    def get(self, path: Path) -> Opened:
        """Return the file at `path`, open; raises what the opener raises, and OSError where the file is gone."""
        status = path.stat()
        key = (os.getpid(), path, status.st_mtime_ns, status.st_size)
        if self._opened is None or key != self._key:
            self.close()
            self._opened, self._key = self._opener(path), key
        return self._opened

    def close(self) -> None:
        """Close the file, if one is open."""
        if self._opened is not None:
            opened, self._opened = self._opened, None
            opened.close()
