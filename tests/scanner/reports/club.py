"""An invented club's kits and readings, with real sheets but no pictures, for the tests of reports."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path

import numpy as np

from kit.build import build_kit, chance_for
from kit.record import Kit, opened_keys
from kit.session import Shelf, session_from_toml
from kit.sheet_layout import KitLayout, SheetLayout
from kit.sheets import form_layouts
from kit.wording import languages
from scanner.reading import Mark, Outcome, PageReading, Reading, State, to_json
from tests.kit.kept import record_files

FIRST_DAY = datetime.date(2026, 1, 9)
TASTERS = ("Ines", "Tomas", "Rhian", "Kofi", "Ada", "Bevan", "Mirela", "Oskar")
DRINKS: Mapping[str, tuple[str, float, tuple[str, ...]]] = {
    "Heron Marsh": ("daiginjo", 16.0, ("apple", "melon", "banana")),
    "First Frost": ("ginjo", 15.5, ("pear", "apple", "rose")),
    "Gull Rock": ("junmai", 15.0, ("rice", "koji", "hay")),
    "Tidal Flat": ("kimoto", 16.5, ("yoghurt", "mushroom", "cheese")),
    "Old Jetty": ("koshu", 18.0, ("caramel", "almond", "honey")),
    "Slow Tide": ("junmai ginjo", 15.5, ("pear", "rice", "melon")),
    "Lamp Hill": ("honjozo", 15.0, ("rice", "hay", "malt")),
    "Reed Bell": ("nama", 17.0, ("banana", "yoghurt", "rose")),
}
"""Style, strength in per cent, and the words that a steady taster finds."""

Skip = Callable[[int, str], bool]
"""Whether a taster's sheet of this role is missing."""


@dataclass(frozen=True, slots=True)
class Evening:
    """One sitting: its kit's folder and the file of its reading."""

    folder: Path
    reading: Path
    kit: Kit

    @property
    def arguments(self) -> list[Path | str]:
        return ["--kit", self.folder, self.reading]


def session_toml(
    drinks: Sequence[str],
    tasters: Sequence[str] = TASTERS,
    day: int = 0,
    *,
    keys: str = "own",
    shuffle: str = "host",
    title: str = "First flight of winter",
    paper: str = "A4",
    language: str = "en",
) -> str:
    """Return a session file's text; tasters and drinks get ids from their names."""
    lines = [
        f'title = "{title}"',
        f"date = {FIRST_DAY + datetime.timedelta(days=day)}",
        f'drink = "sake"\nshuffle = "{shuffle}"\npaper = "{paper}"\nlanguage = "{language}"\nseed = {1000 + day}',
        *([f'keys = "{keys}"'] if shuffle == "host" else []),
    ]
    for drink in drinks:
        style, abv, _ = DRINKS.get(drink, ("junmai", 15.0, ()))
        lines.append(f'[[pours]]\nid = "{_id(drink)}"\nname = "{drink}"\nstyle = "{style}"\nabv = {abv}')
    lines += [f'[[tasters]]\nid = "{_id(taster)}"\nname = "{taster}"' for taster in tasters]
    return "\n".join(lines) + "\n"


def evening(
    folder: Path,
    toml: str,
    *,
    right: Sequence[int | None] | None = None,
    habit: float = 0.7,
    skip: Skip = lambda taster, role: False,
    doubtful: Collection[int] = (),
    seed: int = 1,
) -> Evening:
    """Write a kit folder and a reading of its sheets.

    Parameters
    ----------
    right : sequence of int or None
        How many each taster has right; None for one who leaves every place blank. Left out, drawn by lot.
    habit : float
        How surely a taster marks each of a drink's words.
    skip : callable
        Which sheets are missing.
    doubtful : collection of int
        The tasters whose first claim is in doubt.
    """
    session = session_from_toml(toml, "club.toml", Shelf(("sake",), languages()))
    kit = build_kit(session, chance_for(session))
    layout = KitLayout(kit.id, tuple(form_layouts(kit)))
    folder.mkdir(parents=True)
    for name, content in record_files(kit, layout).items():
        (folder / name).write_bytes(content)
    chance = np.random.default_rng(seed)
    keys = {key.taster: tuple(key.places.values()) for key in opened_keys(kit)}
    pages = []
    for sheet in layout.pages:
        if not sheet.marks or skip(sheet.taster, sheet.role):
            continue
        key = keys.get(sheet.taster) or tuple(range(1, session.glasses + 1))
        count = int(chance.choice([0, 1, 2, session.glasses])) if right is None else right[sheet.taster - 1]
        crossed = _crossed(sheet, [pour.name for pour in session.pours], key, count, habit, chance)
        pages.append(_page(kit.id, sheet, crossed, doubtful=sheet.taster in doubtful))
    file = folder.parent / f"{folder.name}.json"
    file.write_text(json.dumps(to_json(Reading(tuple(pages)))), "utf-8")
    return Evening(folder, file, kit)


def year(folder: Path, sittings: int, tasters: Sequence[str] = TASTERS, glasses: int = 4) -> list[Evening]:
    """Write a club's sittings, one a week: each taster begins near luck and ends, some sooner, near all right."""
    chance = np.random.default_rng(7)
    names = list(DRINKS)
    made = []
    for number in range(sittings):
        drinks = [names[at] for at in chance.permutation(len(names))[:glasses]]
        along = number / max(1, sittings - 1)
        right = [_drawn_right(0.15 + 0.6 * along * max(0, 1 - at / 12), glasses, chance) for at in range(len(tasters))]
        toml = session_toml(drinks, tasters, 7 * number, title=f"Thursday flight {number + 1}")
        made.append(evening(folder / f"kit{number}", toml, right=right, habit=0.4 + 0.4 * along, seed=number))
    return made


def claims_with(right: int | None, key: Sequence[int], chance: np.random.Generator) -> tuple[int | None, ...]:
    """Return claims without repeats of which so many are right; all but one cannot be, and gives two less."""
    if right is None:
        return (None,) * len(key)
    right = right - 1 if right == len(key) - 1 else right
    fitting = [one for one in permutations(key) if sum(map(int.__eq__, one, key)) == right]
    return fitting[int(chance.integers(len(fitting)))]


def _drawn_right(share: float, glasses: int, chance: np.random.Generator) -> int:
    drawn = int(chance.binomial(glasses, share))
    return drawn - 1 if drawn == glasses - 1 else drawn


def _crossed(
    sheet: SheetLayout,
    pours: Sequence[str],
    key: Sequence[int],
    right: int | None,
    habit: float,
    chance: np.random.Generator,
) -> set[tuple[str, str]]:
    letters = "ABCDE"[: len(pours)]
    crossed: set[tuple[str, str]] = set()
    drink_of = {str(number): pour for number, pour in enumerate(pours, start=1)}
    drink_of |= {letter: pours[number - 1] for letter, number in zip(letters, key, strict=True)}
    for box in sheet.marks:
        kind, _, rest = box.field.partition(".")
        if kind == "words":
            steady = box.option in DRINKS.get(drink_of[rest], ("", 0.0, ()))[2]
            if chance.random() < (habit if steady else 0.05):
                crossed.add((box.field, box.option))
        elif kind == "scale" and box.option == str(int(chance.integers(2, 4))):
            crossed.add((box.field, box.option))
    if any(box.field.startswith("match.") for box in sheet.marks):
        for letter, claim in zip(letters, claims_with(right, key, chance), strict=True):
            if claim is not None:
                crossed |= {(f"match.{letter}", str(claim)), (f"sure.{letter}", "leaning")}
    if sheet.role == "turned":
        crossed |= {(f"turned.{letter}", str(number)) for letter, number in zip(letters, key, strict=True)}
    return crossed


def _page(kit: str, sheet: SheetLayout, crossed: Collection[tuple[str, str]], *, doubtful: bool) -> PageReading:
    marks = tuple(
        Mark(box.field, box.option, State.MARKED if (box.field, box.option) in crossed else State.EMPTY)
        for box in sheet.marks
    )
    if doubtful and any(mark.field == "match.A" for mark in marks):
        marks = tuple(
            Mark(mark.field, mark.option, State.DOUBTFUL if mark.field == "match.A" else mark.state) for mark in marks
        )
    return PageReading(
        "pile.pdf", sheet.pdf_page, kit, sheet.sheet, sheet.taster, sheet.role, Outcome.READ, None, marks
    )


def _id(name: str) -> str:
    kept = "".join(letter if letter.isascii() and letter.isalnum() else " " for letter in name.lower())
    return "-".join(kept.split())[-40:].strip("-") or f"drink-{sum(map(ord, name))}"
