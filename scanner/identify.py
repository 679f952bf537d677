"""Whose sheet it is: from the texts of its codes to a sheet of a kit given, or to the reason why not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.codes import Code, CodeKind, decode, is_genuine
from kit.key_code import key_in
from kit.sheet_layout import SheetLayout
from scanner.kits import KitOnFile
from scanner.reading import Outcome

TWO_SHEETS = "there are two sheets in one picture; photograph each sheet alone"
NOT_OURS = "it is not a sheet of facedown: the code on it is another program's"
ROW = "it shows turned coasters whose codes cannot be read; photograph them from above, or fill in the turned sheet"
KEY = "it is an opened key sheet"
KEY_ALONE = "it shows the key of an opened key sheet, but no code that says whose it is; photograph the whole sheet"
NO_SHEET = "it is no sheet, but something else that facedown printed; photograph the sheets alone"
ROW_KINDS = (CodeKind.COASTER, CodeKind.ROW_END, CodeKind.HOUSE_COASTER, CodeKind.HOUSE_ROW_END)


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

    @property
    def is_row(self) -> bool:
        """Whether it shows turned coasters, or a row-end card, and no sheet."""
        return self.reason == ROW


def identify(texts: Sequence[str], kits: Mapping[str, KitOnFile]) -> Identified | Stranger:
    """Tell which sheet bears codes of these texts, of which there is at least one.

    A code counts only if its check value, its kit's MAC and its kit's record all agree. Texts that are no codes of this
    program do not count; nor do those of coasters that lie on a sheet.
    """
    codes = {text: code for text in texts if (code := decode(text)) is not None}
    if not codes and any(key_in(text) is not None for text in texts):
        return Stranger(Outcome.UNREADABLE, KEY_ALONE)
    if not codes:
        return Stranger(Outcome.FOREIGN, NOT_OURS)
    sheets = {text: code for text, code in codes.items() if code.kind is CodeKind.SHEET}
    if not sheets and any(code.kind in ROW_KINDS for code in codes.values()):
        return Stranger(Outcome.UNREADABLE, ROW)
    if not sheets:
        return Stranger(Outcome.FOREIGN, NO_SHEET)
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
