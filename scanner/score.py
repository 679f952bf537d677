"""Scores every taster's claims, and says what is missing and what is left for a person to look at."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal, NoReturn

from kit.codes import ROLE_DIGITS, sheet_id
from kit.errors import ReadingError
from kit.keys import OpenedKey
from kit.session import Session
from kit.sheet_layout import KitLayout, SheetLayout
from scanner.chance import chance_at_least, one_time_in
from scanner.claims import (
    Certainty,
    Claims,
    certainty_of,
    claims_of,
    clashing_fields,
    combined,
    turned_of,
    where,
)
from scanner.reading import Outcome, PageReading, Reading, TurnedReading

TruthSource = Literal["key", "turned", "row"]

FORMAT = "facedown-scores/1"
READ = (Outcome.READ, Outcome.REPEAT)
SCORED_FIELDS = ("match", "sure", "turned")
SHEET_NAMES = {
    "notes-1": "the notes of round one",
    "notes-2": "the notes of round two",
    "match": "the match",
    "turned": "the turned coasters",
}


@dataclass(frozen=True, slots=True)
class Sitting:
    """What scoring has to know of one kit; `keys` are opened, in taster order, none with `hand`."""

    kit: str
    session: Session
    layout: KitLayout
    keys: tuple[OpenedKey, ...]


@dataclass(frozen=True, slots=True)
class Score:
    """How many claims were right, and how often a guesser with the same claims does this well or better.

    `correct` is None where there is nothing to count or nothing to count it by, `chance_at_least` also where
    a place is unsettled.
    """

    correct: int | None
    of: int
    chance_at_least: Fraction | None


@dataclass(frozen=True, slots=True)
class Truth:
    """What stood at each place, None unless known for all; `unsettled` has the places in doubt and why."""

    numbers: Mapping[str, int] | None
    source: TruthSource | None
    unsettled: Mapping[str, str]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TasterScore:
    """One taster's result.

    `missing` names the roles of the sheets that no reading holds; `left_to_look_at` says what a person has to
    settle.
    """

    kit: str
    taster: int
    name: str
    claims: Claims
    certainty: Certainty
    truth: Truth
    score: Score
    missing: tuple[str, ...]
    left_to_look_at: tuple[str, ...]

    @property
    def has_match(self) -> bool:
        """Whether any reading holds the match sheet."""
        return "match" not in self.missing

    @property
    def remarks(self) -> tuple[str, ...]:
        """What deserves notice and needs nothing done."""
        sheets = ((sheet_id(self.kit, self.taster, ROLE_DIGITS[role]), role) for role in self.missing)
        missing = tuple(f"sheet {sheet}, {SHEET_NAMES.get(role, role)}, is missing" for sheet, role in sheets)
        return missing + self.claims.remarks + self.truth.remarks

    @property
    def sentence(self) -> str:
        """The result for the taster."""
        if not self.has_match:
            return "not scored: no match sheet was read"
        if self.score.correct is None:
            return "not scored: what stood where is not known"
        counted = f"{self.score.correct} of {self.score.of}"
        if self.score.chance_at_least is None:
            places = len(self.claims.unsettled)
            return f"{counted} so far; {places} place{'s' if places > 1 else ''} not settled"
        return f"{counted}; a guesser does this well or better {one_time_in(self.score.chance_at_least)}"


@dataclass(frozen=True, slots=True)
class Scores:
    """All results, in the order of the kits and their tasters, and whatever is left for a person."""

    sittings: tuple[Sitting, ...]
    tasters: tuple[TasterScore, ...]
    left_to_look_at: tuple[str, ...]


def score(claims: Mapping[str, int | None], truth: Mapping[str, int] | None, unsettled: Collection[str] = ()) -> Score:
    """Count the right claims of one taster.

    Parameters
    ----------
    claims : mapping of place letter to coaster number or None
        One for each place of the sitting.
    truth : mapping of place letter to coaster number, or None
        What stood there; None where that is not known.
    unsettled : collection of place letters
        Places whose claim is for a person to settle; their claim is None.

    Raises
    ------
    ValueError
        If claims and truth have other places, or a number is not one of the sitting.
    """
    if truth is None:
        return Score(None, len(claims), None)
    if claims.keys() != truth.keys():
        raise ValueError(f"claims for {', '.join(claims)}, but the truth for {', '.join(truth)}")
    correct = sum(claims[place] == truth[place] for place in truth)
    chance = None if unsettled else chance_at_least(tuple(claims.values()), len(claims), correct)
    return Score(correct, len(claims), chance)


def scores(sittings: Sequence[Sitting], readings: Mapping[str, Reading]) -> Scores:
    """Score every taster of the sittings from all readings together.

    Parameters
    ----------
    sittings : sequence of Sitting
        The kits, each with another id.
    readings : mapping of str to Reading
        By the name of the file, for messages.

    Raises
    ------
    ReadingError
        If a reading holds a sheet or a box that its kit never had.
    """
    by_kit = {sitting.kit: sitting for sitting in sittings}
    printed = {page.sheet: page for sitting in sittings for page in sitting.layout.pages if page.marks}
    sheets: dict[str, list[PageReading]] = {sheet: [] for sheet in printed}
    rows: dict[tuple[str, int], list[TurnedReading]] = defaultdict(list)
    for subject, reading in readings.items():
        for page in reading.pages:
            if page.kit in by_kit and page.sheet is not None and page.outcome in (*READ, Outcome.CONFLICT):
                _check_page(page, printed, subject)
                sheets[page.sheet].append(page)
        for row in reading.turned:
            if row.kit in by_kit and row.taster is not None and row.outcome in READ:
                _check_row(row, by_kit[row.kit], subject)
                rows[row.kit, row.taster].append(row)
    tasters = tuple(
        _taster_score(sitting, number, sheets, rows[sitting.kit, number])
        for sitting in sittings
        for number in range(1, len(sitting.session.tasters) + 1)
    )
    left = [
        *_unread(readings.values(), by_kit),
        *_clashing_notes(sheets),
        *(sentence for taster in tasters for sentence in taster.left_to_look_at),
    ]
    return Scores(tuple(sittings), tasters, tuple(dict.fromkeys(left)))


def to_json(result: Scores) -> dict[str, Any]:
    """Return the scores as the JSON object of FORMATS section 5."""
    return {
        "format": FORMAT,
        "kits": [
            {
                "kit": sitting.kit,
                "title": sitting.session.title,
                "date": sitting.session.date.isoformat(),
                "shuffle": sitting.session.shuffle,
                "uniform_keys": "assumed" if sitting.session.shuffle == "hand" else "by construction",
            }
            for sitting in result.sittings
        ],
        "tasters": [_taster_to_json(taster) for taster in result.tasters],
        "left_to_look_at": list(result.left_to_look_at),
    }


def _taster_to_json(taster: TasterScore) -> dict[str, Any]:
    chance = taster.score.chance_at_least
    return {
        "kit": taster.kit,
        "taster": taster.taster,
        "name": taster.name,
        "claims": dict(taster.claims.numbers),
        "sure": dict(taster.certainty.words),
        "truth": None if taster.truth.numbers is None else dict(taster.truth.numbers),
        "truth_from": taster.truth.source,
        "truth_unsettled": list(taster.truth.unsettled),
        "correct": taster.score.correct,
        "of": taster.score.of,
        "chance_at_least": None if chance is None else float(chance),
        "unsettled": list(taster.claims.unsettled),
        "sentence": taster.sentence,
        "missing": list(taster.missing),
        "remarks": list(taster.remarks),
        "left_to_look_at": list(taster.left_to_look_at),
    }


def _taster_score(
    sitting: Sitting, number: int, sheets: Mapping[str, Sequence[PageReading]], rows: Sequence[TurnedReading]
) -> TasterScore:
    places = sitting.session.place_letters
    name = sitting.session.tasters[number - 1].name
    by_role = {role: sheets.get(sheet_id(sitting.kit, number, digit)) for role, digit in ROLE_DIGITS.items()}
    missing = tuple(role for role, pages in by_role.items() if pages is not None and not pages)
    match_pages, turned_pages = by_role["match"] or (), by_role["turned"] or ()
    truth = _truth(sitting, number, turned_pages, rows)
    if match_pages:
        marks = combined(match_pages)
        claims = claims_of(marks, places, range(1, len(places) + 1))
        certainty = certainty_of(marks, places)
        result = score(claims.numbers, truth.numbers, claims.unsettled)
    else:
        claims, certainty = Claims(dict.fromkeys(places), {}), Certainty(dict.fromkeys(places), {})
        result = Score(None, len(places), None)
    who = f"{name} (taster {number} of kit {sitting.kit})"
    left = (
        *_left(f"{who}, claim", claims.unsettled, match_pages),
        *_left(f"{who}, certainty", certainty.unsettled, match_pages),
        *_left(f"{who}, turned coaster", truth.unsettled, turned_pages),
    )
    return TasterScore(sitting.kit, number, name, claims, certainty, truth, result, missing, left)


def _left(what: str, unsettled: Mapping[str, str], pages: Sequence[PageReading]) -> Iterator[str]:
    pictures = " and ".join(dict.fromkeys(map(where, pages)))
    for place, reason in unsettled.items():
        yield f"{what} at {place}: {reason}" + (f" ({pictures})" if pictures else "")


def _truth(sitting: Sitting, number: int, turned_pages: Sequence[PageReading], rows: Sequence[TurnedReading]) -> Truth:
    """Return what stood where: by the sealed key, or with `hand` by the turned sheet or the photographed row.

    Where two of them differ, nothing is known and a person must look.
    """
    places = sitting.session.place_letters
    told: list[tuple[TruthSource, str, Mapping[str, int]]] = [
        ("key", "the sealed key", key.places) for key in sitting.keys[number - 1 : number]
    ]
    remarks: tuple[str, ...] = ()
    if turned_pages:
        turned = turned_of(combined(turned_pages), places, range(1, len(places) + 1))
        if turned.unsettled:
            return Truth(None, None, turned.unsettled, turned.remarks)
        remarks = turned.remarks
        stood = {place: coaster for place, coaster in turned.numbers.items() if coaster is not None}
        told += [("turned", "the turned sheet", stood)] if turned.complete else []
    told += [("row", f"the row on {where(row)}", dict(zip(places, row.order or (), strict=True))) for row in rows]
    unsettled = {
        place: " but ".join(f"{stood[place]} by {who}" for _, who, stood in told)
        for place in places
        if len({stood[place] for _, _, stood in told}) > 1
    }
    if unsettled or not told:
        return Truth(None, None, unsettled, remarks)
    source, _, numbers = told[0]
    return Truth(numbers, source, {}, remarks)


def _check_page(page: PageReading, printed: Mapping[str, SheetLayout], subject: str) -> None:
    if page.sheet is None or page.sheet not in printed:
        _refuse(subject, page, f"sheet {page.sheet}, which kit {page.kit} does not have")
    boxes = {(box.field, box.option) for box in printed[page.sheet].marks}
    for mark in page.marks:
        if (mark.field, mark.option) not in boxes:
            _refuse(subject, page, f"the box {mark.field} {mark.option}, which the sheet does not have")


def _check_row(row: TurnedReading, sitting: Sitting, subject: str) -> None:
    if row.taster is None or row.taster > len(sitting.session.tasters):
        _refuse(subject, row, f"taster {row.taster}, whom kit {sitting.kit} does not have")
    if sorted(row.order or ()) != list(range(1, sitting.session.glasses + 1)):
        order = ", ".join(map(str, row.order or ()))
        _refuse(subject, row, f"the row {order}; each of 1 to {sitting.session.glasses} once is allowed")


def _refuse(subject: str, picture: PageReading | TurnedReading, found: str) -> NoReturn:
    raise ReadingError(
        f"{subject}: {where(picture)}: found {found}.",
        "Read the pile again with the kit folder that it was printed from.",
    )


def _unread(readings: Iterable[Reading], kits: Collection[str]) -> Iterator[str]:
    strangers: dict[str, int] = defaultdict(int)
    for reading in readings:
        pictures: tuple[PageReading | TurnedReading, ...] = (*reading.pages, *reading.turned)
        for picture in pictures:
            if picture.outcome not in READ:
                yield f"{where(picture)}: {picture.outcome}: {picture.reason}"
            elif picture.kit is not None and picture.kit not in kits:
                strangers[picture.kit] += 1
    for kit, count in strangers.items():
        yield f"kit {kit}, which was not given, has {count} of the pages read"


def _clashing_notes(sheets: Mapping[str, Sequence[PageReading]]) -> Iterator[str]:
    # Clashes in the scored fields are told with their taster.
    for sheet, pages in sheets.items():
        fields = [field for field in clashing_fields(pages) if field.partition(".")[0] not in SCORED_FIELDS]
        if fields and all(page.outcome in READ for page in pages):
            places = " and ".join(dict.fromkeys(map(where, pages)))
            yield f"sheet {sheet} was read with different answers in {', '.join(fields)}: {places}"
