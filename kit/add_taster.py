"""A taster who comes late: joins a printed kit with the next number, and changes nobody's key, seal, salt or code."""

from __future__ import annotations

from dataclasses import replace

from kit.chance_source import ChanceSource
from kit.errors import KitError, SessionError
from kit.house import card_number
from kit.keys import Key, draw_key
from kit.layout_file import write_layout
from kit.record import Kit
from kit.session import MOST_TASTERS, Session, Taster, session_from_json, session_to_json
from kit.session_rules import free_id, heard


def with_taster(session: Session, name: str, taster_id: str | None, address: tuple[str, ...] = ()) -> Session:
    """Return the session with one taster more, the last; `address` holds the lines of a posted kit's label.

    Raises
    ------
    KitError
        If the kit has no room for another, or name, id or address are not allowed, or would be taken for another's.
    """
    if session.keys == "balanced":
        raise KitError(
            "The keys of this kit are balanced over its tasters: one more would unbalance them.",
            "Print a kit for all of them anew.",
        )
    if len(session.tasters) >= MOST_TASTERS:
        raise KitError(f"The kit has {MOST_TASTERS} tasters, the most that one can have.", "Print a second kit.")
    if address and session.shuffle != "twin":
        raise KitError(
            "--add-address: no paper of this kit shows an address, so none is kept.",
            "Leave it out; it goes with kits by post, of shuffle twin.",
        )
    taster = _held_to_the_rules(session, name, taster_id, address)
    _refuse_namesake(session, taster)
    _refuse_card(session, taster)
    return replace(session, tasters=(*session.tasters, taster))


def key_for_added(session: Session, chance: ChanceSource, shared: Key | None) -> tuple[Key, bytes]:
    """Return key and salt for the last taster of a session: a key drawn anew, or the `shared` one of the table."""
    drawn, salt = draw_key(session.glasses, chance, str(len(session.tasters)))
    return shared or drawn, salt


def refuse_another_layout(kit: Kit, layout_sha256: str) -> None:
    """Refuse a kit whose sheets this version would lay out otherwise than they were printed.

    Raises
    ------
    KitError
        If the layout of the kit's tasters is not the one of that digest.
    """
    if write_layout(kit, None) != layout_sha256:
        raise KitError(
            f"This version of facedown lays out the sheets of kit {kit.id} otherwise than they were printed, "
            "so that those handed out could no longer be read.",
            "Add the taster with the version of facedown that printed the kit.",
        )


def _held_to_the_rules(session: Session, name: str, taster_id: str | None, address: tuple[str, ...]) -> Taster:
    """Return the taster as a session file would have them."""
    added = {"name": name, "address": list(address)} | ({"id": taster_id} if taster_id is not None else {})
    alone = session_to_json(replace(session, coasters="kit", house=None, tasters=())) | {"tasters": [added]}
    try:
        return session_from_json(alone, "--add").tasters[0]
    except SessionError as error:
        issues = (issue.removeprefix("[[tasters]] 1, ").removeprefix("name: ") for issue in error.issues)
        options = ("id: ", "address: ")
        sentences = (f"--add-{issue}." if issue.startswith(options) else f"--add: {issue}." for issue in issues)
        raise KitError("\n".join(sentences)) from None


def _refuse_namesake(session: Session, added: Taster) -> None:
    taken = {taster.id: number for number, taster in enumerate(session.tasters, start=1) if taster.id is not None}
    another_id = free_id(added.name, "tasters", dict(taken))
    if added.id is not None and added.id in taken:
        raise KitError(
            f'--add-id: "{added.id}" is the id of taster {taken[added.id]} already.',
            f"An id that is free: --add-id {another_id}",
        )
    for number, taster in enumerate(session.tasters, start=1):
        if heard(taster.name) != heard(added.name):
            continue
        if taster.id is None:
            raise KitError(
                f"{added.name}: taster {number} has that name and no id by which the two could be told apart.",
                "Give the new one a name that differs, such as with an initial.",
            )
        if added.id is None:
            raise KitError(
                f"{added.name}: taster {number} has that name, with the id {taster.id}.",
                f"If it is somebody else, add an id: --add-id {another_id}",
            )


def _refuse_card(session: Session, added: Taster) -> None:
    """A house row-end card knows its taster by the id, and no two may have one number."""
    if session.house is None:
        return
    if added.id is None:
        taken = {taster.id: 0 for taster in session.tasters if taster.id is not None}
        raise KitError(
            f"{added.name}: with house coasters each taster needs an id, by which the row-end card knows them.",
            f"Give the one they have in other sittings, or a new one: --add-id {free_id(added.name, 'tasters', taken)}",
        )
    for taster in session.tasters:
        if taster.id and card_number(session.house, taster.id) == card_number(session.house, added.id):
            raise KitError(
                f'--add-id: the row-end cards of "{taster.id}" and "{added.id}" would have one number '
                f"in set {session.house}.",
                "Give another id.",
            )
