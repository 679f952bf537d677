"""What the keys of a session file may hold, and the sentence that is said where one holds something else.

A `Table` is asked for its keys one after the other. What it refuses it adds to a list of issues shared by the
whole file, and answers with a stand-in of the right
type; so the caller asks for everything, then sees whether there are issues.
"""

from __future__ import annotations

import datetime
import difflib
import re
import tomllib
import unicodedata
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

T = TypeVar("T", bound=str)

ID_LIMIT = 40
MOST_ISSUES = 200
ID_PATTERN = re.compile(r"[a-z0-9-]+")

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]{1,60}")
_HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_-]+)\s*\]")
_ASSIGNMENT = re.compile(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*[.=]""")
_TOML_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_DATE_LIKE = re.compile(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*=\s*(\d{1,4}-\d{1,2}-\d{1,4})\b""")
_BLANKS = " \u00a0\u3000"
# Letters and symbols by category that no printer shows: Hangul fillers and the empty Braille cell.
_UNSEEN = "\u115f\u1160\u3164\uffa0\u2800"


def parse_toml(text: str) -> tuple[dict[str, Any], str | None]:
    """Return what the TOML text says and None, or nothing and the sentence that tells why it is not TOML."""
    try:
        return tomllib.loads(text), None
    except tomllib.TOMLDecodeError as error:
        return {}, _toml_sentence(text, str(error))
    except RecursionError:
        return {}, "found lists or tables within each other without end; none is needed here"
    except ValueError:
        return {}, "found a number of thousands of digits; none is needed here"


def key_lines(text: str) -> dict[tuple[str, int, str], int]:
    """Return the line of each key as (table, number of that table, key) → line; all count from 1.

    A table's own header has the key ""; keys above all tables have the table "" and the number 0. Keys inside
    inline tables are not found.
    """
    lines: dict[tuple[str, int, str], int] = {}
    counts: dict[str, int] = {}
    table, number = "", 0
    open_quotes = ""
    for line_number, line in enumerate(text.split("\n"), start=1):
        inside, open_quotes = open_quotes, _quotes_left_open(line, open_quotes)
        if inside:
            continue
        if header := _HEADER.match(line):
            table = header[2]
            counts[table] = number = counts.get(table, 0) + 1
            lines.setdefault((table, number, ""), line_number)
        elif assignment := _ASSIGNMENT.match(line):
            lines.setdefault((table, number, assignment[1]), line_number)
    return lines


@dataclass(slots=True)
class Table:
    """One table of the file: `name` and `number` as in [[pours]] 2, "" and 0 for the keys above all tables.

    `issues` holds the line, 0 where there is none, and the sentence of everything refused so far.
    """

    entries: Mapping[str, Any]
    lines: Mapping[tuple[str, int, str], int]
    issues: list[tuple[int, str]] = field(default_factory=list)
    name: str = ""
    number: int = 0

    def text(self, key: str, limit: int) -> str:
        """Return a line of text that must be there: 1 to `limit` characters, in NFC, without outer blanks."""
        allowed = f"text in quotes, of 1 to {limit} characters,"
        return "" if self._is_missing(key, allowed) else self._line_of_text(key, self.entries[key], limit)

    def optional_text(self, key: str, limit: int) -> str | None:
        """Return a line of text as `text` does, or None where the key is left out or its text blank."""
        value = self.entries.get(key, "")
        is_blank = isinstance(value, str) and not value.strip(_BLANKS)
        return None if is_blank else self.text(key, limit)

    def optional_id(self, key: str = "id") -> str | None:
        """Return an id of small letters, digits and hyphens, or None where it is left out."""
        value = self.entries.get(key)
        if value is None:
            return None
        if isinstance(value, str) and len(value) <= ID_LIMIT and ID_PATTERN.fullmatch(value):
            return value
        allowed = f"1 to {ID_LIMIT} of the characters a to z, 0 to 9 and -, in quotes, are allowed"
        self.refuse(key, f"found {shown(value)}; {allowed}")
        return None

    def lines_of_text(self, key: str, most: int, limit: int) -> tuple[str, ...]:
        """Return a list of at most `most` lines, each as `text` has it; empty where the key is left out."""
        value = self.entries.get(key, [])
        if not isinstance(value, list) or len(value) > most:
            found = f"{len(value)} lines" if isinstance(value, list) else shown(value)
            self.refuse(key, f'found {found}; a list of up to {most} lines, ["one", "two"], is allowed')
            return ()
        return tuple(self._line_of_text(key, line, limit) for line in value)

    def optional_number(self, key: str, low: float, high: float, unit: str = "") -> float | None:
        """Return a number from `low` to `high`, or None where the key is left out."""
        value = self.entries.get(key)
        if value is None:
            return None
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        self.refuse(key, f"found {shown(value)}; a number from {low:g} to {high:g}{unit} is allowed")
        return None

    def optional_whole_number(self, key: str, high: int) -> int | None:
        """Return a whole number from 0 to `high`, or None where the key is left out."""
        value = self.entries.get(key)
        if value is None:
            return None
        if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= high:
            return value
        self.refuse(key, f"found {shown(value)}; a whole number from 0 to {high} is allowed")
        return None

    def day(self, key: str) -> datetime.date:
        """Return a date without a time, that must be there."""
        allowed = "a date without quotes, such as 2026-12-05,"
        if self._is_missing(key, allowed):
            return datetime.date.min
        value = self.entries[key]
        if isinstance(value, datetime.datetime):
            self.refuse(key, f"found {shown(value)}; a date alone, such as {value.date()}, is allowed")
        elif isinstance(value, datetime.date):
            return value
        else:
            self.refuse(key, f"found {shown(value)}; {allowed} is allowed")
        return datetime.date.min

    def choice(self, key: str, allowed: Sequence[T], default: T | None = None) -> T:
        """Return one of the words allowed; without a `default` the key must be there."""
        words = _listed([f'"{word}"' for word in allowed])
        if key not in self.entries and default is not None:
            return default
        if not self._is_missing(key, words):
            value = self.entries[key]
            for word in allowed:
                if value == word:
                    return word
            self.refuse(key, f"found {shown(value)}; {words} is allowed")
        return allowed[0]

    def optional_choice(self, key: str, allowed: Sequence[T]) -> T | None:
        """Return one of the words allowed, or None where the key is left out."""
        return self.choice(key, allowed) if key in self.entries else None

    def tables(self, key: str) -> list[Table]:
        """Return the tables headed [[key]], none where they are missing or wrong."""
        heads = f"one or more tables, each headed [[{key}]],"
        if self._is_missing(key, heads):
            return []
        value = self.entries[key]
        if isinstance(value, dict):
            self.refuse(key, f"found one table headed [{key}]; {heads} are allowed")
        elif not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
            self.refuse(key, f"found {shown(value)}; {heads} are allowed")
        elif not value:
            self.refuse(key, f"found none; {heads} are needed")
        else:
            return [Table(entry, self.lines, self.issues, key, at) for at, entry in enumerate(value, start=1)]
        return []

    def refuse_unknown(self, known: Sequence[str]) -> None:
        """Add an issue for each key that is not `known`, with the nearest that is."""
        for key in self.entries:
            if key not in known:
                near = _nearest(key, known)
                advice = f"the nearest allowed is {near}" if near else f"allowed are {', '.join(known)}"
                self.refuse(key, f"unknown key; {advice}")

    def refuse(self, key: str, sentence: str) -> None:
        """Add an issue about `key`, with its line and table before it."""
        line = self._line(key)
        place = [f"line {line}"] if line else []
        if self.name:
            place.append(f"[[{self.name}]] {self.number}")
        place.append(key if _BARE_KEY.fullmatch(key) else shown(key))
        self.issues.append((line, f"{', '.join(place)}: {sentence}"))

    def sentences(self) -> tuple[str, ...]:
        """Return the sentences of all issues, in the order of the lines; beyond MOST_ISSUES a count."""
        by_line = [sentence for _, sentence in sorted(self.issues, key=lambda issue: issue[0])]
        rest = len(by_line) - MOST_ISSUES
        return tuple(by_line if rest <= 0 else [*by_line[:MOST_ISSUES], f"and {rest} more like these"])

    def _line(self, key: str) -> int:
        # A key that is missing, or whose line the scan did not find, is told by its table's header.
        headers = (self.name, self.number, "") if self.name else (key, 1, "")
        return self.lines.get((self.name, self.number, key)) or self.lines.get(headers, 0)

    def _is_missing(self, key: str, allowed: str) -> bool:
        if key not in self.entries:
            self.refuse(key, f"missing; needed is {allowed.rstrip(',')}")
        return key not in self.entries

    def _line_of_text(self, key: str, value: object, limit: int) -> str:
        if not isinstance(value, str):
            self.refuse(key, f"found {shown(value)}; text in quotes, of 1 to {limit} characters, is allowed")
            return ""
        line = unicodedata.normalize("NFC", value).strip(_BLANKS)
        stranger = next(((at, c) for at, c in enumerate(line, start=1) if not _is_printable(c)), None)
        if stranger:
            at, character = stranger
            name = unicodedata.name(character, "control or unassigned character")
            found = f"found U+{ord(character):04X} ({name}) as character {at}"
            self.refuse(key, f"{found}; one line of printable text is allowed")
        elif not any(_is_seen(character) for character in line):
            self.refuse(key, f"found nothing that can be seen; 1 to {limit} characters are allowed")
        elif len(line) > limit:
            self.refuse(key, f"found {len(line)} characters; at most {limit} are allowed")
        return line


def refuse_namesakes(tables: Sequence[Table], names: Sequence[str], ids: Sequence[str | None]) -> None:
    """Refuse ids that stand twice, and names that stand twice unless all who bear one have an id."""
    taken: dict[str, int] = {}
    bearers: dict[str, list[int]] = defaultdict(list)
    for at, (name, bearer_id) in enumerate(zip(names, ids, strict=True)):
        if bearer_id is not None and taken.setdefault(bearer_id, at) != at:
            first = f"[[{tables[at].name}]] {taken[bearer_id] + 1}"
            tables[at].refuse("id", f'found "{bearer_id}" again, as in {first}; each id is allowed once')
        if name:
            bearers[heard(name)].append(at)
    for first_at, *others in bearers.values():
        if others and any(ids[at] is None for at in (first_at, *others)):
            table = tables[others[0]]
            lacking = [at for at in (first_at, *others) if ids[at] is None][:3]
            free_ids = ((free_id(names[at], table.name, taken), at) for at in lacking)
            added = [f'id = "{new_id}" to [[{table.name}]] {at + 1}' for new_id, at in free_ids]
            found = f"found {shown(names[others[0]])} again, as in [[{table.name}]] {first_at + 1}"
            allowed = f"one name is allowed twice where each has an id: add {_listed(added, 'and')}"
            table.refuse("name", f"{found}; {allowed}")


def heard(name: str) -> str:
    """Return a name as people hear it: capitals, width and the number of blanks do not tell two apart."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def shown(value: object) -> str:
    """Return a value of a TOML or JSON file as a message may show it: short and printable, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        short = value if len(value) <= 40 else value[:39] + "…"
        return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in short) + '"'
    if isinstance(value, int) and abs(value) >= 10**20:
        return "a number of more than 20 digits"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, list):
        return "a list"
    return "a table" if isinstance(value, dict) else "nothing"


def _is_printable(character: str) -> bool:
    # Cc and Cf hold the control, zero-width and bidirectional characters, Zl and Zp the line breaks.
    return unicodedata.category(character) not in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def _is_seen(character: str) -> bool:
    return unicodedata.category(character)[0] in "LNPS" and character not in _UNSEEN


def _nearest(key: str, known: Sequence[str]) -> str | None:
    longer = [word for word in known if key.lower().startswith(word)]
    return next(iter(longer or difflib.get_close_matches(key[:60].lower(), known, n=1, cutoff=0.5)), None)


def _listed(words: Sequence[str], link: str = "or") -> str:
    return f" {link} ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def free_id(name: str, table_name: str, taken: dict[str, int]) -> str:
    """Return an id made of the name that is not `taken` yet, and take it."""
    plain = unicodedata.normalize("NFKD", name).casefold().encode("ascii", "ignore").decode()
    stem = re.sub(r"[^a-z0-9]+", "-", plain)[: ID_LIMIT - 5].strip("-") or table_name.removesuffix("s")
    number = 1
    while f"{stem}-{number}" in taken:
        number += 1
    taken[f"{stem}-{number}"] = -1
    return f"{stem}-{number}"


def _quotes_left_open(line: str, open_quotes: str) -> str:
    for quotes in re.findall(r'"""|\'\'\'', line):
        if not open_quotes:
            open_quotes = quotes
        elif quotes == open_quotes:
            open_quotes = ""
    return open_quotes


def _toml_sentence(text: str, message: str) -> str:
    place = _TOML_PLACE.search(message)
    reason = message[: place.start()] if place else message
    if place is None or place[1] is None:
        return f"end of the file: not TOML ({reason}); a quote or bracket is left open, or a key given twice"
    line_number = int(place[1])
    line = text.split("\n")[line_number - 1]
    if date := _DATE_LIKE.match(line):
        return (
            f"line {line_number}, {date[1]}: found {date[2]}, which is no day of the calendar; "
            "a date without quotes, such as 2026-12-05, is allowed"
        )
    return (
        f"line {line_number}: found {shown(line.strip())}, which is not TOML ({reason}, column {place[2]}); "
        'a line is a key, =, and a value: text in "quotes", numbers and dates without, every key once'
    )
