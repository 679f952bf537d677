"""House coasters: one durable set for every sitting, whose codes name the set and not a kit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from kit.build import build_kit, chance_for
from kit.chance_source import SeededChance
from kit.coasters import coaster_pages, coaster_set
from kit.codes import ALPHABET, Code, CodeKind, decode, is_genuine
from kit.contents import kit_contents
from kit.errors import ExitCode, FacedownError, SessionError
from kit.house import CARD_NUMBERS, card_number, house_cards, house_secret, same_card
from kit.session import Session, Taster, load_session, session_from_json, session_from_toml, session_to_json
from kit.shell import main
from tests.kit import samples
from tests.kit.collisions import collisions, outside
from tests.kit.rendering import by_pdfium
from tests.scanner.second_reader import require_second_reader

SET = "K7Q4M2"
HEAD = 'title = "Evening"\ndate = 2026-12-05\ndrink = "sake"\nshuffle = "hand"\npaper = "A4"\n'
POURS = "".join(f'[[pours]]\nname = "Pour {number}"\n' for number in range(3))
TASTERS = '[[tasters]]\nid = "ines"\nname = "Ines"\n[[tasters]]\nid = "tomas"\nname = "Tomas"\n'
set_ids = st.text(ALPHABET, min_size=6, max_size=6)


def house_session(glasses: int = 5, *, set_id: str | None = SET, seed: int = 1, title: str = "Evening") -> Session:
    return replace(samples.a_session(glasses, title=title, seed=seed), coasters="house", house=set_id)


def coasters_pdf(session: Session) -> bytes:
    chance = chance_for(session)
    return kit_contents(build_kit(session, chance), chance)["coasters.pdf"]


def test_a_set_s_papers_are_the_same_to_the_byte_whatever_the_sitting() -> None:
    first = coasters_pdf(house_session())
    assert coasters_pdf(house_session(3, seed=2, title="Another evening")) == first
    later = replace(house_session(4, seed=3), shuffle="hand")
    assert coasters_pdf(later) == first
    assert coasters_pdf(house_session(set_id="K7Q4M3")) != first
    assert b"Evening" not in first


def test_a_new_taster_changes_nobody_s_card() -> None:
    session = house_session()
    more = replace(session, tasters=(Taster("Wren", id="wren"), *session.tasters))
    cards = {taster.id: card_number(SET, taster.id or "") for taster in session.tasters}
    assert house_cards(SET, [taster.id for taster in more.tasters]) == {
        card_number(SET, "wren"): 1,
        **{number: place for place, number in enumerate(cards.values(), start=2)},
    }


@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("glasses", samples.GLASSES)
def test_a_set_has_five_labels_whatever_the_flight_and_nothing_overlaps(paper: str, glasses: int) -> None:
    session = replace(house_session(glasses), paper="Letter" if paper == "Letter" else "A4")
    pages = coaster_pages(build_kit(session, SeededChance(1)))
    assert [label.number for label in pages.coasters] == [1, 2, 3, 4, 5]
    assert len(pages.pages) == len(session.tasters)
    for page in pages.pages:
        assert outside(page) == []
        assert collisions(page) == []


def test_the_printed_codes_name_set_and_number_and_both_readers_read_them(pytestconfig: pytest.Config) -> None:
    require_second_reader(pytestconfig)
    from scanner.code_readers import PYZBAR, ZXING, read_with

    session = house_session()
    [page, *_] = by_pdfium(coasters_pdf(session), 150)
    texts = {reader: set(read_with(reader, page)) for reader in (ZXING, PYZBAR)}
    assert texts[ZXING] == texts[PYZBAR]
    codes = {code for text in texts[ZXING] if (code := decode(text))}
    card = card_number(SET, session.tasters[0].id or "")
    assert codes == {
        *(Code(CodeKind.HOUSE_COASTER, SET, number) for number in range(1, 6)),
        Code(CodeKind.HOUSE_ROW_END, SET, card),
    }
    assert all(is_genuine(text, house_secret(SET)) for text in texts[ZXING])


@given(set_ids, st.text(st.characters(codec="ascii"), min_size=1, max_size=40))
def test_a_card_s_number_fits_its_code_and_depends_on_set_and_taster_alone(set_id: str, taster_id: str) -> None:
    number = card_number(set_id, taster_id)
    assert 0 <= number < CARD_NUMBERS == 2**15
    assert card_number(set_id, taster_id) == number
    kit = build_kit(replace(house_session(), house=set_id), SeededChance(1))
    assert decode(coaster_set(kit).card_text(1, taster_id)) == Code(CodeKind.HOUSE_ROW_END, set_id, number)


def test_card_numbers_are_spread_evenly() -> None:
    """20,000 ids over 32,768 numbers: of n balls in m boxes m(1 − (1 − 1/m)^n) boxes are hit, here 14,970 ± 100 (3 σ,
    by the occupancy problem: W. Feller, An Introduction to Probability Theory, vol. 1, II.11 [memory])."""
    numbers = {card_number(SET, f"taster-{at}") for at in range(20_000)}
    expected = CARD_NUMBERS * (1 - (1 - 1 / CARD_NUMBERS) ** 20_000)
    assert abs(len(numbers) - expected) < 250


def two_with_one_card() -> tuple[str, str]:
    alike = same_card(SET, [f"taster-{at}" for at in range(2000)])
    assert alike is not None
    return alike


def test_two_tasters_with_one_card_are_refused_with_what_to_do() -> None:
    one, other = two_with_one_card()
    tasters = "".join(f'[[tasters]]\nid = "{each}"\nname = "{each}"\n' for each in (one, other))
    text = f'coasters = "house"\nhouse = "{SET}"\n' + HEAD + POURS + tasters
    with pytest.raises(SessionError) as refusal:
        session_from_toml(text, "evening.toml")
    assert refusal.value.issues == (
        f'line 2, house: the row-end cards of "{one}" and "{other}" would have one number in set {SET}; give one of '
        "the two another id",
    )


def test_a_drawn_set_gives_all_tasters_cards_of_their_own() -> None:
    tasters = tuple(Taster(f"T{at}", id=f"taster-{at}") for at in range(120))
    kit = build_kit(replace(house_session(set_id=None), tasters=tasters), SeededChance(3))
    assert len(house_cards(kit.session.house, [taster.id for taster in tasters])) == 120


def test_more_tasters_than_cards_can_tell_apart_are_refused() -> None:
    tasters = tuple(Taster(f"T{at}", id=f"taster-{at}") for at in range(2500))
    with pytest.raises(FacedownError, match="too many for one set of house coasters"):
        build_kit(replace(house_session(set_id=None), tasters=tasters), SeededChance(3))


@pytest.mark.parametrize(
    ("lines", "tasters", "issue"),
    [
        (
            'house = "K7Q4M2"',
            TASTERS,
            'line 1, house: found without coasters = "house"; house is allowed with it alone',
        ),
        ('coasters = "house"\nhouse = "k7q4m2"', TASTERS, 'line 2, house: found "k7q4m2"; as `print` drew it'),
        ('coasters = "house"\nhouse = "K7Q4MI"', TASTERS, 'line 2, house: found "K7Q4MI"; as `print` drew it'),
        ('coasters = "house"\nhouse = 7', TASTERS, "line 2, house: found 7; as `print` drew it"),
        (
            'coasters = "house"',
            '[[tasters]]\nname = "Ines"\n',
            'line 13, [[tasters]] 1, id: missing; with coasters = "house" each taster needs one',
        ),
    ],
)
def test_what_is_wrong_with_a_house_set_is_told(lines: str, tasters: str, issue: str) -> None:
    with pytest.raises(SessionError) as refusal:
        session_from_toml(f"{lines}\n{HEAD}{POURS}{tasters}", "evening.toml")
    [found] = refusal.value.issues
    assert found.startswith(issue)


def test_kits_by_post_have_no_house_coasters() -> None:
    with pytest.raises(SessionError, match="which has no coasters"):
        session_from_toml('coasters = "house"\n' + HEAD.replace("hand", "twin") + POURS + TASTERS, "evening.toml")


def test_the_set_is_kept_with_the_session() -> None:
    session = session_from_toml(f'coasters = "house"\nhouse = "{SET}"\n' + HEAD + POURS + TASTERS, "evening.toml")
    assert session.house == SET
    assert session_from_json(session_to_json(session)) == session
    assert "house" not in session_to_json(replace(session, coasters="kit", house=None))


def printed(folder: Path, head: str) -> Result:
    path = folder / "session.toml"
    path.write_text(head + HEAD + POURS + TASTERS, "utf-8")
    return CliRunner().invoke(main, ["print", str(path), "--out", str(folder / "kit"), "--force"])


def test_print_says_which_line_keeps_the_set_and_obeys_it(tmp_path: Path) -> None:
    result = printed(tmp_path, 'coasters = "house"\n')
    assert result.exit_code == ExitCode.DONE
    [line] = [line.strip() for line in result.output.splitlines() if line.strip().startswith("house = ")]
    first = (tmp_path / "kit" / "coasters.pdf").read_bytes()
    again = printed(tmp_path, f'coasters = "house"\n{line}\n')
    assert "they are as they were" in again.output
    assert "house =" not in again.output
    assert (tmp_path / "kit" / "coasters.pdf").read_bytes() == first
    assert load_session(tmp_path / "session.toml").house == line.split('"')[1]
