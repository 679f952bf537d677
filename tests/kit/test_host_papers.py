"""The host's papers: what they say, and that long names and large tables do not run into each other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kit.drawing import Text
from kit.host_papers import clock_text, host_pages
from kit.session import Paper, Session, Shuffle
from tests.kit import samples
from tests.kit.collisions import collisions, outside

SHUFFLES: tuple[Shuffle, ...] = ("host", "hand")
ALL_SHUFFLES: tuple[Shuffle, ...] = (*SHUFFLES, "twin")


def pages_of(session: Session) -> list[list[str]]:
    """Return the lines of the pour sheet, the run sheet and the check list."""
    pages = host_pages(replace(samples.printed(3).kit, session=session))
    return [[element.text for element in page.common if isinstance(element, Text)] for page in pages]


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("shuffle", ALL_SHUFFLES)
@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_nothing_lies_upon_another_thing_or_near_the_edge(paper: Paper, shuffle: Shuffle, glasses: int) -> None:
    large = replace(
        samples.a_session_with_long_names(glasses, paper, shuffle),
        minutes=59.5,
        pour_ml=249.5,
        tasters=samples.a_session().tasters * 3333,
    )
    for session in (samples.a_session(glasses, paper, shuffle), large):
        pages = host_pages(replace(samples.printed(3).kit, session=session))
        assert len(pages) == 3
        for page in pages:
            assert outside(page) == []
            assert collisions(page) == []


def test_the_pour_sheet_says_what_to_pour() -> None:
    """Three tasters at 75 ml: 225 ml of each drink, out of one bottle of 720 ml (bottle sizes: SOURCES, D)."""
    pour_sheet, _, _ = pages_of(samples.a_session(3))
    assert any(line.startswith("Pour 75 ml into each glass") for line in pour_sheet)
    for number, name in enumerate(samples.POURS[:3], start=1):
        at = pour_sheet.index(name)
        assert pour_sheet[at - 1 : at + 5] == [str(number), name, "daiginjo", "16.25", "225", "1"]


def test_the_run_sheet_rings_every_84_seconds_at_five_glasses() -> None:
    """Seven minutes for five glasses: common practice, no published source."""
    _, run_sheet, _ = pages_of(samples.a_session(5))
    for time in ("0:00", "1:24", "2:48", "4:12", "5:36", "7:00"):
        assert run_sheet.count(time) == 2
    assert [line for line in run_sheet if line in "12345"] == list("12345")
    assert [line for line in run_sheet if line in "ABCDE"] == list("ABCDE")


def test_the_filling_sheet_says_what_kits_by_post_need() -> None:
    """By hand: 3 packets × 2 × 20 ml are 120 ml of each drink, 126 ml with 5 % loss; 42 ml a packet go 17 times into
    720 ml. Alcohol: 3 × 2 × 20 ml at 16.25 % are 19.5 ml pure, × .789 = 15.4 g, of 14 g 1.1 (SOURCES, D).
    """
    filling_sheet, _, _ = pages_of(samples.a_session(3, shuffle="twin"))
    for number, name in enumerate(samples.POURS[:3], start=1):
        at = filling_sheet.index(name)
        assert filling_sheet[at - 1 : at + 5] == [str(number), name, "daiginjo", "16.25", "126", "1"]
    text = " ".join(filling_sheet)
    assert "3 packets, 18 vials of 25 ml: 6 in each packet, 20 ml in each vial" in text
    assert "120 ml go into vials; the list below has 5 % more" in text
    assert "A bottle fills 17 packets" in text
    assert "19.5 ml of pure alcohol, both rounds together: 15.4 g, 1.1 US standard drinks" in text


def test_the_papers_of_kits_by_post_speak_of_no_coaster_and_of_nobody_who_moves_glasses() -> None:
    text = " ".join(line for page in pages_of(samples.a_session(3, shuffle="twin")) for line in page)
    assert "vial" in text
    for word in ("oaster", "mixed", "Open one sealed key", "spittoon"):
        assert word not in text


@pytest.mark.parametrize(
    ("minutes", "text"), [(0.0, "0:00"), (1.4, "1:24"), (4.2, "4:12"), (59.999, "60:00"), (60.0, "60:00")]
)
def test_times_are_minutes_and_seconds(minutes: float, text: str) -> None:
    assert clock_text(minutes) == text


def test_only_a_host_sitting_speaks_of_sealed_keys() -> None:
    host, hand = (" ".join(pages_of(samples.a_session(3, shuffle=shuffle))[1]) for shuffle in SHUFFLES)
    assert "sealed key" in host
    assert "sealed key" not in hand
    assert "mixes their own glasses" in hand
