"""Whether a sheet is ever credited to another taster, kit or round: pages, corners and texts, counted.

    python -m tests.attribution --pages 2000 --corners 18000 --jobs 2

Prints the tables and saves the pictures of whatever went wrong under `.accuracy/attribution/`; the status is then 1.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

import cv2

from scanner.rehearsal.arrays import Gray
from tests.attribution.corners import CornerTried, try_corner
from tests.attribution.pages import PageTried, try_page
from tests.attribution.slips import attacks
from tests.attribution.tally import attack_table, corner_table, is_clean, page_table

KEPT = Path(__file__).parent.parent.parent / ".accuracy" / "attribution"
CHUNK = 10

T = TypeVar("T", PageTried, CornerTried)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--pages", type=int, default=2000)
    parser.add_argument("--corners", type=int, default=18000)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=20261125)
    given = parser.parse_args()
    pages = list(_tried(try_page, given.seed, given.pages, given.jobs, "pages"))
    print("\n".join(page_table(pages)), flush=True)
    corners = list(_tried(try_corner, given.seed, given.corners, given.jobs, "corners"))
    print("\n".join(("", *corner_table(corners))), flush=True)
    attacked = attacks(given.seed)
    print("\n".join(("", *attack_table(attacked))))
    sys.exit(0 if is_clean(pages, corners, attacked) else 1)


def _tried(attempt: Callable[[int, int], T], seed: int, count: int, jobs: int, name: str) -> Iterator[T]:
    """Yield what comes of every number, in order; say on a terminal how far it is; keep the pictures of what is wrong.

    Whoever edits the reader meanwhile changes nothing: the workers are forked from what was loaded at the start.
    """
    with ProcessPoolExecutor(jobs, get_context("fork"), cv2.setNumThreads, (1,)) as pool:
        for number, tried in enumerate(pool.map(attempt, itertools.repeat(seed, count), range(count), chunksize=CHUNK)):
            if sys.stderr.isatty():
                print(f"\r{number + 1:,} of {count:,} {name}", end="", file=sys.stderr, flush=True)
            if tried.picture is not None:
                _keep(name, tried, tried.picture)
            yield tried
    if sys.stderr.isatty():
        print(file=sys.stderr)


def _keep(name: str, tried: PageTried | CornerTried, picture: Gray) -> None:
    KEPT.mkdir(parents=True, exist_ok=True)
    cause = tried.kind.replace(" ", "-").replace("'", "")
    cv2.imwrite(str(KEPT / f"{name}-{tried.number:06d}-{cause}-{tried.sheet}.png"), picture)


if __name__ == "__main__":
    main()
