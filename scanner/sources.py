"""The door through which files of images come in: one page image, or one reason why not, for each page of each file."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from kit.errors import SourceError
from scanner.file_kinds import HEAD_BYTES, READABLE, FileKind, describe_other, kind_of
from scanner.image_sources import count_tiff_pages, open_picture, tiff_pages
from scanner.page_image import MOST_PAGES, PageError, PageFailure, PageImage, Pixels

__all__ = ["MOST_BYTES", "MOST_PAGES", "PageError", "PageFailure", "PageImage", "count_pages", "open_source"]

MOST_BYTES = 200_000_000
"""Of one file."""

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


def count_pages(path: Path | str) -> int:
    """Return how many entries `open_source` will yield, for a progress bar: thumbnails in a TIFF are counted in."""
    try:
        kind = _checked_kind(Path(path))
        pages = _count(kind, Path(path).resolve())
    except SourceError:
        return 1
    return pages if 0 < pages <= MOST_PAGES else 1


def _pages(path: Path) -> Iterator[Opened | SourceError]:
    kind = _checked_kind(path)
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
        raise _refusal(error) from error
    return open_picture(kind, content)


def _count(kind: FileKind, path: Path) -> int:
    if kind is FileKind.PDF:
        from scanner.pdf_sources import count_pdf_pages

        return count_pdf_pages(path)
    return count_tiff_pages(path) if kind is FileKind.TIFF else 1


def _checked_kind(path: Path) -> FileKind:
    """Return the kind of a file; SourceError where there is none, or it cannot be one that is read."""
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise SourceError("it is a folder. Name the files in it.")
        if not stat.S_ISREG(status.st_mode):
            raise SourceError("it is not a file. Save the pages to a file first.")
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except (OSError, ValueError) as error:
        raise _refusal(error) from error
    if not head:
        raise SourceError("the file is empty. Save or copy it again.")
    if status.st_size > MOST_BYTES:
        raise SourceError(
            f"the file has {status.st_size / 1e6:,.0f} MB, and {MOST_BYTES / 1e6:.0f} MB are allowed.",
            "Split it, or scan at 300 dpi or less.",
        )
    kind = kind_of(head)
    if kind is None:
        raise SourceError(
            f"not an image: this is {describe_other(head)}. Give {READABLE} files.",
        )
    return kind


def _refusal(error: OSError | ValueError) -> SourceError:
    match error:
        case FileNotFoundError() | NotADirectoryError():
            return SourceError("no such file. Check the name and the folder.")
        case PermissionError():
            return SourceError("it may not be read. Ask for leave to read it, or copy it elsewhere.")
        case OSError():
            return SourceError(f"the disk refused: {(error.strerror or 'unknown error').lower()}.")
        case _:
            return SourceError("no file can have such a name.")
