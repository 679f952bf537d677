"""One simulated photograph of turned coasters: drawn from its number, laid, taken, read and compared."""

from __future__ import annotations

import re
from dataclasses import dataclass

import cv2
import numpy as np

from scanner.read_picture import read_picture
from scanner.reading import OpenedReading, Outcome, PageReading
from scanner.rehearsal.row_photograph import Pixels, laid_in_a_row, photographed, severities_of
from scanner.rehearsal.trial import Held
from tests.rows.hazards import HAZARDS
from tests.rows.kits import KITS, laid_kit


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of one photograph: "right", "refused" with the reason, or "WRONG" with what was read."""

    number: int
    verdict: str
    detail: str = ""


def try_row(number: int, pixels: Pixels, *, kept: bool = False) -> Tried:
    """Lay, photograph and read a proper row."""
    rng = np.random.default_rng([20261126, number, int(kept), int(pixels == "chat")])
    kit = laid_kit(int(rng.integers(len(KITS))))
    lie, camera = severities_of(pixels, rng, kept=kept)
    order = tuple(int(coaster) for coaster in rng.permutation(kit.on_file.glasses) + 1)
    taster = int(rng.choice(list(kit.faces.cards)))
    pieces = laid_in_a_row(kit.faces.cards[taster], [kit.faces.coasters[coaster] for coaster in order], lie, rng)
    image = photographed(pieces, lie, camera, rng)
    reading = read_picture(Held(image), {kit.on_file.id: kit.on_file})
    if isinstance(reading, OpenedReading) or (reading.outcome is Outcome.READ and isinstance(reading, PageReading)):
        return Tried(number, "WRONG", "taken for a sheet")
    if isinstance(reading, PageReading) or reading.outcome is not Outcome.READ:
        return Tried(number, "refused", str(reading.reason))
    told = reading.kit, reading.taster, reading.order
    return Tried(number, "right") if told == (kit.on_file.id, taster, order) else Tried(number, "WRONG", f"{told}")


def try_hazard(number: int, pixels: Pixels, *, kept: bool = False) -> Tried:
    """Lay something that must not be read, photograph it, and see that it is refused."""
    rng = np.random.default_rng([20261127, number, int(kept), int(pixels == "chat")])
    name = list(HAZARDS)[number % len(HAZARDS)]
    lie, camera = severities_of(pixels, rng, kept=kept)
    laid = HAZARDS[name](lie, rng)
    image = photographed(laid.pieces, lie, camera, rng)
    if laid.is_mirrored:
        image = np.ascontiguousarray(image[:, ::-1])
    reading = read_picture(Held(image), laid.kits)
    if not isinstance(reading, OpenedReading) and reading.outcome is not Outcome.READ:
        return Tried(number, "refused", f"{name}: {reading.reason}")
    return Tried(number, "WRONG", f"{name}: {reading}")


def kind_of(reason: str) -> str:
    """Return a reason without its numbers and ids, for counting."""
    plain = re.sub(r"coasters? [\d, and]+\b", "coaster N ", reason.split(";")[0])
    return re.sub(r"\b(?=[0-9A-Z]*\d)[0-9A-Z]{6}\b", "KIT", plain).strip()


def alone() -> None:
    """Let this process use one core."""
    cv2.setNumThreads(1)
