"""The model of print seen through paper against the closed formulas of Kubelka and Munk, and ISO 2471's opacity.

For a layer of scattering S·X and the reflectance R∞ of a pile [1]_, with a = (1/R∞ + R∞)/2 and b = √(a² − 1):

    R over a ground Rg = (1 − Rg (a − b coth bSX)) / (a − Rg + b coth bSX)
    T = b / (a sinh bSX + b cosh bSX)

The model never uses them: it lays ply upon ply. Two plies of one paper are one layer of twice the thickness.

.. [1] P. Kubelka, J. Opt. Soc. Am. 38 (1948) 448–457 [memory].
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.kit.paper_optics import (
    INK_TRANSMITTANCE,
    OPACITY,
    OVER_BLACK,
    PILE_REFLECTANCE,
    TRANSMITTANCE,
    Ink,
    Ply,
    let_through,
    over,
    thrown_back,
)

A = (1 / PILE_REFLECTANCE + PILE_REFLECTANCE) / 2
B = math.sqrt(A**2 - 1)
PX_PER_MM = 6.0
BARE = np.zeros((40, 40))


def reflectance(scattering: float, ground: float) -> float:
    coth = 1 / math.tanh(B * scattering)
    return (1 - ground * (A - B * coth)) / (A - ground + B * coth)


def transmittance(scattering: float) -> float:
    return B / (A * math.sinh(B * scattering) + B * math.cosh(B * scattering))


SCATTERING = brentq(lambda scattering: reflectance(scattering, 0.0) - OPACITY * PILE_REFLECTANCE, 1e-3, 1e3)
"""S·X of one ply whose reflectance over black is 85 % of a pile's: what ISO 2471 calls an opacity of 85 %."""


def stack(plies: int) -> list[Ply]:
    return [Ply() for _ in range(plies - 1)] + [Ply(lower=BARE)]


def test_one_ply_is_of_the_opacity_that_iso_2471_defines() -> None:
    """R0 over a black ground, divided by R∞ of a pile so thick that another ply changes nothing."""
    pile = 0.0
    for _ in range(60):
        pile = float(over(np.array(pile)))
    assert pile == pytest.approx(PILE_REFLECTANCE, abs=1e-12)
    assert float(over(np.array(0.0))) / pile == pytest.approx(0.85, abs=1e-12)


def test_the_light_that_one_ply_lets_through_is_kubelkas() -> None:
    assert pytest.approx(transmittance(SCATTERING), abs=1e-12) == TRANSMITTANCE
    assert OVER_BLACK + TRANSMITTANCE < 1.0, "paper makes no light"


@pytest.mark.parametrize("plies", [1, 2, 3, 6])
@pytest.mark.parametrize("ground", [0.0, 0.3, 0.85])
def test_a_stack_reflects_as_one_layer_of_its_thickness(plies: int, ground: float) -> None:
    seen = np.array(ground)
    for _ in range(plies):
        seen = over(seen)
    assert float(seen) == pytest.approx(reflectance(plies * SCATTERING, ground), abs=1e-12)


@pytest.mark.parametrize("plies", [1, 2, 3, 6])
def test_a_stack_lets_a_lamp_through_as_one_layer_of_its_thickness(plies: int) -> None:
    assert let_through(stack(plies), PX_PER_MM) == pytest.approx(transmittance(plies * SCATTERING), abs=1e-12)


def test_what_two_plies_of_85_percent_hide() -> None:
    """From the closed formula: their opacity is 95.3 %, and print beneath keeps a contrast of 4.7 % of white."""
    two = reflectance(2 * SCATTERING, 0.0)
    assert two / PILE_REFLECTANCE == pytest.approx(0.953, abs=0.001)
    solid = [Ply(), Ply(lower=np.ones((40, 40)))]
    bare = thrown_back(stack(2), PX_PER_MM)[20, 20]
    contrast = (bare - thrown_back(solid, PX_PER_MM)[20, 20]) / PILE_REFLECTANCE
    through_ink = reflectance(2 * SCATTERING, PILE_REFLECTANCE * INK_TRANSMITTANCE**2)
    assert contrast == pytest.approx((PILE_REFLECTANCE - through_ink) / PILE_REFLECTANCE, abs=1e-9)
    assert contrast == pytest.approx(0.047, abs=0.001)


def test_light_through_a_stack_is_the_same_in_both_directions() -> None:
    """Helmholtz's reciprocity: print between two plies takes as much of a lamp's light from either side."""
    ink = np.full((40, 40), 0.5)
    one_way = let_through([Ply(), Ply(upper=ink), Ply()], PX_PER_MM)
    other_way = let_through([Ply(), Ply(lower=ink), Ply()], PX_PER_MM)
    assert one_way[20, 20] == pytest.approx(other_way[20, 20], abs=1e-12)


def test_print_against_solid_black_does_not_show_on_either_side() -> None:
    """What the black of a key sheet rests on: on black, print has nothing to stand out against."""
    ink = np.zeros((40, 40))
    ink[10:30, 15:25] = 1.0

    def contrast(against: Ink) -> float:
        folded = [Ply(lower=ink), Ply(upper=against)]
        turned = [Ply(lower=against), Ply(upper=ink)]
        return max(float(np.ptp(thrown_back(plies, PX_PER_MM))) for plies in (folded, turned)) / PILE_REFLECTANCE

    assert contrast(BARE) > 0.1
    assert contrast(np.ones((40, 40))) < 0.001
