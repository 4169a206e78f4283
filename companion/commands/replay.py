"""Replaying a folder of recordings, and the bundled demonstrations of it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from companion.commands.arguments import add_command, ear_options, quiet_option
from companion.commands.given import heard_by, list_session, recognizer_given, shower
from companion.errors import CompanionError


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "demo", demo, "companion demo --out first-session")
    made.add_argument(
        "name",
        nargs="?",
        default="generator-load-check",
        metavar="DEMO",
        help="generator-load-check (the default) or mower-autumn-service",
    )
    made.add_argument("--out", type=Path, metavar="DIR", help="session folder to make")
    ear_options(made)
    quiet_option(made)

    made = add_command(
        commands,
        "replay",
        replay,
        "companion replay recordings --out replayed",
    )
    made.add_argument(
        "folder", type=Path, metavar="FOLDER", help="holds session.toml and its recordings"
    )
    made.add_argument("--out", type=Path, metavar="DIR", help="session folder to make")
    ear_options(made)
    quiet_option(made)


def demo(options: argparse.Namespace) -> None:
    """Replay a bundled session."""
    from companion.shipped import demonstration

    options.folder = demonstration(options.name)
    replay(options)


def replay(options: argparse.Namespace) -> None:
    """Replay a folder of recordings. It leaves a session folder and a report."""
    from companion.log.sessions import free_folder, new_session_folder
    from companion.replay import load_replay, open_replay
    from companion.replay import replay as run
    from companion.report.page import write_report
    from companion.settings import load_settings

    settings = load_settings()
    plan = load_replay(options.folder)
    parts = [(plan, options.folder, "")]
    while plan.before is not None:
        source = parts[0][1] / plan.before
        if any(source.resolve() == seen.resolve() for _, seen, _ in parts):
            raise CompanionError(
                f"{parts[0][1]}: 'before' leads back to {source}; name an earlier job's folder."
            )
        plan = load_replay(source)
        parts.insert(0, (plan, source, f"-{source.name}"))
    recognizer = recognizer_given(options, settings)
    print(heard_by(options, settings, recognizer), flush=True)
    show = shower(settings, quiet=options.quiet)
    earlier: list[Path] = []
    for plan, source, suffix in parts:
        folder = (
            free_folder(options.out.with_name(f"{options.out.name}{suffix}"))
            if options.out
            else new_session_folder(plan.recording[0].at, plan.machine or "job")
        )
        print(f"{plan.title}{' (invented)' if plan.invented else ''}", flush=True)
        session = open_replay(plan, source, folder, recognizer, earlier)
        list_session(folder, None if session.machine is None else session.machine.identity.name)
        try:
            run(plan, source, session, show)
        finally:
            session.close()
        earlier.append(folder)
        page = write_report(folder)
        print(f"Session: {folder}\nReport:  {page}", flush=True)
