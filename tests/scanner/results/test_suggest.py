"""The flight suggested: its level, how far apart it is, what must be left, the fault bottle, the pair to practise."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace
from itertools import combinations, pairwise, product
from pathlib import Path

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import norm

from kit.session import session_from_toml
from scanner.results.cellar import Bottle, load_cellar
from scanner.results.confusions import confusions
from scanner.results.matching_model import expected_correct
from scanner.results.sharpness import Sharpness, sharpness, stated
from scanner.results.sitting import TasterSitting
from scanner.results.suggest import Suggestion, TooFew, Wish, practised, suggest, to_tasters
from scanner.results.suggest_report import pours_toml, sentences, table, to_json
from tests.scanner.results.simulate_suggest import landings
from tests.scanner.results.simulate_suggest_tasters import cellar, one_after_another, percepts, share_correct
from tests.scanner.results.skilled import sitting

DAY = datetime.date(2026, 12, 8)
SAMPLE = load_cellar(Path(__file__).parents[3] / "samples" / "cellar.toml", DAY).bottles
WIDE = cellar(np.random.default_rng(4))


def of_five(correct: float, bottles: list[Bottle] | tuple[Bottle, ...] = tuple(WIDE)) -> Sharpness:
    known = {bottle.key: bottle.traits(DAY) for bottle in bottles}
    return stated(correct, [bottle.drink for bottle in bottles], known)


def suggested(bottles: list[Bottle] | tuple[Bottle, ...], taster: Sharpness, wish: Wish = Wish()) -> Suggestion:  # noqa: B008
    found = suggest(bottles, DAY, [taster], {}, wish)
    assert isinstance(found, Suggestion)
    return found


@pytest.mark.parametrize("correct", [2.2, 3.0, 3.5])
@pytest.mark.parametrize("level", [(0.60, 0.75), (0.50, 0.60), (0.70, 0.85)])
def test_the_flight_lies_at_the_level_asked_for(correct: float, level: tuple[float, float]) -> None:
    found = suggested(WIDE, of_five(correct), Wish(level=level))
    assert found.reached
    assert level[0] <= found.share <= level[1]
    assert 3 <= len({bottle.key for bottle in found.flight}) == len(found.flight) <= 5


def test_flights_are_wide_for_beginners_and_nearer_as_ability_grows() -> None:
    wish = Wish(glasses=(4, 4))
    apart = [suggested(WIDE, of_five(correct), wish).mean_distance for correct in (2.2, 2.6, 3.0, 3.5, 4.0)]
    assert all(one > other for one, other in pairwise(apart))


def test_beginners_get_three_glasses_and_able_tasters_five() -> None:
    assert [len(suggested(WIDE, of_five(correct)).flight) for correct in (1.6, 4.4)] == [3, 5]
    assert len(suggested(WIDE, of_five(4.4), Wish(glasses=(3, 3))).flight) == 3


@pytest.mark.parametrize(("correct", "said"), [(1.1, "even the widest flight is too hard"), (4.95, "too easy")])
def test_a_level_out_of_reach_is_said_and_the_nearest_flight_given(correct: float, said: str) -> None:
    found = suggested(SAMPLE, of_five(correct, SAMPLE), Wish(level=(0.60, 0.65)))
    assert not found.reached
    assert said in " ".join(sentences(found))


def test_a_level_that_the_cellar_reaches_at_its_edge_alone_is_said() -> None:
    """Between abilities whose middle can be had and those whose level cannot lie some that reach its end alone."""
    told = []
    for correct in np.linspace(1.3, 4.9, 37):
        found = suggested(SAMPLE, of_five(float(correct), SAMPLE), Wish(glasses=(3, 3)))
        said = " ".join(sentences(found))
        assert found.at_the_edge or abs(found.share - 0.675) <= 0.025
        assert ("That is the edge" in said) == (found.reached and found.at_the_edge)
        assert to_json(found)["at_the_edge"] == found.at_the_edge
        if "That is the edge" in said:
            told.append("widest flight" if found.share < 0.675 else "nearest flight")
            assert told[-1] in said
    assert {"widest flight"} <= set(told)


def test_no_drink_is_suggested_of_which_too_little_is_left() -> None:
    bottles = [replace(bottle, left_ml=599.0 if n % 2 else 600.0) for n, bottle in enumerate(WIDE)]
    found = suggested(bottles, of_five(3), Wish(tasters=8, pour_ml=75))
    assert all(bottle.left_ml == 600 for bottle in found.flight)
    assert len(found.passed_over) == 12
    assert "with less than 600 ml left" in " ".join(sentences(found))


def test_what_the_list_does_not_say_is_left_to_the_host() -> None:
    found = suggested([replace(bottle, left_ml=None) for bottle in WIDE], of_five(3), Wish(tasters=4))
    assert "See that 300 ml is left of" in " ".join(sentences(found))


@pytest.mark.parametrize("bottles", [(), SAMPLE[:2], tuple(replace(bottle, left_ml=10.0) for bottle in SAMPLE)])
def test_a_cellar_with_too_few_drinks_is_told_in_a_sentence(bottles: tuple[Bottle, ...]) -> None:
    said = suggest(bottles, DAY, [sharpness("", (), {})], {}, Wish())
    assert isinstance(said, TooFew)
    assert "a flight needs 3" in said.sentence


def test_three_drinks_and_no_more_make_a_flight_of_three() -> None:
    assert len(suggested(SAMPLE[:3], of_five(4.5, SAMPLE)).flight) == 3


@pytest.mark.parametrize(("sittings", "faults"), [(0, 0), (3, 0), (4, 1), (5, 0), (9, 1)])
def test_a_fault_bottle_comes_every_fifth_sitting_and_never_two(sittings: int, faults: int) -> None:
    bottles = [*WIDE, *(replace(WIDE[n], name=f"Stale {n}", id=f"stale-{n}", fault="stale") for n in range(3))]
    taster = replace(of_five(3), sittings=sittings)
    found = suggested(bottles, taster)
    assert sum(bottle.fault is not None for bottle in found.flight) == faults
    assert sum(bottle.fault is not None for bottle in suggested(bottles, taster, Wish(fault=True)).flight) == 1
    assert not any(bottle.fault for bottle in suggested(bottles, taster, Wish(fault=False)).flight)


def test_a_fault_asked_for_that_is_not_there_is_said() -> None:
    said = " ".join(sentences(suggested(WIDE, of_five(3), Wish(fault=True))))
    assert "A fault bottle was asked for; the cellar has none" in said


def test_the_pair_to_practise_is_in_the_flight_and_said() -> None:
    drinks = tuple(WIDE[n].drink for n in (5, 11, 2, 8))
    past: list[TasterSitting] = [sitting([2, 1, 3, 4], [1, 2, 3, 4], day, drinks=drinks) for day in range(3)]
    pair = practised(confusions(past), WIDE)
    assert pair is not None
    assert set(pair.keys) == {"drink-5", "drink-11"}
    found = suggested(WIDE, of_five(2.8), Wish(practise=pair))
    assert found.practised == pair
    assert "are in it to be practised: taken for one another 6 times in 3 sittings" in " ".join(sentences(found))
    assert practised(confusions(past), WIDE[:6]) is None


def test_pairs_confused_more_often_count_as_nearer() -> None:
    taster = of_five(3)
    nearest = suggested(SAMPLE, taster).pairs[0]
    again = suggest(SAMPLE, DAY, [taster], {tuple(sorted((nearest.one.key, nearest.other.key))): 3.0}, Wish())  # type: ignore[dict-item]
    assert isinstance(again, Suggestion)
    pairs = {frozenset((pair.one.key, pair.other.key)): pair.distance for pair in again.pairs}
    assert pairs.get(frozenset((nearest.one.key, nearest.other.key)), 0.0) < nearest.distance


def test_the_same_cellar_gives_the_same_flight_and_a_large_one_too() -> None:
    large = [
        replace(bottle, name=f"{bottle.name} of lot {lot}", id=f"{bottle.id}-{lot}")
        for lot, chance in enumerate(map(np.random.default_rng, range(5)))
        for bottle in cellar(chance)
    ]
    first, again = (suggested(large, of_five(3.5, large)) for _ in range(2))
    assert first.flight == again.flight
    assert first.reached


def test_a_table_gets_one_flight_and_each_taster_their_own_expectation() -> None:
    found = suggest(WIDE, DAY, [replace(of_five(c), name=n) for c, n in ((2.0, "Ines"), (4.0, "Kofi"))], {}, Wish())
    assert isinstance(found, Suggestion)
    weak, able = (middle for _, middle, _ in found.shares)
    assert weak < found.share < able
    assert found.share == pytest.approx((weak + able) / 2)


def test_the_pours_can_be_put_into_a_session_file() -> None:
    found = suggested(SAMPLE, of_five(3, SAMPLE), Wish(glasses=(4, 4)))
    head = 'title = "T"\ndate = 2026-12-09\ndrink = "sake"\nshuffle = "host"\npaper = "A4"\n\n'
    session = session_from_toml(head + pours_toml(found) + '\n\n[[tasters]]\nname = "Ines"\n', "s.toml")
    assert [pour.id for pour in session.pours] == [bottle.id for bottle in found.flight]
    odd = replace(found, flight=(Bottle('The "Old" \\ One'), *found.flight[1:]))
    assert session_from_toml(head + pours_toml(odd) + '\n\n[[tasters]]\nname = "Ines"\n', "s.toml").pours[0].name[
        :9
    ] == ('The "Old"')


def test_the_report_holds_the_model_and_numbers_that_are_numbers() -> None:
    for taster in (sharpness("", (), {}), of_five(3, SAMPLE)):
        found = suggested(SAMPLE, taster)
        entry = to_json(found)
        json.dumps(entry, allow_nan=False)
        assert entry["expected_correct"] == pytest.approx(entry["expected_share"] * len(entry["flight"]))
        assert "e^(−sharpness" in entry["model"]
        assert all(bottle.name in table(found) for bottle in found.flight)


@pytest.mark.parametrize("percent", [50, 62, 70])
def test_a_level_that_is_one_number_is_reached_to_a_hundredth(percent: int) -> None:
    level = percent / 100
    found = suggested(WIDE, of_five(3), Wish(level=(level, level)))
    assert found.reached
    assert abs(found.share - level) <= 0.01
    assert "none at that level" not in " ".join(sentences(found))


TRIPLETS = tuple(
    Bottle(f"{name} {lot}", style=style, abv_percent=abv)
    for name, style, abv in (("Heron", "junmai", 15.0), ("Wren", "koshu", 19.0))
    for lot in range(2)
)


def test_flights_on_either_side_of_the_level_and_none_in_it_are_said_to_be_so() -> None:
    """Of two lots of each of two drinks every flight of three has one near pair and two wide ones: one share alone."""
    lots = [*TRIPLETS, Bottle("Heron 2", style="junmai", abv_percent=15.0)]
    taster = of_five(3.5, lots)
    shares = [suggested(flight, taster, Wish(glasses=(3, 3))).share for flight in (lots[:3], [*lots[:2], lots[4]])]
    hard, easy = sorted(shares)
    assert easy - hard > 0.05
    third = (easy - hard) / 3
    found = suggested(lots, taster, Wish(glasses=(3, 3), level=(hard + third, easy - third)))
    assert not found.reached
    assert found.share in (pytest.approx(hard), pytest.approx(easy))
    said = " ".join(sentences(found))
    assert "this comes closest; others are harder or easier than that, and none lies between" in said
    assert "too hard" not in said
    assert "too easy" not in said


def test_another_number_of_glasses_is_tried_where_the_one_that_suits_has_none_in_the_level() -> None:
    lots = [*TRIPLETS, Bottle("Heron 2", style="junmai", abv_percent=15.0)]
    taster = of_five(2.9, lots)
    of_four, of_three = (
        sorted(
            suggested(flight, taster, Wish(glasses=(glasses, glasses))).share for flight in combinations(lots, glasses)
        )
        for glasses in (4, 3)
    )
    level = next(
        (share - 0.005, share + 0.005) for share in of_three if all(abs(share - four) > 0.02 for four in of_four)
    )
    assert len(suggested(lots, taster, Wish(level=level)).flight) == 3


@pytest.mark.parametrize(("correct", "level"), [(1.3, (0.85, 0.9)), (4.9, (0.30, 0.35))])
def test_the_flight_given_where_none_is_at_the_level_is_the_nearest_of_all(
    correct: float, level: tuple[float, float]
) -> None:
    taster = of_five(correct, SAMPLE)
    found = suggested(SAMPLE, taster, Wish(level=level, fault=False))
    assert not found.reached
    assert "none at that level, and this comes closest" in " ".join(sentences(found))
    sound = [bottle for bottle in SAMPLE if not bottle.fault]
    distances = to_tasters(sound, DAY, taster.points, {})
    middle = sum(level) / 2
    off = [
        abs(expected_correct(distances[np.ix_(flight, flight)][None], taster.points).mean() / glasses - middle)
        for glasses in (3, 4, 5)
        for flight in combinations(range(len(sound)), glasses)
    ]
    assert abs(found.share - middle) == pytest.approx(min(off))


@pytest.mark.parametrize("stock", ["ordinary", "wide"])
@pytest.mark.parametrize(("kind", "skills"), [("percepts", (0.5, 0.4, 0.3)), ("one after another", (0.1, 0.2, 0.3))])
def test_suggestions_land_within_five_points_with_tasters_of_other_models(
    kind: str, skills: tuple[float, ...], stock: str
) -> None:
    # The whole simulation, with its figures, is `python -m tests.scanner.results.simulate_suggest`.
    landed = []
    for skill, sittings in product(skills, (0, 20)):
        found = landings(kind, skill, sittings, runs=10, stock=stock, looked_up=False)
        assert abs(found.off.mean()) <= 5 + 2.5 * found.off.std(ddof=1) / len(found.off) ** 0.5
        landed.append(found.off)
    assert abs(np.concatenate(landed).mean()) <= 5


def test_what_could_be_had_lies_between_luck_and_all_right_and_a_list_tells_less_than_the_space() -> None:
    found = landings("percepts", 0.6, 0, runs=6)
    assert (found.hardest > 1 / 5 - 0.03).all()
    assert (found.easiest <= 1).all()
    assert (found.hardest < found.easiest).all()
    assert found.hardest.mean() < found.hardest_listed.mean() < found.easiest_listed.mean() < found.easiest.mean()
    # Judged by 400 sittings of three to five glasses: no suggestion is easier or harder than can be.
    assert (found.true < found.easiest + 0.08).all()
    assert (found.true > found.hardest - 0.08).all()


def test_two_drinks_are_confused_as_often_as_normal_percepts_and_the_choice_axiom_have_it() -> None:
    """Signs of products of normals: with δ apart along one axis a pair is right where both differences have one sign.

    Each difference is normal about δ with variance 2σ²; Φ of SciPy. The axiom's choice between two is logistic.
    """
    chance = np.random.default_rng(1)
    right = norm.cdf(1.2 / (2**0.5 * 0.8))
    flights = np.array([[[0.0], [1.2]]])
    shares = share_correct(percepts(0.8, chance), flights, 40_000)
    assert shares[0] == pytest.approx(right**2 + (1 - right) ** 2, abs=0.01)
    shares = share_correct(one_after_another(0.5, chance), flights, 40_000)
    assert shares[0] == pytest.approx(expit(0.5 * 1.2**2), abs=0.01)


def test_of_a_cellar_without_a_flight_easy_enough_the_output_says_so() -> None:
    found = landings("percepts", 0.9, 0, runs=10, looked_up=False)
    assert (found.off < 0).all()
    assert found.edge.mean() >= 0.8
