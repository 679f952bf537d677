"""The two QR readers behind one door: what they find, in which order they are asked, and that nothing is raised."""

from __future__ import annotations

import builtins
import sys
from collections.abc import Iterator
from typing import Any

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from kit import codes
from kit.codes import Code, CodeKind
from scanner import code_readers
from scanner.code_readers import (
    PYZBAR,
    READERS,
    ZXING,
    find_codes,
    find_with,
    read_codes,
    read_with,
    readers_in_use,
)
from tests.scanner.drawn_codes import SECRET, TEXT, drawn, modules_of
from tests.scanner.second_reader import SENTENCE, require_second_reader


@pytest.fixture(params=READERS)
def reader(request: pytest.FixtureRequest) -> str:
    """Each reader in turn."""
    if request.param == PYZBAR:
        require_second_reader(request.config)
    return str(request.param)


@pytest.fixture
def without_zbar(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A machine on which importing pyzbar fails as it does where the zbar library is missing."""
    real_import = builtins.__import__

    def refuse(name: str, *arguments: Any, **options: Any) -> Any:
        if name.startswith("pyzbar"):
            raise ImportError("Unable to find zbar shared library")
        return real_import(name, *arguments, **options)

    for module in [name for name in sys.modules if name.startswith("pyzbar")]:
        monkeypatch.delitem(sys.modules, module)
    monkeypatch.setattr(builtins, "__import__", refuse)
    code_readers._pyzbar.cache_clear()
    yield
    code_readers._pyzbar.cache_clear()


@pytest.mark.parametrize("turns", range(4))
def test_a_code_is_read_in_every_rotation(reader: str, turns: int) -> None:
    assert read_with(reader, np.ascontiguousarray(np.rot90(drawn(modules_of(TEXT)), turns))) == (TEXT,)


@pytest.mark.parametrize("angle_deg", [10, 33, 45, 190])
def test_a_code_is_read_aslant(reader: str, angle_deg: float) -> None:
    image = drawn(modules_of(TEXT), 8)
    side = image.shape[0]
    turn = cv2.getRotationMatrix2D((side / 2, side / 2), angle_deg, 0.7)
    slanted = np.asarray(cv2.warpAffine(image, turn, (side, side), borderValue=255), np.uint8)
    assert read_with(reader, slanted) == (TEXT,)


def test_every_kind_of_code_is_read(reader: str) -> None:
    for kind in CodeKind:
        for number in (1, 5, 32**3 - 1):
            text = codes.encode(Code(kind, "0ZV9XT", number, 3), SECRET)
            assert read_with(reader, drawn(modules_of(text))) == (text,)


def test_a_read_only_image_and_a_view_are_read(reader: str) -> None:
    image = drawn(modules_of(TEXT))
    image.setflags(write=False)
    assert read_with(reader, image) == (TEXT,)
    assert read_with(reader, np.dstack([image, image])[:, :, 0]) == (TEXT,)


def test_two_codes_in_one_image_are_told_apart_and_a_doubled_text_is_read_once() -> None:
    other = codes.encode(Code(CodeKind.COASTER, "K7Q4M2", 3), SECRET)
    row = np.hstack([drawn(modules_of(text)) for text in (TEXT, other, TEXT)])
    assert sorted(read_codes(row)) == sorted([TEXT, other])
    assert len(read_codes(row)) == 2
    found = sorted(find_codes(row), key=lambda code: code.centre_px)
    assert [code.text for code in found] == [TEXT, other, TEXT]


def test_where_a_code_lies_is_told_to_half_a_module(reader: str) -> None:
    image = np.full((400, 700), 255, np.uint8)
    code = drawn(modules_of(TEXT), module_px=6)
    image[50 : 50 + len(code), 300 : 300 + len(code)] = code
    (found,) = find_with(reader, image)
    assert found.reader == reader
    low, high = 24, 24 + 21 * 6
    expected = {(300 + x, 50 + y) for x in (low, high) for y in (low, high)}
    assert len(found.corners_px) == 4
    for corner in expected:
        assert min(np.hypot(corner[0] - x, corner[1] - y) for x, y in found.corners_px) < 3
    assert found.centre_px == pytest.approx((300 + 87, 50 + 87), abs=3)


def test_the_first_corner_tells_how_a_code_is_turned() -> None:
    upright = drawn(modules_of(TEXT))
    (found,) = find_with(ZXING, upright)
    assert found.corners_px[0] == pytest.approx((24, 24), abs=3)
    (turned,) = find_with(ZXING, np.ascontiguousarray(np.rot90(upright, -1)))
    assert turned.corners_px[0] == pytest.approx((len(upright) - 24, 24), abs=3)


def test_a_mirrored_code_is_read_too(reader: str) -> None:
    assert read_with(reader, np.ascontiguousarray(drawn(modules_of(TEXT))[:, ::-1])) == (TEXT,)


def test_light_on_dark_is_not_read(reader: str) -> None:
    assert read_with(reader, 255 - drawn(modules_of(TEXT))) == ()


def test_the_second_reader_is_asked_only_where_the_first_found_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def record(name: str, gray: Any) -> tuple[code_readers.FoundCode, ...]:
        asked.append(name)
        return (code_readers.FoundCode(f"by {name}", ((0, 0),) * 4, name),) if gray.any() else ()

    monkeypatch.setattr(code_readers, "find_with", record)
    light, dark = np.ones((9, 9), np.uint8), np.zeros((9, 9), np.uint8)
    assert (read_codes(light), asked) == (("by zxing-cpp",), [ZXING])
    asked.clear()
    assert (read_codes(dark), asked) == ((), [ZXING, PYZBAR])
    asked.clear()
    assert read_codes(light, all_readers=True) == ("by zxing-cpp", "by pyzbar")


def test_both_readers_agree_on_one_code(pytestconfig: pytest.Config) -> None:
    require_second_reader(pytestconfig)
    found = find_codes(drawn(modules_of(TEXT)), all_readers=True)
    assert [(code.reader, code.text) for code in found] == [(ZXING, TEXT), (PYZBAR, TEXT)]


def test_an_empty_text_is_no_code() -> None:
    nothing = code_readers.FoundCode("", ((0, 0),) * 4, ZXING)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(code_readers, "_find_with_zxing", lambda _: [nothing])
        assert find_with(ZXING, np.zeros((9, 9), np.uint8)) == ()


@given(
    gray=arrays.arrays(
        st.sampled_from([np.uint8, np.float64, np.bool_]),
        st.one_of(
            st.tuples(st.integers(0, 40), st.integers(0, 40)),
            st.just((5, 5, 3)),
            st.just((7,)),
        ),
    )
)
@settings(deadline=None)
def test_what_shows_no_code_yields_none_and_raises_nothing(gray: Any) -> None:
    assert read_codes(gray, all_readers=True) == ()


def test_a_reader_that_stumbles_found_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def stumble(_: Any) -> None:
        raise RuntimeError("inside the library")

    monkeypatch.setattr(code_readers, "_find_with_zxing", stumble)
    assert read_with(ZXING, drawn(modules_of(TEXT))) == ()


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    noise = np.random.default_rng(4).integers(0, 256, (300, 300), dtype=np.uint8)
    read_codes(noise, all_readers=True)
    read_codes(drawn(modules_of(TEXT)), all_readers=True)
    captured = capfd.readouterr()
    assert (captured.out, captured.err) == ("", "")


@pytest.mark.usefixtures("without_zbar")
def test_without_zbar_everything_works_on_the_first_reader() -> None:
    first, second = readers_in_use()
    assert (first.name, first.in_use, second.name, second.in_use) == (ZXING, True, PYZBAR, False)
    assert "zbar" in second.reason
    image = drawn(modules_of(TEXT))
    assert read_with(PYZBAR, image) == ()
    assert read_codes(image, all_readers=True) == (TEXT,)


@pytest.mark.usefixtures("without_zbar")
def test_without_zbar_the_tests_with_two_readers_skip_or_fail_as_demanded(
    pytestconfig: pytest.Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.scanner.second_reader._say_once", lambda _: None)
    monkeypatch.delenv("FACEDOWN_DEMAND_ZBAR", raising=False)
    with pytest.raises(pytest.skip.Exception, match="skipped"):
        require_second_reader(pytestconfig)
    assert "skipped" in SENTENCE
    monkeypatch.setenv("FACEDOWN_DEMAND_ZBAR", "1")
    with pytest.raises(pytest.fail.Exception, match="zbar"):
        require_second_reader(pytestconfig)
