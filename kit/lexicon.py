"""The words and scales that a note form offers for one drink, read from `templates/lexicons`.

The words there are English, and are what readings keep in every language; a language's own words for them stand in its
file under `templates/words`, in tables `lexicon.DRINK`.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from kit.errors import FacedownError
from kit.wording import Wording


@dataclass(frozen=True, slots=True)
class Family:
    """Words of one kind; one row of the form."""

    name: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scale:
    """A row of `steps` boxes from the first end word to the second."""

    id: str
    name: str
    ends: tuple[str, str]
    steps: int


@dataclass(frozen=True, slots=True)
class Lexicon:
    """What one drink is noted with."""

    drink: str
    name: str
    families: tuple[Family, ...]
    scales: tuple[Scale, ...]


def drinks() -> tuple[str, ...]:
    """Return the drinks that there is a lexicon for."""
    folder = files("templates") / "lexicons"
    return tuple(sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml")))


@cache
def load_lexicon(drink: str) -> Lexicon:
    """Return the lexicon of a drink.

    Raises
    ------
    FacedownError
        If there is none, or its file does not say what a form needs.
    """
    if drink not in drinks():
        raise FacedownError(f"There is no word list for {drink!r}.", f"There are lists for: {', '.join(drinks())}.")
    text = (files("templates") / "lexicons" / f"{drink}.toml").read_text("utf-8")
    try:
        return _from_toml(drink, text)
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError) as error:
        raise FacedownError(
            f"templates/lexicons/{drink}.toml: {error}.",
            "DEVELOPERS.md says what a word list holds; templates/lexicons/sake.toml is an example.",
        ) from error


def translated(lexicon: Lexicon, words: Wording) -> Lexicon:
    """Return a lexicon as it is printed: in the same order, with each word in the language if it has one for it."""

    def text(name: str, otherwise: str) -> str:
        return words.texts.get(f"lexicon.{lexicon.drink}.{name}", otherwise)

    def scale(own: Scale) -> Scale:
        otherwise = (own.name, *own.ends)
        name, first, last = words.lists.get(f"lexicon.{lexicon.drink}.scales.{own.id}", otherwise)
        return Scale(own.id, name, (first, last), own.steps)

    return Lexicon(
        lexicon.drink,
        text("name", lexicon.name),
        tuple(
            Family(
                text(f"families.{family.name}", family.name),
                tuple(text(f"words.{word}", word) for word in family.words),
            )
            for family in lexicon.families
        ),
        tuple(map(scale, lexicon.scales)),
    )


def printed_words(lexicon: Lexicon, words: Wording) -> dict[str, str]:
    """Return, for each word as readings keep it, the word that is printed."""
    shown = translated(lexicon, words)
    return {
        word: printed
        for family, shown_family in zip(lexicon.families, shown.families, strict=True)
        for word, printed in zip(family.words, shown_family.words, strict=True)
    }


def _from_toml(drink: str, text: str) -> Lexicon:
    entry = tomllib.loads(text)
    lexicon = Lexicon(
        drink=drink,
        name=entry["name"],
        families=tuple(Family(family["name"], tuple(family["words"])) for family in entry["families"]),
        scales=tuple(
            Scale(scale["id"], scale["name"], (scale["ends"][0], scale["ends"][1]), int(scale["steps"]))
            for scale in entry["scales"]
        ),
    )
    words = [word for family in lexicon.families for word in family.words]
    repeated = sorted({word for word in words if words.count(word) > 1})
    if repeated:
        raise ValueError(f"these words stand in it twice: {', '.join(repeated)}")
    return lexicon
