"""Balanced sets: even in their counts, uniform in each taster's own key, drawn as they say."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations_with_replacement, pairwise, permutations
from pathlib import Path
from random import Random

import numpy as np
import pytest
import scipy.stats
from click.testing import CliRunner

from kit.build import build_kit, draw_keys
from kit.chance_source import ChanceSource, SeededChance, SystemChance
from kit.designs import Block, Row, balanced_keys, blocks, williams
from kit.keys import Key
from kit.record import load_kit, opened_keys
from kit.session import Keys
from kit.shell import main
from tests.kit import samples

SIGNIFICANCE = 1e-4
"""Of each chi-square test. The seeds are fixed, so a test that passes once passes always: this says how likely a true
law was to be refused when the seed was chosen."""
DRAWS = 100_000


class QuickChance:
    """Draws by the Mersenne twister, ten times as fast as the seeded source, whose own tests are elsewhere."""

    def __init__(self, seed: int) -> None:
        self._random = Random(seed)

    def below(self, limit: int, purpose: str) -> int:
        return self._random.randrange(limit)

    def token(self, length: int, purpose: str) -> bytes:
        return self._random.randbytes(length)


def spreads(rows: Iterator[Row] | Block, glasses: int) -> tuple[int, int]:
    """Return by how much the counts of drink and place, and those of a drink and the next, differ."""
    rows = tuple(rows)
    drinks = range(1, glasses + 1)
    at_place = Counter((drink, place) for row in rows for place, drink in enumerate(row))
    followed = Counter(pair for row in rows for pair in pairwise(row))
    places = [at_place[drink, place] for drink in drinks for place in range(glasses)]
    pairs = [followed[one, other] for one in drinks for other in drinks if one != other]
    return max(places) - min(places), max(pairs) - min(pairs)


def cannot_be_even(glasses: int, tasters: int) -> bool:
    """Tell where the counts of what follows what must differ by two, as `blocks` says."""
    return (glasses == 3 and tasters % 6 in (2, 3, 4)) or (glasses == 5 and tasters in (4, 5, 6))


@pytest.mark.parametrize("glasses", [3, 4, 5])
@pytest.mark.parametrize("tasters", [*range(1, 42), 100, 999, 1000])
def test_counts_differ_by_one_at_most_where_that_can_be_had(glasses: int, tasters: int) -> None:
    rows = [row for block in blocks(glasses, tasters) for row in block]
    assert len(rows) == tasters
    assert all(sorted(row) == list(range(1, glasses + 1)) for row in rows)
    places, pairs = spreads(tuple(rows), glasses)
    assert places <= 1
    assert pairs == 2 if cannot_be_even(glasses, tasters) else pairs <= 1


@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_whole_designs_are_even_to_the_last_count(glasses: int) -> None:
    for times in (1, 2, 7):
        rows = [row for block in blocks(glasses, times * len(williams(glasses))) for row in block]
        assert spreads(tuple(rows), glasses) == (0, 0)


@pytest.mark.parametrize("tasters", [2, 3, 4, 8, 9, 10])
def test_for_three_glasses_no_choice_of_rows_at_all_would_be_more_even(tasters: int) -> None:
    choices = combinations_with_replacement(list(permutations((1, 2, 3))), tasters)
    assert min(max(spreads(rows, 3)) for rows in choices) == 2


@pytest.mark.parametrize("tasters", [4, 5])
def test_for_five_glasses_no_choice_of_few_rows_would_be_more_even(tasters: int) -> None:
    """With at most five rows, every count must be 0 or 1. (Six rows were tried likewise, in half a million steps.)"""

    def extended(rows: tuple[Row, ...], orders: list[Row]) -> Iterator[tuple[Row, ...]]:
        if len(rows) == tasters:
            yield rows
            return
        for at, order in enumerate(orders):
            rest = [
                other
                for other in orders[at + 1 :]
                if not any(map(int.__eq__, order, other)) and not set(pairwise(order)) & set(pairwise(other))
            ]
            yield from extended((*rows, order), rest)

    assert not any(extended((), list(permutations(range(1, 6)))))


@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_no_block_has_a_row_twice_or_more_than_fifteen(glasses: int) -> None:
    for tasters in range(1, 60):
        for block in blocks(glasses, tasters):
            assert len(set(block)) == len(block) <= 15


@pytest.mark.parametrize(("glasses", "tasters"), [(2, 4), (6, 4), (3, 0), (5, -1)])
def test_what_no_design_is_made_for_is_refused(glasses: int, tasters: int) -> None:
    with pytest.raises(ValueError, match=r"glasses|tasters"):
        blocks(glasses, tasters)


@pytest.mark.parametrize("glasses", [3, 4, 5])
@pytest.mark.parametrize("tasters", [1, 6, 8, 16, 23])
def test_drawn_keys_are_the_rows_renamed_block_by_block(glasses: int, tasters: int) -> None:
    keys = balanced_keys(glasses, tasters, SeededChance(tasters))
    assert spreads(keys, glasses) <= (1, 2)
    first = 0
    for block in blocks(glasses, tasters):
        drawn = sorted(keys[first : first + len(block)])
        renamed = (
            sorted(tuple(names[drink - 1] for drink in row) for row in block)
            for names in permutations(range(1, glasses + 1))
        )
        assert drawn in renamed
        first += len(block)


def drawn(keys: Keys, glasses: int, chance: ChanceSource, tasters: int = 3) -> list[tuple[Key, ...]]:
    session = samples.a_session(glasses, names=tuple("ABCDEFGHIJ"[:tasters]), keys=keys)
    return [draw_keys(session, chance) for _ in range(DRAWS)]


@pytest.mark.parametrize("glasses", [3, 4, 5])
@pytest.mark.parametrize("keys", ["own", "shared", "balanced"])
def test_every_tasters_key_is_uniform_over_all_orders(keys: Keys, glasses: int) -> None:
    """Chi-square over all n! orders of 100,000 draws, against SciPy's law."""
    sets = drawn(keys, glasses, QuickChance(1949))
    orders = list(permutations(range(1, glasses + 1)))
    for taster in range(3):
        counts = Counter(keys[taster] for keys in sets)
        assert counts.keys() <= set(orders)
        assert scipy.stats.chisquare([counts[order] for order in orders]).pvalue > SIGNIFICANCE


def test_a_tame_shuffle_would_be_found_out() -> None:
    """The same test on keys that leave a glass in its place one time in fifty too often."""
    orders = list(permutations((1, 2, 3)))
    random = Random(1)
    counts = Counter(
        (1, 2, 3) if random.random() < 0.02 else orders[random.randrange(len(orders))] for _ in range(DRAWS)
    )
    assert scipy.stats.chisquare([counts[order] for order in orders]).pvalue < SIGNIFICANCE


@pytest.mark.parametrize("glasses", [3, 4])
def test_own_keys_are_independent_between_tasters(glasses: int) -> None:
    """A chi-square test of independence on the table of two tasters' orders, for each pair of three."""
    sets = drawn("own", glasses, QuickChance(1956))
    for one, other in ((0, 1), (0, 2), (1, 2)):
        assert independence(sets, one, other) > SIGNIFICANCE


@pytest.mark.parametrize(("keys", "glasses"), [("shared", 3), ("balanced", 3), ("balanced", 4)])
def test_shared_and_balanced_keys_are_not(keys: Keys, glasses: int) -> None:
    assert independence(drawn(keys, glasses, QuickChance(2)), 0, 1) < SIGNIFICANCE


def test_balanced_keys_of_different_blocks_are_independent() -> None:
    """Four glasses: tasters 1 to 4 are one block, the fifth is the next."""
    sets = drawn("balanced", 4, QuickChance(3), tasters=5)
    assert independence(sets, 0, 4) > SIGNIFICANCE
    assert independence(sets, 0, 3) < SIGNIFICANCE


def independence(sets: list[tuple[Key, ...]], one: int, other: int) -> float:
    orders = {order: at for at, order in enumerate(sorted({keys[one] for keys in sets}))}
    table = np.zeros((len(orders), len(orders)))
    for keys in sets:
        table[orders[keys[one]], orders[keys[other]]] += 1
    return float(scipy.stats.chi2_contingency(table).pvalue)


def test_own_keys_come_from_the_seeded_and_the_systems_source_alike() -> None:
    for chance in (SeededChance(7), SystemChance()):
        assert sorted(draw_keys(samples.a_session(5), chance)[2]) == [1, 2, 3, 4, 5]


def test_a_kit_with_balanced_keys_is_printed_and_sealed(tmp_path: Path) -> None:
    names = tuple(f"Taster {number}" for number in range(1, 11))
    text = samples.session_file(samples.a_session(5, names=names))
    session, kit = tmp_path / "session.toml", tmp_path / "kit"
    session.write_text(text.replace('shuffle = "host"', 'shuffle = "host"\nkeys = "balanced"'), "utf-8")
    assert CliRunner().invoke(main, ["print", str(session), "--out", str(kit)]).exit_code == 0
    assert spreads(tuple(tuple(key.places.values()) for key in opened_keys(load_kit(kit))), 5) == (0, 0)


def test_every_taster_of_a_balanced_kit_has_a_seal_and_salt_of_their_own() -> None:
    kit = build_kit(samples.a_session(3, keys="balanced"), SeededChance(1))
    opened = opened_keys(kit)
    assert len({key.salt for key in opened}) == len({key.seal for key in opened}) == 3
