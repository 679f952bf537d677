"""`facedown print`: a session file in, a kit folder out."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path

import click

from kit.build import build_kit, chance_for
from kit.contents import kit_contents, unprintable
from kit.errors import FacedownError
from kit.folder import write_folder
from kit.session import load_session

WHAT = {
    "forms.pdf": "the tasters' sheets; print at 100 %, one side only",
    "coasters.pdf": "coaster labels and row-end cards",
    "host.pdf": "pour sheet, run sheet, table check list",
    "keys.pdf": "the sealed keys; fold them before anybody reads them",
    "kit.json": "the kit's record; keep it, `read` and `score` need it",
    "layout.json": "where every box is printed; keep it too",
}


@click.command("print")
@click.argument("session_file", metavar="SESSION", type=click.Path(path_type=Path))
@click.option(
    "--out", "folder", metavar="KIT", required=True, type=click.Path(path_type=Path), help="The kit folder to write."
)
@click.option("--force", is_flag=True, help="Replace a kit folder that exists.")
def command(session_file: Path, folder: Path, force: bool) -> None:
    """Print the kit of a SESSION file: all papers as PDF, with the record that reading them back needs."""
    session = load_session(session_file)
    if missing := unprintable(session):
        places = "; ".join(f"in {text!r} the fonts have no shape for {marks!r}" for text, marks in missing.items())
        raise FacedownError(
            f"{session_file}: {places}.",
            "Write it in Latin letters, kana or kanji.",
        )
    if session.seed is not None:
        click.echo(
            f"facedown: {session_file} has a seed. Whoever knows the seed knows the keys: good for a rehearsal, "
            "not for a tasting. Take the line out and print again before you pour.",
            err=True,
        )
    if len(session.tasters) > 20 and sys.stderr.isatty():
        click.echo(f"facedown: printing the papers of {len(session.tasters)} tasters …", err=True)
    chance = chance_for(session)
    kit = build_kit(session, chance)
    contents = kit_contents(kit, chance)
    write_folder(folder, contents, force=force)
    tasters = len(session.tasters)
    click.echo(f"Kit {kit.id}: {session.glasses} glasses, {tasters} taster{'s' * (tasters > 1)}, written to {folder}")
    for name in contents:
        click.echo(f"  {name:<13}{WHAT[name]}")
    click.echo(f"Afterwards: facedown read --kit {shlex.quote(str(folder))} --json reading.json SCANS…")
