"""Photographs of all sorts; held out once, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import cv2
import numpy as np

from scanner.rehearsal.after_shot import (
    lit_by,
    scale_px_per_mm,
    veiled,
)
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.optics import dimmed, filled, soft, stretched
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import direction
from scanner.rehearsal.sundry_grounds import (
    SQUARE,
    Grid,
    book,
    clouds,
    drawn_from,
    from_sheet,
    grown,
    kept,
    laid_on,
    lawn,
    on_sheet,
    paper_level,
    places_mm,
    plaster,
    raised,
    sent,
    size_mm,
)
from scanner.rehearsal.sundry_sheets import bladed, convex, creased_at, pleats, round_tipped
from scanner.rehearsal.warp import inverse, through


def in_a_book(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that lies in a large open book and follows its leaves down into the gutter."""
    drawn, size = drawn_from("book", rng), size_mm(page, px_per_mm)
    gutter = size[0] / 2 + drawn["off_mm"]

    def height(mm: Points) -> Grid:
        off = np.sqrt(np.square(mm[:, 0] - gutter) + 16.0) / drawn["hill_mm"]
        return np.asarray(drawn["height_mm"] * off * np.exp(1.0 - off))

    picture = laid_on(_posed(page, px_per_mm, rng, "small"), size, book(gutter, size, drawn), rng)
    return kept(raised(picture, size, height, drawn, rng), rng)


def on_the_lawn(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet in the grass, some blades of which lean in over its sides."""
    size = size_mm(page, px_per_mm)
    picture = laid_on(_posed(page, px_per_mm, rng, "pose"), size, lawn, rng)
    drawn, image, scale = drawn_from("lawn", rng), picture.image, scale_px_per_mm(picture)
    hidden: list[Points] = []
    for blade, shadow in bladed(size, rng):
        image = dimmed(image, picture.place(shadow), 0.0, 0.3 * scale, 1.0 - drawn["shadow"])
        image = dimmed(image, picture.place(blade), float(rng.uniform(60.0, drawn["light"])), 0.12 * scale)
        hidden += [grown(convex(blade)), grown(convex(shadow), 0.6)]
    return kept(replace(picture, image=image, hidden_mm=tuple(hidden)), rng)


def jolted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph during which the hand was jolted: all is smeared along a bent way, at times with a rest."""
    picture, drawn = _posed(page, px_per_mm, rng, "pose"), drawn_from("jolt", rng)
    long = drawn["long_mm"] * scale_px_per_mm(picture)
    share = np.linspace(0.0, 1.0, 200)
    ways = float(rng.uniform(0.0, 2 * np.pi)) + drawn["bend"] * share
    path = np.cumsum(np.column_stack([np.cos(ways), np.sin(ways)]), axis=0) * long / 200
    weights = 1.0 + 6.0 * drawn["rests"] * np.exp(-np.square((share - float(rng.random())) / 0.08))
    path = path - (path * weights[:, None]).sum(axis=0) / weights.sum()
    reach = int(np.ceil(np.abs(path).max())) + 1
    kernel = np.zeros((2 * reach + 1, 2 * reach + 1), dtype=np.float32)
    for (x, y), weight in zip(path + reach, weights, strict=True):
        column, row = int(x), int(y)
        spread = np.outer([1 - y + row, y - row], [1 - x + column, x - column])
        kernel[row : row + 2, column : column + 2] += (weight * spread).astype(np.float32)
    return kept(
        replace(picture, image=np.asarray(cv2.filter2D(picture.image, -1, kernel / kernel.sum()), np.uint8)), rng
    )


def under_a_hands_shadow(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph, from low down, on which a hand with spread fingers throws its shadow."""
    picture, drawn = _posed(page, px_per_mm, rng, "low"), drawn_from("hand_shadow", rng)
    size, big = size_mm(page, px_per_mm), drawn["size"]
    way = -direction(drawn["from_deg"])
    side = xy(-way[1], way[0])
    palm = size / 2 + (drawn["reach_mm"] - 0.5 * float(size.max()) - 80.0 * big) * way
    palm = palm + float(rng.uniform(-50.0, 50.0)) * side
    turn = float(rng.uniform(0.8, 1.3))
    outlines = [round_tipped(palm - 400.0 * way, palm + 35.0 * big * way, 72.0 * big)]
    for lean, root, long in ((-0.62, -34.0, 52.0), (-0.2, -25.0, 92.0), (0.0, -6.0, 102.0), (0.2, 13.0, 94.0)):
        finger = way * np.cos(turn * lean) + side * np.sin(turn * lean)
        start = palm + big * (root * side + (0.0 if lean == -0.62 else 22.0) * way)
        outlines.append(round_tipped(start, start + big * long * finger, 17.0 * big))
    shape = picture.image.shape[0] // 4, picture.image.shape[1] // 4
    shade = np.max([filled(shape, [picture.place(outline) / 4.0]) for outline in outlines], axis=0)
    soft_px = drawn["soft_mm"] * scale_px_per_mm(picture) / 4.0
    return kept(lit_by(picture, 1.0 - drawn["depth"] * soft(shade, soft_px).astype(np.float64)), rng)


def in_the_wind(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet one side of which the wind lifts: wavy there, and moved while it was taken."""
    drawn, size = drawn_from("wind", rng), size_mm(page, px_per_mm)
    out = direction(90.0 * drawn["side"])
    half = float(np.abs(out) @ size) / 2
    phase, crest = float(rng.uniform(0.0, 6.3)), float(rng.uniform(70.0, 140.0))

    def near(mm: Points) -> Grid:
        off = half - (mm - size / 2) @ out
        return np.asarray(np.clip(1.0 - off / drawn["reach_mm"], 0.0, 1.1) ** 2)

    def height(mm: Points) -> Grid:
        along = (mm - size / 2) @ xy(-out[1], out[0])
        return np.asarray(drawn["height_mm"] * near(mm) * (1.0 + drawn["waves"] * np.sin(along / crest * 6.3 + phase)))

    picture = raised(_posed(page, px_per_mm, rng, "risen"), size, height, drawn, rng)
    x, y = places_mm(picture, size, 8)
    moved = near(np.column_stack([x.ravel(), y.ravel()])).reshape(x.shape).clip(0.0, 1.0)
    beyond = (np.abs(np.stack([x, y], axis=2) - size / 2) - size / 2).max(axis=2) > 4.0
    share = stretched(np.where(beyond, 0.0, moved).astype(np.float32), (picture.image.shape[0], picture.image.shape[1]))
    long = drawn["smear_mm"] * scale_px_per_mm(picture)
    blur = cv2.GaussianBlur(picture.image, (0, 0), max(0.1, 0.4 * long))
    image = cv2.blendLinear(picture.image, blur, 1.0 - share, share)
    return kept(replace(picture, image=np.asarray(image, dtype=np.uint8)), rng)


def was_a_fan(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that somebody had folded to a fan against the heat, and opened again."""
    drawn, size = drawn_from("pleats", rng) | drawn_from("fan", rng), size_mm(page, px_per_mm)
    along = int(rng.integers(2))
    creases = pleats(size[along], drawn["pleats"], rng)
    knots = np.concatenate([[0.0], creases, [size[along]]])
    heights = drawn["slope"] * size[along] / drawn["pleats"] * (np.arange(len(knots)) % 2)
    heights = heights * rng.uniform(0.5, 1.0, len(knots))

    def height(mm: Points) -> Grid:
        return np.asarray(np.interp(mm[:, along], knots, heights), dtype=np.float64)

    folded = creased_at(page, px_per_mm, creases, along, drawn, rng)
    return kept(raised(_posed(folded, px_per_mm, rng, "risen"), size, height, drawn, rng), rng)


def taped_to_the_wall(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet fixed to a plastered wall by strips of matt clear tape over its sides."""
    drawn, size = drawn_from("strips", rng), size_mm(page, px_per_mm)
    picture = laid_on(_posed(page, px_per_mm, rng, "upright"), size, plaster, rng)
    level, scale, image = min(250.0, 1.02 * paper_level(picture, size)), scale_px_per_mm(picture), picture.image
    for side in rng.permutation(4)[: drawn["strips"]]:
        out = direction(90.0 * side + float(rng.uniform(-8.0, 8.0)))
        flat_out = direction(90.0 * side)
        along = float(rng.uniform(-0.3, 0.3)) * np.abs(xy(flat_out[1], flat_out[0]))
        middle = size * (0.5 + 0.5 * flat_out + along)
        beside = 0.5 * drawn["wide_mm"] * xy(-out[1], out[0])
        start, end = middle - 0.5 * drawn["long_mm"] * out, middle + 0.5 * drawn["long_mm"] * out
        strip = np.array([start - beside, end - beside, end + beside, start + beside])
        image = dimmed(image, picture.place(strip + 0.4), 0.0, 0.3 * scale, 0.93)
        image = dimmed(image, picture.place(strip), level, 0.1 * scale, 1.0 - drawn["veil"])
        streak = np.array([start - 0.4 * beside, end - 0.2 * beside, end + 0.1 * beside, start - 0.1 * beside])
        image = dimmed(image, picture.place(streak), 252.0, 0.5 * scale, 1.0 - drawn["gloss"])
    return kept(replace(picture, image=image), rng)


def burnt_out(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph exposed too long: the paper burnt out, its light eating into what is written."""
    picture, drawn = _posed(page, px_per_mm, rng, "burnt"), drawn_from("burnt", rng)
    gain = 255.0 * drawn["paper"] / paper_level(picture, size_mm(page, px_per_mm))
    light = picture.image.astype(np.float32)
    spread = soft(light, drawn["bloom_mm"] * scale_px_per_mm(picture))
    burnt = gain * ((1.0 - drawn["bloom"]) * light + drawn["bloom"] * spread)
    faintest = (1.0 - 0.88 / drawn["paper"]) / (0.8 * (1.0 - drawn["bloom"]))
    image = np.rint(burnt.clip(0.0, 255.0)).astype(np.uint8)
    return kept(replace(picture, image=image, faintest=max(0.0, faintest)), rng)


def dated_by_the_camera(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph, sent by a messenger, into whose lower corner the telephone wrote date and hour."""
    picture, drawn, size = _posed(page, px_per_mm, rng, "sent"), drawn_from("dated", rng), size_mm(page, px_per_mm)
    rows, columns = picture.image.shape
    when = [int(part) for part in rng.integers((1, 1, 10, 10), (29, 13, 24, 60))]
    text = f"{when[0]:02}.{when[1]:02}.2026 {when[2]}:{when[3]}"
    font, wanted = cv2.FONT_HERSHEY_SIMPLEX, drawn["tall"] * max(rows, columns)
    scale = wanted / 22.0
    thick = max(2, round(wanted / 9.0))
    (wide, tall), below = cv2.getTextSize(text, font, scale, thick)
    left = round(0.7 * wanted) if drawn["side"] == 0 else columns - wide - round(0.7 * wanted)
    base, image = rows - round(0.6 * wanted) - below, picture.image.copy()
    if drawn["rim"]:
        cv2.putText(image, text, (left, base), font, scale, 10.0, thick + max(2, round(wanted / 12.0)), cv2.LINE_AA)
    cv2.putText(image, text, (left, base), font, scale, drawn["level"], thick, cv2.LINE_AA)
    frame = np.array([left, base - tall]) + SQUARE * xy(wide, tall + below)
    hidden = grown(convex(through(inverse(from_sheet(picture, size)), frame)), 2.0)
    return sent(kept(replace(picture, image=image, hidden_mm=(hidden,)), rng), rng)


def against_the_light(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet held to a window: gray before the bright sky, bars of the frame behind it."""
    picture, drawn = _posed(page, px_per_mm, rng, "backlit"), drawn_from("backlit", rng)
    size, sheet = size_mm(page, px_per_mm), on_sheet(picture, size_mm(page, px_per_mm))
    x, y = places_mm(picture, size, 4)
    shape = picture.image.shape[0], picture.image.shape[1]
    behind = np.zeros_like(x)
    for _ in range(drawn["bars"]):
        way, at = direction(90.0 * int(rng.integers(2))), float(rng.uniform(-0.45, 0.45))
        off = np.abs((x - size[0] / 2) * way[0] + (y - size[1] / 2) * way[1] - at * float(np.abs(way) @ size))
        behind = np.maximum(behind, 1.0 / (1.0 + np.exp(np.clip((off - drawn["bar_mm"] / 2) / 1.2, -30.0, 30.0))))
    sky = drawn["outside"] * (1.0 + 0.06 * clouds((x.shape[0], x.shape[1]), 120.0, rng))
    sky = (sky * (1.0 - behind) + 45.0 * behind).clip(20.0, 255.0)
    shone = lit_by(picture, 1.0 + drawn["glow"] * clouds((x.shape[0], x.shape[1]), 160.0, rng) - drawn["bar"] * behind)
    around = stretched(sky.astype(np.float32), shape)
    image = np.rint(shone.image * sheet + around * (1.0 - sheet)).astype(np.uint8)
    open_sky = (1.0 - sheet[::8, ::8]) * (around[::8, ::8] > 120.0)
    leak = drawn["leak"] * soft(open_sky.astype(np.float32), drawn["leak_mm"] * scale_px_per_mm(picture) / 8.0)
    return kept(veiled(replace(picture, image=image), leak, 250), rng)


SUNDRY_PHOTOGRAPHS: dict[str, Shot] = {
    "photo-in-a-book": in_a_book,
    "photo-on-the-lawn-fit-to-page": partial(at_print_scale, which="fit_to_page", shot=on_the_lawn),
    "photo-jolted": jolted,
    "photo-hands-shadow": under_a_hands_shadow,
    "photo-in-the-wind": in_the_wind,
    "photo-was-a-fan": was_a_fan,
    "photo-taped-to-the-wall": taped_to_the_wall,
    "photo-burnt-out": burnt_out,
    "photo-dated-by-the-camera-sent": dated_by_the_camera,
    "photo-against-the-light": against_the_light,
}


def _posed(page: Gray, px_per_mm: float, rng: np.random.Generator, pose: str) -> Picture:
    table = "sundry.pose" if pose == "pose" else f"sundry.pose.{pose}"
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, table, rng))
