"""Mutations of good files: of their structure where it is known, and of their bytes."""

from __future__ import annotations

import json
import random
import re
import struct
from collections.abc import Callable
from typing import Any
from urllib.parse import quote_from_bytes

TEXTS = (
    "",
    " ",
    "\0",
    "../../../../etc/passwd",
    "/etc/passwd",
    "..",
    "..\\..\\x",
    "a/b",
    "C:con",
    "x" * 5000,
    "\u202edaeh",
    "\ud800",
    "\uffff",
    "e\u0301\u0323",
    "1e999",
    "-1",
    "{0.__class__}",
    "%s%n",
    "' OR 1=1 --",
    "K7Q4M2-0001-3",
    "match.A",
    "turned.Z",
    "words.",
    "\x1b]0;x\x07",
)
VALUES: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    -1,
    1,
    2**31,
    2**63,
    -(2**63) - 1,
    10**400,
    0.1,
    -0.0,
    1e308,
    float("nan"),
    float("inf"),
    [],
    {},
    [[]],
    [None],
    {"": None},
    *TEXTS,
)
TOKENS = (
    "nan",
    "inf",
    "-0",
    "1e400",
    "9" * 5000,
    "[" * 2000,
    "{a={a={a=1}}}",
    "''",
    '""',
    '"\\u0000"',
    '"\\uD800"',
    "true",
    "1979-05-27",
    "0001-01-01",
    "9999-12-31T23:59:60Z",
    "07:32:00",
    "[1, 'a', {}]",
    "0x7fffffffffffffff",
    "'../../etc/passwd'",
    ";",
    "\t",
    '"unended',
    "#",
    "=",
    "1,5",
    "−3",
)
NUMBERS = (0, 1, -1, 2, 255, 256, 65535, 65536, 2**31 - 1, -(2**31), 2**32 - 1, 2**63, 10**12, 10**30)

REQUEST_WORDS = (
    b"POST",
    b"GET",
    b"HEAD",
    b"OPTIONS",
    b"TRACE",
    b"PUT",
    b"HTTP/0.9",
    b"HTTP/1.0",
    b"HTTP/9.9",
    b"*",
    b"http://example.org/",
    b"%00",
    b"%ff",
    b"%2e%2e%2f",
    b"..",
    b"//",
    b"Transfer-Encoding",
    b"chunked",
    b"multipart/form-data; boundary=x",
    b"application/json; charset=utf-7",
    b"Expect",
    b"100-continue",
    b"Range",
    b"bytes=0-",
    b"Cookie",
    b"cross-site",
    b"null",
    b"localhost:PORT",
)

Mutation = Callable[[bytes, random.Random], bytes]


def of_json(content: bytes, rng: random.Random) -> bytes:
    """Change one to three members of a JSON document; now and then its text."""
    if rng.random() < 0.15:
        return of_text(content, rng)
    entry = json.loads(content)
    for _ in range(rng.randint(1, 3)):
        entry = changed(entry, rng)
    if rng.random() < 0.01:
        return b'{"format":' + b"[" * 100_000
    return json.dumps(entry, ensure_ascii=rng.random() < 0.5).encode(errors="surrogatepass")


def changed(entry: Any, rng: random.Random) -> Any:
    """Change one member somewhere in what JSON holds."""
    if isinstance(entry, dict) and entry and rng.random() < 0.85:
        name = rng.choice(list(entry))
        kept = dict(entry)
        match rng.randint(0, 9):
            case 0:
                del kept[name]
            case 1:
                kept[rng.choice(TEXTS)] = kept[name]
            case _:
                kept[name] = changed(kept[name], rng)
        return kept
    if isinstance(entry, list) and entry and rng.random() < 0.85:
        at = rng.randrange(len(entry))
        kept_list = list(entry)
        match rng.randint(0, 9):
            case 0:
                del kept_list[at]
            case 1:
                kept_list.append(kept_list[at])
            case 2:
                kept_list = kept_list[:at]
            case _:
                kept_list[at] = changed(kept_list[at], rng)
        return kept_list
    if isinstance(entry, str) and entry and rng.random() < 0.4:
        at = rng.randrange(len(entry))
        return entry[:at] + rng.choice(TEXTS)[:20] + entry[at + rng.randint(0, 2) :]
    if type(entry) in (int, float) and rng.random() < 0.4:
        return rng.choice(NUMBERS) if rng.random() < 0.5 else entry + rng.choice((1, -1))
    return rng.choice(VALUES)


def of_text(content: bytes, rng: random.Random) -> bytes:
    """Change lines and words of a text: TOML, CSV and their like."""
    if rng.random() < 0.2:
        return of_bytes(content, rng)
    lines = content.decode(errors="replace").split("\n")
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(lines))
        match rng.randint(0, 6):
            case 0:
                lines.insert(at, rng.choice(lines))
            case 1:
                lines.pop(at)
                lines = lines or [""]
            case 2 | 3:
                before, mark, _ = lines[at].partition("=")
                value = rng.choice(TOKENS) if rng.random() < 0.6 else repr(rng.choice(TEXTS))
                lines[at] = f"{before}{mark} {value}"
            case 4:
                words = re.split(r"(\W)", lines[at])
                words[rng.randrange(len(words))] = rng.choice((*TEXTS, *TOKENS))
                lines[at] = "".join(words)
            case 5:
                other = rng.randrange(len(lines))
                lines[at], lines[other] = lines[other], lines[at]
            case 6:
                lines[at : at + 1] = [lines[at]] * rng.choice((2, 7, 300))
    return "\n".join(lines).encode(errors="surrogatepass")


def of_bytes(content: bytes, rng: random.Random) -> bytes:
    """Flip, overwrite, insert, repeat, take away and cut off bytes."""
    octets = bytearray(content)
    for _ in range(rng.choice((1, 1, 2, 4, 16))):
        at = rng.randrange(len(octets)) if octets else 0
        match rng.randint(0, 6):
            case 0 if octets:
                octets[at] ^= 1 << rng.randint(0, 7)
            case 1 if octets:
                octets[at] = rng.choice((0, 1, 0x7F, 0x80, 0xFF, rng.randint(0, 255)))
            case 2:
                layout = rng.choice((">H", "<H", ">I", "<I"))
                size = struct.calcsize(layout)
                octets[at : at + size] = struct.pack(layout, rng.choice(NUMBERS) & (2 ** (8 * size) - 1))
            case 3:
                octets[at:at] = rng.randbytes(rng.choice((1, 2, 8, 100)))
            case 4:
                length = rng.choice((1, 4, 64, 1000))
                octets[at:at] = octets[at : at + length]
            case 5:
                del octets[at : at + rng.choice((1, 2, 8, 300))]
            case 6 if rng.random() < 0.3:
                del octets[at:]
    return bytes(octets)


def of_request(content: bytes, rng: random.Random) -> bytes:
    """Change an HTTP request: its lines, the parts of its address and of its form, now and then its bytes."""
    if rng.random() < 0.3:
        return of_text(content, rng)
    parts = re.split(rb"([/?&=\r\n: -]+)", content)
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(parts))
        match rng.randint(0, 5):
            case 0:
                parts[at] = rng.choice(parts)
            case 1:
                parts[at] = str(rng.choice(NUMBERS)).encode()
            case 2:
                parts[at] = rng.choice((*TEXTS, *TOKENS)).encode(errors="surrogatepass")
            case 3:
                parts[at] = quote_from_bytes(rng.choice((*TEXTS, *TOKENS)).encode(errors="surrogatepass")).encode()
            case 4:
                parts[at] = of_bytes(parts[at], rng)
            case 5:
                parts[at] = rng.choice(REQUEST_WORDS)
    return b"".join(parts)


def of_code(content: bytes, rng: random.Random) -> bytes:
    """Change a code's text within its alphabet, now and then beyond it."""
    if rng.random() < 0.3:
        return of_text(content, rng)
    octets = bytearray(content)
    for _ in range(rng.randint(1, 4)):
        if octets:
            octets[rng.randrange(len(octets))] = rng.choice(b"0123456789ABCDEFGHJKMNPQRSTVWXYZFCRHENV")
    return bytes(octets)
