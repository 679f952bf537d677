"""Hands, pens and conditions that no threshold is ever chosen on: only for a final figure.

Whoever tunes the reader leaves every `held_out…` file alone. A set that was looked at joins `rare`, `seldom`,
`unusual`, `uncommon`, `odd` and `sundry`, and is replaced by a new one.
"""

from scanner.rehearsal.held_out_hands import HELD_OUT_HANDS, HELD_OUT_PENS
from scanner.rehearsal.held_out_photographs import HELD_OUT_PHOTOGRAPHS
from scanner.rehearsal.held_out_scans import HELD_OUT_SCANS

__all__ = ["HELD_OUT_HANDS", "HELD_OUT_PENS", "HELD_OUT_PHOTOGRAPHS", "HELD_OUT_SCANS"]
