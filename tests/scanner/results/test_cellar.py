"""The cellar list, by its two doors: what is read, and what is refused, with the place and what is allowed."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import CellarError
from scanner.results.cellar import Cellar, cellar_from_csv, cellar_from_toml, load_cellar

TODAY = datetime.date(2026, 12, 8)
SAMPLE = Path(__file__).parents[3] / "samples" / "cellar.toml"
HEADING = "name,id,style,abv,meter_value,acidity,polishing_ratio,pasteurised,age_months,open_since,left_ml,fault,look"
TOML = """\
[[drinks]]
name = "Heron Marsh"
id = "heron-marsh"
style = "daiginjo"
abv = 16.0
meter_value = -3
acidity = 1.4
polishing_ratio = 40
pasteurised = false
age_months = 8
open_since = 2026-12-01
left_ml = 720
look = "clear"

[[drinks]]
name = "Gull Rock"
"""
CSV = f"""\
{HEADING}
Heron Marsh,heron-marsh,daiginjo,16.0,-3,1.4,40,no,8,2026-12-01,720,,clear
Gull Rock,,,,,,,,,,,,
"""


def write(folder: Path, name: str, content: str | bytes) -> Path:
    file = folder / name
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    return file


def refused(file: Path) -> str:
    with pytest.raises(CellarError) as found:
        load_cellar(file, TODAY)
    assert str(file) in str(found.value)
    return str(found.value)


def test_the_sample_cellar_is_read() -> None:
    cellar = load_cellar(SAMPLE, TODAY)
    assert len(cellar.bottles) == 11
    assert [bottle.name for bottle in cellar.bottles if bottle.fault] == ["Gull Rock, left in the sun"]
    assert cellar.bottles[1].traits(TODAY).open_days == 18


@pytest.mark.parametrize(
    "text",
    [
        CSV,
        "\ufeff" + CSV,
        CSV.replace("\n", "\r\n"),
        CSV.replace(",", ";"),
        CSV.replace(",", "\t"),
        CSV.replace("-3", "\N{MINUS SIGN}3").replace("no", "No"),
        CSV + "\n,,,,,,,,,,,,\n",
        CSV.replace("Heron Marsh", '"Heron Marsh"').replace("meter_value", "Meter value"),
    ],
    ids=["plain", "mark of UTF-8", "CR LF", "semicolons", "tabs", "true minus", "empty lines", "quotes"],
)
def test_toml_and_every_way_of_csv_give_one_cellar(tmp_path: Path, text: str) -> None:
    assert load_cellar(write(tmp_path, "cellar.CSV", text), TODAY) == cellar_from_toml(TOML, "cellar.toml", TODAY)


def test_decimal_commas_are_read_and_said() -> None:
    plain = cellar_from_csv("name;abv;acidity\nGull Rock;15.5;1.25\n", "c.csv", TODAY)
    commas = cellar_from_csv("name;abv;acidity\nGull Rock;15,5;1,25\n", "c.csv", TODAY)
    assert commas == Cellar(plain.bottles, ("Decimal commas were read as points.",))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name = 3", "drinks: missing"),
        ("[drinks]\nname = 'A'", "found one table headed [drinks]"),
        ("drinks = 3", "drinks: found 3"),
        ("[[drinks]]\nabv = 15", "line 1, [[drinks]] 1, name: missing"),
        ("[[drinks]]\nname = 'A'\nabv = '15'", 'line 3, [[drinks]] 1, abv: found "15"; a number from 0 to 96 %'),
        ("[[drinks]]\nname = 'A'\nabv = 120", "line 3, [[drinks]] 1, abv: found 120"),
        ("[[drinks]]\nname = 'A'\nabv = nan", "abv: found nan"),
        ("[[drinks]]\nname = 'A'\nleft_ml = inf", "left_ml: found inf"),
        ("[[drinks]]\nname = 'A'\npasteurised = 'yes'", 'pasteurised: found "yes"; true or false'),
        ("[[drinks]]\nname = 'A'\nopen_since = 2027-01-01", "open_since: found 2027-01-01, which is still to come"),
        ("[[drinks]]\nname = 'A'\nopen_since = 2026-02-30", "which is no day of the calendar"),
        ("[[drinks]]\nname = 'A'\nopen_since = 12", "open_since: found 12; a date without quotes"),
        ("[[drinks]]\nname = 'A'\nlook = 'green'", 'look: found "green"; "clear", "straw", "amber" or "cloudy"'),
        ("[[drinks]]\nname = 'A'\nid = 'A B'", 'id: found "A B"'),
        (
            "[[drinks]]\nname = 'A'\nacidty = 1",
            "line 3, [[drinks]] 1, acidty: unknown key; the nearest allowed is acidity",
        ),
        (
            "[[drinks]]\nname = 'A'\n[[drinks]]\nname = 'a'",
            'line 4, [[drinks]] 2, name: found "a" again, as of drink 1',
        ),
        ("[[drinks]]\nname='A'\nid='x'\n[[drinks]]\nname='B'\nid='x'", 'line 6, [[drinks]] 2, id: found "x" again'),
        ("[[drinks]\nname = 'A'", "line 1: found"),
        ("name,abv\nA,15", "is read from a file whose name ends in .csv"),
        ("[[drinks]]\nname = ''", "found nothing that can be seen"),
        ("", "drinks: missing"),
    ],
)
def test_bad_toml_is_refused_with_the_place_and_what_is_allowed(tmp_path: Path, text: str, said: str) -> None:
    assert said in refused(write(tmp_path, "cellar.toml", text))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "found nothing; a line of column names"),
        ("name,abv\n", "line 1: found column names alone"),
        ("Heron Marsh,15\nGull Rock,16\n", "the first line holds the columns' names"),
        ("name,abvv\nA,15", 'line 1: column 2 is headed "abvv"; the nearest allowed is abv'),
        ("name,abv,abv\nA,15,15", 'line 1: column 3 is headed "abv" again'),
        ("id,abv\na,15", 'line 1: there is no column "name"'),
        ("name,abv\nA,15,5", "line 2, name: found 3 cells under 2 column names"),
        ("name,abv,acidity\nA,15", "line 2, name: found 2 cells under 3 column names"),
        ("name,abv\nA,16 %", 'line 2, abv: found "16 %"; a number alone'),
        ("name,abv\nA,nan", 'line 2, abv: found "nan"; a number alone'),
        ("name,abv\nA,1e3", 'line 2, abv: found "1e3"; a number alone'),
        ('name,left_ml\nA,"1,800"', 'line 2, left_ml: found "1,800"; a number alone'),
        ("name,abv\nA,97", "line 2, abv: found 97.0; a number from 0 to 96 %"),
        ("name,pasteurised\nA,perhaps", 'line 2, pasteurised: found "perhaps"; yes or no is allowed'),
        ("name,open_since\nA,5.12.2026", 'line 2, open_since: found "5.12.2026"; a day of the calendar, such as'),
        ("name,open_since\nA,2026-02-30", 'line 2, open_since: found "2026-02-30"'),
        ("name,open_since\nA,2027-01-01", "line 2, open_since: found 2027-01-01, which is still to come"),
        ("name,abv\n,15", "line 2, name: found nothing that can be seen"),
        ("name\nA\nA\n", 'line 3, name: found "A" again, as of drink 1'),
        ('name,abv\n"A,15\n', "not CSV"),
        ("name,abv\nA\0,15", "characters that are not text"),
        ("name,look\nA,green", 'line 2, look: found "green"'),
    ],
)
def test_bad_csv_is_refused_with_the_line_and_what_is_allowed(tmp_path: Path, text: str, said: str) -> None:
    assert said in refused(write(tmp_path, "cellar.csv", text))


def test_all_faults_of_a_list_are_said_at_once() -> None:
    with pytest.raises(CellarError) as found:
        cellar_from_csv("name,abv,acidity\nA,x,y\nB,99,1\n", "c.csv", TODAY)
    assert len(found.value.issues) == 3


@pytest.mark.parametrize("name", ["cellar.toml", "cellar.csv"])
def test_files_that_cannot_be_read_are_refused(tmp_path: Path, name: str) -> None:
    assert "there is no such file" in refused(tmp_path / name)
    assert "line 2: found bytes that are not UTF-8" in refused(write(tmp_path, name, b"name\nsak\xe9\n"))
    assert "more than 2 MB" in refused(write(tmp_path, name, b"#" * 2_000_001))
    (tmp_path / "folder.csv").mkdir()
    assert "this is a folder" in refused(tmp_path / "folder.csv")


@given(st.text(max_size=200) | st.text(alphabet='name,abv;\n"15. [=]\t', max_size=80))
def test_whatever_the_file_holds_it_is_read_or_refused_in_sentences(text: str) -> None:
    for read in (cellar_from_toml, cellar_from_csv):
        try:
            bottles = read(text, "cellar", TODAY).bottles
        except CellarError:
            continue
        assert all(bottle.name for bottle in bottles)
        assert bottles
