"""Progress: the filter and smoother, the comparisons beside them, and what flights can hide."""

from __future__ import annotations

import json

import numpy as np
import pytest

from scanner.results import ability_course
from scanner.results.ability import padded, theta_of_face
from scanner.results.ability_course import BEFOREHAND_SD, GRID, SPACING, STEP_WIDTHS, WEIGHTS, course
from scanner.results.progress import compare, follow, progress, sentences, to_json
from tests.scanner.results.simulate import OTHER_TRUTHS, band_coverage, model_walk, verdicts
from tests.scanner.results.skilled import LAWS, draw_correct, sitting_with


def test_filter_and_smoother_are_those_of_dense_matrices() -> None:
    correct, difficulties = (2, 0, 5, 1, 3), (0.4, -0.3, 1.0, 0.0, -1.2)
    likelihood = ability_course._likelihood(padded([LAWS[5]] * 5), np.array(correct), difficulties, WEIGHTS)
    laws, evidence = ability_course._forward(likelihood)
    filtered = laws.copy()
    ability_course._smooth(laws, likelihood)
    beforehand = np.exp(-0.5 * (GRID / BEFOREHAND_SD) ** 2)
    for s, width in enumerate(STEP_WIDTHS):
        step = _step_matrix(float(width))
        for w, weight in enumerate(WEIGHTS):
            seen = [_chances(k, GRID - weight * d) for k, d in zip(correct, difficulties, strict=True)]
            assert likelihood[:, w] == pytest.approx(np.array(seen))
            ahead = [beforehand / beforehand.sum() * seen[0]]
            for each in seen[1:]:
                ahead.append((ahead[-1] @ step) * each)
            assert np.exp(evidence[:, s, w].sum()) == pytest.approx(ahead[-1].sum())
            behind = [np.ones(len(GRID))]
            for each in seen[:0:-1]:
                behind.insert(0, step @ (each * behind[0]))
            for at in range(5):
                assert filtered[at, s, w] == pytest.approx(ahead[at] / ahead[at].sum())
                both = ahead[at] * behind[at]
                assert laws[at, s, w] == pytest.approx(both / both.sum())


@pytest.mark.parametrize("width", STEP_WIDTHS)
def test_a_step_has_the_width_that_it_should(width: float) -> None:
    middle = len(GRID) // 2
    row = _step_matrix(float(width))[middle]
    assert row.sum() == pytest.approx(1)
    assert row @ (GRID - GRID[middle]) ** 2 == pytest.approx(width**2)
    moved = ability_course._moved(np.eye(len(GRID))[middle] * np.ones((len(STEP_WIDTHS), 1, 1)))
    assert moved[list(STEP_WIDTHS).index(width), 0] == pytest.approx(row)


def test_the_filter_at_the_last_sitting_is_the_smoother() -> None:
    path = course([LAWS[4]] * 9, (0, 1, 1, 2, 0, 4, 1, 2, 2))
    assert path.filtered[-1] == pytest.approx(path.smoothed[-1])
    assert (path.smoothed[:, 0] < path.smoothed[:, 1]).all()
    assert (path.smoothed[:, 1] < path.smoothed[:, 2]).all()


def test_a_long_constant_taster_is_found_with_a_narrow_band() -> None:
    chance = np.random.default_rng(3)
    drawn = draw_correct(np.full(200, theta_of_face(2.5)), 5, chance).astype(int).tolist()
    path = course([LAWS[5]] * 200, drawn)
    assert path.step_width <= 0.02
    low, middle, high = path.smoothed[100]
    assert low < 2.5 < high
    assert middle == pytest.approx(2.5, abs=0.3)
    assert high - low < 0.7


def test_a_jump_is_followed() -> None:
    path = course([LAWS[5]] * 80, [1] * 40 + [3] * 40)
    assert path.smoothed[10, 2] < path.smoothed[70, 0]
    assert path.step_width > 0


def test_the_band_covers_when_truth_follows_the_model() -> None:
    # Averaged over the step widths, which is what it promises; `simulate` gives each by itself.
    chance = np.random.default_rng(11)
    shares = [band_coverage(model_walk(float(width)), 60, 12, chance) for width in STEP_WIDTHS]
    smoothed, filtered, _ = np.mean(shares, axis=0)
    assert 0.90 < smoothed < 0.99
    assert 0.90 < filtered < 0.99


def test_the_band_misses_single_days_when_ability_jumps_about_them() -> None:
    # It follows a slow ability: of good and bad days it holds the mean, not each day. The report must not promise more.
    chance = np.random.default_rng(12)
    assert band_coverage(OTHER_TRUTHS["rises evenly from 1 to 3 of 5"], 60, 12, chance)[0] > 0.9
    days = "has good and bad days (θ by 0.7 either way) about 2 of 5"
    assert band_coverage(OTHER_TRUTHS[days], 60, 12, chance)[0] < 0.7


def test_flights_that_grow_harder_as_ability_grows_still_show_the_rise() -> None:
    chance = np.random.default_rng(13)
    told = verdicts(1.2, 1.2, 0.5, 240, 12, chance)
    assert told.get("rise", 0) >= 0.7
    assert told.get("fall", 0) == 0
    blind = verdicts(1.2, 1.2, 0.5, 240, 12, chance, told=False)
    assert blind.get("rise", 0) <= 0.2


def test_flights_that_grow_easier_are_not_taken_for_progress() -> None:
    chance = np.random.default_rng(14)
    assert verdicts(0.0, -1.2, 0.5, 120, 12, chance).get("rise", 0) <= 0.2
    assert verdicts(0.0, -1.2, 0.5, 120, 12, chance, told=False).get("rise", 0) >= 0.7


def test_progress_that_cannot_be_told_from_easier_flights_says_so() -> None:
    chance = np.random.default_rng(15)
    difficulties = np.linspace(0.8, -0.8, 120)
    drawn = draw_correct(0.6 - difficulties, 5, chance).astype(int).tolist()
    found = follow([LAWS[5]] * 120, drawn, difficulties.tolist())
    assert found.verdict == "not to be told from the flights"
    assert "flights having become easier" in " ".join(sentences(found))
    assert found.flights_harder_by == pytest.approx(-0.8, abs=0.05)
    low, high = found.plausible_weights
    assert low < 1 <= high


def test_unknown_difficulties_are_admitted() -> None:
    found = follow([LAWS[5]] * 24, [1] * 12 + [3] * 12)
    assert found.verdict == "rise"
    assert "is not known" in sentences(found)[-1]
    assert found.course is not None
    assert found.course.weight == 0


def test_difficulty_weighs_nothing_until_the_sittings_support_it() -> None:
    path = course([LAWS[5]] * 6, (1, 1, 2, 0, 1, 2), (0.5, -0.5, 0.2, 0.9, -0.1, 0.3))
    assert path.weight == 0
    assert path.weights_chance.sum() == pytest.approx(1)
    chance = np.random.default_rng(16)
    difficulties = chance.normal(0, 0.8, 200)
    drawn = draw_correct(0.7 - difficulties, 5, chance).astype(int).tolist()
    assert course([LAWS[5]] * 200, drawn, difficulties.tolist()).weight == pytest.approx(1.0, abs=0.5)


def test_the_last_ten_are_compared_with_the_ten_before() -> None:
    found = progress([sitting_with(k, 5, day) for day, k in enumerate([5] * 5 + [0, 1] * 5 + [2, 3] * 5)])
    assert found.last_ten is not None
    assert (found.last_ten.sittings, found.last_ten.correct, found.last_ten.of) == ((10, 10), (5, 25), (50, 50))
    assert found.last_ten.change == "rise"


def test_the_comparison_holds_its_level_by_enumeration() -> None:
    # Given the total of two runs the later one's law is free of ability, so the test's level is counted out: with
    # three and four sittings of three glasses, of every total, the chance of a p-value of 5 % at most.
    law = [np.array([1.0])]
    for _ in range(4):
        law.append(np.convolve(law[-1], np.array(LAWS[3]) / 6))
    for total in range(22):
        joint = [(law[3][total - t] * law[4][t], t) for t in range(13) if 0 <= total - t <= 9]
        whole = sum(each for each, _ in joint)
        if not whole:
            continue
        small = sum(each for each, t in joint if each and _p_value(total - t, t) <= 0.05)
        assert small / whole <= 0.05 + 1e-12


def test_an_unchanged_total_has_p_value_one() -> None:
    assert compare([LAWS[5]] * 8, [2] * 8, 4, 4).p_value == 1.0


@pytest.mark.parametrize(("sittings", "lacking"), [(1, "9 more are"), (9, "1 more is")])
def test_few_sittings_are_too_few_and_say_how_many_are_missing(sittings: int, lacking: str) -> None:
    found = progress([sitting_with(2, 4, day) for day in range(sittings)])
    assert found.verdict == "too little"
    assert lacking in sentences(found)[0]
    assert json.dumps(to_json(found), allow_nan=False)


def test_no_sitting_is_too_little_to_tell() -> None:
    assert sentences(progress([]))[0].startswith("Too little to tell")
    assert json.dumps(to_json(progress([])), allow_nan=False)


@pytest.mark.parametrize("right", [0, 5])
def test_all_right_or_none_stays_finite(right: int) -> None:
    found = progress([sitting_with(right, 5, day) for day in range(30)], [0.0] * 30)
    assert found.verdict == "none seen"
    assert json.dumps(to_json(found), allow_nan=False)


def test_a_number_correct_that_cannot_be_is_refused() -> None:
    for impossible in (4, 6):
        with pytest.raises(ValueError, match="cannot have"):
            course([LAWS[5]], [impossible])


def _step_matrix(width: float) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """The walk's rule as `course` states it: up or down by whole spacings, the ends reflecting."""
    lag = max(1, round(3**0.5 * width / SPACING))
    chance = 0.5 * (width / (lag * SPACING)) ** 2
    size = len(GRID)
    step = np.zeros((size, size))
    for start in range(size):
        step[start, start] += 1 - 2 * chance
        for end in (start - lag, start + lag):
            folded = -1 - end if end < 0 else 2 * size - 1 - end if end >= size else end
            step[start, folded] += chance
    return step


def _chances(
    correct: int, thetas: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    terms = np.array([count * np.exp(thetas * k) for k, count in enumerate(LAWS[5])])
    result: np.ndarray[tuple[int], np.dtype[np.float64]] = terms[correct] / terms.sum(axis=0)
    return result


def _p_value(before: int, after: int) -> float:
    """The comparison's p-value of three and four sittings of three glasses with these totals."""

    def parts(total: int, sittings: int) -> list[int]:
        for threes in range(sittings + 1):
            left = total - 3 * threes
            if 0 <= left <= sittings - threes:
                return [3] * threes + [1] * left + [0] * (sittings - threes - left)
        raise ValueError(f"{total} of {sittings} sittings of three cannot be")

    return compare([LAWS[3]] * 7, [*parts(before, 3), *parts(after, 4)], 3, 4).p_value
