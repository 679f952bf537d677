"""The texts of the codes themselves under attack: wrong characters, and sheets edited into a neighbour's."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from kit.codes import ALPHABET, ROLE_DIGITS, Code, CodeKind, encode
from scanner.identify import Identified, identify
from tests.attribution.kits import TASTERS, Printed, on_file, sheets

QR_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
"""What an alphanumeric code can hold (ISO/IEC 18004, table 5, from memory)."""


def single_slips(text: str) -> Iterator[str]:
    """Yield every text with one other character that a code can hold."""
    for place, character in enumerate(text):
        for wrong in QR_ALPHABET:
            if wrong != character:
                yield text[:place] + wrong + text[place + 1 :]


def double_slips(text: str) -> Iterator[str]:
    """Yield every text with two other characters of the codes' alphabet: C(20, 2) · 31² = 182,590."""
    for one, other in itertools.combinations(range(len(text)), 2):
        for first, second in itertools.product(ALPHABET, repeat=2):
            if first != text[one] and second != text[other]:
                yield text[:one] + first + text[one + 1 : other] + second + text[other + 1 :]


def some_slips(text: str, rng: np.random.Generator, count: int) -> Iterator[str]:
    """Yield texts with two to twenty wrong characters."""
    for _ in range(count):
        slip = list(text)
        for place in rng.choice(len(text), int(rng.integers(2, len(text) + 1)), replace=False):
            slip[place] = str(rng.choice(list(ALPHABET.replace(slip[place], ""))))
        yield "".join(slip)


def edited(sheet: Printed) -> Iterator[str]:
    """Yield the code edited into every neighbour's, check value put right: of each kit, taster and role on file.

    Once with the sheet's own MAC, once with a MAC under a secret that the forger has.
    """
    kit, taster, digit = sheet.text[1:7], sheet.layout.taster, ROLE_DIGITS[sheet.layout.role]
    for other_kit, other_taster, other_digit in itertools.product(
        on_file(), range(1, TASTERS + 1), ROLE_DIGITS.values()
    ):
        if (other_kit, other_taster, other_digit) != (kit, taster, digit):
            forged = encode(Code(CodeKind.SHEET, other_kit, other_taster, other_digit), b"the forger's own")
            yield forged
            yield forged[:12] + sheet.text[12:]


def accepted(texts: Iterator[str]) -> tuple[int, int]:
    """Return how many texts were tried, and how many of them were credited to a sheet."""
    tried = credited = 0
    for text in texts:
        tried += 1
        credited += isinstance(identify([text], on_file()), Identified)
    return tried, credited


def attacks(seed: int, share: float = 1.0) -> dict[str, tuple[int, int]]:
    """Try all attacks, or that share of their sheets, and return the texts tried and those accepted, by attack."""
    rng = np.random.default_rng([seed, 3])
    order = [sheets()[place] for place in rng.permutation(len(sheets()))]
    few = order[: max(1, round(4 * share))]
    many = order[: max(1, round(len(order) * share))]
    return {
        "one wrong character, all": accepted(itertools.chain.from_iterable(single_slips(s.text) for s in many)),
        "two wrong characters, all": accepted(itertools.chain.from_iterable(double_slips(s.text) for s in few)),
        "two to twenty wrong": accepted(itertools.chain.from_iterable(some_slips(s.text, rng, 50) for s in many)),
        "edited into a neighbour's": accepted(itertools.chain.from_iterable(edited(s) for s in many[:: max(1, 16)])),
    }
