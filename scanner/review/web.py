"""The second look in the browser: pages on 127.0.0.1, each answer written down before the next page is shown."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path

from flask import Flask, redirect, render_template, request
from werkzeug.exceptions import HTTPException, NotFound
from werkzeug.wrappers import Response

from kit.errors import FacedownError
from kit.wording import Wording, load_wording
from scanner.archive.database import Archive, archive_at
from scanner.review import phrases
from scanner.review.desk import ORDER_KEY, Decision, answer, not_for_review, queue_of, undo_decision
from scanner.review.figures import Figure, figure_of_cutout, figure_of_page
from scanner.review.guard import HEADERS, Guard
from scanner.review.pictures import Whole, cutout_png, png_size, whole_page
from scanner.review.queue import ROW, Doubt, next_after, place_of
from scanner.review.writing import MOST_CHARACTERS, Area, areas_of, next_area, type_up

MOST_BYTES = 64_000
"""Of what a page sends: an answer, or some handwriting typed up."""
MOST_PICTURES = 6
TOLD = ("gone", "undone", "not_undone", "no_order")
"""What a page may be told by its address; the sentences are in the words."""
STATIC = {"review.css": "text/css", "review.js": "text/javascript", "icon.svg": "image/svg+xml"}
_ROW = "<int(max=9223372036854775807):row>"
_NOTHING = "There is nothing here."


@dataclass(slots=True)
class Desk:
    """One run: the archive's folder, who answers, what was decided so far, and pictures shown lately."""

    folder: Path
    who: str
    now: Callable[[], str]
    words: Wording = field(default_factory=lambda: load_wording("en"))
    decisions: list[Decision] = field(default_factory=list)
    pictures: OrderedDict[int, Whole | None] = field(default_factory=OrderedDict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def page(self, archive: Archive, row: int) -> Whole | None:
        """Return a page's picture, straightened; it takes a second, so the last ones are kept."""
        with self.lock:
            if row not in self.pictures:
                self.pictures[row] = whole_page(archive, row)
                if len(self.pictures) > MOST_PICTURES:
                    self.pictures.popitem(last=False)
            return self.pictures[row]


def review_app(desk: Desk, guard: Guard) -> Flask:
    """Return the pages of one run, to be served at `guard.address` and nowhere else."""
    folder = Path(str(files("templates"))) / "review"
    root = f"/{guard.token}/"
    app = Flask("facedown", template_folder=str(folder), static_folder=None)
    app.config.update(MAX_CONTENT_LENGTH=MOST_BYTES, MAX_FORM_MEMORY_SIZE=MOST_BYTES, MAX_FORM_PARTS=10)
    app.url_map.merge_slashes = False
    app.jinja_env.globals.update(root=root, words=desk.words, phrases=phrases, most_characters=MOST_CHARACTERS)

    @app.before_request
    def refuse_strangers() -> Response | None:
        status = guard.refusal(request.method, request.path, dict(request.headers))
        return None if status is None else Response(_NOTHING, status, mimetype="text/plain")

    @app.after_request
    def with_headers(response: Response) -> Response:
        response.headers.update(HEADERS)
        return response

    @app.errorhandler(Exception)
    def sentence(error: Exception) -> tuple[str, int]:
        return _sentence(error, desk.words)

    @app.get(f"{root}static/<name>")
    def static_file(name: str) -> Response:
        if name not in STATIC:
            raise NotFound
        return Response((folder / "static" / name).read_bytes(), mimetype=STATIC[name])

    @app.get(root)
    def begin() -> Response | str:
        with archive_at(desk.folder) as archive:
            queue = queue_of(archive)
            return _to(root, queue[0]) if queue else _done_page(desk, archive)

    @app.get(f"{root}doubt/<doubt_id>")
    def doubt_page(doubt_id: str) -> Response | str:
        with archive_at(desk.folder) as archive:
            queue = queue_of(archive)
            doubt = next((one for one in queue if one.id == doubt_id), None)
            if doubt is None:
                return _to(root, queue[0], "gone") if queue else _done_page(desk, archive)
            return _doubt_page(desk, archive, queue, doubt)

    @app.post(f"{root}doubt/<doubt_id>")
    def settle_doubt(doubt_id: str) -> Response:
        key, order = request.form.get("answer", ""), request.form.get("order", "")
        with archive_at(desk.folder, write=True) as archive:
            former = queue_of(archive)
            decision = answer(archive, doubt_id, key, desk.who, desk.now(), order)
            if decision is None:
                still_there = next((one for one in former if one.id == doubt_id), None)
                if still_there and key == ORDER_KEY:
                    return _to(root, still_there, "no_order")
                return _to(root, next_after(former, doubt_id, queue_of(archive)), "gone")
            desk.decisions.append(decision)
            return _to(root, next_after(former, doubt_id, queue_of(archive)))

    @app.post(f"{root}undo")
    def undo_answer() -> Response:
        name = request.form.get("decision", "")
        decision = next((one for one in reversed(desk.decisions) if one.name == name), None)
        if decision is None:
            return redirect(f"{root}?told=not_undone", 303)
        with archive_at(desk.folder, write=True) as archive:
            was_undone = undo_decision(archive, name, desk.who, desk.now())
            desk.decisions.remove(decision)
            return _to(root, decision.doubt, "undone" if was_undone else "not_undone")

    @app.get(f"{root}writing/")
    def begin_writing() -> Response | str:
        with archive_at(desk.folder) as archive:
            area = next_area(areas_of(archive))
            return redirect(f"{root}writing/{area.id}", 303) if area else _done_page(desk, archive)

    @app.get(f"{root}writing/<area_id>")
    def writing_page(area_id: str) -> str:
        with archive_at(desk.folder) as archive:
            areas = areas_of(archive)
            area = next((one for one in areas if one.id == area_id), None)
            if area is None:
                raise NotFound
            return _writing_page(desk, archive, areas, area)

    @app.post(f"{root}writing/<area_id>")
    def typed_up(area_id: str) -> Response:
        text = "" if request.form.get("answer") == "nothing" else request.form.get("text", "")
        with archive_at(desk.folder, write=True) as archive:
            if type_up(archive, area_id, text, desk.who, desk.now()) is None:
                raise NotFound
            following = next_area(areas_of(archive), area_id)
            return redirect(f"{root}writing/{following.id if following else ''}?former={area_id}", 303)

    @app.get(f"{root}cutout/<digest>.png")
    def cutout(digest: str) -> Response:
        with archive_at(desk.folder) as archive:
            png = cutout_png(archive, digest)
        if png is None:
            raise NotFound
        return Response(png, mimetype="image/png")

    @app.get(f"{root}sheet/{_ROW}.jpg")
    def sheet_picture(row: int) -> Response:
        with archive_at(desk.folder) as archive:
            page = desk.page(archive, row)
        if page is None:
            raise NotFound
        return Response(page.jpeg, mimetype="image/jpeg")

    return app


def _doubt_page(desk: Desk, archive: Archive, queue: tuple[Doubt, ...], doubt: Doubt) -> str:
    whole = request.args.get("whole") == "1"
    following = next_after(queue, doubt.id, queue)
    return _render(
        "doubt.html",
        desk,
        archive,
        queue,
        doubt=doubt,
        figures=_figures(desk, archive, doubt, whole=whole),
        place=place_of(queue, doubt, len(desk.decisions)),
        following=following,
        whole=whole,
        order_key=ORDER_KEY if doubt.kind == ROW else None,
    )


def _writing_page(desk: Desk, archive: Archive, areas: tuple[Area, ...], area: Area) -> str:
    names = [one.id for one in areas]
    return _render(
        "writing.html",
        desk,
        archive,
        queue_of(archive),
        area=area,
        number=names.index(area.id) + 1,
        total=len(names),
        following=next_area(areas, area.id),
        former=next((name for name in names if name == request.args.get("former")), None),
    )


def _done_page(desk: Desk, archive: Archive) -> str:
    return _render("done.html", desk, archive, queue_of(archive), elsewhere=not_for_review(archive))


def _render(template: str, desk: Desk, archive: Archive, queue: tuple[Doubt, ...], **values: object) -> str:
    told = request.args.get("told", "")
    return render_template(
        template,
        last=desk.decisions[-1] if desk.decisions else None,
        told=desk.words(f"review.told_{told}") if told in TOLD else None,
        doubts_left=len(queue),
        areas_left=sum(area.text is None for area in areas_of(archive)),
        **values,
    )


def _figures(desk: Desk, archive: Archive, doubt: Doubt, *, whole: bool) -> list[Figure]:
    """Return what is to be seen: the box's cut-out, or of each picture the page or the part with the boxes."""
    figures = []
    for number, picture in enumerate(doubt.pictures, start=1):
        place = f"{picture.source}, page {picture.page}"
        caption = desk.words("review.picture", number=number, place=place) if len(doubt.pictures) > 1 else place
        if picture.cutout and not whole and (png := cutout_png(archive, picture.cutout)):
            alt = desk.words("review.alt_cutout")
            figures.append(figure_of_cutout(picture.cutout, png_size(png), caption, alt))
        elif page := desk.page(archive, picture.row):
            alt = desk.words("review.alt_page" if whole or not doubt.boxes else "review.alt_part", place=place)
            figures.append(figure_of_page(picture.row, page, doubt.boxes, whole=whole, caption=caption, alt=alt))
    return figures


def _to(root: str, doubt: Doubt | None, told: str = "") -> Response:
    query = f"?told={told}" if told else ""
    return redirect(f"{root}doubt/{doubt.id}{query}" if doubt else f"{root}{query}", 303)


def _sentence(error: Exception, words: Wording) -> tuple[str, int]:
    """Say what went wrong on a page; what the program did not foresee is told from the rest."""
    match error:
        case FacedownError():
            text, status = str(error), 503
        case HTTPException(code=code) if code and f"review.error_{code}" in words.texts:
            text, status = words(f"review.error_{code}"), code
        case HTTPException():
            text, status = words("review.error_404"), error.code or 400
        case _:
            text, status = words("review.error_500", error=f"{type(error).__name__}: {error}"), 500
    return render_template("error.html", sentence=text), status
