"""The board on the wall beside a live session: a program of its own, so that nothing it does, and
no browser that looks at it, can make the bench wait."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

STOPPING_SECONDS = 5.0
"""How long the board may take to end."""


@contextmanager
def board_beside(folder: Path) -> Iterator[None]:
    """Show the board of a session meanwhile, where the settings say, and print its address.

    A board that cannot be shown is told of, and the job goes on without. It ends when this program
    does, however that ends: it waits for the end of a pipe.

    Args:
        folder: The session folder.
    """
    arguments = (sys.executable, "-m", "companion", "board", str(folder.resolve()))
    try:
        board = subprocess.Popen(
            (*arguments, "--no-browser", "--until-input-ends"),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            # Ctrl-C is for the session; it ends the board when it has ended itself.
            start_new_session=True,
        )
    except OSError as error:
        print(f"companion: The board cannot be started ({error.strerror}).", file=sys.stderr)
        yield
        return
    with board:
        _tell(board.stdout, board.stderr)
        try:
            yield
        finally:
            _end(board)


def _tell(out: IO[bytes] | None, err: IO[bytes] | None) -> None:
    """Print the first thing that the board says: its address, or why it has none."""
    assert out is not None
    assert err is not None
    line = out.readline().decode(errors="replace").replace(" (stop with Ctrl-C)", "")
    if line:
        print(line, end="", flush=True)
    else:
        print(err.readline().decode(errors="replace"), end="", file=sys.stderr)


def _end(board: subprocess.Popen[bytes]) -> None:
    assert board.stdin is not None
    board.stdin.close()
    try:
        board.wait(STOPPING_SECONDS)
    except subprocess.TimeoutExpired:
        board.kill()
