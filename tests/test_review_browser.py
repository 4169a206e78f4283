"""The review page in a real browser: heard, corrected, confirmed, chosen, signed off."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import html5lib
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, FilePayload, Page, expect

from companion.job import events as ev
from companion.job.folding.evolve import fold
from companion.log.check import check_log
from companion.log.photos import add_photo
from companion.log.reader import read_log
from companion.report.page import render_report
from companion.review.reviewer import open_review
from companion.session.opening import open_session
from companion.shelf.rules import shipped_rules
from companion.web.review import NAME_COOKIE
from companion.web.shop import key_of
from tests.browser import DESKTOP, PHONE, TABLET, browser
from tests.logs import MONDAY
from tests.review_pages import HOSTILE, picture, reviewing, tiller, typed


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = tmp_path_factory.mktemp("shop")
    job = tiller(data / "sessions" / "pattern")
    add_photo(job, picture(), step="drain-oil", by="Rosa", at=MONDAY + timedelta(hours=4))
    calls = ("gap 30 thou", "note " + HOSTILE, "drained 18 ounces of oil")
    typed(data / "sessions" / "2026-03-02-0915-typed", *calls)
    return data


@pytest.fixture(scope="module")
def address(shop: Path, chromium: Browser) -> Iterator[str]:
    with reviewing(shop) as at:
        # The list loads itself anew until the index is made.
        page = chromium.new_page()
        page.goto(at)
        page.locator("a.whole").first.wait_for()
        page.close()
        yield at


@pytest.fixture
def job(shop: Path, request: pytest.FixtureRequest) -> Path:
    """A session of this test's own."""
    return Path(
        shutil.copytree(shop / "sessions" / "pattern", shop / "sessions" / request.node.name[:60])
    )


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    yield opened
    context.close()
    assert faults == []


def go_to(page: Page, address: str, job: Path) -> None:
    """By the address that the program prints for a session."""
    page.goto(f"{address}session/{key_of(job)}")
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("^Quillmoor .*tiller"))
    # The player is shown once the script has run.
    expect(page.locator("#player")).to_be_visible()


def choose_from_list(page: Page, address: str, job: Path) -> None:
    """From the list, as a user would."""
    page.goto(address)
    page.get_by_label("Session, machine, words said").fill(job.name)
    page.get_by_role("button", name="Show").click()
    page.get_by_role("link", name=job.name).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Quillmoor tiller")


def known(page: Page, address: str) -> None:
    """Whoever looks over was asked before who it is."""
    page.context.add_cookies([{"name": NAME_COOKIE, "value": "Rosa", "url": address}])


def introduce(page: Page) -> None:
    page.get_by_label("Looked over by").fill("Rosa")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_label("Looked over by")).to_have_value("Rosa")


def call(page: Page, words: str) -> str:
    """Selects the call in which this was heard."""
    found = page.locator("li.call", has_text=f"“{words}”").first
    return f"#{found.get_attribute('id')}"


PLACES = {
    "list": "?q=pattern",
    "machines": "machines",
    "machine": "machine/quillmoor-tiller",
    "said": "said?q=oil",
    "call": "{session}/call/19",
    "session": "{session}#r19",
    "photo": "{session}/photo/{photo}/change",
}
SIZES = {"phone": PHONE, "tablet": TABLET, "desktop": DESKTOP}


@pytest.mark.parametrize("name", PLACES)
def test_every_page_is_fit_for_everybody(page: Page, address: str, shop: Path, name: str) -> None:
    job = shop / "sessions" / "pattern"
    photo = next(r.seq for r in read_log(job).records if isinstance(r.event, ev.PhotoAdded))
    session = f"session/{key_of(job)}"
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    answer = page.goto(address + PLACES[name].format(session=session, photo=photo))
    assert answer is not None
    assert answer.status == 200
    html5lib.HTMLParser(strict=True).parse(answer.text())
    if name == "session":
        page.keyboard.press("c")
        page.get_by_label("The call that was really said").wait_for()
        page.locator("#photos summary").click()
        expect(page.locator(".photos img")).to_have_count(1)
    # The check is put into the page once, and asked at each width and in each light.
    page.evaluate(Axe().axe_script)
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
            where = f"{name}, {size}, {scheme}"
            assert grave_findings(page, scheme) == [], where
        wide = page.evaluate(
            """() => document.documentElement.scrollWidth <= innerWidth ? [] :
            [...document.querySelectorAll("main *")]
            .filter(each => each.getBoundingClientRect().right > innerWidth)
            .map(each => each.outerHTML.slice(0, 120))"""
        )
        assert wide == [], (name, size)
        small = page.evaluate(
            """() => [...document.querySelectorAll("a, button, input, select, textarea, summary")]
            .filter(each => each.checkVisibility() && each.type !== "hidden")
            .filter(each => !each.closest("label") && !each.classList.contains("skip"))
            .map(each => [each.outerHTML.slice(0, 120), each.getBoundingClientRect()])
            .filter(([, box]) => box.width < 24 || box.height < 24)
            .map(([html, box]) => `${html} ${box.width}x${box.height}`)"""
        )
        assert small == [], (name, size)


def grave_findings(page: Page, scheme: str) -> list[str]:
    """What the check finds serious or critical."""
    # Of all that is checked only the contrast is another in the dark.
    dark = {"runOnly": ["color-contrast"]}
    options = {"resultTypes": ["violations"], **({} if scheme == "light" else dark)}
    found = page.evaluate("options => axe.run(document, options)", options)["violations"]
    return [
        f"{each['id']}: {each['nodes'][0]['html']}"
        for each in found
        if each["impact"] in ("serious", "critical")
    ]


def test_a_clip_is_heard_in_place_and_its_length_is_shown_before(
    page: Page, address: str, job: Path
) -> None:
    go_to(page, address, job)
    heard = page.locator(call(page, "gap thirty thou"))
    expect(heard.locator("a.play")).to_contain_text("0.4 s")
    heard.scroll_into_view_if_needed()
    expect(heard.locator(".wave path").first).to_be_attached()
    where = page.url
    heard.locator("a.play").click()
    expect(page.locator("#playing")).to_contain_text("0.4 s of 0.4 s")
    # It says so, rounded, somewhat before its end.
    page.wait_for_function("sound.ended")
    length, error = page.evaluate("[sound.duration, sound.error]")
    assert length == pytest.approx(0.4, abs=0.01)
    assert error is None
    assert page.url == where


def test_play_on_goes_to_the_next_call_at_the_chosen_speed(
    page: Page, address: str, job: Path
) -> None:
    go_to(page, address, job)
    page.goto(f"{page.url}?only=asked&only=again")
    expect(page.locator("li.call")).to_have_count(2)
    page.get_by_label("Speed").select_option("2")
    page.keyboard.press("Escape")
    page.locator("body").click(position={"x": 2, "y": 2})
    page.keyboard.press("a")
    expect(page.get_by_role("button", name="Play on")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("p")
    expect(page.locator("li.call.now")).to_contain_text("gap fifty thou")
    assert page.evaluate("sound.playbackRate") == 2


def test_a_reading_is_corrected_and_the_old_one_stays_struck_through(
    page: Page, address: str, job: Path
) -> None:
    choose_from_list(page, address, job)
    introduce(page)
    before = page.locator("#readings tr", has_text="compression")
    expect(before).to_contain_text("low by 15 psi")
    compression = page.locator(call(page, "compression seventy five p s i"))
    compression.get_by_role("link", name="Correct").click()
    compression.get_by_label("The call that was really said").fill("compression ninety five psi")
    compression.get_by_label("Why").fill("misheard")
    compression.get_by_role("button", name="Correct it so").click()
    expect(compression.locator("s")).to_contain_text("compression 75 psi")
    expect(compression).to_contain_text("compression 95 psi")
    expect(compression).to_contain_text("Rosa")
    expect(compression).to_contain_text("misheard")
    expect(page.locator("#readings tr", has_text="compression")).to_contain_text("95 psi")
    records = read_log(job).records
    state = fold(records, shipped_rules())
    reviewed = [r.event for r in records if isinstance(r.event, ev.Reviewed)]
    assert [(each.by, each.why, each.judgement) for each in reviewed] == [
        ("Rosa", "misheard", "corrected")
    ]
    assert [str(fact.event.value) for fact in state.effective(state.readings)] == ["31", "95"]


def test_a_note_is_confirmed_with_other_words(page: Page, address: str, job: Path) -> None:
    known(page, address)
    go_to(page, address, job)
    note = page.locator("li.call", has_text="words not checked")
    note.get_by_role("link", name="Check words").click()
    note = page.locator(f"#{note.get_attribute('id')}")
    note.get_by_label("Words of the note").fill("the cable is frayed at the handle")
    note.get_by_role("button", name="These are the words").click()
    expect(note.locator("blockquote")).to_have_text("the cable is frayed at the handle")
    expect(note).not_to_contain_text("words not checked")
    expect(page.locator("#summary")).not_to_contain_text("nobody has checked")


def test_what_would_take_a_danger_off_is_affirmed_first(
    page: Page, address: str, tmp_path: Path, shop: Path
) -> None:
    pattern = shop / "sessions" / "2026-03-02-0915-typed"
    job = Path(shutil.copytree(pattern, shop / "sessions" / "drained"))
    known(page, address)
    go_to(page, address, job)
    expect(page.locator("#tags")).to_contain_text("no oil")
    drained = page.locator(call(page, "drained 18 ounces of oil"))
    drained.get_by_role("link", name="Correct").click()
    drained.get_by_role("button", name="Set aside").click()
    expect(drained.get_by_role("alert")).to_contain_text("has to be affirmed")
    before = len(read_log(job).records)
    # A hasty hand answers nothing: the question has the focus, and the button waits to be read.
    expect(drained.get_by_role("alert")).to_be_focused()
    page.keyboard.press("Enter")
    affirm = drained.get_by_role("button", name="Affirm")
    expect(affirm).to_be_enabled()
    assert len(read_log(job).records) == before
    page.keyboard.press("Tab")
    expect(affirm).to_be_focused()
    page.keyboard.press("Enter")
    expect(drained.locator("s")).to_contain_text("drained 18")
    expect(page.locator("#tags")).not_to_contain_text("no oil")
    assert len(read_log(job).records) > before


def test_right_wrong_next_and_correct_go_by_single_keys(
    page: Page, address: str, job: Path
) -> None:
    known(page, address)
    go_to(page, address, job)
    page.keyboard.press("n")
    expect(page.locator("li.call.now")).to_contain_text("step done")
    page.keyboard.press("n")
    page.keyboard.press("r")
    expect(page.locator("li.call.now .looked")).to_contain_text("right")
    page.keyboard.press("d")
    expect(page.locator("li.call.now")).to_contain_text("gap thirty thou")
    page.keyboard.press("w")
    expect(page.locator("li.call.now .looked")).to_contain_text("wrong")
    page.keyboard.press("c")
    field = page.get_by_label("The call that was really said")
    expect(field).to_be_focused()
    expect(field).to_have_value("gap thirty thou")
    page.keyboard.press("Escape")
    expect(field).to_have_count(0)
    page.keyboard.press("?")
    expect(page.get_by_role("dialog")).to_contain_text("Next doubtful call")
    page.keyboard.press("Escape")
    page.keyboard.press("k")
    expect(page.locator("li.call.now")).to_contain_text("next step")
    judged = [r.event.judgement for r in read_log(job).records if isinstance(r.event, ev.Reviewed)]
    assert judged == ["right", "wrong"]


def test_single_keys_can_be_turned_off(page: Page, address: str, job: Path) -> None:
    go_to(page, address, job)
    page.keyboard.press("?")
    page.get_by_label("Single keys do these things").uncheck()
    page.get_by_role("button", name="Close").click()
    page.keyboard.press("n")
    expect(page.locator("li.call.now")).to_have_count(0)


def test_calls_are_chosen_in_the_address(page: Page, address: str, job: Path) -> None:
    go_to(page, address, job)
    page.get_by_label("asked about").click()
    expect(page.locator("li.call")).to_have_count(1)
    expect(page.locator("li.call")).to_contain_text("gap fifty thou")
    assert "only=asked" in page.url
    page.get_by_label("said again").click()
    expect(page.locator("li.call")).to_have_count(2)
    page.get_by_role("link", name="Show all").click()
    page.get_by_label("About", exact=True).select_option("fluids")
    expect(page.locator("li.call")).to_have_count(4)
    page.get_by_label("With the words").fill("ounce")
    page.keyboard.press("Enter")
    expect(page.locator("li.call")).to_have_count(2)


def test_who_looks_it_over_is_asked_once(page: Page, address: str, job: Path) -> None:
    go_to(page, address, job)
    first = page.locator(call(page, "step done"))
    first.get_by_role("button", name="Right").click()
    first.get_by_label("Who looks this over?").fill("Rosa")
    page.keyboard.press("Enter")
    expect(first.locator(".looked")).to_contain_text("Rosa")
    second = page.locator(call(page, "engine stopped"))
    second.get_by_role("button", name="Wrong").click()
    expect(second.locator(".looked")).to_contain_text("Rosa")


def test_signed_off_and_what_comes_later_is_shown_so(page: Page, address: str, job: Path) -> None:
    known(page, address)
    go_to(page, address, job)
    page.get_by_role("button", name="Sign off").click()
    expect(page.locator("#summary")).to_contain_text("signed off by Rosa")
    expect(page.locator("#message")).to_contain_text("Signed off by Rosa")
    late = page.locator(call(page, "drive belt worn"))
    late.get_by_role("button", name="Right").click()
    expect(late).to_contain_text("after sign-off")
    expect(page.locator("#summary")).to_contain_text("changed since")


def test_two_pages_at_once_lose_nothing(
    page: Page, chromium: Browser, address: str, job: Path
) -> None:
    known(page, address)
    go_to(page, address, job)
    gap = page.locator(call(page, "drive belt worn"))
    gap.get_by_role("link", name="Correct").click()
    typing = gap.get_by_label("The call that was really said")
    typing.fill("drive belt missing")

    with open_review(job) as other:
        number = int((gap.get_attribute("id") or "")[1:])
        other.correct(number, "drive belt cracked", by="Sam", why="", at=MONDAY)
    expect(page.locator("#message")).to_contain_text("came meanwhile")
    expect(gap).to_contain_text("Sam")
    expect(typing).to_have_value("drive belt missing")

    gap.get_by_role("button", name="Correct it so").click()
    expect(gap.get_by_role("alert")).to_contain_text("changed meanwhile")
    expect(gap.get_by_label("The call that was really said")).to_have_value("drive belt missing")
    gap.get_by_role("button", name="Do it all the same").click()
    # A cracked belt holds the start.
    gap.get_by_role("button", name="Affirm").click()
    expect(gap.locator(".looked").last).to_contain_text("drive belt missing")
    state = fold(read_log(job).records, shipped_rules())
    assert [f.event.condition for f in state.effective(state.findings)] == ["missing"]


def test_a_log_that_is_gone_is_told_in_one_sentence(page: Page, address: str, job: Path) -> None:
    go_to(page, address, job)
    introduce(page)
    shutil.rmtree(job)
    gap = page.locator(call(page, "drive belt worn"))
    gap.get_by_role("button", name="Right").click()
    expect(page.locator("#message p")).to_have_text(re.compile(r"^The session \S+ is not there"))


def test_the_bench_goes_on_beside_the_page(page: Page, address: str, shop: Path) -> None:
    folder = shop / "sessions" / "still-at-it"
    session = open_session(folder, at=MONDAY)
    session.typed("gap 30 thou", MONDAY + timedelta(seconds=5))
    known(page, address)
    page.goto(f"{address}session/{key_of(folder)}")
    session.typed("battery 12 volts", MONDAY + timedelta(seconds=9))
    new = page.locator("li.call", has_text="battery 12 volts")
    expect(new).to_have_count(1)
    page.locator("li.call", has_text="gap 30 thou").get_by_role("button", name="Right").click()
    expect(page.locator(".looked")).to_contain_text("right")
    session.typed("battery 13 volts", MONDAY + timedelta(seconds=20))
    session.close()
    expect(page.locator("li.call")).to_have_count(3)
    kinds = [r.event.kind for r in read_log(folder).records]
    assert kinds.count("reading") == 3
    assert kinds.count("reviewed") == 1


def test_it_works_without_a_script(chromium: Browser, address: str, job: Path) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    choose_from_list(page, address, job)
    expect(page.locator("#player")).to_be_hidden()
    page.get_by_label("asked about").check()
    page.locator("#filter").get_by_role("button", name="Show").click()
    expect(page.locator("li.call")).to_have_count(1)
    page.locator("li.call").get_by_role("link", name="Correct").click()
    page.get_by_label("The call that was really said").fill("what is this")
    page.get_by_role("button", name="Correct it so").click()
    page.get_by_label("Who looks this over?").fill("Rosa")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("alert")).to_contain_text("That is no call as it stands")
    page.get_by_label("The call that was really said").fill("gap thirty one thou")
    page.get_by_role("button", name="Try again").click()
    expect(page.locator(".looked")).to_contain_text("corrected")
    assert "only=asked" in page.url
    context.close()


def test_a_hostile_note_does_nothing(page: Page, address: str) -> None:
    page.goto(f"{address}?q=typed")
    page.get_by_role("link", name=re.compile("typed")).first.click()
    expect(page.locator("blockquote")).to_contain_text("<script>")
    assert "taken" not in page.title()
    assert page.locator("main script, main img").count() == 0
    page.goto(f"{address}said?q=document.title")
    assert "taken" not in page.title()


def test_a_missing_clip_and_a_broken_log_are_told_and_the_rest_works(
    page: Page, address: str, shop: Path, job: Path
) -> None:
    name = sorted(path.name for path in (job / "audio").iterdir())[0]
    (job / "audio" / name).unlink()
    broken = Path(shutil.copytree(job, shop / "sessions" / "broken"))
    log = broken / "log.jsonl"
    log.write_bytes(log.read_bytes().replace(b'"drive belt"', b'"drive bolt"'))
    go_to(page, address, job)
    expect(page.locator("li.call", has_text="step done").first).to_contain_text(
        f"The sound {name} is not there"
    )
    page.locator(call(page, "engine stopped")).locator("a.play").click()
    expect(page.locator("#playing")).to_contain_text("0.4 s of 0.4 s")
    page.goto(f"{address}?status=unreadable")
    expect(page.locator("main")).to_contain_text("cannot be read")
    expect(page.locator("main")).to_contain_text("companion log check")


# --- photos -------------------------------------------------------------------------------------
def test_photos_are_chosen_and_stand_beside_their_step(
    page: Page, address: str, job: Path, tmp_path: Path
) -> None:
    names = [tmp_path / "seal.jpg", tmp_path / "no picture.jpg"]
    names[0].write_bytes(picture())
    names[1].write_bytes(b"<script>document.title='taken'</script>")
    go_to(page, address, job)
    page.locator("#photos summary").click()
    # The step that is current now is chosen already.
    expect(page.get_by_label("Taken at")).to_have_value("")
    expect(page.get_by_label("Taken at").locator("option").first).to_contain_text("now fill oil")
    page.get_by_label("Photos (JPEG, PNG, WebP)").set_input_files(names)
    page.get_by_label("Added by").fill("Rosa")
    page.get_by_role("button", name="Add", exact=True).click()
    message = page.locator("#message")
    expect(message).to_contain_text("Photo added, at step fill oil.")
    expect(message).to_contain_text("no picture.jpg is no JPEG, PNG or WebP picture")
    message.get_by_role("link", name="№").click()
    begun = page.locator("li.turn", has_text="on to step fill oil")
    seen = begun.get_by_role("img")
    # It is only loaded once it comes into sight.
    seen.scroll_into_view_if_needed()
    expect(seen).to_have_js_property("naturalWidth", 480)
    begun.get_by_role("link", name="opens large").click()
    expect(page.locator("img")).to_have_js_property("naturalWidth", 900)
    added = [r.event for r in read_log(job).records if isinstance(r.event, ev.PhotoAdded)]
    assert [(each.step, each.by) for each in added[1:]] == [("fill-oil", "Rosa")]


def test_photos_dropped_on_a_call_go_to_its_step_and_wait_for_a_name(
    page: Page, address: str, job: Path
) -> None:
    go_to(page, address, job)
    on = page.locator(call(page, "gap thirty thou"))
    on.scroll_into_view_if_needed()
    files = page.evaluate_handle(
        """([bytes]) => {
          const carried = new DataTransfer();
          for (const name of ["a.png", "b.png"])
            carried.items.add(new File([Uint8Array.from(bytes)], name, { type: "image/png" }));
          return carried;
        }""",
        [list(picture("PNG"))],
    )
    on.dispatch_event("dragover", {"dataTransfer": files})
    on.dispatch_event("drop", {"dataTransfer": files})
    expect(page.locator("#message")).to_contain_text("Say first who adds the photos.")
    expect(page.get_by_label("Added by")).to_be_focused()
    page.keyboard.type("Rosa")
    page.keyboard.press("Enter")
    expect(page.locator("#message")).to_contain_text("at step set gap (2 times)")
    expect(page.locator("li.turn", has_text="next step").get_by_role("img")).to_have_count(2)
    # From now on it is known who adds them.
    on.dispatch_event("drop", {"dataTransfer": files})
    expect(page.locator("li.turn", has_text="next step").get_by_role("img")).to_have_count(4)
    assert check_log(job).ok


def test_without_a_script_photos_are_added_moved_and_set_aside(
    chromium: Browser, address: str, job: Path
) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{address}session/{key_of(job)}?only=photos")
    page.locator("#photos summary").click()
    page.get_by_label("Photos (JPEG").set_input_files(
        [
            FilePayload(name="seal.jpg", mimeType="image/jpeg", buffer=picture()),
            FilePayload(name="../../x.jpg", mimeType="image/jpeg", buffer=picture()[:900]),
        ]
    )
    page.get_by_label("Taken at").select_option("set-gap")
    page.get_by_label("Added by").fill("Rosa")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.locator("#message")).to_contain_text("Photo added, at step set gap.")
    expect(page.locator("#message")).to_contain_text("x.jpg is damaged or cut short")
    assert "only=photos" in page.url
    number = next(
        f"№ {r.seq}:" for r in reversed(read_log(job).records) if r.event.kind == "photo.added"
    )
    page.get_by_role("link", name=number).click()
    page.get_by_label("Taken at step").select_option("drain-oil")
    page.get_by_role("button", name="Move it there").click()
    drained = page.locator("li.turn", has_text="on to step drain oil")
    expect(drained.get_by_role("img")).to_have_count(2)
    expect(page.locator(".photos .gone")).to_contain_text("moved by Rosa")
    drained.get_by_role("link", name="move, set aside").last.click()
    page.get_by_label("Why").fill("blurred")
    page.get_by_role("button", name="Set aside").click()
    expect(drained.get_by_role("img")).to_have_count(1)
    expect(drained.locator(".gone")).to_contain_text("set aside by Rosa: blurred")
    context.close()
    assert check_log(job).ok
    assert len(re.findall("<img", render_report(job))) == 1
