"""What the commands that take kits have in common: nothing read is ever written over."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click

from kit.folder import KIT_FILES, PACKETS_FOLDER
from kit.record import RECORD_FILE


def refuse_to_overwrite(json_path: str | None, files: Iterable[Path | str]) -> None:
    """Refuse a --json that names one of the files given, or a file of any kit; `-` is standard output.

    Raises
    ------
    click.UsageError
        With the file named.
    """
    if json_path is None or json_path == "-":
        return
    target = Path(json_path).resolve()
    if target in {Path(file).resolve() for file in files}:
        raise click.UsageError(f"--json {json_path} would overwrite what is to be read; name another file.")
    folder = target.parent.parent if target.parent.name == PACKETS_FOLDER else target.parent
    is_of_kit = target.name in KIT_FILES or target.parent != folder
    if is_of_kit and (folder / RECORD_FILE).exists():
        raise click.UsageError(f"--json {json_path} would overwrite a file of a kit; name another file.")
