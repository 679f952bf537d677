"""A kit's record, `kit.json`: everything that reading and scoring need, the keys in sealed form only."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from kit import sheet_layout
from kit.errors import KitError, SessionError
from kit.keys import OpenedKey, SealedKey, open_key
from kit.session import Session, session_from_json, session_to_json
from kit.sheet_layout import KitLayout

FORMAT = "facedown-kit/1"
RECORD_FILE = "kit.json"
LAYOUT_FILE = "layout.json"


@dataclass(frozen=True, slots=True)
class Kit:
    """One printed sitting. `secret` signs its codes; `sealed` has a key for each taster, none with `hand`."""

    id: str
    session: Session
    secret: bytes
    sealed: tuple[SealedKey, ...]

    @property
    def seals(self) -> tuple[str, ...]:
        """The seal code of each taster."""
        return tuple(key.seal for key in self.sealed)


def opened_keys(kit: Kit) -> tuple[OpenedKey, ...]:
    """Break the seals of all keys; nothing with `hand`, where no key exists.

    Raises
    ------
    KitError
        If a key is not the one that was sealed.
    """
    return tuple(
        open_key(kit.id, number, kit.session.glasses, sealed) for number, sealed in enumerate(kit.sealed, start=1)
    )


def load_kit(folder: Path) -> Kit:
    """Read the record of a kit folder.

    Raises
    ------
    KitError
        If the folder holds no record, one of another format, or one that was changed after printing.
    """
    path = folder / RECORD_FILE
    entry = _load_json(path)
    if entry.get("format") != FORMAT:
        raise KitError(
            f"{path}: its format is {entry.get('format')!r}; this program reads {FORMAT!r}.",
            "Use the version of facedown that printed the kit.",
        )
    if entry.get("record_sha256") != _digest({k: v for k, v in entry.items() if k != "record_sha256"}):
        raise KitError(
            f"{path}: the record was changed after the kit was printed.",
            "Use an untouched copy of the kit folder; a kit is never edited, it is printed again.",
        )
    try:
        return _from_json(entry)
    except (KeyError, TypeError, ValueError, SessionError) as error:
        reason = f"{path}: the record is incomplete ({error})."
        raise KitError(reason, "Use an untouched copy of the folder.") from error


def layout_of(folder: Path) -> KitLayout:
    """Read the layout of a kit folder, and check that it is the one that was printed.

    Raises
    ------
    KitError
        If it is missing, broken, changed, or of another kit than the record beside it.
    """
    path = folder / LAYOUT_FILE
    record = _load_json(folder / RECORD_FILE)
    entry = _load_json(path)
    if _digest(entry) != record.get("layout_sha256"):
        raise KitError(
            f"{path}: the layout is not the one that this kit was printed with.",
            "Use an untouched copy of the kit folder.",
        )
    try:
        return sheet_layout.from_json(entry)
    except (KeyError, TypeError, ValueError) as error:
        reason = f"{path}: the layout is incomplete ({error})."
        raise KitError(reason, "Use an untouched copy of the folder.") from error


def record_files(kit: Kit, layout: KitLayout) -> dict[str, bytes]:
    """Return the bytes of `kit.json` and `layout.json`."""
    layout_entry = sheet_layout.to_json(layout)
    entry = {
        "format": FORMAT,
        "kit": kit.id,
        # A seed is as good as the keys: it never reaches the record.
        "session": session_to_json(replace(kit.session, seed=None)),
        "secret": kit.secret.hex(),
        "keys": [
            {"taster": number, "seal": sealed.seal, "nonce": sealed.nonce, "masked": sealed.masked}
            for number, sealed in enumerate(kit.sealed, start=1)
        ],
        "layout_sha256": _digest(layout_entry),
    }
    entry["record_sha256"] = _digest(entry)
    return {
        RECORD_FILE: (json.dumps(entry, ensure_ascii=False, indent=1) + "\n").encode(),
        LAYOUT_FILE: (json.dumps(layout_entry, ensure_ascii=False, separators=(",", ":")) + "\n").encode(),
    }


def _from_json(entry: dict[str, Any]) -> Kit:
    return Kit(
        id=str(entry["kit"]),
        session=session_from_json(entry["session"]),
        secret=bytes.fromhex(entry["secret"]),
        sealed=tuple(SealedKey(str(key["seal"]), str(key["nonce"]), str(key["masked"])) for key in entry["keys"]),
    )


def _load_json(path: Path) -> dict[str, Any]:
    if not path.parent.is_dir():
        raise KitError(f"{path.parent}: there is no such kit folder.", "`facedown print SESSION --out KIT` makes one.")
    try:
        entry = json.loads(path.read_text("utf-8"))
    except FileNotFoundError as error:
        raise KitError(
            f"{path.parent}: {path.name} is missing, so this is no kit folder, or only half of one.",
            "Copy the whole folder as `facedown print` wrote it.",
        ) from error
    except (OSError, ValueError, RecursionError) as error:
        raise KitError(f"{path}: it cannot be read ({error}).", "Use an untouched copy of the kit folder.") from error
    if not isinstance(entry, dict):
        raise KitError(f"{path}: it holds no record.", "Use an untouched copy of the kit folder.")
    return entry


def _digest(entry: dict[str, Any]) -> str:
    canonical = json.dumps(entry, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()
