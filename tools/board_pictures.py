"""Pictures of the board in several states, on several screens: ``python -m tools.board_pictures``.

Whoever changes the page looks at them; the README shows one.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from companion.log.live_status import LiveSign, Mode
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet
from companion.web.board import board_application
from companion.web.board_follower import Follower
from companion.web.server import serving
from tests.browser import browser

SCREENS = {
    "phone": (390, 844),
    "tablet-landscape": (1280, 800),
    "tablet-portrait": (768, 1024),
    "small-tablet": (1024, 600),
    "screen": (1920, 1080),
}
"""Widths and heights, in CSS pixels."""

STATES: dict[str, tuple[Mode | None, tuple[str, ...]]] = {
    "begun": ("listening", ()),
    "service": (
        "listening",
        (
            "step done",
            "affirm",
            "go to step drain oil",
            "affirm",
            "tag plug wire off",
            "drained eighteen ounces of oil",
            "start soak timer two hours",
            "gap forty thou",
        ),
    ),
    "question": ("key", ("clear to start",)),
    "crowded": (
        "no microphone",
        (
            "removed muffler",
            "removed fan shroud",
            "drained eighteen ounces of oil",
            "removed air filter",
            "disconnected plug wire",
            "removed drive belt",
            "raised machine",
            "tire loose",
            "axle cracked",
            "start soak timer two hours",
            "start drain timer five minutes",
            "start cure timer",
            "start charge timer",
            "start settle timer",
            "compression sixty p s i",
        ),
    ),
    "ended": (None, ("tag no oil", "park job")),
}
"""By name: what the program does, None where it has ended, and what was called."""


@contextmanager
def state_of(name: str, folder: Path) -> Iterator[Session]:
    """A session in one of the states."""
    mode, calls = STATES[name]
    at = datetime.now().astimezone()
    session = open_session(
        folder,
        at=at,
        card=load_card("four-stroke-service"),
        sheet=load_sheet("quillmoor-tiller"),
    )
    session.open(at)
    for call in calls:
        session.typed(call, at)
    if mode is None:
        session.close()
    else:
        LiveSign(folder).show(mode, at)
    yield session
    session.close()


def take(out: Path, states: list[str], screens: list[str], looks: list[str]) -> None:
    """Take the pictures into a folder."""
    out.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as made, browser() as opened:
        for state in states:
            folder = Path(made) / state
            with state_of(state, folder):
                follower = Follower(folder, clock=lambda: datetime.now().astimezone())
                with serving(board_application(follower), what="board") as address:
                    for screen in screens:
                        width, height = SCREENS[screen]
                        for look in looks:
                            page = opened.new_page(viewport={"width": width, "height": height})
                            page.goto(f"{address}?look={look}")
                            page.wait_for_selector("#board .bar")
                            path = out / f"board-{state}-{screen}-{look}.png"
                            page.screenshot(path=path, full_page=screen == "phone")
                            print(path)
                            page.close()


def main() -> None:
    """Take the pictures that are asked for."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--out", type=Path, default=Path("board-pictures"), metavar="DIR")
    parser.add_argument("--state", action="append", choices=STATES)
    parser.add_argument("--screen", action="append", choices=SCREENS)
    parser.add_argument("--look", action="append", choices=("light", "dark"))
    options = parser.parse_args()
    take(
        options.out,
        options.state or list(STATES),
        options.screen or list(SCREENS),
        options.look or ["light", "dark"],
    )


if __name__ == "__main__":
    main()
