"""The host's papers: what to pour, when to ring the bell, what to look at on the table. None of them knows a key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kit.drawing import GRAY, RULE_GRAY, Element, Page, Rect, Rule, Text
from kit.fonts import fitted, width_mm
from kit.forms.design import Design, load_design
from kit.paper import PAPERS, Paper
from kit.plan import plan
from kit.record import Kit
from kit.sheets import printed_date
from kit.wording import Wording, load_wording

HOST_PDF = "host.pdf"


@dataclass(frozen=True, slots=True)
class _Column:
    """A table's column: heading, left edge and room, mm; numbers are set to the right."""

    heading: str
    x_mm: float
    room_mm: float
    numeric: bool = False


def host_pages(kit: Kit) -> tuple[Page, ...]:
    """Lay out the pour sheet, the run sheet with its clock and the table check list."""
    words, design = load_wording(kit.session.language), load_design("host")
    return (_pour_sheet(kit, words, design), _run_sheet(kit, words, design), _check_list(kit, words, design))


class _Sheet:
    """Sets lines down a page, remembering how far it has come."""

    def __init__(self, kit: Kit, heading: str, words: Wording, design: Design) -> None:
        self.paper: Paper = PAPERS[kit.session.paper]
        self.design = design
        self.left = design.mm("margin")
        self.right = self.paper.width_mm - design.mm("margin")
        self.y = design.mm("top")
        title, title_pt = fitted(
            kit.session.title,
            "regular",
            design.pt("title"),
            110.0,
            design.pt("small"),
            ending=f", {printed_date(kit, words)}",
        )
        self.elements: list[Element] = [
            Text(self.left, self.y, heading, design.pt("heading"), "black"),
            Text(self.right, self.y, title, title_pt, align="right", gray=GRAY),
            Text(self.right, self.y - 4.6, words("host.kit", kit=kit.id), design.pt("small"), align="right", gray=GRAY),
            Rule(self.left, self.y + 3.6, self.right, self.y + 3.6, 0.3),
        ]
        self.y += 12.0

    def line(self, text: str, *, bold: bool = False, gray: float = 0.0) -> None:
        """Set a paragraph, broken into lines that fit."""
        for part in _wrapped(text, self.design.pt("text"), self.right - self.left):
            self.elements.append(
                Text(self.left, self.y, part, self.design.pt("text"), "semibold" if bold else "regular", gray=gray)
            )
            self.y += self.design.mm("line") * 0.88
        self.y += self.design.mm("line") * 0.12

    def tick(self, text: str) -> None:
        """Set a line with a square to tick before it."""
        side = self.design.mm("tick")
        self.elements.append(Rect(self.left, self.y - side + 0.9, side, side))
        for part in _wrapped(text, self.design.pt("text"), self.right - self.left - side - 3.0):
            self.elements.append(Text(self.left + side + 3.0, self.y, part, self.design.pt("text")))
            self.y += self.design.mm("line") * 0.82
        self.y += self.design.mm("line") * 0.42

    def gap(self, share: float = 0.7) -> None:
        self.y += self.design.mm("line") * share

    def table(self, columns: tuple[_Column, ...], rows: Sequence[tuple[str, ...]], *, size: str = "text") -> None:
        """Set a table with a rule under each row."""
        self._cells(columns, tuple(column.heading for column in columns), "head", GRAY)
        for row in rows:
            self.elements.append(Rule(self.left, self.y - 5.9, self.right, self.y - 5.9, 0.12, RULE_GRAY))
            self._cells(columns, row, size, 0.0)
        self.elements.append(Rule(self.left, self.y - 5.9, self.right, self.y - 5.9, 0.12, RULE_GRAY))

    def _cells(self, columns: tuple[_Column, ...], cells: tuple[str, ...], size: str, gray: float) -> None:
        for column, cell in zip(columns, cells, strict=True):
            text, size_pt = fitted(cell, "regular", self.design.pt(size), column.room_mm, 6.5)
            x = column.x_mm + (column.room_mm if column.numeric else 0.0)
            self.elements.append(Text(x, self.y, text, size_pt, align="right" if column.numeric else "left", gray=gray))
        self.y += self.design.mm("row")

    def page(self, name: str) -> Page:
        return Page(self.paper, name, tuple(self.elements))


def _pour_sheet(kit: Kit, words: Wording, design: Design) -> Page:
    session, the_plan = kit.session, plan(kit.session)
    sheet = _Sheet(kit, words("host.pour_heading"), words, design)
    for line in words.lines("host.pour_guide", pour_ml=f"{session.pour_ml:g}", tasters_text=_tasters(kit, words)):
        sheet.line(line)
    sheet.gap()
    left = sheet.left
    columns = (
        _Column(words("host.coaster"), left, 16.0),
        _Column(words("host.drink"), left + 18.0, 60.0),
        _Column(words("host.style"), left + 80.0, 30.0),
        _Column(words("host.abv"), left + 110.0, 14.0, numeric=True),
        _Column(words("host.ml"), left + 126.0, 22.0, numeric=True),
        _Column(words("host.bottles"), left + 150.0, sheet.right - left - 150.0, numeric=True),
    )
    rows = [
        (
            str(number),
            pour.name,
            pour.style or "",
            f"{pour.abv_percent:g}" if pour.abv_percent is not None else "",
            f"{the_plan.ml_per_drink:g}",
            f"{the_plan.bottles_per_drink}",
        )
        for number, pour in enumerate(session.pours, start=1)
    ]
    sheet.table(columns, rows)
    sheet.gap()
    for line in words.lines("host.pour_notes"):
        sheet.line(line)
    sheet.gap()
    sheet.line(words("host.cautions"), bold=True)
    for line in words.lines("cautions.lines"):
        sheet.line(line)
    return sheet.page("pour")


def _run_sheet(kit: Kit, words: Wording, design: Design) -> Page:
    session = kit.session
    sheet = _Sheet(kit, words("host.run_heading"), words, design)
    for line in words.lines("host.run_guide", minutes=f"{session.minutes:g}"):
        sheet.line(line)
    numbers = tuple(str(number) for number in range(1, session.glasses + 1))
    for round_number, glasses in ((1, numbers), (2, session.place_letters)):
        sheet.gap(1.0)
        sheet.line(words(f"host.round_{round_number}"), bold=True)
        sheet.gap(0.3)
        _clock(sheet, glasses, session.minutes)
        for line in words.lines(f"host.after_{round_number}_{session.shuffle}"):
            sheet.tick(line)
    return sheet.page("run")


def _clock(sheet: _Sheet, glasses: tuple[str, ...], minutes: float) -> None:
    """Draw the round as a bar: a field for each glass, with the time at which it begins."""
    width, height = sheet.right - sheet.left, 13.0
    share = width / len(glasses)
    for index, glass in enumerate(glasses):
        x = sheet.left + index * share
        sheet.elements += [
            Rect(x, sheet.y, share, height, outline_mm=0.2),
            Text(x + share / 2, sheet.y + 8.8, glass, sheet.design.pt("clock"), "semibold", "centre"),
            Text(x, sheet.y - 1.4, clock_text(minutes * index / len(glasses)), sheet.design.pt("small"), gray=GRAY),
        ]
    end = clock_text(minutes)
    sheet.elements.append(Text(sheet.right, sheet.y - 1.4, end, sheet.design.pt("small"), align="right", gray=GRAY))
    sheet.y += height + 8.0


def _check_list(kit: Kit, words: Wording, design: Design) -> Page:
    sheet = _Sheet(kit, words("host.check_heading"), words, design)
    session = kit.session
    values = {
        "glasses": session.glasses,
        "tasters": len(session.tasters),
        "tasters_text": _tasters(kit, words),
        "all_glasses": session.glasses * len(session.tasters),
        "pour_ml": f"{session.pour_ml:g}",
    }
    for name in ("host.check_before", "host.check_during", "host.check_after"):
        sheet.line(words(name), bold=True)
        sheet.gap(0.3)
        for line in words.lines(f"{name}_lines", **values):
            sheet.tick(line)
        sheet.gap(0.6)
    return sheet.page("check")


def _tasters(kit: Kit, words: Wording) -> str:
    count = len(kit.session.tasters)
    return words("host.one_taster") if count == 1 else words("host.many_tasters", tasters=count)


def clock_text(minutes: float) -> str:
    """Return minutes as m:ss.

    >>> clock_text(1.4)
    '1:24'
    """
    seconds = round(minutes * 60)
    return f"{seconds // 60}:{seconds % 60:02d}"


def _wrapped(text: str, size_pt: float, room_mm: float) -> list[str]:
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if width_mm(longer, "regular", size_pt) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
