"""One call by itself: heard from a sound file, or understood as it is typed."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import (
    add_command,
    ear_options,
    job_options,
    json_option,
    voice_option,
)
from companion.commands.given import job_given, one_by_one, own_ways_of, recognizer_given
from companion.plain_print import json_text

if TYPE_CHECKING:
    from companion.grammar.compiled import CallGrammar
    from companion.intent.outcome import Decision
    from companion.recognize.protocol import Recognizer


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
    json_option(made)

    made = add_command(
        commands, "understand", understand, "companion understand 'gap thirty thou' 'step done'"
    )
    made.add_argument(
        "text",
        nargs="+",
        metavar="TEXT",
        help="a call, in words or digits; several, each in quotes",
    )
    job_options(made)
    voice_option(made)
    json_option(made)


def hear(options: argparse.Namespace) -> int:
    """Recognize sound files, each as one call."""
    from companion.heard_file import hear_file
    from companion.settings import load_settings

    settings = load_settings()
    job = job_given(options)
    grammar = job.grammar(settings, own_ways_of(options, settings))
    listening = job.listening(settings, call_sign_needed=options.open_mic, answer_awaited=True)

    @cache
    def recognizer() -> Recognizer:
        made = recognizer_given(options, settings)
        made.listen_for(grammar)
        return made

    def hear_one(path: Path) -> None:
        line = hear_file(path, recognizer, grammar, listening).as_json()
        if options.json:
            print(json_text(line), flush=True)
        else:
            reasons = f"  ({', '.join(line['reasons'])})" if line["reasons"] else ""
            print(f"{path}: {line['outcome']}: {line['text']}{reasons}", flush=True)

    return one_by_one(options.files, hear_one)


def understand(options: argparse.Namespace) -> None:
    """Understand typed calls. Words are one call, texts in quotes a call each."""
    from companion.intent.interpret import understand as run
    from companion.settings import load_settings

    settings = load_settings()
    job = job_given(options)
    listening = job.listening(settings, call_sign_needed=False, answer_awaited=True)
    grammar = job.grammar(settings, own_ways_of(options, settings))
    texts = _texts(options.text)
    for text in texts:
        line = _understood(run(text, grammar, listening), grammar)
        if options.json:
            print(json_text(line))
            continue
        if len(texts) > 1:
            print(f"{text}:")
        for key, value in line.items():
            print(f"{key}: {value}")


def _texts(words: Sequence[str]) -> list[str]:
    """The calls that were typed: one in several words, or several of which one at least is quoted
    and so has a space."""
    quoted = len(words) > 1 and any(" " in word.strip() for word in words)
    return [*words] if quoted else [" ".join(words)]


def _understood(decision: Decision, grammar: CallGrammar) -> dict[str, Any]:
    from companion.intent.suggested import take_instead

    found = [intent.model_dump(mode="json") for intent in decision.intents]
    if decision.outcome == "record":
        return found[0]
    return {
        "intent": None,
        "outcome": decision.outcome,
        "reasons": list(decision.reasons),
        "candidates": found,
        "take": list(take_instead(decision, None, grammar)),
    }
