"""Opened key sheets, printed and photographed: the key is told, if it is the one that was sealed, else why not."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray
from PIL import Image

from kit.chance_source import SeededChance
from kit.drawing import Modules
from kit.errors import ExitCode
from kit.key_code import KEY_CODE_MODULES, key_code_matrix
from kit.key_sheets import key_sheets
from kit.keys import OpenedKey
from kit.pdf import render
from kit.record import opened_keys
from kit.session import Paper, Shuffle
from kit.sheet_layout import SheetLayout, Square
from kit.shell import main
from scanner.identify import KEY_ALONE
from scanner.kits import KitOnFile, from_kit
from scanner.opened_key import KEY_CODE_UNREADABLE, NO_KEY_CODE
from scanner.read_picture import read_picture
from scanner.read_pile import read_files
from scanner.reading import OpenedReading, Outcome, PageReading, PictureReading
from scanner.rehearsal.camera import CONDITIONS
from tests.kit import samples
from tests.kit.kept import lay_down, truth_of
from tests.kit.rendering import by_pdfium

Gray = NDArray[np.uint8]

DPI = 200.0
PX_PER_MM = DPI / 25.4


class Shown:
    """A picture in memory, decoded at half its size first where it is large."""

    source, source_page = "key.jpg", 1

    def __init__(self, image: Gray) -> None:
        self._image = image

    def gray(self, least_long_px: int) -> Gray:
        if max(self._image.shape) < 2 * least_long_px:
            return self._image
        return np.asarray(cv2.resize(self._image, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), np.uint8)


@cache
def page_of(glasses: int = 5, paper: Paper = "A4", shuffle: Shuffle = "host", taster: int = 1) -> Gray:
    """Return a taster's key sheet as pdfium draws it."""
    pdf = samples.printed(glasses, paper, shuffle).files["keys.pdf"]
    return by_pdfium(pdf, DPI, pages=range(taster - 1, taster))[0]


@cache
def kit_of(glasses: int = 5, paper: Paper = "A4", shuffle: Shuffle = "host") -> KitOnFile:
    printed = samples.printed(glasses, paper, shuffle)
    return from_kit(printed.kit, printed.layout)


def read(image: Gray, kit: KitOnFile) -> PictureReading:
    return read_picture(Shown(image), {kit.id: kit})


def opened(reading: PictureReading) -> OpenedReading:
    assert isinstance(reading, OpenedReading), reading
    return reading


def key_code(layout: SheetLayout) -> Square:
    assert layout.key_code is not None
    return layout.key_code


def area_of(square: Square, by_mm: float = 0.0) -> tuple[slice, slice]:
    """Return the rows and columns of a square on a page, and so far around it."""
    first, last = -by_mm, square.side_mm + by_mm
    rows = slice(round((square.y_mm + first) * PX_PER_MM), round((square.y_mm + last) * PX_PER_MM))
    return rows, slice(round((square.x_mm + first) * PX_PER_MM), round((square.x_mm + last) * PX_PER_MM))


@pytest.mark.parametrize("shuffle", ["host", "twin"])
@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_a_printed_key_sheet_is_read_back(glasses: int, paper: Paper, shuffle: Shuffle) -> None:
    kit = kit_of(glasses, paper, shuffle)
    found = opened(read(page_of(glasses, paper, shuffle), kit))
    truth = truth_of(samples.printed(glasses, paper, shuffle))[0]
    assert (found.kit, found.taster, found.outcome, found.reason) == (kit.id, 1, Outcome.READ, None)
    assert (found.places, found.salt) == (truth.places, truth.salt)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_it_may_lie_any_way_round(quarters: int) -> None:
    found = opened(read(np.ascontiguousarray(np.rot90(page_of(), quarters)), kit_of()))
    assert found.places == truth_of(samples.printed(5))[0].places


@pytest.mark.parametrize(
    "condition",
    ["creased", "fax-200", "feeder-150", "photocopied", "photo-chat", "photo-tilted", "photo-bent", "folded"],
)
def test_folds_scanners_and_telephones_do_not_hide_it(condition: str) -> None:
    """`photo-chat` is 1,600 px; `creased` and `folded` show the folds in thirds by which the key was closed."""
    for seed, taster in ((1, 1), (2, 2)):
        picture = CONDITIONS[condition](page_of(taster=taster), PX_PER_MM, np.random.default_rng(seed))
        found = opened(read(picture, kit_of()))
        truth = truth_of(samples.printed(5))[taster - 1]
        assert (found.taster, found.places, found.salt) == (taster, truth.places, truth.salt)


def test_a_stain_over_the_keys_code_is_refused_with_what_to_do() -> None:
    page = page_of().copy()
    rows, columns = area_of(key_code(samples.printed(5).layout.pages[-1]))
    page[rows, columns][: (rows.stop - rows.start) // 2] = 60
    found = opened(read(page, kit_of()))
    assert (found.outcome, found.reason) == (Outcome.UNREADABLE, KEY_CODE_UNREADABLE)
    assert (found.places, found.salt) == (None, None)


def test_anothers_key_in_its_place_is_not_the_key_that_was_sealed() -> None:
    """The code of taster 2 glued over that of taster 1."""
    page = page_of().copy()
    area = area_of(key_code(samples.printed(5).layout.pages[-1]), by_mm=2.9)
    page[area] = page_of(taster=2)[area]
    refused(read(page, kit_of()), 1)


@pytest.mark.parametrize("change", ["order", "salt"])
def test_a_sheet_printed_with_another_key_is_not_the_key_that_was_sealed(change: str) -> None:
    """With the sheet's own codes right, as by somebody who has the kit's folder."""
    kit, keys = samples.printed(5).kit, list(truth_of(samples.printed(5)))
    numbers = list(keys[0].places.values())
    numbers[0], numbers[1] = numbers[1], numbers[0]
    other = replace(keys[0], places=dict(zip("ABCDE", numbers, strict=True)))
    changed = other if change == "order" else replace(keys[0], salt="00" * 16)
    sheet = next(key_sheets(kit, SeededChance(1), [changed]))
    refused(read(by_pdfium(render([sheet.page], "key"), DPI)[0], kit_of()), 1)


def test_no_scramble_is_taken_for_a_key() -> None:
    """Even a real code of another key, where the scramble is: it is not beside the key, and not sealed."""
    kit = samples.printed(5).kit
    sheet = next(key_sheets(kit, SeededChance(1)))
    other = key_code_matrix(OpenedKey(1, {"A": 5, "B": 4, "C": 3, "D": 2, "E": 1}, "11" * 16, ""))
    scrambled = [e for e in sheet.page.own if isinstance(e, Modules) and len(e.rows) > KEY_CODE_MODULES]
    own = tuple(e for e in sheet.page.own if e not in scrambled)
    decoys = tuple(Modules(e.x_mm + 2.25, e.y_mm + 2.25, 18.75, other) for e in scrambled)
    page = replace(sheet.page, own=own + decoys)
    found = opened(read(by_pdfium(render([page], "key"), DPI)[0], kit_of()))
    assert found.places == opened_keys(kit)[0].places


def test_the_key_sheet_of_another_kit_is_foreign() -> None:
    found = read(page_of(), kit_of(3))
    assert isinstance(found, PageReading)
    assert found.outcome is Outcome.FOREIGN
    assert found.reason == f"it is a sheet of kit {kit_of().id}, which was not given"


def test_a_kit_printed_before_keys_had_a_code_says_so() -> None:
    kit = kit_of()
    sheets = {name: replace(layout, key_code=None) for name, layout in kit.sheets.items()}
    found = opened(read(page_of(), replace(kit, sheets=sheets)))
    assert (found.outcome, found.reason) == (Outcome.UNREADABLE, NO_KEY_CODE)


def test_a_key_without_its_sheets_codes_is_nobodys() -> None:
    """A photograph of the lower left part alone: whose key it is stands at the other corners."""
    square = key_code(samples.printed(5).layout.pages[-1])
    found = read(np.ascontiguousarray(page_of()[area_of(square, by_mm=6.0)]), kit_of())
    assert isinstance(found, PageReading)
    assert (found.outcome, found.reason) == (Outcome.UNREADABLE, KEY_ALONE)


def test_files_of_opened_keys_give_entries_of_the_reading(tmp_path: Path) -> None:
    """FORMATS, section 4; through files, and back in again for scoring and unsealing."""
    kit = lay_down(samples.printed(5), tmp_path / "kit", "paper")
    for taster in (1, 2):
        Image.fromarray(page_of(taster=taster)).save(tmp_path / f"{taster}.png", dpi=(DPI, DPI))
    arguments = ["--kit", tmp_path / "kit", "--json", tmp_path / "reading.json", tmp_path / "1.png", tmp_path / "2.png"]
    result = CliRunner().invoke(main, ["read", "--jobs", "1", *map(str, arguments)])
    assert result.exit_code == ExitCode.DONE
    assert result.stdout.count("it is the key that was sealed") == 2
    entry = json.loads((tmp_path / "reading.json").read_text("utf-8"))
    truth = truth_of(samples.printed(5))
    assert entry["pages"] == []
    assert [
        {name: one[name] for name in ("source_page", "kit", "taster", "places", "salt")} for one in entry["opened"]
    ] == [
        {"source_page": 1, "kit": kit.id, "taster": key.taster, "places": key.places, "salt": key.salt}
        for key in truth[:2]
    ]
    for key in truth[:2]:
        order = "".join(map(str, key.places.values()))
        assert order not in "".join(result.stdout.split()), "whoever settles claims should not have the key before them"
    unsealed = CliRunner().invoke(main, ["unseal", str(tmp_path / "kit"), "--reading", str(tmp_path / "reading.json")])
    assert unsealed.exit_code == ExitCode.LOOK
    assert f"no opened key sheet of {samples.NAMES[2]}" in unsealed.stderr


def test_a_refused_key_sheet_is_left_to_look_at(tmp_path: Path) -> None:
    lay_down(samples.printed(5), tmp_path / "kit")
    page = page_of().copy()
    page[area_of(key_code(samples.printed(5).layout.pages[-1]))] = 255
    Image.fromarray(page).save(tmp_path / "1.png")
    result = CliRunner().invoke(
        main, ["read", "--jobs", "1", "--kit", str(tmp_path / "kit"), "--json", "-", str(tmp_path / "1.png")]
    )
    assert result.exit_code == ExitCode.LOOK
    (entry,) = json.loads(result.stdout)["opened"]
    assert (entry["outcome"], entry["places"], entry["salt"]) == ("unreadable", None, None)
    assert entry["reason"] in result.stderr


def test_each_picture_gives_one_entry(tmp_path: Path) -> None:
    Image.fromarray(page_of()).save(tmp_path / "key.png")
    kit = kit_of()
    (entry,) = read_files([tmp_path / "key.png"], {kit.id: kit}, jobs=1)
    assert opened(entry).source_page == 1


def refused(reading: PictureReading, taster: int) -> None:
    found = opened(reading)
    assert (found.taster, found.outcome, found.places, found.salt) == (taster, Outcome.UNREADABLE, None, None)
    assert found.reason is not None
    assert found.reason.startswith("it is not the key that was sealed")
