"""Catching what a C library prints on stderr."""

from __future__ import annotations

import os

import pytest

from scanner.captured_stderr import captured_stderr


def test_what_is_printed_meanwhile_is_caught_and_what_is_printed_after_is_not(
    capfd: pytest.CaptureFixture[str],
) -> None:
    with captured_stderr() as caught:
        assert caught() == b""
        os.write(2, b"Fax4Decode: Bad code word")
        assert caught() == b"Fax4Decode: Bad code word"
    os.write(2, b"after")
    assert capfd.readouterr().err == "after"


def test_stderr_is_given_back_after_an_error(capfd: pytest.CaptureFixture[str]) -> None:
    def stumble() -> None:
        with captured_stderr():
            os.write(2, b"caught")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        stumble()
    os.write(2, b"after")
    assert capfd.readouterr().err == "after"


def test_without_a_stderr_the_block_runs_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: int) -> int:
        raise OSError(9, "Bad file descriptor")

    monkeypatch.setattr(os, "dup", refuse)
    with captured_stderr() as caught:
        assert caught() == b""
