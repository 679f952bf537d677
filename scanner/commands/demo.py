"""`facedown demo`: the whole way on the samples, from the printed kit to the scores."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import click

from kit.build import build_kit, chance_for
from kit.contents import kit_contents
from kit.errors import ExitCode, FacedownError
from kit.folder import write_folder
from kit.record import layout_of, load_kit, opened_keys
from kit.session import load_session
from scanner.commands.read import pages_table
from scanner.commands.score import scores_text
from scanner.kits import from_kit
from scanner.pile import gathered, sorted_out
from scanner.read_pile import read_files
from scanner.reading import Outcome, Reading, State
from scanner.score import scores
from scanner.what_stood import Sitting

PILE_KINDS = {".pdf", ".jpg", ".heic"}


@click.command("demo")
@click.option(
    "--out",
    "folder",
    metavar="KIT",
    default="demo-kit",
    show_default=True,
    type=click.Path(path_type=Path),
    help="Where the kit's papers are written.",
)
@click.option("--force", is_flag=True, help="Replace a kit folder of another sitting that stands there.")
def command(folder: Path, force: bool) -> ExitCode:
    """Show the whole way on an invented club's sitting: print its kit, read its filled sheets, score them."""
    samples = _samples()
    session = load_session(samples / "winter.toml")
    chance = chance_for(session)
    kit = build_kit(session, chance)
    write_folder(folder, kit_contents(kit, chance), force=force or _is_demo(folder, kit.id))
    files = sorted(path for path in samples.iterdir() if path.suffix in PILE_KINDS)
    click.echo(f"Printed the kit of {samples / 'winter.toml'}; now reading {len(files)} files of filled sheets …\n")

    kit_on_file = from_kit(kit, layout_of(folder))
    pile = gathered(read_files(files, {kit.id: kit_on_file}, os.cpu_count() or 1))
    reading = _without_folders(Reading(sorted_out(pile.pages)))
    click.echo(pages_table(reading, {kit.id: kit_on_file}))
    click.echo(
        "\n" + scores_text(scores([Sitting(kit.id, session, layout_of(folder), opened_keys(kit))], {"": reading}))
    )
    click.echo("\n" + _ending(reading, folder))
    return ExitCode.DONE


def _samples() -> Path:
    """Return where the samples are: beside the packages in a checkout, within them when installed from a wheel."""
    scanner = Path(__file__).parent.parent
    for place in (scanner.parent / "samples", scanner / "samples"):
        if (place / "winter.toml").is_file():
            return place
    raise FacedownError("The samples are not installed.", "Run the demo in a copy of the project's folder.")


def _is_demo(folder: Path, kit_id: str) -> bool:
    """Tell whether the folder holds this very kit from an earlier demo."""
    try:
        return load_kit(folder).id == kit_id
    except FacedownError:
        return False


def _without_folders(reading: Reading) -> Reading:
    return replace(reading, pages=tuple(replace(page, source=Path(page.source).name) for page in reading.pages))


def _ending(reading: Reading, folder: Path) -> str:
    boxes = [mark for page in reading.pages for mark in page.marks]
    doubtful = sum(mark.state is State.DOUBTFUL for mark in boxes)
    strangers = sum(page.outcome is Outcome.FOREIGN for page in reading.pages)
    return (
        f"{len(boxes):,} boxes were read, {doubtful} are left for a person; pages of another kit: {strangers}.\n"
        "That is how it should be: the samples have a stranger's page and a missing sheet on purpose.\n\n"
        f"Now open {folder / 'forms.pdf'} (the tasters' sheets), {folder / 'host.pdf'} (the host's papers),\n"
        f"{folder / 'coasters.pdf'} and {folder / 'keys.pdf'}. Your own sitting begins with: facedown new friday.toml"
    )
