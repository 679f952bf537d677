"""What a printed code says: it comes back as it was, and slips, strangers' codes and forgeries are refused."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit import codes
from kit.codes import ALPHABET, CODE_LENGTH, KIT_ID_LENGTH, ROLE_DIGITS, Code, CodeKind

SECRET, OTHER_SECRET = b"the tide at Saltmarsh", b"the tide at Heron Marsh"

kit_ids = st.text(ALPHABET, min_size=KIT_ID_LENGTH, max_size=KIT_ID_LENGTH)
named = st.builds(Code, st.sampled_from(list(CodeKind)), kit_ids, st.integers(0, 32**3 - 1), st.integers(0, 31))
secrets = st.binary(min_size=1, max_size=32)

BODY = range(11)
CHECK = 11
MAC = range(12, CODE_LENGTH)
SAMPLE = Code(CodeKind.SHEET, "K7Q4M2", 1, 1)
SAMPLE_TEXT = codes.encode(SAMPLE, SECRET)


@given(code=named, secret=secrets)
def test_a_code_comes_back_as_it_was(code: Code, secret: bytes) -> None:
    text = codes.encode(code, secret)
    assert len(text) == CODE_LENGTH
    assert set(text) <= set(ALPHABET)
    assert codes.decode(text) == code
    assert codes.is_genuine(text, secret)


@given(one=named, other=named)
def test_different_things_have_different_codes(one: Code, other: Code) -> None:
    assert (codes.encode(one, SECRET) == codes.encode(other, SECRET)) == (one == other)


def test_the_alphabet_has_32_characters_and_none_that_is_misread() -> None:
    """Source: D. Crockford, Base 32: 0–9 and A–Z without I, L, O and U (from memory)."""
    assert len(ALPHABET) == len(set(ALPHABET)) == 32
    assert set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ") - set(ALPHABET) == set("ILOU")
    assert {kind.value for kind in CodeKind} <= set(ALPHABET)


@given(number=st.integers(0, 32**6 - 1))
def test_base_32_is_positional_most_significant_first(number: int) -> None:
    """Source: Python's own `int` of base 32, whose digits run 0–9, A–V."""
    to_python = str.maketrans(ALPHABET, "0123456789ABCDEFGHIJKLMNOPQRSTUV")
    assert int(codes.base32(number, 6).translate(to_python), 32) == number


@pytest.mark.parametrize(("number", "length"), [(-1, 3), (32**3, 3), (1, 0)])
def test_a_number_that_does_not_fit_is_refused(number: int, length: int) -> None:
    with pytest.raises(ValueError, match="does not fit"):
        codes.base32(number, length)


def slips(text: str, places: range | list[int]) -> list[str]:
    """Return every text with one wrong character at one of these places."""
    return [text[:place] + wrong + text[place + 1 :] for place in places for wrong in ALPHABET if wrong != text[place]]


def is_zero_for_z(text: str, slip: str) -> bool:
    """Tell whether a slip takes 0 for Z or Z for 0, which lie 31 apart: the check value counts modulo 31."""
    return any({right, wrong} == {"0", "Z"} for right, wrong in zip(text, slip, strict=True))


@given(code=named)
def test_the_check_value_finds_every_single_slip_but_zero_for_z(code: Code) -> None:
    text = codes.encode(code, SECRET)
    for slip in slips(text, [*BODY, CHECK]):
        if codes.decode(slip) is not None:
            assert is_zero_for_z(text, slip)


def test_the_slips_that_the_check_value_misses_are_one_in_496() -> None:
    """A character is 0 or Z in 2 of 32 cases and becomes the other in 1 of 31 slips: 2 / (32 · 31), by enumeration.

    The kind, F, C or R, is never 0 or Z; this counts a place of the kit, over all its characters and slips.
    """
    missed = total = 0
    for character in ALPHABET:
        text = codes.encode(Code(CodeKind.SHEET, f"K7Q{character}M2", 1, 1), SECRET)
        outcomes = [codes.decode(slip) for slip in slips(text, [4])]
        missed += sum(outcome is not None for outcome in outcomes)
        total += len(outcomes)
    assert (missed, total) == (2, 32 * 31)
    assert total / missed == 496


def test_the_mac_finds_every_single_slip_those_of_zero_and_z_included() -> None:
    code = Code(CodeKind.SHEET, "0ZQ0Z2", 31, 0)
    text = codes.encode(code, SECRET)
    found_by_check = found_by_mac = 0
    for slip in slips(text, range(CODE_LENGTH)):
        if codes.decode(slip) is None:
            found_by_check += 1
        else:
            found_by_mac += 1
            assert not codes.is_genuine(slip, SECRET)
    assert found_by_mac == len(MAC) * 31 + 8  # the MAC's own places, and the eight characters that are 0 or Z
    assert found_by_check == 12 * 31 - 8


@given(code=named, place=st.integers(0, 9))
def test_neighbours_that_change_places_are_found(code: Code, place: int) -> None:
    text = codes.encode(code, SECRET)
    swapped = text[:place] + text[place + 1] + text[place] + text[place + 2 :]
    if swapped != text and codes.decode(swapped) is not None:
        assert {text[place], text[place + 1]} == {"0", "Z"}
        assert not codes.is_genuine(swapped, SECRET)


@given(code=named)
def test_a_code_of_another_secret_is_not_genuine(code: Code) -> None:
    text = codes.encode(code, OTHER_SECRET)
    assert codes.decode(text) == code
    assert not codes.is_genuine(text, SECRET)


@given(code=named, kit=kit_ids)
def test_a_code_whose_kit_was_edited_is_not_genuine_even_with_the_right_check_value(code: Code, kit: str) -> None:
    edited = codes.encode(Code(code.kind, kit, code.number, code.role_digit), OTHER_SECRET)
    forged = edited[:12] + codes.encode(code, SECRET)[12:]
    assert codes.decode(forged) is not None
    assert codes.is_genuine(forged, SECRET) == (kit == code.kit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        SAMPLE_TEXT[:-1],
        SAMPLE_TEXT + "0",
        SAMPLE_TEXT.lower(),
        "I" + SAMPLE_TEXT[1:],
        " " * 20,
        "0" * 20,
        "https://example.org/",
        "純" * 20,
        "\ud800" * 20,
    ],
)
def test_what_is_no_code_of_this_program_names_nothing(text: str) -> None:
    assert codes.decode(text) is None


def test_a_sheets_id_is_kit_taster_and_role() -> None:
    """Source: FORMATS, section 3."""
    assert SAMPLE.sheet == "K7Q4M2-0001-1"
    assert {role: codes.sheet_id("K7Q4M2", 12, digit) for role, digit in ROLE_DIGITS.items()} == {
        "notes-1": "K7Q4M2-0012-1",
        "notes-2": "K7Q4M2-0012-2",
        "match": "K7Q4M2-0012-3",
        "turned": "K7Q4M2-0012-4",
        "key": "K7Q4M2-0012-5",
    }


def test_roles_and_kinds_make_different_codes_of_one_taster() -> None:
    texts = [
        codes.encode(Code(kind, "K7Q4M2", 1, digit), SECRET) for kind, digit in product(CodeKind, ROLE_DIGITS.values())
    ]
    assert len(set(texts)) == len(texts)


@given(code=named)
def test_the_matrix_is_square_and_the_same_each_time(code: Code) -> None:
    text = codes.encode(code, SECRET)
    rows = codes.matrix(text)
    assert [len(row) for row in rows] == [codes.MODULES] * codes.MODULES
    assert rows == codes.matrix(text)
