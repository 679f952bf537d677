"""A key changed after printing is detected by its seal code in every case tried."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.build import build_kit
from kit.chance_source import SeededChance
from kit.errors import KitError
from kit.keys import Key, is_sealed, seal_code
from kit.record import Kit, opened_keys
from tests.kit import samples
from tests.kit.kept import PASSPHRASE, as_kept

KIT = "K7Q4M2"
KIT_ID = st.text("0123456789ABCDEFGHJKMNPQRSTVWXYZ", min_size=6, max_size=6)
SALT = st.binary(min_size=16, max_size=16)
ORDERS = st.integers(3, 5).flatmap(lambda n: st.permutations(list(range(1, n + 1)))).map(tuple)


@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_every_other_order_of_every_key_is_detected(glasses: int) -> None:
    """All pairs of a sealed and a told order: 36, 576 and 14,400 of them; only the n! equal ones are accepted."""
    orders = list(permutations(range(1, glasses + 1)))
    seals = {order: seal_code(KIT, 1, order, bytes(range(16))) for order in orders}
    accepted = [
        (sealed, told)
        for sealed, told in product(orders, orders)
        if is_sealed(KIT, 1, glasses, told, bytes(range(16)), seals[sealed])
    ]
    assert accepted == [(order, order) for order in orders]


@settings(deadline=None, max_examples=300)
@given(ORDERS, SALT, st.integers(1, 9999), KIT_ID, st.data())
def test_whatever_is_changed_is_detected(key: Key, salt: bytes, taster: int, kit: str, data: st.DataObject) -> None:
    """One of kit, taster, order, salt and seal, or several of them."""
    glasses = len(key)
    sealed = (kit, taster, key, salt, seal_code(kit, taster, key, salt))
    told = (
        data.draw(st.one_of(st.just(kit), KIT_ID)),
        data.draw(st.one_of(st.just(taster), st.integers(1, 9999))),
        data.draw(st.one_of(st.just(key), st.permutations(list(key)).map(tuple))),
        data.draw(st.one_of(st.just(salt), SALT, st.sampled_from(one_bit_off(salt)))),
        data.draw(st.one_of(st.just(sealed[4]), st.text("0123456789ABCDEF", min_size=16, max_size=16))),
    )
    kit_told, taster_told, key_told, salt_told, seal_told = told
    assert is_sealed(kit_told, taster_told, glasses, key_told, salt_told, seal_told) == (told == sealed)


@settings(deadline=None)
@given(ORDERS, SALT, st.lists(st.integers(-1, 9), max_size=8).map(tuple))
def test_what_is_no_order_is_never_accepted_though_its_seal_be_right(key: Key, salt: bytes, told: Key) -> None:
    if sorted(told) != sorted(key):
        assert not is_sealed(KIT, 1, len(key), told, salt, seal_code(KIT, 1, told, salt))


def test_a_shifted_border_between_the_parts_makes_no_other_seal_agree() -> None:
    """Taster 1 with key 1,2,3 and taster 11 with key 2,3 … would be one text if the parts were only strung together."""
    salt = bytes(range(16))
    seals = {
        seal_code(kit, taster, key, salt)
        for kit, taster, key in (
            ("K7Q4M2", 1, (1, 2, 3)),
            ("K7Q4M2", 11, (2, 3)),
            ("K7Q4M2", 1, (12, 3)),
            ("K7Q4M21", 1, (2, 3)),
            ("K7Q4M", 21, (1, 2, 3)),
        )
    }
    assert len(seals) == 5


@pytest.mark.parametrize("kept", ["masked", "passphrase"])
def test_keys_that_change_places_in_the_record_are_detected(kept: str) -> None:
    """Every swap of two tasters' keys, with their seal codes and without them."""
    session = samples.a_session(3, names=tuple("ABCDEF"))
    kit = as_kept(build_kit(session, SeededChance(3)), kept)
    for one in range(6):
        for other in range(one):
            whole = list(kit.sealed)
            whole[one], whole[other] = whole[other], whole[one]
            alone = list(kit.sealed)
            alone[one] = replace(kit.sealed[other], seal=kit.seals[one])
            alone[other] = replace(kit.sealed[one], seal=kit.seals[other])
            for swapped in (whole, alone):
                refused(replace(kit, sealed=tuple(swapped)))
            for place, seal in ((one, kit.seals[other]), (other, kit.seals[one])):
                seals_alone = list(kit.sealed)
                seals_alone[place] = replace(seals_alone[place], seal=seal)
                refused(replace(kit, sealed=tuple(seals_alone)))


@pytest.mark.parametrize("kept", ["masked", "passphrase"])
def test_the_keys_of_another_kit_are_detected(kept: str) -> None:
    session = samples.a_session(3)
    one, other = (as_kept(build_kit(session, SeededChance(seed)), kept) for seed in (1, 2))
    refused(replace(one, sealed=other.sealed, lock=other.lock))
    refused(replace(one, id=other.id))


def refused(kit: Kit) -> None:
    with pytest.raises(KitError, match=r"not the one that was sealed|is damaged|The passphrase is not the one"):
        opened_keys(kit, PASSPHRASE)


def one_bit_off(salt: bytes) -> list[bytes]:
    return [
        bytes(octet ^ (1 << bit if at == place else 0) for at, octet in enumerate(salt))
        for place in (0, 7, 15)
        for bit in (0, 7)
    ]
