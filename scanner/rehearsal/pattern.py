"""What a person marks on a rehearsal sheet: a pattern drawn from the kit itself, so that nobody has to keep it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kit.chance_source import ChanceSource, permutation
from kit.sheet_layout import MarkBox, SheetLayout
from scanner.reading import State
from scanner.rehearsal.truth import Place

LEAST_WORDS, MOST_WORDS = 4, 6
TAKEN_BACK = 3
"""On a whole sheet, as a taster might: with many black boxes on a page nobody could tell what they mean."""

Pattern = dict[Place, State]
"""Every box that is not left empty: `marked` or `withdrawn`."""


def pattern(layout: SheetLayout, chance: ChanceSource) -> Pattern:
    """Return what to mark on a note sheet.

    For each glass four to six words and all scales but one are crossed. Three glasses, drawn by lot, have an answer
    that is taken back: on one of them a step of a scale of which another step is crossed, on the others a word.
    """
    states: Pattern = {}
    glasses = _by_glass(layout.marks)
    order = permutation(len(glasses), chance, "glasses")
    for (glass, fields), turn in zip(glasses.items(), order, strict=True):
        scales = [field for field, boxes in fields.items() if boxes[0].pick == "one"]
        drawn = [scales[place - 1] for place in permutation(len(scales), chance, f"scales {glass}")]
        changed, blank = drawn[:1], drawn[1:2]
        for field, boxes in fields.items():
            options = [boxes[place - 1].option for place in permutation(len(boxes), chance, f"order {field}")]
            crosses = 0 if field in blank else 1
            takes_back = turn == 1 and field in changed
            if field not in scales:
                most = LEAST_WORDS + chance.below(MOST_WORDS - LEAST_WORDS + 1, f"words {field}")
                crosses = min(most, len(options) - 1)
                takes_back = 1 < turn <= TAKEN_BACK
            states |= dict.fromkeys(((field, option) for option in options[:crosses]), State.MARKED)
            if takes_back:
                states[field, options[crosses]] = State.WITHDRAWN
    return states


def _by_glass(marks: Sequence[MarkBox]) -> Mapping[str, Mapping[str, Sequence[MarkBox]]]:
    """The boxes of each field, by the glass that the field is about."""
    glasses: dict[str, dict[str, list[MarkBox]]] = {}
    for box in marks:
        glass = box.field.rpartition(".")[2]
        glasses.setdefault(glass, {}).setdefault(box.field, []).append(box)
    return glasses
