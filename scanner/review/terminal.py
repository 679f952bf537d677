"""The second look in a terminal, or over a pipe with one answer a line: the same queue, the same keys."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from kit.tables import printable
from kit.wording import Wording
from scanner.archive.database import Archive
from scanner.review import phrases
from scanner.review.blocks import block_picture
from scanner.review.desk import ORDER_KEY, Decision, answer, chosen, queue_of, undo_decision
from scanner.review.pictures import box_in, cutout_file, cutout_png, gray_of, original_of
from scanner.review.queue import ROW, Doubt, next_after, place_of
from scanner.review.writing import areas_of, next_area, type_up

END, SKIP, UNDO, WHOLE, NOTHING = "q", "s", "u", "w", "-"


@dataclass(frozen=True, slots=True)
class Screen:
    """How to say and to ask; `ask` returns what was typed, and None where nobody answers.

    It is told whether a whole line is wanted, not a single key.
    `columns` and `lines` are the room for a picture, `lines` 0 for none.
    """

    say: Callable[[str], None]
    ask: Callable[[str, bool], str | None]
    columns: int
    lines: int
    colours: bool


def review_in_terminal(archive: Archive, screen: Screen, who: str, now: Callable[[], str], words: Wording) -> int:
    """Ask about one doubt after the other until none is left or somebody ends; return how many are left.

    Skipped ones come again at the end, once.
    """
    queue = queue_of(archive)
    screen.say(words("review.terminal_begin", count=len(queue)))
    decisions: list[Decision] = []
    skipped: set[str] = set()
    doubt = queue[0] if queue else None
    while doubt is not None:
        place = place_of(queue, doubt, len(decisions))
        screen.say("\n" + "\n".join(_shown(archive, doubt, screen, words)))
        typed = screen.ask(words("review.progress", number=place.number, total=place.total) + "> ", doubt.kind == ROW)
        key = END if typed is None else typed.strip().lower()
        if key == END:
            break
        following, told = _done(archive, doubt, key, decisions, skipped, who, now, words)
        if told:
            screen.say(told)
        former, queue = queue, queue_of(archive)
        doubt = _next(former, following, queue, skipped) if isinstance(following, str) else following
    left = len(queue_of(archive))
    screen.say("\n" + words("review.terminal_left", settled=len(decisions), left=left))
    return left


def type_up_in_terminal(archive: Archive, screen: Screen, who: str, now: Callable[[], str], words: Wording) -> int:
    """Ask for the handwriting of one area after the other; return how many are left."""
    areas = areas_of(archive)
    left = sum(area.text is None for area in areas)
    screen.say(words("review.terminal_writing", count=left))
    area = next_area(areas)
    seen: set[str] = set()
    while area is not None and area.id not in seen:
        seen.add(area.id)
        screen.say("\n" + printable(phrases.whose(area.seat, area.role, area.sheet, words)))
        screen.say(words("review.heading_writing", field=area.field.rpartition(".")[2]))
        screen.say(printable(words("review.terminal_file", path=cutout_file(archive, area.cutout))))
        typed = screen.ask("> ", True)
        if typed is None or typed.strip().lower() == END:
            break
        if typed.strip().lower() != SKIP and typed.strip():
            type_up(archive, area.id, "" if typed.strip() == NOTHING else typed, who, now())
        area = next_area(areas_of(archive), area.id)
    return sum(area.text is None for area in areas_of(archive))


def _done(
    archive: Archive,
    doubt: Doubt,
    key: str,
    decisions: list[Decision],
    skipped: set[str],
    who: str,
    now: Callable[[], str],
    words: Wording,
) -> tuple[Doubt | str | None, str]:
    """Do what was typed; return the doubt to show, or the id of the one to go on after, and what to say of it."""
    if key == SKIP:
        skipped.add(doubt.id)
        return doubt.id, ""
    if key == WHOLE:
        return doubt, "\n".join(_whole_sheets(archive, doubt, words))
    if key == UNDO:
        return _undone(archive, doubt, decisions, who, now, words)
    order = key if doubt.kind == ROW and len(key) > 1 else ""
    if chosen(doubt, ORDER_KEY if order else key, order) is None:
        return doubt, words("review.terminal_unknown")
    decision = answer(archive, doubt.id, ORDER_KEY if order else key, who, now(), order)
    if decision is None:
        return doubt.id, words("review.told_gone")
    decisions.append(decision)
    return doubt.id, printable(phrases.settled(doubt, decision.choice, words))


def _undone(
    archive: Archive, doubt: Doubt, decisions: list[Decision], who: str, now: Callable[[], str], words: Wording
) -> tuple[Doubt | None, str]:
    if not decisions:
        return doubt, words("review.terminal_none")
    decision = decisions.pop()
    if not undo_decision(archive, decision.name, who, now()):
        return doubt, words("review.told_not_undone")
    again = next((one for one in queue_of(archive) if one.id == decision.doubt.id), doubt)
    return again, words("review.told_undone")


def _next(former: tuple[Doubt, ...], done: str, queue: tuple[Doubt, ...], skipped: set[str]) -> Doubt | None:
    """Return the next doubt; those skipped after all others, and when they were all skipped again, none."""
    fresh = tuple(doubt for doubt in queue if doubt.id not in skipped)
    if fresh:
        return next_after(former, done, fresh)
    return None


def _shown(archive: Archive, doubt: Doubt, screen: Screen, words: Wording) -> Iterator[str]:
    yield printable(phrases.heading(doubt, words))
    yield printable(phrases.whose(doubt.seat, doubt.role, doubt.subject, words))
    yield printable(phrases.reason(doubt, words))
    for picture in doubt.pictures:
        png = cutout_png(archive, picture.cutout) if picture.cutout else None
        gray = gray_of(png) if png else None
        if gray is None or picture.cutout is None:
            yield from map(printable, _whole_sheets(archive, doubt, words))
            break
        if screen.lines:
            box = box_in((gray.shape[1], gray.shape[0]))
            yield from block_picture(gray, screen.columns, screen.lines, box=box, colours=screen.colours)
        yield printable(words("review.terminal_file", path=cutout_file(archive, picture.cutout)))
    for name, says in doubt.differences:
        yield printable(f"  {name}: " + " / ".join(says))
    yield printable(phrases.question(doubt, words))
    yield printable(_keys(doubt, words))


def _keys(doubt: Doubt, words: Wording) -> str:
    labels = [phrases.label(choice, words) for choice in doubt.choices]
    choices = "   ".join(f"{choice.key} {label}" for choice, label in zip(doubt.choices, labels, strict=True))
    if doubt.kind == ROW:
        choices += "   " + words("review.terminal_order")
    names = {name: words(f"review.{name}").lower() for name in ("skip", "undo", "whole")}
    return words("review.terminal_keys", choices=choices, **names)


def _whole_sheets(archive: Archive, doubt: Doubt, words: Wording) -> Iterator[str]:
    for number, picture in enumerate(doubt.pictures, start=1):
        path = original_of(archive, picture.row)
        name = f"{number}  " if len(doubt.pictures) > 1 else ""
        if path is None:
            yield name + words("review.no_picture")
        else:
            yield name + words("review.terminal_sheet", path=path, page=picture.page)
