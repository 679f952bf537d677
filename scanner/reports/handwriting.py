"""What a taster wrote on the note sheets: from an archive's cut-outs, or cut from the pictures that were read."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from kit.codes import ROLE_DIGITS, sheet_id
from kit.sheet_layout import SheetLayout
from scanner.page_tasks import Listed, ListPages, PageRead, Task, unread
from scanner.read_pile import each_page
from scanner.reading import Outcome, PageReading, Reading
from scanner.reports.slip import Slip
from scanner.reports.slip_drink import Hands

Writing = Callable[[str], Mapping[str, bytes]]
"""From a sheet's id to the pictures of its writing areas, PNG by field; empty where there are none."""


def hands_of(slip: Slip, writing: Writing) -> Hands:
    """Return what was written of each drink in both rounds; of round two only where it may be shown where it stood."""
    sitting = slip.sitting
    one, two = (writing(sheet_id(sitting.kit, sitting.number, ROLE_DIGITS[role])) for role in ("notes-1", "notes-2"))
    from scanner.reports.hand_pictures import printable_hand

    def hand(found: Mapping[str, bytes], glass: int | str | None) -> bytes | None:
        png = None if glass is None else found.get(f"remarks.{glass}")
        return None if png is None else printable_hand(png)

    return {drink.coaster: (hand(one, drink.coaster), hand(two, drink.place)) for drink in slip.drinks}


@contextlib.contextmanager
def writing_in_archive(folder: Path) -> Iterator[Writing]:
    """Give the writing that an archive keeps.

    Raises
    ------
    StorageError
        If there is no archive, or it cannot be read.
    """
    from scanner.archive.database import archive_at
    from scanner.archive.readings import writing_on

    with archive_at(folder) as archive:

        def writing(sheet: str) -> dict[str, bytes]:
            # A cut-out that is gone is left out; `archive verify` is there to miss it.
            return {field: path.read_bytes() for field, path in writing_on(archive, sheet).items() if path.is_file()}

        yield writing


def writing_in_pictures(readings: Mapping[str, Reading], sheets: Mapping[str, SheetLayout]) -> Writing:
    """Return the writing in the pictures that readings name, where these are still there.

    A picture is looked for where its reading says it is, then beside the reading's own file. `sheets` has the layouts
    by sheet id.
    """
    # Without the marks, which writing is not: those of a pile take much memory.
    pages = {
        page.sheet: (replace(page, marks=()), path)
        for name, reading in reversed(tuple(readings.items()))
        for page in reversed(reading.pages)
        if page.outcome is Outcome.READ and page.sheet and page.source_page and (path := _found(page.source, name))
    }

    def writing(sheet: str) -> dict[str, bytes]:
        found = pages.get(sheet)
        return {} if found is None or sheet not in sheets else _cut(*found, sheets[sheet])

    return writing


def _found(source: str, reading: str) -> Path | None:
    """Return where a picture is: as named, or relative to the reading's folder."""
    folder = Path(reading).parent
    return next((path for path in (Path(source), folder / source, folder / Path(source).name) if path.is_file()), None)


def _cut(page: PageReading, path: Path, layout: SheetLayout) -> dict[str, bytes]:
    wanted = {str(path): (page.source_page or 0,)}
    return {
        one.field: one.png
        for read in each_page([path], 1, _CutWork(page, layout), unread, only=wanted)
        for one in read.cutouts
        if one.kind == "writing"
    }


@dataclass(frozen=True, slots=True)
class _CutWork:
    """What a worker does: it cuts a page out as it was read before."""

    page: PageReading
    layout: SheetLayout

    def __call__(self, task: Task) -> Listed | PageRead:
        from scanner.archive.cut_outs import cut_outs
        from scanner.page_worker import listed, look_at

        if isinstance(task, ListPages):
            return listed(task)
        return look_at(task, lambda image: PageRead(self.page, cut_outs(image, self.page, self.layout)), unread)
