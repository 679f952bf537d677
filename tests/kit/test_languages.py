"""Every language's words: complete, with room on every paper, and Japanese as text that a program finds again."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from string import Formatter
from typing import Any

import numpy as np
import pypdf
import pytest

import kit.wording
from kit.build import build_kit
from kit.coasters import coaster_pages
from kit.drawing import Page, Text
from kit.fonts import shapeless
from kit.host_papers import host_pages
from kit.key_sheets import key_layout
from kit.lexicon import drinks, load_lexicon, printed_words, translated
from kit.mixing import mixing_pages
from kit.packets import Contents, contents_pages
from kit.paper import A4
from kit.papers import papers
from kit.pdf import render
from kit.record import opened_keys
from kit.session import Paper, Session, Shuffle
from kit.sheet_layout import SheetLayout
from kit.sheets import form_layouts
from kit.wording import languages, load_wording
from scanner.rehearsal.own_kit import own_kit
from scanner.rehearsal.pattern import pattern
from scanner.rehearsal.pattern_page import pattern_page
from tests.kit import samples
from tests.kit.collisions import collisions, outside
from tests.kit.rendering import by_pdfium, fonts_of, needs_poppler, text_of

NOT_PAPER = ("review", "bag")
"""What stands on no paper need not be translated: the pages of `facedown review`, the text in an archive's bag."""
OTHERS = [language for language in languages() if language != "en"]
SHUFFLES: tuple[Shuffle, ...] = ("host", "hand", "twin")
KITS = [
    pytest.param(language, glasses, paper, shuffle, id=f"{language}-{paper}-{glasses}-{shuffle}")
    for language in OTHERS
    for glasses, paper in ((3, "Letter"), (4, "A4"), (5, "A4"), (5, "Letter"))
    for shuffle in SHUFFLES
]


def file_of(language: str) -> dict[str, Any]:
    return tomllib.loads((files("templates") / "words" / f"{language}.toml").read_text("utf-8"))


def entries(table: dict[str, Any], before: str = "") -> Iterator[tuple[str, str | list[str]]]:
    for name, entry in table.items():
        if isinstance(entry, dict):
            yield from entries(entry, f"{before}{name}.")
        else:
            yield f"{before}{name}", entry


def shape(entry: str | list[str]) -> tuple[int | None, set[str]]:
    """How many lines an entry has, None for a text, and what it has room for."""
    lines = [entry] if isinstance(entry, str) else entry
    fields = {field for line in lines for _, field, _, _ in Formatter().parse(line) if field}
    return (None if isinstance(entry, str) else len(lines)), fields


def differences(language: dict[str, Any]) -> list[str]:
    english, own = (
        dict(entries({name: table for name, table in tables.items() if name not in NOT_PAPER}))
        for tables in (file_of("en"), {name: table for name, table in language.items() if name != "lexicon"})
    )
    names = sorted(english.keys() ^ own.keys())
    return names + [name for name in english.keys() & own.keys() if shape(english[name]) != shape(own[name])]


def session_of(language: str, glasses: int, paper: Paper, shuffle: Shuffle) -> Session:
    return replace(samples.a_session(glasses, paper, shuffle, names=samples.NAMES[1:]), language=language)


def pages_of(session: Session) -> Iterator[tuple[Page, SheetLayout | None]]:
    """Yield one of each kind of page of a kit with the layout of those that are read back."""
    chance = samples.a_chance(session)
    kit = build_kit(session, chance)
    layouts = {layout.role: layout for layout in form_layouts(kit) if layout.taster == 1} | {"key": key_layout(kit, 1)}
    printed = next(iter(papers(kit, opened_keys(kit), chance)))
    contents = Contents(kit, {name: len(pages) for name, pages in printed.pages.items()}, has_packets=True)
    for pages in (*printed.pages.values(), host_pages(kit), mixing_pages(kit), contents_pages(contents)):
        for page in pages:
            yield page, layouts.get(page.design)


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_has_all_words_lines_and_values_of_the_english_ones(language: str) -> None:
    assert differences(file_of(language)) == []


def test_the_comparison_sees_a_missing_word_a_missing_line_and_a_missing_value() -> None:
    english = file_of("en")
    assert differences(english) == []
    assert differences(english | {"notes": english["notes"] | {"more": "x"}}) == ["notes.more"]
    short = english["match"] | {"intro": english["match"]["intro"][:2]}
    assert differences(english | {"match": short}) == ["match.intro"]
    assert differences(english | {"key": english["key"] | {"salt": "Salt"}}) == ["key.salt"]


@pytest.mark.parametrize("drink", drinks())
@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_has_every_word_list_with_each_word_once(language: str, drink: str) -> None:
    lexicon, table = load_lexicon(drink), file_of(language)["lexicon"][drink]
    assert list(table["families"]) == [family.name for family in lexicon.families]
    assert list(table["words"]) == [word for family in lexicon.families for word in family.words]
    assert list(table["scales"]) == [scale.id for scale in lexicon.scales]
    assert all(len(words) == 3 for words in table["scales"].values())
    shown = printed_words(lexicon, load_wording(language))
    assert len(set(shown.values())) == len(shown)
    assert translated(lexicon, load_wording("en")) == lexicon


@pytest.mark.parametrize("language", languages())
def test_every_character_has_a_shape(language: str) -> None:
    for name, entry in entries(file_of(language)):
        assert shapeless("".join(entry).replace("\n", "")) == "", name


@pytest.mark.parametrize(("language", "glasses", "paper", "shuffle"), KITS)
def test_words_have_room_on_every_paper(language: str, glasses: int, paper: Paper, shuffle: Shuffle) -> None:
    """Nothing lies on anything else, reaches the margin, or had to be cut short."""
    for page, layout in pages_of(session_of(language, glasses, paper, shuffle)):
        assert outside(page) == [], page.design
        assert collisions(page, layout) == [], page.design
        cut = [e.text for e in (*page.common, *page.own) if isinstance(e, Text) and "…" in e.text]
        assert cut == [], page.design


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("paper", samples.PAPERS)
def test_what_a_rehearsal_shows_has_room(language: str, paper: Paper) -> None:
    own = own_kit(session_of(language, 5, paper, "host"))
    page = pattern_page(own.to_fill, pattern(own.to_fill.layout, own.chance), load_wording(language))
    assert outside(page) == []
    steps = [e for e in page.common if isinstance(e, Text)][:12]
    assert len({step.y_mm for step in steps}) >= 6


@pytest.mark.parametrize("shuffle", SHUFFLES)
@pytest.mark.parametrize("paper", samples.PAPERS)
@pytest.mark.parametrize("language", OTHERS)
def test_the_geometry_is_the_same_in_every_language(language: str, paper: Paper, shuffle: Shuffle) -> None:
    for glasses in samples.GLASSES:
        english, other = (
            build_kit(session, samples.a_chance(session))
            for session in (session_of(spoken, glasses, paper, shuffle) for spoken in ("en", language))
        )
        assert list(form_layouts(other)) == [
            replace(layout, sheet=layout.sheet.replace(english.id, other.id)) for layout in form_layouts(english)
        ]
        assert replace(key_layout(other, 1), sheet="") == replace(key_layout(english, 1), sheet="")
        assert coaster_pages(other).coasters == coaster_pages(english).coasters


@needs_poppler
@pytest.mark.parametrize("shuffle", SHUFFLES)
def test_poppler_finds_japanese_again_letter_by_letter(shuffle: Shuffle) -> None:
    for page, _ in pages_of(session_of("ja", 5, "A4", shuffle)):
        if page.design == "key":
            continue  # its scramble is no text
        (found,) = text_of(render((page,), "見本", "ja"))
        for element in (*page.common, *page.own):
            if isinstance(element, Text):
                for part in element.text.split():
                    assert part in found


@needs_poppler
def test_japanese_fonts_are_subsets_and_the_document_says_its_language() -> None:
    kit = samples.print_of(session_of("ja", 5, "A4", "host"))
    for name in ("forms.pdf", "host.pdf", "keys.pdf", "coasters.pdf"):
        pdf = kit.files[name]
        assert pypdf.PdfReader(BytesIO(pdf)).root_object.get("/Lang") == "ja"
        fonts = fonts_of(pdf)
        assert any("NotoSansJP" in font for font in fonts)
        assert all(re.match(r"[A-Z]{6}\+", font) and "yes yes yes" in " ".join(font.split()) for font in fonts), fonts
        assert len(pdf) < 250_000  # the font alone has five million


def test_japanese_in_heavier_faces_is_heavier_and_stays_text() -> None:
    """One weight is shipped: heavier ones are stroked; what follows on the page is not."""

    def ink(face: Any, below: str = "Ines") -> tuple[float, float]:
        texts = (Text(20.0, 30.0, "純米大吟醸", 24.0, face), Text(20.0, 60.0, below, 24.0))
        (picture,) = by_pdfium(render((Page(A4, "page", texts),), "見本", "ja"), 150)
        dark = 255.0 - picture.astype(float)
        middle = round(45 * 150 / 25.4)
        return float(np.sum(dark[:middle])), float(np.sum(dark[middle:]))

    regular, semibold, black = (ink(face) for face in ("regular", "semibold", "black"))
    assert regular[0] * 1.1 < semibold[0] < black[0] / 1.05
    assert regular[1] == semibold[1] == black[1]


def test_where_a_translation_lacks_words_english_ones_are_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "words").mkdir()
    (tmp_path / "words" / "en.toml").write_bytes((files("templates") / "words" / "en.toml").read_bytes())
    (tmp_path / "words" / "xx.toml").write_text('[notes]\nheading_1 = "Runde eins"\n', "utf-8")
    monkeypatch.setattr(kit.wording, "files", lambda _: tmp_path)
    words = load_wording.__wrapped__("xx")
    assert (words("notes.heading_1"), words("notes.heading_2")) == ("Runde eins", "Round two")
    assert len(words.lines("frame.months")) == 12
