"""The letter that lies in a packet by post: the whole exercise, explained to a member on one page.

References
----------
.. [1] DIN 5008, form B: address field 85 × 45 mm, 20 mm from the left and 45 mm from the top, its lower 27.3 mm for six
   lines of address; folds at 105 and 210 mm [memory].
.. [2] United States #10 envelope, 241.3 × 104.8 mm, left window 114.3 × 28.6 mm, 22.2 mm from the left and 12.7 mm from
   the bottom [memory]. A Letter sheet folded in three is 93.1 mm high. Resting on the envelope's lower edge it shows
   51.8 to 80.4 mm from its top, pushed to the upper edge 63.5 to 92.1 mm; pushed to either side it shows 22.2 to
   111.1 mm from its left. So the address ends above 80.4 mm, and up to four lines of it stand below 63.5 mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kit.drawing import GRAY, Element, Page, Rule, Text
from kit.errors import FacedownError
from kit.fonts import fitted, width_mm
from kit.forms.design import Design, load_design
from kit.forms.frame import marking_example
from kit.galley import wrapped
from kit.host_papers import clock_text
from kit.paper import PAPERS, Paper
from kit.plan import plan
from kit.record import Kit
from kit.session import Session, Taster
from kit.sheets import date_after_title, written_date
from kit.wording import Wording, load_wording

LETTERS_PDF = "letters.pdf"
SECTIONS = ("packet", "before", "round_one", "pause", "round_two", "claims", "marking", "sending", "key", "care")


@dataclass(frozen=True, slots=True)
class Window:
    """Where an envelope shows the address, and where the letter's own text begins below it, mm."""

    left: float
    top: float
    right: float
    bottom: float
    text_top: float
    folds: tuple[float, ...]


WINDOWS = {
    "A4": Window(20.0, 62.7, 105.0, 90.0, 100.0, (105.0, 210.0)),
    "Letter": Window(24.0, 51.8, 109.0, 80.4, 96.0, (93.1, 186.3)),
}
"""By paper; of DIN 5008's field the lower part, which is the address's."""


def letter_pages(kit: Kit) -> Iterator[Page]:
    """Yield a letter to each taster; nothing without vials.

    Raises
    ------
    FacedownError
        If the letter does not fit on one page.
    """
    if kit.session.shuffle != "twin":
        return
    words, design, paper = load_wording(kit.session.language), load_design("letter"), PAPERS[kit.session.paper]
    commons: dict[bool, tuple[Element, ...]] = {}
    for packet, taster in enumerate(kit.session.tasters, start=1):
        posted = bool(taster.address)
        if posted not in commons:
            commons[posted] = _common(kit, paper, design, words, posted=posted)
        own = (
            *_whose(kit, packet, taster, paper, design, words),
            *(_address(taster, WINDOWS[paper.name], design) if posted else ()),
        )
        yield Page(paper, "letter-with-address" if posted else "letter", commons[posted], own)


def _common(kit: Kit, paper: Paper, design: Design, words: Wording, *, posted: bool) -> tuple[Element, ...]:
    window = WINDOWS[paper.name]
    left, right = design.mm("margin"), paper.width_mm - design.mm("margin")
    heading, y = words("letters.heading"), design.mm("heading_y")
    ending, room_mm = date_after_title(kit, words), right - left - 45.0
    title, size_pt = fitted(
        kit.session.title, "regular", design.pt("title"), room_mm, design.pt("least"), ending=ending
    )
    marks = [Rule(7.0, fold, 11.0, fold, 0.15, GRAY) for fold in window.folds] if posted else []
    return (
        Text(left, y, heading, design.pt("heading"), "black"),
        Text(left, y + 6.4, title, size_pt, gray=GRAY),
        Rule(left, y + 9.6, right, y + 9.6, 0.3),
        *marks,
        *_body(kit, window.text_top if posted else design.mm("plain_top"), paper, design, words),
    )


def _whose(kit: Kit, packet: int, taster: Taster, paper: Paper, design: Design, words: Wording) -> Iterator[Element]:
    right, y = paper.width_mm - design.mm("margin"), design.mm("heading_y")
    name, size_pt = fitted(taster.name, "semibold", design.pt("title"), 88.0, design.pt("least"))
    yield Text(right, y, name, size_pt, "semibold", "right")
    yield Text(
        right,
        y + 6.4,
        words("letters.packet_of", kit=kit.id, packet=packet),
        design.pt("small"),
        "regular",
        "right",
        GRAY,
    )


def _address(taster: Taster, window: Window, design: Design) -> Iterator[Element]:
    """Set the address so that its last line ends at the window's lower edge; the name above it, if no line has it."""
    is_named = any(taster.name.casefold() in line.casefold() for line in taster.address)
    lines = taster.address if is_named else (taster.name, *taster.address)
    pitch = min(4.3, (window.bottom - window.top) / len(lines))
    for index, line in enumerate(reversed(lines)):
        text, size_pt = fitted(line, "regular", design.pt("address"), window.right - window.left, design.pt("least"))
        yield Text(window.left, window.bottom - 1.2 - index * pitch, text, size_pt)


def _body(kit: Kit, top: float, paper: Paper, design: Design, words: Wording) -> list[Element]:
    """Set the text in the largest size that fits."""
    size_pt = design.pt("text_most")
    while size_pt >= design.pt("text_least"):
        elements, bottom = _sections(kit, top, size_pt, paper, design, words)
        if bottom <= paper.height_mm - design.mm("bottom"):
            return elements
        size_pt -= 0.1
    raise FacedownError(
        "The letter to the members does not fit on one page.",
        "Shorten the lines of send_to, or leave some of them out.",
    )


def _sections(
    kit: Kit, top: float, size_pt: float, paper: Paper, design: Design, words: Wording
) -> tuple[list[Element], float]:
    """Return the letter's sections set in one size, and the lowest line they reach, mm."""
    left, right = design.mm("margin"), paper.width_mm - design.mm("margin")
    pitch, y = design.mm("line_share") * size_pt, top
    elements: list[Element] = []
    values = _values(kit.session, words)
    for name in SECTIONS:
        lead = words(f"letters.{name}_lead")
        lead_mm = width_mm(f"{lead} ", "semibold", size_pt)
        elements.append(Text(left, y, lead, size_pt, "semibold"))
        text = words.sentences(_lines(name, kit, words, values))
        for number, line in enumerate(wrapped(text, size_pt, right - left, lead_mm=lead_mm)):
            elements.append(Text(left + (0.0 if number else lead_mm), y, line, size_pt))
            y += pitch
        if name == "marking":
            elements += marking_example(left + 4.0, y + 1.8, words, load_design("frame"))
            y += 1.5 * pitch
        if name == "sending":
            for line in kit.session.send_to:
                shown, shown_pt = fitted(line, "semibold", size_pt, right - left - 4.0, design.pt("least"))
                elements.append(Text(left + 4.0, y, shown, shown_pt, "semibold"))
                y += pitch
        y += design.mm("section_gap") * pitch
    return elements, y - (1 + design.mm("section_gap")) * pitch


def _lines(name: str, kit: Kit, words: Wording, values: dict[str, str]) -> tuple[str, ...]:
    session = kit.session
    if name == "care":
        alcohol = (words("letters.alcohol", **values),) if values["grams"] else ()
        return (*words.lines("cautions.lines"), *alcohol)
    lines = words.lines(f"letters.{name}", **values)
    if name == "sending":
        until = words("letters.send_by", **values) if session.send_by else words("letters.send_soon")
        return (*lines, until, words("letters.send_to" if session.send_to else "letters.send_back"))
    if name == "key" and kit.keys_kept == "paper":
        return (*lines, *words.lines("letters.key_on_paper"))
    return lines


def _values(session: Session, words: Wording) -> dict[str, str]:
    glasses, letters = session.glasses, session.place_letters
    alcohol = plan(session).alcohol
    starts = [clock_text(session.minutes * index / glasses) for index in range(glasses)]
    return {
        "glasses": str(glasses),
        "vials": str(2 * glasses),
        "pour_ml": f"{session.pour_ml:g}",
        "last": letters[-1],
        "minutes": f"{session.minutes:g}",
        "starts": words.listed(starts),
        "end": clock_text(session.minutes),
        "grams": f"{alcohol.grams:.0f}" if alcohol and alcohol.grams else "",
        "drinks": f"{alcohol.us_standard_drinks:.1f}" if alcohol else "",
        "day": written_date(session.send_by, words) if session.send_by else "",
    }
