"""Scenes for the tests of bad pictures: a drawn page, or several, on a table, photographed from above.

The pages are those of `tests.scanner.pages`, drawn straight from a layout: what was drawn in a box is true of it.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np

from kit.sheet_layout import SheetLayout, Square
from scanner.kits import KitOnFile
from scanner.read_sheet import Finding, Gray, read_gray
from scanner.reading import Outcome, State
from tests.scanner.pages import KIT, cross, draw, form, kit_of

PX = 6.0
SHEET, OTHER, SECOND = form(), form(taster=2), form(role="notes-2")
STRANGE = form(kit="AAAAAA")
KITS = {KIT: kit_of(SHEET, OTHER, SECOND)}
BOTH = {**KITS, "AAAAAA": kit_of(STRANGE, kit="AAAAAA")}
MARGIN_MM = 14.0

Page = tuple[Gray, SheetLayout, frozenset[int]]


@cache
def page(sheet: str = "first", start: int = 0) -> Page:
    """A page with a cross in every 23rd box from `start` on, and which boxes those are."""
    layout = {"first": SHEET, "other": OTHER, "second": SECOND, "strange": STRANGE}[sheet]
    marked = frozenset(range(start, len(layout.marks), 23))
    strokes = [stroke for index in marked for stroke in cross(layout.marks[index])]
    return draw(layout, px_per_mm=PX, strokes=strokes), layout, marked


def desk(width_mm: float, height_mm: float, level: int = 95) -> Gray:
    """A dark, blotchy table."""
    grain = np.random.default_rng(0).normal(level, 6, (round(height_mm / 5), round(width_mm / 5)))
    blotches = cv2.resize(grain, (round(width_mm * PX), round(height_mm * PX)), interpolation=cv2.INTER_CUBIC)
    return np.clip(blotches, 0, 255).astype(np.uint8)


def laid(canvas: Gray, sheet: Gray, x_mm: float, y_mm: float, turn_deg: float = 0.0) -> Gray:
    """Lay a sheet on a canvas, its shadow beside it."""
    turn = np.deg2rad(turn_deg)
    cosine, sine = np.cos(turn), np.sin(turn)
    view = np.array([[cosine, -sine, x_mm * PX], [sine, cosine, y_mm * PX]])
    size = canvas.shape[1], canvas.shape[0]
    where = cv2.warpAffine(np.full_like(sheet, 255), view, size)
    shadow = cv2.GaussianBlur(np.roll(where, (4, 4), (0, 1)), (0, 0), 4.0)
    shaded = canvas * (1 - 0.3 * shadow.astype(np.float32) / 255)
    there = cv2.warpAffine(sheet, view, size, flags=cv2.INTER_LINEAR)
    return np.where(where > 127, there, shaded).astype(np.uint8)


def taken(scene: Gray, *, white: float = 235, black: float = 15, blur_px: float = 0.6, noise: float = 2.0) -> Gray:
    """A photograph of a scene from straight above."""
    soft = np.asarray(cv2.GaussianBlur(scene, (0, 0), blur_px), np.float64)
    seen = black + soft * (white - black) / 255 + np.random.default_rng(3).normal(0, noise, scene.shape)
    return np.clip(seen, 0, 255).astype(np.uint8)


def on_desk(sheet: Gray, turn_deg: float = 0.5) -> Gray:
    """A sheet alone on the table."""
    height, width = (side / PX + 2 * MARGIN_MM for side in sheet.shape)
    return laid(desk(width, height), sheet, MARGIN_MM, MARGIN_MM, turn_deg)


@cache
def sheet_on_desk(turn_deg: float = 0.5) -> Gray:
    """The first page alone on the table."""
    alone = on_desk(page()[0], turn_deg)
    alone.flags.writeable = False
    return alone


def read(picture: Gray, kits: dict[str, KitOnFile] | None = None) -> Finding:
    return read_gray(np.ascontiguousarray(picture), KITS if kits is None else kits)


def refused(picture: Gray, kits: dict[str, KitOnFile] | None = None) -> str:
    """The sentence of a picture that is not read: one sentence, and no box with it."""
    finding = read(picture, kits)
    assert finding.outcome in (Outcome.UNREADABLE, Outcome.FOREIGN)
    assert finding.marks == ()
    assert finding.reason
    assert ". " not in finding.reason
    assert not finding.reason.endswith(".")
    return finding.reason


def assert_read_as_drawn(finding: Finding, layout: SheetLayout, marked: frozenset[int], doubtful: int = 0) -> None:
    assert finding.outcome is Outcome.READ, finding.reason
    assert finding.code is not None
    assert finding.code.sheet == layout.sheet
    states = [mark.state for mark in finding.marks]
    assert states.count(State.DOUBTFUL) <= doubtful
    for index, state in enumerate(states):
        if state is not State.DOUBTFUL:
            assert state is (State.MARKED if index in marked else State.EMPTY), layout.marks[index]


def without(sheet: Gray, *squares: Square, level: int = 200) -> Gray:
    """The page with slips of paper laid over these squares."""
    spoilt = sheet.copy()
    for square in squares:
        x, y, side = (round(mm * PX) for mm in (square.x_mm - 2, square.y_mm - 2, square.side_mm + 4))
        spoilt[max(0, y) : y + side, max(0, x) : x + side] = level
    return spoilt


def glaring(scene: Gray, *squares: Square, level: float = 255.0) -> Gray:
    """The scene with round, soft spots of light (or of darkness) over these squares of a page `on_desk`."""
    cover = np.zeros(scene.shape, np.float32)
    for square in squares:
        x, y = square.x_mm + square.side_mm / 2 + MARGIN_MM, square.y_mm + square.side_mm / 2 + MARGIN_MM
        cv2.circle(cover, (round(x * PX), round(y * PX)), round(0.85 * square.side_mm * PX), 1.0, -1)
    cover = np.asarray(cv2.GaussianBlur(cover, (0, 0), 2.0 * PX), np.float32)
    return (scene * (1 - cover) + level * cover).astype(np.uint8)


def strangers_page(width_mm: float = 210.0, height_mm: float = 297.0) -> Gray:
    """A page of print that is none of ours."""
    sheet = np.full((round(height_mm * PX), round(width_mm * PX)), 245, np.uint8)
    for line in range(8, round(height_mm) - 8, 7):
        words = "Minutes of the harbour board, page 17: dredging, moorings, herons"
        cv2.putText(sheet, words, (40, round(line * PX)), cv2.FONT_HERSHEY_SIMPLEX, 0.9, 20, 2)
    return sheet
