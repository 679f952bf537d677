"""JSON written piece by piece: the same bytes as the standard library makes of the whole."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.reports.json_pieces import json_pieces

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(st.text(), VALUES, max_size=4), st.lists(VALUES, max_size=4))
def test_the_text_is_that_of_the_whole(entry: dict[str, object], elements: list[object]) -> None:
    whole = json.dumps({**entry, "long": elements}, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    assert "".join(json_pieces({**entry, "long": iter(elements)})) == whole
    assert "".join(json_pieces({**entry, "long": elements})) == whole
    assert "".join(json_pieces({})) == "{}\n"


def test_what_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        list(json_pieces({"a": iter([float("nan")])}))


def test_no_element_is_made_before_the_one_before_it_is_given_out() -> None:
    made: list[int] = []

    def elements() -> Iterator[int]:
        for number in range(5):
            made.append(number)
            yield number

    pieces = json_pieces({"long": elements()})
    for piece in pieces:
        if piece.strip("[,\n ").isdigit():
            assert made[-1] == int(piece.strip("[,\n "))
    assert made == [0, 1, 2, 3, 4]
