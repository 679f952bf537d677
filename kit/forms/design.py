"""Form designs as data: lengths in mm and type sizes in pt, by name."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class Design:
    """The lengths (mm) and type sizes (pt) of one page kind."""

    name: str
    lengths_mm: dict[str, float]
    sizes_pt: dict[str, float]

    def mm(self, name: str) -> float:
        """Return a length in mm."""
        return self.lengths_mm[name]

    def pt(self, name: str) -> float:
        """Return a type size in points."""
        return self.sizes_pt[name]


@cache
def load_design(name: str) -> Design:
    """Return the design `templates/forms/{name}.toml`."""
    entries = tomllib.loads((files("templates") / "forms" / f"{name}.toml").read_text("utf-8"))
    sizes = entries.pop("type")
    return Design(name, {key: float(value) for key, value in entries.items()}, {k: float(v) for k, v in sizes.items()})
