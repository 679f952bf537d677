"""`facedown unseal`: breaks the seal of a kit's keys, on purpose."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import click

from kit.commands.ask_passphrase import known_passphrase, passphrase_options
from kit.errors import ExitCode, KitError
from kit.files import write_atomically
from kit.keys import OpenedKey, grouped
from kit.record import Kit, load_kit, opened_keys
from kit.told_keys import KEY_FORMAT, load_told_keys, opened_by

WHY_WAIT = {
    "shared": "kit {kit} has one key for the whole table: whoever learns it before the claims are in can claim by it",
    "balanced": "the keys of kit {kit} are balanced, so each tells of the others': whoever learns one before the "
    "claims are in can claim by it",
}


@click.command("unseal")
@click.argument("folder", metavar="KIT", type=click.Path(path_type=Path))
@click.option("--json", "json_path", metavar="KEY.json", help="Write the keys to this file; - for standard output.")
@passphrase_options("The keys are locked with a passphrase.")
@click.option(
    "--reading",
    "readings",
    metavar="READING",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Take the keys from opened key sheets that `facedown read` read; give the option once for each file.",
)
@click.option("--claims-in", is_flag=True, help="All claims are in: needed where one key tells of another's.")
def command(
    folder: Path,
    json_path: str | None,
    ask: bool,
    passphrase_file: Path | None,
    readings: tuple[Path, ...],
    claims_in: bool,
) -> ExitCode:
    """Break the seal of a KIT and show every taster's key. Not before all claims are in.

    Each key is held against the seal code that was printed on the sheets before the tasting.
    """
    kit = load_kit(folder)
    if not kit.sealed:
        raise KitError(
            f"{folder}: a hand sitting has no key.", "Its truth is under the coasters: fill in the turned sheets."
        )
    if kit.session.keys in WHY_WAIT and not claims_in:
        raise KitError(
            f"{folder}: {WHY_WAIT[kit.session.keys].format(kit=kit.id)}.",
            "When every taster's match sheet is handed in, say so with --claims-in.",
        )
    if readings:
        keys = _from_readings(kit, readings)
    else:
        keys = opened_keys(kit, known_passphrase(kit, ask=ask, passphrase_file=passphrase_file))
    missing = [number for number in range(1, len(kit.sealed) + 1) if number not in {key.taster for key in keys}]
    if json_path == "-":
        click.echo(_as_json(kit, keys), nl=False)
    else:
        if json_path is not None:
            write_atomically(Path(json_path), _as_json(kit, keys))
        _show(kit, keys)
    for number in missing:
        name = kit.session.tasters[number - 1].name
        click.echo(f"facedown: no opened key sheet of {name} (taster {number}) was read.", err=True)
    return ExitCode.LOOK if missing else ExitCode.DONE


def _from_readings(kit: Kit, readings: Sequence[Path]) -> tuple[OpenedKey, ...]:
    keys = {told.taster: opened_by(told, kit, str(path)) for path in readings for told in load_told_keys(path, kit)}
    return tuple(keys[number] for number in sorted(keys))


def _show(kit: Kit, keys: Sequence[OpenedKey]) -> None:
    if keys:
        click.echo(f"Kit {kit.id}, {kit.session.title}: every key matches its seal code.")
    for key in keys:
        places = "  ".join(f"{place} {number}" for place, number in key.places.items())
        click.echo(f"  {kit.session.tasters[key.taster - 1].name:<24}  {places}   seal {grouped(key.seal)}")


def _as_json(kit: Kit, keys: Sequence[OpenedKey]) -> str:
    entry = {
        "format": KEY_FORMAT,
        "kit": kit.id,
        "keys": [{"taster": key.taster, "places": key.places, "salt": key.salt, "seal": key.seal} for key in keys],
    }
    return json.dumps(entry, ensure_ascii=False, indent=1) + "\n"
