"""Volumes, weights of alcohol, and the trade's figures, against published conversions (SOURCES.md, D)."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from kit.plan import GRAMS_PER_ML, alcohol_in, bottles, plan, us_fl_oz
from kit.session import GLASS_POUR_ML, LEAST_GLASSES, MOST_GLASSES, Pour, Session, Taster, default_minutes


def five_at_16_percent(pour_ml: float) -> Session:
    return Session(
        title="Five",
        date=datetime.date(2026, 12, 5),
        drink="sake",
        shuffle="host",
        keys="own",
        coasters="kit",
        paper="A4",
        minutes=7.0,
        pour_ml=pour_ml,
        language="en",
        seed=None,
        pours=tuple(Pour(f"Pour {number}", abv_percent=16.0) for number in range(1, 6)),
        tasters=(Taster("Ines"),),
    )


def test_a_us_fluid_ounce_is_a_128th_of_a_gallon_of_231_cubic_inches() -> None:
    # US gallon 231 cubic inches (NIST Handbook 44, appendix C, from memory), the inch 2.54 cm by the international
    # yard agreement of 1959: 231 × 16.387064 ml / 128 = 29.5735295625 ml, the value of SOURCES.md, D.
    assert us_fl_oz(231 * 2.54**3 / 128) == pytest.approx(1, rel=1e-14)
    assert us_fl_oz(29.5735295625) == 1


@pytest.mark.parametrize(
    ("volume_ml", "fl_oz"),
    [
        # 0.6 US fl oz = 17.7441 ml: NIAAA's standard drink, in SOURCES.md, D.
        (17.7441, 0.6),
        # Labels on the United States' market: 750 ml = 25.4 and 355 ml = 12 US fl oz (from memory).
        (750, 25.4),
        (355, 12.0),
    ],
)
def test_volumes_agree_with_published_ounces(volume_ml: float, fl_oz: float) -> None:
    assert round(us_fl_oz(volume_ml), 1) == fl_oz
    assert us_fl_oz(volume_ml) == pytest.approx(fl_oz, abs=0.05)


def test_the_trades_pour_of_70_to_80_ml_is_2_and_a_half_to_3_ounces() -> None:
    # Common practice, no published source; the trade's own figures do not quite agree (DESIGN.md).
    assert us_fl_oz(75) == pytest.approx(2.5, abs=0.05)
    assert 2.3 < us_fl_oz(70) < us_fl_oz(80) < 3


@pytest.mark.parametrize(
    ("volume_ml", "abv_percent", "pure_ml", "grams", "us_drinks"),
    [
        # SOURCES.md, D, "Worked": computed there from 0.789 g/ml and the United States' drink of 14 g.
        (180, 15, 27, 21.303, 1.522),
        (720, 16, 115.2, 90.893, 6.492),
        (300, 15, 45, 35.505, 2.536),
        (5 * 50, 16, 40, 31.56, 2.254),
    ],
)
def test_alcohol_agrees_with_the_worked_examples(
    volume_ml: float, abv_percent: float, pure_ml: float, grams: float, us_drinks: float
) -> None:
    alcohol = alcohol_in(volume_ml * abv_percent / 100)
    assert alcohol.pure_ml == pytest.approx(pure_ml, abs=1e-9)
    assert alcohol.grams == pytest.approx(grams, abs=5e-4)
    assert alcohol.us_standard_drinks == pytest.approx(us_drinks, abs=5e-4)


def test_the_plan_of_five_pours_of_50_ml_at_16_percent_is_the_worked_example() -> None:
    # SOURCES.md, D, "Worked": 5 × 50 ml at 16 % are 40 ml pure, 31.56 g, 2.254 US drinks.
    alcohol = plan(five_at_16_percent(50.0)).alcohol
    assert alcohol is not None
    assert alcohol.pure_ml == pytest.approx(40)
    assert alcohol.grams == pytest.approx(31.56)
    assert alcohol.us_standard_drinks == pytest.approx(2.254, abs=5e-4)


def test_kits_by_post_count_the_alcohol_of_both_rounds() -> None:
    # Five drinks, 2 × 25 ml of each at 16 %: the worked example's 5 × 50 ml, 40 ml pure, 31.56 g, 2.254 US drinks.
    session = replace(five_at_16_percent(25.0), shuffle="twin", vial_ml=30.0)
    alcohol = plan(session).alcohol
    assert alcohol is not None
    assert alcohol.pure_ml == pytest.approx(40)
    assert alcohol.grams == pytest.approx(31.56)
    assert alcohol.us_standard_drinks == pytest.approx(2.254, abs=5e-4)


def test_ethanol_weighs_what_the_international_tables_say() -> None:
    # OIML R 22 (Directive 76/766/EEC): pure ethanol 789.24 kg/m³ at 20 °C.
    tabled_kg_m3 = 789.24
    assert abs(GRAMS_PER_ML * 1000 - tabled_kg_m3) < 0.5


@pytest.mark.parametrize(
    ("abv_percent", "density_kg_m3", "mass_percent"),
    [(5, 991.06, 3.982), (10, 984.71, 8.015), (15, 978.97, 12.093), (20, 973.56, 16.214), (40, 948.05, 33.300)],
)
def test_grams_agree_with_the_international_tables_of_density(
    abv_percent: float, density_kg_m3: float, mass_percent: float
) -> None:
    # OIML R 22, densities and shares by mass at 20 °C: grams of ethanol in 100 ml = 100 ml × density × share by mass.
    tabled_grams = 100 * density_kg_m3 / 1000 * mass_percent / 100
    assert alcohol_in(abv_percent).grams == pytest.approx(tabled_grams, rel=6e-4)


def test_a_go_of_sake_is_near_japans_own_figure() -> None:
    # Japan counts 0.8 g/ml: 180 ml at 15 % = 21.6 g (SOURCES.md, D). 0.789 g/ml gives 1.4 % less.
    assert alcohol_in(180 * 0.15).grams == pytest.approx(21.6, rel=0.015)


def test_a_us_standard_drink_is_0_6_fluid_ounces_of_pure_alcohol() -> None:
    # NIAAA: 14 g or 0.6 US fl oz of pure alcohol.
    assert alcohol_in(17.7441).us_standard_drinks == pytest.approx(1, abs=0.001)


def test_bottles_are_of_720_ml() -> None:
    # Sake bottles hold 180, 300, 360, 720 or 1,800 ml (SOURCES.md, D); a 1.8-litre bottle is two and a half of 720 ml.
    assert [bottles(volume_ml) for volume_ml in (180, 720, 721, 1440, 1800)] == [1, 1, 2, 2, 3]


def test_seven_minutes_for_five_glasses() -> None:
    # Common practice, no published source; 84 seconds a glass follows from it.
    assert default_minutes(5) == 7
    assert (default_minutes(3), default_minutes(4)) == (4.5, 6)
    assert plan(five_at_16_percent(75.0)).seconds_per_glass == 84


def test_three_to_five_glasses_of_75_ml() -> None:
    # Common practice, no published source: three to begin with, then four, then five; 70 to 80 ml to a glass.
    assert (LEAST_GLASSES, MOST_GLASSES) == (3, 5)
    assert GLASS_POUR_ML == 75
