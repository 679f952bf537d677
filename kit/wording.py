"""The words that are printed on paper, from one file for each language under `templates/words`.

English is complete. Where another language's file lacks a word, the English one is printed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from kit.errors import FacedownError

COMPLETE = "en"
"""The language that has every word."""


@dataclass(frozen=True, slots=True)
class Wording:
    """The printed words of one language."""

    language: str
    texts: dict[str, str]
    lists: dict[str, tuple[str, ...]]

    def __call__(self, name: str, **values: object) -> str:
        """Return the words of that name, such as `notes.heading`, with `{values}` filled in."""
        return self.texts[name].format(**values)

    def lines(self, name: str, **values: object) -> tuple[str, ...]:
        """Return the list of that name, each line filled in."""
        return tuple(line.format(**values) for line in self.lists[name])

    def listed(self, items: Iterable[str]) -> str:
        """Return items one after the other, parted as the language does it."""
        return self("frame.between_items").join(items)

    def sentences(self, sentences: Iterable[str]) -> str:
        """Return sentences as one text."""
        return self("frame.between_sentences").join(sentences)


def languages() -> tuple[str, ...]:
    """Return the languages that there are printed words for."""
    folder = files("templates") / "words"
    return tuple(sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml")))


@cache
def load_wording(language: str) -> Wording:
    """Return the printed words of a language.

    Raises
    ------
    FacedownError
        If there are none.
    """
    if language not in languages():
        raise FacedownError(
            f"There are no printed words in {language!r}.", f"There are words in: {', '.join(languages())}."
        )
    entries = tomllib.loads((files("templates") / "words" / f"{language}.toml").read_text("utf-8"))
    texts: dict[str, str] = {}
    lists: dict[str, tuple[str, ...]] = {}
    if language != COMPLETE:
        english = load_wording(COMPLETE)
        texts, lists = dict(english.texts), dict(english.lists)
    for name, entry in _named(entries):
        if isinstance(entry, list):
            lists[name] = tuple(entry)
        else:
            texts[name] = entry
    return Wording(language, texts, lists)


def _named(entries: dict[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """Yield every entry with the names of the tables around it: `notes.heading`."""
    for name, entry in entries.items():
        if isinstance(entry, dict):
            yield from _named(entry, f"{before}{name}.")
        else:
            yield f"{before}{name}", entry
