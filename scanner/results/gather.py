"""From kits and readings to what each taster said in each sitting, the same tasters and drinks over all kits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from kit.codes import ROLE_DIGITS, sheet_id
from kit.errors import KitError
from scanner.claims_in import HANDED_IN
from scanner.reading import PageReading, Reading
from scanner.results.identity import Identities, Question, Same, Seen, identities
from scanner.results.namesakes import nearly_alike, plain
from scanner.results.note_fields import Round, notes_of, offered
from scanner.results.sitting import TasterSitting
from scanner.results.typed import as_known, drinks_typed, tasters_typed
from scanner.score import SHEET_NAMES, TasterScore, scores
from scanner.what_stood import Sitting


@dataclass(frozen=True, slots=True)
class Gathered:
    """All that was said, the earliest sitting first.

    Attributes
    ----------
    sittings
        A value for each taster of whom any sheet was read, in each kit.
    questions
        Tasters, or drinks, that may be one and are kept apart.
    remarks, remarks_of
        What deserves notice: drinks that differ between kits, who handed in nothing; and by taster, missing sheets.
    left_to_look_at
        What a person has still to settle, as `facedown score` says it.
    labels
        All that each taster is called.
    seats
        For how many tasters each kit was printed.
    """

    sittings: tuple[TasterSitting, ...]
    questions: tuple[Question, ...] = ()
    remarks: tuple[str, ...] = ()
    remarks_of: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    left_to_look_at: tuple[str, ...] = ()
    labels: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    seats: Mapping[str, int] = field(default_factory=dict)

    @property
    def tasters(self) -> tuple[str, ...]:
        """The keys of all tasters, as `TasterSitting.taster` has them."""
        return tuple(dict.fromkeys(sitting.taster for sitting in self.sittings))

    def of(self, taster: str) -> tuple[TasterSitting, ...]:
        """Return one taster's sittings."""
        return tuple(sitting for sitting in self.sittings if sitting.taster == taster)

    def name_of(self, taster: str) -> str:
        """Return the name that a taster had last."""
        return self.of(taster)[-1].name

    def taster_called(self, label: str) -> str:
        """Return the key of the taster with this id or name.

        Raises
        ------
        KitError
            If there is none, or several are called that.
        """
        called = [key for key in self.tasters if key == label]
        called = called or [key for key in self.tasters if label in self.labels.get(key, ())]
        called = called or [key for key in self.tasters if plain(label) in map(plain, self.labels.get(key, ()))]
        if len(called) == 1:
            return called[0]
        if called:
            keys = ", ".join(repr(key) for key in called)
            raise KitError(f"--taster {label!r}: several tasters are called that: {keys}.", "Name one of these.")
        near = [key for key in self.tasters if any(nearly_alike(label, known) for known in self.labels.get(key, ()))]
        there = ", ".join(repr(key) for key in near or self.tasters) or "none, for no sheet was read"
        raise KitError(f"--taster {label!r}: no such taster.", f"{'Perhaps' if near else 'There are'}: {there}.")


def gather(
    sittings: Sequence[Sitting],
    readings: Mapping[str, Reading],
    same: Sequence[Same] = (),
    typed: Sequence[TasterSitting] = (),
) -> Gathered:
    """Bring together what each taster said in each of the sittings.

    Parameters
    ----------
    sittings : sequence of Sitting
        The kits, each with another id, as `facedown score` has them.
    readings : mapping of str to Reading
        By the name of the file, for messages.
    same : sequence of pairs of str
        Ids or names that a person says are one taster, or one drink.
    typed : sequence of TasterSitting
        Results that were typed in; their tasters and drinks are found among the others as those of the kits are.

    Raises
    ------
    ReadingError
        If a reading holds a sheet or a box that its kit never had.
    KitError
        If a pair of `same` names nobody, several, or two who were in one kit.
    """
    ordered = sorted(sittings, key=lambda sitting: (sitting.session.date, sitting.kit))
    scored = scores(ordered, readings)
    tasters, drinks = _who_is_who(ordered, typed, same)
    pages = _pages(readings)
    found: list[TasterSitting] = []
    remarks = [*tasters.remarks, *drinks.remarks]
    remarks_of: dict[str, list[str]] = defaultdict(list)
    for sitting in ordered:
        for score in scored.tasters:
            if score.kit != sitting.kit or score.absent:
                continue
            one = _taster_sitting(sitting, score, pages, tasters, drinks)
            if one is None:
                remarks.append(f"{_who(score)}: no sheet was read")
                continue
            found.append(one)
            remarks_of[one.taster] += _missing(score, one)
    known = [as_known(one, tasters, drinks) for one in typed]
    found += known
    return Gathered(
        tuple(sorted(found, key=lambda one: (one.date, one.kit))),
        (*tasters.questions, *drinks.questions),
        tuple(remarks),
        {taster: tuple(told) for taster, told in remarks_of.items()},
        scored.left_to_look_at,
        _labels(tasters, known),
        {sitting.kit: len(sitting.session.tasters) for sitting in sittings} | _seats(typed),
    )


def _labels(tasters: Identities, typed: Sequence[TasterSitting]) -> dict[str, tuple[str, ...]]:
    labels = dict(tasters.labels)
    for one in typed:
        labels[one.taster] = tuple(dict.fromkeys((*labels.get(one.taster, ()), one.taster, one.name)))
    return labels


def _seats(typed: Sequence[TasterSitting]) -> dict[str, int]:
    seats: dict[str, int] = {}
    for one in typed:
        seats[one.kit] = max(one.number, seats.get(one.kit, 0))
    return seats


def _who_is_who(
    sittings: Sequence[Sitting], typed: Sequence[TasterSitting], same: Sequence[Same]
) -> tuple[Identities, Identities]:
    seated = [
        Seen(sitting.kit, number, taster)
        for sitting in sittings
        for number, taster in enumerate(sitting.session.tasters, start=1)
    ]
    poured = [
        Seen(sitting.kit, number, pour)
        for sitting in sittings
        for number, pour in enumerate(sitting.session.pours, start=1)
    ]
    # What was typed in is mostly old: it comes first, so that names are those of the latest kits.
    tasters, of_tasters = identities("taster", [*tasters_typed(typed, seated), *seated], same)
    drinks, of_drinks = identities("drink", [*drinks_typed(typed, poured), *poured], same)
    for pair in same:
        if pair in of_tasters and pair in of_drinks:
            raise KitError(f"--same {pair[0]!r} {pair[1]!r}: tasters and drinks are called that.", "Name their ids.")
        if pair not in of_tasters and pair not in of_drinks:
            raise KitError(
                f"--same {pair[0]!r} {pair[1]!r}: the kits given have no two tasters, and no two drinks, of these "
                "ids or names.",
                "Write both as they stand in the question, or in the session files.",
            )
    return tasters, drinks


def _pages(readings: Mapping[str, Reading]) -> dict[str, list[PageReading]]:
    pages: dict[str, list[PageReading]] = defaultdict(list)
    for reading in readings.values():
        for page in reading.pages:
            if page.sheet is not None and page.outcome in HANDED_IN:
                pages[page.sheet].append(page)
    return pages


def _taster_sitting(
    sitting: Sitting,
    score: TasterScore,
    pages: Mapping[str, Sequence[PageReading]],
    tasters: Identities,
    drinks: Identities,
) -> TasterSitting | None:
    session = sitting.session
    sheets = [sheet for sheet in sitting.layout.pages if sheet.taster == score.taster and sheet.marks]
    if not any(pages.get(sheet.sheet) for sheet in sheets):
        return None
    key = tasters.keys[sitting.kit, score.taster]
    letters = session.place_letters
    truth = score.told
    rounds = [
        notes_of(Round(glasses), sheets, pages) for glasses in (tuple(map(str, range(1, len(letters) + 1))), letters)
    ]
    words, scales = offered(sheets)
    return TasterSitting(
        kit=sitting.kit,
        title=session.title,
        date=session.date,
        taster=key,
        name=tasters.names[key],
        number=score.taster,
        shuffle=session.shuffle,
        keys=session.keys,
        drinks=tuple(drinks.drink(sitting.kit, number, pour) for number, pour in enumerate(session.pours, start=1)),
        claims=tuple(score.claims.numbers[place] for place in letters),
        sure=tuple(score.certainty.words.get(place) for place in letters),
        truth=None if truth is None else tuple(truth[place] for place in letters),
        notes_1=rounds[0],
        notes_2=rounds[1],
        words=words,
        scales=scales,
        unsettled=tuple(index for index, place in enumerate(letters) if place in score.claims.unsettled),
        waits=score.waits and score.truth.numbers is not None,
    )


def _missing(score: TasterScore, sitting: TasterSitting) -> list[str]:
    sheets = [
        f"sheet {sheet_id(score.kit, score.taster, ROLE_DIGITS[role])}, {SHEET_NAMES.get(role, role)}, is missing"
        for role in score.missing
    ]
    by_round = (("one", sitting.notes_1), ("two", sitting.notes_2))
    rounds = [f"there are no notes of round {name}" for name, notes in by_round if notes is None]
    return [f"{_who(score)}: {remark}" for remark in (*sheets, *rounds)]


def _who(score: TasterScore) -> str:
    return f"{score.name} (taster {score.taster} of kit {score.kit})"
