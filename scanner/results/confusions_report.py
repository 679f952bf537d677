"""What was taken for what, said in plain words, as tables, and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kit.tables import aligned
from scanner.results.confusions import FEWEST_WRONG, Confusions, Pair

MOST_ROWS = 12


def sentences(found: Confusions) -> tuple[str, ...]:
    """Say in plain words what was taken for what, and what to taste next."""
    if not found.wrong:
        return (f"Too little to tell: {found.too_little}.",)
    over = "one sitting" if found.sittings == 1 else f"{found.sittings} sittings"
    said = [f"{found.wrong} of {found.claims} claims took one drink for another, in {over}."]
    pair = found.next_pair
    if pair is None:
        return (*said, f"Too little to tell which to taste next: {found.too_little}.")
    counts = (
        f"taken for one another {_times(pair.times)} in {_sittings(pair.together)}; errors that fall evenly would have "
        f"done it {pair.evenly:.1f} times"
    )
    said.append(f"Taste next, side by side: {pair.names[0]} and {pair.names[1]} ({counts}).")
    if pair.stands_out:
        said.append("That is more than errors that fall evenly explain, all pairs considered.")
    else:
        said.append("That is too little to tell it from errors that fall evenly: a first guess at what to practise.")
    return tuple(said)


def tables(found: Confusions) -> tuple[str, ...]:
    """Return the tables for a terminal: what was taken for what, pairs, styles; empty ones left out."""
    shown = []
    if found.taken:
        rows = [
            ("stood there", "claimed", "times", "by luck"),
            *((taken.stood, taken.claimed, str(taken.times), f"{taken.by_luck:.1f}") for taken in found.taken),
        ]
        shown.append(_cut(rows))
    if met := [pair for pair in found.pairs if pair.times]:
        shown.append("Taken for one another, either way round\n" + _cut(_rows(met, "adjusted chance")))
    if found.styles and found.wrong:
        shown.append("By style\n" + (_cut(_rows(found.styles)) if found.wrong >= FEWEST_WRONG else _too_few(found)))
    return tuple(shown)


def to_json(found: Confusions) -> dict[str, Any]:
    """Return the result as a JSON object."""
    return {
        "sittings": found.sittings,
        "claims": found.claims,
        "wrong": found.wrong,
        "too_little": found.too_little,
        "taken": [
            {"stood": taken.stood, "claimed": taken.claimed, "times": taken.times, "by_luck": taken.by_luck}
            for taken in found.taken
        ],
        "pairs": [_pair(pair) for pair in found.pairs],
        "styles": [_pair(pair) for pair in found.styles],
        "drinks_without_style": found.without_style,
        "next_pair": None if found.next_pair is None else _pair(found.next_pair),
    }


def _pair(pair: Pair) -> dict[str, Any]:
    entry = {
        "keys": list(pair.keys),
        "names": list(pair.names),
        "together": pair.together,
        "times": pair.times,
        "by_luck": pair.by_luck,
        "evenly": pair.evenly,
    }
    if pair.chance is not None:
        entry |= {"chance": pair.chance, "adjusted_chance": pair.adjusted, "stands_out": pair.stands_out}
    return entry


def _rows(pairs: Sequence[Pair], last: str = "") -> list[tuple[str, ...]]:
    heading = ("one", "the other", "together", "times", "by luck", "evenly", *([last] if last else []))
    rows = [
        (
            *pair.names,
            str(pair.together),
            str(pair.times),
            f"{pair.by_luck:.1f}",
            f"{pair.evenly:.1f}",
            *([f"{pair.adjusted:.2g}"] if last else []),
        )
        for pair in pairs
    ]
    return [heading, *rows]


def _cut(rows: Sequence[tuple[str, ...]]) -> str:
    rest = len(rows) - 1 - MOST_ROWS
    more = f"\n  and {rest} more, all in --json" if rest > 0 else ""
    return aligned(rows[: MOST_ROWS + 1]) + more


def _too_few(found: Confusions) -> str:
    return f"  Too little to tell: {found.wrong} wrong claims, of {FEWEST_WRONG} that are needed."


def _times(count: int) -> str:
    return "twice" if count == 2 else f"{count} times"


def _sittings(count: int) -> str:
    return "one sitting" if count == 1 else f"{count} sittings"
