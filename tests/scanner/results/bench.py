"""How long the reports of a year's daily practice take, against the start of Python with NumPy.

    python -m tests.scanner.results.bench

All are CPU seconds. Each report is timed side by side with a start, in turn, so that a busy machine disturbs both; what
is printed are medians over the runs, the ratio's too.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import numpy as np

from scanner.results.confusions import confusions
from scanner.results.dictionary import dictionary
from scanner.results.later import later
from scanner.results.luck import luck_of_taster
from scanner.results.notes import notes
from scanner.results.sharpness import sharpness
from scanner.results.sitting import Drink
from scanner.results.skill import skill
from scanner.results.steady import steady_words
from scanner.results.table import table
from tests.scanner.results.noted import drawn
from tests.scanner.results.skilled import draw_correct, sitting, sitting_with

SITTINGS = 365
RUNS = 9


def year() -> list[tuple[Callable[[], object], str]]:
    """Return the reports to time, with their names."""
    chance = np.random.default_rng(365)
    words = ("guess", "leaning", "sure")
    right = draw_correct(np.linspace(0.3, 1.3, SITTINGS), 5, chance).astype(int)
    sittings = [sitting_with(int(k), 5, day, sure=words[day % 3]) for day, k in enumerate(right)]
    difficulties = chance.normal(0, 0.5, SITTINGS).tolist()
    return [
        (lambda: luck_of_taster(sittings), "luck"),
        (lambda: skill("ines", "Ines", sittings), "ability, progress, evidence, sureness"),
        (lambda: skill("ines", "Ines", sittings, difficulties), "… with the flights' difficulties"),
    ]


def year_of_notes() -> list[tuple[Callable[[], object], str]]:
    """Return the reports on notes: five drinks, met again every day, of 28 words and six scales."""
    chance = np.random.default_rng(28)
    words, scales = tuple(f"word {i}" for i in range(28)), {f"scale {i}": 5 for i in range(6)}
    cores = [tuple(chance.choice(words, 3, replace=False)) for _ in range(5)]
    sittings = [drawn(cores, chance, day, 0.5, words=words, scales=scales) for day in range(SITTINGS)]
    panel = [
        replace(drawn(cores, chance, day, 0.5, words=words, scales=scales), taster=taster, name=taster)
        for day in range(SITTINGS)
        for taster in ("ines", "tomas", "rhian", "kofi")
    ]
    return [
        (lambda: notes("ines", "Ines", sittings), "notes of both rounds"),
        (lambda: steady_words(sittings), "words that come back"),
        (lambda: later(sittings), "drinks met again"),
        (lambda: table(panel), "the table of four tasters"),
        (lambda: dictionary("ines", panel), "a dictionary at that table"),
    ]


def year_of_confusions() -> list[tuple[Callable[[], object], str]]:
    """Return the reports on what was taken for what: five drinks of twelve every day, errors by lot."""
    chance = np.random.default_rng(12)
    drinks = [Drink(f"drink-{n}", f"Drink {n}", f"style {n % 4}", 14.0 + n / 4) for n in range(12)]
    sittings = []
    for day in range(SITTINGS):
        claims = (chance.permutation(5) if day % 2 else np.arange(5)) + 1
        flight = tuple(drinks[n] for n in chance.choice(12, 5, replace=False))
        sittings.append(sitting(claims.tolist(), [1, 2, 3, 4, 5], day, drinks=flight))
    return [
        (lambda: confusions(sittings), "confusions"),
        (lambda: sharpness("Ines", sittings, {}), "sharpness, for a suggestion"),
    ]


def main() -> None:
    """Print the seconds of each report, and their ratio to the start of Python with NumPy."""
    reports = [*year(), *year_of_notes(), *year_of_confusions()]
    starts = []
    for report, name in reports:
        pairs = [(_start_s(), _seconds(report)) for _ in range(RUNS)]
        starts += [start for start, _ in pairs]
        ratio = median(seconds / start for start, seconds in pairs)
        print(f"{median(seconds for _, seconds in pairs):.3f} s, {ratio:.0%} of the start: {name}", flush=True)
    print(f"Python starts with NumPy in {median(starts):.3f} s of CPU time; medians of {RUNS} runs")


def _seconds(report: Callable[[], object]) -> float:
    before = time.process_time()
    report()
    return time.process_time() - before


def _start_s() -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", "import numpy"], check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


if __name__ == "__main__":
    main()
