"""The one file outside the kit folder that takes every paper that shows a key, where the folder must not."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from kit.errors import KitError, StorageError
from kit.files import storage_error

_OWNER_ALONE = 0o600


class KeysFile:
    """A file for the keys, under a temporary name until it is published; its owner alone may read it."""

    def __init__(self, path: Path, temporary: Path, file: BinaryIO) -> None:
        self._path, self._temporary, self._file = path, temporary, file
        self.is_published = False

    def write(self, octets: bytes) -> None:
        """Write the next bytes."""
        with _refused_by_the_disk(self._path):
            self._file.write(octets)

    def publish(self) -> None:
        """Give the file its name, unless something has taken it."""
        with _refused_by_the_disk(self._path):
            self._file.flush()
            os.fsync(self._file.fileno())
            self._file.close()
            try:
                # A link is refused where the name is taken; a rename would overwrite in silence.
                os.link(self._temporary, self._path)
            except FileExistsError:
                raise _exists(self._path) from None
            except OSError:
                # Some disks know no links.
                _refuse_existing(self._path)
                self._temporary.rename(self._path)
        self.is_published = True


@contextlib.contextmanager
def keys_file(path: Path, folder: Path) -> Iterator[KeysFile]:
    """Open a file for the keys of a kit; who uses it publishes it. Nothing of it stays if an error ends the context.

    Raises
    ------
    KitError
        If it exists already, or would lie in the kit's `folder`.
    StorageError
        If the disk refuses.
    """
    _refuse_existing(path)
    target = Path(os.path.realpath(path))
    if target.is_relative_to(os.path.realpath(folder)):
        raise KitError(
            f"{path}: the keys would lie in the kit folder {folder}, which must not hold them.",
            "Choose a place for --keys-out outside it.",
        )
    temporary = target.with_name(f".facedown-{secrets.token_hex(8)}.tmp")
    with _refused_by_the_disk(path):
        descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), _OWNER_ALONE)
    with os.fdopen(descriptor, "wb") as file:
        keys = KeysFile(target, temporary, file)
        try:
            yield keys
        except BaseException:
            if keys.is_published:
                _let_go_of(target)
            raise
        finally:
            _let_go_of(temporary)


@contextlib.contextmanager
def _refused_by_the_disk(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        refusal = storage_error(error, path)
        raise StorageError(
            f"{refusal.message} Nothing was changed.", refusal.hint or "Choose another place."
        ) from error


def _refuse_existing(path: Path) -> None:
    if path.exists() or path.is_symlink():
        raise _exists(path)


def _exists(path: Path) -> KitError:
    return KitError(
        f"{path}: it exists already, and keys are never written over anything.",
        "Choose another name for --keys-out, or move that file away.",
    )


def _let_go_of(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)
