"""A slice of `python -m tests.fold`: in reflected light a folded key sheet tells no more than chance."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kit.paper import PAPERS
from kit.session import Paper
from tests.fold.attacks import (
    OCR_PROGRAM,
    digits_by_ocr,
    digits_by_template,
    has_ocr,
    order_by_template,
    texts_of_codes,
)
from tests.fold.key_papers import PX_PER_MM, code_of, printed
from tests.fold.packet import EDGE_MM, FACES, Folds, Levels, fold_by_hand, folded, photographed, seen_from
from tests.fold.trial import Tally, tallied, tries_on
from tests.kit.paper_optics import Ink

SHEETS = 8
FIND_WHAT_LIES_OPEN = ("one digit, left face", "order, left face", "order, both faces", "order between the scramble")
"""From the right, four plies and the sheet's guide lie upon the key."""
SCENES: list[tuple[int, Paper]] = [(5, "A4"), (3, "Letter")]
ORDER = (3, 1, 5, 2, 4)


@pytest.mark.parametrize(("glasses", "paper"), SCENES)
def test_a_folded_key_tells_no_more_than_chance_in_reflected_light(glasses: int, paper: Paper) -> None:
    """Two hundred sheets and more are `python -m tests.fold`'s; of these few, chance alone is as right once in 50."""
    tries = [one for sheet in range(SHEETS) for one in tries_on(sheet, glasses, paper, lights=["reflected"])]
    tallies = tallied(tries)
    assert {tally.photographs for tally in tallies} == {1, 16}
    claimed = [tally for tally in tallies if tally.is_claimed]
    told = [(tally.attack, tally.photographs, tally.right) for tally in claimed if tally.p_value < 0.02 / len(claimed)]
    assert told == []


@pytest.mark.parametrize(("glasses", "paper"), SCENES)
def test_the_same_attacks_find_a_key_that_nothing_covers(glasses: int, paper: Paper) -> None:
    """So that the test above can fail: the same sheets, folded alike, without scramble and black."""
    for sheet in range(3):
        tries = list(tries_on(sheet, glasses, paper, covered=False, lights=["reflected"]))
        found = [one.is_right for one in tries if one.attack in FIND_WHAT_LIES_OPEN and one.photographs > 1]
        assert found == [True] * len(FIND_WHAT_LIES_OPEN)


@pytest.mark.skipif(not has_ocr(), reason=f"{OCR_PROGRAM} is not installed: the attack by an OCR program is left out")
def test_the_ocr_program_reads_a_key_that_nothing_covers() -> None:
    """Of a clean print all; through two plies most."""
    clean, through = unfolded(), photographs(covered=False)
    assert digits_by_ocr([clean], 5, "A4") == ORDER
    read = digits_by_ocr(through, 5, "A4")
    assert sum(one == other for one, other in zip(read, ORDER, strict=True)) >= 3


def test_every_attack_is_right_on_a_key_laid_open() -> None:
    clean = [unfolded()]
    assert digits_by_template(clean, 5, "A4") == order_by_template(clean, 5, "A4") == ORDER
    assert texts_of_codes(clean, 5, "A4") == {code_of(ORDER, 1)}


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_true_folds_lay_the_thirds_where_geometry_says(paper: Paper) -> None:
    """A square printed on each third comes to lie at its mirror image in the folds, on the ply that carries it."""
    size = PAPERS[paper]
    third, middle = size.height_mm / 3, size.width_mm / 2
    # On the picture of the key's half: x from the left edge, y from the first fold; each sheet place (x, y) below.
    at_x, at_y = 40.0, 30.0
    places = {
        (0, "lower"): (at_x, at_y),
        (1, "lower"): (at_x, 2 * third + at_y),
        (2, "upper"): (at_x, 2 * third - at_y),
        (3, "lower"): (2 * middle - at_x, 2 * third - at_y),
        (4, "upper"): (2 * middle - at_x, 2 * third + at_y),
        (5, "upper"): (2 * middle - at_x, at_y),
    }
    for (ply, side), (x_mm, y_mm) in places.items():
        packet = folded(square_at(x_mm, y_mm, paper), size, PX_PER_MM, Folds())
        for number, lying in enumerate(packet.plies):
            for name, ink in (("upper", lying.upper), ("lower", lying.lower)):
                if ink is None:
                    continue
                if (number, name) != (ply, side):
                    assert ink.max() < 0.01
                    continue
                rows, columns = np.nonzero(ink > 0.5)
                assert (columns.mean() + 0.5) / PX_PER_MM + EDGE_MM == pytest.approx(at_x, abs=0.2)
                assert (rows.mean() + 0.5) / PX_PER_MM + EDGE_MM == pytest.approx(at_y, abs=0.2)


@pytest.mark.parametrize(("folds", "down_mm"), [(Folds((2.0, 2.0)), -2.0), (Folds((-2.0, -2.0)), 2.0), (Folds(), 0.0)])
def test_a_fold_that_is_off_moves_the_key_in_the_picture_by_as_much(folds: Folds, down_mm: float) -> None:
    """The picture begins at the fold: 2 mm lower, it is 2 mm nearer to what stands on the bottom third."""
    size = PAPERS["A4"]
    third = size.height_mm / 3
    packet = folded(square_at(40.0, 2 * third + 30.0, "A4"), size, PX_PER_MM, folds)
    ink = packet.plies[1].lower
    assert ink is not None
    rows, _ = np.nonzero(ink > 0.5)
    assert (rows.mean() + 0.5) / PX_PER_MM + EDGE_MM == pytest.approx(30.0 + down_mm, abs=0.2)


def test_hands_fold_up_to_2_mm_off_and_askew() -> None:
    rng = np.random.default_rng(1)
    ends = np.array([(*f.first, *f.second, *f.across) for f in (fold_by_hand(rng) for _ in range(400))])
    assert np.abs(ends).max() <= 2.0
    assert (ends.max(axis=0) > 1.8).all()
    assert (ends.min(axis=0) < -1.8).all()
    assert np.abs(np.corrcoef(ends.T) - np.eye(6)).max() < 0.2


def test_the_mean_of_16_photographs_has_a_quarter_of_the_noise() -> None:
    rng = np.random.default_rng(1)
    grey = np.full((200, 200), 0.5)
    assert np.std(photographed(grey, 1, rng)) == pytest.approx(0.02, rel=0.03)
    assert np.std(photographed(grey, 16, rng)) == pytest.approx(0.005, rel=0.03)


def test_the_p_value_is_the_binomial_tail() -> None:
    """Added up by hand: P(at least 3 of 5 at 1/5) = 10 · 16/3125 + 5 · 4/3125 + 1/3125."""
    tally = Tally("reflected", 1, "one digit by template", 0.2, 3, 5)
    assert tally.p_value == pytest.approx((10 * 16 + 5 * 4 + 1) / 3125)
    assert Tally("reflected", 1, "the code", 0.0, 1, 5).p_value == 0.0
    assert Tally("reflected", 1, "the code", 0.0, 0, 5).p_value == 1.0


def test_a_guess_that_does_not_look_is_right_by_chance() -> None:
    """The attacks favour no order: on pure noise, wherever a template fits best, the key is right once in n!."""
    rng = np.random.default_rng(1)
    right = 0
    for _ in range(40):
        noise = [photographed(np.ones(FACE_PX), 1, rng) for _ in FACES]
        right += order_by_template(noise, 3, "A4") == tuple(int(number) + 1 for number in rng.permutation(3))
    assert Tally("reflected", 1, "order by template", 1 / math.factorial(3), right, 40).p_value > 0.001


FACE_PX = tuple(round(PX_PER_MM * (side - 2 * EDGE_MM)) for side in (297 / 3, 210 / 2))


def unfolded() -> Levels:
    """Return the bottom third's left half as a face's picture is cut, seen directly."""
    ink = printed(ORDER, "A4", 1, covered=False).ink
    left, top = (round(PX_PER_MM * mm) for mm in (EDGE_MM, 2 * 297 / 3 + EDGE_MM))
    open_to_see: Levels = 1.0 - ink[top : top + FACE_PX[0], left : left + FACE_PX[1]]
    return open_to_see


def photographs(*, covered: bool) -> list[Levels]:
    rng = np.random.default_rng(1)
    paper = printed(ORDER, "A4", 1, covered=covered)
    packet = folded(paper.ink, paper.paper, PX_PER_MM, fold_by_hand(rng))
    return [photographed(seen_from(packet, face), 16, rng) for face in FACES]


def square_at(x_mm: float, y_mm: float, paper: Paper) -> Ink:
    size = PAPERS[paper]
    ink = np.zeros((round(size.height_mm * PX_PER_MM), round(size.width_mm * PX_PER_MM)))
    rows, columns = (slice(round(PX_PER_MM * (at - 2)), round(PX_PER_MM * (at + 2))) for at in (y_mm, x_mm))
    ink[rows, columns] = 1.0
    return ink
