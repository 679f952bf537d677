"""Draws `samples/` afresh: the filled sheets of the invented club's winter sitting, and the answers behind them.

    python -m tests.make_samples [FOLDER]

Everything comes from the session's seed and one of our own, so the same forms give the same samples.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
import pillow_heif
from PIL import Image

from kit.build import build_kit, chance_for
from kit.lexicon import load_lexicon
from kit.record import Kit, opened_keys
from kit.session import load_session
from kit.sheet_layout import SheetLayout
from kit.sheets import form_sheets
from scanner.reading import State
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.camera import CONDITIONS
from scanner.rehearsal.hand import HANDS, PENS, Hand, Intent, MarkedSheet, Pen, mark_sheet, write_remarks
from scanner.rehearsal.prints import PX_PER_MM, printed
from tests.panel import Intents, Panellist, intents_for

SAMPLES = Path(__file__).parent.parent / "samples"
DRAWN_WITH = 20261206
PILE_QUALITY, JPEG_QUALITY, HEIC_QUALITY = 42, 62, 40

# Taster by taster: how steady, which hand, which pen.
PANEL = (
    (Panellist(0.9), "neat-crosses", "black-ballpoint"),
    (Panellist(0.7), "looped-crosses", "blue-ballpoint"),
    (Panellist(0.8), "tidy-ticks", "fountain-pen"),
    (Panellist(0.3), "large-crosses", "felt-tip"),
    (Panellist(0.95), "slashes", "pencil-hb"),
    (Panellist(0.6), "crosses-and-underlines", "blue-ballpoint"),
    (Panellist(0.5), "backward-slashes", "red-ballpoint"),
    (Panellist(0.8), "neat-crosses", "black-ballpoint"),
)
MISSING = (4, "notes-2")
PHOTOGRAPHED = {7: "jpg", 8: "heic"}
UPSIDE_DOWN = (7, "match")
STRANGER_AT = 8


@dataclass(frozen=True, slots=True)
class Filled:
    """One sheet as its taster handed it in."""

    layout: SheetLayout
    sheet: MarkedSheet


def main(folder: Path) -> None:
    """Write the pile, the photographs and the answers into `folder`."""
    rng = np.random.default_rng(DRAWN_WITH)
    session = load_session(SAMPLES / "winter.toml")
    kit = build_kit(session, chance_for(session))
    filled = _filled_sheets(kit, rng)
    pile: list[Gray] = []
    answers = []
    for one in filled:
        taster, role = one.layout.taster, one.layout.role
        if (taster, role) == MISSING:
            continue
        if taster in PHOTOGRAPHED:
            name = f"{session.tasters[taster - 1].id}-{role}.{PHOTOGRAPHED[taster]}"
            _write_photograph(folder / name, _photographed(one, rng))
            answers.append(_answers(one, name, 1))
            continue
        if len(pile) == STRANGER_AT:
            pile.append(_stranger(rng))
        pile.append(CONDITIONS["feeder-200"](one.sheet.page, PX_PER_MM, rng))
        answers.append(_answers(one, "pile.pdf", len(pile)))
    _write_pile(folder / "pile.pdf", pile)
    entry = {"kit": kit.id, "stranger": {"source": "pile.pdf", "source_page": STRANGER_AT + 1}, "sheets": answers}
    (folder / "answers.json").write_text(json.dumps(entry, indent=1) + "\n", "utf-8")
    pictures = folder / "pictures"
    pictures.mkdir(exist_ok=True)
    Image.fromarray(pile[0]).save(pictures / "sheet.jpg", quality=60)


def _filled_sheets(kit: Kit, rng: np.random.Generator) -> list[Filled]:
    session = kit.session
    lexicon, keys = load_lexicon(session.drink), opened_keys(kit)
    pours = tuple(pour.id or "" for pour in session.pours)
    filled = []
    for layout, page in printed(form_sheets(kit)):
        panellist, hand_name, pen_name = PANEL[layout.taster - 1]
        intents = intents_for(layout, pours, keys[layout.taster - 1], lexicon, panellist, rng)
        hand = next(hand for hand in HANDS if hand.name == hand_name)
        pen = next(pen for pen in PENS if pen.name == pen_name)
        filled.append(Filled(layout, _marked(page, layout, _changed_minds(layout, intents), hand, pen, rng)))
    return filled


def _marked(
    page: Gray, layout: SheetLayout, intents: Intents, hand: Hand, pen: Pen, rng: np.random.Generator
) -> MarkedSheet:
    marked = mark_sheet(page, layout, intents, hand, pen, rng, PX_PER_MM)
    return write_remarks(marked, layout, rng, PX_PER_MM, pen)


def _changed_minds(layout: SheetLayout, intents: Intents) -> Intents:
    """Let Maëlle take a claim back, and Kofi leave one place blank."""
    if layout.role != "match":
        return intents
    changed = dict(intents)
    claims = {field: option for field, option in changed if field.startswith("match.")}
    if layout.taster == 3:
        other = next(str(number) for number in range(1, 6) if str(number) != claims["match.B"])
        changed["match.B", other] = Intent.TAKE_BACK
    if layout.taster == 7:
        del changed["match.D", claims["match.D"]]
    return changed


def _photographed(one: Filled, rng: np.random.Generator) -> Gray:
    picture = CONDITIONS["photo-daylight"](one.sheet.page, PX_PER_MM, rng)
    if (one.layout.taster, one.layout.role) == UPSIDE_DOWN:
        picture = np.ascontiguousarray(picture[::-1, ::-1])
    # Eight megapixels: what older telephones give, and small enough to keep here.
    scale = 3264 / max(picture.shape)
    size = (round(picture.shape[1] * scale), round(picture.shape[0] * scale))
    return np.asarray(
        Image.fromarray(picture).resize(size, Image.Resampling.BOX if scale < 0.5 else Image.Resampling.BICUBIC)
    )


def _stranger(rng: np.random.Generator) -> Gray:
    """A sheet of quite another kit, put into the pile by mistake."""
    session = load_session(SAMPLES / "daily.toml")
    kit = build_kit(session, _Elsewhere())
    layout, page = next(printed(form_sheets(kit)))
    marked = _marked(page, layout, {("words.1", "rice"): Intent.MARK}, HANDS[0], PENS[0], rng)
    return CONDITIONS["feeder-200"](marked.page, PX_PER_MM, rng)


class _Elsewhere:
    """Randomness for the stranger's kit: any will do, as long as it is always the same."""

    def below(self, limit: int, purpose: str) -> int:
        return 123456789 % limit

    def token(self, length: int, purpose: str) -> bytes:
        return bytes(range(length))


def _answers(one: Filled, source: str, source_page: int) -> dict[str, object]:
    marks = [
        {"field": box.field, "option": box.option, "state": box.state.value, "tag": box.tag.value}
        for box in one.sheet.boxes
        if box.state is not State.EMPTY
    ]
    return {"source": source, "source_page": source_page, "sheet": one.layout.sheet, "marks": marks}


def _write_pile(path: Path, pages: list[Gray]) -> None:
    first, *others = (Image.fromarray(page) for page in pages)
    first.save(path, save_all=True, append_images=others, resolution=200.0, quality=PILE_QUALITY)


def _write_photograph(path: Path, picture: Gray) -> None:
    image = Image.fromarray(picture).convert("RGB")
    if path.suffix == ".heic":
        pillow_heif.register_heif_opener()
        image.save(path, quality=HEIC_QUALITY)
        return
    buffer = BytesIO()
    image.save(buffer, "JPEG", quality=JPEG_QUALITY)
    path.write_bytes(buffer.getvalue())


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLES)
