#!/usr/bin/env python3
"""What the tests need of the system, installed where it is missing: ``python3 tests/prepare.py``.

The tests speak with free voices, listen to recorded ones, look at pages in a browser and run under
a sound server. Whatever of that the Python package index carries comes with the extra ``[test]``;
the rest are packages of Debian and its kin, each a row of ``NEEDS``. Where all of them are there
this does nothing and prints nothing. It runs before anything is installed, so it uses the standard
library alone.

``--list`` prints the table.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from ctypes.util import find_library
from dataclasses import dataclass
from pathlib import Path

TRIES = 5
"""Another installation may hold the package lists for a while, which apt-get does not wait for."""

BETWEEN = 20.0
"""Between two tries, in seconds."""


@dataclass(frozen=True, slots=True)
class Need:
    """A package of Debian that tests need.

    Attributes:
        package: Its name.
        purpose: What the tests do with it.
        there: Whether what they use of it is there, from wherever it came.
    """

    package: str
    purpose: str
    there: Callable[[], bool]


def _program(name: str) -> Callable[[], bool]:
    return lambda: shutil.which(name) is not None


def _file(path: str) -> Callable[[], bool]:
    """Whether anything is there under a pattern below the root."""
    return lambda: any(True for _ in Path("/").glob(path))


def _library(name: str) -> Callable[[], bool]:
    return lambda: find_library(name) is not None


def _module(name: str) -> Callable[[], bool]:
    return lambda: importlib.util.find_spec(name) is not None


NEEDS = (
    # Debian's Python comes without what "python3 -m venv" puts into an environment.
    Need("python3-venv", "makes the environment", _module("ensurepip")),
    Need("flite", "a voice", _program("flite")),
    Need("espeak-ng", "a voice in many accents", _program("espeak-ng")),
    Need("festival", "a voice", _program("festival")),
    Need(
        "festvox-kallpc16k",
        "a voice for festival",
        _file("usr/share/festival/voices/english/kal_diphone"),
    ),
    Need(
        "festvox-us-slt-hts",
        "a voice for festival",
        _file("usr/share/festival/voices/us/cmu_us_slt_arctic_hts"),
    ),
    Need(
        "asterisk-core-sounds-en-g722",
        "words spoken by a person",
        _file("usr/share/asterisk/sounds/*/digits/20.g722"),
    ),
    Need("base-files", "a long text to read aloud", _file("usr/share/common-licenses/GPL-3")),
    Need("libportaudio2", "the sound library that a microphone needs", _library("portaudio")),
    Need("pulseaudio", "a sound server for microphone and loudspeaker", _program("pulseaudio")),
    Need("pulseaudio-utils", "plays to that server and listens to it", _program("pactl")),
    Need(
        "libasound2-plugins",
        "lets the sound library see that server",
        _file("usr/lib/*/alsa-lib/libasound_module_pcm_pulse.so"),
    ),
    Need("gcc", "compiles the layer of the fault runs", _program("gcc")),
    Need("libc6-dev", "compiles the layer of the fault runs", _file("usr/include/dlfcn.h")),
    Need(
        "fonts-dejavu-extra",
        "the narrow letters that the board is measured with",
        _file("usr/share/fonts/**/DejaVuSansCondensed.ttf"),
    ),
    Need("chromium", "the browser that pages are looked at with", _program("chromium")),
)


def missing() -> list[Need]:
    """What is needed and not there."""
    return [need for need in NEEDS if not need.there()]


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Who runs this, and where.

    Attributes:
        apt: Whether there is ``apt-get``.
        root: Whether it may install as it is.
        sudo: Whether there is ``sudo``.
        no_password: Whether ``sudo`` works without asking for a password.
        terminal: Whether a person can be asked.
    """

    apt: bool
    root: bool
    sudo: bool
    no_password: bool
    terminal: bool


def here() -> Surroundings:
    """Of this process."""
    sudo = shutil.which("sudo") is not None
    root = os.geteuid() == 0
    return Surroundings(
        apt=shutil.which("apt-get") is not None,
        root=root,
        sudo=sudo,
        no_password=sudo and not root and _succeeds(["sudo", "-n", "true"]),
        terminal=sys.stdin is not None and sys.stdin.isatty(),
    )


def _succeeds(command: Sequence[str]) -> bool:
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


def refusal(packages: str, around: Surroundings) -> str | None:
    """Why nothing can be installed here, and what to do instead; None where it can.

    Args:
        packages: The names of what is missing, as typed after ``apt-get install``.
        around: Who runs this, and where.
    """
    if not around.apt:
        return (
            "They are packages of Debian, and there is no apt-get here: install what your system "
            "has in their place, then run this line again."
        )
    if around.root or around.no_password or (around.sudo and around.terminal):
        return None
    command = f"apt-get install --no-install-recommends {packages}"
    if around.sudo:
        return (
            "sudo asks for a password, and nobody is there to type it. Run this, then this line "
            f"again: sudo {command}"
        )
    return (
        "You are not root, and there is no sudo. Have somebody who may run this, then run this "
        f"line again: {command}"
    )


def must_ask(around: Surroundings) -> bool:
    """Whether a person is asked first: where ``sudo`` would be used and somebody is there."""
    return not around.root and around.terminal


def install(names: Sequence[str], root: bool) -> str | None:
    """Install packages, with as many tries as ``TRIES``; what apt-get said last if it cannot."""
    apt = ["apt-get", "-q", "-o", "Acquire::Retries=3", "-o", "DPkg::Lock::Timeout=300"]
    if not root:
        apt = ["sudo", "env", "DEBIAN_FRONTEND=noninteractive", *apt]
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    said = ""
    for attempt in range(TRIES):
        if attempt:
            print("apt-get could not; it is tried again.", file=sys.stderr, flush=True)
            time.sleep(BETWEEN)
        for words in (["update"], ["install", "-y", "--no-install-recommends", *names]):
            run = subprocess.run(
                [*apt, *words],
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                errors="replace",
                check=False,
            )
            said = run.stdout
            if run.returncode:
                break
        else:
            return None
    return said


def main(arguments: Sequence[str]) -> int:
    """Do what the head of this file says; the exit status."""
    if list(arguments) == ["--list"]:
        for need in NEEDS:
            print(f"{need.package:30}{need.purpose}")
        return 0
    if arguments:
        print("prepare.py takes --list or nothing.", file=sys.stderr)
        return 2
    wanted = missing()
    if not wanted:
        return 0
    names = " ".join(need.package for need in wanted)
    print("The tests need these packages of Debian, which are not here:", flush=True)
    for need in wanted:
        print(f"  {need.package:30}{need.purpose}", flush=True)
    around = here()
    if (reason := refusal(names, around)) is not None:
        print(reason, file=sys.stderr)
        return 1
    if must_ask(around):
        answer = input("Install them with sudo? [y/N] ")
        if answer.strip().lower() not in ("y", "yes"):
            print("Nothing was installed, and the tests were not run.", file=sys.stderr)
            return 1
    print("They are installed now, which takes some minutes.", flush=True)
    if (said := install([need.package for need in wanted], around.root)) is not None:
        print(said, file=sys.stderr)
        print(
            f"apt-get could not install them; what it said stands above: {names}", file=sys.stderr
        )
        return 1
    if still := " ".join(need.package for need in missing()):
        print(f"Installed, but what the tests use of it is not there: {still}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except (KeyboardInterrupt, EOFError):
        print("Nothing more is installed.", file=sys.stderr)
        sys.exit(130)
