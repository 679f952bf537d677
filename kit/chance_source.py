"""Where keys, salts and kit ids come from: the operating system's randomness, or a seed for demonstrations."""

from __future__ import annotations

import os
from hashlib import sha256, shake_256
from typing import Protocol


class ChanceSource(Protocol):
    """Draws for one named purpose each, so that one purpose's draws never shift another's."""

    def below(self, limit: int, purpose: str) -> int:
        """Return a whole number from 0 to limit − 1, all equally likely."""

    def token(self, length: int, purpose: str) -> bytes:
        """Return `length` random bytes."""


class SystemChance:
    """The operating system's randomness; nothing is stored, nothing can be drawn again."""

    def below(self, limit: int, purpose: str) -> int:
        # Loaded here: it brings `random`, and most commands draw nothing.
        import secrets

        return secrets.randbelow(limit)

    def token(self, length: int, purpose: str) -> bytes:
        return os.urandom(length)


class SeededChance:
    """Draws that a seed repeats: SHAKE-256 (FIPS 202) over the seed, the purpose and a counter.

    `subject` is what is drawn for: the same seed gives another sitting other kit ids, secrets and keys.
    """

    def __init__(self, seed: int, subject: str = "") -> None:
        self._seed = seed
        self._subject = sha256(subject.encode()).hexdigest()
        self._drawn: dict[str, int] = {}

    def below(self, limit: int, purpose: str) -> int:
        # Rejecting draws past the last whole multiple of the limit keeps all outcomes equally likely.
        ceiling = 2**64 - 2**64 % limit
        while True:
            number = int.from_bytes(self.token(8, purpose), "big")
            if number < ceiling:
                return number % limit

    def token(self, length: int, purpose: str) -> bytes:
        count = self._drawn.get(purpose, 0)
        self._drawn[purpose] = count + 1
        return shake_256(f"facedown/1|{self._seed}|{self._subject}|{purpose}|{count}".encode()).digest(length)


def permutation(length: int, chance: ChanceSource, purpose: str) -> tuple[int, ...]:
    """Return the numbers 1 … length in an order drawn uniformly from all (Fisher and Yates), the identity included."""
    order = list(range(1, length + 1))
    for last in range(length - 1, 0, -1):
        other = chance.below(last + 1, purpose)
        order[last], order[other] = order[other], order[last]
    return tuple(order)
