"""Keys locked with a passphrase, or on paper alone: what opens, what is refused, what the record shows."""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.chance_source import SeededChance, SystemChance
from kit.errors import KitError
from kit.passphrase import COST, Opener, derived, new_lock, opener_of
from kit.record import Kit, kept_on_paper, kept_with_passphrase, load_kit, opened_keys, sealed_as_kept
from tests.kit import samples
from tests.kit.kept import CHEAP, PASSPHRASE, as_kept, lay_down, truth_of, write_kept
from tests.kit.test_record import rewrite

Entry = dict[str, Any]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    lay_down(samples.printed(4), tmp_path / "kit", "passphrase")
    return tmp_path / "kit"


@pytest.fixture
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kit.passphrase.COST", CHEAP)


def test_the_passphrase_opens_what_was_printed(folder: Path) -> None:
    assert opened_keys(load_kit(folder), PASSPHRASE) == truth_of(samples.printed(4))


def test_a_kit_that_is_printed_asks_for_a_cost_that_guessers_feel() -> None:
    """128 MiB a guess: N = 2^17, r = 8 is what the OWASP cheat sheet on password storage asks for at least [memory]."""
    assert COST == 2**17
    kit = kept_with_passphrase(samples.printed(4).kit, PASSPHRASE, SystemChance())
    assert kit.lock is not None
    assert (kit.lock.cost, kit.lock.block, kit.lock.parallel) == (2**17, 8, 1)
    assert opened_keys(kit, PASSPHRASE) == truth_of(samples.printed(4))


@pytest.mark.parametrize(
    "wrong", ["", "  ", PASSPHRASE.upper(), PASSPHRASE + " ", PASSPHRASE[:-1], "x" * 1000, "\ud800"]
)
def test_any_other_passphrase_is_refused_in_a_sentence(folder: Path, wrong: str) -> None:
    with pytest.raises(KitError, match=r"[Tt]he passphrase .*kit .* (not empty|printed with)"):
        opened_keys(load_kit(folder), wrong)


def test_without_a_passphrase_the_ways_to_give_it_are_told(folder: Path) -> None:
    with pytest.raises(KitError, match="are locked with a passphrase") as refusal:
        opened_keys(load_kit(folder))
    for way in ("--passphrase ", "--passphrase-file FILE", "FACEDOWN_PASSPHRASE"):
        assert way in refusal.value.hint


def test_an_empty_passphrase_locks_nothing() -> None:
    for empty in ("", " ", "\t"):
        with pytest.raises(KitError, match="The passphrase is empty"):
            kept_with_passphrase(samples.printed(4).kit, empty, SystemChance())


def test_a_letter_counts_the_same_composed_or_not(cheap: None) -> None:
    """RFC 8265 has normal form C for passwords: some keyboards type é as one character, some as two."""
    kit = kept_with_passphrase(samples.printed(4).kit, "caf\u00e9", SystemChance())
    assert opened_keys(kit, "cafe\u0301") == truth_of(samples.printed(4))


@pytest.mark.parametrize("place", [0, 7, 8, 23, 24, 39], ids=lambda place: f"byte {place}")
def test_damaged_text_is_told_from_a_wrong_passphrase(place: int) -> None:
    kit = as_kept(samples.printed(4).kit, "passphrase")
    text = bytearray(b64decode(kit.sealed[1].locked))
    text[place] ^= 1
    with pytest.raises(KitError, match=r"The key of taster 2 .* is damaged"):
        opened_keys(with_locked(kit, 1, b64encode(bytes(text)).decode()), PASSPHRASE)


@pytest.mark.parametrize("locked", ["", "AAAA", "no base 64!", b64encode(bytes(40)).decode()])
def test_what_is_no_locked_text_is_damaged(locked: str) -> None:
    kit = as_kept(samples.printed(4).kit, "passphrase")
    with pytest.raises(KitError, match=r"The key of taster 2 .* is damaged"):
        opened_keys(with_locked(kit, 1, locked), PASSPHRASE)


def test_no_locked_key_opens_in_anothers_place_or_in_another_kit(cheap: None) -> None:
    kit = as_kept(samples.printed(4).kit, "passphrase")
    first, second, third = kit.sealed
    with pytest.raises(KitError, match=r"The key of taster 1 .* is damaged"):
        opened_keys(replace(kit, sealed=(second, first, third)), PASSPHRASE)
    with pytest.raises(KitError, match="The passphrase is not the one that kit 000000 was printed with"):
        opened_keys(replace(kit, id="000000"), PASSPHRASE)


@pytest.mark.parametrize(
    ("cost", "block", "parallel", "sentence"),
    [
        (2**30, 8, 1, "more memory or time"),
        (2**17, 2**12, 1, "more memory or time"),
        (2**17, 8, 2**20, "more memory or time"),
        (2**62, 2**40, 1, "more memory or time"),
        (0, 8, 1, "in a way that cannot be"),
        (1, 8, 1, "in a way that cannot be"),
        (-2, 8, 1, "in a way that cannot be"),
        (1000, 8, 1, "in a way that cannot be"),
        (2**17, 0, 1, "in a way that cannot be"),
        (2**17, 8, 0, "in a way that cannot be"),
        (2**17, 1, 1, "in a way that cannot be"),
    ],
)
def test_a_hostile_record_neither_fills_the_memory_nor_stops_the_machine(
    folder: Path, cost: int, block: int, parallel: int, sentence: str
) -> None:
    """What cannot be: RFC 7914, section 2 (N a power of two above 1 and below 2^(16·r)); what is too much: ours."""
    rewrite(folder / "kit.json", lambda entry: entry["passphrase"].update(n=cost, r=block, p=parallel), sign=True)
    with pytest.raises(KitError, match=f"(?s)The record of kit .* {sentence}"):
        opened_keys(load_kit(folder), PASSPHRASE)


@pytest.mark.parametrize(
    "edit",
    [
        lambda entry: entry.pop("passphrase"),
        lambda entry: entry.update(passphrase=5),
        lambda entry: entry["passphrase"].pop("salt"),
        lambda entry: entry["passphrase"].update(salt="no hex"),
        lambda entry: entry["passphrase"].update(n="131072"),
        lambda entry: entry["passphrase"].update(n=True),
        lambda entry: entry["passphrase"].update(r=8.0),
        lambda entry: entry["passphrase"].update(p=None),
        lambda entry: entry["passphrase"].update(kdf="none"),
        lambda entry: entry["passphrase"].update(cipher="none"),
        lambda entry: entry["passphrase"].update(check="none"),
        lambda entry: entry["passphrase"]["check"].update(locked="?"),
        lambda entry: entry.update(keys_kept="in the cellar"),
        lambda entry: entry.update(keys_kept=["paper"]),
        lambda entry: entry.update(keys_kept="masked"),
        lambda entry: entry["keys"][0].pop("locked"),
    ],
)
def test_an_incomplete_lock_is_a_sentence(folder: Path, edit: Callable[[Entry], object]) -> None:
    rewrite(folder / "kit.json", edit, sign=True)
    with pytest.raises(KitError, match="the record is incomplete"):
        load_kit(folder)


def test_a_lock_of_another_salt_length_is_refused(folder: Path) -> None:
    rewrite(folder / "kit.json", lambda entry: entry["passphrase"].update(salt="00"), sign=True)
    with pytest.raises(KitError, match="in a way that cannot be"):
        opened_keys(load_kit(folder), PASSPHRASE)


def test_too_little_memory_is_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    class TooSmall:
        def __init__(self, **_: object) -> None:
            raise MemoryError

    monkeypatch.setattr("cryptography.hazmat.primitives.kdf.scrypt.Scrypt", TooSmall)
    with pytest.raises(KitError, match="takes 128 MiB of memory, which this machine does not have"):
        derived("words", bytes(16), 2**17, 8, 1)


@pytest.mark.parametrize("kept", ["masked", "passphrase", "paper"])
def test_a_kit_comes_back_as_it_keeps_its_keys(tmp_path: Path, kept: str) -> None:
    kit = lay_down(samples.printed(4), tmp_path / "kit", kept)
    again = load_kit(tmp_path / "kit")
    assert (again.sealed, again.keys_kept, again.lock, again.seals) == (
        kit.sealed,
        kept,
        kit.lock,
        samples.printed(4).kit.seals,
    )


def test_a_record_of_the_first_version_keeps_its_keys_masked(tmp_path: Path) -> None:
    lay_down(samples.printed(4), tmp_path / "kit")
    rewrite(tmp_path / "kit" / "kit.json", lambda entry: entry.pop("keys_kept"), sign=True)
    assert opened_keys(load_kit(tmp_path / "kit")) == truth_of(samples.printed(4))


def test_a_kit_with_its_keys_on_paper_holds_seal_codes_alone(tmp_path: Path) -> None:
    lay_down(samples.printed(4), tmp_path / "kit", "paper")
    entry = json.loads((tmp_path / "kit" / "kit.json").read_text("utf-8"))
    assert entry["keys_kept"] == "paper"
    assert all(set(key) == {"taster", "seal"} for key in entry["keys"])
    with pytest.raises(KitError, match="keeps no keys, only their seal codes") as refusal:
        opened_keys(load_kit(tmp_path / "kit"), PASSPHRASE)
    assert "facedown read" in refusal.value.hint


@pytest.mark.parametrize("kept", ["passphrase", "paper"])
def test_neither_way_leaves_a_key_or_its_salt_in_the_record(tmp_path: Path, kept: str) -> None:
    lay_down(samples.printed(4), tmp_path / "kit", kept)
    content = (tmp_path / "kit" / "kit.json").read_bytes()
    assert b"masked" not in content
    for key, sealed in zip(truth_of(samples.printed(4)), samples.printed(4).kit.sealed, strict=True):
        plain = bytes(key.places.values()).ljust(8, b"\0") + bytes.fromhex(key.salt)
        for told in (key.salt.encode(), plain, b64encode(plain), sealed.masked.encode()):
            assert told not in content


def test_the_same_keys_locked_again_look_unlike(cheap: None) -> None:
    kits = [kept_with_passphrase(samples.printed(4).kit, PASSPHRASE, SystemChance()) for _ in range(10)]
    assert len({key.locked for kit in kits for key in kit.sealed}) == 30
    assert len({key.nonce for kit in kits for key in kit.sealed}) == 30
    assert len({kit.lock.salt for kit in kits if kit.lock}) == 10


@pytest.mark.parametrize("kept", ["masked", "passphrase", "paper"])
def test_one_more_key_is_kept_as_the_others(tmp_path: Path, kept: str) -> None:
    kit = as_kept(samples.printed(4).kit, kept)
    added = sealed_as_kept(kit, 4, (2, 1, 4, 3), bytes(range(16)), SeededChance(9), PASSPHRASE)
    larger = replace(kit, sealed=(*kit.sealed, added))
    assert larger.seals[:3] == kit.seals
    if kept != "paper":
        assert opened_keys(larger, PASSPHRASE)[3].places == {"A": 2, "B": 1, "C": 4, "D": 3}
    lay_down(samples.printed(4), tmp_path / "kit", kept)
    write_kept(tmp_path / "kit", larger)
    assert load_kit(tmp_path / "kit").sealed == larger.sealed


def test_one_more_key_cannot_be_locked_without_the_passphrase() -> None:
    kit = as_kept(samples.printed(4).kit, "passphrase")
    for wrong in (None, "something else"):
        with pytest.raises(KitError, match="passphrase"):
            sealed_as_kept(kit, 4, (2, 1, 4, 3), bytes(16), SeededChance(9), wrong)


def test_a_hand_sitting_has_nothing_to_lock(cheap: None) -> None:
    kit = samples.printed(3, "A4", "hand").kit
    for kept in (kept_on_paper(kit), kept_with_passphrase(kit, PASSPHRASE, SystemChance())):
        assert opened_keys(kept) == ()


@settings(max_examples=40, deadline=None)
@given(
    st.binary(max_size=64), st.text(min_size=1, max_size=12), st.text(min_size=1, max_size=12), st.integers(0, 2**32)
)
def test_what_is_locked_unlocks_as_itself_and_as_nothing_else(plain: bytes, what: str, other: str, seed: int) -> None:
    opener = Opener("K7Q4M2", bytes(range(32)))
    locked = opener.lock(plain, what, SeededChance(seed))
    assert opener.unlock(locked, what) == plain
    if other != what:
        assert opener.unlock(locked, other) is None
    assert Opener("K7Q4M3", bytes(range(32))).unlock(locked, what) is None
    assert Opener("K7Q4M2", bytes(32)).unlock(locked, what) is None


def test_what_unlocks_never_shows_its_key(cheap: None) -> None:
    lock, opener = new_lock("K7Q4M2", PASSPHRASE, SystemChance())
    assert repr(opener) == "Opener(kit='K7Q4M2')"
    assert opener_of("K7Q4M2", lock, PASSPHRASE) == opener


def with_locked(kit: Kit, place: int, locked: str) -> Kit:
    """Return the kit with one taster's locked key replaced."""
    sealed = list(kit.sealed)
    sealed[place] = replace(sealed[place], locked=locked)
    return replace(kit, sealed=tuple(sealed))
