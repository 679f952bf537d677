"""A long JSON text taken piece by piece from its file, so that it is never in memory as a whole."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any, TextIO

_AHEAD = 2**19
"""So many characters are at hand where an element of a list begins; a sheet of a layout has some 30,000."""
_BLANKS = re.compile(r"[ \t\n\r]*")
_DECODER = json.JSONDecoder()


class JsonText:
    """The text of a JSON object, from its beginning on.

    Whatever does not go on as JSON does, and what is longer than is kept at hand, is a ValueError; deep nesting is a
    RecursionError.
    """

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self._ahead = ""
        self._at = 0

    def members(self) -> Iterator[str]:
        """Yield the name of each member of an object; the caller takes its value before the next."""
        for _ in self._each("{", "}"):
            name = self.value()
            if not isinstance(name, str):
                raise ValueError("a member has no name")
            self._need(":")
            yield name

    def elements(self) -> Iterator[None]:
        """Yield before each element of a list; the caller takes it before the next."""
        for _ in self._each("[", "]"):
            self._read_on()
            yield

    def value(self) -> Any:
        """Take a value, of any kind."""
        return self.spelled_value()[1]

    def spelled_value(self) -> tuple[str, Any]:
        """Take a value; return how it is spelled as well."""
        self.takes("")
        begin = self._at
        value, self._at = _DECODER.raw_decode(self._ahead, begin)
        return self._ahead[begin : self._at], value

    def takes(self, sign: str) -> bool:
        """Pass over blanks, and over `sign` where it comes next; return whether it did."""
        blanks = _BLANKS.match(self._ahead, self._at)
        assert blanks is not None
        self._at = blanks.end()
        is_next = self._ahead.startswith(sign, self._at)
        self._at += len(sign) if is_next else 0
        return is_next

    def end(self) -> None:
        """Refuse whatever else there is."""
        self._read_on()
        self.takes("")
        if self._at < len(self._ahead):
            raise ValueError("something stands behind the object")

    def _each(self, opening: str, closing: str) -> Iterator[None]:
        self._read_on()
        self._need(opening)
        if self.takes(closing):
            return
        yield
        while self.takes(","):
            yield
        self._need(closing)

    def _need(self, sign: str) -> None:
        if not self.takes(sign):
            raise ValueError(f"there is no {sign}")

    def _read_on(self) -> None:
        if len(self._ahead) - self._at < _AHEAD:
            self._ahead = self._ahead[self._at :] + self._file.read(_AHEAD)
            self._at = 0
