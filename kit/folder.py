"""Writes a kit folder whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from kit.errors import KitError, StorageError
from kit.record import RECORD_FILE


def write_folder(target: Path, contents: Mapping[str, bytes], *, force: bool) -> None:
    """Write these files as the folder `target`.

    The files go into a folder beside it first, which then takes its name in one step.

    Raises
    ------
    KitError
        If `target` exists and `force` is not given, or is no kit folder.
    StorageError
        If the disk refuses; then nothing is left behind and an existing folder is as it was.
    """
    _refuse_to_overwrite(target, force=force)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as error:
        reason = f"{target}: the folder cannot be made ({error.strerror})."
        raise StorageError(reason, "Choose another place.") from error
    try:
        for name, content in contents.items():
            with (fresh / name).open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        fresh.chmod(0o777 & ~_umask())
        _swap(fresh, target)
    except OSError as error:
        raise StorageError(
            f"{target}: it cannot be written ({error.strerror}). Nothing was changed.",
            "Make room, or choose another place.",
        ) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _refuse_to_overwrite(target: Path, *, force: bool) -> None:
    if not target.exists() and not target.is_symlink():
        return
    if not force:
        raise KitError(
            f"{target}: it exists already.", "Choose another name for --out, or give --force to replace that kit."
        )
    if not (target / RECORD_FILE).is_file():
        raise KitError(
            f"{target}: it exists and is no kit folder, so --force does not replace it.",
            "Choose another name for --out.",
        )


def _swap(fresh: Path, target: Path) -> None:
    if not target.exists():
        fresh.rename(target)
        return
    former = Path(tempfile.mkdtemp(prefix=f".{target.name}-former-", dir=target.parent)) / "kit"
    target.rename(former)
    try:
        fresh.rename(target)
    except OSError:
        former.rename(target)
        raise
    finally:
        shutil.rmtree(former.parent, ignore_errors=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
