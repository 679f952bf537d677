"""The reader's two figures, counted: silent errors per box read, and the share of boxes sent to a person.

    python -m tests.accuracy --positions 1600000 --pictures scans
    python -m tests.accuracy --positions 500000 --pictures photographs
    python -m tests.accuracy --positions 1600000 --pictures scans --final      (never-used hands and pens)
    python -m tests.accuracy --positions 200000 --pictures second              (the second simulator's scans)
    python -m tests.accuracy --slice                                           (the fixed slice that CI reads)

Sheet after sheet is printed, filled by a hand and pen, spoilt by a condition, read and compared. Each sheet has its
number, from which everything about it is drawn; the tally of a run is kept under `.accuracy/`, by a hash of the
reader's and the simulator's source, so that it can be broken off and taken up again, and one of another reader never
adds to it.
"""

from __future__ import annotations

import argparse
import hashlib
import itertools
import json
import os
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np

from kit.build import build_kit
from kit.chance_source import SeededChance
from kit.errors import FacedownError
from kit.session import session_from_toml
from kit.sheet_layout import KitLayout, SheetLayout
from kit.sheets import form_sheets
from scanner.bounds import upper_bound
from scanner.kits import KitOnFile, from_kit
from scanner.reading import Outcome
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.camera import Shot
from scanner.rehearsal.catalogue import TUNED_HANDS, TUNED_PENS, TUNED_PHOTOGRAPHS, TUNED_SCANS
from scanner.rehearsal.habits import Hand, random_hand
from scanner.rehearsal.held_out import HELD_OUT_HANDS, HELD_OUT_PENS, HELD_OUT_PHOTOGRAPHS, HELD_OUT_SCANS
from scanner.rehearsal.pens import Pen
from scanner.rehearsal.prints import PX_PER_MM, printed
from scanner.rehearsal.trial import Miss, Trial, try_sheet
from tests.second_simulator import SECOND_SHOTS, demand_environment

ROOT = Path(__file__).parent.parent
KEPT = ROOT / ".accuracy"
KITS = tuple(itertools.product(("A4", "Letter"), (3, 4, 5), ("host", "hand")))
CHUNK = 8
SLICE_SHEETS = {"scans": 600, "photographs": 182}
CROPS = 200


@dataclass(frozen=True, slots=True)
class Course:
    """What one run draws from."""

    name: str
    shots: dict[str, Shot]
    final: bool

    def hand(self, rng: np.random.Generator) -> Hand:
        if self.final:
            return HELD_OUT_HANDS[int(rng.integers(len(HELD_OUT_HANDS)))]
        if rng.random() < 0.5:
            return random_hand(rng)
        return TUNED_HANDS[int(rng.integers(len(TUNED_HANDS)))]

    def pen(self, rng: np.random.Generator) -> Pen:
        pens = HELD_OUT_PENS if self.final else TUNED_PENS
        return pens[int(rng.integers(len(pens)))]


@dataclass(frozen=True, slots=True)
class Tried:
    """One sheet of a run: its number, what it went through, what came of it."""

    number: int
    condition: str
    hand: str
    pen: str
    trial: Trial


def course(pictures: str, *, final: bool) -> Course:
    """Return the run over all pictures of a kind, tuned upon or held out; FacedownError where none can be made."""
    if pictures == "second":
        demand_environment()
        return Course(f"second{'-final' if final else ''}", SECOND_SHOTS, final)
    if final:
        return Course(f"{pictures}-final", HELD_OUT_SCANS if pictures == "scans" else HELD_OUT_PHOTOGRAPHS, final)
    return Course(pictures, TUNED_SCANS if pictures == "scans" else TUNED_PHOTOGRAPHS, final)


def try_number(run: Course, number: int) -> Tried:
    """Try the sheet of that number."""
    rng = np.random.default_rng([20261125, number, int(run.final), len(run.shots)])
    condition = list(run.shots)[number % len(run.shots)]
    kit, pages = _printed_kit(int(rng.integers(len(KITS))))
    # Match and turned forms have few boxes: note forms come three times as often.
    weights = np.array([3.0 if layout.role.startswith("notes") else 1.0 for layout, _ in pages])
    layout, page = pages[int(rng.choice(len(pages), p=weights / weights.sum()))]
    hand, pen = run.hand(rng), run.pen(rng)
    trial = try_sheet(layout, page, PX_PER_MM, hand, pen, run.shots[condition], {kit.id: kit}, rng)
    return Tried(number, condition, hand.name, pen.name, trial)


@cache
def _printed_kit(which: int) -> tuple[KitOnFile, tuple[tuple[SheetLayout, Gray], ...]]:
    paper, glasses, shuffle = KITS[which]
    pours = "".join(f'[[pours]]\nname = "Pour {n}"\n' for n in range(glasses))
    session = session_from_toml(
        f'title = "Accuracy"\ndate = 2026-11-25\ndrink = "sake"\nshuffle = "{shuffle}"\npaper = "{paper}"\n{pours}'
        '[[tasters]]\nname = "Ines"\n',
        "accuracy",
    )
    kit = build_kit(session, SeededChance(which))
    sheets = tuple(form_sheets(kit))
    layout = KitLayout(kit.id, tuple(sheet.layout for sheet in sheets))
    return from_kit(kit, layout), tuple(printed(sheets))


def source_hash() -> str:
    """Return a hash of everything that a figure depends on: all modules that are loaded here, and their data."""
    loaded = (getattr(module, "__file__", None) for module in tuple(sys.modules.values()))
    sources = {Path(file) for file in loaded if file and Path(file).is_relative_to(ROOT) and ".venv" not in file}
    places = ("scanner/rehearsal/*.toml", "templates/*/*.toml", "tests/second_simulator_worker.py")
    data = {path for place in places for path in ROOT.glob(place)}
    digest = hashlib.sha256()
    for path in sorted(sources | data):
        digest.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


@dataclass(slots=True)
class Tally:
    """The counts of a run so far, by condition, hand and pen; written to disk after every chunk."""

    done: int = 0
    sheets: int = 0
    positions: int = 0
    seconds: float = 0.0
    boxes: Counter[str] = None  # type: ignore[assignment]
    refusals: Counter[str] = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        self.boxes = Counter(self.boxes or {})
        self.refusals = Counter(self.refusals or {})

    def add(self, tried: Tried) -> None:
        trial = tried.trial
        self.done = max(self.done, tried.number + 1)
        self.sheets += 1
        cause = f"{tried.condition}|{tried.hand}|{tried.pen}"
        if trial.stolen:
            self.refusals[f"{cause}|credited to another sheet"] += 1
        elif trial.outcome is not Outcome.READ:
            self.refusals[f"{cause}|{'come closer' if trial.told_to_come_closer else trial.reason}"] += 1
        else:
            self.positions += trial.positions
        for key, count in trial.counts.items():
            self.boxes["|".join((cause, *key))] += count
        if any(miss.truth.tag == "plain" for miss in trial.misses):
            self.boxes[f"{cause}|page|with|error"] += 1


def run(of: Course, positions: int, jobs: int) -> Tally:
    """Read on from where the tally stands until so many positions are read."""
    folder = KEPT / source_hash() / of.name
    folder.mkdir(parents=True, exist_ok=True)
    kept = folder / "tally.json"
    tally = Tally(**json.loads(kept.read_text())) if kept.exists() else Tally()
    began, before = time.monotonic(), tally.seconds
    with ProcessPoolExecutor(jobs) as pool:
        numbers = itertools.count(tally.done)
        waiting = [pool.submit(_try_all, of, list(itertools.islice(numbers, CHUNK))) for _ in range(2 * jobs)]
        while waiting:
            for tried in waiting.pop(0).result():
                tally.add(tried)
                _save_crops(folder, tried)
            tally.seconds = before + time.monotonic() - began
            _write(kept, tally)
            if tally.positions < positions:
                waiting.append(pool.submit(_try_all, of, list(itertools.islice(numbers, CHUNK))))
    return tally


def _try_all(of: Course, numbers: list[int]) -> list[Tried]:
    cv2.setNumThreads(1)
    return [try_number(of, number) for number in numbers]


def _write(path: Path, tally: Tally) -> None:
    entry = {name: getattr(tally, name) for name in ("done", "sheets", "positions", "seconds", "boxes", "refusals")}
    fresh = path.with_suffix(".new")
    fresh.write_text(json.dumps(entry))
    fresh.replace(path)


def _save_crops(folder: Path, tried: Tried) -> None:
    for kind, misses in (("error", tried.trial.misses), ("doubt", tried.trial.doubts)):
        for place, miss in enumerate(misses):
            plain = "plain" if miss.truth.tag == "plain" else "marginal"
            crops = folder / f"{kind}-{plain}"
            crops.mkdir(exist_ok=True)
            if len(list(crops.iterdir())) < CROPS:
                cv2.imwrite(str(crops / f"{_crop_name(tried, miss)}-{place}.png"), miss.cutout)


def _crop_name(tried: Tried, miss: Miss) -> str:
    return f"{tried.number:06d}-{tried.condition}-{tried.hand}-{tried.pen}-{miss.truth.state}-read-{miss.read.state}"


def table(of: Course, tally: Tally) -> str:
    """Return the figures as text."""
    return "\n".join(
        [*_figures(of, tally), "", *_by_cause(tally, 0), "", *_by_cause(tally, 1), "", *_by_cause(tally, 2)]
    )


def _figures(of: Course, tally: Tally) -> Iterator[str]:
    yield f"{of.name}: {tally.sheets:,} sheets, {tally.positions:,} positions read, {tally.seconds:,.0f} s"
    sound = {state: _count(tally, state, "plain") for state in ("marked", "empty", "withdrawn")}
    for state, counts in (*sound.items(), ("all plain", sum(sound.values(), Counter()))):
        total = sum(counts.values())
        wrong, doubtful = counts["wrong"], counts["doubtful"]
        bound = upper_bound(wrong, total) if total else 1.0
        yield (
            f"  {state:<10} {total:>10,} boxes  {wrong:>4} silent errors  95 % bound 1 in {1 / bound:>11,.0f}"
            f"  doubtful {doubtful:>6,} = {doubtful / max(total, 1):.4%}"
        )
    marginal = sum((_count(tally, state, "marginal") for state in sound), Counter())
    yield (
        f"  marginal   {sum(marginal.values()):>10,} boxes  {marginal['wrong']:>4} read otherwise than meant"
        f"{'':24}doubtful {marginal['doubtful']:>6,}"
    )
    pages = sum(count for key, count in tally.boxes.items() if key.endswith("page|with|error"))
    read = tally.sheets - sum(tally.refusals.values())
    page_bound = upper_bound(pages, max(read, 1))
    yield f"  sheets read {read:,}; with a silent error {pages}: 95 % bound 1 in {1 / page_bound:,.0f}"
    refused = Counter[str]()
    for key, count in tally.refusals.items():
        refused[key.split("|", 3)[3]] += count
    closer = refused.pop("come closer", 0)
    others = sum(refused.values())
    share = others / max(tally.sheets - closer, 1)
    yield f"  told to come closer {closer}; not read otherwise {others} = {share:.3%}"
    for reason, count in refused.most_common():
        yield f"    {count:>5}  {reason}"


def _count(tally: Tally, state: str, tag: str) -> Counter[str]:
    counts: Counter[str] = Counter()
    for key, count in tally.boxes.items():
        *_, true_state, box_tag, read = key.split("|")
        if (true_state, box_tag) == (state, tag):
            counts["right" if read == state else "doubtful" if read == "doubtful" else "wrong"] += count
    return counts


def _by_cause(tally: Tally, which: int) -> Iterator[str]:
    rows: dict[str, Counter[str]] = {}
    for key, count in tally.boxes.items():
        *causes, state, tag, read = key.split("|")
        if tag == "plain":
            row = rows.setdefault(causes[which], Counter())
            row["boxes"] += count
            row["doubtful"] += count * (read == "doubtful")
            row["wrong"] += count * (read not in ("doubtful", state))
    for key, count in tally.refusals.items():
        rows.setdefault(key.split("|")[which], Counter())["refused"] += count
    yield f"  by {('condition', 'hand', 'pen')[which]:<28} {'boxes':>10} {'errors':>7} {'doubtful':>9} {'refused':>8}"
    for name, row in sorted(rows.items(), key=lambda item: -item[1]["doubtful"] / max(item[1]["boxes"], 1)):
        share = row["doubtful"] / max(row["boxes"], 1)
        yield f"  {name:<31} {row['boxes']:>10,} {row['wrong']:>7} {share:>9.3%} {row['refused']:>8}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--positions", type=int, default=100_000)
    parser.add_argument("--pictures", choices=("scans", "photographs", "second"), default="scans")
    parser.add_argument("--final", action="store_true", help="the held-out hands, pens and conditions")
    parser.add_argument("--slice", action="store_true", help="the fixed slice of scans and photographs")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    given = parser.parse_args()
    if given.slice:
        sys.exit(_slice(given.jobs))
    try:
        of = course(given.pictures, final=given.final)
    except FacedownError as error:
        sys.exit(str(error))
    print(table(of, run(of, given.positions, given.jobs)))


def _slice(jobs: int) -> int:
    """Read the fixed slice, print its tables, and return how many sheets have a silent error or a wrong name."""
    wrong = 0
    for pictures, sheets in SLICE_SHEETS.items():
        of = course(pictures, final=False)
        tally = Tally()
        with ProcessPoolExecutor(jobs) as pool:
            for tried in pool.map(try_number, itertools.repeat(of), range(sheets), chunksize=CHUNK):
                tally.add(tried)
        print(table(of, tally), "\n")
        wrong += sum(n for key, n in tally.boxes.items() if key.endswith("page|with|error"))
        wrong += sum(n for key, n in tally.refusals.items() if key.endswith("credited to another sheet"))
    return min(wrong, 1)


if __name__ == "__main__":
    main()
