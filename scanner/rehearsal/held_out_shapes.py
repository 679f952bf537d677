from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scanner.rehearsal.arrays import Points
from scanner.rehearsal.habits import Hand

HELD_OUT_SHAPES: dict[str, Callable[[Hand, float, np.random.Generator], list[Points]]] = {}
