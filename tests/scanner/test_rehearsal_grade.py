"""Grading pictures of a filled rehearsal sheet: what was read, and what the picture was like."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scanner.reading import Outcome, State
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.camera import PhotographSeverity, photograph, scaled
from scanner.rehearsal.grade import Graded, grades_of
from scanner.rehearsal.grade_report import grade_text
from scanner.rehearsal.own_kit import OwnKit, own_kit
from scanner.rehearsal.pattern import pattern
from scanner.rehearsal.prints import PX_PER_MM, printed
from tests.scanner.rehearsal_sheets import filled, scan, session_of


@pytest.fixture(scope="module")
def own() -> OwnKit:
    return own_kit(session_of(3))


@pytest.fixture(scope="module")
def page(own: OwnKit) -> Gray:
    return filled(own)


def graded(path: Path, own: OwnKit) -> Graded:
    [one] = grades_of([path], own)
    return one


@pytest.mark.parametrize("name", ["scan.png", "scan.jpg", "scan.tif", "scan.pdf"])
def test_a_sheet_filled_in_by_its_pattern_is_all_right(own: OwnKit, page: Gray, tmp_path: Path, name: str) -> None:
    one = graded(scan(page, tmp_path / name), own)
    assert (one.reason, one.right, one.silent, one.doubtful) == (None, len(own.to_fill.layout.marks), (), ())
    assert one.look is not None
    assert one.look.corner_marks == 4
    assert one.look.px_per_mm == pytest.approx(200 / 25.4, rel=0.01)
    assert one.look.boxes_out_of_place == 0
    assert one.look.worst_residual_mm < 0.4


def test_a_box_that_differs_from_the_pattern_is_named_in_the_sheet_s_words(own: OwnKit, tmp_path: Path) -> None:
    asked = pattern(own.to_fill.layout, own.chance)
    forgotten = next(place for place, state in asked.items() if state is State.MARKED and place[0] == "words.2")
    added = next(
        (box.field, box.option)
        for box in own.to_fill.layout.marks
        if box.field == "words.3" and (box.field, box.option) not in asked
    )
    page = filled(own, {forgotten: State.EMPTY, added: State.MARKED})
    one = graded(scan(page, tmp_path / "scan.png"), own)
    told = {(d.mark.field, d.mark.option): (d.asked, d.mark.state) for d in one.silent}
    assert told == {forgotten: (State.MARKED, State.EMPTY), added: (State.EMPTY, State.MARKED)}
    text = " ".join(grade_text([one]).split())
    assert f"glass 2, the word {forgotten[1]} (" in text
    assert "crossed in the pattern, read as empty" in text
    assert f"glass 3, the word {added[1]} (" in text
    assert "the slip is yours" in text


def test_a_sheet_that_is_not_filled_in_is_not_graded(own: OwnKit, tmp_path: Path) -> None:
    [(_, blank)] = printed([own.to_fill])
    one = graded(scan(blank, tmp_path / "blank.png"), own)
    assert (one.boxes, one.silent, one.reading.outcome) == (0, (), Outcome.READ)
    assert one.reason is not None
    assert one.reason.startswith("0 of the pattern's")


def test_another_session_s_sheet_is_a_stranger_s(own: OwnKit, tmp_path: Path) -> None:
    other = own_kit(session_of(4))
    one = graded(scan(filled(other), tmp_path / "other.png"), own)
    assert one.reading.outcome is Outcome.FOREIGN
    assert one.reason is not None
    assert other.kit.id in one.reason
    assert own.kit.id in one.reason


@pytest.mark.parametrize(
    ("content", "source_page"), [(b"", None), (b"no picture", None), (b"\xff\xd8\xff\xe0 cut short", 1)]
)
def test_what_is_no_picture_is_told_in_a_sentence(
    own: OwnKit, tmp_path: Path, content: bytes, source_page: int | None
) -> None:
    (tmp_path / "wrong.jpg").write_bytes(content)
    one = graded(tmp_path / "wrong.jpg", own)
    assert (one.reading.source_page, one.boxes, one.look) == (source_page, 0, None)
    assert one.reason


def test_a_picture_from_too_far_is_told_to_come_closer(own: OwnKit, page: Gray, tmp_path: Path) -> None:
    one = graded(scan(page, tmp_path / "far.png", dpi=60.0), own)
    assert one.reading.outcome is Outcome.UNREADABLE
    assert one.reason is not None
    assert "come closer" in one.reason


@pytest.mark.parametrize("factor", [0.94, 0.97, 1.0, 1.03])
@pytest.mark.parametrize("name", ["scan.png", "scan.pdf"])
def test_a_scan_tells_the_print_scale_by_its_resolution(
    own: OwnKit, page: Gray, tmp_path: Path, name: str, factor: float
) -> None:
    """Against the scale that the page was printed at."""
    look = graded(scan(page, tmp_path / name, factor=factor), own).look
    assert look is not None
    assert look.scale is not None
    assert look.scale.told_by == "resolution"
    assert look.scale.scale == pytest.approx(factor, abs=0.003)
    assert look.scale.is_off is (factor != 1.0)


@pytest.mark.parametrize(("factor", "tilt_deg"), [(0.95, 0.0), (1.0, 20.0), (1.03, 8.0)])
def test_a_photograph_tells_it_by_the_edges_of_the_paper(
    own: OwnKit, page: Gray, tmp_path: Path, factor: float, tilt_deg: float
) -> None:
    rng = np.random.default_rng(5)
    severity = PhotographSeverity(tilt_deg=tilt_deg, fill=0.85, table="wood")
    picture = scaled(page, PX_PER_MM, factor, lambda sheet, px_per_mm: photograph(sheet, px_per_mm, rng, severity))
    Image.fromarray(picture.image).save(tmp_path / "photo.jpg")
    look = graded(tmp_path / "photo.jpg", own).look
    assert look is not None
    assert look.scale is not None
    assert look.scale.told_by == "paper"
    assert look.scale.scale == pytest.approx(factor, abs=0.01)


def test_a_white_scan_without_resolution_does_not_tell_the_scale(own: OwnKit, page: Gray, tmp_path: Path) -> None:
    one = graded(scan(page, tmp_path / "scan.png", states_dpi=False), own)
    assert one.look is not None
    assert one.look.scale is None
    assert "must measure 100 mm" in " ".join(grade_text([one]).split())


def test_a_resolution_that_cannot_be_is_not_believed(own: OwnKit, page: Gray, tmp_path: Path) -> None:
    """Telephones write 72 dots an inch into every photograph."""
    scan(page, tmp_path / "scan.png", states_dpi=False)
    Image.open(tmp_path / "scan.png").save(tmp_path / "photo.jpg", dpi=(72, 72))
    look = graded(tmp_path / "photo.jpg", own).look
    assert look is not None
    assert look.scale is None
