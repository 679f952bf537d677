"""`facedown report`: results on paper. Its commands are imported when they are called."""

from __future__ import annotations

import click

from kit.lazy_group import LazyGroup

COMMANDS = {
    "slip": ("scanner.commands.report_slip:command", "One page for each taster of a sitting."),
    "table": ("scanner.commands.report_table:command", "One sheet for the host: all tasters of a sitting."),
    "progress": ("scanner.commands.report_progress:command", "One taster over time, or a whole club."),
}
"""Name → where the command is defined, and its line in the help."""


@click.group("report", cls=LazyGroup, lazy=COMMANDS)
def command() -> None:
    """Print results on paper, as PDF: black and white, A4 or Letter, every page with its kit, seal code and date."""
