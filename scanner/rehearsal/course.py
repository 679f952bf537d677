"""A rehearsal without a camera: the session's own sheets through simulated hands and cameras, read, sheet by sheet."""

from __future__ import annotations

import multiprocessing
import signal
import zlib
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np

from kit.errors import FacedownError
from kit.session import Session
from kit.sheet_layout import SheetLayout
from scanner.kits import KitOnFile
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.camera import SHOTS
from scanner.rehearsal.habits import HANDS
from scanner.rehearsal.own_kit import OwnKit, own_kit
from scanner.rehearsal.pens import PENS
from scanner.rehearsal.prints import PX_PER_MM, printed
from scanner.rehearsal.tally import Tried
from scanner.rehearsal.trial import try_sheet

AHEAD = 3
"""Sheets handed out to each worker before the first is asked back."""


@dataclass(frozen=True, slots=True)
class Course:
    """What a rehearsal goes through: `sheets` of the session's sheets under each of the conditions."""

    session: Session
    conditions: tuple[str, ...]
    sheets: int
    seed: int

    def __len__(self) -> int:
        return len(self.conditions) * self.sheets

    def condition(self, number: int) -> tuple[str, int]:
        """Return the condition of the sheet of that number, from 0, and the sheet's place under it."""
        turn, which = divmod(number, len(self.conditions))
        return self.conditions[which], turn


def rehearse(course: Course, jobs: int) -> Iterator[Tried]:
    """Try every sheet of the course, several at a time, and yield them in order.

    What a sheet goes through depends on the seed, its condition and its place under it alone: neither `jobs` nor the
    other conditions change its figures.

    Raises
    ------
    FacedownError
        If this version cannot print the session's forms, or a worker broke down.
    """
    if jobs == 1 or len(course) <= jobs:
        rehearsing = _Rehearsing(course)
        yield from map(rehearsing.try_number, range(len(course)))
    else:
        own_kit(course.session)  # refuses here what the workers could not print either
        yield from _by_workers(course, jobs)


class _Rehearsing:
    """A course in one process: its sheets are printed once, when the first is asked for."""

    def __init__(self, course: Course) -> None:
        self.course = course

    def try_number(self, number: int) -> Tried:
        condition, turn = self.course.condition(number)
        draw = zlib.crc32(condition.encode())
        rng = np.random.default_rng([self.course.seed, draw, turn])
        # Each condition begins with another sheet, so that even a short rehearsal has all of them.
        layout, page = self._pages[(draw + turn) % len(self._pages)]
        hand, pen = HANDS[int(rng.integers(len(HANDS)))], PENS[int(rng.integers(len(PENS)))]
        trial = try_sheet(layout, page, PX_PER_MM, hand, pen, SHOTS[condition], self._kits, rng)
        # Thousands of cutouts that nobody asked for would fill the memory.
        return Tried(number, condition, hand.name, pen.name, replace(trial, misses=(), doubts=()))

    @cached_property
    def _own(self) -> OwnKit:
        return own_kit(self.course.session)

    @cached_property
    def _kits(self) -> dict[str, KitOnFile]:
        return {self._own.kit.id: self._own.on_file}

    @cached_property
    def _pages(self) -> tuple[tuple[SheetLayout, Gray], ...]:
        return tuple(printed(self._own.sheets))


_rehearsing: _Rehearsing | None = None


def _by_workers(course: Course, jobs: int) -> Iterator[Tried]:
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(jobs, context, initializer=_take_course, initargs=(course,))
    waiting: deque[Future[Tried]] = deque()
    try:
        numbers: Sequence[int] = range(len(course))
        for number in numbers:
            with _no_interrupt():
                waiting.append(pool.submit(_try_in_worker, number))
            if len(waiting) >= AHEAD * jobs:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    except BrokenProcessPool as error:
        raise FacedownError(
            "A process of the rehearsal broke down; the memory may not suffice for so many at once.",
            "Run it again with --jobs 1.",
        ) from error
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


@contextmanager
def _no_interrupt() -> Iterator[None]:
    """Let a worker that is started meanwhile inherit deafness to Ctrl-C: only this process answers it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    former = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, former)


def _take_course(course: Course) -> None:
    global _rehearsing
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    cv2.setNumThreads(1)
    _rehearsing = _Rehearsing(course)


def _try_in_worker(number: int) -> Tried:
    assert _rehearsing is not None
    return _rehearsing.try_number(number)
