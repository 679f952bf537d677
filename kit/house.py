"""House coasters: a durable set whose codes name the set, not a kit, so that it serves every sitting of a house.

Nothing about a set is kept anywhere: its id stands in the session file, and everything printed follows from it. The
key of its codes is therefore public: their MAC finds slips, not forgers, who would gain nothing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from hashlib import sha256

SET_ID_PATTERN = re.compile(r"[0-9A-HJKMNP-TV-Z]{6}")
"""Six characters of the codes' alphabet, as a kit's id."""
CARD_NUMBERS = 32**3
"""How many row-end cards a code can tell apart: three base-32 characters."""


def house_secret(set_id: str) -> bytes:
    """Return the public key under which a set's codes are closed."""
    return sha256(f"facedown-house/1|{set_id}".encode()).digest()[:16]


def card_number(set_id: str, taster_id: str) -> int:
    """Return the number in a taster's row-end card, the same in every sitting: 15 bits of SHA-256 over set and id."""
    digest = sha256(f"facedown-house/1|{set_id}|{taster_id}".encode()).digest()
    return int.from_bytes(digest[:2], "big") % CARD_NUMBERS


def house_cards(set_id: str | None, taster_ids: Sequence[str | None]) -> dict[int, int]:
    """Return the tasters' numbers, from 1, by the numbers in their cards; nothing without a set."""
    if set_id is None:
        return {}
    return {card_number(set_id, one): number for number, one in enumerate(taster_ids, start=1) if one is not None}


def same_card(set_id: str, taster_ids: Sequence[str]) -> tuple[str, str] | None:
    """Return the first two tasters whose cards would have one number, or None where all differ."""
    bearers: dict[int, str] = {}
    for taster_id in taster_ids:
        former = bearers.setdefault(card_number(set_id, taster_id), taster_id)
        if former != taster_id:
            return former, taster_id
    return None
