"""`facedown read`: scanned or photographed sheets in, a reading out."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from kit.codes import ROLE_DIGITS, sheet_id
from kit.errors import ExitCode, KitError
from kit.files import write_atomically
from kit.record import layout_of, load_kit
from kit.tables import aligned, printable
from scanner.box_names import ROLE_NAMES, box_name
from scanner.claims import where
from scanner.commands.archive_option import kit_folders_of, kit_or_archive_option, optional_archive_option
from scanner.commands.inputs import refuse_to_overwrite
from scanner.kits import KitOnFile, from_kit
from scanner.pile import LeftToLookAt, gathered, left_to_look_at, rows_sorted_out, sorted_out
from scanner.read_pile import read_files
from scanner.reading import Outcome, PageReading, PictureReading, Reading, State, to_json
from scanner.settle import Answer, BoxAnswer, RowAnswer, load_answers, settled, settled_rows

ASK = {"m": State.MARKED, "e": State.EMPTY, "w": State.WITHDRAWN}


@click.command(
    "read",
    epilog="""\b
Answers for --settle are a TOML file with an entry for each box, or for a sheet in two pictures that differ:
    [[settle]]
    sheet  = "K7Q4M2-0001-3"
    field  = "match.A"
    option = "3"
    state  = "marked"        # or "empty", or "withdrawn"
    [[settle]]
    sheet = "K7Q4M2-0002-1"
    keep  = "scan-2.jpg"     # and, in a file of several pages: page = 4
What stood in a taster's row of turned coasters, whatever else says otherwise:
    [[settle]]
    row   = "K7Q4M2-0001"    # kit and taster; picture = "row.jpg" where it does not tell whose row it is
    order = [3, 1, 2]        # from the row's left end
""",
)
@kit_or_archive_option
@optional_archive_option
@click.option("--json", "json_path", metavar="FILE", help="Write the reading to this file; - is standard output.")
@click.option(
    "--settle",
    "answers_path",
    metavar="ANSWERS.toml",
    type=click.Path(path_type=Path),
    help="Settle doubts and conflicts by the answers in this file.",
)
@click.option(
    "--jobs",
    type=click.IntRange(1, 64),
    default=lambda: os.cpu_count() or 1,
    show_default="one a processor",
    help="How many pages are read at once.",
)
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
def command(
    folders: tuple[Path, ...],
    archive: Path | None,
    json_path: str | None,
    answers_path: Path | None,
    jobs: int,
    files: tuple[str, ...],
) -> ExitCode:
    """Read filled sheets, rows of turned coasters and opened key sheets from scans or photographs: JPEG, PNG, WebP,
    HEIC, TIFF or PDF FILEs, in any order.

    Every page gives one line of the table. What the reader is not certain of is listed, and asked about on a terminal.
    """
    folders = kit_folders_of(folders, archive)
    kits = _kits(folders)
    refuse_to_overwrite(json_path, files)
    answers = load_answers(answers_path) if answers_path else ()
    pictures: list[PictureReading] = []
    try:
        for picture in _read_with_progress(files, kits, jobs):
            pictures.append(picture)
    except KeyboardInterrupt:
        if pictures and json_path is not None:
            _write(_reading(pictures, answers)[0], json_path)
            click.echo(f"facedown: interrupted; what was read so far is kept, pages: {len(pictures)}.", err=True)
        raise
    reading, unused = _reading(pictures, answers)
    if _can_ask() and json_path != "-":
        reading = _reading(pictures, [*answers, *_asked(reading, kits)])[0]
    if json_path is not None:
        _write(reading, json_path)
    left = list(left_to_look_at(reading, {kit.id: kit.printed for kit in kits.values()}))
    if json_path == "-":
        _say_left(left, unused, err=True)
    else:
        click.echo(pages_table(reading, kits))
        _say_left(left, unused, err=False)
    if all(picture.source_page is None for picture in pictures):
        return ExitCode.REFUSED
    return ExitCode.LOOK if left or unused else ExitCode.DONE


def pages_table(reading: Reading, kits: dict[str, KitOnFile]) -> str:
    """Return a line for each page: where it was, whose it is, what became of it, and what deserves notice."""
    rows = [("picture", "sheet", "taster", "what", "outcome", "to look at", "remarks")]
    for page in reading.pages:
        kit = kits.get(page.kit or "")
        name = kit.tasters.get(page.taster or 0, "") if kit else ""
        doubts = len(list(left_to_look_at(Reading((page,)))))
        rows.append(
            (
                where(page),
                page.sheet or "",
                name,
                ROLE_NAMES.get(page.role or "", "") if kit else "",
                page.outcome.value,
                str(doubts) if doubts else "",
                "; ".join(page.remarks),
            )
        )
    for row in reading.turned:
        kit = kits.get(row.kit or "")
        name = kit.tasters.get(row.taster or 0, "") if kit else ""
        order = " ".join(map(str, row.order or ()))
        left = "" if row.outcome in (Outcome.READ, Outcome.REPEAT) else "1"
        rows.append((where(row), row.kit or "", name, "turned coasters", row.outcome.value, left, order))
    for key in reading.opened:
        kit = kits.get(key.kit)
        name = kit.tasters.get(key.taster, "") if kit else ""
        is_read = key.outcome is Outcome.READ
        sheet = sheet_id(key.kit, key.taster, ROLE_DIGITS["key"])
        told = "it is the key that was sealed" if is_read else ""
        rows.append((where(key), sheet, name, "opened key", key.outcome.value, "" if is_read else "1", told))
    return printable(aligned(rows))


def _reading(pictures: Sequence[PictureReading], answers: Sequence[Answer]) -> tuple[Reading, tuple[Answer, ...]]:
    pile = gathered(pictures)
    pages, unused_on_pages = settled(pile.pages, answers)
    rows, unused_on_rows = settled_rows(pile.turned, answers)
    pages = sorted_out(pages)
    return Reading(pages, rows_sorted_out(rows, pages), pile.opened), (*unused_on_pages, *unused_on_rows)


def _kits(folders: Sequence[Path]) -> dict[str, KitOnFile]:
    kits: dict[str, KitOnFile] = {}
    for folder in folders:
        kit = load_kit(folder)
        if kit.id in kits:
            raise KitError(f"{folder}: kit {kit.id} is given twice.", "Give each kit folder once.")
        kits[kit.id] = from_kit(kit, layout_of(folder))
    return kits


def _read_with_progress(files: Sequence[str], kits: dict[str, KitOnFile], jobs: int) -> Iterator[PictureReading]:
    """Yield the pages' readings, with a bar on a terminal."""
    if not sys.stderr.isatty():
        yield from read_files(files, kits, jobs)
        return
    with click.progressbar(length=len(files), label="reading", file=sys.stderr) as bar:

        def told_total(pages: int) -> None:
            bar.length = pages

        for page in read_files(files, kits, jobs, told_total=told_total):
            bar.update(1)
            yield page


def _write(reading: Reading, json_path: str) -> None:
    entry = json.dumps(to_json(reading), ensure_ascii=False, indent=1) + "\n"
    if json_path == "-":
        click.echo(entry, nl=False)
    else:
        write_atomically(Path(json_path), entry.encode(errors="backslashreplace"))


def _say_left(left: Sequence[LeftToLookAt], unused: Sequence[Answer], *, err: bool) -> None:
    if not left and not unused:
        return
    click.echo("\nLeft to look at", err=err)
    for one in left:
        sheet = f", sheet {one.page.sheet}" if isinstance(one.page, PageReading) and one.page.sheet else ""
        click.echo(printable(f"  {where(one.page)}{sheet}: {one.what}"), err=err)
    for answer in unused:
        what = "row" if isinstance(answer, RowAnswer) else "sheet"
        click.echo(printable(f"  an answer for {what} {answer.sheet} names nothing in this pile"), err=err)


def _can_ask() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _asked(reading: Reading, kits: dict[str, KitOnFile]) -> list[BoxAnswer]:
    """Ask about every doubtful box; an empty answer leaves it as it is, q leaves all the others."""
    left = [
        (one.page, one.marks)
        for one in left_to_look_at(reading)
        if one.marks and isinstance(one.page, PageReading) and one.page.outcome is not Outcome.FOREIGN
    ]
    if not left:
        return []
    click.echo(f"{sum(len(marks) for _, marks in left)} boxes need a look. Have the sheets at hand. For each box:")
    click.echo("  m marked   e empty   w withdrawn (blacked out)   Enter leaves it   q leaves all the rest\n")
    answers: list[BoxAnswer] = []
    for page, marks in left:
        for mark in marks:
            kit = kits[page.kit or ""]
            place = _place_on_page(kit, page, mark.field, mark.option)
            because = f" ({mark.reason})" if mark.reason else ""
            question = f"{where(page)}, {box_name(mark.field, mark.option, kit.printed)}, {place}{because}"
            answer = _answer(printable(question))
            if answer == "q":
                return answers
            if answer in ASK:
                answers.append(BoxAnswer(page.sheet or "", mark.field, mark.option, ASK[answer]))
    return answers


def _answer(question: str) -> str:
    """Ask until the answer is one of the letters; breaking off counts as q, so that what was read is still written."""
    while True:
        try:
            answer: str = click.prompt(question, default="", show_default=False, prompt_suffix=": ").strip().lower()
        except click.Abort:
            return "q"
        if answer in ("", "q", *ASK):
            return answer
        click.echo("  m, e, w, q or Enter.")


def _place_on_page(kit: KitOnFile, page: PageReading, field: str, option: str) -> str:
    box = next(b for b in kit.sheets[page.sheet or ""].marks if (b.field, b.option) == (field, option))
    return f"{box.x_mm:.0f} mm from the left, {box.y_mm:.0f} mm from the top"
