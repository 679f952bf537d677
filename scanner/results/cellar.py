"""The cellar list: the bottles at hand, with what is stated of each, as TOML or CSV."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from kit.errors import CellarError
from kit.session import LOOKS, Look
from kit.session_rules import Table, heard, key_lines, parse_toml, shown
from scanner.results.cellar_csv import csv_rows
from scanner.results.difficulty import Traits
from scanner.results.namesakes import nearly_alike
from scanner.results.sitting import Drink, TasterSitting

COLUMNS = (
    "name",
    "id",
    "style",
    "abv",
    "meter_value",
    "acidity",
    "polishing_ratio",
    "pasteurised",
    "age_months",
    "open_since",
    "left_ml",
    "fault",
    "look",
)
NUMBERS = {
    "abv": (0.0, 96.0, " %"),
    "meter_value": (-150.0, 50.0, ""),
    "acidity": (0.0, 15.0, ""),
    "polishing_ratio": (1.0, 100.0, " %"),
    "age_months": (0.0, 1200.0, " months"),
    "left_ml": (0.0, 100_000.0, " ml"),
}
"""Column → the least and the greatest allowed, and the unit."""

_FILE_LIMIT_BYTES = 2_000_000
_NAME_LIMIT, _STYLE_LIMIT, _FAULT_LIMIT = 60, 40, 40
_MOST_BOTTLES = 2000


@dataclass(frozen=True, slots=True)
class Bottle:
    """One drink of the cellar; None where the list does not state it. `left_ml` counts all bottles of it together."""

    name: str
    id: str | None = None
    style: str | None = None
    abv_percent: float | None = None
    meter_value: float | None = None
    acidity: float | None = None
    polishing_percent: float | None = None
    pasteurised: bool | None = None
    age_months: float | None = None
    open_since: datetime.date | None = None
    left_ml: float | None = None
    fault: str | None = None
    look: Look | None = None

    @property
    def key(self) -> str:
        """The id, or the name where there is none: as `Drink.key`."""
        return self.id or self.name

    @property
    def drink(self) -> Drink:
        """The bottle as results know a drink."""
        return Drink(self.key, self.name, self.style, self.abv_percent)

    def traits(self, day: datetime.date) -> Traits:
        """Return what tells the drink from others on this day."""
        open_days = 0 if self.open_since is None else max(0, (day - self.open_since).days)
        return Traits(
            self.style,
            self.abv_percent,
            self.meter_value,
            self.acidity,
            self.polishing_percent,
            self.pasteurised,
            self.age_months,
            float(open_days),
            self.fault,
        )


@dataclass(frozen=True, slots=True)
class Cellar:
    """The bottles in the order of the list, and what was read in another way than it is written."""

    bottles: tuple[Bottle, ...]
    remarks: tuple[str, ...] = ()

    def known(self, today: datetime.date) -> dict[str, Traits]:
        """Return what is stated of each drink when fresh, by key: how long it was open was another day's matter."""
        return {bottle.key: bottle.traits(bottle.open_since or today) for bottle in self.bottles}

    def unmatched(self, sittings: Sequence[TasterSitting]) -> list[str]:
        """Ask about drinks of sittings that may be one of the cellar's under another id or name."""
        keys = {bottle.key for bottle in self.bottles}
        poured = {drink.key: drink.name for sitting in sittings for drink in sitting.drinks if drink.key not in keys}
        return [
            f'Is "{bottle.name}" the "{name}" of earlier sittings? They are kept apart; if they are one, '
            "give both one id."
            for bottle in self.bottles
            for name in poured.values()
            if nearly_alike(bottle.name, name)
        ]


def load_cellar(path: Path, today: datetime.date) -> Cellar:
    """Read a cellar list: CSV if the file's name ends in .csv, else TOML.

    Raises
    ------
    CellarError
        If the file cannot be read or is no such list, with all that is wrong with it.
    """
    subject = str(path)
    try:
        with path.open("rb") as file:
            content = file.read(_FILE_LIMIT_BYTES + 1)
    except FileNotFoundError:
        raise CellarError(subject, ["there is no such file; the README shows what a cellar list holds"]) from None
    except IsADirectoryError:
        raise CellarError(subject, ["this is a folder; the cellar list inside it is needed"]) from None
    except OSError as error:
        raise CellarError(subject, [f"the file cannot be read: {error.strerror or error}"]) from None
    if len(content) > _FILE_LIMIT_BYTES:
        raise CellarError(subject, ["found more than 2 MB; a cellar list of up to 2 MB is allowed"])
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        advice = "save the file as text in UTF-8 (in a spreadsheet: CSV UTF-8)"
        raise CellarError(subject, [f"line {line}: found bytes that are not UTF-8; {advice}"]) from None
    read = cellar_from_csv if path.suffix.casefold() == ".csv" else cellar_from_toml
    return read(text, subject, today)


def cellar_from_toml(text: str, subject: str, today: datetime.date) -> Cellar:
    """Return the cellar that the TOML text describes: a table [[drinks]] for each drink.

    Raises
    ------
    CellarError
        With every issue found.
    """
    entries, sentence = parse_toml(text)
    if sentence is not None:
        hint = "; a list in columns is read from a file whose name ends in .csv" if "," in text.split("\n")[0] else ""
        raise CellarError(subject, [sentence + hint])
    whole = Table(entries, key_lines(text))
    whole.refuse_unknown(("drinks",))
    return _cellar(whole.tables("drinks"), whole, subject, today, ())


def cellar_from_csv(text: str, subject: str, today: datetime.date) -> Cellar:
    """Return the cellar that the CSV text describes: a line of column names, then a line for each drink.

    Raises
    ------
    CellarError
        With every issue found.
    """
    rows, remarks = csv_rows(text, subject, COLUMNS, tuple(NUMBERS))
    whole = Table({}, {}, rows[0].issues if rows else [])
    return _cellar(rows, whole, subject, today, remarks)


def _cellar(
    tables: Sequence[Table], whole: Table, subject: str, today: datetime.date, remarks: tuple[str, ...]
) -> Cellar:
    bottles = tuple(_bottle(table, today) for table in tables)
    _refuse_namesakes(tables, bottles)
    if len(bottles) > _MOST_BOTTLES:
        raise CellarError(subject, [f"found {len(bottles)} drinks; up to {_MOST_BOTTLES} are allowed"])
    if whole.issues:
        raise CellarError(subject, whole.sentences())
    return Cellar(bottles, remarks)


def _bottle(table: Table, today: datetime.date) -> Bottle:
    table.refuse_unknown(COLUMNS)
    numbers = {column: table.optional_number(column, *bounds) for column, bounds in NUMBERS.items()}
    return Bottle(
        name=table.text("name", _NAME_LIMIT),
        id=table.optional_id(),
        style=table.optional_text("style", _STYLE_LIMIT),
        abv_percent=numbers["abv"],
        meter_value=numbers["meter_value"],
        acidity=numbers["acidity"],
        polishing_percent=numbers["polishing_ratio"],
        pasteurised=_yes_or_no(table, "pasteurised"),
        age_months=numbers["age_months"],
        open_since=_day_past(table, "open_since", today),
        left_ml=numbers["left_ml"],
        fault=table.optional_text("fault", _FAULT_LIMIT),
        look=table.optional_choice("look", LOOKS),
    )


def _yes_or_no(table: Table, key: str) -> bool | None:
    value = table.entries.get(key)
    if value is not None and not isinstance(value, bool):
        table.refuse(key, f"found {shown(value)}; true or false, without quotes, is allowed")
        return None
    return value


def _day_past(table: Table, key: str, today: datetime.date) -> datetime.date | None:
    if table.entries.get(key) is None:
        return None
    day = table.day(key)
    if day > today:
        table.refuse(key, f"found {day}, which is still to come; a day up to today, {today}, is allowed")
    return day


def _refuse_namesakes(tables: Sequence[Table], bottles: Sequence[Bottle]) -> None:
    """Refuse ids that stand twice, and names that stand twice where one of the two has no id."""
    ids: dict[str, int] = {}
    names: dict[str, int] = {}
    for at, (table, bottle) in enumerate(zip(tables, bottles, strict=True)):
        if bottle.id is not None and ids.setdefault(bottle.id, at) != at:
            first = f'drink {ids[bottle.id] + 1}, "{bottles[ids[bottle.id]].name}"'
            table.refuse("id", f'found "{bottle.id}" again, as of {first}; each id is allowed once')
        first_at = names.setdefault(heard(bottle.name), at)
        if bottle.name and first_at != at and None in (bottle.id, bottles[first_at].id):
            found = f"found {shown(bottle.name)} again, as of drink {first_at + 1}"
            allowed = "one name is allowed twice where each has an id (bottles of one drink are one entry)"
            table.refuse("name", f"{found}; {allowed}")
