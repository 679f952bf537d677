"""Where everything that is read back lies on the printed pages: the record behind `layout.json` (FORMATS, section 3).

Positions are millimetres from the page's top left corner as printed, x to the right, y downwards, to the outer edge of
what is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Literal

FORMAT = "facedown-layout/1"

Pick = Literal["one", "many"]

LEAST_MM, MOST_MM = 0.1, 2000.0
"""What a length read back may be, so that no record asks for a picture of any size."""
MOST_NUMBER = 1_000_000


@dataclass(frozen=True, slots=True)
class MarkBox:
    """One box to mark; `pick` says whether its field takes one answer or many."""

    field: str
    option: str
    pick: Pick
    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float


@dataclass(frozen=True, slots=True)
class WritingArea:
    """A ruled area for handwriting."""

    field: str
    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float


@dataclass(frozen=True, slots=True)
class Square:
    """A printed square that helps to find the sheet: a fiducial (`number` 0 … 3 clockwise from top left) or a code."""

    number: int
    x_mm: float
    y_mm: float
    side_mm: float


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """One printed page. `edge_marks` are the centres of solid squares, `edge_mark_mm` wide, along the four edges.

    `key_code` is where the code of the key stands on a key sheet, within what is folded; None on all others.
    """

    pdf: str
    pdf_page: int
    width_mm: float
    height_mm: float
    sheet: str
    taster: int
    role: str
    marks: tuple[MarkBox, ...] = ()
    writing: tuple[WritingArea, ...] = ()
    fiducials: tuple[Square, ...] = ()
    codes: tuple[Square, ...] = ()
    edge_marks: tuple[tuple[float, float], ...] = ()
    edge_mark_mm: float = 2.0
    key_code: Square | None = None


@dataclass(frozen=True, slots=True)
class LabelPlace:
    """Where a coaster label or a row-end card is printed; `number` is the coaster's or the taster's."""

    number: int
    pdf: str
    pdf_page: int
    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float


@dataclass(frozen=True, slots=True)
class KitLayout:
    """All pages of a kit that can be read back."""

    kit: str
    pages: tuple[SheetLayout, ...]
    coasters: tuple[LabelPlace, ...] = ()
    row_ends: tuple[LabelPlace, ...] = ()

    def sheet(self, sheet_id: str) -> SheetLayout | None:
        """Return the page of that sheet id, or None where the kit has none."""
        return next((page for page in self.pages if page.sheet == sheet_id), None)


def to_json(layout: KitLayout) -> dict[str, Any]:
    """Return the layout as the JSON object of FORMATS section 3."""
    return {
        "format": FORMAT,
        "kit": layout.kit,
        "pages": [{name: entry_to_json(entry) for name, entry in page_entries(page).items()} for page in layout.pages],
        "coasters": [label_to_json("coaster", label) for label in layout.coasters],
        "row_ends": [label_to_json("taster", label) for label in layout.row_ends],
    }


def from_json(entry: dict[str, Any]) -> KitLayout:
    """Return the layout that `to_json` wrote.

    Raises
    ------
    KeyError, TypeError, ValueError
        Where the object is not such a layout; the caller names the file.
    """
    if entry["format"] != FORMAT:
        raise ValueError(f"its format is {entry['format']!r}, this program reads {FORMAT!r}")
    return KitLayout(
        kit=str(entry["kit"]),
        pages=tuple(_page_from_json(page) for page in entry["pages"]),
        coasters=tuple(_label_from_json("coaster", label) for label in entry["coasters"]),
        row_ends=tuple(_label_from_json("taster", label) for label in entry["row_ends"]),
    )


def page_entries(page: SheetLayout) -> dict[str, Any]:
    """Return the entries of one page in the order in which they are written; lists as the layout's own tuples."""
    return {
        "pdf": page.pdf,
        "pdf_page": page.pdf_page,
        "width_mm": page.width_mm,
        "height_mm": page.height_mm,
        "sheet": page.sheet,
        "taster": page.taster,
        "role": page.role,
        "marks": page.marks,
        "writing": page.writing,
        "fiducials": page.fiducials,
        "codes": page.codes,
        "edge_marks": page.edge_marks,
        "edge_mark_mm": page.edge_mark_mm,
        **({"key_code": page.key_code} if page.key_code else {}),
    }


def entry_to_json(entry: Any) -> Any:
    """Return one of `page_entries` as JSON has it."""
    match entry:
        case tuple():
            return [entry_to_json(member) for member in entry]
        case MarkBox() | WritingArea() | Square():
            return {field.name: getattr(entry, field.name) for field in fields(entry)}
        case _:
            return entry


def label_to_json(number_key: str, label: LabelPlace) -> dict[str, Any]:
    """Return a label; `number_key` is what its number is called: coaster or taster."""
    return {
        number_key: label.number,
        "pdf": label.pdf,
        "pdf_page": label.pdf_page,
        "x_mm": label.x_mm,
        "y_mm": label.y_mm,
        "w_mm": label.w_mm,
        "h_mm": label.h_mm,
    }


def _page_from_json(page: dict[str, Any]) -> SheetLayout:
    return SheetLayout(
        pdf=str(page["pdf"]),
        pdf_page=_count(page["pdf_page"]),
        width_mm=_length(page["width_mm"]),
        height_mm=_length(page["height_mm"]),
        sheet=str(page["sheet"]),
        taster=_count(page["taster"]),
        role=str(page["role"]),
        marks=tuple(_mark_from_json(mark) for mark in page["marks"]),
        writing=tuple(WritingArea(str(area["field"]), *_rectangle(area)) for area in page["writing"]),
        fiducials=tuple(_square_from_json(square) for square in page["fiducials"]),
        codes=tuple(_square_from_json(square) for square in page["codes"]),
        edge_marks=tuple((_place(x), _place(y)) for x, y in page["edge_marks"]),
        edge_mark_mm=_length(page["edge_mark_mm"]),
        key_code=_square_from_json(page["key_code"]) if "key_code" in page else None,
    )


def _label_from_json(number_key: str, label: dict[str, Any]) -> LabelPlace:
    number, pdf_page = _count(label[number_key]), _count(label["pdf_page"])
    return LabelPlace(number, str(label["pdf"]), pdf_page, *_rectangle(label))


def _mark_from_json(mark: dict[str, Any]) -> MarkBox:
    if mark["pick"] not in ("one", "many"):
        raise ValueError(f"a box is to be picked as {mark['pick']!r}, not one or many")
    return MarkBox(str(mark["field"]), str(mark["option"]), mark["pick"], *_rectangle(mark))


def _square_from_json(square: dict[str, Any]) -> Square:
    number = square["number"]
    if type(number) is not int or not 0 <= number <= MOST_NUMBER:
        raise ValueError(f"a square has the number {number!r}")
    return Square(number, _place(square["x_mm"]), _place(square["y_mm"]), _length(square["side_mm"]))


def _rectangle(entry: dict[str, Any]) -> tuple[float, float, float, float]:
    return _place(entry["x_mm"]), _place(entry["y_mm"]), _length(entry["w_mm"]), _length(entry["h_mm"])


def _place(value: Any) -> float:
    # Written so that NaN is refused too.
    if type(value) not in (float, int) or not 0 <= value <= MOST_MM:
        raise ValueError(f"{value!r} is no place on a page, in mm")
    return float(value)


def _length(value: Any) -> float:
    if type(value) not in (float, int) or not LEAST_MM <= value <= MOST_MM:
        raise ValueError(f"{value!r} is no length on a page, in mm")
    return float(value)


def _count(value: Any) -> int:
    if type(value) is not int or not 1 <= value <= MOST_NUMBER:
        raise ValueError(f"{value!r} is no number of a page, a taster or a coaster")
    return value
