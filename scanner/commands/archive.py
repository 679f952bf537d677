"""`facedown archive …`: what was scanned and decided, kept in one folder."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from kit.errors import ExitCode
from kit.tables import aligned, counted, printable
from scanner.archive.database import archive_at
from scanner.commands import archive_bag
from scanner.commands.archive_option import archive_option, json_option, now, user_name, write_json


@click.group("archive")
def command() -> None:
    """Keep kits, scans, readings and decisions in one folder, and lose nothing of them.

    The folder is named by --archive or by the environment variable FACEDOWN_ARCHIVE.
    """


for _subcommand in (archive_bag.verify, archive_bag.export, archive_bag.import_):
    command.add_command(_subcommand)


@command.command("add")
@archive_option
@click.option(
    "--kit",
    "folders",
    metavar="KIT",
    multiple=True,
    type=click.Path(path_type=Path),
    help="A kit folder to add; once for each kit. Kits that are in the archive need not be named again, but for house "
    "coasters: their photographs are taken for those of the kit named, here by folder or id.",
)
@click.option(
    "--settle",
    "answers_path",
    metavar="ANSWERS.toml",
    type=click.Path(path_type=Path),
    help="Settle doubts and conflicts by the answers in this file, as `facedown read` takes it.",
)
@click.option("--by", "who", metavar="NAME", help="Who settles; left out, the name of the computer's user.")
@click.option(
    "--jobs",
    type=click.IntRange(1, 64),
    default=lambda: os.cpu_count() or 1,
    show_default="one a processor",
    help="How many pages are read at once.",
)
@json_option
@click.argument("files", metavar="FILE...", nargs=-1, type=click.Path(path_type=Path))
def add(
    archive: Path,
    folders: tuple[Path, ...],
    answers_path: Path | None,
    who: str | None,
    jobs: int,
    json_path: str | None,
    files: tuple[Path, ...],
) -> ExitCode:
    """Add kits, and read and keep the scans and photographs in FILEs.

    The same file twice changes nothing. A sheet of a kit that is not known yet waits for it. Broken off at any moment,
    the archive is whole, and adding again does the rest.
    """
    from scanner.archive.add import add_pile
    from scanner.archive.settlements import settle
    from scanner.settle import load_answers

    if not folders and not files and answers_path is None:
        raise click.UsageError("Name files to add, or --kit, or --settle.")
    answers = load_answers(answers_path) if answers_path else ()
    with archive_at(archive, write=True, create=True) as opened:
        added = []
        for one in add_pile(opened, folders, files, now(), jobs=jobs):
            added.append(one)
            if json_path != "-":
                place = one.source if one.page is None else f"{one.source}, page {one.page}"
                what = "  ".join(filter(None, (place, one.sheet, one.what, one.reason)))
                click.echo(printable(what))
        unused = settle(opened, answers, who or user_name(), now())
    for answer in unused:
        click.echo(printable(f"An answer for {answer.sheet} names nothing in the archive."), err=True)
    write_json(
        {
            "pages": [
                {"source": one.source, "page": one.page, "sheet": one.sheet, "what": one.what, "reason": one.reason}
                for one in added
            ]
        },
        json_path,
    )
    if files and all(one.what == "refused" for one in added):
        return ExitCode.REFUSED
    return ExitCode.LOOK if unused or any(one.is_left_to_look_at for one in added) else ExitCode.DONE


@command.command("list")
@archive_option
@json_option
def list_(archive: Path, json_path: str | None) -> ExitCode:
    """List the sittings, the latest first, with what is left to look at in each, and the kits waited for."""
    from scanner.archive.lists import overview

    with archive_at(archive) as opened:
        found = overview(opened)
    if json_path != "-":
        rows = [("sitting", "date", "title", "glasses", "tasters", "sheets", "left to look at")]
        rows += [
            (
                one["sitting"],
                one["date"],
                one["title"] + (" (typed)" if one["entered_by"] == "typed" else ""),
                str(one["glasses"]),
                str(one["tasters"]),
                str(one["sheets"]),
                str(one["left_to_look_at"] or ""),
            )
            for one in found.sittings
        ]
        totals = found.totals
        lines = [
            f"{counted(totals['sittings'], 'sitting')}, {counted(totals['tasters'], 'taster')}, "
            f"{counted(totals['sheets'], 'sheet')} that count, "
            f"{totals['left_to_look_at']} left to look at."
        ]
        if totals["pages_of_no_sitting"]:
            lines.append(f"{totals['pages_of_no_sitting']} pages show no sheet of a known kit.")
        lines += [
            f"{one['sheets']} sheets wait for kit {one['kit']}."
            if one["kit"]
            else f"{one['sheets']} photographs of turned coasters wait for their kit."
            for one in found.waiting
        ]
        click.echo(printable("\n".join([aligned(rows), "", *lines]) if found.sittings else "\n".join(lines)))
    write_json({"sittings": found.sittings, "waiting": found.waiting, "totals": found.totals}, json_path)
    return ExitCode.DONE


@command.command("show")
@archive_option
@json_option
@click.argument("what", metavar="WHAT")
def show(archive: Path, json_path: str | None, what: str) -> ExitCode:
    """Show one thing: a sitting by its kit (K7Q4M2), a sheet (K7Q4M2-0001-3), a taster or a drink by id or name."""
    from scanner.archive.lists import shown_of

    with archive_at(archive) as opened:
        found = shown_of(opened, what)
    if json_path != "-":
        texts = {"sitting": _sitting_text, "sheet": _sheet_text, "taster": _taster_text, "drink": _drink_text}
        click.echo(printable(texts[found["kind"]](found)))
    write_json(found, json_path)
    return ExitCode.DONE


@command.command("take-back")
@archive_option
@click.argument("what", metavar="WHAT")
def take_back(archive: Path, what: str) -> ExitCode:
    """Take back a sheet (K7Q4M2-0001-3), a file as it was added (pile.pdf), or a typed result by its sitting.

    It is kept and counts no more. Adding the file again brings it back.
    """
    from scanner.archive.take_back import take_back as taken_back

    with archive_at(archive, write=True) as opened:
        found = taken_back(opened, what, now())
    click.echo(f"{len(found.sheets)} sheets and {found.others} other pages or results count no more.")
    for sheet in found.sheets:
        click.echo(f"  {sheet}")
    return ExitCode.DONE


@command.command("erase")
@archive_option
@click.option("--yes", is_flag=True, help="Do not ask whether to go on.")
@click.argument("taster", metavar="TASTER")
def erase(archive: Path, yes: bool, taster: str) -> ExitCode:
    """Erase TASTER, by id or name: name, handwriting and every original that shows it.

    Crosses and scores stay, as those of nobody. Scans that show others' sheets too go as a whole. It cannot be undone,
    and does not reach kit folders, readings and copies outside the archive.
    """
    from scanner.archive.erase import erase as erased
    from scanner.archive.erase import taster_named
    from scanner.archive.store import sweep

    with archive_at(archive, write=True) as opened:
        sweep(opened)
        person = taster_named(opened, taster)
        if not yes:
            if not sys.stdin.isatty():
                raise click.UsageError("It cannot be undone: say --yes.")
            click.confirm(printable(f"Erase {person['name']} ({person['key']})? It cannot be undone"), abort=True)
        found = erased(opened, person["id"], now())
    click.echo(
        f"Erased from {counted(found.sittings, 'sitting')}: the name, {counted(found.originals, 'original')}, "
        f"{counted(found.cutouts, 'cut-out')}."
    )
    if found.others:
        click.echo(f"{len(found.others)} sheets of others keep their answers, and lost the picture that showed both:")
        click.echo("\n".join(f"  {sheet}" for sheet in found.others))
    click.echo("Kit folders, readings and copies outside the archive still have the name: see to them yourself.")
    return ExitCode.DONE


def _sitting_text(found: Mapping[str, Any]) -> str:
    head = f"{found['title']}, {found['date']} (sitting {found['id']}, {found['glasses']} glasses, {found['shuffle']})"
    drinks = "\n".join(f"  {coaster}  {name}" for coaster, name in found["drinks"].items())
    rows = [("", "taster", "sheet", "what", "entered", "left to look at")]
    for taster in found["tasters"]:
        name = (str(taster["taster"]), taster["name"])
        lines = [_cells(sheet) for sheet in taster["sheets"]] + [_result_cells(one) for one in taster["results"]]
        for place, cells in enumerate(lines or [("", "", "", "")]):
            rows.append((*(("", "") if place else name), *cells))
    return "\n\n".join(filter(None, (head, drinks, aligned(rows))))


def _cells(sheet: Mapping[str, Any]) -> tuple[str, str, str, str]:
    named = sheet["sheet"] or {"row": "turned coasters", "key": "opened key", "page": "a page"}[sheet["kind"]]
    return named, sheet["standing"], sheet["entered_by"], str(sheet["left_to_look_at"] or "")


def _result_cells(result: Mapping[str, Any]) -> tuple[str, str, str, str]:
    return "result", f"{result['correct']} of {result['of']}", result["entered_by"], ""


def _sheet_text(found: Mapping[str, Any]) -> str:
    blocks = [f"Sheet {found['sheet']}"]
    for reading in found["readings"]:
        place = "erased original" if reading["source"] is None else f"{reading['source']}, page {reading['page']}"
        fields: dict[str, list[str]] = {}
        for mark in reading["marks"]:
            state = "" if mark["state"] == "marked" else f" ({mark['state']})"
            fields.setdefault(mark["field"], []).append(mark["option"] + state)
        head = f"{place}: {reading['standing']}, {reading['entered_by']}"
        crossed = aligned((name, ", ".join(told)) for name, told in fields.items()) if fields else ""
        blocks.append(f"{head}\n{crossed}".rstrip())
    if found["settlements"]:
        rows = [
            (one["field"], one["option"], one["before"], one["after"] or "as read", one["who"], one["at"])
            for one in found["settlements"]
        ]
        blocks.append("Settled\n" + aligned([("field", "option", "before", "after", "who", "when"), *rows]))
    if found["handwriting"]:
        blocks.append("Handwriting\n" + "\n".join(f"  {one['field']}: {one['text']}" for one in found["handwriting"]))
    return "\n\n".join(blocks)


def _taster_text(found: Mapping[str, Any]) -> str:
    rows = [("sitting", "date", "title", "sheets", "result", "left to look at")]
    rows += [
        (
            one["sitting"],
            one["date"],
            one["title"],
            str(one["sheets"]),
            ", ".join(f"{result['correct']} of {result['of']}" for result in one["results"]),
            str(one["left_to_look_at"] or ""),
        )
        for one in found["sittings"]
    ]
    head = f"{found['name']} ({found['id']}), {counted(len(found['sittings']), 'sitting')}"
    if len(found["sittings"]) > found["scanned_results_of_the_latest"]:
        head += (
            f"; results of scanned sheets for the latest {found['scanned_results_of_the_latest']}, of all by "
            "facedown score --archive"
        )
    return f"{head}\n\n{aligned(rows)}"


def _drink_text(found: Mapping[str, Any]) -> str:
    rows: list[Sequence[str]] = [("sitting", "date", "title", "coaster")]
    rows += [(one["sitting"], one["date"], one["title"], str(one["coaster"])) for one in found["sittings"]]
    style = f", {found['style']}" if found["style"] else ""
    return f"{found['name']}{style}, in {counted(len(found['sittings']), 'sitting')}\n\n{aligned(rows)}"
