"""Every hand, pen and condition that a reader may be tuned on; those kept for the last are in `held_out`."""

from __future__ import annotations

from scanner.rehearsal.camera import PHOTOGRAPHS, SCANS, Shot
from scanner.rehearsal.habits import HANDS, Hand
from scanner.rehearsal.odd_hands import ODD_HANDS, ODD_PENS
from scanner.rehearsal.odd_photographs import ODD_PHOTOGRAPHS
from scanner.rehearsal.odd_scans import ODD_SCANS
from scanner.rehearsal.pens import PENS, Pen
from scanner.rehearsal.rare import RARE_PHOTOGRAPHS, RARE_SCANS
from scanner.rehearsal.rare_hands import RARE_HANDS, RARE_PENS
from scanner.rehearsal.seldom_hands import SELDOM_HANDS, SELDOM_PENS
from scanner.rehearsal.seldom_photographs import SELDOM_PHOTOGRAPHS
from scanner.rehearsal.seldom_scans import SELDOM_SCANS
from scanner.rehearsal.sundry_hands import SUNDRY_HANDS, SUNDRY_PENS
from scanner.rehearsal.sundry_photographs import SUNDRY_PHOTOGRAPHS
from scanner.rehearsal.sundry_scans import SUNDRY_SCANS
from scanner.rehearsal.uncommon_hands import UNCOMMON_HANDS, UNCOMMON_PENS
from scanner.rehearsal.uncommon_photographs import UNCOMMON_PHOTOGRAPHS
from scanner.rehearsal.uncommon_scans import UNCOMMON_SCANS
from scanner.rehearsal.unusual_hands import UNUSUAL_HANDS, UNUSUAL_PENS
from scanner.rehearsal.unusual_photographs import UNUSUAL_PHOTOGRAPHS
from scanner.rehearsal.unusual_scans import UNUSUAL_SCANS

TUNED_HANDS: tuple[Hand, ...] = (
    *HANDS,
    *RARE_HANDS,
    *SELDOM_HANDS,
    *UNUSUAL_HANDS,
    *UNCOMMON_HANDS,
    *ODD_HANDS,
    *SUNDRY_HANDS,
)
TUNED_PENS: tuple[Pen, ...] = (*PENS, *RARE_PENS, *SELDOM_PENS, *UNUSUAL_PENS, *UNCOMMON_PENS, *ODD_PENS, *SUNDRY_PENS)
TUNED_SCANS: dict[str, Shot] = (
    SCANS | RARE_SCANS | SELDOM_SCANS | UNUSUAL_SCANS | UNCOMMON_SCANS | ODD_SCANS | SUNDRY_SCANS
)
TUNED_PHOTOGRAPHS: dict[str, Shot] = (
    PHOTOGRAPHS
    | RARE_PHOTOGRAPHS
    | SELDOM_PHOTOGRAPHS
    | UNUSUAL_PHOTOGRAPHS
    | UNCOMMON_PHOTOGRAPHS
    | ODD_PHOTOGRAPHS
    | SUNDRY_PHOTOGRAPHS
)
