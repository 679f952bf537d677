"""Pictures rarer than those of `camera`: once held out, tuned upon since."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from scanner.rehearsal.after_shot import displaced, lit_by, scale_px_per_mm, shares_grid
from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.optics import (
    blurred,
    filled,
    grainy,
    lit,
    resized,
    sharpened,
    soft,
    stretched,
    through_jpeg,
    toned,
    traced,
)
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.scan import ScanSeverity, feeder, flatbed
from scanner.rehearsal.severities import draw

COARSE = 4.0
"""Pixels per millimetre, and share of pixels the other way, of fields that vary slowly."""


def glass(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0) -> Picture:
    """Return a flatbed scan."""
    return flatbed(page, px_per_mm, dpi, rng, draw(ScanSeverity, "rare.glass", rng))


def sheetfed(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0) -> Picture:
    """Return a sheet-feeder scan, not compressed."""
    return feeder(page, px_per_mm, dpi, rng, draw(ScanSeverity, "rare.sheetfed", rng))


def shown_through(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on thin paper, another page's print and marks showing from behind."""
    drawn = _drawn("show_through", rng)
    behind = np.roll(page[:, ::-1], round(drawn["shift_mm"] * px_per_mm), axis=(0, 1))
    behind = blurred(np.ascontiguousarray(behind), drawn["blur_mm"] * px_per_mm)
    veil = (1.0 - drawn["share"] * (1.0 - behind / 255)).astype(np.float32)
    return lit(page, veil)


def damp(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page with patches that got damp: the ink has run a little, a water line is left around."""
    drawn = _drawn("damp", rng)
    wet = _patches(page, px_per_mm, drawn, rng)
    run = blurred(page, drawn["blur_mm"] * px_per_mm)
    full = stretched(wet, (page.shape[0], page.shape[1]))
    mixed = np.rint(page * (1.0 - full) + run * full).astype(np.uint8)
    line = np.clip(4.0 * wet * (1.0 - wet), 0.0, 1.0)
    return lit(mixed, (1.0 - drawn["darkness"] * line).astype(np.float32))


def smudged(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page wiped by a sleeve here and there: faint trails to the right of what was fresh."""
    drawn = _drawn("smudges", rng)
    shape = page.shape[0], page.shape[1]
    small = resized(page, round(shape[1] * COARSE / px_per_mm), round(shape[0] * COARSE / px_per_mm))
    reach = max(2, round(drawn["length_mm"] * COARSE))
    fading = np.zeros((1, 2 * reach + 1), dtype=np.float32)
    fading[0, :reach] = np.linspace(0.2, 1.0, reach)  # filter2D looks to the left for what is wiped to the right
    trail = cv2.filter2D((255 - small).astype(np.float32) / 255, -1, fading / fading.sum())
    trail = np.minimum(drawn["strength"] * trail, drawn["most"]) * _patches(page, px_per_mm, drawn, rng, trail.shape)
    return lit(page, (1.0 - stretched(trail.astype(np.float32), shape)).astype(np.float32))


def quartered(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page with the two creases of a sheet folded in four."""
    drawn = _drawn("quartered", rng)
    height, width = page.shape
    middle = np.array([width, height]) / 2 + drawn["off_mm"] * px_per_mm
    lean = rng.uniform(-1.0, 1.0, 2) * px_per_mm
    lines = (
        np.array([[0.0, middle[1] - lean[0]], [width - 1.0, middle[1] + lean[0]]]),
        np.array([[middle[0] - lean[1], 0.0], [middle[0] + lean[1], height - 1.0]]),
    )
    wide = drawn["width_mm"] * px_per_mm
    for line in lines:
        share = np.linspace(0.0, 1.0, 240)[:, None]
        path = line[0] + share * (line[1] - line[0]) + rng.normal(0.0, 0.02 * px_per_mm, (240, 2))
        strengths = (drawn["darkness"] * rng.uniform(0.2, 1.0, 239)).tolist()
        page = lit(page, 1.0 - soft(traced((height, width), path, wide, strengths), 0.6))
    return page


def torn(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, Points]:
    """Return the page with a piece torn out of one side's middle, and that piece's outline, mm."""
    drawn = _drawn("torn", rng)
    height_mm, width_mm = page.shape[0] / px_per_mm, page.shape[1] / px_per_mm
    along = np.linspace(-1.0, 1.0, 25)
    deep = drawn["depth_mm"] * np.sqrt(1.0 - along**2) * rng.uniform(0.85, 1.0, 25)
    y = height_mm * drawn["at"] + drawn["half_mm"] * along
    edge = np.column_stack([deep, y])
    outline = np.vstack([[-1.0, y[0]], edge, [-1.0, y[-1]]])
    frayed = np.vstack([[-1.0, y[0] - 0.6], edge + xy(0.7, 0.0), [-1.0, y[-1] + 0.6]])
    if not drawn["left"]:
        outline, frayed = (xy(width_mm, 0.0) + line * (-1.0, 1.0) for line in (outline, frayed))
    shape = page.shape[0], page.shape[1]
    for line, level in ((frayed, 246.0), (outline, drawn["level"])):
        cover = filled(shape, [line * px_per_mm])
        page = np.rint(page * (1.0 - cover) + level * cover).astype(np.uint8)
    return page, frayed


def uneven_feed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan whose sheet was drawn in unevenly and swayed to the sides."""
    picture = sheetfed(page, px_per_mm, rng)
    drawn, scale = _drawn("uneven_feed", rng), scale_px_per_mm(picture)

    def shift(px: Points) -> Points:
        down = 2 * np.pi * px[:, 1] / scale
        sideways = drawn["sideways_mm"] * np.sin(down / drawn["sideways_wave_mm"] + drawn["phase"])
        along = drawn["along_mm"] * np.sin(down / drawn["along_wave_mm"] + 2 * drawn["phase"])
        return scale * np.column_stack([sideways, along])

    return _stored(displaced(picture, shift), rng, "sensor")


def bound(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet in a binder, one side bent away from the glass into shadow."""
    picture = glass(page, px_per_mm, rng, dpi=300.0)
    drawn, scale, width = _drawn("gutter", rng), scale_px_per_mm(picture), picture.image.shape[1]

    def nearness(x: NDArray[np.float64]) -> NDArray[np.float64]:
        from_edge = x if drawn["left"] else width - 1 - x
        near: NDArray[np.float64] = np.exp(-np.maximum(from_edge, 0.0) / (drawn["reach_mm"] * scale))
        return near

    def shift(px: Points) -> Points:
        outward = -1.0 if drawn["left"] else 1.0
        return np.column_stack([outward * drawn["pull_mm"] * scale * nearness(px[:, 0]), np.zeros(len(px))])

    bent = displaced(picture, shift)
    shade = 1.0 - drawn["darkness"] * nearness(np.linspace(0, width - 1, 400)) ** 2
    return replace(bent, image=lit(bent.image, np.stack([shade, shade]).astype(np.float32)))


def resaved(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan that was made smaller for a letter and compressed twice."""
    picture, drawn = glass(page, px_per_mm, rng, dpi=300.0), _drawn("resaved", rng)
    rows, columns = picture.image.shape
    size = round(columns * drawn["share"]), round(rows * drawn["share"])
    share = xy(size[0] / columns, size[1] / rows)
    image = through_jpeg(through_jpeg(resized(picture.image, *size), drawn["quality"] + 8), drawn["quality"])
    return replace(picture, image=image, place=lambda places: (picture.place(places) + 0.5) * share - 0.5)


def text_mode(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan by a device that clears the paper and blackens print."""
    picture, drawn = sheetfed(page, px_per_mm, rng), _drawn("text_mode", rng)
    image = toned(sharpened(picture.image, drawn["sharpening"], 1.2), drawn["black"], drawn["white"])
    return replace(picture, image=image)


def few_grays(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan kept in a few levels of gray."""
    picture, steps = glass(page, px_per_mm, rng), _drawn("few_grays", rng)["levels"] - 1
    image = (np.rint(picture.image * (steps / 255)) * (255 / steps)).astype(np.uint8)
    return replace(picture, image=image, faintest=1.5 * 0.5 / steps)


def diffused(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a one-bit 300-dpi scan, grays as scattered dots (Floyd and Steinberg's error diffusion, by Pillow)."""
    picture, drawn = sheetfed(page, px_per_mm, rng, dpi=300.0), _drawn("diffused", rng)
    clean = toned(picture.image, 0.0, 255.0 * drawn["clean_above"])
    image = np.asarray(Image.fromarray(clean).convert("1"), dtype=np.uint8) * np.uint8(255)
    return replace(picture, image=image, faintest=drawn["faintest"])


def phone(
    page: Gray, px_per_mm: float, rng: np.random.Generator, *, pose: str = "phone", sensor: str = "sensor"
) -> Picture:
    """Return a photograph by that table, with the grain and compression of that sensor."""
    return _stored(_posed(page, px_per_mm, rng, pose), rng, sensor)


def through_lens(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph by a lens that bulges straight lines out or in."""
    picture = _posed(page, px_per_mm, rng, "phone.close")
    bulge, shape = float(_drawn("lens", rng)["bulge"]), picture.image.shape
    middle = xy(shape[1] - 1, shape[0] - 1) / 2

    def shift(px: Points) -> Points:
        out = px - middle
        reach: Points = np.square(out).sum(axis=1, keepdims=True) / np.square(middle).sum()
        return bulge * out * (reach - 0.5)

    return _stored(displaced(picture, shift), rng, "sensor")


def under_blinds(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph with the stripes of a window's blinds over it."""
    picture, drawn = _posed(page, px_per_mm, rng, "phone.oblique"), _drawn("blinds", rng)
    x, y = shares_grid(picture)
    angle = np.deg2rad(drawn["turn_deg"])
    wave = np.sin(2 * np.pi * (x * np.cos(angle) + y * np.sin(angle)) / drawn["period"] + drawn["phase"])
    shade = 0.5 + 0.5 * np.clip(drawn["hardness"] * wave, -1.0, 1.0)
    return _stored(lit_by(picture, 1.0 - drawn["depth"] * shade), rng, "sensor")


def by_led(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph under flickering lamps, taken line by line by a hand that moved."""
    picture, drawn = _posed(page, px_per_mm, rng, "phone"), _drawn("led", rng)
    middle, long_px = picture.image.shape[0] / 2, max(picture.image.shape)

    def shift(px: Points) -> Points:
        wave = np.sin(2 * np.pi * px[:, 1] / (long_px * drawn["wobble_period"]) + drawn["phase"])
        return np.column_stack([drawn["shear"] * (px[:, 1] - middle) + drawn["wobble_px"] * wave, np.zeros(len(px))])

    _, y = shares_grid(picture)
    bands = 0.5 + 0.5 * np.sin(2 * np.pi * y / drawn["period"] + drawn["phase"])
    return _stored(lit_by(displaced(picture, shift), 1.0 - drawn["depth"] * bands), rng, "sensor")


def with_flash(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph by flash: a pale veil where it is thrown back, darkness around."""
    picture, drawn = _posed(page, px_per_mm, rng, "phone"), _drawn("flash", rng)
    x, y = shares_grid(picture)
    apart = np.hypot(x - drawn["x"] * x.max(), y - drawn["y"] * y.max())
    picture = lit_by(picture, 1.0 - drawn["dark"] * np.clip(apart / 0.6, 0.0, 1.0) ** 2)
    veil = drawn["veil"] * np.exp(-0.5 * np.square(apart / drawn["radius"]))
    unveiled = lit(picture.image, (1.0 - veil).astype(np.float32))
    white = lit(np.full_like(picture.image, 250), veil.astype(np.float32))
    return _stored(replace(picture, image=cv2.add(unveiled, white).astype(np.uint8)), rng, "sensor")


def greasy(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph through a lens with finger grease on it: all light spills far around."""
    picture, drawn = _posed(page, px_per_mm, rng, "phone.oblique"), _drawn("greasy", rng)
    rows, columns = picture.image.shape
    small = blurred(resized(picture.image, columns // 16, rows // 16), drawn["spread"] * max(rows, columns) / 16)
    haze = stretched(small.astype(np.float32), (rows, columns))
    image = np.rint(picture.image * np.float32(1.0 - drawn["haze"]) + haze * np.float32(drawn["haze"]))
    return _stored(replace(picture, image=image.astype(np.uint8)), rng, "sensor")


def locally_toned(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph whose telephone evened out light and dark region by region."""
    picture, drawn = phone(page, px_per_mm, rng), _drawn("local_tone", rng)
    evened = cv2.createCLAHE(drawn["clip"], (8, 8)).apply(picture.image).astype(np.uint8)
    return replace(picture, image=through_jpeg(sharpened(evened, drawn["sharpening"], 1.5), 90))


def at_night(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph in bad light whose telephone smoothed the grain away and sharpened what was left."""
    picture, drawn = phone(page, px_per_mm, rng, pose="phone.night", sensor="sensor.night"), _drawn("smoothed", rng)
    calm = cv2.bilateralFilter(picture.image, 5, drawn["range"], 2.0).astype(np.uint8)
    return replace(picture, image=through_jpeg(sharpened(calm, drawn["sharpening"], 1.2), 85))


def with_a_piece_torn_out(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that lost a piece of one side."""
    rest, lost = torn(page, px_per_mm, rng)
    return replace(phone(rest, px_per_mm, rng), hidden_mm=(lost,))


def on_checked_cloth(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on a cloth of light and dark squares."""
    picture, drawn = _posed(page, px_per_mm, rng, "phone"), _drawn("cloth", rng)
    width_mm, height_mm = page.shape[1] / px_per_mm, page.shape[0] / px_per_mm
    corners = picture.place(np.array([[0.0, 0.0], [width_mm, 0.0], [width_mm, height_mm], [0.0, height_mm]]))
    shape = picture.image.shape[0], picture.image.shape[1]
    x, y = shares_grid(picture, step_px=2)
    angle, side = np.deg2rad(drawn["turn_deg"]), drawn["side_mm"] * scale_px_per_mm(picture) / max(shape)
    across, down = x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)
    threads = (np.floor(across / side) % 2 + np.floor(down / side) % 2) / 2
    cloth = stretched((drawn["light"] - (drawn["light"] - drawn["dark"]) * threads).astype(np.float32), shape)
    sheet = filled(shape, [corners])
    image = np.rint(picture.image * sheet + cloth * (1.0 - sheet)).astype(np.uint8)
    return _stored(replace(picture, image=image), rng, "sensor")


def after(page: Gray, px_per_mm: float, rng: np.random.Generator, *, paper: Callable[..., Gray], shot: Shot) -> Picture:
    """Return a shot of a page to which that has happened."""
    return shot(paper(page, px_per_mm, rng), px_per_mm, rng)


RARE_SCANS: dict[str, Shot] = {
    "show-through": partial(after, paper=shown_through, shot=glass),
    "uneven-feed": uneven_feed,
    "bound": bound,
    "resaved": resaved,
    "text-mode": text_mode,
    "few-grays": few_grays,
    "diffused-300": diffused,
    "damp": partial(after, paper=damp, shot=glass),
    "smudged": partial(after, paper=smudged, shot=sheetfed),
    "fit-to-page-and-uneven": partial(at_print_scale, which="fit_to_page", shot=uneven_feed),
}

RARE_PHOTOGRAPHS: dict[str, Shot] = {
    "photo-lens": through_lens,
    "photo-blinds": under_blinds,
    "photo-led": by_led,
    "photo-flash": with_flash,
    "photo-greasy-lens": greasy,
    "photo-local-tone": locally_toned,
    "photo-video": partial(phone, pose="phone.video", sensor="sensor.video"),
    "photo-night": at_night,
    "photo-quartered": partial(after, paper=quartered, shot=partial(phone, pose="phone.quartered")),
    "photo-torn": with_a_piece_torn_out,
    "photo-checked-cloth": on_checked_cloth,
    "photo-show-through": partial(after, paper=shown_through, shot=phone),
}


def _drawn(table: str, rng: np.random.Generator) -> dict[str, Any]:
    values: dict[str, Any] = draw(dict, f"rare.{table}", rng)
    return values


def _posed(page: Gray, px_per_mm: float, rng: np.random.Generator, pose: str) -> Picture:
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, f"rare.{pose}", rng))


def _stored(picture: Picture, rng: np.random.Generator, sensor: str) -> Picture:
    """The picture with a sensor's grain, compressed."""
    drawn = _drawn(sensor, rng)
    return replace(picture, image=through_jpeg(grainy(picture.image, drawn["noise"], rng, 0.6), drawn["quality"]))


def _patches(
    page: Gray,
    px_per_mm: float,
    drawn: dict[str, Any],
    rng: np.random.Generator,
    shape: tuple[int, ...] | None = None,
) -> Field:
    """Round patches with soft rims somewhere on the page, 0 … 1, by `COARSE` pixels a millimetre."""
    rows, columns = shape or (round(side * COARSE / px_per_mm) for side in page.shape)
    field = np.zeros((rows, columns), dtype=np.float32)
    angles = np.linspace(0.0, 2 * np.pi, 40, endpoint=False)
    for _ in range(drawn["patches"]):
        radius = drawn["radius_mm"] * COARSE * float(rng.uniform(0.6, 1.2))
        wobble = radius * (1.0 + 0.15 * np.sin(2 * angles + rng.uniform(0, 6)) + 0.07 * np.sin(5 * angles))
        ring = wobble[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        field = np.maximum(field, filled((rows, columns), [ring + rng.uniform(0.1, 0.9, 2) * (columns, rows)]))
    return soft(field, 1.0 * COARSE)
