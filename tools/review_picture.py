"""The picture of the review page in the manual: ``python -m tools.review_picture``.

The bundled load check is heard from its sounds; then somebody looks it over in the browser: one
reading is corrected, the note confirmed, a photo added. Whoever changes the page looks at it.
"""

from __future__ import annotations

import argparse
import io
import os
import shutil
from contextlib import redirect_stdout
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image, ImageDraw, ImageFont
from playwright.sync_api import FilePayload, Page, expect

from companion.cli import main as companion
from companion.log.reader import read_log
from companion.review.reviewer import open_review
from companion.web.adding import FILES
from companion.web.review import review_application
from companion.web.server import serving
from companion.web.shop import Shop, key_of
from tests.browser import browser

WIDTH = 1280
"""Of the picture, in pixels."""

MOST_BYTES = 300_000
"""Of the picture: it is loaded with the manual."""


def heard(folder: Path) -> None:
    """Hear the bundled session from its sounds."""
    with redirect_stdout(io.StringIO()):
        status = companion(["demo", "generator-load-check", "--out", str(folder), "--quiet"])
    assert not status, "the demonstration could not be heard"


def dial() -> bytes:
    """A drawing of a meter that reads 120 volts, in place of a photo."""
    image = Image.new("RGB", (960, 720), "#59646b")
    draw = ImageDraw.Draw(image)
    draw.rounded_rectangle((180, 60, 780, 660), 60, fill="#e8b53a")
    draw.rounded_rectangle((240, 130, 720, 420), 24, fill="#dfe6da")
    draw.text((480, 275), "120.0", "#20241e", ImageFont.load_default(170), anchor="mm")
    draw.text((680, 385), "V", "#20241e", ImageFont.load_default(60), anchor="mm")
    draw.ellipse((390, 450, 570, 630), fill="#2c3033")
    draw.rectangle((470, 460, 490, 540), fill="#e6e6e6")
    out = io.BytesIO()
    image.save(out, "JPEG", quality=90)
    return out.getvalue()


def look_over(page: Page) -> None:
    """Correct a reading, confirm the note, add a photo, as a user would."""
    page.get_by_label("Looked over by").fill("Rosa")
    page.get_by_role("button", name="Keep").click()
    reading = page.locator("li.call", has_text="charging voltage fourteen volts")
    reading.get_by_role("link", name="Correct").click()
    reading.get_by_label("The call that was really said").fill("charging voltage 13.2 volts")
    reading.get_by_label("Why").fill("misheard over the engine")
    reading.get_by_role("button", name="Correct it so").click()
    expect(reading.locator(".looked")).to_contain_text("corrected")
    note = page.locator("li.call", has_text="words not checked")
    number = note.get_attribute("id")
    note.get_by_role("link", name="Check words").click()
    page.locator(f"#{number}").get_by_role("button", name="These are the words").click()
    expect(page.locator(f"#{number} .looked")).to_contain_text("checked")
    page.locator("#photos summary").click()
    meter = FilePayload(name="meter.jpg", mimeType="image/jpeg", buffer=dial())
    page.get_by_label("Photos (JPEG").set_input_files(meter)
    page.get_by_label("Taken at").select_option("half-load")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.locator(".photos img")).to_have_count(1)


def take(session: Path, out: Path) -> None:
    """Look a heard session over, and take the picture of what was looked at."""
    pages = Shop([session])
    later = read_log(session).records[-1].at + timedelta(hours=8)
    app = review_application(pages, open_review, lambda: later)
    with serving(app, what="review page", files=FILES) as address, browser() as opened:
        page = opened.new_page(viewport={"width": WIDTH, "height": 1000})
        there = f"{address}session/{key_of(session)}"
        page.goto(there)
        look_over(page)
        page.goto(f"{there}?step=charging")
        part = page.locator("#turns")
        for wave in page.locator(".wave").all():
            wave.scroll_into_view_if_needed()
            expect(wave.locator("svg")).to_be_visible()
        photo = page.locator(".photos img").first
        photo.scroll_into_view_if_needed()
        expect(photo).to_have_js_property("complete", value=True)
        # The player stands in its place at the end, not over the calls.
        page.set_viewport_size({"width": WIDTH, "height": page.evaluate("body.scrollHeight")})
        page.evaluate("scrollTo(0, 0)")
        box = part.bounding_box()
        assert box is not None
        high = page.evaluate("document.body.scrollHeight") - box["y"] + 14
        page.screenshot(path=out, clip={"x": 0, "y": box["y"] - 14, "width": WIDTH, "height": high})
    pages.close()
    _fewer_colors(out)


def _fewer_colors(path: Path) -> None:
    """Write the picture with a palette: the page has few colors, and it is half the size."""
    Image.open(path).convert("RGB").quantize(256, dither=Image.Dither.NONE).save(
        path, optimize=True
    )
    size = path.stat().st_size
    assert size < MOST_BYTES, f"{path} has {size} bytes, more than {MOST_BYTES}"
    print(f"{path}: {size} bytes")


def main() -> None:
    """Take the picture."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--out", type=Path, default=Path("docs/review.png"), metavar="FILE")
    parser.add_argument("--session", type=Path, metavar="DIR", help="one that was heard before")
    options = parser.parse_args()
    with TemporaryDirectory() as made:
        os.environ["BENCH_COMPANION_DATA"] = made
        os.environ["BENCH_COMPANION_SETTINGS"] = os.devnull
        session = Path(made) / "sessions" / "load-check"
        if options.session is None:
            heard(session)
        else:
            shutil.copytree(options.session, session)
        take(session, options.out)


if __name__ == "__main__":
    main()
