"""The handwriting that an archive keeps, as reports show it."""

from __future__ import annotations

from pathlib import Path

from scanner.archive.database import Archive
from scanner.archive.readings import writing_on
from scanner.reports.handwriting import writing_in_archive
from scanner.reports.pictures import image_stream
from tests.scanner.archive.pile import KIT


def test_each_glass_has_its_writing_area(archive: Archive) -> None:
    found = writing_on(archive, f"{KIT}-0007-1")
    assert set(found) == {f"remarks.{glass}" for glass in range(1, 6)}
    assert all(path.is_file() for path in found.values())
    assert writing_on(archive, f"{KIT}-0001-1") == {}


def test_a_cut_out_that_is_gone_is_left_out(folder: Path) -> None:
    with writing_in_archive(folder) as writing:
        whole = writing(f"{KIT}-0007-2")
        assert set(whole) == {f"remarks.{place}" for place in "ABCDE"}
        for png in whole.values():
            image_stream(png)
    for cutout in (folder / "cutouts").rglob("*.png"):
        cutout.unlink()
    with writing_in_archive(folder) as writing:
        assert writing(f"{KIT}-0007-2") == {}
