"""The board on the wall in a real browser, beside a real session; who may look, and who may not."""

from __future__ import annotations

import contextlib
import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import html5lib
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from companion.log.identity import Identity
from companion.log.machine_watch import MachineWatch
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_sheet
from companion.web.board import STREAMS, board_application
from companion.web.board_follower import Follower
from companion.web.server import serving
from tests.bad_sessions import replaced
from tests.browser import DESKTOP, PHONE, TABLET, browser
from tests.conftest import Run, one_sentence
from tests.logs import Bench
from tools.board_pictures import SCREENS, STATES, state_of

PROGRAM = (sys.executable, "-m", "companion")

CAPITAL_AT_EASE = 11.6
"""Height of a capital in millimetres that stands for 20 minutes of arc at two meters."""
CAPITAL_AT_LEAST = 9.3
"""The same for 16 minutes of arc, the least that ISO 9241-303 allows."""
CAPITAL_TOLD = 4.07
"""The same for 7 minutes of arc, whose small letters have the 5 that a good eye can tell."""
MILLIMETERS_A_PIXEL = {
    "tablet-landscape": 217 / 1280,
    "tablet-portrait": 197 / 1024,
    "screen": 531 / 1920,
}
"""A 10.1-inch tablet of 1280 pixels, one of 9.7 inches and 1024, a 24-inch screen of 1920."""


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    made = chromium.new_context(viewport={"width": 1280, "height": 800})
    yield made
    made.close()


@pytest.fixture(scope="module")
def boards(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """The address of a board for each state."""
    base = tmp_path_factory.mktemp("boards")
    with contextlib.ExitStack() as kept:
        made = {}
        for state in STATES:
            kept.enter_context(state_of(state, base / state))
            made[state] = kept.enter_context(board_of(base / state))
        yield made


def now() -> datetime:
    return datetime.now().astimezone()


@contextlib.contextmanager
def board_of(folder: Path, *, port: int = 0) -> Iterator[str]:
    app = board_application(Follower(folder, clock=now))
    with serving(app, what="board", port=port) as address:
        yield address


@contextlib.contextmanager
def working(
    folder: Path, shop: dict[str, str], *options: str
) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A typed session in a process of its own, and the first line that it printed."""
    job = ("--job", "four-stroke-service", "--machine", "quillmoor-tiller")
    with subprocess.Popen(
        [*PROGRAM, "work", "--typed", "--quiet", *job, *options, "--out", str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=shop,
    ) as program:
        assert program.stdout is not None
        try:
            yield program, program.stdout.readline()
        finally:
            program.kill()


def call(program: subprocess.Popen[str], text: str) -> None:
    assert program.stdin is not None
    program.stdin.write(f"{text}\n")
    program.stdin.flush()


def get(address: str, path: str = "/", method: str = "GET", **headers: str) -> tuple[int, str, Any]:
    where = urlsplit(address)
    connection = http.client.HTTPConnection(where.hostname or "", where.port, timeout=30)
    connection.request(method, path, headers=headers)
    response = connection.getresponse()
    answer = response.status, response.read().decode(), response.headers
    connection.close()
    return answer


def test_the_board_changes_while_a_session_runs(
    context: BrowserContext, shop: dict[str, str], tmp_path: Path
) -> None:
    with working(tmp_path / "job", shop, "--board") as (program, first):
        address = re.fullmatch(r"Board: (http://127\.0\.0\.1:\d+/)\n", first)
        assert address is not None, first
        page = context.new_page()
        page.goto(address[1])
        board = page.locator("#board")
        expect(board.locator(".say")).to_have_text("Look it over, call findings.")
        expect(board.locator("#listening")).to_have_text("Takes typed calls")

        call(program, "gap forty thou")
        expect(board.locator(".reading")).to_have_text(re.compile(r"gap 40 thou\s+high by 9"))
        expect(board.locator(".said")).to_contain_text("Gap, forty, four zero, thou. High by nine.")

        call(program, "tag no oil")
        expect(board.locator(".start h2")).to_have_text("Do not start")
        expect(board.locator(".tag")).to_have_text(["no oil"])

        call(program, "start drain timer one minute")
        clock = board.locator(".timer .clock")
        expect(clock).to_have_text(re.compile(r"0:5\d"))
        # It counts down by itself, without a word from the server.
        seen = clock.inner_text()
        expect(clock).not_to_have_text(seen)

        call(program, "step done")
        expect(board.locator(".step h2")).to_contain_text("Step 2 of 42")
        expect(board.locator(".question .mid")).to_have_text("Does it run, and leak nothing?")
        expect(board.locator(".help")).to_contain_text("affirm, or negative")

        # Beside it another board, which does not end with the program.
        with board_of(tmp_path / "job") as other:
            second = context.new_page()
            second.goto(other)
            expect(second.locator("#listening")).to_have_text("Takes typed calls")
            program.send_signal(signal.SIGKILL)
            expect(second.locator("#listening")).to_have_text("Not running")
            expect(second.locator(".tag")).to_have_text(["no oil"])
        # The session's own has ended with it.
        expect(page.locator("#lost")).to_contain_text("Connection lost")
        expect(page.locator("#listening")).to_have_text("Connection lost")


def test_a_lost_connection_is_told_in_letters_and_mended_by_itself(
    context: BrowserContext, tmp_path: Path
) -> None:
    bench = Bench(tmp_path / "job", clips=False)
    bench.open()
    page = context.new_page()
    with board_of(tmp_path / "job") as address:
        page.goto(address)
        # A program works on it that says nothing of what it does.
        expect(page.locator("#listening")).to_have_text("Not known")
        expect(page.locator("#lost")).to_be_hidden()
    expect(page.locator("#lost")).to_contain_text("Connection lost at")
    with board_of(tmp_path / "job", port=urlsplit(address).port or 0):
        expect(page.locator("#lost")).to_be_hidden(timeout=20_000)
        expect(page.locator("#listening")).to_have_text("Not known")


def test_a_browser_without_server_sent_events_asks_again_and_again(
    context: BrowserContext, tmp_path: Path
) -> None:
    with state_of("begun", tmp_path / "job") as session, board_of(tmp_path / "job") as address:
        page = context.new_page()
        page.add_init_script("delete window.EventSource")
        page.goto(address)
        session.typed("tag no oil", now())
        expect(page.locator(".tag")).to_have_text(["no oil"])


def test_the_board_follows_the_shop_to_the_session_that_runs(
    context: BrowserContext, tmp_path: Path
) -> None:
    at = now()

    def clock() -> datetime:
        return at

    folders = [tmp_path / "first", tmp_path / "second"]
    with state_of("ended", folders[0]):
        follower = Follower(None, clock=clock, folders=lambda: folders)
        assert follower.look().session == "first"
        with state_of("service", folders[1]):
            at = now().replace(year=at.year + 1)
            assert follower.look().session == "second"
        # It stays with what it has, until another runs.
        assert follower.look().session == "second"


def test_a_unit_that_the_board_does_not_know_is_told_of(tmp_path: Path) -> None:
    """As a later version might write it; the board reckons with it, and no page is without it."""
    folder, at = tmp_path / "later", now() - timedelta(hours=1)
    session = open_session(folder, at=at, sheet=load_sheet("quillmoor-tiller"))
    session.typed("drained eighteen ounces of oil", at)
    session.close()
    replaced("fluid", '"unit":"ounce"', '"unit":"later unit"')(folder)
    looked = Follower(folder, clock=now).look()
    assert looked.board is None
    assert "has a unit that this version does not know" in looked.trouble


def test_what_another_job_of_the_machine_hung_meanwhile_is_shown(tmp_path: Path) -> None:
    folders = [tmp_path / "first", tmp_path / "second"]
    sheet = load_sheet("quillmoor-tiller")
    at = now() - timedelta(hours=1)

    def opened(folder: Path) -> Session:
        watch = MachineWatch(Identity(sheet.name), folder, lambda: folders)
        return open_session(folder, at=at, sheet=sheet, machine=watch)

    first = opened(folders[0])
    follower = Follower(folders[0], clock=lambda: at, folders=lambda: folders)
    board = follower.look().board
    assert board is not None
    assert board.start.words == "No tag hangs"
    at += timedelta(minutes=5)
    second = opened(folders[1])
    second.typed("drained eighteen ounces of oil", at)
    second.close()
    at += timedelta(minutes=5)
    board = follower.look().board
    assert board is not None
    assert [hold.tag for hold in board.start.holds] == ["no oil"]
    asked = first.typed("clear to start", at)
    assert asked.reply is not None
    assert board.start.holds[0].why.lower() in asked.reply.whole.lower()
    first.close()


def test_without_a_word_the_board_opens_the_last_session_and_says_so_where_there_is_none(
    companion: Run,
) -> None:
    assert "start a session" in one_sentence(companion("board", "--no-browser"), 1)


def test_a_port_in_use_and_an_address_that_is_not_ours_are_told(
    companion: Run, tmp_path: Path
) -> None:
    Bench(tmp_path / "job", clips=False).open()
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        run = companion("board", "job", "--no-browser", "--port", str(port))
    assert f"The board cannot listen on port {port}" in one_sentence(run, 1)
    run = companion("board", "job", "--no-browser", "--address", "192.0.2.7")
    assert "The board cannot listen on 192.0.2.7" in one_sentence(run, 1)


def test_beyond_this_machine_it_needs_the_token_once(
    chromium: Browser, shop: dict[str, str], tmp_path: Path
) -> None:
    Bench(tmp_path / "job", clips=False).open()
    with subprocess.Popen(
        [*PROGRAM, "board", str(tmp_path / "job"), "--address", "0.0.0.0", "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
        env=shop,
    ) as program:
        try:
            assert program.stdout is not None
            line = program.stdout.readline()
            found = re.search(r"(http://127\.0\.0\.1:\d+/)\?token=([\w-]{22,})", line)
            assert found, line
            assert "On another screen" in program.stdout.readline()
            address, token = found[1], found[2]
            for path in ("/", "/now", "/live", "/?token=wrong", "/static/board.js"):
                status, text, _ = get(address, path)
                assert status == 403
                assert "Quillmoor" not in text
            status, _, headers = get(address, f"/?look=dark&token={token}")
            assert (status, headers["Location"]) == (303, "/?look=dark")
            assert "HttpOnly" in headers["Set-Cookie"]
            context = chromium.new_context()
            page = context.new_page()
            page.goto(f"{address}?token={token}")
            assert page.url == address
            expect(page.locator("h1")).to_have_text("Quillmoor tiller")
            assert page.evaluate("document.cookie") == ""
            page.reload()
            expect(page.locator("#lost")).to_be_hidden()
            # Kept for its owner alone, and the same tomorrow.
            kept = Path(shop["BENCH_COMPANION_DATA"]) / "board.token"
            assert kept.read_text().strip() == token
            assert os.name != "posix" or kept.stat().st_mode & 0o077 == 0
            context.close()
        finally:
            program.kill()


def test_nothing_can_be_changed_by_it(boards: dict[str, str]) -> None:
    address = boards["service"]
    for path in ("/", "/now", "/live"):
        for method in ("POST", "PUT", "DELETE"):
            assert get(address, path, method, Origin=address.rstrip("/"))[0] in (403, 405)
    assert get(address, "/", Host="example.org")[0] == 403
    for path in ("/static/..%2fboard.py", "/log.jsonl", "/board.html"):
        assert get(address, path)[0] == 404


def test_hostile_words_do_nothing(context: BrowserContext, tmp_path: Path) -> None:
    evil = "<img src=x onerror=alert(1)><script>alert(2)</script>"
    bench = Bench(tmp_path / "job", clips=False)
    bench.open(machine={"name": evil, "kind": "tiller"})
    bench.call(f"note {evil}", said=evil)
    page = context.new_page()
    alarms: list[str] = []
    page.on("dialog", lambda dialog: (alarms.append(dialog.message), dialog.dismiss()))
    page.on("console", lambda message: alarms.append(message.text))
    with board_of(tmp_path / "job") as address:
        page.goto(address)
        expect(page.locator("h1")).to_have_text(evil)
        expect(page.locator(".said")).to_contain_text(evil)
        assert page.locator("#board img, #board script").count() == 0
    assert [text for text in alarms if "Failed to load" not in text and "ERR_" not in text] == []


def test_a_broken_log_is_told_and_the_board_goes_on_when_it_is_mended(
    context: BrowserContext, tmp_path: Path
) -> None:
    bench = Bench(tmp_path / "job", clips=False)
    bench.open()
    log = tmp_path / "job" / "log.jsonl"
    whole = log.read_bytes()
    page = context.new_page()
    with board_of(tmp_path / "job") as address:
        page.goto(address)
        log.write_bytes(b"dear diary\n")
        expect(page.locator("#board")).to_contain_text("is not a log of Bench Companion")
        log.write_bytes(whole)
        expect(page.locator("h1")).to_have_text("Quillmoor tiller")


def watcher(address: str) -> socket.socket:
    where = urlsplit(address)
    stream = socket.create_connection((where.hostname or "", where.port or 0), timeout=30)
    stream.sendall(f"GET /live HTTP/1.1\r\nHost: {where.netloc}\r\n\r\n".encode())
    return stream


def read_until(stream: socket.socket, wanted: bytes) -> None:
    seen = b""
    while wanted not in seen:
        more = stream.recv(65536)
        assert more, seen[-300:]
        seen += more


def test_fifty_watch_some_read_nothing_some_vanish_and_nobody_waits(tmp_path: Path) -> None:
    with state_of("begun", tmp_path / "job") as session, board_of(tmp_path / "job") as address:
        watching = [watcher(address) for _ in range(50)]
        for stream in watching[:30]:
            read_until(stream, b"event: board")
        for stream in watching[:10]:
            stream.close()
        # The other twenty never read a word.
        for number in range(5):
            begun = time.monotonic()
            session.typed(f"note {number} zebra", now())
            for stream in watching[10:30]:
                read_until(stream, f"{number} zebra".encode())
            assert time.monotonic() - begun < 2.0
            assert get(address)[0] == 200
        for stream in watching:
            stream.close()


def test_too_many_are_told(tmp_path: Path) -> None:
    Bench(tmp_path / "job", clips=False).open()
    with board_of(tmp_path / "job") as address:
        watching = [watcher(address) for _ in range(STREAMS)]
        for stream in watching:
            read_until(stream, b"event: board")
        status, text, _ = get(address, "/live")
        assert status == 503
        assert "Too many look at the board" in text
        for stream in watching:
            stream.close()


@pytest.mark.parametrize("look", ["light", "dark"])
def test_axe_has_nothing_serious_to_say(
    chromium: Browser, boards: dict[str, str], look: str
) -> None:
    page = chromium.new_page()
    for state in ("crowded", "question"):
        page.goto(f"{boards[state]}?look={look}")
        for width, height in (PHONE, TABLET, DESKTOP):
            page.set_viewport_size({"width": width, "height": height})
            found = Axe().run(page).response["violations"]
            serious = [each for each in found if each["impact"] in ("serious", "critical")]
            assert serious == [], (state, width)
    page.close()


def test_the_look_follows_the_system_or_the_address(
    chromium: Browser, boards: dict[str, str]
) -> None:
    for scheme, look, dark in (
        ("light", "", False),
        ("dark", "", True),
        ("light", "dark", True),
        ("dark", "light", False),
        ("dark", "<b>", True),
    ):
        context = chromium.new_context(color_scheme=scheme)
        page = context.new_page()
        page.goto(f"{boards['begun']}?look={look}")
        paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
        brightness = sum(map(int, re.findall(r"\d+", paper))) / 3
        assert (brightness < 128) is dark, (scheme, look, paper)
        context.close()


@pytest.mark.parametrize("state", STATES)
def test_the_page_is_valid_html(boards: dict[str, str], state: str) -> None:
    html5lib.HTMLParser(strict=True).parse(get(boards[state])[1])


def measured(page: Page) -> dict[str, Any]:
    """Heights in pixels: of a capital of the step, of its lines, and what reaches out."""
    found: dict[str, Any] = page.evaluate(
        """() => {
          const say = document.querySelector(".say");
          const style = getComputedStyle(say);
          const pen = document.createElement("canvas").getContext("2d");
          const capital = (element) => {
            const style = getComputedStyle(element);
            pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
            return pen.measureText("H").actualBoundingBoxAscent;
          };
          const range = document.createRange();
          range.selectNodeContents(say);
          const out = [...document.querySelectorAll("#board *")].filter((element) => {
            const box = element.getBoundingClientRect();
            return !element.closest(".only-read, svg") &&
              (box.right > innerWidth + 1 || box.left < -1);
          });
          const small = [...document.querySelectorAll("#board p, #board li, #board h2")];
          return {
            capital: capital(say),
            line: Math.min(...[...range.getClientRects()].map((box) => box.height)),
            least: Math.min(...small.filter((each) => each.offsetHeight).map(capital)),
            out: out.map((element) => element.outerHTML.slice(0, 80)),
            wide: document.documentElement.scrollWidth - innerWidth,
            tall: document.documentElement.scrollHeight - innerHeight,
          };
        }"""
    )
    return found


def test_nothing_overflows_and_the_step_is_read_from_two_meters(
    chromium: Browser, boards: dict[str, str]
) -> None:
    page = chromium.new_page()
    for state in STATES:
        page.goto(boards[state])
        for screen, (width, height) in SCREENS.items():
            page.set_viewport_size({"width": width, "height": height})
            page.wait_for_function(f"innerWidth === {width} && innerHeight === {height}")
            page.evaluate("new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")
            sizes = measured(page)
            assert sizes["out"] == [], (screen, state)
            assert sizes["wide"] <= 0, (screen, state)
            if screen not in MILLIMETERS_A_PIXEL:
                continue
            capital = sizes["capital"] * MILLIMETERS_A_PIXEL[screen]
            assert capital >= CAPITAL_AT_LEAST, (screen, state)
            assert capital >= CAPITAL_AT_EASE or screen != "screen", (screen, state)
            assert sizes["line"] >= sizes["capital"]
            assert sizes["least"] * MILLIMETERS_A_PIXEL[screen] >= CAPITAL_TOLD, (screen, state)
            # All of it without a touch.
            assert sizes["tall"] <= 1, (screen, state)
    page.close()


def test_all_tags_stand_before_all_timers_and_what_is_put_away_is_counted(
    chromium: Browser, boards: dict[str, str]
) -> None:
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.goto(boards["crowded"])
    page.wait_for_selector("#board.spared .more")
    tags = page.locator(".tag")
    assert tags.count() == 5
    for tag in tags.all():
        expect(tag).to_be_in_viewport()
    order = page.evaluate(
        """() => [...document.querySelectorAll(".tag, .timer")].map((each) => each.className)"""
    )
    assert order == [*["tag"] * 5, *["timer"] * 5]
    for name, count in (("start", 6), ("timers", 5)):
        lines = page.locator(f".{name} .list > li:not(.more)")
        assert lines.count() == count
        hidden = count - lines.locator("visible=true").count()
        button = page.locator(f".{name} .more button")
        assert button.count() == (hidden > 0)
        if hidden:
            assert f" {hidden} " in f"{button.inner_text()} "
            box = button.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 24
            button.click()
            assert lines.locator("visible=true").count() == count
    context.close()
