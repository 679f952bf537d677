"""Keys that somebody tells: in a file of `facedown unseal`, in a reading of opened key sheets, or typed.

None is believed: each is held against the seal code that was printed before the tasting.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from kit.errors import ReadingError
from kit.files import read_bounded
from kit.keys import PLACES, SALT_BYTES, Key, OpenedKey, is_sealed
from kit.record import Kit
from kit.session_rules import shown

KEY_FORMAT, READING_FORMAT = "facedown-key/1", "facedown-reading/1"

_MOST_BYTES = 20_000_000
"""The keys of 9,999 tasters have 3 MB."""
_SALT = re.compile(rf"[0-9a-fA-F]{{{2 * SALT_BYTES}}}")
_HINT = "Take a file as `facedown unseal --json` or `facedown read --json` wrote it."


@dataclass(frozen=True, slots=True)
class ToldKey:
    """What is said to be a taster's key."""

    taster: int
    key: Key
    salt: bytes


def load_told_keys(path: Path, kit: Kit) -> tuple[ToldKey, ...]:
    """Read the keys of a kit in a file of keys, or in a reading that holds opened key sheets.

    Raises
    ------
    ReadingError
        If the file cannot be read or is neither, is of another kit, or an entry cannot be a key of this one.
    """
    entry = _load_json(path)
    match entry.get("format"):
        case "facedown-key/1":
            if entry.get("kit") != kit.id:
                found = shown(entry.get("kit"))
                raise ReadingError(f"{path}: its keys are of kit {found}, not of {kit.id}.", "Give that kit's folder.")
            return tuple(told_key(one, place, kit) for one, place in _entries(entry, "keys", path))
        case "facedown-reading/1":
            return tuple(
                told_key(one, place, kit)
                for one, place in _entries(entry, "opened", path)
                if one.get("kit") == kit.id and one.get("outcome", "read") == "read"
            )
        case other:
            found = shown(other)
            raise ReadingError(f"{path}: its format is {found}; {KEY_FORMAT} or {READING_FORMAT} is allowed.", _HINT)


def typed_key(taster: int, order: str, salt: str, kit: Kit) -> ToldKey:
    """Return the key that somebody typed from a printed sheet: the numbers by place, and the salt.

    Raises
    ------
    ReadingError
        If it cannot be a key of this kit, with what was typed.
    """
    numbers = [int(number) for number in re.findall(r"[0-9]", order)]
    asked = list(range(1, kit.session.glasses + 1))
    if kit.sealed and (re.search(r"[^0-9 ,;.-]", order) or not _is_order(numbers, asked)):
        raise ReadingError(
            f"--order {shown(order)}: each of the numbers 1 to {asked[-1]} once, from place A on, is allowed.",
            "Type it as it stands on the key sheet.",
        )
    joined = re.sub(r"[\s-]", "", salt)
    if kit.sealed and not _SALT.fullmatch(joined):
        raise ReadingError(
            f"--salt {shown(salt)}: {2 * SALT_BYTES} digits 0 to 9 and a to f are allowed.",
            "Type it as it stands on the key sheet.",
        )
    places = dict(zip(PLACES, numbers, strict=False))
    return told_key({"taster": taster, "places": places, "salt": joined}, "what you typed", kit)


def told_key(entry: dict[str, Any], place: str, kit: Kit) -> ToldKey:
    """Return what an entry with `taster`, `places` and `salt` tells; messages name its `place`.

    Raises
    ------
    ReadingError
        If it cannot be a key of this kit.
    """
    taster, places, salt = entry.get("taster"), entry.get("places"), entry.get("salt")
    if not kit.sealed:
        raise ReadingError(f"{place}: kit {kit.id} is a hand sitting, which has no key.", "Give the kit that it is of.")
    tasters = len(kit.sealed)
    if type(taster) is not int or not 1 <= taster <= tasters:
        _refuse(place, "taster", taster, f"a number from 1 to {tasters}, which are kit {kit.id}'s,")
    letters, numbers = kit.session.place_letters, list(range(1, kit.session.glasses + 1))
    if not isinstance(places, dict) or set(places) != set(letters) or not _is_order(list(places.values()), numbers):
        _refuse(
            place, "places", places, f"each of the numbers 1 to {numbers[-1]} once, at {letters[0]} to {letters[-1]},"
        )
    if not isinstance(salt, str) or not _SALT.fullmatch(salt):
        _refuse(place, "salt", salt, f"{2 * SALT_BYTES} digits 0 to 9 and a to f")
    return ToldKey(taster, tuple(places[letter] for letter in letters), bytes.fromhex(salt))


def is_the_sealed_one(told: ToldKey, kit: Kit) -> bool:
    """Tell whether this is the key that was sealed for its taster when the kit was printed."""
    return is_sealed(kit.id, told.taster, kit.session.glasses, told.key, told.salt, kit.seals[told.taster - 1])


def opened_by(told: ToldKey, kit: Kit, subject: str) -> OpenedKey:
    """Return the opened key.

    Raises
    ------
    ReadingError
        If it is not the key that was sealed.
    """
    if not is_the_sealed_one(told, kit):
        name = kit.session.tasters[told.taster - 1].name
        raise ReadingError(
            f"{subject}: the key of {name} (taster {told.taster} of kit {kit.id}) is not the key that was sealed.",
            "It was changed, or is another kit's. Read the printed key sheet with that taster's seal code again.",
        )
    places = dict(zip(PLACES, told.key, strict=False))
    return OpenedKey(told.taster, places, told.salt.hex(), kit.seals[told.taster - 1])


def _entries(entry: dict[str, Any], name: str, path: Path) -> Iterator[tuple[dict[str, Any], str]]:
    entries = entry.get(name)
    if not isinstance(entries, list) or not all(isinstance(one, dict) for one in entries):
        raise ReadingError(f"{path}: {name} is {shown(entries)}; a list of objects is allowed.", _HINT)
    for number, one in enumerate(entries):
        yield one, f"{path}: {name}[{number}]"


def _is_order(found: Sequence[object], numbers: list[int]) -> bool:
    return all(type(number) is int for number in found) and sorted(map(str, found)) == list(map(str, numbers))


def _refuse(place: str, name: str, found: object, allowed: str) -> NoReturn:
    raise ReadingError(f"{place}, {name}: found {shown(found)}; {allowed} is allowed.", _HINT)


def _load_json(path: Path) -> dict[str, Any]:
    try:
        entry = json.loads(read_bounded(path, _MOST_BYTES))
    except FileNotFoundError:
        raise ReadingError(f"{path}: there is no such file.", _HINT) from None
    except OSError as error:
        raise ReadingError(f"{path}: it cannot be opened ({error.strerror or error}).") from None
    except (ValueError, RecursionError):
        raise ReadingError(f"{path}: it is not JSON.", _HINT) from None
    if not isinstance(entry, dict):
        raise ReadingError(f"{path}: it holds {shown(entry)}; a JSON object is allowed.", _HINT)
    return entry
