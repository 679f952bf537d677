"""Scores every taster's claims, and says what is missing and what is left for a person to look at."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NoReturn

from kit.codes import ROLE_DIGITS, sheet_id
from kit.errors import ReadingError
from kit.sheet_layout import SheetLayout
from scanner.chance import chance_at_least, one_time_in
from scanner.claims import (
    Certainty,
    Claims,
    certainty_of,
    claims_of,
    clashing_fields,
    combined,
    where,
)
from scanner.claims_in import match_sheets_missing, needs_all_claims, sealed_sentence
from scanner.keys_on_paper import missing_sentence
from scanner.reading import Outcome, PageReading, PictureReading, Reading, TurnedReading
from scanner.table_score import TableScore, table_score
from scanner.tameness import Tameness, tameness, too_tame
from scanner.what_stood import Sitting, Truth, truth_of

READ = (Outcome.READ, Outcome.REPEAT)
SCORED_FIELDS = ("match", "sure", "turned")
SHEET_NAMES = {
    "notes-1": "the notes of round one",
    "notes-2": "the notes of round two",
    "match": "the match",
    "turned": "the turned coasters",
}


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
class TasterScore:
    """One taster's result.

    `missing` names the roles of the sheets that no reading holds; `left_to_look_at` says what a person has to
    settle. `waits` says that what stood where is not to be told yet, though it may be known: while it waits for a match
    sheet, or for a claim to be settled, whoever writes or settles it should not have it before their eyes. The places
    that are settled would tell the others, so all are kept back; and with a shared key one taster's are everybody's.
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
    absent: bool = False
    waits: bool = False

    @property
    def told(self) -> Mapping[str, int] | None:
        """What stood where, as far as it may be told: all or nothing."""
        return None if self.waits else self.truth.numbers

    @property
    def has_match(self) -> bool:
        """Whether any reading holds the match sheet."""
        return "match" not in self.missing

    @property
    def remarks(self) -> tuple[str, ...]:
        """What deserves notice and needs nothing done."""
        sheets = ((sheet_id(self.kit, self.taster, ROLE_DIGITS[role]), role) for role in self.missing)
        missing = tuple(
            f"sheet {sheet}, {SHEET_NAMES.get(role, role)}, is missing" for sheet, role in sheets if not self.absent
        )
        return missing + self.claims.remarks + self.truth.remarks

    @property
    def sentence(self) -> str:
        """The result for the taster."""
        if self.absent:
            return "absent"
        if not self.has_match:
            return "not scored: no match sheet was read"
        if self.truth.sealed:
            return "not scored: keys stay sealed until all claims are in"
        if self.score.correct is None:
            return "not scored: what stood where is not known"
        counted = f"{self.score.correct} of {self.score.of}"
        if self.score.chance_at_least is None:
            places = len(self.claims.unsettled)
            return f"{counted} so far; {places} place{'s' if places > 1 else ''} not settled"
        return f"{counted}; a guesser does this well or better {one_time_in(self.score.chance_at_least)}"


@dataclass(frozen=True, slots=True)
class Scores:
    """All results, in the order of the kits and their tasters, and whatever is left for a person.

    `tables` has each kit's total. `shuffles` has the test of the hand shuffles of each taster, by id, who mixed in
    enough of the sittings; `tame` are those whose shuffles are too tame to be fair.
    """

    sittings: tuple[Sitting, ...]
    tasters: tuple[TasterScore, ...]
    left_to_look_at: tuple[str, ...]
    tables: tuple[TableScore, ...]
    shuffles: Mapping[str, Tameness]
    tame: tuple[str, ...]


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

    Notes
    -----
    While claims of a kit with a shared key or balanced keys are missing, none of its tasters is scored.
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
            if row.kit in by_kit and row.taster is not None and row.order is not None:
                _check_row(row, by_kit[row.kit], subject)
                rows[row.kit, row.taster].append(row)
    waiting = {
        sitting.kit: match_sheets_missing(sitting.kit, sitting.session, readings.values(), sitting.absent)
        for sitting in sittings
        if needs_all_claims(sitting.session)
    }
    tasters = tuple(
        _taster_score(sitting, number, sheets, rows[sitting.kit, number], sealed=bool(waiting.get(sitting.kit)))
        for sitting in sittings
        for number in range(1, len(sitting.session.tasters) + 1)
    )
    shared = {sitting.kit for sitting in sittings if sitting.session.keys == "shared"}
    unsettled = {taster.kit for taster in tasters if taster.claims.unsettled}
    tasters = tuple(
        replace(one, waits=bool(one.claims.unsettled) or not one.has_match or one.kit in shared & unsettled)
        for one in tasters
    )
    left = [
        *(sealed_sentence(kit, by_kit[kit].session, missing) for kit, missing in waiting.items() if missing),
        *_unread(readings.values(), by_kit),
        *_clashing_notes(sheets),
        *(sentence for taster in tasters for sentence in taster.left_to_look_at),
    ]
    shuffles = _hand_shuffles(sittings, tasters)
    return Scores(
        tuple(sittings),
        tasters,
        tuple(dict.fromkeys(left)),
        tuple(_table(sitting, [taster for taster in tasters if taster.kit == sitting.kit]) for sitting in sittings),
        shuffles,
        too_tame(shuffles),
    )


def _taster_score(
    sitting: Sitting,
    number: int,
    sheets: Mapping[str, Sequence[PageReading]],
    rows: Sequence[TurnedReading],
    *,
    sealed: bool,
) -> TasterScore:
    places = sitting.session.place_letters
    name = sitting.session.tasters[number - 1].name
    by_role = {role: sheets.get(sheet_id(sitting.kit, number, digit)) for role, digit in ROLE_DIGITS.items()}
    missing = tuple(
        role
        for role, pages in by_role.items()
        if pages is not None and not pages and not (role == "turned" and rows)  # a photographed row does in its place
    )
    match_pages, turned_pages = by_role["match"] or (), by_role["turned"] or ()
    truth = Truth(None, None, {}, sealed=True) if sealed else truth_of(sitting, number, turned_pages, rows)
    if match_pages:
        marks = combined(match_pages)
        claims = claims_of(marks, places, range(1, len(places) + 1))
        certainty = certainty_of(marks, places)
        result = score(claims.numbers, truth.numbers, claims.unsettled)
    else:
        claims, certainty = Claims(dict.fromkeys(places), {}), Certainty(dict.fromkeys(places), {})
        result = Score(None, len(places), None)
    who = f"{name} (taster {number} of kit {sitting.kit})"
    lacks_key = sitting.lacks_key_of(number) and not sealed and number not in sitting.absent
    left = (
        *((f"{who}: {missing_sentence(sitting.kit, number)}",) if lacks_key else ()),
        *_left(f"{who}, claim", claims.unsettled, match_pages),
        *_left(f"{who}, certainty", certainty.unsettled, match_pages),
        *_left(f"{who}, turned coaster", truth.unsettled, turned_pages),
    )
    absent = number in sitting.absent
    return TasterScore(sitting.kit, number, name, claims, certainty, truth, result, missing, left, absent)


def _table(sitting: Sitting, tasters: Sequence[TasterScore]) -> TableScore:
    scored = {taster.taster: taster.score.correct for taster in tasters if taster.score.correct is not None}
    claims = {taster.taster: tuple(taster.claims.numbers.values()) for taster in tasters}
    settled = all(not taster.claims.unsettled for taster in tasters if taster.taster in scored)
    return table_score(sitting.kit, sitting.session, claims, scored, settled=settled)


def _hand_shuffles(sittings: Sequence[Sitting], tasters: Iterable[TasterScore]) -> dict[str, Tameness]:
    """Test the hand shuffles of each taster with an id, over all sittings where what stood where is known."""
    by_hand = {sitting.kit: sitting.session for sitting in sittings if sitting.session.shuffle == "hand"}
    orders: dict[str, list[tuple[int, ...]]] = defaultdict(list)
    for taster in tasters:
        if taster.kit in by_hand and taster.truth.numbers is not None:
            who = by_hand[taster.kit].tasters[taster.taster - 1].id
            if who is not None:
                orders[who].append(tuple(taster.truth.numbers.values()))
    tested = {who: tameness(shuffles) for who, shuffles in orders.items()}
    return {who: found for who, found in tested.items() if found is not None}


def _left(what: str, unsettled: Mapping[str, str], pages: Sequence[PageReading]) -> Iterator[str]:
    pictures = " and ".join(dict.fromkeys(map(where, pages)))
    for place, reason in unsettled.items():
        yield f"{what} at {place}: {reason}" + (f" ({pictures})" if pictures else "")


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
        pictures: tuple[PictureReading, ...] = (*reading.pages, *reading.turned, *reading.opened)
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
