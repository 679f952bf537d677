"""How pictures of the rehearsal sheet were graded, as text for people and as JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from kit.tables import printable
from scanner.box_names import box_name
from scanner.claims import where
from scanner.reading import State
from scanner.rehearsal.grade import AMPLE_PX_PER_MM, Difference, Graded, Look, together
from scanner.rehearsal.phrases import paragraph, rate_to_json, share_text, silent_text
from scanner.rehearsal.print_scale import PrintScale

FORMAT = "facedown-grade/1"

STATES = {State.MARKED: "crossed", State.EMPTY: "empty", State.WITHDRAWN: "blacked out"}

CHECK = (
    "Look at each of these boxes on the paper. If the sheet itself differs from the pattern, the slip is yours; if "
    "not, the reader read it wrongly: please report it."
)


def grade_text(graded: Sequence[Graded]) -> str:
    """Return the grades for people: a block for each picture, then all together."""
    blocks = ["\n".join(_block(one)) for one in graded]
    counted = [one for one in graded if one.boxes]
    if len(counted) > 1:
        silent, doubtful = together(counted)
        blocks.append(
            f"All {len(counted)} pictures together, {silent.of:,} boxes\n"
            f"  silent errors  {silent_text(silent)}\n  doubtful       {share_text(doubtful)}"
        )
    return printable("\n\n".join(blocks))


def grade_to_json(graded: Sequence[Graded]) -> dict[str, Any]:
    """Return the grades as one JSON object."""
    silent, doubtful = together(graded)
    return {
        "format": FORMAT,
        "pictures": [_graded_to_json(one) for one in graded],
        "silent_errors": rate_to_json(silent),
        "doubtful": rate_to_json(doubtful),
    }


def _block(one: Graded) -> Iterator[str]:
    if one.reason is not None:
        yield paragraph(f"{where(one.reading)}: not graded. {_sentence(one.reason)}", 0, 2)
        return
    yield f"{where(one.reading)}: sheet {one.reading.sheet}, {one.boxes:,} boxes, {one.right:,} right"
    yield f"  silent errors  {silent_text(one.silent_rate)}"
    yield from (paragraph(_difference(difference), 4, 6) for difference in one.silent)
    if one.silent:
        yield paragraph(CHECK, 4, 4)
    yield f"  doubtful       {share_text(one.doubtful_rate)}"
    yield from (paragraph(_difference(difference), 4, 6) for difference in one.doubtful)
    yield from (paragraph(line, 2, 17) for line in _look(one.look))


def _difference(one: Difference) -> str:
    place = f"{one.box.x_mm:.0f} mm from the left, {one.box.y_mm:.0f} mm from the top"
    named = f"{box_name(one.box.field, one.box.option)} ({place})"
    if one.mark.state is State.DOUBTFUL:
        return f"{named}: {STATES[one.asked]} in the pattern; {one.mark.reason or 'in doubt'}"
    return f"{named}: {STATES[one.asked]} in the pattern, read as {STATES[one.mark.state]}"


def _look(look: Look | None) -> Iterator[str]:
    if look is None:
        return
    enough = "enough" if look.px_per_mm >= AMPLE_PX_PER_MM else "few: come closer, or scan at 200 dpi or more"
    marks = f"{look.corner_marks} of 4 corner marks seen"
    yield f"picture        {look.px_per_mm:.1f} pixels a millimetre, {enough}; {marks}"
    yield f"print scale    {_scale_text(look.scale)}"
    if look.boxes_out_of_place:
        advice = "lay the sheet flat, all of it in sight"
        yield f"paper          {look.boxes_out_of_place} boxes could not be placed: {advice}"
    else:
        yield f"paper          every box is placed to {look.worst_residual_mm:.1f} mm; 0.4 mm are allowed"


def _scale_text(scale: PrintScale | None) -> str:
    if scale is None:
        return "not to be told from this picture; the line at the sheet's foot must measure 100 mm"
    told = {
        "resolution": "by the resolution that the scan states",
        "paper": "by the edges of the paper",
    }[scale.told_by]
    if not scale.is_off:
        return f"{100 * scale.scale:.1f} %, true to size, {told}"
    return f"{100 * scale.scale:.1f} %, {told}: the printer changes the size; choose “actual size” or 100 %"


def _sentence(reason: str) -> str:
    return reason[:1].upper() + reason[1:] + ("" if reason.endswith((".", ")")) else ".")


def _graded_to_json(one: Graded) -> dict[str, Any]:
    return {
        "source": one.reading.source,
        "source_page": one.reading.source_page,
        "sheet": one.reading.sheet,
        "graded": one.reason is None,
        "reason": one.reason,
        "right": one.right,
        "silent_errors": {**rate_to_json(one.silent_rate), "boxes": [_to_json(box) for box in one.silent]},
        "doubtful": {**rate_to_json(one.doubtful_rate), "boxes": [_to_json(box) for box in one.doubtful]},
        "picture": None if one.look is None else _look_to_json(one.look),
    }


def _to_json(one: Difference) -> dict[str, Any]:
    return {
        "field": one.mark.field,
        "option": one.mark.option,
        "pattern": one.asked.value,
        "read": one.mark.state.value,
        "reason": one.mark.reason,
    }


def _look_to_json(look: Look) -> dict[str, Any]:
    return {
        "px_per_mm": look.px_per_mm,
        "corner_marks": look.corner_marks,
        "print_scale": None if look.scale is None else look.scale.scale,
        "print_scale_told_by": None if look.scale is None else look.scale.told_by,
        "worst_residual_mm": look.worst_residual_mm if math.isfinite(look.worst_residual_mm) else None,
        "boxes_out_of_place": look.boxes_out_of_place,
    }
