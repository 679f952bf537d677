"""`facedown check`, through the shell and on real files."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.commands.check import plan_text, plan_to_json
from kit.errors import ExitCode
from kit.plan import plan
from kit.session import Pour, Session, Taster, session_from_json
from kit.shell import main

SESSION = Session(
    title="First flight of winter",
    date=datetime.date(2026, 12, 5),
    drink="sake",
    shuffle="host",
    keys="own",
    coasters="kit",
    paper="A4",
    minutes=4.5,
    pour_ml=75.0,
    language="en",
    seed=None,
    pours=(
        Pour("Heron Marsh", style="daiginjo", abv_percent=16.0, look="clear"),
        Pour("純米大吟醸", abv_percent=15.5, look="cloudy", note="last year's"),
        Pour("Tidewater", style="honjozo", abv_percent=15.0, look="clear"),
    ),
    tasters=(Taster("Ines"), Taster("Tomas")),
)
FILE_TEXT = """\
title = "First flight of winter"
date = 2026-12-05
drink = "sake"
shuffle = "host"
paper = "A4"
[[pours]]
name = "Heron Marsh"
style = "daiginjo"
abv = 16
look = "clear"
[[pours]]
name = "純米大吟醸"
abv = 15.5
look = "cloudy"
note = "last year's"
[[pours]]
name = "Tidewater"
style = "honjozo"
abv = 15
look = "clear"
[[tasters]]
name = "Ines"
[[tasters]]
name = "Tomas"
"""

# Two tasters of three glasses: 2 × 75 = 150 ml of each, 720 − 150 = 570 to spare; 270 s for three; 75 × .465 = 34.9 ml
# pure, × .789 = 27.5 g. A Chinese or Japanese character takes two columns (UAX 11, East Asian wide).
SCREEN = """\
First flight of winter
5 December 2026 · sake · A4 · the host moves the glasses by the sealed key

Flight
  1  Heron Marsh  daiginjo  16 %    clear
  2  純米大吟醸             15.5 %  cloudy  last year's
  3  Tidewater    honjozo   15 %    clear

Tasters
  2: Ines, Tomas

Needs
  glasses                6            3 for each of 2 tasters
  in each glass          75 ml        2.5 US fl oz
  of each drink          150 ml       5.1 US fl oz
  bottles of each drink  1            of 720 ml; 570 ml to spare
  each round             4.5 minutes  90 seconds a glass
  alcohol, if swallowed  34.9 ml      pure for each taster, 27.5 g, 2.0 US standard drinks

Warnings
  · The eye can tell these drinks apart (Heron Marsh is clear, 純米大吟醸 is cloudy,
    Tidewater is clear): use dark glasses or dim light.

Cautions
  · Pour all glasses to one level; level them again before they are moved.
  · Glasses and coasters are all alike: no chip, stain or mark gives one away.
  · Whoever moves the glasses does not taste. No key is opened before all claims are in.
  · Spit; have water, and something to spit into, at every seat.
  · Not for anyone under age, pregnant, or about to drive.
"""


@pytest.fixture
def session_file(tmp_path: Path) -> Path:
    file = tmp_path / "winter.toml"
    file.write_text(FILE_TEXT, encoding="utf-8")
    return file


def test_the_plan_is_shown_for_a_host_to_read(session_file: Path) -> None:
    result = CliRunner().invoke(main, ["check", str(session_file)])
    assert result.exit_code == ExitCode.DONE
    assert result.stderr == ""
    assert result.stdout == SCREEN


def test_json_says_the_same(session_file: Path) -> None:
    result = CliRunner().invoke(main, ["check", str(session_file), "--json"])
    assert result.exit_code == ExitCode.DONE
    shown = json.loads(result.stdout)
    assert shown["format"] == "facedown-plan/1"
    assert session_from_json(shown["session"]) == SESSION
    assert shown["plan"]["ml_per_drink"] == 150
    assert shown["plan"]["seconds_per_glass"] == 90
    assert shown["plan"]["alcohol"]["grams"] == pytest.approx(27.517, abs=0.001)
    squeezed = " ".join(SCREEN.split())
    assert all(sentence in squeezed for sentence in shown["plan"]["warnings"] + shown["plan"]["cautions"])
    assert shown == json.loads(json.dumps(plan_to_json(SESSION, plan(SESSION))))


def test_vials_are_counted_as_vials() -> None:
    session = replace(SESSION, shuffle="twin", pour_ml=20.0)
    text = plan_text(session, plan(session))
    assert "vials                  12           2 × 3 for each of 2 tasters" in text
    assert "in each vial           20 ml        0.7 US fl oz, 80 % of a vial of 25 ml" in text


def test_the_bottles_of_kits_by_post_are_counted_over_all_packets_with_the_loss() -> None:
    """By hand: 18 × 2 × 20 = 720 ml, a bottle; 5 % more is 756 ml, and two bottles of 720 leave 684 ml."""
    session = replace(SESSION, shuffle="twin", pour_ml=20.0, tasters=SESSION.tasters * 9)
    text = plan_text(session, plan(session))
    assert "of each drink          720 ml " in text
    assert "… with loss            756 ml       5 % more" in text
    assert "bottles of each drink  2            of 720 ml, each for 17 packets; 684 ml to spare" in text
    # 2 × 20 ml of 16 + 15.5 + 15 %: 18.6 ml pure, × .789 = 14.7 g (SOURCES, D).
    assert "18.6 ml      pure for each taster, both rounds, 14.7 g" in text


def test_one_taster_and_one_minute_stand_in_the_singular() -> None:
    session = replace(SESSION, tasters=(Taster("Ines"),), minutes=1.0)
    text = plan_text(session, plan(session))
    assert "for each of 1 taster\n" in text
    assert "1 minute " in text


def test_an_unknown_strength_leaves_the_alcohol_unknown() -> None:
    session = replace(SESSION, pours=(*SESSION.pours[:2], Pour("Tidewater")))
    assert "not known    the abv of a drink is not given" in plan_text(session, plan(session))


def test_a_wrong_file_is_refused_with_every_sentence_on_stderr(session_file: Path) -> None:
    session_file.write_text(FILE_TEXT.replace('"A4"', '"A5"').replace("abv = 15.5", 'abv = "strong"'), "utf-8")
    for options in ([], ["--json"]):
        result = CliRunner().invoke(main, ["check", str(session_file), *options])
        assert result.exit_code == ExitCode.REFUSED
        assert result.stdout == ""
        assert result.stderr.splitlines() == [
            f'facedown: {session_file}: line 5, paper: found "A5"; "A4" or "Letter" is allowed',
            f'facedown: {session_file}: line 13, [[pours]] 2, abv: found "strong"; a number from 0 to 96 is allowed',
        ]


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["check", str(tmp_path / "none.toml")])
    assert result.exit_code == ExitCode.REFUSED
    assert "there is no such file" in result.stderr
