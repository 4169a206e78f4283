"""Serves the board: on this machine alone, or on a chosen address to whoever has the token."""

from __future__ import annotations

import contextlib
import re
import secrets
import signal
import sys
import threading
import webbrowser
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.files.disk import replace_file
from companion.files.plain import plain_bytes
from companion.web.board import board_application
from companion.web.board_follower import Follower
from companion.web.server import LOOPBACK, is_loopback, serve

TOKEN_NAME = "board.token"
"""File in the data folder that keeps the token, readable for its owner alone, so that a tablet on
the wall need not be given a new one every morning."""

EVERY_ADDRESS = ("0.0.0.0", "::")
"""Listens on all addresses of this machine, so that no single one can be named."""

TOKEN_BYTES = 16
"""Of chance in a token: 128 bits, 22 characters to type."""


def serve_board(
    folder: Path | None,
    *,
    address: str | None = None,
    port: int = 0,
    browser: bool = True,
    new_token: bool = False,
    until_input_ends: bool = False,
) -> None:
    """Show the board until Ctrl-C.

    Args:
        folder: The session folder; None for the one that runs or was written to last.
        address: To listen on; None for this machine alone.
        port: To listen on; 0 for a free one.
        browser: Whether to open the page in the user's browser.
        new_token: Whether to make a new token.
        until_input_ends: Stop when standard input ends: with the program that started this one.

    Raises:
        CompanionError: If there is no session, it cannot listen there, or the token cannot be kept.
    """
    host = address or LOOPBACK
    follower = Follower(folder, clock=lambda: datetime.now().astimezone())
    token = kept_token(anew=new_token) if new_token or not is_loopback(host) else None
    if is_loopback(host):
        # Whoever uses this machine can read everything anyway.
        token = None

    def started(where: str) -> None:
        whole = where if token is None else f"{where}?token={token}"
        print(f"Board: {whole} (stop with Ctrl-C)", flush=True)
        if host in EVERY_ADDRESS:
            print(
                "On another screen, type this machine's own address in place of that.", flush=True
            )
        if browser:
            webbrowser.open(whole)
        if until_input_ends:
            threading.Thread(target=_stop_at_end_of_input, daemon=True).start()

    serve(
        board_application(follower),
        what="board",
        host=host,
        port=port,
        token=token,
        started=started,
    )


def kept_token(*, anew: bool = False) -> str:
    """Return the shop's token; it is made at random when there is none yet.

    Args:
        anew: Make another one in its place.

    Raises:
        CompanionError: If it cannot be kept.
    """
    path = data_folder() / TOKEN_NAME
    if not anew:
        with contextlib.suppress(OSError, ValueError):
            token = plain_bytes(path, 1024).decode("ascii").strip()
            if re.fullmatch(r"[\w-]{22,}", token, re.ASCII):
                return token
    token = secrets.token_urlsafe(TOKEN_BYTES)
    try:
        replace_file(path, f"{token}\n".encode())
    except OSError as error:
        raise CompanionError(
            f"The board's token cannot be kept in {path} ({error.strerror}); check the folder and "
            "its permissions."
        ) from None
    return token


def _stop_at_end_of_input() -> None:
    with contextlib.suppress(OSError, ValueError):
        while sys.stdin.buffer.read(4096):
            pass
    signal.raise_signal(signal.SIGINT)
