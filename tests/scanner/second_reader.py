"""Demanding the second QR reader, or skipping with one printed sentence where zbar is not installed."""

from __future__ import annotations

import os
from functools import cache
from typing import Any

import pytest

from scanner.code_readers import PYZBAR, readers_in_use

SENTENCE = "The tests with two QR readers are skipped: the zbar library is missing (`facedown doctor` says more)."


def require_second_reader(config: pytest.Config) -> None:
    """Skip the calling test where pyzbar cannot be used; fail it where FACEDOWN_DEMAND_ZBAR is 1."""
    if any(reader.name == PYZBAR and reader.in_use for reader in readers_in_use()):
        return
    if os.environ.get("FACEDOWN_DEMAND_ZBAR") == "1":
        pytest.fail("FACEDOWN_DEMAND_ZBAR is 1, and the zbar system library is missing.")
    _say_once(config.pluginmanager.getplugin("capturemanager"))
    pytest.skip(SENTENCE)


@cache
def _say_once(capture: Any) -> None:
    with capture.global_and_fixture_disabled():
        print(f"\n{SENTENCE}")
