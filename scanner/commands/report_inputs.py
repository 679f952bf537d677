"""What the commands under `facedown report` have in common: results in, a PDF out, its numbers as JSON and CSV."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any

import click

from kit.errors import ExitCode
from kit.files import opened_atomically, write_atomically
from kit.paper import PAPERS, Paper
from kit.record import load_kit
from kit.wording import Wording, load_wording
from scanner.commands.inputs import refuse_to_overwrite
from scanner.commands.results_inputs import ResultsInputs, results_inputs
from scanner.reports.csv_safe import Cell, csv_bytes
from scanner.reports.page import Frame, ReportPage
from scanner.reports.report_pdf import About, write_report

Command = Callable[..., ExitCode]


@dataclass(frozen=True, slots=True)
class ReportInputs:
    """What a report is made from, and where it goes. `paper` is None where each kit's own is meant."""

    results: ResultsInputs
    out: Path
    paper: Paper | None
    print_safe: bool
    csv_path: Path | None

    def frame_for(self, paper_name: str) -> Frame:
        """Return the frame of a page, of the paper asked for or else of that name, such as a session's `paper`."""
        return Frame(self.paper or PAPERS[paper_name], self.print_safe)

    @property
    def words(self) -> Wording:
        """The printed words in the language of the last sitting."""
        sittings = sorted(self.results.kits.values(), key=lambda one: (one.session.date, one.kit))
        return load_wording(sittings[-1].session.language if sittings else "en")

    def seals(self, kit: str) -> tuple[str, ...]:
        """Return the seal code of each taster of a kit; none where the coasters were mixed by hand."""
        return next((load_kit(folder).seals for folder, one in self.results.kits.items() if one.kit == kit), ())

    def let_readings_go(self) -> None:
        """Forget what was read, where what was made of it is enough: the marks of a pile take much memory."""
        readings = self.results.readings
        assert isinstance(readings, dict)
        readings.clear()

    def write_pdf(self, pages: Iterable[ReportPage], about: About, words: Wording) -> int:
        """Write the PDF, a page as it comes; return how many there were.

        Raises
        ------
        StorageError
            If the disk refuses.
        """
        with opened_atomically(self.out) as file:
            return write_report(file, pages, about, words)

    def finish(
        self, entry: dict[str, Any], heading: Sequence[str], rows: Iterable[Sequence[Cell]], text: str
    ) -> ExitCode:
        """Write the CSV if asked, then show the text or the entry as JSON; return the status.

        What is long in `entry` may be an iterator.
        """
        if self.csv_path is not None:
            write_atomically(self.csv_path, csv_bytes(heading, rows))
        return self.results.present(entry, text)


def report_inputs(*, of_taster: bool = True) -> Callable[[Command], Command]:
    """Give a command the options of all reports; it is called with one `ReportInputs` besides its own options."""

    def add(command: Command) -> Command:
        @wraps(command)
        def given(
            results: ResultsInputs,
            out: Path,
            paper_name: str | None,
            print_safe: bool,
            csv_path: Path | None,
            **own: Any,
        ) -> ExitCode:
            _refuse_one_file_for_two(out, csv_path, results)
            paper = None if paper_name is None else PAPERS[paper_name]
            return command(ReportInputs(results, out, paper, print_safe, csv_path), **own)

        for option in reversed(_OPTIONS):
            given = option(given)
        return results_inputs(of_taster=of_taster)(given)

    return add


_FILE = click.Path(path_type=Path)
_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option("--out", metavar="FILE", required=True, type=_FILE, help="Write the PDF to this file."),
    click.option(
        "--paper",
        "paper_name",
        type=click.Choice(list(PAPERS), case_sensitive=False),
        help="The paper; left out, the one that the kit was printed on.",
    ),
    click.option("--print-safe", is_flag=True, help="Keep 15 mm off every edge, for printers that need it."),
    click.option("--csv", "csv_path", metavar="FILE", type=_FILE, help="Write the numbers as CSV to this file."),
)


def _refuse_one_file_for_two(out: Path, csv_path: Path | None, results: ResultsInputs) -> None:
    written = {"--out": str(out), "--csv": None if csv_path is None else str(csv_path), "--json": results.json_path}
    places: dict[Path, str] = {}
    for option, name in written.items():
        if name is None or name == "-":
            continue
        place = Path(name).resolve()
        if place in places:
            raise click.UsageError(f"{places[place]} and {option} both name {name}; name two files.")
        places[place] = option
    for option in ("--out", "--csv"):
        try:
            refuse_to_overwrite(written[option], results.readings)
        except click.UsageError as error:
            raise click.UsageError(error.message.replace("--json", option, 1)) from None
