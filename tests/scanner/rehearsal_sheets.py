"""Filled rehearsal sheets for the tests, as pictures in memory and as files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from PIL import Image

from kit.session import Session, load_session, session_from_toml
from scanner.reading import State
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.camera import scaled
from scanner.rehearsal.hand import HANDS, PENS, Intent, mark_sheet
from scanner.rehearsal.own_kit import OwnKit
from scanner.rehearsal.pattern import pattern
from scanner.rehearsal.prints import PX_PER_MM, printed
from scanner.rehearsal.scan import ScanSeverity, flatbed
from scanner.rehearsal.truth import Place
from tests.make_samples import SAMPLES

INTENTS = {State.MARKED: Intent.MARK, State.WITHDRAWN: Intent.TAKE_BACK}


def winter() -> Session:
    """Return the samples' session: five glasses, A4."""
    return load_session(SAMPLES / "winter.toml")


def session_of(glasses: int, paper: str = "A4", shuffle: str = "host", more: str = "") -> Session:
    """Return a session of invented pours."""
    pours = "".join(f'[[pours]]\nname = "Pour {number}"\n' for number in range(glasses))
    return session_from_toml(
        f'title = "Dry run"\ndate = 2026-12-05\ndrink = "sake"\nshuffle = "{shuffle}"\npaper = "{paper}"\n'
        f'{more}\n{pours}[[tasters]]\nname = "Ines"\n',
        "dry-run",
    )


def filled(own: OwnKit, otherwise: Mapping[Place, State] | None = None) -> Gray:
    """Return the rehearsal sheet at 12 px a mm, filled in by its pattern, but for the boxes told `otherwise`."""
    [(layout, page)] = printed([own.to_fill])
    states = pattern(layout, own.chance) | dict(otherwise or {})
    intents = {place: INTENTS[state] for place, state in states.items() if state is not State.EMPTY}
    return mark_sheet(page, layout, intents, HANDS[0], PENS[0], np.random.default_rng(7), PX_PER_MM).page


def scan(page: Gray, path: Path, *, factor: float = 1.0, dpi: float = 200.0, states_dpi: bool = True) -> Path:
    """Write a clean flatbed scan of the page, printed at that scale, and return its path."""
    rng = np.random.default_rng(3)
    picture = scaled(
        page, PX_PER_MM, factor, lambda sheet, px_per_mm: flatbed(sheet, px_per_mm, dpi, rng, ScanSeverity())
    )
    image = Image.fromarray(picture.image)
    if path.suffix == ".pdf":
        image.save(path, resolution=dpi)
    elif states_dpi:
        image.save(path, dpi=(dpi, dpi))
    else:
        image.save(path)
    return path
