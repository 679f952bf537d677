"""What the commands that take kits have in common: nothing read is ever written over."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click

from kit.folder import KIT_FILES, PACKETS_FOLDER


def refuse_to_overwrite(json_path: str | None, folders: Iterable[Path], files: Iterable[Path | str]) -> None:
    """Refuse a --json that names one of the files given or a file of a kit; `-` is standard output.

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
    for folder in folders:
        of_kit = {(folder / name).resolve() for name in KIT_FILES}
        if target in of_kit or target.parent == (folder / PACKETS_FOLDER).resolve():
            raise click.UsageError(f"--json {json_path} would overwrite a file of the kit {folder}; name another file.")
