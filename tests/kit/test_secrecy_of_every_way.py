"""Whatever the way of shuffling and of keeping keys: a print under other keys differs in key papers and seals alone.

Each print is made twice by the command itself, with the same draws for everything but the keys, under the same names.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import shake_256
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdf
import pytest
from click.testing import CliRunner, Result

from kit.build import build_kit, draw_keys
from kit.chance_source import SeededChance
from kit.errors import ExitCode
from kit.keys import seal_code
from kit.record import load_kit, opened_keys
from kit.session import Keys, Shuffle
from kit.shell import main
from tests.kit import samples
from tests.kit.kept import CHEAP, PASSPHRASE
from tests.kit.rendering import by_pdfium

ONE_SEAL = "0123456789ABCDEF"
KEY_PAPERS = {"keys.pdf", "packing.pdf", "outside.pdf"}
OF_KEYS = ("key ", "labels of block", "rows of block")
"""How the purposes of draws begin that a key depends on (kit.build, kit.designs, kit.keys)."""


@dataclass(frozen=True, slots=True)
class Way:
    """How a kit is shuffled and how its keys are kept."""

    shuffle: Shuffle = "host"
    keys: Keys = "own"
    kept: str = ""

    def __str__(self) -> str:
        return " ".join(filter(None, (self.shuffle, self.keys, self.kept)))


KEPT = ("", "--passphrase", "--key-on-paper")
WAYS = [
    *(Way("host", keys, kept) for keys in ("own", "shared", "balanced") for kept in KEPT),
    *(Way("twin", "own", kept) for kept in KEPT),
]
"""All but `hand`, which has no key."""


class KeyedChance:
    """Draws by purpose; `variant` changes those of keys and no other."""

    def __init__(self, variant: int) -> None:
        self._chances = {True: SeededChance(1, f"keys {variant}"), False: SeededChance(1, "all else")}

    def below(self, limit: int, purpose: str) -> int:
        return self._chances[purpose.startswith(OF_KEYS)].below(limit, purpose)

    def token(self, length: int, purpose: str) -> bytes:
        return self._chances[purpose.startswith(OF_KEYS)].token(length, purpose)


@dataclass(frozen=True, slots=True)
class Print:
    """All that a print left: files by name, what was said, the keys by taster."""

    files: dict[str, bytes]
    said: tuple[str, ...]
    keys: tuple[tuple[int, ...], ...]


@pytest.fixture(autouse=True)
def passphrase(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FACEDOWN_PASSPHRASE", PASSPHRASE)
    monkeypatch.setattr("kit.passphrase.COST", CHEAP)


@pytest.fixture
def one_seal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make all seal codes one, so that what is left of a difference is a key's."""
    monkeypatch.setattr("kit.keys.seal_code", lambda *of: ONE_SEAL)


@pytest.mark.usefixtures("one_seal")
@pytest.mark.parametrize("way", WAYS, ids=str)
def test_other_keys_leave_all_but_key_papers_as_they_are_to_the_byte(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: Way
) -> None:
    """With packets, and with a taster added. Names, sizes, metadata and all that was said included."""
    one, other = (printed(tmp_path, monkeypatch, way, variant) for variant in (1, 2))
    assert all(mine != yours for mine, yours in zip(one.keys, other.keys, strict=True)), "each taster's key is another"
    assert one.said == other.said
    assert set(one.files) == set(other.files)
    assert any(name.startswith("kit/packets/") for name in one.files)
    differing = {name for name in one.files if one.files[name] != other.files[name]}
    expected = {name for name in one.files if shows_a_key(name, way)}
    assert expected
    assert differing - {"kit/kit.json"} == expected, "every key paper differs, and nothing else"
    assert without_keys(one.files["kit/kit.json"]) == without_keys(other.files["kit/kit.json"])
    assert ("kit/kit.json" in differing) == (way.kept != "--key-on-paper")


@pytest.mark.parametrize("way", [Way("host"), Way("host", "shared", "--key-on-paper"), Way("twin")], ids=str)
def test_seal_codes_stand_on_the_tasters_own_sheets_and_in_the_record_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: Way
) -> None:
    """The same with the real codes: what the test above leaves out by making them one."""
    one, other = (printed(tmp_path, monkeypatch, way, variant) for variant in (1, 2))
    differing = {name for name in one.files if one.files[name] != other.files[name]}
    key_papers = {name for name in one.files if Path(name).name in KEY_PAPERS}
    packets = {name for name in one.files if name.startswith("kit/packets/")}
    assert differing == {"kit/kit.json", "kit/forms.pdf"} | key_papers | packets
    assert one.said == other.said


@pytest.mark.parametrize("keys", ["own", "shared", "balanced"])
def test_a_seal_code_is_salted_so_that_trying_all_orders_does_not_tell_the_key(keys: Keys) -> None:
    """With the salts known the code tells the key at once; the kit shows none, and there are 2 to the 128 of them."""
    kit = samples.print_of(samples.a_session(3, keys=keys)).kit
    for key in opened_keys(kit):
        order = tuple(key.places.values())
        assert seal_code(kit.id, key.taster, order, bytes.fromhex(key.salt)) == key.seal
        assert seal_code(kit.id, key.taster, order, b"") != key.seal
        assert seal_code(kit.id, key.taster, order, bytes(16)) != key.seal
    assert len({key.salt for key in opened_keys(kit)}) == len(kit.sealed)


@pytest.mark.usefixtures("one_seal")
def test_of_a_packet_by_post_the_sealed_key_alone_shows_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is folded before it is packed. The packing sheet, which tells the key as well, lies in none."""
    one, other = (printed(tmp_path, monkeypatch, Way("twin"), variant) for variant in (1, 2))
    packets = [name for name in one.files if name.startswith("kit/packets/")]
    assert len(packets) == len(samples.NAMES) + 1
    for name in packets:
        mine, yours = (by_pdfium(kit.files[name], 60) for kit in (one, other))
        (key_page,) = [page for page in range(len(mine)) if not np.array_equal(mine[page], yours[page])]
        assert "Sealed key" in texts(one.files[name])[key_page]


@pytest.mark.usefixtures("one_seal")
def test_a_kit_shuffled_by_hand_has_no_key_to_tell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every draw that could make one changes nothing at all."""
    one, other = (printed(tmp_path, monkeypatch, Way("hand"), variant) for variant in (1, 2))
    assert one == other
    assert one.keys == ()
    assert json.loads(one.files["kit/kit.json"])["keys"] == []
    assert not {Path(name).name for name in one.files} & KEY_PAPERS


@pytest.mark.usefixtures("one_seal")
@pytest.mark.parametrize("way", [Way("host"), Way("host", "shared"), Way("host", "own", "--passphrase")], ids=str)
def test_no_command_says_a_key_before_it_is_asked_to_open_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: Way
) -> None:
    """`seal`, `read` of the tasters' sheets, and refusals of `unseal` and `score`: the same words under other keys."""
    heard = []
    for variant in (1, 2):
        one = printed(tmp_path, monkeypatch, way, variant)
        monkeypatch.delenv("FACEDOWN_PASSPHRASE", raising=False)
        (picture,) = by_pdfium(one.files["kit/forms.pdf"], 150, pages=range(1))
        Path("sheet.pgm").write_bytes(b"P5\n%d %d\n255\n" % picture.shape[::-1] + picture.tobytes())
        commands = [
            ("seal", "kit"),
            ("seal", "kit", "--json", "-"),
            ("read", "--kit", "kit", "--json", "reading.json", "sheet.pgm"),
            ("score", "--kit", "kit", "reading.json"),
        ]
        if way.kept or way.keys == "shared":
            commands.append(("unseal", "kit"))
        results = [run(*command) for command in commands]
        assert results[0].exit_code == ExitCode.DONE
        assert "sheet.pgm" in results[2].output + Path("reading.json").read_text("utf-8")
        if way.kept or way.keys == "shared":
            assert [result.exit_code for result in results[3:]] != [ExitCode.DONE] * 2
        told = [(result.exit_code, result.stdout, result.stderr) for result in results]
        heard.append((told, Path("reading.json").read_bytes()))
        monkeypatch.setenv("FACEDOWN_PASSPHRASE", PASSPHRASE)
    assert heard[0] == heard[1]


def test_the_draws_of_keys_are_the_ones_that_these_tests_change() -> None:
    """Else they would compare a print with itself: own, shared and balanced keys all move, kit id and salts stay."""
    for keys in ("own", "shared", "balanced"):
        purposes = set(purposes_drawn(keys))
        assert {purpose.split()[0] for purpose in purposes if purpose.startswith(OF_KEYS)} <= {"key", "labels", "rows"}
        assert any(purpose.startswith(OF_KEYS) for purpose in purposes)
        assert {"kit", "secret", "salt 1", "nonce 1"} <= purposes
        assert not any(purpose.startswith(OF_KEYS) for purpose in ("kit", "secret", "salt 1", "nonce 1", "scramble 1"))


def printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: Way, variant: int) -> Print:
    """Print a kit with packets and add a taster where that can be, in a folder of its own under the same names."""
    folder = tmp_path / f"variant-{variant}"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setattr("kit.print_run.chance_for", lambda session: KeyedChance(variant))
    monkeypatch.setattr("kit.print_run.SystemChance", lambda: KeyedChance(variant + 10))
    text = samples.session_file(samples.a_session(4, shuffle=way.shuffle), seeded=False)
    Path("session.toml").write_text(f'keys = "{way.keys}"\n{text}' if way.shuffle == "host" else text, "utf-8")
    apart = [way.kept, "--keys-out", "outside.pdf"] if way.kept else []
    results = [run("print", "session.toml", "--out", "kit", "--packets", *apart)]
    if way.keys != "balanced" and (way.keys, way.kept) != ("shared", "--key-on-paper"):
        ask = ["--passphrase"] if way.kept == "--passphrase" else []
        more = ["--keys-out", "more/outside.pdf"] if way.kept else []
        Path("more").mkdir()
        results.append(run("print", "--add", "Tomas", "kit", *ask, *more))
    assert [result.exit_code for result in results] == [ExitCode.DONE] * len(results), results[-1].output
    files = {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    said = tuple(text for result in results for text in (result.stdout, result.stderr))
    return Print(files, said, tuple(_keys(way, variant)))


def shows_a_key(name: str, way: Way) -> bool:
    """Tell whether a file shows a key by design: by post a packet holds the key, sealed, where the folder may."""
    is_packet_with_key = name.startswith("kit/packets/") and way.shuffle == "twin" and not way.kept
    return Path(name).name in KEY_PAPERS or is_packet_with_key


def texts(pdf: bytes) -> list[str]:
    """Return the text of each page as pypdf finds it."""
    return [page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


def without_keys(record: bytes) -> object:
    entry = json.loads(record)
    del entry["record_sha256"]
    for key in entry["keys"]:
        key.pop("masked", None)
        key.pop("locked", None)
    return entry


def purposes_drawn(keys: Keys) -> Iterator[str]:
    """Yield what a kit with such keys draws for."""

    class Listening:
        def __init__(self) -> None:
            self.heard: list[str] = []

        def below(self, limit: int, purpose: str) -> int:
            self.heard.append(purpose)
            return 0

        def token(self, length: int, purpose: str) -> bytes:
            self.heard.append(purpose)
            return shake_256(purpose.encode()).digest(length)

    chance = Listening()
    build_kit(samples.a_session(3, keys=keys), chance)
    yield from chance.heard


def _keys(way: Way, variant: int) -> Iterator[tuple[int, ...]]:
    """Yield the keys of the kit in the current folder; of one that keeps none, as they were drawn for it."""
    kit = load_kit(Path("kit"))
    if kit.keys_kept == "paper":
        yield from draw_keys(samples.a_session(4, shuffle=way.shuffle, keys=way.keys), KeyedChance(variant))
    elif kit.sealed:
        secret = PASSPHRASE if kit.keys_kept == "passphrase" else None
        yield from (tuple(key.places.values()) for key in opened_keys(kit, secret))
