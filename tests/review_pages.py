"""A shop with two machines, and the review page of it, for the tests of the page."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from PIL import Image, ImageDraw

from companion.session.opening import open_session
from companion.shelf.load import load_card, load_sheet
from tests.logs import MONDAY, invented_job

HOSTILE = '<script>document.title="taken"</script><img src=x onerror="document.title=1">'
"""A note that would run, were it not escaped."""


def tiller(folder: Path) -> Path:
    """A job with clips, rivals, a question, a draft, a tag that hangs."""
    invented_job(folder)
    return folder


def typed(folder: Path, *calls: str, at: datetime = MONDAY) -> Path:
    """A typed session at the tiller of the spec sheets."""
    session = open_session(
        folder, at=at, card=load_card("four-stroke-service"), sheet=load_sheet("quillmoor-tiller")
    )
    for number, call in enumerate(calls, start=1):
        session.typed(call, at + timedelta(seconds=20 * number))
    session.close()
    return folder


def picture(kind: str = "JPEG", size: tuple[int, int] = (900, 600)) -> bytes:
    """A picture of a disk on a bench."""
    image = Image.new("RGB", size, (120, 90, 60))
    ImageDraw.Draw(image).ellipse((200, 100, 600, 500), fill=(200, 190, 120))
    out = io.BytesIO()
    image.save(out, kind)
    return out.getvalue()


def environment_of(data: Path) -> dict[str, str]:
    """The environment of a shop whose sessions stand in a data folder."""
    return {
        **os.environ,
        "BENCH_COMPANION_DATA": str(data),
        "BENCH_COMPANION_SETTINGS": os.devnull,
    }


@contextmanager
def reviewing(data: Path, *arguments: str) -> Iterator[str]:
    """``companion review`` as a user starts it; gives the address it prints, ends with Ctrl-C."""
    program = subprocess.Popen(
        [sys.executable, "-m", "companion", "review", "--no-browser", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment_of(data),
    )
    assert program.stdout is not None
    assert program.stderr is not None
    try:
        line = program.stdout.readline()
        assert line.startswith("Review: "), f"{line!r} {program.stderr.read()}"
        yield line.split()[1]
    finally:
        program.send_signal(signal.SIGINT)
        status = program.wait(30)
        said = program.stderr.read()
    assert status == 0
    assert said == ""
