"""Killing the program at any moment loses nothing that it had acknowledged."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import pytest

from companion.job.events import Heard, Said
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.shipped import demonstration
from tests.program import Program

CALLS = [
    "gap thirty thou",
    "correction thirty one thou",
    "drained eighteen ounces of oil",
    "start soak timer two hours",
    "tag plug wire off",
    "compression one twenty p s i",
    "note the cable is frayed at the lever",
    "added ten ounces of oil",
    "added ten ounces of oil",
    "oil level full",
    "affirm",
    "clear tag plug wire off",
    "affirm",
    "disregard",
    "need two shear pins",
]


def acknowledged_before_kill(
    program: Program,
    arguments: Sequence[str | Path],
    shop: dict[str, str],
    replies: int,
    typed: str,
) -> list[str]:
    """Start the program, kill it outright after so many replies, return the replies seen.

    Whatever else it managed to print before it died counts as acknowledged too.
    """
    with program.begin(arguments, env=shop, cwd=Path.cwd()) as running:
        running.typing.write(typed)
        running.typing.flush()
        seen: list[str] = []
        killed = False
        for line in running.printed:
            _, said, text = line.partition("said    ")
            if said:
                seen.append(text.rstrip("\n"))
            if not killed and len(seen) >= replies:
                os.kill(running.number, signal.SIGKILL)
                killed = True
    return seen


def assert_all_kept(folder: Path, acknowledged: list[str]) -> None:
    """Every reply that was printed is in the log, and so is what was heard before it."""
    contents = read_log(folder)
    events = [record.event for record in contents.records]
    said = [event.text for event in events if isinstance(event, Said)]
    assert said[: len(acknowledged)] == acknowledged
    for event in events:
        if isinstance(event, Said) and event.heard is not None:
            heard = contents.records[event.heard - 1].event
            assert isinstance(heard, Heard)
            if heard.clip is not None:
                assert (folder / heard.clip).stat().st_size > 0
    assert check_log(folder).ok or contents.recovered is not None


@pytest.mark.parametrize("replies", range(1, 16))
def test_typed_session_killed_after_each_reply(
    replies: int, program: Program, shop: dict[str, str], tmp_path: Path
) -> None:
    folder = tmp_path / "job"
    typed = "".join(f"{call}\n" for call in CALLS * 3)
    acknowledged = acknowledged_before_kill(
        program,
        ["work", "--typed", "--quiet", "--machine", "quillmoor-tiller", "--out", folder],
        shop,
        replies,
        typed,
    )
    assert len(acknowledged) >= replies
    assert_all_kept(folder, acknowledged)


@pytest.mark.parametrize("replies", [1, 3, 6, 10, 13])
def test_replay_from_audio_killed_after_some_replies(
    replies: int, program: Program, shop: dict[str, str], tmp_path: Path
) -> None:
    recordings = demonstration("mower-autumn-service")
    folder = tmp_path / "job"
    acknowledged = acknowledged_before_kill(
        program, ["replay", recordings, "--quiet", "--out", folder], shop, replies, ""
    )
    assert len(acknowledged) >= replies
    assert_all_kept(folder, acknowledged)


WAYS_TO_END = ("by its input", "by Ctrl-C", "outright")


def end_while_all_beside_hang(ended: str, folder: Path) -> None:
    """Hold the programs beside a session, end it, and wait until they have ended too."""
    (folder / "settings.toml").touch()
    command = [sys.executable, "-m", "companion", "work", "--typed", "--board"]
    with subprocess.Popen(
        [*command, "--out", str(folder / "job")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={
            **os.environ,
            "BENCH_COMPANION_DATA": str(folder / "data"),
            "BENCH_COMPANION_SETTINGS": str(folder / "settings.toml"),
        },
    ) as session:
        assert session.stdin is not None
        assert session.stdout is not None
        session.stdin.write("tag no oil\n")
        session.stdin.flush()
        for line in session.stdout:
            if "said    Tag hung" in line:
                break
        children = Path(f"/proc/{session.pid}/task/{session.pid}/children").read_text().split()
        # The voice and the board; each as one that a library or the system holds.
        assert len(children) == 2
        watched = [os.pidfd_open(int(child)) for child in children]
        for child in children:
            os.kill(int(child), signal.SIGSTOP)
        if ended == "outright":
            session.kill()
        elif ended == "by Ctrl-C":
            session.send_signal(signal.SIGINT)
        session.stdin.close()
        session.wait(60)
    for each in watched:
        # Readable once the program has ended.
        assert select.select([each], [], [], 30) == ([each], [], [])
        os.close(each)


@pytest.fixture(scope="module")
def endings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Future[None]]:
    """A session ended in each way, all at once: most of it is waiting."""
    with ThreadPoolExecutor(len(WAYS_TO_END)) as several:
        return {
            way: several.submit(end_while_all_beside_hang, way, tmp_path_factory.mktemp("ended"))
            for way in WAYS_TO_END
        }


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs Linux")
@pytest.mark.parametrize("ended", WAYS_TO_END)
def test_no_program_beside_outlives_the_session_though_it_hangs(
    ended: str, endings: dict[str, Future[None]]
) -> None:
    endings[ended].result()
