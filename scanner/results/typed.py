"""Results that were typed in, among those of kits: whose they are, and which drinks, by the same rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kit.session import Pour, Taster
from scanner.results.identity import Identities, Seen
from scanner.results.sitting import Drink, TasterSitting


def tasters_typed(typed: Sequence[TasterSitting], of_kits: Sequence[Seen]) -> list[Seen]:
    """Return the tasters of typed results as entries like those of the kits; none for tasters who were erased."""
    ids = {seen.entry.id for seen in of_kits}
    return [
        Seen(one.kit, one.number, Taster(one.name, _id(one.taster, one.name, ids))) for one in typed if _is_known(one)
    ]


def drinks_typed(typed: Sequence[TasterSitting], of_kits: Sequence[Seen]) -> list[Seen]:
    """Return the drinks of typed results as entries like those of the kits; none where it was not typed what it was."""
    ids = {seen.entry.id for seen in of_kits}
    found = {
        (one.kit, coaster): Seen(
            one.kit, coaster, Pour(drink.name, _id(drink.key, drink.name, ids), drink.style, drink.abv_percent)
        )
        for one in typed
        for coaster, drink in enumerate(one.drinks, start=1)
        if _is_named(one, coaster, drink)
    }
    return list(found.values())


def as_known(one: TasterSitting, tasters: Identities, drinks: Identities) -> TasterSitting:
    """Return a typed result under the keys and names that its taster and drinks have over all sittings."""
    taster = tasters.keys.get((one.kit, one.number))
    keys = [drinks.keys.get((one.kit, coaster)) for coaster in range(1, one.glasses + 1)]
    return replace(
        one,
        taster=one.taster if taster is None else taster,
        name=one.name if taster is None else tasters.names[taster],
        drinks=tuple(
            drink if key is None else replace(drink, key=key, name=drinks.names[key])
            for drink, key in zip(one.drinks, keys, strict=True)
        ),
    )


def unnamed(kit: str, coaster: int) -> Drink:
    """Return what stands for a drink of which it was not typed what it was."""
    return Drink(f"{kit}-{coaster}", f"coaster {coaster}")


def nobody(kit: str, number: int) -> str:
    """Return key and name of a taster who was erased."""
    return f"erased-{kit}-{number}"


def _id(key: str, name: str, ids: set[str | None]) -> str | None:
    """Return the id that a key is: an archive keeps the name as the key of whoever has none."""
    return key if key != name or key in ids else None


def _is_known(one: TasterSitting) -> bool:
    return one.taster != nobody(one.kit, one.number)


def _is_named(one: TasterSitting, coaster: int, drink: Drink) -> bool:
    return drink != unnamed(one.kit, coaster)
