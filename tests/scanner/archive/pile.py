"""A pile of real files for the archive's tests, with what the reader makes of it; read once, then given often.

The files are those of samples/, and copies of them with a comment appended, which are other files of the same picture.
What stands for their readings is said in `pile_of`.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from scanner.archive.add import Added, add_pile
from scanner.archive.database import archive_at
from scanner.archive.settlements import settle
from scanner.kits import KitOnFile, from_kit
from scanner.page_tasks import CutOut, PageRead
from scanner.read_pile import read_and_cut
from scanner.reading import Mark, Outcome, PageReading, PictureReading, State
from scanner.settle import BoxAnswer
from tests.make_samples import SAMPLES

NOW = "2026-12-06T10:00:00+00:00"
KIT = "Q8EA39"
STRANGER = "3NQK8N"
NAMES = ("kofi-match.jpg", "kofi-notes-1.jpg", "kofi-notes-2.jpg", "ada-match.heic", "ada-notes-1.heic")


@dataclass(frozen=True, slots=True)
class Pile:
    """A kit folder, files, and what each gives: readings and cut-outs by the file's name."""

    kit: Path
    files: tuple[Path, ...]
    readings: Mapping[str, tuple[PictureReading, ...]]
    cutouts: Mapping[str, Mapping[int, tuple[CutOut, ...]]]

    def read(self, files: Sequence[Path | str], kits: Mapping[str, KitOnFile], jobs: int) -> Iterator[PageRead]:
        """Stand in for the reader: what was read of these files, and cut out, before."""
        for file in files:
            cutouts = self.cutouts[Path(file).name]
            for one in self.readings[Path(file).name]:
                yield PageRead(replace(one, source=str(file)), cutouts.get(one.source_page or 0, ()))

    def add(self, archive: Path, files: Sequence[Path] | None = None, now: str = NOW) -> list[Added]:
        """Add the pile, or some of it."""
        with archive_at(archive, write=True, create=True) as opened:
            given = self.files if files is None else files
            return list(add_pile(opened, [self.kit], given, now, read=self.read))

    def settle(self, archive: Path) -> None:
        """Let a person settle the doubtful box of `pile_of`."""
        with archive_at(archive, write=True) as opened:
            settle(opened, [BoxAnswer(f"{KIT}-0007-1", *_doubt(self), State.MARKED)], "rhian", NOW)


def pile_of(folder: Path) -> Pile:
    """Print the sample kit into `folder`, read five sample pictures, and copy some for what a pile may hold besides.

    `doubtful.jpg`, a doubt on Kofi's first notes, comes before the picture without; `other.jpg` is his claims with
    another answer, `stranger.jpg` a sheet of a kit that is not there, `dark.jpg` unreadable.
    """
    command = [sys.executable, "-m", "kit.shell", "print", str(SAMPLES / "winter.toml"), "--out", str(folder / "kit")]
    subprocess.run(command, check=True, capture_output=True)
    from kit.record import layout_of, load_kit

    kits = {KIT: from_kit(load_kit(folder / "kit"), layout_of(folder / "kit"))}
    files = [SAMPLES / name for name in NAMES]
    pages = {Path(page.picture.source).name: page for page in read_and_cut(files, kits, 1)}
    read: dict[str, tuple[PictureReading, ...]] = {name: (page.picture,) for name, page in pages.items()}
    cutouts: dict[str, Mapping[int, tuple[CutOut, ...]]] = {name: {1: page.cutouts} for name, page in pages.items()}
    made = {
        "doubtful.jpg": _with_doubt(read["kofi-notes-1.jpg"][0]),
        "other.jpg": _with_other_claim(read["kofi-match.jpg"][0]),
        "stranger.jpg": PageReading(
            "", 1, STRANGER, f"{STRANGER}-0001-1", 1, "notes-1", Outcome.FOREIGN, "it is a sheet of another kit"
        ),
        "dark.jpg": PageReading("", 1, None, None, None, None, Outcome.UNREADABLE, "it is too dark"),
    }
    originals = {"doubtful.jpg": "kofi-notes-1.jpg", "other.jpg": "kofi-match.jpg"}
    for name, reading in made.items():
        source = originals.get(name, "kofi-notes-2.jpg")
        (folder / name).write_bytes((SAMPLES / source).read_bytes() + f"another file: {name}".encode())
        read[name] = (reading,)
        cutouts[name] = cutouts[source] if name in originals else {}
    order = [folder / "doubtful.jpg", *files, *(folder / name for name in made if name != "doubtful.jpg")]
    return Pile(folder / "kit", tuple(order), read, cutouts)


def _doubt(pile: Pile) -> tuple[str, str]:
    [page] = pile.readings["doubtful.jpg"]
    assert isinstance(page, PageReading)
    return next((mark.field, mark.option) for mark in page.marks if mark.state is State.DOUBTFUL)


def _with_doubt(page: PictureReading) -> PageReading:
    assert isinstance(page, PageReading)
    place = next(place for place, mark in enumerate(page.marks) if mark.state is State.MARKED)
    doubt = replace(page.marks[place], state=State.DOUBTFUL, reason="the stroke is faint")
    return replace(page, marks=(*page.marks[:place], doubt, *page.marks[place + 1 :]))


def _with_other_claim(page: PictureReading) -> PageReading:
    """Return the claims with another number at the first place that has one."""
    assert isinstance(page, PageReading)
    field = next(mark.field for mark in page.marks if mark.field.startswith("match.") and mark.state is State.MARKED)
    turned: list[Mark] = []
    for mark in page.marks:
        if mark.field == field:
            was_marked = mark.state is State.MARKED
            mark = replace(mark, state=State.MARKED if _first_empty(page, mark) and not was_marked else State.EMPTY)
        turned.append(mark)
    return replace(page, marks=tuple(turned))


def _first_empty(page: PageReading, mark: Mark) -> bool:
    return mark is next(one for one in page.marks if one.field == mark.field and one.state is State.EMPTY)
