"""Writes a kit folder whole or not at all."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager
from pathlib import Path
from typing import BinaryIO

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
        "contents.pdf",
    }
)
"""The files that a kit folder may hold (FORMATS, section 2)."""
PACKETS_FOLDER = "packets"
"""A folder in it, with a PDF for each packet."""
PACKET_FILE = re.compile(r"[0-9]{4}\.pdf")

_LEFT_BY_DESKTOPS = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})

OpenFile = Callable[[str], AbstractContextManager[BinaryIO]]
"""Opens a file of the folder for writing, by its name in it; on the disk when the context ends."""


def write_folder(target: Path, contents: Mapping[str, bytes], *, force: bool) -> None:
    """Write these files as the folder `target`, as `fill_folder` does."""

    def fill(open_file: OpenFile) -> None:
        for name, content in contents.items():
            with open_file(name) as file:
                file.write(content)

    fill_folder(target, fill, replaces="--force" if force else None)


def fill_folder(target: Path, fill: Callable[[OpenFile], object], *, replaces: str | None) -> None:
    """Let `fill` write the files of the folder `target`; of a link, what it points to.

    The files go into a folder beside it first, which takes its name in one step once `fill` has returned. `replaces` is
    the option by which a person asked to have an existing kit replaced.

    Raises
    ------
    KitError
        If `target` exists and is not to be replaced, or holds anything but a kit.
    StorageError
        If the disk refuses; then nothing is left behind and an existing folder is as it was.
    """
    _refuse_to_overwrite(target, replaces)
    place = Path(os.path.realpath(target))
    made = [parent for parent in place.parents if not parent.exists()]
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=".facedown-", dir=place.parent))
        try:
            fill(lambda name: _open(fresh / name))
            _as_open_as_others(fresh)
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


def _refuse_to_overwrite(target: Path, replaces: str | None) -> None:
    if not target.exists() and not target.is_symlink():
        return
    if replaces is None:
        raise KitError(
            f"{target}: it exists already.", "Choose another name for --out, or give --force to replace that kit."
        )
    or_elsewhere = ", or choose another name for --out" if replaces == "--force" else ""
    if not (target / RECORD_FILE).is_file():
        raise KitError(
            f"{target}: it exists and is no kit folder, so {replaces} does not replace it.",
            "Choose another name for --out.",
        )
    if strangers := sorted(_strangers(target)):
        raise KitError(
            f"{target}: beside the kit it holds {', '.join(strangers[:3])}{' …' if strangers[3:] else ''}, "
            f"which {replaces} would delete.",
            f"Move what is not the kit's to another folder{or_elsewhere}.",
        )
    if Path.cwd().is_relative_to(target.resolve()):
        raise KitError(f"{target}: it is the folder that you are working in.", "Go out of it first, then print again.")


def _strangers(folder: Path) -> Iterator[str]:
    """Yield what a folder holds beside a kit."""
    for entry in folder.iterdir():
        if entry.name == PACKETS_FOLDER and entry.is_dir() and not entry.is_symlink():
            names = (packet.name for packet in entry.iterdir() if packet.name not in _LEFT_BY_DESKTOPS)
            yield from (f"{PACKETS_FOLDER}/{name}" for name in names if not PACKET_FILE.fullmatch(name))
        elif entry.name not in KIT_FILES | _LEFT_BY_DESKTOPS:
            yield entry.name


@contextlib.contextmanager
def _open(path: Path) -> Iterator[BinaryIO]:
    path.parent.mkdir(exist_ok=True)
    with path.open("xb") as file:
        yield file
        file.flush()
        os.fsync(file.fileno())


def _as_open_as_others(folder: Path) -> None:
    """Give a folder the mode that the umask allows; a temporary one is its owner's alone."""
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
