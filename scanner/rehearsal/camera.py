"""The simulated camera: what scanners and telephones make of a page, by the names of what goes wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.optics import as_jpeg
from scanner.rehearsal.paper import (
    CopySeverity,
    StainSeverity,
    dog_eared,
    papery,
    photocopied,
    print_scale,
    print_scaled,
    stained,
    thirds_creased,
)
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture, as_seen
from scanner.rehearsal.scan import ScanSeverity, fax, feeder, flatbed
from scanner.rehearsal.severities import draw, ranges
from scanner.rehearsal.warp import Matrix, inverse, through

__all__ = [
    "CONDITIONS",
    "PHOTOGRAPHS",
    "SCANS",
    "SHOTS",
    "CopySeverity",
    "PhotographSeverity",
    "Picture",
    "ScanSeverity",
    "StainSeverity",
    "as_jpeg",
    "as_seen",
    "fax",
    "feeder",
    "flatbed",
    "photocopied",
    "photograph",
    "print_scaled",
    "scaled",
    "stained",
]

Shot = Callable[[Gray, float, np.random.Generator], Picture]
"""A page, its pixels per millimetre and a source of chance, to a picture."""


def scanned(page: Gray, px_per_mm: float, rng: np.random.Generator, *, table: str, dpi: float) -> Picture:
    """Return a gray scan with severities drawn from that table."""
    device = flatbed if table == "flatbed" else feeder
    return device(page, px_per_mm, dpi, rng, draw(ScanSeverity, table, rng))


def faxed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a one-bit scan in a fax's fine mode."""
    return fax(page, px_per_mm, rng, draw(ScanSeverity, "fax", rng))


def dithered(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a one-bit 200-dpi scan that shows greys by dots."""
    return feeder(page, px_per_mm, 200.0, rng, draw(ScanSeverity, "dithered", rng))


def photographed(page: Gray, px_per_mm: float, rng: np.random.Generator, *, table: str = "photo") -> Picture:
    """Return a photograph with severities drawn from that table."""
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, table, rng))


def folded(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a page that came by post, folded in thirds."""
    darkness = _drawn("thirds", "crease_darkness", rng)
    return photographed(thirds_creased(page, px_per_mm, darkness, rng), px_per_mm, rng, table="photo.folded")


def after_folding(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a 200-dpi scan of a page that was folded in thirds and pressed flat."""
    darkness = _drawn("thirds", "crease_darkness", rng)
    return scanned(thirds_creased(page, px_per_mm, darkness, rng), px_per_mm, rng, table="feeder", dpi=200.0)


def after_stains(page: Gray, px_per_mm: float, rng: np.random.Generator, *, shot: Shot) -> Picture:
    """Return a shot of a page that bears the table's traces."""
    return shot(stained(page, px_per_mm, rng, draw(StainSeverity, "stains", rng)), px_per_mm, rng)


def after_copying(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a 300-dpi feeder scan of a photocopy of the marked page."""
    severity = draw(CopySeverity, "copy", rng)
    picture = scanned(photocopied(page, px_per_mm, rng, severity), px_per_mm, rng, table="feeder", dpi=300.0)
    return replace(picture, faintest=2.0 * (1.0 - severity.white_point))


def with_little_toner(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a 200-dpi scan of a copy made with hardly any toner left."""
    severity = draw(CopySeverity, "copy.starved", rng)
    return scanned(photocopied(page, px_per_mm, rng, severity), px_per_mm, rng, table="feeder", dpi=200.0)


def on_recycled_paper(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a 200-dpi scan of a page on grey, fibrous paper."""
    tone, fibre = (_drawn("recycled", name, rng) for name in ("tone", "fibre"))
    return scanned(papery(page, px_per_mm, tone, rng, fibre), px_per_mm, rng, table="flatbed", dpi=200.0)


def with_a_dog_ear(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a 300-dpi scan of a page with one corner folded over."""
    leg_mm = _drawn("dog_ear", "leg_mm", rng)
    corner = int(rng.integers(4))
    folded_page, hidden = dog_eared(page, px_per_mm, corner, leg_mm, desk=245.0)
    picture = scanned(folded_page, px_per_mm, rng, table="flatbed", dpi=300.0)
    return replace(picture, hidden_mm=(hidden,))


def at_print_scale(page: Gray, px_per_mm: float, rng: np.random.Generator, *, which: str, shot: Shot) -> Picture:
    """Return a shot of a page that was printed smaller or larger than designed."""
    return scaled(page, px_per_mm, _drawn("print_scale", which, rng), lambda sheet, scale: shot(sheet, scale, rng))


def scaled(page: Gray, px_per_mm: float, factor: float, shot: Callable[[Gray, float], Picture]) -> Picture:
    """Return a shot of the page printed at that scale; the picture's places are those of the unscaled layout."""
    picture = shot(print_scaled(page, factor), px_per_mm)
    sizes = page.shape[1] / px_per_mm, page.shape[0] / px_per_mm
    return moved(picture, print_scale(*sizes, factor))


def moved(picture: Picture, layout_to_page: Matrix) -> Picture:
    """Return the picture with its places told from a layout that lies so on the page."""
    back = inverse(layout_to_page)
    return replace(
        picture,
        place=lambda places: picture.place(through(layout_to_page, places)),
        hidden_mm=tuple(through(back, outline) for outline in picture.hidden_mm),
    )


def _drawn(table: str, name: str, rng: np.random.Generator) -> float:
    low, high = ranges(table)[name]
    return float(rng.uniform(low, high))


def _image(page: Gray, px_per_mm: float, rng: np.random.Generator, *, shot: Shot) -> Gray:
    return shot(page, px_per_mm, rng).image


_FLATBED_200 = partial(scanned, table="flatbed", dpi=200.0)
_FLATBED_300 = partial(scanned, table="flatbed", dpi=300.0)

SCANS: dict[str, Shot] = {
    "flatbed-300": _FLATBED_300,
    "flatbed-200": _FLATBED_200,
    "feeder-300": partial(scanned, table="feeder", dpi=300.0),
    "feeder-200": partial(scanned, table="feeder", dpi=200.0),
    "feeder-150": partial(scanned, table="feeder", dpi=150.0),
    "fax-200": faxed,
    "dithered-200": dithered,
    "stained": partial(after_stains, shot=_FLATBED_200),
    "creased": after_folding,
    "fit-to-page": partial(at_print_scale, which="fit_to_page", shot=_FLATBED_200),
    "other-print-scale": partial(at_print_scale, which="any", shot=_FLATBED_200),
    "photocopied": after_copying,
    "starved-toner": with_little_toner,
    "recycled-paper": on_recycled_paper,
    "dog-eared": with_a_dog_ear,
}

PHOTOGRAPHS: dict[str, Shot] = {
    "photo-daylight": photographed,
    "photo-tilted": partial(photographed, table="photo.tilted"),
    "photo-shadowed": partial(photographed, table="photo.shadowed"),
    "photo-chat": partial(photographed, table="photo.chat"),
    "photo-bent": partial(photographed, table="photo.bent"),
    "folded": folded,
    "photo-thumb": partial(photographed, table="photo.thumb"),
    "photo-cut": partial(photographed, table="photo.cut"),
    "photo-stained": partial(after_stains, shot=photographed),
    "photo-lamp": partial(photographed, table="photo.lamp"),
    "photo-crumpled": partial(photographed, table="photo.crumpled"),
    "photo-moved": partial(photographed, table="photo.moved"),
    "photo-sleeve": partial(photographed, table="photo.sleeve"),
    "photo-dim": partial(photographed, table="photo.dim"),
}

SHOTS = SCANS | PHOTOGRAPHS
"""Every condition that a reader may be tuned on; those kept for the last are in `scanner.rehearsal.held_out`."""

CONDITIONS: dict[str, Callable[[Gray, float, np.random.Generator], Gray]] = {
    name: partial(_image, shot=shot) for name, shot in SHOTS.items()
}
"""The same, giving the image alone."""
