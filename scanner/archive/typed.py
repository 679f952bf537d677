"""What somebody types in: a sheet of an archived kit, or an old result of which claims and truth alone are known.

A TOML file with as many of both as one likes:

    [[sheets]]
    sheet = "K7Q4M2-0001-3"
    [sheets.marks]                      # what is crossed; everything else is empty
    "match.A" = "3"
    "words.A" = ["pear", "melon"]

    [[results]]
    date    = 2025-11-02
    taster  = "ines"                    # the id, or the name where there is none
    name    = "Ines"                    # left out: as the archive has it, or the id
    title   = "Before facedown"         # may be left out, as all below but claims and truth
    shuffle = "hand"                    # or "host", "twin"; left out: hand
    drinks  = ["Heron Marsh", "Gull Rock", "Old Jetty"]      # in coaster order; names or ids
    claims  = {A = 3, B = 1}            # a place left out was left blank
    truth   = {A = 3, B = 2, C = 1}
    sure    = {A = "sure"}
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from kit.codes import ALPHABET
from kit.errors import ReadingError
from kit.files import read_bounded
from kit.session import MOST_GLASSES, SHUFFLES, Pour, Shuffle, Taster
from kit.session_rules import Table, parse_toml, shown
from kit.sheet_layout import SheetLayout
from scanner.archive.database import Archive, transaction
from scanner.archive.facts import put_sheet, relate
from scanner.archive.kits import kits_of, put_drink, put_taster
from scanner.archive.rows import change, insert, rowid_of
from scanner.archive.store import TYPED_SUFFIX, keep_bytes, original_path
from scanner.claims import CERTAINTIES
from scanner.reading import Mark, Outcome, PageReading, State

TITLE = "Typed in"
LEAST_PLACES = 3
_RESULT_KEYS = ("date", "taster", "name", "title", "shuffle", "drinks", "claims", "truth", "sure")
_NAME_LIMIT, _TITLE_LIMIT = 60, 80
_MOST_BYTES = 2_000_000


@dataclass(frozen=True, slots=True)
class TypedSheet:
    """A sheet as somebody typed it: for each field the options that are crossed."""

    sheet: str
    marks: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class TypedResult:
    """An old result; claims and certainty have None for a place left blank, `drinks` is empty where not known."""

    date: datetime.date
    taster: str
    name: str | None
    title: str
    shuffle: Shuffle
    drinks: tuple[str, ...]
    claims: Mapping[str, int | None]
    sure: Mapping[str, str | None]
    truth: Mapping[str, int]

    @property
    def correct(self) -> int:
        """How many claims were right."""
        return sum(self.claims[place] == number for place, number in self.truth.items())


Typed = TypedSheet | TypedResult


def load_typed(path: Path) -> tuple[Typed, ...]:
    """Read a file of typed sheets and results.

    Raises
    ------
    ReadingError
        With all that is wrong with it.
    """
    try:
        text = read_bounded(path, _MOST_BYTES).decode("utf-8")
    except FileNotFoundError:
        raise ReadingError(f"{path}: there is no such file.", "`facedown enter --help` shows what it holds.") from None
    except UnicodeDecodeError:
        raise ReadingError(f"{path}: it is not text in UTF-8.", "Save it as UTF-8.") from None
    except OSError as error:
        raise ReadingError(f"{path}: it cannot be read ({error.strerror}).") from error
    entries, sentence = parse_toml(text)
    if sentence is not None:
        raise ReadingError(f"{path}: {sentence}.")
    return typed_from(entries, str(path))


def typed_from(entries: Mapping[str, Any], subject: str) -> tuple[Typed, ...]:
    """Return the sheets and results of a parsed file; ReadingError with every issue."""
    issues = [f"unknown key {key}" for key in sorted(set(entries) - {"sheets", "results"})]
    typed: list[Typed] = []
    for name, make in (("sheets", _sheet), ("results", _result)):
        tables = entries.get(name, [])
        if not isinstance(tables, list) or not all(isinstance(one, dict) for one in tables):
            issues.append(f"{name}: found {shown(tables)}; [[{name}]] tables are allowed")
            continue
        for number, table in enumerate(tables, start=1):
            found = make(table)
            if isinstance(found, list):
                issues += [f"[[{name}]] {number}: {issue}" for issue in found]
            else:
                typed.append(found)
    if not typed and not issues:
        issues.append("nothing is in it; [[sheets]] or [[results]] are needed")
    if issues:
        raise ReadingError("\n".join(f"{subject}: {issue}." for issue in issues), "`facedown enter --help` shows both.")
    return tuple(typed)


def enter(archive: Archive, typed: Typed, now: str) -> str:
    """Put a typed sheet or result into the archive, marked as typed; return what became of it.

    What is typed is itself an original, as JSON. Typing the same again changes nothing. A typed sheet stands beside
    scans of it as another reading does: it counts where scans leave doubts, and conflicts where answers differ.

    Raises
    ------
    ReadingError
        If the archive has no such sheet, or it has no such box.
    """
    content = _canonical(typed)
    digest = hashlib.sha256(content).hexdigest()
    page = _page(archive, typed, digest) if isinstance(typed, TypedSheet) else None
    with transaction(archive) as connection:
        if rowid_of(connection, "originals", digest=digest) is not None:
            return _again(archive, digest)
        keep_bytes(content, original_path(archive.folder, digest, TYPED_SUFFIX))
        pile = digest[:12]
        insert(connection, "piles", id=pile, added_at=now)
        insert(
            connection,
            "originals",
            digest=digest,
            suffix=TYPED_SUFFIX,
            bytes=len(content),
            name=f"typed-{pile}",
            pile=pile,
            added_at=now,
        )
        if page is not None:
            row = put_sheet(connection, digest, page, now, entered_by="typed")
            relate(connection, page.sheet or "")
            stored = connection.execute("SELECT * FROM sheets WHERE id = ?", (row,)).fetchone()
            return "conflict" if stored["conflict"] else "entered" if stored["superseded_by"] is None else "repeat"
        _put_result(archive, cast(TypedResult, typed), digest, now)
        return "entered"


def sheet_of(archive: Archive, sheet: str) -> SheetLayout:
    """Return the layout of an archived kit's sheet.

    Raises
    ------
    ReadingError
        If the archive has no such sheet, or it is a key sheet.
    """
    kit = kits_of(archive).get(sheet[:6])
    layout = kit.sheets.get(sheet) if kit else None
    if layout is None or not layout.marks:
        raise ReadingError(
            f"{sheet}: the archive has no such sheet to mark.",
            "Its id is printed beside the code, as K7Q4M2-0001-3; add its kit first.",
        )
    erased = archive.connection.execute(
        "SELECT 1 FROM sittings_tasters WHERE sitting = ? AND number = ? AND erased_at IS NOT NULL",
        (sheet[:6], layout.taster),
    ).fetchone()
    if erased:
        raise ReadingError(f"{sheet}: its taster was erased from the archive.")
    return layout


def _again(archive: Archive, digest: str) -> str:
    """Bring back what was typed before, where it was taken back."""
    connection = archive.connection
    back = False
    for table in ("sheets", "results"):
        query = f"SELECT * FROM {table} WHERE original = ? AND taken_back_at IS NOT NULL"
        for row in connection.execute(query, (digest,)).fetchall():
            change(connection, table, row["id"], taken_back_at=None)
            if table == "sheets":
                relate(connection, row["sheet"])
            back = True
    return "brought back" if back else "there already"


def _page(archive: Archive, typed: TypedSheet, digest: str) -> PageReading:
    layout = sheet_of(archive, typed.sheet)
    boxes = {(box.field, box.option): box for box in layout.marks}
    picks = {box.field: box.pick for box in layout.marks}
    for field, options in typed.marks.items():
        allowed = [option for name, option in boxes if name == field]
        if not allowed:
            raise ReadingError(f"{typed.sheet}: it has no field {field!r}.", f"It has {', '.join(picks)}.")
        if strangers := [option for option in options if option not in allowed]:
            raise ReadingError(
                f"{typed.sheet}, {field}: found {', '.join(map(repr, strangers))}.", f"Allowed: {', '.join(allowed)}."
            )
        if picks[field] == "one" and len(options) > 1:
            raise ReadingError(f"{typed.sheet}, {field}: found {len(options)} options; one is allowed.")
    return PageReading(
        source=f"typed-{digest[:12]}",
        source_page=1,
        kit=typed.sheet[:6],
        sheet=layout.sheet,
        taster=layout.taster,
        role=layout.role,
        outcome=Outcome.READ,
        reason=None,
        marks=tuple(
            Mark(field, option, State.MARKED if option in typed.marks.get(field, ()) else State.EMPTY)
            for field, option in boxes
        ),
    )


def _put_result(archive: Archive, typed: TypedResult, digest: str, now: str) -> None:
    connection = archive.connection
    # The sitting of one title, day and flight is one, whoever's results of it are typed.
    same = json.dumps([typed.date.isoformat(), typed.title, typed.shuffle, len(typed.truth), typed.drinks])
    number = int.from_bytes(hashlib.sha256(f"facedown-typed|{same}".encode()).digest()[:4], "big")
    sitting = "".join(ALPHABET[number >> 5 * place & 31] for place in range(6))
    known = connection.execute("SELECT kit FROM sittings WHERE id = ?", (sitting,)).fetchone()
    if known is None:
        insert(
            connection,
            "sittings",
            id=sitting,
            title=typed.title,
            date=typed.date.isoformat(),
            shuffle=typed.shuffle,
            keys="own",
            glasses=len(typed.truth),
            entered_by="typed",
            added_at=now,
        )
        for coaster, name in enumerate(typed.drinks, start=1):
            put_drink(connection, sitting, coaster, Pour(name))
    seats = connection.execute(
        "SELECT number, key FROM sittings_tasters LEFT JOIN tasters ON tasters.id = taster WHERE sitting = ?",
        (sitting,),
    ).fetchall()
    seat = next((number for number, key in seats if key == typed.taster), None)
    if seat is None:
        seat = max((number for number, _ in seats), default=0) + 1
        put_taster(connection, sitting, seat, Taster(typed.name or typed.taster, typed.taster))
    insert(
        connection,
        "results",
        sitting=sitting,
        taster=seat,
        claims=json.dumps(dict(typed.claims)),
        sure=json.dumps(dict(typed.sure)),
        truth=json.dumps(dict(typed.truth)),
        correct=typed.correct,
        of=len(typed.truth),
        original=digest,
        entered_by="typed",
        added_at=now,
    )


def _canonical(typed: Typed) -> bytes:
    """Return what was typed as JSON, so that the same is always the same bytes."""
    if isinstance(typed, TypedSheet):
        entry: dict[str, Any] = {
            "format": "facedown-typed-sheet/1",
            "sheet": typed.sheet,
            "marks": {field: sorted(options) for field, options in sorted(typed.marks.items()) if options},
        }
    else:
        entry = {
            "format": "facedown-typed-result/1",
            "date": typed.date.isoformat(),
            "taster": typed.taster,
            "name": typed.name,
            "title": typed.title,
            "shuffle": typed.shuffle,
            "drinks": list(typed.drinks),
            "claims": dict(typed.claims),
            "sure": dict(typed.sure),
            "truth": dict(typed.truth),
        }
    return (json.dumps(entry, ensure_ascii=False, indent=1) + "\n").encode()


def _sheet(entry: Mapping[str, Any]) -> TypedSheet | list[str]:
    issues = [f"unknown key {key}" for key in sorted(set(entry) - {"sheet", "marks"})]
    sheet, marks = entry.get("sheet"), entry.get("marks", {})
    if not isinstance(sheet, str):
        issues.append(f"sheet: found {shown(sheet)}; its id, in quotes, is needed")
    if not isinstance(marks, dict):
        return [*issues, f"marks: found {shown(marks)}; a table of fields is allowed"]
    crossed: dict[str, tuple[str, ...]] = {}
    for field, options in marks.items():
        listed = options if isinstance(options, list) else [options]
        if not all(isinstance(option, str | int) and not isinstance(option, bool) for option in listed):
            issues.append(f"marks, {field}: found {shown(options)}; an option or a list of options is allowed")
        else:
            crossed[field] = tuple(sorted({str(option) for option in listed}))
    return issues or TypedSheet(str(sheet).upper(), crossed)


def _result(entry: Mapping[str, Any]) -> TypedResult | list[str]:
    table = Table(entry, {})
    table.refuse_unknown(_RESULT_KEYS)
    date = table.day("date")
    taster = table.text("taster", _NAME_LIMIT)
    name = table.optional_text("name", _NAME_LIMIT)
    title = table.optional_text("title", _TITLE_LIMIT) or TITLE
    shuffle = table.choice("shuffle", SHUFFLES, default="hand")
    drinks = table.lines_of_text("drinks", MOST_GLASSES, _NAME_LIMIT)
    issues = [sentence for _, sentence in table.issues]
    truth = _numbers(entry, "truth", issues)
    places = "ABCDE"[: len(truth)]
    is_order = sorted(truth.values()) == list(range(1, len(truth) + 1))
    if len(truth) < LEAST_PLACES or set(truth) != set(places) or not is_order:
        issues.append("truth: each place from A to C, D or E needs its coaster number, each number once")
    claims = _numbers(entry, "claims", issues)
    if strangers := set(claims) - set(places) or {str(n) for n in claims.values() if n not in truth.values()}:
        issues.append(f"claims: found {', '.join(sorted(strangers))}; the places and numbers of truth are allowed")
    sure = entry.get("sure", {})
    if not isinstance(sure, dict) or set(sure) - set(places) or not all(word in CERTAINTIES for word in sure.values()):
        issues.append(f"sure: found {shown(sure)}; places with {', '.join(CERTAINTIES)} are allowed")
    if drinks and len(drinks) != len(truth):
        issues.append(f"drinks: found {len(drinks)}; {len(truth)} are needed, or none")
    if issues:
        return issues
    return TypedResult(
        date,
        taster,
        name,
        title,
        shuffle,
        drinks,
        {place: claims.get(place) for place in places},
        {place: sure.get(place) for place in places},
        {place: truth[place] for place in places},
    )


def _numbers(entry: Mapping[str, Any], key: str, issues: list[str]) -> dict[str, int]:
    found = entry.get(key)
    if not isinstance(found, dict) or not all(type(number) is int for number in found.values()):
        allowed = "{A = 3, B = 1, C = 2} is allowed"
        issues.append(f"{key}: found {shown(found) if key in entry else 'no such key'}; {allowed}")
        return {}
    return found


def fields_of(layout: SheetLayout) -> dict[str, tuple[str, Sequence[str]]]:
    """Return a sheet's fields in order: how many may be picked, and the options."""
    fields: dict[str, tuple[str, list[str]]] = {}
    for box in layout.marks:
        fields.setdefault(box.field, (box.pick, []))[1].append(box.option)
    return {field: (pick, tuple(options)) for field, (pick, options) in fields.items()}
