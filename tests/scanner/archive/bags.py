"""What the tests of bags share: an archive with more in it than a pile, and ways to spoil a bag."""

from __future__ import annotations

import datetime
import random
from pathlib import Path
from typing import Any

import bagit
from click.testing import CliRunner, Result

from kit.shell import main
from scanner.archive.database import archive_at, transaction
from scanner.archive.rows import insert
from scanner.archive.typed import enter, typed_from
from tests.scanner.archive.pile import KIT, NOW

WRITTEN = "like rain on warm stone"
FORMULA_NAME = '=HYPERLINK("http://example.org","Ines")'
FORMULA_TITLE = "dry; @SUM(1+1)"
OLD_RESULT: dict[str, Any] = {
    "results": [
        {
            "date": datetime.date(2025, 11, 2),
            "taster": "hanne",
            "name": FORMULA_NAME,
            "title": FORMULA_TITLE,
            "claims": {"A": 3, "B": 1},
            "truth": {"A": 3, "B": 2, "C": 1},
            "sure": {"A": "sure"},
        }
    ]
}


def facedown(*arguments: str | Path) -> Result:
    """Run the program in this process."""
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def keep_more(folder: Path) -> None:
    """Add typed handwriting, and an old result of a taster whose name a spreadsheet would run."""
    with archive_at(folder, write=True) as archive:
        with transaction(archive) as connection:
            insert(
                connection,
                "handwriting",
                sheet=f"{KIT}-0007-1",
                field="remarks.1",
                text=f"{WRITTEN}\nand moss",
                who="rhian",
                at=NOW,
            )
        for typed in typed_from(OLD_RESULT, "typed"):
            enter(archive, typed, NOW)


def files_of(folder: Path) -> list[Path]:
    """Return all files in a folder, in order."""
    return sorted(path for path in folder.rglob("*") if path.is_file())


def flip(path: Path, rng: random.Random) -> None:
    """Flip one bit of a file."""
    content = bytearray(path.read_bytes())
    place = rng.randrange(8 * len(content))
    content[place // 8] ^= 1 << place % 8
    path.write_bytes(content)


def digest_anew(bag: Path) -> None:
    """Give a bag that was spoilt digests that agree with it, as somebody who means harm would."""
    bagit.Bag(str(bag)).save(manifests=True)
