"""The rehearsal's own kit, the pattern drawn from it, and the page that shows the pattern."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from io import BytesIO

import numpy as np
import pypdf
import pytest

from kit.build import build_kit, chance_for
from kit.drawing import Rect
from kit.session import Taster
from kit.sheets import Sheet, form_sheets
from kit.wording import load_wording
from scanner.read_sheet import read_sheet
from scanner.reading import Outcome, State
from scanner.rehearsal.own_kit import own_kit
from scanner.rehearsal.pattern import TAKEN_BACK, pattern
from scanner.rehearsal.pattern_page import pattern_page, rehearsal_pdf
from scanner.rehearsal.prints import PX_PER_MM, printed
from scanner.rehearsal.trial import Held
from tests.kit.extents import ink_of
from tests.scanner.rehearsal_sheets import session_of, winter

KINDS = [(glasses, paper, shuffle) for glasses in (3, 5) for paper in ("A4", "Letter") for shuffle in ("host", "hand")]


def test_the_kit_is_the_same_each_time_and_another_for_another_session() -> None:
    session = winter()
    own = own_kit(session)
    assert own.kit == own_kit(session).kit
    others = (
        replace(session, title="Second flight"),
        replace(session, date=session.date.replace(day=6)),
        replace(session, paper="Letter"),
        replace(session, pours=session.pours[:4]),
        replace(session, shuffle="hand"),
    )
    kits = {own.kit.id, *(own_kit(other).kit.id for other in others)}
    assert len(kits) == 1 + len(others)


def test_tasters_and_drinks_may_change_between_print_and_grade() -> None:
    session = winter()
    changed = replace(session, tasters=(Taster("Wren"),), pours=session.pours[::-1], minutes=9.0, pour_ml=60.0)
    assert own_kit(changed).kit.id == own_kit(session).kit.id


def test_it_is_never_the_kit_that_is_played_for_not_even_with_a_seed() -> None:
    session = session_of(3, more="seed = 0")
    real = build_kit(session, chance_for(session))
    own = own_kit(session)
    assert (own.kit.id, own.kit.secret) != (real.id, real.secret)
    assert own.kit.secret != real.secret
    assert {key.nonce for key in own.kit.sealed}.isdisjoint(key.nonce for key in real.sealed)


@pytest.mark.parametrize(("glasses", "paper", "shuffle"), KINDS)
def test_the_pattern_has_crosses_answers_taken_back_and_blank_scales(glasses: int, paper: str, shuffle: str) -> None:
    own = own_kit(session_of(glasses, paper, shuffle))
    layout = own.to_fill.layout
    states = pattern(layout, own.chance)
    assert states == pattern(layout, own.chance)
    places = {(box.field, box.option): box for box in layout.marks}
    assert states.keys() <= places.keys()
    assert Counter(states.values())[State.WITHDRAWN] == TAKEN_BACK
    crossed = Counter(field for (field, _), state in states.items() if state is State.MARKED)
    scales = {box.field for box in layout.marks if box.pick == "one"}
    words = {box.field for box in layout.marks if box.pick == "many"}
    assert all(crossed[field] <= 1 for field in scales)
    assert sum(crossed[field] == 0 for field in scales) == glasses
    assert all(4 <= crossed[field] <= 6 for field in words)
    taken_back = {field for (field, _), state in states.items() if state is State.WITHDRAWN}
    assert len(taken_back & scales) == 1
    assert all(crossed[field] == 1 for field in taken_back & scales)


def test_patterns_of_two_sessions_differ() -> None:
    one, other = (own_kit(replace(winter(), title=title)) for title in ("First", "Second"))
    assert pattern(one.to_fill.layout, one.chance) != pattern(other.to_fill.layout, other.chance)


@pytest.mark.parametrize(("glasses", "paper", "shuffle"), KINDS)
def test_the_pattern_page_keeps_to_the_paper(glasses: int, paper: str, shuffle: str) -> None:
    own = own_kit(session_of(glasses, paper, shuffle))
    page = pattern_page(own.to_fill, pattern(own.to_fill.layout, own.chance), load_wording("en"))
    inks = [ink_of(element) for element in page.common]
    assert min(min(ink.left, ink.top) for ink in inks) >= 7.0
    assert max(ink.right for ink in inks) <= page.paper.width_mm - 7.0
    assert max(ink.bottom for ink in inks) <= page.paper.height_mm - 7.0


def test_the_pattern_is_drawn_in_its_boxes_and_in_no_other() -> None:
    own = own_kit(session_of(3))
    layout = own.to_fill.layout
    asked = pattern(layout, own.chance)
    page = pattern_page(own.to_fill, asked, load_wording("en"))
    [(_, image)] = printed([Sheet(page, layout)])
    outline = next(element for element in page.common if isinstance(element, Rect))
    scale = outline.w_mm / layout.width_mm
    darkness = {}
    for box in layout.marks:
        x, y = (outline.x_mm + scale * (box.x_mm + 0.6), outline.y_mm + scale * (box.y_mm + 0.6))
        left, top, side = (round(length * PX_PER_MM) for length in (x, y, scale * (box.w_mm - 1.2)))
        darkness[box.field, box.option] = float(np.mean(image[top : top + side, left : left + side] < 128))
    told = {
        place: State.WITHDRAWN if dark > 0.95 else State.MARKED if dark > 0.1 else State.EMPTY
        for place, dark in darkness.items()
    }
    assert {place: state for place, state in told.items() if state is not State.EMPTY} == asked


def test_a_picture_of_the_pattern_page_is_never_taken_for_a_sheet() -> None:
    own = own_kit(winter())
    page = pattern_page(own.to_fill, pattern(own.to_fill.layout, own.chance), load_wording("en"))
    [(_, image)] = printed([Sheet(page, own.to_fill.layout)], 150 / 25.4)
    reading = read_sheet(Held(image), {own.kit.id: own.on_file})
    assert (reading.outcome, reading.kit) == (Outcome.UNREADABLE, None)


def test_the_pdf_has_the_page_and_the_sheet_and_is_the_same_each_time() -> None:
    own = own_kit(winter())
    content = rehearsal_pdf(own)
    assert content == rehearsal_pdf(own_kit(winter()))
    first, second = (page.extract_text() for page in pypdf.PdfReader(BytesIO(content)).pages)
    assert own.to_fill.layout.sheet in first
    assert "facedown rehearse SESSION --grade SCAN" in first
    assert own.to_fill.layout.sheet in second
    assert "Rehearsal" in second


def test_the_sheet_to_fill_is_the_session_s_own_note_form() -> None:
    session = winter()
    real, own = build_kit(session, chance_for(session)), own_kit(session)
    form = next(iter(form_sheets(real)))
    assert own.to_fill.layout.marks == form.layout.marks
    assert own.to_fill.page.common == form.page.common
