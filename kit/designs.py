"""Balanced sets of keys: over the tasters every drink stands at every place, and follows every other, equally often.

A set is made of blocks of tasters in the order of their numbers. A full block has one taster for each row of a Williams
design; what is left over forms the last block, of rows chosen so that the counts of the whole table differ by one where
that can be had. Each block is drawn on its own: a uniform relabelling of the drinks, and a uniform assignment of its
rows to its tasters. So each taster's own key is uniform over all orders, whichever row it comes from; an opened key
tells nothing of another block's; and the law of a table's total is exact at any size (`scanner.table_law`).
"""

from __future__ import annotations

from kit.chance_source import ChanceSource, permutation
from kit.keys import Key

Row = tuple[int, ...]
"""The drinks, 1 … n, in the order of the places."""
Block = tuple[Row, ...]

FEWEST_GLASSES, MOST_GLASSES = 3, 5


def balanced_keys(glasses: int, tasters: int, chance: ChanceSource) -> tuple[Key, ...]:
    """Draw a balanced set of keys, in taster order."""
    keys: list[Key] = []
    for number, rows in enumerate(blocks(glasses, tasters), start=1):
        labels = permutation(glasses, chance, f"labels of block {number}")
        order = permutation(len(rows), chance, f"rows of block {number}")
        keys += (tuple(labels[drink - 1] for drink in rows[at - 1]) for at in order)
    return tuple(keys)


def blocks(glasses: int, tasters: int) -> tuple[Block, ...]:
    """Return the rows that each block of tasters shares out; the blocks' lengths sum to `tasters`.

    Parameters
    ----------
    glasses : int
        The number n of glasses, 3 … 5.
    tasters : int
        One or more.

    Raises
    ------
    ValueError
        If either is out of range.

    Notes
    -----
    Over the whole table, the counts of the n² pairs of drink and place differ by one at most, always. So do those of
    the n(n − 1) pairs of a drink and the next, but where no rows whatever allow it: for three glasses and 2, 3 or 4
    tasters more than a multiple of six, for five glasses and 4, 5 or 6 tasters in all. There they differ by two.
    (Three glasses: let c and d be the times that rows are used of one square of three and of its mirror. All sums of
    two of the six are counts, so at most one of the six may differ, by one. Five glasses: every choice of rows was
    tried; five rows would be a row-complete square of order five, which does not exist.)
    """
    if tasters < 1:
        raise ValueError(f"{tasters} tasters: at least one is needed")
    full = williams(glasses)
    whole, over = divmod(tasters, len(full))
    if glasses == 5 and whole and over in (4, 5, 6):
        return *([full] * (whole - 1)), *_around_fifteen(over)
    return *([full] * whole), *([_part(glasses, over)] if over else [])


def williams(glasses: int) -> Block:
    """Return the Williams design: one square for an even number of glasses, a square and its mirror for an odd one.

    Raises
    ------
    ValueError
        If there are not 3 … 5 glasses.

    Notes
    -----
    The first row is 0, 1, −1, 2, −2 … modulo n; adding 1, 2 … n − 1 to it makes the others. Neighbours in the first row
    differ by 1, −2, 3, −4 …: for even n each difference comes once, so each drink follows each other once. For odd n
    half of the differences come twice, and the rows read backwards have the other half twice.

    References
    ----------
    .. [1] E. J. Williams, Aust. J. Sci. Res. A 2 (1949) 149–168.

    Examples
    --------
    >>> williams(4)
    ((1, 2, 4, 3), (2, 3, 1, 4), (3, 4, 2, 1), (4, 1, 3, 2))
    """
    if not FEWEST_GLASSES <= glasses <= MOST_GLASSES:
        raise ValueError(f"{glasses} glasses: allowed are {FEWEST_GLASSES} to {MOST_GLASSES}")
    first = tuple((place + 1) // 2 * (1 if place % 2 else -1) for place in range(glasses))
    square = _developed(first)
    return square if glasses % 2 == 0 else square + tuple(row[::-1] for row in square)


def _part(glasses: int, rows: int) -> Block:
    """Return fewer rows than a full design has: its first ones, or the most even that a search found."""
    if glasses == 5 and rows in _FIVE_GLASSES:
        return tuple(tuple("ABCDE".index(drink) + 1 for drink in row) for row in _FIVE_GLASSES[rows].split())
    return williams(glasses)[:rows]


def _around_fifteen(over: int) -> tuple[Block, ...]:
    # With fifteen rows three squares are even that two are not; then a row may be taken away or come on top.
    fifteen = tuple(row for first in _FIRST_OF_THREE for row in _developed(first))
    return (fifteen[:14],) if over == 4 else (fifteen,) if over == 5 else (fifteen, _part(5, 1))


def _developed(first: tuple[int, ...]) -> Block:
    glasses = len(first)
    return tuple(tuple((drink + step) % glasses + 1 for drink in first) for step in range(glasses))


_FIVE_GLASSES = {
    3: "ABCDE BDAEC CEBAD",
    4: "CABDE DBEAC ECDBA ADCEB",
    5: "DCABE BDECA CEBAD ABDEC EACDB",
    6: "EBCDA DBACE CABED BDEAC AEDCB ECABD",
    7: "ABCDE ABCED BDAEC CADBE DCEBA DEACB ECBAD",
}
"""Found by a search through all 120 orders; tests count them out."""

_FIRST_OF_THREE = ((0, 1, 2, 4, 3), (0, 2, 1, 4, 3), (0, 2, 3, 1, 4))
"""First rows of three cyclic squares, in which each difference comes three times."""
