"""The record and the layout of a kit folder: written, read back, and refused where they are not what was printed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from kit.errors import ExitCode, KitError
from kit.record import layout_of, load_kit, opened_keys
from tests.kit import samples

Entry = dict[str, Any]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A kit folder as `facedown print` writes it."""
    return laid_down(samples.printed(4), tmp_path / "kit")


def laid_down(printed: samples.Printed, folder: Path) -> Path:
    folder.mkdir()
    for name, content in printed.files.items():
        (folder / name).write_bytes(content)
    return folder


@pytest.mark.parametrize(("glasses", "paper", "shuffle"), [(3, "A4", "host"), (4, "Letter", "hand"), (5, "A4", "host")])
def test_a_kit_comes_back_as_it_was_printed(tmp_path: Path, glasses: int, paper: Any, shuffle: Any) -> None:
    printed = samples.printed(glasses, paper, shuffle)
    folder = laid_down(printed, tmp_path / "kit")
    kit = load_kit(folder)
    assert kit == replace(printed.kit, session=replace(printed.kit.session, seed=None))
    assert opened_keys(kit) == opened_keys(printed.kit)
    assert layout_of(folder) == printed.layout


def test_long_names_come_back_whole_though_print_cuts_them(tmp_path: Path) -> None:
    printed = samples.printed_with_long_names()
    kit = load_kit(laid_down(printed, tmp_path / "kit"))
    assert kit.session.tasters == printed.kit.session.tasters
    assert kit.session.pours == printed.kit.session.pours


def test_a_seed_never_reaches_the_record() -> None:
    assert samples.printed().kit.session.seed == samples.SEED
    for name, content in samples.printed().files.items():
        assert str(samples.SEED).encode() not in content, name
        assert b'"seed"' not in content, name


def test_the_record_holds_what_the_format_promises() -> None:
    record = samples.printed(4).record
    assert record["format"] == "facedown-kit/1"
    assert [key["taster"] for key in record["keys"]] == [1, 2, 3]
    assert all(set(key) == {"taster", "seal", "nonce", "masked"} for key in record["keys"])
    layout = json.loads(samples.printed(4).files["layout.json"])
    assert (layout["format"], layout["kit"]) == ("facedown-layout/1", record["kit"])


@pytest.mark.parametrize(
    ("missing", "sentence"),
    [
        ("kit.json", r"kit\.json is missing, so this is no kit folder, or only half of one"),
        ("layout.json", r"layout\.json is missing, so this is no kit folder, or only half of one"),
    ],
)
def test_half_a_folder_is_refused(folder: Path, missing: str, sentence: str) -> None:
    (folder / missing).unlink()
    with pytest.raises(KitError, match=sentence) as refusal:
        load_both(folder)
    assert "Copy the whole folder" in refusal.value.hint
    assert refusal.value.exit_code == ExitCode.REFUSED


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(KitError, match="nowhere: there is no such kit folder"):
        load_kit(tmp_path / "nowhere")
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(KitError, match="file: there is no such kit folder"):
        load_kit(tmp_path / "file")


@pytest.mark.parametrize("other", ["facedown-kit/2", "facedown-reading/1", None, 1])
def test_a_record_of_another_format_is_refused_by_name(folder: Path, other: object) -> None:
    rewrite(folder / "kit.json", lambda entry: entry.update(format=other))
    with pytest.raises(KitError, match=rf"its format is {other!r}; this program reads 'facedown-kit/1'"):
        load_kit(folder)


@pytest.mark.parametrize(
    "edit",
    [
        lambda entry: entry.update(kit="K7Q4M2"),
        lambda entry: entry["session"].update(title="Second flight"),
        lambda entry: entry["session"]["tasters"][0].update(name="Somebody"),
        lambda entry: entry["session"]["pours"].pop(),
        lambda entry: entry["keys"].pop(),
        lambda entry: entry["keys"].reverse(),
        lambda entry: entry["keys"][0].update(seal="0" * 16),
        lambda entry: entry.update(secret="00" * 16),
        lambda entry: entry.update(note="added"),
        lambda entry: entry.pop("record_sha256"),
        lambda entry: entry.update(record_sha256=5),
        lambda entry: entry.update(layout_sha256="0" * 64),
    ],
)
def test_a_record_edited_by_hand_is_refused(folder: Path, edit: Callable[[Entry], object]) -> None:
    rewrite(folder / "kit.json", edit)
    with pytest.raises(KitError, match=r"kit\.json: the record was changed after the kit was printed"):
        load_kit(folder)


def test_a_record_saved_anew_by_an_editor_is_still_the_record(folder: Path) -> None:
    """Only what it says counts, not blanks and line ends."""
    entry = json.loads((folder / "kit.json").read_text("utf-8"))
    (folder / "kit.json").write_text(json.dumps(entry, indent=4).replace("\n", "\r\n"), "utf-8")
    assert load_kit(folder).id == entry["kit"]


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"\xff\xfe{}", b"not json", b'{"format": ' + b"[" * 200_000, b'{"kit": ' + b"9" * 5000 + b"}"],
    ids=["empty", "cut off", "not UTF-8", "words", "nested without end", "a number without end"],
)
@pytest.mark.parametrize("name", ["kit.json", "layout.json"])
def test_a_broken_file_is_refused_in_a_sentence(folder: Path, name: str, content: bytes) -> None:
    (folder / name).write_bytes(content)
    with pytest.raises(KitError, match=rf"{name}: it cannot be read"):
        load_both(folder)


@pytest.mark.parametrize("content", [b"[]", b"null", b"3", b'"text"'])
def test_a_file_that_holds_no_record_is_refused(folder: Path, content: bytes) -> None:
    (folder / "kit.json").write_bytes(content)
    with pytest.raises(KitError, match="it holds no record"):
        load_kit(folder)


def test_a_record_that_is_a_folder_is_refused(folder: Path) -> None:
    (folder / "kit.json").unlink()
    (folder / "kit.json").mkdir()
    with pytest.raises(KitError, match="it cannot be read"):
        load_kit(folder)


@pytest.mark.parametrize(
    "edit",
    [
        lambda entry: entry.pop("session"),
        lambda entry: entry.pop("keys"),
        lambda entry: entry.update(secret="no hex"),
        lambda entry: entry.update(keys=5),
        lambda entry: entry.update(keys=[["seal"]]),
        lambda entry: entry["keys"][0].pop("nonce"),
        lambda entry: entry.update(session="none"),
        lambda entry: entry["session"].update(date="2026-02-30"),
        lambda entry: entry["session"]["pours"].clear(),
    ],
)
def test_an_incomplete_record_with_a_right_digest_is_still_a_sentence(
    folder: Path, edit: Callable[[Entry], object]
) -> None:
    rewrite(folder / "kit.json", edit, sign=True)
    with pytest.raises(KitError, match="the record is incomplete"):
        load_kit(folder)


def test_the_layout_of_another_kit_is_refused(folder: Path, tmp_path: Path) -> None:
    other = laid_down(samples.printed(3), tmp_path / "other")
    shutil.copy(other / "layout.json", folder / "layout.json")
    with pytest.raises(KitError, match=r"layout\.json: the layout is not the one that this kit was printed with"):
        layout_of(folder)


@pytest.mark.parametrize(
    "edit",
    [
        lambda entry: entry["pages"][0]["marks"][0].update(x_mm=41.0),
        lambda entry: entry["pages"].pop(),
        lambda entry: entry.update(format="facedown-layout/2"),
        lambda entry: entry.clear(),
    ],
)
def test_a_layout_edited_by_hand_is_refused(folder: Path, edit: Callable[[Entry], object]) -> None:
    rewrite(folder / "layout.json", edit)
    with pytest.raises(KitError, match="the layout is not the one"):
        layout_of(folder)


@pytest.mark.parametrize(
    "edit",
    [
        lambda entry: entry["pages"][0].pop("marks"),
        lambda entry: entry["pages"][0]["marks"][0].pop("x_mm"),
        lambda entry: entry["pages"][0]["marks"][0].update(pick="some"),
        lambda entry: entry.update(format="facedown-layout/2"),
        lambda entry: entry.update(pages=3),
        lambda entry: entry["pages"][0].update(width_mm="wide"),
    ],
)
def test_an_incomplete_layout_with_a_right_digest_is_still_a_sentence(
    folder: Path, edit: Callable[[Entry], object]
) -> None:
    layout = rewrite(folder / "layout.json", edit)
    rewrite(folder / "kit.json", lambda entry: entry.update(layout_sha256=digest(layout)), sign=True)
    with pytest.raises(KitError, match="the layout is incomplete"):
        layout_of(folder)


def test_a_field_that_a_newer_version_added_is_passed_over(folder: Path) -> None:
    # FORMATS: a field may be added.
    former = layout_of(folder)
    layout = rewrite(folder / "layout.json", lambda entry: entry["pages"][0]["marks"][0].update(added=1))
    rewrite(folder / "kit.json", lambda entry: entry.update(layout_sha256=digest(layout)), sign=True)
    assert layout_of(folder) == former


def load_both(folder: Path) -> None:
    load_kit(folder)
    layout_of(folder)


def rewrite(path: Path, edit: Callable[[Entry], object], *, sign: bool = False) -> Entry:
    """Edit a JSON file as somebody by hand; with `sign`, as somebody who knows how the digest is made."""
    entry: Entry = json.loads(path.read_text("utf-8"))
    edit(entry)
    if sign:
        entry.pop("record_sha256")
        entry["record_sha256"] = digest(entry)
    path.write_text(json.dumps(entry, ensure_ascii=False), "utf-8")
    return entry


def digest(entry: Entry) -> str:
    return sha256(json.dumps(entry, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
