"""A file that breaks its decoder costs one page: hanging, crashing and greedy decoders, of both ways into a pile.

No file is known that breaks the decoders of today, so the decoder that misbehaves is one of the tests' own.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scanner.archive.add import add_pile
from scanner.archive.database import archive_at
from scanner.archive.verify import verify
from scanner.kits import KitOnFile
from scanner.page_tasks import ListPages, PageRead, PageWork, Task, Told, unreadable
from scanner.read_pile import read_and_cut, read_files
from scanner.reading import Outcome, PictureReading
from scanner.watched import Bounds, Fate, Lost, watched
from tests.make_samples import SAMPLES
from tests.scanner.archive.pile import NOW

BOUNDS = Bounds(seconds=20.0, megabytes=900)


@dataclass(frozen=True, slots=True)
class Misbehaving:
    """Work that a file's name makes go wrong: a stand-in for a decoder that such a file breaks."""

    work: PageWork
    reads: bool = False

    def __call__(self, task: Task) -> Told:
        name = Path(task.source).name
        if "hang" in name:
            time.sleep(600)
        if "crash" in name:
            ctypes.string_at(0)
        if "abort" in name:
            os.abort()
        if "leave" in name:
            os._exit(0)
        if "greedy" in name:
            return len(np.ones(10**9, np.uint8))  # type: ignore[return-value]
        if "list" in name and isinstance(task, ListPages):
            os.abort()
        if isinstance(task, ListPages) or self.reads:
            return self.work(task)
        return PageRead(unreadable(task.source, task.source_page, "blank"))


def pile(folder: Path, *names: str) -> list[Path]:
    """Write small pictures of no sheet; what their names say is what happens to them."""
    paths = [folder / name for name in names]
    for path in paths:
        Image.new("L", (300, 400), 255).save(path)
    return paths


def readings(paths: list[Path], jobs: int, bounds: Bounds = BOUNDS) -> list[PictureReading]:
    return list(read_files(paths, {}, jobs, work=Misbehaving(PageWork({})), bounds=bounds))


@pytest.mark.parametrize("jobs", [1, 2])
def test_a_decoder_that_crashes_costs_one_page_and_the_rest_of_the_pile_goes_on(tmp_path: Path, jobs: int) -> None:
    paths = pile(tmp_path, "a.png", "crash.png", "b.png", "abort.png", "leave.png", "c.png")
    found = readings(paths, jobs)
    assert [one.source for one in found] == [str(path) for path in paths]
    reasons = {Path(one.source).name: one.reason or "" for one in found}
    assert "broke down on it (SIGSEGV). Save it as JPEG or PNG" in reasons["crash.png"]
    assert "broke down on it (SIGABRT)" in reasons["abort.png"]
    assert "broke down on it. " in reasons["leave.png"]
    assert not any("broke down" in reasons[name] for name in ("a.png", "b.png", "c.png"))
    assert all(one.outcome is Outcome.UNREADABLE for one in found)


@pytest.mark.parametrize("jobs", [1, 2])
def test_a_decoder_that_hangs_is_killed_and_costs_one_page(tmp_path: Path, jobs: int) -> None:
    found = readings(pile(tmp_path, "a.png", "hang.png", "b.png"), jobs, Bounds(seconds=5.0))
    assert ["more than 60 seconds" in (one.reason or "") for one in found] == [False, True, False]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux bounds a process's own memory")
def test_a_decoder_that_takes_too_much_memory_costs_one_page(tmp_path: Path) -> None:
    found = readings(pile(tmp_path, "a.png", "greedy.png", "b.png"), 1)
    assert ["more than 900 MB of memory" in (one.reason or "") for one in found] == [False, True, False]


def test_a_file_that_breaks_whatever_lists_its_pages_costs_that_file(tmp_path: Path) -> None:
    listed, other = tmp_path / "list.tif", tmp_path / "other.tif"
    for path in (listed, other):
        Image.new("L", (300, 400), 255).save(path)
    found = readings([listed, other, other], 1)
    assert [(one.source_page, "broke down" in (one.reason or "")) for one in found] == [
        (None, True),
        (1, False),
        (1, False),
    ]


def test_a_page_that_breaks_its_decoder_costs_the_archive_that_page(tmp_path: Path) -> None:
    good = tmp_path / "good.jpg"
    good.write_bytes((SAMPLES / "kofi-match.jpg").read_bytes())
    [bad] = pile(tmp_path, "crash.png")

    def read(files: object, kits: dict[str, KitOnFile], jobs: int) -> object:
        return read_and_cut(files, kits, jobs, work=Misbehaving(PageWork(kits, cuts=True), reads=True))  # type: ignore[arg-type]

    kit = print_sample(tmp_path)
    with archive_at(tmp_path / "archive", write=True, create=True) as archive:
        added = list(add_pile(archive, [kit], [bad, good], NOW, read=read))  # type: ignore[arg-type]
        assert [one.what for one in added] == ["unreadable", "read"]
        assert "SIGSEGV" in (added[0].reason or "")
        assert archive.connection.execute("SELECT count(*) FROM cutouts").fetchone()[0] > 0
        assert not verify(archive).faults


def print_sample(folder: Path) -> Path:
    from click.testing import CliRunner

    from kit.shell import main

    command = ["print", str(SAMPLES / "winter.toml"), "--out", str(folder / "kit")]
    assert CliRunner().invoke(main, command).exit_code == 0
    return folder / "kit"


@dataclass(frozen=True, slots=True)
class Telling:
    """Work that says in which process it was done; 13 kills that process first."""

    def __call__(self, task: int) -> int:
        if task == 13:
            os.kill(os.getpid(), signal.SIGKILL)
        return os.getpid()


def test_a_worker_is_kept_for_the_next_page_and_replaced_where_it_died() -> None:
    work = Telling()
    [(_, before), (_, still)] = watched(work, [1, 2], 1, BOUNDS)
    [(_, again)] = watched(work, [3], 1, BOUNDS)
    assert before == still == again != os.getpid()
    [(_, lost), (_, after)] = watched(work, [13, 4], 1, BOUNDS)
    assert lost == Lost(Fate.CRASHED, "SIGKILL")
    assert after != before


def test_results_come_in_the_order_of_the_tasks() -> None:
    found = list(watched(_Slowest(), [3, 0, 2, 1, 0, 0], 2, BOUNDS))
    assert found == [(task, -task) for task in (3, 0, 2, 1, 0, 0)]


@dataclass(frozen=True, slots=True)
class _Slowest:
    """Work that takes the longer the greater the number is."""

    def __call__(self, task: int) -> int:
        time.sleep(0.1 * task)
        return -task


def test_work_that_is_left_off_leaves_no_worker_behind_at_it() -> None:
    results = watched(_Slowest(), [0, 6000], 2, BOUNDS)
    assert next(results) == (0, 0)
    results.close()
    assert list(watched(_Slowest(), [1], 1, BOUNDS)) == [(1, -1)]


def test_a_worker_that_cannot_start_costs_its_page() -> None:
    [(_, lost)] = watched(_NotThere(), [1], 1, BOUNDS)
    assert lost == Lost(Fate.NOT_STARTED)


class _NotThere:
    """Work that cannot be taken: whoever unpickles it leaves."""

    def __call__(self, task: int) -> int:
        return task

    def __reduce__(self) -> tuple[object, tuple[int]]:
        return os._exit, (0,)


def test_the_process_that_holds_the_pile_loads_no_decoder(tmp_path: Path) -> None:
    import subprocess

    program = (
        "import sys, scanner.commands.read, scanner.archive.add\n"
        "print(sorted({'cv2', 'pypdfium2', 'pillow_heif', 'zxingcpp'} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
