"""Kills `facedown review` at random moments; whatever the browser was told is settled must be settled.

    python -m tests.scanner.review.crash --rounds 300 [--seed 1]

Each round: a process serves the second look of an archive with thirty doubts; a browser's requests answer one after
the other, and give a wrong answer and undo it now and then. The process is killed by SIGKILL within a request drawn
evenly from all that there are, at a moment drawn evenly from the time that the one before took: so it does not matter
how busy the machine is. Then `verify` must pass, and every answer that was acknowledged must be there (the one under
way may be, or may not). Going on to the end must leave what stood there as it was, and all else as an undisturbed run
leaves it.
"""

from __future__ import annotations

import argparse
import http.client
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode, urlsplit

from scanner.archive.contents import contents_of, differences
from scanner.archive.database import archive_at
from scanner.archive.verify import verify
from scanner.review.desk import queue_of
from scanner.review.guard import Guard
from scanner.review.serve import review_server
from tests.scanner.archive.pile import NOW, pile_of
from tests.scanner.review.doubts import pile_of_doubts

DOUBTS = 30
LONGER = 1.05
"""A few kills may come too late."""
KEYS = "yynt"
STATES = {"y": "marked", "n": "empty", "t": "withdrawn"}
Words = dict[str, str | None]
"""The last word on a box, by the doubt's id."""


def main(rounds: int, seed: int) -> int:
    """Run the rounds and print the tally; status 1 where any went wrong."""
    with tempfile.TemporaryDirectory() as folder:
        begun = time.monotonic()
        place = Path(folder)
        (place / "files").mkdir()
        pile_of_doubts(pile_of(place), place / "files", DOUBTS).add(place / "archive")
        tally = crashes(place / "archive", place, rounds, seed)
        took = time.monotonic() - begun
    for what, count in sorted(tally.items()):
        print(f"{count:6}  {what}")
    print(f"{took:.0f} s, seed {seed}")
    return int(any("WRONG" in what for what in tally))


def crashes(archive: Path, folder: Path, rounds: int, seed: int) -> Counter[str]:
    """Kill so many processes; return how often each thing happened, "WRONG" in what must not."""
    rng = random.Random(seed)
    with archive_at(archive) as opened:
        names = {(doubt.field, doubt.option): doubt.id for doubt in queue_of(opened)}
    undisturbed = Path(shutil.copytree(archive, folder / "undisturbed"))
    whole = Run(undisturbed, names)
    whole.to_its_end()
    tally: Counter[str] = Counter()
    for number in range(rounds):
        place = Path(shutil.copytree(archive, folder / f"round-{number}"))
        run = Run(place, names)
        was_killed = run.killed_at(rng.random() * whole.requests * LONGER)
        tally["killed" if was_killed else "done before the kill"] += 1
        tally["answers acknowledged"] += len(run.told)
        tally[_judged(place, run, undisturbed)] += 1
        shutil.rmtree(place)
    return tally


class Run:
    """One process that serves, and what its browser was told: the last word on each box; `under_way` the one asked."""

    def __init__(self, place: Path, names: dict[tuple[str, str], str]) -> None:
        self.place, self.names = place, names
        self.told: Words = {}
        self.under_way: tuple[str, str | None] | None = None
        self.requests = 0
        self._took = 0.01
        self._kill: Callable[[], object] | None = None
        self._moment = 0.0

    def killed_at(self, moment: float) -> bool:
        """Answer until it is killed: 3.5 is the middle of the fourth request. False where it ends before."""
        child, guard = _serving(self.place)
        self._moment, self._kill = moment, lambda: os.kill(child, signal.SIGKILL)
        try:
            self._answer_all(guard)
            was_killed = False
            os.kill(child, signal.SIGKILL)
        except (OSError, http.client.HTTPException):
            was_killed = True
        os.waitpid(child, 0)
        return was_killed

    def to_its_end(self) -> None:
        """Answer everything that is left."""
        child, guard = _serving(self.place)
        try:
            self._answer_all(guard)
        finally:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)

    def _answer_all(self, guard: Guard) -> None:
        order = list(self.names.values())
        with archive_at(self.place) as archive:
            left = {doubt.id for doubt in queue_of(archive)}
        for number, doubt in enumerate(order):
            if doubt not in left:
                continue
            key = KEYS[number % len(KEYS)]
            if number % 5 == 4:  # a slip, undone at once
                following = self._sent(guard, doubt, "n", f"doubt/{doubt}", answer="n")
                page = self._asked(guard, "GET", following)[1]
                [decision] = re.findall(r'name="decision" value="([^"]+)"', page)
                self._sent(guard, doubt, None, "undo", decision=decision)
            self._sent(guard, doubt, key, f"doubt/{doubt}", answer=key)

    def _sent(self, guard: Guard, doubt: str, key: str | None, path: str, **form: str) -> str:
        word = STATES[key] if key else None
        self.under_way = (doubt, word)
        status, location = self._asked(guard, "POST", f"/{guard.token}/{path}", urlencode(form))
        assert status == 303, status
        assert "told=gone" not in location, location
        assert "not_undone" not in location, location
        self.told[doubt], self.under_way = word, None
        return location

    def _asked(self, guard: Guard, method: str, path: str, body: str | None = None) -> tuple[int, str]:
        """Send one request; if it is the one drawn, have the process killed meanwhile."""
        if self._kill and int(self._moment) == self.requests:
            threading.Timer((self._moment % 1) * self._took, self._kill).start()
        self.requests += 1
        begun = time.monotonic()
        answer = _request(guard, method, path, body)
        self._took = time.monotonic() - begun
        return answer


def _judged(place: Path, run: Run, undisturbed: Path) -> str:
    with archive_at(place) as archive:
        faults = verify(archive).faults
        words = _words(place, run.names)
    if faults:
        return f"WRONG, verify: {faults[0]}"
    for doubt in run.names.values():
        allowed = [run.told.get(doubt)]
        if run.under_way and run.under_way[0] == doubt:
            allowed.append(run.under_way[1])
        if words.get(doubt) not in allowed:
            return f"WRONG, acknowledged {allowed[0]}, found {words.get(doubt)}"
    Run(place, run.names).to_its_end()
    stood = {doubt: word for doubt, word in words.items() if word is not None}
    if _words(place, run.names) != _words(undisturbed, run.names) | stood:
        return "WRONG, going on ends elsewhere"
    with archive_at(place) as one, archive_at(undisturbed) as other:
        found = [what for what in differences(contents_of(one), contents_of(other)) if "settlements" not in what]
    return f"WRONG, differs: {found[0]}" if found else "verified, nothing acknowledged lost, the rest done afterwards"


def _words(place: Path, names: dict[tuple[str, str], str]) -> Words:
    with archive_at(place) as archive:
        rows = archive.connection.execute("SELECT field, option, after FROM settlements ORDER BY id").fetchall()
    return {names[field, option]: after for field, option, after in rows}


def _serving(place: Path) -> tuple[int, Guard]:
    """Serve in a forked process, which has everything loaded already; return its id and the address."""
    server, guard, _ = review_server(place, "rhian", lambda: NOW)
    child = os.fork()
    if child == 0:
        try:
            server.serve_forever()
        finally:
            os._exit(1)
    server.socket.close()
    return child, guard


def _request(guard: Guard, method: str, path: str, body: str | None = None) -> tuple[int, str]:
    """Return the status, and where it leads to or else the page."""
    connection = http.client.HTTPConnection("127.0.0.1", guard.port, timeout=60)
    try:
        headers = {"Origin": guard.origin, "Content-Type": "application/x-www-form-urlencoded"}
        connection.request(method, urlsplit(path).path, body, headers)
        answer = connection.getresponse()
        page = answer.read().decode()
        return answer.status, answer.headers.get("Location") or page
    finally:
        connection.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    sys.exit(main(asked.rounds, asked.seed))
