"""Whose sheet it is: from the texts of its codes to a sheet of a kit given, or to the reason why not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.codes import Code, CodeKind, decode, is_genuine
from kit.sheet_layout import SheetLayout
from scanner.kits import KitOnFile
from scanner.reading import Outcome

TWO_SHEETS = "there are two sheets in one picture; photograph each sheet alone"
NOT_OURS = "it is not a sheet of facedown: the code on it is another program's"
ROW = "it shows turned coasters; this version reads sheets only, so fill in the turned-coasters form"
KEY = "it is an opened key sheet, which this version does not read; use `facedown unseal`"


@dataclass(frozen=True, slots=True)
class Identified:
    """A sheet of a kit given."""

    code: Code
    layout: SheetLayout


@dataclass(frozen=True, slots=True)
class Stranger:
    """A page that is not read further; `code` where one could be read."""

    outcome: Outcome
    reason: str
    code: Code | None = None


def identify(texts: Sequence[str], kits: Mapping[str, KitOnFile]) -> Identified | Stranger:
    """Tell which sheet bears codes of these texts, of which there is at least one.

    A code counts only if its check value, its kit's MAC and its kit's record all agree. Texts that are no codes of this
    program do not count; nor do those of coasters that lie on a sheet.
    """
    codes = {text: code for text in texts if (code := decode(text)) is not None}
    if not codes:
        return Stranger(Outcome.FOREIGN, NOT_OURS)
    sheets = {text: code for text, code in codes.items() if code.kind is CodeKind.SHEET}
    if not sheets:
        return Stranger(Outcome.UNREADABLE, ROW)
    if len(sheets) > 1:
        return Stranger(Outcome.UNREADABLE, TWO_SHEETS)
    [(text, code)] = sheets.items()
    kit = kits.get(code.kit)
    if kit is None:
        return Stranger(Outcome.FOREIGN, f"it is a sheet of kit {code.kit}, which was not given", code)
    if not is_genuine(text, kit.secret):
        reason = f"its code does not belong to kit {code.kit}: its check does not match (a copied or edited sheet)"
        return Stranger(Outcome.FOREIGN, reason, code)
    layout = kit.sheets.get(code.sheet)
    if layout is None:
        return Stranger(Outcome.FOREIGN, f"kit {code.kit} as given has no sheet {code.sheet}", code)
    if layout.role == "key":
        return Stranger(Outcome.UNREADABLE, KEY, code)
    return Identified(code, layout)
