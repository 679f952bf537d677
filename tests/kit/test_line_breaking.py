"""Where lines are broken, in Japanese above all."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.fonts import width_mm
from kit.galley import wrapped
from kit.line_breaking import INSEPARABLE, NOT_AT_END, NOT_AT_START, pieces

JAPANESE = "。、」』）・ー々ゃっァ「（％￥…日本酒利き酒あアｱﾞ"
TEXTS = st.text(st.sampled_from(JAPANESE + "ab12 ().,%"), max_size=60)
SIZE_PT = 10.0


def in_one(text: str) -> str:
    return " ".join(text.split())


@given(TEXTS)
def test_the_pieces_are_the_text(text: str) -> None:
    assert "".join(pieces(text)) == in_one(text)


@given(TEXTS, st.floats(8.0, 80.0), st.floats(0.0, 6.0))
def test_lines_are_the_text_and_fit(text: str, room_mm: float, lead_mm: float) -> None:
    lines = wrapped(text, SIZE_PT, room_mm, lead_mm=lead_mm)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    for number, line in enumerate(lines):
        room = room_mm - (0.0 if number else lead_mm)
        assert width_mm(line, "regular", SIZE_PT) <= room + 1e-6 or len(pieces(line)) == 1


@given(TEXTS, st.floats(8.0, 80.0))
def test_no_line_begins_or_ends_with_what_must_not(text: str, room_mm: float) -> None:
    """At a space a line may be broken whatever stands beside it: whoever writes one means it."""
    lines = wrapped(text, SIZE_PT, room_mm)
    at = 0
    whole = in_one(text)
    for line in lines[:-1]:
        at = whole.index(line, at) + len(line)
        if whole[at : at + 1] != " ":
            before, after = whole[at - 1], whole[at]
            assert after not in NOT_AT_START
            assert before not in NOT_AT_END
            assert not (before == after and before in INSEPARABLE)
            assert not before.isdecimal()
            assert any(unicodedata.east_asian_width(beside) in "WFH" for beside in (before, after))


def test_lines_of_japanese_are_filled() -> None:
    """Ten characters of 10 pt in 36 mm: broken anywhere but before the full stop, not at the end of a word."""
    assert wrapped("これは日本酒の利き酒の説明です。", SIZE_PT, 36.0) == ["これは日本酒の利き酒", "の説明です。"]


def test_a_leftover_on_the_last_line_gets_company() -> None:
    lines = wrapped("これは日本酒の利き酒です。", SIZE_PT, 36.0)
    assert lines == ["これは日本酒の利き", "酒です。"]


def test_english_is_broken_at_spaces_alone() -> None:
    text = "Pour 75 ml (level) into each glass, well-known and e.g. 3/4 full."
    lines = wrapped(text, SIZE_PT, 30.0)
    assert len(lines) > 2
    assert " ".join(lines) == text


def test_what_can_be_parted_nowhere_is_set_whole() -> None:
    assert wrapped("Donaudampfschifffahrt", SIZE_PT, 5.0) == ["Donaudampfschifffahrt"]
    assert wrapped("", SIZE_PT, 5.0) == [""]


UNICODE_BLOCKS = (range(0x3000, 0x3040), range(0x3040, 0x3100), range(0x31F0, 0x3200), range(0xFF00, 0xFFF0))
UNICODE = [chr(point) for block in UNICODE_BLOCKS for point in block if unicodedata.category(chr(point)) != "Cn"]


@pytest.mark.parametrize(
    ("forbidden", "characters"),
    [
        pytest.param(NOT_AT_START, [c for c in UNICODE if unicodedata.category(c) in ("Pe", "Pf")], id="closing"),
        pytest.param(NOT_AT_END, [c for c in UNICODE if unicodedata.category(c) in ("Ps", "Pi")], id="opening"),
        pytest.param(
            NOT_AT_START,
            [c for c in UNICODE if "LETTER SMALL" in unicodedata.name(c) and "LATIN" not in unicodedata.name(c)],
            id="small kana",
        ),
        pytest.param(NOT_AT_START, [c for c in UNICODE if "ITERATION MARK" in unicodedata.name(c)], id="iteration"),
        pytest.param(
            NOT_AT_START,
            [c for c in UNICODE if "SOUND MARK" in unicodedata.name(c) and c not in "〲〴"],
            id="sound marks",
        ),
    ],
)
def test_the_classes_hold_what_unicode_puts_into_them(forbidden: frozenset[str], characters: list[str]) -> None:
    """By the general categories and names of the Unicode Character Database, as Python ships it."""
    assert len(characters) > 3
    assert [character for character in characters if character not in forbidden] == []
