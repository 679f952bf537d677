"""All tasters' sheets of a kit, in taster order: note forms, match form, turned form."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from kit.codes import ROLE_DIGITS, Code, CodeKind, encode, sheet_id
from kit.drawing import Page
from kit.forms.frame import Frame, SheetNames, frame, frame_elements, sheet_elements
from kit.forms.notes import FormBody, notes_body
from kit.forms.places import match_body, turned_body
from kit.keys import grouped
from kit.lexicon import load_lexicon
from kit.paper import PAPERS
from kit.record import Kit
from kit.sheet_layout import SheetLayout
from kit.wording import Wording, load_wording

FORMS_PDF = "forms.pdf"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page to print, and where on it is what will be read back."""

    page: Page
    layout: SheetLayout


def form_sheets(kit: Kit) -> Iterator[Sheet]:
    """Yield every taster's sheets: `notes-1`, `notes-2`, `match`, and with `hand` `turned`.

    Raises
    ------
    FacedownError
        If the lexicon needs more room than the paper has.
    """
    words, place = load_wording(kit.session.language), frame(PAPERS[kit.session.paper])
    bodies = _bodies(kit, place, words)
    commons = {
        role: frame_elements(place, _heading(role, words), words, marking=True) + body.elements
        for role, body in bodies.items()
    }
    for layout in _layouts(kit, place, bodies):
        names = sheet_names(kit, layout.taster, layout.role, words)
        page = Page(place.paper, layout.role, commons[layout.role], sheet_elements(place, names, words))
        yield Sheet(page, layout)


def form_layouts(kit: Kit) -> Iterator[SheetLayout]:
    """Yield the layouts of all sheets, in the order of `form_sheets`, without drawing any."""
    words, place = load_wording(kit.session.language), frame(PAPERS[kit.session.paper])
    return _layouts(kit, place, _bodies(kit, place, words))


def sheet_names(kit: Kit, taster: int, role: str, words: Wording) -> SheetNames:
    """Return what one sheet says of itself."""
    session = kit.session
    code = Code(CodeKind.SHEET, kit.id, taster, ROLE_DIGITS[role])
    return SheetNames(
        title=session.title,
        date=date_after_title(kit, words),
        taster=session.tasters[taster - 1].name,
        sheet=code.sheet,
        seal=grouped(kit.seals[taster - 1]) if kit.seals else "",
        code_text=encode(code, kit.secret),
    )


def printed_date(kit: Kit, words: Wording) -> str:
    """Return the sitting's date in the words of its language."""
    return written_date(kit.session.date, words)


def date_after_title(kit: Kit, words: Wording) -> str:
    """Return what stands behind a sitting's title: its date, with what parts the two."""
    return words("frame.date_after_title", date=printed_date(kit, words))


def written_date(date: datetime.date, words: Wording) -> str:
    """Return a date in words.

    >>> written_date(datetime.date(2026, 12, 5), load_wording("en"))
    '5 December 2026'
    """
    month = words.lines("frame.months")[date.month - 1]
    return words("frame.date", day=date.day, month=month, year=date.year)


def sheet_layout(
    kit: Kit, taster: int, role: str, place: Frame, pdf: str, pdf_page: int, body: FormBody | None
) -> SheetLayout:
    """Return the layout of one sheet; one without a `body` has nothing to read back but its code."""
    return SheetLayout(
        pdf=pdf,
        pdf_page=pdf_page,
        width_mm=place.paper.width_mm,
        height_mm=place.paper.height_mm,
        sheet=sheet_id(kit.id, taster, ROLE_DIGITS[role]),
        taster=taster,
        role=role,
        marks=body.marks if body else (),
        writing=body.writing if body else (),
        fiducials=place.fiducials,
        codes=place.codes,
        edge_marks=place.edge_marks,
        edge_mark_mm=place.edge_mark_mm,
    )


def _layouts(kit: Kit, place: Frame, bodies: dict[str, FormBody]) -> Iterator[SheetLayout]:
    pdf_page = 0
    for taster in range(1, len(kit.session.tasters) + 1):
        for role, body in bodies.items():
            pdf_page += 1
            yield sheet_layout(kit, taster, role, place, FORMS_PDF, pdf_page, body)


def _bodies(kit: Kit, place: Frame, words: Wording) -> dict[str, FormBody]:
    return {role: _body(role, kit, place, words) for role in _roles(kit)}


def _roles(kit: Kit) -> tuple[str, ...]:
    roles = ("notes-1", "notes-2", "match")
    return (*roles, "turned") if kit.session.shuffle == "hand" else roles


def _heading(role: str, words: Wording) -> str:
    return words({"notes-1": "notes.heading_1", "notes-2": "notes.heading_2"}.get(role, f"{role}.heading"))


def _body(role: str, kit: Kit, place: Frame, words: Wording) -> FormBody:
    session = kit.session
    numbers = tuple(str(number) for number in range(1, session.glasses + 1))
    lexicon = load_lexicon(session.drink)
    bodies: dict[str, Callable[[], FormBody]] = {
        "notes-1": lambda: notes_body(place.body, numbers, lexicon, words),
        "notes-2": lambda: notes_body(place.body, session.place_letters, lexicon, words),
        "match": lambda: match_body(place.body, session.place_letters, words, vials=session.shuffle == "twin"),
        "turned": lambda: turned_body(place.body, session.place_letters, words),
    }
    return bodies[role]()
