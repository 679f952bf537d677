"""`facedown seal`: lists a kit's seal codes, and tells whether a key is the one that was sealed."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from kit.errors import ExitCode, KitError
from kit.files import write_atomically
from kit.keys import grouped
from kit.record import Kit, load_kit
from kit.tables import aligned, printable
from kit.told_keys import ToldKey, is_the_sealed_one, load_told_keys, typed_key

FORMAT = "facedown-seals/1"
KEPT = {
    "masked": "masked in kit.json: not to be read by accident, but by anyone who means to",
    "passphrase": "in kit.json, locked with a passphrase",
    "paper": "on the printed key sheets alone",
}
ANSWER = {True: "the key that was sealed", False: "NOT the key that was sealed", None: ""}


@click.command("seal")
@click.argument("folder", metavar="KIT", type=click.Path(path_type=Path))
@click.option(
    "--key",
    "key_paths",
    metavar="KEY.json",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Check the keys in this file of `facedown unseal`, or the opened key sheets in a reading.",
)
@click.option(
    "--taster", type=click.IntRange(1), metavar="NUMBER", help="Whose a typed key is; with --order and --salt."
)
@click.option("--order", metavar="NUMBERS", help="Its coaster numbers from place A on, as 3,1,2.")
@click.option("--salt", metavar="SALT", help="The salt that is printed with it.")
@click.option("--json", "json_path", metavar="FILE", help="Write it as JSON to this file; - for standard output.")
def command(
    folder: Path,
    key_paths: tuple[Path, ...],
    taster: int | None,
    order: str | None,
    salt: str | None,
    json_path: str | None,
) -> ExitCode:
    """List the seal codes of a KIT; with keys, say of each whether it is the key that was sealed.

    No seal is broken, and no key is shown. The codes are printed at the foot of every sheet of a taster.
    """
    kit = load_kit(folder)
    if not kit.sealed:
        raise KitError(
            f"{folder}: a hand sitting has no key, so nothing is sealed.", "Its truth is under the coasters."
        )
    told = [one for path in key_paths for one in load_told_keys(path, kit)]
    if taster is not None and order is not None and salt is not None:
        told.append(typed_key(taster, order, salt, kit))
    elif (taster, order, salt) != (None, None, None):
        raise click.UsageError("A typed key needs all three: --taster, --order and --salt.")
    answers = _answers(kit, told)
    entry = json.dumps(_as_json(kit, answers), ensure_ascii=False, indent=1) + "\n"
    if json_path == "-":
        click.echo(entry, nl=False)
    else:
        if json_path is not None:
            write_atomically(Path(json_path), entry)
        click.echo(printable(_as_text(kit, answers)))
    if key_paths and not told:
        click.echo(f"facedown: no key of kit {kit.id} is in {', '.join(map(str, key_paths))}.", err=True)
        return ExitCode.LOOK
    return ExitCode.REFUSED if False in answers.values() else ExitCode.DONE


def _answers(kit: Kit, told: Sequence[ToldKey]) -> dict[int, bool | None]:
    """Return for each taster whether all keys told are the sealed one; None where none was told."""
    checked: dict[int, list[bool]] = defaultdict(list)
    for one in told:
        checked[one.taster].append(is_the_sealed_one(one, kit))
    numbers = range(1, len(kit.sealed) + 1)
    return {number: all(checked[number]) if number in checked else None for number in numbers}


def _as_text(kit: Kit, answers: Mapping[int, bool | None]) -> str:
    def rows() -> Iterator[tuple[str, ...]]:
        yield "", "taster", "seal code", "" if set(answers.values()) == {None} else "the key given is"
        for number, answer in answers.items():
            name, seal = kit.session.tasters[number - 1].name, kit.seals[number - 1]
            yield str(number), name, grouped(seal), ANSWER[answer]

    heading = f"Kit {kit.id}, {kit.session.title}. Its keys are {KEPT[kit.keys_kept]}."
    return f"{heading}\n{aligned(list(rows()))}"


def _as_json(kit: Kit, answers: Mapping[int, bool | None]) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "kit": kit.id,
        "keys_kept": kit.keys_kept,
        "seals": [
            {
                "taster": number,
                "name": kit.session.tasters[number - 1].name,
                "seal": kit.seals[number - 1],
                "is_sealed_key": answer,
            }
            for number, answer in answers.items()
        ],
    }
