"""Doors of text: what people write, and the JSON that the program writes and takes back."""

from __future__ import annotations

import datetime
import json
from functools import partial
from pathlib import Path

from kit.chance_source import SeededChance
from kit.codes import Code, CodeKind, decode, encode, is_genuine
from kit.key_code import key_in, key_text
from kit.plan import plan
from kit.record import LAYOUT_FILE, RECORD_FILE, _digest, layout_of, load_kit, opened_keys
from kit.session import load_session, session_from_json, session_to_json
from kit.told_keys import is_the_sealed_one, load_told_keys
from scanner.commands.read import pages_table
from scanner.commands.score import scores_text
from scanner.identify import identify
from scanner.kits import from_kit
from scanner.pile import left_to_look_at, rows_sorted_out, sorted_out
from scanner.reading import Reading
from scanner.reading_json import load_reading
from scanner.results.cellar import load_cellar
from scanner.results.gather import gather
from scanner.score import scores
from scanner.score_json import to_json as scores_to_json
from scanner.settle import load_answers, settled, settled_rows
from scanner.what_stood import Sitting
from tests.fuzz import good
from tests.fuzz.doors import Door, Run
from tests.fuzz.mutate import of_code, of_json, of_text
from tests.make_samples import SAMPLES

TODAY = datetime.date(2026, 12, 6)
ANSWERS = b"""\
[[settle]]
sheet  = "%(kit)s-0001-3"
field  = "match.A"
option = "3"
state  = "marked"
[[settle]]
sheet = "%(kit)s-0001-1"
keep  = "pile.pdf"
page  = 1
[[settle]]
row   = "%(kit)s-0001"
order = [3, 1, 2]
picture = "row.jpg"
"""
CELLAR_CSV = b"""name,id,style,abv\nHeron Marsh,heron-marsh,daiginjo,16.0\nGull Rock,,junmai,"15,5"\nOld Jetty,,,\n"""


def _session(folder: Path) -> Run:
    path = folder / "session.toml"

    def run(content: bytes) -> None:
        path.write_bytes(content)
        session = load_session(path)
        plan(session)
        assert session_from_json(json.loads(json.dumps(session_to_json(session)))) == session

    return run


def _kit(folder: Path, passphrase: str | None = None) -> Run:
    good.put_kit(folder)
    reading = good.reading()

    def run(content: bytes) -> None:
        (folder / RECORD_FILE).write_bytes(_signed(content, "record_sha256"))
        kit = load_kit(folder)
        layout = layout_of(folder)
        on_file = from_kit(kit, layout)
        identify(["F" * 20, encode(Code(CodeKind.SHEET, kit.id, 1, 1), kit.secret)], {kit.id: on_file})
        pages_table(reading, {kit.id: on_file})
        keys = opened_keys(kit, passphrase)
        _score(Sitting(kit.id, kit.session, layout, keys), reading)

    return run


def _score(sitting: Sitting, reading: Reading) -> None:
    result = scores([sitting], {"reading.json": reading})
    scores_text(result)
    json.dumps(scores_to_json(result))
    gather([sitting], {"reading.json": reading})


def _signed(content: bytes, key: str) -> bytes:
    """Make a record's digest right again: whoever changes it can."""
    try:
        entry = json.loads(content)
        entry[key] = _digest({name: value for name, value in entry.items() if name != key})
        return json.dumps(entry).encode()
    except (ValueError, TypeError, AttributeError, RecursionError):
        return content


def _layout(folder: Path) -> Run:
    good.put_kit(folder)
    record = json.loads((folder / RECORD_FILE).read_bytes())
    reading = good.reading()

    def run(content: bytes) -> None:
        (folder / LAYOUT_FILE).write_bytes(content)
        try:
            record["layout_sha256"] = _digest(json.loads(content))
        except (ValueError, RecursionError):
            record["layout_sha256"] = "0"
        (folder / RECORD_FILE).write_bytes(_signed(json.dumps(record).encode(), "record_sha256"))
        kit, layout, keys = good.opened(folder)
        pages_table(reading, {kit.id: from_kit(kit, layout)})
        _score(Sitting(kit.id, kit.session, layout, keys), reading)

    return run


def _reading(folder: Path) -> Run:
    sittings = {}
    for shuffle in ("host", "hand"):
        kit, layout, keys = good.opened(good.put_kit(folder / shuffle, shuffle))
        sittings[kit.id] = Sitting(kit.id, kit.session, layout, keys), from_kit(kit, layout)
    path = folder / "reading.json"

    def run(content: bytes) -> None:
        path.write_bytes(content)
        reading = load_reading(path)
        list(left_to_look_at(reading))
        pages_table(reading, {name: kit for name, (_, kit) in sittings.items()})
        for sitting, _ in sittings.values():
            _score(sitting, reading)

    return run


def _settle(folder: Path) -> Run:
    path = folder / "answers.toml"
    reading = good.reading()

    def run(content: bytes) -> None:
        path.write_bytes(content)
        answers = load_answers(path)
        pages, _ = settled(reading.pages, answers)
        rows, _ = settled_rows(good.reading("hand").turned, answers)
        rows_sorted_out(rows, sorted_out(pages))

    return run


def _cellar(folder: Path, name: str) -> Run:
    path = folder / name

    def run(content: bytes) -> None:
        path.write_bytes(content)
        load_cellar(path, TODAY).known(TODAY)

    return run


def _told_keys(folder: Path) -> Run:
    kit, _, _ = good.opened(good.put_kit(folder))
    path = folder / "keys.json"

    def run(content: bytes) -> None:
        path.write_bytes(content)
        for told in load_told_keys(path, kit):
            is_the_sealed_one(told, kit)

    return run


def _keys_file() -> bytes:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        kit, _, keys = good.opened(good.put_kit(Path(folder)))
    entries = [{"taster": key.taster, "places": dict(key.places), "salt": key.salt, "seal": key.seal} for key in keys]
    return json.dumps({"format": "facedown-key/1", "kit": kit.id, "keys": entries}).encode()


def _codes(folder: Path) -> Run:
    kit, layout, _ = good.opened(good.put_kit(folder))
    kits = {kit.id: from_kit(kit, layout)}

    def run(content: bytes) -> None:
        text = content.decode("utf-8", "replace")
        if (code := decode(text)) is not None:
            is_genuine(text, kit.secret)
            assert encode(code, kit.secret)[:12] == text[:12]
        identify([text, text[::-1]], kits)
        key_in(text)

    return run


def _code_texts() -> list[bytes]:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        kit, _, keys = good.opened(good.put_kit(Path(folder)))
    codes = [encode(Code(kind, kit.id, 1, 1), kit.secret).encode() for kind in CodeKind]
    return [*codes, key_text(keys[0]).encode()]


def _locked_kit() -> bytes:
    """Return a record locked with a passphrase, at the least cost that scrypt has."""
    import tempfile

    import kit.passphrase as passphrase
    from kit.record import kept_with_passphrase, layout_sha256_of, record_file

    former = passphrase.COST
    passphrase.COST = 2
    try:
        with tempfile.TemporaryDirectory() as folder:
            kit = load_kit(good.put_kit(Path(folder)))
            locked = kept_with_passphrase(kit, "three small boats", SeededChance(1))
            return record_file(locked, layout_sha256_of(Path(folder)))
    finally:
        passphrase.COST = former


def _typed(folder: Path) -> Run:
    from scanner.archive.typed import load_typed

    path = folder / "typed.toml"

    def run(content: bytes) -> None:
        path.write_bytes(content)
        load_typed(path)

    return run


TYPED = b"""\
[[sheets]]
sheet = "K7Q4M2-0001-3"
[sheets.marks]
"match.A" = "3"
"words.A" = ["pear", "melon"]
[[results]]
date    = 2025-11-02
taster  = "ines"
name    = "Ines"
title   = "Before facedown"
shuffle = "hand"
drinks  = ["Heron Marsh", "Gull Rock", "Old Jetty"]
claims  = {A = 3, B = 1}
truth   = {A = 3, B = 2, C = 1}
sure    = {A = "sure"}
"""

DOORS = (
    Door(
        "session",
        lambda: [
            *(good.session(shuffle).encode() for shuffle in ("host", "hand", "twin")),
            (SAMPLES / "daily.toml").read_bytes(),
        ],
        of_text,
        _session,
    ),
    Door("kit", lambda: [good.kit_files()[0]], of_json, _kit),
    Door("locked-kit", lambda: [_locked_kit()], of_json, partial(_kit, passphrase="three small boats"), seconds=20.0),
    Door("layout", lambda: [good.kit_files()[1]], of_json, _layout),
    Door("codes", _code_texts, of_code, _codes),
    Door("reading", lambda: [good.reading_file(), good.reading_file("hand")], of_json, _reading),
    Door("keys", lambda: [_keys_file()], of_json, _told_keys),
    Door(
        "settle",
        lambda: [ANSWERS.replace(b"%(kit)s", json.loads(good.kit_files()[0])["kit"].encode())],
        of_text,
        _settle,
    ),
    Door(
        "cellar-toml", lambda: [(SAMPLES / "cellar.toml").read_bytes()], of_text, partial(_cellar, name="cellar.toml")
    ),
    Door("cellar-csv", lambda: [CELLAR_CSV], of_text, partial(_cellar, name="cellar.csv")),
    Door("typed", lambda: [TYPED], of_text, _typed),
)
