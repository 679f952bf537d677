"""`facedown report slip`: one page for each taster of a sitting."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence

import click

from kit.errors import ExitCode, KitError
from kit.keys import grouped
from kit.sheets import written_date
from kit.tables import counted
from kit.wording import Wording, load_wording
from scanner.commands.report_inputs import ReportInputs, report_inputs
from scanner.reports.handwriting import Writing, hands_of, writing_in_archive, writing_in_pictures
from scanner.reports.page import Foot, ReportPage
from scanner.reports.report_pdf import About
from scanner.reports.slip import Slip, slip, slip_table
from scanner.reports.slip_json import FORMAT, csv_heading, csv_rows, slip_to_json
from scanner.reports.slip_page import slip_page
from scanner.reports.slip_words import Vocabulary, vocabulary
from scanner.results.sitting import TasterSitting
from scanner.score import scores
from scanner.what_stood import Sitting


@click.command("slip")
@click.option("--every", is_flag=True, help="Slips of every sitting, not of the last alone.")
@report_inputs()
def command(given: ReportInputs, every: bool) -> ExitCode:
    """Print a slip for each taster: who went where, both rounds' notes, what to practise, from READING files."""
    chosen = _chosen(given, every=every)
    if not chosen:
        raise KitError("There is no slip to print: no sheet of these tasters was read.", "Read their sheets first.")
    slips = _slips(given, chosen)
    kits = {one.kit: one for one in given.results.kits.values()}
    spoken = {one.kit: _vocabulary(kits.get(one.kit)) for one in chosen}
    seals = {kit: given.seals(kit) for kit in spoken}
    words = spoken[chosen[-1].kit].words
    title = words.listed(dict.fromkeys(one.title for one in chosen))
    about = About(title, words("slip.subject"), len(slips))
    with _writing(given) as writing:
        given.let_readings_go()
        pages = (
            _page(one, given, kits.get(one.sitting.kit), seals[one.sitting.kit], spoken[one.sitting.kit], writing)
            for one in slips
        )
        given.write_pdf(pages, about, words)
    entry = {
        "format": FORMAT,
        "slips": (
            slip_to_json(one, _seal(one.sitting, seals[one.sitting.kit]), spoken[one.sitting.kit]) for one in slips
        ),
    }
    heading = csv_heading(slips)
    rows = (row for one in slips for row in csv_rows(one, heading))
    return given.finish(entry, heading, rows, f"{given.out}: {counted(len(slips), 'slip')}, a page each.")


def _chosen(given: ReportInputs, *, every: bool) -> list[TasterSitting]:
    """Return the sittings that get a slip: those of the last kit that any of the tasters was in, or all."""
    wanted = set(given.results.tasters)
    sittings = [one for one in given.results.gathered.sittings if one.taster in wanted]
    return sittings if every else [one for one in sittings if one.kit == sittings[-1].kit]


def _slips(given: ReportInputs, chosen: Sequence[TasterSitting]) -> list[Slip]:
    result = scores(list(given.results.kits.values()), given.results.readings)
    scored = {(one.kit, one.taster): one for one in result.tasters}
    by_kit: dict[str, list[TasterSitting]] = {}
    by_taster: dict[str, list[TasterSitting]] = {}
    for one in given.results.gathered.sittings:
        by_kit.setdefault(one.kit, []).append(one)
        by_taster.setdefault(one.taster, []).append(one)
    tables = {kit: slip_table(by_kit[kit]) for kit in dict.fromkeys(one.kit for one in chosen)}
    return [slip(one, by_taster[one.taster], tables[one.kit], scored.get((one.kit, one.number))) for one in chosen]


def _vocabulary(kit: Sitting | None) -> Vocabulary:
    """Return the words of a kit's session; English ones for a typed result."""
    if kit is None:
        return vocabulary(None, load_wording("en"))
    return vocabulary(kit.session.drink, load_wording(kit.session.language))


@contextlib.contextmanager
def _writing(given: ReportInputs) -> Iterator[Writing]:
    results = given.results
    if results.archive is not None:
        with writing_in_archive(results.archive) as writing:
            yield writing
    else:
        sheets = {page.sheet: page for kit in results.kits.values() for page in kit.layout.pages}
        yield writing_in_pictures(results.readings, sheets)


def _page(
    one: Slip, given: ReportInputs, kit: Sitting | None, seals: Sequence[str], spoken: Vocabulary, writing: Writing
) -> ReportPage:
    frame = given.frame_for("A4" if kit is None else kit.session.paper)
    return slip_page(one, frame, _foot(one.sitting, seals, spoken.words), hands_of(one, writing), spoken)


def _foot(sitting: TasterSitting, seals: Sequence[str], words: Wording) -> Foot:
    seal = _seal(sitting, seals)
    return Foot((sitting.kit,), () if seal is None else (seal,), written_date(sitting.date, words))


def _seal(sitting: TasterSitting, seals: Sequence[str]) -> str | None:
    return grouped(seals[sitting.number - 1]) if sitting.number <= len(seals) else None
