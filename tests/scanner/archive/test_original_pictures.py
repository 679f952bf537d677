"""Pictures of originals: made by a worker, and where that breaks down one picture is missing."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import cv2
import pytest

from kit.record import layout_of
from kit.sheet_layout import SheetLayout
from scanner.archive.original_pictures import OriginalPicture, original_pictures
from tests.make_samples import SAMPLES
from tests.scanner.archive.pile import KIT

SCAN, NOTES = SAMPLES / "kofi-notes-1.jpg", f"{KIT}-0007-1"


class Deadly(dict[int, SheetLayout | None]):
    """Ends the process that looks into it, as a broken decoder does."""

    def __getitem__(self, page: int) -> SheetLayout | None:
        os.kill(os.getpid(), signal.SIGSEGV)
        raise KeyError(page)


def test_a_sheet_is_flat_where_it_is_sought_and_as_given_where_it_is_not(sheet: SheetLayout) -> None:
    [sought], [given] = original_pictures(SCAN, {1: sheet}), original_pictures(SCAN, {1: None})
    assert sought.picture is not None
    assert given.picture is not None
    assert (sought.picture.is_flat, given.picture.is_flat) == (True, False)


def test_this_process_decodes_nothing(sheet: SheetLayout, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("imdecode", "imread"):
        monkeypatch.setattr(cv2, name, None)
    [found] = original_pictures(SCAN, {1: sheet})
    assert found.picture is not None


@pytest.mark.skipif(not hasattr(os, "kill"), reason="this system has no signals")
def test_a_decoder_that_breaks_down_costs_its_picture_alone(sheet: SheetLayout) -> None:
    assert list(original_pictures(SCAN, Deadly({1: None}))) == [OriginalPicture(1, None)]
    [found] = original_pictures(SCAN, {1: sheet})
    assert found.picture is not None


def test_pages_that_are_not_there_have_no_picture(tmp_path: Path) -> None:
    assert list(original_pictures(SCAN, {2: None})) == []
    assert list(original_pictures(tmp_path / "gone.jpg", {1: None})) == [OriginalPicture(None, None)]
    (tmp_path / "cut.jpg").write_bytes(SCAN.read_bytes()[:20])
    assert list(original_pictures(tmp_path / "cut.jpg", {1: None})) == [OriginalPicture(1, None)]


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> SheetLayout:
    from tests.scanner.test_hostile_files import print_sample

    kit = print_sample(tmp_path_factory.mktemp("kit") / "kit")
    return next(page for page in layout_of(kit).pages if page.sheet == NOTES)
