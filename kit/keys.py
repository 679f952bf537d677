"""A taster's key, its seal code, and the sealed form in which the kit's record keeps it.

A key is a tuple: the coaster number at place A, at place B, and so on. The seal code binds a key to a kit and a taster
without telling it. The sealed form only keeps a key from being read by accident; whoever has the kit folder can break
it.
"""

from __future__ import annotations

import hmac
from base64 import b64decode, b64encode
from dataclasses import dataclass
from hashlib import sha256, shake_256

from kit.chance_source import ChanceSource, permutation
from kit.codes import ALPHABET
from kit.errors import KitError

FORMAT = "facedown-seal/1"
SALT_BYTES = 16
SEAL_CHARACTERS = 16
PLACES = "ABCDEFGH"

Key = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SealedKey:
    """What a record keeps of one taster's key: the seal code and the masked bytes with their nonce."""

    seal: str
    nonce: str
    masked: str


@dataclass(frozen=True, slots=True)
class OpenedKey:
    """A key with its seal broken: place letter to coaster number."""

    taster: int
    places: dict[str, int]
    salt: str
    seal: str


def seal_code(kit: str, taster: int, key: Key, salt: bytes) -> str:
    """Return the sixteen base-32 characters (80 bits) that stand on every sheet of a taster.

    They are the first 80 bits of SHA-256 over format, kit, taster, key and salt.
    """
    text = f"{FORMAT}|{kit}|{taster}|{','.join(map(str, key))}|".encode()
    number = int.from_bytes(sha256(text + salt).digest()[:10], "big")
    return "".join(ALPHABET[number >> 5 * place & 31] for place in reversed(range(SEAL_CHARACTERS)))


def draw_key(glasses: int, chance: ChanceSource, purpose: str) -> tuple[Key, bytes]:
    """Draw one taster's key, uniform over all orders, and its salt."""
    return permutation(glasses, chance, f"key {purpose}"), chance.token(SALT_BYTES, f"salt {purpose}")


def seal_key(kit: str, taster: int, key: Key, salt: bytes, chance: ChanceSource) -> SealedKey:
    """Return the sealed form of a key."""
    nonce = chance.token(SALT_BYTES, f"nonce {taster}")
    plain = bytes(key).ljust(len(PLACES), b"\0") + salt
    return SealedKey(
        seal_code(kit, taster, key, salt), nonce.hex(), b64encode(_mask(plain, kit, taster, nonce)).decode()
    )


def open_key(kit: str, taster: int, glasses: int, sealed: SealedKey) -> OpenedKey:
    """Break the seal of one key.

    Raises
    ------
    KitError
        If what comes out is no key, or not the key that was sealed: the record was changed after printing.
    """
    try:
        plain = _mask(b64decode(sealed.masked, validate=True), kit, taster, bytes.fromhex(sealed.nonce))
    except ValueError as error:
        reason = f"The key of taster {taster} in kit {kit} is damaged."
        raise KitError(reason, "Use an untouched copy of the kit folder.") from error
    key, salt = tuple(plain[:glasses]), plain[len(PLACES) :]
    if sorted(key) != list(range(1, glasses + 1)) or not hmac.compare_digest(
        seal_code(kit, taster, key, salt).encode(), sealed.seal.encode()
    ):
        raise KitError(
            f"The key of taster {taster} in kit {kit} is not the one that was sealed when the kit was printed.",
            "The record was changed. Use an untouched copy, or the printed key sheet with that seal code.",
        )
    places = dict(zip(PLACES, key, strict=False))
    return OpenedKey(taster, places, salt.hex(), sealed.seal)


def grouped(seal: str) -> str:
    """Return a seal code in groups of four, as printed."""
    return "-".join(seal[first : first + 4] for first in range(0, len(seal), 4))


def _mask(text: bytes, kit: str, taster: int, nonce: bytes) -> bytes:
    stream = shake_256(f"{FORMAT}|mask|{kit}|{taster}|".encode() + nonce).digest(len(text))
    return bytes(a ^ b for a, b in zip(text, stream, strict=True))
