"""The host's moves on a key sheet: all glasses off, all set back, in one number of moves whatever the key."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import permutations

import pytest

from kit.chance_source import SeededChance
from kit.drawing import Text
from kit.key_sheets import key_sheets
from kit.keys import OpenedKey
from kit.record import Kit
from kit.session import Keys, Paper
from kit.sheets import Sheet
from tests.kit import samples
from tests.kit.collisions import collisions, is_scramble
from tests.kit.extents import ink_of

KEYS: tuple[Keys, ...] = ("own", "shared", "balanced")


def sheet_for(order: tuple[int, ...], paper: Paper = "A4", keys: Keys = "own") -> Sheet:
    """Return the key sheet of one order; nothing on it but names depends on the kit."""
    kit: Kit = samples.print_of(samples.a_session(len(order), paper, names=("Ines",), keys=keys)).kit
    opened = OpenedKey(1, dict(zip("ABCDE", order, strict=False)), "00" * 16, "S")
    [sheet] = key_sheets(kit, SeededChance(1), [opened])
    return sheet


def secret_texts(sheet: Sheet) -> list[Text]:
    third = sheet.page.paper.height_mm / 3
    return [
        element
        for element in sheet.page.own
        if isinstance(element, Text)
        and 2 * third < element.y_mm < sheet.page.paper.height_mm - 30
        and not is_scramble(element)
    ]


def moves(sheet: Sheet) -> list[str]:
    """Return the numbered lines of a key sheet as a person reads them: left column down, then the right one."""
    columns: dict[bool, dict[float, list[Text]]] = {False: {}, True: {}}
    texts = [text for text in secret_texts(sheet) if not text.text.startswith("Salt")]
    middle = min(text.x_mm for text in texts) + 20.0
    for text in texts:
        columns[ink_of(text).left > middle].setdefault(text.y_mm, []).append(text)
    return [
        " ".join(text.text for text in sorted(row, key=lambda text: ink_of(text).left))
        for column in (columns[False], columns[True])
        for _, row in sorted(column.items())
    ]


def test_the_moves_are_listed_one_by_one() -> None:
    assert moves(sheet_for((3, 1, 2))) == [
        "1 coaster 1 off",
        "2 coaster 2 off",
        "3 coaster 3 off",
        "4 at A coaster 3",
        "5 at B coaster 1",
        "6 at C coaster 2",
    ]


@pytest.mark.parametrize("keys", KEYS)
@pytest.mark.parametrize("glasses", [3, 4])
def test_every_key_takes_the_same_moves_the_one_that_changes_nothing_too(glasses: int, keys: Keys) -> None:
    orders = list(permutations(range(1, glasses + 1)))
    listed = {order: moves(sheet_for(order, keys=keys)) for order in (orders[0], orders[1], orders[-1])}
    for order, lines in listed.items():
        assert len(lines) == 2 * glasses
        assert [int(line.split()[0]) for line in lines] == list(range(1, 2 * glasses + 1))
        set_back = [re.fullmatch(r"\d+ at ([A-E]) coaster (\d)", line) for line in lines[glasses:]]
        assert [found and (found[1], int(found[2])) for found in set_back] == list(zip("ABCDE", order, strict=False))
    same = {tuple(re.sub(r"coaster \d$", "", line) for line in lines) for lines in listed.values()}
    assert len(same) == 1, "but for the coaster set back, no line depends on the key"


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("keys", KEYS)
@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_no_words_lie_upon_others_or_upon_the_scramble(glasses: int, keys: Keys, paper: Paper) -> None:
    sheet = sheet_for(tuple(range(1, glasses + 1)), paper, keys)
    words = tuple(element for element in sheet.page.own if isinstance(element, Text))
    assert collisions(replace(sheet.page, own=words), sheet.layout) == []


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("keys", KEYS)
def test_every_line_of_the_key_is_folded_in_under_scramble(keys: Keys, paper: Paper) -> None:
    """The scramble of the top third, folded down over it, reaches as high and low, and as far left and right."""
    sheet = sheet_for((2, 3, 1, 5, 4), paper, keys)
    height = sheet.page.paper.height_mm
    secret = [ink_of(text) for text in secret_texts(sheet)]
    cover = [ink_of(element) for element in sheet.page.own if isinstance(element, Text) and is_scramble(element)]
    # Folding the middle third's edge: y comes to lie upon 4/3 of the height less y, or, from the top, on y + 2/3.
    upon = [area for area in cover if area.bottom < height / 3]
    left = [area for area in upon if area.left < max(line.right for line in secret)]
    assert min(area.left for area in left) <= min(line.left for line in secret) + 4.0
    assert max(area.right for area in left) >= max(line.right for line in secret)
    top, bottom = (edge - 2 * height / 3 for edge in (min(s.top for s in secret), max(s.bottom for s in secret)))
    assert min(area.top for area in left) <= top + 4.0
    assert max(area.bottom for area in left) >= bottom


def test_a_shared_or_balanced_key_says_that_it_tells_of_others() -> None:
    def guide(keys: Keys) -> str:
        return " ".join(e.text for e in sheet_for((1, 2, 3), keys=keys).page.common if isinstance(e, Text))

    assert "6 moves" in guide("own")
    assert "everybody's claims are in" not in guide("own")
    assert "It is the whole table's key" in guide("shared")
    assert "It tells of other tasters' keys" in guide("balanced")
