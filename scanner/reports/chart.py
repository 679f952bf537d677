"""Charts as reportlab.graphics drawings, built in mm from the top left corner, y downwards, in grays alone.

What is given a name can be read back: `chart.read("claim_A")` returns the shape, `chart.place("claim_A")` where it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Any, Literal

from reportlab.graphics.shapes import Circle, Drawing, Line, Polygon, PolyLine, Rect, Shape, String
from reportlab.lib.colors import Color

from kit.drawing import Face
from kit.paper import POINTS_PER_MM
from scanner.reports.inks import BLACK

Anchor = Literal["start", "middle", "end"]


class Chart:
    """A drawing that is filled shape by shape; `drawing` is reportlab's own. Shapes added later lie on top."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.width_mm, self.height_mm = width_mm, height_mm
        self.drawing = Drawing(width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM)

    def line(
        self,
        x1_mm: float,
        y1_mm: float,
        x2_mm: float,
        y2_mm: float,
        *,
        width_mm: float = 0.25,
        gray: float = BLACK,
        dash_mm: Sequence[float] = (),
        name: str | None = None,
    ) -> None:
        """Draw a straight line; `dash_mm` has the lengths of dashes and gaps."""
        self._add(Line(*self._at(x1_mm, y1_mm), *self._at(x2_mm, y2_mm), **_stroke(gray, width_mm, dash_mm)), name)

    def polyline(
        self,
        points_mm: Sequence[tuple[float, float]],
        *,
        width_mm: float = 0.4,
        gray: float = BLACK,
        dash_mm: Sequence[float] = (),
        name: str | None = None,
    ) -> None:
        """Draw a line through points."""
        self._add(PolyLine(self._all(points_mm), **_stroke(gray, width_mm, dash_mm)), name)

    def polygon(
        self,
        points_mm: Sequence[tuple[float, float]],
        *,
        fill: float | None = BLACK,
        outline: float | None = None,
        width_mm: float = 0.25,
        name: str | None = None,
    ) -> None:
        """Draw a closed shape through points: a band, a marker."""
        self._add(Polygon(self._all(points_mm), **_both(fill, outline, width_mm)), name)

    def rect(
        self,
        x_mm: float,
        y_mm: float,
        w_mm: float,
        h_mm: float,
        *,
        fill: float | None = None,
        outline: float | None = BLACK,
        width_mm: float = 0.25,
        corner_mm: float = 0.0,
        name: str | None = None,
    ) -> None:
        """Draw a rectangle by its top left corner; the outline lies on its edge."""
        left, bottom = self._at(x_mm, y_mm + h_mm)
        corner = corner_mm * POINTS_PER_MM
        self._add(
            Rect(
                left,
                bottom,
                w_mm * POINTS_PER_MM,
                h_mm * POINTS_PER_MM,
                corner,
                corner,
                **_both(fill, outline, width_mm),
            ),
            name,
        )

    def circle(
        self,
        x_mm: float,
        y_mm: float,
        radius_mm: float,
        *,
        fill: float | None = None,
        outline: float | None = BLACK,
        width_mm: float = 0.25,
        name: str | None = None,
    ) -> None:
        """Draw a circle about its centre; the outline lies on its edge."""
        self._add(Circle(*self._at(x_mm, y_mm), radius_mm * POINTS_PER_MM, **_both(fill, outline, width_mm)), name)

    def text(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        size_pt: float,
        *,
        face: Face = "regular",
        anchor: Anchor = "start",
        gray: float = BLACK,
        name: str | None = None,
    ) -> None:
        """Set one line of text; `y_mm` is its baseline."""
        style: dict[str, Any] = {"fontName": face, "fontSize": size_pt, "textAnchor": anchor, "fillColor": _ink(gray)}
        self._add(String(*self._at(x_mm, y_mm), text, **style), name)

    def hatch(
        self,
        x_mm: float,
        y_mm: float,
        w_mm: float,
        h_mm: float,
        *,
        pitch_mm: float = 1.2,
        gray: float = BLACK,
        width_mm: float = 0.15,
        falling: bool = False,
    ) -> None:
        """Fill a rectangle with lines that rise, or fall, at 45 degrees: a pattern in place of a colour."""
        steps = int((w_mm + h_mm) / pitch_mm)
        for along in (step * pitch_mm for step in range(1, steps + 1)):
            # The line on which x + y = along, within the rectangle.
            near, far = max(0.0, along - h_mm), min(w_mm, along)
            ends = [(near, along - near), (far, along - far)]
            ends = [(x, h_mm - y) for x, y in ends] if falling else ends
            (x1, y1), (x2, y2) = ends
            self.line(x_mm + x1, y_mm + y1, x_mm + x2, y_mm + y2, gray=gray, width_mm=width_mm)

    def read(self, name: str) -> Any:
        """Return the named shape; AttributeError if there is none."""
        return getattr(self.drawing, name)

    def has(self, name: str) -> bool:
        """Tell whether there is a shape of that name."""
        return hasattr(self.drawing, name)

    def place(self, name: str) -> tuple[float, float, float, float]:
        """Return left, top, right, bottom of a named shape, mm from the drawing's top left corner."""
        left, bottom, right, top = (side / POINTS_PER_MM for side in self.read(name).getBounds())
        return left, self.height_mm - top, right, self.height_mm - bottom

    def _at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        return x_mm * POINTS_PER_MM, (self.height_mm - y_mm) * POINTS_PER_MM

    def _all(self, points_mm: Sequence[tuple[float, float]]) -> list[float]:
        return list(chain.from_iterable(self._at(*point) for point in points_mm))

    def _add(self, shape: Shape, name: str | None) -> None:
        self.drawing.add(shape, name)


def _ink(gray: float) -> Color:
    return Color(gray, gray, gray)


def _stroke(gray: float, width_mm: float, dash_mm: Sequence[float] = ()) -> dict[str, Any]:
    return {
        "strokeColor": _ink(gray),
        "strokeWidth": width_mm * POINTS_PER_MM,
        "strokeDashArray": [length * POINTS_PER_MM for length in dash_mm] or None,
    }


def _both(fill: float | None, outline: float | None, width_mm: float) -> dict[str, Any]:
    drawn = {"fillColor": None if fill is None else _ink(fill), "strokeColor": None}
    return drawn | ({} if outline is None else _stroke(outline, width_mm))
