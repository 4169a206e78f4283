"""Looking at a session in the browser."""

from __future__ import annotations

import argparse
from typing import Any

from companion.commands.arguments import add_command, session_argument


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "review", review, "companion review first-session")
    session_argument(made)
    made.add_argument(
        "--port", type=int, default=0, metavar="N", help="port on 127.0.0.1; else a free one"
    )


def review(options: argparse.Namespace) -> None:
    """Show a session's report in the browser, from the loopback address."""
    from companion.log.sessions import find_session
    from companion.report.serve import serve_report

    serve_report(find_session(options.session), port=options.port)
