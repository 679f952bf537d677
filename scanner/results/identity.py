"""Who and what is the same over many kits: by id, else by name. Near misses of names become questions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Literal

from kit.errors import KitError
from kit.session import Pour, Taster
from scanner.results.namesakes import nearly_alike
from scanner.results.sitting import Drink

Kind = Literal["taster", "drink"]
Entry = Taster | Pour
Same = tuple[str, str]
"""Two ids or names that a person says are one taster, or one drink."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A taster or pour of one kit; entries of one kit are never one another."""

    kit: str
    number: int
    entry: Entry


@dataclass(frozen=True, slots=True)
class Question:
    """Two tasters, or two drinks, that may be one."""

    kind: Kind
    first: str
    second: str
    reason: str

    @property
    def sentence(self) -> str:
        """The question, and how to answer it."""
        return (
            f"Are the {self.kind}s {self.first!r} and {self.second!r} one? {self.reason}. They are kept apart; "
            f'if they are one, say --same "{self.first}" "{self.second}".'
        )


@dataclass(frozen=True, slots=True)
class Identities:
    """Who is who: the key and name of each entry by (kit, number), what to ask, and what deserves notice."""

    keys: Mapping[tuple[str, int], str]
    names: Mapping[str, str]
    questions: tuple[Question, ...] = ()
    remarks: tuple[str, ...] = ()
    labels: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def drink(self, kit: str, number: int, pour: Pour) -> Drink:
        """Return a pour as the drink that it is over all kits."""
        key = self.keys[kit, number]
        return Drink(key, self.names[key], pour.style, pour.abv_percent)


@dataclass(slots=True)
class _One:
    """One taster or drink, as it is put together."""

    by_id: bool
    key: str
    entries: list[Seen]

    @property
    def kits(self) -> set[str]:
        return {seen.kit for seen in self.entries}

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(seen.entry.name for seen in self.entries))

    @property
    def labels(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((self.key, *(seen.entry.id for seen in self.entries if seen.entry.id), *self.names)))


def identities(kind: Kind, seen: Sequence[Seen], same: Sequence[Same] = ()) -> tuple[Identities, tuple[Same, ...]]:
    """Find out who is who among the tasters, or the drinks, of several kits.

    Parameters
    ----------
    seen : sequence of Seen
        In the order of the sittings.
    same : sequence of pairs of str
        What a person says is one.

    Returns
    -------
    Identities, and the pairs of `same` that speak of this kind

    Raises
    ------
    KitError
        If a pair names two who were in one kit, or a name that several have.

    Notes
    -----
    An entry with an id is whoever has that id; one without is whoever has that very name and no id. Drinks of one name
    without ids that state other styles or strengths are kept apart and asked about.
    """
    ones = _grouped(kind, seen)
    merged, used = _merged(kind, ones, same)
    found = Identities(
        keys={(entry.kit, entry.number): one.key for one in merged for entry in one.entries},
        names={one.key: _name(one, merged) for one in merged},
        questions=tuple(_questions(kind, merged)),
        remarks=tuple(_remarks(kind, merged)),
        labels={one.key: one.labels for one in merged},
    )
    return found, used


def _grouped(kind: Kind, seen: Sequence[Seen]) -> list[_One]:
    ids = {one.entry.id for one in seen if one.entry.id is not None}
    ones: dict[tuple[bool, str], list[_One]] = {}
    for one in seen:
        by_id = one.entry.id is not None
        label = one.entry.id if one.entry.id is not None else one.entry.name
        group = ones.setdefault((by_id, label), [])
        fitting = [known for known in group if by_id or not _unlike(known, one)]
        if fitting:
            fitting[0].entries.append(one)
            continue
        key = label if not group else f"{label} ({_facts(one.entry)})"
        group.append(_One(by_id, f"{key} (no id)" if not by_id and key in ids else key, [one]))
    return [one for group in ones.values() for one in group]


def _unlike(known: _One, one: Seen) -> bool:
    return any(_differing(seen.entry, one.entry) for seen in known.entries)


def _differing(first: Entry, second: Entry) -> bool:
    """Tell whether two pours state other styles or strengths."""
    if not isinstance(first, Pour) or not isinstance(second, Pour):
        return False
    facts = zip(_stated(first), _stated(second), strict=True)
    return any(a is not None and b is not None and a != b for a, b in facts)


def _stated(pour: Pour) -> tuple[str | float | None, ...]:
    return (None if pour.style is None else pour.style.casefold(), pour.abv_percent)


def _facts(entry: Entry) -> str:
    if not isinstance(entry, Pour):
        return "another"
    strength = None if entry.abv_percent is None else f"{entry.abv_percent:g} %"
    return ", ".join(fact for fact in (entry.style, strength) if fact) or "nothing stated"


def _merged(kind: Kind, ones: Sequence[_One], same: Sequence[Same]) -> tuple[list[_One], tuple[Same, ...]]:
    merged = list(ones)
    used = []
    for pair in same:
        found = [_named(kind, merged, label) for label in pair]
        first, second = found
        if first is None or second is None:
            continue
        used.append(pair)
        if first is second:
            continue
        if shared := sorted(first.kits & second.kits):
            raise KitError(
                f"--same {pair[0]!r} {pair[1]!r}: both {kind}s are in kit {shared[0]}, so they are two.",
                "Leave that pair out.",
            )
        if second.by_id and not first.by_id:
            first, second = second, first
        first.entries += second.entries
        merged.remove(second)
    return merged, tuple(used)


def _named(kind: Kind, ones: Sequence[_One], label: str) -> _One | None:
    exact = [one for one in ones if one.key == label]
    called = exact or [one for one in ones if label in one.labels]
    if len(called) > 1:
        keys = ", ".join(repr(one.key) for one in called)
        raise KitError(f"--same {label!r}: several {kind}s are called that: {keys}.", "Name one of these.")
    return called[0] if called else None


def _name(one: _One, all_of_them: Sequence[_One]) -> str:
    """Return the name for people: with the key beside it where others have that name too."""
    name = one.names[-1]
    shared = any(name in other.names for other in all_of_them if other is not one)
    return f"{name} [{one.key}]" if shared and one.key != name else name


def _questions(kind: Kind, ones: Sequence[_One]) -> Iterator[Question]:
    known = [(one, one.kits, one.names, one.labels) for one in ones]
    for (first, kits, names, labels), (second, other_kits, other_names, other_labels) in combinations(known, 2):
        shared = [name for name in names if name in other_names]
        reason = _why_one(first, second, shared[0]) if shared else _why_near(labels, other_labels)
        if reason is not None and kits.isdisjoint(other_kits):
            yield Question(kind, first.key, second.key, reason)


def _why_one(first: _One, second: _One, name: str) -> str:
    if first.by_id != second.by_id:
        return f"Both are called {name!r}, one of them without an id"
    differing = "with two ids" if first.by_id else "but what is stated of them differs"
    return f"Both are called {name!r}, {differing}"


def _why_near(labels: Sequence[str], other_labels: Sequence[str]) -> str | None:
    for one in labels:
        for other in other_labels:
            if nearly_alike(one, other):
                return f"{one!r} and {other!r} are nearly alike"
    return None


def _remarks(kind: Kind, ones: Sequence[_One]) -> Iterator[str]:
    for one in ones:
        if len(one.names) > 1:
            yield f"{kind} {one.key!r} is called {_listed(one.names)} in different kits"
        stated: Sequence[tuple[str, Callable[[Pour], object]]] = (
            ("the style", lambda pour: pour.style),
            ("the strength in %", lambda pour: pour.abv_percent),
        )
        pours = [seen.entry for seen in one.entries if isinstance(seen.entry, Pour)]
        for fact, of in stated:
            told = tuple(dict.fromkeys(str(of(pour)) for pour in pours if of(pour) is not None))
            if len({text.casefold() for text in told}) > 1:
                yield f"drink {one.key!r} is one by its id, but {fact} differs between kits: {_listed(told)}"


def _listed(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
