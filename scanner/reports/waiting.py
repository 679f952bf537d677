"""What a sitting waits for, as values: claims, marks and pictures that a person has to look at."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from kit.wording import Wording
from scanner.claims import combined
from scanner.claims_in import match_sheets_missing
from scanner.reading import Outcome, PageReading, PictureReading, Reading, State
from scanner.score import READ, SCORED_FIELDS, Scores, TasterScore
from scanner.what_stood import Sitting

Kind = Literal["sealed", "key", "claim", "sure", "turned", "notes", "picture", "stranger"]


@dataclass(frozen=True, slots=True)
class Waiting:
    """One thing that is left to a person.

    Attributes
    ----------
    kind
        A match sheet that all keys wait for; an opened key that was not read; a claim, how sure it is, or a coaster
        turned over; boxes of a note sheet; a picture; pages of a kit that was not given.
    taster, who
        Whose it is, by number and name; None and "" where it is nobody's.
    about
        The place, the note sheet's role, the picture's outcome or the kit.
    count
        How many boxes or pages.
    reason, source, page
        Why, in the words that the reading keeps, and of which picture; "" and None where nothing is kept.
    """

    kind: Kind
    taster: int | None
    who: str
    about: str
    count: int = 1
    reason: str = ""
    source: str = ""
    page: int | None = None


def waiting(sitting: Sitting, scored: Scores, readings: Collection[Reading]) -> tuple[Waiting, ...]:
    """Return what is left of one sitting: all that `facedown score` names, and boxes of its note sheets in doubt.

    Pictures that are of no kit given may be of any, so each sitting has them; those of another kit given it has not.
    """
    tasters = [one for one in scored.tasters if one.kit == sitting.kit]
    sheets = _note_sheets(sitting, readings)
    kits = {one.kit for one in scored.sittings}
    return (
        *_sealed(sitting, tasters, readings),
        *(one for taster in tasters for one in _of_taster(sitting, taster)),
        *_in_notes(tasters, sheets),
        *_pictures(readings, kits - {sitting.kit}),
        *_strangers(readings, kits),
    )


def waiting_line(one: Waiting, words: Wording) -> str:
    """Say what waits, in the language of the paper; reasons stay in the words that the reading keeps."""
    picture = words("table_report.at_page", source=one.source, page=one.page) if one.page else one.source
    place = words(f"table_report.sheet_{one.about}") if one.kind == "notes" else one.about
    kind = f"picture_{one.about}" if one.kind == "picture" else one.kind
    line = words(f"table_report.wait_{kind}", who=one.who, about=place, count=one.count, picture=picture)
    return words("table_report.wait_because", what=line, reason=one.reason) if one.reason else line


def _sealed(sitting: Sitting, tasters: Sequence[TasterScore], readings: Collection[Reading]) -> Iterator[Waiting]:
    if not any(taster.truth.sealed for taster in tasters):
        return
    names = {taster.taster: taster.name for taster in tasters}
    for number in match_sheets_missing(sitting.kit, sitting.session, readings, sitting.absent):
        yield Waiting("sealed", number, names[number], "match")


def _of_taster(sitting: Sitting, taster: TasterScore) -> Iterator[Waiting]:
    number, name = taster.taster, taster.name
    if sitting.lacks_key_of(number) and not taster.truth.sealed and not taster.absent:
        yield Waiting("key", number, name, "key")
    parts: tuple[tuple[Kind, Mapping[str, str]], ...] = (
        ("claim", taster.claims.unsettled),
        ("sure", taster.certainty.unsettled),
        ("turned", taster.truth.unsettled),
    )
    for kind, unsettled in parts:
        for place, reason in unsettled.items():
            yield Waiting(kind, number, name, place, reason=reason)


def _note_sheets(sitting: Sitting, readings: Iterable[Reading]) -> dict[tuple[int, str], list[PageReading]]:
    """Return the pictures of each note sheet, by taster and role."""
    sheets: dict[tuple[int, str], list[PageReading]] = defaultdict(list)
    for reading in readings:
        for page in reading.pages:
            taken = page.kit == sitting.kit and page.outcome in (*READ, Outcome.CONFLICT)
            if taken and page.taster and page.role and page.role.startswith("notes"):
                sheets[page.taster, page.role].append(page)
    return sheets


def _in_notes(
    tasters: Sequence[TasterScore], sheets: Mapping[tuple[int, str], Sequence[PageReading]]
) -> Iterator[Waiting]:
    names = {taster.taster: taster.name for taster in tasters}
    for (number, role), pages in sorted(sheets.items()):
        doubtful = sum(
            mark.state is State.DOUBTFUL and mark.field.partition(".")[0] not in SCORED_FIELDS
            for mark in combined(pages)
        )
        if doubtful and number in names:
            yield Waiting("notes", number, names[number], role, doubtful)


def _pictures(readings: Iterable[Reading], other_kits: Collection[str]) -> Iterator[Waiting]:
    for picture in _pictures_of(readings):
        if picture.outcome not in READ and picture.kit not in other_kits:
            outcome, reason = str(picture.outcome), picture.reason or ""
            yield Waiting("picture", None, "", outcome, 1, reason, picture.source, picture.source_page)


def _strangers(readings: Iterable[Reading], kits: Collection[str]) -> Iterator[Waiting]:
    pages = Counter(
        picture.kit
        for picture in _pictures_of(readings)
        if picture.outcome in READ and picture.kit is not None and picture.kit not in kits
    )
    for kit, count in pages.items():
        yield Waiting("stranger", None, "", kit or "", count)


def _pictures_of(readings: Iterable[Reading]) -> Iterator[PictureReading]:
    for reading in readings:
        yield from reading.pages
        yield from reading.turned
        yield from reading.opened
