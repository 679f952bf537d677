"""The door through which files of images come in: one page image, or one reason why not, for each page of each file."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from kit.errors import SourceError
from scanner.checked_file import checked_kind, refusal
from scanner.file_kinds import FileKind
from scanner.image_sources import count_tiff_pages, open_picture, open_tiff_page, tiff_pages, tiff_places
from scanner.limits import MOST_PAGES, check_page_count
from scanner.page_image import PageError, PageFailure, PageImage, Pixels

__all__ = [
    "PageError",
    "PageFailure",
    "PageImage",
    "count_pages",
    "open_page",
    "open_source",
    "pages_in",
]

Opened = tuple[tuple[int, int], Pixels]


def open_source(path: Path | str) -> Iterator[PageImage | PageFailure]:
    """Yield the pages of a file one by one, each undecoded, or why it cannot be read.

    What a file is, is told by its content; its name does not matter. Nothing is raised.

    Parameters
    ----------
    path : Path or str
        JPEG, PNG, WebP, HEIC, BMP or GIF with one page, TIFF or PDF with many.

    Yields
    ------
    PageImage or PageFailure
        `source` is `path` as given. Where the file cannot be opened at all, one failure with `source_page` None.

    Notes
    -----
    A page image may outlive the iteration and may be sent to another process: it holds its bytes, or opens the file
    again.
    """
    source = os.fspath(path)
    source_page = 0
    try:
        for opened in _pages(Path(path)):
            source_page += 1
            if isinstance(opened, SourceError):
                yield PageFailure(source, source_page, str(opened))
            else:
                yield PageImage(source, source_page, *opened)
    except SourceError as error:
        yield PageFailure(source, None, str(error))


def pages_in(path: Path | str) -> tuple[int, ...]:
    """Return where each page of a file stands, for `open_page`: thumbnails in a TIFF are passed over.

    Raises
    ------
    SourceError
        If the file cannot be opened at all. Of a file that can hold one picture alone only the first bytes are looked
        at, and no library is asked.
    """
    kind = checked_kind(Path(path))
    if kind is FileKind.PDF:
        from scanner.pdf_sources import count_pdf_pages

        pages = range(count_pdf_pages(Path(path).resolve()))
        check_page_count(len(pages))
        return tuple(pages)
    return tiff_places(Path(path).resolve()) if kind is FileKind.TIFF else (0,)


def open_page(path: Path | str, place: int, source_page: int) -> PageImage | PageFailure:
    """Return one page of a file, undecoded, or why it cannot be read; `place` is one of `pages_in`."""
    source = os.fspath(path)
    try:
        kind = checked_kind(Path(path))
        resolved = Path(path).resolve()
        if kind is FileKind.PDF:
            from scanner.pdf_sources import open_pdf_page

            opened = open_pdf_page(resolved, place)
        else:
            opened = open_tiff_page(resolved, place) if kind is FileKind.TIFF else _picture(kind, resolved)
    except SourceError as error:
        return PageFailure(source, source_page, str(error))
    return PageImage(source, source_page, *opened)


def count_pages(path: Path | str) -> int:
    """Return how many entries `open_source` will yield, for a progress bar: thumbnails in a TIFF are counted in."""
    try:
        kind = checked_kind(Path(path))
        pages = _count(kind, Path(path).resolve())
    except SourceError:
        return 1
    return pages if 0 < pages <= MOST_PAGES else 1


def _pages(path: Path) -> Iterator[Opened | SourceError]:
    kind = checked_kind(path)
    path = path.resolve()
    if kind is FileKind.PDF:
        from scanner.pdf_sources import pdf_pages  # a twentieth of a second that only PDF piles pay for

        yield from pdf_pages(path)
    elif kind is FileKind.TIFF:
        yield from tiff_pages(path)
    else:
        yield _picture(kind, path)


def _picture(kind: FileKind, path: Path) -> Opened:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise refusal(error) from error
    return open_picture(kind, content)


def _count(kind: FileKind, path: Path) -> int:
    if kind is FileKind.PDF:
        from scanner.pdf_sources import count_pdf_pages

        return count_pdf_pages(path)
    return count_tiff_pages(path) if kind is FileKind.TIFF else 1
