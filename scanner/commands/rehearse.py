"""`facedown rehearse`: a dry run of the reader on one's own session, and of one's own paper, printer and camera."""

from __future__ import annotations

import json
import os
import shlex
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from kit.contents import unprintable
from kit.errors import ExitCode, FacedownError
from kit.files import write_atomically
from kit.session import Session, load_session
from kit.tables import aligned
from scanner.commands.inputs import refuse_to_overwrite
from scanner.rehearsal.conditions import chosen, described
from scanner.rehearsal.course import Course, rehearse
from scanner.rehearsal.course_report import course_report, course_text, course_to_json
from scanner.rehearsal.grade import grades_of
from scanner.rehearsal.grade_report import grade_text, grade_to_json
from scanner.rehearsal.own_kit import own_kit
from scanner.rehearsal.pattern_page import rehearsal_pdf
from scanner.rehearsal.tally import CAUSES, Cause, Tried


def _list(ctx: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked and not ctx.resilient_parsing:
        click.echo(aligned(described()))
        ctx.exit()


@click.command("rehearse")
@click.argument("session_file", metavar="SESSION", type=click.Path(path_type=Path))
@click.option(
    "--conditions",
    metavar="WORDS",
    default="usual",
    show_default=True,
    help="What the simulated sheets go through, such as flatbed,chat.",
)
@click.option("--list", is_flag=True, is_eager=True, expose_value=False, callback=_list, help="List all conditions.")
@click.option(
    "--sheets", type=click.IntRange(1, 100_000), default=8, show_default=True, help="How many for each condition."
)
@click.option(
    "--seed", type=click.IntRange(0), default=0, show_default=True, help="Another one draws other hands and pictures."
)
@click.option(
    "--by",
    "causes",
    type=click.Choice(CAUSES),
    multiple=True,
    default=("condition",),
    show_default="condition",
    help="A table for each of these; may be given again.",
)
@click.option(
    "--jobs",
    type=click.IntRange(1, 64),
    default=lambda: os.cpu_count() or 1,
    show_default="one a processor",
    help="How many sheets are read at once.",
)
@click.option(
    "--print",
    "sheet_pdf",
    metavar="SHEET.pdf",
    type=click.Path(path_type=Path),
    help="Print a sheet to fill in, and a page that shows what to mark on it.",
)
@click.option("--grade", is_flag=True, help="Grade the SCANs of that sheet.")
@click.option(
    "--json", "json_path", metavar="FILE", help="Write the report as JSON to this file; - is standard output."
)
@click.option("--force", is_flag=True, help="With --print: write over a file that is there.")
@click.argument("scans", metavar="[SCAN...]", nargs=-1, type=click.Path(path_type=Path))
def command(
    session_file: Path,
    conditions: str,
    sheets: int,
    seed: int,
    causes: tuple[Cause, ...],
    jobs: int,
    sheet_pdf: Path | None,
    grade: bool,
    json_path: str | None,
    force: bool,
    scans: tuple[Path, ...],
) -> ExitCode:
    """Rehearse reading the sheets of a SESSION file before it counts.

    Without a camera: the session's own sheets are printed in memory, filled in by simulated hands, spoilt, and read.
    With yours: --print a sheet, fill it in as the page printed with it shows, scan or photograph it, --grade the SCANs.
    """
    _refuse_mixture(prints=sheet_pdf is not None, grades=grade, scans=scans)
    session = load_session(session_file)
    if sheet_pdf is not None:
        return _print(session, session_file, sheet_pdf, force=force)
    refuse_to_overwrite(json_path, (session_file, *scans))
    try:
        if grade:
            return _grade(session, scans, json_path)
        return _rehearse(Course(session, chosen(conditions), sheets, seed), jobs, causes, json_path)
    except KeyboardInterrupt:
        click.echo("facedown: interrupted; a part of the figures would mislead, so none are told.", err=True)
        return ExitCode.INTERRUPTED


def _refuse_mixture(*, prints: bool, grades: bool, scans: tuple[Path, ...]) -> None:
    """Refuse options that do not go together; click.UsageError says which."""
    if prints and grades:
        raise click.UsageError("--print and --grade are two steps: print, fill the sheet in, scan it, then --grade.")
    if grades and not scans:
        raise click.UsageError("--grade needs the scans or photographs of the filled sheet: --grade SCAN…")
    if scans and not grades:
        raise click.UsageError(f"{scans[0]}: to grade a scan of the rehearsal sheet, add --grade.")
    context = click.get_current_context()
    typed = {name for name in context.params if context.get_parameter_source(name) is ParameterSource.COMMANDLINE}
    if "force" in typed and not prints:
        raise click.UsageError("--force goes with --print alone.")
    mode = "--print" if prints else "--grade" if grades else ""
    for name in ("conditions", "sheets", "seed", "causes", "jobs", *(("json_path",) if prints else ())):
        if mode and name in typed:
            option = {"causes": "--by", "json_path": "--json"}.get(name, f"--{name}")
            raise click.UsageError(f"{option} does not go with {mode}.")


def _print(session: Session, session_file: Path, sheet_pdf: Path, *, force: bool) -> ExitCode:
    if missing := unprintable(session):
        text, marks = next(iter(missing.items()))
        raise FacedownError(
            f"{session_file}: in {text!r} the fonts have no shape for {marks!r}.",
            "Write it in Latin letters, kana or kanji.",
        )
    if sheet_pdf.resolve() == session_file.resolve():
        raise click.UsageError(f"--print {sheet_pdf} would overwrite the session file; name another file.")
    if os.path.lexists(sheet_pdf) and not force:
        raise FacedownError(f"{sheet_pdf}: this file is there already.", "Choose another name, or add --force.")
    own = own_kit(session)
    write_atomically(sheet_pdf, rehearsal_pdf(own))
    click.echo(f"Wrote {sheet_pdf}: page 1 shows what to mark on page 2, the sheet {own.to_fill.layout.sheet}.")
    click.echo("Print both at 100 %, fill page 2 in, scan or photograph it. Keep the session file as it is until then.")
    click.echo(f"Afterwards: facedown rehearse {shlex.quote(str(session_file))} --grade SCAN…")
    return ExitCode.DONE


def _grade(session: Session, scans: tuple[Path, ...], json_path: str | None) -> ExitCode:
    graded = tuple(grades_of(scans, own_kit(session)))
    _show(lambda: grade_text(graded), grade_to_json(graded), json_path)
    if all(one.reading.source_page is None for one in graded):
        return ExitCode.REFUSED
    return ExitCode.LOOK if any(one.silent or one.reason is not None for one in graded) else ExitCode.DONE


def _rehearse(course: Course, jobs: int, causes: tuple[Cause, ...], json_path: str | None) -> ExitCode:
    report = course_report(course, tuple(_with_progress(course, jobs)))
    _show(lambda: course_text(report, dict.fromkeys(causes)), course_to_json(report), json_path)
    return ExitCode.DONE if report.all.is_clean else ExitCode.LOOK


def _with_progress(course: Course, jobs: int) -> Iterator[Tried]:
    if not sys.stderr.isatty():
        yield from rehearse(course, jobs)
        return
    with click.progressbar(length=len(course), label="rehearsing", file=sys.stderr) as bar:
        for tried in rehearse(course, jobs):
            bar.update(1)
            yield tried


def _show(text: Callable[[], str], entry: dict[str, Any], json_path: str | None) -> None:
    content = json.dumps(entry, ensure_ascii=False, indent=1) + "\n"
    if json_path == "-":
        click.echo(content, nl=False)
        return
    click.echo(text())
    if json_path is not None:
        write_atomically(Path(json_path), content.encode(errors="backslashreplace"))
