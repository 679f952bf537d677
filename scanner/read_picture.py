"""From one page image to one entry of a reading: a sheet's answers, a row of turned coasters, or an opened key."""

from __future__ import annotations

from collections.abc import Mapping

from scanner.identify import KEY, ROW
from scanner.kits import KitOnFile
from scanner.opened_key import read_opened
from scanner.read_sheet import FULL_PX, GrayPage, read_sheet
from scanner.reading import OpenedReading, Outcome, PictureReading, TurnedReading
from scanner.row_photograph import read_row


def read_picture(image: GrayPage, kits: Mapping[str, KitOnFile]) -> PictureReading:
    """Read one page image against the kits given, whatever of a kit it shows.

    Returns
    -------
    PageReading, TurnedReading or OpenedReading
        Nothing that an image shows raises.

    Raises
    ------
    PageError
        From `image.gray` alone, where the file turns out damaged.
    """
    page = read_sheet(image, kits)
    if page.reason == ROW or (page.outcome is Outcome.UNREADABLE and page.sheet is None):
        # A row on a plain table in dim light looks like a blank page at the first glance.
        return _turned(image, kits) or page
    if page.reason == KEY:
        return _opened(image, kits[page.kit or ""], page.taster or 0)
    return page


def _turned(image: GrayPage, kits: Mapping[str, KitOnFile]) -> TurnedReading | None:
    row = read_row(image.gray(FULL_PX), kits)
    if row is None:
        return None
    return TurnedReading(image.source, image.source_page, row.kit, row.taster, row.outcome, row.reason, row.order)


def _opened(image: GrayPage, kit: KitOnFile, taster: int) -> OpenedReading:
    found = read_opened(image.gray(FULL_PX), kit, taster)
    outcome = Outcome.READ if found.reason is None else Outcome.UNREADABLE
    return OpenedReading(
        image.source, image.source_page, kit.id, taster, outcome, found.reason, found.places, found.salt
    )
