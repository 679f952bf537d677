"""What the commands that take kits have in common: nothing read is ever written over."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click

from kit.record import LAYOUT_FILE, RECORD_FILE


def refuse_to_overwrite(json_path: str | None, folders: Iterable[Path], files: Iterable[Path | str]) -> None:
    """Refuse a --json that names one of the files given or a record of a kit; `-` is standard output.

    Raises
    ------
    click.UsageError
        With the file named.
    """
    if json_path is None or json_path == "-":
        return
    sources = [*map(Path, files), *(folder / name for folder in folders for name in (RECORD_FILE, LAYOUT_FILE))]
    if Path(json_path).resolve() in {source.resolve() for source in sources}:
        raise click.UsageError(f"--json {json_path} would overwrite what is to be read; name another file.")
