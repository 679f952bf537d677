"""The printed coasters that the simulated rows are laid with: of kits of every size and paper, and of a house set."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cache

from kit.build import build_kit
from kit.chance_source import SeededChance
from kit.session import session_from_toml
from kit.sheet_layout import KitLayout
from scanner.kits import KitOnFile, from_kit
from scanner.rehearsal.row_photograph import Faces, faces_of

TASTERS = ("ines", "tomas", "wren")
KITS = tuple(itertools.product(("A4", "Letter"), (3, 4, 5), ("kit", "house")))


@dataclass(frozen=True, slots=True, eq=False)
class LaidKit:
    """A kit as the reader knows it, and its labels and cards as they lie on the table."""

    on_file: KitOnFile
    faces: Faces


@cache
def laid_kit(which: int) -> LaidKit:
    """Return one of KITS, printed."""
    paper, glasses, coasters = KITS[which]
    pours = "".join(f'[[pours]]\nname = "Pour {n}"\n' for n in range(glasses))
    tasters = "".join(f'[[tasters]]\nid = "{one}"\nname = "{one.title()}"\n' for one in TASTERS)
    house = 'house = "K7Q4M2"\n' if coasters == "house" else ""
    session = session_from_toml(
        f'title = "Rows"\ndate = 2026-11-25\ndrink = "sake"\nshuffle = "hand"\npaper = "{paper}"\n'
        f'coasters = "{coasters}"\n{house}{pours}{tasters}',
        "rows",
    )
    kit = build_kit(session, SeededChance(which))
    return LaidKit(from_kit(kit, KitLayout(kit.id, ())), faces_of(kit))
