"""`facedown print`: a session file in, a kit folder out; or one taster more into a kit printed before."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click
from click.core import ParameterSource

from kit.commands.ask_passphrase import known_passphrase, new_passphrase, passphrase_options
from kit.errors import FacedownError
from kit.files import write_atomically
from kit.packets import Contents, contents_json
from kit.print_report import added_lines, notes, printed_lines
from kit.print_run import AfterEach, HowToPrint, print_added, print_session, refuse_to_keep
from kit.record import KeysKept, load_kit
from kit.session import load_session

_LONG = 20
"""Tasters from which on a terminal shows how far the print has come."""
_GO_WITH_ADD = ("name", "taster_id", "address", "json_path", "ask", "passphrase_file", "keys_out", "source")


@click.command("print")
@click.argument("source", metavar="SESSION|KIT", type=click.Path(path_type=Path))
@click.option("--out", "folder", metavar="KIT", type=click.Path(path_type=Path), help="The kit folder to write.")
@click.option("--force", is_flag=True, help="Replace a kit folder that exists.")
@click.option("--packets", is_flag=True, help="Write a PDF for each packet as well, and a list of contents.")
@click.option("--json", "json_path", metavar="LIST.json", help="Write the list of contents; - for standard output.")
@click.option("--add", "name", metavar="NAME", help="Add a taster to a KIT printed before; no other key changes.")
@click.option("--add-id", "taster_id", metavar="ID", help="With --add: the taster's id.")
@click.option(
    "--add-address",
    "address",
    metavar="LINE",
    multiple=True,
    help="With --add, for kits by post: a line of the taster's address; once for each line.",
)
@passphrase_options("Lock the kit's keys with a passphrase.")
@click.option("--key-on-paper", is_flag=True, help="Keep no key in the kit: the printed ones are the only ones.")
@click.option(
    "--keys-out",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Where every paper that shows a key goes, with --passphrase or --key-on-paper.",
)
@click.pass_context
def command(
    ctx: click.Context,
    source: Path,
    folder: Path | None,
    force: bool,
    packets: bool,
    json_path: str | None,
    name: str | None,
    taster_id: str | None,
    address: tuple[str, ...],
    ask: bool,
    passphrase_file: Path | None,
    key_on_paper: bool,
    keys_out: Path | None,
) -> None:
    """Print the kit of a SESSION file: all papers as PDF, with the record that reading them back needs.

    With --add, print a KIT again with one taster more.
    """
    if name is not None:
        _refuse_beside_add(ctx)
        kit = load_kit(source)
        passphrase = known_passphrase(kit, ask=ask, passphrase_file=passphrase_file)
        how = HowToPrint(keys_out=keys_out, passphrase=passphrase)
        with _progress(len(kit.session.tasters) + 1) as after_each:
            contents = print_added(source, name, taster_id, how, after_each, address=address)
        _say(added_lines(source, contents, keys_out), contents, json_path, added=len(contents.kit.session.tasters))
        _note(notes(contents, keys_out=keys_out), json_path)
        return
    if folder is None:
        raise click.UsageError("Missing option '--out': the kit folder to write.")
    if taster_id is not None:
        raise click.UsageError("--add-id goes with --add.")
    if address:
        raise click.UsageError("--add-address goes with --add.")
    kept = _kept(locked=ask or passphrase_file is not None, on_paper=key_on_paper, keys_out=keys_out)
    session = load_session(source)
    refuse_to_keep(session, str(source), kept)
    if session.seed is not None:
        click.echo(
            f"facedown: {source} has a seed. Whoever knows the seed knows the keys: good for a rehearsal, "
            "not for a tasting. Take the line out and print again before you pour.",
            err=True,
        )
    passphrase = new_passphrase(ask=ask, passphrase_file=passphrase_file)
    how = HowToPrint("--force" if force else None, packets, keys_out, kept, passphrase)
    replaced = _kit_in(folder) if force else None
    with _progress(len(session.tasters)) as after_each:
        contents = print_session(session, str(source), folder, how, after_each)
    _say(printed_lines(folder, contents), contents, json_path)
    if replaced is not None:
        click.echo(
            f"facedown: kit {replaced} is replaced. Its keys are gone: throw away what was printed of it.", err=True
        )
    _note(notes(contents, keys_out=keys_out, drew_house=session.house is None), json_path)


def _refuse_beside_add(ctx: click.Context) -> None:
    """Refuse what a kit that is printed again has from its first print."""
    for option in ctx.command.params:
        given = ctx.get_parameter_source(option.name or "") is ParameterSource.COMMANDLINE
        if given and option.name not in _GO_WITH_ADD:
            raise click.UsageError(f"{option.opts[-1]} does not go with --add: the kit is printed again as it was.")


def _kit_in(folder: Path) -> str | None:
    """Return the id of the kit that the folder holds; None where there is none that can be read."""
    try:
        return load_kit(folder).id
    except FacedownError:
        return None


def _kept(*, locked: bool, on_paper: bool, keys_out: Path | None) -> KeysKept:
    """Return how the kit is to keep its keys."""
    if locked and on_paper:
        raise click.UsageError("--passphrase and --key-on-paper do not go together: with the second no key is kept.")
    if (locked or on_paper) and keys_out is None:
        option = "--key-on-paper" if on_paper else "--passphrase"
        raise click.UsageError(f"{option} needs --keys-out FILE: no paper that shows a key goes into the kit folder.")
    if keys_out is not None and not (locked or on_paper):
        raise click.UsageError("--keys-out goes with --passphrase or --key-on-paper.")
    return "passphrase" if locked else "paper" if on_paper else "masked"


@contextmanager
def _progress(tasters: int) -> Iterator[AfterEach]:
    """Show on a terminal how far a long print has come; say nothing in a pipe."""
    if tasters <= _LONG or not sys.stderr.isatty():
        yield lambda taster: None
        return
    with click.progressbar(length=tasters, label="printing", file=sys.stderr) as bar:
        yield lambda taster: bar.update(1)


def _say(lines: Iterable[str], contents: Contents, json_path: str | None, *, added: int | None = None) -> None:
    """Tell what was printed: as JSON to a file or standard output, else, or beside a file, in lines for people."""
    if json_path is not None:
        text = json.dumps(contents_json(contents, added), ensure_ascii=False, indent=1) + "\n"
        if json_path == "-":
            click.echo(text, nl=False)
            return
        write_atomically(Path(json_path), text)
    for line in lines:
        click.echo(line)


def _note(lines: Iterable[str], json_path: str | None) -> None:
    """Tell what has to be done; beside JSON on standard output, as a message."""
    for line in lines:
        click.echo(line, err=json_path == "-")
