"""`facedown print --add`: a taster joins a printed kit, and nothing that was handed out changes."""

from __future__ import annotations

import errno
import json
import os
from dataclasses import replace
from hashlib import sha256
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
import zxingcpp
from click.testing import CliRunner, Result

from kit.add_taster import key_for_added, with_taster
from kit.chance_source import SystemChance
from kit.codes import Code, CodeKind, decode, is_genuine
from kit.errors import ExitCode, KitError
from kit.house import card_number
from kit.record import layout_of, load_kit, opened_keys
from kit.session import MOST_TASTERS, Keys, Session, Shuffle, Taster
from kit.shell import main
from tests.kit import samples
from tests.kit.rendering import by_pdfium, needs_poppler, text_of

WAYS: list[tuple[Shuffle, Keys]] = [("host", "own"), ("host", "shared"), ("hand", "own"), ("twin", "own")]
SESSION_FILE = "session.toml"


def printed(tmp_path: Path, session: Session, *options: str) -> Path:
    text = samples.session_file(session, seeded=False)
    if session.keys != "own":
        text = f'keys = "{session.keys}"\n{text}'
    if session.house is not None:
        text = f'coasters = "house"\nhouse = "{session.house}"\n{text}'
    (tmp_path / SESSION_FILE).write_text(text, "utf-8")
    result = CliRunner().invoke(main, ["print", str(tmp_path / SESSION_FILE), "--out", str(tmp_path / "kit"), *options])
    assert result.exit_code == ExitCode.DONE, result.output
    return tmp_path / "kit"


def add(kit: Path, name: str, *options: str) -> Result:
    return CliRunner().invoke(main, ["print", "--add", name, str(kit), *options])


def bytes_in(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize(("shuffle", "keys"), WAYS)
@pytest.mark.parametrize("paper", samples.PAPERS)
def test_nobodys_key_seal_salt_or_code_changes(tmp_path: Path, shuffle: Shuffle, keys: Keys, paper: Any) -> None:
    kit = printed(tmp_path, samples.a_session(4, paper, shuffle, keys=keys))
    former, layout, keys_before = load_kit(kit), layout_of(kit), opened_keys(load_kit(kit))
    pictures = {path.name: by_pdfium(path.read_bytes(), 60) for path in kit.glob("*.pdf")}
    assert add(kit, "Tomas").exit_code == ExitCode.DONE
    latter, wider = load_kit(kit), layout_of(kit)
    assert (latter.id, latter.secret) == (former.id, former.secret)
    assert latter.session == replace(former.session, tasters=(*former.session.tasters, Taster("Tomas")))
    assert latter.sealed[:3] == former.sealed
    assert opened_keys(latter)[:3] == keys_before
    assert {page.sheet: page for page in layout.pages}.items() <= {page.sheet: page for page in wider.pages}.items()
    assert (wider.coasters, wider.row_ends[:3]) == (layout.coasters, layout.row_ends)
    for name in ("forms.pdf", "coasters.pdf", "vials.pdf", "letters.pdf"):
        for before, after in zip(pictures.get(name, []), by_pdfium_of(kit / name), strict=False):
            assert np.array_equal(before, after), f"a page of {name} changed that is on somebody's table"


@pytest.mark.parametrize(("shuffle", "keys"), WAYS)
def test_the_added_taster_has_a_key_a_seal_and_a_salt_of_their_own(
    tmp_path: Path, shuffle: Shuffle, keys: Keys
) -> None:
    kit = printed(tmp_path, samples.a_session(4, shuffle=shuffle, keys=keys))
    for number, name in enumerate(("Tomas", "Mei", "Oren"), start=4):
        add(kit, name)
        assert load_kit(kit).session.tasters[number - 1].name == name
    opened = opened_keys(load_kit(kit))
    assert len(opened) == (0 if shuffle == "hand" else 6)
    assert len({key.salt for key in opened}) == len({key.seal for key in opened}) == len(opened)
    if keys == "shared":
        assert len({tuple(key.places.values()) for key in opened}) == 1


def test_keys_of_added_tasters_are_drawn_from_all_orders() -> None:
    """600 draws of six orders: one of them never comes with probability 6 · (5/6)⁶⁰⁰ < 10⁻⁴⁶."""
    session = samples.a_session(3)
    drawn = {key_for_added(session, SystemChance(), None)[0] for _ in range(600)}
    assert drawn == set(permutations((1, 2, 3)))
    assert {key_for_added(session, SystemChance(), (2, 3, 1))[0] for _ in range(20)} == {(2, 3, 1)}


@pytest.mark.parametrize("shuffle", ["host", "hand", "twin"])
def test_the_added_sheets_carry_codes_of_the_kit(tmp_path: Path, shuffle: Shuffle) -> None:
    """Read from the printed page by an outside reader."""
    kit = printed(tmp_path, samples.a_session(3, shuffle=shuffle))
    add(kit, "Tomas")
    each = len(pypdf.PdfReader(kit / "forms.pdf").pages) // 4
    found = set()
    for picture in by_pdfium((kit / "forms.pdf").read_bytes(), 200, pages=range(3 * each, 4 * each)):
        for code in zxingcpp.read_barcodes(picture):
            assert is_genuine(code.text, load_kit(kit).secret)
            found.add(decode(code.text))
    assert found == {Code(CodeKind.SHEET, load_kit(kit).id, 4, role) for role in range(1, each + 1)}


@needs_poppler
@pytest.mark.parametrize("shuffle", ["host", "hand", "twin"])
def test_it_says_which_pages_to_print_now(tmp_path: Path, shuffle: Shuffle) -> None:
    kit = printed(tmp_path, samples.a_session(3, shuffle=shuffle), "--packets")
    told = add(kit, "Tomas", "--json", str(tmp_path / "list.json")).stdout
    entry = json.loads((tmp_path / "list.json").read_text("utf-8"))
    assert entry["added"] == 4
    papers = entry["packets"][3]["papers"]
    assert {paper["pdf"] for paper in papers} | {"host.pdf"} == {p.name for p in kit.glob("*.pdf")} - {"contents.pdf"}
    for paper in papers:
        if paper["pdf"] == "host.pdf":
            continue
        first, last = paper["first_page"], paper["last_page"]
        pages = f"page {first}" if first == last else f"pages {first} to {last}"
        assert f"  {paper['pdf']:<13}{pages}" in told
        texts = text_of((kit / paper["pdf"]).read_bytes())
        assert ["Tomas" in text for text in texts] == [first <= page <= last for page in range(1, len(texts) + 1)]
    assert "packets/0004.pdf" in told
    assert sorted(path.name for path in (kit / "packets").iterdir())[-1] == "0004.pdf"


def test_what_was_printed_without_packets_stays_without(tmp_path: Path) -> None:
    kit = printed(tmp_path, samples.a_session(3))
    names = {path.name for path in kit.iterdir()}
    assert "packets" not in add(kit, "Tomas").stdout
    assert {path.name for path in kit.iterdir()} == names


def test_no_key_is_told_while_adding(tmp_path: Path) -> None:
    kit = printed(tmp_path, samples.a_session(5))
    output = add(kit, "Tomas").output
    for key in opened_keys(load_kit(kit)):
        assert key.salt not in output
        assert "".join(map(str, key.places.values())) not in output.replace(str(tmp_path), "")


@pytest.mark.parametrize(
    ("name", "options", "sentence", "proposal"),
    [
        ("Ines", [], "Ines: taster 1 has that name, with the id taster-1", "--add-id ines-1"),
        (" INES ", [], "INES: taster 1 has that name", "--add-id ines-1"),
        ("Mei", ["--add-id", "taster-2"], '"taster-2" is the id of taster 2 already', "--add-id mei-1"),
        ("Mei", ["--add-id", "Mei!"], '--add-id: found "Mei!"', ""),
        ("", [], "--add: found nothing that can be seen", ""),
        ("M" * 61, [], "--add: found 61 characters; at most 60 are allowed", ""),
        ("Mei\u200b", [], "ZERO WIDTH SPACE", ""),
        ("Mei 🍶", [], "the fonts have no shape for '🍶'", "Latin letters"),
    ],
)
def test_a_name_or_id_that_will_not_do_is_refused_with_a_proposal(
    tmp_path: Path, name: str, options: list[str], sentence: str, proposal: str
) -> None:
    kit = printed(tmp_path, samples.a_session(3))
    before = bytes_in(kit)
    result = add(kit, name, *options)
    assert result.exit_code == ExitCode.REFUSED
    assert sentence in result.stderr
    assert proposal in result.stderr
    assert bytes_in(kit) == before


@needs_poppler
def test_an_address_is_printed_in_the_added_letter_and_kept_as_the_others_are(tmp_path: Path) -> None:
    kit = printed(tmp_path, samples.a_session(3, shuffle="twin"))
    lines = ("The Net Lofts", "3 Ferry Lane")
    assert add(kit, "Tomas", "--add-address", lines[0], "--add-address", lines[1]).exit_code == ExitCode.DONE
    assert load_kit(kit).session.tasters[3] == Taster("Tomas", address=lines)
    *former, added = text_of((kit / "letters.pdf").read_bytes())
    assert all(line in added for line in lines)
    assert not any(line in page for line in lines for page in former)
    for pdf in kit.glob("*.pdf"):
        assert pdf.name == "letters.pdf" or not any("Net Lofts" in page for page in text_of(pdf.read_bytes()))


@pytest.mark.parametrize(
    ("shuffle", "lines", "sentence"),
    [
        ("host", ["3 Ferry Lane"], "--add-address: no paper of this kit shows an address, so none is kept"),
        ("hand", ["3 Ferry Lane"], "--add-address: no paper of this kit shows an address, so none is kept"),
        ("twin", ["x"] * 7, "--add-address: found 7 lines; a list of up to 6 lines"),
        ("twin", ["y" * 61], "--add-address: found 61 characters; at most 60 are allowed"),
        ("twin", ["3 Ferry\nLane"], "--add-address: found U+000A"),
        ("twin", ["3 Ferry Lane 🍶"], "the fonts have no shape for '🍶'"),
    ],
)
def test_an_address_that_will_not_do_is_refused_and_nothing_of_it_kept(
    tmp_path: Path, shuffle: Shuffle, lines: list[str], sentence: str
) -> None:
    kit = printed(tmp_path, samples.a_session(3, shuffle=shuffle))
    before = bytes_in(kit)
    result = add(kit, "Tomas", *(part for line in lines for part in ("--add-address", line)))
    assert result.exit_code == ExitCode.REFUSED
    assert sentence in result.stderr
    assert bytes_in(kit) == before


def test_the_proposal_works(tmp_path: Path) -> None:
    kit = printed(tmp_path, samples.a_session(3))
    assert add(kit, "Ines", "--add-id", "ines-1").exit_code == ExitCode.DONE
    assert load_kit(kit).session.tasters[3] == Taster("Ines", id="ines-1")
    assert "--add-id ines-2" in add(kit, "Ines").stderr


def test_a_namesake_of_one_without_an_id_needs_another_name() -> None:
    session = replace(samples.a_session(3), tasters=(Taster("Ines"),))
    with pytest.raises(KitError, match="no id by which the two could be told apart"):
        with_taster(session, "Ines", "ines-2")


def test_balanced_keys_leave_no_room_for_another() -> None:
    with pytest.raises(KitError, match="balanced over its tasters: one more would unbalance them"):
        with_taster(replace(samples.a_session(3), keys="balanced"), "Mei", None)


def test_a_full_kit_takes_no_more() -> None:
    full = replace(samples.a_session(3), tasters=tuple(Taster(f"Taster {n}") for n in range(MOST_TASTERS)))
    with pytest.raises(KitError, match="9999 tasters, the most"):
        with_taster(full, "Mei", None)


def test_at_a_house_of_coasters_the_added_taster_needs_a_card_of_their_own(tmp_path: Path) -> None:
    kit = printed(tmp_path, replace(samples.a_session(3), coasters="house", house="K7Q4M2"))
    result = add(kit, "Mei")
    assert result.exit_code == ExitCode.REFUSED
    assert "each taster needs an id, by which the row-end card knows them" in result.stderr
    assert "--add-id mei-1" in result.stderr
    taken = card_number("K7Q4M2", "taster-1")
    twin = next(f"mei-{n}" for n in range(200_000) if card_number("K7Q4M2", f"mei-{n}") == taken)
    result = add(kit, "Mei", "--add-id", twin)
    assert result.exit_code == ExitCode.REFUSED
    assert f'the row-end cards of "taster-1" and "{twin}" would have one number in set K7Q4M2' in result.stderr
    assert add(kit, "Mei", "--add-id", "mei-1").exit_code == ExitCode.DONE


def test_a_kit_laid_out_by_another_version_is_left_as_it_is(tmp_path: Path) -> None:
    """Else the sheets that are on the table could not be read by the new layout."""
    kit = printed(tmp_path, samples.a_session(3))
    layout = json.loads((kit / "layout.json").read_text("utf-8"))
    layout["pages"][0]["marks"][0]["x_mm"] += 1.0
    (kit / "layout.json").write_text(json.dumps(layout), "utf-8")
    record = json.loads((kit / "kit.json").read_text("utf-8"))
    record["layout_sha256"] = digest(layout)
    del record["record_sha256"]
    record["record_sha256"] = digest(record)
    (kit / "kit.json").write_text(json.dumps(record), "utf-8")
    layout_of(kit)
    before = bytes_in(kit)
    result = add(kit, "Mei")
    assert result.exit_code == ExitCode.REFUSED
    assert "lays out the sheets of kit" in result.stderr
    assert bytes_in(kit) == before


@pytest.mark.parametrize("what", ["nothing", "a file", "no kit", "a changed record"])
def test_what_is_no_kit_is_refused(tmp_path: Path, what: str) -> None:
    place = tmp_path / "kit"
    if what == "a file":
        place.write_text("no kit")
    elif what == "no kit":
        place.mkdir()
    elif what == "a changed record":
        record = printed(tmp_path, samples.a_session(3)) / "kit.json"
        record.write_text(record.read_text("utf-8").replace("First flight", "Second flight"), "utf-8")
    result = add(place, "Mei")
    assert result.exit_code == ExitCode.REFUSED
    assert result.stderr.startswith("facedown: ")


def test_what_lies_beside_the_kit_is_not_deleted(tmp_path: Path) -> None:
    kit = printed(tmp_path, samples.a_session(3))
    (kit / "scans").mkdir()
    result = add(kit, "Mei")
    assert result.exit_code == ExitCode.REFUSED
    assert "beside the kit it holds scans, which --add would delete" in result.stderr
    assert "--out" not in result.stderr
    assert len(load_kit(kit).session.tasters) == 3


@pytest.mark.parametrize(
    "options",
    [
        ["--add", "Mei", "KIT", "--out", "other"],
        ["--add", "Mei", "KIT", "--force"],
        ["--add", "Mei", "KIT", "--packets"],
        ["KIT", "--add-id", "mei", "--out", "other"],
        ["KIT", "--add-address", "3 Ferry Lane", "--out", "other"],
        ["--add", "Mei"],
        ["KIT"],
    ],
)
def test_wrong_usage_has_its_own_status(tmp_path: Path, options: list[str]) -> None:
    kit = printed(tmp_path, samples.a_session(3))
    before = bytes_in(tmp_path)
    result = CliRunner().invoke(main, ["print", *(str(kit) if option == "KIT" else option for option in options)])
    assert result.exit_code == ExitCode.USAGE
    assert bytes_in(tmp_path) == before


@pytest.mark.parametrize("failing", [OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)), KeyboardInterrupt()])
def test_a_full_disk_or_an_interrupt_leaves_the_kit_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: BaseException
) -> None:
    kit = printed(tmp_path, samples.a_session(3), "--packets")
    before = bytes_in(tmp_path)

    def refused(_: int) -> None:
        raise failing

    monkeypatch.setattr(os, "fsync", refused)
    result = add(kit, "Mei")
    assert result.exit_code == (ExitCode.STORAGE if isinstance(failing, OSError) else ExitCode.INTERRUPTED)
    assert bytes_in(tmp_path) == before


def by_pdfium_of(path: Path) -> list[Any]:
    return list(by_pdfium(path.read_bytes(), 60)) if path.exists() else []


def digest(entry: dict[str, Any]) -> str:
    """As FORMATS' records are signed: SHA-256 over the JSON object with sorted keys and no blanks."""
    return sha256(json.dumps(entry, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
