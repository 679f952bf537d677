"""`print --passphrase` and `--key-on-paper`: no key in the kit, its papers in one file outside, and a taster more."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode, KitError
from kit.keys import seal_code
from kit.record import load_kit, opened_keys
from kit.session import Keys, Shuffle
from kit.shell import main
from tests.kit import samples
from tests.kit.rendering import needs_poppler, text_of

PASSPHRASE = "heron by the salt marsh"
WAYS: list[tuple[Shuffle, Keys]] = [("host", "own"), ("host", "shared"), ("twin", "own")]
KEPT = ("--passphrase", "--key-on-paper")


@pytest.fixture(autouse=True)
def passphrase(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FACEDOWN_PASSPHRASE", PASSPHRASE)


def write(tmp_path: Path, shuffle: Shuffle = "host", keys: Keys = "own", *, seeded: bool = False) -> Path:
    path = tmp_path / "session.toml"
    text = samples.session_file(samples.a_session(4, shuffle=shuffle), seeded=seeded)
    path.write_text(f'keys = "{keys}"\n{text}' if shuffle == "host" else text, "utf-8")
    return path


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["print", *map(str, arguments)])


def kept(tmp_path: Path, option: str, shuffle: Shuffle = "host", keys: Keys = "own", *more: str) -> Path:
    result = run(
        write(tmp_path, shuffle, keys), "--out", tmp_path / "kit", option, "--keys-out", tmp_path / "keys.pdf", *more
    )
    assert result.exit_code == ExitCode.DONE, result.output
    return tmp_path / "kit"


def printed_keys(pdf: Path) -> dict[str, dict[str, str]]:
    """Return what the key sheets show, by seal: the order as poppler reads it off the page, and the salt."""
    found = {}
    for page in text_of(pdf.read_bytes()):
        if "Sealed key" in page:
            seal = page.split("Seal")[-1].split()
            words = page.split()
            salt = words[words.index("Salt") + 1]
            code = next(word for word in seal if word.count("-") == 3).replace("-", "")
            found[code] = {"salt": salt, "page": page}
    return found


@needs_poppler
@pytest.mark.parametrize("option", KEPT)
@pytest.mark.parametrize(("shuffle", "keys"), WAYS)
def test_the_kit_holds_no_key_and_the_file_outside_holds_all(
    tmp_path: Path, option: str, shuffle: Shuffle, keys: Keys
) -> None:
    kit = kept(tmp_path, option, shuffle, keys, "--packets")
    record = load_kit(kit)
    sheets = printed_keys(tmp_path / "keys.pdf")
    assert set(sheets) == set(record.seals)
    assert (tmp_path / "keys.pdf").stat().st_mode & 0o777 == 0o600 or os.name != "posix"
    names = {path.name for path in kit.rglob("*")}
    assert not {"keys.pdf", "packing.pdf"} & names
    salts = [sheet["salt"] for sheet in sheets.values()]
    for path in kit.rglob("*"):
        if path.is_file():
            content = path.read_bytes()
            assert not any(salt.encode() in content or bytes.fromhex(salt) in content for salt in salts)
        if path.suffix == ".pdf":
            text = "".join(text_of(path.read_bytes()))
            assert not any(salt in text for salt in salts)
            assert "Sealed key" not in text
    with pytest.raises(KitError):
        opened_keys(record)


def test_with_the_passphrase_the_keys_come_out_and_match_their_seals(tmp_path: Path) -> None:
    kit = load_kit(kept(tmp_path, "--passphrase"))
    for key in opened_keys(kit, PASSPHRASE):
        order = tuple(key.places.values())
        assert seal_code(kit.id, key.taster, order, bytes.fromhex(key.salt)) == kit.seals[key.taster - 1]
    with pytest.raises(KitError, match="not the one"):
        opened_keys(kit, PASSPHRASE.upper())


def test_a_passphrase_from_a_file_is_as_good(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("FACEDOWN_PASSPHRASE")
    (tmp_path / "secret.txt").write_text("quiet orchard\n", "utf-8")
    session = write(tmp_path)
    result = run(
        *(session, "--out", tmp_path / "kit", "--keys-out", tmp_path / "keys.pdf"),
        *("--passphrase-file", tmp_path / "secret.txt"),
    )
    assert result.exit_code == ExitCode.DONE
    assert len(opened_keys(load_kit(tmp_path / "kit"), "quiet orchard")) == 3
    result = run(session, "--out", tmp_path / "two", "--keys-out", tmp_path / "two.pdf", "--passphrase")
    assert result.exit_code == ExitCode.REFUSED, "no terminal, no file, no variable"
    assert not (tmp_path / "two").exists()


@pytest.mark.parametrize("option", KEPT)
def test_it_says_to_print_the_file_and_delete_it(tmp_path: Path, option: str) -> None:
    result = run(write(tmp_path), "--out", tmp_path / "kit", option, "--keys-out", tmp_path / "keys.pdf")
    sentence = f"Every paper that shows a key is in {tmp_path / 'keys.pdf'}, and none in the kit folder. Print it"
    assert sentence in result.stdout
    assert "then delete the file" in result.stdout
    assert ("the only ones" in result.stdout) == (option == "--key-on-paper")
    assert PASSPHRASE not in result.output
    result = run(write(tmp_path), "--out", tmp_path / "2", option, "--keys-out", tmp_path / "2.pdf", "--json", "-")
    assert json.loads(result.stdout)["kit"] == load_kit(tmp_path / "2").id
    assert "then delete the file" in result.stderr


@pytest.mark.parametrize("option", KEPT)
def test_where_it_would_protect_nothing_it_is_refused(tmp_path: Path, option: str) -> None:
    places = ("--out", tmp_path / "kit", option, "--keys-out", tmp_path / "keys.pdf")
    result = run(write(tmp_path, seeded=True), *places)
    assert result.exit_code == ExitCode.REFUSED
    assert f"it has a seed. Whoever knows the seed can draw the same keys, so {option} would protect nothing" in (
        result.stderr
    )
    result = run(write(tmp_path, "hand"), *places)
    assert result.exit_code == ExitCode.REFUSED
    assert "in a hand sitting no key exists" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["session.toml"]


@pytest.mark.parametrize(
    "options",
    [
        ("--passphrase",),
        ("--key-on-paper",),
        ("--passphrase-file", "FILE"),
        ("--keys-out", "OUT"),
        ("--passphrase", "--key-on-paper", "--keys-out", "OUT"),
        ("--passphrase-file", "FILE", "--key-on-paper", "--keys-out", "OUT"),
    ],
)
def test_wrong_usage_has_its_own_status(tmp_path: Path, options: tuple[str, ...]) -> None:
    (tmp_path / "secret.txt").write_text(PASSPHRASE, "utf-8")
    paths = {"FILE": tmp_path / "secret.txt", "OUT": tmp_path / "keys.pdf"}
    result = run(write(tmp_path), "--out", tmp_path / "kit", *(paths.get(option, option) for option in options))
    assert result.exit_code == ExitCode.USAGE
    assert "--keys-out" in result.stderr or "--key-on-paper" in result.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["secret.txt", "session.toml"]


@needs_poppler
@pytest.mark.parametrize("option", KEPT)
@pytest.mark.parametrize("shuffle", ["host", "twin"])
def test_one_taster_more_gets_a_key_and_only_that_key_is_printed(tmp_path: Path, option: str, shuffle: Shuffle) -> None:
    kit = kept(tmp_path, option, shuffle)
    before = load_kit(kit)
    ask = ["--passphrase"] if option == "--passphrase" else []
    result = run("--add", "Tomas", kit, *ask, "--keys-out", tmp_path / "more.pdf")
    assert result.exit_code == ExitCode.DONE, result.output
    assert f"{tmp_path / 'more.pdf'}: all of it" in result.stdout
    after = load_kit(kit)
    assert (after.keys_kept, after.lock, after.sealed[:3]) == (before.keys_kept, before.lock, before.sealed)
    assert set(printed_keys(tmp_path / "more.pdf")) == {after.seals[3]}
    assert all("Tomas" in page for page in text_of((tmp_path / "more.pdf").read_bytes()))
    assert not {"keys.pdf", "packing.pdf"} & {path.name for path in kit.iterdir()}
    if option == "--passphrase":
        assert [key.seal for key in opened_keys(after, PASSPHRASE)] == list(after.seals)


def test_a_shared_key_is_passed_on_with_the_passphrase_and_not_from_paper(tmp_path: Path) -> None:
    kit = kept(tmp_path, "--passphrase", "host", "shared")
    assert run("--add", "Tomas", kit, "--passphrase", "--keys-out", tmp_path / "more.pdf").exit_code == ExitCode.DONE
    assert len({tuple(key.places.values()) for key in opened_keys(load_kit(kit), PASSPHRASE)}) == 1
    (tmp_path / "paper").mkdir()
    kit = kept(tmp_path / "paper", "--key-on-paper", "host", "shared")
    result = run("--add", "Tomas", kit, "--keys-out", tmp_path / "none.pdf")
    assert result.exit_code == ExitCode.REFUSED
    assert "is on paper alone: the kit cannot give it to one more taster" in result.stderr
    assert not (tmp_path / "none.pdf").exists()
    assert len(load_kit(kit).session.tasters) == 3


@pytest.mark.parametrize("wrong", ["none", "another", "no place for the key"])
def test_adding_without_what_it_needs_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wrong: str) -> None:
    kit = kept(tmp_path, "--passphrase")
    if wrong == "none":
        monkeypatch.delenv("FACEDOWN_PASSPHRASE")
    elif wrong == "another":
        monkeypatch.setenv("FACEDOWN_PASSPHRASE", "another")
    places: list[str | Path] = [] if wrong == "no place for the key" else ["--keys-out", tmp_path / "more.pdf"]
    result = run("--add", "Tomas", kit, *places)
    assert result.exit_code == ExitCode.REFUSED
    sentences = {
        "none": "locked with a passphrase",
        "another": "not the one",
        "no place for the key": "--keys-out FILE",
    }
    assert sentences[wrong] in result.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["keys.pdf", "kit", "session.toml"]
    assert len(load_kit(kit).session.tasters) == 3


def test_the_papers_of_a_masked_kit_stay_in_its_folder(tmp_path: Path) -> None:
    assert run(write(tmp_path), "--out", tmp_path / "kit").exit_code == ExitCode.DONE
    result = run("--add", "Tomas", tmp_path / "kit", "--keys-out", tmp_path / "keys.pdf")
    assert result.exit_code == ExitCode.REFUSED
    assert "Print it without --keys-out" in result.stderr
    assert run("--add", "Tomas", tmp_path / "kit", "--key-on-paper").exit_code == ExitCode.USAGE


@pytest.mark.parametrize("option", KEPT)
def test_a_file_for_keys_in_the_kit_or_in_anothers_place_is_refused(tmp_path: Path, option: str) -> None:
    session = write(tmp_path)
    result = run(session, "--out", tmp_path / "kit", option, "--keys-out", tmp_path / "kit" / "keys.pdf")
    assert result.exit_code == ExitCode.REFUSED
    assert "must not hold them" in result.stderr
    (tmp_path / "mine.pdf").write_bytes(b"mine")
    result = run(session, "--out", tmp_path / "kit", option, "--keys-out", tmp_path / "mine.pdf")
    assert result.exit_code == ExitCode.REFUSED
    assert "keys are never written over anything" in result.stderr
    assert (tmp_path / "mine.pdf").read_bytes() == b"mine"
    assert not (tmp_path / "kit").exists()
