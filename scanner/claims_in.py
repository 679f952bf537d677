"""Whether all claims are in: before that, no key of a shared or a balanced set is opened.

A shared key is everybody's, and keys of a balanced set tell of each other: whoever learns one could still claim by it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from kit.codes import ROLE_DIGITS, sheet_id
from kit.errors import KitError, ReadingError
from kit.session import Session
from scanner.reading import Outcome, Reading

HANDED_IN = (Outcome.READ, Outcome.REPEAT, Outcome.CONFLICT)


def needs_all_claims(session: Session) -> bool:
    """Tell whether one taster's key tells of another's."""
    return session.shuffle == "host" and session.keys != "own"


def match_sheets_missing(
    kit: str, session: Session, readings: Iterable[Reading], absent: Collection[int] = ()
) -> tuple[int, ...]:
    """Return the tasters whose match sheet is in none of the readings, without those who were absent."""
    given = {page.sheet for reading in readings for page in reading.pages if page.outcome in HANDED_IN}
    return tuple(
        number
        for number in range(1, len(session.tasters) + 1)
        if number not in absent and sheet_id(kit, number, ROLE_DIGITS["match"]) not in given
    )


def refuse_wrongly_absent(kit: str, session: Session, readings: Iterable[Reading], absent: Collection[int]) -> None:
    """Refuse absent tasters whom the kit does not have, or whose match sheet is there.

    Raises
    ------
    KitError
        If the kit has no such taster.
    ReadingError
        If one of them has handed in a match sheet.
    """
    tasters = len(session.tasters)
    missing = match_sheets_missing(kit, session, readings)
    for number in sorted(absent):
        if not 1 <= number <= tasters:
            raise KitError(f"Taster {number} is named absent; kit {kit} has tasters 1 to {tasters}.")
        if number not in missing:
            name, sheet = session.tasters[number - 1].name, sheet_id(kit, number, ROLE_DIGITS["match"])
            raise ReadingError(
                f"{name} (taster {number} of kit {kit}) is named absent, but match sheet {sheet} was read.",
                f"Leave out --absent {number}, or the reading with that sheet.",
            )


def sealed_sentence(kit: str, session: Session, missing: Sequence[int]) -> str:
    """Say which match sheets are waited for, and why nothing is scored."""
    shown = [
        f"{session.tasters[number - 1].name} ({sheet_id(kit, number, ROLE_DIGITS['match'])})" for number in missing[:10]
    ]
    more = f" and {len(missing) - 10} more" if len(missing) > 10 else ""
    options = " ".join(f"--absent {number}" for number in missing[:3]) + (" …" if len(missing) > 3 else "")
    plural = len(missing) > 1
    return (
        f"kit {kit} has {session.keys} keys, so none is opened before all claims are in; "
        f"the match sheet{'s' * plural} of {', '.join(shown)}{more} {'are' if plural else 'is'} missing. "
        f"Read {'them' if plural else 'it'} too; or, if {'they were' if plural else 'the taster was'} not there, "
        f"say so with {options}"
    )
