"""Runs many cases of one door, in a process of its own, and counts what went wrong."""

from __future__ import annotations

import json
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from types import FrameType

from kit.errors import FacedownError
from tests.fuzz.doors import door_named

CASE_FILE, TALLY_FILE = "case.bin", "tally.json"
MOST_MEMORY_BYTES = 2**30
ROUND = 10_000
"""Cases of one process: what it holds is measured for each."""


class HangError(Exception):
    """A case took longer than its door allows."""


@dataclass(slots=True)
class Tally:
    """What became of the cases: those refused in a sentence, those taken, and by their place all that went wrong."""

    cases: int = 0
    refused: int = 0
    findings: dict[str, int] = field(default_factory=dict)
    examples: dict[str, str] = field(default_factory=dict)
    peak_bytes: int = 0
    slowest_seconds: float = 0.0

    @property
    def is_clean(self) -> bool:
        """Whether cases ran, and nothing went wrong."""
        return self.cases > 0 and not self.findings and self.peak_bytes < MOST_MEMORY_BYTES


def run_cases(name: str, cases: int, seed: int, folder: Path, until: float = float("inf")) -> Tally:
    """Run cases of a door in this process; the case at hand lies in the folder, should the process not survive it.

    `until` is a moment of `time.monotonic`, after which no case begins.
    """
    door = door_named(name)
    seeds = door.seeds()
    run = door.opened(folder)
    tally = Tally()
    for number in range(cases):
        if time.monotonic() > until:
            break
        rng = random.Random(f"{name}|{seed + number}")
        content = door.mutation(rng.choice(seeds), rng)
        if door.decodes:
            (folder / CASE_FILE).write_bytes(content)
        began = time.monotonic()
        try:
            with _at_most(door.seconds):
                run(content)
        except FacedownError as error:
            tally.refused += 1
            if not str(error).strip():
                _note(tally, "a refusal without a sentence", content, folder)
        except MemoryError:
            _note(tally, "MemoryError", content, folder)
        except HangError:
            _note(tally, "hang", content, folder)
        except Exception as error:
            _note(tally, _place_of(error), content, folder)
        tally.cases += 1
        tally.slowest_seconds = max(tally.slowest_seconds, time.monotonic() - began)
    tally.peak_bytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return tally


def run_apart(name: str, cases: int, seed: int, found: Path, seconds: float) -> Tally:
    """Run cases in fresh processes, ROUND in each, until the time is over; return the tally."""
    whole, place, until = Tally(), 0, time.monotonic() + seconds
    while place < cases and time.monotonic() < until:
        count = min(ROUND, cases - place)
        with tempfile.TemporaryDirectory(prefix="facedown-fuzz-") as folder:
            asked = (name, str(count), str(seed + place), folder, str(found), str(until))
            command = [sys.executable, "-m", "tests.fuzz.trial", *asked]
            ended = subprocess.run(command, check=False, capture_output=True, text=True)
            tally_file = Path(folder) / TALLY_FILE
            if tally_file.exists():
                _add(whole, Tally(**json.loads(tally_file.read_text("utf-8"))))
            else:
                last = ended.stderr.strip().splitlines()[-1:] or [""]
                what = f"the process ended with {ended.returncode}: {last[0]}"
                case = Path(folder) / CASE_FILE
                _note(whole, what, case.read_bytes() if case.exists() else b"", found)
        place += count
    return whole


@contextmanager
def _at_most(seconds: float) -> Iterator[None]:
    def late(_signal: int, _frame: FrameType | None) -> None:
        raise HangError

    former = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, former)


def _place_of(error: Exception) -> str:
    """Return the error's kind and the last line of this project that it came through."""
    root = str(Path(__file__).parent.parent.parent)
    ours = [
        frame
        for frame in traceback.extract_tb(error.__traceback__)
        if frame.filename.startswith(root) and "/.venv/" not in frame.filename and "/tests/" not in frame.filename
    ]
    place = f"{Path(ours[-1].filename).relative_to(root)}:{ours[-1].lineno}" if ours else "tests"
    return f"{type(error).__name__} at {place}: {str(error)[:80]}" if not ours else f"{type(error).__name__} at {place}"


def _note(tally: Tally, what: str, content: bytes, folder: Path) -> None:
    tally.findings[what] = tally.findings.get(what, 0) + 1
    if what not in tally.examples:
        example = folder / f"finding-{abs(hash(what)) % 10**10}.bin"
        example.write_bytes(content)
        tally.examples[what] = str(example)


def _add(whole: Tally, part: Tally) -> None:
    whole.cases += part.cases
    whole.refused += part.refused
    for what, count in part.findings.items():
        whole.findings[what] = whole.findings.get(what, 0) + count
        whole.examples.setdefault(what, part.examples[what])
    whole.peak_bytes = max(whole.peak_bytes, part.peak_bytes)
    whole.slowest_seconds = max(whole.slowest_seconds, part.slowest_seconds)


if __name__ == "__main__":
    _name, _cases, _seed, _folder, _found, _until = sys.argv[1:]
    _tally = run_cases(_name, int(_cases), int(_seed), Path(_folder), float(_until))
    for _what, _example in _tally.examples.items():
        _kept = Path(_found) / f"{_name}-{Path(_example).name}"
        _kept.write_bytes(Path(_example).read_bytes())
        _tally.examples[_what] = str(_kept)
    (Path(_folder) / TALLY_FILE).write_text(json.dumps(asdict(_tally)), "utf-8")
