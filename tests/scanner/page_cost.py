"""What pages ask of the machine, one fresh process for each: the figures of `scanner/limits.py`.

python -m tests.scanner.page_cost            (draws the pages; half a minute)
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

from kit.build import build_kit, chance_for
from kit.layout_file import write_layout
from kit.session import load_session
from kit.sheet_layout import from_json
from scanner.kits import KitOnFile, from_kit
from tests.make_samples import SAMPLES
from tests.scanner import rows

A3_AT_600_DPI = (7016, 9921)


def main() -> None:
    """Draw the pages and tell of each its processor time and the greatest memory in use."""
    with tempfile.TemporaryDirectory() as folder:
        for page in _pages(Path(folder)):
            subprocess.run([sys.executable, "-m", "tests.scanner.page_cost", str(page)], check=True)


def _pages(folder: Path) -> list[Path]:
    sheet = Image.open(SAMPLES / "kofi-notes-1.jpg")
    largest = sheet.resize(A3_AT_600_DPI, Image.Resampling.BICUBIC)
    largest.save(folder / "a3.png", compress_level=1)
    largest.save(folder / "a3.jpg", quality=92)
    _, faces = rows.a_kit()
    row = rows.picture(rows.pieces(faces, (3, 1, 2, 5, 4)), long_px=8064)
    Image.fromarray(np.stack([row] * 3, axis=-1)).save(folder / "row-48-megapixels.jpg", quality=92)
    return [SAMPLES / "kofi-notes-1.jpg", SAMPLES / "ada-notes-1.heic", *sorted(folder.iterdir())]


def _tell(path: Path) -> None:
    from scanner.page_tasks import ListPages, ReadPage
    from scanner.page_worker import listed, read_page

    sample, (house, _) = _sample_kit(), rows.a_kit()
    began, libraries_mb = time.process_time(), _peak_mb()
    places = listed(ListPages(str(path)))
    assert not isinstance(places, str)
    told = read_page(ReadPage(str(path), 1, places[0]), {sample.id: sample, house.id: house}, cuts=True)
    print(
        f"{path.name}: {told.picture.outcome.value}, {time.process_time() - began:.1f} s of processor time, "
        f"{_peak_mb():.0f} MB in use at the most, {libraries_mb:.0f} before it"
    )


def _sample_kit() -> KitOnFile:
    session = load_session(SAMPLES / "winter.toml")
    kit, layout = build_kit(session, chance_for(session)), io.BytesIO()
    write_layout(kit, layout)
    return from_kit(kit, from_json(json.loads(layout.getvalue())))


def _peak_mb() -> float:
    """Return the greatest memory in use so far: getrusage would count the process that this one was begun by, too."""
    [line] = [line for line in Path("/proc/self/status").read_text("ascii").splitlines() if line.startswith("VmHWM")]
    return int(line.split()[1]) * 1024 / 1e6


if __name__ == "__main__":
    _tell(Path(sys.argv[1])) if len(sys.argv) > 1 else main()
