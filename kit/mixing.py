"""The mixing sheet: how tasters mix their own glasses, alone or in company, so that nobody knows what stands where.

Eyes closed, a fixed number of swaps, then the glasses drawn one by one with their coasters: all three are common
practice; no published source says how many swaps are enough. Two things speak for ours. Twelve swaps of any two of five
glasses make all orders that an even number of swaps can reach equally likely to within a thousandth, if every pair is
as likely to be taken. And since a fixed number of swaps never reaches half of all orders, the drawing follows.
"""

from __future__ import annotations

from kit.drawing import Page, Text
from kit.forms.design import Design, load_design
from kit.galley import Galley, wrapped
from kit.paper import PAPERS
from kit.record import Kit
from kit.sheets import date_after_title
from kit.wording import load_wording

SWAPS = 12


def mixing_pages(kit: Kit) -> tuple[Page, ...]:
    """Lay out the mixing sheet; nothing where the tasters do not mix."""
    if kit.session.shuffle != "hand":
        return ()
    words, design = load_wording(kit.session.language), load_design("host")
    sheet = Galley(PAPERS[kit.session.paper], design)
    sheet.head(words("mixing.heading"), kit.session.title, date_after_title(kit, words), words("host.kit", kit=kit.id))
    values = {
        "swaps": SWAPS,
        "glasses": kit.session.glasses,
        "last": kit.session.place_letters[-1],
    }
    for line in words.lines("mixing.guide", **values):
        sheet.line(line)
    for part in ("steps", "turning"):
        sheet.gap()
        sheet.line(words(f"mixing.{part}_heading"), bold=True)
        sheet.gap(0.2)
        for number, line in enumerate(words.lines(f"mixing.{part}", **values), start=1):
            _numbered(sheet, str(number), line, design)
    for part in ("again", "why"):
        sheet.gap()
        sheet.line(words(f"mixing.{part}_heading"), bold=True)
        sheet.gap(0.2)
        for line in words.lines(f"mixing.{part}", **values):
            sheet.line(line)
    return (Page(sheet.paper, "mixing", tuple(sheet.elements)),)


def _numbered(sheet: Galley, number: str, text: str, design: Design) -> None:
    """Set a step with its number before it."""
    indent_mm, size = 8.0, design.pt("text")
    sheet.elements.append(Text(sheet.left, sheet.y, number, size, "semibold"))
    for part in wrapped(text, size, sheet.right - sheet.left - indent_mm):
        sheet.elements.append(Text(sheet.left + indent_mm, sheet.y, part, size))
        sheet.y += design.mm("line") * 0.86
    sheet.y += design.mm("line") * 0.36
