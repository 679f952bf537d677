"""The code beside the key: what it says, and what is none."""

from __future__ import annotations

from hashlib import sha256

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.codes import ALPHABET, base32, decode
from kit.key_code import KEY_CODE_MODULES, key_code_matrix, key_in, key_text
from kit.keys import Key, OpenedKey

ORDERS = st.integers(3, 5).flatmap(lambda n: st.permutations(list(range(1, n + 1)))).map(tuple)


def opened(key: Key, salt: bytes) -> OpenedKey:
    return OpenedKey(1, dict(zip("ABCDE", key, strict=False)), salt.hex(), "")


KEY_TEXT = key_text(opened((3, 1, 2), bytes(range(16))))


@given(ORDERS, st.binary(min_size=16, max_size=16))
def test_what_is_said_is_understood(key: Key, salt: bytes) -> None:
    text = key_text(opened(key, salt))
    assert key_in(text) == (key, salt)
    assert len(text) == 31
    assert set(text) <= set(ALPHABET)
    assert decode(text) is None, "it is no code of a sheet or a coaster"


@given(st.binary(min_size=16, max_size=16))
def test_it_always_fits_a_version_2_code(salt: bytes) -> None:
    """ISO/IEC 18004: 17 + 4 · 2 modules; table 7 has 38 alphanumeric characters at level M."""
    rows = key_code_matrix(opened((5, 4, 3, 2, 1), salt))
    assert {len(row) for row in rows} == {len(rows)} == {25} == {KEY_CODE_MODULES}


@settings(max_examples=5, deadline=None)
@given(ORDERS, ORDERS, st.binary(min_size=16, max_size=16))
def test_the_order_is_told_with_the_whole_salt_alone(key: Key, other: Key, salt: bytes) -> None:
    """Every order agrees with every text but for the salt: what is seen of the order's characters tells nothing."""
    told = key_text(opened(key, salt))[1:5]
    fitting = next(
        candidate
        for number in range(2**20)
        if key_text(opened(other, candidate := number.to_bytes(16, "big")))[1:5] == told
    )
    assert key_in("K" + told + key_text(opened(other, fitting))[5:]) == (other, fitting)


@pytest.mark.parametrize("numbers", ["00000", "12000", "31100", "31020", "31400", "65000", "99999", "31206", "03120"])
def test_no_order_is_no_key(numbers: str) -> None:
    salt = bytes(range(16))
    mask = int.from_bytes(sha256(b"facedown-key-code/1|" + salt).digest()[:2], "big")
    text = "K" + base32(int(numbers) ^ mask, 4) + base32(int.from_bytes(salt, "big"), 26)
    assert key_in(text) is None
    assert key_in("K" + base32(31200 ^ mask, 4) + text[5:]) == ((3, 1, 2), salt)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "K",
        "K" + "0" * 29,
        "K" + "0" * 31,
        "X" + KEY_TEXT[1:],
        "k" + KEY_TEXT[1:],
        KEY_TEXT[:-1] + "I",
        KEY_TEXT[:5] + "Z" * 26,
        "F7Q4M2000110000000AA",
    ],
)
def test_other_texts_are_no_keys(text: str) -> None:
    """Too short, too long, of another kind, with a letter outside the alphabet, a salt of more than 128 bits."""
    assert key_in(KEY_TEXT) is not None
    assert key_in(text) is None
