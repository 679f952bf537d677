"""The session file: what a host writes down of one sitting before it is printed (FORMATS, section 1)."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

from kit.errors import FacedownError, SessionError
from kit.session_rules import Table, key_lines, parse_toml, refuse_namesakes, shown

Shuffle = Literal["host", "hand", "twin"]
Keys = Literal["own", "shared", "balanced"]
Coasters = Literal["kit", "house"]
Paper = Literal["A4", "Letter"]
Look = Literal["clear", "straw", "amber", "cloudy"]

SHUFFLES: tuple[Shuffle, ...] = ("host", "hand", "twin")
KEYS: tuple[Keys, ...] = ("own", "shared", "balanced")
COASTERS: tuple[Coasters, ...] = ("kit", "house")
PAPERS: tuple[Paper, ...] = ("A4", "Letter")
LOOKS: tuple[Look, ...] = ("clear", "straw", "amber", "cloudy")

LEAST_GLASSES, MOST_GLASSES = 3, 5
MOST_TASTERS = 9999
SECONDS_PER_GLASS = 84
"""Seven minutes for five glasses: common practice, no published source."""
GLASS_POUR_ML, VIAL_POUR_ML = 75.0, 20.0

_FILE_LIMIT_BYTES = 2_000_000
_NAME_LIMIT, _TITLE_LIMIT, _STYLE_LIMIT, _NOTE_LIMIT = 60, 80, 40, 200
_ADDRESS_LINES = 6
_SESSION_KEYS = (
    "title",
    "date",
    "drink",
    "shuffle",
    "keys",
    "coasters",
    "paper",
    "minutes",
    "pour_ml",
    "language",
    "seed",
    "pours",
    "tasters",
)
_POUR_KEYS = ("id", "name", "style", "abv", "look", "note")
_TASTER_KEYS = ("id", "name", "address")


@dataclass(frozen=True, slots=True)
class Pour:
    """One drink of the flight; `note` is the host's own remark. None where the file leaves a key out."""

    name: str
    id: str | None = None
    style: str | None = None
    abv_percent: float | None = None
    look: Look | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Taster:
    """One taster; `address` holds the lines of a posted kit's label."""

    name: str
    id: str | None = None
    address: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Session:
    """One sitting, with everything that the file leaves out resolved; pours stand in coaster order.

    `minutes` are per round; `pour_ml` is per glass, with `shuffle` "twin" per vial.
    """

    title: str
    date: datetime.date
    drink: str
    shuffle: Shuffle
    keys: Keys
    coasters: Coasters
    paper: Paper
    minutes: float
    pour_ml: float
    language: str
    seed: int | None
    pours: tuple[Pour, ...]
    tasters: tuple[Taster, ...]

    @property
    def glasses(self) -> int:
        """The glasses of one taster in one round."""
        return len(self.pours)

    @property
    def place_letters(self) -> tuple[str, ...]:
        """The places of round two from the taster's left: A, B, …"""
        return tuple("ABCDE"[: self.glasses])


@dataclass(frozen=True, slots=True)
class Shelf:
    """What can be chosen: drinks that have a lexicon, languages that have their words."""

    drinks: tuple[str, ...]
    languages: tuple[str, ...]


def installed_shelf() -> Shelf:
    """Return the lexicons and languages that lie under templates/.

    Raises
    ------
    FacedownError
        If there are none: the installation is not whole.
    """
    return Shelf(_stems("lexicons"), _stems("words"))


def load_session(path: Path) -> Session:
    """Read a session file.

    Raises
    ------
    SessionError
        If the file cannot be read or is not such a file, with all that is wrong with it.
    """
    try:
        with path.open("rb") as file:
            content = file.read(_FILE_LIMIT_BYTES + 1)
    except FileNotFoundError:
        raise SessionError(str(path), ["there is no such file; facedown new writes one to edit"]) from None
    except IsADirectoryError:
        raise SessionError(str(path), ["this is a folder; the session file inside it is needed"]) from None
    except OSError as error:
        raise SessionError(str(path), [f"the file cannot be read: {error.strerror or error}"]) from None
    if len(content) > _FILE_LIMIT_BYTES:
        raise SessionError(str(path), ["found more than 2 MB; a session file of up to 2 MB is allowed"])
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise SessionError(
            str(path), [f"line {line}: found bytes that are not UTF-8; save the file as text in UTF-8"]
        ) from None
    return session_from_toml(text, str(path))


def session_from_toml(text: str, subject: str, shelf: Shelf | None = None) -> Session:
    """Return the session that the TOML text describes.

    Parameters
    ----------
    subject : str
        What messages call the text: the file's name.
    shelf : Shelf, optional
        The drinks and languages allowed; left out, what is installed.

    Raises
    ------
    SessionError
        With every issue found, a sentence each.
    """
    text = text.removeprefix("\ufeff")
    entries, sentence = parse_toml(text)
    if sentence is not None:
        raise SessionError(subject, [sentence])
    return _session(Table(entries, key_lines(text)), subject, shelf or installed_shelf())


def session_to_json(session: Session) -> dict[str, Any]:
    """Return the session as a JSON object with the keys of the session file, without those that are empty.

    The seed is in it, and a seed tells the keys: a record that others see is made from
    `dataclasses.replace(session, seed=None)`.
    """
    entry: dict[str, Any] = {
        "title": session.title,
        "date": session.date.isoformat(),
        "drink": session.drink,
        "shuffle": session.shuffle,
        "coasters": session.coasters,
        "paper": session.paper,
        "minutes": session.minutes,
        "pour_ml": session.pour_ml,
        "language": session.language,
        "pours": [
            _without_gaps(
                {
                    "id": pour.id,
                    "name": pour.name,
                    "style": pour.style,
                    "abv": pour.abv_percent,
                    "look": pour.look,
                    "note": pour.note,
                }
            )
            for pour in session.pours
        ],
        "tasters": [
            _without_gaps({"id": taster.id, "name": taster.name, "address": list(taster.address) or None})
            for taster in session.tasters
        ],
    }
    if session.shuffle == "host":
        entry["keys"] = session.keys
    if session.seed is not None:
        entry["seed"] = session.seed
    return entry


def session_from_json(entry: object, subject: str = "kit.json") -> Session:
    """Return the session that `session_to_json` wrote, held to the same rules as a file.

    Its drink and language need not be installed any more.

    Raises
    ------
    SessionError
        With every issue found.
    """
    if not isinstance(entry, Mapping):
        raise SessionError(subject, [f"found {shown(entry)} in place of the session's record"])
    entries = dict(entry)
    if isinstance(day := entries.get("date"), str) and re.fullmatch(r"\d{4}-\d\d-\d\d", day):
        try:
            entries["date"] = datetime.date.fromisoformat(day)
        except ValueError:
            raise SessionError(subject, [f"date: found {day}, which is no day of the calendar"]) from None
    shelf = Shelf((str(entries.get("drink")),), (str(entries.get("language")),))
    return _session(Table(entries, {}), subject, shelf)


def default_minutes(glasses: int) -> float:
    """Return the minutes of a round: 84 seconds a glass, rounded up to half a minute."""
    return math.ceil(SECONDS_PER_GLASS * glasses / 30) / 2


def _session(table: Table, subject: str, shelf: Shelf) -> Session:
    table.refuse_unknown(_SESSION_KEYS)
    shuffle = table.choice("shuffle", SHUFFLES)
    if "keys" in table.entries and shuffle != "host":
        table.refuse("keys", f'found with shuffle = "{shuffle}"; keys is allowed with shuffle = "host" alone')
    pours = _pours(table)
    session = Session(
        title=table.text("title", _TITLE_LIMIT),
        date=table.day("date"),
        drink=table.choice("drink", shelf.drinks),
        shuffle=shuffle,
        keys=table.choice("keys", KEYS, default="own"),
        coasters=table.choice("coasters", COASTERS, default="kit"),
        paper=table.choice("paper", PAPERS),
        minutes=table.optional_number("minutes", 1, 60) or default_minutes(len(pours)),
        pour_ml=table.optional_number("pour_ml", 5, 250, " ml")
        or (VIAL_POUR_ML if shuffle == "twin" else GLASS_POUR_ML),
        language=table.choice("language", shelf.languages, default="en"),
        seed=table.optional_whole_number("seed", 2**63 - 1),
        pours=pours,
        tasters=_tasters(table),
    )
    if table.issues:
        raise SessionError(subject, table.sentences())
    return session


def _pours(session_table: Table) -> tuple[Pour, ...]:
    tables = session_table.tables("pours")
    if tables and not LEAST_GLASSES <= len(tables) <= MOST_GLASSES:
        session_table.refuse(
            "pours", f"found {len(tables)}; three to five are allowed (fewer are too easy, more only confuse)"
        )
    for table in tables:
        table.refuse_unknown(_POUR_KEYS)
    pours = tuple(
        Pour(
            name=table.text("name", _NAME_LIMIT),
            id=table.optional_id(),
            style=table.optional_text("style", _STYLE_LIMIT),
            abv_percent=table.optional_number("abv", 0, 96),
            look=table.optional_choice("look", LOOKS),
            note=table.optional_text("note", _NOTE_LIMIT),
        )
        for table in tables
    )
    refuse_namesakes(tables, [pour.name for pour in pours], [pour.id for pour in pours])
    return pours


def _tasters(session_table: Table) -> tuple[Taster, ...]:
    tables = session_table.tables("tasters")
    if len(tables) > MOST_TASTERS:
        session_table.refuse("tasters", f"found {len(tables)}; one to {MOST_TASTERS} are allowed")
    for table in tables:
        table.refuse_unknown(_TASTER_KEYS)
    tasters = tuple(
        Taster(
            name=table.text("name", _NAME_LIMIT),
            id=table.optional_id(),
            address=table.lines_of_text("address", _ADDRESS_LINES, _NAME_LIMIT),
        )
        for table in tables
    )
    refuse_namesakes(tables, [taster.name for taster in tasters], [taster.id for taster in tasters])
    return tasters


def _without_gaps(entry: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in entry.items() if value is not None}


def _stems(folder: str) -> tuple[str, ...]:
    place = files("templates").joinpath(folder)
    names = [entry.name for entry in place.iterdir()] if place.is_dir() else []
    stems = tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))
    if not stems:
        raise FacedownError(f"The program's folder templates/{folder} is empty.", "Install facedown again.")
    return stems
