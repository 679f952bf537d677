"""Corners of printed pages with their code, spoilt far worse than pages are, for each decoder and for the reader."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.codes import MODULES, decode, is_genuine
from kit.sheet_layout import Square
from scanner.code_readers import READERS, read_with
from scanner.geometry import no_bend, no_rim
from scanner.identify import Identified, identify
from scanner.locate import Located, locate
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.optics import blurred, dimmed, grainy, smeared, soft, through_jpeg
from scanner.sheet_codes import code_crops, read_sheet_codes
from tests.attribution.injuries import INJURIES, injured, spot
from tests.attribution.kits import PX_PER_MM, on_file, sheets
from tests.attribution.pages import Verdict

Random = np.random.Generator

MARGIN_MM = 7.0
AT_TABLE = [name for name in INJURIES if name not in ("none", "hidden", "two of these")]


@dataclass(frozen=True, slots=True)
class CornerTried:
    """A corner of a run: what each of READERS and the project's own reading made of it.

    `contradicted` tells that the decoders returned two texts; `strays` are texts that a decoder returned and that are
    not the printed one, `credible` those of them that check value, MAC and record would let pass.
    """

    number: int
    kind: str
    sheet: str
    verdicts: tuple[Verdict, ...]
    contradicted: bool
    strays: tuple[str, ...]
    credible: tuple[str, ...]
    picture: Gray | None = None


def try_corner(seed: int, number: int) -> CornerTried:
    """Try the corner of that number; everything about it is drawn from the seed and the number."""
    rng = np.random.default_rng([seed, 2, number])
    which, place = int(rng.integers(len(sheets()))), int(rng.integers(2))
    kind = list(SPOILT)[number % len(SPOILT)]
    corner, square = _corner(which, place)
    image, located = _shot(SPOILT[kind](corner, square, rng), square, which, rng)
    by_reader: list[set[str]] = [set() for _ in READERS]
    for crop, _ in code_crops(image, located, located.frame.codes[0]):
        for texts, reader in zip(by_reader, READERS, strict=True):
            texts.update(read_with(reader, crop))
    printed = sheets()[which]
    verdicts = (
        *(verdict(printed.text, texts) for texts in by_reader),
        judged(printed.layout.sheet, read_sheet_codes(image, located)),
    )
    every = set().union(*by_reader)
    strays = tuple(sorted(every - {printed.text}))
    return CornerTried(
        number,
        kind,
        printed.layout.sheet,
        verdicts,
        contradicted=len(every) > 1,
        strays=strays,
        credible=tuple(text for text in strays if is_credible(text)),
        picture=image if strays or Verdict.WRONG in verdicts else None,
    )


def verdict(printed: str, texts: set[str]) -> Verdict:
    """Judge what a decoder returned of one code."""
    if texts - {printed}:
        return Verdict.WRONG
    return Verdict.RIGHT if texts else Verdict.REFUSED


def judged(sheet: str, texts: tuple[str, ...]) -> Verdict:
    """Judge to which sheet the reader would credit a page with codes of these texts."""
    owner = identify(texts, on_file()) if texts else None
    if not isinstance(owner, Identified):
        return Verdict.REFUSED
    return Verdict.RIGHT if owner.layout.sheet == sheet == owner.code.sheet else Verdict.WRONG


def is_credible(text: str) -> bool:
    """Tell whether check value, MAC and record of a kit on file would let a text pass."""
    code = decode(text)
    kit = on_file().get(code.kit) if code else None
    return bool(code and kit and is_genuine(text, kit.secret) and code.sheet in kit.sheets)


@cache
def _corner(which: int, place: int) -> tuple[Gray, Square]:
    """Return the printed surroundings of a code, and the code's square in them."""
    square = sheets()[which].layout.codes[place]
    page = sheets()[which].page()
    reach = square.side_mm + 2 * MARGIN_MM
    left, top = (round(place_mm - MARGIN_MM) for place_mm in (square.x_mm, square.y_mm))
    left, top = max(left, 0), max(top, 0)
    rows = slice(round(top * PX_PER_MM), round((top + reach) * PX_PER_MM))
    columns = slice(round(left * PX_PER_MM), round((left + reach) * PX_PER_MM))
    return page[rows, columns].copy(), replace(square, x_mm=square.x_mm - left, y_mm=square.y_mm - top)


def _shot(corner: Gray, square: Square, which: int, rng: Random) -> tuple[Gray, Located]:
    """Return a picture of the corner, skew, coarse, soft, noisy, hard compressed, and where the sheet lies in it."""
    px_per_mm, hard = float(rng.uniform(2.6, 9.0)), float(rng.choice([0.2, 1.0]))
    side = round(max(corner.shape) / PX_PER_MM * px_per_mm * 1.25)
    corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * np.array(corner.shape[::-1])
    middle = np.array(corner.shape[::-1]) / 2
    turn = np.deg2rad(rng.uniform(-180.0, 180.0))
    turned = (corners - middle) @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    shear = np.eye(2) + rng.normal(0.0, 0.12, (2, 2))
    quad = (turned * px_per_mm / PX_PER_MM) @ shear + side / 2 + rng.normal(0.0, 0.4, (4, 2)) * px_per_mm
    cut = rng.normal(0.0, 0.25, 2) * side * (rng.random() < 0.2)
    page_to_image = cv2.getPerspectiveTransform(corners.astype(np.float32), (quad + cut).astype(np.float32))
    small = blurred(corner, 0.45 * PX_PER_MM / px_per_mm)
    image = np.full((side, side), int(rng.integers(40, 240)), np.uint8)
    cv2.warpPerspective(small, page_to_image, (side, side), image, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT)
    image = blurred(image, hard * float(rng.exponential(0.22)) * px_per_mm)
    image = smeared(image, hard * float(rng.exponential(0.3)) * px_per_mm, float(rng.uniform(0, 180)))
    image = np.rint(image * rng.uniform(0.3, 1.0) + rng.uniform(0.0, 40.0)).clip(0, 255).astype(np.uint8)
    image = grainy(image, hard * float(rng.exponential(9.0)), rng)
    image = _speckled(image, hard * float(rng.exponential(0.01)), rng)
    image = _hardened(image, rng)
    image = through_jpeg(image, int(rng.choice([100, 60, 20])))
    scale = np.diag([PX_PER_MM, PX_PER_MM, 1.0])
    astray = np.array([[1.0, 0.0, rng.normal(0.0, 0.25)], [0.0, 1.0, rng.normal(0.0, 0.25)], [0.0, 0.0, 1.0]])
    frame = replace(sheets()[which].layout, codes=(square,), edge_marks=())
    matrix = np.asarray(page_to_image @ scale @ astray, np.float64)
    located = replace(_flat(), frame=frame, mm_to_px=matrix / matrix[2, 2], px_per_mm=px_per_mm)
    return image, located


@cache
def _flat() -> Located:
    """Return how a flat page is located."""
    located = locate(sheets()[0].page(), [sheets()[0].layout])
    assert isinstance(located, Located)
    return replace(located, bend=no_bend(), rim=no_rim())


def _speckled(image: Gray, share: float, rng: Random) -> Gray:
    dice = rng.random(image.shape)
    return np.where(dice < share / 2, 0, np.where(dice > 1 - share / 2, 255, image)).astype(np.uint8)


def _hardened(image: Gray, rng: Random) -> Gray:
    """Return the image as one bit, by one threshold or one that follows the surroundings, every fourth time."""
    fate = rng.random()
    if fate > 0.25:
        return image
    if fate > 0.12:
        level = np.percentile(image, 5) + rng.uniform(0.25, 0.75) * np.ptp(np.percentile(image, (5, 95)))
        return np.where(image < level, 0, 255).astype(np.uint8)
    around = cv2.blur(image, (31, 31)).astype(np.float64)
    return np.where(image < around * rng.uniform(0.8, 1.0), 0, 255).astype(np.uint8)


def _at_table(corner: Gray, square: Square, rng: Random) -> Gray:
    return injured(corner, PX_PER_MM, square, str(rng.choice(AT_TABLE)), rng)


def _stained(corner: Gray, square: Square, rng: Random) -> Gray:
    """Spots of any tone over 5 to 60 % of the code."""
    at = spot(square, PX_PER_MM)
    share, covered = rng.uniform(0.05, 0.6), np.zeros(corner.shape, bool)
    left, top = np.rint(at.centre - at.side / 2).astype(int)
    inside = slice(top, top + round(at.side)), slice(left, left + round(at.side))
    while covered[inside].mean() < share:
        centre, radius = at.somewhere(rng), at.side * rng.uniform(0.05, 0.3)
        ring = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
        outline = centre + radius * rng.uniform(0.8, 1.2, (24, 1)) * np.stack([np.cos(ring), np.sin(ring)], axis=1)
        corner = dimmed(corner, outline, rng.uniform(0, 255), 1.0, through=float(rng.choice([0.0, 0.3, 0.6])))
        y, x = np.ogrid[: corner.shape[0], : corner.shape[1]]
        covered |= (x - centre[0]) ** 2 + (y - centre[1]) ** 2 < radius**2
    return corner


def _modules(corner: Gray, square: Square, rng: Random, change: Callable[[Gray, NDArray[np.bool_]], Gray]) -> Gray:
    """Return the corner with up to a fifth of its modules changed, one by one or in clumps."""
    at = spot(square, PX_PER_MM)
    field = rng.random((MODULES, MODULES)).astype(np.float32)
    if rng.random() < 0.5:
        field = soft(field, float(rng.uniform(0.6, 2.0)))
    chosen = (field < np.quantile(field, rng.uniform(0.0, 0.2))).astype(np.uint8)
    left, top = (round(place - at.side / 2) for place in at.centre.tolist())
    side = round(at.side)
    mask = cv2.resize(chosen, (side, side), interpolation=cv2.INTER_NEAREST) > 0
    corner = corner.copy()
    part = corner[top : top + side, left : left + side]
    part[...] = change(part, mask[: part.shape[0], : part.shape[1]])
    return corner


def _erased(corner: Gray, square: Square, rng: Random) -> Gray:
    level = int(rng.choice([0, 128, 255]))
    return _modules(corner, square, rng, lambda part, mask: np.where(mask, level, part).astype(np.uint8))


def _inverted(corner: Gray, square: Square, rng: Random) -> Gray:
    return _modules(corner, square, rng, lambda part, mask: np.where(mask, 255 - part, part).astype(np.uint8))


def _patched(corner: Gray, square: Square, rng: Random) -> Gray:
    """A strip of another sheet's code, exactly in place, with 5 to 40 % of the modules by which the two differ.

    With more than half of them the code would rightly be the other's.
    """
    at, own = spot(square, PX_PER_MM), corner
    differs, share = np.zeros((1, 1), np.bool_), 0.0
    while not differs.any():
        other = _code_of(*_corner(int(rng.integers(len(sheets()))), int(rng.integers(2))))
        left, top = (round(place - at.side / 2) for place in at.centre.tolist())
        corner = own.copy()
        part = corner[top : top + len(other), left : left + len(other)]
        differs = (part < 128) != (other < 128)
    if rng.random() < 0.5:
        part, other, differs = part.T, other.T, differs.T
    while not 0.05 < share < 0.4:
        first, last = sorted(rng.integers(0, len(other) + 1, 2).tolist())
        share = differs[first:last].sum() / differs.sum()
    part[first:last] = other[first:last]
    return corner


def _code_of(corner: Gray, square: Square) -> Gray:
    at = spot(square, PX_PER_MM)
    left, top = (round(place - at.side / 2) for place in at.centre.tolist())
    return corner[top : top + round(at.side), left : left + round(at.side)]


def _several(corner: Gray, square: Square, rng: Random) -> Gray:
    for kind in rng.choice([name for name in SPOILT if name != "two of these"], 2):
        corner = SPOILT[str(kind)](corner, square, rng)
    return corner


def _whole(corner: Gray, square: Square, rng: Random) -> Gray:
    return corner


SPOILT: dict[str, Callable[[Gray, Square, Random], Gray]] = {
    "picture alone": _whole,
    "injured at table": _at_table,
    "stained": _stained,
    "modules erased": _erased,
    "modules inverted": _inverted,
    "strip of another's": _patched,
    "two of these": _several,
}
