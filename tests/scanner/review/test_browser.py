"""In a real Chromium: a hundred doubts by keyboard alone, other origins kept out, WCAG by axe-core."""

from __future__ import annotations

import http.server
import shutil
import threading
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from scanner.archive.database import archive_at
from scanner.archive.verify import verify
from scanner.review.desk import queue_of
from scanner.review.guard import Guard
from tests.scanner.review.browser import ARGUMENTS, CHROMIUM, needs_chromium, served
from tests.scanner.review.conftest import DOUBTS

pytestmark = needs_chromium
KEYS = {"y": "marked", "n": "empty", "t": "withdrawn"}
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
PATIENCE_MS = 60_000


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as started:
        opened = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield opened
        opened.close()


def page_of(browser: Any, *, width_px: int = 1000, dark: bool = False) -> Any:
    context = browser.new_context(
        viewport={"width": width_px, "height": 740}, color_scheme="dark" if dark else "light", reduced_motion="reduce"
    )
    context.set_default_timeout(PATIENCE_MS)
    return context.new_page()


def words(folder: Path) -> list[str | None]:
    with archive_at(folder) as archive:
        return [row[0] for row in archive.connection.execute("SELECT after FROM settlements ORDER BY id")]


def test_a_hundred_doubts_are_settled_by_keyboard_alone(browser: Any, hundred: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(hundred, tmp_path / "archive"))
    given = ["yynt"[number % 4] for number in range(DOUBTS)]
    with served(folder) as guard:
        page = page_of(browser)
        page.goto(guard.address)
        for number, key in enumerate(given, start=1):
            page.get_by_text(f"{number} of {DOUBTS}", exact=True).wait_for()
            page.keyboard.press(key)
        page.get_by_role("heading", name="All doubts are settled.").wait_for()
        page.context.close()
    assert words(folder) == [KEYS[key] for key in given]
    with archive_at(folder) as archive:
        assert verify(archive).faults == ()
        assert {row[0] for row in archive.connection.execute("SELECT DISTINCT who FROM settlements")} == {"rhian"}


def test_tab_and_enter_do_without_single_keys(browser: Any, folder: Path) -> None:
    """WCAG 2.2, 2.1.1 and 2.1.4: all by keyboard, and single keys can be put off."""
    with served(folder) as guard:
        page = page_of(browser)
        page.goto(guard.address)
        page.get_by_role("button", name="Single keys: on").press("Enter")
        page.keyboard.press("y")
        page.get_by_role("button", name="No", exact=False).first.press("Enter")
        page.get_by_text("2 of 6", exact=True).wait_for()
        page.get_by_role("button", name="Single keys: off").press("Enter")
        page.keyboard.press("u")
        page.get_by_text("Undone", exact=False).wait_for()
        page.context.close()
    assert words(folder) == ["empty", None]


def test_without_script_the_pages_work_as_forms(browser: Any, folder: Path) -> None:
    with served(folder) as guard:
        context = browser.new_context(java_script_enabled=False)
        page = context.new_page()
        page.goto(guard.address)
        page.get_by_role("button", name="Taken back").click()
        page.get_by_text("2 of 6", exact=True).wait_for()
        context.close()
    assert words(folder) == ["withdrawn"]


class _Elsewhere(http.server.BaseHTTPRequestHandler):
    """Another page on this computer, which knows even the token, and tries what a page can try."""

    def __init__(self, guard: Guard, doubt: str, *rest: Any) -> None:
        self.root, self.target = guard.address, f"{guard.address}doubt/{doubt}"
        super().__init__(*rest)

    def do_GET(self) -> None:
        page = f"""<!doctype html><title>elsewhere</title><form method="post" action="{self.target}">
            <button name="answer" value="y">Win</button></form>
            <iframe src="{self.target}" title="framed"></iframe>
            <img src="{self.root}static/icon.svg" onload="document.title = 'loaded'" alt="">"""
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(page.encode())

    def log_message(self, *_: object) -> None:
        pass


def test_a_page_of_another_origin_can_neither_write_nor_read_nor_frame(browser: Any, folder: Path) -> None:
    with archive_at(folder) as archive:
        doubt = queue_of(archive)[0].id
    with served(folder) as guard:
        elsewhere = http.server.ThreadingHTTPServer(("127.0.0.1", 0), partial(_Elsewhere, guard, doubt))
        thread = threading.Thread(target=elsewhere.serve_forever)
        thread.start()
        try:
            page = page_of(browser)
            page.goto(f"http://127.0.0.1:{elsewhere.server_port}/")
            target = f"{guard.address}doubt/{doubt}"
            sent = """async (address) => {
                const send = (options) =>
                    fetch(address, options).then(async (answer) => answer.type + await answer.text(), () => "refused");
                const form = new URLSearchParams({answer: "y"});
                return [await send({}), await send({method: "POST", body: form}),
                        await send({method: "POST", body: form, mode: "no-cors"})];
            }"""
            assert page.evaluate(sent, target) == ["refused"] * 3
            assert "Is this box marked" not in (page.frames[1].content() if len(page.frames) > 1 else "")
            assert page.title() == "elsewhere"
            page.get_by_role("button", name="Win").click()
            page.get_by_text("There is nothing here.").wait_for()
            page.context.close()
        finally:
            elsewhere.shutdown()
            thread.join()
            elsewhere.server_close()
        assert words(folder) == []
        page = page_of(browser)
        page.goto(target)
        page.keyboard.press("y")
        page.get_by_text("2 of 6", exact=True).wait_for()
        page.context.close()
    assert words(folder) == ["marked"]


@pytest.mark.parametrize(("width_px", "dark"), [(1000, False), (1000, True), (360, False), (360, True)])
def test_axe_finds_no_violation_and_nothing_runs_out_of_the_window(
    browser: Any, folder: Path, width_px: int, dark: bool
) -> None:
    """axe-core of the npm registry, as the package axe-playwright-python carries it."""
    from axe_playwright_python.sync_playwright import Axe

    with archive_at(folder) as archive:
        kinds = {doubt.kind: doubt.id for doubt in queue_of(archive)}
    with served(folder) as guard:
        page = page_of(browser, width_px=width_px, dark=dark)
        said: list[str] = []
        page.on("console", lambda message: said.append(message.text))
        paths = [*(f"doubt/{doubt}" for doubt in kinds.values()), "writing/", "nothing"]
        for path in paths:
            page.goto(guard.address + path)
            # The checker is laid into the page past its own policy, which lets in no foreign script.
            found = Axe().run(page, options=RULES)
            assert found.violations_count == 0, found.generate_report()
            assert page.evaluate("document.documentElement.scrollWidth") <= width_px
        assert [one for one in said if "404" not in one] == []
        page.context.close()


def test_the_checker_finds_what_is_wrong(browser: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = page_of(browser)
    page.set_content('<html><body><img src="x.png"><p style="color:#ccc;background:#fff">faint</p></body></html>')
    found = {one["id"] for one in Axe().run(page, options=RULES).response["violations"]}
    page.context.close()
    assert {"image-alt", "color-contrast", "html-has-lang"} <= found
