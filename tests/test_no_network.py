"""Nothing leaves the machine: no command opens a socket but that of its own page, which listens on
this machine alone."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from companion.shipped import demonstration
from tests.logs import invented_job
from tests.review_pages import environment_of

HOOK = """
import json, os, sys

TOLD = os.environ["TOLD"]
ALLOWED = os.environ["ALLOWED"].split()


def _seen(event, arguments):
    if not event.startswith("socket."):
        return
    if event in ("socket.__new__", "socket.bind", "socket.connect", "socket.sendto"):
        made, *arguments = arguments
        family = arguments[0] if event == "socket.__new__" else made.family
        # A socket within the machine: the sound system's, or two ends of a program's own.
        if int(family) == 1:
            return
    told = [event, *(str(each) for each in arguments)]
    with open(TOLD, "a") as file:
        file.write(json.dumps(told) + "\\n")
    if event not in ALLOWED:
        raise RuntimeError(f"no socket may be opened: {told}")


sys.addaudithook(_seen)
"""
"""Seen before anything of the program is loaded, in it and in every program that it starts."""

RUN = """
from pathlib import Path
import companion.shipped
from companion.cli import main

companion.shipped.demonstration = lambda name: Path({demonstration!r})

for command in {commands!r}:
    status = main(command)
    assert status in (0, None), (command, status)
"""

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = tmp_path_factory.mktemp("shop")
    invented_job(data / "sessions" / "one")
    (data / "hook").mkdir()
    (data / "hook" / "sitecustomize.py").write_text(HOOK)
    return data


def environment(shop: Path, *, allowed: str = "") -> dict[str, str]:
    (shop / "told").write_text("")
    return {
        **environment_of(shop),
        "PYTHONPATH": os.pathsep.join([str(shop / "hook"), str(ROOT)]),
        "TOLD": str(shop / "told"),
        "ALLOWED": allowed,
    }


def told(shop: Path) -> list[list[str]]:
    return [json.loads(line) for line in (shop / "told").read_text().splitlines()]


def begun(folder: Path) -> Path:
    """The first two recordings of a demonstration, which are enough to hear."""
    shipped = demonstration("mower-autumn-service")
    (folder / "audio").mkdir(parents=True)
    parts = (shipped / "session.toml").read_text().split("[[recording]]")[:3]
    (folder / "session.toml").write_text("[[recording]]".join(parts))
    for name in ("01-take-in.flac", "02-first-look.flac"):
        shutil.copy(shipped / "audio" / name, folder / "audio" / name)
    return folder


def without_network() -> list[str]:
    """What a command begins with to have no network at all, where a user may do that here."""
    unshare = shutil.which("unshare")
    if unshare is None or not sys.platform.startswith("linux"):
        return []
    alone = [unshare, "--map-root-user", "--net"]
    tried = subprocess.run([*alone, "true"], capture_output=True, check=False)
    return alone if tried.returncode == 0 else []


def test_the_hook_sees_a_socket(shop: Path) -> None:
    for line in (
        "import socket; socket.create_connection(('127.0.0.1', 9))",
        "import socket; socket.getaddrinfo('example.org', 80)",
        "import urllib.request; urllib.request.urlopen('http://127.0.0.1:9/')",
    ):
        env = environment(shop)
        tried = subprocess.run([sys.executable, "-c", line], env=env, capture_output=True)
        assert tried.returncode
        assert told(shop)


def test_demo_work_hear_and_report_open_none_and_need_no_network(shop: Path) -> None:
    clip = next((shop / "sessions" / "one" / "audio").glob("*.flac"))
    job = ["--job", "four-stroke-service", "--machine", "quillmoor-tiller"]
    commands = [
        ["work", "--typed", "--quiet", *job, "--out", str(shop / "worked")],
        ["hear", str(clip)],
        ["demo", "mower-autumn-service", "--quiet", "--out", str(shop / "demo")],
        ["report", str(shop / "worked"), "--html", str(shop / "report.html")],
        ["report", "one", "--handover", str(shop / "h.html"), "--parts", str(shop / "p.html")],
        ["tags", "one"],
        ["history", "Quillmoor tiller", "--html", str(shop / "m.html")],
        ["sessions"],
        ["log", "check", "one"],
        ["export", "one", "--zip", str(shop / "one.zip")],
    ]
    run = RUN.format(commands=commands, demonstration=str(begun(shop / "begun")))
    program = subprocess.run(
        [*without_network(), sys.executable, "-c", run],
        input="gap thirty thou\npark job\n",
        env=environment(shop),
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert program.returncode == 0, program.stderr
    assert (shop / "report.html").is_file()
    assert told(shop) == []


@contextmanager
def page_of(shop: Path, *command: str) -> Iterator[str]:
    allowed = "socket.__new__ socket.bind socket.getaddrinfo socket.getnameinfo"
    program = subprocess.Popen(
        [sys.executable, "-m", "companion", *command, "--no-browser"],
        env=environment(shop, allowed=allowed),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert program.stdout is not None
    assert program.stderr is not None
    line = program.stdout.readline()
    assert "http://" in line, program.stderr.read()
    try:
        yield line.split()[1]
    finally:
        program.send_signal(2)
        assert program.wait(30) == 0
        assert program.stderr.read() == ""


@pytest.mark.parametrize("command", [["review", "one"], ["board", "one"]], ids=" ".join)
def test_a_page_listens_on_this_machine_and_opens_nothing_else(
    command: list[str], shop: Path
) -> None:
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    with page_of(shop, *command) as address:
        until = time.monotonic() + 60
        while "Quillmoor" not in opener.open(address, timeout=30).read().decode():
            assert time.monotonic() < until
    seen = told(shop)
    assert {each[0] for each in seen} >= {"socket.bind"}
    for event, *arguments in seen:
        if event == "socket.__new__":
            assert int(arguments[0]) == 2, arguments
        else:
            assert "127.0.0.1" in arguments[0], arguments
