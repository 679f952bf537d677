"""Keys, seal codes and the sealed form: what binds, what tells nothing, what is refused."""

from __future__ import annotations

from base64 import b32encode, b64decode, b64encode
from dataclasses import replace
from hashlib import sha256
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.build import build_kit
from kit.chance_source import SeededChance, SystemChance
from kit.errors import KitError
from kit.keys import Key, draw_key, grouped, open_key, seal_code, seal_key
from tests.kit import samples

KIT, SALT = "K7Q4M2", bytes(range(16))

RFC_4648 = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Base 32 without I, L, O and U, after Crockford [memory]."""

keys = st.integers(3, 5).flatmap(lambda n: st.permutations(list(range(1, n + 1)))).map(tuple)


def test_a_seal_is_eighty_bits_of_sha_256_in_base_32() -> None:
    """DESIGN, Paper. Base 32 by the standard library's RFC 4648, its alphabet put into Crockford's."""
    digest = sha256(b"facedown-seal/1|K7Q4M2|12|3,1,2|" + SALT).digest()
    expected = b32encode(digest[:10]).decode().translate(str.maketrans(RFC_4648, CROCKFORD))
    assert len(expected) == 16
    assert seal_code(KIT, 12, (3, 1, 2), SALT) == expected


def test_seals_of_all_orders_differ_and_so_do_those_of_other_kits_tasters_and_salts() -> None:
    seals = {seal_code(KIT, 1, order, SALT) for order in permutations(range(1, 6))}
    seals |= {seal_code(KIT, 2, (1, 2, 3, 4, 5), SALT), seal_code("K7Q4M3", 1, (1, 2, 3, 4, 5), SALT)}
    seals |= {seal_code(KIT, 1, (1, 2, 3, 4, 5), SALT[:-1] + b"\0")}
    assert len(seals) == 120 + 3


def test_a_seal_is_printed_in_groups_of_four() -> None:
    assert grouped("0123456789ABCDEF") == "0123-4567-89AB-CDEF"


@given(keys, st.binary(min_size=16, max_size=16), st.integers(1, 9999), st.integers(0, 2**32))
def test_a_sealed_key_opens_to_what_was_sealed(key: Key, salt: bytes, taster: int, seed: int) -> None:
    sealed = seal_key(KIT, taster, key, salt, SeededChance(seed))
    opened = open_key(KIT, taster, len(key), sealed)
    assert opened.places == dict(zip("ABCDE", key, strict=False))
    assert (opened.taster, opened.salt, opened.seal) == (taster, salt.hex(), sealed.seal)
    # Whoever has the opened sheet can check the seal that was printed before the tasting.
    assert seal_code(KIT, taster, tuple(opened.places.values()), bytes.fromhex(opened.salt)) == sealed.seal


def test_the_sealed_form_does_not_show_the_key() -> None:
    """The same key sealed again looks unlike: nothing to compare, nothing to read off."""
    masked = {seal_key(KIT, 1, (3, 1, 2), SALT, SystemChance()).masked for _ in range(50)}
    assert len(masked) == 50
    plain = bytes((3, 1, 2)).ljust(8, b"\0") + SALT
    assert all(b64decode(text) != plain and SALT not in b64decode(text) for text in masked)


@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_every_changed_byte_of_the_sealed_form_is_noticed(glasses: int) -> None:
    sealed = seal_key(KIT, 1, tuple(range(glasses, 0, -1)), SALT, SeededChance(1))
    octets = bytearray(b64decode(sealed.masked))
    for place in range(len(octets)):
        if glasses <= place < 8:
            continue  # the filling between key and salt, which stands for nothing
        octets[place] ^= 1
        with pytest.raises(KitError, match="not the one that was sealed"):
            open_key(KIT, 1, glasses, replace(sealed, masked=b64encode(bytes(octets)).decode()))
        octets[place] ^= 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"seal": "0" * 16}, "not the one that was sealed"),
        ({"nonce": "00" * 16}, "not the one that was sealed"),
        ({"nonce": "not hex"}, "damaged"),
        ({"masked": "not base 64!"}, "damaged"),
        ({"masked": ""}, "not the one that was sealed"),
        ({"masked": b64encode(bytes(7)).decode()}, "not the one that was sealed"),
        ({"masked": "AAAA\u00e9"}, "damaged"),
        ({"seal": "\u00e9" * 16}, "not the one that was sealed"),
    ],
)
def test_a_sealed_key_that_was_changed_is_refused_in_a_sentence(changes: dict[str, str], sentence: str) -> None:
    sealed = seal_key(KIT, 1, (3, 1, 2), SALT, SeededChance(1))
    with pytest.raises(KitError, match=rf"The key of taster 1 in kit K7Q4M2 is .*{sentence}"):
        open_key(KIT, 1, 3, replace(sealed, **changes))


@pytest.mark.parametrize(("kit", "taster", "glasses"), [("K7Q4M3", 1, 3), (KIT, 2, 3), (KIT, 1, 4), (KIT, 1, 5)])
def test_a_sealed_key_opens_only_as_its_own_kit_and_taster(kit: str, taster: int, glasses: int) -> None:
    sealed = seal_key(KIT, 1, (3, 1, 2), SALT, SeededChance(1))
    with pytest.raises(KitError):
        open_key(kit, taster, glasses, sealed)


def test_a_key_and_its_salt_are_drawn_apart() -> None:
    key, salt = draw_key(5, SeededChance(3), "1")
    assert sorted(key) == [1, 2, 3, 4, 5]
    assert len(salt) == 16
    assert draw_key(4, SeededChance(3), "1")[1] == salt


def test_own_keys_differ_between_tasters_and_every_salt_is_its_own() -> None:
    kit = build_kit(samples.a_session(names=tuple(f"Taster {n}" for n in range(40))), SeededChance(5))
    opened = [open_key(kit.id, number, 5, sealed) for number, sealed in enumerate(kit.sealed, start=1)]
    assert len({tuple(key.places.values()) for key in opened}) > 20
    assert len({key.salt for key in opened}) == len({key.seal for key in opened}) == 40


def test_a_shared_key_is_one_key_under_salts_of_its_own() -> None:
    kit = build_kit(samples.a_session(keys="shared"), SeededChance(5))
    opened = [open_key(kit.id, number, 5, sealed) for number, sealed in enumerate(kit.sealed, start=1)]
    assert len({tuple(key.places.values()) for key in opened}) == 1
    assert len({key.salt for key in opened}) == len({key.seal for key in opened}) == len(opened) == 3
    assert len({sealed.nonce for sealed in kit.sealed}) == 3


def test_a_hand_sitting_has_no_key() -> None:
    assert build_kit(samples.a_session(shuffle="hand"), SeededChance(5)).sealed == ()
