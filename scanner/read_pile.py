"""Reads files of page images into page readings, several at a time."""

from __future__ import annotations

import multiprocessing
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from pathlib import Path
from typing import TypeVar

import cv2

from scanner.kits import KitOnFile
from scanner.page_image import PageError, PageFailure, PageImage
from scanner.read_picture import read_picture
from scanner.read_sheet import read_sheet
from scanner.reading import Outcome, PageReading, PictureReading
from scanner.sources import open_source

Entry = TypeVar("Entry", bound=PictureReading)

AHEAD = 4
"""Pages handed out to each worker before the first is asked back."""
ALONE = 3
"""With no more pages than this, starting workers costs more than it saves."""

_kits: Mapping[str, KitOnFile] = {}


def read_files(files: Sequence[Path | str], kits: Mapping[str, KitOnFile], jobs: int) -> Iterator[PictureReading]:
    """Yield a reading for every page image of every file, in order, as soon as it is there.

    A file or page that cannot be opened gives an `unreadable` reading; nothing that an image shows raises.

    Parameters
    ----------
    jobs : int
        How many processes read at once; with 1 everything happens in this one.
    """
    images = _images(files)
    first = list(islice(images, ALONE + 1))
    everything = (image for part in (first, images) for image in part)
    if jobs == 1 or len(first) <= ALONE:
        for image in everything:
            yield read_any(image, kits)
    else:
        yield from _read_by_workers(everything, kits, jobs)


def read_page(image: PageImage | PageFailure, kits: Mapping[str, KitOnFile]) -> PageReading:
    """Return the reading of one page image as a sheet's, `unreadable` where it could not be opened or decoded."""
    return _guarded(read_sheet, image, kits)


def read_any(image: PageImage | PageFailure, kits: Mapping[str, KitOnFile]) -> PictureReading:
    """Return what one page image shows of a kit, `unreadable` where it could not be opened or decoded."""
    return _guarded(read_picture, image, kits)


def _guarded(
    read: Callable[[PageImage, Mapping[str, KitOnFile]], Entry],
    image: PageImage | PageFailure,
    kits: Mapping[str, KitOnFile],
) -> Entry | PageReading:
    if isinstance(image, PageFailure):
        return unreadable(image.source, image.source_page, image.reason)
    try:
        return read(image, kits)
    except PageError as error:
        return unreadable(image.source, image.source_page, error.failure.reason)
    except Exception as error:
        # A defect of ours must cost one page, never the pile.
        reason = f"the program failed on it ({type(error).__name__}: {error}). Settle it by hand, and report it."
        return unreadable(image.source, image.source_page, reason)


def unreadable(source: str, source_page: int | None, reason: str) -> PageReading:
    """Return the reading of a page of which nothing is known."""
    return PageReading(source, source_page, None, None, None, None, Outcome.UNREADABLE, reason)


def _images(files: Iterable[Path | str]) -> Iterator[PageImage | PageFailure]:
    for file in files:
        yield from open_source(file)


def _read_by_workers(
    images: Iterator[PageImage | PageFailure], kits: Mapping[str, KitOnFile], jobs: int
) -> Iterator[PictureReading]:
    # Fresh processes: a forked one inherits the locks of the libraries' threads.
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(jobs, context, initializer=_take_kits, initargs=(kits,))
    waiting: deque[tuple[PageImage | PageFailure, Future[PictureReading]]] = deque()
    try:
        for image in images:
            waiting.append((image, _submitted(pool, image)))
            if len(waiting) >= AHEAD * jobs:
                yield _result(*waiting.popleft())
        while waiting:
            yield _result(*waiting.popleft())
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _submitted(pool: ProcessPoolExecutor, image: PageImage | PageFailure) -> Future[PictureReading]:
    try:
        return pool.submit(_read_in_worker, image)
    except BrokenProcessPool as error:
        broken: Future[PictureReading] = Future()
        broken.set_exception(error)
        return broken


def _result(image: PageImage | PageFailure, future: Future[PictureReading]) -> PictureReading:
    try:
        return future.result()
    except BrokenProcessPool:
        reason = "the process that read it, or one beside it, broke down. Read the file again with --jobs 1."
        return unreadable(image.source, image.source_page, reason)


def _take_kits(kits: Mapping[str, KitOnFile]) -> None:
    global _kits
    _kits = kits
    cv2.setNumThreads(1)


def _read_in_worker(image: PageImage | PageFailure) -> PictureReading:
    return read_any(image, _kits)
