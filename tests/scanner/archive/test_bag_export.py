"""What is exported: a bag by RFC 8493, looked at by the reference library and by programs of other people."""

from __future__ import annotations

import csv
import errno
import hashlib
import json
import os
import shutil
import subprocess
import sys
from io import StringIO
from pathlib import Path

import bagit
import pytest

from scanner.archive.bag import verify_bag
from scanner.archive.database import DATABASE_FILE, archive_at
from scanner.archive.readings import readings_of
from scanner.archive.store import ORIGINALS
from scanner.reading_json import load_reading
from tests.outside_programs import left_out
from tests.scanner.archive.bags import FORMULA_NAME, FORMULA_TITLE, WRITTEN, facedown, files_of
from tests.scanner.archive.pile import KIT

FORMULA_STARTS = tuple("=+-@\t\r＝＋－＠")
"""OWASP, CSV Injection: what a cell must not begin with."""


def table(bag: Path, name: str) -> list[dict[str, str]]:
    with (bag / "data" / "tables" / f"{name}.csv").open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_the_reference_library_finds_the_bag_valid(exported: Path) -> None:
    assert bagit.Bag(str(exported)).validate()
    command = [sys.executable, "-m", "bagit", "--validate", "--quiet", str(exported)]
    assert subprocess.run(command, capture_output=True, check=False).returncode == 0


def test_the_bag_is_of_version_1_as_rfc_8493_spells_it(exported: Path) -> None:
    """RFC 8493, 2.1.1: exactly these two lines."""
    declared = (exported / "bagit.txt").read_bytes()
    assert declared == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


@pytest.mark.parametrize("algorithm", ["sha256", "sha512"])
def test_every_manifest_lists_every_file_of_the_payload_once(exported: Path, algorithm: str) -> None:
    """RFC 8493, 3: every payload file in every payload manifest; the digests here are taken by hashlib alone."""
    lines = (exported / f"manifest-{algorithm}.txt").read_text("utf-8").splitlines()
    listed = {name: digest for digest, name in (line.split(maxsplit=1) for line in lines)}
    payload = {path.relative_to(exported).as_posix(): path for path in files_of(exported / "data")}
    assert len(listed) == len(lines)
    assert listed == {name: hashlib.new(algorithm, path.read_bytes()).hexdigest() for name, path in payload.items()}


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is missing")
def test_the_command_that_the_readme_names_finds_it_whole_and_a_flipped_bit(bag: Path) -> None:
    readme = (bag / "data" / "README.txt").read_text("utf-8")
    command = next(line.split() for line in readme.splitlines() if line.strip().startswith("sha256sum"))
    assert subprocess.run(command, cwd=bag, capture_output=True, check=False).returncode == 0
    (bag / "data" / "README.txt").write_text(readme.replace("KIT", "KIF", 1), "utf-8")
    assert subprocess.run(command, cwd=bag, capture_output=True, check=False).returncode == 1


def test_the_readme_names_every_folder_and_table(exported: Path) -> None:
    readme = (exported / "data" / "README.txt").read_text("utf-8")
    names = [path.name for path in (exported / "data").iterdir() if path.is_dir()]
    assert not [name for name in names if f"{name}/" not in readme]
    assert not [path.stem for path in (exported / "data" / "tables").iterdir() if f"  {path.stem}  " not in readme]
    assert max(map(len, readme.splitlines())) <= 100


def test_the_readme_tells_how_to_check_a_key_rightly(exported: Path, pile: object) -> None:
    """Done here by the README's words alone, against the seal code in kit.json."""
    record = json.loads((exported / "data" / "archive" / "kits" / KIT / "kit.json").read_bytes())
    import base64

    key = record["keys"][1]
    nonce, masked = bytes.fromhex(key["nonce"]), base64.b64decode(key["masked"])
    stream = hashlib.shake_256(f"facedown-seal/1|mask|{KIT}|2|".encode() + nonce).digest(len(masked))
    plain = bytes(one ^ other for one, other in zip(masked, stream, strict=True))
    numbers = ",".join(str(number) for number in plain[:8] if number)
    digest = hashlib.sha256(f"facedown-seal/1|{KIT}|2|{numbers}|".encode() + plain[8:]).digest()
    bits = f"{int.from_bytes(digest, 'big'):0256b}"[:80]
    alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
    assert "".join(alphabet[int(bits[place : place + 5], 2)] for place in range(0, 80, 5)) == key["seal"]


def test_readings_are_those_of_the_archive(kept: Path, exported: Path) -> None:
    with archive_at(kept) as archive:
        _, expected = readings_of(archive, [KIT])
    assert load_reading(exported / "data" / "readings" / f"{KIT}.json") == expected


def test_results_are_those_of_score_but_tell_no_key_before_its_time(kept: Path, exported: Path) -> None:
    found = json.loads((exported / "data" / "results" / f"{KIT}.json").read_bytes())
    scored = json.loads(facedown("score", "--archive", kept, "--kit", KIT, "--json", "-").stdout)
    assert found["tasters"] == scored["tasters"]
    # Kofi's claim is in conflict, six have claimed nothing.
    assert [one["name"] for one in found["tasters"] if one["truth"]] == ["Ada Lindqvist"]
    told = {row["name"] for row in table(exported, "results") if row["truth"]}
    assert told == {"Ada Lindqvist", f"'{FORMULA_NAME}"}


def test_tables_have_a_row_for_each_of_the_archives(kept: Path, exported: Path) -> None:
    with archive_at(kept) as archive:
        counts = {
            name: archive.connection.execute(f"SELECT count(*) FROM {table_}").fetchone()[0]
            for name, table_ in {
                "sheets": "sheets",
                "marks": "marks",
                "settlements": "settlements",
                "handwriting": "handwriting",
                "originals": "originals",
                "waiting": "waiting",
                "tasters": "sittings_tasters",
                "drinks": "sittings_drinks",
                "sittings": "sittings",
            }.items()
        }
    assert {name: len(table(exported, name)) for name in counts} == counts
    assert all((exported / "data" / row["file"]).is_file() for row in table(exported, "originals"))
    assert table(exported, "handwriting")[0]["text"] == f"{WRITTEN}\nand moss"


def test_no_cell_begins_a_formula_whichever_sign_separates_the_cells(exported: Path) -> None:
    for path in (exported / "data" / "tables").glob("*.csv"):
        text = path.read_text("utf-8-sig")
        for separator in ",;\t":
            for row in csv.reader(StringIO(text), delimiter=separator):
                assert not [cell for cell in row if cell.lstrip(' "').startswith(FORMULA_STARTS)], path
    assert {row["title"] for row in table(exported, "sittings")} >= {FORMULA_TITLE.replace("@", "'@")}


def test_addresses_never_reach_a_bag(tmp_path: Path) -> None:
    session = tmp_path / "post.toml"
    session.write_text(
        """
title = "By post"
date = 2026-12-05
drink = "sake"
shuffle = "twin"
paper = "A4"
send_to = ["Saltmarsh Sake Circle", "7 Cockle Strand", "Mudhaven"]
[[pours]]
name = "Heron Marsh"
[[pours]]
name = "Gull Rock"
[[pours]]
name = "Old Jetty"
[[tasters]]
name = "Ines"
address = ["11 Eelgrass Lane", "Mudhaven"]
""",
        "utf-8",
    )
    assert facedown("print", session, "--out", tmp_path / "kit").exit_code == 0
    assert facedown("archive", "add", "--archive", tmp_path / "a", "--kit", tmp_path / "kit").exit_code == 0
    answer = facedown("archive", "export", "--archive", tmp_path / "a", tmp_path / "bag")
    assert (answer.exit_code, "no claims were read" in answer.output) == (0, True)
    octets = b"".join(path.read_bytes() for path in files_of(tmp_path / "bag"))
    assert b"Eelgrass Lane" in (tmp_path / "kit" / "kit.json").read_bytes()
    assert not [word for word in (b"Eelgrass", b"Cockle", b"Mudhaven") if word in octets]


def test_the_report_counts_what_there_is_and_a_pipe_sees_no_progress(kept: Path, tmp_path: Path) -> None:
    small = tmp_path / "small"
    shutil.copytree(kept, small)
    facedown("archive", "take-back", "--archive", small, f"{KIT}-0008-1")
    for sheet in (f"{KIT}-0007-1", f"{KIT}-0007-2", f"{KIT}-0007-3", f"{KIT}-0008-3"):
        facedown("archive", "take-back", "--archive", small, sheet)
    answer = facedown("archive", "export", "--archive", small, tmp_path / "bag", "--json", "-")
    report = json.loads(answer.stdout)
    assert (answer.exit_code, answer.stderr) == (0, "")
    payload = files_of(tmp_path / "bag" / "data")
    assert report == {
        "bag": str(tmp_path / "bag"),
        "sheets": 0,
        "without_picture": [],
        "not_scored": {KIT: "no claims were read"},
        "files": len(payload),
        "bytes": sum(path.stat().st_size for path in payload),
    }


@pytest.mark.parametrize("there", ["a file", "a folder with a file", "an archive", "a link"])
def test_what_is_there_is_never_written_over(filled: Path, tmp_path: Path, there: str) -> None:
    target = tmp_path / "bag"
    match there:
        case "a file":
            target.write_text("mine")
        case "a folder with a file":
            target.mkdir()
            (target / "mine").write_text("mine")
        case "an archive":
            shutil.copytree(filled, target)
        case "a link":
            target.symlink_to(tmp_path / "elsewhere")
    before = [(path, path.read_bytes()) for path in files_of(tmp_path)]
    answer = facedown("archive", "export", "--archive", filled, target)
    assert (answer.exit_code, "already" in answer.stderr) == (4, True)
    assert [(path, path.read_bytes()) for path in files_of(tmp_path)] == before


def test_a_bag_within_the_archive_is_refused(folder: Path) -> None:
    before = files_of(folder)
    answer = facedown("archive", "export", "--archive", folder, folder / "originals" / "bag")
    assert (answer.exit_code, "within the archive" in answer.stderr) == (4, True)
    assert files_of(folder) == before


def test_a_damaged_archive_is_not_exported_and_the_sheet_is_named(folder: Path, tmp_path: Path) -> None:
    with archive_at(folder) as archive:
        row = archive.connection.execute("SELECT * FROM originals WHERE name = 'kofi-match.jpg'").fetchone()
    path = folder / ORIGINALS / row["digest"][:2] / f"{row['digest']}.jpg"
    path.write_bytes(path.read_bytes()[:-1] + b"?")
    answer = facedown("archive", "export", "--archive", folder, tmp_path / "bag")
    assert (answer.exit_code, f"{KIT}-0007-3" in answer.stderr) == (5, True)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["archive"]


def test_a_full_disk_leaves_nothing(filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "manifest-sha256.txt")

    monkeypatch.setattr("scanner.archive.bag_sheets.write_sheet_pdf", full)
    answer = facedown("archive", "export", "--archive", filled, tmp_path / "bag")
    assert (answer.exit_code, "no space left" in answer.stderr.lower()) == (5, True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(left_out("qpdf"), reason="qpdf is missing")
def test_every_sheet_that_counts_has_a_pdf_that_another_program_finds_sound(exported: Path) -> None:
    pdfs = files_of(exported / "data" / "sheets")
    counting = {row["sheet"] for row in table(exported, "sheets") if row["standing"] == "counts" and row["sheet"]}
    assert {path.stem for path in pdfs} == counting
    for path in pdfs:
        assert subprocess.run(["qpdf", "--check", str(path)], capture_output=True, check=False).returncode == 0


def test_a_bag_of_an_archive_is_whole(exported: Path) -> None:
    found = verify_bag(exported)
    assert (found.faults, found.harmless) == ((), ())
    assert (exported / "data" / "archive" / DATABASE_FILE).is_file()
