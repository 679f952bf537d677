"""The host's papers: what to pour, when to ring the bell, what to look at on the table. None of them knows a key.

Kits by post have words of their own, whose names end in `_twin`: there a host fills vials, and sits at no table.
"""

from __future__ import annotations

from kit.drawing import GRAY, Page, Rect, Text
from kit.forms.design import Design, load_design
from kit.galley import Column, Galley
from kit.paper import PAPERS
from kit.plan import plan
from kit.record import Kit
from kit.sheets import date_after_title
from kit.wording import Wording, load_wording

HOST_PDF = "host.pdf"


def host_pages(kit: Kit) -> tuple[Page, ...]:
    """Lay out the pour sheet, the run sheet with its clock and the table check list."""
    words, design = load_wording(kit.session.language), load_design("host")
    return (_pour_sheet(kit, words, design), _run_sheet(kit, words, design), _check_list(kit, words, design))


def _headed(kit: Kit, heading: str, words: Wording, design: Design) -> Galley:
    sheet = Galley(PAPERS[kit.session.paper], design)
    sheet.head(heading, kit.session.title, date_after_title(kit, words), words("host.kit", kit=kit.id))
    return sheet


def _page(sheet: Galley, name: str) -> Page:
    return Page(sheet.paper, name, tuple(sheet.elements))


def _pour_sheet(kit: Kit, words: Wording, design: Design) -> Page:
    session, the_plan, ending = kit.session, plan(kit.session), _ending(kit)
    values = _values(kit, words)
    sheet = _headed(kit, words(f"host.pour_heading{ending}"), words, design)
    for line in words.lines(f"host.pour_guide{ending}", **values):
        sheet.line(line)
    sheet.gap()
    left = sheet.left
    columns = (
        Column(words(f"host.coaster{ending}"), left, 16.0),
        Column(words("host.drink"), left + 18.0, 60.0),
        Column(words("host.style"), left + 80.0, 30.0),
        Column(words("host.abv"), left + 110.0, 14.0, numeric=True),
        Column(words(f"host.ml{ending}"), left + 126.0, 22.0, numeric=True),
        Column(words("host.bottles"), left + 150.0, sheet.right - left - 150.0, numeric=True),
    )
    ml = the_plan.vials.ml_with_loss_per_drink if the_plan.vials else the_plan.ml_per_drink
    rows = [
        (
            str(number),
            pour.name,
            pour.style or "",
            f"{pour.abv_percent:g}" if pour.abv_percent is not None else "",
            f"{round(ml, 1):g}",
            f"{the_plan.bottles_per_drink}",
        )
        for number, pour in enumerate(session.pours, start=1)
    ]
    sheet.table(columns, rows)
    sheet.gap()
    for line in words.lines(f"host.pour_notes{ending}", **values):
        sheet.line(line)
    if the_plan.vials and the_plan.alcohol:
        sheet.line(words("host.alcohol_twin", **values))
    sheet.gap()
    sheet.line(words("host.cautions"), bold=True)
    for line in words.lines("cautions.lines"):
        sheet.line(line)
    return _page(sheet, "pour")


def _run_sheet(kit: Kit, words: Wording, design: Design) -> Page:
    session = kit.session
    sheet = _headed(kit, words(f"host.run_heading{_ending(kit)}"), words, design)
    for line in words.lines(f"host.run_guide{_ending(kit)}", minutes=f"{session.minutes:g}"):
        sheet.line(line)
    numbers = tuple(str(number) for number in range(1, session.glasses + 1))
    for round_number, glasses in ((1, numbers), (2, session.place_letters)):
        sheet.gap(1.0)
        sheet.line(words(f"host.round_{round_number}"), bold=True)
        sheet.gap(0.3)
        _clock(sheet, glasses, session.minutes)
        for line in words.lines(f"host.after_{round_number}_{session.shuffle}"):
            sheet.tick(line)
    return _page(sheet, "run")


def _clock(sheet: Galley, glasses: tuple[str, ...], minutes: float) -> None:
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
    sheet, values = _headed(kit, words(f"host.check_heading{_ending(kit)}"), words, design), _values(kit, words)
    for part in ("before", "during", "after"):
        name = f"host.check_{part}{_ending(kit)}"
        sheet.line(words(name), bold=True)
        sheet.gap(0.3)
        for line in words.lines(f"{name}_lines", **values):
            sheet.tick(line)
        sheet.gap(0.6)
    return _page(sheet, "check")


def _ending(kit: Kit) -> str:
    return "_twin" if kit.session.shuffle == "twin" else ""


def _values(kit: Kit, words: Wording) -> dict[str, object]:
    """Return what the words have room for."""
    session, the_plan = kit.session, plan(kit.session)
    values: dict[str, object] = {
        "glasses": session.glasses,
        "tasters": the_plan.tasters,
        "tasters_text": _counted("taster", the_plan.tasters, words),
        "all_glasses": session.glasses * the_plan.tasters,
        "pour_ml": f"{session.pour_ml:g}",
    }
    if the_plan.vials:
        values |= {
            "vials": 2 * session.glasses,
            "all_vials": the_plan.vessels,
            "packets_text": _counted("packet", the_plan.tasters, words),
            "vial_ml": f"{session.vial_ml:g}",
            "loss_percent": f"{session.loss_percent:g}",
            "filled_ml": f"{the_plan.ml_per_drink:g}",
            "bottle_text": _counted("packet", the_plan.vials.packets_per_bottle, words),
        }
    if the_plan.alcohol:
        values |= {
            "pure_ml": f"{the_plan.alcohol.pure_ml:.1f}",
            "grams": f"{the_plan.alcohol.grams:.1f}",
            "drinks": f"{the_plan.alcohol.us_standard_drinks:.1f}",
        }
    return values


def _counted(noun: str, count: int, words: Wording) -> str:
    return words(f"host.one_{noun}") if count == 1 else words(f"host.many_{noun}s", **{f"{noun}s": count})


def clock_text(minutes: float) -> str:
    """Return minutes as m:ss.

    >>> clock_text(1.4)
    '1:24'
    """
    seconds = round(minutes * 60)
    return f"{seconds // 60}:{seconds % 60:02d}"
