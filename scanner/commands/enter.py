"""`facedown enter`: a sheet or an old result typed in."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import Any

import click

from kit.errors import ExitCode
from kit.record import load_kit
from kit.tables import printable
from scanner.archive.database import Archive, archive_at
from scanner.archive.store import kit_folder
from scanner.archive.typed import TypedSheet, enter, fields_of, load_typed, sheet_of, typed_from
from scanner.box_names import both, field_name, printed_on
from scanner.commands.archive_option import archive_option, now

JAPANESE_COMMA = "\u3001"


@click.command(
    "enter",
    epilog="""\b
FILE is TOML with as many sheets and results as you like:
    [[sheets]]                   # of a kit in the archive; what is not named is empty
    sheet = "K7Q4M2-0001-3"
    [sheets.marks]
    "match.A" = "3"
    "words.A" = ["pear", "melon"]
    [[results]]                  # an old result; date, taster, claims and truth suffice
    date    = 2025-11-02
    taster  = "ines"             # the id, or the name where there is none
    name    = "Ines"
    title   = "Before facedown"
    shuffle = "hand"
    drinks  = ["Heron Marsh", "Gull Rock", "Old Jetty"]
    claims  = {A = 3, B = 1}     # a place left out was left blank
    truth   = {A = 3, B = 2, C = 1}
    sure    = {A = "sure"}
""",
)
@archive_option
@click.option("--sheet", metavar="SHEET", help="Type in this sheet, such as K7Q4M2-0001-3: each field is asked for.")
@click.argument("files", metavar="[FILE...]", nargs=-1, type=click.Path(path_type=Path))
def command(archive: Path, sheet: str | None, files: tuple[Path, ...]) -> ExitCode:
    """Type sheets or old results into the archive, from FILEs or, without one, on the terminal.

    What is typed is marked as typed. Claims and what stood where are enough.
    """
    if files and sheet:
        raise click.UsageError("Name files or --sheet, not both.")
    if not files and not sys.stdin.isatty():
        raise click.UsageError("Name a file, or type at a terminal.")
    loaded = [(str(file), load_typed(file)) for file in files]
    left = False
    with archive_at(archive, write=True, create=True) as opened:
        if not files:
            asked = (_asked_sheet(opened, sheet.upper()),) if sheet else typed_from(_asked_result(), "typed")
            loaded = [("typed", asked)]
        # Whatever would be refused is refused before anything is entered.
        for _, typed in loaded:
            for one in typed:
                if isinstance(one, TypedSheet):
                    sheet_of(opened, one.sheet)
        for name, typed in loaded:
            for one in typed:
                what = enter(opened, one, now())
                left |= what == "conflict"
                named = one.sheet if isinstance(one, TypedSheet) else f"{one.date}, {one.taster}"
                result = "" if isinstance(one, TypedSheet) else f"  {one.correct} of {len(one.truth)}"
                click.echo(printable(f"{name}  {named}  {what}{result}"))
    return ExitCode.LOOK if left else ExitCode.DONE


def _asked_sheet(archive: Archive, sheet: str) -> TypedSheet:
    """Ask for every field of a sheet; Enter leaves it empty."""
    layout = sheet_of(archive, sheet)
    session = load_kit(kit_folder(archive.folder, sheet.partition("-")[0])).session
    printed = printed_on(session.drink, session.language)
    click.echo(f"Sheet {sheet}. Type what is crossed, several words with commas between; Enter for nothing.")
    english = {own: word for word, own in printed.items()}
    marks = {}
    for field, (pick, options) in fields_of(layout).items():
        click.echo(f"  {', '.join(both(option, printed) for option in options)}")
        while True:
            answer = str(
                click.prompt(field_name(field, printed) if pick == "one" else field, default="", show_default=False)
            )
            typed = {word.strip() for word in answer.replace(JAPANESE_COMMA, ",").split(",") if word.strip()}
            chosen = tuple(sorted(english.get(word, word) for word in typed))
            if all(one in options for one in chosen) and (pick == "many" or len(chosen) <= 1):
                break
            click.echo("  Not one of these." if pick == "many" else "  One of these, or Enter.")
        marks[field] = chosen
    return TypedSheet(sheet, marks)


def _asked_result() -> dict[str, Any]:
    """Ask for an old result."""
    day: datetime.datetime = click.prompt("Date", type=click.DateTime(["%Y-%m-%d"]))
    taster = click.prompt("Taster (the id, or the name where there is none)")
    title = click.prompt("Title", default="Typed in")
    glasses: int = click.prompt("Glasses", type=click.IntRange(3, 5))
    entry: dict[str, Any] = {"date": day.date(), "taster": taster, "title": title, "claims": {}, "truth": {}}
    drinks = [
        click.prompt(f"Drink on coaster {number} (Enter: not known)", default="", show_default=False)
        for number in range(1, glasses + 1)
    ]
    if all(drinks):
        entry["drinks"] = drinks
    for place in "ABCDE"[:glasses]:
        claim = click.prompt(f"Place {place}: number claimed (0: left blank)", type=click.IntRange(0, glasses))
        if claim:
            entry["claims"][place] = claim
    for place in "ABCDE"[:glasses]:
        entry["truth"][place] = click.prompt(f"Place {place}: number that stood there", type=click.IntRange(1, glasses))
    return {"results": [entry]}
