"""Reads files of page images into page readings, several at a time, each in a worker that may break down."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import TypeVar

from kit.errors import SourceError
from scanner.checked_file import may_hold_many
from scanner.kits import KitOnFile
from scanner.page_tasks import Failed, Listed, ListPages, PageRead, PageWork, ReadPage, Task, Told, unread, why_lost
from scanner.reading import PictureReading
from scanner.watched import Bounds, Lost, watched

Work = Callable[[Task], Told]
Kits = Mapping[str, KitOnFile]
Found = TypeVar("Found")


def read_files(
    files: Sequence[Path | str],
    kits: Kits,
    jobs: int,
    *,
    told_total: Callable[[int], object] | None = None,
    work: Work | None = None,
    bounds: Bounds | None = None,
) -> Iterator[PictureReading]:
    """Yield a reading for every page image of every file, in order, as soon as it is there.

    A file or page that cannot be opened gives an `unreadable` reading, and so does one on which a worker hangs, breaks
    down or takes too much memory (`scanner.limits`); nothing that a file holds raises.

    Parameters
    ----------
    jobs : int
        How many processes read at once.
    told_total
        Called once, with the number of readings to come.
    work, bounds
        Stand-ins for what a worker does and may take.
    """
    pages = each_page(files, jobs, work or PageWork(kits), unread, bounds=bounds, told_total=told_total)
    for read in pages:
        yield read.picture


def read_and_cut(
    files: Sequence[Path | str],
    kits: Kits,
    jobs: int,
    *,
    only: Mapping[str, Collection[int]] | None = None,
    work: Work | None = None,
    bounds: Bounds | None = None,
) -> Iterator[PageRead]:
    """Yield what every page image of every file gave, as `read_files` does, with the cut-outs of sheets that were read.

    Parameters
    ----------
    only
        The pages wanted of a file named in it.
    """
    yield from each_page(files, jobs, work or PageWork(kits, cuts=True), unread, bounds=bounds, only=only)


def each_page(
    files: Sequence[Path | str],
    jobs: int,
    work: Callable[[Task], Listed | Found],
    failed: Failed[Found],
    *,
    bounds: Bounds | None = None,
    only: Mapping[str, Collection[int]] | None = None,
    told_total: Callable[[int], object] | None = None,
) -> Iterator[Found]:
    """Yield what `work`, in a worker, finds on every page image of every file, in order.

    Parameters
    ----------
    work
        Picklable, as is what it finds, which is neither text nor a tuple. Files are listed by it, too.
    failed
        Makes what stands in the place of a page, or of a file, that gave nothing.
    only
        The pages wanted of a file named in it, numbered from 1.
    """
    pages = list(_pages(files, jobs, work, failed, bounds, only or {}))
    if told_total is not None:
        told_total(len(pages))
    # What failed already takes its turn among what is read.
    with closing(watched(work, (page for page in pages if isinstance(page, ReadPage)), jobs, bounds)) as results:
        for page in pages:
            if not isinstance(page, ReadPage):
                yield page
                continue
            _, told = next(results)
            if isinstance(told, Lost):
                told = failed(page.source, page.source_page, why_lost(told))
            assert not isinstance(told, tuple | str)
            yield told


def _pages(
    files: Iterable[Path | str],
    jobs: int,
    work: Callable[[Task], Listed | Found],
    failed: Failed[Found],
    bounds: Bounds | None,
    only: Mapping[str, Collection[int]],
) -> Iterator[ReadPage | Found]:
    """Yield the pages of all files, in order, or what stands in the place of a file that cannot be opened."""
    sources = [os.fspath(file) for file in files]
    known = {source: _known(source) for source in dict.fromkeys(sources)}
    unknown = [ListPages(source) for source, places in known.items() if places is None]
    found = {task.source: told for task, told in watched(work, unknown, jobs, bounds)}
    for source in sources:
        places = known[source] or found[source]
        if isinstance(places, Lost):
            places = why_lost(places)
        if isinstance(places, str):
            yield failed(source, None, places)
            continue
        assert isinstance(places, tuple)
        for number, place in enumerate(places, start=1):
            if source not in only or number in only[source]:
                yield ReadPage(source, number, place)


def _known(source: str) -> Listed | None:
    """Return the places of a file's pages, or why there are none, where no library has to be asked; else None."""
    try:
        return None if may_hold_many(source) else (0,)
    except SourceError as error:
        return str(error)
