"""The code within the folded part of a key sheet: the key and its salt, so that an opened sheet can be read back.

It holds 31 characters, which a version-2 QR code carries at level M (ISO/IEC 18004, table 7: 38 alphanumeric
characters): a letter for the kind, the coaster numbers by place, and the salt in base 32. The numbers are masked with a
hash of the salt: who makes out a part of the code through the paper has learnt nothing of the order. It names neither
kit nor taster and has no check value: the sheet's own codes say whose it is, and the seal code tells whether it is the
key that was sealed.
"""

from __future__ import annotations

from hashlib import sha256

from kit.codes import ALPHABET, base32, matrix
from kit.keys import SALT_BYTES, Key, OpenedKey
from kit.session import LEAST_GLASSES, MOST_GLASSES

KEY_CODE_MODULES = 25
"""Side of a version-2 code: 17 + 4 · version (ISO/IEC 18004)."""

_KIND = "K"
_ORDER_CHARACTERS = 4
_SALT_CHARACTERS = -(-SALT_BYTES * 8 // 5)
_LENGTH = 1 + _ORDER_CHARACTERS + _SALT_CHARACTERS
_VERSION = 2


def key_code_matrix(opened: OpenedKey) -> tuple[tuple[bool, ...], ...]:
    """Return the 25 rows of 25 modules of a key's code, True where dark, without a quiet zone."""
    return matrix(key_text(opened), _VERSION)


def key_text(opened: OpenedKey) -> str:
    """Return what a key's code says."""
    numbers, salt = "".join(map(str, opened.places.values())), bytes.fromhex(opened.salt)
    order = int(numbers.ljust(MOST_GLASSES, "0")) ^ _mask(salt)
    return _KIND + base32(order, _ORDER_CHARACTERS) + base32(int.from_bytes(salt, "big"), _SALT_CHARACTERS)


def key_in(text: str) -> tuple[Key, bytes] | None:
    """Return the key and the salt that a code's text tells, or None where it is no key's code."""
    if len(text) != _LENGTH or text[0] != _KIND or any(character not in ALPHABET for character in text):
        return None
    masked, salt_number = _number(text[1:-_SALT_CHARACTERS]), _number(text[-_SALT_CHARACTERS:])
    if salt_number >= 256**SALT_BYTES:
        return None
    salt = salt_number.to_bytes(SALT_BYTES, "big")
    numbers = str(masked ^ _mask(salt))
    key = tuple(map(int, numbers.rstrip("0"))) if len(numbers) == MOST_GLASSES else ()
    if sorted(key) != list(range(1, len(key) + 1)) or not LEAST_GLASSES <= len(key) <= MOST_GLASSES:
        return None
    return key, salt


def _mask(salt: bytes) -> int:
    return int.from_bytes(sha256(b"facedown-key-code/1|" + salt).digest()[:2], "big")


def _number(text: str) -> int:
    number = 0
    for character in text:
        number = number * 32 + ALPHABET.index(character)
    return number
