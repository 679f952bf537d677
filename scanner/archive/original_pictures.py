"""Pictures of the pages of an original, made by a worker: a decoder that breaks down costs that picture alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from kit.sheet_layout import SheetLayout
from scanner.archive.sheet_picture import SheetPicture, sheet_picture
from scanner.page_tasks import Listed, ListPages, Task
from scanner.read_pile import each_page


@dataclass(frozen=True, slots=True)
class OriginalPicture:
    """A page's picture; None where it cannot be had. `page` is its number in the file, from 1, None for all of it."""

    page: int | None
    picture: SheetPicture | None


def original_pictures(path: Path, layouts: Mapping[int, SheetLayout | None]) -> Iterator[OriginalPicture]:
    """Yield the pictures of some pages of a file, in order; a file that cannot be opened has one, of no page.

    Parameters
    ----------
    layouts
        By page, the sheet that is sought in its picture; None where it is no sheet.
    """
    yield from each_page([path], 1, _PictureWork(layouts), _none, only={str(path): layouts.keys()})


@dataclass(frozen=True, slots=True)
class _PictureWork:
    layouts: Mapping[int, SheetLayout | None]

    def __call__(self, task: Task) -> Listed | OriginalPicture:
        from scanner.page_worker import listed, look_at

        if isinstance(task, ListPages):
            return listed(task)
        page = task.source_page
        return look_at(task, lambda image: OriginalPicture(page, sheet_picture(image, self.layouts[page])), _none)


def _none(_source: str, source_page: int | None, _reason: str) -> OriginalPicture:
    return OriginalPicture(source_page, None)
