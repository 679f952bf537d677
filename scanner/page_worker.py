"""What a worker does: it lists the pages of a file, opens a page, reads it, cuts its writing areas out.

This is the only way from a pile to a decoder. The process that holds the pile imports none of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

import cv2

from kit.errors import SourceError
from scanner.archive.cut_outs import cut_outs
from scanner.kits import KitOnFile
from scanner.limits import TOO_GREEDY
from scanner.page_image import PageError, PageFailure, PageImage
from scanner.page_tasks import CutOut, Failed, ListPages, PageRead, ReadPage, unread
from scanner.read_picture import read_picture
from scanner.reading import Outcome, PageReading, PictureReading
from scanner.sources import open_page, pages_in

Found = TypeVar("Found")

cv2.setNumThreads(1)


def listed(task: ListPages) -> tuple[int, ...] | str:
    """Return where the pages of a file stand, or why it cannot be opened."""
    try:
        return pages_in(task.source)
    except SourceError as error:
        return str(error)


def read_page(task: ReadPage, kits: Mapping[str, KitOnFile], *, cuts: bool) -> PageRead:
    """Read a page, `unreadable` where it cannot be opened or decoded; with `cuts` a sheet that is read is cut out.

    Raises
    ------
    MemoryError
        Where the page takes more than a worker has; then the worker is at its end.
    """

    def read(image: PageImage) -> PageRead:
        picture = read_picture(image, kits)
        return PageRead(picture, _cut(image, picture, kits) if cuts else ())

    return look_at(task, read, unread)


def look_at(task: ReadPage, look: Callable[[PageImage], Found], failed: Failed[Found]) -> Found:
    """Open a page and return what `look` finds on it; what `failed` makes of the reason where that cannot be.

    Raises
    ------
    MemoryError
        As `read_page` does.
    """
    image = open_page(task.source, task.place, task.source_page)
    if isinstance(image, PageFailure):
        return failed(image.source, image.source_page, image.reason)
    try:
        return look(image)
    except PageError as error:
        reason = error.failure.reason
    except MemoryError:
        raise
    except Exception as error:
        if isinstance(error, cv2.error) and error.code == cv2.Error.StsNoMem:
            reason = TOO_GREEDY
        else:
            # A defect of ours must cost one page, never the pile.
            reason = f"the program failed on it ({type(error).__name__}: {error}). Settle it by hand, and report it."
    return failed(task.source, task.source_page, reason)


def _cut(image: PageImage, picture: PictureReading, kits: Mapping[str, KitOnFile]) -> tuple[CutOut, ...]:
    if not isinstance(picture, PageReading) or picture.outcome is not Outcome.READ:
        return ()
    return cut_outs(image, picture, kits[picture.kit or ""].sheets[picture.sheet or ""])
