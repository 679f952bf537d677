"""What all tests share."""

from __future__ import annotations

import os

from hypothesis import settings

# On a developer's machine hypothesis looks for new cases; where others wait for the answer it tries the same each time.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("searching", deadline=None)
settings.load_profile("steady" if os.environ.get("CI") else "searching")
