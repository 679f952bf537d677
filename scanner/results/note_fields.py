"""What a taster's marks on the note forms say: words and strengths, glass by glass."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.sheet_layout import SheetLayout
from scanner.claims import combined
from scanner.reading import Mark, PageReading, State
from scanner.results.sitting import Note

WORDS, SCALE = "words", "scale"


@dataclass(frozen=True, slots=True)
class Round:
    """The glasses of one round as the form names them: numbers in round one, letters in round two."""

    glasses: tuple[str, ...]


def notes_of(
    one_round: Round, sheets: Sequence[SheetLayout], pages: Mapping[str, Sequence[PageReading]]
) -> tuple[Note, ...] | None:
    """Return one note for each glass of a round, None where a sheet with such notes was not read.

    Parameters
    ----------
    sheets : sequence of SheetLayout
        One taster's sheets, as printed.
    pages : mapping of str to sequence of PageReading
        What was read of each sheet, by its id.
    """
    bearing = [sheet for sheet in sheets if _glasses_on(sheet) & set(one_round.glasses)]
    if not bearing or not all(pages.get(sheet.sheet) for sheet in bearing):
        return None
    printed: dict[str, list[str]] = {}
    states: dict[tuple[str, str], Mark] = {}
    for sheet in bearing:
        for box in sheet.marks:
            printed.setdefault(box.field, []).append(box.option)
        states |= {(mark.field, mark.option): mark for mark in combined(pages[sheet.sheet])}
    return tuple(_note(glass, printed, states) for glass in one_round.glasses)


def offered(sheets: Sequence[SheetLayout]) -> tuple[tuple[str, ...], dict[str, int]]:
    """Return every word that the forms offer, in their order, and every scale with the number of its steps."""
    words: dict[str, None] = {}
    steps: dict[str, set[str]] = {}
    for sheet in sheets:
        for box in sheet.marks:
            kind, _, rest = box.field.partition(".")
            if kind == WORDS:
                words.setdefault(box.option)
            elif kind == SCALE:
                steps.setdefault(rest.rpartition(".")[0], set()).add(box.option)
    return tuple(words), {scale: len(options) for scale, options in steps.items()}


def _glasses_on(sheet: SheetLayout) -> set[str]:
    fields = {box.field for box in sheet.marks}
    return {field.rpartition(".")[2] for field in fields if field.partition(".")[0] in (WORDS, SCALE)}


def _note(glass: str, printed: Mapping[str, Sequence[str]], states: Mapping[tuple[str, str], Mark]) -> Note:
    words, strengths, unsettled = set(), {}, set()
    for field, options in printed.items():
        if field.rpartition(".")[2] != glass:
            continue
        kind, _, rest = field.partition(".")
        # A box that the reading does not list, or that its readings differ in, is as good as doubtful.
        told = {option: states[field, option].state for option in options if (field, option) in states}
        doubtful = {option for option in options if told.get(option, State.DOUBTFUL) is State.DOUBTFUL}
        marked = [option for option in options if told.get(option) is State.MARKED]
        if kind == WORDS:
            words |= set(marked)
            unsettled |= doubtful
        elif kind == SCALE:
            scale = rest.rpartition(".")[0]
            if doubtful or len(marked) > 1:
                unsettled.add(scale)
            elif marked:
                strengths[scale] = list(options).index(marked[0]) + 1
    return Note(frozenset(words), strengths, frozenset(unsettled))
