"""Prints a kit into a folder, or one taster more into a kit that was printed before."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from pathlib import Path

from kit.add_taster import key_for_added, refuse_another_layout, with_taster
from kit.build import build_kit, chance_for
from kit.chance_source import ChanceSource, SystemChance
from kit.contents import print_kit, unprintable
from kit.errors import FacedownError, KitError
from kit.folder import PACKETS_FOLDER, OpenFile, fill_folder
from kit.keys import OpenedKey
from kit.keys_out import keys_file
from kit.packets import Contents
from kit.record import (
    KeysKept,
    Kit,
    kept_on_paper,
    kept_with_passphrase,
    layout_sha256_of,
    load_kit,
    opened_keys,
    sealed_as_kept,
)
from kit.session import Session

AfterEach = Callable[[int], object]
"""Called with a taster's number when that taster's papers are printed."""


def _in_silence(taster: int) -> None:
    return None


@dataclass(frozen=True, slots=True)
class HowToPrint:
    """How a kit is printed.

    `replaces`: the option by which a kit that exists is to be replaced; None if it is not. `packets`: a PDF for each
    packet too. `keys_out`: where every paper that shows a key goes; None for the kit folder, which masked keys alone
    allow. `passphrase`: with which the keys are, or were, locked.
    """

    replaces: str | None = None
    packets: bool = False
    keys_out: Path | None = None
    keys_kept: KeysKept = "masked"
    passphrase: str | None = None


def print_session(
    session: Session, subject: str, folder: Path, how: HowToPrint, after_each: AfterEach = _in_silence
) -> Contents:
    """Print the kit of a session into a new folder, whole or not at all; messages call the session `subject`.

    Raises
    ------
    FacedownError
        If the session cannot be printed so, the folder exists, or the disk refuses.
    """
    refuse_to_keep(session, subject, how.keys_kept)
    _refuse_unprintable(session, subject)
    chance = chance_for(session)
    kit = build_kit(session, chance)
    opened = opened_keys(kit)
    if how.keys_kept == "passphrase":
        kit = kept_with_passphrase(kit, how.passphrase or "", chance)
    elif how.keys_kept == "paper":
        kit = kept_on_paper(kit)
    return _print(kit, opened, folder, how, chance, after_each)


def print_added(
    folder: Path,
    name: str,
    taster_id: str | None,
    how: HowToPrint,
    after_each: AfterEach = _in_silence,
    *,
    address: tuple[str, ...] = (),
) -> Contents:
    """Print a kit again with one taster more, the last, whole or not at all; nobody else's key, seal or code changes.

    `address` holds the lines of their address, which kits by post alone print. `how` says where the new key's papers
    go, and the passphrase, if the kit has one; all else is as it was.

    Raises
    ------
    FacedownError
        If there is no such kit, the taster cannot be added to it, or the disk refuses.
    """
    former = load_kit(folder)
    session = with_taster(former.session, name, taster_id, address)
    _refuse_unprintable(session, "--add")
    refuse_another_layout(former, layout_sha256_of(folder))
    chance = SystemChance()
    kit, added = _with_key(replace(former, session=session), chance, how.passphrase)
    # Papers of keys that are not in the folder were printed and deleted: only the new one's are printed.
    opened = opened_keys(kit) if kit.keys_kept == "masked" else added
    packets = (folder / PACKETS_FOLDER).is_dir()
    how = replace(how, replaces="--add", packets=packets, keys_kept=kit.keys_kept)
    return _print(kit, opened, folder, how, chance, after_each)


def refuse_to_keep(session: Session, subject: str, kept: KeysKept) -> None:
    """Refuse to lock the keys, or to leave them to paper, where that would protect nothing.

    Raises
    ------
    FacedownError
        If the session has a seed, or no key exists before the tasting.
    """
    if kept == "masked":
        return
    option = "--passphrase" if kept == "passphrase" else "--key-on-paper"
    if session.shuffle == "hand":
        raise FacedownError(
            f"{subject}: in a hand sitting no key exists before the coasters are turned, so {option} has none to keep.",
            "Print it without that option.",
        )
    if session.seed is not None:
        raise FacedownError(
            f"{subject}: it has a seed. Whoever knows the seed can draw the same keys, "
            f"so {option} would protect nothing.",
            "Take the line with the seed out.",
        )


def _with_key(kit: Kit, chance: ChanceSource, passphrase: str | None) -> tuple[Kit, tuple[OpenedKey, ...]]:
    """Return the kit with a key for its last taster, kept as the others are, and that key; none with `hand`."""
    if kit.session.shuffle == "hand":
        return kit, ()
    number, shared = len(kit.session.tasters), None
    if kit.session.keys == "shared":
        shared = tuple(_first_key(kit, passphrase).places.values())
    key, salt = key_for_added(kit.session, chance, shared)
    sealed = sealed_as_kept(kit, number, key, salt, chance, passphrase)
    places = dict(zip(kit.session.place_letters, key, strict=True))
    return replace(kit, sealed=(*kit.sealed, sealed)), (OpenedKey(number, places, salt.hex(), sealed.seal),)


def _first_key(kit: Kit, passphrase: str | None) -> OpenedKey:
    if kit.keys_kept == "paper":
        raise KitError(
            f"The one key of kit {kit.id}'s table is on paper alone: the kit cannot give it to one more taster.",
            "Print a kit for all of them anew.",
        )
    return opened_keys(kit, passphrase)[0]


def _print(
    kit: Kit, opened: Sequence[OpenedKey], folder: Path, how: HowToPrint, chance: ChanceSource, after_each: AfterEach
) -> Contents:
    _refuse_a_place_for_keys(kit, how.keys_out)
    contents: list[Contents] = []
    with keys_file(how.keys_out, folder) if how.keys_out else nullcontext() as keys:

        def fill(open_file: OpenFile) -> None:
            contents.append(
                print_kit(kit, opened, chance, open_file, packets=how.packets, keys_file=keys, after_each=after_each)
            )
            if keys is not None:
                # Before the folder takes its name: a kit without its keys would be worse than keys without a kit.
                keys.publish()

        fill_folder(folder, fill, replaces=how.replaces)
    return contents[0]


def _refuse_a_place_for_keys(kit: Kit, keys_out: Path | None) -> None:
    if kit.keys_kept == "masked" and keys_out is not None:
        raise KitError(f"The papers of kit {kit.id} that show a key lie in its folder.", "Print it without --keys-out.")
    if kit.keys_kept != "masked" and keys_out is None:
        raise KitError(
            f"No paper that shows a key of kit {kit.id} goes into its folder.",
            "Say where they go, outside it: --keys-out FILE.",
        )


def _refuse_unprintable(session: Session, subject: str) -> None:
    if missing := unprintable(session):
        places = "; ".join(f"in {text!r} the fonts have no shape for {marks!r}" for text, marks in missing.items())
        raise FacedownError(f"{subject}: {places}.", "Write it in Latin letters, kana or kanji.")
