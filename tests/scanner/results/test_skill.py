"""One report of a taster's skill, from good days and bad input alike."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pytest

from scanner.results.difficulty import Traits, flight_difficulty
from scanner.results.sitting import TasterSitting
from scanner.results.skill import difficulties_of, sections, skill, to_json
from tests.scanner.results.bench import year
from tests.scanner.results.skilled import FLIGHT, sitting, sitting_with

BAD_INPUTS: dict[str, Sequence[TasterSitting]] = {
    "none": [],
    "one sitting": [sitting_with(3, 3)],
    "no claims": [sitting((None,) * 4, (1, 2, 3, 4))],
    "truth not known": [sitting((1, 2, 3), None)],
    "not settled": [sitting((1, None, 3), (1, 2, 3), unsettled=(1,))] * 2,
    "one number claimed everywhere": [sitting((2, 2, 2), (1, 2, 3), day) for day in range(12)],
    "all right": [sitting_with(5, 5, day) for day in range(12)],
    "none right": [sitting_with(0, 5, day) for day in range(12)],
    "two glasses and eight": [sitting_with(2, 2), sitting_with(8, 8, 1)],
}


@pytest.mark.parametrize("sittings", BAD_INPUTS.values(), ids=BAD_INPUTS)
@pytest.mark.parametrize("with_difficulties", [False, True])
def test_bad_input_is_too_little_to_tell_and_never_a_crash(
    sittings: Sequence[TasterSitting], with_difficulties: bool
) -> None:
    found = skill("ines", "Ines", sittings, [0.3] * len(sittings) if with_difficulties else None)
    told = " ".join(line for _, lines in sections(found) for line in lines)
    assert json.dumps(to_json(found), allow_nan=False)
    assert "nan" not in told
    assert "inf" not in told.replace("information", "")
    if len(sittings) < 10:
        assert "Too little to tell" in told


def test_what_does_not_count_is_listed_with_its_reason() -> None:
    found = skill("ines", "Ines", [sitting_with(2, 4), sitting((1, 2, 3), None, 1)])
    assert found.ability.sittings == 1
    assert sections(found)[-1] == (
        "Sittings that do not count",
        ("Saltmarsh Sake Circle, 2026-01-06 (kit K00001): what stood where is not known",),
    )


def test_difficulties_follow_their_sittings_whatever_the_order() -> None:
    sittings = [sitting_with(k, 5, day) for day, k in enumerate([0, 3, 1, 5, 2, 0, 3, 3, 1, 2, 5, 1])]
    sittings.insert(4, sitting((1, 2, 3), None, 4))
    difficulties = [0.1 * at for at in range(13)]
    ahead = skill("ines", "Ines", sittings, difficulties)
    back = skill("ines", "Ines", sittings[::-1], difficulties[::-1])
    assert to_json(ahead)["progress"]["flights_harder_by"] == to_json(back)["progress"]["flights_harder_by"]
    assert ahead.ability == back.ability


def test_a_years_report_is_whole() -> None:
    # `bench` times these; a test asserts no time.
    reports = [report() for report, _ in year()]
    assert len(reports) == 3


def test_a_cellar_list_tells_how_hard_flights_are_of_which_the_kits_state_nothing() -> None:
    sittings = [sitting_with(1, 3, 0), sitting_with(1, 3, 1, drinks=FLIGHT[4:7])]
    alike = {drink.key: Traits(acidity=1.4, polishing_percent=40) for drink in FLIGHT[:3]}
    assert difficulties_of(sittings) is None
    harder, middling = difficulties_of(sittings, alike) or ()
    assert harder == flight_difficulty(FLIGHT[:3], known=alike) > 0
    assert middling == 0.0
    assert skill("ines", "Ines", sittings, [harder, middling], alike).unstated == 1
