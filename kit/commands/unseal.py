"""`facedown unseal`: breaks the seal of a kit's keys, on purpose."""

from __future__ import annotations

import json
from pathlib import Path

import click

from kit.errors import KitError
from kit.files import write_atomically
from kit.keys import OpenedKey, grouped
from kit.record import Kit, load_kit, opened_keys

FORMAT = "facedown-key/1"


@click.command("unseal")
@click.argument("folder", metavar="KIT", type=click.Path(path_type=Path))
@click.option("--json", "json_path", metavar="KEY.json", help="Write the keys to this file; - for standard output.")
def command(folder: Path, json_path: str | None) -> None:
    """Break the seal of a KIT and show every taster's key. Not before all claims are in."""
    kit = load_kit(folder)
    keys = opened_keys(kit)
    if not keys:
        raise KitError(
            f"{folder}: a hand sitting has no key.", "Its truth is under the coasters: fill in the turned sheets."
        )
    if json_path == "-":
        click.echo(_as_json(kit, keys), nl=False)
        return
    if json_path is not None:
        write_atomically(Path(json_path), _as_json(kit, keys))
    click.echo(f"Kit {kit.id}, {kit.session.title}: every key matches its seal code.")
    for key in keys:
        places = "  ".join(f"{place} {number}" for place, number in key.places.items())
        click.echo(f"  {kit.session.tasters[key.taster - 1].name:<24}  {places}   seal {grouped(key.seal)}")


def _as_json(kit: Kit, keys: tuple[OpenedKey, ...]) -> str:
    entry = {
        "format": FORMAT,
        "kit": kit.id,
        "keys": [{"taster": key.taster, "places": key.places, "salt": key.salt, "seal": key.seal} for key in keys],
    }
    return json.dumps(entry, ensure_ascii=False, indent=1) + "\n"
