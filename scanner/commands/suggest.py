"""`facedown suggest`: which drinks of a cellar list to pour next."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import click

from kit.errors import CellarError, ExitCode
from kit.session import GLASS_POUR_ML, LEAST_GLASSES, MOST_GLASSES
from scanner.commands.inputs import refuse_to_overwrite
from scanner.commands.results_inputs import ResultsInputs, block, results_inputs
from scanner.results import suggest_report as report
from scanner.results.cellar import Cellar, load_cellar
from scanner.results.confusions import confusions
from scanner.results.difficulty import Traits
from scanner.results.namesakes import nearly_alike
from scanner.results.sharpness import nearer, sharpness, stated
from scanner.results.sitting import TasterSitting
from scanner.results.suggest import Suggestion, Wish, practised, suggest

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
    refuse_to_overwrite(given.json_path, (), [cellar])
    today = datetime.date.today()
    listed = load_cellar(cellar, today)
    sittings = {taster: given.gathered.of(taster) for taster in given.tasters}
    known = _known(listed, today)
    learnt = [(sharpness(given.gathered.name_of(key), of_one, known), of_one) for key, of_one in sittings.items()]
    tasters = [taster for taster, _ in learnt] or [sharpness("", (), {})]
    if ability is not None:
        drinks = [bottle.drink for bottle in listed.bottles if not bottle.fault]
        tasters = [stated(ability, drinks, known)]
    everything = [one for _, of_one in learnt for one in of_one]
    found = suggest(
        listed.bottles,
        today,
        tasters,
        nearer(learnt, known),
        Wish(
            glasses=glasses,
            level=(level[0] / 100, level[1] / 100),
            tasters=seats or max(1, len(sittings)),
            pour_ml=pour_ml,
            fault=fault,
            avoid=_last_flight(everything),
            practise=practised(confusions(everything), listed.bottles),
        ),
    )
    if isinstance(found, str):
        raise CellarError(str(cellar), [found])
    remarks = (*listed.remarks, *_unmatched(listed, everything))
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


def _known(cellar: Cellar, today: datetime.date) -> Mapping[str, Traits]:
    """Return what is stated of the cellar's drinks, as they were when fresh: how long open was another day's matter."""
    return {bottle.key: bottle.traits(bottle.open_since or today) for bottle in cellar.bottles}


def _last_flight(sittings: Sequence[TasterSitting]) -> frozenset[str]:
    if not sittings:
        return frozenset()
    last = max(sittings, key=lambda one: one.date)
    return frozenset(drink.key for drink in last.drinks)


def _unmatched(cellar: Cellar, sittings: Sequence[TasterSitting]) -> list[str]:
    """Ask about drinks of sittings that may be one of the cellar's under another id or name."""
    keys = {bottle.key for bottle in cellar.bottles}
    poured = {drink.key: drink.name for sitting in sittings for drink in sitting.drinks if drink.key not in keys}
    return [
        f'Is "{bottle.name}" the "{name}" of earlier sittings? They are kept apart; if they are one, give both one id.'
        for bottle in cellar.bottles
        for name in poured.values()
        if nearly_alike(bottle.name, name)
    ]
