"""The kit of a session's rehearsal: its own forms under a kit id of their own, the same each time they are asked for.

Nothing of it is stored. Its id and secret are drawn from what the sheets show and where their boxes are, so a sheet is
known again as long as the session and the forms are the same, and is a stranger's otherwise. Whoever has the session
file can make it: it holds no key that anybody plays for.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

from kit.build import build_kit
from kit.chance_source import SeededChance
from kit.record import Kit
from kit.session import Session, Taster
from kit.sheet_layout import KitLayout, to_json
from kit.sheets import Sheet, form_sheets
from kit.wording import load_wording
from scanner.kits import KitOnFile, from_kit

_PURPOSE = "rehearsal"


@dataclass(frozen=True, slots=True)
class OwnKit:
    """A rehearsal's kit, its printable sheets in the order of the roles, and the kit as the reader sees it."""

    kit: Kit
    sheets: tuple[Sheet, ...]
    on_file: KitOnFile

    @property
    def to_fill(self) -> Sheet:
        """The sheet that a person fills in by the pattern: the notes of round one, where boxes are the smallest."""
        return self.sheets[0]

    @property
    def chance(self) -> SeededChance:
        """A fresh source of everything else that is drawn for this kit, the same each time."""
        return SeededChance(0, f"{_PURPOSE} {self.kit.id} {self.kit.secret.hex()}")


def own_kit(session: Session) -> OwnKit:
    """Return the rehearsal's kit of a session.

    Raises
    ------
    FacedownError
        If this version cannot print the session's forms.
    """
    words = load_wording(session.language)
    rehearsed = replace(session, tasters=(Taster(words("rehearsal.taster")),), seed=None)
    draft = build_kit(rehearsed, SeededChance(0, _PURPOSE))
    kit = build_kit(rehearsed, SeededChance(0, f"{_PURPOSE} {_shown(draft)}"))
    sheets = tuple(form_sheets(kit))
    return OwnKit(kit, sheets, from_kit(kit, KitLayout(kit.id, tuple(sheet.layout for sheet in sheets))))


def _shown(draft: Kit) -> str:
    """What the sheets show of the session, and all their places, as text."""
    session = draft.session
    layout = to_json(KitLayout(draft.id, tuple(sheet.layout for sheet in form_sheets(draft))))
    return json.dumps(
        [session.title, session.date.isoformat(), session.drink, session.language, layout], sort_keys=True
    )
