"""How photographs of turned coasters are read, counted: right, refused (and why), WRONG.

    python -m tests.rows --photographs 2000                    (12 megapixels)
    python -m tests.rows --photographs 2000 --pixels chat      (1,600 px, as a messenger keeps it)
    python -m tests.rows --photographs 500 --kept              (tables, coasters and light never tuned on)
    python -m tests.rows --photographs 1000 --hazards          (rows that must be refused)

Each photograph is drawn from its number. What was read is kept under `.accuracy/` by a hash of all that a figure
depends on, so that a run can be broken off and taken up again.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import partial
from pathlib import Path

from scanner.bounds import interval, upper_bound
from tests.rows.course import Tried, alone, kind_of, try_hazard, try_row

ROOT = Path(__file__).parent.parent.parent
KEPT = ROOT / ".accuracy"
LEAST_RIGHT = {"12": 0.97, "chat": 0.90}


def main(arguments: Sequence[str] | None = None) -> int:
    """Try so many photographs; return 1 where one was read wrongly, or too few were read."""
    parser = argparse.ArgumentParser(prog="python -m tests.rows", description=__doc__)
    parser.add_argument("--photographs", type=int, default=200)
    parser.add_argument("--pixels", choices=("12", "chat"), default="12")
    parser.add_argument("--kept", action="store_true")
    parser.add_argument("--hazards", action="store_true")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args(arguments)
    name = f"rows-{asked.pixels}{'-kept' * asked.kept}{'-hazards' * asked.hazards}-{source_hash()}"
    tried = list(_tried(KEPT / f"{name}.jsonl", asked))
    print(report(tried, name))
    wrong = sum(one.verdict == "WRONG" for one in tried)
    right = sum(one.verdict == "right" for one in tried)
    return int(wrong > 0 or (not asked.hazards and right < LEAST_RIGHT[asked.pixels] * len(tried)))


def report(tried: Sequence[Tried], name: str) -> str:
    """Return the counts with their exact 95 % bounds, and every reason with how often it was given."""
    verdicts = Counter(one.verdict for one in tried)
    lines = [f"{name}: {len(tried)} photographs"]
    for verdict in ("right", "refused", "WRONG"):
        low, high = interval(verdicts[verdict], len(tried))
        lines.append(f"  {verdict:<8}{verdicts[verdict]:>6}  {100 * low:.2f} … {100 * high:.2f} %")
    lines.append(
        f"  at most {100 * upper_bound(verdicts['WRONG'], len(tried)):.3f} % are read wrongly (one-sided 95 %)"
    )
    reasons = Counter(kind_of(one.detail) for one in tried if one.verdict == "refused")
    lines += [f"  {count:>6}  {reason}" for reason, count in reasons.most_common()]
    lines += [f"  WRONG: photograph {one.number}: {one.detail}" for one in tried if one.verdict == "WRONG"]
    return "\n".join(lines)


def _tried(path: Path, asked: argparse.Namespace) -> Iterator[Tried]:
    """Yield what comes of each photograph: what the file has of it, the rest tried now and added to the file."""
    known: dict[int, Tried] = {}
    if path.exists():
        known = {one["number"]: Tried(**one) for one in map(json.loads, path.read_text("utf-8").splitlines())}
    yield from (known[number] for number in range(asked.photographs) if number in known)
    left = [number for number in range(asked.photographs) if number not in known]
    attempt = partial(try_hazard if asked.hazards else try_row, pixels=asked.pixels, kept=asked.kept)
    path.parent.mkdir(exist_ok=True)
    with path.open("a", encoding="utf-8") as file, ProcessPoolExecutor(asked.jobs, initializer=alone) as pool:
        for done, one in enumerate(pool.map(attempt, left, chunksize=4), start=1):
            file.write(json.dumps(asdict(one)) + "\n")
            if done % 40 == 0:
                file.flush()
                print(f"{done} of {len(left)}", file=sys.stderr)
            yield one


def source_hash() -> str:
    """Return a hash of all modules loaded here, and their data."""
    loaded = (getattr(module, "__file__", None) for module in tuple(sys.modules.values()))
    sources = {Path(file) for file in loaded if file and Path(file).is_relative_to(ROOT) and ".venv" not in file}
    data = {*ROOT.glob("scanner/rehearsal/rows.toml"), *ROOT.glob("templates/*/*.toml")}
    digest = hashlib.sha256()
    for path in sorted(sources | data):
        digest.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


if __name__ == "__main__":
    sys.exit(main())
