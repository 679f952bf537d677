"""What seldom happens to a sheet, for `uncommon_scans` and `uncommon_photographs`; once held out, tuned upon since."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.optics import dimmed, filled, lit, soft, toned
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, direction, with_line
from scanner.rehearsal.warp import Matrix

COARSE = 4.0
"""Pixels per millimetre of fields that vary slowly."""

ROUND_MM = 1.3
"""How far past a thing on the sheet a box may hide one of the nine places that `as_seen` looks at."""


def drawn_from(table: str, rng: np.random.Generator) -> dict[str, Any]:
    """Return the values of one table of `uncommon.toml`."""
    values: dict[str, Any] = draw(dict, f"uncommon.{table}", rng)
    return values


def size_mm(page: Gray, px_per_mm: float) -> Points:
    """Return the page's width and height."""
    return xy(page.shape[1] / px_per_mm, page.shape[0] / px_per_mm)


def disc(middle: Points, radius_mm: float) -> Points:
    """Return the outline of a disc, and of the boxes that it just touches."""
    return middle + (radius_mm + ROUND_MM) * circle()


def rusted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page as clips left it that held it for years: their traces in rust, from the upper or left edge."""
    drawn, size = drawn_from("rust", rng), size_mm(page, px_per_mm)
    shadow = np.ones((round(size[1] * COARSE), round(size[0] * COARSE)), dtype=np.float32)
    for _ in range(drawn["clips"]):
        wire = _clip(drawn["long_mm"], drawn["wide_mm"])
        at, lean = float(rng.uniform(0.26, 0.74)), direction(float(rng.uniform(-9.0, 9.0)))
        turned = wire @ np.array([lean, xy(-lean[1], lean[0])]) + xy(0.0, float(rng.uniform(-4.0, 3.0)))
        path = turned + xy(at * size[0], 0.0) if rng.random() < 0.6 else turned[:, ::-1] + xy(0.0, at * size[1])
        count = len(path) - 1
        patches = np.interp(np.arange(count), np.linspace(0, count, 12), rng.uniform(0.15, 1.0, 12))
        page = with_line(page, px_per_mm, path, drawn["wire_mm"], drawn["darkness"] * patches)
        around = filled((shadow.shape[0], shadow.shape[1]), [path * COARSE], drawn["bloom"])
        shadow *= 1.0 - soft(around, 1.6 * COARSE)
    return lit(page, shadow)


def sunned(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page that lay in the sun for a summer, partly under another: browned but for what that one hid."""
    drawn, size = drawn_from("sunned", rng), size_mm(page, px_per_mm)
    rows, columns = round(size[1] * COARSE), round(size[0] * COARSE)
    way = direction(drawn["turn_deg"])
    middle, half = xy(drawn["x"], drawn["y"]) * size, 0.5 * xy(drawn["wide"], drawn["tall"]) * size
    corners = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]) * half
    outline = middle + corners @ np.array([way, xy(-way[1], way[0])])
    kept = soft(filled((rows, columns), [outline * COARSE]), drawn["soft_mm"] * COARSE)
    clouds = soft(rng.standard_normal((rows // 16, columns // 16)).astype(np.float32), 3.0)
    uneven = cv2.resize(1.0 + 0.12 * clouds / clouds.std(), (columns, rows)).clip(0.7, 1.3)
    gain = drawn["paper"] * (1.0 - drawn["browned"] * uneven * (1.0 - kept))
    return lit(page, gain.astype(np.float32))


def grooved(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on which another was written: grooves without ink, dark on one side and bright on the other."""
    drawn, size = drawn_from("grooves", rng), size_mm(page, px_per_mm)
    page = toned(page, 0.0, drawn["paper"])
    light = 0.16 * direction(float(rng.uniform(0.0, 360.0)))
    left, top = rng.uniform(0.06, 0.25) * size[0], rng.uniform(0.06, 0.4) * size[1]
    for line in range(drawn["lines"]):
        y = top + line * drawn["pitch_mm"]
        if y > 0.95 * size[1]:
            break
        x = np.arange(0.0, rng.uniform(0.35, 0.7) * size[0], 0.35)
        tall = 0.3 + 1.8 * _wander(x, 1.7, rng)
        turns = 2 * np.pi * np.cumsum(rng.uniform(0.06, 0.22, len(x)))
        path = np.column_stack([left + x + 0.5 * np.cos(turns), y - tall * np.maximum(np.sin(turns), -0.3)])
        pressed = drawn["depth"] * _wander(x[1:], 8.0, rng)
        pressed[(x[1:] % 23.0) < 3.5] = 0.0  # between words
        page = with_line(page, px_per_mm, path + light, 0.3, pressed)
        page = with_line(page, px_per_mm, path - light, 0.3, pressed, 255.0)
    return page


def stamped(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, Points]:
    """Return the page with an office's stamp on it, a frame with three lines in it, and the stamp's outline, mm."""
    drawn, size = drawn_from("stamp", rng), size_mm(page, px_per_mm)
    way = direction(drawn["turn_deg"])
    middle, half = xy(drawn["x"], drawn["y"]) * size, 0.5 * xy(drawn["wide_mm"], drawn["tall_mm"])
    turn = np.array([way, xy(-way[1], way[0])])

    def laid(left: float, top: float, right: float, bottom: float) -> Points:
        corners = np.array([(left, top), (right, top), (right, bottom), (left, bottom)])
        outline: Points = middle + corners @ turn
        return outline

    ink = np.zeros(page.shape, dtype=np.float32)
    shape, (x, y) = (page.shape[0], page.shape[1]), half
    for inset, wide in ((0.0, 0.7), (1.2, 0.3)):
        outer = laid(-x + inset, -y + inset, x - inset, y - inset)
        inner = laid(-x + inset + wide, -y + inset + wide, x - inset - wide, y - inset - wide)
        ink = np.maximum(ink, filled(shape, [outer * px_per_mm]) - filled(shape, [inner * px_per_mm]))
    letters = []
    for line, high in ((-0.55, 1.7), (0.0, 2.6), (0.55, 1.7)):
        at = -x + float(rng.uniform(3.0, 6.0))
        while at < x - 5.0:
            wide = high * float(rng.uniform(0.4, 0.75))
            letters.append(laid(at, line * y - high / 2, at + 0.35, line * y + high / 2))
            letters.append(laid(at, line * y + high * float(rng.uniform(-0.5, 0.35)), at + wide, line * y + 0.2 * high))
            at += wide + float(rng.choice([0.7, 0.7, 0.7, 2.6]))
    for letter in letters:
        page = dimmed(page, letter * px_per_mm, drawn["level"], 0.4, through=float(rng.uniform(0.1, 0.6)))
    pad = soft(rng.standard_normal((page.shape[0] // 16, page.shape[1] // 16)).astype(np.float32), 1.2)
    pressed = cv2.resize(0.65 + 0.3 * pad / pad.std(), (page.shape[1], page.shape[0])).clip(0.1, 0.95)
    share = soft(ink, 0.06 * px_per_mm) * pressed
    page = np.rint(page * (1.0 - share) + drawn["level"] * share).astype(np.uint8)
    return page, laid(-x - ROUND_MM, -y - ROUND_MM, x + ROUND_MM, y + ROUND_MM)


def tracked(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on which dirty rollers left their tread, in bands along the feed."""
    drawn, size = drawn_from("tracks", rng), size_mm(page, px_per_mm)
    x, y = np.meshgrid(np.arange(0.0, size[0], 1 / COARSE), np.arange(0.0, size[1], 1 / COARSE))
    taken = np.zeros_like(x)
    for at in np.linspace(0.2, 0.8, drawn["bands"]) + rng.uniform(-0.06, 0.06, drawn["bands"]):
        beside = np.abs(x - at * size[0]) / (drawn["wide_mm"] / 2)
        inside = 1.0 / (1.0 + np.exp(np.clip((beside - 1.0) * 14.0, -30.0, 30.0)))
        tread = np.sin(2 * np.pi * (y + drawn["lean"] * np.abs(x - at * size[0])) / drawn["pitch_mm"])
        turn = 0.55 + 0.45 * np.sin(2 * np.pi * y / drawn["turn_mm"] + float(rng.uniform(0.0, 6.3)))
        taken = np.maximum(taken, drawn["darkness"] * inside * turn * (0.45 + 0.55 * np.clip(2.0 * tread, 0.0, 1.0)))
    return lit(page, (1.0 - taken).astype(np.float32))


def jetted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page as a tired ink-jet prints it: swath beside swath, not quite in line, some of its nozzles dry."""
    drawn = drawn_from("jet", rng)
    swath, page = drawn["swath_mm"] * px_per_mm, page.copy()
    dry = rng.uniform(0.0, 1.0, drawn["dry"])
    wide = max(1, round(drawn["gap_mm"] * px_per_mm))
    most = drawn["off_mm"] * px_per_mm
    for start in np.arange(-float(rng.uniform(0.0, swath)), page.shape[0], swath):
        top, end = max(0, round(start)), max(0, round(start + swath))
        page[top:end] = np.roll(page[top:end], round(float(rng.uniform(-most, most))), axis=1)
        seam = 0.0, float(rng.uniform(0.0, drawn["seam"]))
        for share, left in (seam, *((nozzle, drawn["dry_gap"]) for nozzle in dry)):
            row = round(start + share * swath)
            if 0 <= row < page.shape[0]:
                line = page[row : row + wide]
                line[...] = np.rint(line + left * (255.0 - line)).astype(np.uint8)
    return page


def soaked(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page that lay with one side in the wet: darker there, up to a line."""
    drawn, size = drawn_from("soaked", rng), size_mm(page, px_per_mm)
    x, y = np.meshgrid(np.arange(0.0, size[0], 1 / COARSE), np.arange(0.0, size[1], 1 / COARSE))
    far, along = ((x, y), (y, x), (size[0] - x, y), (size[1] - y, x))[drawn["side"]]
    rim = _wander(along, 26.0, rng)
    inside = drawn["deep_mm"] * (0.5 + 0.7 * rim) - far
    wet = 1.0 / (1.0 + np.exp(np.clip(-inside / drawn["soft_mm"], -30.0, 30.0)))
    below = soft(rng.standard_normal(x.shape).astype(np.float32), 2.5 * COARSE)
    mottled = 1.0 + 0.15 * below / below.std()
    line = np.exp(-0.5 * np.square(inside / 0.8))
    taken = drawn["darkness"] * mottled.clip(0.6, 1.4) * wet + drawn["line"] * line
    return lit(page, (1.0 - taken.clip(0.0, 0.6)).astype(np.float32))


def pocketed(page: Gray, px_per_mm: float, rng: np.random.Generator, columns: int, rows: int, darkness: float) -> Gray:
    """Return the page with the creases of so many panels beside and above one another, as it was folded small."""
    size = size_mm(page, px_per_mm)
    lines = [(xy(size[0] * i / columns, 0.0), xy(size[0] * i / columns, size[1])) for i in range(1, columns)]
    lines += [(xy(0.0, size[1] * i / rows), xy(size[0], size[1] * i / rows)) for i in range(1, rows)]
    for start, end in lines:
        share = np.linspace(0.0, 1.0, 200)[:, None]
        path = start + share * (end - start) + rng.normal(0.0, 0.05, (200, 2))
        worn = np.interp(np.arange(199), np.linspace(0, 198, 18), rng.uniform(0.1, 1.0, 18))
        page = with_line(page, px_per_mm, path, 0.2, darkness * worn)
        page = with_line(page, px_per_mm, path + 0.18, 0.2, 0.6 * darkness * worn, 250.0)
    return page


def keys(x_mm: NDArray[np.float64], y_mm: NDArray[np.float64], rng: np.random.Generator) -> Field:
    """Return the levels of a computer's keyboard, lettered, at these places."""
    drawn = drawn_from("keys", rng)
    way = direction(drawn["turn_deg"])
    down = (y_mm * way[0] - x_mm * way[1]) / drawn["pitch_mm"]
    row = np.floor(down).astype(int)
    across = (x_mm * way[0] + y_mm * way[1]) / drawn["pitch_mm"] + 0.25 * (row % 4)
    beside, below = np.abs(across % 1.0 - 0.5), np.abs(down % 1.0 - 0.5)
    key = (np.maximum(beside, below) < 0.42) & (np.hypot(beside, below) < 0.57)
    strokes = rng.random((29, 31, 5, 5)) < 0.5
    at = np.floor(np.stack([across, down]) % 1.0 * 22.0).astype(int) - 4  # a letter in the upper left of each key
    lettered = key & ((at >= 0) & (at < 5)).all(axis=0)
    lettered &= strokes[row % 29, np.floor(across).astype(int) % 31, at[1].clip(0, 4), at[0].clip(0, 4)]
    levels = np.where(lettered, drawn["letter"], np.where(key, drawn["key"], drawn["gap"]))
    return np.asarray(levels, dtype=np.float32)


def askew(size: Points, turn_deg: float, shear: float) -> Matrix:
    """Return the matrix from a place on the layout to where a printer puts it that drew the paper in crookedly."""
    way, middle = direction(turn_deg), size / 2
    linear = np.array([[way[0], -way[1] + shear], [way[1], way[0]]])
    return np.vstack([np.column_stack([linear, middle - linear @ middle]), [0.0, 0.0, 1.0]])


def _clip(long: float, wide: float) -> Points:
    """The wire of a paper clip that lies along y from y = 0."""
    turns = np.linspace(0.0, np.pi, 24)
    arc = np.column_stack([np.cos(turns), np.sin(turns)])
    outer, inner = wide / 2, 0.36 * wide
    return np.vstack([
        _straight(xy(-outer, 0.25 * long), xy(-outer, long - outer)),
        xy(0.0, long - outer) + outer * arc[::-1],
        _straight(xy(outer, long - outer), xy(outer, outer)),
        xy(0.5 * (outer - inner), outer) + 0.5 * (outer + inner) * arc * (1.0, -1.0),
        _straight(xy(-inner, outer), xy(-inner, 0.75 * long)),
        xy(0.0, 0.75 * long) + inner * arc[::-1],
        _straight(xy(inner, 0.75 * long), xy(inner, 0.3 * long)),
    ])  # fmt: skip


def _straight(start: Points, end: Points) -> Points:
    return start + np.linspace(0.0, 1.0, 30)[:, None] * (end - start)


def _wander(at_mm: NDArray[np.float64], step_mm: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """A share (0 … 1) at each of these places along a line, drawn afresh for every step of it."""
    steps = np.arange(0.0, float(at_mm.max()) + 2.0 * step_mm, step_mm)
    at, heights = at_mm / step_mm, rng.random(len(steps))
    before, share = at.astype(int), at % 1.0
    wander: NDArray[np.float64] = heights[before] + np.diff(heights)[before] * share**2 * (3.0 - 2.0 * share)
    return wander
