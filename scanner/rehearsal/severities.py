"""How badly things go: every range of `severities.toml` and the files of `WITHIN`, drawn uniformly.

The ranges stand in files so that they can be fixed before a reader is tuned against them. A range is `[low, high]`
(whole numbers stay whole, both ends included), a list of words or tables is one of them, and `{chance = 0.3, of = …}`
leaves the plain value standing except for that share of the draws.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

import numpy as np

Severity = TypeVar("Severity")

WITHIN = ("rare", "seldom", "unusual", "uncommon", "odd", "sundry", "held_out", "rows")
"""Files beside `severities.toml`."""


@cache
def severities() -> dict[str, Any]:
    """Return all tables, those of the files of `WITHIN` in tables of their names."""
    return _tables("severities") | {name: _tables(name) for name in WITHIN}


def ranges(table: str) -> dict[str, Any]:
    """Return one table's ranges; `table` names it with dots, such as "photo.tilted". KeyError where there is none."""
    found: Any = severities()
    for part in table.split("."):
        found = found[part]
    like = found.get("like")
    base = ranges(like) if like else {}
    return base | {name: value for name, value in found.items() if name != "like" and not _is_table(value)}


def draw(kind: type[Severity], table: str, rng: np.random.Generator, **fixed: Any) -> Severity:
    """Return a `kind` with each field of that table drawn from its range; `fixed` fields are as given."""
    drawn: dict[str, Any] = {}
    for name, entry in ranges(table).items():
        value = _drawn(entry, rng)
        if value is not None:
            drawn[name] = value
    return kind(**(drawn | fixed))


def _tables(name: str) -> dict[str, Any]:
    return tomllib.loads((files("scanner.rehearsal") / f"{name}.toml").read_text(encoding="utf-8"))


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) and "chance" not in value


def _drawn(entry: Any, rng: np.random.Generator) -> Any:
    if isinstance(entry, dict):
        happens = rng.random() < entry["chance"]
        value = _drawn(entry["of"], rng)  # drawn in any case: the next field's draw must not depend on this one
        return value if happens else None
    if not isinstance(entry, list):
        return entry
    if all(isinstance(choice, str) for choice in entry):
        return entry[int(rng.integers(len(entry)))]
    low, high = entry
    if isinstance(low, int) and isinstance(high, int):
        return int(rng.integers(low, high, endpoint=True))
    return float(rng.uniform(low, high))
