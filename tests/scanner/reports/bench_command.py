"""`facedown report slip` as a whole, on an archive with handwriting: `python -m tests.scanner.reports.bench_command`.

Beside it stands `facedown score` on the same archive: what that takes of memory is the kit and its readings, which
every command on results holds; what the slip takes more is the report's.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from scanner.archive.database import archive_at, transaction
from scanner.archive.facts import put_sheet
from scanner.archive.kits import add_kit
from scanner.archive.rows import insert
from scanner.archive.store import cutout_path, keep_bytes
from scanner.reading_json import load_reading
from tests.scanner.reports.club import DRINKS, evening, session_toml
from tests.scanner.reports.made import written

NOW = "2026-12-05T20:00:00+00:00"
HANDS = 200


def filled_archive(folder: Path, tasters: int) -> Path:
    """Write an archive of one sitting with so many tasters, with something written of every drink; return it."""
    toml = session_toml(list(DRINKS)[:5], [f"Taster {number}" for number in range(tasters)])
    one = evening(folder / "kit", toml, right=[(0, 1, 2, 3, 5)[number % 5] for number in range(tasters)])
    chance = np.random.default_rng(1)
    hands = [written(chance) for _ in range(HANDS)]
    with archive_at(folder / "archive", write=True, create=True) as archive:
        add_kit(archive, one.folder, NOW)
        for png in hands:
            keep_bytes(png, cutout_path(archive.folder, hashlib.sha256(png).hexdigest()))
        # Everything in one transaction: flushing each sheet is another bench's matter.
        with transaction(archive) as connection:
            for number, page in enumerate(load_reading(one.reading).pages):
                digest = hashlib.sha256((page.sheet or "").encode()).hexdigest()
                pile = digest[:12]
                insert(connection, "piles", id=pile, added_at=NOW)
                stored = {"digest": digest, "suffix": ".json", "bytes": 1, "name": pile, "pile": pile, "added_at": NOW}
                insert(connection, "originals", **stored)
                row = put_sheet(connection, digest, page, NOW)
                for glass in {"notes-1": "12345", "notes-2": "ABCDE"}.get(page.role or "", ""):
                    hand = hashlib.sha256(hands[(5 * number + ord(glass)) % HANDS]).hexdigest()
                    connection.execute(
                        "INSERT INTO cutouts (sheet, kind, field, option, digest) VALUES (?, 'writing', ?, '', ?)",
                        (row, f"remarks.{glass}", hand),
                    )
    return folder / "archive"


def told(arguments: Sequence[str | Path]) -> str:
    """Run a command; return its seconds of processor and its peak of memory."""
    command = [sys.executable, "-c", "from kit.shell import main; main()", *map(str, arguments)]
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    assert os.waitstatus_to_exitcode(status) == 0
    return f"{usage.ru_utime + usage.ru_stime:.1f} s of the processor, {usage.ru_maxrss / 1000:.0f} MB at the peak"


def main() -> None:
    """Print the figures for a tenth of the tasters, and for all."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--slips", type=int, default=500)
    parser.add_argument("--fill", type=Path, metavar="FOLDER", help="Write the archive alone.")
    given = parser.parse_args()
    count = given.slips
    if given.fill is not None:
        filled_archive(given.fill, count)
        return
    for tasters in (max(1, count // 10), count):
        with tempfile.TemporaryDirectory() as name:
            # A process of its own: a command begins its life with the memory of the process that starts it.
            fill = ["--slips", str(tasters), "--fill", name]
            subprocess.run([sys.executable, "-m", "tests.scanner.reports.bench_command", *fill], check=True)
            archive = Path(name) / "archive"
            print(f"{tasters} slips: {told(['report', 'slip', '--archive', archive, '--out', Path(name) / 's.pdf'])}")
            print(f"{tasters} scored: {told(['score', '--archive', archive])}")


if __name__ == "__main__":
    main()
