"""What the results on skill hold good for, measured on tasters of known ability.

    python -m tests.scanner.results.simulate [--part interval|evidence|band|flights] [--runs N]

The interval's coverage is enumerated, not simulated. The tests run small versions of the rest.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from scanner.results.ability import Floats, faces, fit, laws_of_totals, padded, theta_of_face
from scanner.results.ability_course import BEFOREHAND_SD, GRID, course
from scanner.results.evidence import BEYOND_DOUBT, LIKELY, log_ratios, mixed
from scanner.results.progress import Verdict, follow
from tests.scanner.results.skilled import LAWS, draw_correct

SEED = 20260105
FACES = (1.5, 2.0, 2.5, 3.2)
"""The tasters, by their mean of five."""

Truth = Callable[[np.random.Generator, int], Floats]
"""Draws the abilities θ of one taster over so many sittings."""


def interval_coverage(glasses: Sequence[int], difficulties: Sequence[float] | None = None) -> tuple[float, float]:
    """Return the least coverage of the exact 95 % interval over all abilities, and its mean over 0 ≤ θ ≤ 2.

    Coverage is constant in which totals' intervals hold θ, so its least is by an end of some interval: it is counted
    out just beside each of them, and on a grid.
    """
    counts = [LAWS[n] for n in glasses]
    table = padded(counts)
    shifts = np.zeros(len(counts)) if difficulties is None else np.array(difficulties)
    possible = np.flatnonzero(laws_of_totals(table, -shifts[None])[0])
    found = {int(total): fit(counts, int(total), difficulties) for total in possible}
    lows = np.full(int(possible[-1]) + 1, np.inf)
    highs = np.full(int(possible[-1]) + 1, -np.inf)
    for total, ends in found.items():
        assert ends is not None
        lows[total] = -np.inf if ends[1] is None else ends[1]
        highs[total] = np.inf if ends[2] is None else ends[2]
    edges = np.concatenate([lows, highs])
    edges = edges[np.isfinite(edges)]
    inner = np.linspace(0, 2, 21)

    def covered(theta: float) -> float:
        law = laws_of_totals(table, (theta - shifts)[None])[0]
        return float(law[: len(lows)][(lows <= theta) & (theta <= highs)].sum())

    return (
        min(covered(theta) for theta in (*(edges - 1e-9), *(edges + 1e-9), *inner)),
        float(np.mean([covered(theta) for theta in inner])),
    )


def crossings(glasses: int, thetas: Floats, thresholds: Sequence[float], chance: np.random.Generator) -> Floats:
    """Return after how many sittings the e-value of each run first reached each threshold, infinity if never.

    `thetas` is (runs, sittings); the result (runs, thresholds).
    """
    ratios = log_ratios(padded([LAWS[glasses]]))[0]
    found = []
    for block in np.array_split(thetas, max(1, len(thetas) // 500)):
        drawn = draw_correct(block, glasses, chance).astype(int)
        logs = mixed(np.cumsum(ratios.T[drawn], axis=1))
        reached = logs[:, :, None] >= np.log(thresholds)
        found.append(np.where(reached.any(axis=1), reached.argmax(axis=1) + 1.0, np.inf))
    return np.concatenate(found)


def model_walk(step_width: float) -> Truth:
    """Return tasters who follow the course's own model, the grid's ends reflecting them."""
    low, high = float(GRID[0]), float(GRID[-1])

    def draw(chance: np.random.Generator, sittings: int) -> Floats:
        start = np.inf
        while not low < start < high:
            start = chance.normal(0, BEFOREHAND_SD)
        walk = start + np.concatenate([[0.0], np.cumsum(chance.normal(0, step_width, sittings - 1))])
        folded: Floats = low + (high - low) - np.abs((walk - low) % (2 * (high - low)) - (high - low))
        return folded

    return draw


OTHER_TRUTHS: Mapping[str, Truth] = {
    "never changes, 2 of 5": lambda _, m: np.full(m, theta_of_face(2.0)),
    "rises evenly from 1 to 3 of 5": lambda _, m: np.linspace(0, theta_of_face(3.0), m),
    "learns fast at first, then no more": lambda _, m: theta_of_face(3.0) * (1 - np.exp(-6 * np.arange(m) / m)),
    "jumps from 1.2 to 2.8 of 5 half way": lambda _, m: np.where(
        np.arange(m) < m // 2, theta_of_face(1.2), theta_of_face(2.8)
    ),
    "has good and bad days (θ by 0.7 either way) about 2 of 5": lambda chance, m: chance.normal(
        theta_of_face(2.0), 0.7, m
    ),
}


def band_coverage(
    truth: Truth, sittings: int, runs: int, chance: np.random.Generator, glasses: int = 5
) -> tuple[float, float, float]:
    """Return how often the 95 % band holds the true ability: smoothed, filtered, and filtered at the last sitting."""
    smoothed, filtered, last = [], [], []
    for _ in range(runs):
        thetas = truth(chance, sittings)
        drawn = draw_correct(thetas, glasses, chance).astype(int).tolist()
        path, face = course([LAWS[glasses]] * sittings, drawn), faces(thetas)
        within = [(band[:, 0] <= face) & (face <= band[:, 2]) for band in (path.smoothed, path.filtered)]
        smoothed.append(within[0].mean())
        filtered.append(within[1].mean())
        last.append(within[1][-1])
    return float(np.mean(smoothed)), float(np.mean(filtered)), float(np.mean(last))


def verdicts(
    rise: float,
    harder: float,
    varied_sd: float,
    sittings: int,
    runs: int,
    chance: np.random.Generator,
    *,
    weight: float = 1.0,
    unknown_sd: float = 0.0,
    told: bool = True,
) -> Mapping[Verdict, float]:
    """Return how often each verdict is given of tasters whose θ rises by `rise` while flights get harder by `harder`.

    Parameters
    ----------
    varied_sd : float
        How much flights differ besides, as the report's own difficulty has it.
    weight, unknown_sd : float
        The true difficulty is `weight` times the report's, and what it knows nothing of.
    told : bool
        Whether the report is given the difficulties.
    """
    found: dict[Verdict, float] = {}
    for _ in range(runs):
        ability = 0.3 + np.linspace(0, rise, sittings)
        difficulty = np.linspace(0, harder, sittings) + chance.normal(0, varied_sd, sittings)
        thetas = ability - weight * difficulty - chance.normal(0, unknown_sd, sittings)
        drawn = draw_correct(thetas, 5, chance).astype(int).tolist()
        seen = follow([LAWS[5]] * sittings, drawn, difficulty.tolist() if told else None)
        found[seen.verdict] = found.get(seen.verdict, 0) + 1 / runs
    return found


def main() -> None:
    """Print the figures of one part, or of all."""
    parts = {"interval": _interval, "evidence": _evidence, "band": _band, "flights": _flights}
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    asked.add_argument("--part", choices=parts)
    asked.add_argument("--runs", type=int, default=300, help="of the band and the flights")
    given = asked.parse_args()
    for name, part in parts.items():
        if given.part in (None, name):
            part(given.runs)


def _interval(_: int) -> None:
    print("Exact 95 % interval of ability: least coverage over all abilities, mean over θ from 0 to 2 (enumerated)")
    for sittings in range(1, 21):
        found = [interval_coverage([glasses] * sittings) for glasses in (3, 4, 5)]
        print(
            f"  {sittings:2} sittings",
            *(f"  {n}: {low:.4f} {mean:.4f}" for n, (low, mean) in zip("345", found, strict=True)),
        )
    chance = np.random.default_rng(SEED)
    least = 1.0
    for sittings in range(1, 21):
        glasses = chance.integers(3, 6, sittings).tolist()
        least = min(least, interval_coverage(glasses, chance.normal(0, 0.7, sittings).tolist())[0])
    print(f"  mixed flights of unlike difficulty, 1 to 20 sittings: least {least:.4f}", flush=True)


def _evidence(_: int) -> None:
    chance = np.random.default_rng(SEED)
    print("Guessers, 10,000 runs of 200 sittings, looked at after each: share whose e-value ever reached 10, 20, 100")
    for glasses in (3, 4, 5):
        ever = np.isfinite(crossings(glasses, np.zeros((10_000, 200)), (10, 20, 100), chance)).mean(axis=0)
        print(f"  {glasses} glasses:", *(f"{share:.4f}" for share in ever))
    print("Sittings of five until likely (10) and beyond doubt (100): median, and nine of ten tasters")
    for face in FACES:
        runs = crossings(5, np.full((4000, 600), theta_of_face(face)), (LIKELY, BEYOND_DOUBT), chance)
        half, most = np.quantile(runs, [0.5, 0.9], axis=0, method="inverted_cdf")
        print(f"  {face} of 5: likely {half[0]:.0f} ({most[0]:.0f}), beyond doubt {half[1]:.0f} ({most[1]:.0f})")


def _band(runs: int) -> None:
    chance = np.random.default_rng(SEED)
    print(f"95 % band, {runs} tasters each of 100 sittings of five: share of sittings smoothed, filtered; at the last")
    truths = {f"walks by {width} a sitting, the model": model_walk(width) for width in (0.0, 0.02, 0.04, 0.08, 0.16)}
    for name, truth in {**truths, **OTHER_TRUTHS}.items():
        shares = band_coverage(truth, 100, runs, chance)
        print(f"  {name}: " + ", ".join(f"{share:.3f}" for share in shares), flush=True)


def _flights(runs: int) -> None:
    chance = np.random.default_rng(SEED)
    vary, alike = {"varied_sd": 0.5}, {"varied_sd": 0.0}
    hidden, eased, still = ({"rise": up, "harder": harder} for up, harder in ((1.2, 1.2), (0.0, -1.2), (0.0, 0.0)))
    cases: list[tuple[str, dict[str, Any]]] = [
        ("ability and difficulty rise by 1.2, flights vary", hidden | vary),
        ("… difficulty's true weight 0.6", hidden | vary | {"weight": 0.6}),
        ("… half of what makes flights hard unknown", hidden | vary | {"unknown_sd": 0.5}),
        ("… flights do not vary besides", hidden | alike),
        ("… the report is not told of flights", hidden | vary | {"told": False}),
        ("ability stays, flights get easier by 1.2 and vary", eased | vary),
        ("… flights do not vary besides", eased | alike),
        ("… the report is not told of flights", eased | vary | {"told": False}),
        ("nothing changes, flights vary", still | vary),
    ]
    for sittings in (60, 120, 240):
        print(f"Verdicts on progress, {runs} tasters each of {sittings} sittings of five")
        for name, case in cases:
            found = verdicts(sittings=sittings, runs=runs, chance=chance, **case)
            shares = sorted(found.items(), key=lambda pair: -pair[1])
            print(f"  {name}: " + ", ".join(f"{verdict} {share:.2f}" for verdict, share in shares), flush=True)


if __name__ == "__main__":
    main()
