"""The counts of a rehearsal, its two figures, and their bounds."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from scanner.reading import Outcome
from scanner.rehearsal.phrases import share_text, silent_text
from scanner.rehearsal.tally import Tried, by_cause, figures, rate, refusals
from scanner.rehearsal.trial import Trial

CLOSER = "the sheet is too small in the picture (3.1 pixels a millimetre, at least 3.6 are needed); come closer"


def tried(
    counts: dict[tuple[str, str, str], int] | None = None,
    *,
    condition: str = "flatbed-200",
    hand: str = "neat-crosses",
    reason: str | None = None,
    too_far: bool = False,
    stolen: bool = False,
) -> Tried:
    outcome = Outcome.READ if reason is None else Outcome.UNREADABLE
    trial = Trial(290, outcome, reason, too_far, stolen, Counter(counts or {}), (), ())
    return Tried(0, condition, hand, "gel-pen", trial)


def test_plain_and_marginal_boxes_are_told_apart() -> None:
    row = figures(
        [
            tried(
                {
                    ("marked", "plain", "marked"): 40,
                    ("marked", "plain", "empty"): 1,
                    ("empty", "plain", "empty"): 200,
                    ("empty", "plain", "marked"): 2,
                    ("withdrawn", "plain", "doubtful"): 4,
                    ("marked", "marginal", "empty"): 3,
                    ("empty", "marginal", "doubtful"): 5,
                    ("empty", "marginal", "empty"): 6,
                }
            )
        ]
    )
    assert (row.boxes, row.silent.count, row.doubtful.count) == (247, 3, 4)
    assert (row.marginal, row.marginal_otherwise, row.marginal_doubtful) == (14, 3, 5)
    assert not row.is_clean


def test_a_taken_back_answer_read_as_empty_is_a_silent_error() -> None:
    assert figures([tried({("withdrawn", "plain", "empty"): 1})]).silent.count == 1


def test_a_sheet_credited_to_another_is_never_clean() -> None:
    row = figures([tried(stolen=True)])
    assert (row.stolen, row.read, row.is_clean) == (1, 0, False)


def test_come_closer_is_counted_apart_and_only_where_it_is_good_advice() -> None:
    sheets = [tried(reason=CLOSER, too_far=True), tried(reason=CLOSER), tried(reason="the page is blank", too_far=True)]
    row = figures(sheets)
    assert (row.sheets, row.read, row.closer, row.unread) == (3, 0, 1, 2)
    assert Counter(one.come_closer for one in refusals(sheets)) == {True: 1, False: 2}


def test_reasons_that_differ_by_a_measure_alone_are_one_reason() -> None:
    sheets = [tried(reason=CLOSER.replace("3.1", nearer)) for nearer in ("3.1", "2.4")]
    [one] = refusals(sheets)
    assert (one.sheets, "pixels" in one.reason, one.reason.endswith("; come closer")) == (2, False, True)


def test_causes_add_up_to_the_whole() -> None:
    counts = {("marked", "plain", "marked"): 10, ("empty", "plain", "doubtful"): 1}
    sheets = [tried(counts, condition=condition, hand=hand) for condition in ("a", "b") for hand in ("x", "y", "z")]
    assert {name: row.boxes for name, row in by_cause(sheets, "condition").items()} == {"a": 33, "b": 33}
    assert {name: row.doubtful.count for name, row in by_cause(sheets, "hand").items()} == {"x": 2, "y": 2, "z": 2}


counts_of = st.integers(1, 200_000).flatmap(lambda of: st.tuples(st.integers(0, min(of, 60)), st.just(of)))


@given(counts_of)
def test_bounds_are_scipy_s_exact_ones(counts: tuple[int, int]) -> None:
    """SciPy's `binomtest(...).proportion_ci(method="exact")`: Clopper and Pearson's interval."""
    found = rate(*counts)
    exact = binomtest(*counts).proportion_ci(0.95, method="exact")
    assert found.low == pytest.approx(exact.low, rel=1e-6)
    assert found.high == pytest.approx(exact.high, rel=1e-6)


@pytest.mark.parametrize(("count", "of"), [(0, 1_340), (2, 13_469), (71, 13_469), (1, 290)])
def test_the_bounds_shown_are_scipy_s(count: int, of: int) -> None:
    exact = binomtest(count, of).proportion_ci(0.95, method="exact")
    shown = re.findall(r"[\d.,]+", share_text(rate(count, of)).partition("(")[2])
    assert [float(number) for number in shown] == [round(100 * exact.low, 2), round(100 * exact.high, 2)]
    one_in = [int(number.replace(",", "")) for number in re.findall(r"1 in ([\d,]+)", silent_text(rate(count, of)))]
    expected = [round(1 / exact.high)] if count == 0 else [round(1 / exact.low), round(1 / exact.high)]
    assert one_in == expected


def test_nothing_read_shows_no_figure() -> None:
    nothing = figures([tried(reason="the page is blank")])
    assert (share_text(nothing.doubtful), silent_text(nothing.silent)) == ("", "")
    assert (nothing.silent.low, nothing.silent.high) == (0.0, 1.0)
