"""`facedown review`: what the reader doubts, settled by a person, one by one."""

from __future__ import annotations

import os
import shutil
import sys
import webbrowser
from pathlib import Path

import click

from kit.errors import ExitCode, StorageError
from kit.tables import counted
from scanner.archive.database import archive_at
from scanner.commands.archive_option import archive_option, now, user_name

MOST_COLUMNS, MOST_LINES = 72, 30
LINES_OF_TEXT = 12
"""Beside the picture, of a terminal's lines."""


@click.command(
    "review",
    epilog="""\b
Keys: y yes   n no   t taken back   s skip   u undo   w whole sheet
With --terminal also q to end. Over a pipe: one answer a line.
""",
)
@archive_option
@click.option("--terminal", is_flag=True, help="Ask here in the terminal, not in the browser.")
@click.option("--no-browser", is_flag=True, help="Only say the address, and open no browser.")
@click.option("--handwriting", is_flag=True, help="Type up handwriting instead.")
@click.option("--by", "who", metavar="NAME", help="Who answers; left out, the name of the computer's user.")
def command(archive: Path, terminal: bool, no_browser: bool, handwriting: bool, who: str | None) -> ExitCode:
    """Look at what the reader doubts, one box or conflict at a time, in the browser.

    The page is on this computer alone (127.0.0.1), under an address that nobody can guess. Every answer is saved at
    once, so that it can be closed at any time.
    """
    name = who or user_name()
    with archive_at(archive, write=True):
        pass  # what is no archive, or may not be written to, is refused before a page is opened
    left = _in_terminal(archive, name, handwriting) if terminal else _in_browser(archive, name, no_browser, handwriting)
    return ExitCode.LOOK if left else ExitCode.DONE


def _in_browser(archive: Path, who: str, no_browser: bool, handwriting: bool) -> int:
    from scanner.review.desk import queue_of
    from scanner.review.serve import review_server, serve

    try:
        server, guard, desk = review_server(archive, who, now)
    except OSError as error:
        raise StorageError(f"No port on 127.0.0.1 is to be had ({error}).", "Use --terminal.") from error
    address = guard.address + ("writing/" if handwriting else "")
    click.echo(address)
    click.echo("Ctrl-C ends it. Who has this address can see and answer all of it: keep it to yourself.", err=True)
    if not no_browser and not webbrowser.open(address):
        click.echo("No browser could be opened: open the address yourself, or use --terminal.", err=True)
    serve(server)
    with archive_at(archive) as opened:
        left = len(queue_of(opened))
    click.echo(f"\n{counted(len(desk.decisions), 'doubt')} settled, {left} left.", err=True)
    return left


def _in_terminal(archive: Path, who: str, handwriting: bool) -> int:
    from kit.wording import load_wording
    from scanner.review.terminal import Screen, review_in_terminal, type_up_in_terminal

    is_terminal = sys.stdin.isatty() and sys.stdout.isatty()
    size = shutil.get_terminal_size()
    screen = Screen(
        say=click.echo,
        ask=_key_or_line,
        columns=max(20, min(MOST_COLUMNS, size.columns - 1)),
        lines=max(8, min(MOST_LINES, size.lines - LINES_OF_TEXT)) if is_terminal else MOST_LINES,
        colours=is_terminal and "NO_COLOR" not in os.environ and os.environ.get("TERM", "dumb") != "dumb",
    )
    ask_about = type_up_in_terminal if handwriting else review_in_terminal
    with archive_at(archive, write=True) as opened:
        return ask_about(opened, screen, who, now, load_wording("en"))


def _line(prompt: str) -> str | None:
    click.echo(prompt, nl=False)
    line = sys.stdin.readline()
    if not sys.stdin.isatty():
        click.echo(line.rstrip("\r\n"))
    return line.rstrip("\r\n") if line else None


def _key_or_line(prompt: str, whole_line: bool) -> str | None:
    """Take a single key at a terminal, but for what needs more, such as an order of coasters."""
    if whole_line or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return _line(prompt)
    click.echo(prompt, nl=False)
    key = click.getchar()
    click.echo(key if key.isprintable() else "")
    return key
