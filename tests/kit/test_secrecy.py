"""Nothing but keys.pdf tells a key: searched for in all that a kit folder holds, and shown by printing another key."""

from __future__ import annotations

import json
import re
from base64 import b32encode, b64encode
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest
from click.testing import CliRunner

from kit.chance_source import SeededChance
from kit.codes import base32
from kit.contents import kit_contents
from kit.drawing import Text
from kit.keys import Key, grouped, seal_key
from kit.pdf import render
from kit.record import Kit, load_kit, opened_keys
from kit.sheets import form_sheets
from kit.shell import main
from tests.kit import samples
from tests.kit.extents import grown, ink_of
from tests.kit.rendering import by_pdfium, needs_poppler, needs_qpdf, text_of, unpacked_by_qpdf

KEYS: tuple[Key, ...] = ((3, 1, 5, 2, 4), (5, 3, 1, 4, 2), (2, 5, 4, 1, 3))
OTHER_KEYS: tuple[Key, ...] = ((4, 2, 3, 5, 1), (1, 4, 5, 3, 2), (5, 1, 2, 4, 3))
"""None has three neighbours in order: the forms print 1 2 3 4 5 beside their boxes."""
SALTS = tuple(sha256(b"salt %d" % taster).digest()[:16] for taster in (1, 2, 3))
DPI = 150


class FixedNonces:
    """A chance source whose draws depend on their purpose alone: the same nonces under every key."""

    def below(self, limit: int, purpose: str) -> int:
        raise NotImplementedError

    def token(self, length: int, purpose: str) -> bytes:
        return sha256(purpose.encode()).digest()[:length]


def kit_under(keys: tuple[Key, ...]) -> Kit:
    """Return a kit that differs from all others made here in its keys alone."""
    sealed = tuple(
        seal_key("K7Q4M2", taster, key, salt, FixedNonces())
        for taster, (key, salt) in enumerate(zip(keys, SALTS, strict=True), start=1)
    )
    return Kit("K7Q4M2", samples.a_session(5), sha256(b"secret").digest()[:16], sealed)


@cache
def files_under(keys: tuple[Key, ...]) -> dict[str, bytes]:
    return kit_contents(kit_under(keys), SeededChance(1))


def test_the_two_kits_do_differ_in_their_keys() -> None:
    one, other = kit_under(KEYS), kit_under(OTHER_KEYS)
    assert [tuple(key.places.values()) for key in opened_keys(one)] == list(KEYS)
    assert [tuple(key.places.values()) for key in opened_keys(other)] == list(OTHER_KEYS)
    assert one.seals != other.seals
    assert files_under(KEYS)["keys.pdf"] != files_under(OTHER_KEYS)["keys.pdf"]


@pytest.mark.parametrize("name", ["coasters.pdf", "host.pdf", "layout.json"])
def test_another_key_leaves_these_files_as_they_are_to_the_byte(name: str) -> None:
    assert files_under(KEYS)[name] == files_under(OTHER_KEYS)[name]


def test_another_key_changes_nothing_of_the_forms_but_the_seal_codes() -> None:
    """With the seals made equal the bytes are equal: order of objects, lengths, fonts and metadata with them."""

    def with_one_seal(kit: Kit) -> bytes:
        blind = replace(kit, sealed=tuple(replace(sealed, seal="0123456789ABCDEF") for sealed in kit.sealed))
        return render((sheet.page for sheet in form_sheets(blind)), "forms")

    assert with_one_seal(kit_under(KEYS)) == with_one_seal(kit_under(OTHER_KEYS))


def test_the_forms_look_alike_outside_their_seal_codes() -> None:
    """The same for the pictures as printed, so that nothing rests on how the pages are made."""
    kits = kit_under(KEYS), kit_under(OTHER_KEYS)
    pictures = [by_pdfium(files_under(keys)["forms.pdf"], DPI) for keys in (KEYS, OTHER_KEYS)]
    sheets = [list(form_sheets(kit)) for kit in kits]
    for page in range(len(pictures[0])):
        one, other = (np.array(pictures[which][page]) for which in (0, 1))
        assert not np.array_equal(one, other), "the seal codes differ, so the pictures must"
        for which in (0, 1):
            taster = sheets[which][page].layout.taster
            seal = grouped(kits[which].seals[taster - 1])
            (text,) = [e for e in sheets[which][page].page.own if isinstance(e, Text) and e.text == seal]
            area = grown(ink_of(text), 0.5)
            top, bottom, left, right = (round(mm / 25.4 * DPI) for mm in (area.top, area.bottom, area.left, area.right))
            for picture in (one, other):
                picture[top:bottom, left:right] = 255
        assert np.array_equal(one, other)


def test_another_key_changes_nothing_of_the_record_but_its_sealed_form() -> None:
    def without_seals(keys: tuple[Key, ...]) -> object:
        entry = json.loads(files_under(keys)["kit.json"])
        entry.pop("record_sha256")
        for key in entry["keys"]:
            assert set(key) == {"taster", "seal", "nonce", "masked"}
            del key["seal"], key["masked"]
        return entry

    assert without_seals(KEYS) == without_seals(OTHER_KEYS)


def test_another_salt_changes_the_seal_of_the_same_key() -> None:
    """Else 120 tries would tell a key from its seal: without the salt a code is a key."""
    seals = {seal_key("K7Q4M2", 1, KEYS[0], salt, FixedNonces()).seal for salt in SALTS}
    assert len(seals) == len(SALTS)


@needs_poppler
@needs_qpdf
def test_no_other_file_of_the_folder_holds_a_key_or_a_salt() -> None:
    for name, content in files_under(KEYS).items():
        if name != "keys.pdf":
            assert [hit for part in views(name, content) for hit in found_in(part)] == []


@needs_poppler
@needs_qpdf
def test_the_search_finds_the_keys_where_they_are() -> None:
    hits = [hit for part in views("keys.pdf", files_under(KEYS)["keys.pdf"]) for hit in found_in(part)]
    for taster in (1, 2, 3):
        assert any(hit.startswith(f"taster {taster}: key") for hit in hits)
        assert any(hit.startswith(f"taster {taster}: salt") for hit in hits)


@pytest.mark.parametrize(
    "spelling",
    [
        "31524",
        "3 1 5 2 4",
        "3,1,5,2,4",
        "[3, 1, 5, 2, 4]",
        "3-1-5-2-4",
        "(3) Tj (1) Tj (5) Tj (2) Tj (4) Tj",
        "A3 B1 C5 D2 E4",
        "A=3, B=1, C=5, D=2, E=4",
        '{"A": 3, "B": 1, "C": 5, "D": 2, "E": 4}',
        "A 3\nB 1\nC 5\nD 2\nE 4",
        "BDAEC",
        "B D A E C",
        "1B 2D 3A 4E 5C",
        "1: B, 2: D, 3: A, 4: E, 5: C",
        "24153",
        "3\n1\n5\n2\n4",
        "\x03\x01\x05\x02\x04",
        "20413",
        "2, 0, 4, 1, 3",
        SALTS[0].hex(),
        SALTS[0].hex().upper(),
        b64encode(SALTS[0]).decode(),
        b32encode(SALTS[0]).decode(),
        SALTS[0].decode("latin-1"),
        base32(int.from_bytes(SALTS[0], "big"), 26),
        b64encode(bytes(KEYS[0]).ljust(8, b"\0") + SALTS[0]).decode(),
        bytes(KEYS[0]).hex(),
    ],
)
def test_the_search_knows_many_spellings(spelling: str) -> None:
    assert found_in(Part("planted", f"/Title (x {spelling} y)".encode("latin-1")))


def test_the_search_is_not_set_off_by_what_every_form_prints() -> None:
    assert found_in(Part("a form", b"A 1 2 3 4 5 B 1 2 3 4 5 C 1 2 3 4 5 D 1 2 3 4 5 E 12345")) == []


def test_the_folder_as_written_and_what_is_said_of_it_tell_no_key(tmp_path: Path) -> None:
    """Through the command: its messages, and what the disk keeps of a file beside its bytes."""
    session = tmp_path / "session.toml"
    session.write_text(samples.session_file(samples.a_session(5), seeded=False), "utf-8")
    result = CliRunner().invoke(main, ["print", str(session), "--out", str(tmp_path / "kit")])
    keys = opened_keys(load_kit(tmp_path / "kit"))
    for key in keys:
        order = "".join(map(str, key.places.values()))
        assert not re.search(r"\D{0,3}".join(order), result.output.replace(str(tmp_path), ""))
        assert key.salt not in result.output
    sizes = {path.name: path.stat().st_size for path in (tmp_path / "kit").iterdir()}
    assert set(sizes) == {"kit.json", "layout.json", "forms.pdf", "coasters.pdf", "host.pdf", "keys.pdf"}


@dataclass(frozen=True, slots=True)
class Part:
    """One way of looking at a file."""

    name: str
    content: bytes


def views(name: str, content: bytes) -> Iterator[Part]:
    """Yield a file's raw bytes, and of a PDF its unpacked objects, streams, metadata and texts by three readers."""
    yield Part(name, content)
    if not name.endswith(".pdf"):
        return
    yield Part(f"{name} unpacked", _without_fonts(unpacked_by_qpdf(content)))
    yield from (Part(f"{name}, page {page} by poppler", text.encode()) for page, text in enumerate(text_of(content), 1))
    reader = pypdf.PdfReader(BytesIO(content))
    yield Part(f"{name} metadata", repr(reader.metadata).encode())
    for number, page in enumerate(reader.pages, start=1):
        yield Part(f"{name}, page {number} by pypdf", page.extract_text().encode())
        stream = page.get_contents()
        assert stream is not None
        yield Part(f"{name}, stream {number}", stream.get_data())
        for form in page["/Resources"]["/XObject"].values():  # type: ignore[index]
            yield Part(f"{name}, shared part {number}", form.get_object().get_data())
    document = pypdfium2.PdfDocument(content)
    for number in range(len(document)):
        yield Part(f"{name}, page {number + 1} by pdfium", document[number].get_textpage().get_text_bounded().encode())
    document.close()


def found_in(part: Part) -> list[str]:
    """Return where in a part a key or salt of KEYS and SALTS is spelled."""
    hits = []
    for taster, (key, salt) in enumerate(zip(KEYS, SALTS, strict=True), start=1):
        if any(spelling.search(part.content) for spelling in _spellings(key)):
            hits.append(f"taster {taster}: key in {part.name}")
        if any(text in part.content for text in _salt_spellings(key, salt)):
            hits.append(f"taster {taster}: salt in {part.name}")
    return hits


@cache
def _spellings(key: Key) -> tuple[re.Pattern[bytes], ...]:
    """Return patterns of a key: its digits in order, counted from 0 too, and by coaster instead of by place."""
    numbers = [str(number) for number in key]
    from_nought = [str(number - 1) for number in key]
    places = ["ABCDE"[key.index(number)] for number in range(1, len(key) + 1)]
    place_numbers = [str(key.index(number) + 1) for number in range(1, len(key) + 1)]
    patterns = []
    for parts in (numbers, from_nought, places, place_numbers):
        patterns.append(rf"(?<![\w.]){''.join(parts)}(?![\w.])")
        patterns.append(r"(?<![\w.])" + r"[^\w.]{1,3}".join(parts) + r"(?![\w.])")
        patterns.append(r"\(" + r"\) Tj[^()]{0,120}?\(".join(parts) + r"\)")
    for names, parts in (("ABCDE", numbers), ("12345", places)):
        pairs = [rf"{name}\W{{0,4}}{part}" for name, part in zip(names, parts, strict=True)]
        patterns.append(r"(?<!\w)" + r"\W{1,6}".join(pairs) + r"(?!\w)")
    # As the key sheet words it; between two rows the text of a page may hold scramble.
    rows = [rf"{place}\s+coaster\s+{number}(?!\d)" for place, number in zip("ABCDE", numbers, strict=True)]
    patterns.append(".{0,200}?".join(rows))
    return (
        *(re.compile(pattern.encode(), re.DOTALL) for pattern in patterns),
        re.compile(re.escape(bytes(key))),
        re.compile(rb"(?<![0-9a-fA-F])" + bytes(key).hex().encode()),
    )


def _salt_spellings(key: Key, salt: bytes) -> tuple[bytes, ...]:
    plain = bytes(key).ljust(8, b"\0") + salt
    return (
        salt,
        salt.hex().encode(),
        salt.hex().upper().encode(),
        b64encode(salt).rstrip(b"="),
        b32encode(salt).rstrip(b"="),
        base32(int.from_bytes(salt, "big"), 26).encode(),
        b64encode(plain),
    )


def _without_fonts(pdf: bytes) -> bytes:
    """Return an unpacked PDF without its font programs: they are byte soup, in which five bytes may be anything."""
    return re.sub(rb"/Length1 .*?endstream", b"", pdf, flags=re.DOTALL)
