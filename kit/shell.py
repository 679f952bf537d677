"""The command `facedown`: the table of its commands, and where errors become sentences and exit statuses."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from typing import Any, NoReturn

import click

from kit.errors import ExitCode, FacedownError
from kit.files import storage_error
from kit.lazy_group import LazyGroup

COMMANDS = {
    "new": ("kit.commands.new:command", "Write a session file to edit."),
    "check": ("kit.commands.check:command", "Check a session file and show what the sitting needs."),
    "print": ("kit.commands.print_kit:command", "Print a session's kit: forms, coasters, sealed keys."),
    "unseal": ("kit.commands.unseal:command", "Break the seal of a kit's keys, on purpose."),
    "seal": ("kit.commands.seal:command", "List a kit's seal codes, and check keys against them."),
    "read": ("scanner.commands.read:command", "Read scanned or photographed sheets."),
    "score": ("scanner.commands.score:command", "Score what was read."),
    "luck": ("scanner.commands.luck:command", "Say what luck alone explains, over many sittings."),
    "ability": ("scanner.commands.ability:command", "Say how able a taster is, and whether that changed."),
    "notes": ("scanner.commands.notes:command", "Compare a taster's notes of both rounds."),
    "table": ("scanner.commands.table:command", "Compare the tasters' words for the same drink."),
    "confusions": ("scanner.commands.confusions:command", "Count which drinks were taken for which."),
    "suggest": ("scanner.commands.suggest:command", "Suggest from a cellar list what to pour next."),
    "report": ("scanner.commands.report:command", "Print results on paper: slips, the table's sheet, progress."),
    "archive": ("scanner.commands.archive:command", "Keep kits, scans and readings, and lose nothing."),
    "enter": ("scanner.commands.enter:command", "Type in a sheet or an old result."),
    "review": ("scanner.commands.review:command", "Look at what the reader doubts, and settle it."),
    "rehearse": ("scanner.commands.rehearse:command", "Rehearse reading, simulated or with your own camera."),
    "demo": ("scanner.commands.demo:command", "Show the whole way on an invented club's sheets."),
    "doctor": ("scanner.commands.doctor:command", "Tell which parts of this installation are in use."),
}
"""Name → where the command is defined, imported when it is called, and its line in the help."""


class Shell(LazyGroup):
    """The commands, with every error said in a sentence."""

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:
        """Read the group's own options; `--help` and `--version` are answered here."""
        with _errors_as_sentences():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command called; an ExitCode that it returns becomes the status."""
        with _errors_as_sentences():
            result = super().invoke(ctx)
            if isinstance(result, ExitCode):
                ctx.exit(result)
            return result


@contextlib.contextmanager
def _errors_as_sentences() -> Iterator[None]:
    """Turn whatever is raised inside into a message on stderr and `click.exceptions.Exit` with its status."""
    try:
        yield
        if sys.stdout is not None:
            sys.stdout.flush()
    except (click.exceptions.Exit, click.UsageError):
        raise
    except FacedownError as error:
        _leave(error.exit_code, error.message, error.hint)
    except click.ClickException as error:
        _leave(ExitCode.REFUSED, error.format_message())
    except BrokenPipeError:
        _let_go_of_stdout()
        raise click.exceptions.Exit(ExitCode.INTERRUPTED) from None
    except OSError as error:
        refusal = storage_error(error)
        _leave(refusal.exit_code, refusal.message, refusal.hint)
    except (KeyboardInterrupt, EOFError, click.Abort):
        _leave(ExitCode.INTERRUPTED, "interrupted; what was done is kept.")
    except Exception as error:
        if os.environ.get("FACEDOWN_DEBUG") == "1":
            import traceback

            traceback.print_exc()
        _leave(
            ExitCode.DEFECT,
            f"this is a defect of the program, not of your files ({type(error).__name__}: {error}).",
            "Run the command again with FACEDOWN_DEBUG=1 in the environment, and report what it prints.",
        )


def _leave(status: ExitCode, message: str, hint: str = "") -> NoReturn:
    with contextlib.suppress(OSError):
        click.echo("\n".join(f"facedown: {line}" for line in message.splitlines()), err=True)
        if hint:
            click.echo(hint, err=True)
    _let_go_of_stdout_if_stuck()
    raise click.exceptions.Exit(status) from None


def _let_go_of_stdout_if_stuck() -> None:
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError:
        _let_go_of_stdout()


def _let_go_of_stdout() -> None:
    # Python flushes stdout once more on its way out: let it go where nothing can refuse it.
    with contextlib.suppress(OSError, ValueError):
        stdout = sys.stdout.fileno()
        os.dup2(os.open(os.devnull, os.O_WRONLY), stdout)


def _print_version(ctx: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked and not ctx.resilient_parsing:
        from importlib.metadata import PackageNotFoundError, version  # slow to load, and needed here alone

        try:
            number = version("facedown")
        except PackageNotFoundError:
            number = "not installed, run from its source"
        click.echo(f"facedown {number}")
        ctx.exit()


@click.group(cls=Shell, lazy=COMMANDS, name="facedown", context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_version,
    help="Show the version.",
)
def main() -> None:
    """Print all that a blind matching exercise needs, read the filled sheets back, score them."""
    for stream in (sys.stdout, sys.stderr):
        # What goes to a file or another program is UTF-8, wherever it runs; a terminal shows what it can.
        if stream is not None and hasattr(stream, "reconfigure"):
            if stream.isatty():
                stream.reconfigure(errors="backslashreplace")
            else:
                stream.reconfigure(encoding="utf-8", errors="backslashreplace")


if __name__ == "__main__":
    main()
