"""Good files for the doors to begin with: one small kit and what belongs to it, always the same."""

from __future__ import annotations

import io
import json
from functools import cache
from pathlib import Path

from kit.build import build_kit, chance_for
from kit.keys import OpenedKey
from kit.layout_file import write_layout
from kit.record import LAYOUT_FILE, RECORD_FILE, Kit, layout_of, load_kit, opened_keys, record_file
from kit.session import session_from_toml
from kit.sheet_layout import KitLayout
from scanner.reading import Mark, OpenedReading, Outcome, PageReading, Reading, State, TurnedReading, to_json

SESSION = """\
title    = "First flight of winter"
date     = 2026-12-05
drink    = "sake"
shuffle  = "{shuffle}"
paper    = "A4"
minutes  = 7
seed     = 20261205

[[pours]]
id    = "heron-marsh"
name  = "Heron Marsh"
style = "daiginjo"
abv   = 16.0
look  = "clear"

[[pours]]
name = "Gull Rock"

[[pours]]
name = "Old Jetty"
note = "open since Monday"

[[tasters]]
id   = "ines"
name = "Ines"
"""


def session(shuffle: str = "host") -> str:
    """Return the session file."""
    return SESSION.format(shuffle=shuffle)


@cache
def kit_files(shuffle: str = "host") -> tuple[bytes, bytes]:
    """Return `kit.json` and `layout.json`."""
    described = session_from_toml(session(shuffle), "good.toml")
    kit = build_kit(described, chance_for(described))
    layout = io.BytesIO()
    digest = write_layout(kit, layout)
    return record_file(kit, digest), layout.getvalue()


def put_kit(folder: Path, shuffle: str = "host") -> Path:
    """Write the kit's two records into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    record, layout = kit_files(shuffle)
    (folder / RECORD_FILE).write_bytes(record)
    (folder / LAYOUT_FILE).write_bytes(layout)
    return folder


def opened(folder: Path) -> tuple[Kit, KitLayout, tuple[OpenedKey, ...]]:
    """Return the kit of a folder, its layout and its keys."""
    kit = load_kit(folder)
    return kit, layout_of(folder), opened_keys(kit)


@cache
def reading(shuffle: str = "host") -> Reading:
    """Return a reading of all the kit's sheets, of a row of coasters and of an opened key."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        kit, layout, keys = opened(put_kit(Path(folder), shuffle))
    pages = tuple(
        PageReading(
            "pile.pdf",
            number,
            kit.id,
            page.sheet,
            page.taster,
            page.role,
            Outcome.READ,
            None,
            tuple(
                Mark(box.field, box.option, State.MARKED if box.option in "231" else State.EMPTY) for box in page.marks
            ),
        )
        for number, page in enumerate((page for page in layout.pages if page.marks), start=1)
    )
    foreign = PageReading("x.jpg", 1, None, None, None, None, Outcome.UNREADABLE, "it is too dark")
    row = TurnedReading("row.jpg", 1, kit.id, 1, Outcome.READ, None, (3, 1, 2))
    told = tuple(
        OpenedReading("key.jpg", 1, kit.id, key.taster, Outcome.READ, None, dict(key.places), key.salt) for key in keys
    )
    return Reading((*pages, foreign), (row,) if shuffle == "hand" else (), told)


def reading_file(shuffle: str = "host") -> bytes:
    """Return the reading as `facedown read --json` writes it."""
    return json.dumps(to_json(reading(shuffle)), ensure_ascii=False).encode()
