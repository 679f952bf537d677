"""A report's numbers as JSON, piece by piece: what is long is never there as a whole."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any


def json_pieces(entry: Mapping[str, Any]) -> Iterator[str]:
    """Yield the text of an object, indented by one blank, with a line's end behind it.

    A member that is an iterator is written as a list, an element at a time.

    Raises
    ------
    ValueError
        If a number is not finite, which JSON has no word for.

    Examples
    --------
    >>> "".join(json_pieces({"format": "x/1", "slips": iter([{"of": 5}])})) == '''{
    ...  "format": "x/1",
    ...  "slips": [
    ...   {
    ...    "of": 5
    ...   }
    ...  ]
    ... }
    ... '''
    True
    """
    comma = "{"
    for name, value in entry.items():
        yield f"{comma}\n {_text(name, 1)}: "
        yield from _list(value) if isinstance(value, Iterator) else (_text(value, 1),)
        comma = ","
    yield "\n}\n" if entry else "{}\n"


def _list(elements: Iterator[Any]) -> Iterator[str]:
    comma = "["
    for element in elements:
        yield f"{comma}\n  {_text(element, 2)}"
        comma = ","
    yield "\n ]" if comma == "," else "[]"


def _text(value: Any, depth: int) -> str:
    # Within JSON no text has a line's end in it: each one found is the layout's.
    return json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False).replace("\n", "\n" + " " * depth)
