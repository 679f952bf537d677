"""An archive full of doubts for the tests of the second look: real pictures, and readings made to doubt them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kit.record import layout_of, load_kit
from scanner.archive.cut_outs import cut_outs
from scanner.kits import from_kit
from scanner.page_image import PageImage
from scanner.reading import Mark, Outcome, PageReading, PictureReading, State, TurnedReading
from scanner.sources import open_source
from tests.make_samples import SAMPLES
from tests.scanner.archive.pile import KIT, Pile

CLAIMS, NOTES = f"{KIT}-0007-3", f"{KIT}-0007-1"
TASTER = 7


def pile_of_doubts(pile: Pile, folder: Path, doubts: int, *, others: bool = False) -> Pile:
    """Return a pile of one sheet with so many doubtful boxes, all cut out of its picture.

    With `others` there are besides: two pictures of Kofi's claims with different answers, a pick-one field marked twice
    on Ada's claims, two photographs of Kofi's row that differ, and an unreadable page.
    """
    kits = {KIT: from_kit(load_kit(pile.kit), layout_of(pile.kit))}
    page = _page(pile, "kofi-notes-1.jpg")
    readings: dict[str, tuple[PictureReading, ...]] = {"doubts.jpg": (with_doubts(page, doubts),)}
    files = [_copy(folder, "doubts.jpg", "kofi-notes-1.jpg")]
    [image] = open_source(files[0])
    [reading] = readings["doubts.jpg"]
    assert isinstance(image, PageImage)
    assert isinstance(reading, PageReading)
    cutouts = {"doubts.jpg": {1: cut_outs(image, reading, kits[KIT].sheets[NOTES])}}
    if others:
        for name in ("kofi-match.jpg", "other.jpg", "dark.jpg"):
            files.append(next(file for file in pile.files if file.name == name))
            readings[name], cutouts[name] = pile.readings[name], dict(pile.cutouts[name])
        made: dict[str, tuple[str, PictureReading]] = {
            "twice.heic": ("ada-match.heic", with_two_claims(_page(pile, "ada-match.heic"))),
            "row-1.jpg": ("kofi-match.jpg", row(1, 2, 3)),
            "row-2.jpg": ("kofi-match.jpg", row(3, 1, 2)),
        }
        for name, (source, reading) in made.items():
            files.append(_copy(folder, name, source))
            readings[name], cutouts[name] = (reading,), {}
    return Pile(pile.kit, tuple(files), readings, cutouts)


def with_doubts(page: PageReading, count: int) -> PageReading:
    """Return the page with its first words in doubt: of words any number may be marked, so no answer asks another."""
    words = [box for box in page.marks if box.field.startswith("words.")][:count]
    assert len(words) == count
    doubts = {box: replace(box, state=State.DOUBTFUL, reason="the stroke is faint") for box in words}
    return replace(page, marks=tuple(doubts.get(box, box) for box in page.marks))


def with_two_claims(page: PageReading) -> PageReading:
    """Return the claims with two marks at the first place."""
    marked = {"match.A": ("1", "2")}
    marks = tuple(
        replace(mark, state=State.MARKED if mark.option in marked[mark.field] else State.EMPTY)
        if mark.field in marked
        else mark
        for mark in page.marks
    )
    return replace(page, marks=marks)


def row(*order: int) -> TurnedReading:
    """Return a photograph of Kofi's turned coasters."""
    return TurnedReading("", 1, KIT, TASTER, Outcome.READ, None, order)


def mark(field: str, option: str, state: State, reason: str | None = None) -> Mark:
    """Return one box."""
    return Mark(field, option, state, None, reason)


def _page(pile: Pile, name: str) -> PageReading:
    [page] = pile.readings[name]
    assert isinstance(page, PageReading)
    return page


def _copy(folder: Path, name: str, source: str) -> Path:
    """Copy a sample with some bytes after its end, which make it another file of the same picture."""
    (folder / name).write_bytes((SAMPLES / source).read_bytes() + name.encode())
    return folder / name
