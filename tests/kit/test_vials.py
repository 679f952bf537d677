"""Vial labels: what they say and what not, that they fit a vial, and that their codes are read off its curve."""

from __future__ import annotations

import math
from itertools import pairwise

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from kit.codes import ALPHABET, CodeKind, decode, is_genuine
from kit.drawing import Modules, Page, Rect, Text
from kit.pdf import render
from kit.record import Kit
from kit.session import Paper, Session, Shuffle
from kit.vials import vial_code, vial_pages
from scanner.code_readers import find_codes
from tests.kit import samples
from tests.kit.collisions import collisions, outside
from tests.kit.extents import ink_of
from tests.kit.rendering import by_pdfium

VIAL_ACROSS_MM = 27.0
"""A common round vial of 25 ml: some 27 mm across (from memory)."""
LABEL_MM = (38.0, 21.0)


def kit_of(session: Session) -> Kit:
    return Kit("K7Q4M2", session, b"the tide at Saltmarsh", ())


def frames(page: Page) -> list[Rect]:
    return [element for element in page.common if isinstance(element, Rect)]


def texts_in(frame: Rect, page: Page) -> list[str]:
    return [
        element.text
        for element in (*page.common, *page.own)
        if isinstance(element, Text)
        and frame.x_mm < ink_of(element).left < frame.x_mm + frame.w_mm
        and frame.y_mm < ink_of(element).top < frame.y_mm + frame.h_mm
    ]


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_nothing_lies_upon_another_thing_or_near_the_edge(paper: Paper, glasses: int) -> None:
    for session in (
        samples.a_session(glasses, paper, "twin"),
        samples.a_session_with_long_names(glasses, paper, "twin"),
    ):
        pages = list(vial_pages(kit_of(session)))
        assert len(pages) == len(session.tasters)
        for page in pages:
            assert outside(page) == []
            assert collisions(page) == []


@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_a_label_says_packet_and_number_or_packet_and_letter_and_nothing_else(glasses: int) -> None:
    for packet, page in enumerate(vial_pages(kit_of(samples.a_session(glasses, shuffle="twin"))), start=1):
        said = [texts_in(frame, page) for frame in frames(page)]
        marks = [*"12345"[:glasses], *"ABCDE"[:glasses]]
        assert said == [[mark, f"packet {packet}"] for mark in marks]
        assert {(frame.w_mm, frame.h_mm) for frame in frames(page)} == {LABEL_MM}


def test_a_code_says_packet_and_number_or_letter_and_is_genuine() -> None:
    kit = kit_of(samples.a_session(5, shuffle="twin"))
    seen = set()
    for packet in (1, 2, 3, 9999):
        for digit, (number, letter) in enumerate(zip("12345", "ABCDE", strict=True), start=1):
            for mark, kind in ((number, CodeKind.NUMBERED_VIAL), (letter, CodeKind.LETTERED_VIAL)):
                text = vial_code(kit, packet, mark)
                code = decode(text)
                assert code is not None
                assert (code.kind, code.kit, code.number, code.role_digit) == (kind, "K7Q4M2", packet, digit)
                assert is_genuine(text, kit.secret)
                seen.add(text)
    assert len(seen) == 4 * 10
    assert {CodeKind.NUMBERED_VIAL, CodeKind.LETTERED_VIAL} == {"N", "V"} <= set(ALPHABET)


@pytest.mark.parametrize("shuffle", ["host", "hand"])
def test_a_sitting_at_one_table_has_no_vials(shuffle: Shuffle) -> None:
    assert list(vial_pages(kit_of(samples.a_session(3, shuffle=shuffle)))) == []


def test_a_label_goes_round_less_than_half_of_a_common_vial() -> None:
    assert LABEL_MM[0] < math.pi * VIAL_ACROSS_MM / 2


def test_labels_are_cut_along_shared_lines() -> None:
    (page, *_) = vial_pages(kit_of(samples.a_session(5, shuffle="twin")))
    for row in (frames(page)[:5], frames(page)[5:]):
        assert all(two.x_mm == pytest.approx(one.x_mm + one.w_mm) for one, two in pairwise(row))
        assert len({frame.y_mm for frame in row}) == 1


def on_a_vial(label: NDArray[np.uint8], px_per_mm: float, facing_mm: float) -> NDArray[np.uint8]:
    """Return the label as seen from far off on a vial, turned so that `facing_mm` from its left faces the eye.

    A place x mm beside that appears at r·sin(x/r).
    """
    radius_px = VIAL_ACROSS_MM / 2 * px_per_mm
    height = label.shape[0]
    across = np.arange(-int(radius_px), int(radius_px) + 1, dtype=np.float64)
    columns = np.arcsin(across / radius_px) * radius_px + facing_mm * px_per_mm
    map_x = np.tile(columns.astype(np.float32), (height, 1))
    map_y = np.tile(np.arange(height, dtype=np.float32)[:, None], (1, len(columns)))
    return np.asarray(cv2.remap(label, map_x, map_y, cv2.INTER_AREA, borderValue=255), np.uint8)


@pytest.mark.parametrize("paper", samples.PAPERS)
def test_every_code_is_read_off_the_curve_of_a_vial(paper: Paper) -> None:
    """By the readers of codes, which are not ours: at 200 dpi, as a telephone a hand's breadth away sees a label."""
    kit, dpi = kit_of(samples.a_session(5, paper, "twin")), 200.0
    (page, *_) = vial_pages(kit)
    (picture,) = by_pdfium(render([page], "vials"), dpi)
    px_per_mm = dpi / 25.4
    codes = [element for element in page.own if isinstance(element, Modules)]
    for frame, code, mark in zip(frames(page), codes, "12345ABCDE", strict=True):
        left, top = round(frame.x_mm * px_per_mm), round(frame.y_mm * px_per_mm)
        width, height = round(frame.w_mm * px_per_mm), round(frame.h_mm * px_per_mm)
        facing_mm = code.x_mm + code.side_mm / 2 - frame.x_mm
        seen = on_a_vial(picture[top : top + height, left : left + width], px_per_mm, facing_mm)
        assert [found.text for found in find_codes(seen)] == [vial_code(kit, 1, mark)]


def test_every_module_is_large_enough_to_be_read() -> None:
    (page, *_) = vial_pages(kit_of(samples.a_session(3, shuffle="twin")))
    sides = [element.side_mm for element in page.own if isinstance(element, Modules)]
    assert sides == pytest.approx([21 * 0.6] * 6)
