"""The live board on the wall."""

from __future__ import annotations

import argparse
from typing import Any

from companion.commands.arguments import add_command, session_argument


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "board", board, "companion board --address 192.168.1.20")
    session_argument(made)
    made.add_argument(
        "--address",
        metavar="A",
        help="address of this machine to be seen under by others; else by this machine alone",
    )
    made.add_argument("--port", type=int, metavar="N", help="port to listen on; else a free one")
    made.add_argument(
        "--no-browser", action="store_true", help="print the address, open no browser"
    )
    made.add_argument(
        "--new-token",
        action="store_true",
        help="make a new token: tablets that knew the old one have to be told the new one",
    )
    made.add_argument("--until-input-ends", action="store_true", help=argparse.SUPPRESS)


def board(options: argparse.Namespace) -> None:
    """Show where the job stands, for a tablet or a second screen. It follows the job to its end."""
    from companion.log.finding import find_session
    from companion.settings import load_settings
    from companion.web.board_server import serve_board
    from companion.with_starter import end_with_starter

    if options.until_input_ends:
        end_with_starter()
    settings = load_settings()
    serve_board(
        None if options.session is None else find_session(options.session),
        address=options.address or settings.board_address,
        port=settings.board_port if options.port is None else options.port,
        browser=not options.no_browser,
        new_token=options.new_token,
        until_input_ends=options.until_input_ends,
    )
