"""Hands, pens and conditions that no threshold is ever chosen on: only for a final figure.

Whoever tunes the reader leaves this module and `held_out.toml` alone. A set that was looked at joins `rare`, and is
replaced by a new one.
"""

from __future__ import annotations

from scanner.rehearsal.camera import Shot
from scanner.rehearsal.habits import Hand
from scanner.rehearsal.pens import Pen

HELD_OUT_HANDS: tuple[Hand, ...] = ()
HELD_OUT_PENS: tuple[Pen, ...] = ()
HELD_OUT_SCANS: dict[str, Shot] = {}
HELD_OUT_PHOTOGRAPHS: dict[str, Shot] = {}
