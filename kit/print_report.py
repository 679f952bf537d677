"""What `facedown print` tells of a print, in lines for people."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path

from kit.folder import PACKETS_FOLDER
from kit.packets import Contents, contents_text, packet_name

WHAT = {
    "forms.pdf": "the tasters' sheets; print at 100 %, one side only",
    "coasters.pdf": "coaster labels and row-end cards",
    "host.pdf": "pour sheet, run sheet, table check list",
    "keys.pdf": "the sealed keys; fold them before anybody reads them",
    "vials.pdf": "labels for the vials of each packet",
    "packing.pdf": "what goes into which vial; it shows keys, for whoever packs alone",
    "letters.pdf": "a letter to each member",
    "contents.pdf": "the list of contents, to tick off the packets",
    PACKETS_FOLDER: "a PDF for each packet, by its number",
    "kit.json": "the kit's record; keep it, `read` and `score` need it",
    "layout.json": "where every box is printed; keep it too",
}


def printed_lines(folder: Path, contents: Contents) -> Iterator[str]:
    """Tell what is in a kit's folder, and what comes afterwards."""
    kit = contents.kit
    tasters = len(kit.session.tasters)
    counted = f"{kit.session.glasses} glasses, {tasters} taster{'s' * (tasters > 1)}"
    yield f"Kit {kit.id}: {counted}, written to {folder}"
    for name, what in WHAT.items():
        if (folder / name).exists():
            yield f"  {name:<13}{what}"
    if contents.has_packets:
        yield from contents_text(contents)
    yield f"Afterwards: facedown read --kit {shlex.quote(str(folder))} --json reading.json SCANS…"


def added_lines(folder: Path, contents: Contents, keys_out: Path | None) -> Iterator[str]:
    """Tell what to print for a taster who was added to a kit."""
    number = len(contents.kit.session.tasters)
    taster = contents.kit.session.tasters[-1]
    yield f"Kit {contents.kit.id}: {taster.name} is taster {number}; {folder} was written anew. Print now:"
    for name in contents.pages:
        first, last = contents.range_of(number, name)
        yield f"  {name:<13}{f'page {first}' if first == last else f'pages {first} to {last}'}"
    if keys_out is not None:
        yield f"  {keys_out}: all of it"
    if contents.has_packets:
        yield f"  or all that goes into the packet: {packet_name(number)}"
        yield "  contents.pdf again: it has a line more"
    yield "  host.pdf     again: there is more to pour"
    yield "Papers printed before stay good: no other key, seal or code has changed."


def notes(contents: Contents, *, keys_out: Path | None, drew_house: bool = False) -> Iterator[str]:
    """Tell what has to be done beside printing: about keys that lie apart, and about house coasters."""
    kit = contents.kit
    if keys_out is not None:
        yield (
            f"Every paper that shows a key is in {keys_out}, and none in the kit folder. "
            "Print it, fold the keys, then delete the file."
        )
        if kit.keys_kept == "paper":
            yield "The printed keys are then the only ones: the kit keeps their seal codes alone."
        else:
            yield "After that the keys come from the kit with the passphrase alone, or from the printed sheets."
    if kit.session.house is not None and drew_house:
        yield (
            f"House coasters, set {kit.session.house}: print and glue them once. "
            "From now on write into every session file:"
        )
        yield f'  house = "{kit.session.house}"'
    elif kit.session.house is not None:
        yield (
            f"House coasters, set {kit.session.house}: they are as they were; "
            "print coasters.pdf only for tasters without a card."
        )
