"""A rehearsal without a camera: the same seed, the same figures."""

from __future__ import annotations

import pytest

from kit.errors import FacedownError
from scanner.rehearsal import course as course_module
from scanner.rehearsal.camera import SHOTS
from scanner.rehearsal.conditions import DESCRIPTIONS, GROUPS, chosen
from scanner.rehearsal.course import Course, rehearse
from scanner.rehearsal.trial import try_sheet
from tests.scanner.rehearsal_sheets import session_of


def test_the_number_of_jobs_changes_nothing() -> None:
    course = Course(session_of(3), ("flatbed-200", "fax-200"), 2, seed=4)
    alone, together = (tuple(rehearse(course, jobs)) for jobs in (1, 2))
    assert alone == together
    assert [tried.number for tried in alone] == [0, 1, 2, 3]


def test_a_condition_s_sheets_do_not_depend_on_the_others() -> None:
    session = session_of(3)
    alone = rehearse(Course(session, ("fax-200",), 2, seed=4), 1)
    among = rehearse(Course(session, ("flatbed-200", "fax-200"), 2, seed=4), 1)
    assert [one.trial for one in alone] == [one.trial for one in among if one.condition == "fax-200"]


def test_another_seed_draws_other_sheets() -> None:
    session = session_of(3)
    one, other = (tuple(rehearse(Course(session, ("feeder-200",), 2, seed), 1)) for seed in (0, 1))
    assert [(sheet.hand, sheet.pen) for sheet in one] != [(sheet.hand, sheet.pen) for sheet in other]


@pytest.mark.parametrize(("shuffle", "roles"), [("host", 3), ("hand", 4)])
def test_all_forms_of_the_session_are_rehearsed(monkeypatch: pytest.MonkeyPatch, shuffle: str, roles: int) -> None:
    seen = []

    def noted(layout, *others):  # type: ignore[no-untyped-def]
        seen.append(layout.role)
        return try_sheet(layout, *others)

    monkeypatch.setattr(course_module, "try_sheet", noted)
    tuple(rehearse(Course(session_of(3, shuffle=shuffle), ("flatbed-200",), roles, seed=0), 1))
    assert len(set(seen)) == roles


def test_sheets_are_read_as_the_session_s_own() -> None:
    for tried in rehearse(Course(session_of(4, "Letter"), ("flatbed-300",), 3, seed=1), 1):
        assert (tried.trial.outcome, tried.trial.stolen) == ("read", False)


def test_every_condition_is_described_and_every_group_names_conditions() -> None:
    assert DESCRIPTIONS.keys() == SHOTS.keys()
    assert {name for names in GROUPS.values() for name in names} <= SHOTS.keys()
    assert not GROUPS.keys() & SHOTS.keys()


def test_words_choose_conditions_once_and_in_the_catalogue_s_order() -> None:
    assert chosen("chat, Flatbed,flatbed-200") == ("flatbed-300", "flatbed-200", "photo-chat")
    assert chosen("all") == tuple(SHOTS)


@pytest.mark.parametrize("words", ["flatbd", "", ",", "flatbed,nonsense"])
def test_an_unknown_condition_is_refused_with_all_that_is_allowed(words: str) -> None:
    with pytest.raises(FacedownError) as refusal:
        chosen(words)
    assert all(name in refusal.value.message for name in (*SHOTS, *GROUPS))
