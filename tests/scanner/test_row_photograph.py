"""Photographs of turned coasters: the right order in whatever way the picture is held, or a reason that helps."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from kit.codes import Code, CodeKind, encode, matrix
from kit.house import house_secret
from scanner.code_readers import PYZBAR, ZXING, find_with
from scanner.kits import KitOnFile
from scanner.read_picture import read_picture
from scanner.read_pile import read_files
from scanner.read_sheet import read_sheet
from scanner.reading import Outcome, TurnedReading
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.row_photograph import Piece
from scanner.rehearsal.trial import Held
from scanner.row_photograph import RowFinding, read_row
from scanner.why_not_found import BLANK
from tests.rows.course import try_hazard, try_row
from tests.rows.hazards import HAZARDS
from tests.scanner.rows import HOUSE, a_kit, picture, pieces
from tests.scanner.second_reader import require_second_reader

ORDER = (4, 1, 5, 2, 3)
KIT, FACES = a_kit()
KITS = {KIT.id: KIT}


def read(laid: tuple[Piece, ...], kits: dict[str, KitOnFile] | None = None) -> RowFinding:
    finding = read_row(picture(laid), KITS if kits is None else kits)
    assert finding is not None
    return finding


def refused(laid: tuple[Piece, ...], kits: dict[str, KitOnFile] | None = None) -> tuple[Outcome, str]:
    finding = read(laid, kits)
    assert finding.order is None
    assert finding.reason is not None
    return finding.outcome, finding.reason


def put(laid: tuple[Piece, ...], place: int, piece: Piece) -> tuple[Piece, ...]:
    return (*laid[:place], piece, *laid[place + 1 :])


def blank(piece: Piece) -> Piece:
    return replace(piece, face=np.full_like(piece.face, 235))


@pytest.mark.parametrize("glasses", [3, 4, 5])
@pytest.mark.parametrize("rotation_deg", [0.0, 77.0, 180.0, 271.0])
def test_the_order_is_read_from_the_card_on_however_the_picture_is_held(glasses: int, rotation_deg: float) -> None:
    kit, faces = a_kit(glasses=glasses)
    order = tuple(number for number in ORDER if number <= glasses)
    image = picture(pieces(faces, order, taster=2), rotation_deg=rotation_deg, tilt_deg=18.0, azimuth_deg=40.0)
    assert read_row(image, {kit.id: kit}) == RowFinding(Outcome.READ, None, kit.id, 2, order)


@pytest.mark.parametrize("seed", range(6))
def test_every_label_may_be_turned_by_any_angle(seed: int) -> None:
    order = tuple(int(number) for number in np.random.default_rng(seed).permutation(5) + 1)
    assert read(pieces(FACES, order, seed=seed)).order == order


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_camera_s_orientation_is_heeded(tmp_path: Path, orientation: int) -> None:
    """EXIF orientation (TIFF 6.0, tag 274): 1 upright, 3, 6 and 8 turned, 2, 4, 5 and 7 mirrored as well."""
    image = picture(pieces(FACES, ORDER, taster=3))
    undo = {2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180, 4: Image.Transpose.FLIP_TOP_BOTTOM}
    undo |= {5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_90, 7: Image.Transpose.TRANSVERSE}
    undo |= {8: Image.Transpose.ROTATE_270}
    stored = Image.fromarray(image)
    if orientation in undo:
        stored = stored.transpose(undo[orientation])
    exif = Image.Exif()
    exif[274] = orientation
    file = io.BytesIO()
    stored.save(file, "JPEG", quality=90, exif=exif)
    (tmp_path / "row.jpg").write_bytes(file.getvalue())
    [row] = read_files([tmp_path / "row.jpg"], KITS, 1)
    assert isinstance(row, TurnedReading)
    assert (row.outcome, row.kit, row.taster, row.order) == (Outcome.READ, KIT.id, 3, ORDER)
    assert (row.source, row.source_page) == (str(tmp_path / "row.jpg"), 1)


def test_a_chat_s_reduced_copy_is_read(tmp_path: Path) -> None:
    image = picture(pieces(FACES, ORDER), chat_px=1600, chat_quality=60)
    cv2.imwrite(str(tmp_path / "row.jpg"), image)
    [row] = read_files([tmp_path / "row.jpg"], KITS, 1)
    assert isinstance(row, TurnedReading)
    assert row.order == ORDER


def test_a_mirrored_picture_is_refused() -> None:
    """Both readers read mirrored codes without a word; the order would be right, and the sides would not."""
    image = np.ascontiguousarray(picture(pieces(FACES, ORDER))[:, ::-1])
    finding = read_row(image, KITS)
    assert finding is not None
    assert finding.order is None
    assert "mirrored" in (finding.reason or "")


def test_no_row_end_card() -> None:
    outcome, reason = refused(pieces(FACES, ORDER)[1:])
    assert outcome is Outcome.UNREADABLE
    assert "no row-end card can be seen" in reason


def test_two_row_end_cards() -> None:
    laid = pieces(FACES, ORDER)
    beyond = replace(laid[0], face=FACES.cards[2], centre_mm=(600.0, 0.0))
    assert "more than one row-end card" in refused((*laid, beyond))[1]
    assert "more than one row-end card" in refused((*laid, replace(beyond, face=FACES.cards[1])))[1]


def test_a_card_within_the_row() -> None:
    laid = pieces(FACES, ORDER)
    card, other = laid[0], laid[2]
    swapped = put(put(laid, 0, replace(other, centre_mm=card.centre_mm)), 2, replace(card, centre_mm=other.centre_mm))
    assert "does not lie at an end" in refused(swapped)[1]


def test_a_card_at_the_right_end_shows_by_its_arrow() -> None:
    laid = pieces(FACES, ORDER)
    assert "points away from the coasters" in refused((*laid[1:], replace(laid[0], centre_mm=(600.0, 0.0))))[1]


@pytest.mark.parametrize("card_turn_deg", [-80.0, -35.0, 35.0, 80.0])
def test_a_card_laid_askew_is_no_matter(card_turn_deg: float) -> None:
    laid = pieces(FACES, ORDER)
    assert read(put(laid, 0, replace(laid[0], turn_deg=card_turn_deg))).order == ORDER


@pytest.mark.parametrize("place", [1, 3, 5])
def test_a_missing_label_is_named(place: int) -> None:
    laid = pieces(FACES, ORDER)
    for without in (laid[:place] + laid[place + 1 :], put(laid, place, blank(laid[place]))):
        outcome, reason = refused(without)
        assert outcome is Outcome.UNREADABLE
        assert f"coaster {ORDER[place - 1]} is missing, or its code cannot be read" in reason


def test_a_doubled_number_is_named() -> None:
    laid = pieces(FACES, ORDER)
    assert "coaster 4 is there more than once" in refused(put(laid, 3, replace(laid[3], face=FACES.coasters[4])))[1]


def test_coasters_of_another_kit() -> None:
    other, faces = a_kit(seed=2)
    outcome, reason = refused(pieces(faces, ORDER))
    assert outcome is Outcome.FOREIGN
    assert f"they are of kit {other.id}, which was not given" in reason
    laid = pieces(FACES, ORDER)
    outcome, reason = refused(put(laid, 2, replace(laid[2], face=faces.coasters[1])))
    assert outcome is Outcome.FOREIGN
    assert f"there is one of kit {other.id} among them" in reason
    both = {**KITS, other.id: other}
    assert "are in one row" in refused(put(laid, 2, replace(laid[2], face=faces.coasters[1])), both)[1]


def test_a_larger_flight_s_coaster() -> None:
    small, small_faces = a_kit(glasses=3, house=HOUSE)
    laid = pieces(small_faces, (3, 1, 5))
    assert "coaster 5 is in it, and the sitting has 3 glasses" in refused(laid, {small.id: small})[1]


def test_a_copied_code() -> None:
    forged = face_saying(encode(Code(CodeKind.COASTER, KIT.id, 2), bytes(16)))
    laid = pieces(FACES, ORDER)
    outcome, reason = refused(put(laid, 4, replace(laid[4], face=forged)))
    assert outcome is Outcome.FOREIGN
    assert "its check does not match" in reason


def test_a_taster_whom_the_kit_does_not_have() -> None:
    card = face_saying(encode(Code(CodeKind.ROW_END, KIT.id, 9), KIT.secret))
    laid = pieces(FACES, ORDER)
    outcome, reason = refused(put(laid, 0, replace(laid[0], face=card)))
    assert outcome is Outcome.FOREIGN
    assert "taster 9's, whom kit" in reason


def test_kits_by_post_have_no_coasters() -> None:
    twin = replace(KIT, shuffle="twin")
    outcome, reason = refused(pieces(FACES, ORDER), {KIT.id: twin})
    assert outcome is Outcome.FOREIGN
    assert "goes by post in vials and has no coasters" in reason


def test_a_label_apart_from_the_row() -> None:
    laid = pieces(FACES, ORDER)
    x, y = laid[3].centre_mm
    assert "coaster 5 does not lie in one line" in refused(put(laid, 3, replace(laid[3], centre_mm=(x, y + 130.0))))[1]


def test_a_gap_with_room_for_one_more() -> None:
    laid = pieces(FACES, ORDER)
    moved = tuple(
        replace(piece, centre_mm=(piece.centre_mm[0] + 100.0 * (place > 2), piece.centre_mm[1]))
        for place, piece in enumerate(laid)
    )
    assert "between coaster 1 and coaster 5 there is room for one more coaster" in refused(moved)[1]


def test_labels_upon_each_other() -> None:
    laid = tuple(replace(piece, turn_deg=0.0) for piece in pieces(FACES, ORDER))
    x, y = laid[2].centre_mm
    reason = refused(put(laid, 3, replace(laid[3], centre_mm=(x + 48.0, y))))[1]
    assert "coaster 1 and coaster 5 lie upon each other" in reason


def test_another_program_s_code_beside_the_row_does_not_count() -> None:
    laid = pieces(FACES, ORDER)
    bottle = Piece(face_saying("A BOTTLE OF SOMEONES"), (250.0, 90.0), 12.0, True)
    assert read((*laid, bottle)).order == ORDER


def test_a_sheet_beside_the_row_is_refused() -> None:
    sheet = face_saying(encode(Code(CodeKind.SHEET, KIT.id, 1, 3), KIT.secret))
    laid = (*pieces(FACES, ORDER), Piece(sheet, (250.0, 90.0), 12.0, True))
    assert "a sheet and coasters" in refused(laid)[1]


def test_a_row_in_dim_light_is_no_blank_page() -> None:
    """The sheets' reader sees hardly any contrast in it, and looks no further."""
    dim = Held(picture(pieces(FACES, ORDER), white=62.0, black=42.0, fill=0.3, table_level=200.0))
    assert read_sheet(dim, KITS).reason == BLANK
    reading = read_picture(dim, KITS)
    assert isinstance(reading, TurnedReading)
    assert reading.order == ORDER


def test_a_picture_without_a_label_is_no_row() -> None:
    assert read_row(picture([blank(piece) for piece in pieces(FACES, ORDER)]), KITS) is None


def test_a_house_row_belongs_to_the_only_sitting_with_its_taster() -> None:
    kit, faces = a_kit(house=HOUSE)
    later, later_faces = a_kit(seed=2, house=HOUSE)
    assert all(np.array_equal(faces.coasters[number], later_faces.coasters[number]) for number in faces.coasters)
    laid = pieces(faces, ORDER, taster=2)
    assert read(laid, {kit.id: kit}) == RowFinding(Outcome.READ, None, kit.id, 2, ORDER)
    assert read(laid, {later.id: later}) == RowFinding(Outcome.READ, None, later.id, 2, ORDER)
    outcome, reason = refused(laid, {kit.id: kit, later.id: later})
    assert outcome is Outcome.UNREADABLE
    assert "do not say of which sitting they are" in reason
    without_her = replace(later, house_cards={})
    assert read(laid, {kit.id: kit, later.id: without_her}).kit == kit.id
    outcome, reason = refused(laid, {later.id: without_her})
    assert outcome is Outcome.FOREIGN
    assert "of nobody in the kit given" in reason
    outcome, reason = refused(laid, KITS)
    assert outcome is Outcome.FOREIGN
    assert f"a house set {HOUSE}, which no kit given uses" in reason


def test_a_house_code_under_another_key_is_refused() -> None:
    kit, faces = a_kit(house=HOUSE)
    forged = face_saying(encode(Code(CodeKind.HOUSE_COASTER, HOUSE, 5), house_secret("K7Q4M3")))
    laid = pieces(faces, ORDER)
    assert "its check does not match" in refused(put(laid, 3, replace(laid[3], face=forged)), {kit.id: kit})[1]


@pytest.mark.parametrize("number", range(10))
@pytest.mark.parametrize("pixels", ["12", "chat"])
def test_simulated_rows_are_read_right_or_refused(number: int, pixels: str) -> None:
    """A slice of `python -m tests.rows`, which counts two thousand of each kind."""
    tried = try_row(number, "chat" if pixels == "chat" else "12")
    assert tried.verdict == "right", tried


@pytest.mark.parametrize("number", range(len(HAZARDS)))
def test_rows_that_tell_no_order_are_refused(number: int) -> None:
    tried = try_hazard(number, "chat")
    assert tried.verdict == "refused", tried


@pytest.mark.parametrize("seed", range(4))
def test_both_readers_find_the_same_codes_in_the_same_places(seed: int, pytestconfig: pytest.Config) -> None:
    """zxing-cpp and zbar share no code: what zbar reads of a row, zxing-cpp reads too, and at the same place."""
    require_second_reader(pytestconfig)
    image = picture(pieces(FACES, ORDER, seed=seed), rotation_deg=40.0 * seed)
    one, other = (
        {code.text: np.array(code.centre_px) for code in find_with(reader, image)} for reader in (ZXING, PYZBAR)
    )
    assert len(one) == 6
    assert one.keys() >= other.keys()
    assert len(other) >= 4
    side_px = 33.6 * 1600 * 0.9 / 560
    assert all(np.linalg.norm(one[text] - other[text]) < 0.1 * side_px for text in other)


def face_saying(text: str) -> Gray:
    """Return a label's face with a code of this text."""
    modules = np.where(np.array(matrix(text)), 0, 255).astype(np.uint8)
    code = cv2.resize(modules, (403, 403), interpolation=cv2.INTER_NEAREST)
    face = np.full((720, 720), 255, np.uint8)
    face[80:483, 158:561] = code
    return face
