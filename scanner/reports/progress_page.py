"""One taster's progress on a page: where they stand, the course so far, and what to pour next."""

from __future__ import annotations

from collections.abc import Mapping

from kit.wording import Wording
from scanner.reports.charts_progress import (
    STRIP,
    course_chart,
    difficulty_chart,
    evidence_chart,
    steady_chart,
    strip_chart,
)
from scanner.reports.flow import GUTTER_MM, Cell, Flow, Title
from scanner.reports.page import Foot, Frame, ReportPage
from scanner.reports.phrases import decimal
from scanner.reports.pour_next import PourNext
from scanner.reports.progress_numbers import ProgressNumbers
from scanner.reports.progress_tiles import set_tiles
from scanner.reports.told import day_text, evidence_text, shortened

COURSE_MM, HALF_MM = 46.0, 36.0
"""How high the charts are on A4; on shorter paper they give way, so that all stays on one page."""
OTHERS_MM, LEAST_SHARE = 150.0, 0.7
MOST_LEFT_OUT = 8
MOST_SEALS = 2
"""So many have room at the foot."""

Dates = tuple[str, str]


def progress_pages(
    found: ProgressNumbers,
    pour: PourNext | None,
    printed: Mapping[str, str],
    seals: Mapping[str, str],
    frame: Frame,
    words: Wording,
) -> list[ReportPage]:
    """Return one taster's pages.

    Parameters
    ----------
    pour
        None without a cellar list.
    printed
        How a lexicon's words are printed.
    seals
        The taster's seal code by kit, of those that have one.
    """
    dates = dates_of(found, words)
    below = words("progress_report.below" if dates[0] != dates[1] else "progress_report.below_one", **_ends(dates))
    below = below if found.points else ""
    title = Title(found.name, words("progress_report.heading"), below)
    kits = tuple(dict.fromkeys(point.kit for point in found.points))
    codes = tuple(seals[kit] for kit in kits if kit in seals)
    foot = Foot(shortened(kits), shortened(codes, MOST_SEALS), below)
    flow = Flow(frame, foot, title, found.name, words("progress_report.continued"))
    set_tiles(flow, found, words)
    share = _share(frame)
    flow.row((_course(found, dates, words, frame.width, share),), (frame.width,))
    half_mm = (frame.width - GUTTER_MM) / 2
    if found.points:
        flow.row((_strip(found, words, frame.width),), (frame.width,))
        pair = (_evidence(found, dates, words, half_mm, share), _difficulty(found, dates, words, half_mm, share))
        flow.row(pair, (half_mm, half_mm))
    flow.row((_steady(found, printed, words, half_mm, share), _pour(pour, words)), (half_mm, half_mm))
    if found.left_out:
        flow.row((_left_out(found, words),), (frame.width,))
    return flow.pages()


def dates_of(found: ProgressNumbers, words: Wording) -> Dates:
    """Return the printed dates of the first and the last sitting that counts; blank where there is none."""
    if not found.points:
        return "", ""
    return day_text(found.points[0].date, words), day_text(found.points[-1].date, words)


def verdict_sentence(found: ProgressNumbers, words: Wording) -> str:
    """Say whether ability changed, or what is missing to say so."""
    if not found.sittings:
        return words("progress_report.too_little_none")
    if not found.enough_for_a_line:
        return words("progress_report.too_little_one", missing=found.missing)
    if found.missing:
        return words("progress_report.too_little", count=found.sittings, missing=found.missing)
    if found.verdict == "not to be told from the flights":
        harder = (found.flights_harder_by or 0) > 0
        word = words("progress_report.harder_word" if harder else "progress_report.easier_word")
        return words("progress_report.flights", harder=word)
    return words(f"progress_report.{found.verdict.replace(' ', '_')}")


def _share(frame: Frame) -> float:
    room_mm = frame.bottom - frame.top - OTHERS_MM
    return min(1.0, max(LEAST_SHARE, room_mm / (COURSE_MM + 2 * HALF_MM)))


def _ends(dates: Dates) -> dict[str, object]:
    return {"first": dates[0], "last": dates[1]}


def _course(found: ProgressNumbers, dates: Dates, words: Wording, width_mm: float, share: float) -> Cell:
    heading = words("progress_report.course")
    verdict = verdict_sentence(found, words)
    if not found.enough_for_a_line:
        return Cell(heading, "", None, lines=(verdict,))
    low, mid, high = (f"{value:.1f}" for value in found.points[-1].band)
    first = f"{found.points[0].band[1]:.1f}"
    now = words("progress_report.now", mid=mid, low=low, high=high)
    return Cell(
        heading,
        words("progress_report.course_caption"),
        course_chart(found.points, dates, words, width_mm, share * COURSE_MM),
        words("progress_report.course_alt", first=first, last=mid, low=low, high=high),
        (words.sentences((now, verdict)),),
    )


def _strip(found: ProgressNumbers, words: Wording, width_mm: float) -> Cell:
    told = [words("progress_report.strip_caption")]
    if found.sittings > STRIP:
        told.append(words("progress_report.strip_last", count=STRIP))
    counts = words.listed(f"{point.correct}/{point.of}" for point in found.points[-STRIP:])
    return Cell(
        words("progress_report.strip"),
        words.sentences(told),
        strip_chart(found.points, width_mm),
        words("progress_report.strip_alt", counts=counts),
    )


def _evidence(found: ProgressNumbers, dates: Dates, words: Wording, width_mm: float, share: float) -> Cell:
    if not found.enough_for_a_line:
        return Cell(words("progress_report.evidence"), "", None, lines=(words("progress_report.evidence_little"),))
    told = [words("progress_report.evidence_caption")]
    if any(line.keys == "mixed by hand" for line in found.evidence):
        told.append(words("progress_report.evidence_hand"))
    values = words.listed(evidence_text(line.e_value) for line in found.evidence)
    return Cell(
        words("progress_report.evidence"),
        words.sentences(told),
        evidence_chart(found.evidence, found.sittings, dates, words, width_mm, share * HALF_MM),
        words("progress_report.evidence_alt", value=values),
    )


def _difficulty(found: ProgressNumbers, dates: Dates, words: Wording, width_mm: float, share: float) -> Cell:
    heading = words("progress_report.difficulty")
    stated = [point.difficulty for point in found.points if point.difficulty is not None]
    if not stated:
        return Cell(heading, "", None, lines=(words("progress_report.difficulty_none"),))
    alt = words("progress_report.difficulty_alt", low=f"{min(stated):.1f}", high=f"{max(stated):.1f}")
    chart = difficulty_chart(found.points, dates, words, width_mm, share * HALF_MM)
    return Cell(heading, words("progress_report.difficulty_caption"), chart, alt)


def _steady(found: ProgressNumbers, printed: Mapping[str, str], words: Wording, width_mm: float, share: float) -> Cell:
    heading = words("progress_report.steady")
    if len(found.steady_counts) < 2:
        return Cell(heading, "", None, lines=(words("progress_report.steady_little", noted=found.noted),))
    listed = words.listed(
        words(
            "progress_report.steady_word",
            word=printed.get(word.word, word.word),
            returned=word.returned,
            said=word.said,
        )
        for word in found.steady
    )
    told = words("progress_report.steady_list", words=listed) if found.steady else words("progress_report.steady_none")
    first, last = found.steady_counts[0].date, found.steady_counts[-1].date
    dates = day_text(first, words), day_text(last, words)
    return Cell(
        heading,
        words("progress_report.steady_caption"),
        steady_chart(found.steady_counts, dates, width_mm, share * HALF_MM),
        words("progress_report.steady_alt", count=found.steady_total, noted=found.noted),
        (told,),
    )


def _pour(pour: PourNext | None, words: Wording) -> Cell:
    heading = words("progress_report.pour")
    if pour is None:
        return Cell(heading, "", None, lines=(words("progress_report.pour_left_out"),))
    if pour.refused is not None:
        few = pour.refused
        told = words("progress_report.pour_refused", sound=few.sound, needed=few.needed, ml=decimal(few.enough_ml))
        return Cell(heading, "", None, lines=(told,))
    lines = []
    for number, drink in enumerate(pour.drinks, start=1):
        named = drink.name
        if drink.style:
            named = words("progress_report.pour_style", drink=drink.name, style=drink.style)
        lines.append(words("progress_report.pour_drink", number=number, drink=named))
    assert pour.share is not None
    share, correct = f"{100 * pour.share:.0f}", f"{pour.expected_correct:.1f}"
    lines.append(words("progress_report.pour_expected", correct=correct, glasses=len(pour.drinks), share=share))
    if not pour.level_reached:
        lines.append(words("progress_report.pour_level"))
    if pour.practise is not None:
        lines.append(words("progress_report.pour_pair", one=pour.practise[0], other=pour.practise[1]))
    return Cell(heading, words("progress_report.pour_caption"), None, lines=tuple(lines))


def _left_out(found: ProgressNumbers, words: Wording) -> Cell:
    shown = tuple(
        words(
            "progress_report.left_out_line",
            title=one.title,
            date=day_text(one.date, words),
            kit=one.kit,
            why=words(f"progress_report.left_out_{one.reason}"),
        )
        for one in found.left_out[:MOST_LEFT_OUT]
    )
    rest = len(found.left_out) - len(shown)
    lines = (*shown, words("table_report.waiting_more", count=rest)) if rest else shown
    return Cell(words("progress_report.left_out"), words("progress_report.left_out_caption"), None, lines=lines)
