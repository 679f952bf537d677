"""What a printed code says, and its matrix of dark modules.

A code holds exactly twenty characters, which a version-1 QR code carries at level M (ISO/IEC 18004, table 7: 20
alphanumeric characters in 21 × 21 modules): a letter for the kind, the kit in six characters, a number in three, one
character for the role, one check value against slips, and a 40-bit MAC under a secret of the kit against forgery. The
characters are base 32 without I, L, O and U, so that nobody misreads them aloud.
"""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Base 32 after Crockford: no I, L, O, U."""

KIT_ID_LENGTH = 6
CODE_LENGTH = 20
MODULES = 21
"""Side of a version-1 code: 17 + 4 · version (ISO/IEC 18004)."""

ROLE_DIGITS = {"notes-1": 1, "notes-2": 2, "match": 3, "turned": 4, "key": 5}


class CodeKind(StrEnum):
    """The first character of a code."""

    SHEET = "F"
    COASTER = "C"
    ROW_END = "R"
    HOUSE_COASTER = "H"
    HOUSE_ROW_END = "E"
    NUMBERED_VIAL = "N"
    LETTERED_VIAL = "V"


@dataclass(frozen=True, slots=True)
class Code:
    """What a code names: for a sheet `number` is the taster and `role_digit` the sheet's; for a coaster its number.

    A house coaster's and a house card's `kit` is the id of their set; see `kit.house` for a card's `number`.
    For a vial `number` is the packet, which is the taster's; `role_digit` is the number on it, or 1 for the letter A, 2
    for B and so on.
    """

    kind: CodeKind
    kit: str
    number: int
    role_digit: int = 0

    @property
    def sheet(self) -> str:
        """The sheet's id as printed beside the code, such as K7Q4M2-0001-1."""
        return sheet_id(self.kit, self.number, self.role_digit)


def sheet_id(kit: str, taster: int, role_digit: int) -> str:
    """Return a sheet's id: kit, taster in four digits, role (FORMATS, section 3)."""
    return f"{kit}-{taster:04d}-{role_digit}"


def encode(code: Code, secret: bytes) -> str:
    """Return the twenty characters of `code`, closed with the MAC under the kit's `secret`."""
    body = f"{code.kind.value}{code.kit}{base32(code.number, 3)}{ALPHABET[code.role_digit]}"
    return body + _check_character(body) + _mac(body, secret)


def decode(text: str) -> Code | None:
    """Return what a code's text names, or None where it is not a code of this program or its check value is wrong.

    The MAC is not looked at: `is_genuine` does that, once the kit is known.
    """
    if len(text) != CODE_LENGTH or any(character not in ALPHABET for character in text):
        return None
    body, check = text[:11], text[11]
    kinds = {kind.value: kind for kind in CodeKind}
    if body[0] not in kinds or check != _check_character(body):
        return None
    number = 0
    for character in body[7:10]:
        number = number * 32 + ALPHABET.index(character)
    return Code(kinds[body[0]], body[1:7], number, ALPHABET.index(body[10]))


def is_genuine(text: str, secret: bytes) -> bool:
    """Tell whether the MAC of a code's text was made under this `secret`."""
    return hmac.compare_digest(text[12:].encode(), _mac(text[:11], secret).encode())


def matrix(text: str, version: int = 1) -> tuple[tuple[bool, ...], ...]:
    """Return the rows of a code's modules, 21 or with version 2 25 each way, True where dark, without a quiet zone."""
    # Loaded here, with the image library that it brings: most commands draw no code.
    import qrcode
    from qrcode.constants import ERROR_CORRECT_M

    symbol = qrcode.QRCode(version=version, error_correction=ERROR_CORRECT_M, border=0)
    symbol.add_data(text)
    symbol.make(fit=False)
    return tuple(tuple(bool(module) for module in row) for row in symbol.get_matrix())


def base32(number: int, length: int) -> str:
    """Return `number` in `length` characters of ALPHABET, most significant first.

    Raises
    ------
    ValueError
        If it does not fit.
    """
    if not 0 <= number < 32**length:
        raise ValueError(f"{number} does not fit into {length} base-32 characters")
    return "".join(ALPHABET[number >> 5 * place & 31] for place in reversed(range(length)))


def _check_character(body: str) -> str:
    # Modulo the prime 31 with weights that differ: every single slip and every swap of two neighbours shows, but for
    # 0 taken for Z, which are equal modulo 31. The MAC finds those as well.
    total = sum((place + 1) * ALPHABET.index(character) for place, character in enumerate(body))
    return ALPHABET[total % 31]


def _mac(body: str, secret: bytes) -> str:
    digest = hmac.new(secret, body.encode(), sha256).digest()
    return base32(int.from_bytes(digest[:5], "big"), 8)
