"""Programs of other people that look at our PDFs: where they are missing, their tests are left out, or fail in CI."""

from __future__ import annotations

import os
import shutil


def left_out(program: str) -> bool:
    """Tell whether tests of this program are to be skipped: it is missing, and FACEDOWN_DEMAND_PDF_TOOLS is not 1."""
    return shutil.which(program) is None and os.environ.get("FACEDOWN_DEMAND_PDF_TOOLS") != "1"
