"""`facedown check`: is the session file right, and what does the sitting need?"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from kit.plan import BOTTLE_ML, Plan, plan
from kit.session import Session, load_session, session_to_json
from kit.tables import aligned

FORMAT = "facedown-plan/1"

_WIDTH = 88
_SHUFFLED = {
    "host": "the host moves the glasses by the sealed key",
    "hand": "the tasters mix the glasses by hand",
    "twin": "two vials of every drink, nobody moves a glass",
}


@click.command("check")
@click.argument("session_file", metavar="SESSION", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the same as JSON.")
def command(session_file: Path, as_json: bool) -> None:
    """Check the file SESSION and show what the sitting needs: glasses, drink, bottles, time, care."""
    session = load_session(session_file)
    needs = plan(session)
    if as_json:
        click.echo(json.dumps(plan_to_json(session, needs), ensure_ascii=False, indent=1))
    else:
        click.echo(plan_text(session, needs))


def plan_to_json(session: Session, needs: Plan) -> dict[str, Any]:
    """Return the session with all its defaults, and its plan, as one JSON object."""
    return {"format": FORMAT, "session": session_to_json(session), "plan": asdict(needs)}


def plan_text(session: Session, needs: Plan) -> str:
    """Return the session and its plan for a host to read: aligned, 88 columns wide where names allow."""
    day = f"{session.date.day} {session.date:%B} {session.date.year}"
    blocks = [
        f"{session.title}\n{day} · {session.drink} · {session.paper} · {_SHUFFLED[session.shuffle]}",
        "Flight\n" + aligned(_flight_rows(session)),
        "Tasters\n" + _wrapped(f"{needs.tasters}: " + ", ".join(taster.name for taster in session.tasters)),
        "Needs\n" + aligned(_need_rows(session, needs)),
    ]
    blocks += [
        f"{heading}\n" + "\n".join(_wrapped(sentence, "· ") for sentence in sentences)
        for heading, sentences in (("Warnings", needs.warnings), ("Cautions", needs.cautions))
        if sentences
    ]
    return "\n\n".join(blocks)


def _flight_rows(session: Session) -> Iterable[tuple[str, ...]]:
    for coaster, pour in enumerate(session.pours, start=1):
        abv = "" if pour.abv_percent is None else f"{pour.abv_percent:g} %"
        yield str(coaster), pour.name, pour.style or "", abv, pour.look or "", pour.note or ""


def _need_rows(session: Session, needs: Plan) -> Iterable[tuple[str, ...]]:
    each = str(needs.glasses_per_taster)
    vessel, vessels = "glass", "glasses"
    if session.shuffle == "twin":
        each, vessel, vessels = f"2 × {each}", "vial", "vials"
    yield vessels, str(needs.vessels), f"{each} for each of {_count(needs.tasters, 'taster')}"
    size = f", {needs.vials.filled_percent:.0f} % of a vial of {needs.vials.vial_ml:g} ml" if needs.vials else ""
    yield f"in each {vessel}", f"{needs.pour_ml:g} ml", f"{needs.pour_us_fl_oz:.1f} US fl oz{size}"
    yield "of each drink", f"{needs.ml_per_drink:g} ml", f"{needs.us_fl_oz_per_drink:.1f} US fl oz"
    to_have_ml, share = needs.ml_per_drink, ""
    if needs.vials:
        to_have_ml = needs.vials.ml_with_loss_per_drink
        loss = f"{needs.vials.loss_percent:g} % more, for what is spilt or stays behind"
        yield "… with loss", f"{round(to_have_ml, 1):g} ml", loss
        share = f", each for {_count(needs.vials.packets_per_bottle, 'packet')}"
    spare_ml = needs.bottles_per_drink * BOTTLE_ML - to_have_ml
    spare = f"of {BOTTLE_ML} ml{share}; {max(round(spare_ml, 1), 0):g} ml to spare"
    yield "bottles of each drink", str(needs.bottles_per_drink), spare
    pace = f"{needs.seconds_per_glass:.0f} seconds a glass"
    yield "each round", _count(needs.minutes_per_round, "minute"), pace
    if needs.alcohol is None:
        yield "alcohol, if swallowed", "not known", "the abv of a drink is not given"
    else:
        drinks = f"{needs.alcohol.us_standard_drinks:.1f} US standard drinks"
        rounds = ", both rounds" if needs.vials else ""
        weight = f"pure for each taster{rounds}, {needs.alcohol.grams:.1f} g, {drinks}"
        yield "alcohol, if swallowed", f"{needs.alcohol.pure_ml:.1f} ml", weight


def _count(number: float, noun: str) -> str:
    return f"{number:g} {noun}" + ("" if number == 1 else "s")


def _wrapped(text: str, bullet: str = "") -> str:
    first, others = "  " + bullet, "  " + " " * len(bullet)
    return textwrap.fill(text, _WIDTH, initial_indent=first, subsequent_indent=others, break_on_hyphens=False)
