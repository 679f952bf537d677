"""Whether a taster's words and strengths came back for the same drink: in a sitting, and over all of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from scanner.results.agreement import jaccard
from scanner.results.exact import chance_of_total, sign_test
from scanner.results.pairing import Pairing, pairing, similarities
from scanner.results.round_agreement import ScaleAgreement, WordAgreement, scale_agreement, word_agreement
from scanner.results.sitting import Drink, Note, TasterSitting
from scanner.results.voices import in_form_order


@dataclass(frozen=True, slots=True)
class DrinkNotes:
    """One drink's notes of both rounds; words in the form's order, shifts in steps, round two less round one."""

    drink: Drink
    coaster: int
    place: str
    kept: tuple[str, ...]
    dropped: tuple[str, ...]
    new: tuple[str, ...]
    shifts: Mapping[str, int]
    jaccard: float | None


@dataclass(frozen=True, slots=True)
class SittingNotes:
    """The notes of one sitting. `claims_right` is None where the claims are not settled, or none was made."""

    kit: str
    title: str
    date: str
    designed: bool
    drinks: tuple[DrinkNotes, ...]
    pairing: Pairing
    claims_right: int | None

    @property
    def too_little(self) -> str | None:
        """Say why the notes of this sitting tell nothing, None if they do."""
        return None if self.pairing.tells else WHY_BLIND


@dataclass(frozen=True, slots=True)
class Combined:
    """The permutation test over all sittings with keys of one kind.

    `chance` is the p-value of the total similarity; None where no sitting's notes tell the glasses apart. Notes and
    claims are compared over the sittings with settled claims alone: `compared` of them, `notes_better` sittings in
    which the notes alone had more right than the claims; `difference_chance` is the exact sign test's.
    """

    designed: bool
    sittings: int
    telling: int
    chance: float | None
    glasses: int
    right_by_notes: float
    compared: int
    compared_by_notes: float
    compared_by_claims: int
    notes_better: int
    claims_better: int
    difference_chance: float


@dataclass(frozen=True, slots=True)
class Notes:
    """All that a taster's notes say, the earliest sitting first. `too_little` where no sitting has what is needed."""

    taster: str
    name: str
    sittings: tuple[SittingNotes, ...]
    left_out: tuple[str, ...]
    words: WordAgreement
    scales: tuple[ScaleAgreement, ...]
    combined: tuple[Combined, ...]
    unsettled: int

    @property
    def too_little(self) -> str | None:
        """Say what is missing where there is nothing to compare."""
        if self.sittings:
            return None
        return "there is no sitting yet with notes of both rounds of which it is known what stood where"


PLACES = "ABCDEFGH"
WHY_BLIND = "its notes are as alike however they are paired: they tell no glass from another"
SMALL = 0.05


def notes(taster: str, name: str, sittings: Sequence[TasterSitting]) -> Notes:
    """Compare round one and round two in all of a taster's sittings."""
    ordered = in_order(sittings)
    reasons = [why_not_compared(sitting) for sitting in ordered]
    usable = [sitting for sitting, reason in zip(ordered, reasons, strict=True) if reason is None]
    compared = tuple(map(notes_of_sitting, usable))
    return Notes(
        taster,
        name,
        compared,
        tuple(
            f"{called(sitting)}: {reason}"
            for sitting, reason in zip(ordered, reasons, strict=True)
            if reason is not None
        ),
        _word_agreement(usable, compared),
        scale_agreement(
            [
                (number, first.strengths, second.strengths)
                for number, sitting in enumerate(usable)
                for first, second in pairs(sitting)
            ],
            tuple(dict.fromkeys(scale for sitting in usable for scale in sitting.scales)),
        ),
        tuple(
            _combined(designed, kind)
            for designed in (True, False)
            if (kind := [sitting for sitting in compared if sitting.designed is designed])
        ),
        sum(len(note.unsettled) for sitting in usable for pair in pairs(sitting) for note in pair),
    )


def notes_of_sitting(sitting: TasterSitting) -> SittingNotes:
    """Compare the rounds of one sitting, which has notes of both and a known key."""
    first, second, truth = _parts(sitting)
    alike = similarities(first, second, sitting.scales)
    claimed = any(claim is not None for claim in sitting.claims)
    return SittingNotes(
        sitting.kit,
        sitting.title,
        sitting.date.isoformat(),
        sitting.keys_are_designed,
        tuple(_drink_notes(sitting, coaster) for coaster in range(1, sitting.glasses + 1)),
        pairing(alike, truth),
        sitting.correct if claimed else None,
    )


def in_order(sittings: Iterable[TasterSitting]) -> list[TasterSitting]:
    """Return the sittings by date, those of one day by kit."""
    return sorted(sittings, key=lambda sitting: (sitting.date, sitting.kit))


def called(sitting: TasterSitting) -> str:
    """Name a sitting for people."""
    return f"{sitting.title}, {sitting.date} (kit {sitting.kit})"


def why_not_compared(sitting: TasterSitting) -> str | None:
    """Say what a sitting lacks for its rounds to be compared, None if nothing."""
    lacking = [
        f"the notes of round {name}"
        for name, found in (("one", sitting.notes_1), ("two", sitting.notes_2))
        if found is None
    ]
    if lacking:
        return f"{' and '.join(lacking)} are missing"
    if sitting.waits:
        return "what stood where is told once the claims are in and settled"
    return "what stood where is not known" if sitting.truth is None else None


def pairs(sitting: TasterSitting) -> list[tuple[Note, Note]]:
    """Return the two notes of each drink of a sitting whose rounds can be compared, by place."""
    first, second, truth = _parts(sitting)
    return [(first[coaster - 1], note) for coaster, note in zip(truth, second, strict=True)]


def _parts(sitting: TasterSitting) -> tuple[tuple[Note, ...], tuple[Note, ...], tuple[int, ...]]:
    if sitting.notes_1 is None or sitting.notes_2 is None or sitting.truth is None:
        raise ValueError(f"{called(sitting)}: {why_not_compared(sitting)}")
    return sitting.notes_1, sitting.notes_2, sitting.truth


def _drink_notes(sitting: TasterSitting, coaster: int) -> DrinkNotes:
    first, second, truth = _parts(sitting)
    place = truth.index(coaster)
    one, other = first[coaster - 1], second[place]
    before, after = one.words - one.unsettled, other.words - other.unsettled
    return DrinkNotes(
        sitting.drinks[coaster - 1],
        coaster,
        PLACES[place],
        in_form_order(before & after, sitting.words),
        in_form_order(before - after, sitting.words),
        in_form_order(after - before, sitting.words),
        {
            scale: other.strengths[scale] - one.strengths[scale]
            for scale in sitting.scales
            if scale in one.strengths and scale in other.strengths
        },
        jaccard(before, after),
    )


def _word_agreement(sittings: Sequence[TasterSitting], compared: Sequence[SittingNotes]) -> WordAgreement:
    times = [
        (
            sum(len(drink.kept) for drink in one.drinks),
            sum(len(drink.dropped) for drink in one.drinks),
            sum(len(drink.new) for drink in one.drinks),
            len(sitting.words) * sitting.glasses,
        )
        for sitting, one in zip(sittings, compared, strict=True)
    ]
    return word_agreement(times, [drink.jaccard for one in compared for drink in one.drinks])


def _combined(designed: bool, sittings: Sequence[SittingNotes]) -> Combined:
    telling = [sitting.pairing for sitting in sittings if sitting.pairing.tells]
    claimed = [
        (sitting.pairing.right_by_notes, sitting.claims_right)
        for sitting in sittings
        if sitting.claims_right is not None
    ]
    notes_better = sum(words > claims for words, claims in claimed)
    claims_better = sum(words < claims for words, claims in claimed)
    return Combined(
        designed,
        len(sittings),
        len(telling),
        chance_of_total([found.law for found in telling], sum(found.score for found in telling)) if telling else None,
        sum(sitting.pairing.glasses for sitting in sittings),
        float(sum((sitting.pairing.right_by_notes for sitting in sittings), Fraction(0))),
        len(claimed),
        float(sum((words for words, _ in claimed), Fraction(0))),
        sum(claims for _, claims in claimed),
        notes_better,
        claims_better,
        sign_test(notes_better, claims_better),
    )
