"""A second simulator, by other people: pages spoilt by Augraphy, a library of document degradations.

    python -m tests.second_simulator --install      (makes its environment: some 820 MB under `.accuracy/`)
    python -m tests.second_simulator                (tells whether it is there)

A reader that is tuned on a simulator of one's own may have learnt that simulator. `SECOND_SHOTS` are conditions like
those of `scanner.rehearsal.camera`, and what spoils the page in them is none of our code. Augraphy brings a numerical
stack of its own, so it runs in an environment of its own, as a worker process that each process of a benchmark starts
when it first needs one (`tests/second_simulator_worker.py`). The hand that marks the page stays ours, and so does the
plain scan: a turn, a shift, a little noise and a JPEG.

Only augmentations that keep every place are used, at severities at which a careful person reads the page with ease
(judged on samples of each). What spoils the page itself comes before the scan, what a device does comes after it.

Left out, of the same library:

- what moves pixels (seen, or by its description): BookBinding, Folding, Geometric, GlitchEffect, InkShifter,
  PageBorder, Rescale, SectionShift, Squish, DoubleExposure (a ghost 4 mm off);
- what takes ink away, so that a plain mark is one no longer: Letterpress, Hollow, DotMatrix, ReflectedLight (glare
  burns out whole boxes), BadPhotoCopy's edges, Faxify's halftone and its adaptive thresholds (a fill turns hollow),
  LinesDegradation (erases straight strokes, so crosses), DelaunayTessellation and VoronoiTessellation (halve all
  contrast), ordered Dithering (uses one corner of its matrix: pale tones vanish), LowInkPeriodicLines (three or four
  cuts through a box: a blacking out leaves too much uncovered);
- what paints ink into empty boxes: Markup, Scribbles, NoisyLines, BindingsAndFasteners, WaterMark, DirtyDrum in its
  full blackness, "severe" Stains (spots as small and dark as marks), PatternGenerator, DirtyRollers (bars as dark as
  pencil, with nothing to make them lighter);
- what has nothing to do with paper and scanners: LCDScreenPattern, LensFlare, Moire, DepthSimulatedBlur;
- what a gray picture does not show: ColorPaper, ColorShift, InkColorSwap.
"""

from __future__ import annotations

import argparse
import atexit
import json
import os
import struct
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import IO, Any

import numpy as np

from kit.errors import FacedownError
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.camera import Shot, moved
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.scan import MM_PER_INCH, ScanSeverity, flatbed
from scanner.rehearsal.warp import inverse, mm_to_px, shrunk_page

ENVIRONMENT = Path(__file__).parent.parent / ".accuracy" / "second-simulator-env"
WORKER = Path(__file__).with_name("second_simulator_worker.py")
INSTALL = "python -m tests.second_simulator --install"
TIME_LIMIT_S = 240.0  # a first page waits for the library to be loaded and compiled

PINS = """
augraphy==8.2.6
certifi==2026.10.19.post1
charset-normalizer==3.5.3
cloudpickle==3.1.3
contourpy==1.3.3
cycler==0.12.1
fonttools==4.68.0
idna==3.20
ImageIO==2.38.1
joblib==1.6.0
kiwisolver==1.5.1
lazy-loader==0.6
llvmlite==0.50.0
matplotlib==3.11.2
narwhals==2.29.0
networkx==3.6.1
numba==0.68.1
numpy==2.4.6
opencv-python-headless==5.0.0.93
packaging==26.4
pillow==13.0.0
pyparsing==3.3.3
python-dateutil==4.0.0
requests==2.34.2
scikit-image==0.26.0
scikit-learn==1.9.1
scipy==1.17.1
threadpoolctl==3.8.0
tifffile==2026.3.3
tzdata==2026.6
urllib3==2.8.0
""".strip()
"""Augraphy and all it needs, installed as listed and nothing else; of OpenCV it is the build without windows."""

DPI = 200.0
PX_PER_MM = DPI / MM_PER_INCH

Step = tuple[str, dict[str, Any]]
"""One of Augraphy's augmentations and its arguments; a pair in a `…_range` is drawn from by the library itself."""

Recipe = Callable[[np.random.Generator], Sequence[Step]]


def page_spoilt(page: Gray, px_per_mm: float, rng: np.random.Generator, *, recipe: Recipe) -> Picture:
    """Return a plain 200-dpi scan of a page that was spoilt before it came to the scanner."""
    reduced, mm_to_page = shrunk_page(page, px_per_mm, PX_PER_MM)
    spoilt = _spoilt(reduced, recipe(rng), rng)
    # `flatbed` takes both scales as equal; the page's whole pixels make them differ by some 0.1 ‰.
    return moved(flatbed(spoilt, PX_PER_MM, DPI, rng, _plain_scan(rng)), inverse(mm_to_px(PX_PER_MM)) @ mm_to_page)


def scan_spoilt(page: Gray, px_per_mm: float, rng: np.random.Generator, *, recipe: Recipe) -> Picture:
    """Return a plain 200-dpi scan that was spoilt by the device or on its way."""
    picture = flatbed(page, px_per_mm, DPI, rng, _plain_scan(rng))
    return replace(picture, image=_spoilt(picture.image, recipe(rng), rng))


def faxed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan made one-bit by a threshold, at a fax's resolution or somewhat below."""
    share = float(rng.uniform(0.68, 0.82))
    level = {"thresh": round(255 * share), "maxval": 255, "type": 0}  # 0: OpenCV's THRESH_BINARY
    method = {"monochrome": 1, "monochrome_method": "cv2.threshold", "monochrome_arguments": level, "halftone": 0}
    steps = [("Faxify", {"scale_range": (1.0, 1.25), **method})]
    picture = scan_spoilt(page, px_per_mm, rng, recipe=lambda _: steps)
    return replace(picture, faintest=1.5 * (1.0 - share))  # as in `scanner.rehearsal.scan`


def dithered(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a one-bit scan whose greys are scattered dots, by error diffusion."""
    steps = [("Dithering", {"dither": "Floyd Steinberg"})]
    # Paler ink becomes scattered dots, as the noise of bare paper does.
    return replace(scan_spoilt(page, px_per_mm, rng, recipe=lambda _: steps), faintest=0.4)


def shadow(rng: np.random.Generator) -> Sequence[Step]:
    return [("ShadowCast", {"shadow_opacity_range": (0.2, 0.65), "shadow_blur_kernel_range": (61, 301)})]


def lighting(rng: np.random.Generator) -> Sequence[Step]:
    mode = str(rng.choice(["gaussian", "linear_dynamic"]))
    return [("LightingGradient", {"mode": mode, "transparency": float(rng.uniform(0.55, 0.85))})]


def bleed_through(rng: np.random.Generator) -> Sequence[Step]:
    offsets = [int(offset) for offset in rng.integers(5, 60, 2)]
    ink = {"intensity_range": (0.1, 0.4), "ksize": (9, 9), "sigmaX": float(rng.uniform(0.8, 3.0))}
    return [("BleedThrough", {"alpha": float(rng.uniform(0.2, 0.5)), "offsets": offsets, **ink})]


def drum_dirt(rng: np.random.Generator) -> Sequence[Step]:
    darkest = int(rng.integers(150, 200))
    dirt = {"noise_intensity": float(rng.uniform(0.1, 0.5)), "noise_value": (darkest, 235)}
    return [("DirtyDrum", {"line_concentration": float(rng.uniform(0.03, 0.15)), "direction": -1, **dirt})]


def ink_bleed(rng: np.random.Generator) -> Sequence[Step]:
    reach = int(rng.choice([3, 5]))
    bleeding = {"kernel_size": (reach, reach), "severity": (0.2, 0.4), "intensity_range": (0.2, 0.7)}
    return [("InkBleed", bleeding), ("InkMottling", {"ink_mottling_alpha_range": (0.05, 0.25)})]


def stains(rng: np.random.Generator) -> Sequence[Step]:
    # "severe_stains" are spots as small and dark as marks; "darken" would drown faint pencil in a stain.
    kind = str(rng.choice(["rough_stains", "fine_stains", "light_stains"]))
    return [("Stains", {"stains_type": kind, "stains_blend_method": "multiply"})]


def noise(rng: np.random.Generator) -> Sequence[Step]:
    texture = ("NoiseTexturize", {"sigma_range": (2, 6), "turbulence_range": (2, 5)})
    grain = ("BrightnessTexturize", {"texturize_range": (0.88, 0.99), "deviation": float(rng.uniform(0.02, 0.08))})
    return [texture, grain, ("SubtleNoise", {"subtle_range": int(rng.integers(5, 20))})]


def dirty_copy(rng: np.random.Generator) -> Sequence[Step]:
    lightest = int(rng.integers(170, 225))
    cloud = {"noise_type": int(rng.choice([1, 2, 3])), "noise_value": (lightest, 250), "noise_size": (1, 3)}
    return [("BadPhotoCopy", {**cloud, "blur_noise": 1, "edge_effect": 0, "wave_pattern": -1})]


def low_light(rng: np.random.Generator) -> Sequence[Step]:
    dim = {"alpha_range": (0.7, 1.0), "gamma_range": (1.0, 1.8), "num_photons_range": (20, 100)}
    return [("LowLightNoise", dim), ("Jpeg", {"quality_range": (30, 90)})]


def low_ink(rng: np.random.Generator) -> Sequence[Step]:
    return [("LowInkRandomLines", {"count_range": (3, 15), "use_consistent_lines": False})]


SECOND_SHOTS: dict[str, Shot] = {
    "second-shadow": partial(page_spoilt, recipe=shadow),
    "second-lighting": partial(page_spoilt, recipe=lighting),
    "second-bleed-through": partial(page_spoilt, recipe=bleed_through),
    "second-drum-dirt": partial(page_spoilt, recipe=drum_dirt),
    "second-ink-bleed": partial(page_spoilt, recipe=ink_bleed),
    "second-stains": partial(page_spoilt, recipe=stains),
    "second-fax": faxed,
    "second-dithered": dithered,
    "second-noise": partial(scan_spoilt, recipe=noise),
    "second-copy": partial(page_spoilt, recipe=dirty_copy),
    "second-low-light": partial(scan_spoilt, recipe=low_light),
    "second-low-ink": partial(page_spoilt, recipe=low_ink),
}


class Worker:
    """The other process: one page and its steps go in, the spoilt page comes out."""

    def __init__(self, command: Sequence[str | Path], time_limit_s: float = TIME_LIMIT_S) -> None:
        self._time_limit_s = time_limit_s
        self._said = tempfile.TemporaryFile()  # noqa: SIM115 (kept open as long as the worker)
        # One thread each: a benchmark starts as many workers as there are cores. Augraphy looks for pictures of an
        # earlier run in the current folder, where none must be.
        one_thread = {"NUMBA_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        settings = os.environ | one_thread | {"MPLBACKEND": "Agg"}
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._said, env=settings, cwd=WORKER.parent
        )

    def spoilt(self, page: Gray, steps: Sequence[Step], seed: int) -> Gray:
        """Return the page, as large as it was, after those steps with chance from that seed.

        Raises
        ------
        FacedownError
            If the worker ends or exceeds its time limit, or if the library fails or returns another size.
        """
        names = ", ".join(name for name, _ in steps)
        header = json.dumps({"shape": page.shape, "seed": seed, "steps": steps}).encode()
        late = threading.Event()
        timer = threading.Timer(self._time_limit_s, self._stop, [late])
        timer.start()
        try:
            told, pixels = self._exchange(header, page.tobytes())
        except (OSError, EOFError):
            raise FacedownError(
                f"The second simulator's worker did not answer within {self._time_limit_s:g} s on {names}."
                if late.is_set()
                else f"The second simulator's worker ended on {names}: {self._last_words()}",
                f"Try again; if it stays so, make its environment anew: {INSTALL}",
            ) from None
        finally:
            timer.cancel()
        if told.get("shape") != list(page.shape):
            found = told.get("error", f"a page of {told.get('shape')} pixels, not of {list(page.shape)}")
            raise FacedownError(
                f"The second simulator failed on {names} with seed {seed}: {found}.",
                "Leave that step out of tests/second_simulator.py, or mend its arguments there.",
            )
        return np.frombuffer(pixels, np.uint8).reshape(page.shape).copy()

    def close(self) -> None:
        """End the process; a second time does nothing."""
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout, self._said):
            if pipe:
                with suppress(BrokenPipeError):
                    pipe.close()

    def _stop(self, late: threading.Event) -> None:
        late.set()
        self._process.kill()

    def _exchange(self, header: bytes, pixels: bytes) -> tuple[dict[str, Any], bytes]:
        to_worker, from_worker = self._process.stdin, self._process.stdout
        assert to_worker
        assert from_worker
        to_worker.write(struct.pack(">II", len(header), len(pixels)) + header + pixels)
        to_worker.flush()
        header_bytes, page_bytes = struct.unpack(">II", _exactly(from_worker, 8))
        return json.loads(_exactly(from_worker, header_bytes)), _exactly(from_worker, page_bytes)

    def _last_words(self) -> str:
        self._said.seek(0)
        lines = self._said.read().decode(errors="replace").strip().splitlines()
        return lines[-1] if lines else "it said nothing."


def _exactly(pipe: IO[bytes], count: int) -> bytes:
    found = pipe.read(count)
    if len(found) < count:
        raise EOFError
    return found


@cache
def _worker(process_id: int) -> Worker:
    """One worker for each process; the number keeps a forked one from taking its parent's."""
    demand_environment()
    worker = Worker([_python(), "-I", WORKER])
    atexit.register(worker.close)
    return worker


def _spoilt(page: Gray, steps: Sequence[Step], rng: np.random.Generator) -> Gray:
    worker = _worker(os.getpid())
    try:
        return worker.spoilt(page, steps, int(rng.integers(2**31)))
    except FacedownError:
        worker.close()
        _worker.cache_clear()
        raise


def _plain_scan(rng: np.random.Generator) -> ScanSeverity:
    return ScanSeverity(
        rotation_deg=float(rng.uniform(-1.5, 1.5)),
        offset_x_mm=float(rng.uniform(-2.0, 2.0)),
        offset_y_mm=float(rng.uniform(-2.0, 2.0)),
        noise=float(rng.uniform(0.5, 1.5)),
        jpeg_quality=int(rng.integers(75, 96)),
    )


def _python() -> Path:
    return ENVIRONMENT / ("Scripts" if os.name == "nt" else "bin") / "python"


def demand_environment() -> None:
    """Return if the environment is there, whole and of these versions; else raise FacedownError."""
    made_of = ENVIRONMENT / "installed.txt"
    if not made_of.exists():
        raise FacedownError(f"The second simulator's environment is missing from {ENVIRONMENT}.", f"Make it: {INSTALL}")
    if made_of.read_text("utf-8") != PINS:
        raise FacedownError(f"{ENVIRONMENT} holds other versions than {__file__} lists.", f"Make it anew: {INSTALL}")


def install() -> None:
    """Make the environment anew; FacedownError where Python or the package registry refuses."""
    _run("making the environment", [sys.executable, "-m", "venv", "--clear", ENVIRONMENT])
    with tempfile.TemporaryDirectory() as folder:
        pins = Path(folder) / "pins.txt"
        pins.write_text(PINS, "utf-8")
        _run("installing", [_python(), "-m", "pip", "install", "--quiet", "--no-deps", "--requirement", pins])
    _run("loading the library", [_python(), "-I", "-c", "import augraphy"])
    (ENVIRONMENT / "installed.txt").write_text(PINS, "utf-8")  # last: what was broken off counts as missing


def _run(doing: str, command: Sequence[str | Path]) -> None:
    done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    if done.returncode:
        lines = done.stderr.strip().splitlines() or ["it said nothing"]
        raise FacedownError(f"The second simulator's environment was not made: {doing} failed with: {lines[-1]}")


def main() -> None:
    parser = argparse.ArgumentParser(description="The second simulator's environment.")
    parser.add_argument("--install", action="store_true", help="make it anew, with the versions listed in this file")
    try:
        if parser.parse_args().install:
            install()
        demand_environment()
    except FacedownError as error:
        print(error, file=sys.stderr)
        sys.exit(error.exit_code)
    print(f"The second simulator is ready in {ENVIRONMENT}.")


if __name__ == "__main__":
    main()
