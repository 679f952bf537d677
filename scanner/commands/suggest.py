"""`facedown suggest`: which drinks of a cellar list to pour next."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Sequence
from pathlib import Path

import click

from kit.errors import CellarError, ExitCode
from kit.session import GLASS_POUR_ML, LEAST_GLASSES, MOST_GLASSES
from scanner.commands.inputs import refuse_to_overwrite
from scanner.commands.results_inputs import ResultsInputs, block, results_inputs
from scanner.results import suggest_report as report
from scanner.results.cellar import load_cellar
from scanner.results.next_flight import next_flight
from scanner.results.suggest import Suggestion, TooFew, Wish

FORMAT = "facedown-suggestion/1"
LOWEST_PERCENT, HIGHEST_PERCENT = 20, 100


def _range(least: int, most: int) -> Callable[[click.Context, click.Parameter, str], tuple[int, int]]:
    """Return what reads two numbers with a hyphen between, or one that stands for both."""

    def read(_: click.Context, __: click.Parameter, value: str) -> tuple[int, int]:
        if found := re.fullmatch(r"(\d{1,3})(?:[-–](\d{1,3}))?\s*%?", value.strip()):
            low, high = int(found[1]), int(found[2] or found[1])
            if least <= low <= high <= most:
                return low, high
        raise click.BadParameter(
            f"found {value!r}; one number or two from {least} to {most}, the lower first, are allowed."
        )

    return read


def _number(_: click.Context, __: click.Parameter, value: float | None) -> float | None:
    """Refuse what is no number, which lies in every range."""
    if value is not None and math.isnan(value):
        raise click.BadParameter("found nan; a number is allowed.")
    return value


@click.command("suggest")
@click.argument("cellar", metavar="CELLAR", type=click.Path(path_type=Path))
@click.option(
    "--glasses",
    callback=_range(LEAST_GLASSES, MOST_GLASSES),
    default=f"{LEAST_GLASSES}-{MOST_GLASSES}",
    metavar="3-5",
    help="How many, from and to, or one number.",
)
@click.option(
    "--level",
    callback=_range(LOWEST_PERCENT, HIGHEST_PERCENT),
    default="60-75",
    metavar="60-75",
    help="How much should be right on average, in per cent.",
)
@click.option(
    "--ability",
    type=click.FloatRange(1, 5, min_open=True, max_open=True),
    callback=_number,
    metavar="OF-FIVE",
    help="How many of five drinks taken at random from this cellar the taster gets right on average, where no sittings "
    "tell; above 1, which is luck, and below 5.",
)
@click.option(
    "--for",
    "seats",
    type=click.IntRange(1, 9999),
    metavar="TASTERS",
    help="For how many tasters there must be enough; left out, for those whose results are given.",
)
@click.option(
    "--pour-ml",
    type=click.FloatRange(5, 250),
    callback=_number,
    default=GLASS_POUR_ML,
    show_default=True,
    help="What goes in one glass.",
)
@click.option("--fault/--no-fault", default=None, help="With a fault bottle, or without; left out, now and then.")
@results_inputs(needed=False)
def command(
    given: ResultsInputs,
    cellar: Path,
    glasses: tuple[int, int],
    level: tuple[int, int],
    ability: float | None,
    seats: int | None,
    pour_ml: float,
    fault: bool | None,
) -> ExitCode:
    """Suggest a flight from CELLAR, a list of drinks as TOML or CSV, and say why it is this one.

    How able the taster or the table is comes from the kits and READING files given, or from --ability.
    """
    refuse_to_overwrite(given.json_path, [cellar])
    today = datetime.date.today()
    listed = load_cellar(cellar, today)
    sittings = [(given.gathered.name_of(taster), given.gathered.of(taster)) for taster in given.tasters]
    wish = Wish(
        glasses=glasses,
        level=(level[0] / 100, level[1] / 100),
        tasters=seats or max(1, len(sittings)),
        pour_ml=pour_ml,
        fault=fault,
    )
    found = next_flight(listed, today, sittings, wish, ability)
    if isinstance(found, TooFew):
        raise CellarError(str(cellar), [found.sentence])
    remarks = (*listed.remarks, *listed.unmatched([one for _, of_one in sittings for one in of_one]))
    entry = {"format": FORMAT, **report.to_json(found), "cellar_remarks": list(remarks)}
    return given.present(entry, _text(found, remarks))


def _text(found: Suggestion, remarks: Sequence[str]) -> str:
    blocks = [
        "Pour next\n" + report.table(found),
        block("Why these", report.sentences(found)),
        block("How it is reckoned", [report.MODEL]),
        *([block("The cellar list", remarks)] if remarks else []),
        "For the session file, in any order\n\n" + report.pours_toml(found),
    ]
    return "\n\n".join(blocks)
