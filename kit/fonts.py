"""The fonts that pages are set in, and how wide a text comes out; the one place that opens font files.

Latin text is set in Source Sans 3; what it has no shape for, Japanese above all, in Noto Sans JP. Both ship in
`templates/fonts` under the SIL Open Font License and are embedded as subsets.
"""

from __future__ import annotations

from functools import cache, lru_cache
from importlib.resources import as_file, files
from itertools import groupby

from reportlab.pdfbase.ttfonts import TTFontFace

from kit.drawing import Face
from kit.paper import POINTS_PER_MM

FACE_FILES: dict[str, str] = {
    "regular": "SourceSans3_400Regular.ttf",
    "semibold": "SourceSans3_600SemiBold.ttf",
    "black": "SourceSans3_800ExtraBold.ttf",
}
FALLBACK = "fallback"
FALLBACK_FILE = "NotoSansJP_400Regular.ttf"
STROKES: dict[Face, float] = {"regular": 0.0, "semibold": 0.028, "black": 0.05}
"""By how much of the size the fallback's strokes are thickened in each face: it has one weight, and another would cost
five megabytes more."""
ELLIPSIS = "…"


@cache
def font(name: str) -> TTFontFace:
    """Return the font of a face, or the fallback, as `runs` names them."""
    file_name = FACE_FILES.get(name, FALLBACK_FILE)
    with as_file(files("templates") / "fonts" / file_name) as path:
        return TTFontFace(str(path))


def runs(text: str, face: Face) -> list[tuple[str, str]]:
    """Split a text into runs of one font each, as (font name, run)."""
    return [(name, "".join(run)) for name, run in groupby(text, key=lambda character: _font_for(character, face))]


@lru_cache(2048)
def width_mm(text: str, face: Face, size_pt: float) -> float:
    """Return how wide a text is when set."""
    thousandths = sum(advance(name, character) for name, run in runs(text, face) for character in run)
    return thousandths * size_pt / 1000 / POINTS_PER_MM


def advance(name: str, character: str) -> float:
    """Return how far a character of a font moves the pen, in thousandths of the size."""
    face = font(name)
    width: float = face.charWidths.get(ord(character), face.defaultWidth)
    return width


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
        if not _has_shape("regular", character) and not _has_shape(FALLBACK, character)
    )


def _font_for(character: str, face: Face) -> str:
    if _has_shape(face, character):
        return face
    # Looking into the fallback loads its five megabytes: only pages that need it pay for it.
    return FALLBACK if _has_shape(FALLBACK, character) else face


def _has_shape(name: str, character: str) -> bool:
    return ord(character) in font(name).charToGlyph
