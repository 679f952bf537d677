"""The hash, the key derivation and the cipher of the seal, against the known answers of their standards.

The answers were recalled, not copied from the documents [memory]; a hash or a tag that was recalled wrongly would not
come out of any implementation.
"""

from __future__ import annotations

import struct
from hashlib import sha256

import pytest
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

from kit.chance_source import SeededChance
from kit.passphrase import Opener, derived

KEY = bytes(range(0x80, 0xA0))
NONCE = bytes.fromhex("070000004041424344454647")
BOUND = bytes.fromhex("50515253c0c1c2c3c4c5c6c7")
PLAIN = (
    b"Ladies and Gentlemen of the class of '99: "
    b"If I could offer you only one tip for the future, sunscreen would be it."
)
LOCKED = bytes.fromhex(
    "d31a8d34648e60db7b86afbc53ef7ec2a4aded51296e08fea9e2b5a736ee62d63dbea45e8ca9671282fafb69da92728b"
    "1a71de0a9e060b2905d6a5b67ecd3b3692ddbd7f2d778b8c9803aee328091b58fab324e4fad675945585808b4831d7bc"
    "3ff4def08e4b7a9de576d26586cec64b6116"
    "1ae10b594f09e26a7e902ecbd0600691"
)
"""RFC 8439, section 2.8.2; the tag at the end."""


@pytest.mark.parametrize(
    ("message", "digest"),
    [
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ],
    ids=["one block", "two blocks", "nothing", "a million"],
)
def test_sha_256_gives_the_answers_of_its_standard(message: bytes, digest: str) -> None:
    """FIPS 180 and the examples published with it by NIST."""
    assert sha256(message).hexdigest() == digest


@pytest.mark.parametrize(
    ("passphrase", "salt", "cost", "block", "parallel", "answer"),
    [
        ("", b"", 16, 1, 1, "77d6576238657b203b19ca42c18a0497f16b4844e3074ae8dfdffa3fede21442"),
        ("password", b"NaCl", 1024, 8, 16, "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"),
        (
            "pleaseletmein",
            b"SodiumChloride",
            16384,
            8,
            1,
            "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2",
        ),
    ],
)
def test_scrypt_gives_the_answers_of_its_standard(
    passphrase: str, salt: bytes, cost: int, block: int, parallel: int, answer: str
) -> None:
    """RFC 7914, section 12: the first 32 of the 64 bytes there, which are the same however many are asked for."""
    assert derived(passphrase, salt, cost, block, parallel).hex() == answer


def test_the_cipher_gives_the_answer_of_its_standard() -> None:
    """RFC 8439, section 2.8.2."""
    assert ChaCha20Poly1305(KEY).encrypt(NONCE, PLAIN, BOUND) == LOCKED
    assert ChaCha20Poly1305(KEY).decrypt(NONCE, LOCKED, BOUND) == PLAIN


def test_the_cipher_written_down_here_gives_that_answer_too() -> None:
    assert locked_after_the_rfc(KEY, NONCE, PLAIN, BOUND) == LOCKED


@pytest.mark.parametrize("plain", [b"", b"\x03\x01\x02" + bytes(5) + bytes(range(16)), bytes(200)])
def test_a_key_is_locked_as_the_standard_has_it(plain: bytes) -> None:
    """Against the second implementation below: the text is bound to the kit and to what it is, as documented."""
    locked = Opener("K7Q4M2", KEY).lock(plain, "key 12", SeededChance(1))
    assert locked.text == locked_after_the_rfc(KEY, locked.nonce, plain, b"facedown-passphrase/1|K7Q4M2|key 12")


def locked_after_the_rfc(key: bytes, nonce: bytes, plain: bytes, bound: bytes) -> bytes:
    """ChaCha20-Poly1305 after the formulas of RFC 8439, sections 2.3, 2.5 and 2.8, with nothing but whole numbers."""
    stream = b"".join(chacha20_block(key, 1 + block, nonce) for block in range(-(-len(plain) // 64)))
    text = bytes(a ^ b for a, b in zip(plain, stream, strict=False))

    def padded(octets: bytes) -> bytes:
        return octets + bytes(-len(octets) % 16)

    lengths = struct.pack("<QQ", len(bound), len(text))
    return text + poly1305(chacha20_block(key, 0, nonce)[:32], padded(bound) + padded(text) + lengths)


def chacha20_block(key: bytes, counter: int, nonce: bytes) -> bytes:
    state = [*struct.unpack("<4L", b"expand 32-byte k"), *struct.unpack("<8L", key), counter]
    state += struct.unpack("<3L", nonce)
    mixed = list(state)

    def quarter(a: int, b: int, c: int, d: int) -> None:
        for x, y, z, turn in ((a, b, d, 16), (c, d, b, 12), (a, b, d, 8), (c, d, b, 7)):
            mixed[x] = (mixed[x] + mixed[y]) & 0xFFFFFFFF
            mixed[z] ^= mixed[x]
            mixed[z] = (mixed[z] << turn | mixed[z] >> (32 - turn)) & 0xFFFFFFFF

    for _ in range(10):
        for column in range(4):
            quarter(column, column + 4, column + 8, column + 12)
        for column in range(4):
            quarter(column, (column + 1) % 4 + 4, (column + 2) % 4 + 8, (column + 3) % 4 + 12)
    return struct.pack("<16L", *((a + b) & 0xFFFFFFFF for a, b in zip(mixed, state, strict=True)))


def poly1305(key: bytes, message: bytes) -> bytes:
    r = int.from_bytes(key[:16], "little") & 0x0FFFFFFC0FFFFFFC0FFFFFFC0FFFFFFF
    total = 0
    for first in range(0, len(message), 16):
        total = (total + int.from_bytes(message[first : first + 16] + b"\x01", "little")) * r % (2**130 - 5)
    return ((total + int.from_bytes(key[16:], "little")) % 2**128).to_bytes(16, "little")
