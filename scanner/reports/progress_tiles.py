"""The four numbers at the top of a progress page, each large, with a sentence that says what it is."""

from __future__ import annotations

from kit.drawing import Text
from kit.fonts import fitted
from kit.wording import Wording
from scanner.reports.chart import Chart
from scanner.reports.flow import Flow
from scanner.reports.inks import QUIET, TINT
from scanner.reports.page import Block, Placed
from scanner.reports.phrases import times_in
from scanner.reports.progress_numbers import ProgressNumbers
from scanner.reports.setter import LEAST_PT, MM_PER_PT, broken
from scanner.reports.told import evidence_text, evidence_word, sittings_text

TILE_MM, GAP_MM, PAD_MM = 23.0, 3.0, 2.5
BIG_PT, SMALL_PT = 15.0, 7.5
MOST_LINES = 4
"""So many lines fit at SMALL_PT, one more at the least size."""


def set_tiles(flow: Flow, found: ProgressNumbers, words: Wording) -> None:
    """Set the tiles side by side."""
    frame, setter = flow.setter.frame, flow.setter
    tiles = tiles_of(found, words)
    width = (frame.width - GAP_MM * (len(tiles) - 1)) / len(tiles)
    setter.gap(1.0)
    for at, (big, small) in enumerate(tiles):
        left = frame.left + at * (width + GAP_MM)
        ground = Chart(width, TILE_MM)
        ground.rect(0.0, 0.0, width, TILE_MM, fill=TINT, outline=None, corner_mm=1.5)
        setter.blocks.append(Block("Artifact", (Placed(left, setter.y, ground),)))
        shown, size_pt = fitted(big, "black", BIG_PT, width - 2 * PAD_MM, 9.0)
        setter.blocks.append(Block("P", (Text(left + PAD_MM, setter.y + 8.0, shown, size_pt, "black"),)))
        small_pt, lines = SMALL_PT, broken(small, "regular", SMALL_PT, width - 2 * PAD_MM)
        if len(lines) > MOST_LINES:
            small_pt, lines = LEAST_PT, broken(small, "regular", LEAST_PT, width - 2 * PAD_MM)[: MOST_LINES + 1]
        texts = tuple(
            Text(left + PAD_MM, setter.y + 12.3 + line * small_pt * MM_PER_PT * 1.2, part, small_pt, gray=QUIET)
            for line, part in enumerate(lines)
        )
        setter.blocks.append(Block("P", texts))
    setter.gap(TILE_MM + 4.0)


def tiles_of(found: ProgressNumbers, words: Wording) -> list[tuple[str, str]]:
    """Return what is printed large and small: ability, evidence, right so far, steady words."""
    return [
        _face(found, words),
        _evidence(found, words),
        _right(found, words),
        (
            words("progress_report.steady_big", count=found.steady_total),
            words("progress_report.steady_says", noted=sittings_text(found.noted, words)),
        ),
    ]


def _face(found: ProgressNumbers, words: Wording) -> tuple[str, str]:
    if found.face is None or found.interval is None or found.sittings < 2:
        return words("progress_report.face_none"), words("progress_report.face_little")
    low, high = (f"{value:.1f}" for value in found.interval)
    big = words("progress_report.face", face=f"{found.face:.1f}")
    return big, words("progress_report.face_says", low=low, high=high)


def _evidence(found: ProgressNumbers, words: Wording) -> tuple[str, str]:
    if not found.evidence:
        return words("progress_report.face_none"), words("progress_report.evidence_none")
    said = [
        words(
            "progress_report.evidence_also" if at else "progress_report.evidence_says",
            value=evidence_text(line.e_value),
            keys=words("progress_report.lot" if line.keys == "drawn by lot" else "progress_report.hand"),
            word=evidence_word(line.word, words),
        )
        for at, line in enumerate(found.evidence)
    ]
    return evidence_word(found.evidence[0].word, words), words.sentences(said)


def _right(found: ProgressNumbers, words: Wording) -> tuple[str, str]:
    if found.chance_at_least is None:
        return words("progress_report.face_none"), words("progress_report.right_none")
    return (
        words("progress_report.right", correct=found.correct, of=found.of),
        words(
            "progress_report.right_says",
            sittings=sittings_text(found.sittings, words),
            expected=f"{found.expected_by_luck:.1f}",
            chance=times_in(found.chance_at_least, words),
        ),
    )
