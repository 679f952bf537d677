"""A pile of page readings: which sheets came twice, what deserves a remark, what is left for a person."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from scanner.box_names import box_name, field_name
from scanner.claims import where
from scanner.reading import Mark, Outcome, PageReading, Reading, State

PICK_ONE = ("scale.", "match.", "sure.", "turned.")


@dataclass(frozen=True, slots=True)
class LeftToLookAt:
    """Something that only a person can settle: a whole page, or a box or field of it."""

    page: PageReading
    what: str
    marks: tuple[Mark, ...] = ()


def sorted_out(pages: Iterable[PageReading]) -> tuple[PageReading, ...]:
    """Return the pages with repeats and conflicts told apart, and with their remarks.

    The first picture of a sheet is `read`. Another one is a `repeat` where every box has the same answer, whether an
    unmarked box is empty or taken back being no matter; a doubtful box is no other answer. It is a `conflict` where a
    box is marked in one and not in the other.
    """
    first: dict[str, PageReading] = {}
    result = []
    for page in pages:
        if page.outcome not in (Outcome.READ, Outcome.REPEAT, Outcome.CONFLICT) or page.sheet is None:
            result.append(page)
            continue
        remarked = replace(page, remarks=remarks_on(page))
        former = first.setdefault(page.sheet, remarked)
        result.append(remarked if former is remarked else _compared(remarked, former))
    return tuple(result)


def remarks_on(page: PageReading) -> tuple[str, ...]:
    """Return what deserves notice on a page but is not in doubt."""
    marked = [mark for mark in page.marks if mark.state is State.MARKED]
    doubtful = any(mark.state is State.DOUBTFUL for mark in page.marks)
    remarks = []
    if page.role == "match":
        claims = Counter(mark.option for mark in marked if mark.field.startswith("match."))
        remarks += [
            f"coaster number {number} is claimed {count} times" for number, count in claims.items() if count > 1
        ]
        if not claims and not doubtful:
            remarks.append("a sheet without claims")
    elif not marked and not doubtful:
        remarks.append("nothing is marked on it")
    return tuple(remarks)


def left_to_look_at(reading: Reading) -> Iterator[LeftToLookAt]:
    """Yield, page by page, everything that is left for a person."""
    for page in reading.pages:
        if page.outcome in (Outcome.FOREIGN, Outcome.UNREADABLE):
            yield LeftToLookAt(page, page.reason or page.outcome.value)
            continue
        if page.outcome is Outcome.CONFLICT:
            yield LeftToLookAt(page, page.reason or "it has other answers than another picture of the same sheet")
        for mark in page.marks:
            if mark.state is State.DOUBTFUL:
                because = f": {mark.reason}" if mark.reason else ""
                yield LeftToLookAt(page, box_name(mark.field, mark.option) + because, (mark,))
        for field, marks in twice_marked(page.marks).items():
            options = " and ".join(mark.option for mark in marks)
            yield LeftToLookAt(page, f"{field_name(field)}: {len(marks)} boxes are marked, {options}", marks)


def twice_marked(marks: Sequence[Mark]) -> dict[str, tuple[Mark, ...]]:
    """Return the pick-one fields with more than one mark, and those marks."""
    fields: dict[str, list[Mark]] = {}
    for mark in marks:
        if mark.state is State.MARKED and mark.field.startswith(PICK_ONE):
            fields.setdefault(mark.field, []).append(mark)
    return {field: tuple(marked) for field, marked in fields.items() if len(marked) > 1}


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
