"""Work done in processes of its own, each watched: one that hangs, breaks down or eats memory costs one task alone.

Image decoders are large programs in C, and files come from anywhere. So no picture is decoded in the process that holds
the pile: a worker does one task after another, and is killed and replaced where one of them is its last.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, Generic, TypeVar

from scanner.limits import PAGE_SECONDS, START_SECONDS, WORKER_MB

Task = TypeVar("Task")
Result = TypeVar("Result")

AHEAD = 4
"""Tasks done or being done for each worker before the first result is taken."""
ROOM_MB = 600
"""What a worker may take beyond what it holds before its first task: a kit of thousands of tasters is large itself."""


class Fate(StrEnum):
    """What befell a task that has no result."""

    HUNG = "hung"
    CRASHED = "crashed"
    NO_MEMORY = "no memory"
    NOT_STARTED = "not started"


@dataclass(frozen=True, slots=True)
class Lost:
    """In place of a result; `signal_name` where a signal such as SIGSEGV ended the worker."""

    fate: Fate
    signal_name: str = ""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What one task may take, and the start of a worker."""

    seconds: float = PAGE_SECONDS
    megabytes: int = WORKER_MB
    start_seconds: float = START_SECONDS


def watched(
    work: Callable[[Task], Result], tasks: Iterable[Task], jobs: int, bounds: Bounds | None = None
) -> Generator[tuple[Task, Result | Lost], None, None]:
    """Yield each task with its result, in order, as soon as it is there.

    Parameters
    ----------
    work : callable
        Picklable, as are tasks, which are no tuples, and results. It should raise nothing; a worker in which it does
        counts as broken down.
    jobs : int
        How many workers work at once. They start when they are needed, and are kept for the next call.
    """
    crew = _Crew(work, bounds or Bounds())
    waiting = enumerate(tasks)
    done: dict[int, tuple[Task, Result | Lost]] = {}
    begun, due, is_all = 0, 0, False
    try:
        while True:
            while not is_all and crew.size < jobs and begun - due < AHEAD * jobs:
                place, task = next(waiting, (-1, None))
                is_all = place < 0
                if task is not None:
                    crew.begin(place, task)
                    begun += 1
            while due in done:
                yield done.pop(due)
                due += 1
            if is_all and not crew.size:
                return
            if crew.size == jobs or is_all or begun - due >= AHEAD * jobs:
                for place, task, result in crew.finished():
                    done[place] = task, result
    finally:
        crew.leave()


@dataclass(slots=True)
class _Worker:
    """A process, the line to it, and the work that it has."""

    process: BaseProcess
    line: Connection
    work: object = None

    def end(self) -> str:
        """Kill the process; return the name of the signal that had ended it before, if any."""
        self.process.join(0.2)
        status = self.process.exitcode
        if status is None:
            self.process.kill()
            self.process.join()
        self.line.close()
        if status is None or status >= 0:
            return ""
        try:
            return signal.Signals(-status).name
        except ValueError:
            return f"signal {-status}"


_idle: tuple[int, list[_Worker]] = (0, [])
"""This process's id, for a forked one must leave its parent's alone, and the workers without a task."""


@dataclass(slots=True)
class _Busy(Generic[Task]):
    worker: _Worker
    place: int
    task: Task
    deadline: float
    is_ready: bool


class _Crew(Generic[Task, Result]):
    """The workers busy with one call's tasks."""

    def __init__(self, work: Callable[[Task], Result], bounds: Bounds) -> None:
        self._work, self._bounds = work, bounds
        self._busy: list[_Busy[Task]] = []

    @property
    def size(self) -> int:
        """How many are busy."""
        return len(self._busy)

    def begin(self, place: int, task: Task) -> None:
        """Give a task to a worker."""
        worker = _taken()
        knows_work = worker.work is self._work
        limit = self._bounds.seconds if knows_work else self._bounds.start_seconds
        self._busy.append(_Busy(worker, place, task, time.monotonic() + limit, knows_work))
        # Where the worker is gone already, its line is at its end, and `finished` sees to it.
        with contextlib.suppress(OSError):
            if not knows_work:
                worker.work = self._work
                worker.line.send((self._work, self._bounds.megabytes))
            worker.line.send(task)

    def finished(self) -> Iterator[tuple[int, Task, Result | Lost]]:
        """Wait for something to happen; yield what is finished, in whatever way."""
        first = min(one.deadline for one in self._busy)
        ready = set(wait([one.worker.line for one in self._busy], max(0.0, first - time.monotonic())))
        for one in tuple(self._busy):
            if one.worker.line in ready:
                told = self._told(one)
                if told is not None:
                    yield one.place, one.task, told
            elif one.deadline <= time.monotonic():
                yield one.place, one.task, self._lost(one, Fate.HUNG if one.is_ready else Fate.NOT_STARTED)

    def leave(self) -> None:
        """Let go of the workers; those in the middle of a task are killed."""
        for one in self._busy:
            one.worker.process.kill()
            one.worker.end()
        self._busy.clear()

    def _told(self, one: _Busy[Task]) -> Result | Lost | None:
        """Return what a worker tells; None where it tells that it is ready and begins now."""
        try:
            word, result = one.worker.line.recv()
        except Exception:  # its end, or what a broken worker wrote
            return self._lost(one, Fate.CRASHED if one.is_ready else Fate.NOT_STARTED)
        if word == "ready":
            one.is_ready, one.deadline = True, time.monotonic() + self._bounds.seconds
            return None
        if word == "no memory":
            return self._lost(one, Fate.NO_MEMORY)
        self._busy.remove(one)
        _idle[1].append(one.worker)
        told: Result = result
        return told

    def _lost(self, one: _Busy[Task], fate: Fate) -> Lost:
        self._busy.remove(one)
        return Lost(fate, one.worker.end())


def _taken() -> _Worker:
    """Return a worker without a task, a new one where there is none."""
    global _idle
    if _idle[0] != os.getpid():
        _idle = os.getpid(), []
    while _idle[1]:
        worker = _idle[1].pop()
        if worker.process.is_alive():
            return worker
        worker.end()
    # Fresh processes: a forked one inherits the locks of the libraries' threads.
    context = multiprocessing.get_context("spawn")
    line, far_end = context.Pipe()
    process = context.Process(target=_serve, args=(far_end,), daemon=True)
    process.start()
    far_end.close()
    return _Worker(process, line)


def _serve(line: Connection) -> None:
    """Be a worker: take work, then do one task after another until the line ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interrupt is for the process that holds the pile
    work: Callable[[Any], Any] | None = None
    most_bytes = 0
    with contextlib.suppress(EOFError, BrokenPipeError, ConnectionResetError):
        while True:
            message = line.recv()
            if isinstance(message, tuple):
                work, megabytes = message
                most_bytes = max(megabytes * 10**6, _data_bytes() + ROOM_MB * 10**6)
                line.send(("ready", None))
                continue
            assert work is not None
            try:
                with _bounded_memory(most_bytes):
                    result = work(message)
            except MemoryError:
                line.send(("no memory", None))
                return
            line.send(("done", result))


@contextlib.contextmanager
def _bounded_memory(most_bytes: int) -> Iterator[None]:
    """Let this process have no more memory of its own than that for the block, where the system has such a bound.

    What it holds without touching it counts as well, so the memory in use stays below.
    """
    try:
        import resource
    except ImportError:  # Windows
        yield
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_DATA)
    bound = most_bytes if hard == resource.RLIM_INFINITY else min(most_bytes, hard)
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_CORE, (0, resource.getrlimit(resource.RLIMIT_CORE)[1]))
        resource.setrlimit(resource.RLIMIT_DATA, (bound, hard))
    try:
        yield
    finally:
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_DATA, (soft, hard))


def _data_bytes() -> int:
    """Return how much memory this process has of its own, 0 where the system does not tell."""
    try:
        return int(Path("/proc/self/statm").read_text("ascii").split()[5]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError, IndexError):
        return 0
