"""Every file that somebody gives has a size beyond which it is not read, and a sentence says so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kit.errors import FacedownError
from kit.record import LAYOUT_FILE, RECORD_FILE, layout_of, load_kit
from kit.session import load_session
from kit.told_keys import load_told_keys
from scanner.archive.typed import load_typed
from scanner.reading_json import load_reading
from scanner.results.cellar import load_cellar
from scanner.settle import load_answers
from tests.fuzz import good
from tests.fuzz.text_doors import TODAY

FILES: dict[str, tuple[Callable[[Path], object], int]] = {
    "session.toml": (load_session, 2),
    f"kit/{RECORD_FILE}": (lambda path: load_kit(path.parent), 20),
    f"kit/{LAYOUT_FILE}": (lambda path: layout_of(path.parent), 1_000),
    "keys.json": (lambda path: load_told_keys(path, load_kit(path.parent / "kit")), 20),
    "reading.json": (load_reading, 1_000),
    "answers.toml": (load_answers, 2),
    "typed.toml": (load_typed, 2),
    "cellar.csv": (lambda path: load_cellar(path, TODAY), 2),
}


@pytest.mark.parametrize("name", FILES)
def test_a_file_larger_than_its_kind_can_be_is_refused_in_a_sentence(name: str, tmp_path: Path) -> None:
    load, most_mb = FILES[name]
    good.put_kit(tmp_path / "kit")
    with (tmp_path / name).open("wb") as file:
        file.truncate(most_mb * 1_000_000 + 1)  # sparse where the disk can have it so
    with pytest.raises(FacedownError, match=rf"{Path(name).name}: .*more than {most_mb:,} MB"):
        load(tmp_path / name)
