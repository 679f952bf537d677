"""The words of one sheet for its PDF: whose it is, and what was read of it, each where it stands on the sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from textwrap import wrap

from kit.sheet_layout import MarkBox, SheetLayout, WritingArea
from kit.wording import load_wording
from scanner.archive.database import Connection, Row
from scanner.archive.facts import marks_of, settled_boxes
from scanner.archive.sheet_pdf import PlacedText, SheetPage
from scanner.archive.sheet_picture import SheetPicture
from scanner.box_names import ROLE_NAMES, field_name
from scanner.reading import Mark, State

LEFT_MM, TOP_MM, LINE_MM = 15.0, 15.0, 5.0
"""Where lines without a place of their own begin, and how far apart they are at most."""
LINE_PT, BOX_PT = 10.0, 4.0
LINE_CHARACTERS = 95


def sheet_page(
    connection: Connection, row: Row, layout: SheetLayout, picture: SheetPicture | None, language: str = "en"
) -> SheetPage:
    """Return what the PDF of one sheet shows.

    Parameters
    ----------
    row
        Of the table `sheets`: the reading that counts.
    picture
        None where there is none: its words are seen then, in lines below each other.
    """
    words = load_wording(language)
    sitting = connection.execute("SELECT title, date FROM sittings WHERE id = ?", (row["sitting"],)).fetchone()
    person = connection.execute(
        "SELECT name FROM sittings_tasters JOIN tasters ON tasters.id = taster WHERE sitting = ? AND number = ?",
        (row["sitting"], row["taster"]),
    ).fetchone()
    name = person["name"] if person else words("bag.erased")
    heading = [
        words("bag.sitting", title=sitting["title"], date=sitting["date"], kit=row["sitting"]),
        words("bag.sheet", sheet=row["sheet"], role=ROLE_NAMES.get(row["role"], row["role"])),
        words("bag.taster", number=row["taster"], person=name),
    ]
    marks = _crossed(marks_of(connection, row["id"], settled_boxes(connection, row["sheet"])), layout)
    written = _handwriting(connection, row["sheet"], layout)
    if picture is not None and picture.is_flat:
        texts = (*_in_lines(heading, layout.height_mm), *_in_boxes(marks), *_in_areas(written))
    else:
        if picture is None:
            heading.append(words("bag.no_picture"))
        texts = tuple(_in_lines([*heading, *_fields(marks), *_remarks(written)], layout.height_mm))
    height_mm = layout.height_mm
    if picture is not None and not picture.is_flat:
        height_mm = layout.width_mm * picture.height_px / picture.width_px
    return SheetPage(heading[1], heading[0], layout.width_mm, height_mm, picture, tuple(texts))


def _crossed(marks: Mapping[tuple[str, str], Mark], layout: SheetLayout) -> list[tuple[MarkBox, str]]:
    """Return the boxes that are marked or doubtful, in the sheet's order, and what each says."""
    found = []
    for box in layout.marks:
        mark = marks.get((box.field, box.option))
        if mark and mark.state in (State.MARKED, State.DOUBTFUL):
            found.append((box, _said(box) + (" ?" if mark.state is State.DOUBTFUL else "")))
    return found


def _said(box: MarkBox) -> str:
    """Return what a cross in a box says.

    >>> _said(MarkBox("match.A", "3", "one", 0, 0, 4, 4)), _said(MarkBox("scale.acidity.2", "4", "one", 0, 0, 4, 4))
    ('A=3', 'acidity 4')
    """
    kind, *names, glass = box.field.split(".")
    match kind:
        case "match" | "turned":
            return f"{glass}={box.option}"
        case "sure":
            return f"{glass}: {box.option}"
        case "scale":
            return f"{'.'.join(names)} {box.option}"
    return box.option


def _handwriting(connection: Connection, sheet: str, layout: SheetLayout) -> list[tuple[WritingArea, str]]:
    typed = dict(connection.execute("SELECT field, text FROM handwriting WHERE sheet = ?", (sheet,)).fetchall())
    return [(area, typed[area.field]) for area in layout.writing if area.field in typed]


def _in_lines(lines: list[str], height_mm: float) -> Iterator[PlacedText]:
    """Yield lines below each other; many lines lie closer and are smaller."""
    lines = [part for line in lines for part in wrap(line, LINE_CHARACTERS) or [""]]
    pitch_mm = min(LINE_MM, (height_mm - 2 * TOP_MM) / max(1, len(lines)))
    for number, line in enumerate(lines):
        yield PlacedText(line, LEFT_MM, TOP_MM + number * pitch_mm, LINE_PT * pitch_mm / LINE_MM)


def _in_boxes(marks: list[tuple[MarkBox, str]]) -> Iterator[PlacedText]:
    for box, said in marks:
        yield PlacedText(said, box.x_mm, box.y_mm + box.h_mm, BOX_PT)


def _in_areas(written: list[tuple[WritingArea, str]]) -> Iterator[PlacedText]:
    for area, text in written:
        lines = text.splitlines() or [""]
        pitch_mm = min(LINE_MM, area.h_mm / len(lines))
        for number, line in enumerate(lines, start=1):
            size_pt = LINE_PT * pitch_mm / LINE_MM
            yield PlacedText(line, area.x_mm, area.y_mm + number * pitch_mm, size_pt)


def _fields(marks: list[tuple[MarkBox, str]]) -> list[str]:
    """Return a line for each field that is crossed."""
    fields: dict[str, list[str]] = {}
    for box, said in marks:
        fields.setdefault(box.field, []).append(said)
    return [f"{_title(name)}: {', '.join(said)}" for name, said in fields.items()]


def _title(field: str) -> str:
    kind, *_, glass = field.split(".")
    return f"glass {glass}, words" if kind == "words" else field_name(field)


def _remarks(written: list[tuple[WritingArea, str]]) -> list[str]:
    return [f"{area.field}: {text}" for area, text in written]
