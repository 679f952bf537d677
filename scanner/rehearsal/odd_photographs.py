"""Photographs that are odd; held out once, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import cv2
import numpy as np

from scanner.rehearsal.after_shot import (
    SQUARE,
    displaced,
    lit_by,
    raised,
    scale_px_per_mm,
    shares_grid,
    unfocused,
    veiled,
)
from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.odd_sheets import (
    ROUND_MM,
    Grid,
    clouds,
    cork,
    denim,
    disc,
    drawn_from,
    glided,
    kept,
    laid_on,
    sent,
    size_mm,
    tiles,
    turned,
)
from scanner.rehearsal.optics import (
    dimmed,
    filled,
    grainy,
    sharpened,
    smeared,
    soft,
    through_jpeg,
    toned,
)
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, direction


def through_fog(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph through a lens that fogged over on coming in from the cold, wiped clear in part."""
    picture, drawn = _posed(page, px_per_mm, rng, "upright"), drawn_from("fog", rng)
    shape = picture.image.shape[0] // 8, picture.image.shape[1] // 8
    cloudy = clouds(shape, drawn["clouds"] * max(shape), rng)
    thick = np.clip(0.5 + 0.45 * (cloudy + 0.9 - 2.0 * drawn["clear"]), 0.0, 1.0)
    image = unfocused(picture.image, thick, drawn["most_mm"] * scale_px_per_mm(picture))
    return kept(veiled(replace(picture, image=image), drawn["veil"] * thick, 228), rng)


def against_the_sun(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph, sent by a messenger, into whose lens the sun shone: a glow, rays and a row of ghosts."""
    picture, drawn = _posed(page, px_per_mm, rng, "sent"), drawn_from("flare", rng)
    x, y = shares_grid(picture)
    way, shape = direction(drawn["side_deg"]), (x.shape[0], x.shape[1])
    middle = 0.5 * xy(x.max(), y.max())
    sun = middle + 0.55 * float(x.max() + y.max()) / 2 * way
    away = np.hypot(x - sun[0], y - sun[1])
    around = np.arctan2(y - sun[1], x - sun[0])
    veil = drawn["glow"] * np.exp(-np.square(away / drawn["reach"]))
    if drawn["rays"]:
        star = np.cos(0.5 * drawn["rays"] * (around - float(rng.uniform(0.0, 6.3)))) ** 40
        veil += drawn["ray"] * star * np.exp(-away / (2.0 * drawn["reach"]))
    corners = np.column_stack([np.cos(np.arange(6) * np.pi / 3), np.sin(np.arange(6) * np.pi / 3)])
    for along in rng.uniform(-1.1, 0.7, drawn["ghosts"]):
        spot = (middle + along * (sun - middle)) * max(shape)
        iris = spot + max(shape) * float(rng.uniform(0.012, 0.075)) * corners
        veil += drawn["ghost"] * float(rng.uniform(0.4, 1.0)) * soft(filled(shape, [iris]), 1.2)
    return sent(kept(veiled(picture, np.clip(veil, 0.0, 0.5), 252), rng), rng)


def on_a_train(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph on a train's table: taken line by line while telephone and sheet shook."""
    picture, drawn = _posed(page, px_per_mm, rng, "leaning"), drawn_from("train", rng)
    rows, swing = picture.image.shape[0], drawn["swing_mm"] * scale_px_per_mm(picture)
    turns, damped = rng.uniform(0.0, 2 * np.pi, 2), float(rng.uniform(0.0, 0.6))

    def shift(px: Points) -> Points:
        share = px[:, 1] / rows
        phase = 2 * np.pi * share / drawn["pitch"]
        across = (1.0 - damped * share) * np.sin(phase + turns[0])
        return np.asarray(swing * np.column_stack([across, 0.35 * np.sin(0.7 * phase + turns[1])]))

    swayed = displaced(picture, shift)
    return kept(replace(swayed, image=smeared(swayed.image, drawn["smear_px"], 0.0)), rng)


def by_the_wide_lens(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph by a telephone's widest lens: straight lines wave like a moustache, its corners are soft."""
    picture, drawn = _posed(page, px_per_mm, rng, "wide"), drawn_from("moustache", rng)
    rows, columns = picture.image.shape
    middle, far = 0.5 * xy(columns, rows), 0.5 * float(np.hypot(columns, rows))

    def shift(px: Points) -> Points:
        out = px - middle
        r2 = np.square(out / far).sum(axis=1).clip(0.0, 1.2)[:, None]
        bent: Points = out * (drawn["inner"] * r2 + drawn["outer"] * r2 * (r2 - 0.6))
        return bent

    bent = displaced(picture, shift)
    x, y = shares_grid(picture)
    off = np.hypot(x - x.mean(), y - y.mean())
    soft_px = drawn["corner_mm"] * scale_px_per_mm(picture)
    return kept(replace(bent, image=unfocused(bent.image, (off / off.max()) ** 3, soft_px)), rng)


def on_tiles(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on a table of small tiles."""
    return kept(laid_on(_posed(page, px_per_mm, rng, "steep"), size_mm(page, px_per_mm), tiles, rng), rng)


def on_the_board(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet pinned to a cork board, at times by one corner."""
    drawn, size = drawn_from("pins", rng), size_mm(page, px_per_mm)
    hidden: list[Points] = []
    picture = laid_on(_posed(page, px_per_mm, rng, "upright"), size, cork, rng)
    scale, image = scale_px_per_mm(picture), picture.image
    fall, radius = drawn["fall_mm"] * direction(drawn["fall_deg"]), drawn["radius_mm"]
    for side in rng.permutation(4)[: drawn["pins"]]:
        out = direction(90.0 * side)
        along = float(rng.uniform(-0.18, 0.18)) * xy(-out[1], out[0])
        middle = size * (0.5 + 0.5 * out + along) - out * float(rng.uniform(4.0, 9.0))
        if not hidden and rng.random() < drawn["on_corner"]:
            corner = SQUARE[int(rng.integers(4))]
            middle = corner * size + (1.0 - 2.0 * corner) * rng.uniform(4.0, 9.0, 2)
        tone = float(rng.uniform(40.0, 215.0))
        shade = np.vstack([middle + 0.6 * radius * circle(), middle + fall + 0.9 * radius * circle()])
        hull = cv2.convexHull(shade.astype(np.float32))[:, 0].astype(np.float64)
        image = dimmed(image, picture.place(hull), 0.0, 0.5 * scale, 1.0 - drawn["shadow"])
        for share, lighter in ((1.0, 0.0), (0.93, 0.12), (0.5, -0.2), (0.44, 0.2)):
            lifted = middle - 0.25 * (1.0 - share) * fall
            level = float(np.clip(tone * (1.0 + lighter), 8.0, 250.0))
            image = dimmed(image, picture.place(lifted + share * radius * circle()), level, 0.12 * scale)
        hidden += [disc(middle, radius), disc(middle + fall / 2, radius), disc(middle + fall, radius)]
    return kept(replace(picture, image=image, hidden_mm=tuple(hidden)), rng)


def beside_a_napkin(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet one corner of which lies under an embossed paper napkin."""
    picture, drawn = _posed(page, px_per_mm, rng, "pose"), drawn_from("napkin", rng)
    size, scale, corner = size_mm(page, px_per_mm), scale_px_per_mm(picture), SQUARE[drawn["corner"]]
    inward, tip = 1.0 - 2.0 * corner, corner * size
    legs = np.array([(drawn["along_mm"], 0.0), (0.0, drawn["down_mm"])]) * inward
    edge = 1.6 * (legs[1] - legs[0])
    middle = tip + legs.mean(axis=0)
    out = xy(edge[1], -edge[0]) / np.hypot(*edge)
    out = out if out @ inward < 0.0 else -out
    ends = np.array([middle - edge / 2, middle + edge / 2])
    napkin = np.vstack([ends, ends[::-1] + 75.0 * out])
    px = np.rint(picture.place(tip + inward * 40.0 + np.array([[0.0, 0.0], [3.0, 0.0], [0.0, 3.0]]))).astype(int)
    rows, columns = picture.image.shape
    paper = float(picture.image[px[:, 1].clip(0, rows - 1), px[:, 0].clip(0, columns - 1)].max())
    level = min(252.0, drawn["tone"] * paper)
    cast = napkin - drawn["shadow_mm"] * out
    image = dimmed(picture.image, picture.place(cast), 0.0, 0.6 * scale, 1.0 - drawn["shadow"])
    image = dimmed(image, picture.place(napkin), level, 0.12 * scale)
    way = edge / np.hypot(*edge)
    for step in np.arange(2.0, np.hypot(*edge) - 2.0, 2.6):
        for deep in (2.2, 4.4):
            dot = ends[0] + step * way + deep * out + 0.45 * circle()
            image = dimmed(image, picture.place(dot), 0.86 * level, 0.1 * scale)
    fold = np.array([ends[0] + 16.0 * out, ends[1] + 19.0 * out, ends[1] + 19.8 * out, ends[0] + 16.8 * out])
    image = dimmed(image, picture.place(fold), 0.88 * level, 0.25 * scale)
    past = -(drawn["shadow_mm"] + 2.0 * ROUND_MM) * out
    return kept(replace(picture, image=image, hidden_mm=(np.vstack([ends + past, napkin[2:]]),)), rng)


def rolled_up(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that came in a tube: both its ends stand up."""
    drawn, size = drawn_from("rolled_up", rng), size_mm(page, px_per_mm)
    ends = rng.uniform(0.5, 1.0, 2) * drawn["height_mm"]

    def height(mm: Points) -> Grid:
        above, below = (np.clip(1.0 - y / drawn["reach_mm"], 0.0, 1.1) for y in (mm[:, 1], size[1] - mm[:, 1]))
        return np.asarray(ends[0] * above**2 + ends[1] * below**2)

    return kept(raised(_posed(page, px_per_mm, rng, "risen"), size, height, drawn, rng), rng)


def was_an_aeroplane(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that somebody had folded to an aeroplane and opened again."""
    drawn, size = drawn_from("aeroplane", rng), size_mm(page, px_per_mm)
    nose, steep = xy(size[0] / 2, 0.0), np.tan(np.deg2rad(22.5))
    wide = float(rng.uniform(14.0, 30.0))
    lines = [(nose, xy(nose[0], size[1]))]
    for way in (-1.0, 1.0):
        side = nose[0] * (1.0 + way)
        lines += [(nose, xy(side, nose[0])), (nose, xy(side, nose[0] / steep))]
        lines += [(xy(nose[0] + way * wide, wide / steep), xy(nose[0] + way * wide, size[1]))]

    def height(mm: Points) -> Grid:
        off = np.abs(mm[:, 0] - nose[0])
        flap = np.maximum(off - mm[:, 1], 0.0) * np.sqrt(0.5)
        wing = np.maximum(off - wide, 0.0)
        lifted = drawn["keel_mm"] * off / nose[0] + drawn["flap"] * flap + drawn["wing"] * wing
        return np.asarray(lifted - min(0.0, drawn["keel_mm"]))

    creased = glided(page, px_per_mm, lines, drawn["darkness"], rng)
    return kept(raised(_posed(creased, px_per_mm, rng, "risen"), size, height, drawn, rng), rng)


def on_the_knees(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that lies over somebody's knees."""
    drawn, size = drawn_from("knees", rng), size_mm(page, px_per_mm)
    way = direction(drawn["turn_deg"])
    at = float(rng.uniform(0.4, 0.6)) * size[0] + drawn["apart_mm"] * np.array([-0.5, 0.5])

    def height(mm: Points) -> Grid:
        across = (mm - size / 2) @ way + size[0] / 2
        bumps = np.exp(-0.5 * np.square((across[:, None] - at) / drawn["wide_mm"]))
        risen: Grid = drawn["height_mm"] * bumps.sum(axis=1)
        return risen

    picture = laid_on(_posed(page, px_per_mm, rng, "risen"), size, denim, rng)
    return kept(raised(picture, size, height, drawn, rng), rng)


def by_visualiser(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a still from a document camera on its arm: few pixels, a pool of light, hard edges, blocks."""
    picture, drawn = _posed(page, px_per_mm, rng, "above"), drawn_from("visualiser", rng)
    x, y = shares_grid(picture)
    apart = np.hypot(x - float(rng.uniform(0.3, 0.7)) * x.max(), y - float(rng.uniform(0.3, 0.7)) * y.max())
    image = lit_by(picture, 1.0 - drawn["pool"] * np.clip(1.6 * apart, 0.0, 1.0) ** 2).image
    image = grainy(toned(image, 0.0, drawn["white"], 1.05), drawn["noise"], rng, 0.8)
    image = sharpened(image, drawn["sharpening"], 1.5)
    return replace(picture, image=through_jpeg(image, drawn["quality"]))


def behind_the_curtain(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph near a window with a lace curtain: its mesh and its figures in shadow on the sheet."""
    picture, drawn = _posed(page, px_per_mm, rng, "leaning"), drawn_from("lace", rng)
    mm = max(picture.image.shape) / scale_px_per_mm(picture)
    x, y = (mm * grid for grid in shares_grid(picture, 4))
    across, down = turned(x, y, drawn["turn_deg"])
    row = np.floor(down / drawn["cell_mm"])
    beside = np.abs((across / drawn["cell_mm"] + 0.5 * (row % 2)) % 1.0 - 0.5)
    below = np.abs((down / drawn["cell_mm"]) % 1.0 - 0.5)
    thread: Field = (np.maximum(beside, below) > 0.5 - drawn["thread"] / 2).astype(np.float32)
    figures = clouds((x.shape[0], x.shape[1]), 14.0 / float(x[0, 1] - x[0, 0]), rng) > 0.9
    step = float(x[0, 1] - x[0, 0])
    shade = drawn["depth"] * soft(thread, drawn["soft_mm"] / step)
    shade = shade + drawn["figures"] * soft(figures.astype(np.float32), (drawn["soft_mm"] + 0.8) / step)
    return kept(lit_by(picture, (1.0 - shade).astype(np.float64)), rng)


def under_film(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet wrapped in kitchen film: thin bright wrinkles run over it in all directions."""
    picture, drawn = _posed(page, px_per_mm, rng, "small"), drawn_from("film", rng)
    scale, shape = scale_px_per_mm(picture), (picture.image.shape[0] // 2, picture.image.shape[1] // 2)
    wrinkles: Gray = np.zeros(shape, dtype=np.uint8)
    corners = picture.place(SQUARE * size_mm(page, px_per_mm)) / 2.0
    for _ in range(drawn["wrinkles"]):
        middle = corners.min(axis=0) + rng.random(2) * np.ptp(corners, axis=0)
        half = (
            0.25 * scale * drawn["long_mm"] * float(rng.uniform(0.2, 1.0)) * direction(float(rng.uniform(0.0, 360.0)))
        )
        bow = float(rng.uniform(-0.3, 0.3)) * xy(-half[1], half[0])
        path = middle + np.array([-half, 0.75 * bow - half / 2, bow, 0.75 * bow + half / 2, half])
        wide = max(1, round(0.5 * scale * drawn["wide_mm"] * float(rng.uniform(0.4, 1.0))))
        level = round(255.0 * drawn["bright"] * float(rng.uniform(0.3, 1.0)))
        cv2.polylines(wrinkles, [np.rint(path * 16).astype(np.int32)], False, level, wide, cv2.LINE_AA, 4)
    veil = drawn["haze"] + soft((wrinkles / 255.0).astype(np.float32), 0.6)
    return kept(veiled(picture, np.clip(veil, 0.0, 0.6), 246), rng)


ODD_PHOTOGRAPHS: dict[str, Shot] = {
    "photo-fogged-lens": through_fog,
    "photo-against-the-sun-sent": against_the_sun,
    "photo-on-a-train": on_a_train,
    "photo-wide-lens": by_the_wide_lens,
    "photo-tiles-fit-to-page": partial(at_print_scale, which="fit_to_page", shot=on_tiles),
    "photo-cork-board": on_the_board,
    "photo-under-a-napkin": beside_a_napkin,
    "photo-rolled-up": rolled_up,
    "photo-aeroplane": was_an_aeroplane,
    "photo-on-the-knees": on_the_knees,
    "photo-visualiser": by_visualiser,
    "photo-lace-curtain": behind_the_curtain,
    "photo-kitchen-film": under_film,
}


def _posed(page: Gray, px_per_mm: float, rng: np.random.Generator, pose: str) -> Picture:
    table = "odd.pose" if pose == "pose" else f"odd.pose.{pose}"
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, table, rng))
