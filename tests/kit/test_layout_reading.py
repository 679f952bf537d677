"""Layouts read a sheet at a time: the same as read whole, what sheets share held once, odd files left to others."""

from __future__ import annotations

import contextlib
import gc
import json
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit import json_text
from kit.layout_reading import read_layout
from kit.record import layout_of
from kit.sheet_layout import MarkBox, from_json
from tests.kit import samples

REFUSED = (OSError, KeyError, TypeError, ValueError, RecursionError)


def digest(entry: Any) -> str:
    """Return SHA-256 of the canonical form (FORMATS, section 3), made here of the file as a whole."""
    return sha256(json.dumps(entry, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "layout.json"
    path.write_bytes(samples.printed(4).files["layout.json"])
    return path


@pytest.mark.parametrize("indent", [None, 1, 4])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_however_it_is_spelled_it_reads_as_when_read_whole(path: Path, indent: int | None, line_end: str) -> None:
    entry = json.loads(path.read_text("utf-8"))
    entry = {**entry, "pages": [dict(reversed(page.items())) for page in entry["pages"]], "added": {"é": [1.5]}}
    text = json.dumps(entry, indent=indent, ensure_ascii=False).replace("\n", line_end)
    path.write_bytes(text.encode())
    assert read_layout(path) == (from_json(entry), digest(entry))
    assert read_layout(path)[0] == samples.printed(4).layout


def test_a_file_longer_than_what_is_at_hand_is_read_on(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entry = json.loads(path.read_text("utf-8"))
    longest = max(len(json.dumps(page)) for page in entry["pages"])
    monkeypatch.setattr(json_text, "_AHEAD", longest)
    path.write_text(json.dumps(entry), "utf-8")
    assert longest < path.stat().st_size / 3
    assert read_layout(path) == (from_json(entry), digest(entry))


def test_a_sheet_longer_than_what_is_at_hand_is_left_to_whoever_reads_the_file_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "kit"
    folder.mkdir()
    for name, content in samples.printed(4).files.items():
        (folder / name).write_bytes(content)
    monkeypatch.setattr(json_text, "_AHEAD", 500)
    with pytest.raises(REFUSED):
        read_layout(folder / "layout.json")
    assert layout_of(folder) == samples.printed(4).layout


def test_one_sheet_that_differs_in_one_box_is_read_as_it_is(path: Path) -> None:
    entry = json.loads(path.read_text("utf-8"))
    for page in (entry["pages"][0], entry["pages"][-1]):
        page["fiducials"][0]["x_mm"] += 0.5
    entry["pages"][3]["marks"][-1]["x_mm"] += 0.25
    path.write_text(json.dumps(entry), "utf-8")
    assert read_layout(path) == (from_json(entry), digest(entry))


def test_boxes_do_not_grow_with_the_tasters(tmp_path: Path) -> None:
    held = []
    for times in (1, 40):
        entry = json.loads(samples.printed(4).files["layout.json"])
        entry["pages"] *= times
        path = tmp_path / f"{times}.json"
        path.write_text(json.dumps(entry), "utf-8")
        before = _live(MarkBox)
        layout, _ = read_layout(path)
        held.append(_live(MarkBox) - before)
        assert sum(len(page.marks) for page in layout.pages) == times * sum(
            len(p["marks"]) for p in entry["pages"][: len(entry["pages"]) // times]
        )
        del layout
    assert held[0] == held[1] > 0


def _live(kind: type) -> int:
    gc.collect()
    return sum(isinstance(one, kind) for one in gc.get_objects())


EDITS = st.lists(
    st.tuples(
        st.integers(0, 10**6),
        st.sampled_from(['"', "{", "}", "[", "]", ",", ":", "1", "-", "e", " ", "\\", "\x00", "é", ""]),
    ),
    min_size=1,
    max_size=3,
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(EDITS)
def test_what_is_read_of_a_damaged_file_is_what_the_whole_file_says(path: Path, edits: list[tuple[int, str]]) -> None:
    """Never another layout or another digest than by the standard library's parser over the whole text."""
    text = _small()
    for at, sign in edits:
        at %= len(text)
        text = text[:at] + sign + text[at + 1 :]
    path.write_bytes(text.encode())
    with contextlib.suppress(*REFUSED):
        found, told = read_layout(path)
        entry = json.loads(text)
        assert (found, told) == (from_json(entry), digest(entry))


def _small() -> str:
    entry = json.loads(samples.printed(3).files["layout.json"])
    for page in entry["pages"]:
        for name in ("marks", "writing", "fiducials", "codes", "edge_marks"):
            page[name] = page[name][:1]
    return json.dumps(entry)
