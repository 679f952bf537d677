"""What a rehearsal without a camera came to, as text for people and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from kit.tables import aligned, counted, printable
from scanner.rehearsal.conditions import DESCRIPTIONS
from scanner.rehearsal.course import Course
from scanner.rehearsal.phrases import paragraph, rate_to_json, share_text, silent_text
from scanner.rehearsal.tally import CAUSES, Cause, Figures, Refused, Tried, by_cause, figures, refusals

FORMAT = "facedown-rehearsal/1"

LEGEND = """\
Silent errors: plain boxes read wrongly without a word. Doubtful: plain boxes left to a person.
A box is plain where a careful person could not doubt it. In brackets, the rates between which the
true one lies: exact 95 % bounds after Clopper and Pearson, each box taken as a case of its own."""


@dataclass(frozen=True, slots=True)
class CourseReport:
    """The figures of a whole course: all together, apart for each cause, and the sheets that were not read."""

    course: Course
    all: Figures
    apart: dict[Cause, dict[str, Figures]]
    refused: tuple[Refused, ...]


def course_report(course: Course, sheets: Sequence[Tried]) -> CourseReport:
    """Return the report of a course of which every sheet was tried."""
    apart = {cause: by_cause(sheets, cause) for cause in CAUSES}
    apart["condition"] = {name: apart["condition"][name] for name in course.conditions}
    for cause in ("hand", "pen"):
        apart[cause] = dict(sorted(apart[cause].items(), key=_worst_first))
    return CourseReport(course, figures(sheets), apart, tuple(refusals(sheets)))


def course_text(report: CourseReport, causes: Iterable[Cause]) -> str:
    """Return the report for people: a table for each of the causes, then what was not read."""
    course = report.course
    head = (
        f"Rehearsal of {course.session.title}, without a camera\n"
        f"{counted(report.all.sheets, 'sheet')} printed, filled in by simulated hands, spoilt, and read; "
        f"seed {course.seed}"
    )
    blocks = [head, *(_table(cause, report) for cause in causes), LEGEND, _marginal(report.all)]
    for heading, closer in (("Sheets not read", False), ("Sheets too small in the picture, rightly refused", True)):
        if lines := [_refused_line(one) for one in report.refused if one.come_closer is closer]:
            blocks.append("\n".join([heading, *lines]))
    blocks.append(_verdict(report.all))
    return printable("\n\n".join(blocks))


def course_to_json(report: CourseReport) -> dict[str, Any]:
    """Return the report as one JSON object."""
    course = report.course
    return {
        "format": FORMAT,
        "title": course.session.title,
        "seed": course.seed,
        "sheets_per_condition": course.sheets,
        "all": _figures_to_json(report.all),
        **{
            f"by_{cause}": [{cause: name, **_figures_to_json(row)} for name, row in report.apart[cause].items()]
            for cause in CAUSES
        },
        "not_read": [
            {"condition": one.condition, "sheets": one.sheets, "reason": one.reason, "come_closer": one.come_closer}
            for one in report.refused
        ],
    }


def _table(cause: Cause, report: CourseReport) -> str:
    rows: list[tuple[str, ...]] = [(cause, "read", "plain boxes", "silent errors", "doubtful")]
    rows += [_row(name, row) for name, row in report.apart[cause].items()]
    if len(rows) > 2:
        rows.append(_row("all together", report.all))
    table = aligned(rows)
    if cause == "condition" and (known := [name for name in report.apart[cause] if name in DESCRIPTIONS]):
        table += "\n\n" + aligned((name, DESCRIPTIONS[name]) for name in known)
    return table


def _row(name: str, row: Figures) -> tuple[str, ...]:
    return name, f"{row.read} of {row.sheets}", f"{row.boxes:,}", silent_text(row.silent), share_text(row.doubtful)


def _marginal(row: Figures) -> str:
    return paragraph(
        f"Of {counted(row.marginal, 'box', 'boxes')} that a careful person could doubt (faint, tiny, beside the box, "
        f"rubbed out, hidden), {row.marginal_doubtful:,} were left to a person and {row.marginal_otherwise:,} read "
        "otherwise than meant. They are not counted above."
    )


def _refused_line(one: Refused) -> str:
    return paragraph(f"{one.condition}, {counted(one.sheets, 'sheet')}: {one.reason}", 2, 4)


def _verdict(row: Figures) -> str:
    if row.stolen:
        return f"{counted(row.stolen, 'sheet')} credited to another sheet: that must never be. Please report it."
    if row.silent.count:
        return (
            f"{counted(row.silent.count, 'plain box', 'plain boxes')} read wrongly in silence. Under such conditions, "
            "look through what was read."
        )
    if not row.boxes:
        return "No sheet could be read under these conditions."
    return "No plain box was read wrongly in silence."


def _figures_to_json(row: Figures) -> dict[str, Any]:
    return {
        "sheets": row.sheets,
        "read": row.read,
        "come_closer": row.closer,
        "unreadable": row.unread,
        "credited_to_another": row.stolen,
        "silent_errors": rate_to_json(row.silent),
        "doubtful": rate_to_json(row.doubtful),
        "marginal": {
            "boxes": row.marginal,
            "doubtful": row.marginal_doubtful,
            "read_otherwise": row.marginal_otherwise,
        },
    }


def _worst_first(item: tuple[str, Figures]) -> tuple[float, float, str]:
    name, row = item
    return -row.silent.share, -row.doubtful.share, name
