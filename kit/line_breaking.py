"""Where a line of text may be broken: at spaces, and in Japanese between almost any two characters.

What Japanese forbids (kinsoku) is stated by classes of characters: some may not begin a line, some may not end one,
some pairs stay together.

References
----------
.. [1] W3C, Requirements for Japanese Text Layout, 3.1.7 to 3.1.10 and the character classes of appendix A, which follow
   JIS X 4051:2004 [both from memory].
"""

from __future__ import annotations

from itertools import pairwise

NOT_AT_START = frozenset(
    "、。，．､｡,."  # full stops and commas, cl-06, cl-07
    "」』）］｝〕〉》】〙〗〛〞〟｠｣’”»)]}"  # closing brackets, cl-02
    "‐゠–〜～"  # hyphens, cl-03
    "！？‼⁇⁈⁉!?"  # dividing punctuation, cl-04
    "・：；･:;"  # middle dots, cl-05
    "ヽヾゝゞ々〻"  # iteration marks, cl-09
    "ーｰ"  # the mark of a long vowel, cl-10
    "゛゜ﾞﾟ\u3099\u309a"  # sound marks
    "ぁぃぅぇぉっゃゅょゎゕゖァィゥェォッャュョヮヵヶㇰㇱㇲㇳㇴㇵㇶㇷㇸㇹㇺㇻㇼㇽㇾㇿ"  # small kana, cl-11
    "ｧｨｩｪｫｬｭｮｯ"
    "％%‰℃°′″"  # what follows a number, cl-13
)
NOT_AT_END = frozenset(
    "「『（［｛〔〈《【〘〖〚〝｟｢‘“«([{"  # opening brackets, cl-01
    "￥¥＄$￡£＃#€№"  # what precedes a number, cl-12
)
INSEPARABLE = frozenset("—…‥〳〴〵")
"""Two of the same stay together, cl-08."""
RUNT = 4
"""A last line of fewer characters looks like a leftover. Our own figure."""
_WIDE = (
    (0x2E80, 0x303F),  # radicals, punctuation
    (0x3040, 0x31FF),  # kana
    (0x3400, 0x9FFF),  # kanji
    (0xF900, 0xFAFF),  # compatibility kanji
    (0xFF00, 0xFFEF),  # full-width forms
    (0x20000, 0x3FFFF),  # rare kanji
)
"""Ranges of the Unicode standard between whose characters a line may be broken without a space."""


def pieces(text: str) -> list[str]:
    """Return the pieces of a text between which a line may end; one that follows a space begins with that space.

    >>> pieces("two words")
    ['two', ' words']
    >>> pieces("お酒（2杯）です。")
    ['お', '酒', '（2杯）', 'で', 'す。']
    """
    return [
        (" " if part == 0 and place else "") + piece
        for place, word in enumerate(text.split())
        for part, piece in enumerate(_parts(word))
    ]


def without_runt(lines: list[list[str]]) -> list[list[str]]:
    """Return lines of pieces with a very short last line of Japanese made longer out of the line before it.

    >>> without_runt([["で", "す", "か", "ら", "、", "く", "だ", "さ"], ["い。"]])
    [['で', 'す', 'か', 'ら', '、', 'く'], ['だ', 'さ', 'い。']]
    """
    *before, last = lines
    if not before or any(piece.startswith(" ") for piece in last):
        return lines
    above = list(before[-1])
    while len("".join(last)) < RUNT and len(above) > len(last) + 1 and _is_wide(last[0][0]) and _is_wide(above[-1][0]):
        last = [above.pop(), *last]
    return [*before[:-1], above, last]


def _parts(word: str) -> list[str]:
    parts = [word[0]]
    for before, after in pairwise(word):
        if _may_part(before, after):
            parts.append(after)
        else:
            parts[-1] += after
    return parts


def _may_part(before: str, after: str) -> bool:
    if not (_is_wide(before) or _is_wide(after)):
        return False
    if after in NOT_AT_START or before in NOT_AT_END or (before == after and before in INSEPARABLE):
        return False
    # Our own addition: a number keeps its counter (7分), which the sources allow to be parted.
    return not before.isdecimal()


def _is_wide(character: str) -> bool:
    point = ord(character)
    return point >= _WIDE[0][0] and any(first <= point <= last for first, last in _WIDE)
