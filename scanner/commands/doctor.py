"""`facedown doctor`: which parts of this installation are there, and can it work?"""

from __future__ import annotations

import json
import platform
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import click

from kit.errors import ExitCode

FORMAT = "facedown-doctor/1"

_PARTS = (
    ("OpenCV", "opencv-python-headless", "cv2"),
    ("NumPy", "numpy", "numpy"),
    ("Pillow", "pillow", "PIL.Image"),
    ("pillow-heif", "pillow-heif", "pillow_heif"),
    ("pypdfium2", "pypdfium2", "pypdfium2"),
    ("ReportLab", "reportlab", "reportlab.pdfgen.canvas"),
    ("qrcode", "qrcode", "qrcode"),
    ("zxing-cpp", "zxing-cpp", "zxingcpp"),
)
"""What people call it, the package that brings it, the module that must load."""

_REINSTALL = "Install facedown again: python -m pip install --force-reinstall facedown"
_ZBAR_ADVICE = (
    "Everything works without it, on zxing-cpp alone. To have the second reader too:",
    "Debian, Ubuntu: sudo apt install libzbar0",
    "Fedora: sudo dnf install zbar",
    "macOS: brew install zbar",
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One part: what it is, its version or state, whether it is as it should be, and what else to say."""

    part: str
    state: str
    is_well: bool
    is_needed: bool = True
    advice: tuple[str, ...] = ()


@click.command("doctor")
@click.option("--json", "as_json", is_flag=True, help="Print the same as JSON.")
def command(as_json: bool) -> ExitCode:
    """Tell which parts of this installation are in use, and what to do about those that are missing."""
    findings = examine()
    can_work = all(finding.is_well for finding in findings if finding.is_needed)
    if as_json:
        click.echo(json.dumps(findings_to_json(findings, can_work), ensure_ascii=False, indent=1))
    else:
        click.echo(findings_text(findings, can_work))
    return ExitCode.DONE if can_work else ExitCode.REFUSED


def examine() -> tuple[Finding, ...]:
    """Look at every part of the installation; nothing is raised."""
    return (
        Finding("facedown", _version("facedown") or "run from its source folder", is_well=True),
        Finding("Python", platform.python_version(), is_well=True),
        *(_library(*part) for part in _PARTS),
        *_readers(),
        _heic(),
        _fonts(),
    )


def findings_to_json(findings: tuple[Finding, ...], can_work: bool) -> dict[str, Any]:
    """Return the findings as one JSON object."""
    return {
        "format": FORMAT,
        "can_work": can_work,
        "parts": [
            {
                "part": finding.part,
                "state": finding.state,
                "well": finding.is_well,
                "needed": finding.is_needed,
                "advice": list(finding.advice),
            }
            for finding in findings
        ],
    }


def findings_text(findings: tuple[Finding, ...], can_work: bool) -> str:
    """Return the findings as a table to read, advice below its part, the verdict last."""
    width = max(len(finding.part) for finding in findings)
    lines = [
        line
        for finding in findings
        for line in (
            f"{' ' if finding.is_well else '!'} {finding.part:{width}}  {finding.state}",
            *(f"  {'':{width}}  {advice}" for advice in finding.advice),
        )
    ]
    verdict = "facedown can work." if can_work else "facedown cannot work: see the lines marked with !."
    return "\n".join([*lines, "", verdict])


def _library(name: str, distribution: str, module: str) -> Finding:
    try:
        loaded = import_module(module)
    except Exception as error:  # a broken native library may raise anything
        return Finding(name, f"cannot be loaded: {error}", is_well=False, advice=(_REINSTALL,))
    own = getattr(loaded, "__version__", "of an unknown version")
    return Finding(name, _version(distribution) or str(own), is_well=True)


def _readers() -> Iterator[Finding]:
    try:
        from scanner.code_readers import readers_in_use
    except Exception as error:
        yield Finding("codes read by", f"nothing: {error}", is_well=False, advice=(_REINSTALL,))
        return
    for number, reader in enumerate(readers_in_use()):
        label = "codes read by" if number == 0 else "and by"
        if reader.in_use:
            yield Finding(label, f"{reader.name} {reader.version or ''}".strip(), is_well=True, is_needed=number == 0)
        else:
            state = f"not {reader.name}: {reader.reason}"
            yield Finding(label, state, is_well=False, is_needed=number == 0, advice=_ZBAR_ADVICE)


def _heic() -> Finding:
    try:
        import pillow_heif

        decoders = pillow_heif.libheif_info()["decoders"].values()
    except Exception as error:
        return Finding("HEIC photos", f"cannot be read: {error}", is_well=False, advice=(_REINSTALL,))
    if not any("HEVC" in decoder for decoder in decoders):
        return Finding("HEIC photos", "cannot be read: no HEVC decoder", is_well=False, advice=(_REINSTALL,))
    return Finding("HEIC photos", "can be read", is_well=True)


def _fonts() -> Finding:
    try:
        from kit.fonts import FACE_FILES, shapeless, width_mm

        for face in FACE_FILES:
            width_mm("Ines", face, 10)
        missing = shapeless("éøß純米大吟醸")
    except Exception as error:
        return Finding("fonts", f"cannot be opened: {error}", is_well=False, advice=(_REINSTALL,))
    if missing:
        return Finding("fonts", f"have no shape for {missing}", is_well=False, advice=(_REINSTALL,))
    return Finding("fonts", "can be opened", is_well=True)


def _version(distribution: str) -> str | None:
    try:
        return version(distribution)
    except PackageNotFoundError:
        return None
