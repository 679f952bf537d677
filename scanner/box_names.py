"""What a box is called when a person is asked about it."""

from __future__ import annotations

ROLE_NAMES = {
    "notes-1": "notes, round one",
    "notes-2": "notes, round two",
    "match": "claims",
    "turned": "turned coasters",
    "key": "sealed key",
}


def box_name(field: str, option: str) -> str:
    """Return a box in words.

    >>> box_name("words.2", "pear")
    'glass 2, the word pear'
    >>> box_name("scale.acidity.B", "4")
    'glass B, acidity, step 4'
    """
    kind, *names, glass = field.split(".")
    match kind:
        case "words":
            return f"glass {glass}, the word {option}"
        case "scale":
            return f"glass {glass}, {names[0] if names else 'scale'}, step {option}"
        case "match":
            return f"place {glass}, claim {option}"
        case "sure":
            return f"place {glass}, how sure: {option}"
        case "turned":
            return f"place {glass}, turned coaster {option}"
    return f"{field} {option}"


def field_name(field: str) -> str:
    """Return a pick-one field in words.

    >>> field_name("match.A")
    'place A, claim'
    """
    return box_name(field, "").rstrip(": ").removesuffix(" step").rstrip(", ")
