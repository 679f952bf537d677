"""The printed codes against ISO/IEC 18004, through two independent decoders and a third by hand in this file.

Figures of the standard marked so in SOURCES.md, E, were seen in a copy; those said to be from memory are recalled.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from kit import codes
from kit.codes import Code, CodeKind
from scanner.code_readers import PYZBAR, READERS, ZXING, read_with
from tests.scanner.drawn_codes import SECRET, TEXT, drawn, modules_of
from tests.scanner.second_reader import require_second_reader

ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
"""The 45 characters of alphanumeric mode, table 5 (from memory)."""

CODEWORDS, DATA_CODEWORDS, CORRECTABLE = 26, 16, 4
"""Of a version-1 symbol at level M, table 9: 26 codewords, 16 of data, 4 correctable (from memory)."""

Modules = NDArray[np.bool_]


@pytest.fixture(params=READERS)
def reader(request: pytest.FixtureRequest) -> str:
    """Each decoder in turn."""
    if request.param == PYZBAR:
        require_second_reader(request.config)
    return str(request.param)


def texts() -> st.SearchStrategy[str]:
    """Codes of every kind, kit, number and role."""
    kits = st.text(codes.ALPHABET, min_size=codes.KIT_ID_LENGTH, max_size=codes.KIT_ID_LENGTH)
    named = st.builds(Code, st.sampled_from(list(CodeKind)), kits, st.integers(0, 32**3 - 1), st.integers(0, 31))
    return named.map(lambda code: codes.encode(code, SECRET))


def function_modules() -> Modules:
    """Return where a version-1 symbol holds no data: finders with separators, format information, timing (6.3, 7.9)."""
    taken = np.zeros((21, 21), bool)
    taken[:9, :9] = taken[:9, 13:] = taken[13:, :9] = True
    taken[6, :] = taken[:, 6] = True
    return taken


def places_of_codewords() -> list[list[tuple[int, int]]]:
    """Return the eight (row, column) places of each codeword: columns in pairs from the right, up and down (7.7.3)."""
    taken = function_modules()
    places = []
    upwards = True
    for right in (20, 18, 16, 14, 12, 10, 8, 5, 3, 1):
        for row in range(20, -1, -1) if upwards else range(21):
            places += [(row, column) for column in (right, right - 1) if not taken[row, column]]
        upwards = not upwards
    return [places[start : start + 8] for start in range(0, len(places), 8)]


def read_by_hand(modules: Modules) -> str:
    """Decode a version-1 symbol of alphanumeric text without correcting errors (7.4.5, 7.8.2, 7.9)."""
    masks: tuple[Callable[[int, int], int], ...] = (
        lambda i, j: (i + j) % 2,
        lambda i, j: i % 2,
        lambda i, j: j % 3,
        lambda i, j: (i + j) % 3,
        lambda i, j: (i // 2 + j // 3) % 2,
        lambda i, j: i * j % 2 + i * j % 3,
        lambda i, j: (i * j % 2 + i * j % 3) % 2,
        lambda i, j: ((i + j) % 2 + i * j % 3) % 2,
    )
    level_and_mask = int("".join(str(int(bit)) for bit in modules[8, :5]), 2) ^ 0b10101
    assert level_and_mask >> 3 == 0b00  # level M
    is_flipped = masks[level_and_mask & 7]
    bits = "".join(
        str(int(modules[i, j]) ^ (is_flipped(i, j) == 0))
        for codeword in places_of_codewords()[:DATA_CODEWORDS]
        for i, j in codeword
    )
    assert bits[:4] == "0010"  # alphanumeric mode
    count, at, text = int(bits[4:13], 2), 13, ""
    while len(text) + 1 < count:
        pair = int(bits[at : at + 11], 2)
        text += ALPHANUMERIC[pair // 45] + ALPHANUMERIC[pair % 45]
        at += 11
    return text if len(text) == count else text + ALPHANUMERIC[int(bits[at : at + 6], 2)]


def test_a_symbol_of_version_1_has_21_modules_a_side() -> None:
    """17 + 4 · version, seen (SOURCES, E)."""
    assert modules_of(TEXT).shape == (17 + 4, 17 + 4)
    assert codes.MODULES == 21


def test_the_finders_stand_in_three_corners_and_the_timing_patterns_between() -> None:
    """Clauses 6.3.3 and 6.3.5 (from memory)."""
    modules = modules_of(TEXT)
    finder = np.ones((7, 7), bool)
    finder[1:6, 1:6] = False
    finder[2:5, 2:5] = True
    for corner in (modules[:7, :7], modules[:7, -7:], modules[-7:, :7]):
        assert (corner == finder).all()
    assert not modules[7, :8].any()
    assert not modules[:8, 7].any()
    assert (modules[6, 8:13] == [True, False, True, False, True]).all()
    assert (modules[8:13, 6] == [True, False, True, False, True]).all()
    assert modules[13, 8]  # the dark module beside the lower finder


def test_the_symbol_has_room_for_26_codewords() -> None:
    """Table 1: 208 data modules in version 1, no remainder bits (from memory)."""
    assert (~function_modules()).sum() == 208
    assert [len(places) for places in places_of_codewords()] == [8] * CODEWORDS


def test_twenty_alphanumeric_characters_are_the_most_at_level_m() -> None:
    """Table 7, version 1-M: 20 alphanumeric characters (from memory); 4 + 9 + 10 · 11 bits of 16 · 8."""
    assert len(TEXT) == codes.CODE_LENGTH == 20
    assert set(codes.ALPHABET) <= set(ALPHANUMERIC)
    assert 4 + 9 + 10 * 11 <= DATA_CODEWORDS * 8 < 4 + 9 + 10 * 11 + 6
    with pytest.raises(Exception, match=r"(?i)version|overflow"):
        codes.matrix(TEXT + "X")


@given(text=texts())
@settings(max_examples=40, deadline=None)
def test_the_standards_own_procedure_reads_every_code(text: str) -> None:
    assert read_by_hand(modules_of(text)) == text


@given(text=texts(), module_px=st.integers(3, 9))
@settings(max_examples=40, deadline=None)
def test_zxing_reads_every_code(text: str, module_px: int) -> None:
    assert read_with(ZXING, drawn(modules_of(text), module_px)) == (text,)


def test_zbar_reads_every_code(pytestconfig: pytest.Config) -> None:
    require_second_reader(pytestconfig)

    @given(text=texts(), module_px=st.integers(3, 9))
    @settings(max_examples=40, deadline=None)
    def check(text: str, module_px: int) -> None:
        assert read_with(PYZBAR, drawn(modules_of(text), module_px)) == (text,)

    check()


def test_a_quiet_zone_of_four_modules_is_enough_even_between_rules(reader: str) -> None:
    """Quiet zone of 4 modules, seen (SOURCES, E)."""
    image = np.pad(drawn(modules_of(TEXT), quiet_modules=4), 12, constant_values=0)
    image = np.pad(image, 60, constant_values=255)
    assert read_with(reader, image) == (TEXT,)


@pytest.mark.parametrize("damaged", range(CORRECTABLE + 1))
def test_level_m_mends_15_per_cent_of_damaged_codewords(reader: str, damaged: int) -> None:
    """About 15 % at level M, seen (SOURCES, E): 4 of 26. Every module of the codewords chosen is turned over."""
    assert abs(CORRECTABLE / CODEWORDS - 0.15) < 0.01
    random = np.random.default_rng(damaged)
    for _ in range(15):
        modules = modules_of(TEXT)
        for codeword in random.choice(CODEWORDS, damaged, replace=False):
            for place in places_of_codewords()[codeword]:
                modules[place] ^= True
        assert read_with(reader, drawn(modules)) == (TEXT,)


@pytest.mark.parametrize("damaged", [6, 8, 12])
def test_more_damage_than_that_gives_no_text_rather_than_a_wrong_one(reader: str, damaged: int) -> None:
    """10 correction codewords mend 5 at the most (Reed–Solomon: half their number), so 6 and more never come back."""
    random = np.random.default_rng(damaged)
    for _ in range(30):
        modules = modules_of(TEXT)
        for codeword in random.choice(CODEWORDS, damaged, replace=False):
            for place in places_of_codewords()[codeword]:
                modules[place] ^= random.random() < 0.5 or place == places_of_codewords()[codeword][0]
        genuine = [text for text in read_with(reader, drawn(modules)) if codes.decode(text) is not None]
        assert genuine == []
