"""Invented sittings, and the slips and pages that they give, for the tests of reports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import cv2
import numpy as np

from kit.lexicon import load_lexicon
from kit.paper import A4
from kit.wording import load_wording
from scanner.reports.page import Foot, Frame, ReportPage
from scanner.reports.slip import Slip, SlipTable, slip, slip_table
from scanner.reports.slip_drink import Hands
from scanner.reports.slip_page import slip_page
from scanner.reports.slip_words import Vocabulary, vocabulary
from scanner.results.sitting import Drink, Note, TasterSitting
from tests.scanner.results.skilled import sitting

SAKE = load_lexicon("sake")
WORDS = tuple(word for family in SAKE.families for word in family.words)
SCALES = {scale.id: scale.steps for scale in SAKE.scales}
ENGLISH = load_wording("en")
FLIGHT = (
    Drink("heron-marsh", "Heron Marsh", "daiginjo", 16.0),
    Drink("first-frost", "First Frost 純米大吟醸", "junmai daiginjo", 15.5),
    Drink("gull-rock", "Gull Rock", "junmai", 15.0),
    Drink("tidal-flat", "Tidal Flat", "kimoto junmai", 16.5),
    Drink("old-jetty", "Old Jetty", "koshu", 17.0),
)
LONG = tuple(
    Drink(f"long-{number}", name, "a style with a name of forty characters.", 18.25)
    for number, name in enumerate(
        (
            "The Very Long Named Cuvée of the Northern Saltmarsh Brewery!",
            "Heron Marsh Winter Pressing, Unpasteurised, Second Tank 2026",
            "W" * 60,
            "特別純米大吟醸生酛仕込み無濾過生原酒袋吊り雫酒斗瓶囲い限定品" * 2,
            "Low Sun",
        )
    )
)


def drawn_note(chance: np.random.Generator, words: float = 0.12) -> Note:
    """Draw a note: each word with that chance, a strength on each scale."""
    said = frozenset(word for word in WORDS if chance.random() < words)
    return Note(said, {scale: int(chance.integers(1, steps + 1)) for scale, steps in SCALES.items()})


def _again(note: Note, chance: np.random.Generator) -> Note:
    """Return a note of the same drink, tasted again: some words change, some strengths move a step."""
    kept = {word for word in note.words if chance.random() < 0.7}
    new = {word for word in WORDS if chance.random() < 0.04}
    moved = {
        scale: int(np.clip(step + chance.integers(-1, 2), 1, SCALES[scale])) for scale, step in note.strengths.items()
    }
    return Note(frozenset(kept | new), moved)


def taster(
    claims: Sequence[int | None],
    truth: Sequence[int] | None,
    seed: int = 1,
    words: float = 0.12,
    **other: Any,
) -> TasterSitting:
    """Return a sitting with drawn notes; round two's are round one's, somewhat changed."""
    chance = np.random.default_rng(seed)
    n = len(claims)
    first = tuple(drawn_note(chance, words) for _ in range(n))
    order = truth or range(1, n + 1)
    second = tuple(_again(first[number - 1], chance) for number in order)
    given: dict[str, Any] = {
        "drinks": FLIGHT[:n],
        "notes_1": first,
        "notes_2": second,
        "words": WORDS,
        "scales": SCALES,
        "kit": "K7Q4M2",
        "title": "First flight of winter",
    }
    return sitting(claims, truth, sure="leaning", **{**given, **other})


def slip_of(one: TasterSitting, others: Sequence[TasterSitting] = ()) -> Slip:
    """Return a sitting's slip, with what the table of it and these others says."""
    return slip(one, [one], table_of([one, *others]), None)


def table_of(sittings: Sequence[TasterSitting]) -> SlipTable:
    """Return what these tasters of one sitting say together."""
    return slip_table(sittings)


def others(truth: Sequence[int], count: int = 7) -> list[TasterSitting]:
    """Return other tasters of the same sitting."""
    return [
        taster(list(truth), truth, 100 + number, taster=f"other-{number}", name=f"Other {number}", number=number + 2)
        for number in range(count)
    ]


def page_of(one: Slip, frame: Frame | None = None, hands: Hands | None = None) -> ReportPage:
    """Return a slip's page."""
    foot = Foot((one.sitting.kit,), ("QZVG-ZBEZ-7280-VS5B",), "5 December 2026")
    return slip_page(one, frame or Frame(A4), foot, hands or {}, spoken())


@cache
def spoken() -> Vocabulary:
    """Return the English vocabulary of sake."""
    return vocabulary("sake", ENGLISH)


@cache
def writing(seed: int = 1, glasses: int = 5) -> Hands:
    """Return drawn handwriting for each drink in both rounds."""
    chance = np.random.default_rng(seed)
    return {number: (written(chance), written(chance)) for number in range(1, glasses + 1)}


def written(chance: np.random.Generator, w_px: int = 190, h_px: int = 225) -> bytes:
    """Return a writing area with scribbled lines, as a gray PNG."""
    area = np.full((h_px, w_px), 235, np.uint8)
    for line in range(1, 6):
        y = line * h_px // 6
        cv2.line(area, (0, y), (w_px, y), 200, 1)
        steps = chance.normal((4.0, 0.0), (1.5, 6.0), (30, 2))
        points = np.cumsum(steps, axis=0) + np.array((5, y - 10))
        cv2.polylines(area, [points.astype(np.int32)], False, 30, 2, cv2.LINE_AA)
    done, encoded = cv2.imencode(".png", area)
    assert done
    return bytes(encoded)


def renamed(one: TasterSitting, name: str) -> TasterSitting:
    """Return the sitting of somebody of another name."""
    return replace(one, name=name)
