"""`--packets`: a PDF for each packet with all that its taster may see, and a list of contents that tells no more."""

from __future__ import annotations

import io
import json
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import pypdf
import pytest
from click.testing import CliRunner, Result

from kit.chance_source import SeededChance
from kit.contents import print_kit
from kit.errors import ExitCode
from kit.record import Kit, layout_of, load_kit, opened_keys
from kit.session import Session, Shuffle
from kit.shell import main
from tests.kit import samples
from tests.kit.rendering import by_pdfium, checked_by_qpdf, needs_poppler, needs_qpdf, text_of
from tests.kit.test_secrecy import KEYS, OTHER_KEYS, kit_under

SHUFFLES: tuple[Shuffle, ...] = ("host", "hand", "twin")
HOLDS = {
    "host": ("forms.pdf", "coasters.pdf"),
    "hand": ("forms.pdf", "coasters.pdf"),
    "twin": ("letters.pdf", "forms.pdf", "vials.pdf", "keys.pdf"),
}
"""What lies in a packet, in its order: what the issue says of each way."""


def run(session: Session, folder: Path, *options: str, seeded: bool = False) -> Result:
    path = folder.parent / "session.toml"
    path.write_text(samples.session_file(session, seeded=seeded), "utf-8")
    return CliRunner().invoke(main, ["print", str(path), "--out", str(folder), "--packets", *options])


@pytest.fixture(params=SHUFFLES)
def kit(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A kit folder with packets, of each way to shuffle."""
    assert run(samples.a_session(4, shuffle=request.param), tmp_path / "kit").exit_code == ExitCode.DONE
    return tmp_path / "kit"


def pages_of(pdf: Path, first: int, last: int) -> list[Any]:
    return by_pdfium(pdf.read_bytes(), 50, pages=range(first - 1, last))


def test_a_packet_holds_its_tasters_pages_of_every_pdf_and_no_others(kit: Path) -> None:
    """Page for page the same picture as in the PDFs of the whole kit; the mixing sheet is the host's fourth page."""
    holds = HOLDS[load_kit(kit).session.shuffle]
    for taster in (1, 2, 3):
        expected = []
        for name in holds:
            each = len(pypdf.PdfReader(kit / name).pages) // 3
            expected += pages_of(kit / name, (taster - 1) * each + 1, taster * each)
        if load_kit(kit).session.shuffle == "hand":
            expected += pages_of(kit / "host.pdf", 4, 4)
        found = by_pdfium((kit / "packets" / f"{taster:04d}.pdf").read_bytes(), 50)
        assert len(found) == len(expected)
        assert all(np.array_equal(one, other) for one, other in zip(found, expected, strict=True))


@needs_poppler
def test_whoever_mixes_has_the_mixing_sheet_and_it_is_counted(kit: Path) -> None:
    mixes = load_kit(kit).session.shuffle == "hand"
    for taster in (1, 2, 3):
        pages = text_of((kit / "packets" / f"{taster:04d}.pdf").read_bytes())
        assert [number for number, page in enumerate(pages) if "Mixing sheet" in page] == [len(pages) - 1] * mixes
    (contents,) = text_of((kit / "contents.pdf").read_bytes())
    assert ("mixing sheet" in contents) == mixes


@needs_poppler
def test_only_a_packet_by_post_has_a_key_and_only_its_own(kit: Path) -> None:
    keys = opened_keys(load_kit(kit))
    for taster in (1, 2, 3):
        pages = text_of((kit / "packets" / f"{taster:04d}.pdf").read_bytes())
        sealed = [page for page in pages if "Sealed key" in page]
        assert [pages[-1]] * len(sealed) == sealed
        assert len(sealed) == (load_kit(kit).session.shuffle == "twin")
        for key in keys:
            assert any(key.salt in page for page in pages) == (bool(sealed) and key.taster == taster)
        assert not any("Packing sheet" in page for page in pages)


def test_another_key_changes_no_packet_of_a_table_but_its_seal_codes() -> None:
    """With the seals made equal all packets, and the list, are the same to the byte."""

    def with_one_seal(kit: Kit) -> dict[str, bytes]:
        blind = replace(kit, sealed=tuple(replace(sealed, seal="0123456789ABCDEF") for sealed in kit.sealed))
        return printed(blind, opened=kit)

    one, other = with_one_seal(kit_under(KEYS)), with_one_seal(kit_under(OTHER_KEYS))
    assert one["keys.pdf"] != other["keys.pdf"]
    packets = [name for name in one if name.startswith("packets/")]
    assert len(packets) == 3
    assert all(one[name] == other[name] for name in [*packets, "contents.pdf"])


@needs_qpdf
def test_no_name_is_in_a_file_name_or_in_the_metadata_and_every_pdf_is_whole(kit: Path) -> None:
    paths = sorted((kit / "packets").iterdir())
    assert [path.name for path in paths] == ["0001.pdf", "0002.pdf", "0003.pdf"]
    for number, path in enumerate([*paths, kit / "contents.pdf"], start=1):
        assert "No syntax or stream encoding errors found" in checked_by_qpdf(path.read_bytes())
        about = pypdf.PdfReader(path).metadata
        assert about is not None
        assert not any(name in str(value) for name in samples.NAMES for value in about.values())
        title = f"First flight of winter ({load_kit(kit).id})"
        assert about.title == (f"{title}, packet {number}" if number <= 3 else title)


def test_a_packet_has_the_shapes_of_its_own_letters_alone(kit: Path) -> None:
    """Fonts are embedded for each packet: none tells with its shapes what the names of others are made of."""
    for number, name in ((1, "facedown"), (3, "純米大吟醸")):
        fonts = {str(font) for font in font_names(kit / "packets" / f"{number:04d}.pdf")}
        assert any("NotoSansJP" in font for font in fonts) == (name != "facedown")


@needs_poppler
def test_the_list_names_every_member_with_a_count_that_is_right(kit: Path) -> None:
    (page,) = text_of((kit / "contents.pdf").read_bytes())
    pages = len(pypdf.PdfReader(kit / "packets" / "0001.pdf").pages)
    for number, name in enumerate(samples.NAMES, start=1):
        assert re.search(rf"^\s*{number}\s+{name}\s.*\s{pages}$", page, re.MULTILINE), page
    assert f"3 packets, {3 * pages} pages" in page


@needs_poppler
def test_the_list_of_hundreds_goes_over_many_pages_and_leaves_nobody_out(tmp_path: Path) -> None:
    names = (samples.LONG_NAMES[0][:60], *(f"Taster {number} of the Circle" for number in range(2, 101)))
    session = samples.a_session(3, "Letter", names=names)
    assert run(session, tmp_path / "kit").exit_code == ExitCode.DONE
    pages = text_of((tmp_path / "kit" / "contents.pdf").read_bytes())
    assert [f"page {number} of {len(pages)}" in page for number, page in enumerate(pages, 1)] == [True] * len(pages)
    numbers = [int(row) for page in pages for row in re.findall(r"^\s*(\d+)\s+\S.*3 sheets", page, re.MULTILINE)]
    assert numbers == list(range(1, 101))


@needs_poppler
def test_the_list_in_json_says_where_every_page_is(tmp_path: Path) -> None:
    for shuffle in SHUFFLES:
        result = run(samples.a_session(4, shuffle=shuffle), tmp_path / shuffle, "--json", "-")
        entry = json.loads(result.stdout)
        assert (entry["format"], entry["kit"]) == ("facedown-contents/1", load_kit(tmp_path / shuffle).id)
        assert entry["added"] is None
        for packet, name in zip(entry["packets"], samples.NAMES, strict=True):
            assert packet["name"] == name
            holds = (*HOLDS[shuffle], *(["host.pdf"] if shuffle == "hand" else []))
            assert tuple(p["pdf"] for p in packet["papers"] if p["in_packet"]) == tuple(
                sorted(holds, key=[p["pdf"] for p in packet["papers"]].index)
            )
            assert packet["pages"] == len(pypdf.PdfReader(tmp_path / shuffle / packet["pdf"]).pages)
            for paper in packet["papers"]:
                texts = text_of((tmp_path / shuffle / paper["pdf"]).read_bytes())
                whose = "Mixing sheet" if paper["pdf"] == "host.pdf" else name
                assert all(whose in text for text in texts[paper["first_page"] - 1 : paper["last_page"]])


def test_the_list_is_printed_on_the_terminal_and_written_to_a_file(tmp_path: Path) -> None:
    result = run(samples.a_session(3), tmp_path / "kit", "--json", str(tmp_path / "list.json"))
    assert "In each packet: 3 sheets, coasters, card; 4 pages." in result.stdout
    for number, name in enumerate(samples.NAMES, start=1):
        assert f"{number:04d}  {name}" in result.stdout
    assert [packet["taster"] for packet in json.loads((tmp_path / "list.json").read_text("utf-8"))["packets"]] == [
        1,
        2,
        3,
    ]


def test_without_packets_the_list_still_tells_the_pages(tmp_path: Path) -> None:
    path = tmp_path / "session.toml"
    path.write_text(samples.session_file(samples.a_session(3)), "utf-8")
    result = CliRunner().invoke(main, ["print", str(path), "--out", str(tmp_path / "kit"), "--json", "-"])
    packets = json.loads(result.stdout)["packets"]
    assert [packet["pdf"] for packet in packets] == [None] * 3
    assert packets[2]["papers"][0] == {"pdf": "forms.pdf", "first_page": 7, "last_page": 9, "in_packet": True}
    assert not (tmp_path / "kit" / "contents.pdf").exists()
    assert not (tmp_path / "kit" / "packets").exists()


def test_house_coasters_are_not_in_a_packet(tmp_path: Path) -> None:
    session = replace(samples.a_session(3), coasters="house", house="K7Q4M2")
    files = printed(Kit("K7Q4M2", session, b"secret", kit_under(KEYS).sealed), opened=None)
    assert len(pypdf.PdfReader(io.BytesIO(files["packets/0001.pdf"])).pages) == 3


def test_the_same_seed_prints_the_same_packets(tmp_path: Path) -> None:
    for name in ("one", "two"):
        run(samples.a_session(5, shuffle="twin"), tmp_path / name, seeded=True)
    files = [path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*.pdf")]
    assert len(files) == 10
    assert all((tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes() for file in files)


def test_a_kit_with_packets_is_replaced_whole_and_copied_whole(kit: Path, tmp_path: Path) -> None:
    shutil.copytree(kit, tmp_path / "copy")
    assert layout_of(tmp_path / "copy").kit == load_kit(tmp_path / "copy").id == load_kit(kit).id
    (kit / "packets" / ".DS_Store").write_bytes(b"")
    path = tmp_path / "session.toml"
    command = ["print", str(path), "--out", str(kit), "--force"]
    assert CliRunner().invoke(main, command).exit_code == ExitCode.DONE
    assert not (kit / "packets").exists(), "the packets were another kit's"


@pytest.mark.parametrize("stranger", ["packets/letter.txt", "packets/ines.pdf", "packets/0001.pdf.part", "0001.pdf"])
def test_force_deletes_nothing_in_the_packets_that_is_not_the_kits(kit: Path, tmp_path: Path, stranger: str) -> None:
    (kit / stranger).write_bytes(b"mine")
    result = CliRunner().invoke(main, ["print", str(tmp_path / "session.toml"), "--out", str(kit), "--force"])
    assert result.exit_code == ExitCode.REFUSED
    assert f"beside the kit it holds {stranger}, which --force would delete" in result.stderr
    assert (kit / stranger).read_bytes() == b"mine"


@pytest.mark.parametrize("kind", ["file", "link"])
def test_something_else_by_the_name_of_the_packets_is_no_packets(tmp_path: Path, kind: str) -> None:
    session = samples.a_session(3)
    run(session, tmp_path / "kit")
    shutil.rmtree(tmp_path / "kit" / "packets")
    if kind == "file":
        (tmp_path / "kit" / "packets").write_bytes(b"mine")
    else:
        (tmp_path / "mine").mkdir()
        (tmp_path / "kit" / "packets").symlink_to(tmp_path / "mine")
    result = run(session, tmp_path / "kit", "--force")
    assert result.exit_code == ExitCode.REFUSED
    assert "beside the kit it holds packets" in result.stderr


def test_a_list_that_cannot_be_written_is_the_disks_refusal(tmp_path: Path) -> None:
    result = run(samples.a_session(3), tmp_path / "kit", "--json", str(tmp_path / "nowhere" / "list.json"))
    assert result.exit_code == ExitCode.STORAGE
    assert "list.json: the disk refused" in result.stderr


def printed(kit: Kit, opened: Kit | None) -> dict[str, bytes]:
    """Return all files of a kit with packets, printed into memory, with the keys of another if one is given."""
    files: dict[str, bytes] = {}

    @contextmanager
    def open_file(name: str) -> Iterator[BinaryIO]:
        buffer = io.BytesIO()
        yield buffer
        files[name] = buffer.getvalue()

    print_kit(kit, opened_keys(opened) if opened else (), SeededChance(1), open_file, packets=True)
    return files


def font_names(path: Path) -> Iterator[object]:
    for page in pypdf.PdfReader(path).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            yield font["/BaseFont"]
