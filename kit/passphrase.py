"""Locks the keys of a record with a passphrase: scrypt (RFC 7914) and ChaCha20-Poly1305 (RFC 8439).

Both come from the `cryptography` library. Each key is a text of its own under a nonce of its own, bound to its kit and
taster, so that none can be put in another's place.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from kit.chance_source import ChanceSource
from kit.errors import KitError

KDF, CIPHER = "scrypt", "ChaCha20-Poly1305"
SALT_BYTES, KEY_BYTES, NONCE_BYTES, TAG_BYTES = 16, 32, 12, 16
COST, BLOCK, PARALLEL = 2**17, 8, 1
"""N, r and p of RFC 7914: 128 MiB of memory, about a second."""
MOST_MEMORY, MOST_WORK = 2**28, 2**30
"""Bytes (128·N·r) and bytes times p that a record may ask for: one that somebody sent must not stop the machine."""


@dataclass(frozen=True, slots=True)
class Lock:
    """What a record tells of its passphrase: salt and cost for scrypt, and an empty text locked with it.

    By the empty text a wrong passphrase is told from a damaged key.
    """

    salt: bytes
    cost: int
    block: int
    parallel: int
    check: Locked


@dataclass(frozen=True, slots=True)
class Locked:
    """A text under the cipher, its tag at the end."""

    nonce: bytes
    text: bytes


@dataclass(frozen=True, slots=True)
class Opener:
    """The cipher key of one kit, made from its passphrase; never written, never shown."""

    kit: str
    cipher_key: bytes

    def __repr__(self) -> str:
        return f"Opener(kit={self.kit!r})"

    def lock(self, plain: bytes, what: str, chance: ChanceSource) -> Locked:
        """Return `plain` locked, and bound to this kit and to what it is, such as "key 12"."""
        from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

        nonce = chance.token(NONCE_BYTES, f"cipher {what}")
        return Locked(nonce, ChaCha20Poly1305(self.cipher_key).encrypt(nonce, plain, self._bound_to(what)))

    def unlock(self, locked: Locked, what: str) -> bytes | None:
        """Return the text; None where it is not what was locked with this passphrase for this kit and as `what`."""
        from cryptography.exceptions import InvalidTag
        from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

        if len(locked.nonce) != NONCE_BYTES or len(locked.text) < TAG_BYTES:
            return None
        try:
            return ChaCha20Poly1305(self.cipher_key).decrypt(locked.nonce, locked.text, self._bound_to(what))
        except InvalidTag:
            return None

    def _bound_to(self, what: str) -> bytes:
        return f"facedown-passphrase/1|{self.kit}|{what}".encode()


def new_lock(kit: str, passphrase: str, chance: ChanceSource) -> tuple[Lock, Opener]:
    """Make a lock for a kit's keys, and what locks them.

    Raises
    ------
    KitError
        If the passphrase is empty.
    """
    if not passphrase.strip():
        raise KitError("The passphrase is empty.", "Give one that nobody guesses: a few words that make no sentence.")
    salt = chance.token(SALT_BYTES, "passphrase salt")
    opener = Opener(kit, derived(passphrase, salt, COST, BLOCK, PARALLEL))
    return Lock(salt, COST, BLOCK, PARALLEL, opener.lock(b"", "check", chance)), opener


def opener_of(kit: str, lock: Lock, passphrase: str) -> Opener:
    """Return what unlocks the keys of a kit.

    Raises
    ------
    KitError
        If the passphrase is wrong or empty, or the lock asks for more memory or time than any kit's does.
    """
    if not passphrase.strip():
        raise KitError(f"The passphrase of kit {kit} is not empty.", "Give the one that the kit was printed with.")
    _refuse_unreasonable(kit, lock)
    opener = Opener(kit, derived(passphrase, lock.salt, lock.cost, lock.block, lock.parallel))
    if opener.unlock(lock.check, "check") is None:
        raise KitError(
            f"The passphrase is not the one that kit {kit} was printed with.",
            "Give that one; capitals and blanks count. Without it the keys are on the printed key sheets alone.",
        )
    return opener


def derived(passphrase: str, salt: bytes, cost: int, block: int, parallel: int) -> bytes:
    """Return the cipher key of a passphrase, by scrypt.

    Letters with marks count the same however a keyboard composes them (RFC 8265 has normal form C for passwords).

    Raises
    ------
    KitError
        If the machine has not memory enough.
    """
    # Loaded here, and above: most commands lock and unlock nothing.
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    octets = unicodedata.normalize("NFC", passphrase).encode("utf-8", "surrogatepass")
    try:
        return Scrypt(salt=salt, length=KEY_BYTES, n=cost, r=block, p=parallel).derive(octets)
    except MemoryError as error:
        megabytes = 128 * cost * block // 2**20
        reason = f"To check a passphrase takes {megabytes} MiB of memory, which this machine does not have free."
        raise KitError(reason, "Close other programs, or do it on another machine.") from error


def _refuse_unreasonable(kit: str, lock: Lock) -> None:
    cost, block, parallel = lock.cost, lock.block, lock.parallel
    # RFC 7914, section 2: N is a power of two greater than 1; r and p are positive.
    valid = cost > 1 and cost & (cost - 1) == 0 and block > 0 and parallel > 0 and cost < 2 ** (16 * min(block, 16))
    if not valid or len(lock.salt) != SALT_BYTES:
        reason = f"The record of kit {kit} asks for a passphrase in a way that cannot be"
    elif 128 * cost * block > MOST_MEMORY or 128 * cost * block * parallel > MOST_WORK:
        reason = f"The record of kit {kit} asks for more memory or time to check a passphrase than any kit's does"
    else:
        return
    raise KitError(f"{reason} (scrypt with N {cost}, r {block}, p {parallel}).", "Use an untouched copy of the folder.")
