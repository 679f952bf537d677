"""All three reports in the other languages: no English of the program stands on them, whatever they have to say.

What is taken away before the look: names, dates, codes and reasons that files give, and names of commands and options.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode
from kit.shell import main
from kit.wording import languages
from tests.outside_programs import left_out
from tests.scanner.reports.club import DRINKS, TASTERS, Evening, evening, session_toml
from tests.scanner.reports.read_back import flowing, page_texts

Run = Callable[..., Result]
NAMES = tuple(DRINKS)
OTHERS = [language for language in languages() if language != "en"]
COMMANDS = ("facedown suggest", "facedown read --settle", "facedown", "--cellar", "JSON")

pytestmark = [
    pytest.mark.skipif(left_out("pdftotext"), reason="poppler's programs are not installed"),
    pytest.mark.parametrize("language", OTHERS),
]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, ["report", *map(str, arguments)])


def english_of(run: Run, kind: str, *made: Evening, options: tuple[str, ...] = ()) -> list[str]:
    """Print a report; return the words of more than two Latin letters on it that no file gave."""
    given = [argument for one in made for argument in one.arguments]
    result = run(kind, *given, "--out", "r.pdf", "--json", "r.json", *options)
    assert result.exit_code in (ExitCode.DONE, ExitCode.LOOK), result.output
    text = flowing(" ".join(page_texts(Path("r.pdf"))))
    entry = json.loads(Path("r.json").read_text("utf-8"))
    styles = [style for style, _, _ in DRINKS.values()]
    kept = {*COMMANDS, *NAMES, *TASTERS, *styles, *_values(entry, ("kit", "reason", "title", "seal", "source"))}
    for name in sorted((flowing(one) for one in kept if one), key=len, reverse=True):
        text = text.replace(name, " ")
    words = re.findall(r"[A-Za-z][a-z]{2,}", re.sub(r"[A-Z0-9]{4}(-[A-Z0-9]{4}){3}|[A-Z0-9]{6}", " ", text))
    # A reason that is broken over lines beside another column comes out in parts.
    reasons = {word for reason in _values(entry, ("reason",)) for word in reason.split()}
    return [word for word in words if word not in reasons]


def _values(entry: Any, keys: tuple[str, ...]) -> list[str]:
    if isinstance(entry, list):
        return [value for one in entry for value in _values(one, keys)]
    if isinstance(entry, dict):
        own = [value for key, value in entry.items() if key in keys and isinstance(value, str)]
        return own + [value for one in entry.values() for value in _values(one, keys)]
    return []


@pytest.mark.parametrize("keys", ["own", "shared"])
@pytest.mark.parametrize("kind", ["slip", "table"])
def test_a_sitting_with_doubts_and_missing_sheets(
    run: Run, tmp_path: Path, kind: str, keys: str, language: str
) -> None:
    toml = session_toml(NAMES[:4], keys=keys, language=language)
    for number, sealed in enumerate((False, True)):
        made = evening(
            tmp_path / f"kit{number}",
            toml,
            skip=lambda taster, role, sealed=sealed: (taster, role) in ((2, "notes-1"), (4, "match" if sealed else "")),  # type: ignore[misc]
            doubtful=[7],
            right=[0, 1, 2, 4, None, 4, 0, 1],
        )
        assert english_of(run, kind, made) == []


@pytest.mark.parametrize("kind", ["slip", "table", "progress"])
@pytest.mark.parametrize("shuffle", ["host", "hand"])
@pytest.mark.parametrize("right", [4, 0])
def test_several_sittings(run: Run, tmp_path: Path, kind: str, shuffle: str, right: int, language: str) -> None:
    made = [
        evening(
            tmp_path / f"kit{day}",
            session_toml(NAMES[day : day + 4], TASTERS[:2], day, language=language, shuffle=shuffle),
            right=[right, right],
            seed=day,
        )
        for day in range(3)
    ]
    every = ("--every",) if kind != "progress" else ()
    assert english_of(run, kind, *made, options=every) == []


def test_sittings_that_do_not_count_and_a_cellar_with_too_little(run: Run, tmp_path: Path, language: str) -> None:
    cellar = tmp_path / "cellar.toml"
    cellar.write_text('[[drinks]]\nname = "Heron Marsh"\n[[drinks]]\nname = "Gull Rock"\nleft_ml = 3\n')
    made = [
        evening(
            tmp_path / f"kit{day}",
            session_toml(NAMES[:3], TASTERS[:2], day, language=language, shuffle="hand" if day == 2 else "host"),
            right=[None if day < 2 else 3, 3],
            doubtful=[2] if day == 1 else [],
            skip=lambda taster, role, day=day: day == 2 and role == "turned",  # type: ignore[misc]
        )
        for day in range(3)
    ]
    assert english_of(run, "progress", *made, options=("--cellar", str(cellar))) == []
    assert english_of(run, "progress", *made, options=("--club",)) == []
    entry = json.loads(Path("r.json").read_text("utf-8"))
    reasons = {one["reason"] for taster in entry["tasters"] for one in taster["left_out"]}
    assert reasons == {"no_claims", "unsettled", "unknown"}


def test_a_word_of_english_is_found(run: Run, tmp_path: Path, language: str) -> None:
    made = evening(tmp_path / "kit", session_toml(NAMES[:3], ("Stranger", "Ines"), language=language))
    assert "Stranger" in english_of(run, "table", made)
