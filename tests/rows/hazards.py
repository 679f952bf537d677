"""Rows that must not be read: what tasters lay, cover, leave out and photograph by mistake."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from scanner.kits import KitOnFile
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.row_photograph import Lie, Piece, laid_in_a_row
from tests.rows.kits import KITS, LaidKit, laid_kit

ACROSS_MM = (150.0, 320.0)
"""How far off the row of the taster across the table lies."""


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """What lies on the table, and the kits that `read` is given."""

    pieces: tuple[Piece, ...]
    kits: Mapping[str, KitOnFile]
    is_mirrored: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """A taster's row before something happens to it."""

    kit: LaidKit
    taster: int
    order: tuple[int, ...]
    pieces: tuple[Piece, ...]
    pitch_mm: float

    @property
    def kits(self) -> dict[str, KitOnFile]:
        return {self.kit.on_file.id: self.kit.on_file}

    @property
    def neighbour(self) -> int:
        return next(number for number in self.kit.faces.cards if number != self.taster)

    def laid(self, pieces: tuple[Piece, ...], *, is_mirrored: bool = False) -> Laid:
        return Laid(pieces, self.kits, is_mirrored)


def no_card(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    return table.laid(table.pieces[1:])


def card_covered(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    return table.laid((_covered(table.pieces[0]), *table.pieces[1:]))


def neighbours_card_at_the_far_end(lie: Lie, rng: np.random.Generator) -> Laid:
    """The neighbour at the right has laid their card beside this row's end; its own card is out of the picture."""
    table = _table(lie, rng)
    return table.laid((*table.pieces[1:], _card_beyond(table, table.neighbour, rng)))


def two_cards(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    return table.laid((*table.pieces, _card_beyond(table, table.neighbour, rng)))


def card_at_the_right_end(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    return table.laid((*table.pieces[1:], _card_beyond(table, table.taster, rng)))


def card_inside(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    place = int(rng.integers(1, len(table.pieces) - 1))
    card, other = table.pieces[0], table.pieces[place]
    swapped = list(table.pieces)
    swapped[0], swapped[place] = (
        replace(other, centre_mm=card.centre_mm),
        replace(card, centre_mm=other.centre_mm),
    )
    return table.laid(tuple(swapped))


def label_covered(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    place = int(rng.integers(1, len(table.pieces)))
    return table.laid(_put(table.pieces, place, _covered(table.pieces[place])))


def label_missing(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    place = int(rng.integers(1, len(table.pieces)))
    return table.laid(table.pieces[:place] + table.pieces[place + 1 :])


def label_doubled(lie: Lie, rng: np.random.Generator) -> Laid:
    """A neighbour's coaster stands in the row for one of the taster's own."""
    table = _table(lie, rng)
    place, other = rng.permutation(np.arange(1, len(table.pieces)))[:2]
    return table.laid(_put(table.pieces, place, replace(table.pieces[place], face=table.pieces[other].face)))


def one_more(lie: Lie, rng: np.random.Generator) -> Laid:
    """A neighbour's coaster stands at the row's end."""
    table = _table(lie, rng)
    twin = table.pieces[int(rng.integers(1, len(table.pieces)))]
    return table.laid((*table.pieces, replace(twin, centre_mm=_beyond(table, 1.0, rng))))


def another_kits_label(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    place, stranger = int(rng.integers(1, len(table.pieces))), _another(table.kit, rng)
    face = stranger.faces.coasters[table.order[place - 1] if table.order[place - 1] in stranger.faces.coasters else 1]
    return table.laid(_put(table.pieces, place, replace(table.pieces[place], face=face)))


def another_kits_card(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    face = _another(table.kit, rng).faces.cards[table.taster]
    return table.laid(_put(table.pieces, 0, replace(table.pieces[0], face=face)))


def mirrored(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    return table.laid(table.pieces, is_mirrored=True)


def label_apart(lie: Lie, rng: np.random.Generator) -> Laid:
    table = _table(lie, rng)
    place = int(rng.integers(1, len(table.pieces)))
    piece = table.pieces[place]
    off = float(rng.uniform(1.0, 1.8)) * table.pitch_mm * (1 if rng.random() < 0.5 else -1)
    return table.laid(
        _put(table.pieces, place, replace(piece, centre_mm=(piece.centre_mm[0], piece.centre_mm[1] + off)))
    )


def covered_and_across(lie: Lie, rng: np.random.Generator) -> Laid:
    """One label is covered, and the row across the table shows the same number."""
    table = _table(lie, rng)
    place = int(rng.integers(1, len(table.pieces)))
    piece = table.pieces[place]
    off = float(rng.uniform(*ACROSS_MM))
    twin = replace(piece, centre_mm=(piece.centre_mm[0] + float(rng.uniform(-60, 60)), piece.centre_mm[1] - off))
    return table.laid((*_put(table.pieces, place, _covered(piece)), twin))


def covered_and_beyond(lie: Lie, rng: np.random.Generator) -> Laid:
    """One label is covered, and the neighbour's of that number lies in the same line, beyond the neighbour's card."""
    table = _table(lie, rng)
    place = int(rng.integers(1, len(table.pieces)))
    card = _covered(replace(table.pieces[0], centre_mm=_beyond(table, 1.0, rng)))
    twin = replace(table.pieces[place], centre_mm=_beyond(table, 2.0, rng))
    return table.laid((*_put(table.pieces, place, _covered(table.pieces[place])), card, twin))


def two_rows(lie: Lie, rng: np.random.Generator) -> Laid:
    """The row across the table is in the picture as well, card and all, the other way round."""
    table = _table(lie, rng)
    off = float(rng.uniform(*ACROSS_MM))
    middle = table.pieces[len(table.pieces) // 2].centre_mm
    across = [
        replace(piece, centre_mm=(2 * middle[0] - piece.centre_mm[0], middle[1] - off), turn_deg=piece.turn_deg + 180.0)
        for piece in table.pieces
    ]
    across[0] = replace(across[0], face=table.kit.faces.cards[table.neighbour])
    return table.laid((*table.pieces, *across))


HAZARDS: dict[str, Callable[[Lie, np.random.Generator], Laid]] = {
    hazard.__name__.replace("_", " "): hazard
    for hazard in (
        no_card,
        card_covered,
        neighbours_card_at_the_far_end,
        two_cards,
        card_at_the_right_end,
        card_inside,
        label_covered,
        label_missing,
        label_doubled,
        one_more,
        another_kits_label,
        another_kits_card,
        mirrored,
        label_apart,
        covered_and_across,
        covered_and_beyond,
        two_rows,
    )
}


def _table(lie: Lie, rng: np.random.Generator) -> _Table:
    kit = laid_kit(int(rng.integers(len(KITS))))
    order = tuple(int(coaster) for coaster in rng.permutation(kit.on_file.glasses) + 1)
    taster = int(rng.choice(list(kit.faces.cards)))
    pieces = laid_in_a_row(kit.faces.cards[taster], [kit.faces.coasters[coaster] for coaster in order], lie, rng)
    return _Table(kit, taster, order, pieces, pieces[-1].centre_mm[0] - pieces[-2].centre_mm[0])


def _another(kit: LaidKit, rng: np.random.Generator) -> LaidKit:
    """A kit that was not given, and shares no house set with the one that was."""
    while True:
        other = laid_kit(int(rng.integers(len(KITS))))
        if other.on_file.id != kit.on_file.id and (other.on_file.house is None or kit.on_file.house is None):
            return other


def _card_beyond(table: _Table, taster: int, rng: np.random.Generator) -> Piece:
    card = table.pieces[0]
    return replace(card, face=table.kit.faces.cards[taster], centre_mm=_beyond(table, 1.0, rng))


def _beyond(table: _Table, steps: float, rng: np.random.Generator) -> tuple[float, float]:
    x, y = table.pieces[-1].centre_mm
    return x + steps * table.pitch_mm * float(rng.uniform(0.95, 1.1)), y + float(rng.uniform(-8, 8))


def _covered(piece: Piece) -> Piece:
    """The piece with a napkin over it."""
    blank: Gray = np.full_like(piece.face, 225)
    return replace(piece, face=blank)


def _put(pieces: tuple[Piece, ...], place: int, piece: Piece) -> tuple[Piece, ...]:
    return (*pieces[:place], piece, *pieces[place + 1 :])
