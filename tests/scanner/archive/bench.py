"""How long `list` and `show` take with 100,000 sheets, beside what it takes to start Python, and how large a sheet is.

    python -m tests.scanner.archive.bench [--sheets 100000] [--folder FOLDER]

The archive is made by the functions that `add` writes with; the readings are drawn from the sample session's layout. It
is left in FOLDER, and used again from there.
"""

from __future__ import annotations

import argparse
import datetime
import random
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from kit.build import build_kit, chance_for
from kit.codes import ALPHABET, ROLE_DIGITS, sheet_id
from kit.session import Session, load_session
from kit.sheet_layout import SheetLayout
from kit.sheets import form_sheets
from scanner.archive.database import Archive, Connection, archive_at, transaction
from scanner.archive.facts import put_sheet, relate
from scanner.archive.kits import put_drink, put_taster
from scanner.archive.rows import insert
from scanner.reading import Mark, Outcome, PageReading, State
from tests.make_samples import SAMPLES

NOW = "2026-12-06T10:00:00+00:00"
ROUNDS = 9
ALLOWED_MS = 100


def main(sheets: int, folder: Path) -> int:
    """Make the archive, time the commands, print both; status 1 where a command is over its allowance."""
    archive = folder / f"archive-{sheets}"
    if not archive.exists():
        begun = time.perf_counter()
        with archive_at(archive, write=True, create=True) as opened:
            _fill(opened, sheets)
        print(f"{sheets} sheets written in {time.perf_counter() - begun:.0f} s")
    size = (archive / "archive.sqlite3").stat().st_size
    print(f"database: {size / 1e6:.1f} MB, {size / sheets:.0f} bytes a sheet")
    with archive_at(archive) as opened:
        kit = opened.connection.execute("SELECT id FROM sittings ORDER BY date LIMIT 1").fetchone()[0]
    start = _median_ms([sys.executable, "-c", "pass"])
    print(f"\n{'':28}{'ms':>8}{'over Python':>14}{'ratio':>8}\n{'python -c pass':28}{start:8.0f}")
    worst = 0.0
    for words in (["list"], ["show", kit], ["show", f"{kit}-0001-3"], ["show", "ines"]):
        took = _median_ms([sys.executable, "-m", "kit.shell", "archive", *words, "--archive", str(archive)])
        worst = max(worst, took - start)
        print(f"{'archive ' + ' '.join(words):28}{took:8.0f}{took - start:11.0f} ms{took / start:8.1f}")
    print(f"\nallowed over Python: {ALLOWED_MS} ms; the slowest: {worst:.0f} ms")
    return int(worst > ALLOWED_MS)


def _median_ms(command: list[str]) -> float:
    """Time a command by the processor's own seconds, which other programs on the machine do not lengthen."""
    times = []
    for _ in range(ROUNDS):
        script = (
            "import resource, subprocess, sys; subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, check=True); "
            "used = resource.getrusage(resource.RUSAGE_CHILDREN); print(used.ru_utime + used.ru_stime)"
        )
        told = subprocess.run([sys.executable, "-c", script, *command], capture_output=True, text=True, check=True)
        times.append(1000 * float(told.stdout))
    return statistics.median(times)


def _fill(archive: Archive, sheets: int) -> None:
    session = load_session(SAMPLES / "winter.toml")
    layouts = [sheet.layout for sheet in form_sheets(build_kit(session, chance_for(session))) if sheet.layout.marks]
    rng = random.Random(20261205)
    written = 0
    while written < sheets:
        with transaction(archive) as connection:
            for _ in range(100):
                if written < sheets:
                    written += _sitting(connection, written, session, layouts, rng)


def _sitting(
    connection: Connection, number: int, session: Session, layouts: list[SheetLayout], rng: random.Random
) -> int:
    kit = "".join(ALPHABET[rng.randrange(32)] for _ in range(6))
    insert(connection, "kits", id=kit, record_digest="0" * 64, layout_digest="1" * 64, added_at=NOW)
    insert(
        connection,
        "sittings",
        id=kit,
        kit=kit,
        title=f"Evening {number}",
        date=(session.date - datetime.timedelta(days=number % 4000)).isoformat(),
        drink="sake",
        shuffle="host",
        keys="own",
        glasses=5,
        entered_by="kit",
        added_at=NOW,
    )
    for coaster, pour in enumerate(session.pours, start=1):
        put_drink(connection, kit, coaster, pour)
    for seat, taster in enumerate(session.tasters, start=1):
        put_taster(connection, kit, seat, taster)
    digest = rng.randbytes(32).hex()
    insert(connection, "piles", id=digest[:12], added_at=NOW)
    insert(
        connection,
        "originals",
        digest=digest,
        suffix=".pdf",
        bytes=1,
        name=f"pile-{number}.pdf",
        pile=digest[:12],
        added_at=NOW,
    )
    for page, layout in enumerate(layouts, start=1):
        sheet = sheet_id(kit, layout.taster, ROLE_DIGITS[layout.role])
        reading = PageReading(
            f"pile-{number}.pdf", page, kit, sheet, layout.taster, layout.role, Outcome.READ, None, _marks(layout, rng)
        )
        put_sheet(connection, digest, reading, NOW)
        relate(connection, sheet)
    return len(layouts)


def _marks(layout: SheetLayout, rng: random.Random) -> tuple[Mark, ...]:
    """Return two or three words a glass, one option of every field to pick one of, and now and then a doubt."""
    fields: dict[str, list[str]] = {}
    for box in layout.marks:
        fields.setdefault(box.field, []).append(box.option)
    marks = [
        Mark(field, option, State.MARKED)
        for field, options in fields.items()
        for option in rng.sample(options, rng.choice((2, 3)) if field.startswith("words") else 1)
    ]
    if rng.random() < 0.1:
        marks[0] = replace(marks[0], state=State.DOUBTFUL, reason="the stroke is faint")
    return tuple(marks)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", type=int, default=100_000)
    parser.add_argument("--folder", type=Path, default=None)
    asked = parser.parse_args()
    if asked.folder is not None:
        asked.folder.mkdir(parents=True, exist_ok=True)
        sys.exit(main(asked.sheets, asked.folder))
    with tempfile.TemporaryDirectory() as place:
        sys.exit(main(asked.sheets, Path(place)))
