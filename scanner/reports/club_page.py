"""A club's progress: one small panel for each taster, several a page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kit.drawing import Text
from kit.fonts import fitted
from kit.wording import Wording
from scanner.reports.charts_progress import panel_chart
from scanner.reports.flow import CAPTION_PT, Flow, Title
from scanner.reports.inks import QUIET
from scanner.reports.page import Block, Foot, Frame, ReportPage
from scanner.reports.progress_numbers import ProgressNumbers
from scanner.reports.seals import TasterSeals
from scanner.reports.setter import LEAST_PT
from scanner.reports.told import day_text, evidence_word, shortened, sittings_text

COLUMNS, GUTTER_MM = 3, 6.0
CHART_MM, PANEL_MM = 31.0, 54.0
MOST_KITS = 3
"""So many have room at the foot beside where the seal codes are."""


def club_pages(
    club: Sequence[ProgressNumbers], seals: Mapping[str, TasterSeals], frame: Frame, words: Wording
) -> list[ReportPage]:
    """Return the pages of all tasters' panels, in the order given; `seals` are their seal codes, by taster."""
    dates = sorted(point.date for found in club for point in found.points)
    when = "" if not dates else _when(dates[0], dates[-1], words)
    tasters = words("progress_report.club_below", tasters=len(club))
    kits = _kits(club)
    below = f"{tasters} · {sittings_text(len(kits), words)} · {when}" if when else tasters
    title = Title(words("progress_report.club"), words("progress_report.heading"), below)
    outline, continued = words("progress_report.club"), words("progress_report.continued")
    flow = Flow(frame, _foot(kits, when, words), title, outline, continued)
    flow.setter.paragraph(words("progress_report.club_caption"), size_pt=CAPTION_PT, gray=QUIET)
    flow.setter.gap(4.0)
    width_mm = (frame.width - GUTTER_MM * (COLUMNS - 1)) / COLUMNS
    for first in range(0, len(club), COLUMNS):
        flow.need(PANEL_MM)
        top = flow.setter.y
        for column, found in enumerate(club[first : first + COLUMNS]):
            left = frame.left + column * (width_mm + GUTTER_MM)
            _panel(flow, found, seals.get(found.taster, {}), words, left, top, width_mm)
        flow.setter.y = top + PANEL_MM
    return flow.pages()


def panel_lines(found: ProgressNumbers, words: Wording) -> tuple[str, ...]:
    """Return what is printed under a taster's panel: right so far, then ability and what the evidence comes to."""
    if not found.sittings:
        return (words("progress_report.right_none"),)
    right = words(
        "progress_report.club_right",
        correct=found.correct,
        of=found.of,
        sittings=sittings_text(found.sittings, words),
    )
    if not found.enough_for_a_line or found.face is None or found.interval is None:
        return right, words("progress_report.club_little", count=found.sittings)
    low, high = (f"{value:.1f}" for value in found.interval)
    word = evidence_word(found.evidence[0].word, words)
    return right, words("progress_report.club_face", face=f"{found.face:.1f}", low=low, high=high, word=word)


def kit_lines(found: ProgressNumbers, seals: TasterSeals, words: Wording) -> tuple[str, ...]:
    """Return the taster's first and last kit with their seal codes there, or the only one; nothing without a kit."""

    def line(name: str, kit: str) -> str:
        seal = words("progress_report.club_seal", seal=seals[kit]) if kit in seals else None
        return words(name, kit=kit, seal=seal or words("progress_report.club_no_seal"))

    kits = _kits([found])
    if len(kits) < 2:
        return tuple(line("progress_report.club_kit", kit) for kit in kits)
    return line("progress_report.club_first", kits[0]), line("progress_report.club_last", kits[-1])


def _kits(club: Sequence[ProgressNumbers]) -> tuple[str, ...]:
    """Return the kits of all sittings that count, the earliest first."""
    dated = sorted((point.date, point.kit) for found in club for point in found.points)
    return tuple(dict.fromkeys(kit for _, kit in dated))


def _foot(kits: tuple[str, ...], when: str, words: Wording) -> Foot:
    if not kits:
        return Foot((), (), when)
    if len(kits) <= MOST_KITS:
        return Foot(kits, (), when, words("progress_report.club_seals_at"))
    return Foot(shortened(kits, MOST_KITS), (), when, words("progress_report.club_kits_at", kits=len(kits)))


def _panel(
    flow: Flow,
    found: ProgressNumbers,
    seals: TasterSeals,
    words: Wording,
    left_mm: float,
    top_mm: float,
    width_mm: float,
) -> None:
    setter = flow.setter
    shown, size_pt = fitted(found.name, "semibold", 10.0, width_mm, LEAST_PT)
    setter.blocks.append(Block("H2", (Text(left_mm, top_mm + 3.5, shown, size_pt, "semibold"),)))
    setter.y = top_mm + 5.0
    if found.enough_for_a_line:
        low, mid, high = (f"{value:.1f}" for value in found.points[-1].band)
        first = f"{found.points[0].band[1]:.1f}"
        alt = words("progress_report.course_alt", first=first, last=mid, low=low, high=high)
        setter.figure(panel_chart(found.points, width_mm, CHART_MM), alt, x_mm=left_mm)
    for line in panel_lines(found, words):
        setter.paragraph(line, size_pt=CAPTION_PT, x_mm=left_mm, room_mm=width_mm)
    setter.gap(0.6)
    for line in kit_lines(found, seals, words):
        setter.paragraph(line, size_pt=LEAST_PT, gray=QUIET, x_mm=left_mm, room_mm=width_mm)


def _when(first: str, last: str, words: Wording) -> str:
    if first == last:
        return day_text(first, words)
    return words("progress_report.below", first=day_text(first, words), last=day_text(last, words))
