"""Fuzzing of every door.

    python -m tests.fuzz --list
    python -m tests.fuzz --door session --cases 100000 [--seed 7] [--seconds 600]
    python -m tests.fuzz --door all --cases 2000
    python -m tests.fuzz --install                        (a coverage-guided fuzzer, in an environment of its own)
    python -m tests.fuzz --guided --door session --cases 100000

A finding is anything but a result or a sentence for a person: a traceback, a case over its door's time, a process that
broke down, 1 GiB of memory. Each is kept under `.accuracy/fuzz/`, once.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from tests.fuzz import guided
from tests.fuzz.doors import doors, is_door
from tests.fuzz.trial import run_apart

FOUND = Path(__file__).parent.parent.parent / ".accuracy" / "fuzz"


def main() -> int:
    """Do what the command line asks; 1 where something was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__.splitlines()[0])
    parser.add_argument("--door", nargs="+", default=["all"], help="one or more, or all")
    parser.add_argument("--cases", type=int, default=2_000, help="of each door")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="of each door, at most")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--list", action="store_true", help="name the doors")
    parser.add_argument("--install", action="store_true", help="make the environment of the guided fuzzer")
    parser.add_argument("--guided", action="store_true", help="let coverage guide the cases")
    asked = parser.parse_args()
    every = doors() if asked.list or asked.door == ["all"] else {}
    if asked.list:
        print("\n".join(every))
        return 0
    if asked.install:
        return guided.install()
    FOUND.mkdir(parents=True, exist_ok=True)
    names = list(every) if asked.door == ["all"] else asked.door
    if every == {} and (strangers := [name for name in names if not is_door(name)]):
        parser.error(f"no door {', '.join(strangers)}; --list names them")
    if asked.guided:
        return max(guided.run(name, asked.cases, FOUND) for name in names)
    return max(_fuzzed(name, asked.cases, asked.seed, asked.seconds) for name in names)


def _fuzzed(name: str, cases: int, seed: int, seconds: float) -> int:
    began = time.monotonic()
    tally = run_apart(name, cases, seed, FOUND, seconds)
    took = time.monotonic() - began
    print(
        f"{name}: {tally.cases:,} cases, {tally.refused:,} refused in a sentence, "
        f"peak {tally.peak_bytes / 2**20:.0f} MiB, slowest {tally.slowest_seconds:.1f} s, {took:.0f} s; "
        + ("nothing found" if tally.is_clean else f"FOUND {len(tally.findings)}"),
        flush=True,
    )
    for what, count in tally.findings.items():
        print(f"    {count} × {what}\n        {tally.examples[what]}", flush=True)
    return 0 if tally.is_clean else 1


if __name__ == "__main__":
    sys.exit(main())
