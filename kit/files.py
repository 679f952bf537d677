"""Writing a file so that it is there whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path

from kit.errors import StorageError

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


def _replace(target: Path, octets: bytes) -> None:
    temporary = target.with_name(f".facedown-{os.urandom(8).hex()}.tmp")
    try:
        with temporary.open("xb") as file:
            file.write(octets)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
