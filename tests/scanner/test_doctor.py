"""`facedown doctor`: what is there, what is missing and how to get it, and whether facedown can work."""

from __future__ import annotations

import json
import platform
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import kit.fonts
from kit.errors import ExitCode
from scanner import code_readers
from scanner.code_readers import PYZBAR, ZXING, ReaderStatus
from scanner.commands import doctor
from scanner.commands.doctor import Finding, examine, findings_text
from tests.kit.test_shell import facedown


def parts() -> dict[str, Finding]:
    return {finding.part: finding for finding in examine()}


def test_this_installation_can_work_and_says_every_version() -> None:
    result = facedown("doctor")
    assert (result.returncode, result.stderr) == (ExitCode.DONE, "")
    assert result.stdout.endswith("facedown can work.\n")
    for name, distribution in (
        ("Python", None),
        ("OpenCV", "opencv-python-headless"),
        ("NumPy", "numpy"),
        ("zxing-cpp", "zxing-cpp"),
        ("ReportLab", "reportlab"),
        ("pypdfium2", "pypdfium2"),
        ("pillow-heif", "pillow-heif"),
    ):
        expected = version(distribution) if distribution else platform.python_version()
        (line,) = [line for line in result.stdout.splitlines() if line.split()[:1] == [name]]
        assert line.split() == [name, expected]
    assert any(line.split()[0] == "facedown" for line in result.stdout.splitlines())


def test_json_says_the_same_as_the_table() -> None:
    record: dict[str, Any] = json.loads(CliRunner().invoke(doctor.command, ["--json"]).stdout)
    assert record["format"] == "facedown-doctor/1"
    assert record["can_work"] is True
    assert [(part["part"], part["state"]) for part in record["parts"]] == [
        (finding.part, finding.state) for finding in examine()
    ]


def test_a_missing_zbar_is_explained_and_does_no_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    missing = ReaderStatus(PYZBAR, "0.1", False, "the zbar system library is missing")
    states = (ReaderStatus(ZXING, "3.0", True), missing)
    monkeypatch.setattr(code_readers, "readers_in_use", lambda: states)
    result = CliRunner().invoke(doctor.command, [])
    for words in (
        "the zbar system library is missing",
        "apt install libzbar0",
        "dnf install zbar",
        "brew install zbar",
        "Everything works without it",
        "facedown can work.",
    ):
        assert words in result.stdout
    assert result.exit_code == ExitCode.DONE


def test_a_library_that_does_not_load_is_named_and_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(module: str) -> Any:
        raise ImportError(f"libGL.so.1 is missing for {module}")

    monkeypatch.setattr(doctor, "import_module", refuse)
    assert not parts()["OpenCV"].is_well
    assert "libGL.so.1" in parts()["OpenCV"].state
    from kit.shell import main

    result = CliRunner().invoke(main, ["doctor"])
    assert result.exit_code == ExitCode.REFUSED
    assert "facedown cannot work" in result.stdout
    assert "--force-reinstall" in result.stdout


def test_a_font_that_is_gone_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def gone(*_: Any) -> float:
        raise FileNotFoundError(tmp_path / "SourceSans3_400Regular.ttf")

    monkeypatch.setattr(kit.fonts, "width_mm", gone)
    assert not parts()["fonts"].is_well
    assert "SourceSans3_400Regular.ttf" in parts()["fonts"].state


def test_a_missing_decoder_for_heic_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    import pillow_heif

    assert parts()["HEIC photos"].is_well
    monkeypatch.setattr(pillow_heif, "libheif_info", lambda: {"decoders": {"dav1d": "an AV1 decoder"}})
    assert not parts()["HEIC photos"].is_well


def test_what_is_not_well_is_marked_at_the_start_of_its_line() -> None:
    findings = (Finding("ink", "black", True), Finding("paper", "none", False, advice=("Buy some.",)))
    assert findings_text(findings, can_work=False) == (
        "  ink    black\n! paper  none\n         Buy some.\n\nfacedown cannot work: see the lines marked with !."
    )
