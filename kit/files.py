"""Writing a file so that it is there whole or not at all; reading no more than a file of its kind can have."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from kit.errors import StorageError

RECORD_FILE, LAYOUT_FILE = "kit.json", "layout.json"
"""The two files of a kit's folder that are read back."""

_ADVICE = {
    errno.ENOSPC: "Free some space, or write to another disk.",
    errno.EDQUOT: "Free some space, or write to another disk.",
    errno.EROFS: "Write to another disk or folder.",
    errno.EACCES: "Choose a folder that you may write to.",
    errno.EPERM: "Choose a folder that you may write to.",
    errno.ENOENT: "Make the folder first, or choose another.",
    errno.ENOTDIR: "Make the folder first, or choose another.",
    errno.EISDIR: "Choose a file name that is not a folder's.",
    errno.ENAMETOOLONG: "Choose a shorter name.",
}


_PIECE_BYTES = 2**24


def read_bounded(path: Path, most_bytes: int) -> bytes:
    """Return a file's bytes; what never ends, such as a device, is left off.

    Raises
    ------
    OSError
        If it cannot be read, or has more than `most_bytes`, a number of whole MB; `strerror` says which.
    """
    pieces: list[bytes] = []
    with path.open("rb") as file:
        left = -1 if os.fstat(file.fileno()).st_size > most_bytes else most_bytes
        while left >= 0 and (piece := file.read(_PIECE_BYTES)):
            pieces.append(piece)
            left -= len(piece)
    if left < 0:
        raise OSError(errno.EFBIG, f"it has more than {most_bytes / 1e6:,.0f} MB, and no more are allowed")
    return b"".join(pieces)


def write_atomically(path: Path, content: bytes | str) -> None:
    """Write `content`, text as UTF-8, to a temporary file beside `path`, then put it in the place of `path`.

    Whoever reads meanwhile sees the old file or the new one. The mode is the umask's. A link stays, and
    what it points to is replaced. A device or pipe, such as /dev/stdout, is written to directly.

    Raises
    ------
    StorageError
        If the disk refuses; an older file is then still there.
    """
    octets = content.encode() if isinstance(content, str) else content
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            path.write_bytes(octets)
        else:
            _replace(path.resolve(), octets)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise storage_error(error, path) from error


def storage_error(error: OSError, path: Path | str | None = None) -> StorageError:
    """Return the operating system's refusal as a sentence about `path`, or the file that the error names."""
    subject = path if path is not None else error.filename
    reason = (error.strerror or str(error) or type(error).__name__).lower()
    place = f"{subject}: " if subject is not None else ""
    return StorageError(f"{place}the disk refused: {reason}.", _ADVICE.get(error.errno or 0, ""))


@contextlib.contextmanager
def opened_atomically(path: Path) -> Iterator[BinaryIO]:
    """Give a file to write to piece by piece; it takes the place of `path` when the block ends without an error.

    As `write_atomically`, for what is too long to be kept in memory: a device or pipe is written to directly.

    Raises
    ------
    StorageError
        If the disk refuses; an older file is then still there.
    """
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            with path.open("wb") as device:
                yield device
        else:
            with _replacing(path.resolve()) as file:
                yield file
    except BrokenPipeError:
        raise
    except OSError as error:
        raise storage_error(error, path) from error


def _replace(target: Path, octets: bytes) -> None:
    with _replacing(target) as file:
        file.write(octets)


@contextlib.contextmanager
def _replacing(target: Path) -> Iterator[BinaryIO]:
    temporary = target.with_name(f".facedown-{os.urandom(8).hex()}.tmp")
    try:
        with temporary.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
