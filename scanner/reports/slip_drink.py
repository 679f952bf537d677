"""One drink on a slip: words of both rounds, strengths, the taster's own hand, in a strip of given height."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.drawing import Face, Rect, Text
from kit.fonts import ELLIPSIS, fitted, width_mm
from kit.lexicon import Lexicon
from kit.wording import Wording
from scanner.reports.inks import LINE, QUIET
from scanner.reports.page import Block, Frame, Part, Picture, Placed
from scanner.reports.phrases import decimal
from scanner.reports.pictures import pixel_size
from scanner.reports.setter import LEADING, LEAST_PT, MM_PER_PT, Setter, broken
from scanner.reports.slip import Slip, SlipDrink
from scanner.reports.slip_words import Row, Vocabulary, claim_words, note_rows
from scanner.reports.strengths_chart import dots, tracks
from scanner.results.sitting import Drink

Hands = Mapping[int, tuple[bytes | None, bytes | None]]
"""By coaster number: the cut-outs of what was written in round one and two, as PNG; None where there is none."""

HEAD_MM = 7.0
"""Of a drink's room, what its heading takes."""
SCALES_MM = 58.0
MOST_HAND_MM = 42.0
LEAST_HAND_MM = 24.0
"""The heading over a picture, "Your hand, round two", needs so much."""
GUTTER_MM = 4.0
AIR_MM = 1.2
LABEL_MM = 23.5
SIGN_MM = 3.8
ROW_GAP_MM = 0.5
TEXT_PT = 8.5
PX_PER_MM = 5.0
"""Of the cut-outs: `scanner.archive.cut_outs`."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Where words, handwriting and strengths lie beside each other; `words` and `hand` are widths.

    `hands` has the left edge of the pictures of round one and two, None where there are none.
    """

    left: float
    words: float
    hands: tuple[float | None, float | None]
    hand: float
    scales: float

    @property
    def whole_words(self) -> float:
        """How wide words may be that need the room for handwriting too."""
        return self.scales - GUTTER_MM - self.left


def columns_for(frame: Frame, hands: Hands, height: float) -> Columns:
    """Return the columns of a page whose drinks have so much height each: no wider for pictures than these come out."""
    scales = frame.right - SCALES_MM
    edge, widths = scales - GUTTER_MM, [LEAST_HAND_MM]
    for png in (png for pair in hands.values() for png in pair if png is not None):
        width_px, height_px = pixel_size(png)
        widths.append(width_px * min(1 / PX_PER_MM, MOST_HAND_MM / width_px, (height - HEAD_MM - AIR_MM) / height_px))
    hand = max(widths)
    lefts: list[float | None] = [None, None]
    for index in (1, 0):
        if any(pair[index] for pair in hands.values()):
            lefts[index] = edge - hand
            edge -= hand + GUTTER_MM / 2
    return Columns(frame.left, edge - frame.left, (lefts[0], lefts[1]), hand, scales)


def hands_beside_words(slip: Slip, hands: Hands, columns: Columns, height: float, spoken: Vocabulary) -> Hands:
    """Return the handwriting of those drinks whose words all fit beside it: else the words take its room."""
    room = height - HEAD_MM - AIR_MM
    return {
        drink.coaster: hands[drink.coaster]
        for drink in slip.drinks
        if drink.coaster in hands and _set_rows(note_rows(slip, drink, spoken), columns.words, room).fit
    }


def set_drink(
    setter: Setter,
    slip: Slip,
    drink: SlipDrink,
    height: float,
    columns: Columns,
    hands: tuple[bytes | None, bytes | None],
    spoken: Vocabulary,
) -> None:
    """Set one drink into a strip of the page: its heading, and beside each other words, strengths and handwriting."""
    top, room = setter.y, height - HEAD_MM - AIR_MM
    setter.rule()
    _heading(setter, slip, drink, spoken.words)
    width = columns.words if any(hands) else columns.whole_words
    told = _set_rows(note_rows(slip, drink, spoken), width, room)
    if not told.fit:
        told = _set_rows(note_rows(slip, drink, spoken, brief=True), width, room)
    _rows(setter, told, columns.left, top + HEAD_MM, room)
    _hands(setter, hands, columns, top + HEAD_MM, room, spoken.words)
    lexicon, scales = spoken.lexicon, slip.sitting.scales
    shown = tuple(scale for scale in lexicon.scales if scale.id in scales or not scales)
    if drink.notes and shown:
        form = tracks(shown, SCALES_MM, min(room, len(shown) * 5.0))
        parts = (form.chart, dots(form, shown, drink.first, drink.second))
        placed = tuple(Placed(columns.scales, top + HEAD_MM, chart) for chart in parts)
        setter.blocks.append(Block("Figure", placed, _strengths_alt(drink, lexicon, spoken.words)))
    setter.y = top + height


def _heading(setter: Setter, slip: Slip, drink: SlipDrink, words: Wording) -> None:
    left, baseline = setter.frame.left, setter.y + 5.2
    right = setter.frame.right
    claim = claim_words(slip, drink, words)
    room = right - left - 9.0 - width_mm(claim, "semibold", 9.0)
    hidden = slip.state == "sealed"
    name = words("slip.number", number=drink.coaster) if hidden else drink.drink.name
    name, name_pt = fitted(name, "semibold", 11.5, room, LEAST_PT)
    number = str(drink.coaster)
    setter.blocks.append(
        Block(
            "H2",
            (
                Text(left, baseline, number, 13.0, "black"),
                Text(left + 6.0, baseline, name, name_pt, "semibold"),
            ),
        )
    )
    beside = left + 6.0 + width_mm(name, "semibold", name_pt) + 3.0
    parts = [] if not claim else [Text(right, baseline, claim, 9.0, "semibold", "right")]
    spare = right - beside - width_mm(claim, "semibold", 9.0) - 3.0
    if not hidden and spare > 12.0:
        more, more_pt = _style_and_strength(drink.drink, spare, words)
        parts.insert(0, Text(beside, baseline, more, more_pt, gray=QUIET))
    if parts:
        setter.blocks.append(Block("P", tuple(parts)))


def _style_and_strength(drink: Drink, room: float, words: Wording) -> tuple[str, float]:
    """Return a drink's style and strength in a line, and its size; what is too long is the style, so that is cut."""
    strength = "" if drink.abv_percent is None else words("slip.abv", abv=decimal(drink.abv_percent))
    if not drink.style:
        return strength, 8.0
    after = words("frame.between_items") + strength if strength else ""
    whole, size_pt = fitted(drink.style + after, "regular", 8.0, room, LEAST_PT)
    if not whole.endswith(ELLIPSIS):
        return whole, size_pt
    style, _ = fitted(drink.style, "regular", LEAST_PT, room - width_mm(after, "regular", LEAST_PT), LEAST_PT)
    return style + after, LEAST_PT


@dataclass(frozen=True, slots=True)
class _SetRows:
    """Rows broken into lines of one size, `pitch` apart; `fit` tells whether all of them fit."""

    rows: tuple[tuple[Row, list[str]], ...]
    size_pt: float
    pitch: float
    text_room: float
    fit: bool


def _set_rows(rows: Sequence[Row], width: float, room: float) -> _SetRows:
    """Break rows into lines in the largest type in which they fit, or else in the least."""
    size_pt, text_room = TEXT_PT, width - LABEL_MM
    while True:
        broken_rows = tuple((row, broken(row.text, _face(row), size_pt, text_room)) for row in rows)
        pitch = size_pt * MM_PER_PT * LEADING
        lines = sum(len(lines) for _, lines in broken_rows)
        fit = lines * pitch + (len(rows) - 1) * ROW_GAP_MM <= room
        if fit or size_pt <= LEAST_PT:
            return _SetRows(broken_rows, size_pt, pitch, text_room, fit)
        size_pt = max(LEAST_PT, size_pt - 0.25)


def _face(row: Row) -> Face:
    return "semibold" if row.bold else "regular"


def _rows(setter: Setter, told: _SetRows, left: float, top: float, room: float) -> None:
    """Set rows one below the other; what does not fit even so is cut, with an ellipsis."""
    y = top
    for row, lines in told.rows:
        most = max(1, int((top + room - y) / told.pitch + 1e-6))
        shown = lines[:most]
        if most < len(lines):
            shown[-1] = _cut(shown[-1], told.size_pt, told.text_room)
        _row(setter, row, shown, left, y, told)
        y += len(shown) * told.pitch + ROW_GAP_MM


def _row(setter: Setter, row: Row, lines: Sequence[str], left: float, y: float, told: _SetRows) -> None:
    size_pt = told.size_pt
    baseline = y + size_pt * MM_PER_PT * 0.95
    label, label_pt = fitted(row.label, "regular", min(size_pt, 7.5), LABEL_MM - SIGN_MM - 1.6, 5.5)
    marked = [Text(left, baseline, row.mark, size_pt)] if row.mark else []
    texts = [
        Text(left + LABEL_MM, baseline + index * told.pitch, line, size_pt, _face(row))
        for index, line in enumerate(lines)
    ]
    setter.blocks.append(Block("P", (*marked, Text(left + SIGN_MM, baseline, label, label_pt, gray=QUIET), *texts)))


def _cut(line: str, size_pt: float, room: float) -> str:
    while line and width_mm(line + ELLIPSIS, "semibold", size_pt) > room:
        line = line[:-1].rstrip()
    return line.rstrip(",") + ELLIPSIS


def _strengths_alt(drink: SlipDrink, lexicon: Lexicon, words: Wording) -> str:
    told = []
    for scale in lexicon.scales:
        steps = [note.strengths.get(scale.id) if note else None for note in (drink.first, drink.second)]
        if any(step is not None for step in steps):
            one, two = (words("slip.none") if step is None else step for step in steps)
            told.append(words("slip.alt_scale", scale=scale.name, one=one, two=two, of=scale.steps))
    return words("frame.between_sentences").join(told) or words("slip.alt_no_strengths")


def _hands(
    setter: Setter,
    hands: tuple[bytes | None, bytes | None],
    columns: Columns,
    top: float,
    height: float,
    words: Wording,
) -> None:
    for name, png, left in zip(("slip.hand_one", "slip.hand_two"), hands, columns.hands, strict=True):
        if png is None or left is None:
            continue
        width_px, height_px = pixel_size(png)
        scale = min(1 / PX_PER_MM, columns.hand / width_px, height / height_px)
        w, h = width_px * scale, height_px * scale
        parts: tuple[Part, ...] = (Picture(left, top, w, h, png), Rect(left, top, w, h, 0.15, LINE))
        setter.blocks.append(Block("Figure", parts, words(name)))
