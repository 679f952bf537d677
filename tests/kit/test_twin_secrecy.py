"""Kits by post: only keys.pdf and packing.pdf tell a key, and a lettered label says packet and letter alone."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from hashlib import sha256
from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.chance_source import SeededChance
from kit.codes import decode
from kit.contents import kit_contents
from kit.keys import Key, seal_key
from kit.pdf import render
from kit.record import Kit, load_kit, opened_keys
from kit.sheets import form_sheets
from kit.shell import main
from scanner.code_readers import find_codes
from tests.kit import samples
from tests.kit.rendering import by_pdfium, needs_poppler, needs_qpdf, text_of
from tests.kit.test_secrecy import KEYS, OTHER_KEYS, SALTS, FixedNonces, found_in, views

BLIND = ("vials.pdf", "letters.pdf", "host.pdf", "layout.json")
TELLING = {"keys.pdf", "packing.pdf"}


def kit_under(keys: tuple[Key, ...]) -> Kit:
    """Return a kit by post that differs from all others made here in its keys alone."""
    session = samples.a_session(5, shuffle="twin")
    sealed = tuple(
        seal_key("K7Q4M2", taster, key, salt, FixedNonces())
        for taster, (key, salt) in enumerate(zip(keys, SALTS, strict=True), start=1)
    )
    address = ("3 Ferry Lane", "Saltmarsh")
    tasters = tuple(replace(taster, address=address) for taster in session.tasters)
    return Kit("K7Q4M2", replace(session, tasters=tasters), sha256(b"secret").digest()[:16], sealed)


@cache
def files_under(keys: tuple[Key, ...]) -> dict[str, bytes]:
    return kit_contents(kit_under(keys), SeededChance(1))


def test_the_folder_holds_these_files_and_no_other() -> None:
    assert set(files_under(KEYS)) == {*BLIND, *TELLING, "forms.pdf", "kit.json"}


@pytest.mark.parametrize("name", BLIND)
def test_another_key_leaves_these_files_as_they_are_to_the_byte(name: str) -> None:
    assert files_under(KEYS)[name] == files_under(OTHER_KEYS)[name]


@pytest.mark.parametrize("name", sorted(TELLING))
def test_another_key_changes_the_two_that_show_it(name: str) -> None:
    """Else the test above proves nothing."""
    assert files_under(KEYS)[name] != files_under(OTHER_KEYS)[name]


def test_another_key_changes_nothing_of_the_forms_but_the_seal_codes() -> None:
    def with_one_seal(kit: Kit) -> bytes:
        blind = replace(kit, sealed=tuple(replace(sealed, seal="0123456789ABCDEF") for sealed in kit.sealed))
        return render((sheet.page for sheet in form_sheets(blind)), "forms")

    assert with_one_seal(kit_under(KEYS)) == with_one_seal(kit_under(OTHER_KEYS))
    assert files_under(KEYS)["forms.pdf"] != files_under(OTHER_KEYS)["forms.pdf"]


def test_another_key_changes_nothing_of_the_record_but_its_sealed_form() -> None:
    def without_seals(keys: tuple[Key, ...]) -> object:
        entry = json.loads(files_under(keys)["kit.json"])
        del entry["record_sha256"]
        for key in entry["keys"]:
            del key["seal"], key["masked"]
        return entry

    assert without_seals(KEYS) == without_seals(OTHER_KEYS)


@needs_poppler
@needs_qpdf
def test_no_other_file_of_the_folder_holds_a_key_or_a_salt() -> None:
    for name, content in files_under(KEYS).items():
        if name not in TELLING:
            assert [hit for part in views(name, content) for hit in found_in(part)] == []


@needs_poppler
def test_the_packing_sheet_tells_the_keys_and_the_salts_nowhere() -> None:
    """What it shows is what the key says: the drink of number i goes into the letter at which i stands."""
    pages = text_of(files_under(KEYS)["packing.pdf"])
    for key, page in zip(KEYS, pages, strict=True):
        shown = re.findall(r"no\. \d+\s+([1-5])\s+([A-E])", page)
        assert shown == [(str(number), "ABCDE"[key.index(number)]) for number in range(1, 6)]
        assert not [salt for salt in SALTS if salt.hex() in page]


@needs_poppler
@pytest.mark.parametrize("keys", [KEYS, OTHER_KEYS])
def test_a_lettered_label_tells_packet_and_letter_in_print_and_in_code_alone(keys: tuple[Key, ...]) -> None:
    content = files_under(keys)["vials.pdf"]
    for packet, (text, picture) in enumerate(zip(text_of(content), by_pdfium(content, 300), strict=True), start=1):
        lettered = text.partition("Round two")[2].split()
        assert sorted(lettered) == sorted([*"ABCDE", *["packet", str(packet)] * 5])
        half = picture[round(72 / 25.4 * 300) :]  # below the row of numbers: 42 + 21 + 9 mm
        codes = [code for found in find_codes(half) if (code := decode(found.text))]
        assert {(code.kind.value, code.kit, code.number) for code in codes} == {("V", "K7Q4M2", packet)}
        assert sorted(code.role_digit for code in codes) == [1, 2, 3, 4, 5]


def test_the_folder_as_written_and_what_is_said_of_it_tell_no_key(tmp_path: Path) -> None:
    session = tmp_path / "session.toml"
    session.write_text(samples.session_file(samples.a_session(5, shuffle="twin"), seeded=False), "utf-8")
    result = CliRunner().invoke(main, ["print", str(session), "--out", str(tmp_path / "kit")])
    assert result.exit_code == 0, result.output
    for key in opened_keys(load_kit(tmp_path / "kit")):
        order = "".join(map(str, key.places.values()))
        assert not re.search(r"\D{0,3}".join(order), result.output.replace(str(tmp_path), ""))
        assert key.salt not in result.output
    assert {path.name for path in (tmp_path / "kit").iterdir()} == set(files_under(KEYS))
