"""Which module may import what: the directions of DESIGN, "Rooms", as data."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

ONLY_IN = {
    "reportlab": {"kit/fonts.py", "scanner/reports/chart.py", "scanner/reports/chart_pdf.py"},
    "qrcode": {"kit/codes.py"},
    "zxingcpp": {"scanner/code_readers.py"},
    "pyzbar": {"scanner/code_readers.py"},
    "pypdfium2": {"scanner/pdf_sources.py", "scanner/rehearsal/prints.py"},
    "cryptography": {"kit/passphrase.py"},
    "sqlite3": {"scanner/archive/database.py", "scanner/archive/schema.py"},
    "bagit": {"scanner/archive/bag.py", "scanner/archive/bag_export.py"},
    "flask": {"scanner/review/web.py"},
    "click": {"kit/shell.py", "kit/lazy_group.py", "kit/commands/*", "scanner/commands/*"},
}
"""Outside library → the only files of kit/ and scanner/ that import it."""

NEVER_IN_KIT = {"scanner", "cv2", "numpy", "PIL", "zxingcpp", "pyzbar", "pypdfium2"}


def modules(*folders: str) -> list[Path]:
    return [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            names.add(node.module)
    return {name.split(".")[0] for name in names}


@pytest.mark.parametrize("path", modules("kit"), ids=lambda path: str(path.relative_to(ROOT)))
def test_kit_knows_nothing_of_images_or_of_the_scanner(path: Path) -> None:
    assert not imported(path) & NEVER_IN_KIT


@pytest.mark.parametrize("library", sorted(ONLY_IN))
def test_an_outside_library_is_imported_only_where_it_belongs(library: str) -> None:
    users = {path.relative_to(ROOT) for path in modules("kit", "scanner") if library in imported(path)}
    strays = {path for path in users if not any(path.match(allowed) for allowed in ONLY_IN[library])}
    assert users
    assert not strays


def test_templates_hold_data_alone() -> None:
    assert [path.name for path in modules("templates")] == ["__init__.py"]
