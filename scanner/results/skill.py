"""All that is said of one taster's skill: ability, its course, evidence against luck, and what sureness is worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scanner.results import ability as ability_
from scanner.results import evidence as evidence_
from scanner.results import progress as progress_
from scanner.results import sureness as sureness_
from scanner.results.ability import Ability
from scanner.results.counted import counted
from scanner.results.difficulty import Traits, flight_difficulty, traits_of
from scanner.results.evidence import Evidence
from scanner.results.progress import Progress
from scanner.results.sitting import TasterSitting
from scanner.results.sureness import Sureness

Known = Mapping[str, Traits]
NOTHING_MORE: Known = {}


@dataclass(frozen=True, slots=True)
class Skill:
    """One taster's skill over all sittings that count; `left_out` says which do not, and why.

    `unstated` is the number of flights that were taken for middling because nothing is stated of their drinks.
    """

    taster: str
    name: str
    ability: Ability
    progress: Progress
    evidence: tuple[Evidence, ...]
    sureness: Sureness
    left_out: tuple[str, ...]
    unstated: int = 0


def skill(
    taster: str,
    name: str,
    sittings: Sequence[TasterSitting],
    difficulties: Sequence[float] | None = None,
    known: Known = NOTHING_MORE,
) -> Skill:
    """Return a taster's skill.

    Parameters
    ----------
    taster, name : str
    sittings : sequence of TasterSitting
        All of this taster.
    difficulties : sequence of float, one for each of `sittings`, in the same order
        What a flight takes off the ability if difficulty has weight one; left out, nothing is known of them. How much
        they weigh is learnt from the sittings, and nought until these support more.
    known : mapping of str to Traits
        What more is known of drinks, as for `difficulties_of`: of flights with such drinks something is stated.
    """
    chosen = counted(sittings)
    of_counted = None
    if difficulties is not None:
        offsets = {id(sitting): offset for sitting, offset in zip(sittings, difficulties, strict=True)}
        of_counted = [offsets[id(sitting)] for sitting in chosen.sittings]
    course = progress_.progress(chosen.sittings, of_counted)
    weighed = None
    if of_counted is not None and course.course is not None:
        weighed = (course.course.weight * np.array(of_counted)).tolist()
    return Skill(
        taster=taster,
        name=name,
        ability=ability_.ability(chosen.sittings, weighed),
        progress=course,
        evidence=evidence_.evidence(chosen.sittings),
        sureness=sureness_.sureness(chosen.sittings),
        left_out=chosen.left_out,
        unstated=0 if of_counted is None else sum(not _stated(sitting, known) for sitting in chosen.sittings),
    )


def difficulties_of(sittings: Sequence[TasterSitting], known: Known = NOTHING_MORE) -> tuple[float, ...] | None:
    """Return the difficulty of each sitting's flight at weight one, by what its kit states of the drinks.

    `known` has more about drinks, by their keys, as a cellar list states it; it counts in place of what the kit states.
    None where no drink of any of them states anything: then nothing is known of how alike they were. A flight that
    states nothing among others that do is taken for middling.
    """
    if not any(_stated(sitting, known) for sitting in sittings):
        return None
    return tuple(flight_difficulty(sitting.drinks, known=known) for sitting in sittings)


def sections(found: Skill) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return the report for people: headings, and the sentences under each."""
    course = progress_.sentences(found.progress)
    if found.unstated:
        course += (
            f"Of {found.unstated} of the {found.ability.sittings} flights nothing is stated that tells how alike the "
            "drinks are: they are taken for middling.",
        )
    told = [
        ("Ability", ability_.sentences(found.ability)),
        ("Progress", course),
        ("Evidence", evidence_.sentences(found.evidence)),
        ("Sureness", sureness_.sentences(found.sureness)),
    ]
    if found.left_out:
        told.append(("Sittings that do not count", found.left_out))
    return tuple(told)


def to_json(found: Skill) -> dict[str, Any]:
    """Return the skill as a JSON object."""
    return {
        "taster": found.taster,
        "name": found.name,
        "ability": ability_.to_json(found.ability),
        "progress": progress_.to_json(found.progress),
        "evidence": [evidence_.to_json(kind) for kind in found.evidence],
        "sureness": sureness_.to_json(found.sureness),
        "left_out": list(found.left_out),
        "flights_with_nothing_stated": found.unstated,
    }


def _stated(sitting: TasterSitting, known: Known) -> bool:
    return any((known.get(drink.key) or traits_of(drink)) != Traits() for drink in sitting.drinks)
