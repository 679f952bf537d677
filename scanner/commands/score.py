"""`facedown score`: how many claims were right, and how often a guesser does as well."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import click

from kit.errors import ExitCode
from kit.files import write_atomically
from kit.tables import aligned, printable
from scanner.commands.given_sittings import given_sittings, takes_sittings
from scanner.commands.inputs import refuse_to_overwrite
from scanner.score import Scores, TasterScore, scores
from scanner.score_json import to_json
from scanner.table_score import TableScore
from scanner.tameness import sentence
from scanner.what_stood import Sitting

BY_KEY = "What stood where is by the sealed keys; each key matches its seal code."
BY_PAPER = "What stood where is by the opened key sheets that were read; each key matches its seal code."
SEALED = "The keys stay sealed until all claims are in."
TRUTH = {
    "host": BY_KEY,
    "twin": BY_KEY,
    "hand": """\
What stood where is as filled in, or photographed, when the coasters were turned over.
The glasses were mixed by hand. That every order was equally likely is an assumption
about people's mixing; the chances below are as good as it is.""",
}

SETTLE = "(Marks are settled by `facedown read --settle ANSWERS.toml`; then score the new reading.)"


@click.command("score")
@click.option(
    "--json", "json_path", metavar="FILE", help="Write the scores as JSON to this file; - is standard output."
)
@takes_sittings
def command(json_path: str | None, archive: Path | None, files: tuple[Path, ...], **given: Any) -> ExitCode:
    """Score every taster of the kits from READING files, as `facedown read` wrote them, or from an archive's sheets."""
    sittings, readings = given_sittings(archive=archive, files=files, **given)
    refuse_to_overwrite(json_path, files)
    result = scores(list(sittings.values()), readings)
    entry = json.dumps(to_json(result), ensure_ascii=False, indent=1) + "\n"
    if json_path == "-":
        click.echo(entry, nl=False)
        for left in result.left_to_look_at:
            click.echo(f"facedown: {printable(left)}", err=True)
    else:
        click.echo(scores_text(result))
        if json_path is not None:
            write_atomically(Path(json_path), entry.encode(errors="backslashreplace"))
    return ExitCode.LOOK if result.left_to_look_at else ExitCode.DONE


def scores_text(result: Scores) -> str:
    """Return the scores for people: a table and the remarks for each kit, then what is left to look at."""
    blocks = [
        _sitting_text(sitting, [taster for taster in result.tasters if taster.kit == sitting.kit], table)
        for sitting, table in zip(result.sittings, result.tables, strict=True)
    ]
    if result.tame:
        blocks.append("Hand shuffles\n" + _lines(f"{who}: {sentence(result.shuffles[who])}" for who in result.tame))
    if result.left_to_look_at:
        blocks.append("Left to look at\n" + _lines([*result.left_to_look_at, SETTLE]))
    return printable("\n\n".join(blocks))


def _sitting_text(sitting: Sitting, tasters: Sequence[TasterScore], total: TableScore) -> str:
    session = sitting.session
    day = f"{session.date.day} {session.date:%B} {session.date.year}"
    sealed = any(taster.truth.sealed for taster in tasters)
    by_whom = BY_PAPER if sitting.keys_on_paper else TRUTH[session.shuffle]
    heading = f"{session.title}, {day} (kit {sitting.kit})\n{SEALED if sealed else by_whom}"
    table = [
        ("", "taster", *session.place_letters, "result"),
        *((str(taster.taster), taster.name, *_cells(taster), taster.sentence) for taster in tasters),
    ]
    legend = "  claimed (stood there, where it was another)   – left blank   ? not settled"
    blocks = [heading, f"{aligned(table)}\n\n{legend}"]
    if len(total.counted) > 1:
        blocks.append(f"The table: {total.sentence}")
    if remarks := [f"{taster.name}: {remark}" for taster in tasters for remark in taster.remarks]:
        blocks.append("Remarks\n" + _lines(remarks))
    return "\n\n".join(blocks)


def _cells(taster: TasterScore) -> Iterator[str]:
    for place, number in taster.claims.numbers.items():
        stood = None if taster.told is None else taster.told[place]
        claimed = "–" if number is None else str(number)
        if not taster.has_match:
            yield ""
        elif place in taster.claims.unsettled:
            yield "?"
        else:
            yield claimed if stood in (None, number) else f"{claimed} ({stood})"


def _lines(sentences: Iterable[str]) -> str:
    return "\n".join(f"  {sentence}" for sentence in sentences)
