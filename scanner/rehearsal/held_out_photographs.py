from __future__ import annotations

from scanner.rehearsal.camera import Shot

HELD_OUT_PHOTOGRAPHS: dict[str, Shot] = {}
