"""The plan: quantities, warnings and cautions."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kit.plan import bottle_of, bottles, plan
from kit.session import MOST_LOSS_PERCENT, SHUFFLES, Look, Pour, Session, Shuffle, Taster

SESSION = Session(
    title="Winter",
    date=datetime.date(2026, 12, 5),
    drink="sake",
    shuffle="host",
    keys="own",
    coasters="kit",
    paper="A4",
    minutes=4.5,
    pour_ml=75.0,
    language="en",
    seed=None,
    pours=tuple(Pour(name, look="clear") for name in ("Heron Marsh", "Tidewater", "Stone Ferry")),
    tasters=(Taster("Ines"), Taster("Tomas")),
)


def with_looks(*looks: Look | None) -> Session:
    pours = zip(SESSION.pours, looks, strict=True)
    return replace(SESSION, pours=tuple(replace(pour, look=look) for pour, look in pours))


def with_abv(*strengths: float | None) -> Session:
    pours = zip(SESSION.pours, strengths, strict=True)
    return replace(SESSION, pours=tuple(replace(pour, abv_percent=abv_percent) for pour, abv_percent in pours))


def test_both_rounds_use_the_same_glasses() -> None:
    # By hand: 2 tasters × 3 glasses; 2 × 75 ml of each drink; 4.5 min = 270 s for 3 glasses.
    needs = plan(SESSION)
    assert (needs.tasters, needs.glasses_per_taster, needs.vessels) == (2, 3, 6)
    assert (needs.pour_ml, needs.ml_per_drink, needs.bottles_per_drink) == (75, 150, 1)
    assert (needs.minutes_per_round, needs.seconds_per_glass) == (4.5, 90)
    assert plan(replace(SESSION, shuffle="hand")).ml_per_drink == 150


def test_twin_vials_need_every_pour_twice() -> None:
    # By hand: 2 tasters × 3 drinks × 2 vials; 2 × 2 × 20 ml of each drink; 3 × 2 × 20 ml at 16 % for each taster.
    needs = plan(replace(with_abv(16, 16, 16), shuffle="twin", pour_ml=20.0))
    assert (needs.vessels, needs.ml_per_drink) == (12, 80)
    assert needs.alcohol is not None
    assert needs.alcohol.pure_ml == pytest.approx(19.2)


def test_kits_by_post_need_whole_packets_out_of_every_bottle() -> None:
    # By hand: 40 packets × 2 × 20 ml = 1,600 ml of each drink, 5 % more 1,680 ml. A packet takes 42 ml, and a bottle of
    # 720 ml holds 17 whole ones (714 ml): 40 packets need 3.
    needs = plan(replace(SESSION, shuffle="twin", pour_ml=20.0, tasters=SESSION.tasters * 20))
    assert needs.vials is not None
    assert (needs.vials.vial_ml, needs.vials.filled_percent, needs.vials.loss_percent) == (25, 80, 5)
    assert needs.ml_per_drink == 1600
    assert needs.vials.ml_with_loss_per_drink == pytest.approx(1680)
    assert (needs.vials.packets_per_bottle, needs.bottles_per_drink) == (17, 3)
    assert [bottle_of(packet, 17) for packet in (1, 17, 18, 34, 35, 40)] == [1, 1, 2, 2, 3, 3]


def test_a_bottles_rest_that_fills_one_vial_of_two_does_not_count() -> None:
    # By hand: ten packets × 2 × 100 ml × 1.05 = 2,100 ml, less than three bottles (2,160 ml); but a packet's 210 ml go
    # three times into 720 ml, and ten packets take four bottles.
    needs = plan(replace(SESSION, shuffle="twin", pour_ml=100.0, vial_ml=125.0, tasters=SESSION.tasters * 5))
    assert needs.vials is not None
    assert needs.vials.ml_with_loss_per_drink == pytest.approx(2100)
    assert (needs.vials.packets_per_bottle, needs.bottles_per_drink) == (3, 4)


@given(tasters=st.integers(1, 9999), pour_ml=st.integers(5, 250), loss_percent=st.integers(0, MOST_LOSS_PERCENT))
def test_the_bottles_of_a_kit_by_post_are_the_fewest_that_serve_whole_packets(
    tasters: int, pour_ml: int, loss_percent: int
) -> None:
    session = replace(SESSION, shuffle="twin", pour_ml=float(pour_ml), loss_percent=float(loss_percent))
    needs = plan(replace(session, vial_ml=250.0, tasters=(Taster("Ines"),) * tasters))
    assert needs.vials is not None
    packet_ml, each = Fraction(2 * pour_ml * (100 + loss_percent), 100), needs.vials.packets_per_bottle
    assert each * packet_ml <= 720 < (each + 1) * packet_ml
    assert (needs.bottles_per_drink - 1) * each < tasters <= needs.bottles_per_drink * each


@pytest.mark.parametrize(("vial_ml", "words"), [(20.0, "room to expand"), (21.0, "room to expand"), (41.0, "air ages")])
def test_a_vial_too_full_or_half_empty_is_warned_of(vial_ml: float, words: str) -> None:
    # 20 of 21 ml are 95.2 %, 20 of 41 ml 48.8 %; the bounds of 95 and 50 % are our own.
    (warning,) = plan(replace(SESSION, shuffle="twin", pour_ml=20.0, vial_ml=vial_ml)).warnings
    assert words in warning
    assert plan(replace(SESSION, shuffle="twin", pour_ml=20.0, vial_ml=40.0)).warnings == ()


@given(volume_ml=st.integers(1, 10**7))
def test_the_bottles_are_the_fewest_that_hold_the_drink(volume_ml: int) -> None:
    count = bottles(volume_ml)
    assert (count - 1) * 720 < volume_ml <= count * 720


@example(tasters=900, tenths_ml=88)
@given(tasters=st.integers(1, 9999), tenths_ml=st.integers(50, 2500))
def test_rounding_of_a_float_pour_never_buys_a_bottle_too_many(tasters: int, tenths_ml: int) -> None:
    exact = Fraction(tenths_ml, 10) * tasters / 720
    assert bottles(tenths_ml / 10 * tasters) == -(-exact.numerator // exact.denominator)


def test_alcohol_is_unknown_where_one_strength_is() -> None:
    assert plan(with_abv(16, None, 15)).alcohol is None
    known = plan(with_abv(16, 0, 15)).alcohol
    assert known is not None
    assert known.pure_ml == pytest.approx(75 * 0.31)


def test_drinks_that_look_alike_raise_no_warning() -> None:
    assert plan(SESSION).warnings == ()


def test_drinks_that_the_eye_tells_apart_want_dark_glasses() -> None:
    (warning,) = plan(with_looks("clear", "cloudy", None)).warnings
    assert "Heron Marsh is clear, Tidewater is cloudy" in warning
    assert "dark glasses or dim light" in warning


def test_a_look_that_is_not_given_is_warned_of() -> None:
    (warning,) = plan(with_looks("clear", None, "clear")).warnings
    assert "No look is given for Tidewater" in warning
    assert "dark glasses or dim light" in warning


def test_a_pour_beyond_a_common_glass_is_warned_of() -> None:
    # A common tasting glass holds about 90 ml: common practice, no published source.
    assert plan(replace(SESSION, pour_ml=90.0)).warnings == ()
    assert "100 ml is more than the 90 ml" in plan(replace(SESSION, pour_ml=100.0)).warnings[0]


def test_more_than_two_standard_drinks_swallowed_is_warned_of() -> None:
    # Two drinks of 14 g are 28 g: 225 ml hold 27.5 g at 15.5 % and 28.4 g at 16 % (× 0.789 g/ml).
    assert plan(with_abv(15.5, 15.5, 15.5)).warnings == ()
    (warning,) = plan(with_abv(16, 16, 16)).warnings
    assert "28 g of alcohol" in warning
    assert "spit" in warning


def test_a_seed_is_warned_of() -> None:
    (warning,) = plan(replace(SESSION, seed=0)).warnings
    assert "seed" in warning


@pytest.mark.parametrize("shuffle", SHUFFLES)
def test_the_cautions_fit_the_way_of_shuffling(shuffle: Shuffle) -> None:
    cautions = plan(replace(SESSION, shuffle=shuffle)).cautions
    text = " ".join(cautions)
    assert len(set(cautions)) == len(cautions)
    assert "one level" in text
    assert "Spit" in text
    assert ("coaster is turned" in text) == (shuffle == "hand")
    assert ("vials" in text) == (shuffle == "twin")
    assert ("key is opened" in text) == (shuffle != "hand")


def test_drinks_without_alcohol_have_no_cautions_of_alcohol() -> None:
    assert "Spit" not in " ".join(plan(with_abv(0, 0, 0)).cautions)
    assert "Spit" in " ".join(plan(with_abv(0, 0, None)).cautions)
    assert "Posting alcohol" in " ".join(plan(replace(SESSION, shuffle="twin")).cautions)
    assert "Posting alcohol" not in " ".join(plan(replace(with_abv(0, 0, 0), shuffle="twin")).cautions)
