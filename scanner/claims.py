"""What one taster's sheets say: the claims, how sure each was, and what stood where in the end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from scanner.reading import Mark, PageReading, PictureReading, State

CERTAINTIES = ("guess", "leaning", "sure")


@dataclass(frozen=True, slots=True)
class Claims:
    """Coaster numbers by place letter.

    A place in `unsettled`, with the reason there, is for a person to look at; its number is None. The number
    of a place left blank is None too.
    """

    numbers: Mapping[str, int | None]
    unsettled: Mapping[str, str]
    remarks: tuple[str, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether every place has its number."""
        return None not in self.numbers.values()


@dataclass(frozen=True, slots=True)
class Certainty:
    """How sure a taster was, by place letter: a word of CERTAINTIES or None; `unsettled` as for `Claims`."""

    words: Mapping[str, str | None]
    unsettled: Mapping[str, str]


def claims_of(marks: Sequence[Mark], places: Sequence[str], coasters: Sequence[int]) -> Claims:
    """Return what a match sheet's marks claim, from its `match.PLACE` fields.

    A place is unsettled where one of its boxes is doubtful, two are marked, or one is not in the reading at
    all. A number claimed twice is a valid claim: it stays, and is remarked on.

    Raises
    ------
    ValueError
        If a match field names a place or a coaster that the sitting has not, or a box is listed twice.
    """
    numbers, unsettled = _numbers(marks, "match", places, coasters)
    remarks = tuple(
        f"number {number} is claimed {_times(len(at))}, at {_and(at)}" for number, at in _repeated(numbers).items()
    )
    if not unsettled and not any(numbers.values()):
        remarks = ("no claim is made at any place",)
    return Claims(numbers, unsettled, remarks)


def turned_of(marks: Sequence[Mark], places: Sequence[str], coasters: Sequence[int]) -> Claims:
    """Return what stood at each place by a turned sheet's marks, from its `turned.PLACE` fields.

    As `claims_of`, but a number can stand at one place only: where it is given twice, those places are
    unsettled.

    Raises
    ------
    ValueError
        As for `claims_of`.
    """
    numbers, unsettled = _numbers(marks, "turned", places, coasters)
    for number, at in _repeated(numbers).items():
        for place in at:
            numbers[place] = None
            unsettled[place] = f"coaster number {number} is entered {_times(len(at))}, at {_and(at)}"
    blank = [place for place in places if numbers[place] is None and place not in unsettled]
    remarks: tuple[str, ...] = ()
    if blank:
        whole = len(blank) == len(places)
        remarks = ("the turned sheet is not filled in" if whole else f"what stood at {_and(blank)} is not filled in",)
    return Claims(numbers, unsettled, remarks)


def certainty_of(marks: Sequence[Mark], places: Sequence[str]) -> Certainty:
    """Return how sure the taster was at each place, from the `sure.PLACE` fields; None where the form does not ask.

    Raises
    ------
    ValueError
        As for `claims_of`.
    """
    fields = {mark.field for mark in marks}
    asked = [place for place in places if f"sure.{place}" in fields]
    words, unsettled = _picks(marks, "sure", asked, CERTAINTIES)
    return Certainty(dict.fromkeys(places) | words, unsettled)


def combined(pages: Sequence[PageReading]) -> tuple[Mark, ...]:
    """Return the marks of one sheet that was read several times.

    A box with the same answer in every reading keeps it; whether an unmarked box is empty or withdrawn is no
    matter. A mark that a person settled wins over the reader's. Any other difference makes the box doubtful,
    with a reason that says what was read where; a box that one of the readings does not list is left out.
    Nothing is guessed.
    """
    return tuple(
        _combined_box(told) for told in _told(pages).values() if len(told) == len(pages) or told[0][0].by is not None
    )


def clashing_fields(pages: Sequence[PageReading]) -> tuple[str, ...]:
    """Return the fields to which the readings of one sheet give different answers, in the sheet's order."""
    clashing = (field for (field, _), told in _told(pages).items() if len(_answers(told)) > 1)
    return tuple(dict.fromkeys(clashing))


def where(picture: PictureReading) -> str:
    """Name the picture that something was read from, for people."""
    page = picture.source_page
    return picture.source if page is None else f"{picture.source}, page {page}"


def _told(pages: Sequence[PageReading]) -> dict[tuple[str, str], list[tuple[Mark, PageReading]]]:
    """Return each box's marks and where they were read, by field and option: a person's alone, if any."""
    boxes: dict[tuple[str, str], list[tuple[Mark, PageReading]]] = {}
    for page in pages:
        for mark in page.marks:
            boxes.setdefault((mark.field, mark.option), []).append((mark, page))
    return {box: [(mark, page) for mark, page in read if mark.by is not None] or read for box, read in boxes.items()}


def _combined_box(told: Sequence[tuple[Mark, PageReading]]) -> Mark:
    mark = told[0][0]
    if len(_answers(told)) == 1:
        return mark
    differing = " but ".join(dict.fromkeys(f"{mark.state} on {where(page)}" for mark, page in told))
    return replace(mark, state=State.DOUBTFUL, by=None, reason=f"it is {differing}")


def _answers(told: Sequence[tuple[Mark, PageReading]]) -> set[State]:
    return {State.EMPTY if mark.state is State.WITHDRAWN else mark.state for mark, _ in told}


def _numbers(
    marks: Sequence[Mark], kind: str, places: Sequence[str], coasters: Sequence[int]
) -> tuple[dict[str, int | None], dict[str, str]]:
    picks, unsettled = _picks(marks, kind, places, [str(coaster) for coaster in coasters])
    return {place: None if pick is None else int(pick) for place, pick in picks.items()}, unsettled


def _picks(
    marks: Sequence[Mark], kind: str, places: Sequence[str], options: Sequence[str]
) -> tuple[dict[str, str | None], dict[str, str]]:
    """Return the one option marked in each field `kind.PLACE`, or None, and why a place is unsettled."""
    boxes = _boxes(marks, kind, places, options)
    picks: dict[str, str | None] = {}
    unsettled: dict[str, str] = {}
    for place in places:
        doubt = _doubt(boxes[place], options)
        marked = [option for option, mark in boxes[place].items() if mark.state is State.MARKED]
        if doubt is not None:
            unsettled[place] = doubt
        picks[place] = marked[0] if marked and doubt is None else None
    return picks, unsettled


def _boxes(
    marks: Sequence[Mark], kind: str, places: Sequence[str], options: Sequence[str]
) -> dict[str, dict[str, Mark]]:
    boxes: dict[str, dict[str, Mark]] = {place: {} for place in places}
    for mark in marks:
        field, _, place = mark.field.partition(".")
        if field != kind:
            continue
        if place not in boxes or mark.option not in options:
            raise ValueError(f"the sitting has no box {mark.option!r} in a field {mark.field!r}")
        if mark.option in boxes[place]:
            raise ValueError(f"the box {mark.option!r} of {mark.field!r} is listed twice")
        boxes[place][mark.option] = mark
    return boxes


def _doubt(boxes: Mapping[str, Mark], options: Sequence[str]) -> str | None:
    """Say why a pick-one field cannot be taken as it was read, or None where it can."""
    absent = [option for option in options if option not in boxes]
    doubtful = [mark for mark in boxes.values() if mark.state is State.DOUBTFUL]
    marked = [option for option, mark in boxes.items() if mark.state is State.MARKED]
    if absent:
        return f"the reading does not list the box for {_and(absent)}"
    if doubtful:
        return "; ".join(
            f"the box for {mark.option} is doubtful" + (f": {mark.reason}" if mark.reason else "") for mark in doubtful
        )
    if len(marked) > 1:
        return f"{len(marked)} boxes are marked: {_and(marked)}"
    return None


def _repeated(numbers: Mapping[str, int | None]) -> dict[int, list[str]]:
    times = Counter(number for number in numbers.values() if number is not None)
    return {
        number: [place for place in numbers if numbers[place] == number]
        for number, count in sorted(times.items())
        if count > 1
    }


def _times(count: int) -> str:
    return "twice" if count == 2 else f"{count} times"


def _and(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
