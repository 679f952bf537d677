"""The packing sheet: which drink goes where by the key, one packet a page, and that it says that it shows keys."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest

from kit.drawing import Page, Rect, Text
from kit.keys import OpenedKey
from kit.packing import packing_pages
from kit.record import Kit
from kit.session import Paper, Session, Shuffle, Taster
from tests.kit import samples
from tests.kit.collisions import collisions, outside


def kit_of(session: Session) -> Kit:
    return Kit("K7Q4M2", session, b"the tide at Saltmarsh", ())


def opened(session: Session, order: tuple[int, ...] | None = None) -> list[OpenedKey]:
    """Return one key for all: the drink with the last number at place A and so on, or the order given."""
    numbers = order or tuple(range(session.glasses, 0, -1))
    places = dict(zip(session.place_letters, numbers, strict=True))
    return [OpenedKey(taster, places, "", "") for taster in range(1, len(session.tasters) + 1)]


def texts(page: Page) -> list[str]:
    return [element.text for element in (*page.common, *page.own) if isinstance(element, Text)]


def rows(page: Page, session: Session) -> list[tuple[str, str, str]]:
    """Return what stands side by side on a page: the drink, and what is drawn on its two vials."""
    found = []
    elements = [element for element in (*page.common, *page.own) if isinstance(element, Text)]
    for pour in session.pours:
        (drink,) = [element for element in elements if element.text == pour.name]
        beside = sorted(
            (element.x_mm, element.text)
            for element in elements
            if element.align == "centre" and len(element.text) == 1 and abs(element.y_mm - drink.y_mm) < 5
        )
        (_, number), (_, letter) = beside
        found.append((drink.text, number, letter))
    return found


@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_every_drink_goes_into_its_number_and_into_the_letter_that_the_key_gives_it(glasses: int) -> None:
    session = samples.a_session(glasses, shuffle="twin")
    for order in permutations(range(1, glasses + 1)):
        (page, *_) = packing_pages(kit_of(session), opened(session, order))
        assert rows(page, session) == [
            (pour.name, str(number), "ABCDE"[order.index(number)]) for number, pour in enumerate(session.pours, start=1)
        ]


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_nothing_lies_upon_another_thing_or_near_the_edge(paper: Paper, glasses: int) -> None:
    long = replace(
        samples.a_session_with_long_names(glasses, paper, "twin"), pour_ml=249.5, vial_ml=250.0, loss_percent=40.0
    )
    plain = samples.a_session(glasses, paper, "twin")
    styleless = replace(plain, pours=tuple(replace(pour, style=None) for pour in plain.pours))
    for session in (plain, long, styleless):
        for page in packing_pages(kit_of(session), opened(session)):
            assert outside(page) == []
            assert collisions(page) == []


def test_a_sheet_says_first_that_it_shows_keys_then_whose_packet_it_is() -> None:
    session = samples.a_session(3, shuffle="twin")
    pages = list(packing_pages(kit_of(session), opened(session)))
    assert len(pages) == 3
    for packet, (page, taster) in enumerate(zip(pages, session.tasters, strict=True), start=1):
        (warning,) = [text for text in texts(page) if "shows keys" in text]
        assert "Who packs does not taste" in warning
        assert f"Packet {packet} of 3" in texts(page)
        assert taster.name in texts(page)


def test_there_is_a_square_to_tick_for_every_vial_and_every_check() -> None:
    """By hand: two vials of each of four drinks, and six things to look at before the box is closed."""
    session = samples.a_session(4, shuffle="twin")
    (page, *_) = packing_pages(kit_of(session), opened(session))
    squares = [element for element in page.common if isinstance(element, Rect)]
    assert sum(square.w_mm == 6.0 for square in squares) == 8
    assert sum(square.w_mm == 4.5 for square in squares) == 6
    text = " ".join(texts(page))
    assert "8 vials stand here" in text
    assert "1, 2, 3, 4 and A, B, C, D" in text
    assert "to the 20 ml line" in text


def test_a_new_bottle_is_opened_with_a_new_packet() -> None:
    """By hand: 2 × 20 ml and 5 % more are 42 ml a packet, 17 packets out of 720 ml."""
    session = replace(samples.a_session(3, shuffle="twin"), tasters=tuple(Taster(f"Taster {n}") for n in range(1, 41)))
    pages = list(packing_pages(kit_of(session), opened(session)))
    bottles = [{text for text in texts(page) if text.startswith("no. ")} for page in pages]
    assert bottles == [{"no. 1"}] * 17 + [{"no. 2"}] * 17 + [{"no. 3"}] * 6


@pytest.mark.parametrize("shuffle", ["host", "hand"])
def test_a_sitting_at_one_table_has_no_packing_sheet(shuffle: Shuffle) -> None:
    session = samples.a_session(3, shuffle=shuffle)
    assert list(packing_pages(kit_of(session), opened(session))) == []
