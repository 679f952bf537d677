"""The doubts of an archive in their order, what a person can answer to each, and where one goes from there. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from scanner.archive.standing import Box, Marks
from scanner.box_names import Printed, field_name
from scanner.pile import rows_sorted_out, twice_marked
from scanner.reading import Mark, Outcome, PageReading, State, TurnedReading
from scanner.settle import Answer, BoxAnswer, KeepAnswer, RowAnswer

BOX, FIELD, SHEETS, ROW = "box", "field", "sheets", "row"
"""The kinds of doubt: a box, a pick-one field marked twice, pictures of a sheet that differ, a row of coasters."""
MOST_CHOICES = 9
"""Each has a figure for its key."""


@dataclass(frozen=True, slots=True)
class Seat:
    """Whose sheet it is, of which sitting; `date` as ISO 8601, `taster` None where erased; the words of its sheets."""

    sitting: str
    title: str
    date: str
    number: int
    taster: str | None
    printed: Printed = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture in the archive: the row of `sheets`, and the file's name as given; the digest of a box's cut-out."""

    row: int
    source: str
    page: int
    cutout: str | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer: the key to press, a word for what it says (`review.choices` in the words), what fills that in."""

    key: str
    name: str
    says: str
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing for a person to settle.

    `subject` is the sheet, or for a row kit and taster. `boxes` are those to look at. `differences` has, for each field
    in which pictures differ, its name and what each picture says.
    """

    kind: str
    subject: str
    field: str
    option: str
    seat: Seat
    role: str
    reason: str | None
    pictures: tuple[Picture, ...]
    choices: tuple[Choice, ...]
    boxes: tuple[Box, ...] = ()
    differences: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def id(self) -> str:
        """A name that stays the same as long as the doubt is there."""
        words = "\n".join((self.kind, self.subject, self.field, self.option))
        return hashlib.sha256(words.encode(errors="backslashreplace")).hexdigest()[:16]

    def choice(self, key: str) -> Choice | None:
        """Return the answer of that key."""
        return next((choice for choice in self.choices if choice.key == key), None)


@dataclass(frozen=True, slots=True)
class SheetPicture:
    """A reading of a sheet, a person's word in it; `cutouts` are digests by box."""

    row: int
    source: str
    page: int
    marks: Marks
    cutouts: Mapping[Box, str]


@dataclass(frozen=True, slots=True)
class Place:
    """Where one is in the queue: this is doubt `number` of `total`, both with what was settled before counted in."""

    number: int
    total: int


def doubts_of_sheet(sheet: str, role: str, seat: Seat, readings: Sequence[SheetPicture]) -> tuple[Doubt, ...]:
    """Return what is doubtful about one sheet.

    Parameters
    ----------
    readings : sequence of SheetPicture
        The reading that counts first, then those in conflict with it.
    """
    counting = readings[0]
    doubts = [_which_picture(sheet, role, seat, readings)] if len(readings) > 1 else []
    for _, mark in sorted(counting.marks.items()):
        if mark.state is State.DOUBTFUL:
            doubts.append(_box(sheet, role, seat, counting, mark))
    for name, marks in sorted(twice_marked(tuple(counting.marks.values())).items()):
        doubts.append(_twice_marked(sheet, role, seat, counting, name, marks))
    return tuple(doubts)


def doubts_of_rows(seat: Seat, rows: Sequence[tuple[int, TurnedReading]], sheets: Sequence[PageReading]) -> list[Doubt]:
    """Return the one doubt about a taster's row of turned coasters, where photographs or the turned sheet differ.

    Parameters
    ----------
    rows
        The photographs of it, each with its row in the archive.
    sheets
        The taster's sheets for turned coasters.
    """
    sorted_rows = rows_sorted_out([row for _, row in rows], sheets)
    clash = next((row for row in sorted_rows if row.outcome is Outcome.CONFLICT), None)
    if clash is None:
        return []
    told: dict[tuple[int, ...], str] = {}
    for row in sorted_rows:
        if row.order is not None:
            told.setdefault(row.order, f"{row.source}, page {row.source_page}")
    for sheet in sheets:
        if (order := _entered(sheet)) is not None:
            told.setdefault(order, sheet.sheet or sheet.source)
    choices = tuple(
        Choice(
            str(key),
            "order",
            f"{' '.join(map(str, order))} ({source})",
            (RowAnswer(seat.sitting, seat.number, order),),
        )
        for key, (order, source) in enumerate(told.items(), start=1)
        if key <= MOST_CHOICES
    )
    pictures = tuple(Picture(number, row.source, row.source_page or 1) for number, row in rows)
    subject = f"{seat.sitting}-{seat.number:04d}"
    return [Doubt(ROW, subject, "", "", seat, "turned", clash.reason, pictures, choices)]


def order_answer(doubt: Doubt, text: str) -> RowAnswer | None:
    """Return the order that somebody typed, such as "3 1 2"; None where it is none."""
    numbers = text.replace(",", " ").split()
    answers = [answer for choice in doubt.choices for answer in choice.answers]
    glasses = {len(answer.order) for answer in answers if isinstance(answer, RowAnswer)}
    if len(numbers) not in glasses or sorted(numbers) != [str(number + 1) for number in range(len(numbers))]:
        return None
    return RowAnswer(doubt.seat.sitting, doubt.seat.number, tuple(map(int, numbers)))


def place_of(queue: Sequence[Doubt], doubt: Doubt, settled: int) -> Place:
    """Return where a doubt is, so many being settled already."""
    return Place(settled + queue.index(doubt) + 1, settled + len(queue))


def next_after(former: Sequence[Doubt], doubt_id: str, now: Sequence[Doubt]) -> Doubt | None:
    """Return what comes after a doubt: the next that is still there, from the end on those passed over before."""
    ids = [doubt.id for doubt in former]
    start = ids.index(doubt_id) + 1 if doubt_id in ids else 0
    left = {doubt.id: doubt for doubt in now}
    for name in (*ids[start:], *ids[:start]):
        if name != doubt_id and name in left:
            return left[name]
    return next((doubt for doubt in now if doubt.id != doubt_id), now[0] if now else None)


def _box(sheet: str, role: str, seat: Seat, reading: SheetPicture, mark: Mark) -> Doubt:
    box = (mark.field, mark.option)
    states = (("y", "yes", State.MARKED), ("n", "no", State.EMPTY), ("t", "taken_back", State.WITHDRAWN))
    choices = tuple(Choice(key, name, "", (BoxAnswer(sheet, *box, state),)) for key, name, state in states)
    picture = Picture(reading.row, reading.source, reading.page, reading.cutouts.get(box))
    return Doubt(BOX, sheet, *box, seat, role, mark.reason, (picture,), choices, (box,))


def _twice_marked(sheet: str, role: str, seat: Seat, reading: SheetPicture, field: str, marks: Sequence[Mark]) -> Doubt:
    def withdrawn(but: Mark | None) -> tuple[Answer, ...]:
        return tuple(BoxAnswer(sheet, field, one.option, State.WITHDRAWN) for one in marks if one is not but)

    options = tuple(mark.option for mark in marks)
    choices = [
        Choice(str(key), "only", mark.option, withdrawn(mark)) for key, mark in enumerate(marks[:MOST_CHOICES], start=1)
    ]
    choices.append(Choice("t", "none", "", withdrawn(None)))
    picture = Picture(reading.row, reading.source, reading.page)
    boxes = tuple((field, option) for option in options)
    # The options belong to the name: another box that is found marked makes it another question.
    return Doubt(FIELD, sheet, field, " ".join(options), seat, role, None, (picture,), tuple(choices), boxes)


def _which_picture(sheet: str, role: str, seat: Seat, readings: Sequence[SheetPicture]) -> Doubt:
    readings = readings[:MOST_CHOICES]
    differing = sorted({box for reading in readings for box in reading.marks if _differs(box, readings)})
    fields = dict.fromkeys(field for field, _ in differing)
    differences = tuple(
        (field_name(field, seat.printed), tuple(_marked(field, one) for one in readings)) for field in fields
    )
    choices = tuple(
        Choice(str(key), "keep", f"{one.source}, page {one.page}", _kept(sheet, one, readings, differing))
        for key, one in enumerate(readings, start=1)
    )
    pictures = tuple(Picture(one.row, one.source, one.page) for one in readings)
    rows = " ".join(str(one.row) for one in readings)
    return Doubt(SHEETS, sheet, "", rows, seat, role, None, pictures, choices, tuple(differing), differences)


def _kept(
    sheet: str, kept: SheetPicture, readings: Sequence[SheetPicture], differing: Sequence[Box]
) -> tuple[Answer, ...]:
    names = [(one.source, one.page) for one in readings]
    if names.count((kept.source, kept.page)) == 1:
        return (KeepAnswer(sheet, kept.source, kept.page),)
    # Two files of one name: the picture is told by what it says.
    states = ((box, _state(kept, box)) for box in differing)
    return tuple(BoxAnswer(sheet, *box, state) for box, state in states if state is not State.DOUBTFUL)


def _differs(box: Box, readings: Sequence[SheetPicture]) -> bool:
    return len({_state(reading, box) for reading in readings}) > 1


def _state(reading: SheetPicture, box: Box) -> State:
    return reading.marks[box].state if box in reading.marks else State.EMPTY


def _marked(field: str, reading: SheetPicture) -> str:
    words = [
        option if mark.state is State.MARKED else f"{option} ({mark.state.value})"
        for (name, option), mark in sorted(reading.marks.items())
        if name == field and mark.state is not State.EMPTY
    ]
    return ", ".join(words) or "–"


def _entered(sheet: PageReading) -> tuple[int, ...] | None:
    entered = sorted((mark.field, mark.option) for mark in sheet.marks if mark.state is State.MARKED)
    numbers = [option for _, option in entered]
    if sorted(numbers) != [str(number + 1) for number in range(len(numbers))] or not numbers:
        return None
    return tuple(map(int, numbers))
