"""A session in a kit's record: it comes back as it was, and a record edited by hand is held to the same rules."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import SessionError
from kit.session import (
    COASTERS,
    KEYS,
    LOOKS,
    LOSS_PERCENT,
    MOST_LOSS_PERCENT,
    PAPERS,
    SHUFFLES,
    VIAL_ML,
    Pour,
    Session,
    Taster,
    session_from_json,
    session_to_json,
)
from tests.kit.test_session import HEAD, POURS, TASTERS, read

letters = st.characters(categories=["L", "N", "P", "S"], exclude_characters="\u115f\u1160\u3164\uffa0\u2800")
names = st.text(letters, min_size=1, max_size=15)
ids = st.from_regex(r"[a-z0-9-]{1,40}", fullmatch=True)


@st.composite
def sessions(draw: st.DrawFn) -> Session:
    """Sessions of every kind: names may recur because everyone has an id."""
    pours = draw(
        st.lists(
            st.builds(
                Pour,
                names,
                ids,
                st.none() | names,
                st.none() | st.floats(0, 96),
                st.none() | st.sampled_from(LOOKS),
                st.none() | names,
            ),
            min_size=3,
            max_size=5,
            unique_by=lambda pour: pour.id,
        )
    )
    tasters = draw(
        st.lists(
            st.builds(Taster, names, ids, st.lists(names, max_size=6).map(tuple)),
            min_size=1,
            max_size=4,
            unique_by=lambda taster: taster.id,
        )
    )
    shuffle = draw(st.sampled_from(SHUFFLES))
    date = draw(st.dates())
    vial_ml = draw(st.floats(5, 250)) if shuffle == "twin" else VIAL_ML
    return Session(
        title=draw(names),
        date=date,
        drink="sake",
        shuffle=shuffle,
        keys=draw(st.sampled_from(KEYS)) if shuffle == "host" else "own",
        coasters=(coasters := draw(st.sampled_from(COASTERS[: 1 if shuffle == "twin" else 2]))),
        paper=draw(st.sampled_from(PAPERS)),
        minutes=draw(st.floats(1, 60)),
        pour_ml=draw(st.floats(5, vial_ml if shuffle == "twin" else 250)),
        language="en",
        seed=draw(st.none() | st.integers(0, 2**63 - 1)),
        pours=tuple(pours),
        tasters=tuple(tasters),
        vial_ml=vial_ml,
        loss_percent=draw(st.floats(0, MOST_LOSS_PERCENT)) if shuffle == "twin" else LOSS_PERCENT,
        send_to=tuple(draw(st.lists(names, max_size=6))) if shuffle == "twin" else (),
        send_by=draw(st.none() | st.dates(date)) if shuffle == "twin" else None,
        house=draw(st.none() | st.just("K7Q4M2")) if coasters == "house" else None,
    )


def _composed(session: Session) -> Session:
    return session_from_json(session_to_json(session))


@given(sessions())
def test_a_session_comes_back_from_json_as_it_was(session: Session) -> None:
    composed = _composed(session)
    assert session_from_json(json.loads(json.dumps(session_to_json(composed)))) == composed
    # Reading composes names to NFC and changes nothing else.
    blank: dict[str, Any] = {"title": "", "pours": (), "tasters": (), "send_to": ()}
    assert replace(composed, **blank) == replace(session, **blank)
    assert [pour.abv_percent for pour in composed.pours] == [pour.abv_percent for pour in session.pours]


def test_a_session_of_an_uninstalled_drink_comes_back_from_json() -> None:
    session = replace(read(HEAD + POURS + TASTERS), drink="cider", language="no")
    assert session_from_json(session_to_json(session)) == session


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"date": "2026-02-30"}, "date: found 2026-02-30, which is no day of the calendar"),
        ({"shuffle": "twin", "send_by": "2026-02-30"}, "send_by: found 2026-02-30, which is no day of the calendar"),
        ({"date": "tomorrow"}, 'date: found "tomorrow"'),
        ({"minutes": "7"}, 'minutes: found "7"'),
        ({"pours": {}}, "pours: found one table"),
        ({"tasters": [{"name": "Ines", "rank": 1}]}, "[[tasters]] 1, rank: unknown key"),
        ({"title": None}, "title: found nothing"),
        ({"drink": 3}, "drink: found 3"),
    ],
)
def test_a_record_edited_by_hand_is_held_to_the_same_rules(change: dict[str, Any], sentence: str) -> None:
    entry = session_to_json(read(HEAD + POURS + TASTERS)) | change
    with pytest.raises(SessionError, match=r"kit\.json") as refusal:
        session_from_json(entry)
    assert sentence in refusal.value.issues[0]


@pytest.mark.parametrize("entry", [None, [], "x", 3])
def test_a_record_that_is_no_object_is_refused(entry: object) -> None:
    with pytest.raises(SessionError):
        session_from_json(entry)
