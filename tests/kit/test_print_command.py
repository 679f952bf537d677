"""`facedown print`, through the shell and on real files."""

from __future__ import annotations

import errno
import json
import os
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode
from kit.record import layout_of, load_kit, opened_keys
from kit.session import Session, Shuffle
from kit.shell import main
from tests.kit import samples


def write(folder: Path, session: Session | None = None, *, seeded: bool = True) -> Path:
    path = folder / "session.toml"
    path.write_text(samples.session_file(session or samples.a_session(3), seeded=seeded), "utf-8")
    return path


def run(session: Path, kit: Path | str, *options: str) -> Result:
    return CliRunner().invoke(main, ["print", str(session), "--out", str(kit), *options])


@pytest.mark.parametrize("shuffle", ["host", "hand"])
def test_a_kit_folder_holds_the_files_of_the_format(tmp_path: Path, shuffle: Shuffle) -> None:
    """FORMATS, section 2."""
    pdfs = ["coasters.pdf", "forms.pdf", "host.pdf", *(["keys.pdf"] if shuffle == "host" else [])]
    result = run(write(tmp_path, samples.a_session(3, shuffle=shuffle)), tmp_path / "kit")
    assert result.exit_code == ExitCode.DONE
    assert sorted(path.name for path in (tmp_path / "kit").iterdir()) == sorted([*pdfs, "kit.json", "layout.json"])
    assert all(name in result.stdout for name in pdfs)
    kit = load_kit(tmp_path / "kit")
    assert f"Kit {kit.id}: 3 glasses, 3 tasters" in result.stdout
    assert layout_of(tmp_path / "kit").kit == kit.id


def test_what_to_type_next_survives_blanks_in_the_path(tmp_path: Path) -> None:
    result = run(write(tmp_path), tmp_path / "my first kit")
    assert f"facedown read --kit '{tmp_path}/my first kit'" in result.stdout


def test_two_prints_of_a_seed_are_the_same_bytes(tmp_path: Path) -> None:
    session = write(tmp_path, samples.a_session(5))
    for kit in ("one", "two"):
        assert run(session, tmp_path / kit).exit_code == ExitCode.DONE
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name


def test_two_prints_without_a_seed_are_two_kits(tmp_path: Path) -> None:
    session = write(tmp_path, seeded=False)
    kits = []
    for name in ("one", "two"):
        result = run(session, tmp_path / name)
        assert result.exit_code == ExitCode.DONE
        assert "seed" not in result.stderr
        kits.append(load_kit(tmp_path / name))
    assert kits[0].id != kits[1].id
    assert kits[0].secret != kits[1].secret
    salts = [key.salt for kit in kits for key in opened_keys(kit)]
    assert len(set(salts)) == 6


def test_a_seed_is_warned_of(tmp_path: Path) -> None:
    result = run(write(tmp_path), tmp_path / "kit")
    assert result.exit_code == ExitCode.DONE
    assert "has a seed. Whoever knows the seed knows the keys" in result.stderr
    assert str(samples.SEED) not in result.output


def test_an_existing_kit_needs_force(tmp_path: Path) -> None:
    session = write(tmp_path, seeded=False)
    assert run(session, tmp_path / "kit").exit_code == ExitCode.DONE
    before = (tmp_path / "kit" / "kit.json").read_bytes()
    result = run(session, tmp_path / "kit")
    assert result.exit_code == ExitCode.REFUSED
    assert "it exists already" in result.stderr
    assert (tmp_path / "kit" / "kit.json").read_bytes() == before
    again = run(session, tmp_path / "kit", "--force")
    assert again.exit_code == ExitCode.DONE
    assert f"kit {json.loads(before)['kit']} is replaced" in again.stderr
    assert (tmp_path / "kit" / "kit.json").read_bytes() != before


def test_force_is_refused_where_no_kit_is(tmp_path: Path) -> None:
    (tmp_path / "kit").mkdir()
    (tmp_path / "kit" / "letter.txt").write_text("mine")
    result = run(write(tmp_path), tmp_path / "kit", "--force")
    assert result.exit_code == ExitCode.REFUSED
    assert "no kit folder" in result.stderr
    assert (tmp_path / "kit" / "letter.txt").read_text() == "mine"


@pytest.mark.parametrize(
    ("name", "shown"),
    [("Ines 🍶", "🍶"), ("شروق", "ش"), ("נעמה", "נ"), ("한나", "한"), ("ज्योति", "ज")],
)
def test_a_name_that_no_font_can_show_is_refused_by_its_characters(tmp_path: Path, name: str, shown: str) -> None:
    result = run(write(tmp_path, samples.a_session(3, names=("Ines", name))), tmp_path / "kit")
    assert result.exit_code == ExitCode.REFUSED
    assert name in result.stderr
    assert "the fonts have no shape for" in result.stderr
    assert shown in result.stderr
    assert not (tmp_path / "kit").exists()


@pytest.mark.parametrize("where", ["title", "pour", "style"])
def test_no_printed_text_may_have_a_character_without_a_shape(tmp_path: Path, where: str) -> None:
    session = samples.a_session(3)
    if where == "title":
        session = replace(session, title="Flight 🍶")
    else:
        first = replace(session.pours[0], name="🍶") if where == "pour" else replace(session.pours[0], style="🍶")
        session = replace(session, pours=(first, *session.pours[1:]))
    result = run(write(tmp_path, session), tmp_path / "kit")
    assert result.exit_code == ExitCode.REFUSED
    assert "🍶" in result.stderr


@pytest.mark.parametrize("name", ["Zoé Søgård-Weiß", "純米大吟醸", "Ελένη Ωμέγα", "Жанна", "Nguyễn Thị Hạnh", "ﾊﾝｶｸ"])
def test_names_in_latin_greek_cyrillic_and_japanese_are_printed(tmp_path: Path, name: str) -> None:
    assert run(write(tmp_path, samples.a_session(3, names=(name,))), tmp_path / "kit").exit_code == ExitCode.DONE


@pytest.mark.parametrize("bad", ['title = "no more"', "not toml at all", "", 'title = "\\u0000"'])
def test_a_session_file_that_is_wrong_prints_nothing(tmp_path: Path, bad: str) -> None:
    path = tmp_path / "session.toml"
    path.write_text(bad)
    result = run(path, tmp_path / "kit")
    assert result.exit_code == ExitCode.REFUSED
    assert result.stderr.startswith("facedown: ")
    assert "session.toml" in result.stderr
    assert not (tmp_path / "kit").exists()


def test_wrong_usage_has_its_own_status(tmp_path: Path) -> None:
    assert CliRunner().invoke(main, ["print", str(write(tmp_path))]).exit_code == ExitCode.USAGE
    assert run(write(tmp_path), tmp_path / "kit", "--loud").exit_code == ExitCode.USAGE


def test_a_path_through_a_file_is_the_disks_refusal(tmp_path: Path) -> None:
    session = write(tmp_path)
    result = run(session, session / "kit")
    assert result.exit_code == ExitCode.STORAGE
    assert "session.toml/kit: the disk refused" in result.stderr
    assert session.is_file()


def test_a_name_too_long_for_the_disk_is_the_disks_refusal(tmp_path: Path) -> None:
    result = run(write(tmp_path), tmp_path / ("k" * 400))
    assert result.exit_code == ExitCode.STORAGE
    assert "too long" in result.stderr


def test_a_full_disk_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    session = write(tmp_path)
    monkeypatch.setattr(os, "fsync", full)
    result = run(session, tmp_path / "kit")
    assert result.exit_code == ExitCode.STORAGE
    assert "no space left" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["session.toml"]


def test_an_interrupted_print_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(_: int) -> None:
        raise KeyboardInterrupt

    session = write(tmp_path)
    monkeypatch.setattr(os, "fsync", interrupt)
    assert run(session, tmp_path / "kit").exit_code == ExitCode.INTERRUPTED
    assert [path.name for path in tmp_path.iterdir()] == ["session.toml"]


def test_forty_tasters_have_every_sheet_in_taster_order() -> None:
    layout = samples.printed_for_forty().layout
    forms = [page for page in layout.pages if page.pdf == "forms.pdf"]
    assert [(page.taster, page.role) for page in forms] == [
        (taster, role) for taster in range(1, 41) for role in ("notes-1", "notes-2", "match")
    ]
    assert [page.pdf_page for page in forms] == list(range(1, 121))
    assert len({page.sheet for page in layout.pages}) == 160
    assert [(card.number, card.pdf_page) for card in layout.row_ends] == [(n, n) for n in range(1, 41)]
    assert [label.number for label in layout.coasters] == [1, 2, 3, 4, 5]


def test_layout_and_record_are_utf_8_json_with_plain_numbers(tmp_path: Path) -> None:
    run(write(tmp_path, samples.a_session(5)), tmp_path / "kit")
    text = (tmp_path / "kit" / "kit.json").read_text("utf-8")
    assert "純米大吟醸" in text
    layout = json.loads((tmp_path / "kit" / "layout.json").read_text("utf-8"))
    first = layout["pages"][0]
    assert set(first["marks"][0]) == {"field", "option", "pick", "x_mm", "y_mm", "w_mm", "h_mm"}
    assert (first["pdf"], first["pdf_page"], first["role"], first["taster"]) == ("forms.pdf", 1, "notes-1", 1)
