"""`facedown report slip` as a whole, on an archive with handwriting: `python -m tests.scanner.reports.bench_command`.

Peak memory for a tenth of the tasters stands beside that for all: from an archive, from a READING file, and of
`facedown score`, which holds the kit and its readings as every command on results does.
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


def measured(arguments: Sequence[str | Path]) -> tuple[float, float]:
    """Run a command; return its seconds of processor and its peak of memory in MB."""
    command = [sys.executable, "-c", "from kit.shell import main; main()", *map(str, arguments)]
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    assert os.waitstatus_to_exitcode(status) == 0
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1000


def of_pile(tasters: int) -> dict[str, tuple[float, float]]:
    """Return what each way to the slips takes for so many tasters, and `score` beside them."""
    with tempfile.TemporaryDirectory() as name:
        # A process of its own: a command begins its life with the memory of the process that starts it.
        fill = ["--slips", str(tasters), "--fill", name]
        subprocess.run([sys.executable, "-m", "tests.scanner.reports.bench_command", *fill], check=True)
        folder = Path(name)
        archive: tuple[str | Path, ...] = ("--archive", folder / "archive")
        files: tuple[str | Path, ...] = ("--kit", folder / "kit", folder / "kit.json")
        out: tuple[str | Path, ...] = ("--out", folder / "slips.pdf")
        return {
            "slips from an archive": measured(["report", "slip", *archive, *out]),
            "slips from a reading": measured(["report", "slip", *files, *out]),
            "... with --json, --csv": measured(
                ["report", "slip", *files, *out, "--json", folder / "slips.json", "--csv", folder / "slips.csv"]
            ),
            "score, from an archive": measured(["score", *archive]),
        }


def main() -> None:
    """Print the figures for a tenth of the tasters beside those for all."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--slips", type=int, default=500)
    parser.add_argument("--fill", type=Path, metavar="FOLDER", help="Write the archive alone.")
    given = parser.parse_args()
    if given.fill is not None:
        filled_archive(given.fill, given.slips)
        return
    few, many = max(1, given.slips // 10), given.slips
    of_few, of_many = of_pile(few), of_pile(many)
    print(f"{'at the peak':24} {few:4} tasters {many:5} tasters    more   seconds of the processor")
    for way, (few_s, few_mb) in of_few.items():
        many_s, many_mb = of_many[way]
        print(f"{way:24} {few_mb:9.0f} MB {many_mb:10.0f} MB {many_mb - few_mb:4.0f} MB   {few_s:.1f} and {many_s:.1f}")


if __name__ == "__main__":
    main()
