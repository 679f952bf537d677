"""`facedown report table`: the table's sheet for the host, as PDF."""

from __future__ import annotations

from collections.abc import Sequence

import click

from kit.errors import ExitCode, ReadingError
from kit.lexicon import load_lexicon, printed_words
from kit.tables import counted
from scanner.commands.report_inputs import ReportInputs, report_inputs
from scanner.reports.report_pdf import About
from scanner.reports.seals import KitSeals, seals_of_kit
from scanner.reports.table_numbers import TableSheet, table_sheets
from scanner.reports.table_page import table_pages
from scanner.reports.table_rows import HEADING, rows, to_json
from scanner.reports.table_together import Together, together
from scanner.reports.together_page import together_pages
from scanner.score import scores

FORMAT = "facedown-table-report/1"


@click.command("table")
@click.option("--every", is_flag=True, help="Print a sheet for every sitting, not for the last alone.")
@report_inputs(of_taster=False)
def command(given: ReportInputs, every: bool) -> ExitCode:
    """Print the table's sheet of the last sitting: scores, what was taken for what, the table's words, what is missing.

    Where several sittings count, a page follows on all of them together.
    """
    kits = given.results.kits
    readings = given.results.readings
    sheets = table_sheets(scores(list(kits.values()), readings), given.results.gathered, list(readings.values()))
    if not sheets:
        raise ReadingError("There is no sitting to print.", "Name a kit with --kit.")
    whole = together(given.results.gathered, {sheet.kit for sheet in sheets if sheet.hidden})
    shown = sheets if every else sheets[-1:]
    words = given.words
    sessions = {sitting.kit: sitting.session for sitting in kits.values()}
    pages = [
        page
        for sheet in shown
        for page in table_pages(
            sheet,
            given.seals(sheet.kit),
            printed_words(load_lexicon(sessions[sheet.kit].drink), words),
            given.frame_for(sessions[sheet.kit].paper),
            words,
        )
    ]
    seals = _seals(given, shown, whole)
    if whole is not None:
        of_all = [one for one in seals if one.kit in whole.kit_ids]
        pages += together_pages(whole, of_all, given.frame_for(sessions[shown[-1].kit].paper), words)
    title = f"{words('table_report.heading')}: {shown[-1].title}"
    number = given.write_pdf(pages, About(title, words("table_report.subject"), len(pages)), words)
    entry = {"format": FORMAT, **to_json(shown, whole, seals)}
    text = f"{given.out}: {counted(number, 'page')}, {counted(len(shown), 'sitting')}."
    return given.finish(entry, HEADING, rows(shown, whole), text)


def _seals(given: ReportInputs, shown: Sequence[TableSheet], whole: Together | None) -> list[KitSeals]:
    """Return the seal codes of all kits that the report speaks of, the earliest first; typed results have none."""
    spoken = {sheet.kit for sheet in shown} | set(() if whole is None else whole.kit_ids)
    printed = {one.kit: one.session for one in given.results.kits.values()}
    dates = {one.kit: one.date for one in given.results.gathered.sittings}
    dates |= {kit: session.date for kit, session in printed.items()}
    return [
        seals_of_kit(kit, date, [one.name for one in printed[kit].tasters] if kit in printed else (), given.seals(kit))
        for kit, date in sorted(dates.items(), key=lambda one: (one[1], one[0]))
        if kit in spoken
    ]
