"""`facedown report progress`: one taster over time, or a panel for each of a club, as PDF."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path

import click

from kit.errors import ExitCode, ReadingError
from kit.lexicon import load_lexicon, printed_words
from kit.tables import counted
from scanner.commands.inputs import refuse_to_overwrite
from scanner.commands.report_inputs import ReportInputs, report_inputs
from scanner.reports.club_page import club_pages
from scanner.reports.page import Frame, ReportPage
from scanner.reports.pour_next import pour_next
from scanner.reports.progress_numbers import progress_numbers
from scanner.reports.progress_page import progress_pages
from scanner.reports.progress_rows import HEADING, Progress, rows, to_json
from scanner.reports.report_pdf import About
from scanner.reports.seals import TasterSeals, seals_of_taster
from scanner.results.cellar import Cellar, load_cellar

FORMAT = "facedown-progress-report/1"
PAPER = "A4"
"""Where no kit is given, only results typed in."""


@click.command("progress")
@click.option("--club", is_flag=True, help="Print one small panel for each taster, several a page.")
@click.option(
    "--cellar",
    metavar="CELLAR",
    type=click.Path(path_type=Path),
    help="A cellar list, as `facedown suggest` takes it: what to pour next is told from it.",
)
@report_inputs()
def command(given: ReportInputs, club: bool, cellar: Path | None) -> ExitCode:
    """Print a taster's progress over all sittings given: ability, evidence, steady words, flights, what to pour next.

    Without --taster there is a page for each of them.
    """
    today = datetime.date.today()
    listed = None
    if cellar is not None:
        for path in (given.out, given.results.json_path, given.csv_path):
            refuse_to_overwrite(None if path is None else str(path), [cellar])
        listed = load_cellar(cellar, today)
    found = [_progress(given, taster, listed, today) for taster in given.results.tasters]
    if not found:
        raise ReadingError("There is no taster to print: no sheet was read.", "`facedown read` reads sheets.")
    words = given.words
    kits = sorted(given.results.kits.values(), key=lambda one: (one.session.date, one.kit))
    frame = given.frame_for(kits[-1].session.paper if kits else PAPER)
    seals = _seals(given)
    panels = [numbers for numbers, _ in found]
    pages = club_pages(panels, seals, frame, words) if club else _pages(found, seals, frame, given)
    who = words("progress_report.club") if len(found) > 1 else found[0][0].name
    about = About(f"{words('progress_report.heading')}: {who}", words("progress_report.subject"), len(pages))
    number = given.write_pdf(pages, about, words)
    text = f"{given.out}: {counted(number, 'page')}, {counted(len(found), 'taster')}."
    return given.finish({"format": FORMAT, **to_json(found, seals)}, HEADING, rows(found), text)


def _progress(given: ReportInputs, taster: str, listed: Cellar | None, today: datetime.date) -> Progress:
    gathered = given.results.gathered
    sittings, name = gathered.of(taster), gathered.name_of(taster)
    pour = None if listed is None else pour_next(listed, today, name, sittings)
    return progress_numbers(taster, name, sittings), pour


def _pages(
    found: list[Progress], seals: Mapping[str, TasterSeals], frame: Frame, given: ReportInputs
) -> list[ReportPage]:
    words = given.words
    printed: dict[str, str] = {}
    for drink in {sitting.session.drink for sitting in given.results.kits.values()}:
        printed |= printed_words(load_lexicon(drink), words)
    return [
        page
        for numbers, pour in found
        for page in progress_pages(numbers, pour, printed, seals[numbers.taster], frame, words)
    ]


def _seals(given: ReportInputs) -> dict[str, TasterSeals]:
    codes = {sitting.kit: given.seals(sitting.kit) for sitting in given.results.kits.values()}
    return {taster: seals_of_taster(given.results.gathered.of(taster), codes) for taster in given.results.tasters}
