"""A taster's key, its seal code, and the sealed form in which the kit's record keeps it.

A key is a tuple: the coaster number at place A, at place B, and so on. The seal code binds a key to a kit and a taster
without telling it. A masked key is only kept from being read by accident: whoever has the kit folder can break it. One
locked with a passphrase is not; and one that is on paper alone is not in the record at all.
"""

from __future__ import annotations

import hmac
from base64 import b64decode, b64encode
from dataclasses import dataclass
from hashlib import sha256, shake_256

from kit.chance_source import ChanceSource, permutation
from kit.codes import ALPHABET
from kit.errors import KitError
from kit.passphrase import Locked, Opener

FORMAT = "facedown-seal/1"
SALT_BYTES = 16
SEAL_CHARACTERS = 16
PLACES = "ABCDEFGH"

Key = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SealedKey:
    """What a record keeps of one taster's key: the seal code, and the key masked or locked, in base 64, with its nonce.

    A key that is on paper alone has a seal code and nothing else.
    """

    seal: str
    nonce: str = ""
    masked: str = ""
    locked: str = ""


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
    """Return the sealed form of a key that a record keeps without a passphrase."""
    nonce = chance.token(SALT_BYTES, f"nonce {taster}")
    masked = _mask(_plain(key, salt), kit, taster, nonce)
    return SealedKey(seal_code(kit, taster, key, salt), nonce.hex(), masked=b64encode(masked).decode())


def lock_key(opener: Opener, taster: int, key: Key, salt: bytes, chance: ChanceSource) -> SealedKey:
    """Return the sealed form of a key that a record keeps under a passphrase."""
    locked = opener.lock(_plain(key, salt), f"key {taster}", chance)
    seal = seal_code(opener.kit, taster, key, salt)
    return SealedKey(seal, locked.nonce.hex(), locked=b64encode(locked.text).decode())


def open_key(kit: str, taster: int, glasses: int, sealed: SealedKey, opener: Opener | None = None) -> OpenedKey:
    """Break the seal of one key, of a locked one with its `opener`.

    Raises
    ------
    KitError
        If what comes out is no key, or not the key that was sealed: the record was changed after printing.
    """
    try:
        nonce = bytes.fromhex(sealed.nonce)
        if opener is None:
            plain: bytes | None = _mask(b64decode(sealed.masked, validate=True), kit, taster, nonce)
        else:
            plain = opener.unlock(Locked(nonce, b64decode(sealed.locked, validate=True)), f"key {taster}")
    except ValueError:
        plain = None
    if plain is None:
        reason = f"The key of taster {taster} in kit {kit} is damaged."
        raise KitError(reason, "Use an untouched copy of the kit folder.")
    key, salt = tuple(plain[:glasses]), plain[len(PLACES) :]
    return checked_key(kit, taster, glasses, key, salt, sealed.seal)


def checked_key(kit: str, taster: int, glasses: int, key: Key, salt: bytes, seal: str) -> OpenedKey:
    """Return a key that its seal code agrees with.

    Raises
    ------
    KitError
        If it is no key of so many glasses, or not the one that was sealed.
    """
    if not is_sealed(kit, taster, glasses, key, salt, seal):
        raise KitError(
            f"The key of taster {taster} in kit {kit} is not the one that was sealed when the kit was printed.",
            "The record was changed. Use an untouched copy, or the printed key sheet with that seal code.",
        )
    return OpenedKey(taster, dict(zip(PLACES, key, strict=False)), salt.hex(), seal)


def is_sealed(kit: str, taster: int, glasses: int, key: Key, salt: bytes, seal: str) -> bool:
    """Tell whether a key and its salt are the ones that were sealed with this code for a taster of a kit."""
    return sorted(key) == list(range(1, glasses + 1)) and hmac.compare_digest(
        seal_code(kit, taster, key, salt).encode(), seal.encode(errors="surrogatepass")
    )


def grouped(seal: str) -> str:
    """Return a seal code in groups of four, as printed."""
    return "-".join(seal[first : first + 4] for first in range(0, len(seal), 4))


def _plain(key: Key, salt: bytes) -> bytes:
    return bytes(key).ljust(len(PLACES), b"\0") + salt


def _mask(text: bytes, kit: str, taster: int, nonce: bytes) -> bytes:
    stream = shake_256(f"{FORMAT}|mask|{kit}|{taster}|".encode() + nonce).digest(len(text))
    return bytes(a ^ b for a, b in zip(text, stream, strict=True))
