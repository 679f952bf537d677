"""What the process that holds a pile asks of its workers, and what it gets back. No image library is needed here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol, TypeVar

from scanner.kits import KitOnFile
from scanner.limits import TOO_GREEDY, TOO_LONG
from scanner.reading import Outcome, PageReading, PictureReading
from scanner.watched import Fate, Lost


@dataclass(frozen=True, slots=True)
class ListPages:
    """Say where each page of a file stands."""

    source: str


@dataclass(frozen=True, slots=True)
class ReadPage:
    """Read one page: `place` is where it stands in the file, `source_page` its number for people, from 1."""

    source: str
    source_page: int
    place: int


Task = ListPages | ReadPage


@dataclass(frozen=True, slots=True)
class CutOut:
    """One cut-out; `kind` is "writing" or "box", `option` '' for a writing area, `png` the picture's bytes."""

    kind: str
    field: str
    option: str
    png: bytes


@dataclass(frozen=True, slots=True)
class PageRead:
    """What one page gave, and of a sheet that was read its cut-outs, where they were asked for."""

    picture: PictureReading
    cutouts: tuple[CutOut, ...] = ()


Listed = tuple[int, ...] | str
"""The places of a file's pages, or why it cannot be opened."""
Told = Listed | PageRead
"""Of a file its pages; of a page what it gave."""
Made = TypeVar("Made", covariant=True)


class Failed(Protocol[Made]):
    """What makes of the reason why a page, or a whole file, gave nothing what stands in its place."""

    def __call__(self, source: str, source_page: int | None, reason: str, /) -> Made:
        """Return what stands in the page's place; `source_page` is None where the file cannot be opened."""


@dataclass(frozen=True, slots=True)
class PageWork:
    """The work of one pile; `cuts` says whether sheets that were read are cut out as well."""

    kits: Mapping[str, KitOnFile]
    cuts: bool = False

    def __call__(self, task: Task) -> Told:
        """Do one task, in a worker: the decoders are loaded there alone."""
        from scanner.page_worker import listed, read_page

        return listed(task) if isinstance(task, ListPages) else read_page(task, self.kits, cuts=self.cuts)


def unreadable(source: str, source_page: int | None, reason: str) -> PageReading:
    """Return the reading of a page of which nothing is known."""
    return PageReading(source, source_page, None, None, None, None, Outcome.UNREADABLE, reason)


def unread(source: str, source_page: int | None, reason: str) -> PageRead:
    """Return what such a page gave."""
    return PageRead(unreadable(source, source_page, reason))


def why_lost(lost: Lost) -> str:
    """Say in a sentence why a task has no result, and what to do."""
    match lost.fate:
        case Fate.HUNG:
            return TOO_LONG
        case Fate.NO_MEMORY:
            return TOO_GREEDY
        case Fate.NOT_STARTED:
            return "the process that reads pages did not start. Close other programs, and read the file again."
        case Fate.CRASHED:
            by = f" ({lost.signal_name})" if lost.signal_name else ""
            return f"the program that decodes it broke down on it{by}. Save it as JPEG or PNG, or scan it again."
