"""A first look at a file of images, by its size and its first bytes: no image library is asked."""

from __future__ import annotations

import stat
from pathlib import Path

from kit.errors import SourceError
from scanner.file_kinds import HEAD_BYTES, READABLE, FileKind, describe_other, kind_of
from scanner.limits import check_bytes


def may_hold_many(path: Path | str) -> bool:
    """Tell whether a file is of a kind that has to be taken apart into pages.

    Raises
    ------
    SourceError
        If it cannot be opened at all, as `checked_kind` says.
    """
    return checked_kind(Path(path)) in (FileKind.PDF, FileKind.TIFF)


def checked_kind(path: Path) -> FileKind:
    """Return the kind of a file.

    Raises
    ------
    SourceError
        If there is none, it is no plain file, too large, empty, or of a kind that is not read.
    """
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise SourceError("it is a folder. Name the files in it.")
        if not stat.S_ISREG(status.st_mode):
            raise SourceError("it is not a file. Save the pages to a file first.")
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except (OSError, ValueError) as error:
        raise refusal(error) from error
    if not head:
        raise SourceError("the file is empty. Save or copy it again.")
    check_bytes(status.st_size)
    kind = kind_of(head)
    if kind is None:
        raise SourceError(
            f"not an image: this is {describe_other(head)}. Give {READABLE} files.",
        )
    return kind


def refusal(error: OSError | ValueError) -> SourceError:
    """Return the operating system's refusal of a file as a sentence."""
    match error:
        case FileNotFoundError() | NotADirectoryError():
            return SourceError("no such file. Check the name and the folder.")
        case PermissionError():
            return SourceError("it may not be read. Ask for leave to read it, or copy it elsewhere.")
        case OSError():
            return SourceError(f"the disk refused: {(error.strerror or 'unknown error').lower()}.")
        case _:
            return SourceError("no file can have such a name.")
