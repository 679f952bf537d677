"""Writes a kit folder whole or not at all."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from kit.errors import KitError, StorageError
from kit.files import storage_error
from kit.record import LAYOUT_FILE, RECORD_FILE

KIT_FILES = frozenset(
    {
        RECORD_FILE,
        LAYOUT_FILE,
        "forms.pdf",
        "coasters.pdf",
        "host.pdf",
        "keys.pdf",
        "vials.pdf",
        "packing.pdf",
        "letters.pdf",
    }
)
"""All that a kit folder may hold (FORMATS, section 2)."""

_REPLACED = KIT_FILES | {".DS_Store", "Thumbs.db", "desktop.ini"}


def write_folder(target: Path, contents: Mapping[str, bytes], *, force: bool) -> None:
    """Write these files as the folder `target`; of a link, what it points to.

    The files go into a folder beside it first, which then takes its name in one step.

    Raises
    ------
    KitError
        If `target` exists and `force` is not given, or holds anything but a kit.
    StorageError
        If the disk refuses; then nothing is left behind and an existing folder is as it was.
    """
    _refuse_to_overwrite(target, force=force)
    place = Path(os.path.realpath(target))
    made = [parent for parent in place.parents if not parent.exists()]
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=".facedown-", dir=place.parent))
        try:
            _write_files(fresh, contents)
            _swap(fresh, place)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    except BaseException as error:
        for parent in made:
            with contextlib.suppress(OSError):
                parent.rmdir()
        if isinstance(error, OSError):
            refusal = storage_error(error, target)
            hint = refusal.hint or "Choose another place."
            raise StorageError(f"{refusal.message} Nothing was changed.", hint) from error
        raise


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
    if strangers := sorted(entry.name for entry in target.iterdir() if entry.name not in _REPLACED):
        raise KitError(
            f"{target}: beside the kit it holds {', '.join(strangers[:3])}{' …' if strangers[3:] else ''}, "
            "which --force would delete.",
            "Move what is not the kit's to another folder, or choose another name for --out.",
        )
    if Path.cwd().is_relative_to(target.resolve()):
        raise KitError(f"{target}: it is the folder that you are working in.", "Go out of it first, then print again.")


def _write_files(folder: Path, contents: Mapping[str, bytes]) -> None:
    for name, content in contents.items():
        with (folder / name).open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    folder.chmod(0o777 & ~_umask())


def _swap(fresh: Path, target: Path) -> None:
    if not target.exists():
        fresh.rename(target)
        return
    shelter = Path(tempfile.mkdtemp(prefix=".facedown-former-", dir=target.parent))
    former = shelter / "kit"
    try:
        target.rename(former)
        fresh.rename(target)
    except BaseException:
        # An interrupt as well: the old kit goes back before anything of it can be deleted.
        if former.exists() and not target.exists():
            former.rename(target)
        if not former.exists():
            shelter.rmdir()
        raise
    shutil.rmtree(shelter, ignore_errors=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
