"""A kit's record, `kit.json`: everything that reading and scoring need.

It keeps the keys in one of three ways: masked, so that nobody reads one by accident; locked with a passphrase; or not
at all, with the seal codes alone, where the printed key sheets are the only keys.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from base64 import b64decode, b64encode
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, get_args

from kit import sheet_layout
from kit.chance_source import ChanceSource
from kit.errors import KitError, SessionError
from kit.files import LAYOUT_FILE as LAYOUT_FILE
from kit.files import RECORD_FILE as RECORD_FILE
from kit.files import read_bounded
from kit.house import SET_ID_PATTERN as KIT_ID_PATTERN
from kit.keys import Key, OpenedKey, SealedKey, lock_key, open_key, seal_key
from kit.layout_reading import read_layout
from kit.passphrase import CIPHER, KDF, Lock, Locked, Opener, new_lock, opener_of
from kit.session import Session, session_from_json, session_to_json
from kit.sheet_layout import KitLayout

FORMAT = "facedown-kit/1"
_MOST_BYTES = {RECORD_FILE: 20_000_000, LAYOUT_FILE: 1_000_000_000}
"""Of the most tasters that a session may have, 9,999, with five glasses a record has 3 MB, a layout 700."""

KeysKept = Literal["masked", "passphrase", "paper"]


@dataclass(frozen=True, slots=True)
class Kit:
    """One printed sitting. `secret` signs its codes; `sealed` has a key for each taster, none with `hand`.

    `keys_kept` says how the record keeps the keys; `lock` is there where it is with a passphrase.
    """

    id: str
    session: Session
    secret: bytes
    sealed: tuple[SealedKey, ...]
    keys_kept: KeysKept = "masked"
    lock: Lock | None = None

    @property
    def seals(self) -> tuple[str, ...]:
        """The seal code of each taster."""
        return tuple(key.seal for key in self.sealed)


def opened_keys(kit: Kit, passphrase: str | None = None) -> tuple[OpenedKey, ...]:
    """Break the seals of all keys; nothing with `hand`, where no key exists.

    Raises
    ------
    KitError
        If a key is not the one that was sealed, the passphrase is needed or wrong, or the keys are on paper alone.
    """
    if not kit.sealed:
        return ()
    if kit.keys_kept == "paper":
        raise KitError(
            f"Kit {kit.id} keeps no keys, only their seal codes: the keys are on the printed key sheets alone.",
            "Open them and photograph or scan them; `facedown read` reads them, and `score` and `unseal --reading` "
            "take the keys from there.",
        )
    opener = _opener(kit, passphrase)
    return tuple(
        open_key(kit.id, number, kit.session.glasses, sealed, opener)
        for number, sealed in enumerate(kit.sealed, start=1)
    )


def kept_with_passphrase(kit: Kit, passphrase: str, chance: ChanceSource) -> Kit:
    """Return a kit whose keys are masked with them locked instead; only who knows the passphrase can open them.

    Raises
    ------
    KitError
        If the passphrase is empty.
    """
    lock, opener = new_lock(kit.id, passphrase, chance)
    sealed = tuple(
        lock_key(opener, key.taster, tuple(key.places.values()), bytes.fromhex(key.salt), chance)
        for key in opened_keys(kit)
    )
    return replace(kit, sealed=sealed, keys_kept="passphrase", lock=lock)


def kept_on_paper(kit: Kit) -> Kit:
    """Return a kit with the seal codes of its keys alone: the printed key sheets are then the only keys."""
    return replace(kit, sealed=tuple(SealedKey(seal) for seal in kit.seals), keys_kept="paper", lock=None)


def sealed_as_kept(
    kit: Kit, taster: int, key: Key, salt: bytes, chance: ChanceSource, passphrase: str | None = None
) -> SealedKey:
    """Return the sealed form of one more key, kept as the kit keeps the others.

    Raises
    ------
    KitError
        If the passphrase is needed or wrong.
    """
    opener = _opener(kit, passphrase)
    if opener is not None:
        return lock_key(opener, taster, key, salt, chance)
    sealed = seal_key(kit.id, taster, key, salt, chance)
    return SealedKey(sealed.seal) if kit.keys_kept == "paper" else sealed


def _opener(kit: Kit, passphrase: str | None) -> Opener | None:
    if kit.lock is None:
        return None
    if passphrase is None:
        raise KitError(
            f"The keys of kit {kit.id} are locked with a passphrase.",
            "Give --passphrase and type it when asked, or --passphrase-file FILE, or put it into the environment "
            "variable FACEDOWN_PASSPHRASE.",
        )
    return opener_of(kit.id, kit.lock, passphrase)


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

    Sheets of one kind share their boxes: a layout of a thousand tasters takes little more memory than one of ten.

    Raises
    ------
    KitError
        If it is missing, broken, changed, or of another kit than the record beside it.
    """
    path = folder / LAYOUT_FILE
    record = _load_json(folder / RECORD_FILE)
    with contextlib.suppress(KitError, OSError, KeyError, TypeError, ValueError, RecursionError):
        _refuse_what_leads_out(path)
        if path.stat().st_size <= _MOST_BYTES[path.name]:
            layout, digest = read_layout(path)
            if digest == record.get("layout_sha256"):
                return layout
    # Not as it was written: what is wrong is told by the file as a whole.
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


def layout_sha256_of(folder: Path) -> str:
    """Return the digest of the layout that a kit was printed with."""
    return str(_load_json(folder / RECORD_FILE).get("layout_sha256"))


def record_file(kit: Kit, layout_sha256: str) -> bytes:
    """Return the bytes of `kit.json` for a layout of that digest (`kit.layout_file` takes it)."""
    entry = {
        "format": FORMAT,
        "kit": kit.id,
        # A seed is as good as the keys: it never reaches the record.
        "session": session_to_json(replace(kit.session, seed=None)),
        "secret": kit.secret.hex(),
        "keys_kept": kit.keys_kept,
        **({"passphrase": _lock_to_json(kit.lock)} if kit.lock else {}),
        "keys": [
            {"taster": number, **_sealed_to_json(sealed, kit.keys_kept)}
            for number, sealed in enumerate(kit.sealed, start=1)
        ],
        "layout_sha256": layout_sha256,
    }
    entry["record_sha256"] = _digest(entry)
    return (json.dumps(entry, ensure_ascii=False, indent=1) + "\n").encode()


def _from_json(entry: dict[str, Any]) -> Kit:
    # Records of the first version do not say how they keep the keys: masked.
    kept = entry.get("keys_kept", "masked")
    if kept not in get_args(KeysKept):
        raise ValueError(f"its keys are kept in an unknown way, {kept!r}")
    return Kit(
        id=_kit_id(entry["kit"]),
        session=session_from_json(entry["session"]),
        secret=bytes.fromhex(entry["secret"]),
        sealed=tuple(_sealed_from_json(key, kept) for key in entry["keys"]),
        keys_kept=kept,
        lock=_lock_from_json(entry["passphrase"]) if kept == "passphrase" else None,
    )


def _kit_id(name: object) -> str:
    if not isinstance(name, str) or not KIT_ID_PATTERN.fullmatch(name):
        raise ValueError(f"its id is {name!r}, not six of 0 to 9 and A to Z without I, L, O and U")
    return name


def _sealed_to_json(sealed: SealedKey, kept: KeysKept) -> dict[str, str]:
    match kept:
        case "masked":
            return {"seal": sealed.seal, "nonce": sealed.nonce, "masked": sealed.masked}
        case "passphrase":
            return {"seal": sealed.seal, "nonce": sealed.nonce, "locked": sealed.locked}
        case "paper":
            return {"seal": sealed.seal}


def _sealed_from_json(entry: dict[str, Any], kept: KeysKept) -> SealedKey:
    match kept:
        case "masked":
            return SealedKey(str(entry["seal"]), str(entry["nonce"]), masked=str(entry["masked"]))
        case "passphrase":
            return SealedKey(str(entry["seal"]), str(entry["nonce"]), locked=str(entry["locked"]))
        case "paper":
            return SealedKey(str(entry["seal"]))


def _lock_to_json(lock: Lock) -> dict[str, Any]:
    return {
        "kdf": KDF,
        "salt": lock.salt.hex(),
        "n": lock.cost,
        "r": lock.block,
        "p": lock.parallel,
        "cipher": CIPHER,
        "check": {"nonce": lock.check.nonce.hex(), "locked": b64encode(lock.check.text).decode()},
    }


def _lock_from_json(entry: dict[str, Any]) -> Lock:
    if (entry["kdf"], entry["cipher"]) != (KDF, CIPHER):
        raise ValueError(f"its keys are locked by {entry['kdf']} and {entry['cipher']}, not {KDF} and {CIPHER}")
    cost, block, parallel = entry["n"], entry["r"], entry["p"]
    if not all(type(number) is int for number in (cost, block, parallel)):
        raise TypeError("the cost of its passphrase is no whole number")
    check = entry["check"]
    return Lock(
        bytes.fromhex(entry["salt"]),
        cost,
        block,
        parallel,
        Locked(bytes.fromhex(check["nonce"]), b64decode(check["locked"], validate=True)),
    )


def _load_json(path: Path) -> dict[str, Any]:
    if not path.parent.is_dir():
        raise KitError(f"{path.parent}: there is no such kit folder.", "`facedown print SESSION --out KIT` makes one.")
    try:
        _refuse_what_leads_out(path)
        entry = json.loads(read_bounded(path, _MOST_BYTES[path.name]).decode("utf-8"))
    except FileNotFoundError as error:
        raise KitError(
            f"{path.parent}: {path.name} is missing, so this is no kit folder, or only half of one.",
            "Copy the whole folder as `facedown print` wrote it.",
        ) from error
    except (OSError, ValueError, RecursionError) as error:
        reason = getattr(error, "strerror", None) or error
        raise KitError(f"{path}: it cannot be read ({reason}).", "Use an untouched copy of the kit folder.") from error
    if not isinstance(entry, dict):
        raise KitError(f"{path}: it holds no record.", "Use an untouched copy of the kit folder.")
    return entry


def _refuse_what_leads_out(path: Path) -> None:
    """A kit folder that somebody sent holds plain files of its own; a link in it or a device could be anything."""
    if not path.is_file() or path.resolve().parent != path.parent.resolve():
        if path.exists() or path.is_symlink():
            raise KitError(
                f"{path}: it cannot be read: it is no plain file of this folder.",
                "Copy the whole folder as `facedown print` wrote it.",
            )
        raise FileNotFoundError(path)


def _digest(entry: dict[str, Any]) -> str:
    canonical = json.dumps(entry, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()
