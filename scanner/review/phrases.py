"""A doubt in words: what is looked at, the question, the reader's reason, the answers."""

from __future__ import annotations

from kit.wording import Wording
from scanner.box_names import ROLE_NAMES, box_name, field_name
from scanner.review.queue import BOX, FIELD, Choice, Doubt, Seat


def heading(doubt: Doubt, words: Wording) -> str:
    """Return what is looked at."""
    if doubt.kind == BOX:
        return upper_first(box_name(doubt.field, doubt.option, doubt.seat.printed))
    if doubt.kind == FIELD:
        return upper_first(field_name(doubt.field, doubt.seat.printed))
    return words(f"review.heading_{doubt.kind}")


def question(doubt: Doubt, words: Wording) -> str:
    """Return what is asked."""
    return words(f"review.question_{doubt.kind}", count=max(len(doubt.boxes), len(doubt.pictures)))


def reason(doubt: Doubt, words: Wording) -> str:
    """Return why the reader asks."""
    if doubt.reason:
        return words("review.reason", reason=doubt.reason)
    return words(f"review.reason_{doubt.kind}")


def whose(seat: Seat, role: str, sheet: str, words: Wording) -> str:
    """Return whose sheet it is and of which sitting."""
    taster = seat.taster or words("review.erased")
    return words(
        "review.whose", taster=taster, role=ROLE_NAMES.get(role, role), title=seat.title, date=seat.date, sheet=sheet
    )


def label(choice: Choice, words: Wording) -> str:
    """Return what an answer's button says."""
    return words(f"review.choice_{choice.name}", key=choice.key, says=choice.says)


def settled(doubt: Doubt, choice: Choice, words: Wording) -> str:
    """Return what was decided of what."""
    return words("review.settled", heading=heading(doubt, words), answer=label(choice, words))


def upper_first(text: str) -> str:
    """Return the text with a capital at its beginning."""
    return text[:1].upper() + text[1:]
