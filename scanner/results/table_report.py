"""The table's words, its minorities and dictionaries, in plain words and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from scanner.results.dictionary import Dictionary, DictionaryEntry
from scanner.results.luck import times
from scanner.results.majority import Minority
from scanner.results.notes_report import TOO_LITTLE, known, lacking_intervals
from scanner.results.panel import PanelWord
from scanner.results.table import Table, TableDrink

SHARED, TENTATIVE = 0.8, 0.667
"""Reliable, and good enough to conclude from with care: K. Krippendorff, Content Analysis (from memory)."""


def drink_sentences(drink: TableDrink, tasters: Iterable[str] | None = None) -> tuple[str, ...]:
    """Say what the table says of a drink, and where the tasters, all of them if None, differ."""
    if drink.too_little is not None:
        return (f"{drink.drink.name}: {TOO_LITTLE.lower()}, {drink.too_little}.",)
    words = ", ".join(f"{word} ({said} of {drink.tasters})" for word, said in drink.words.items())
    strengths = ", ".join(f"{scale} {step:g}" for scale, step in drink.strengths.items())
    said = words or "no word of more than half"
    head = f"{drink.drink.name}: {said}{'; ' + strengths if strengths else ''}."
    wanted = None if tasters is None else set(tasters)
    return (
        head,
        *(_minority(one) for one in drink.minorities if wanted is None or one.taster in wanted),
    )


def dictionary_sentences(found: Dictionary) -> tuple[str, ...]:
    """Say which words a taster has for the table's."""
    if found.too_little is not None:
        return (f"{TOO_LITTLE}: {found.too_little}.",)
    if not found.entries:
        return (
            f"{TOO_LITTLE}: of {found.looked_at} pairs of words in {found.drinks} drinks none goes together so often "
            "that luck is ruled out (Holm's correction).",
        )
    return tuple(map(_entry, found.entries))


def panel_sentences(found: Table) -> tuple[str, ...]:
    """Say which words and scales the table shares."""
    kinds = {
        "Shared": [one for one in found.words if one.alpha is not None and one.alpha >= SHARED],
        "Half shared": [one for one in found.words if one.alpha is not None and TENTATIVE <= one.alpha < SHARED],
        "Not shared": [one for one in found.words if one.alpha is not None and one.alpha < TENTATIVE],
    }
    said = [f"{kind} words (Krippendorff's alpha): {_alphas(words)}." for kind, words in kinds.items() if words]
    if not said:
        said.append(f"{TOO_LITTLE} of any word: {found.words[0].too_little if found.words else 'no form offered one'}.")
    else:
        lacking = [one.word for one in found.words if one.alpha is None]
        said += [f"{TOO_LITTLE} of: {', '.join(lacking)}."] if lacking else []
    scales = [one for one in found.scales if one.alpha is not None]
    said += [f"Strengths (alpha, ordinal): {_alphas(scales)}."] if scales else []
    said += [f"{one.word}: {TOO_LITTLE.lower()}, {one.too_little}." for one in found.scales if one.alpha is None]
    said += lacking_intervals((one.word, one.interval_lacks) for one in (*found.words, *found.scales))
    return tuple(said)


def to_json(found: Table, dictionaries: Sequence[Dictionary], tasters: Sequence[str]) -> dict[str, Any]:
    """Return the table as a JSON object; minorities and dictionaries of these tasters alone."""
    return {
        "too_little": found.too_little,
        "drinks": [_drink_to_json(drink, tasters) for drink in found.drinks],
        "words": [asdict(word) for word in found.words],
        "scales": [asdict(scale) for scale in found.scales],
        "dictionaries": [
            {**asdict(one), "too_little": one.too_little, "sentences": list(dictionary_sentences(one))}
            for one in dictionaries
        ],
        "sentences": list(panel_sentences(found)),
    }


def _drink_to_json(drink: TableDrink, tasters: Sequence[str]) -> dict[str, Any]:
    return {
        "kit": drink.kit,
        "title": drink.title,
        "date": drink.date,
        "drink": asdict(drink.drink),
        "tasters": drink.tasters,
        "words": dict(drink.words),
        "strengths": dict(drink.strengths),
        "minorities": [
            {
                "taster": one.taster,
                "name": one.name,
                "missed": list(one.missed),
                "alone": list(one.alone),
                "apart": dict(one.apart),
            }
            for one in drink.minorities
            if one.taster in tasters
        ],
        "too_little": drink.too_little,
        "sentences": list(drink_sentences(drink, tasters)),
    }


def _minority(one: Minority) -> str:
    told = []
    if one.missed:
        told.append(f"does not say {_or(one.missed)}")
    if one.alone:
        told.append(f"alone says {', '.join(one.alone)}")
    if one.apart:
        told.append(f"is apart in {_steps(one.apart)}")
    return f"  {one.name} {'; '.join(told)}."


def _steps(apart: Mapping[str, float]) -> str:
    return ", ".join(f"{scale} ({steps:+g} steps)".replace("-", "−") for scale, steps in apart.items())


def _or(words: Sequence[str]) -> str:
    return " or ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _entry(entry: DictionaryEntry) -> str:
    return (
        f"Where the table says {entry.table_word}, you tend to say {entry.own_word}: {entry.together} of {entry.of} "
        f"times, against {entry.elsewhere} of {entry.other_drinks} elsewhere; {entry.table_word} itself you said "
        f"{entry.said_too} of {entry.of} times. By luck so often {times(entry.chance)}, and after Holm's correction "
        f"still {times(entry.adjusted)}."
    )


def _alphas(words: Sequence[PanelWord]) -> str:
    return ", ".join(f"{one.word} {known(one.alpha, one.interval)}" for one in words if one.alpha is not None)
