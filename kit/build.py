"""From a session to a kit: its id, its secret, a sealed key for each taster."""

from __future__ import annotations

import json
from dataclasses import replace

from kit.chance_source import ChanceSource, SeededChance, SystemChance, permutation
from kit.codes import KIT_ID_LENGTH, base32
from kit.designs import balanced_keys
from kit.errors import FacedownError
from kit.house import same_card
from kit.keys import SALT_BYTES, Key, SealedKey, seal_key
from kit.record import Kit
from kit.session import Session, session_to_json

SECRET_BYTES = 16
HOUSE_DRAWS = 1000
"""Of 400 tasters two have the same of 32,768 cards nine times in ten; of 1,000 always."""


def build_kit(session: Session, chance: ChanceSource) -> Kit:
    """Draw everything random of a kit.

    Raises
    ------
    FacedownError
        If a set of house coasters is to be drawn and there are too many tasters for it.
    """
    session = with_house_set(session, chance)
    kit_id = base32(chance.below(32**KIT_ID_LENGTH, "kit"), KIT_ID_LENGTH)
    secret = chance.token(SECRET_BYTES, "secret")
    sealed = () if session.shuffle == "hand" else _sealed_keys(kit_id, session, chance)
    return Kit(kit_id, session, secret, sealed)


def chance_for(session: Session) -> ChanceSource:
    """Return the source that the session asks for: its seed, else the operating system."""
    if session.seed is None:
        return SystemChance()
    return SeededChance(session.seed, json.dumps(session_to_json(session), sort_keys=True))


def draw_keys(session: Session, chance: ChanceSource) -> tuple[Key, ...]:
    """Draw every taster's key: an own one, all the same, or a balanced set. Each is uniform over all orders."""
    tasters = len(session.tasters)
    if session.keys == "balanced":
        return balanced_keys(session.glasses, tasters, chance)
    if session.keys == "shared":
        return (permutation(session.glasses, chance, "key 1"),) * tasters
    return tuple(permutation(session.glasses, chance, f"key {taster}") for taster in range(1, tasters + 1))


def with_house_set(session: Session, chance: ChanceSource) -> Session:
    """Return the session with a set of house coasters drawn, where it asks for one and names none.

    Raises
    ------
    FacedownError
        If there are too many tasters for their cards to differ.
    """
    if session.coasters != "house" or session.house is not None:
        return session
    ids = [taster.id for taster in session.tasters if taster.id is not None]
    for _ in range(HOUSE_DRAWS):
        set_id = base32(chance.below(32**KIT_ID_LENGTH, "house"), KIT_ID_LENGTH)
        if same_card(set_id, ids) is None:
            return replace(session, house=set_id)
    raise FacedownError(
        f"{len(ids)} tasters are too many for one set of house coasters: two of them would have the same row-end card.",
        'Print with coasters = "kit", or split the sitting.',
    )


def _sealed_keys(kit_id: str, session: Session, chance: ChanceSource) -> tuple[SealedKey, ...]:
    return tuple(
        seal_key(kit_id, taster, key, chance.token(SALT_BYTES, f"salt {taster}"), chance)
        for taster, key in enumerate(draw_keys(session, chance), start=1)
    )
