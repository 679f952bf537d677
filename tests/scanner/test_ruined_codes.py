"""Codes that no reader decodes, recognised among those that they can be, and never taken for another."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from kit.codes import Code, CodeKind, encode, matrix
from scanner.code_readers import ZXING, find_with
from scanner.rehearsal.arrays import Gray
from scanner.ruined_codes import LEAST_LIKE, _free_modules, recognise

SECRET = b"sixteen octets.."
TEXTS = tuple(encode(Code(CodeKind.COASTER, "K7Q4M2", number), SECRET) for number in range(1, 6))
CARDS = tuple(encode(Code(CodeKind.ROW_END, "K7Q4M2", number), SECRET) for number in range(1, 9))
MODULE_PX = 8


def crop(text: str, turn_deg: float, *, ruined: bool = True) -> Gray:
    """Return a code on a light label, turned, one eye and a part of the rest hidden under a reflection."""
    code = np.where(np.array(matrix(text)), 30, 220).astype(np.uint8)
    face = np.pad(
        cv2.resize(code, None, fx=MODULE_PX, fy=MODULE_PX, interpolation=cv2.INTER_NEAREST), 60, constant_values=220
    )
    if ruined:
        cv2.circle(face, (75, 75), 34, 250, -1)
        cv2.circle(face, (160, 190), 14, 250, -1)
    side = len(face)
    move = cv2.getRotationMatrix2D(((side - 1) / 2, (side - 1) / 2), -turn_deg, 1.0)
    return np.asarray(cv2.warpAffine(face, move, (side, side), borderValue=220), np.uint8)


@pytest.mark.parametrize("turn_deg", [0.0, 49.0, 133.0, 260.0])
@pytest.mark.parametrize("number", [1, 4])
def test_a_code_with_an_eye_lost_is_recognised_and_placed(number: int, turn_deg: float) -> None:
    image = crop(TEXTS[number - 1], turn_deg)
    assert find_with(ZXING, image) == ()
    [(text, corners)] = recognise(image, (*TEXTS, *CARDS), MODULE_PX)
    assert text == TEXTS[number - 1]
    assert corners.mean(axis=0) == pytest.approx([(len(image) - 1) / 2] * 2, abs=MODULE_PX)
    first = corners[0] - corners.mean(axis=0)
    turned = np.degrees(np.arctan2(first[1], first[0])) + 135.0
    assert (turned - turn_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=3.0)


def test_what_is_not_among_the_texts_is_not_recognised() -> None:
    """Other numbers of the same set, and another kit's labels, legible as they are."""
    assert not list(recognise(crop(TEXTS[2], 20.0, ruined=False), (*TEXTS[:2], *TEXTS[3:], *CARDS), MODULE_PX))
    assert not list(recognise(crop(CARDS[2], 20.0, ruined=False), TEXTS, MODULE_PX))
    stranger = encode(Code(CodeKind.COASTER, "M4Q7K2", 3), SECRET)
    assert not list(recognise(crop(stranger, 20.0, ruined=False), (*TEXTS, *CARDS), MODULE_PX))


def test_a_mirrored_code_is_not_recognised() -> None:
    mirrored = np.ascontiguousarray(crop(TEXTS[0], 20.0)[:, ::-1])
    assert not list(recognise(mirrored, TEXTS, MODULE_PX))


@pytest.mark.parametrize("seed", range(5))
def test_noise_and_stripes_are_no_code(seed: int) -> None:
    rng = np.random.default_rng(seed)
    noise = rng.integers(0, 256, (300, 300), dtype=np.uint8)
    stripes = np.tile(np.where(np.arange(300) // (5 + seed) % 2, 40, 220).astype(np.uint8), (300, 1))
    for image in (noise, cv2.GaussianBlur(noise, (0, 0), 5.0), stripes, np.full((300, 300), 128, np.uint8)):
        assert not list(recognise(np.asarray(image, np.uint8), (*TEXTS, *CARDS), MODULE_PX))


def test_codes_of_one_set_differ_by_more_than_what_is_asked_of_likeness() -> None:
    """The reason for LEAST_LIKE: two codes of one set, without any noise, go together less well than that."""
    free = _free_modules()
    for secret in (SECRET, b"another secret..", bytes(16)):
        texts = [encode(Code(kind, "K7Q4M2", number), secret) for kind in CodeKind for number in range(1, 30)]
        modules = np.array([np.array(matrix(text))[free] for text in texts], np.float64)
        alike = np.asarray(np.corrcoef(modules)) - 2.0 * np.eye(len(texts))
        assert alike.max() < LEAST_LIKE
