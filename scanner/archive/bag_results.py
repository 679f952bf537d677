"""The results of an archive's sittings for its bag: no seal is broken for it that `score` would leave closed.

A key is opened for tasters whose claims are in and settled alone. One that is locked with a passphrase, or on paper
alone and not read, stays closed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kit.errors import KitError, ReadingError
from kit.record import Kit, layout_of, load_kit, opened_keys
from scanner.claims_in import match_sheets_missing, needs_all_claims
from scanner.keys_on_paper import keys_from_readings
from scanner.reading import Reading
from scanner.results.sitting import TasterSitting
from scanner.score import scores
from scanner.score_json import to_json
from scanner.what_stood import Sitting

LOCKED = "its keys are locked with a passphrase"
ON_PAPER = "its keys are on paper alone, and no opened key sheet was read"
NO_CLAIMS = "no claims were read"

Entry = dict[str, Any]


@dataclass(frozen=True, slots=True)
class SittingResults:
    """The results of one sitting as `facedown score --json` writes them, or why there are none."""

    entry: Entry | None
    why_not: str | None = None


def results_of_kit(folder: Path, reading: Reading) -> SittingResults:
    """Score one kit from what an archive has of its sheets."""
    try:
        kit = load_kit(folder)
        missing = match_sheets_missing(kit.id, kit.session, [reading])
        if len(missing) == len(kit.session.tasters):
            return SittingResults(None, NO_CLAIMS)
        on_paper = keys_from_readings(kit, {str(folder): reading})
        why_not = _why_closed(kit, bool(on_paper))
        if why_not is not None:
            return SittingResults(None, why_not)
        is_open = kit.keys_kept == "masked"
        waits = needs_all_claims(kit.session) and missing
        keys = () if waits else opened_keys(kit) if is_open else on_paper
        sitting = Sitting(kit.id, kit.session, layout_of(folder), keys, keys_on_paper=not is_open)
        entry = to_json(scores([sitting], {str(folder): reading}))
    except (KitError, ReadingError) as error:
        return SittingResults(None, str(error))
    return SittingResults(entry)


def rows_of_entry(entry: Mapping[str, Any]) -> Iterator[Sequence[str | int | None]]:
    """Yield a row for each place of each taster: kit, number, name, place, claim, how sure, what stood there, right."""
    for taster in entry["tasters"]:
        truth = taster["truth"] or {}
        if "match" in taster["missing"]:
            continue
        for place, claim in taster["claims"].items():
            yield (
                taster["kit"],
                taster["taster"],
                taster["name"],
                place,
                claim,
                taster["sure"].get(place),
                truth.get(place),
                _right(claim, truth.get(place)),
            )


def rows_of_typed(result: TasterSitting) -> Iterator[Sequence[str | int | None]]:
    """Yield such rows of a typed result."""
    truths = result.truth or (None,) * len(result.claims)
    for place, claim, sure, truth in zip("ABCDE", result.claims, result.sure, truths, strict=False):
        yield result.kit, result.number, result.name, place, claim, sure, truth, _right(claim, truth)


def _right(claim: int | None, truth: int | None) -> str | None:
    return None if truth is None else "yes" if claim == truth else "no"


def _why_closed(kit: Kit, has_paper_keys: bool) -> str | None:
    if has_paper_keys or kit.keys_kept == "masked":
        return None
    return LOCKED if kit.keys_kept == "passphrase" else ON_PAPER
