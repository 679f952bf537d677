"""A test form drawn straight from a layout, and a plain camera for it; independent of the printer and the rehearsal.

Pages are gray uint8 arrays. Strokes are polylines in mm, drawn with the width and gray of a pen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.codes import Code, CodeKind, encode, matrix
from kit.paper import A4, Paper
from kit.sheet_layout import MarkBox, SheetLayout, Square
from scanner.kits import KitOnFile

Gray = NDArray[np.uint8]
Stroke = Sequence[tuple[float, float]]

KIT = "K7Q4M2"
SECRET = b"a secret of the test kit"
PITCH_X_MM, PITCH_Y_MM = 7.0, 6.2


def form(
    role: str = "notes-1", taster: int = 1, *, paper: Paper = A4, kit: str = KIT, box_mm: float = 4.5
) -> SheetLayout:
    """Return a page with two blocks of boxes: words with a label at the right, and rows of a seven-step scale."""
    margin, side, code = 7.5, 10.0, 16.8
    right, foot = paper.width_mm - margin, paper.height_mm - margin
    fiducials = (
        Square(0, margin, margin, side),
        Square(1, right - side, margin, side),
        Square(2, right - side, foot - side, side),
        Square(3, margin, foot - side, side),
    )
    codes = (
        Square(0, right - side - 5.7 - code, margin, code),
        Square(1, margin + side + 5.7, foot - code, code),
    )
    marks = [
        MarkBox(
            f"words.{1 + row // 10}",
            f"word-{row % 10}-{column}",
            "many",
            22.0 + 24.0 * column,
            40.0 + PITCH_Y_MM * row,
            box_mm,
            box_mm,
        )
        for row in range(30)
        for column in range(3)
    ]
    marks += [
        MarkBox(
            f"scale.{row % 6}.{1 + row // 6}",
            str(column + 1),
            "one",
            110.0 + PITCH_X_MM * column,
            40.0 + PITCH_Y_MM * row,
            box_mm,
            box_mm,
        )
        for row in range(30)
        for column in range(7)
    ]
    digit = {"notes-1": 1, "notes-2": 2, "match": 3, "turned": 4, "key": 5}[role]
    if role == "key":
        marks = []
    return SheetLayout(
        "forms.pdf",
        1,
        paper.width_mm,
        paper.height_mm,
        f"{kit}-{taster:04d}-{digit}",
        taster,
        role,
        tuple(marks),
        (),
        fiducials,
        codes,
        _edge_marks(paper, margin, side, code),
    )


def kit_of(*sheets: SheetLayout, kit: str = KIT, secret: bytes = SECRET) -> KitOnFile:
    """Return these sheets as a kit."""
    return KitOnFile(
        id=kit,
        secret=secret,
        sheets={sheet.sheet: sheet for sheet in sheets},
        glasses=3,
        tasters={1: "Ines", 2: "Søren"},
    )


def code_of(sheet: SheetLayout, secret: bytes = SECRET) -> str:
    """Return the text of the sheet's code."""
    kit, taster, digit = sheet.sheet.split("-")
    return encode(Code(CodeKind.SHEET, kit, int(taster), int(digit)), secret)


def draw(
    sheet: SheetLayout,
    text: str | None = None,
    *,
    px_per_mm: float = 8.0,
    labels: bool = True,
    strokes: Sequence[Stroke] = (),
    pen_mm: float = 0.5,
    pen_gray: int = 40,
) -> Gray:
    """Return the printed and marked page; `text` is the code's, made from the sheet where left out."""
    fine = px_per_mm * 2
    page = np.full((round(sheet.height_mm * fine), round(sheet.width_mm * fine)), 255, np.uint8)
    for square in sheet.fiducials:
        tag = cv2.aruco.generateImageMarker(
            cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11), square.number, 8
        )
        _stamp(page, np.asarray(tag, np.uint8), square.x_mm, square.y_mm, square.side_mm, fine)
    rows = np.array(matrix(text or code_of(sheet)))
    for square in sheet.codes:
        _stamp(page, np.where(rows, 0, 255).astype(np.uint8), square.x_mm, square.y_mm, square.side_mm, fine)
    half = sheet.edge_mark_mm / 2
    for x, y in sheet.edge_marks:
        _stamp(page, np.zeros((1, 1), np.uint8), x - half, y - half, sheet.edge_mark_mm, fine)
    for box in sheet.marks:
        _outline(page, box, fine)
        if labels and box.pick == "many":
            where = (round((box.x_mm + box.w_mm + 0.9) * fine), round((box.y_mm + 3.2) * fine))
            cv2.putText(page, box.option, where, cv2.FONT_HERSHEY_SIMPLEX, 0.075 * fine, 0, max(1, round(fine / 6)))
    for stroke in strokes:
        _draw_stroke(page, stroke, fine, pen_mm, pen_gray)
    size = (round(sheet.width_mm * px_per_mm), round(sheet.height_mm * px_per_mm))
    return np.asarray(cv2.resize(page, size, interpolation=cv2.INTER_AREA), np.uint8)


def cross(box: MarkBox, size: float = 0.8) -> list[Stroke]:
    """Return a cross in the box, `size` of its side."""
    x, y = box.x_mm + box.w_mm / 2, box.y_mm + box.h_mm / 2
    reach = box.w_mm * size / 2
    return [[(x - reach, y - reach), (x + reach, y + reach)], [(x + reach, y - reach), (x - reach, y + reach)]]


def tick(box: MarkBox, tail_mm: float = 0.0) -> list[Stroke]:
    """Return a tick in the box whose long arm goes on `tail_mm` past the upper right corner."""
    x, y, w = box.x_mm, box.y_mm, box.w_mm
    out = tail_mm / 2**0.5
    return [[(x + 0.15 * w, y + 0.5 * w), (x + 0.4 * w, y + 0.85 * w), (x + 0.95 * w + out, y + 0.1 * w - out)]]


def blackout(box: MarkBox) -> list[Stroke]:
    """Return strokes that black the box out to its outline."""
    steps = np.arange(0.2, box.h_mm, 0.3)
    return [[(box.x_mm + 0.1, box.y_mm + s), (box.x_mm + box.w_mm - 0.1, box.y_mm + s)] for s in steps]


def photograph(
    page: Gray,
    corners: Sequence[tuple[float, float]],
    size: tuple[int, int],
    *,
    desk: int = 90,
    noise: float = 2.0,
    seed: int = 1,
) -> Gray:
    """Return a picture of `size` (width, height) in which the page's corners, clockwise from its top left, lie so."""
    height, width = page.shape
    flat = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float32) - 0.5
    view = cv2.getPerspectiveTransform(flat, np.array(corners, np.float32))
    sharp = cv2.warpPerspective(
        page, view, size, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_CONSTANT, borderValue=float(desk)
    )
    picture = np.asarray(sharp, np.float64) + np.random.default_rng(seed).normal(0, noise, sharp.shape)
    return np.clip(picture, 0, 255).astype(np.uint8)


def marked(sheet: SheetLayout, answers: Mapping[tuple[str, str], list[Stroke]]) -> list[Stroke]:
    """Return all strokes of `answers`, checked to name boxes of the sheet."""
    known = {(box.field, box.option) for box in sheet.marks}
    assert set(answers) <= known
    return [stroke for strokes in answers.values() for stroke in strokes]


def moved(sheet: SheetLayout, **changes: object) -> SheetLayout:
    """Return the sheet with some fields changed."""
    return replace(sheet, **changes)  # type: ignore[arg-type]


def _edge_marks(paper: Paper, margin: float, side: float, code: float) -> tuple[tuple[float, float], ...]:
    def between(start: float, end: float) -> list[float]:
        count = int(np.ceil((end - start) / 19.0))
        return [float(place) for place in np.linspace(start, end, count + 1)]

    left, right = margin + 1, paper.width_mm - margin - 1
    head, foot = margin + 1, paper.height_mm - margin - 1
    past_fiducial, past_code = margin + side + 6.0, margin + side + 5.7 + code + 5.0
    return tuple(
        [(x, head) for x in between(past_fiducial, paper.width_mm - past_code)]
        + [(x, foot) for x in between(past_code, paper.width_mm - past_fiducial)]
        + [(left, y) for y in between(past_fiducial, paper.height_mm - past_code)]
        + [(right, y) for y in between(past_code, paper.height_mm - past_fiducial)]
    )


def _stamp(page: Gray, pattern: Gray, x_mm: float, y_mm: float, side_mm: float, px_per_mm: float) -> None:
    left, top = round(x_mm * px_per_mm), round(y_mm * px_per_mm)
    side = round(side_mm * px_per_mm)
    page[top : top + side, left : left + side] = cv2.resize(pattern, (side, side), interpolation=cv2.INTER_NEAREST)


def _outline(page: Gray, box: MarkBox, px_per_mm: float) -> None:
    line = max(1, round(0.25 * px_per_mm))
    left, top = round(box.x_mm * px_per_mm), round(box.y_mm * px_per_mm)
    right, foot = round((box.x_mm + box.w_mm) * px_per_mm), round((box.y_mm + box.h_mm) * px_per_mm)
    inside = page[top + line : foot - line, left + line : right - line].copy()
    page[top:foot, left:right] = 0
    page[top + line : foot - line, left + line : right - line] = inside


def _draw_stroke(page: Gray, stroke: Stroke, px_per_mm: float, pen_mm: float, pen_gray: int) -> None:
    sixteenths = np.round((np.array(stroke) * px_per_mm - 0.5) * 16).astype(np.int32)
    ink = np.full_like(page, 255)
    cv2.polylines(ink, [sixteenths], False, float(pen_gray), max(1, round(pen_mm * px_per_mm)), cv2.LINE_AA, 4)
    np.minimum(page, ink, out=page)
