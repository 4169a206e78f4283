"""Enrolling a voice."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import add_command, from_option, json_option
from companion.commands.given import one_by_one
from companion.commands.json_lists import print_list
from companion.commands.progress import progress
from companion.errors import CompanionError

if TYPE_CHECKING:
    from companion.enroll.fit import ReadOut
    from companion.grammar.compiled import CallGrammar
    from companion.settings import Settings


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "enroll", enroll, "companion enroll Rosa")
    made.add_argument("name", metavar="NAME", help="whose voice it is")
    way = made.add_mutually_exclusive_group()
    way.add_argument("--short", action="store_true", help="read only the first twelve calls")
    way.add_argument(
        "--clips",
        type=Path,
        metavar="FOLDER",
        help="recordings in place of the microphone; calls.toml in it says what was said",
    )
    from_option(way, "session")
    way.add_argument(
        "--again", action="store_true", help="fit anew from the clips of an enrolled voice"
    )
    way.add_argument("--remove", action="store_true", help="remove the voice and its clips")
    made.add_argument("--model", type=Path, metavar="DIR", help="folder of the recognizer's model")

    json_option(add_command(commands, "voices", voices, "companion voices"))


def enroll(options: argparse.Namespace) -> None:
    """Read a page of calls once, so that your voice is heard better."""
    from companion.enroll.fit import enroll as run
    from companion.enroll.fit import report_lines
    from companion.enroll.voice_profile import remove_voice, voice_paths
    from companion.grammar.compiled import load_grammar
    from companion.live.loop import now
    from companion.recognize.held import HeldRecognizer
    from companion.settings import load_settings

    path, _ = voice_paths(options.name)
    if options.remove:
        found = remove_voice(options.name)
        print(f"Removed the voice '{options.name}'." if found else "There was no such voice.")
        return
    if path.exists() and not (options.again or options.session):
        raise CompanionError(
            f"The voice '{options.name}' is enrolled already; fit it anew from its clips with "
            "--again, add those of a session with --from, or remove it first with --remove."
        )
    grammar = load_grammar()
    settings = load_settings()
    page = _page(options, grammar, settings)
    ears = HeldRecognizer(options.model or settings.model)
    ears.listen_for(grammar)
    print(f"{len(page)} calls are heard and fitted to; this takes a minute.", flush=True)
    with progress("heard") as tell:
        enrolled = run(options.name, page, ears, grammar, now(), tell)
    for line in report_lines(enrolled):
        print(line)


def voices(options: argparse.Namespace) -> int:
    """List the voices that are enrolled. They are for --voice and the setting enrolled_voice."""
    from companion.enroll.voice_profile import enrolled_voices, load_voice

    found: list[dict[str, Any]] = []

    def show(name: str) -> None:
        voice = load_voice(name)
        fitted = voice.weight is not None
        found.append(
            {
                "voice": name,
                "name": voice.name,
                "calls": len(voice.calls),
                "made": voice.made.isoformat(),
                "fitted": fitted,
            }
        )
        if not options.json:
            how = "fitted" if fitted else "kept, fitting did not help"
            print(f"{voice.name}  {len(voice.calls)} calls, {voice.made:%Y-%m-%d}, {how}")

    names = enrolled_voices()
    status = one_by_one(names, show)
    if options.json:
        print_list("voices", found)
    elif not names:
        print("No voice is enrolled; enroll one with: companion enroll NAME")
    return status


def _page(
    options: argparse.Namespace, grammar: CallGrammar, settings: Settings
) -> tuple[ReadOut, ...]:
    """The calls of an enrollment, from wherever they come."""
    from companion.enroll.marked import from_session
    from companion.enroll.page import (
        PAGE,
        SHORT,
        from_folder,
        from_microphone,
        from_profile,
        with_more,
    )
    from companion.enroll.voice_profile import load_voice, voice_paths
    from companion.log.finding import find_session

    if options.again:
        return from_profile(load_voice(options.name))
    if options.session:
        enrolled = voice_paths(options.name)[0].exists()
        before = from_profile(load_voice(options.name)) if enrolled else ()
        return with_more(before, from_session(find_session(options.session), grammar))
    if options.clips is not None:
        return from_folder(options.clips, grammar)
    from companion.audio.devices import MicrophoneUnavailable, find_device
    from companion.audio.microphone import Microphone

    try:
        find_device("input", settings.microphone)
    except MicrophoneUnavailable as error:
        raise MicrophoneUnavailable(f"{error} To enroll from recordings, add --clips.") from error
    print("Read each line aloud as you would call it at the bench, then wait for the next.")
    with Microphone(settings.microphone) as microphone:
        return from_microphone(
            PAGE[:SHORT] if options.short else PAGE,
            microphone,
            lambda line: print(line, flush=True),
        )
