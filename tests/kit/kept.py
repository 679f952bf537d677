"""Kit folders that keep their keys in each of the three ways."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path
from unittest.mock import patch

from kit import sheet_layout
from kit.chance_source import SeededChance
from kit.keys import OpenedKey
from kit.record import (
    LAYOUT_FILE,
    RECORD_FILE,
    Kit,
    kept_on_paper,
    kept_with_passphrase,
    layout_sha256_of,
    opened_keys,
    record_file,
)
from kit.session import Keys
from kit.sheet_layout import KitLayout
from tests.kit import samples

PASSPHRASE = "seven grey herons, no ladder"
CHEAP = 2**4
"""N of scrypt for tests: what it costs a real kit is of no interest to them."""


def record_files(kit: Kit, layout: KitLayout) -> dict[str, bytes]:
    """Return the bytes of `kit.json` and `layout.json` for a layout of a test's own."""
    entry = sheet_layout.to_json(layout)
    canonical = json.dumps(entry, sort_keys=True, separators=(",", ":"))
    return {
        RECORD_FILE: record_file(kit, hashlib.sha256(canonical.encode()).hexdigest()),
        LAYOUT_FILE: json.dumps(entry).encode(),
    }


def write_kept(folder: Path, kit: Kit) -> None:
    """Write the record of a kit folder anew, for a kit that keeps its keys in another way."""
    (folder / "kit.json").write_bytes(record_file(kit, layout_sha256_of(folder)))


def lay_down(printed: samples.Printed, folder: Path, kept: str = "masked") -> Kit:
    """Write a kit folder, its keys kept in that way."""
    folder.mkdir()
    for name, content in printed.files.items():
        (folder / name).write_bytes(content)
    kit = as_kept(printed.kit, kept)
    write_kept(folder, kit)
    return kit


def as_kept(kit: Kit, kept: str) -> Kit:
    """Return the kit with its keys kept in that way."""
    if kept == "paper":
        return kept_on_paper(kit)
    if kept == "passphrase":
        with patch("kit.passphrase.COST", CHEAP):
            return kept_with_passphrase(kit, PASSPHRASE, SeededChance(7))
    return kit


@cache
def printed_with(keys: Keys) -> samples.Printed:
    """Return a printed kit of three glasses with own, shared or balanced keys."""
    return samples.print_of(samples.a_session(3, keys=keys))


def truth_of(printed: samples.Printed) -> tuple[OpenedKey, ...]:
    """Return the keys of a kit as it was printed."""
    return opened_keys(printed.kit)
