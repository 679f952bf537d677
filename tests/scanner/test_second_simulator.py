"""The second simulator: that it keeps every place, gives the same twice, and says in a sentence what is amiss."""

from __future__ import annotations

import os
import pickle
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

import tests.second_simulator as second
from kit.errors import ExitCode, FacedownError
from scanner.rehearsal.arrays import Gray, Points
from scanner.rehearsal.picture import Picture
from tests.second_simulator import SECOND_SHOTS, WORKER, Step, Worker, page_spoilt

PX_PER_MM = 12.0
DOT_MM = 2.0
DOTS = np.array([[x, y] for x in (25.0, 78.0, 131.0, 184.0) for y in (30.0, 103.0, 190.0, 265.0)])
SHADOW: list[Step] = [("ShadowCast", {})]


def environment_missing() -> bool:
    try:
        second.demand_environment()
    except FacedownError:
        return True
    return False


needs_environment = pytest.mark.skipif(environment_missing(), reason=f"made by: {second.INSTALL}")


@pytest.fixture(scope="module")
def dotted_page() -> Gray:
    """An A4 page with black discs at `DOTS`."""
    return discs((round(297 * PX_PER_MM), round(210 * PX_PER_MM)), DOTS * PX_PER_MM - 0.5, DOT_MM * PX_PER_MM)


@pytest.fixture
def blank() -> Gray:
    return np.full((2339, 1654), 255, np.uint8)


def discs(shape: tuple[int, int], centres: Points, radius: float) -> Gray:
    page = np.full(shape, 255, np.uint8)
    for x, y in np.rint(centres * 16).astype(int):
        cv2.circle(page, (int(x), int(y)), round(radius * 16), 0, -1, cv2.LINE_AA, 4)
    return page


def farthest_mm(picture: Picture, reach_px: int = 6) -> float:
    """How far the farthest dot lies from its told place; each is sought by its shape, past dirt and cuts."""
    scale = second.PX_PER_MM
    half = round((DOT_MM + 1.0) * scale)
    distances = []
    for place in picture.place(DOTS):
        corner = np.floor(place).astype(int) - half
        dot = discs((2 * half, 2 * half), (place - corner)[None], DOT_MM * scale)
        left, top = corner - reach_px
        around = picture.image[top : top + 2 * (half + reach_px), left : left + 2 * (half + reach_px)]
        likeness = cv2.matchTemplate(around, dot, cv2.TM_CCOEFF_NORMED)
        row, column = np.unravel_index(int(likeness.argmax()), likeness.shape)
        assert likeness[row, column] > 0.7
        across = column + peak(likeness[row, column - 1 : column + 2]) - reach_px
        down = row + peak(likeness[row - 1 : row + 2, column]) - reach_px
        distances.append(float(np.hypot(across, down)) / scale)
    return max(distances)


def peak(three: NDArray[Any]) -> float:
    """Where the parabola through three values one apart is highest, from the middle one."""
    before, here, after = (float(value) for value in three)
    return (before - after) / (2 * (before - 2 * here + after))


@needs_environment
@pytest.mark.parametrize("name", SECOND_SHOTS)
def test_every_dot_of_a_page_stays_where_the_picture_says(name: str, dotted_page: Gray) -> None:
    picture = SECOND_SHOTS[name](dotted_page, PX_PER_MM, np.random.default_rng(1))
    assert farthest_mm(picture) < 0.1


@needs_environment
def test_a_picture_moved_by_a_quarter_millimetre_is_noticed(dotted_page: Gray) -> None:
    picture = SECOND_SHOTS["second-noise"](dotted_page, PX_PER_MM, np.random.default_rng(1))
    assert farthest_mm(replace(picture, image=np.roll(picture.image, 2, axis=1))) > 0.2


@needs_environment
def test_what_the_library_bends_is_noticed(dotted_page: Gray) -> None:
    bent = [("InkShifter", {"text_shift_scale_range": (25, 30)})]
    picture = page_spoilt(dotted_page, PX_PER_MM, np.random.default_rng(1), recipe=lambda _: bent)
    assert farthest_mm(picture) > 0.1


@needs_environment
@pytest.mark.parametrize("name", SECOND_SHOTS)
def test_the_same_chance_gives_the_same_picture_and_another_another(name: str, dotted_page: Gray) -> None:
    corner = dotted_page[:1400, :1000]
    first, again, other = (
        SECOND_SHOTS[name](corner, PX_PER_MM, np.random.default_rng(seed)).image for seed in (5, 5, 6)
    )
    assert (first == again).all()
    assert (first != other).any()


@needs_environment
def test_a_fresh_worker_gives_the_same_page() -> None:
    page = discs((600, 400), np.array([[100.0, 100.0]]), 30.0)
    steps: list[Step] = [("DirtyDrum", {}), ("Stains", {}), ("Dithering", {"dither": "Floyd Steinberg"})]
    used = second._worker(os.getpid())
    used.spoilt(page, SHADOW, 4)
    fresh = Worker([second._python(), "-I", WORKER])
    spoilt = fresh.spoilt(page, steps, 3)
    fresh.close()
    assert (used.spoilt(page, steps, 3) == spoilt).all()
    assert (spoilt != page).any()


@needs_environment
def test_after_an_unknown_step_the_next_page_is_spoilt_all_the_same(dotted_page: Gray) -> None:
    with pytest.raises(FacedownError, match="failed on NoSuchThing with seed"):
        page_spoilt(dotted_page, PX_PER_MM, np.random.default_rng(1), recipe=lambda _: [("NoSuchThing", {})])
    assert SECOND_SHOTS["second-noise"](dotted_page, PX_PER_MM, np.random.default_rng(1)).image.size


def test_the_shots_can_be_sent_to_other_processes() -> None:
    assert list(pickle.loads(pickle.dumps(SECOND_SHOTS))) == list(SECOND_SHOTS)


@pytest.fixture
def worker(request: pytest.FixtureRequest) -> Iterator[Worker]:
    """A worker of the project's own Python, which runs the code given as the test's parameter."""
    started = Worker([sys.executable, "-c", request.param], time_limit_s=20.0)
    yield started
    started.close()


@pytest.mark.parametrize("worker", ["import sys; sys.exit('the disk is full')"], indirect=True)
def test_a_worker_that_dies_is_told_with_its_last_words(worker: Worker, blank: Gray) -> None:
    with pytest.raises(FacedownError, match=r"ended on ShadowCast: the disk is full Try again.*--install"):
        worker.spoilt(blank, SHADOW, 1)


def test_a_worker_that_hangs_is_ended_at_the_time_limit(blank: Gray) -> None:
    worker = Worker([sys.executable, "-c", "import time; time.sleep(600)"], time_limit_s=0.3)
    with pytest.raises(FacedownError, match=r"did not answer within 0\.3 s on ShadowCast"):
        worker.spoilt(blank, SHADOW, 1)
    worker.close()


SHRINKING = """
import json, struct, sys
lengths = struct.unpack(">II", sys.stdin.buffer.read(8))
sys.stdin.buffer.read(sum(lengths))
header = json.dumps({"shape": [2, 3]}).encode()
sys.stdout.buffer.write(struct.pack(">II", len(header), 6) + header + bytes(6))
"""


@pytest.mark.parametrize("worker", [SHRINKING], indirect=True)
def test_a_page_that_comes_back_smaller_is_refused(worker: Worker, blank: Gray) -> None:
    with pytest.raises(FacedownError, match=r"a page of \[2, 3\] pixels, not of \[2339, 1654\]"):
        worker.spoilt(blank, SHADOW, 1)


def test_the_worker_run_by_a_python_without_the_library_says_so(blank: Gray) -> None:
    worker = Worker([sys.executable, "-I", WORKER])
    with pytest.raises(FacedownError, match="No module named 'augraphy'"):
        worker.spoilt(blank, SHADOW, 1)
    worker.close()


def test_a_missing_environment_is_a_sentence_with_the_command_that_makes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(second, "ENVIRONMENT", tmp_path / "none")
    monkeypatch.setattr(sys, "argv", ["second_simulator"])
    with pytest.raises(SystemExit) as ended:
        second.main()
    said = capsys.readouterr()
    assert ended.value.code == ExitCode.REFUSED
    assert said.err.endswith("Make it: python -m tests.second_simulator --install\n")
    assert "Traceback" not in said.err + said.out


def test_an_environment_of_other_versions_is_not_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "installed.txt").write_text("augraphy==8.2.5", "utf-8")
    monkeypatch.setattr(second, "ENVIRONMENT", tmp_path)
    with pytest.raises(FacedownError, match="other versions"):
        second.demand_environment()


def test_an_environment_that_cannot_be_made_is_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setattr(second, "ENVIRONMENT", tmp_path / "file" / "env")
    with pytest.raises(FacedownError, match="was not made: making the environment failed with"):
        second.install()
