"""The conditions of a rehearsal in plain words, and the words that name several of them."""

from __future__ import annotations

from collections.abc import Iterable

from kit.errors import FacedownError
from scanner.rehearsal.camera import PHOTOGRAPHS, SCANS, SHOTS

DESCRIPTIONS = {
    "flatbed-300": "flatbed scan at 300 dpi",
    "flatbed-200": "flatbed scan at 200 dpi",
    "feeder-300": "sheet-feeder scan at 300 dpi: askew, stretched, with streaks",
    "feeder-200": "sheet-feeder scan at 200 dpi",
    "feeder-150": "sheet-feeder scan at 150 dpi",
    "fax-200": "black and white only, as a fax",
    "dithered-200": "black and white dots in place of grays",
    "stained": "flatbed scan of a sheet with drops and wet rings",
    "creased": "scan of a sheet that was folded in thirds",
    "fit-to-page": "printed at 94 to 97 %, as “fit to page” does",
    "other-print-scale": "printed at 90 to 105 %",
    "photocopied": "scan of a photocopy of the marked sheet",
    "starved-toner": "scan of a copy with hardly any toner",
    "recycled-paper": "scan of grey, fibrous paper",
    "dog-eared": "scan with one corner folded over",
    "photo-daylight": "photograph from above, in daylight",
    "photo-tilted": "photograph from the side, any way up",
    "photo-shadowed": "photograph with hard shadows",
    "photo-chat": "photograph sent through a chat program, which shrinks it",
    "photo-bent": "photograph of a curved sheet",
    "folded": "photograph of a sheet that came by post, folded in thirds",
    "photo-thumb": "photograph with a thumb over one corner",
    "photo-cut": "photograph with one edge or corner cut off",
    "photo-stained": "photograph of a sheet with drops and wet rings",
    "photo-lamp": "photograph at night, under one lamp",
    "photo-crumpled": "photograph of a crumpled sheet",
    "photo-moved": "photograph with a shaken hand",
    "photo-sleeve": "photograph through a clear sleeve that shines",
    "photo-dim": "photograph in a dim room, of a curved sheet",
}
"""Condition → what it is. One that is missing here goes by its name alone."""

GROUPS = {
    "usual": (
        "flatbed-200",
        "feeder-200",
        "stained",
        "fit-to-page",
        "photo-daylight",
        "photo-shadowed",
        "photo-chat",
        "folded",
    ),
    "scan": tuple(SCANS),
    "photo": tuple(PHOTOGRAPHS),
    "all": tuple(SHOTS),
    "flatbed": ("flatbed-300", "flatbed-200"),
    "feeder": ("feeder-300", "feeder-200", "feeder-150"),
    "fax": ("fax-200", "dithered-200"),
    "copy": ("photocopied", "starved-toner"),
    "chat": ("photo-chat",),
    "stains": ("stained", "photo-stained"),
    "folds": ("creased", "folded", "dog-eared", "photo-crumpled"),
    "print-scale": ("fit-to-page", "other-print-scale"),
    "dark": ("photo-shadowed", "photo-lamp", "photo-dim"),
}
"""Word → the conditions that it stands for."""


def chosen(words: str) -> tuple[str, ...]:
    """Return the conditions that a list such as "flatbed,chat" names, each once, in the order of the catalogue.

    Raises
    ------
    FacedownError
        If a word is neither a condition nor a group, or there is none.
    """
    names = [word.strip().lower() for word in words.split(",") if word.strip()]
    strangers = [name for name in names if name not in SHOTS and name not in GROUPS]
    if strangers or not names:
        found = ", ".join(repr(name) for name in dict.fromkeys(strangers)) or "no condition at all"
        raise FacedownError(
            f"--conditions: found {found}. Allowed are the words {', '.join(GROUPS)} "
            f"and the conditions {', '.join(SHOTS)}.",
            "Several are parted by commas; `facedown rehearse --list` says what each is.",
        )
    wanted = {condition for name in names for condition in ((name,) if name in SHOTS else GROUPS[name])}
    return tuple(name for name in SHOTS if name in wanted)


def described() -> Iterable[tuple[str, str]]:
    """Yield every condition, then every group, each with what it is."""
    for name in SHOTS:
        yield name, DESCRIPTIONS.get(name, "")
    whole = {"scan": "every scan", "photo": "every photograph", "all": "everything above"}
    for word, names in GROUPS.items():
        yield word, whole.get(word) or ", ".join(names)
