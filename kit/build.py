"""From a session to a kit: its id, its secret, a sealed key for each taster."""

from __future__ import annotations

import json

from kit.chance_source import ChanceSource, SeededChance, SystemChance
from kit.codes import KIT_ID_LENGTH, base32
from kit.errors import FacedownError
from kit.keys import SealedKey, draw_key, seal_key
from kit.record import Kit
from kit.session import Session, session_to_json

SECRET_BYTES = 16


def build_kit(session: Session, chance: ChanceSource) -> Kit:
    """Draw everything random of a kit.

    Raises
    ------
    FacedownError
        If this version cannot print such a sitting yet.
    """
    _refuse_what_is_not_printed_yet(session)
    kit_id = base32(chance.below(32**KIT_ID_LENGTH, "kit"), KIT_ID_LENGTH)
    secret = chance.token(SECRET_BYTES, "secret")
    sealed = () if session.shuffle == "hand" else _sealed_keys(kit_id, session, chance)
    return Kit(kit_id, session, secret, sealed)


def chance_for(session: Session) -> ChanceSource:
    """Return the source that the session asks for: its seed, else the operating system."""
    if session.seed is None:
        return SystemChance()
    return SeededChance(session.seed, json.dumps(session_to_json(session), sort_keys=True))


def _sealed_keys(kit_id: str, session: Session, chance: ChanceSource) -> tuple[SealedKey, ...]:
    sealed = []
    for taster in range(1, len(session.tasters) + 1):
        if session.keys == "own" or taster == 1:
            key, salt = draw_key(session.glasses, chance, str(taster))
        else:
            salt = chance.token(len(salt), f"salt {taster}")
        sealed.append(seal_key(kit_id, taster, key, salt, chance))
    return tuple(sealed)


def _refuse_what_is_not_printed_yet(session: Session) -> None:
    hint = 'This version prints shuffle = "host" with own or shared keys, and shuffle = "hand".'
    if session.shuffle == "twin":
        raise FacedownError('The session asks for shuffle = "twin", which is not printed yet.', hint)
    if session.keys == "balanced":
        raise FacedownError('The session asks for keys = "balanced", which is not printed yet.', hint)
    if session.coasters == "house":
        raise FacedownError('The session asks for coasters = "house", which is not printed yet.', hint)
