"""A slip laid out on its page: the line of glasses, the drinks one below the other, what to practise.

All fits by measure. Lengths are mm, from the page's top left corner.
"""

from __future__ import annotations

from collections.abc import Sequence

from kit.drawing import Rect, Text
from kit.fonts import fitted, width_mm
from kit.sheets import written_date
from kit.wording import Wording
from scanner.reports.inks import QUIET
from scanner.reports.page import Block, Foot, Frame, Part, ReportPage
from scanner.reports.setter import LEADING, LEAST_PT, MM_PER_PT, Setter, broken
from scanner.reports.slip import Slip
from scanner.reports.slip_chart import line_chart
from scanner.reports.slip_drink import TEXT_PT, Columns, Hands, columns_for, hands_beside_words, set_drink
from scanner.reports.slip_words import Vocabulary, result_line

MOST_DRINK_MM = 50.0
LEGEND_MM = 4.6


def slip_page(slip: Slip, frame: Frame, foot: Foot, hands: Hands, spoken: Vocabulary) -> ReportPage:
    """Return a taster's slip as one page.

    Parameters
    ----------
    hands
        The handwriting by coaster number, of round two only where the place may be shown.
    """
    words, sitting = spoken.words, slip.sitting
    setter = Setter(frame)
    setter.title(sitting.name, sitting.title, written_date(sitting.date, words))
    _result(setter, slip, words)
    _line(setter, slip, words)
    practise = _practise_lines(slip, frame, spoken)
    practise_top = frame.bottom - len(practise) * TEXT_PT * MM_PER_PT * LEADING - 8.4
    height = min(MOST_DRINK_MM, (practise_top - 1.5 - LEGEND_MM - setter.y) / len(slip.drinks))
    written = [coaster for coaster, pair in hands.items() if any(pair)]
    hands = hands_beside_words(slip, hands, columns_for(frame, hands, height), height, spoken)
    columns = columns_for(frame, hands, height)
    _legend(setter, columns, [coaster for coaster in written if coaster not in hands], words)
    for drink in slip.drinks:
        set_drink(setter, slip, drink, height, columns, hands.get(drink.coaster, (None, None)), spoken)
    _practise(setter, practise, min(practise_top, setter.y + 3.0), words)
    return ReportPage(frame, foot, tuple(setter.blocks), sitting.name)


def _result(setter: Setter, slip: Slip, words: Wording) -> None:
    """Set the result in large type and, beside it, what luck explains."""
    short, told = result_line(slip, words)
    frame, size_pt = setter.frame, 17.0
    setter.blocks.append(Block("P", (Text(frame.left, setter.y + 6.0, short, size_pt, "black"),)))
    beside = frame.left + width_mm(short, "black", size_pt) + 6.0
    lines = broken(told, "regular", 9.0, frame.right - beside)
    pitch = 9.0 * MM_PER_PT * LEADING
    # A single line stands on the result's own baseline, several are centred on its middle.
    first = setter.y + 6.0 - (len(lines) - 1) * pitch * (0.5 if len(lines) > 2 else 0.8)
    parts = tuple(
        Text(beside, max(first, setter.y + 2.6) + index * pitch, line, 9.0) for index, line in enumerate(lines)
    )
    setter.blocks.append(Block("P", parts))
    setter.y = max(setter.y + 8.6, parts[-1].y_mm + 2.6)


def _line(setter: Setter, slip: Slip, words: Wording) -> None:
    names = {} if slip.state == "sealed" else {drink.coaster: drink.drink.name for drink in slip.drinks}
    whole = all(one.stood is not None for one in slip.places)
    chart = line_chart(slip.places, names, setter.frame.width, words, settled=whole)
    setter.figure(chart, _line_alt(slip, words))
    setter.gap(1.4)


def _line_alt(slip: Slip, words: Wording) -> str:
    told = []
    for one in slip.places:
        claimed = words("slip.alt_blank") if one.claimed is None else one.claimed
        stood = words("slip.alt_unknown") if one.stood is None else one.stood
        told.append(words("slip.alt_place", place=one.place, claimed=claimed, stood=stood))
    return words("frame.between_sentences").join(told)


def _legend(setter: Setter, columns: Columns, without_hand: Sequence[int], words: Wording) -> None:
    """Set the columns' headings, with the signs for both rounds; say whose handwriting had to give way to words."""
    baseline = setter.y + 3.0
    heading = words("slip.column_words")
    if without_hand:
        heading = words("slip.column_words_alone", numbers=words.listed(map(str, without_hand)))
    heading, heading_pt = fitted(heading, "regular", 7.5, columns.words, LEAST_PT)
    parts: list[Part] = [
        Text(columns.left, baseline, heading, heading_pt, gray=QUIET),
        Text(columns.scales, baseline, words("slip.column_strengths"), 7.5, gray=QUIET),
    ]
    for name, left in zip(("slip.hand_one", "slip.hand_two"), columns.hands, strict=True):
        if left is not None:
            parts.append(Text(left, baseline, words(name), 7.5, gray=QUIET))
    setter.blocks.append(Block("P", tuple(parts)))
    setter.y += LEGEND_MM


def _practise_lines(slip: Slip, frame: Frame, spoken: Vocabulary) -> list[str]:
    scale = slip.practice.scale
    sentence = slip.practice.sentence(spoken.words, None if scale is None else spoken.scale(scale))
    return broken(sentence, "regular", TEXT_PT + 0.5, frame.width - 8.0)


def _practise(setter: Setter, lines: Sequence[str], top: float, words: Wording) -> None:
    """Set what to practise next into a box."""
    frame, size_pt = setter.frame, TEXT_PT + 0.5
    pitch = TEXT_PT * MM_PER_PT * LEADING
    height = len(lines) * pitch + 8.0
    setter.blocks.append(Block("Artifact", (Rect(frame.left, top, frame.width, height, 0.5, corner_mm=1.5),)))
    heading = Text(frame.left + 4.0, top + 4.6, words("slip.practise"), 9.5, "semibold")
    setter.blocks.append(Block("H2", (heading,)))
    texts = tuple(
        Text(frame.left + 4.0, top + 5.2 + (index + 1) * pitch, line, size_pt) for index, line in enumerate(lines)
    )
    setter.blocks.append(Block("P", texts))
