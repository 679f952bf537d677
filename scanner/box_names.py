"""What a box is called when a person is asked about it."""

from __future__ import annotations

from collections.abc import Mapping

from kit.errors import FacedownError
from kit.lexicon import load_lexicon, printed_words, translated
from kit.wording import COMPLETE, load_wording

ROLE_NAMES = {
    "notes-1": "notes, round one",
    "notes-2": "notes, round two",
    "match": "claims",
    "turned": "turned coasters",
    "key": "sealed key",
}


Printed = Mapping[str, str]
"""How words, and scales by their ids, are printed where the sheet is not in English; else nothing."""

IN_ENGLISH: Printed = {}


def box_name(field: str, option: str, printed: Printed = IN_ENGLISH) -> str:
    """Return a box in words, with those of the sheet beside the English ones.

    >>> box_name("words.2", "pear")
    'glass 2, the word pear'
    >>> box_name("words.2", "pear", {"pear": "洋梨"})
    'glass 2, the word pear (洋梨)'
    >>> box_name("scale.acidity.B", "4")
    'glass B, acidity, step 4'
    """
    kind, *names, glass = field.split(".")
    match kind:
        case "words":
            return f"glass {glass}, the word {both(option, printed)}"
        case "scale":
            return f"glass {glass}, {both(names[0], printed) if names else 'scale'}, step {option}"
        case "match":
            return f"place {glass}, claim {option}"
        case "sure":
            return f"place {glass}, how sure: {option}"
        case "turned":
            return f"place {glass}, turned coaster {option}"
    return f"{field} {option}"


def field_name(field: str, printed: Printed = IN_ENGLISH) -> str:
    """Return a pick-one field in words.

    >>> field_name("match.A")
    'place A, claim'
    """
    return box_name(field, "", printed).rstrip(": ").removesuffix(" step").rstrip(", ")


def both(word: str, printed: Printed) -> str:
    """Return an English word, and behind it as the sheet has it.

    >>> both("pear", {"pear": "洋梨"}), both("pear", {})
    ('pear (洋梨)', 'pear')
    """
    return f"{word} ({printed[word]})" if word in printed else word


def printed_on(drink: str, language: str) -> Printed:
    """Return how words and scales are printed on a session's sheets; of a list or language that is not there, none."""
    if language == COMPLETE:
        return IN_ENGLISH
    try:
        lexicon, words = load_lexicon(drink), load_wording(language)
    except FacedownError:
        return IN_ENGLISH
    return printed_words(lexicon, words) | {scale.id: scale.name for scale in translated(lexicon, words).scales}
