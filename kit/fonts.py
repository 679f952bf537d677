"""The fonts that pages are set in, and how wide a text comes out.

Latin text is set in Source Sans 3; what it has no shape for, Japanese above all, in Noto Sans JP. Both ship in
`templates/fonts` under the SIL Open Font License and are embedded as subsets.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import as_file, files
from itertools import groupby

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from kit.drawing import Face
from kit.paper import POINTS_PER_MM

FACE_FILES: dict[str, str] = {
    "regular": "SourceSans3_400Regular.ttf",
    "semibold": "SourceSans3_600SemiBold.ttf",
    "black": "SourceSans3_800ExtraBold.ttf",
}
FALLBACK_FILE = "NotoSansJP_400Regular.ttf"
ELLIPSIS = "…"


def runs(text: str, face: Face) -> list[tuple[str, str]]:
    """Split a text into runs of one font each, as (registered font name, run)."""
    return [(name, "".join(run)) for name, run in groupby(text, key=lambda character: _font_for(character, face))]


def base_font() -> str:
    """Return the registered name of the regular face, for what needs a font before any text is set."""
    return _font_for("0", "regular")


def width_mm(text: str, face: Face, size_pt: float) -> float:
    """Return how wide a text is when set."""
    width_pt: float = sum(pdfmetrics.stringWidth(run, name, size_pt) for name, run in runs(text, face))
    return width_pt / POINTS_PER_MM


def fitted(
    text: str, face: Face, size_pt: float, room_mm: float, least_pt: float, *, ending: str = ""
) -> tuple[str, float]:
    """Return text and size so that the text with its `ending` is at most `room_mm` wide.

    The size shrinks to `least_pt` at the most; of what is too long even then the text, not the ending, is cut short
    with an ellipsis.
    """
    width = width_mm(text + ending, face, size_pt)
    if width <= room_mm:
        return text + ending, size_pt
    if width * least_pt / size_pt <= room_mm:
        return text + ending, size_pt * room_mm / width
    kept = text
    while kept and width_mm(kept + ELLIPSIS + ending, face, least_pt) > room_mm:
        kept = kept[:-1].rstrip()
    return kept + ELLIPSIS + ending, least_pt


def shapeless(text: str) -> str:
    """Return the characters of `text` that none of the fonts has a shape for, each once, in order."""
    return "".join(
        character
        for character in dict.fromkeys(text)
        if ord(character) not in _face("regular") and ord(character) not in _face("fallback")
    )


def _font_for(character: str, face: Face) -> str:
    if ord(character) in _face(face):
        return f"facedown-{face}"
    # Looking into the fallback loads its five megabytes: only pages that need it pay for it.
    return "facedown-fallback" if ord(character) in _face("fallback") else f"facedown-{face}"


@cache
def _face(face: str) -> frozenset[int]:
    """Register a face and return the code points that it has shapes for."""
    file_name = FACE_FILES.get(face, FALLBACK_FILE)
    with as_file(files("templates") / "fonts" / file_name) as path:
        font = TTFont(f"facedown-{face}", str(path))
    pdfmetrics.registerFont(font)
    return frozenset(font.face.charToGlyph)
