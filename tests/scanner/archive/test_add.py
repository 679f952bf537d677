"""Adding piles of real files: once, twice, better, otherwise, by two processes at once, for a kit that comes later."""

from __future__ import annotations

import json
import multiprocessing
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import cv2
import pytest
from click.testing import CliRunner, Result

from kit.record import layout_sha256_of, load_kit, record_file
from kit.shell import main
from scanner.archive.contents import Contents, contents_of, differences
from scanner.archive.database import Archive, archive_at
from scanner.archive.readings import readings_of
from scanner.archive.store import cutout_path, digest_of, original_path
from scanner.archive.verify import verify
from scanner.reading import Outcome, PageReading
from tests.make_samples import SAMPLES
from tests.scanner.archive.pile import KIT, STRANGER, Pile


def facedown(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_what_became_of_every_page_is_told(pile: Pile, tmp_path: Path) -> None:
    told = {Path(one.source).name: one.what for one in pile.add(tmp_path / "archive")}
    assert told == {
        "doubtful.jpg": "doubts",
        "kofi-match.jpg": "read",
        "kofi-notes-1.jpg": "better",
        "kofi-notes-2.jpg": "read",
        "ada-match.heic": "read",
        "ada-notes-1.heic": "read",
        "other.jpg": "conflict",
        "stranger.jpg": "waits",
        "dark.jpg": "unreadable",
    }


def test_the_same_pile_twice_changes_nothing(pile: Pile, folder: Path) -> None:
    with archive_at(folder) as archive:
        before = contents_of(archive)
    assert {one.what for one in pile.add(folder, now="2027-01-01T00:00:00+00:00")} == {"there already"}
    with archive_at(folder) as archive:
        assert differences(contents_of(archive), before) == []


def test_originals_are_kept_byte_for_byte_under_their_digest(pile: Pile, archive: Archive) -> None:
    rows = archive.connection.execute("SELECT name, digest, suffix FROM originals").fetchall()
    given = {file.name: file for file in pile.files}
    assert {row["name"] for row in rows} == set(given)
    for row in rows:
        kept = original_path(archive.folder, row["digest"], row["suffix"])
        assert kept.read_bytes() == given[row["name"]].read_bytes()
        assert digest_of(kept) == row["digest"] == kept.stem


def test_a_better_picture_supersedes_and_the_former_is_kept(archive: Archive) -> None:
    rows = archive.connection.execute(
        "SELECT name, superseded_by IS NULL AS counts FROM sheets JOIN originals ON digest = original WHERE sheet = ?",
        (f"{KIT}-0007-1",),
    ).fetchall()
    assert {row["name"]: bool(row["counts"]) for row in rows} == {"doubtful.jpg": False, "kofi-notes-1.jpg": True}


def test_the_readings_are_those_that_count_and_a_conflict_is_one(pile: Pile, archive: Archive) -> None:
    folders, reading = readings_of(archive)
    assert [load_kit(folder).id for folder in folders] == [KIT]
    assert {page.source: page.outcome for page in reading.pages} == {
        "kofi-match.jpg": Outcome.READ,
        "kofi-notes-1.jpg": Outcome.READ,
        "kofi-notes-2.jpg": Outcome.READ,
        "ada-match.heic": Outcome.READ,
        "ada-notes-1.heic": Outcome.READ,
        "other.jpg": Outcome.CONFLICT,
    }
    # Every mark of every sheet comes out as the reader gave it, empty boxes included.
    for page in reading.pages:
        [read] = pile.readings[page.source]
        assert isinstance(read, PageReading)
        assert [(m.field, m.option, m.state) for m in page.marks] == [(m.field, m.option, m.state) for m in read.marks]


def test_a_kit_is_archived_without_any_address(pile: Pile, tmp_path: Path) -> None:
    session = (SAMPLES / "daily.toml").read_text("utf-8").replace('shuffle = "hand"', 'shuffle = "twin"')
    session = session.replace("title ", 'send_to = ["9 Salt Lane"]\ntitle ', 1)
    (tmp_path / "post.toml").write_text(session.rstrip() + '\naddress = ["7 Marsh Street", "Saltmarsh"]\n', "utf-8")
    printed = facedown("print", tmp_path / "post.toml", "--out", tmp_path / "kit")
    assert printed.exit_code == 0, printed.output
    assert "Marsh Street" in (tmp_path / "kit" / "kit.json").read_text("utf-8")
    assert facedown("archive", "add", "--archive", tmp_path / "a", "--kit", tmp_path / "kit").exit_code == 0
    kept = [path for path in (tmp_path / "a").rglob("*") if path.is_file()]
    assert len(kept) >= 3
    assert not [path for path in kept if b"Marsh Street" in path.read_bytes() or b"Salt Lane" in path.read_bytes()]


def test_writing_areas_are_cut_out_and_can_be_looked_at(archive: Archive) -> None:
    rows = archive.connection.execute(
        "SELECT cutouts.* FROM cutouts JOIN sheets ON sheets.id = cutouts.sheet WHERE sheets.sheet = ?",
        (f"{KIT}-0007-2",),
    ).fetchall()
    assert {row["kind"] for row in rows} == {"writing"}
    for row in rows:
        picture = cv2.imread(str(cutout_path(archive.folder, row["digest"])), cv2.IMREAD_GRAYSCALE)
        assert picture is not None
        assert picture.max() - picture.min() > 50  # ink on paper


def test_two_processes_adding_at_once_lose_nothing(pile: Pile, filled: Path, tmp_path: Path) -> None:
    context = multiprocessing.get_context("fork")
    shares = (pile.files[:6], pile.files[3:])
    with pytest.warns() if sys.version_info >= (3, 12) else _nothing():
        workers = [context.Process(target=pile.add, args=(tmp_path / "archive", share)) for share in shares]
        for worker in workers:
            worker.start()
    for worker in workers:
        worker.join()
    assert [worker.exitcode for worker in workers] == [0, 0]
    with archive_at(tmp_path / "archive") as archive:
        assert verify(archive).faults == ()
        both = contents_of(archive)
    with archive_at(filled) as archive:
        alone = contents_of(archive)
    # The piles are other piles, and of two pictures of a sheet that conflict the first to come counts.
    assert both.files == alone.files
    assert both.rows["marks"] == alone.rows["marks"]
    assert _without_order(both) == _without_order(alone)


def test_a_sheet_waits_until_its_kit_is_known_and_is_read_then(tmp_path: Path) -> None:
    (tmp_path / "one.toml").write_text((SAMPLES / "winter.toml").read_text("utf-8"), "utf-8")
    archive = tmp_path / "archive"
    early = facedown("archive", "add", "--archive", archive, SAMPLES / "kofi-match.jpg")
    assert early.exit_code == 3
    assert f"it waits for kit {KIT}" in early.output
    assert facedown("print", tmp_path / "one.toml", "--out", tmp_path / "kit").exit_code == 0
    later = facedown("archive", "add", "--archive", archive, "--kit", tmp_path / "kit")
    assert (later.exit_code, f"{KIT}-0007-3  read" in later.output) == (0, True)
    listed = json.loads(facedown("archive", "list", "--archive", archive, "--json", "-").output)
    assert (listed["waiting"], listed["totals"]["sheets"]) == ([], 1)
    shown = json.loads(facedown("archive", "show", "--archive", archive, f"{KIT}-0007-3", "--json", "-").output)
    assert [(one["source"], one["standing"]) for one in shown["readings"]] == [("kofi-match.jpg", "counts")]


def test_the_stranger_of_the_pile_is_named_as_waited_for(folder: Path) -> None:
    listed = facedown("archive", "list", "--archive", folder)
    assert (listed.exit_code, f"1 sheets wait for kit {STRANGER}." in listed.output) == (0, True)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [("notes.txt", b"pear, melon", "not an image"), ("empty.jpg", b"", "empty"), ("gone.jpg", None, "no such file")],
)
def test_what_is_no_picture_is_refused_with_a_sentence(
    folder: Path, tmp_path: Path, name: str, content: bytes | None, words: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    answer = facedown("archive", "add", "--archive", folder, tmp_path / name)
    assert (answer.exit_code, words in answer.output) == (4, True), answer.output


def test_an_archive_is_not_made_among_other_files(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    answer = facedown("archive", "add", "--archive", tmp_path, SAMPLES / "kofi-match.jpg")
    assert (answer.exit_code, "not empty" in answer.output) == (5, True)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_another_kit_of_the_same_id_is_refused(pile: Pile, folder: Path, tmp_path: Path) -> None:
    kit, other = load_kit(pile.kit), tmp_path / "kit"
    other.mkdir()
    (other / "layout.json").write_bytes((pile.kit / "layout.json").read_bytes())
    record = record_file(replace(kit, secret=b"another secret"), layout_sha256_of(pile.kit))
    (other / "kit.json").write_bytes(record)
    answer = facedown("archive", "add", "--archive", folder, "--kit", tmp_path / "kit")
    assert (answer.exit_code, "another kit" in answer.output) == (4, True)


def test_a_kit_with_a_taster_more_takes_the_place_of_the_former(folder: Path, pile: Pile, tmp_path: Path) -> None:
    kit = tmp_path / "kit"
    subprocess.run(["cp", "-r", str(pile.kit), str(kit)], check=True)
    added = facedown("print", "--add", "Tove", kit)
    assert added.exit_code == 0, added.output
    assert facedown("archive", "add", "--archive", folder, "--kit", kit).exit_code == 0
    shown = json.loads(facedown("archive", "show", "--archive", folder, "Tove", "--json", "-").output)
    assert [(one["sitting"], one["taster"]) for one in shown["sittings"]] == [(KIT, 9)]
    assert facedown("archive", "verify", "--archive", folder).exit_code == 0


def _without_order(contents: Contents) -> list[dict[str, object]]:
    sheets = [json.loads(row) for row in contents.rows["sheets"].elements()]
    order = ("superseded_by", "conflict", "left_over")
    kept = [{name: value for name, value in sheet.items() if name not in order} for sheet in sheets]
    return sorted(kept, key=repr)


class _nothing:  # noqa: N801
    def __enter__(self) -> None: ...
    def __exit__(self, *_: object) -> None: ...
