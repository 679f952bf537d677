"""The suggested flight and why it is this one: in plain words, as the pours of a session file, and as JSON."""

from __future__ import annotations

from typing import Any

from kit.tables import aligned
from scanner.results.cellar import Bottle
from scanner.results.sharpness import Sharpness
from scanner.results.suggest import FAULT_EVERY, Suggestion, TwoDrinks

MODEL = (
    "The model: a taster matches the glasses in one of the n! ways, with a chance in proportion to e^(−sharpness × sum "
    "of the squared distances between each drink and what it is taken for), counted out over all of them. Distances "
    "come of what the list states, drawn towards a middling one because a list tells but a part, and of which pairs "
    "were confused before; they are told squared, a middling one as 1. Sharpness is learnt from the sittings, or "
    "follows from --ability. It is a model: what counts is whether flights come out as it says."
)


def table(found: Suggestion) -> str:
    """Return the flight as a table for a terminal."""
    rows = [("", "drink", "style", "%", "left")]
    for number, bottle in enumerate(found.flight, start=1):
        strength = "" if bottle.abv_percent is None else f"{bottle.abv_percent:g}"
        left = "not stated" if bottle.left_ml is None else f"{bottle.left_ml:g} ml"
        rows.append((str(number), bottle.name, bottle.style or "", strength, left))
    return aligned(rows)


def sentences(found: Suggestion) -> tuple[str, ...]:
    """Say why it is this flight."""
    return (
        *_expected(found),
        *(_of_taster(taster, shares) for taster, shares in zip(found.tasters, found.shares, strict=True)),
        *_how_far(found),
        *_wishes(found),
        *_what_to_mind(found),
    )


def pours_toml(found: Suggestion) -> str:
    """Return the lines of a session file for these pours."""
    blocks = []
    for bottle in found.flight:
        lines = ["[[pours]]"]
        lines += [f'{key} = "{_quoted(value)}"' for key, value in (("id", bottle.id), ("name", bottle.name)) if value]
        lines += [f'style = "{_quoted(bottle.style)}"'] if bottle.style else []
        lines += [f"abv = {bottle.abv_percent:g}"] if bottle.abv_percent is not None else []
        lines += [f'look = "{bottle.look}"'] if bottle.look else []
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def to_json(found: Suggestion) -> dict[str, Any]:
    """Return the result as a JSON object."""
    wish = found.wish
    return {
        "flight": [_bottle(bottle) for bottle in found.flight],
        "expected_correct": found.share * len(found.flight),
        "expected_share": found.share,
        "level": list(wish.level),
        "level_reached": found.reached,
        "at_the_edge": found.at_the_edge,
        "tasters": [
            {
                "name": taster.name or None,
                "sittings": taster.sittings,
                "correct_of_five": taster.face,
                "expected_share": middle,
                "expected_share_range": [low, high],
            }
            for taster, (low, middle, high) in zip(found.tasters, found.shares, strict=True)
        ],
        "pairs": [
            {
                "names": [pair.one.name, pair.other.name],
                "distance": pair.distance,
                "chance_taken_for_one_another": pair.mistaken,
            }
            for pair in found.pairs
        ],
        "mean_distance": found.mean_distance,
        "cellar_mean_distance": found.cellar_distance,
        "pair_to_practise": None if found.practised is None else list(found.practised.names),
        "too_little_left": [bottle.name for bottle in found.passed_over],
        "why": list(sentences(found)),
        "model": MODEL,
    }


def _expected(found: Suggestion) -> list[str]:
    n, low, high = len(found.flight), *found.wish.level
    said = f"Expected: {found.share * n:.1f} of {n} right, {found.share:.0%}; asked for were {low:.0%} to {high:.0%}."
    if found.reached and not found.at_the_edge:
        return [said]
    if found.reached:
        end, other = ("widest", "less") if found.share < found.wish.middle else ("nearest", "more")
        return [
            said,
            f"That is the edge of what this cellar has: it is about the {end} flight to be had, and hardly another "
            f"leads past {found.wish.middle:.0%}, the middle of the level. Count on rather {other} than that.",
        ]
    if not found.at_the_edge:
        lacking = "others are harder or easier than that, and none lies between: add drinks"
    elif found.share < low:
        fewer = ", or pour fewer glasses" if n > 3 else ""
        lacking = f"even the widest flight is too hard: add drinks that differ more{fewer}"
    else:
        more = ", or pour more" if n < 5 else ""
        lacking = f"even the nearest flight is too easy: add drinks that are more alike{more}"
    return [said, f"The cellar, with these glasses, has none at that level, and this comes closest; {lacking}."]


def _of_taster(taster: Sharpness, shares: tuple[float, float, float]) -> str:
    low, middle, high = shares
    name = taster.name or "The taster"
    face = f"about {taster.face:.1f} of five on a middling flight"
    if not taster.sittings and len(taster.points) > 1:
        known = f"nothing is known yet; {face} is supposed"
    elif not taster.sittings:
        known = f"as said, which is {face}"
    else:
        known = f"{face}, by {'one sitting' if taster.sittings == 1 else f'{taster.sittings} sittings'}"
    spread = "" if high - low < 0.005 else f", or from {low:.0%} to {high:.0%}: so well is it known"
    return f"{name}: {known}. Expected here: {middle:.0%}{spread}."


def _how_far(found: Suggestion) -> list[str]:
    nearest, widest = found.pairs[0], found.pairs[-1]
    against = found.mean_distance / found.cellar_distance if found.cellar_distance else 1.0
    apart = "wider apart than" if against > 1.1 else "nearer to each other than" if against < 0.9 else "as far apart as"
    return [
        f"{len(found.flight)} glasses, on average {apart} two drinks of this cellar are "
        f"({found.mean_distance:.2f} to {found.cellar_distance:.2f}).",
        f"Nearest: {_two(nearest)}. Widest: {_two(widest)}.",
    ]


def _two(pair: TwoDrinks) -> str:
    return f"{pair.one.name} and {pair.other.name} ({pair.distance:.2f}, one taken for the other {pair.mistaken:.0%})"


def _wishes(found: Suggestion) -> list[str]:
    said = []
    if found.practised is not None:
        one, other = found.practised.names
        said.append(
            f"{one} and {other} are in it to be practised: taken for one another {found.practised.times} times in "
            f"{found.practised.together} sittings, where errors that fall evenly have {found.practised.evenly:.1f}."
        )
    faulty = [bottle for bottle in found.flight if bottle.fault]
    for bottle in faulty:
        often = f"one fault bottle every {FAULT_EVERY} sittings" if found.wish.fault is None else "as asked for"
        said.append(f"{bottle.name} has a fault ({bottle.fault}): {often}, to learn it by. Do not say which it is.")
    if found.wish.fault and not faulty:
        said.append("A fault bottle was asked for; the cellar has none with enough left.")
    if opened := [bottle.name for bottle in found.flight if bottle.open_since is not None]:
        said.append(f"Already open: {', '.join(opened)}.")
    return said


def _what_to_mind(found: Suggestion) -> list[str]:
    said = []
    needed_ml = found.wish.tasters * found.wish.pour_ml
    if unstated := [bottle.name for bottle in found.flight if bottle.left_ml is None]:
        said.append(f"See that {needed_ml:g} ml is left of {', '.join(unstated)}: the list does not say.")
    if found.passed_over:
        names = ", ".join(bottle.name for bottle in found.passed_over)
        said.append(f"Passed over, with less than {needed_ml:g} ml left: {names}.")
    looks = {bottle.look for bottle in found.flight if bottle.look}
    if len(looks) > 1:
        said.append(f"The eye can tell them apart ({', '.join(sorted(looks))}): dark glasses, or dim light.")
    return said


def _bottle(bottle: Bottle) -> dict[str, Any]:
    return {
        "key": bottle.key,
        "name": bottle.name,
        "style": bottle.style,
        "abv": bottle.abv_percent,
        "left_ml": bottle.left_ml,
        "fault": bottle.fault,
    }


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')
