"""Whether everything that a session needs works, and how well a person is heard."""

from __future__ import annotations

import argparse
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import add_command, json_option, quiet_option
from companion.commands.given import tell
from companion.commands.json_lists import print_list
from companion.commands.progress import waiting
from companion.errors import CompanionError, WrongUse
from companion.guarded import STOPPED

if TYPE_CHECKING:
    from companion.settings import Settings
    from companion.trial.heard import HeardCall
    from companion.trial.told import Told
    from companion.voice_checkup import VoiceCheckup


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "checkup", checkup, "companion checkup --voice")
    made.add_argument(
        "--voice",
        nargs="?",
        const="",
        metavar="VOICE",
        help="say ten calls, beside the running machine: how well you are heard; with a name, as "
        "that enrolled voice",
    )
    way = made.add_mutually_exclusive_group()
    way.add_argument(
        "--page", type=int, metavar="NUMBER", help="the same ten calls as the last time"
    )
    way.add_argument(
        "--clips",
        type=Path,
        metavar="FOLDER",
        help="recordings in place of the microphone; calls.toml in it says what was said",
    )
    quiet_option(made)
    json_option(made)


def checkup(options: argparse.Namespace) -> int:
    """Try microphone, speaker, recognizer, voice and disk. With --voice: how well you are heard."""
    from companion.checkup import check_all
    from companion.settings import load_settings

    if options.voice is not None:
        return _voice(options, load_settings())
    for given, name in ((options.page, "--page"), (options.clips, "--clips")):
        if given is not None:
            raise WrongUse(f"{name} belongs to a test of your voice; add --voice.")
    results = check_all(load_settings())
    if options.json:
        print_list(
            "checkup",
            [{"part": each.part, "works": each.ok, "sentence": each.sentence} for each in results],
        )
    else:
        for result in results:
            print(f"{'works ' if result.ok else 'FAILS '} {result.part}: {result.sentence}")
    return 0 if all(result.ok for result in results) else 1


def _voice(options: argparse.Namespace, settings: Settings) -> int:
    """Hear a page of calls and tell how well, with what was heard so far where it ends early."""
    from companion.trial.drawn import PAGES, another_page
    from companion.voice_checkup import VoiceCheckup

    page = another_page() if options.page is None else options.page
    if not 1 <= page <= PAGES:
        raise WrongUse(f"There is no page {page}; pages have the numbers 1 to {PAGES:,}.")
    tried = VoiceCheckup(settings, options.voice or None)
    early: int | None = None
    try:
        if options.clips is not None:
            recorded = tried.recordings(options.clips)
            with waiting("loading the recognizer"):
                tried.load()
            tried.hear_recordings(recorded, partial(_show, options))
        else:
            _said(options, settings, tried, page)
    except KeyboardInterrupt:
        early = STOPPED
        tell([f"stopped after {len(tried.heard)} of {tried.of} calls; nothing is recorded."])
    except CompanionError as error:
        if not tried.heard:
            raise
        # What was heard until then is worth telling.
        early = error.exit_status
        tell([str(error)])
    if not tried.heard:
        return STOPPED
    told = tried.told()
    if options.json:
        _print_json(tried, told, None if options.clips else page)
    else:
        print(told.sentence)
        if options.clips is None:
            print(f"The same calls again: companion checkup --voice --page {page}")
    return early if early is not None else int(told.verdict == "badly")


def _said(options: argparse.Namespace, settings: Settings, tried: VoiceCheckup, page: int) -> None:
    """Let a person say the calls of a page."""
    from companion.speak.voice import open_voice
    from companion.trial.drawn import calls_of

    tried.require_microphone()
    with waiting("loading the recognizer"):
        tried.load()
    voice = open_voice(settings, quiet=options.quiet)
    if voice.trouble is not None:
        tell([f"{voice.trouble} Read the calls here."])
    # Standard output holds nothing but JSON where that is asked for.
    show = partial(print, file=sys.stderr if options.json else sys.stdout, flush=True)
    tried.hear(calls_of(page, tried.call_sign), voice, show, partial(_show, options))


def _show(options: argparse.Namespace, call: HeardCall) -> None:
    """Show what became of a call."""
    from companion.trial.told import in_words

    if not options.json:
        before = f"{call.said}: " if options.clips is not None else ""
        print(f"  {before}{in_words(call)}", flush=True)


def _print_json(tried: VoiceCheckup, told: Told, page: int | None) -> None:
    from companion.trial.told import call_values, told_values

    items = [call_values(call) for call in tried.heard]
    print_list("heard", items, of=tried.of, page=page, **told_values(told))
