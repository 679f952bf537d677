"""The mixing sheet: printed with `hand` alone, whole on every paper; and what its twelve swaps can do."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from io import BytesIO

import pytest
from pypdf import PdfReader

from kit.contents import kit_contents
from kit.drawing import Text
from kit.mixing import SWAPS, mixing_pages
from kit.session import Paper
from tests.kit import samples
from tests.kit.collisions import collisions, outside


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_the_sheet_is_whole_on_every_paper(paper: Paper, glasses: int) -> None:
    for make in (samples.a_session, samples.a_session_with_long_names):
        kit = replace(samples.printed(3).kit, session=make(glasses, paper, "hand"))
        [page] = mixing_pages(kit)
        assert outside(page) == []
        assert collisions(page) == []
        text = " ".join(element.text for element in page.common if isinstance(element, Text))
        assert "Close your eyes" in text
        assert f"Swap two glasses, {SWAPS} times" in text
        assert "Draw the glasses one by one" in text
        assert f"so on to {'ABCDE'[glasses - 1]}" in text
        assert "common practice; there is no published source" in text


def test_only_those_who_mix_themselves_get_one() -> None:
    assert mixing_pages(samples.printed(3).kit) == ()
    session = samples.a_session(3, shuffle="hand", names=("Ines",))
    files = kit_contents(replace(samples.printed(3).kit, session=session, sealed=()), samples.a_chance(session))
    pages = [page.extract_text() for page in PdfReader(BytesIO(files["host.pdf"])).pages]
    assert [("Mixing sheet" in text) for text in pages] == [False, False, False, True]


@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_twelve_swaps_of_any_two_reach_every_order_of_their_kind_about_equally(glasses: int) -> None:
    """Exact, by walking all orders. The eigenvalues of the walk of random transpositions are known from the characters
    of the symmetric group (P. Diaconis and M. Shahshahani, 1981 [memory]); for five glasses the second largest is 1/2,
    so that twelve swaps leave 2⁻¹² of it."""
    swaps = list(itertools.combinations(range(glasses), 2))
    share = {tuple(range(glasses)): Fraction(1)}
    for _ in range(SWAPS):
        fresh: dict[tuple[int, ...], Fraction] = {}
        for order, part in share.items():
            for one, other in swaps:
                swapped = list(order)
                swapped[one], swapped[other] = swapped[other], swapped[one]
                fresh[tuple(swapped)] = fresh.get(tuple(swapped), Fraction(0)) + part / len(swaps)
        share = fresh
    orders = len(list(itertools.permutations(range(glasses))))
    assert len(share) == orders // 2  # an even number of swaps: the drawing after them reaches the other half
    assert sum(abs(part - Fraction(2, orders)) for part in share.values()) / 2 < Fraction(1, 1000)
