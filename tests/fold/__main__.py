"""What comes through the paper of a folded key sheet, counted: right answers of each attack against chance.

    python -m tests.fold --sheets 200
    python -m tests.fold --sheets 200 --glasses 3 --paper Letter
    python -m tests.fold --sheets 50 --uncovered        (no scramble, no black: what the attacks are worth)

In reflected light no template match, OCR program or code reader may be right more often than chance. What a lamp shows
is told, and so is what an attacker finds who looks between the scramble; nothing is claimed of either (*).
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import cv2

from scanner.code_readers import readers_in_use
from tests.fold.attacks import OCR_PROGRAM, has_ocr
from tests.fold.trial import PAPERS_IN_ORDER, Tally, Try, tallied, tries_on

LEVEL = 0.05


def main(arguments: Sequence[str] | None = None) -> int:
    """Fold and attack so many sheets; return 1 where reflected light tells more than chance does."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.fold", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sheets", type=int, default=200)
    parser.add_argument("--glasses", type=int, choices=(3, 4, 5), default=5)
    parser.add_argument("--paper", choices=PAPERS_IN_ORDER, default="A4")
    parser.add_argument("--uncovered", action="store_true")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args(arguments)
    if not has_ocr():
        print(f"{OCR_PROGRAM} is not installed: the attack by an OCR program is left out", file=sys.stderr)
    for reader in readers_in_use():
        if not reader.in_use:
            print(f"{reader.name} is not in use: its attack on the code is left out", file=sys.stderr)
    tallies = tallied(_tries(asked))
    print(f"{asked.sheets} key sheets, {asked.glasses} glasses, {asked.paper}{', uncovered' * asked.uncovered}")
    print(table(tallies))
    told = telling(tallies)
    for tally in told:
        print(f"BETTER THAN CHANCE: {tally.attack}, reflected light, {tally.photographs} photographs")
    return int(bool(told) and not asked.uncovered)


def table(tallies: Sequence[Tally]) -> str:
    """Return a line for each attack: how often it was right, exact 95 % bounds, how likely that is by chance."""
    lines = [
        f"{'light':<10}{'photographs':>12}  {'attack':<28}{'right':>6}{'of':>6}"
        f"{'share':>8}  {'exact 95 %':<16}{'chance':>8}{'p':>9}"
    ]
    for tally in tallies:
        low, high = tally.bounds
        star = "" if tally.is_claimed else " *"
        lines.append(
            f"{tally.light:<10}{tally.photographs:>12}  {tally.attack:<28}{tally.right:>6}{tally.tried:>6}"
            f"{tally.right / tally.tried:>8.3f}  {f'{low:.3f} … {high:.3f}':<16}"
            f"{tally.chance:>8.3f}{tally.p_value:>9.2g}{star}"
        )
    return "\n".join(lines)


def telling(tallies: Sequence[Tally]) -> list[Tally]:
    """Return the attacks, of those that must fail, which chance does not explain, at 5 % for all of them together."""
    claimed = [tally for tally in tallies if tally.is_claimed]
    return [tally for tally in claimed if tally.p_value < LEVEL / len(claimed)]


def _tries(asked: argparse.Namespace) -> Iterator[Try]:
    attempt = partial(_all_tries, glasses=asked.glasses, paper=asked.paper, covered=not asked.uncovered)
    with ProcessPoolExecutor(asked.jobs, initializer=_alone) as pool:
        for done, tries in enumerate(pool.map(attempt, range(asked.sheets)), start=1):
            yield from tries
            if done % 20 == 0:
                print(f"{done} of {asked.sheets}", file=sys.stderr)


def _all_tries(sheet: int, **how: object) -> list[Try]:
    return list(tries_on(sheet, **how))  # type: ignore[arg-type]


def _alone() -> None:
    cv2.setNumThreads(1)


if __name__ == "__main__":
    sys.exit(main())
