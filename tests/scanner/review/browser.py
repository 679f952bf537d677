"""A real Chromium, that of the system, driven for tests; each test has a page of its own."""

from __future__ import annotations

import contextlib
import os
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from scanner.review.guard import Guard
from scanner.review.serve import review_server
from tests.scanner.archive.pile import NOW

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
DEMANDED = os.environ.get("FACEDOWN_DEMAND_CHROMIUM") == "1"
needs_chromium = pytest.mark.skipif(CHROMIUM is None and not DEMANDED, reason="there is no Chromium")
ARGUMENTS = ["--no-sandbox", "--disable-dev-shm-usage"]
"""Chromium's own sandbox does not start for root, as whom CI runs; only this program's pages are opened."""


@contextlib.contextmanager
def served(folder: Path) -> Iterator[Guard]:
    """Serve the second look of an archive for the block."""
    server, guard, _ = review_server(folder, "rhian", lambda: NOW)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield guard
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
