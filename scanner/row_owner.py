"""Whose row a photograph shows: from the codes of coasters and cards to a kit and a taster, or why it is nobody's."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.codes import Code, CodeKind, decode, encode, is_genuine
from kit.house import house_secret
from kit.session import MOST_GLASSES
from scanner.code_readers import FoundCode
from scanner.kits import KitOnFile
from scanner.reading import Outcome

COASTERS = (CodeKind.COASTER, CodeKind.HOUSE_COASTER)
CARDS = (CodeKind.ROW_END, CodeKind.HOUSE_ROW_END)
HOUSE = (CodeKind.HOUSE_COASTER, CodeKind.HOUSE_ROW_END)

MOST_CARDS = 300
"""Among more cards than these a ruined one is not sought: it would take seconds."""

AGAIN = "photograph the row again"
NO_CARD = (
    "no row-end card can be seen in the row; lay the taster's card at the row's left end, its arrow towards the "
    f"coasters, and {AGAIN}"
)
TWO_CARDS = f"there is more than one row-end card in the picture; {AGAIN} with one taster's coasters and card alone"
HIDDEN = (
    f"wipe off drops, move so that no lamp is mirrored in it, and {AGAIN} from above, near enough to fill the picture"
)


@dataclass(frozen=True, slots=True)
class Labels:
    """The coasters' and cards' codes in a picture, each with where it was found."""

    coasters: tuple[tuple[Code, FoundCode], ...]
    cards: tuple[tuple[Code, FoundCode], ...]


@dataclass(frozen=True, slots=True)
class Owned:
    """A whole row: all coasters of a sitting, each once, and the taster's card; `kit` was given."""

    kit: KitOnFile
    taster: int
    coasters: Mapping[int, FoundCode]
    card: FoundCode


@dataclass(frozen=True, slots=True)
class NotOwned:
    """Why a row is refused; `is_short` where something of it was not found, and might be by looking harder."""

    outcome: Outcome
    reason: str
    kit: KitOnFile | None = None
    taster: int | None = None
    is_short: bool = False


def labels_among(codes: Sequence[FoundCode]) -> Labels:
    """Return the coasters and cards among the codes of a picture; others, were it a bottle's, do not count."""
    decoded = [(code, found) for found in codes if (code := decode(found.text)) is not None]
    return Labels(
        tuple(one for one in decoded if one[0].kind in COASTERS), tuple(one for one in decoded if one[0].kind in CARDS)
    )


def owner_of(labels: Labels, kits: Mapping[str, KitOnFile]) -> Owned | NotOwned:
    """Tell whose row has these labels, of which there is at least one.

    A label counts only if its check value and its MAC agree. Another kit's or set's label anywhere in the picture
    refuses the row, so does a second card: the coasters of two tasters are alike.
    """
    pool = _pool(labels, kits)
    if isinstance(pool, NotOwned):
        return pool
    if len(labels.cards) > 1:
        return NotOwned(Outcome.UNREADABLE, TWO_CARDS, _only(pool))
    seat = _seat(labels, pool)
    if isinstance(seat, NotOwned):
        return seat
    kit, taster = seat
    numbers = Counter(code.number for code, _ in labels.coasters)
    strange = sorted(number for number in numbers if not 1 <= number <= kit.glasses)
    if strange:
        reason = (
            f"coaster {_listed(strange)} is in it, and the sitting has {kit.glasses} glasses; take it away and {AGAIN}"
        )
        return NotOwned(Outcome.UNREADABLE, reason, kit, taster)
    doubled = sorted(number for number, count in numbers.items() if count > 1)
    if doubled:
        reason = (
            f"coaster {_listed(doubled)} is there more than once: coasters of two sets are in the row, or a "
            f"neighbour's row is in the picture; {AGAIN} with one taster's coasters alone"
        )
        return NotOwned(Outcome.UNREADABLE, reason, kit, taster)
    missing = [number for number in range(1, kit.glasses + 1) if number not in numbers]
    if missing:
        reason = f"coaster {_listed(missing)} is missing, or its code cannot be read; {HIDDEN}"
        return NotOwned(Outcome.UNREADABLE, reason, kit, taster, is_short=True)
    if taster is None:
        return NotOwned(Outcome.UNREADABLE, NO_CARD, kit, is_short=True)
    return Owned(kit, taster, {code.number: found for code, found in labels.coasters}, labels.cards[0][1])


def possible_texts(labels: Labels, kits: Mapping[str, KitOnFile]) -> tuple[str, ...]:
    """Return all that a code beside these labels can say: every coaster and card of the kits that they may be of."""
    pool = _pool(labels, kits)
    if isinstance(pool, NotOwned):
        return ()
    texts: dict[str, None] = {}
    for kit in pool:
        if kit.house is not None:
            secret = house_secret(kit.house)
            coasters = [Code(CodeKind.HOUSE_COASTER, kit.house, number) for number in range(1, MOST_GLASSES + 1)]
            cards = [Code(CodeKind.HOUSE_ROW_END, kit.house, number) for number in kit.house_cards]
        else:
            secret = kit.secret
            coasters = [Code(CodeKind.COASTER, kit.id, number) for number in range(1, kit.glasses + 1)]
            cards = [Code(CodeKind.ROW_END, kit.id, number) for number in kit.tasters]
        texts |= dict.fromkeys(
            encode(code, secret) for code in (*coasters, *(cards if len(cards) <= MOST_CARDS else ()))
        )
    return tuple(texts)


def _pool(labels: Labels, kits: Mapping[str, KitOnFile]) -> list[KitOnFile] | NotOwned:
    """Return the kits that the labels may be of: one by a kit's own labels, all that use it by a house set's."""
    every = (*labels.coasters, *labels.cards)
    sets = dict.fromkeys((code.kind in HOUSE, code.kit) for code, _ in every)
    strangers = [name for name in sets if not _users(*name, kits)]
    if strangers:
        is_house, name = strangers[0]
        what = "a house set" if is_house else "kit"
        among = f"there is one of {what} {name} among them" if len(sets) > 1 else f"they are of {what} {name}"
        which = "which no kit given uses" if is_house else "which was not given"
        return NotOwned(Outcome.FOREIGN, f"turned coasters, and {among}, {which}")
    for code, found in every:
        secret = house_secret(code.kit) if code.kind in HOUSE else kits[code.kit].secret
        if not is_genuine(found.text, secret):
            reason = (
                f"the code of a coaster or card does not belong to {code.kit}: its check does not match (a copied one)"
            )
            return NotOwned(Outcome.FOREIGN, reason)
    if len(sets) > 1:
        names = _listed([name for _, name in sets])
        return NotOwned(Outcome.UNREADABLE, f"coasters or cards of {names} are in one row; {AGAIN} with one set alone")
    pool = _users(*next(iter(sets)), kits)
    if len(pool) == 1 and pool[0].shuffle == "twin":
        reason = f"kit {pool[0].id} goes by post in vials and has no coasters; these cannot be its own"
        return NotOwned(Outcome.FOREIGN, reason)
    return pool


def _users(is_house: bool, name: str, kits: Mapping[str, KitOnFile]) -> list[KitOnFile]:
    if is_house:
        return [kit for kit in kits.values() if kit.house == name and kit.shuffle != "twin"]
    return [kits[name]] if name in kits else []


def _seat(labels: Labels, pool: Sequence[KitOnFile]) -> tuple[KitOnFile, int | None] | NotOwned:
    """Return the kit and its taster, None without a card."""
    if not labels.cards:
        if len(pool) > 1:
            return NotOwned(Outcome.UNREADABLE, NO_CARD, is_short=True)
        return pool[0], None
    [(card, _)] = labels.cards
    if card.kind is CodeKind.ROW_END:
        if card.number not in pool[0].tasters:
            reason = f"the row-end card is taster {card.number}'s, whom kit {card.kit} as given does not have"
            return NotOwned(Outcome.FOREIGN, reason, pool[0])
        return pool[0], card.number
    seats = [(kit, kit.house_cards[card.number]) for kit in pool if card.number in kit.house_cards]
    if not seats:
        reason = f"the row-end card of house set {card.kit} is of nobody in the kit given"
        return NotOwned(Outcome.FOREIGN, reason, _only(pool))
    if len(seats) > 1:
        several = _listed([kit.id for kit, _ in seats])
        reason = (
            f"house coasters do not say of which sitting they are, and {several} all have this taster; read each "
            "sitting's photographs of turned coasters on their own, with its kit alone"
        )
        return NotOwned(Outcome.UNREADABLE, reason)
    return seats[0]


def _only(pool: Sequence[KitOnFile]) -> KitOnFile | None:
    return pool[0] if len(pool) == 1 else None


def _listed(things: Sequence[object]) -> str:
    words = [str(thing) for thing in things]
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
