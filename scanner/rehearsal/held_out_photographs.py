"""Photographs kept for the last: no threshold was ever chosen on them."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import cv2
import numpy as np

from scanner.rehearsal.after_shot import scale_px_per_mm
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.held_out_grounds import (
    Grid,
    binder,
    drawn_from,
    glass_mat,
    grown,
    kept,
    laid_on,
    raised,
    rug,
    sent,
    size_mm,
    smaller,
)
from scanner.rehearsal.held_out_sheets import creased_along, crumbs, punched
from scanner.rehearsal.optics import dimmed, filled, grainy, sharpened, soft, through_jpeg
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, direction


def on_a_rug(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on a knotted rug, its ornament all around."""
    return kept(laid_on(_posed(page, px_per_mm, rng, "pose"), size_mm(page, px_per_mm), rug, rng), rng)


def on_a_glass_mat(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on the white paper mat that shows where the glasses belong."""
    size, edge = size_mm(page, px_per_mm), drawn_from("mat", rng)["edge"]
    return kept(laid_on(_posed(page, px_per_mm, rng, "small"), size, glass_mat(size), rng, edge), rng)


def in_a_ring_binder(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet filed in an open binder, rings through its holes, other sheets below it."""
    drawn, size, side = drawn_from("binder", rng), size_mm(page, px_per_mm), int(rng.integers(2))
    holed, middles = punched(page, px_per_mm, side, drawn["hole"], rng)
    edge, out = (0.0, -1.0) if side == 0 else (size[0], 1.0)

    def height(mm: Points) -> Grid:
        off = np.abs(mm[:, 0] - edge)
        return np.asarray(drawn["height_mm"] * np.exp(-off / drawn["reach_mm"]))

    picture = laid_on(_posed(holed, px_per_mm, rng, "binder"), size, binder(size, side), rng)
    picture = raised(picture, size, height, drawn, rng)
    image, scale, hidden = picture.image, scale_px_per_mm(picture), list[Points]()
    share = np.linspace(0.0, 1.0, 16)[:, None]
    half = 0.5 * drawn["ring_mm"]
    for middle in middles:
        path = middle + share * xy(out * drawn["span_mm"], 0.0) + np.sin(np.pi * share) * xy(0.0, drawn["bulge_mm"])
        ring = np.vstack([path - xy(0.0, half), path[::-1] + xy(0.0, half)])
        image = dimmed(image, picture.place(ring + drawn["shadow_mm"]), 0.0, 0.5 * scale, 0.6)
        image = dimmed(image, picture.place(ring), drawn["metal"], 0.15 * scale)
        light = np.vstack([path - xy(0.0, 0.4 * half), path[::-1]])
        image = dimmed(image, picture.place(light), 250.0, 0.2 * scale, 0.25)
        hidden += [grown(middle + 3.2 * circle()), grown(ring), grown(ring + drawn["shadow_mm"], 0.5)]
    return kept(replace(picture, image=image, hidden_mm=tuple(hidden)), rng)


def folded_like_a_card(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that was folded once across its middle and does not lie flat since."""
    drawn, size, along = drawn_from("card", rng), size_mm(page, px_per_mm), int(rng.integers(2))
    at_mm = float(size[along]) / 2 + drawn["off_mm"]
    slopes, round_mm = (drawn["slope"], drawn["other_slope"]), drawn["round_mm"]
    peak = max(at_mm * slopes[0], (float(size[along]) - at_mm) * slopes[1])

    def height(mm: Points) -> Grid:
        off = mm[:, along] - at_mm
        away = np.sqrt(np.square(off) + round_mm**2) - round_mm
        rise = np.where(off < 0.0, slopes[0], slopes[1]) * away
        return np.asarray(rise if drawn["opens_up"] else peak - rise)

    folded = creased_along(page, px_per_mm, along, at_mm, drawn["darkness"], rng)
    return kept(raised(_posed(folded, px_per_mm, rng, "risen"), size, height, drawn, rng), rng)


def smoothed_by_the_telephone(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph in poor light whose grain the telephone took for noise, and smoothed as in a water colour."""
    picture, drawn = _posed(page, px_per_mm, rng, "indoors"), drawn_from("smoothed", rng)
    picture = smaller(picture, drawn["long_px"])
    image = grainy(picture.image, drawn["noise"], rng, 0.5)
    image = np.asarray(
        cv2.bilateralFilter(image, drawn["reach_px"], drawn["alike"] * drawn["noise"], 3.0), dtype=np.uint8
    )
    image = sharpened(image, drawn["sharpening"], 1.2)
    # Strokes two or three pixels wide are taken for noise where they differ from the paper by less than it does.
    faintest = 1.3 * drawn["noise"] / (float(np.percentile(image, 90)) - 10.0)
    return replace(picture, image=through_jpeg(image, drawn["quality"]), faintest=faintest)


def among_crumbs(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on which crumbs of the bread lie, each with its shadow."""
    picture, drawn, size = _posed(page, px_per_mm, rng, "pose"), drawn_from("crumbs", rng), size_mm(page, px_per_mm)
    image, scale, hidden = picture.image, scale_px_per_mm(picture), list[Points]()
    level, fall = 0.01 * drawn["level"] * float(np.percentile(image, 85)), direction(drawn["fall_deg"])
    for outline, tall in crumbs(size, rng):
        shadow = outline + tall * drawn["fall"] * fall
        crumb, middle = level * float(rng.uniform(0.7, 1.1)), outline.mean(axis=0)
        image = dimmed(image, picture.place(shadow), 0.0, 0.15 * scale, 1.0 - drawn["shadow"])
        image = dimmed(image, picture.place(outline), 0.85 * crumb, 0.06 * scale)
        lighter = middle + 0.6 * (outline - middle) - 0.2 * tall * fall
        image = dimmed(image, picture.place(lighter), min(250.0, 1.15 * crumb), 0.12 * scale)
        hidden.append(grown(np.vstack([outline, shadow]), 1.0))
    return kept(replace(picture, image=image, hidden_mm=tuple(hidden)), rng)


def drawn_upon(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph on which the sender drew with a finger in the messenger: a ring, an arrow or a line."""
    picture, drawn, size = (
        _posed(page, px_per_mm, rng, "sent"),
        drawn_from("finger_paint", rng),
        size_mm(page, px_per_mm),
    )
    middle, reach = size * rng.uniform(0.3, 0.7, 2), drawn["reach_mm"]
    way, wobble = direction(float(rng.uniform(0.0, 360.0))), rng.normal(0.0, 0.03 * reach, (40, 2))
    wobble = np.column_stack([soft(wobble[:, [axis]].astype(np.float32), (0.1, 3.0))[:, 0] for axis in (0, 1)])
    if drawn["kind"] == "ring":
        turns = float(rng.uniform(0.0, 6.0)) + np.linspace(0.0, 2 * np.pi * float(rng.uniform(1.0, 1.1)), 40)
        paths = [reach * np.column_stack([np.cos(turns), float(rng.uniform(0.5, 1.0)) * np.sin(turns)])]
    else:
        share = np.linspace(-1.0, 1.0, 40)[:, None]
        paths = [share * reach * way + 0.1 * reach * np.square(share) * xy(-way[1], way[0])]
        if drawn["kind"] == "arrow":
            tip = paths[0][-1] + wobble[-1]
            paths += [
                tip
                - np.linspace(0.0, 0.4, 8)[:, None] * reach * direction(float(np.rad2deg(np.arctan2(*way[::-1]))) + a)
                for a in (-32.0, 32.0)
            ]
    wide = drawn["wide"] * max(picture.image.shape)
    image, hidden = picture.image.copy(), list[Points]()
    for path in paths:
        path_mm = middle + path + (wobble if len(path) == 40 else 0.0)
        line = np.rint(picture.place(path_mm) * 16).astype(np.int32)
        cv2.polylines(image, [line], False, drawn["level"], round(wide), cv2.LINE_AA, 4)
        aside = wide / 2 / scale_px_per_mm(picture) + 1.0
        hidden += [grown(path_mm[start : start + 3], aside) for start in range(0, len(path) - 1, 2)]
    return sent(kept(replace(picture, image=image, hidden_mm=tuple(hidden)), rng), rng)


def out_of_focus(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph focused on something else: each point a small disc, as an open lens gives."""
    picture, drawn = _posed(page, px_per_mm, rng, "pose"), drawn_from("focus", rng)
    radius = drawn["radius_mm"] * scale_px_per_mm(picture)
    reach = int(np.ceil(radius)) + 1
    disc = filled((2 * reach + 1, 2 * reach + 1), [reach + radius * circle() * (1.0, drawn["squeezed"])])
    image = cv2.filter2D(picture.image, -1, disc / disc.sum())
    return kept(replace(picture, image=np.asarray(image, dtype=np.uint8)), rng)


def as_webp(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph put on a web page: made smaller, and kept as WebP with few bits."""
    picture, drawn = kept(_posed(page, px_per_mm, rng, "sent"), rng), drawn_from("webp", rng)
    small = smaller(picture, drawn["long_px"])
    data = cv2.imencode(".webp", small.image, [cv2.IMWRITE_WEBP_QUALITY, drawn["quality"]])[1]
    return replace(small, image=np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), dtype=np.uint8))


HELD_OUT_PHOTOGRAPHS: dict[str, Shot] = {
    "photo-on-a-rug": on_a_rug,
    "photo-glass-mat-fit-to-page": partial(at_print_scale, which="fit_to_page", shot=on_a_glass_mat),
    "photo-in-a-ring-binder": in_a_ring_binder,
    "photo-folded-like-a-card": folded_like_a_card,
    "photo-smoothed-by-the-telephone": smoothed_by_the_telephone,
    "photo-among-crumbs": among_crumbs,
    "photo-drawn-upon-sent": drawn_upon,
    "photo-out-of-focus": out_of_focus,
    "photo-as-webp": as_webp,
}


def _posed(page: Gray, px_per_mm: float, rng: np.random.Generator, pose: str) -> Picture:
    table = "held_out.pose" if pose == "pose" else f"held_out.pose.{pose}"
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, table, rng))
