"""The session file: what is taken in, what is refused, and in which words."""

from __future__ import annotations

import datetime
import pickle
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import ExitCode, SessionError
from kit.session import (
    Pour,
    Session,
    Shelf,
    Taster,
    default_minutes,
    load_session,
    session_from_json,
    session_from_toml,
    session_to_json,
)

SHELF = Shelf(drinks=("sake", "wine"), languages=("de", "en"))
HEAD = 'title = "Winter"\ndate = 2026-12-05\ndrink = "sake"\nshuffle = "host"\npaper = "A4"\n'
POURS = "".join(f'[[pours]]\nname = "{name}"\n' for name in ("Heron Marsh", "Tidewater", "Stone Ferry"))
TASTERS = '[[tasters]]\nname = "Ines"\n'


def read(text: str) -> Session:
    return session_from_toml(text, "s.toml", SHELF)


def issues_of(text: str) -> tuple[str, ...]:
    with pytest.raises(SessionError) as refusal:
        read(text)
    assert refusal.value.exit_code == ExitCode.REFUSED
    return refusal.value.issues


def only_issue_of(text: str) -> str:
    issues = issues_of(text)
    assert len(issues) == 1, issues
    return issues[0]


def test_the_example_of_the_format_is_read_as_it_stands() -> None:
    # FORMATS, section 1, with two more pours to make a flight.
    session = read("""
title    = "First flight of winter"
date     = 2026-12-05
drink    = "sake"        # names a lexicon under templates/lexicons/
shuffle  = "host"        # who moves the glasses between the rounds: "host", "hand" or "twin"
keys     = "own"
coasters = "kit"
paper    = "A4"          # or "Letter"
minutes  = 7
pour_ml  = 75
language = "en"
seed     = 20261205

[[pours]]
id    = "heron-marsh"
name  = "Heron Marsh"
style = "daiginjo"
abv   = 16.0
look  = "clear"

[[pours]]
name  = "Tidewater"
note  = "opened on Thursday"

[[pours]]
name  = "純米大吟醸"
abv   = 15

[[tasters]]
id   = "ines"
name = "Ines"
address = ["3 Ferry Lane", "Saltmarsh"]
""")
    assert session == Session(
        title="First flight of winter",
        date=datetime.date(2026, 12, 5),
        drink="sake",
        shuffle="host",
        keys="own",
        coasters="kit",
        paper="A4",
        minutes=7.0,
        pour_ml=75.0,
        language="en",
        seed=20261205,
        pours=(
            Pour("Heron Marsh", "heron-marsh", "daiginjo", 16.0, "clear"),
            Pour("Tidewater", note="opened on Thursday"),
            Pour("純米大吟醸", abv_percent=15.0),
        ),
        tasters=(Taster("Ines", "ines", ("3 Ferry Lane", "Saltmarsh")),),
    )
    assert session.glasses == 3
    assert session.place_letters == ("A", "B", "C")


def test_what_is_left_out_is_resolved() -> None:
    session = read(HEAD + POURS + TASTERS)
    assert (session.keys, session.coasters, session.language, session.seed) == ("own", "kit", "en", None)
    assert session.pour_ml == 75
    assert read(HEAD.replace("host", "twin") + POURS + TASTERS).pour_ml == 20
    assert read(HEAD.replace("host", "hand") + POURS + TASTERS).pour_ml == 75
    assert session.pours[0] == Pour("Heron Marsh", None, None, None, None, None)
    assert session.tasters[0] == Taster("Ines", None, ())


@given(st.integers(1, 60))
def test_the_minutes_left_out_are_the_least_half_minutes_that_hold_84_seconds_a_glass(glasses: int) -> None:
    halves = Fraction(default_minutes(glasses)) * 2
    assert halves.denominator == 1
    assert (halves - 1) * 30 < 84 * glasses <= halves * 30


def test_a_byte_order_mark_and_other_line_ends_are_taken(tmp_path: Path) -> None:
    file = tmp_path / "s.toml"
    file.write_bytes(b"\xef\xbb\xbf" + (HEAD + POURS + TASTERS).replace("\n", "\r\n").encode())
    assert load_session(file) == read("\ufeff" + HEAD + POURS + TASTERS)


def test_names_are_kept_composed_and_without_outer_blanks() -> None:
    # Unicode NFC: e with U+0301 is U+00E9 (UAX 15, table of canonical compositions).
    session = read(HEAD + POURS + '[[tasters]]\nname = "  Rene\\u0301 Ødegård-Weiß\u3000"\n')
    assert session.tasters[0].name == "Ren\u00e9 Ødegård-Weiß"


def test_a_blank_style_or_note_counts_as_left_out() -> None:
    session = read(HEAD + POURS.replace('"Tidewater"', '"Tidewater"\nstyle = " "\nnote = ""') + TASTERS)
    assert session.pours[1] == Pour("Tidewater")


# What is wrong, and every part that its sentence must have.
TOP_LEVEL = [
    ("title = 5", "line 1, title: found 5; text in quotes, of 1 to 80 characters, is allowed"),
    ("title = true", "found true"),
    ('title = ""', "line 1, title: found nothing that can be seen"),
    ('title = " \u3000 "', "found nothing that can be seen"),
    (f'title = "{"x" * 81}"', "found 81 characters; at most 80 are allowed"),
    ('title = "two\\nlines"', "U+000A"),
    ('date = "2026-12-05"', 'line 1, date: found "2026-12-05"; a date without quotes, such as 2026-12-05, is allowed'),
    ("date = 2026-12-05T19:30:00", "found 2026-12-05T19:30:00; a date alone, such as 2026-12-05, is allowed"),
    ("date = 2026-12-05 19:30:00Z", "a date alone"),
    ("date = 19:30:00", "found 19:30:00; a date without quotes"),
    ("date = 20261205", "found 20261205; a date without quotes"),
    ('drink = "sak"', 'line 1, drink: found "sak"; "sake" or "wine" is allowed'),
    ('drink = ["sake"]', "found a list"),
    ('shuffle = "Host"', 'found "Host"; "host", "hand" or "twin" is allowed'),
    ("shuffle = 1", 'found 1; "host", "hand" or "twin" is allowed'),
    ('keys = "mine"', 'found "mine"; "own", "shared" or "balanced" is allowed'),
    ('coasters = "ours"', 'found "ours"; "kit" or "house" is allowed'),
    ('paper = "A5"', 'found "A5"; "A4" or "Letter" is allowed'),
    ('paper = "a4"', '"A4" or "Letter" is allowed'),
    ('minutes = "7"', 'line 1, minutes: found "7"; a number from 1 to 60 is allowed'),
    ("minutes = true", "found true; a number from 1 to 60 is allowed"),
    ("minutes = 0", "found 0;"),
    ("minutes = 60.5", "found 60.5;"),
    ("minutes = nan", "found nan;"),
    ("minutes = inf", "found inf;"),
    ("pour_ml = 4.9", "found 4.9; a number from 5 to 250 ml is allowed"),
    ("pour_ml = -75", "found -75;"),
    ("pour_ml = 0xFFFFFFFFFFFFFFFFFFFFFFFFFFFF", "found a number of more than 20 digits;"),
    ("seed = -1", "line 1, seed: found -1; a whole number from 0 to 9223372036854775807 is allowed"),
    ("seed = 1.0", "found 1.0; a whole number"),
    ("seed = true", "found true; a whole number"),
    ("seed = 9223372036854775808", "found 9223372036854775808; a whole number"),
    ('language = "fr"', 'found "fr"; "de" or "en" is allowed'),
    ('langauge = "en"', "line 1, langauge: unknown key; the nearest allowed is language"),
    ("xyzzy = 1", "line 1, xyzzy: unknown key; allowed are title, date, drink"),
    ('"a b\\u001b" = 1', "unknown key"),
]


@pytest.mark.parametrize(("line", "sentence"), TOP_LEVEL)
def test_a_wrong_value_is_told_with_its_line_key_and_what_is_allowed(line: str, sentence: str) -> None:
    key = line.split(" =")[0]
    others = "".join(other + "\n" for other in HEAD.splitlines() if not other.startswith(key + " "))
    issue = only_issue_of(f"{line}\n{others}{POURS}{TASTERS}")
    assert sentence in issue
    assert issue.isprintable()


@pytest.mark.parametrize("key", ["title", "date", "drink", "shuffle", "paper"])
def test_a_key_that_must_be_there_is_missed(key: str) -> None:
    text = "".join(line + "\n" for line in HEAD.splitlines() if not line.startswith(key)) + POURS + TASTERS
    assert only_issue_of(text).startswith(f"{key}: missing; needed is ")


INSIDE = [
    ("abv", '"strong"', 'abv: found "strong"; a number from 0 to 96 is allowed'),
    ("abv", "true", "abv: found true;"),
    ("abv", "96.1", "abv: found 96.1;"),
    ("abv", "-0.1", "abv: found -0.1;"),
    ("look", '"pink"', 'look: found "pink"; "clear", "straw", "amber" or "cloudy" is allowed'),
    ("style", "3", "style: found 3; text in quotes, of 1 to 40 characters, is allowed"),
    ("style", f'"{"x" * 41}"', "style: found 41 characters; at most 40 are allowed"),
    ("note", '"a\\tb"', "note: found U+0009"),
    ("note", f'"{"x" * 201}"', "note: found 201 characters"),
    ("id", '"Heron"', 'id: found "Heron"; 1 to 40 of the characters a to z, 0 to 9 and -, in quotes, are allowed'),
    ("id", '""', 'id: found "";'),
    ("id", '"heron\\n"', 'id: found "heron\\u000a";'),
    ("id", '"größe"', 'id: found "größe";'),
    ("id", "5", "id: found 5;"),
    ("id", f'"{"x" * 41}"', "id: found "),
    ("abv_percent", "16", "abv_percent: unknown key; the nearest allowed is abv"),
    ("address", '["x"]', "address: unknown key"),
]


@pytest.mark.parametrize(("key", "value", "sentence"), INSIDE)
def test_a_wrong_value_in_a_pour_is_told_with_its_table(key: str, value: str, sentence: str) -> None:
    pours = POURS.replace('"Tidewater"\n', f'"Tidewater"\n{key} = {value}\n')
    issue = only_issue_of(HEAD + pours + TASTERS)
    assert issue.startswith("line 10, [[pours]] 2, ")
    assert sentence in issue


BAD_NAMES = [
    ("", "found nothing that can be seen"),
    ("   ", "found nothing that can be seen"),
    ("\u3164", "found nothing that can be seen"),
    ("x" * 500, "found 500 characters; at most 60 are allowed"),
    ("x" * 61, "found 61 characters"),
    ("In\\u0007es", "found U+0007 (control or unassigned character) as character 3"),
    ("In\\u007fes", "found U+007F"),
    ("In\\u0085es", "found U+0085"),
    ("Ines\\n", "found U+000A"),
    ("Ines\\r", "found U+000D"),
    ("In\\u2028es", "found U+2028 (LINE SEPARATOR)"),
    ("In\\u202Ees", "found U+202E (RIGHT-TO-LEFT OVERRIDE) as character 3"),
    ("In\\u2066es", "found U+2066 (LEFT-TO-RIGHT ISOLATE)"),
    ("In\\u200Bes", "found U+200B (ZERO WIDTH SPACE)"),
]


@pytest.mark.parametrize(("name", "sentence"), BAD_NAMES)
def test_a_name_that_cannot_be_printed_on_one_line_is_refused(name: str, sentence: str) -> None:
    taster = only_issue_of(HEAD + POURS + f'[[tasters]]\nname = "{name}"\n')
    assert taster.startswith("line 13, [[tasters]] 1, name: ")
    assert sentence in taster
    assert sentence in only_issue_of(HEAD + POURS.replace("Stone Ferry", name) + TASTERS)


@pytest.mark.parametrize("length", [1, 60])
def test_a_name_of_1_to_60_characters_is_taken(length: int) -> None:
    assert len(read(HEAD + POURS + f'[[tasters]]\nname = "{"酒" * length}"\n').tasters[0].name) == length


def test_an_address_is_a_list_of_up_to_six_lines() -> None:
    def address(value: str) -> str:
        return only_issue_of(HEAD + POURS + TASTERS + f"address = {value}\n")

    assert read(HEAD + POURS + TASTERS + 'address = ["a", "b", "c", "d", "e", "f"]\n').tasters[0].address[5] == "f"
    assert "found 7 lines; a list of up to 6 lines" in address('["a", "b", "c", "d", "e", "f", "g"]')
    assert 'found "3 Ferry Lane"; a list' in address('"3 Ferry Lane"')
    assert "found 5; text" in address('["a", 5]')
    assert "U+000A" in address('["a\\nb"]')


@pytest.mark.parametrize(("count", "found"), [(1, "found 1;"), (2, "found 2;"), (6, "found 6;"), (40, "found 40;")])
def test_a_flight_has_three_to_five_glasses(count: int, found: str) -> None:
    pours = "".join(f'[[pours]]\nname = "Pour {number}"\n' for number in range(count))
    issue = only_issue_of(HEAD + pours + TASTERS)
    assert issue.startswith("line 6, pours: ")
    assert found in issue
    assert "three to five are allowed" in issue


@pytest.mark.parametrize("count", [3, 4, 5])
def test_flights_of_three_four_and_five_are_taken(count: int) -> None:
    pours = "".join(f'[[pours]]\nname = "Pour {number}"\n' for number in range(count))
    assert read(HEAD + pours + TASTERS).place_letters == tuple("ABCDE")[:count]


def test_a_session_needs_a_taster_and_has_at_most_9999() -> None:
    tasters = "".join(f'[[tasters]]\nname = "Taster {number}"\n' for number in range(10_000))
    assert only_issue_of(HEAD + POURS) == "tasters: missing; needed is one or more tables, each headed [[tasters]]"
    assert "tasters: found none" in only_issue_of("tasters = []\n" + HEAD + POURS)
    assert "tasters: found 10000; one to 9999 are allowed" in only_issue_of(HEAD + POURS + tasters)
    assert len(read(HEAD + POURS + tasters.rpartition("[[tasters]]")[0]).tasters) == 9999


def test_tables_headed_wrongly_are_told_from_missing_ones() -> None:
    assert "found one table headed [tasters]" in only_issue_of(HEAD + POURS + '[tasters]\nname = "Ines"\n')
    assert 'line 1, tasters: found "Ines"; one or more tables' in only_issue_of('tasters = "Ines"\n' + HEAD + POURS)
    assert "tasters: found a list" in only_issue_of('tasters = ["Ines"]\n' + HEAD + POURS)
    assert issues_of(HEAD + POURS + TASTERS.replace("tasters", "taster"))[1].startswith(
        "line 12, taster: unknown key; the nearest allowed is tasters"
    )


def test_inline_tables_are_taken_too() -> None:
    session = read(HEAD + 'tasters = [{name = "Ines"}]\n' + POURS)
    assert session.tasters == (Taster("Ines"),)
    assert "[[tasters]] 1, name: found 5" in only_issue_of(HEAD + "tasters = [{name = 5}]\n" + POURS)


@pytest.mark.parametrize("shuffle", ["hand", "twin"])
def test_keys_belong_to_the_host_alone(shuffle: str) -> None:
    issue = only_issue_of('keys = "own"\n' + HEAD.replace("host", shuffle) + POURS + TASTERS)
    assert issue == f'line 1, keys: found with shuffle = "{shuffle}"; keys is allowed with shuffle = "host" alone'


TWIN = HEAD.replace("host", "twin")


def test_kits_by_post_say_their_vials_and_where_the_sheets_go() -> None:
    post = 'vial_ml = 30\nloss_percent = 0\nsend_to = ["12 Sluice Lane", " Saltmarsh "]\nsend_by = 2026-12-19\n'
    session = read(TWIN + post + POURS + TASTERS)
    assert (session.vial_ml, session.loss_percent, session.pour_ml) == (30, 0, 20)
    assert session.send_to == ("12 Sluice Lane", "Saltmarsh")
    assert session.send_by == datetime.date(2026, 12, 19)
    left_out = read(TWIN + POURS + TASTERS)
    assert (left_out.vial_ml, left_out.loss_percent, left_out.send_to, left_out.send_by) == (25, 5, (), None)


@pytest.mark.parametrize("shuffle", ["host", "hand"])
@pytest.mark.parametrize(
    "line", ["vial_ml = 25", "loss_percent = 5", 'send_to = ["Saltmarsh"]', "send_by = 2026-12-19"]
)
def test_what_belongs_to_kits_by_post_is_refused_elsewhere(shuffle: str, line: str) -> None:
    key = line.split()[0]
    issue = only_issue_of(f"{line}\n" + HEAD.replace("host", shuffle) + POURS + TASTERS)
    assert issue == f'line 1, {key}: found with shuffle = "{shuffle}"; {key} is allowed with shuffle = "twin" alone'


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ("vial_ml = 15", "line 1, vial_ml: found 20 ml for a vial of 15 ml; pour_ml may be at most vial_ml"),
        ("pour_ml = 26", "line 1, pour_ml: found 26 ml for a vial of 25 ml; pour_ml may be at most vial_ml"),
        ("vial_ml = 4", "line 1, vial_ml: found 4; a number from 5 to 250 ml is allowed"),
        ('vial_ml = "25"', 'line 1, vial_ml: found "25"; a number'),
        ("loss_percent = -1", "line 1, loss_percent: found -1; a number from 0 to 40 % is allowed"),
        ("loss_percent = 41", "line 1, loss_percent: found 41; a number from 0 to 40 % is allowed"),
        ('send_to = "Saltmarsh"', 'line 1, send_to: found "Saltmarsh"; a list of up to 6 lines'),
        ('send_to = ["a", "b", "c", "d", "e", "f", "g"]', "line 1, send_to: found 7 lines; a list of up to 6 lines"),
        ('send_to = [""]', "line 1, send_to: found nothing that can be seen"),
        ('send_by = "soon"', 'line 1, send_by: found "soon"; a date without quotes'),
        ("send_by = 2026-12-04", "line 1, send_by: found 2026-12-04; the day of the sitting, 2026-12-05, or a later"),
    ],
)
def test_what_cannot_be_posted_is_told(lines: str, sentence: str) -> None:
    assert only_issue_of(f"{lines}\n" + TWIN + POURS + TASTERS).startswith(sentence)


@pytest.mark.parametrize("other", ["Ines", "ines", "ＩＮＥＳ", " Ines "])
def test_two_tasters_of_one_name_are_refused_and_ids_proposed(other: str) -> None:
    issue = only_issue_of(HEAD + POURS + TASTERS + f'[[tasters]]\nname = "{other}"\n')
    assert issue.startswith("line 15, [[tasters]] 2, name: found ")
    assert 'add id = "ines-1" to [[tasters]] 1 and id = "ines-2" to [[tasters]] 2' in issue


def test_ids_are_proposed_only_where_one_lacks_and_never_a_taken_one() -> None:
    tasters = '[[tasters]]\nname = "Ines"\nid = "ines-1"\n[[tasters]]\nname = "Ines"\n'
    issue = only_issue_of(HEAD + POURS + tasters)
    assert issue.endswith('add id = "ines-2" to [[tasters]] 2')
    assert read(HEAD + POURS + tasters + 'id = "ines-2"\n').tasters[1].name == "Ines"


def test_the_ids_proposed_are_themselves_allowed() -> None:
    twice = '[[tasters]]\nname = "純米大吟醸"\n' * 2
    assert 'id = "taster-1"' in only_issue_of(HEAD + POURS + twice)
    accents = '[[tasters]]\nname = "René Ødegård"\n' * 2
    assert 'id = "rene-degard-1"' in only_issue_of(HEAD + POURS + accents)


def test_two_pours_of_one_name_are_refused() -> None:
    issue = only_issue_of(HEAD + POURS.replace("Tidewater", "Heron Marsh") + TASTERS)
    assert "line 9, [[pours]] 2, name: " in issue
    assert 'id = "heron-marsh-1" to [[pours]] 1' in issue


def test_an_id_stands_once_but_a_pour_may_share_a_tasters() -> None:
    tasters = '[[tasters]]\nname = "Ines"\nid = "i"\n[[tasters]]\nname = "Ivo"\nid = "i"\n'
    issue = only_issue_of(HEAD + POURS + tasters)
    assert issue == 'line 17, [[tasters]] 2, id: found "i" again, as in [[tasters]] 1; each id is allowed once'
    pours = POURS.replace('"Tidewater"\n', '"Tidewater"\nid = "ines"\n')
    assert read(HEAD + pours + TASTERS + 'id = "ines"\n').pours[1].id == "ines"


def test_all_issues_are_told_at_once_in_the_order_of_the_lines() -> None:
    text = HEAD.replace('"A4"', '"A5"') + POURS.replace("Tidewater", "") + TASTERS + "age = 30\n"
    issues = issues_of(text.replace("2026-12-05", "true"))
    assert [issue.split(":")[0] for issue in issues] == [
        "line 2, date",
        "line 5, paper",
        "line 9, [[pours]] 2, name",
        "line 14, [[tasters]] 1, age",
    ]


def test_the_message_names_the_file_before_every_issue() -> None:
    with pytest.raises(SessionError) as refusal:
        read("title = 1\nnonsense = 2\n")
    assert all(line.startswith("s.toml: ") for line in str(refusal.value).splitlines())
    assert pickle.loads(pickle.dumps(refusal.value)).issues == refusal.value.issues


def test_a_wholly_wrong_file_is_told_in_bounded_space() -> None:
    issues = issues_of("".join(f"k{number} = 1\n" for number in range(5000)))
    assert len(issues) == 201
    assert issues[-1].endswith("more like these")


def test_lines_are_right_after_comments_long_strings_and_odd_headers() -> None:
    title = 'title = """\\\nWinter\\\n[[pours]]\\\npaper = "A7" \\\n"""\n# paper = "A9"\n'
    head = HEAD.partition("\n")[2].replace('"A4"', '"A5"')
    pours = POURS.replace("[[pours]]", "  [[ pours ]]  # a drink")
    text = title + head + pours + '[[tasters]]\n"name" = 3\n'
    lines = text.split("\n")
    paper, name = issues_of(text)
    assert lines[int(paper.split()[1].rstrip(",")) - 1] == 'paper = "A5"'
    assert lines[int(name.split()[1].rstrip(",")) - 1] == '"name" = 3'


# What is not TOML, and a part of its sentence.
NOT_TOML = [
    ("date = 2026-02-30", "line 1, date: found 2026-02-30, which is no day of the calendar"),
    ("date = 2026-13-01", "line 1, date: found 2026-13-01, which is no day of the calendar"),
    ("date = 2026-2-3", "line 1, date: found 2026-2-3"),
    ("date = 05-12-2026", "line 1, date: found 05-12-2026"),
    ("\ntitle = Winter", 'line 2: found "title = Winter", which is not TOML'),
    ('title = "Winter\ndate = 1', "line 1: found "),
    ('title = "Winter', "end of the file: "),
    ('title = "A"\ntitle = "B"\npaper = "A4"', "line 2: found "),
    ('title = "A"\ntitle = "B"', "end of the file: "),
    ("[[pours]\n", "line 1: found "),
    ("x = " + "[" * 100_000, "lists or tables within each other"),
    ("x = " + "9" * 5_000, "a number of thousands of digits"),
    ('title = "a\x00b"', "line 1: found "),
    ('title = "a\x1b[31mb"', "line 1: found "),
]


@pytest.mark.parametrize(("text", "sentence"), NOT_TOML, ids=[text[:20] for text, _ in NOT_TOML])
def test_what_is_not_toml_is_told_in_a_sentence(text: str, sentence: str) -> None:
    issue = only_issue_of(text)
    assert sentence in issue
    assert issue.isprintable()
    assert len(issue) < 400


@given(st.text(st.sampled_from("abk=.,\"'[]{}#\n\\u019-:T \u202e\x00"), max_size=60))
def test_no_text_at_all_raises_anything_else(text: str) -> None:
    with pytest.raises(SessionError):
        read(text)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.dates() | st.datetimes(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@given(key=st.sampled_from(sorted({*session_to_json(read(HEAD + POURS + TASTERS)), "seed"})), value=json_values)
def test_any_value_under_any_key_is_taken_or_refused_in_sentences(key: str, value: object) -> None:
    entry: dict[str, Any] = session_to_json(read(HEAD + POURS + TASTERS)) | {key: value}
    issues: tuple[str, ...] = ()
    try:
        session_from_json(entry)
    except SessionError as refusal:
        issues = refusal.issues
    assert all(issue.isprintable() for issue in issues)
