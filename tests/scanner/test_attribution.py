"""A sheet is never credited to another taster, kit or round: a fixed share of `python -m tests.attribution`.

The counting itself is tried with readers and decoders that are wrong on purpose.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kit.codes import Code, CodeKind, encode
from scanner import code_readers, sheet_codes
from scanner.code_readers import PYZBAR, READERS, ZXING, find_with
from scanner.identify import Identified, Stranger, identify
from scanner.locate import Located, locate
from scanner.read_sheet import Gray, read_gray
from scanner.reading import Outcome, PageReading
from tests.attribution import corners, pages, slips, tally
from tests.attribution.corners import try_corner
from tests.attribution.injuries import laid_over
from tests.attribution.kits import LAST, on_file, sheets, strangers
from tests.attribution.pages import PageTried, Verdict, try_page
from tests.scanner.drawn_codes import SECRET as OTHER_SECRET
from tests.scanner.drawn_codes import TEXT, drawn, modules_of
from tests.scanner.pages import KIT, SECRET, code_of, draw, form, kit_of
from tests.scanner.second_reader import require_second_reader

SEED = 20261125
PX_PER_MM = 6.0
SHEET, OTHER = form(), form(taster=2)
KITS = {KIT: kit_of(SHEET, OTHER)}
PAGE, OTHERS = draw(SHEET, px_per_mm=PX_PER_MM), draw(OTHER, px_per_mm=PX_PER_MM)

SMALL_MM = (3.0, 3.0, 3.0, 3.0)
"""Reach of a piece with the code and its quiet zone alone, to the left, upwards, to the right and down."""
CORNER_MM = (12.0, 12.0, 30.0, 30.0)
"""Reach of a piece with the fiducial and edge marks beside the code as well."""


def test_a_fixed_share_of_the_pages_is_never_credited_wrong() -> None:
    tried = [try_page(SEED, number) for number in (1, 7, 11, 12, 14, 15, 16)]
    assert [page for page in tried if page.verdict is Verdict.WRONG] == []
    assert {page.verdict for page in tried} == {Verdict.RIGHT, Verdict.REFUSED}
    assert all(page.picture is None for page in tried)


def test_a_fixed_share_of_the_corners_is_never_taken_for_anothers(pytestconfig: pytest.Config) -> None:
    require_second_reader(pytestconfig)
    tried = [try_corner(SEED, number) for number in range(28)]
    assert [corner for corner in tried if Verdict.WRONG in corner.verdicts or corner.contradicted] == []
    for place in range(len(READERS) + 1):
        assert {corner.verdicts[place] for corner in tried} == {Verdict.RIGHT, Verdict.REFUSED}


def test_no_wrong_character_and_no_edit_makes_a_code_anothers() -> None:
    attacks = slips.attacks(SEED, share=0.01)
    assert {name: accepted for name, (_, accepted) in attacks.items()} == dict.fromkeys(attacks, 0)
    assert attacks["two wrong characters, all"][0] == 20 * 19 // 2 * 31**2
    assert attacks["one wrong character, all"][0] == 15 * 20 * 44


def test_the_kits_on_file_are_alike() -> None:
    """Ids that differ in their last character, one pair by 0 for Z, which the check value cannot tell apart."""
    assert set(on_file()) == {"K7Q4M" + last for last in LAST}
    assert len({sheet.text for sheet in sheets()}) == len(sheets()) == 36 * (6 * 3 + 6 * 4)
    assert all(identify([sheet.text], on_file()) for sheet in sheets()[::100])
    assert not any(isinstance(identify([sheet.text], on_file()), Identified) for sheet in strangers())


@pytest.mark.parametrize("shift_mm", [(1.8, 0.0), (2.5, -1.0), (-3.0, 3.0), (5.0, 4.0), (0.0, -7.0)])
def test_anothers_code_beside_the_place_is_not_credited(shift_mm: tuple[float, float]) -> None:
    assert outcome(laid(shift_mm, hidden=True)) is Outcome.UNREADABLE


@pytest.mark.parametrize("turn_deg", [8.0, -20.0, 90.0, 180.0, 270.0])
def test_anothers_code_turned_in_the_place_is_not_credited(turn_deg: float) -> None:
    assert outcome(laid((0.0, 0.0), turn_deg, hidden=True)) is Outcome.UNREADABLE


@pytest.mark.parametrize(("shift_mm", "turn_deg"), [((2.2, 1.8), 2.2), ((-3.0, 1.5), 0.9), ((0.0, 4.0), 0.0)])
def test_anothers_corner_that_draws_the_geometry_along_is_not_credited(
    shift_mm: tuple[float, float], turn_deg: float
) -> None:
    """Its fiducial and edge marks are taken for the page's, so that its code lies nearly where a code is expected."""
    assert outcome(laid(shift_mm, turn_deg, CORNER_MM, hidden=True)) is Outcome.UNREADABLE


@pytest.mark.parametrize(("shift_mm", "turn_deg"), [((0.0, 0.0), 0.0), ((2.5, 1.0), 0.0), ((6.0, 9.0), 30.0)])
def test_codes_of_two_sheets_are_two_sheets(shift_mm: tuple[float, float], turn_deg: float) -> None:
    finding = read_gray(laid(shift_mm, turn_deg, hidden=False), KITS)
    assert finding.outcome is Outcome.UNREADABLE
    assert "two sheets" in (finding.reason or "")


def test_the_sheets_own_single_code_is_enough() -> None:
    page = PAGE.copy()
    page[: round(40 * PX_PER_MM), round(160 * PX_PER_MM) : round(192 * PX_PER_MM)] = 235
    finding = read_gray(page, KITS)
    assert (finding.outcome, finding.code and finding.code.sheet) == (Outcome.READ, SHEET.sheet)


def test_both_codes_of_a_sheet_that_lies_otherwise_than_thought_are_its_own() -> None:
    located = locate(PAGE, [SHEET])
    assert isinstance(located, Located)
    for shift_mm, expected in ((1.0, (code_of(SHEET),)), (2.5, (code_of(SHEET),)), (4.0, ())):
        astray = np.array([[1.0, 0.0, shift_mm], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
        assert sheet_codes.read_sheet_codes(PAGE, replace(located, mm_to_px=located.mm_to_px @ astray)) == expected


def test_a_coaster_that_lies_on_a_sheet_does_not_matter() -> None:
    coaster = encode(Code(CodeKind.COASTER, KIT, 3), SECRET)
    identified = identify([coaster, code_of(SHEET)], KITS)
    assert isinstance(identified, Identified)
    assert identified.layout == SHEET
    assert isinstance(identify([coaster], KITS), Stranger)


@pytest.mark.parametrize("turns", range(4))
@pytest.mark.parametrize("reader", READERS)
def test_the_corners_of_a_code_tell_how_it_is_turned(reader: str, turns: int, pytestconfig: pytest.Config) -> None:
    if reader == PYZBAR:
        require_second_reader(pytestconfig)
    image = np.full((400, 400), 255, np.uint8)
    code = np.ascontiguousarray(np.rot90(drawn(modules_of(TEXT), 8), -turns))
    image[50 : 50 + len(code), 70 : 70 + len(code)] = code
    (found,) = find_with(reader, image)
    low, high = 32.0, 32.0 + 21 * 8
    clockwise = [(low, low), (high, low), (high, high), (low, high)]
    expected = np.add(clockwise[turns:] + clockwise[:turns], (70.0, 50.0))
    assert np.abs(np.array(found.corners_px) - expected).max() < 4.0


def test_a_micro_code_is_no_code() -> None:
    """zxing-cpp sees five-digit ones in ruined codes; its own writer draws this one."""
    zxingcpp = pytest.importorskip("zxingcpp")
    drawn_code = zxingcpp.create_barcode("62887", zxingcpp.BarcodeFormat.MicroQRCode).to_image(scale=8)
    image = np.pad(np.array(drawn_code), 40, constant_values=255)
    assert [code.text for code in zxingcpp.read_barcodes(image)] == ["62887"]
    assert find_with(ZXING, image) == ()


def test_a_reading_of_another_sheet_is_counted_wrong() -> None:
    truth, other = sheets()[0].layout, sheets()[1].layout
    right = reading(truth.sheet, truth.taster, truth.role)
    there = {truth.sheet}
    assert pages.judged(truth, right, there) is Verdict.RIGHT
    for slip in (
        reading(other.sheet, other.taster, other.role),
        replace(right, kit="K7Q4MZ"),
        replace(right, sheet="K7Q4M0-0001-2"),
        replace(right, taster=2),
        replace(right, role="match"),
    ):
        assert pages.judged(truth, slip, there) is Verdict.WRONG
        assert pages.judged(truth, slip, {truth.sheet, other.sheet}) is Verdict.WRONG
    assert pages.judged(None, right, there) is Verdict.WRONG
    unread = replace(right, outcome=Outcome.UNREADABLE)
    assert pages.judged(truth, unread, there) is Verdict.REFUSED
    assert pages.judged(truth, replace(unread, sheet=None), there) is Verdict.REFUSED
    assert pages.judged(truth, replace(unread, sheet=other.sheet), there) is Verdict.WRONG
    assert pages.judged(truth, replace(unread, sheet=other.sheet), {truth.sheet, other.sheet}) is Verdict.REFUSED


def test_a_page_credited_wrong_shows_in_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    other = sheets()[5].layout
    monkeypatch.setattr(pages, "read_sheet", lambda image, kits: reading(other.sheet, other.taster, other.role))
    page = try_page(SEED, 0)
    assert page.verdict is Verdict.WRONG
    assert page.picture is not None
    assert not tally.is_clean([page], [], {})
    assert any("1 of 1 credited" in line for line in tally.page_table([page]))


def test_a_decoder_that_returns_anothers_text_shows_in_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    other = sheets()[7].text
    real = code_readers.read_with
    monkeypatch.setattr(corners, "read_with", lambda name, gray: (other,) if name == PYZBAR else real(name, gray))
    monkeypatch.setattr(corners, "read_sheet_codes", lambda image, located: (other,))
    tried = [try_corner(SEED, number) for number in (0, 7, 14)]
    assert all(corner.verdicts[1:] == (Verdict.WRONG, Verdict.WRONG) for corner in tried)
    assert all(corner.strays == corner.credible == (other,) for corner in tried)
    assert [corner.contradicted for corner in tried] == [v is Verdict.RIGHT for v, *_ in (c.verdicts for c in tried)]
    assert any(corner.contradicted for corner in tried)
    assert not tally.is_clean([], tried, {})
    assert any("let pass by check value, MAC and record: 3" in line for line in tally.corner_table(tried))


def test_a_text_that_is_accepted_is_counted() -> None:
    genuine, stray = sheets()[3].text, TEXT
    assert slips.accepted(iter([genuine, stray, "NO CODE"])) == (3, 1)
    assert not tally.is_clean([], [], {"anything": (3, 1)})
    assert corners.is_credible(genuine)
    assert not corners.is_credible(stray)
    assert not corners.is_credible(encode(Code(CodeKind.SHEET, "K7Q4M0", 1, 1), OTHER_SECRET))


def test_every_kind_of_page_is_in_the_table() -> None:
    some = [
        PageTried(number, kind, "fax-200", "K7Q4M0-0001-1", None, Outcome.UNREADABLE, "covered", Verdict.REFUSED)
        for number, kind in enumerate(pages.KINDS)
    ]
    table = "\n".join(tally.page_table(some))
    assert all(kind in table for kind in pages.KINDS)
    assert f"{len(some)} refused: covered" in table
    assert tally.is_clean(some, [], {})


def reading(sheet: str, taster: int, role: str) -> PageReading:
    """Return a page read as that sheet."""
    return PageReading("picture", 1, sheet[:6], sheet, taster, role, Outcome.READ, None, ())


def outcome(picture: Gray) -> Outcome:
    """Return what came of a picture of SHEET that must not be credited to OTHER, nor to any sheet without its code."""
    finding = read_gray(picture, KITS)
    assert finding.outcome is not Outcome.READ
    return finding.outcome


def laid(
    shift_mm: tuple[float, float],
    turn_deg: float = 0.0,
    reach_mm: tuple[float, float, float, float] = SMALL_MM,
    *,
    hidden: bool,
) -> Gray:
    """Return the page with a piece of the other sheet over its upper code, and the lower code hidden or not."""
    page = PAGE.copy()
    foot, own, theirs = SHEET.codes[1], SHEET.codes[0], OTHER.codes[0]
    if hidden:
        x, y, side = (round(value * PX_PER_MM) for value in (foot.x_mm, foot.y_mm, foot.side_mm))
        page[y - 6 : y + side + 6, x - 6 : x + side + 6] = 235
    return laid_over(page, OTHERS, PX_PER_MM, own, theirs, turn_deg, np.array(shift_mm), np.array(reach_mm))
