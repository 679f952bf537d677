"""Why a sheet that was found could not be read all the same, in a sentence that helps to take a better picture.

Asked only after a refusal.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import MarkBox, SheetLayout, Square
from scanner.geometry import apply_homography
from scanner.locate import Located
from scanner.picture_faults import WHITE, equal_squares, light_of
from scanner.sampling import Floats, Gray, inside_image, sample_patches
from scanner.why_not_found import OUT_OF_FOCUS, PALE, SHAKEN, TOO_PALE, light_sentence

Bools = NDArray[np.bool_]

MOST_BLUR_MM, BLURRED_MM = 0.33, 0.25
"""From 0.38 mm on a blurred outline fills its box, and the rehearsal's worst photographs have 0.27; the blur to which
it may be put down that a sheet was not read."""
AS_SHARP_AS_CAN_BE_PX = 1.3
"""Blur that the camera has at its best, as its pixels are made: only from nearer would it be less on paper."""
MOVED = 1.8
"""Blur in one direction over that in the other; up to 1.2 where a picture is out of focus."""
PX_PER_MM = 4.0
BLANK_CONTRAST, GLARE, SHADOW = 0.3, 0.96, 0.35
"""Of the contrast of the fiducials; of the brightness of the paper around them, twice."""
MOST = 0.6
ASTRAY_MM = 1.2
ONE_SIDE = 0.85

CODES_HIDDEN = (
    "its two codes are covered or blurred; photograph it again with nothing over the squares at the top right and "
    "bottom left"
)
BOXES_HIDDEN = "too much of it is covered, cut off or out of focus, or striped as on a screen"
OTHER_LAYOUT = (
    "its boxes are not where this kit's layout.json has them: it is from another print run, or the kit folder was "
    "changed; read it with the folder that it was printed from"
)
_CODE_STATES = {
    "cut": ("cut off", "with the whole sheet in the picture"),
    "glare": ("white all over, as under glare", "without flash, turned away from the lamp"),
    "shadow": ("in the dark", "with no shadow on it"),
    "covered": ("covered", "with nothing over it"),
    "spoilt": (
        "not clear enough to be read",
        "nearer and sharper, or enter the sheet by hand if its codes are damaged",
    ),
}


def too_unclear(located: Located) -> str | None:
    """Return why a sheet is too pale or blurred for its boxes to be read, whatever they seem to say; None if not."""
    if located.clarity.contrast < PALE:
        return TOO_PALE
    return _blurred(located, MOST_BLUR_MM)


def picture_fault(gray: Gray, located: Located) -> str | None:
    """Return what of the picture's blur or light may be the cause that a sheet was not read; None where neither is."""
    return _blurred(located, BLURRED_MM) or light_sentence(light_of(gray))


def why_no_code(gray: Gray, located: Located) -> str:
    """Return why neither of a located sheet's codes can be read."""
    if fault := picture_fault(gray, located):
        return fault
    codes = located.frame.codes
    states = [_code_state(gray, located, code) for code in codes]
    if set(states) == {"covered"} or not states:
        return CODES_HIDDEN
    places = [_place(located.frame, code) for code in codes]
    if len(set(states)) == 1:
        seen, remedy = _CODE_STATES[states[0]]
        return f"its codes, at the {' and the '.join(places)}, are {seen}; photograph it again {remedy}"
    parts = [f"that at the {place} is {_CODE_STATES[state][0]}" for place, state in zip(places, states, strict=True)]
    return f"neither of its codes can be read: {', '.join(parts)}; photograph it again {_CODE_STATES[states[0]][1]}"


def why_boxes_unseen(gray: Gray, located: Located, boxes: Sequence[MarkBox], unseen: Bools) -> str:
    """Return why too many of a located sheet's boxes cannot be seen.

    Parameters
    ----------
    unseen : (N,) array of bool
        Which of the boxes.
    """
    centres = np.array([(box.x_mm + box.w_mm / 2, box.y_mm + box.h_mm / 2) for box in boxes])
    where = _where(located.frame, centres[unseen])
    inside = inside_image(gray, located.to_px, centres[unseen], 2.0)
    if np.mean(~inside) > MOST:
        return f"a great part of it is cut off{where}; photograph it again with the whole sheet in the picture"
    patches = sample_patches(gray, located.to_px, centres[unseen][inside], 3.0, PX_PER_MM)
    if np.mean(patches >= WHITE) > MOST:
        return f"its print has vanished in white{where}; photograph it again with less light, without flash or glare"
    if fault := picture_fault(gray, located):
        return fault
    if len(patches) and np.percentile(patches, 90) < SHADOW * np.percentile(gray, 95):
        return f"a great part of it lies in deep shadow{where}; photograph it again in even light"
    if _stand_elsewhere(gray, located, centres):
        return OTHER_LAYOUT
    return f"{BOXES_HIDDEN}{where}; photograph the whole sheet again, flat and sharp, with nothing over it"


def _blurred(located: Located, limit_mm: float) -> str | None:
    clarity = located.clarity
    if clarity.most_blur_mm < limit_mm:
        return None
    if clarity.most_blur_mm * located.px_per_mm < AS_SHARP_AS_CAN_BE_PX:
        return (
            f"the sheet is too small in the picture to be sharp ({located.px_per_mm:.1f} pixels a millimetre, 6 do "
            "well); come closer, until it fills the picture"
        )
    return SHAKEN if clarity.most_blur_mm > MOVED * clarity.least_blur_mm else OUT_OF_FOCUS


def _code_state(gray: Gray, located: Located, code: Square) -> str:
    middle = np.array([(code.x_mm + code.side_mm / 2, code.y_mm + code.side_mm / 2)])
    if not inside_image(gray, located.to_px, middle, code.side_mm / 2)[0]:
        return "cut"
    dark, middling, light = _levels(gray, located, code)
    fiducials = np.array([_levels(gray, located, square) for square in located.frame.fiducials])
    usual_dark, _, paper = np.median(fiducials, axis=0)
    if middling > GLARE * paper:
        return "glare"
    if light < SHADOW * paper:
        return "shadow"
    return "spoilt" if light - dark > BLANK_CONTRAST * (paper - usual_dark) else "covered"


def _levels(gray: Gray, located: Located, square: Square) -> tuple[float, float, float]:
    """Return the gray levels of a printed square's dark parts, of half of it, and of its light parts."""
    middle = np.array([(square.x_mm + square.side_mm / 2, square.y_mm + square.side_mm / 2)])
    patch = sample_patches(gray, located.to_px, middle, square.side_mm / 2, PX_PER_MM)
    dark, middling, light = np.percentile(patch, (10, 50, 90))
    return float(dark), float(middling), float(light)


def _stand_elsewhere(gray: Gray, located: Located, centres_mm: Floats) -> bool:
    """Tell whether the page has about as many boxes as it should, but most of them in other places."""
    px_to_mm = np.asarray(np.linalg.inv(located.mm_to_px), np.float64)
    squares = apply_homography(px_to_mm, equal_squares(gray))
    low, high = centres_mm.min(axis=0) - 10.0, centres_mm.max(axis=0) + 10.0
    squares = squares[((squares > low) & (squares < high)).all(axis=1)]
    if len(squares) < 0.5 * len(centres_mm):
        return False
    squares = squares - located.bend.at(squares)
    nearest = np.linalg.norm(squares[:, None] - centres_mm[None], axis=2).min(axis=1)
    return bool(np.mean(nearest > ASTRAY_MM) > 0.3)


def _where(frame: SheetLayout, points_mm: Floats) -> str:
    """Return " at the bottom left" where nearly all points lie there, and "" where they lie all over the page."""
    words = []
    for axis, middle, first, second in (
        (1, frame.height_mm / 2, "top", "bottom"),
        (0, frame.width_mm / 2, "left", "right"),
    ):
        share = float(np.mean(points_mm[:, axis] < middle))
        if share > ONE_SIDE or share < 1 - ONE_SIDE:
            words.append(first if share > ONE_SIDE else second)
    return f" at the {' '.join(words)}" if words else ""


def _place(frame: SheetLayout, square: Square) -> str:
    middle = np.array([(square.x_mm + square.side_mm / 2, square.y_mm + square.side_mm / 2)])
    return _where(frame, middle).removeprefix(" at the ")
