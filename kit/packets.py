"""One PDF a packet, and the list of contents by which packets are printed, ticked off and handed over.

A packet holds what its taster may see, and nothing that shows a key but the sealed key of a kit by post. No file name
tells a name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from kit.coasters import COASTERS_PDF
from kit.drawing import GRAY, Page, Rect, Text
from kit.folder import PACKETS_FOLDER
from kit.forms.design import load_design
from kit.galley import Column, Galley
from kit.host_papers import HOST_PDF
from kit.key_sheets import KEYS_PDF
from kit.letters import LETTERS_PDF
from kit.paper import PAPERS
from kit.record import Kit
from kit.sheets import FORMS_PDF, date_after_title
from kit.vials import VIALS_PDF
from kit.wording import Wording, load_wording

CONTENTS_PDF = "contents.pdf"
FORMAT = "facedown-contents/1"
_IN_PACKETS = (LETTERS_PDF, FORMS_PDF, COASTERS_PDF, VIALS_PDF, KEYS_PDF)
"""In the order in which they lie in a packet."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What was printed: `pages` is how many pages each taster has in each PDF of the folder, the same for all.

    `has_packets` says whether there is a PDF for each packet as well. `mixing` is the first and the last page of the
    mixing sheet in the host's PDF: every packet holds it too, where tasters mix.
    """

    kit: Kit
    pages: Mapping[str, int]
    has_packets: bool = False
    mixing: tuple[int, int] | None = None

    @property
    def in_packet(self) -> dict[str, int]:
        """By PDF the number of its pages that lie in a packet, in their order there."""
        names = (name for name in _IN_PACKETS if name in self.pages)
        return {name: self.pages[name] for name in names if lies_in_packet(self.kit, name)}

    @property
    def packet_pages(self) -> int:
        """How many pages a packet has."""
        return sum(self.in_packet.values()) + self.mixing_pages

    @property
    def mixing_pages(self) -> int:
        """How many pages the mixing sheet has; none where no taster mixes."""
        return self.mixing[1] - self.mixing[0] + 1 if self.mixing else 0

    def range_of(self, taster: int, name: str) -> tuple[int, int]:
        """Return a taster's first and last page in a PDF, counted from 1."""
        last = taster * self.pages[name]
        return last - self.pages[name] + 1, last


def lies_in_packet(kit: Kit, name: str) -> bool:
    """Tell whether a taster's pages of a PDF belong into the packet.

    With `host` the keys are the host's. House coasters are printed once, not with every sitting.
    """
    if name == KEYS_PDF:
        return kit.session.shuffle == "twin"
    if name == COASTERS_PDF:
        return kit.session.coasters == "kit"
    return name in _IN_PACKETS


def packet_name(taster: int) -> str:
    """Return the name of a packet's PDF in the kit folder.

    >>> packet_name(7)
    'packets/0007.pdf'
    """
    return f"{PACKETS_FOLDER}/{taster:04d}.pdf"


def contents_pages(contents: Contents) -> Iterator[Page]:
    """Lay out the list of contents: a line for each packet, with squares to tick."""
    kit = contents.kit
    words, design, paper = load_wording(kit.session.language), load_design("contents"), PAPERS[kit.session.paper]
    head = Galley(paper, design)
    head.head(words("contents.heading"), kit.session.title, date_after_title(kit, words), words("host.kit", kit=kit.id))
    for line in words.lines("contents.guide", folder=PACKETS_FOLDER):
        head.line(line)
    if kit.session.shuffle == "twin" and KEYS_PDF not in contents.pages:
        head.line(words("contents.keys_apart"))
    head.gap()
    tasters, row = len(kit.session.tasters), design.mm("row")
    rows = int((paper.height_mm - design.mm("bottom") - head.y) / row) - 2
    sheets = -(-tasters // rows)
    for sheet in range(sheets):
        numbers = range(sheet * rows + 1, min((sheet + 1) * rows, tasters) + 1)
        yield Page(paper, "contents", tuple(head.elements), _lines(contents, numbers, head.y, sheet + 1, sheets, words))


def contents_text(contents: Contents) -> Iterator[str]:
    """Yield the list of contents as lines for people."""
    words = load_wording(contents.kit.session.language)
    yield f"In each packet: {_what(contents, words)}; {contents.packet_pages} pages. Packets:"
    for number, taster in enumerate(contents.kit.session.tasters, start=1):
        yield f"  {number:04d}  {taster.name}"


def contents_json(contents: Contents, added: int | None = None) -> dict[str, Any]:
    """Return the list of contents as a JSON object: each taster's pages in each PDF, and the packet's own PDF.

    `added` is the number of a taster who was added to a kit printed before.
    """
    return {
        "format": FORMAT,
        "kit": contents.kit.id,
        "added": added,
        "packets": [
            {
                "taster": number,
                "name": taster.name,
                "pdf": packet_name(number) if contents.has_packets else None,
                "pages": contents.packet_pages,
                "papers": list(_papers(contents, number)),
            }
            for number, taster in enumerate(contents.kit.session.tasters, start=1)
        ],
    }


def _papers(contents: Contents, taster: int) -> Iterator[dict[str, Any]]:
    for name in contents.pages:
        first, last = contents.range_of(taster, name)
        yield {"pdf": name, "first_page": first, "last_page": last, "in_packet": name in contents.in_packet}
    if contents.mixing:
        first, last = contents.mixing
        yield {"pdf": HOST_PDF, "first_page": first, "last_page": last, "in_packet": True}


def _lines(contents: Contents, numbers: range, top: float, sheet: int, sheets: int, words: Wording) -> tuple[Any, ...]:
    kit = contents.kit
    design, what = load_design("contents"), _what(contents, words)
    galley = Galley(PAPERS[kit.session.paper], design)
    galley.y = top
    rows = [
        (str(number), kit.session.tasters[number - 1].name, what, str(contents.packet_pages), "", "")
        for number in numbers
    ]
    columns = _columns(kit, galley, words)
    galley.table(columns, rows)
    side = design.mm("tick")
    for row in range(len(rows)):
        baseline = top + (row + 1) * design.mm("row")
        galley.elements += [Rect(column.x_mm, baseline - side + 0.6, side, side) for column in columns[-2:]]
    small, total = design.pt("small"), len(kit.session.tasters)
    if sheet == sheets:
        text = words("contents.total", packets=total, pages=total * contents.packet_pages)
        galley.elements.append(Text(galley.left, galley.y, text, design.pt("text"), "semibold"))
    text = words("contents.page", page=sheet, pages=sheets)
    bottom = galley.paper.height_mm - design.mm("bottom") + design.mm("row")
    galley.elements.append(Text(galley.right, bottom, text, small, align="right", gray=GRAY))
    return tuple(galley.elements)


def _columns(kit: Kit, galley: Galley, words: Wording) -> tuple[Column, ...]:
    left, right, design = galley.left, galley.right, galley.design
    tick = design.mm("tick_column")
    ticks, pages = right - 2 * tick, right - 2 * tick - 16.0
    member, holds = left + design.mm("member_x"), left + design.mm("holds_x")
    sent = "contents.posted" if kit.session.shuffle == "twin" else "contents.handed_over"
    return (
        Column(words("contents.packet"), left, 11.0, numeric=True),
        Column(words("contents.member"), member, holds - member - 3.0),
        Column(words("contents.holds"), holds, pages - holds - 2.0),
        Column(words("contents.pages"), pages, 10.0, numeric=True),
        Column(words("contents.printed"), ticks, tick - 1.0),
        Column(words(sent), ticks + tick, tick - 1.0),
    )


def _what(contents: Contents, words: Wording) -> str:
    """Return what is in a packet, in words."""
    parts = [words(f"contents.{name.removesuffix('.pdf')}", pages=pages) for name, pages in contents.in_packet.items()]
    return words.listed((*parts, words("contents.mixing")) if contents.mixing else parts)
