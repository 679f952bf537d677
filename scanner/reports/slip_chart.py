"""The two pictures of a slip: who went where, and the strengths of one drink in both rounds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kit.wording import Wording
from scanner.reports.chart import Chart
from scanner.reports.inks import BLACK, QUIET, WHITE
from scanner.reports.setter import LEAST_PT, broken
from scanner.reports.slip import PlaceClaim

NAME_PT = 9.0
NAME_LINE_MM = 3.5
_LABELS_MM = 25.0
_RADIUS_MM = 4.3
_TOP_MM, _LOW_MM = 8.6, 34.0
"""Centres of both rows of glasses."""
_TOLD_MM = 4.6
"""Below a glass, room for what was claimed of it: its line begins there, so that none runs through another's words."""


def line_chart(
    places: Sequence[PlaceClaim], drinks: Mapping[int, str], width: float, words: Wording, *, settled: bool
) -> Chart:
    """Draw n glasses of round two above n numbers of round one, each claim a line from its glass to the number claimed.

    Where all that stood may be shown (`settled`), each number lies below the glass that it belongs to: a right claim is
    straight and bold between black glasses, a wrong one slanting and dashed. Else the numbers lie in their order, and
    each glass says what became of its claim. `drinks` has the names by number, none while they are secret.
    """
    n = len(places)
    column = (width - _LABELS_MM) / n
    named = {number: _name_lines(name, column - 2.0) for number, name in drinks.items()}
    most = max((len(lines) for lines, _ in named.values()), default=0)
    chart = Chart(width, _LOW_MM + _RADIUS_MM + 1.6 + most * NAME_LINE_MM)
    order = [one.stood for one in places if one.stood is not None] if settled else list(range(1, n + 1))
    at = {number: _LABELS_MM + column * (index + 0.5) for index, number in enumerate(order)}
    centres = [_LABELS_MM + column * (index + 0.5) for index in range(n)]
    right = {one.stood for one in places if one.right}
    for one, x in zip(places, centres, strict=True):
        _claim(chart, one, x, at, words, straight=settled)
    for one, x in zip(places, centres, strict=True):
        _glass(chart, x, _TOP_MM, one.place, solid=bool(one.right), name=f"glass_{one.place}")
        over = "" if one.sure is None or not one.settled else words(f"match.{one.sure}")
        chart.text(x, 2.9, over, 7.5, anchor="middle", gray=QUIET)
    for number, x in at.items():
        _glass(chart, x, _LOW_MM, str(number), solid=number in right, name=f"number_{number}")
        lines, size = named.get(number, ([], NAME_PT))
        for index, line in enumerate(lines):
            y = _LOW_MM + _RADIUS_MM + 3.9 + index * NAME_LINE_MM
            chart.text(x, y, line, size, face="semibold", anchor="middle")
    for y, name in ((_TOP_MM, "slip.line_glass"), (_LOW_MM, "slip.line_number")):
        lines = broken(words(name), "regular", 7.5, _LABELS_MM - 4.0)
        for index, line in enumerate(lines):
            chart.text(0.0, y + 1.0 + (index - (len(lines) - 1) / 2) * 3.2, line, 7.5, gray=QUIET)
    return chart


def _claim(chart: Chart, one: PlaceClaim, x: float, at: Mapping[int, float], words: Wording, *, straight: bool) -> None:
    top, low = _TOP_MM + _RADIUS_MM, _LOW_MM - _RADIUS_MM
    name = f"claim_{one.place}"
    if one.claimed is None or not one.settled:
        told = words("slip.line_blank" if one.settled else "slip.line_unsettled")
    elif one.right and straight:
        chart.line(x, top, at[one.claimed], low, width_mm=1.5, name=name)
        return
    else:
        told = _told(one, words, straight=straight)
        width, dashes = (1.5, ()) if one.right else (0.35, (1.6, 1.0) if one.right is False else ())
        chart.line(x, top + _TOLD_MM, at[one.claimed], low, width_mm=width, dash_mm=dashes, name=name)
    chart.text(x, top + 3.5, told, 8.0, anchor="middle", name=f"said_{one.place}")


def _told(one: PlaceClaim, words: Wording, *, straight: bool) -> str:
    if straight or one.right is None:
        return words("slip.line_said", number=one.claimed)
    return (
        words("slip.line_right", number=one.claimed)
        if one.right
        else words("slip.line_stood", number=one.claimed, stood=one.stood)
    )


def _glass(chart: Chart, x: float, y: float, text: str, *, solid: bool, name: str) -> None:
    chart.circle(x, y, _RADIUS_MM, fill=BLACK if solid else WHITE, width_mm=0.4, name=name)
    chart.text(x, y + 1.95, text, 15.0, face="semibold", anchor="middle", gray=WHITE if solid else BLACK)


def _name_lines(drink: str, room_mm: float) -> tuple[list[str], float]:
    """Return a drink's name in lines, two if they can be that large at all, and their size."""
    size = NAME_PT
    lines = broken(drink, "semibold", size, room_mm)
    while len(lines) > 2 and size > LEAST_PT:
        size -= 0.5
        lines = broken(drink, "semibold", size, room_mm)
    return lines, size
