"""Sessions and printed kits of an invented club, for the tests of printing."""

from __future__ import annotations

import datetime
import json
from dataclasses import dataclass
from functools import cache
from typing import Any, cast

from kit.build import build_kit, chance_for
from kit.chance_source import ChanceSource
from kit.contents import kit_contents
from kit.record import Kit
from kit.session import Keys, Paper, Pour, Session, Shuffle, Taster
from kit.sheet_layout import KitLayout, from_json

PAPERS: tuple[Paper, ...] = ("A4", "Letter")
GLASSES = (3, 4, 5)

POURS = ("Heron Marsh", "Lantern Hill", "Quiet Orchard", "Stone Ferry", "純米大吟醸")
NAMES = ("Ines", "Zoé Søgård-Weiß", "純米大吟醸")
LONG_NAMES = ("Wilhelmina Maximiliane Bartholomäa von und zu Saltmarsh-Ferry", "W" * 60, "純米大吟醸" * 12)
LONG_POURS = ("W" * 60, "Ö" * 60, "g" * 60, "純" * 60, "Heron Marsh of the Very Long Name and Even Longer Cellar Notes")
SEED = 20261205


@dataclass(frozen=True, slots=True)
class Printed:
    """A kit with the files that were printed of it."""

    kit: Kit
    files: dict[str, bytes]

    @property
    def layout(self) -> KitLayout:
        return from_json(json.loads(self.files["layout.json"]))

    @property
    def record(self) -> dict[str, Any]:
        return cast(dict[str, Any], json.loads(self.files["kit.json"]))

    @property
    def pdfs(self) -> dict[str, bytes]:
        return {name: content for name, content in self.files.items() if name.endswith(".pdf")}


def a_session(
    glasses: int = 5,
    paper: Paper = "A4",
    shuffle: Shuffle = "host",
    *,
    names: tuple[str, ...] = NAMES,
    pours: tuple[str, ...] = POURS,
    title: str = "First flight of winter",
    style: str = "daiginjo",
    keys: Keys = "own",
    seed: int | None = SEED,
) -> Session:
    """Return a session; seven minutes and 75 ml, or 20 ml in a vial, whatever the glasses."""
    return Session(
        title=title,
        date=datetime.date(2026, 12, 5),
        drink="sake",
        shuffle=shuffle,
        keys=keys,
        coasters="kit",
        paper=paper,
        minutes=7.0,
        pour_ml=20.0 if shuffle == "twin" else 75.0,
        language="en",
        seed=seed,
        pours=tuple(Pour(name, style=style, abv_percent=16.25) for name in pours[:glasses]),
        tasters=tuple(Taster(name, id=f"taster-{number}") for number, name in enumerate(names, start=1)),
    )


def a_session_with_long_names(glasses: int = 5, paper: Paper = "A4", shuffle: Shuffle = "host") -> Session:
    """Return a session whose texts are all as long as a session file may have them."""
    return a_session(
        glasses,
        paper,
        shuffle,
        names=tuple(name[:60] for name in LONG_NAMES),
        pours=tuple(name[:60] for name in LONG_POURS),
        title="W" * 80,
        style="W" * 40,
    )


def a_chance(session: Session) -> ChanceSource:
    """Return a fresh chance source of the session's seed."""
    return chance_for(session)


def print_of(session: Session) -> Printed:
    """Print a session's kit into memory."""
    chance = chance_for(session)
    kit = build_kit(session, chance)
    return Printed(kit, kit_contents(kit, chance))


@cache
def printed(glasses: int = 5, paper: Paper = "A4", shuffle: Shuffle = "host") -> Printed:
    """Return the printed kit of `a_session`, made once a run."""
    return print_of(a_session(glasses, paper, shuffle))


@cache
def printed_for_one(glasses: int = 5, paper: Paper = "A4", shuffle: Shuffle = "host") -> Printed:
    """Return the printed kit of a single taster, made once a run."""
    return print_of(a_session(glasses, paper, shuffle, names=NAMES[1:2]))


@cache
def printed_with_long_names(paper: Paper = "A4", shuffle: Shuffle = "host") -> Printed:
    """Return the printed kit of `a_session_with_long_names`, made once a run."""
    return print_of(a_session_with_long_names(5, paper, shuffle))


@cache
def printed_for_forty(paper: Paper = "A4") -> Printed:
    """Return the printed kit of forty tasters at five glasses, made once a run."""
    names = tuple(f"Taster {number} of the Circle" for number in range(1, 41))
    return print_of(a_session(5, paper, names=names))


def session_file(session: Session, *, seeded: bool = True) -> str:
    """Return the session as the TOML text that a host would write."""

    def quoted(text: str) -> str:
        return json.dumps(text, ensure_ascii=False)

    lines = [
        f"title = {quoted(session.title)}",
        f"date = {session.date}",
        f'drink = "{session.drink}"',
        f'shuffle = "{session.shuffle}"',
        f'paper = "{session.paper}"',
    ]
    if seeded and session.seed is not None:
        lines.append(f"seed = {session.seed}")
    for pour in session.pours:
        lines += ["[[pours]]", f"name = {quoted(pour.name)}", f'style = "{pour.style}"', "abv = 16.25"]
    for taster in session.tasters:
        lines += ["[[tasters]]", f'id = "{taster.id}"', f"name = {quoted(taster.name)}"]
    return "\n".join(lines) + "\n"
