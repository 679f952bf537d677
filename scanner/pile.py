"""A pile of page readings: which sheets came twice, what deserves a remark, what is left for a person."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kit.keys import PLACES
from scanner.box_names import IN_ENGLISH, Printed, box_name, field_name
from scanner.claims import where
from scanner.reading import Mark, OpenedReading, Outcome, PageReading, PictureReading, Reading, State, TurnedReading

PICK_ONE = ("scale.", "match.", "sure.", "turned.")
READABLE = (Outcome.READ, Outcome.REPEAT, Outcome.CONFLICT)


@dataclass(frozen=True, slots=True)
class LeftToLookAt:
    """What only a person can settle: a page, a box or field of it, a row of turned coasters, an opened key sheet."""

    page: PictureReading
    what: str
    marks: tuple[Mark, ...] = ()


def gathered(pictures: Iterable[PictureReading]) -> Reading:
    """Return what all pictures of a pile gave as one reading, each kind in the order of the pictures."""
    pictures = tuple(pictures)
    return Reading(
        tuple(picture for picture in pictures if isinstance(picture, PageReading)),
        tuple(picture for picture in pictures if isinstance(picture, TurnedReading)),
        tuple(picture for picture in pictures if isinstance(picture, OpenedReading)),
    )


def sorted_out(pages: Iterable[PageReading]) -> tuple[PageReading, ...]:
    """Return the pages with repeats and conflicts told apart, and with their remarks.

    The first picture of a sheet is `read`. Another one is a `repeat` where every box has the same answer, whether an
    unmarked box is empty or taken back being no matter; a doubtful box is no other answer. It is a `conflict` where a
    box is marked in one and not in the other.
    """
    first: dict[str, PageReading] = {}
    result = []
    for page in pages:
        if page.outcome not in READABLE or page.sheet is None:
            result.append(page)
            continue
        remarked = replace(page, remarks=remarks_on(page))
        former = first.setdefault(page.sheet, remarked)
        result.append(remarked if former is remarked else _compared(remarked, former))
    return tuple(result)


def rows_sorted_out(rows: Iterable[TurnedReading], pages: Sequence[PageReading]) -> tuple[TurnedReading, ...]:
    """Return the rows of turned coasters with repeats and conflicts told apart, given the pages of the same pile.

    The first row of a taster is `read`, another a `repeat` in the same order and a `conflict` in any other. A row that
    the taster's turned sheet contradicts is a `conflict` as well, unless a person said what stood there.
    """
    first: dict[tuple[str | None, int | None], TurnedReading] = {}
    result = []
    for row in rows:
        if row.order is None:
            result.append(row)
            continue
        former = first.setdefault((row.kit, row.taster), row)
        clash = None if row.by else _clash_with_sheet(row, pages)
        outcome = Outcome.READ if former is row else Outcome.REPEAT
        if former.order != row.order:
            clash = f"it shows the order {_order(row)}, but {where(former)} shows {_order(former)} of the same taster"
        result.append(replace(row, outcome=Outcome.CONFLICT if clash else outcome, reason=clash))
    return tuple(result)


def remarks_on(page: PageReading) -> tuple[str, ...]:
    """Return what deserves notice on a page but is not in doubt."""
    marked = [mark for mark in page.marks if mark.state is State.MARKED]
    doubtful = any(mark.state is State.DOUBTFUL for mark in page.marks)
    remarks = []
    if page.role == "match":
        claims = Counter(mark.option for mark in marked if mark.field.startswith("match."))
        remarks += [f"number {number} is claimed {count} times" for number, count in claims.items() if count > 1]
        if not claims and not doubtful:
            remarks.append("a sheet without claims")
    elif not marked and not doubtful:
        remarks.append("nothing is marked on it")
    return tuple(remarks)


def left_to_look_at(reading: Reading, printed: Mapping[str, Printed] | None = None) -> Iterator[LeftToLookAt]:
    """Yield, page by page, everything that is left for a person; `printed` has the sheets' own words by kit."""
    for page in reading.pages:
        own = (printed or {}).get(page.kit or "", IN_ENGLISH)
        if page.outcome in (Outcome.FOREIGN, Outcome.UNREADABLE):
            yield LeftToLookAt(page, page.reason or page.outcome.value)
            continue
        if page.outcome is Outcome.CONFLICT:
            yield LeftToLookAt(page, page.reason or "it has other answers than another picture of the same sheet")
        for mark in page.marks:
            if mark.state is State.DOUBTFUL:
                because = f": {mark.reason}" if mark.reason else ""
                yield LeftToLookAt(page, box_name(mark.field, mark.option, own) + because, (mark,))
        for field, marks in twice_marked(page.marks).items():
            options = " and ".join(mark.option for mark in marks)
            yield LeftToLookAt(page, f"{field_name(field, own)}: {len(marks)} boxes are marked, {options}", marks)
    others: tuple[TurnedReading | OpenedReading, ...] = (*reading.turned, *reading.opened)
    for picture in others:
        if picture.outcome not in (Outcome.READ, Outcome.REPEAT):
            yield LeftToLookAt(picture, picture.reason or picture.outcome.value)


def twice_marked(marks: Sequence[Mark]) -> dict[str, tuple[Mark, ...]]:
    """Return the pick-one fields with more than one mark, and those marks."""
    fields: dict[str, list[Mark]] = {}
    for mark in marks:
        if mark.state is State.MARKED and mark.field.startswith(PICK_ONE):
            fields.setdefault(mark.field, []).append(mark)
    return {field: tuple(marked) for field, marked in fields.items() if len(marked) > 1}


def _clash_with_sheet(row: TurnedReading, pages: Sequence[PageReading]) -> str | None:
    for page in pages:
        if (page.kit, page.taster, page.role) != (row.kit, row.taster, "turned") or page.outcome not in READABLE:
            continue
        entered: dict[str, set[str]] = {}
        for mark in page.marks:
            if mark.state is State.MARKED:
                entered.setdefault(mark.field.removeprefix("turned."), set()).add(mark.option)
        differing = [
            f"{number} at {place}, but the sheet on {where(page)} has {' and '.join(sorted(entered[place]))}"
            for place, number in zip(PLACES, row.order or (), strict=False)
            if place in entered and str(number) not in entered[place]
        ]
        if differing:
            return "it shows coaster " + "; ".join(differing)
    return None


def _order(row: TurnedReading) -> str:
    return ", ".join(map(str, row.order or ()))


def _compared(page: PageReading, former: PageReading) -> PageReading:
    clashing = _clashing_fields(former, page)
    if not clashing:
        return replace(page, outcome=Outcome.REPEAT, reason=None)
    names = ", ".join(map(field_name, clashing[:3])) + (f" and {len(clashing) - 3} more" if len(clashing) > 3 else "")
    reason = f"it has other answers than {where(former)}, of the same sheet: {names}"
    return replace(page, outcome=Outcome.CONFLICT, reason=reason)


def _clashing_fields(one: PageReading, other: PageReading) -> tuple[str, ...]:
    """Return the fields with a box that is marked in one picture and clearly not in the other."""
    states = {(mark.field, mark.option): mark.state for mark in one.marks}
    return tuple(
        dict.fromkeys(
            mark.field
            for mark in other.marks
            if State.DOUBTFUL not in (mark.state, states.get((mark.field, mark.option), State.DOUBTFUL))
            and (mark.state is State.MARKED) != (states[mark.field, mark.option] is State.MARKED)
        )
    )
