"""What the reader has to know of a kit: its secret, and where every mark is printed on every sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from kit.house import house_cards
from kit.record import Kit
from kit.sheet_layout import KitLayout, SheetLayout
from scanner.box_names import Printed, printed_on


@dataclass(frozen=True, slots=True)
class KitOnFile:
    """A kit as the reader sees it; `sheets` by sheet id, `tasters` the printed names by number.

    `frames` has one sheet for each arrangement of fiducials, codes and edge marks that the kit prints. `house` is the
    id of the set of house coasters that the sitting uses, if any, `house_cards` its tasters by their cards' numbers.
    `seals` has the seal codes by taster; none with `hand`. `printed` has the sheets' words where they are not English.
    """

    id: str
    secret: bytes
    sheets: Mapping[str, SheetLayout]
    glasses: int = 0
    tasters: Mapping[int, str] = field(default_factory=dict)
    shuffle: str = "host"
    house: str | None = None
    house_cards: Mapping[int, int] = field(default_factory=dict)
    seals: Mapping[int, str] = field(default_factory=dict)
    printed: Printed = field(default_factory=dict)
    frames: tuple[SheetLayout, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "frames", distinct_frames(self.sheets.values()))


def from_kit(kit: Kit, layout: KitLayout) -> KitOnFile:
    """Return the kit of a kit folder's record and layout."""
    return KitOnFile(
        id=kit.id,
        secret=kit.secret,
        sheets={page.sheet: page for page in layout.pages},
        glasses=kit.session.glasses,
        tasters={number: taster.name for number, taster in enumerate(kit.session.tasters, start=1)},
        shuffle=kit.session.shuffle,
        house=kit.session.house,
        house_cards=house_cards(kit.session.house, [taster.id for taster in kit.session.tasters]),
        seals=dict(enumerate(kit.seals, start=1)),
        printed=printed_on(kit.session.drink, kit.session.language),
    )


def distinct_frames(sheets: Iterable[SheetLayout]) -> tuple[SheetLayout, ...]:
    """Return one sheet for each arrangement of fiducials, codes and edge marks."""
    frames: dict[tuple[object, ...], SheetLayout] = {}
    for sheet in sheets:
        if sheet.fiducials:
            frames.setdefault((sheet.width_mm, sheet.height_mm, sheet.fiducials, sheet.codes, sheet.edge_marks), sheet)
    return tuple(frames.values())
