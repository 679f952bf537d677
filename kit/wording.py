"""The words that are printed on paper, from one file for each language under `templates/words`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from kit.errors import FacedownError


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
    sections = tomllib.loads((files("templates") / "words" / f"{language}.toml").read_text("utf-8"))
    texts: dict[str, str] = {}
    lists: dict[str, tuple[str, ...]] = {}
    for section, entries in sections.items():
        for name, entry in entries.items():
            if isinstance(entry, list):
                lists[f"{section}.{name}"] = tuple(entry)
            else:
                texts[f"{section}.{name}"] = entry
    return Wording(language, texts, lists)
