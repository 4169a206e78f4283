"""Looking a session over in the browser."""

from __future__ import annotations

import argparse
from typing import Any

from companion.commands.arguments import add_command


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "review", review, "companion review first-session")
    made.add_argument(
        "session", nargs="?", metavar="SESSION", help="name or folder; else the list of all"
    )
    made.add_argument(
        "--port", type=int, default=0, metavar="N", help="port to listen on; else a free one"
    )
    made.add_argument(
        "--no-browser", action="store_true", help="print the address, open no browser"
    )


def review(options: argparse.Namespace) -> None:
    """Look calls over in the browser: hear, correct, confirm, sign off. From this machine only."""
    import webbrowser
    from datetime import datetime

    from companion.log.finding import find_session
    from companion.log.reader import read_log
    from companion.review.kept import prepare_review
    from companion.review.reviewer import open_review
    from companion.web.adding import FILES
    from companion.web.review import review_application, session_address
    from companion.web.server import serve
    from companion.web.shop import Shop, key_of

    first, besides = "", []
    if options.session is not None:
        folder = find_session(options.session).absolute()
        read_log(folder)
        besides.append(folder)
        first = session_address(key_of(folder)).removeprefix("/")

    def started(address: str) -> None:
        print(f"Review: {address}{first} (stop with Ctrl-C)", flush=True)
        if not options.no_browser:
            webbrowser.open(f"{address}{first}")

    shop = Shop(besides)
    try:
        serve(
            review_application(
                shop, open_review, lambda: datetime.now().astimezone(), prepare_review
            ),
            what="review page",
            port=options.port,
            files=FILES,
            started=started,
        )
    finally:
        shop.close()
