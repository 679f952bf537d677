"""The foot of every report's page: kit, seal code, date and page number, so that a single sheet explains itself."""

from __future__ import annotations

from kit.drawing import Rule, Text
from kit.fonts import fitted
from kit.wording import Wording
from scanner.reports.inks import LINE, QUIET
from scanner.reports.page import FOOT_MM, Block, ReportPage

_SIZE_PT, _LEAST_PT = 7.5, 6.0


def foot_block(page: ReportPage, number: int, pages: int | None, words: Wording) -> Block:
    """Return the foot of page `number`, of so many `pages` where that is known."""
    frame, foot = page.frame, page.foot
    top = frame.bottom + FOOT_MM * 0.45
    baseline = top + 3.6
    numbered = words("report.page", page=number) if pages is None else words("report.page_of", page=number, pages=pages)
    right = f"{foot.date}   {numbered}" if foot.date else numbered
    told = []
    if foot.kits:
        told.append(words("report.kit" if len(foot.kits) == 1 else "report.kits", kits=words.listed(foot.kits)))
    if foot.seals:
        told.append(words("report.seal" if len(foot.seals) == 1 else "report.seals", seals=words.listed(foot.seals)))
    if foot.note:
        told.append(foot.note)
    left, left_pt = fitted("   ".join((*told, words("report.by"))), "regular", _SIZE_PT, frame.width * 0.68, _LEAST_PT)
    right, right_pt = fitted(right, "regular", _SIZE_PT, frame.width * 0.3, _LEAST_PT)
    return Block(
        "P",
        (
            Rule(frame.left, top, frame.right, top, 0.15, LINE),
            Text(frame.left, baseline, left, left_pt, gray=QUIET),
            Text(frame.right, baseline, right, right_pt, align="right", gray=QUIET),
        ),
    )
