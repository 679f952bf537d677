"""Plain photographs of turned coasters for the tests: sharp, dry, from straight above, in even light."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache

import numpy as np

from kit.build import build_kit
from kit.chance_source import SeededChance
from kit.session import Session, Taster
from kit.sheet_layout import KitLayout
from scanner.kits import KitOnFile, from_kit
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.photograph import PhotographSeverity
from scanner.rehearsal.row_photograph import Faces, Lie, Piece, faces_of, laid_in_a_row, photographed
from tests.kit import samples

HOUSE = "K7Q4M2"
PLAIN = PhotographSeverity(long_px=1600, table="plain", table_level=70.0, fill=0.9)
EVEN = Lie(pitch_mm=100.0)


def hand_session(glasses: int = 5, *, house: str | None = None, names: Sequence[str] = samples.NAMES) -> Session:
    """Return a sitting of tasters who mix their own glasses."""
    tasters = tuple(Taster(name, id=f"taster-{number}") for number, name in enumerate(names, start=1))
    session = replace(samples.a_session(glasses, shuffle="hand"), tasters=tasters)
    return replace(session, coasters="house", house=house) if house else session


@cache
def a_kit(seed: int = 1, glasses: int = 5, house: str | None = None) -> tuple[KitOnFile, Faces]:
    """Return a kit as the reader knows it, and its labels and cards as printed."""
    kit = build_kit(hand_session(glasses, house=house), SeededChance(seed))
    return from_kit(kit, KitLayout(kit.id, ())), faces_of(kit)


def pieces(faces: Faces, order: Sequence[int], taster: int = 1, lie: Lie = EVEN, seed: int = 1) -> tuple[Piece, ...]:
    """Return a taster's card and these coasters, laid from left to right, each label turned by any angle."""
    rng = np.random.default_rng(seed)
    return laid_in_a_row(faces.cards[taster], [faces.coasters[number] for number in order], lie, rng)


def picture(
    laid: Sequence[Piece], camera: PhotographSeverity = PLAIN, lie: Lie = EVEN, seed: int = 1, **changed: float
) -> Gray:
    """Return a photograph of the pieces."""
    known: Mapping[str, float] = changed
    return photographed(laid, lie, replace(camera, **known), np.random.default_rng(seed))  # type: ignore[arg-type]
