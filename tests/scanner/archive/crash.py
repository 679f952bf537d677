"""Kills `archive add` and `archive erase` at random moments; afterwards everything must be there, or nothing of it.

    python -m tests.scanner.archive.crash --rounds 1000 [--seed 1] [--commands 20]

Each round: a process adds the pile (nine files: sheets, a better picture, a conflict, a stranger, an unreadable one)
and settles a doubt; it is killed by SIGKILL at a moment drawn evenly from the time that this takes undisturbed. Then
`verify` must pass, and running again must end in the same archive as the undisturbed run, as `contents.py` defines
"same". Every fourth round kills `erase` in such an archive instead. The pages are read once at the beginning, so that
the kill falls among the writes; `--commands` adds rounds in which the real command is killed, reading included.
A killed process is not a lost current: that what is renamed and committed is on the disk rests on fsync, and is not
tested here.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from kit.errors import KitError
from scanner.archive.contents import Contents, contents_of, differences
from scanner.archive.database import DATABASE_FILE, archive_at
from scanner.archive.erase import erase, taster_named
from scanner.archive.verify import verify
from tests.make_samples import SAMPLES
from tests.scanner.archive.pile import NOW, Pile, pile_of

LONGER = 1.1
"""The last tenth of the kills may come too late."""


def main(rounds: int, commands: int, seed: int) -> int:
    """Run the rounds and print the tally; status 1 where any went wrong."""
    with tempfile.TemporaryDirectory() as folder:
        begun = time.monotonic()
        tally = crashes(pile_of(Path(folder)), Path(folder), rounds, seed)
        tally += command_crashes(Path(folder), commands, seed)
        took = time.monotonic() - begun
    for what, count in sorted(tally.items()):
        print(f"{count:6}  {what}")
    print(f"{took:.0f} s, seed {seed}")
    return int(any("WRONG" in what for what in tally))


def crashes(pile: Pile, folder: Path, rounds: int, seed: int) -> Counter[str]:
    """Kill so many processes; return how often each thing happened, "WRONG" in what must not."""
    rng = random.Random(seed)
    adding = _Job(folder / "undisturbed", lambda place: _add(pile, place))
    erasing = _Job(folder / "undisturbed-erasing", _erase, begin=adding.folder)
    tally: Counter[str] = Counter()
    for number in range(rounds):
        job = erasing if number % 4 == 3 else adding
        place = folder / f"round-{number}"
        tally.update(job.round(place, rng.random() * LONGER))
        shutil.rmtree(place, ignore_errors=True)
    return tally


def command_crashes(folder: Path, rounds: int, seed: int) -> Counter[str]:
    """Kill the real command at random moments, reading and all."""
    rng = random.Random(seed + 1)
    tally: Counter[str] = Counter()
    if not rounds:
        return tally
    begun = time.monotonic()
    _run(folder / "commanded")
    took = time.monotonic() - begun
    wanted = _contents(folder / "commanded")
    for number in range(rounds):
        place = folder / f"command-{number}"
        process = _command(place)
        time.sleep(rng.random() * took * LONGER)
        process.kill()
        process.wait()
        tally[f"command: {_judged(place, _run, wanted)}"] += 1
        shutil.rmtree(place, ignore_errors=True)
    return tally


class _Job:
    """Something done to an archive, how long it takes and what it ends in undisturbed."""

    def __init__(self, folder: Path, do: Callable[[Path], object], begin: Path | None = None) -> None:
        self.folder, self.do, self.begin = folder, do, begin
        self.name = "add" if begin is None else "erase"
        self._begun(folder)
        started = time.monotonic()
        self._in_child(folder, None)
        self.took = time.monotonic() - started
        self.wanted = _contents(folder)

    def round(self, place: Path, share: float) -> list[str]:
        """Kill the job at this share of its time, verify, do it again, compare."""
        self._begun(place)
        was_killed = self._in_child(place, share * self.took)
        told = _judged(place, self.do, self.wanted)
        return [f"{self.name}: {told}", f"{self.name}: killed" if was_killed else f"{self.name}: done before the kill"]

    def _begun(self, place: Path) -> None:
        if self.begin is not None:
            shutil.copytree(self.begin, place)

    def _in_child(self, place: Path, seconds: float | None) -> bool:
        """Do it in a forked process, which has everything loaded already; True where it was killed."""
        child = os.fork()
        if child == 0:
            try:
                self.do(place)
                os._exit(0)
            except BaseException as error:
                print(f"the child failed: {error!r}", file=sys.stderr)
            os._exit(1)
        if seconds is not None:
            time.sleep(seconds)
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0
        return os.WIFSIGNALED(status)


def _judged(place: Path, again: Callable[[Path], object], wanted: Contents) -> str:
    if (place / DATABASE_FILE).exists():
        with archive_at(place) as archive:
            faults = verify(archive).faults
        if faults:
            return f"WRONG, verify: {faults[0]}"
    again(place)
    found = differences(_contents(place), wanted)
    return f"WRONG, differs: {found[0]}" if found else "verified, and the same after running again"


def _add(pile: Pile, place: Path) -> None:
    pile.add(place)
    pile.settle(place)


def _erase(place: Path) -> None:
    """Erase Kofi; where that was done before the kill, clean up as the command does."""
    from scanner.archive.store import sweep

    with archive_at(place, write=True) as archive:
        sweep(archive)
        try:
            person = taster_named(archive, "kofi")
        except KitError:
            return
        erase(archive, person["id"], NOW)


def _contents(place: Path) -> Contents:
    with archive_at(place) as archive:
        return contents_of(archive)


def _run(place: Path) -> int:
    return _command(place).wait()


def _command(place: Path) -> subprocess.Popen[bytes]:
    kit = place.parent / "kit"
    words = ["archive", "add", "--archive", place, "--kit", kit, "--jobs", "1", *sorted(SAMPLES.glob("kofi-*.jpg"))]
    return subprocess.Popen(
        [sys.executable, "-m", "kit.shell", *map(str, words)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=1000)
    parser.add_argument("--commands", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    sys.exit(main(asked.rounds, asked.commands, asked.seed))
