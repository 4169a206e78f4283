"""One call by itself: heard from a sound file, or understood as it is typed."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from companion.commands.arguments import add_command, ear_options, job_options
from companion.commands.given import job_given, own_ways_of, recognizer_given
from companion.errors import CompanionError
from companion.plain_print import json_text


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "hear", hear, "companion hear call.wav --json")
    made.add_argument(
        "files", nargs="+", type=Path, metavar="FILE", help="sound files, one call each"
    )
    job_options(made)
    ear_options(made)
    made.add_argument(
        "--open-mic", action="store_true", help="a call must begin with the call sign"
    )
    made.add_argument("--json", action="store_true", help="print a JSON line a file")

    made = add_command(
        commands, "understand", understand, "companion understand 'gap thirty thou' --json"
    )
    made.add_argument("text", nargs="+", metavar="TEXT", help="a call, in words or digits")
    job_options(made)
    made.add_argument("--voice", metavar="NAME", help="an enrolled voice, whose own ways are taken")
    made.add_argument("--json", action="store_true", help="print the intent as JSON")


def hear(options: argparse.Namespace) -> int:
    """Recognize sound files, each as one call."""
    from companion.heard_file import hear_file
    from companion.settings import load_settings

    settings = load_settings()
    job = job_given(options)
    grammar = job.grammar(settings, own_ways_of(options, settings))
    recognizer = recognizer_given(options, settings)
    recognizer.listen_for(grammar)
    listening = job.listening(settings, call_sign_needed=options.open_mic, answer_awaited=True)
    failed = 0
    for path in options.files:
        try:
            heard = hear_file(path, recognizer, grammar, listening)
        except CompanionError as error:
            # One bad file must not cost the others their line.
            print(f"companion: {error}", file=sys.stderr)
            failed = 1
            continue
        line = heard.as_json()
        if options.json:
            print(json_text(line), flush=True)
        else:
            reasons = f"  ({', '.join(line['reasons'])})" if line["reasons"] else ""
            print(f"{path}: {line['outcome']}: {line['text']}{reasons}", flush=True)
    return failed


def understand(options: argparse.Namespace) -> None:
    """Understand a typed call."""
    from companion.intent.interpret import understand as run
    from companion.intent.suggested import take_instead
    from companion.settings import load_settings

    settings = load_settings()
    job = job_given(options)
    listening = job.listening(settings, call_sign_needed=False, answer_awaited=True)
    grammar = job.grammar(settings, own_ways_of(options, settings))
    decision = run(" ".join(options.text), grammar, listening)
    found = [intent.model_dump(mode="json") for intent in decision.intents]
    line: dict[str, Any]
    if decision.outcome == "record":
        line = found[0]
    else:
        line = {
            "intent": None,
            "outcome": decision.outcome,
            "reasons": list(decision.reasons),
            "candidates": found,
            "take": list(take_instead(decision, None, grammar)),
        }
    if options.json:
        print(json_text(line))
    else:
        for key, value in line.items():
            print(f"{key}: {value}")
