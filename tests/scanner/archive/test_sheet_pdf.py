"""A sheet's PDF: looked at by poppler, pypdf, lcms and, where it is installed, by a validator of PDF/A."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms
from pypdf import PdfReader

from kit.record import layout_of
from scanner.archive.bag_sheets import write_sheets
from scanner.archive.database import archive_at
from scanner.archive.gray_profile import gray_profile
from scanner.archive.sheet_pdf import PlacedText, SheetPage, write_sheet_pdf
from scanner.archive.sheet_picture import SheetPicture, sheet_picture
from scanner.archive.sheet_words import sheet_page
from scanner.archive.store import kit_folder
from scanner.page_image import PageImage
from tests.outside_programs import left_out
from tests.scanner.archive.bags import WRITTEN, facedown
from tests.scanner.archive.pile import KIT

JARS = Path(os.environ.get("FACEDOWN_JARS", "/usr/share/java"))
NEEDED = ("preflight", "pdfbox2", "fontbox2", "xmpbox", "commons-logging", "commons-io", "javax.activation", "jaxb-api")
has_preflight = shutil.which("java") is not None and all((JARS / f"{name}.jar").exists() for name in NEEDED)

poppler = pytest.mark.skipif(left_out("pdftotext"), reason="poppler is missing")


def pdf_of(exported: Path, sheet: str) -> Path:
    return exported / "data" / "sheets" / KIT / f"{sheet}.pdf"


def text_of(pdf: Path) -> str:
    return subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, check=True).stdout.decode()


def written(page: SheetPage, path: Path) -> Path:
    with path.open("wb") as file:
        write_sheet_pdf(file, page)
    return path


@poppler
def test_a_sheets_text_is_found_by_a_program_of_other_people(exported: Path) -> None:
    text = text_of(pdf_of(exported, f"{KIT}-0007-1"))
    with archive_at(exported / "data" / "archive", frozen=True) as archive:
        marks = archive.connection.execute(
            "SELECT field, option FROM marks JOIN sheets ON sheets.id = marks.sheet "
            "WHERE sheets.sheet = ? AND superseded_by IS NULL AND state = 'marked'",
            (f"{KIT}-0007-1",),
        ).fetchall()
    words = [option for field, option in marks if field.startswith("words.")]
    strengths = [f"{field.split('.')[1]} {option}" for field, option in marks if field.startswith("scale.")]
    lines = text.splitlines()
    assert len(words) > 10
    assert not [word for word in set(words) if lines.count(word) < words.count(word)]
    assert not [one for one in set(strengths) if lines.count(one) < strengths.count(one)]
    assert {"Taster 7: Kofi", f"Sheet {KIT}-0007-1: notes, round one", WRITTEN, "and moss"} <= set(lines)
    assert "pear" not in "".join(line for line in lines if line not in words)


@poppler
def test_claims_are_in_the_text(exported: Path) -> None:
    text = text_of(pdf_of(exported, f"{KIT}-0008-3"))
    assert [line for line in text.splitlines() if "=" in line] == ["A=4", "B=5", "C=1", "D=2", "E=3"]
    assert "Taster 8: Ada Lindqvist" in text


@pytest.mark.skipif(left_out("pdftoppm"), reason="poppler is missing")
def test_the_picture_is_as_the_sheet_was_printed(exported: Path, tmp_path: Path) -> None:
    """The black squares in its corners lie where layout.json has them, whatever the camera did."""
    for sheet in (f"{KIT}-0007-3", f"{KIT}-0008-1"):
        layout = layout_of(kit_folder(exported / "data" / "archive", KIT)).sheet(sheet)
        assert layout is not None
        target = tmp_path / sheet
        command = ["pdftoppm", "-r", "127", "-gray", "-singlefile", "-png", str(pdf_of(exported, sheet)), str(target)]
        subprocess.run(command, check=True)
        gray = np.asarray(Image.open(target.with_suffix(".png")).convert("L"), np.float64)
        assert gray.shape == pytest.approx((layout.height_mm * 5, layout.width_mm * 5), abs=1.5)
        paper = np.median(gray)
        for x_mm, y_mm in layout.edge_marks:
            half = layout.edge_mark_mm / 4
            rows, columns = (slice(round((at - half) * 5), round((at + half) * 5) + 1) for at in (y_mm, x_mm))
            assert gray[rows, columns].mean() < 0.6 * paper, (sheet, x_mm, y_mm)


def test_nothing_but_gray_and_embedded_fonts_is_in_it(exported: Path) -> None:
    """ISO 19005-2: output intent 6.2.3, no transparency 6.2.10, fonts embedded 6.2.11.4, metadata 6.6.4."""
    for path in sorted((exported / "data" / "sheets" / KIT).iterdir()):
        reader = PdfReader(path)
        root: Any = reader.trailer["/Root"]
        [intent] = root["/OutputIntents"]
        assert intent["/S"] == "/GTS_PDFA1"
        assert intent["/DestOutputProfile"].get_data() == gray_profile()
        metadata = reader.xmp_metadata
        assert metadata is not None
        assert (metadata.pdfaid_part, metadata.pdfaid_conformance) == ("2", "B")
        assert metadata.dc_title == {"x-default": f"Sheet {path.stem}: " + _role(path.stem)}
        assert reader.trailer["/ID"]
        assert not reader.is_encrypted
        page: Any = reader.pages[0]
        assert len(reader.pages) == 1
        assert "/Group" not in page
        assert not {"/ExtGState", "/Pattern", "/Shading"} & page["/Resources"].keys()
        [picture] = page["/Resources"]["/XObject"].values()
        assert picture["/ColorSpace"] == "/DeviceGray"
        assert not {"/SMask", "/Mask", "/Interpolate"} & picture.get_object().keys()
        for font in page["/Resources"]["/Font"].values():
            descriptor = font["/DescendantFonts"][0]["/FontDescriptor"]
            assert descriptor["/FontFile2"].get_data()
        assert b" 3 Tr" in page.get_contents().get_data()


def _role(sheet: str) -> str:
    return {"1": "notes, round one", "2": "notes, round two", "3": "claims"}[sheet[-1]]


@pytest.mark.skipif(not has_preflight, reason="Apache PDFBox Preflight is missing (Debian: libpdfbox2-java)")
def test_a_validator_of_pdf_a_1b_objects_to_nothing_that_pdf_a_2b_does_not_allow(exported: Path) -> None:
    """Preflight knows part 1 alone. CIDSet is asked for there; ISO 19005-2, 6.2.11.4.2, leaves it out if one likes."""
    classpath = ":".join(str(JARS / f"{name}.jar") for name in NEEDED)
    pdfs = [str(path) for path in sorted((exported / "data" / "sheets" / KIT).iterdir())][:2]
    for pdf in pdfs:
        command = ["java", "-Xmx400m", "-cp", classpath, "org.apache.pdfbox.preflight.Validator_A1b", pdf]
        told = subprocess.run(command, capture_output=True, check=False)
        codes = [
            line.split(" ", 1)[0] for line in told.stdout.decode().splitlines() + told.stderr.decode().splitlines()
        ]
        errors = sorted(code for code in codes if code[:1].isdigit())
        assert errors == ["3.1.11", "7.11.2"], told


def test_another_library_reads_the_profile_as_the_tone_curve_of_srgb() -> None:
    """lcms, through Pillow: gray by this profile is the same number of red, green and blue in its own sRGB."""
    profile = ImageCms.ImageCmsProfile(io.BytesIO(gray_profile()))
    assert profile.profile.xcolor_space.strip() == "GRAY"
    transform = ImageCms.buildTransform(profile, ImageCms.createProfile("sRGB"), "L", "RGB")
    ramp = Image.fromarray(np.arange(256, dtype=np.uint8)[None, :])
    shown = np.asarray(ImageCms.applyTransform(ramp, transform), int)
    assert np.abs(shown - np.arange(256)[None, :, None]).max() <= 1


class Blank:
    """A picture in which there is no sheet to be found."""

    def gray(self, least_long_px: int) -> NDArray[np.uint8]:
        return np.full((4000, 3000), 255, np.uint8)


@poppler
def test_a_picture_in_which_the_sheet_is_not_found_is_shown_as_given_and_its_words_stand_in_lines(
    exported: Path, tmp_path: Path
) -> None:
    with archive_at(exported / "data" / "archive", frozen=True) as archive:
        row = archive.connection.execute("SELECT * FROM sheets WHERE sheet = ?", (f"{KIT}-0008-3",)).fetchone()
        layout = layout_of(kit_folder(archive.folder, KIT)).sheet(f"{KIT}-0008-3")
        assert layout is not None
        picture = sheet_picture(PageImage("a.jpg", 1, (3000, 4000), Blank()), layout)
        page = sheet_page(archive.connection, row, layout, picture)
    assert (picture.is_flat, max(picture.width_px, picture.height_px)) == (False, 1782)
    assert (page.width_mm, round(page.height_mm)) == (210.0, 280)
    lines = text_of(written(page, tmp_path / "a.pdf")).splitlines()
    assert {"Taster 8: Ada Lindqvist", "place A, claim: A=4", "place A, how sure: A: sure"} <= set(lines)


@poppler
def test_an_erased_tasters_sheets_keep_their_crosses_and_lose_picture_name_and_handwriting(
    kept: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(kept, tmp_path / "archive"))
    assert facedown("archive", "erase", "--archive", folder, "--yes", "kofi").exit_code == 0
    for sheet in (f"{KIT}-0008-1", f"{KIT}-0008-3"):
        facedown("archive", "take-back", "--archive", folder, sheet)
    with archive_at(folder) as archive:
        assert dict(write_sheets(archive, tmp_path / "sheets")) == {f"{KIT}-0007-{page}": False for page in (1, 2, 3)}
    texts = [text_of(path) for path in sorted((tmp_path / "sheets").rglob("*.pdf"))]
    assert all("Taster 7: (erased)" in text and "There is no picture" in text for text in texts)
    assert "glass 1, words: " in texts[0]
    assert not [word for word in ("Kofi", "kofi", WRITTEN) if word in "".join(texts)]


@poppler
def test_without_a_picture_the_words_are_seen(tmp_path: Path) -> None:
    page = SheetPage("Sheet", "Sitting", 210.0, 297.0, None, (PlacedText("純米 sake, Søren", 20, 30, 10),))
    pdf = written(page, tmp_path / "a.pdf")
    assert "純米 sake, Søren" in text_of(pdf)
    read: Any = PdfReader(pdf).pages[0]
    assert b" 0 Tr" in read.get_contents().get_data()
    assert "/XObject" not in read["/Resources"]


@poppler
def test_a_character_that_no_font_has_a_shape_for_is_a_question_mark(tmp_path: Path) -> None:
    """ISO 19005-2, 6.2.11.8: no text may use the glyph .notdef, unseen text neither."""
    page = SheetPage("S", "S", 100.0, 100.0, None, (PlacedText("kind \U0001f376 regards", 20, 30, 10),))
    assert "kind ? regards" in text_of(written(page, tmp_path / "a.pdf"))


def test_the_same_page_gives_the_same_bytes(tmp_path: Path) -> None:
    jpeg = io.BytesIO()
    Image.new("L", (60, 80), 200).save(jpeg, "JPEG")
    page = SheetPage("a < b & c", "é", 60.0, 80.0, SheetPicture(jpeg.getvalue(), 60, 80, True), ())
    first = written(page, tmp_path / "a.pdf").read_bytes()
    assert first == written(page, tmp_path / "b.pdf").read_bytes()
    metadata = PdfReader(tmp_path / "a.pdf").xmp_metadata
    assert metadata is not None
    assert metadata.dc_title == {"x-default": "a < b & c"}
