"""The table's total, keys that stay sealed until all claims are in, and hand shuffles too tame: what `score` says."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kit.chance_source import SeededChance
from kit.errors import ExitCode
from kit.keys import Key, OpenedKey, seal_key
from kit.record import Kit
from kit.session import Keys
from kit.shell import main
from scanner.commands.score import scores_text
from scanner.reading import Outcome, PageReading, Reading, TurnedReading, to_json
from scanner.score import Scores, scores
from scanner.score_json import to_json as scores_to_json
from scanner.table_score import TableScore
from scanner.what_stood import Sitting
from tests.kit.kept import record_files
from tests.scanner.test_score import KIT, full, match, notes, session, sheet_read, sitting, turned

SHARED: Key = (3, 1, 2)
Score = Callable[..., Result]


def of(keys: Keys, *drawn: Key, absent: tuple[int, ...] = ()) -> Sitting:
    made = sitting()
    opened = tuple(
        OpenedKey(taster, dict(zip("ABC", key, strict=True)), "00", "S") for taster, key in enumerate(drawn, start=1)
    )
    return replace(made, session=replace(made.session, keys=keys), keys=opened, absent=absent)


def scored(made: Sitting, *pages: PageReading) -> Scores:
    return scores([made], {"evening.json": full(*pages)})


def test_own_keys_total_by_the_sum_of_two_matching_laws() -> None:
    """Three glasses: (2 3 0 1)/6 with itself gives 4 12 9 4 6 0 1 of 36 for totals 0 … 6."""
    [table] = scored(of("own", SHARED, (1, 3, 2)), match(1, "3,1,2"), match(2, "1,2,3")).tables
    assert table == TableScore(KIT, 2, (1, 2), "own", 4, 6, Fraction(6 + 0 + 1, 36))
    assert table.sentence == "4 of 6; a table of guessers does this well or better 1 time in 5"


def test_a_shared_key_totals_by_its_own_law() -> None:
    """Both claim alike, so both are right alike: 2 3 0 1 of six keys, at totals 0, 2, 4 and 6."""
    [table] = scored(of("shared", SHARED, SHARED), match(1, "3,1,2"), match(2, "3,1,2")).tables
    assert (table.correct, table.chance_at_least, table.exact) == (6, Fraction(1, 6), True)
    assert "a table of guessers under its one key does this well or better 1 time in 6" in table.sentence


def test_balanced_keys_total_by_the_law_of_their_design() -> None:
    """Two of three glasses hold ABC and BCA renamed, and claim alike: 3 + 0 right twice in six, 1 + 1 thrice."""
    [table] = scored(of("balanced", (1, 2, 3), (2, 3, 1)), match(1, "1,2,3"), match(2, "1,2,3")).tables
    assert (table.correct, table.chance_at_least) == (3, Fraction(2, 6))


def test_a_taster_without_claims_is_not_counted() -> None:
    [table] = scored(of("own", SHARED, (1, 3, 2)), match(1, "3,1,2")).tables
    assert (table.counted, table.correct, table.of, table.chance_at_least) == ((1,), 3, 3, Fraction(1, 6))
    assert table.sentence.startswith("3 of 3 (1 of 2 tasters); ")
    [nobody] = scored(of("own", SHARED, (1, 3, 2))).tables
    assert (nobody.counted, nobody.correct, nobody.of, nobody.chance_at_least) == ((), None, 0, None)


def test_an_open_claim_leaves_the_tables_chance_open() -> None:
    result = scored(of("own", SHARED, (1, 3, 2)), match(1, "3,?1,2"), match(2, "1,3,2"))
    [table] = result.tables
    assert (table.correct, table.chance_at_least) == (5, None)
    assert table.sentence == "5 of 6 so far"
    assert "The table: 5 of 6 so far" in scores_text(result)


def test_the_total_is_told_for_people_and_for_programs() -> None:
    result = scored(of("shared", SHARED, SHARED), match(1, "3,1,2"), match(2, "3,2,1"))
    assert "The table: 4 of 6; a table of guessers under its one key" in scores_text(result)
    [table] = scores_to_json(result)["tables"]
    law = {"kit": KIT, "keys": "shared", "counted": [1, 2], "correct": 4, "of": 6, "exact": True}
    assert table == {**law, "chance_at_least": pytest.approx(1 / 3)}


def test_a_table_that_luck_could_never_lay_is_not_called_impossible() -> None:
    tasters = tuple(f"Taster {number}" for number in range(1, 401))
    table = TableScore(KIT, len(tasters), tuple(range(1, 401)), "own", 1200, 1200, 0.0)
    assert table.sentence.endswith("less than 1 time in 1,000,000,000,000")
    assert not table.exact


@pytest.mark.parametrize("keys", ["shared", "balanced"])
def test_nobody_is_scored_while_claims_of_such_a_set_are_missing(keys: Keys) -> None:
    result = scored(of(keys, SHARED, SHARED), match(1, "3,1,2"))
    assert [taster.score.correct for taster in result.tasters] == [None, None]
    assert [taster.truth.numbers for taster in result.tasters] == [None, None]
    assert result.tasters[0].sentence == "not scored: keys stay sealed until all claims are in"
    [sentence] = result.left_to_look_at
    assert f"has {keys} keys" in sentence
    assert f"the match sheet of Tomas ({KIT}-0002-3) is missing" in sentence
    assert "--absent 2" in sentence
    assert result.tables[0].correct is None


def test_own_keys_wait_for_nobody() -> None:
    result = scored(of("own", SHARED, SHARED), match(1, "3,1,2"))
    assert [taster.score.correct for taster in result.tasters] == [3, None]
    assert result.left_to_look_at == ()


def test_the_absent_are_not_waited_for_and_not_reminded() -> None:
    result = scored(of("balanced", SHARED, (1, 3, 2), absent=(2,)), match(1, "3,1,2"))
    assert [taster.score.correct for taster in result.tasters] == [3, None]
    assert (result.tasters[1].sentence, result.tasters[1].remarks) == ("absent", ())
    assert result.left_to_look_at == ()
    # The taster who stayed away had a key too; one key alone is uniform.
    assert result.tables[0].chance_at_least == Fraction(1, 6)
    entry = scores_to_json(result)
    assert entry["kits"][0]["absent"] == [2]
    assert [taster["absent"] for taster in entry["tasters"]] == [False, True]


def test_an_unreadable_match_sheet_is_still_waited_for() -> None:
    page = replace(match(2, "3,1,2"), outcome=Outcome.UNREADABLE, reason="Too dark.", marks=())
    result = scored(of("shared", SHARED, SHARED), match(1, "3,1,2"), page)
    assert result.tasters[0].score.correct is None
    assert any("is missing" in sentence for sentence in result.left_to_look_at)


def test_a_photographed_row_does_not_break_the_seal_of_a_shared_key() -> None:
    row = TurnedReading("row.jpg", 1, KIT, 1, Outcome.READ, None, SHARED)
    result = scores([of("shared", SHARED, SHARED)], {"r": replace(full(match(1, "3,1,2")), turned=(row,))})
    assert result.tasters[0].truth.numbers is None


def test_whoever_settles_a_claim_under_a_shared_key_is_not_shown_it_in_anothers_row() -> None:
    result = scored(of("shared", SHARED, SHARED), match(1, "1,2,3"), match(2, "3,?1,2"))
    assert "(" not in scores_text(result).split("\n\n")[1]
    settled = scored(of("shared", SHARED, SHARED), match(1, "1,2,3"), match(2, "3,1,2"))
    assert "1 (3)" in scores_text(settled)


HAND_KITS = tuple(f"H{number:05}" for number in range(8))


def by_hand(order: str, *, with_ids: bool = True) -> Scores:
    """Score eight hand sittings in which Ines's glasses always came to stand in one order."""
    flight = session("hand")
    ids = ("ines", "tomas") if with_ids else (None, None)
    tasters = tuple(replace(taster, id=name) for taster, name in zip(flight.tasters, ids, strict=True))
    sittings = [replace(sitting("hand", kit), session=replace(flight, tasters=tasters)) for kit in HAND_KITS]
    pages = [
        page for kit in HAND_KITS for page in (notes(1, kit=kit), match(1, "1,2,3", kit=kit), turned(1, order, kit=kit))
    ]
    return scores(sittings, {"all.json": Reading(tuple(pages))})


def test_hands_that_move_nothing_are_told_of_over_many_sittings() -> None:
    result = by_hand("1,2,3")
    assert result.tame == ("ines",)
    text = scores_text(result)
    assert "Hand shuffles\n  ines: over 8 hand sittings 24 glasses came back to their own place" in text
    assert "have a host move the glasses" in text
    [entry] = scores_to_json(result)["hand_shuffles"]
    assert (entry["id"], entry["sittings"], entry["stayed"], entry["moved"]) == ("ines", 8, 24, 0)
    assert entry["too_tame"] is True


def test_a_taster_without_an_id_is_not_followed_over_sittings() -> None:
    assert by_hand("1,2,3", with_ids=False).shuffles == {}


def test_printed_keys_are_no_hands_to_be_tested() -> None:
    made = [replace(of("own", (1, 2, 3), (1, 2, 3)), kit=kit) for kit in HAND_KITS]
    made = [replace(one, layout=sitting("host", one.kit).layout) for one in made]
    pages = tuple(match(1, "1,2,3", kit=kit) for kit in HAND_KITS)
    assert scores(made, {"all.json": Reading(pages)}).shuffles == {}


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Score:
    monkeypatch.chdir(tmp_path)

    def score(*arguments: str | Path) -> Result:
        return CliRunner().invoke(main, ["score", *map(str, arguments)])

    return score


def kit_folder(folder: Path, keys: Keys = "shared", kit_id: str = KIT) -> Path:
    """Write the record and layout of a kit of two tasters under one key."""
    made = sitting(kit=kit_id)
    sealed = tuple(seal_key(kit_id, taster, SHARED, bytes(16), SeededChance(1)) for taster in (1, 2))
    kit = Kit(kit_id, replace(made.session, keys=keys), b"secret", sealed)
    folder.mkdir()
    for name, content in record_files(kit, made.layout).items():
        (folder / name).write_bytes(content)
    return folder


def write(file: Path, *pages: PageReading) -> Path:
    file.write_text(json.dumps(to_json(full(*pages))), "utf-8")
    return file


def test_score_ends_in_status_3_and_shows_no_key_until_all_claims_are_in(run: Score, tmp_path: Path) -> None:
    folder = kit_folder(tmp_path / "kit")
    early = write(tmp_path / "early.json", match(1, "1,2,3"))
    result = run("--kit", folder, "--json", "scores.json", early)
    assert result.exit_code == ExitCode.LOOK
    assert "The keys stay sealed until all claims are in." in result.stdout
    assert "Tomas (K7Q4M2-0002-3) is missing" in result.stdout
    assert "matches its seal code" not in result.stdout
    entry = json.loads((tmp_path / "scores.json").read_text("utf-8"))
    assert [(taster["truth"], taster["correct"]) for taster in entry["tasters"]] == [(None, None), (None, None)]
    late = write(tmp_path / "late.json", match(2, "3,1,2"))
    result = run("--kit", folder, early, late)
    assert result.exit_code == ExitCode.DONE
    assert "The table: 3 of 6" in result.stdout


def test_no_seal_is_broken_while_claims_are_missing(
    run: Score, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = kit_folder(tmp_path / "kit")

    def broken(*arguments: Any, **options: Any) -> None:
        raise AssertionError("a key was opened")

    monkeypatch.setattr("scanner.commands.given_sittings.opened_keys", broken)
    assert run("--kit", folder, write(tmp_path / "r.json", match(1, "1,2,3"))).exit_code == ExitCode.LOOK
    monkeypatch.undo()


@pytest.mark.parametrize("name", ["2", f"{KIT}-0002", f"{KIT}-2"])
def test_an_absent_taster_is_named_by_number(run: Score, tmp_path: Path, name: str) -> None:
    folder = kit_folder(tmp_path / "kit")
    reading = write(tmp_path / "r.json", match(1, "3,1,2"))
    result = run("--kit", folder, "--absent", name, "--json", "-", reading)
    assert result.exit_code == ExitCode.DONE
    entry = json.loads(result.stdout)
    assert entry["kits"][0]["absent"] == [2]
    assert [taster["correct"] for taster in entry["tasters"]] == [3, None]


@pytest.mark.parametrize(
    ("name", "status", "words"),
    [
        ("1", ExitCode.REFUSED, "Ines (taster 1 of kit K7Q4M2) is named absent, but match sheet K7Q4M2-0001-3"),
        ("3", ExitCode.REFUSED, "kit K7Q4M2 has tasters 1 to 2"),
        ("0", ExitCode.REFUSED, "kit K7Q4M2 has tasters 1 to 2"),
        ("Tomas", ExitCode.USAGE, "a taster's number"),
        ("Z9Z9Z9-0002", ExitCode.USAGE, "a taster's number"),
        ("-1", ExitCode.USAGE, "a taster's number"),
        ("9" * 5000, ExitCode.USAGE, "a taster's number"),
        ("", ExitCode.USAGE, "a taster's number"),
    ],
)
def test_who_cannot_have_been_absent_is_refused(
    run: Score, tmp_path: Path, name: str, status: ExitCode, words: str
) -> None:
    folder = kit_folder(tmp_path / "kit")
    result = run("--kit", folder, "--absent", name, write(tmp_path / "r.json", match(1, "3,1,2")))
    assert result.exit_code == status
    assert words in " ".join(result.stderr.split())
    assert "Traceback" not in result.stderr


def test_with_several_kits_an_absent_taster_needs_the_kits_name(run: Score, tmp_path: Path) -> None:
    kits = kit_folder(tmp_path / "kit"), kit_folder(tmp_path / "other", kit_id="Z9Z9Z9")
    reading = write(tmp_path / "r.json", match(1, "3,1,2"), match(2, "3,1,2"), match(1, "3,1,2", kit="Z9Z9Z9"))
    given = ("--kit", kits[0], "--kit", kits[1])
    result = run(*given, "--absent", "2", reading)
    assert result.exit_code == ExitCode.USAGE
    assert "say whose taster" in result.stderr
    assert run(*given, "--absent", "Z9Z9Z9-2", reading).exit_code == ExitCode.DONE


def test_many_missing_sheets_are_told_in_one_short_sentence() -> None:
    names = tuple(f"Taster {number}" for number in range(1, 41))
    made = Sitting(KIT, replace(session(tasters=names), keys="balanced"), sitting().layout, ())
    result = scores([made], {"r": Reading((sheet_read("match", 1, {}),))})
    [sentence] = [sentence for sentence in result.left_to_look_at if "balanced keys" in sentence]
    assert "Taster 11 (K7Q4M2-0011-3) and 29 more are missing" in sentence
    assert sentence.endswith("--absent 2 --absent 3 --absent 4 …")
