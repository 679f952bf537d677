from __future__ import annotations

from scanner.rehearsal.habits import Hand
from scanner.rehearsal.pens import Pen

HELD_OUT_HANDS: tuple[Hand, ...] = ()
HELD_OUT_PENS: tuple[Pen, ...] = ()
