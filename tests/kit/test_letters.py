"""The letter to a member: all of it on one page, the address where a window envelope shows it, and no drink named."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from kit import letters
from kit.drawing import Page, Rule, Text
from kit.errors import FacedownError
from kit.forms.design import Design, load_design
from kit.forms.frame import Area
from kit.letters import letter_pages
from kit.record import KeysKept, Kit
from kit.session import Paper, Session, Shuffle, Taster
from tests.kit import samples
from tests.kit.collisions import collisions, outside
from tests.kit.extents import ink_of

ADDRESS = ("The Net Lofts", "3 Ferry Lane", "Saltmarsh SM1 4QQ")
SEND_TO = ("Saltmarsh Sake Circle, 12 Sluice Lane, Saltmarsh", "or by mail: sheets@saltmarsh.example")
DIN_FIELD = Area(20.0, 45.0, 105.0, 90.0)
"""DIN 5008, form B: the address field, 85 × 45 mm, 20 mm from the left and 45 mm from the top (from memory)."""


def letters_of(session: Session, keys_kept: KeysKept = "masked") -> list[Page]:
    return list(letter_pages(Kit("K7Q4M2", session, b"the tide at Saltmarsh", (), keys_kept)))


def a_session(glasses: int = 5, paper: Paper = "A4", address: tuple[str, ...] = ADDRESS) -> Session:
    session = samples.a_session(glasses, paper, "twin")
    tasters = (replace(session.tasters[0], address=address), *session.tasters[1:])
    return replace(session, send_to=SEND_TO, send_by=datetime.date(2026, 12, 19), tasters=tasters)


def texts(page: Page) -> list[Text]:
    return [element for element in (*page.common, *page.own) if isinstance(element, Text)]


def said(page: Page) -> str:
    return " ".join(element.text for element in texts(page))


def address_ink(page: Page, lines: tuple[str, ...]) -> list[Area]:
    """Return where the lines of the address stand; the name may stand elsewhere too."""
    own = [element for element in page.own if isinstance(element, Text) and element.align == "left"]
    assert [element.text for element in reversed(own)] == list(lines)
    return [ink_of(element) for element in reversed(own)]


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_nothing_lies_upon_another_thing_or_near_the_edge(paper: Paper, glasses: int) -> None:
    long = samples.a_session_with_long_names(glasses, paper, "twin")
    wide = ("W" * 60,) * 6
    tasters = tuple(replace(taster, address=wide) for taster in long.tasters)
    long = replace(long, send_to=wide, send_by=datetime.date(2026, 12, 30), minutes=59.5, pour_ml=249.5, vial_ml=250.0)
    for session in (a_session(glasses, paper), long, replace(long, tasters=tasters)):
        pages = [*letters_of(session), *letters_of(session, "paper")]
        assert len(pages) == 2 * len(session.tasters)
        for page in pages:
            assert outside(page) == []
            assert collisions(page) == []


def test_the_letter_explains_the_whole_exercise() -> None:
    text = said(letters_of(a_session(3))[0])
    for part in (
        "6 vials of 20 ml: 3 numbered 1 to 3, 3 lettered A to C",
        "3 glasses of one kind",
        "dark glasses or dim the light",
        "empty vials out of sight",
        "Round one.",
        "Pause.",
        "Round two.",
        "Claims.",
        "Cross your answer.",
        "black it out",
        "Scan them, or photograph each alone",
        "They should be here by 19 December 2026.",
        *SEND_TO,
        "closed until your sheets are sent",
        "Spit",
        "drive",
        "legal drinking age",
        "allergies",
        "Posting alcohol",
        "Local law",
    ):
        assert part in text


def test_a_key_that_is_on_paper_alone_is_asked_back_with_the_sheets() -> None:
    asked = "send it back with your sheets"
    assert asked in said(letters_of(a_session(3), "paper")[0])
    assert asked not in said(letters_of(a_session(3))[0])
    assert asked not in said(letters_of(a_session(3), "passphrase")[0])


def test_the_clock_is_the_sittings() -> None:
    """By hand: seven minutes for five glasses begin at 0:00, 1:24, 2:48, 4:12 and 5:36."""
    assert "7 minutes, a glass after the other, beginning at 0:00, 1:24, 2:48, 4:12, 5:36; stop at 7:00" in said(
        letters_of(a_session(5))[0]
    )


def test_the_alcohol_is_that_of_both_rounds() -> None:
    """By hand: 3 × 2 × 20 ml at 16.25 % are 19.5 ml, × .789 = 15.4 g, of 14 g 1.1 (SOURCES, D)."""
    known = said(letters_of(a_session(3))[0])
    assert "Both rounds together hold 15 g of pure alcohol, 1.1 US standard drinks." in known
    unknown = replace(a_session(3), pours=tuple(replace(p, abv_percent=None) for p in a_session(3).pours))
    assert "pure alcohol" not in said(letters_of(unknown)[0])


def test_no_drink_is_named() -> None:
    text = said(letters_of(a_session(5))[0])
    assert not [name for name in (*samples.POURS, "daiginjo") if name in text]


def test_where_to_send_may_be_left_out() -> None:
    text = said(letters_of(replace(a_session(3), send_to=(), send_by=None))[0])
    assert "Send them to whoever sent you this packet." in text
    assert "Send them soon." in text


def test_the_address_stands_in_the_field_of_din_5008() -> None:
    (page, *_) = letters_of(a_session(5, "A4"))
    for ink in address_ink(page, ("Ines", *ADDRESS)):
        assert DIN_FIELD.left - 0.1 <= ink.left < ink.right <= DIN_FIELD.right
        assert DIN_FIELD.top <= ink.top < ink.bottom <= DIN_FIELD.bottom
    others = [ink_of(text) for text in texts(page) if text not in page.own or text.align == "right"]
    assert not [ink for ink in others if ink.bottom > DIN_FIELD.top and ink.top < DIN_FIELD.bottom]
    # Its folds: 105 and 210 mm from the top (from memory).
    assert {rule.y1_mm for rule in page.common if isinstance(rule, Rule) and rule.x1_mm == 7.0} == {105.0, 210.0}


@pytest.mark.parametrize("address", [ADDRESS, ("3 Ferry Lane", "Saltmarsh SM1 4QQ")])
def test_the_address_shows_in_a_10_envelope_wherever_the_letter_slides(address: tuple[str, ...]) -> None:
    """Worked out from sizes (from memory): envelope 9½ × 4⅛ in, its window 4½ × 1⅛ in, ⅞ in from the left and ½ in from
    the lower edge; Letter folded in three is 8½ × 3⅔ in.
    """
    inch = 25.4
    window_left, window_right = 0.875 * inch, 5.375 * inch
    window_bottom = (4.125 - 0.5) * inch
    window_top = window_bottom - 1.125 * inch
    (page, *_) = letters_of(a_session(5, "Letter", address))
    inks = address_ink(page, ("Ines", *address))
    others = [ink_of(text) for text in texts(page) if text not in page.own or text.align == "right"]
    for slid_right in (0.0, (9.5 - 8.5) * inch):
        for slid_down in (0.0, (4.125 - 11 / 3) * inch):
            for ink in inks:
                assert window_left <= ink.left + slid_right < ink.right + slid_right <= window_right
                assert window_top <= ink.top + slid_down < ink.bottom + slid_down <= window_bottom
            for ink in others:
                assert not (ink.bottom + slid_down > window_top and ink.top + slid_down < window_bottom)


def test_the_name_stands_above_an_address_that_lacks_it_and_is_not_said_twice() -> None:
    (page, *_) = letters_of(a_session(3, address=("Ines Ferreira", "3 Ferry Lane")))
    address_ink(page, ("Ines Ferreira", "3 Ferry Lane"))
    (page, *_) = letters_of(a_session(3, address=("3 Ferry Lane",)))
    address_ink(page, ("Ines", "3 Ferry Lane"))


def test_without_an_address_the_text_begins_higher_and_there_is_nothing_to_fold() -> None:
    with_one, without, _ = letters_of(a_session(3))
    assert address_ink(without, ()) == []
    assert not [rule for rule in without.common if isinstance(rule, Rule) and rule.x1_mm < 20.0]
    first = [next(text.y_mm for text in texts(page) if text.text == "What is in it.") for page in (with_one, without)]
    assert first[1] < first[0]


def test_a_letter_that_does_not_fit_is_refused_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def short_of_room(name: str) -> Design:
        design = load_design(name)
        return replace(design, lengths_mm=design.lengths_mm | {"bottom": 150.0})

    monkeypatch.setattr(letters, "load_design", short_of_room)
    with pytest.raises(FacedownError, match="does not fit on one page"):
        letters_of(a_session(3))


def test_a_member_may_be_one_of_ten_thousand() -> None:
    session = replace(a_session(3), tasters=(Taster("Ines", address=ADDRESS),) * 9999)
    assert sum(1 for _ in letter_pages(Kit("K7Q4M2", session, b"", ()))) == 9999


@pytest.mark.parametrize("shuffle", ["host", "hand"])
def test_a_sitting_at_one_table_has_no_letters(shuffle: Shuffle) -> None:
    assert letters_of(samples.a_session(3, shuffle=shuffle)) == []
