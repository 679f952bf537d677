"""The doors: for each, good files to begin with, how they are changed, and what the program does with such a file.

A door's `run` may raise a FacedownError, which is a sentence for a person. Anything else it raises is a finding.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

from tests.fuzz.mutate import Mutation

MODULES = ("text_doors", "archive_doors", "picture_doors", "web_doors")
Run = Callable[[bytes], None]


@dataclass(frozen=True, slots=True)
class Door:
    """One door. `opened` is given a folder of the door's own and returns what takes a file; `seconds` is the limit."""

    name: str
    seeds: Callable[[], Sequence[bytes]]
    mutation: Mutation
    opened: Callable[[Path], Run]
    seconds: float = 10.0
    decodes: bool = False
    """Whether a library in C takes the file apart: a crash may end the process."""


def doors() -> dict[str, Door]:
    """Return all doors by name, those of text first. A new door is added to the list of its module."""
    return {door.name: door for module in MODULES for door in _doors_of(module)}


def door_named(name: str) -> Door:
    """Return one door; KeyError where there is none. Modules after it are not loaded."""
    return next(door for module in MODULES for door in _doors_of(module) if door.name == name)


def is_door(name: str) -> bool:
    """Tell whether there is a door of that name."""
    return any(door.name == name for module in MODULES for door in _doors_of(module))


def _doors_of(module: str) -> Sequence[Door]:
    found: Sequence[Door] = import_module(f"tests.fuzz.{module}").DOORS
    return found
