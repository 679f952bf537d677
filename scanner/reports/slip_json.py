"""The numbers of slips: as JSON, and as rows of a CSV file, one for each drink."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from scanner.reports.csv_safe import Cell
from scanner.reports.slip import Slip, SlipDrink
from scanner.reports.slip_words import Vocabulary, claim_words, result_line
from scanner.results.sitting import Note

FORMAT = "facedown-slips/1"

HEADING = (
    "kit",
    "date",
    "title",
    "taster",
    "name",
    "correct",
    "of",
    "expected_by_guessing",
    "chance_at_least",
    "coaster",
    "drink",
    "place",
    "claimed_there",
    "right",
    "kept",
    "dropped",
    "new",
)


def slip_to_json(slip: Slip, seal: str | None, spoken: Vocabulary) -> dict[str, Any]:
    """Return one slip as a JSON object, with the sentences that are printed."""
    sitting, luck = slip.sitting, slip.luck
    scale = slip.practice.scale
    return {
        "kit": sitting.kit,
        "title": sitting.title,
        "date": sitting.date.isoformat(),
        "taster": sitting.taster,
        "name": sitting.name,
        "number": sitting.number,
        "seal": seal,
        "state": slip.state,
        "correct": slip.correct,
        "of": sitting.glasses,
        "expected_by_guessing": None if luck is None else float(luck.expected),
        "chance_at_least": None if luck is None else float(luck.chance_at_least),
        "chance_of_none": None if luck is None else float(luck.chances[0]),
        "result": list(result_line(slip, spoken.words)),
        "places": [
            {
                "place": one.place,
                "claimed": one.claimed,
                "stood": one.stood,
                "right": one.right,
                "settled": one.settled,
                "sure": one.sure,
            }
            for one in slip.places
        ],
        "drinks": [_drink_to_json(slip, drink, spoken) for drink in slip.drinks],
        "practise": {
            "kind": slip.practice.kind,
            "drinks": list(slip.practice.drinks),
            "scale": scale,
            "times": slip.practice.times,
            "sentence": slip.practice.sentence(spoken.words, None if scale is None else spoken.scale(scale)),
        },
    }


def csv_heading(slips: Iterable[Slip]) -> tuple[str, ...]:
    """Return the heading of the CSV: HEADING, then each scale of any slip in round one and two."""
    scales = dict.fromkeys(scale for slip in slips for scale in slip.sitting.scales)
    return (*HEADING, *(f"{scale}_{number}" for scale in scales for number in (1, 2)))


def csv_rows(slip: Slip, heading: tuple[str, ...]) -> Iterator[tuple[Cell, ...]]:
    """Yield a row for each drink of a slip."""
    sitting, luck = slip.sitting, slip.luck
    claims = {one.place: one for one in slip.places}
    for drink in slip.drinks:
        claim = None if drink.place is None else claims[drink.place]
        strengths = {
            f"{scale}_{number}": steps
            for number, note in ((1, drink.first), (2, drink.second))
            if note is not None
            for scale, steps in note.strengths.items()
        }
        yield (
            sitting.kit,
            sitting.date.isoformat(),
            sitting.title,
            sitting.taster,
            sitting.name,
            slip.correct,
            sitting.glasses,
            None if luck is None else luck.expected,
            None if luck is None else luck.chance_at_least,
            drink.coaster,
            None if slip.state == "sealed" else drink.drink.name,
            drink.place,
            None if claim is None else claim.claimed,
            None if claim is None else claim.right,
            ", ".join(drink.kept),
            ", ".join(drink.dropped),
            ", ".join(drink.new),
            *(strengths.get(name) for name in heading[len(HEADING) :]),
        )


def _drink_to_json(slip: Slip, drink: SlipDrink, spoken: Vocabulary) -> dict[str, Any]:
    minority, found = drink.minority, drink.table
    sealed = slip.state == "sealed"
    return {
        "coaster": drink.coaster,
        "name": None if sealed else drink.drink.name,
        "style": None if sealed else drink.drink.style,
        "abv_percent": None if sealed else drink.drink.abv_percent,
        "place": drink.place,
        "claim": claim_words(slip, drink, spoken.words),
        "round_one": _note_to_json(drink.first, slip),
        "round_two": _note_to_json(drink.second, slip),
        "kept": list(drink.kept),
        "dropped": list(drink.dropped),
        "new": list(drink.new),
        "table": None
        if found is None
        else {
            "tasters": found.tasters,
            "words": dict(found.words),
            "too_little": found.too_little,
            "missed": [] if minority is None else list(minority.missed),
            "alone": [] if minority is None else list(minority.alone),
            "apart": {} if minority is None else dict(minority.apart),
        },
    }


def _note_to_json(note: Note | None, slip: Slip) -> dict[str, Any] | None:
    if note is None:
        return None
    said = [word for word in slip.sitting.words if word in note.words - note.unsettled]
    return {"words": said, "strengths": dict(note.strengths), "unsettled": sorted(note.unsettled)}
