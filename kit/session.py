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
from kit.house import SET_ID_PATTERN, same_card
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
VIAL_ML, LOSS_PERCENT = 25.0, 5.0
MOST_LOSS_PERCENT = 40
"""With it a bottle of 720 ml still fills the two largest vials: 2 · 250 ml · 1.4 = 700 ml."""

_FILE_LIMIT_BYTES = 2_000_000
_NAME_LIMIT, _TITLE_LIMIT, _STYLE_LIMIT, _NOTE_LIMIT = 60, 80, 40, 200
_ADDRESS_LINES = 6
_STEM = re.compile(r"[A-Za-z0-9_-]{1,40}")
_TWIN_KEYS = ("vial_ml", "loss_percent", "send_to", "send_by")
_SESSION_KEYS = (
    "title",
    "date",
    "drink",
    "shuffle",
    "keys",
    "coasters",
    "house",
    "paper",
    "minutes",
    "pour_ml",
    "language",
    "seed",
    *_TWIN_KEYS,
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

    `minutes` are per round; `pour_ml` is per glass, with `shuffle` "twin" per vial. With "twin" alone count `vial_ml`,
    which a vial holds to its brim, `loss_percent`, which is to be had on top of what goes into the vials, `send_to`,
    the lines that say where members send their sheets, and `send_by`, the last day for it. `house` is the id of the set
    of house coasters, None where there is none yet.
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
    vial_ml: float = VIAL_ML
    loss_percent: float = LOSS_PERCENT
    send_to: tuple[str, ...] = ()
    send_by: datetime.date | None = None
    house: str | None = None

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
    if session.house is not None:
        entry["house"] = session.house
    if session.shuffle == "twin":
        entry |= {"vial_ml": session.vial_ml, "loss_percent": session.loss_percent}
        entry |= {"send_to": list(session.send_to)} if session.send_to else {}
        entry |= {"send_by": session.send_by.isoformat()} if session.send_by else {}
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
    for key in ("date", "send_by"):
        if isinstance(day := entries.get(key), str) and re.fullmatch(r"\d{4}-\d\d-\d\d", day):
            try:
                entries[key] = datetime.date.fromisoformat(day)
            except ValueError:
                raise SessionError(subject, [f"{key}: found {day}, which is no day of the calendar"]) from None
    # Both name files under templates/.
    for key in ("drink", "language"):
        if isinstance(name := entries.get(key), str) and not _STEM.fullmatch(name):
            raise SessionError(subject, [f"{key}: found {shown(name)}, which is no name of one"])
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
        **_post(table, shuffle),
        house=_house(table, shuffle),
    )
    _refuse_cards_alike(table, session)
    _refuse_what_no_vial_holds(table, session)
    if table.issues:
        raise SessionError(subject, table.sentences())
    return session


def _post(table: Table, shuffle: Shuffle) -> dict[str, Any]:
    """Return what counts for kits by post alone; elsewhere such keys are refused."""
    if shuffle != "twin":
        for key in _TWIN_KEYS:
            if key in table.entries:
                table.refuse(key, f'found with shuffle = "{shuffle}"; {key} is allowed with shuffle = "twin" alone')
        return {}
    loss_percent = table.optional_number("loss_percent", 0, MOST_LOSS_PERCENT, " %")
    return {
        "vial_ml": table.optional_number("vial_ml", 5, 250, " ml") or VIAL_ML,
        "loss_percent": LOSS_PERCENT if loss_percent is None else loss_percent,
        "send_to": table.lines_of_text("send_to", _ADDRESS_LINES, _NAME_LIMIT),
        "send_by": table.day("send_by") if "send_by" in table.entries else None,
    }


def _house(table: Table, shuffle: Shuffle) -> str | None:
    """Return the id of the set of house coasters, None where the file leaves it to `print` to draw one."""
    coasters = table.entries.get("coasters")
    if coasters == "house" and shuffle == "twin":
        table.refuse("coasters", 'found "house" with shuffle = "twin", which has no coasters; "kit" is allowed')
    set_id = table.entries.get("house")
    if set_id is None:
        return None
    if coasters != "house":
        table.refuse("house", 'found without coasters = "house"; house is allowed with it alone')
    elif not isinstance(set_id, str) or not SET_ID_PATTERN.fullmatch(set_id):
        allowed = "as `print` drew it, in quotes: six of 0 to 9 and A to Z without I, L, O and U, is allowed"
        table.refuse("house", f"found {shown(set_id)}; {allowed}")
    else:
        return set_id
    return None


def _refuse_cards_alike(table: Table, session: Session) -> None:
    """A house row-end card knows its taster by the id, in every sitting."""
    if session.coasters != "house":
        return
    for at, taster in enumerate(session.tasters, start=1):
        if taster.id is None:
            needed = 'with coasters = "house" each taster needs one, by which the row-end card knows them'
            Table({}, table.lines, table.issues, "tasters", at).refuse("id", f"missing; {needed}")
    ids = [taster.id for taster in session.tasters if taster.id is not None]
    if session.house is not None and (alike := same_card(session.house, ids)):
        found = f'the row-end cards of "{alike[0]}" and "{alike[1]}" would have one number in set {session.house}'
        table.refuse("house", f"{found}; give one of the two another id")


def _refuse_what_no_vial_holds(table: Table, session: Session) -> None:
    if session.shuffle != "twin":
        return
    if session.pour_ml > session.vial_ml:
        key = "vial_ml" if "vial_ml" in table.entries else "pour_ml"
        found = f"found {session.pour_ml:g} ml for a vial of {session.vial_ml:g} ml"
        table.refuse(key, f"{found}; pour_ml may be at most vial_ml, which is {VIAL_ML:g} where it is left out")
    if session.send_by is not None and datetime.date.min < session.send_by < session.date:
        allowed = f"the day of the sitting, {session.date}, or a later one is allowed"
        table.refuse("send_by", f"found {session.send_by}; {allowed}")


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
