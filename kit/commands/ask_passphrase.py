"""The options by which a passphrase comes in: typed unseen, from a file, from the environment; never as an argument.

What stands on a command line is seen by everyone on the machine and kept by the shell.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from kit.errors import FacedownError
from kit.record import Kit

VARIABLE = "FACEDOWN_PASSPHRASE"
LONGEST_BYTES = 1024

Command = TypeVar("Command", bound=Callable[..., Any])


def passphrase_options(what: str) -> Callable[[Command], Command]:
    """Add `--passphrase` (parameter `ask`) and `--passphrase-file` (`passphrase_file`); `what` is the first's help."""

    def add(command: Command) -> Command:
        from_file = click.option(
            "--passphrase-file",
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="Take the passphrase from this file's first line.",
        )
        asked = click.option("--passphrase", "ask", is_flag=True, help=f"{what} Asked for, or from {VARIABLE}.")
        return asked(from_file(command))

    return add


def new_passphrase(*, ask: bool, passphrase_file: Path | None) -> str | None:
    """Return the passphrase to lock a new kit's keys with, typed twice if it is typed; None if none is wanted.

    Raises
    ------
    FacedownError
        If the file cannot be read, the passphrase is empty or was typed in two ways, or there is no terminal.
    """
    if not ask and passphrase_file is None:
        return None
    if (given := _given(passphrase_file)) is not None:
        return given
    first = _typed("Passphrase for the keys of this kit")
    if _typed("Once more") != first:
        raise FacedownError("The two passphrases are not the same.", "Print again, and type it with care.")
    return first


def known_passphrase(kit: Kit, *, ask: bool, passphrase_file: Path | None) -> str | None:
    """Return the passphrase of a kit; None where it has none, or nobody gives one.

    Raises
    ------
    FacedownError
        If the file cannot be read, the passphrase is empty, or there is no terminal.
    """
    if kit.lock is None:
        return None
    given = _given(passphrase_file)
    return _typed(f"Passphrase of kit {kit.id}") if given is None and ask else given


def _given(passphrase_file: Path | None) -> str | None:
    if passphrase_file is not None:
        return _not_empty(_first_line(passphrase_file), str(passphrase_file))
    in_environment = os.environ.get(VARIABLE)
    return None if in_environment is None else _not_empty(in_environment, f"The environment variable {VARIABLE}")


def _typed(prompt: str) -> str:
    if not sys.stdin.isatty():
        raise FacedownError(
            "There is no terminal to ask for the passphrase on.",
            f"Give --passphrase-file FILE, or put it into the environment variable {VARIABLE}.",
        )
    typed = click.prompt(prompt, hide_input=True, default="", show_default=False, err=True)
    return _not_empty(str(typed), "What you typed")


def _first_line(path: Path) -> str:
    try:
        with path.open("rb") as file:
            octets = file.read(LONGEST_BYTES + 1)
        line = octets.decode("utf-8-sig").split("\n")[0].removesuffix("\r")
    except FileNotFoundError as error:
        raise FacedownError(f"{path}: there is no such file.", "Name the file with the passphrase.") from error
    except (OSError, UnicodeDecodeError) as error:
        raise FacedownError(f"{path}: it cannot be read as text ({error}).", "Put the passphrase into it.") from error
    if len(octets) > LONGEST_BYTES:
        raise FacedownError(f"{path}: it is longer than {LONGEST_BYTES} bytes.", "Put the passphrase into it, alone.")
    return line


def _not_empty(passphrase: str, source: str) -> str:
    if not passphrase.strip():
        raise FacedownError(f"{source}: the passphrase is empty.", "An empty one keeps nothing; give another.")
    return passphrase
