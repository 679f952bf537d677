"""The simulated hand: what it draws is where it says, and what it says of a box is true of the page's pixels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline

from kit.sheet_layout import MarkBox, SheetLayout
from scanner.reading import State
from scanner.rehearsal.answers import Behaviour
from scanner.rehearsal.catalogue import TUNED_HANDS, TUNED_PENS
from scanner.rehearsal.habits import STYLES
from scanner.rehearsal.hand import (
    HANDS,
    PENS,
    REACH_MM,
    BoxTruth,
    Hand,
    Intent,
    MarkedSheet,
    Pen,
    Tag,
    mark_sheet,
    random_answers,
    random_hand,
    write_remarks,
)
from scanner.rehearsal.held_out import HELD_OUT_HANDS, HELD_OUT_PENS
from scanner.rehearsal.severities import severities
from scanner.rehearsal.strokes import SHAPES, curve
from scanner.rehearsal.truth import Inked, told
from tests.scanner.drawn_page import drawn, notes_layout

PX_PER_MM = 8.0
LAYOUT = notes_layout()
PAGE = drawn(LAYOUT, PX_PER_MM)
ALL_HANDS = (*TUNED_HANDS, *HELD_OUT_HANDS)
ALL_PENS = (*TUNED_PENS, *HELD_OUT_PENS)
NEAT = HANDS[0]
BALLPOINT = PENS[0]


def named(name: str) -> Hand:
    return next(hand for hand in ALL_HANDS if hand.name == name)


def marked(
    intents: dict[tuple[str, str], Intent] | None = None, hand: Hand = NEAT, pen: Pen = BALLPOINT, seed: int = 1
) -> MarkedSheet:
    rng = np.random.default_rng(seed)
    chosen = random_answers(LAYOUT, rng) if intents is None else intents
    return mark_sheet(PAGE, LAYOUT, chosen, hand, pen, rng, PX_PER_MM)


def added(sheet: MarkedSheet) -> NDArray[np.float64]:
    """How much darker each pixel became, 0 … 1: the page before against the page after."""
    return (PAGE.astype(np.float64) - sheet.page) / 255.0


def inner_box(values: NDArray[np.float64], box: MarkBox) -> NDArray[np.float64]:
    """The part of an array over the page that lies 0.6 mm and more inside a box's outer edge, as `truth` defines it."""
    left, top = round((box.x_mm + 0.6) * PX_PER_MM), round((box.y_mm + 0.6) * PX_PER_MM)
    right, bottom = round((box.x_mm + box.w_mm - 0.6) * PX_PER_MM), round((box.y_mm + box.h_mm - 0.6) * PX_PER_MM)
    return values[top:bottom, left:right]


def words(count: int, intent: Intent = Intent.MARK) -> dict[tuple[str, str], Intent]:
    """The same thing done at the first boxes of the second glass, one row apart and one column apart."""
    return {("words.2", f"word-{2 * index}"): intent for index in range(count)}


# ---- the same again ----


@pytest.mark.parametrize("hand", ALL_HANDS, ids=lambda hand: hand.name)
def test_one_seed_gives_one_page(hand: Hand) -> None:
    first, second, other = marked(hand=hand), marked(hand=hand), marked(hand=hand, seed=2)
    assert np.array_equal(first.page, second.page)
    assert first.boxes == second.boxes
    assert not np.array_equal(first.page, other.page)


def test_the_printed_page_is_left_as_it_was() -> None:
    before = PAGE.copy()
    marked()
    assert np.array_equal(PAGE, before)


# ---- where the ink is ----


@pytest.mark.parametrize("pen", ALL_PENS, ids=lambda pen: pen.name)
@pytest.mark.parametrize("style", sorted(SHAPES))
def test_a_mark_stays_within_reach_of_its_box(style: str, pen: Pen) -> None:
    wild = replace(named("flying-ticks"), styles=((style, 1.0),), size=1.3, overshoot_mm=1.0, take_back="scrub")
    box = LAYOUT.marks[24 + 9]
    sheet = marked({(box.field, box.option): Intent.TAKE_BACK}, hand=wild, pen=pen)
    rows, columns = np.nonzero(added(sheet))
    reach = (REACH_MM + 0.1) * PX_PER_MM
    assert len(rows) > 20
    assert columns.min() > box.x_mm * PX_PER_MM - reach
    assert columns.max() < (box.x_mm + box.w_mm) * PX_PER_MM + reach
    assert rows.min() > box.y_mm * PX_PER_MM - reach
    assert rows.max() < (box.y_mm + box.h_mm) * PX_PER_MM + reach


def test_ink_only_darkens_so_printed_lines_stay() -> None:
    for pen in ALL_PENS:
        assert (marked(hand=named("scribbles"), pen=pen).page <= PAGE).all()


@pytest.mark.parametrize("index", range(len(ALL_HANDS)), ids=lambda index: ALL_HANDS[index].name)
def test_tags_hold_against_the_pixels(index: int) -> None:
    sheet = marked(hand=ALL_HANDS[index], pen=ALL_PENS[index % len(ALL_PENS)], seed=index)
    ink = added(sheet)
    assert any(truth.state is State.MARKED for truth in sheet.boxes)
    for box, truth in zip(LAYOUT.marks, sheet.boxes, strict=True):
        assert (box.field, box.option) == (truth.field, truth.option)
        inner = inner_box(ink, box)
        if truth.state is State.EMPTY:
            assert (truth.tag is Tag.PLAIN) == (not inner.any())
        elif truth.tag is Tag.PLAIN:
            assert inner.sum() / PX_PER_MM**2 >= 0.49
            assert np.square(inner).sum() / inner.sum() >= 0.29


@pytest.mark.parametrize("hand", HANDS, ids=lambda hand: hand.name)
def test_most_marks_of_a_hand_are_plain_or_it_is_known_why(hand: Hand) -> None:
    sheet = marked(hand=hand)
    marks = [truth for truth in sheet.boxes if truth.state is State.MARKED]
    plain = sum(truth.tag is Tag.PLAIN for truth in marks) / len(marks)
    assert plain < 0.4 if hand.name == "rings-round-the-box" else plain > 0.5


@pytest.mark.parametrize(
    ("ink", "tag"),
    [
        (Inked(ink_mm2=0.6, extent_mm=1.3, tone=0.5, covered=0.1), Tag.PLAIN),
        (Inked(ink_mm2=0.4, extent_mm=1.3, tone=0.5, covered=0.1), Tag.MARGINAL),
        (Inked(ink_mm2=0.6, extent_mm=1.1, tone=0.5, covered=0.1), Tag.MARGINAL),
        (Inked(ink_mm2=0.6, extent_mm=1.3, tone=0.28, covered=0.1), Tag.MARGINAL),
        (Inked(ink_mm2=6.0, extent_mm=4.0, tone=0.5, covered=0.7), Tag.MARGINAL),
    ],
)
def test_each_measure_of_a_mark_can_make_it_marginal(ink: Inked, tag: Tag) -> None:
    box = LAYOUT.marks[0]
    (truth,) = told([box], {(box.field, box.option): Intent.MARK}, {0: ink}, frozenset(), frozenset())
    assert truth.tag is tag


@pytest.mark.parametrize("pen", [pen for pen in PENS if pen.tooth == 0.0], ids=lambda pen: pen.name)
def test_a_stroke_is_as_wide_as_the_pen(pen: Pen) -> None:
    straight = Hand(
        "ruled",
        (("dash", 1.0),),
        size=1.0,
        size_spread=0.0,
        overshoot_mm=0.0,
        slant_spread_deg=0.0,
        bow=0.0,
        shake_mm=0.0,
        scatter_mm=0.0,
        flick=0.0,
    )
    even = replace(pen, shading=0.0, pools=0.0, nib=0.0, bleed_mm=0.0, skips_per_cm=0.0, flow=1.0, response=0.0)
    box = next(box for box in LAYOUT.marks if box.field == "match.A")
    widths = []
    for seed in range(8):
        ink = inner_box(added(marked({(box.field, box.option): Intent.MARK}, straight, even, seed)), box)
        middle = ink[:, ink.shape[1] // 2 - 4 : ink.shape[1] // 2 + 4]
        widths.append(middle.sum(axis=0).mean() / (1 - pen.gray / 255) / PX_PER_MM)
    assert pen.width_mm[0] - 0.05 < np.mean(widths) < pen.width_mm[1] + 0.05


# ---- what is said of it ----


def test_a_ring_round_a_box_is_marked_and_marginal() -> None:
    rings = replace(named("rings-round-the-box"), styles=(("ring", 1.0),), scatter_mm=0.0, size=1.6, size_spread=0.0)
    truths = [truth for truth in marked(words(6), rings).boxes if truth.state is State.MARKED]
    assert [truth.tag for truth in truths] == [Tag.MARGINAL] * 6


def test_a_tail_that_runs_into_the_neighbour_makes_the_neighbour_marginal() -> None:
    long_tails = replace(named("flying-ticks"), tail_mm=7.5, slant_deg=25.0, slant_spread_deg=0.0, bow=0.0)
    entered = set()
    for seed in range(10):
        sheet = marked({("scale.weight.2", "3"): Intent.MARK}, long_tails, seed=seed)
        entered |= {
            (truth.field, truth.option)
            for truth in sheet.boxes
            if truth.state is State.EMPTY and truth.tag is Tag.MARGINAL
        }
        assert sheet.box("scale.weight.2", "3").state is State.MARKED
    assert entered & {("scale.weight.2", "4"), ("scale.acid.2", "4"), ("scale.acid.2", "3")}


def test_a_mark_between_two_boxes_makes_both_marginal() -> None:
    across = replace(
        NEAT, styles=(("dash", 1.0),), bias_x_mm=3.5, scatter_mm=0.0, size=2.6, size_spread=0.0, slant_spread_deg=0.0
    )
    sheet = marked({("scale.acid.2", "3"): Intent.MARK}, across, PENS[8])
    chosen, neighbour = sheet.box("scale.acid.2", "3"), sheet.box("scale.acid.2", "4")
    assert chosen.ink_mm2 > 1.0  # plenty, were it not that the neighbour has as much
    assert (chosen.state, chosen.tag) == (State.MARKED, Tag.MARGINAL)
    assert (neighbour.state, neighbour.tag) == (State.EMPTY, Tag.MARGINAL)


def test_a_filled_box_is_plain_on_a_page_of_fills_and_marginal_among_crosses() -> None:
    fills = marked(words(6), named("filled-boxes"))
    assert {truth.tag for truth in fills.boxes if truth.state is State.MARKED} == {Tag.PLAIN}
    either = replace(NEAT, styles=(("cross", 0.75), ("fill", 0.25)))
    mixed = [truth for truth in marked(words(12), either, seed=3).boxes if truth.state is State.MARKED]
    covering = [truth for truth in mixed if truth.covered > 0.6]
    assert 0 < len(covering) < 6
    assert {truth.tag for truth in covering} == {Tag.MARGINAL}
    assert {truth.tag for truth in mixed if truth.covered <= 0.6} == {Tag.PLAIN}


def test_an_answer_taken_back_is_withdrawn_and_plain_only_among_other_marks() -> None:
    back = {("words.3", "word-0"): Intent.TAKE_BACK}
    among = marked(words(5) | back, pen=PENS[7]).box("words.3", "word-0")
    assert (among.state, among.tag) == (State.WITHDRAWN, Tag.PLAIN)
    assert among.covered >= 0.9
    alone = marked(back, pen=PENS[7]).box("words.3", "word-0")
    assert (alone.state, alone.tag) == (State.WITHDRAWN, Tag.MARGINAL)
    fills = marked(words(5) | back, named("filled-boxes")).box("words.3", "word-0")
    assert (fills.state, fills.tag) == (State.WITHDRAWN, Tag.MARGINAL)


def test_marks_too_faint_or_too_small_are_marginal() -> None:
    faint = replace(BALLPOINT, gray=200)
    assert {truth.tag for truth in marked(words(6), pen=faint).boxes if truth.state is State.MARKED} == {Tag.MARGINAL}
    tiny = replace(named("firm-dots"), size=0.15)
    assert {truth.tag for truth in marked(words(6), tiny).boxes if truth.state is State.MARKED} == {Tag.MARGINAL}


def test_a_stray_touch_is_marginal_wherever_in_the_box_it_lies() -> None:
    everywhere = {(box.field, box.option): Intent.STRAY for box in LAYOUT.marks}
    sheet = marked(everywhere)
    assert {(truth.state, truth.tag) for truth in sheet.boxes} == {(State.EMPTY, Tag.MARGINAL)}
    assert any(truth.ink_mm2 == 0.0 for truth in sheet.boxes)  # those on the outline


@pytest.mark.parametrize("intent", [Intent.STRAY, Intent.ERASED])
def test_strays_and_rubbed_out_marks_are_empty_and_marginal(intent: Intent) -> None:
    sheet = marked(words(6, intent), pen=PENS[4])
    ink = added(sheet)
    done = [
        (box, truth)
        for box, truth in zip(LAYOUT.marks, sheet.boxes, strict=True)
        if (truth.field, truth.option) in words(6)
    ]
    assert {(truth.state, truth.tag) for _, truth in done} == {(State.EMPTY, Tag.MARGINAL)}
    if intent is Intent.ERASED:
        drawn_again = added(marked(words(6), pen=PENS[4]))
        for box, _ in done:
            assert 0.0 < inner_box(ink, box).max() < 0.5 * inner_box(drawn_again, box).max()


def test_a_box_that_the_sheet_does_not_have_is_refused() -> None:
    with pytest.raises(KeyError, match="K7Q4M2-0001-1 has no box"):
        marked({("words.9", "pear"): Intent.MARK})


def test_a_sheet_knows_its_boxes_by_name() -> None:
    sheet = marked(words(1))
    assert isinstance(sheet.box("words.2", "word-0"), BoxTruth)
    with pytest.raises(KeyError):
        sheet.box("words.2", "durian")


# ---- what people answer ----


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_answers_are_those_of_a_sensible_taster(seed: int) -> None:
    careful = Behaviour(blank=0.0, take_back=0.2, repeat=0.0)
    intents = random_answers(LAYOUT, np.random.default_rng(seed), careful)
    known = {(box.field, box.option): box.pick for box in LAYOUT.marks}
    assert intents.keys() <= known.keys()
    chosen: dict[str, list[str]] = {}
    for (field, option), intent in intents.items():
        if intent is Intent.MARK:
            chosen.setdefault(field, []).append(option)
    for field in {box.field for box in LAYOUT.marks}:
        wanted = range(3, 9) if field.startswith("words.") else (1,)
        assert len(chosen[field]) in wanted
    claims = [chosen[f"match.{letter}"][0] for letter in "ABC"]
    assert sorted(claims) == ["1", "2", "3"]


def test_behaviour_brings_blanks_second_thoughts_and_strays() -> None:
    rng = np.random.default_rng(4)
    restless = Behaviour(blank=0.3, take_back=0.4, erased=0.4, stray=0.05, two=0.3)
    seen = [random_answers(LAYOUT, rng, restless) for _ in range(20)]
    assert {intent for intents in seen for intent in intents.values()} == set(Intent)
    fields = {box.field for box in LAYOUT.marks}
    assert any(fields - {field for field, _ in intents} for intents in seen)
    careless = [random_answers(LAYOUT, rng, Behaviour(repeat=1.0, blank=0.0, take_back=0.0)) for _ in range(20)]
    repeats = [len({option for field, option in intents if field.startswith("match.")}) < 3 for intents in careless]
    assert any(repeats)


# ---- handwriting ----


def test_remarks_are_written_in_their_areas() -> None:
    clean = marked({})
    written = write_remarks(clean, LAYOUT, np.random.default_rng(5), PX_PER_MM, BALLPOINT, share=1.0, stray=0.0)
    rows, columns = np.nonzero(added(written))
    x, y = columns / PX_PER_MM, rows / PX_PER_MM
    near = np.zeros(len(x), dtype=bool)
    for area in LAYOUT.writing:
        near |= (
            (x > area.x_mm - 3)
            & (x < area.x_mm + area.w_mm + 3)
            & (y > area.y_mm - 4)
            & (y < area.y_mm + area.h_mm + 5)
        )
    assert len(x) > 1000
    assert near.all()


def test_boxes_that_handwriting_enters_become_marginal() -> None:
    entered = []
    near = replace_writing(LAYOUT, y_shift_mm=-8.0)
    before = marked(words(4))
    for seed in range(6):
        written = write_remarks(before, near, np.random.default_rng(seed), PX_PER_MM, BALLPOINT, share=1.0)
        ink = (before.page.astype(np.float64) - written.page) / 255.0
        for box, was, now in zip(LAYOUT.marks, before.boxes, written.boxes, strict=True):
            assert was.state is now.state
            if was.state is State.EMPTY:
                assert (now.tag is Tag.MARGINAL) == bool(inner_box(ink, box).any())
                entered.append(now.tag is Tag.MARGINAL)
    assert any(entered)


def replace_writing(layout: SheetLayout, y_shift_mm: float) -> SheetLayout:
    return replace(layout, writing=tuple(replace(area, y_mm=area.y_mm + y_shift_mm) for area in layout.writing))


# ---- the catalogues ----


def test_catalogues_have_names_of_their_own() -> None:
    for names in ([hand.name for hand in ALL_HANDS], [pen.name for pen in ALL_PENS]):
        assert len(names) == len(set(names)) >= 10


def test_what_is_held_out_is_kept_apart() -> None:
    styles = {style for hand in HANDS for style, _ in hand.styles}
    assert styles <= STYLES.keys() <= SHAPES.keys()
    assert HELD_OUT_PENS
    assert HELD_OUT_HANDS
    tuned = {style for hand in TUNED_HANDS for style, _ in hand.styles}
    assert not (STYLES.keys() | tuned) & {style for hand in HELD_OUT_HANDS for style, _ in hand.styles}


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_a_random_hand_keeps_to_the_ranges(seed: int) -> None:
    hand = random_hand(np.random.default_rng(seed))
    limits = severities()["hand"]
    for name in ("size", "tail_mm", "slant_deg", "shake_mm", "pressure", "bias_x_mm"):
        low, high = limits[name]
        assert low <= getattr(hand, name) <= high
    assert hand.take_back in limits["take_back"]
    assert {style for style, _ in hand.styles} <= STYLES.keys()
    assert sum(weight for _, weight in hand.styles) == pytest.approx(1.0)


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(-5, 5)), min_size=3, max_size=8))
@settings(max_examples=40, deadline=None)
def test_curves_are_catmull_rom_splines(points: list[tuple[float, float]]) -> None:
    """Against SciPy's cubic Hermite spline with the tangents (p[i+1] − p[i−1]) / 2 that define Catmull–Rom."""
    knots = np.array(points)
    path = curve(knots)
    tangents = np.vstack([knots[1] - knots[0], (knots[2:] - knots[:-2]) / 2, knots[-1] - knots[-2]])
    spline = CubicHermiteSpline(np.arange(len(knots)), knots, tangents)
    assert path == pytest.approx(spline(np.linspace(0, len(knots) - 1, len(path))), abs=1e-9)
    assert all(np.any(np.all(np.isclose(path, knot, atol=1e-9), axis=1)) for knot in knots)


def test_shapes_are_drawn_around_the_box() -> None:
    rng = np.random.default_rng(6)
    for style, shape in SHAPES.items():
        paths = shape(replace(NEAT, tail_mm=0.0, overshoot_mm=0.0), 2.25, rng)
        joined = np.vstack(paths)
        assert np.abs(joined).max() < 3.6, style
        assert all(len(path) > 3 for path in paths)
