"""Printing goes to the disk as it comes: no more memory for hundreds of tasters than for twenty; all of it or none."""

from __future__ import annotations

import errno
import io
import json
import os
import subprocess
import sys
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.build import build_kit
from kit.contents import print_kit
from kit.drawing import Element, Page, Text
from kit.errors import ExitCode, StorageError
from kit.fonts import font
from kit.layout_file import write_layout
from kit.paper import A4
from kit.pdf import Pdf, Plate, render
from kit.pdf_file import LEAF_PAGES, number_text
from kit.print_run import HowToPrint, print_session
from kit.session import Shuffle
from kit.sheet_layout import to_json
from tests.kit import samples
from tests.kit.rendering import by_pdfium, checked_by_qpdf, needs_poppler, needs_qpdf, text_of

ROOT = Path(__file__).parents[2]
FEW, MANY = 20, 150
NEVER_MORE_MB = 4
"""Between the two; it was 90 MB while all pages were kept until the last was drawn."""

PEAK = r"""
import re
print(int(re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text())[1]) // 1024, file=sys.stderr)
"""
"""The kernel's own count, which begins with the program; `ru_maxrss` begins with the parent's, here all of pytest."""
PRINT = """
import sys
from pathlib import Path
from kit.shell import main
main(sys.argv[1:], standalone_mode=False)
"""
IN_MEMORY = """
import sys
from pathlib import Path
from kit.session import load_session
from kit.build import build_kit, chance_for
from kit.contents import kit_contents
session = load_session(Path(sys.argv[2]))
kit = build_kit(session, chance_for(session))
kept = [kit_contents(kit, chance_for(session))]
"""


def session_of(tmp_path: Path, tasters: int, shuffle: Shuffle = "host", *, glasses: int = 3) -> Path:
    names = tuple(f"Taster {number} of the Circle" for number in range(1, tasters + 1))
    path = tmp_path / f"{tasters}.toml"
    path.write_text(
        samples.session_file(samples.a_session(glasses, shuffle=shuffle, names=names), seeded=False), "utf-8"
    )
    return path


def peak_mb(tmp_path: Path, tasters: int, script: str) -> int:
    """Return the peak of the memory of a print, MB, as the operating system counts it."""
    session = session_of(tmp_path, tasters)
    arguments = ["print", str(session), "--out", str(tmp_path / f"kit-{tasters}-{len(script)}"), "--packets"]
    done = subprocess.run(
        [sys.executable, "-c", script + PEAK, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        timeout=600,
    )
    return int(done.stderr.split()[-1])


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux has /proc, which tells the peak")
def test_memory_does_not_grow_with_the_tasters(tmp_path: Path) -> None:
    few, many = (peak_mb(tmp_path, tasters, PRINT) for tasters in (FEW, MANY))
    assert many - few < NEVER_MORE_MB
    assert len(list((tmp_path / f"kit-{MANY}-{len(PRINT)}" / "packets").iterdir())) == MANY


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux has /proc, which tells the peak")
def test_the_measure_of_memory_sees_a_kit_that_is_kept_whole(tmp_path: Path) -> None:
    few, many = (peak_mb(tmp_path, tasters, IN_MEMORY) for tasters in (FEW, MANY))
    assert many - few > NEVER_MORE_MB


@pytest.mark.parametrize("shuffle", ["host", "hand", "twin"])
@pytest.mark.parametrize(("glasses", "paper"), [(3, "A4"), (4, "Letter"), (5, "A4")])
def test_the_layout_is_the_bytes_that_json_makes_of_it_at_once(glasses: int, paper: Any, shuffle: Shuffle) -> None:
    """Against the standard library's own spelling of the whole object."""
    printed = samples.printed(glasses, paper, shuffle)
    whole = to_json(printed.layout)
    buffer = io.BytesIO()
    digest = write_layout(printed.kit, buffer)
    assert buffer.getvalue() == (json.dumps(whole, ensure_ascii=False, separators=(",", ":")) + "\n").encode()
    canonical = json.dumps(whole, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    assert digest == write_layout(printed.kit, None) == sha256(canonical.encode()).hexdigest()
    assert digest == printed.record["layout_sha256"]


@given(st.floats(-2000, 2000))
def test_a_number_is_spelled_without_an_exponent_and_comes_back(value: float) -> None:
    """ISO 32000-1, 7.3.3: exponents are not allowed."""
    text = number_text(value).decode()
    assert set(text) <= set("-0123456789.")
    assert abs(float(text) - value) <= max(0.6e-6, abs(value) * 1e-6)


@needs_qpdf
@needs_poppler
@pytest.mark.parametrize("pages", [1, LEAF_PAGES, LEAF_PAGES + 1, 3 * LEAF_PAGES + 7])
def test_pages_keep_their_order_however_many_there_are(pages: int) -> None:
    pdf = render((Page(A4, "one", (), (Text(30, 30, f"page {n}", 12.0),)) for n in range(1, pages + 1)), "pages")
    assert "No syntax or stream encoding errors found" in checked_by_qpdf(pdf)
    assert [text.strip() for text in text_of(pdf)] == [f"page {n}" for n in range(1, pages + 1)]
    assert len(pypdf.PdfReader(io.BytesIO(pdf), strict=True).pages) == pages


@needs_poppler
@pytest.mark.parametrize("name", ["regular", "black", "fallback"])
def test_every_character_of_a_font_can_be_copied_out_again(name: str) -> None:
    """Two characters that share a shape, and those beyond the first 65,536, as well: poppler is the judge."""
    marks = [chr(point) for point in sorted(font(name).charToGlyph) if chr(point).isalnum() and point > 0x2E]
    shown = marks[:: max(1, len(marks) // 300)] + [mark for mark in marks if ord(mark) > 0xFFFF][:20]
    face: Any = "regular" if name == "fallback" else name
    rows = ["".join(shown[first : first + 30]) for first in range(0, len(shown), 30)]
    page = Page(A4, "one", (), tuple(Text(20, 20 + 8 * row, text, 12.0, face) for row, text in enumerate(rows)))
    (text,) = text_of(render([page], "all"))
    # Marks are compared as a set: right-to-left and combining marks may be set in another order.
    assert set(shown) <= set(text)


def test_files_that_share_a_plate_are_those_that_share_none() -> None:
    """The plate saves drawing, and changes no byte: not with an empty part, and not with one part in both places."""
    part: tuple[Element, ...] = (Text(30, 30, "twice", 12.0),)
    pages = [Page(A4, "a", part, ()), Page(A4, "b", (), part), Page(A4, "a", part, part), Page(A4, "c", part, part)]
    plate = Plate()
    for _ in range(2):
        buffer = io.BytesIO()
        pdf = Pdf(buffer, "plate", plate)
        for page in pages:
            pdf.add(page)
        pdf.close()
        assert buffer.getvalue() == render(pages, "plate")
    pictures = by_pdfium(render(pages, "plate"), 40)
    assert all((picture < 128).any() for picture in pictures), "each page shows its part once or twice"


def test_an_error_in_the_middle_leaves_nothing_behind(tmp_path: Path) -> None:
    def stop(taster: int) -> None:
        if taster == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        print_session(samples.a_session(3), "session.toml", tmp_path / "new" / "kit", HowToPrint(packets=True), stop)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells the name of an open file")
@pytest.mark.parametrize(
    "broken", ["forms.pdf", "layout.json", "host.pdf", "packets/0002.pdf", "contents.pdf", "kit.json"]
)
def test_a_disk_that_fills_up_in_any_file_leaves_the_old_kit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    session = replace(samples.a_session(3), seed=None)
    print_session(session, "session.toml", tmp_path / "kit", HowToPrint(packets=True))
    before = {path: path.read_bytes() for path in (tmp_path / "kit").rglob("*") if path.is_file()}
    fill_up(monkeypatch, broken)
    with pytest.raises(StorageError, match=r"kit: the disk refused: no space left on device\. Nothing was changed"):
        print_session(session, "session.toml", tmp_path / "kit", HowToPrint(replaces="--force", packets=True))
    assert {path: path.read_bytes() for path in (tmp_path / "kit").rglob("*") if path.is_file()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["kit"]


@pytest.mark.skipif(sys.platform != "linux", reason="the limit's error differs elsewhere")
def test_a_limit_of_the_operating_system_is_the_disks_refusal(tmp_path: Path) -> None:
    """A refusal that no test made up: files may not grow past 40 kB."""
    script = (
        "import resource, signal, sys\nsignal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))\nfrom kit.shell import main\nmain(sys.argv[1:])"
    )
    arguments = ["print", str(session_of(tmp_path, 5)), "--out", str(tmp_path / "kit")]
    done = subprocess.run([sys.executable, "-B", "-c", script, *arguments], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == ExitCode.STORAGE
    assert "kit: the disk refused: file too large. Nothing was changed." in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["5.toml"]


def test_a_long_print_shows_on_a_terminal_how_far_it_is_and_nothing_in_a_pipe(tmp_path: Path) -> None:
    session = session_of(tmp_path, 21)
    command = [sys.executable, "-m", "kit.shell", "print", str(session), "--out"]
    quiet = subprocess.run([*command, str(tmp_path / "one")], cwd=ROOT, capture_output=True, text=True, check=True)
    assert quiet.stderr == ""
    ours, theirs = pytest.importorskip("pty").openpty()
    shown = subprocess.run(
        [*command, str(tmp_path / "two")], cwd=ROOT, stdout=subprocess.PIPE, stderr=theirs, check=True
    )
    os.close(theirs)
    told = os.read(ours, 65536).decode()
    os.close(ours)
    assert "printing" in told
    assert "100%" in told
    assert b"printing" not in shown.stdout


def test_files_are_written_through_what_they_are_opened_with(tmp_path: Path) -> None:
    """`print_kit` knows no folder: whatever opens its files gets all of them, each closed."""
    session = samples.a_session(3, shuffle="twin")
    chance = samples.a_chance(session)
    kit = build_kit(session, chance)
    files = samples.print_of(session).files
    opened: list[str] = []

    class Kept(io.BytesIO):
        def __init__(self, name: str) -> None:
            super().__init__()
            opened.append(name)

    print_kit(kit, (), chance, lambda name: Kept(name))
    assert sorted(opened) == sorted(files.keys() - {"keys.pdf", "packing.pdf"}), "without keys nothing shows one"


def fill_up(monkeypatch: pytest.MonkeyPatch, broken: str) -> None:
    """Let the disk be full when a file of that name is put on it."""
    sync = os.fsync

    def synced(descriptor: int) -> None:
        if str(Path(f"/proc/self/fd/{descriptor}").readlink()).endswith(f"/{broken}"):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        sync(descriptor)

    monkeypatch.setattr(os, "fsync", synced)
