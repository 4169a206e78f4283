"""The command line: each command a thin mirror of what the rooms offer.

Errors are one sentence on standard error; the exit status is 2 for wrong use and 1 for failure.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion import __version__
from companion.commands import board, history, key, photo, report, review, sessions, transfer
from companion.commands.arguments import (
    Command,
    add_command,
    board_option,
    ear_options,
    job_options,
    order_options,
    session_argument,
    voice_options,
)
from companion.errors import CompanionError, WrongUse
from companion.guarded import guarded, refuse_long
from companion.plain_print import json_text, whole

# Imports stand inside the commands: "companion --help" must not wait for a recognizer.
if TYPE_CHECKING:
    from datetime import datetime

    from companion.enroll.fit import ReadOut
    from companion.enroll.ways_file import WaysFile
    from companion.grammar.compiled import CallGrammar
    from companion.intent.decision import Listening
    from companion.job.card import JobCard
    from companion.job.sheet import SpecSheet
    from companion.job.state import State
    from companion.log.machine_before import Earlier
    from companion.log.machine_watch import MachineWatch
    from companion.recognize.protocol import Recognizer
    from companion.session.session import Session
    from companion.settings import Settings


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    given = [*(sys.argv[1:] if arguments is None else arguments)]
    return guarded(lambda: _run(given))


def _run(arguments: list[str]) -> int:
    refuse_long(arguments)
    options = command_parser().parse_args(_negatives_kept(arguments))
    command: Command = options.command
    return command(options) or 0


def _negatives_kept(arguments: Sequence[str]) -> list[str]:
    """Mark what is below zero for the handbook, as "-10C": with a space it is no option."""
    asked = list(arguments[:1]) == ["handbook"]
    below_zero = re.compile(r"-[\d.]")
    return [f" {word}" if asked and below_zero.match(word) else word for word in arguments]


# --- sessions ------------------------------------------------------------------------------------
def demo(options: argparse.Namespace) -> None:
    """Replay a bundled session."""
    from companion.shipped import demonstration

    options.folder = demonstration(options.name)
    replay(options)


def replay(options: argparse.Namespace) -> None:
    """Replay a folder of recordings; leave a session folder and a report."""
    from companion.log.sessions import free_folder, new_session_folder
    from companion.replay import load_replay, open_replay
    from companion.replay import replay as run
    from companion.report.page import write_report

    settings = _settings()
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
    recognizer = _recognizer(options, settings)
    print(_heard_by(options, settings, recognizer), flush=True)
    show = _shower(settings, quiet=options.quiet)
    earlier: list[Path] = []
    for plan, source, suffix in parts:
        folder = (
            free_folder(options.out.with_name(f"{options.out.name}{suffix}"))
            if options.out
            else new_session_folder(plan.recording[0].at, plan.machine or "job")
        )
        print(f"{plan.title}{' (invented)' if plan.invented else ''}", flush=True)
        session = open_replay(plan, source, folder, recognizer, earlier)
        _list(folder, None if session.machine is None else session.machine.identity.name)
        try:
            run(plan, source, session, show)
        finally:
            session.close()
        earlier.append(folder)
        page = write_report(folder)
        print(f"Session: {folder}\nReport:  {page}", flush=True)


def work(options: argparse.Namespace) -> None:
    """Start a live session."""
    from companion.job.fits import fits
    from companion.live.loop import now
    from companion.log.sessions import new_session_folder
    from companion.log.work_order import work_order
    from companion.session.session import open_session

    settings = _settings()
    order = work_order(options.customer, options.work_order)
    job = _job(options)
    if job.card is not None and job.sheet is not None and not fits(job.card, job.sheet):
        print(
            f"companion: the card {job.card.name} is not meant for a {job.sheet.kind}: look at "
            "each step before you do it, or choose another of 'companion cards'.",
            file=sys.stderr,
        )
    at = now()
    named = options.name or (job.sheet.name if job.sheet else None)
    folder = options.out or new_session_folder(at, named or "job")
    machine = _machine(options, job, folder)
    recognizer = None if options.typed else _live_ears(options, settings)
    push_to_talk = options.push_to_talk or settings.push_to_talk
    session = open_session(
        folder,
        at=at,
        card=job.card,
        sheet=job.sheet,
        call_sign=settings.call_sign,
        ounce=settings.ounce,
        air_temperature=settings.air_temperature,
        recognizer=recognizer,
        open_mic=not push_to_talk,
        earlier=_earlier(machine, at),
        machine=machine,
        own_ways=_own_ways(options, settings),
        order=order,
    )
    _tell(session.left_out)
    if recognizer is not None:
        from companion.grammar.unsayable import unsayable_sentences

        _tell(unsayable_sentences(session.grammar.words, _files_of(options)))
    _list(folder, None if machine is None else machine.identity.name)
    _live(session, settings, options)


def _earlier(machine: MachineWatch | None, at: datetime) -> Earlier:
    """What is known of the machine from before."""
    from companion.log.machine_before import Earlier, earlier_of_machine
    from companion.log.machine_folders import folders_of

    if machine is None:
        return Earlier()
    name, serial = machine.identity.name, machine.identity.serial
    return earlier_of_machine(name, at, lambda: folders_of(name, serial), serial=serial)


def _machine(options: argparse.Namespace, job: _Job, folder: Path) -> MachineWatch | None:
    """How the machine stands by its other sessions; None where it has neither sheet nor name."""
    from companion.log.machine_watch import Identity, MachineWatch

    name = options.name or (job.sheet.name if job.sheet else None)
    if name is None:
        if options.serial:
            raise WrongUse("--serial is of a machine: name it with --machine or --name as well.")
        return None
    serial = options.serial or (job.sheet.identification.serial if job.sheet else None)
    from companion.log.machine_folders import folders_of

    machine = MachineWatch(Identity(name, serial), folder, lambda: folders_of(name, serial))
    for other in machine.namesakes():
        print(
            f"companion: '{other}' has the serial number {serial} too; the two are kept apart. If "
            "they are one machine, start again with --name and the one name for both.",
            file=sys.stderr,
        )
    return machine


def resume(options: argparse.Namespace) -> None:
    """Take up a job where its log ends."""
    from companion.log.sessions import find_session
    from companion.log.went_on import refuse_lost

    settings = _settings()
    folder = find_session(options.session, unfinished=True)
    refuse_lost(folder)
    recognizer = None if options.typed else _live_ears(options, settings)
    open_mic = not (options.push_to_talk or settings.push_to_talk)
    ways = _own_ways(options, settings)
    session = _resumed(folder, recognizer, open_mic=open_mic, own_ways=ways)
    _tell(session.left_out)
    _live(session, settings, options)


def _resumed(
    folder: Path, recognizer: Recognizer | None, *, open_mic: bool, own_ways: WaysFile | None
) -> Session:
    from companion.live.loop import now
    from companion.log.archive import bring_back
    from companion.log.machine_folders import folders_of
    from companion.log.machine_watch import MachineWatch, identity_of
    from companion.session.session import resume_session

    def watch(state: State) -> MachineWatch | None:
        identity = identity_of(state)
        if identity is None:
            return None
        name, serial = identity.name, identity.serial
        return MachineWatch(identity, folder, lambda: folders_of(name, serial))

    # A job that is gone on with belongs on the list again.
    bring_back([folder])
    return resume_session(
        folder,
        at=now(),
        recognizer=recognizer,
        open_mic=open_mic,
        watch=watch,
        own_ways=own_ways,
    )


def _list(folder: Path, machine: str | None) -> None:
    """Let the shop's list of sessions know of one that stands elsewhere."""
    from companion.log.other_places import list_elsewhere

    try:
        list_elsewhere(folder, machine)
    except CompanionError as error:
        # The job itself goes on: it only will not be found by its name.
        print(f"companion: {error}", file=sys.stderr)


def _live(session: Session, settings: Settings, options: argparse.Namespace) -> None:
    from companion.live.board_beside import board_beside
    from companion.live.loop import run_live
    from companion.log.machine_watch import session_of_machine

    def go_on_with(name: str, before: Session) -> Session:
        return _resumed(
            session_of_machine(name, before.state, before.folder),
            before.recognizer,
            open_mic=before.open_mic,
            own_ways=before.own_ways,
        )

    wanted = options.board or settings.board
    try:
        with board_beside(session.folder) if wanted else nullcontext(()) as beside:
            session = run_live(
                session,
                settings,
                typed=options.typed,
                push_to_talk=options.push_to_talk or settings.push_to_talk,
                quiet=options.quiet,
                go_on_with=go_on_with,
                beside=beside,
            )
    finally:
        session.close()
    print(f"Session: {session.folder}")


# --- hearing and understanding -------------------------------------------------------------------
def hear(options: argparse.Namespace) -> int:
    """Recognize sound files, each as one call."""
    from companion.heard_file import hear_file

    settings = _settings()
    job = _job(options)
    grammar = job.grammar(settings, _own_ways(options, settings))
    recognizer = _recognizer(options, settings)
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


def enroll(options: argparse.Namespace) -> None:
    """Read a page of calls once, so that your own voice is heard better."""
    from companion.enroll.fit import enroll as run
    from companion.enroll.fit import report_lines
    from companion.enroll.voice_profile import remove_voice, voice_paths
    from companion.grammar.compiled import load_grammar
    from companion.live.loop import now
    from companion.recognize.held import HeldRecognizer

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
    settings = _settings()
    page = _page(options, grammar, settings)
    ears = HeldRecognizer(options.model or settings.model)
    ears.listen_for(grammar)
    print(f"{len(page)} calls are heard and fitted to; this takes a minute.", flush=True)
    for line in report_lines(run(options.name, page, ears, grammar, now())):
        print(line)


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
    from companion.log.sessions import find_session

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


def understand(options: argparse.Namespace) -> None:
    """Understand a typed call."""
    from companion.intent.interpret import understand as run
    from companion.intent.suggested import take_instead

    settings = _settings()
    job = _job(options)
    listening = job.listening(settings, call_sign_needed=False, answer_awaited=True)
    grammar = job.grammar(settings, _own_ways(options, settings))
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


def calls(options: argparse.Namespace) -> None:
    """List the calls that can be made, and keep ways of your own to say them."""
    from companion.calls import add_way, calls_as_json, calls_lines, forms_lines, remove_way
    from companion.enroll.used_forms import used_by

    settings = _settings()
    kept = _own_ways(options, settings)
    if (options.add is None) != (options.plain is None):
        raise WrongUse("--add and --as belong together: --add 'fed her' --as added")
    if options.remove is not None:
        print(remove_way(options.remove, kept))
        return
    if options.said or options.forget:
        print("\n".join(forms_lines(used_by(kept.person), forget=options.forget)))
        return
    if options.add is not None:
        kept.read()  # a damaged file is refused before anything else is said of it
    grammar = _job(options).grammar(settings, kept)
    if options.add is not None:
        print(add_way(options.add, options.plain, kept, grammar))
    elif options.json:
        print(json_text(calls_as_json(grammar), indent=2))
    else:
        print("\n".join(calls_lines(grammar)))


# --- log, handbook, grammar, checkup -------------------------------------------------------------
def log_check(options: argparse.Namespace) -> int:
    """Check a log's chain, schema and clips."""
    from companion.log.anchor import Anchor
    from companion.log.check import check_log
    from companion.log.sessions import find_session
    from companion.log.shop_key import public_hex, read_public, shop_key

    anchor = None if options.anchor is None else Anchor.read(options.anchor)
    public = None if options.key is None else read_public(options.key)
    if public is None:
        try:
            own = shop_key()
            public = None if own is None else public_hex(own)
        except CompanionError as error:
            print(f"companion: {error}", file=sys.stderr)
    checked = check_log(
        find_session(options.session), anchor=anchor, public=public, must=options.key is not None
    )
    for line in checked.lines():
        print(line)
    return 0 if checked.whole else 1


def log_show(options: argparse.Namespace) -> None:
    """Print a log as readable lines."""
    from companion.enroll.marked import marked_lines
    from companion.log.sessions import find_session
    from companion.report.log_lines import log_lines

    lines = marked_lines if options.marks else log_lines
    for line in lines(find_session(options.session)):
        print(line)


def log_schema(options: argparse.Namespace) -> None:
    """Print the JSON Schema of a log record."""
    from companion.log.schema import record_schema

    print(json.dumps(record_schema(), indent=2))


def handbook(options: argparse.Namespace) -> None:
    """Answer from the handbook; with no topic, list what it has."""
    from companion.handbook.topics import answer, contents

    if options.topic is None:
        print("\n".join(contents()))
        return
    found = answer(options.topic, options.words, ounce=_settings().ounce)
    if options.json:
        print(json_text(found.as_json()))
    else:
        print(f"{found.text}\nSource: {found.source}")
        if found.note:
            print(f"Note: {found.note}")


def grammar_check(options: argparse.Namespace) -> int:
    """Check the active grammar, or one of your own: pronunciations, ambiguities, sound-alikes."""
    from companion.grammar.check import check_grammar
    from companion.grammar.jsgf import GrammarTooLarge
    from companion.intent.same import meaning_of

    if options.file is not None:
        from companion.grammar.compiled import CallGrammar
        from companion.grammar.files import read_own_rules

        rules = read_own_rules(options.file)
        files = (options.file, *sorted(options.file.parent.glob("*.gram")))
        try:
            checked = check_grammar(CallGrammar(rules), files, meaning=meaning_of)
        except GrammarTooLarge as error:
            raise CompanionError(f"{options.file}: {error}") from None
        except RecursionError:
            raise CompanionError(
                f"{options.file}: its rules stand too deep one in another; write simpler ones."
            ) from None
    else:
        grammar = _job(options).grammar(_settings())
        checked = check_grammar(grammar, _files_of(options), meaning=meaning_of)
    for line in checked.lines:
        print(line)
    return 0 if checked.ok else 1


def cards(options: argparse.Namespace) -> None:
    """List the shipped job cards, print one of them or a file, or print their JSON Schema."""
    from companion.job.card_lines import card_lines
    from companion.job.fits import fits_words
    from companion.shelf.load import card_schema, load_card, shipped_cards

    if options.schema:
        print(json.dumps(card_schema(), indent=2))
        return
    if options.card:
        for line in card_lines(load_card(options.card)):
            print(line)
        return
    for name in shipped_cards():
        card = load_card(name)
        fitting = fits_words(card)
        print(f"{name}: {card.title}{f' (for {fitting})' if fitting else ''}")


def cautions(options: argparse.Namespace) -> None:
    """List the cautions: what is spoken, when, and its source."""
    from companion.job.caution_table import AGAIN_IN_WORDS
    from companion.shelf.rules import shipped_rules

    if options.json:
        found = [
            {
                **caution.model_dump(mode="json", exclude_defaults=True),
                "again": caution.again,
                "said": [trigger.in_words() for trigger in caution.trigger],
            }
            for caution in shipped_rules().cautions
        ]
        print(json_text(found, indent=2))
        return
    for caution in shipped_rules().cautions:
        again = "each time" if caution.stops else AGAIN_IN_WORDS[caution.again]
        print(f"{caution.name} ({again}): {caution.text}")
        for trigger in caution.trigger:
            print(f"  on {trigger.in_words()}")
        print(f"  source: {caution.source}")


def sheets(options: argparse.Namespace) -> None:
    """List the shipped spec sheets, print one as a page, or print their JSON Schema."""
    from companion.report.sheet_page import sheet_page
    from companion.shelf.load import load_sheet, sheet_schema, shipped_sheets

    if options.schema:
        print(json.dumps(sheet_schema(), indent=2))
        return
    if options.sheet is not None:
        print(sheet_page(load_sheet(options.sheet), ounce=_settings().ounce), end="")
        return
    for name in shipped_sheets():
        sheet = load_sheet(name)
        print(f"{name}: {sheet.name} ({sheet.kind}){', invented' if sheet.invented else ''}")


def checkup(options: argparse.Namespace) -> int:
    """Try microphone, speaker, recognizer, voice and disk."""
    from companion.checkup import check_all

    results = check_all(_settings())
    for result in results:
        print(f"{'works ' if result.ok else 'FAILS '} {result.part}: {result.sentence}")
    return 0 if all(result.ok for result in results) else 1


# --- what several commands need ------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class _Job:
    """The card and sheet a command was given."""

    card: JobCard | None
    sheet: SpecSheet | None

    def grammar(self, settings: Settings, own_ways: WaysFile | None = None) -> CallGrammar:
        from companion.grammar.compiled import load_grammar
        from companion.session.own_grammar import grammar_of
        from companion.shelf.rules import shipped_rules
        from companion.shelf.words import vocabulary_of

        vocabulary = vocabulary_of(self.card, self.sheet, settings.call_sign)
        if own_ways is None:
            return load_grammar(vocabulary)
        grammar, left_out = grammar_of(vocabulary, own_ways, shipped_rules().dangers)
        _tell(left_out)
        return grammar

    def listening(
        self, settings: Settings, *, call_sign_needed: bool, answer_awaited: bool
    ) -> Listening:
        from companion.intent.decision import Listening
        from companion.job.judge import expectations

        return Listening(
            call_sign_needed=call_sign_needed,
            answer_awaited=answer_awaited,
            ounce=settings.ounce,
            expectations=expectations(self.sheet, ounce=settings.ounce),
        )


def _job(options: argparse.Namespace) -> _Job:
    from companion.shelf.load import load_card, load_sheet

    return _Job(
        load_card(options.job) if options.job else None,
        load_sheet(options.machine) if options.machine else None,
    )


def _files_of(options: argparse.Namespace) -> tuple[Path, ...]:
    """The files that the words of a job come from."""
    from companion.shelf.load import card_file, sheet_file
    from companion.shipped import shipped

    return (
        *((card_file(options.job),) if options.job else ()),
        *((sheet_file(options.machine),) if options.machine else ()),
        *sorted(shipped("grammars").glob("*.gram")),
    )


def _settings() -> Settings:
    from companion.settings import load_settings

    return load_settings()


def _own_ways(options: argparse.Namespace, settings: Settings) -> WaysFile:
    """Where the ways of whoever works are kept."""
    from companion.enroll.ways_file import ways_of

    return ways_of(options.voice or settings.enrolled_voice)


def _tell(sentences: Sequence[str]) -> None:
    """Print what the work goes on without."""
    for sentence in sentences:
        print(f"companion: {sentence}", file=sys.stderr)


def _recognizer(options: argparse.Namespace, settings: Settings) -> Recognizer:
    from companion.enroll.recognizer_of import recognizer_of

    return recognizer_of(
        settings,
        name=options.recognizer,
        model=options.model,
        second=options.second,
        voice=options.voice,
    )


def _live_ears(options: argparse.Namespace, settings: Settings) -> Recognizer:
    """The recognizer, after a look for the microphone that it is to hear by."""
    from companion.live.loop import require_microphone
    from companion.live.recognizer_beside import RecognizerBeside
    from companion.live.recognizer_program import Wanted

    require_microphone(settings)
    # In a program of its own: at the bench it may hang or end, and the session goes on.
    recognizer = RecognizerBeside(
        Wanted(settings, options.recognizer, options.model, options.second, options.voice)
    )
    print(_heard_by(options, settings, recognizer), flush=True)
    return recognizer


def _heard_by(options: argparse.Namespace, settings: Settings, recognizer: Recognizer) -> str:
    """Which recognizer it is, and why that one."""
    from companion.recognize.choose import reason

    asked = options.recognizer or settings.recognizer
    return f"Heard by {recognizer.name}, {reason(asked, options.model or settings.model)}."


def _shower(settings: Settings, *, quiet: bool) -> Callable[[Any], None]:
    """Print each exchange and speak its reply where there is a speaker."""
    from companion.session.exchange_lines import print_exchange
    from companion.speak.voice import open_voice

    voice = open_voice(settings, quiet=quiet)
    if voice.trouble is not None:
        print(f"companion: {voice.trouble} Replies are printed.", file=sys.stderr)

    def show(exchange: Any) -> None:
        print_exchange(exchange)
        if exchange.reply is not None:
            voice.say(exchange.reply)

    return show


# --- the words of the command line ---------------------------------------------------------------
def command_parser() -> argparse.ArgumentParser:
    """Return what reads the command line, with every command."""
    parser = argparse.ArgumentParser(
        prog="companion",
        description="Listens at the bench, records what is called out, reads it back. Offline.",
    )
    parser.add_argument("--version", action="version", version=f"companion {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def add(
        name: str,
        command: Command,
        example: str,
        within: Any = commands,
    ) -> argparse.ArgumentParser:
        return add_command(within, name, command, example)

    made = add("demo", demo, "companion demo --out first-session")
    made.add_argument(
        "name",
        nargs="?",
        default="generator-load-check",
        metavar="NAME",
        help="generator-load-check (the default) or mower-autumn-service",
    )
    made.add_argument("--out", type=Path, metavar="DIR", help="session folder to make")
    ear_options(made)
    voice_options(made)

    made = add("work", work, "companion work --job four-stroke-service --machine quillmoor-tiller")
    job_options(made)
    made.add_argument(
        "--name",
        type=whole,
        metavar="NAME",
        help="what this very machine is called, if not as its sheet",
    )
    made.add_argument(
        "--serial",
        type=whole,
        metavar="NUMBER",
        help="its serial number: two machines of one model are two",
    )
    order_options(made)
    made.add_argument(
        "--typed", action="store_true", help="read calls from standard input, a line each"
    )
    made.add_argument(
        "--push-to-talk", action="store_true", help="listen after the Enter key or a pedal"
    )
    made.add_argument("--out", type=Path, metavar="DIR", help="session folder to make")
    board_option(made)
    ear_options(made)
    voice_options(made)

    made = add("resume", resume, "companion resume")
    made.add_argument(
        "session", nargs="?", metavar="SESSION", help="name or folder; else the last one open"
    )
    made.add_argument(
        "--typed", action="store_true", help="read calls from standard input, a line each"
    )
    made.add_argument(
        "--push-to-talk", action="store_true", help="listen after the Enter key or a pedal"
    )
    board_option(made)
    ear_options(made)
    voice_options(made)

    made = add(
        "replay", replay, "companion replay demo_sessions/generator-load-check --out replayed"
    )
    made.add_argument(
        "folder", type=Path, metavar="FOLDER", help="holds session.toml and its recordings"
    )
    made.add_argument("--out", type=Path, metavar="DIR", help="session folder to make")
    ear_options(made)
    voice_options(made)

    for family in (sessions, history, report, photo, review, board, transfer, key):
        family.add_to(commands)

    made = add("hear", hear, "companion hear call.wav --json")
    made.add_argument(
        "files", nargs="+", type=Path, metavar="FILE", help="sound files, one call each"
    )
    job_options(made)
    ear_options(made)
    made.add_argument(
        "--open-mic", action="store_true", help="a call must begin with the call sign"
    )
    made.add_argument("--json", action="store_true", help="print a JSON line a file")
    made = add("enroll", enroll, "companion enroll Rosa")
    made.add_argument("name", metavar="NAME", help="whose voice it is")
    way = made.add_mutually_exclusive_group()
    way.add_argument("--short", action="store_true", help="read only the first twelve calls")
    way.add_argument(
        "--clips",
        type=Path,
        metavar="FOLDER",
        help="recordings in place of the microphone; calls.toml in it says what was said",
    )
    way.add_argument(
        "--from",
        dest="session",
        metavar="SESSION",
        help="the calls of a session that were marked right or corrected in its review",
    )
    way.add_argument(
        "--again", action="store_true", help="fit anew from the clips of an enrolled voice"
    )
    way.add_argument("--remove", action="store_true", help="remove the voice and its clips")
    made.add_argument("--model", type=Path, metavar="DIR", help="folder of the recognizer's model")
    made = add("understand", understand, "companion understand 'gap thirty thou' --json")
    made.add_argument("text", nargs="+", metavar="TEXT", help="a call, in words or digits")
    job_options(made)
    made.add_argument("--voice", metavar="NAME", help="an enrolled voice, whose own ways are taken")
    made.add_argument("--json", action="store_true", help="print the intent as JSON")

    made = add("calls", calls, "companion calls --add 'fed her' --as added")
    job_options(made)
    made.add_argument("--voice", metavar="NAME", help="an enrolled voice, whose own ways they are")
    change = made.add_mutually_exclusive_group()
    change.add_argument("--add", metavar="WORDS", help="a way of your own; --as says of what")
    change.add_argument("--remove", metavar="WORDS", help="a way of your own to forget")
    change.add_argument(
        "--said", action="store_true", help="list the forms that you have used, and how often"
    )
    change.add_argument("--forget", action="store_true", help="erase those counts")
    change.add_argument("--json", action="store_true", help="print them as JSON")
    made.add_argument(
        "--as", dest="plain", metavar="PHRASE", help="the phrase of the calls that it stands for"
    )

    log = commands.add_parser("log", help="Check, show or describe a log.").add_subparsers(
        required=True, metavar="WHAT"
    )
    made = add("check", log_check, "companion log check first-session", log)
    session_argument(made)
    made.add_argument(
        "--anchor",
        metavar="ANCHOR",
        help="what stood at some time, as a report or an owner's sheet has it: was any of it "
        "changed since?",
    )
    made.add_argument(
        "--key",
        metavar="PUBLIC",
        help="public key by which the log must be signed; else the shop's own, if it has one",
    )
    made = add("show", log_show, "companion log show first-session", log)
    session_argument(made)
    made.add_argument(
        "--marks", action="store_true", help="only the clips of which it is known what was said"
    )
    add("schema", log_schema, "companion log schema", log)

    made = add("handbook", handbook, "companion handbook torque 3/8 'grade 5'")
    made.add_argument(
        "topic", nargs="?", metavar="TOPIC", help="torque, drill, oil …; none lists them"
    )
    made.add_argument("words", nargs="*", metavar="WORD", help="what to look up")
    made.add_argument("--json", action="store_true", help="print the answer as JSON")

    grammar = commands.add_parser("grammar", help="Check the active grammar.").add_subparsers(
        required=True, metavar="WHAT"
    )
    made = add("check", grammar_check, "companion grammar check --job four-stroke-service", grammar)
    made.add_argument(
        "file", nargs="?", type=Path, metavar="FILE", help="a grammar of your own, in JSGF"
    )
    job_options(made)

    made = add("cards", cards, "companion cards four-stroke-service")
    made.add_argument(
        "card", nargs="?", metavar="CARD", help="a shipped card's name or a TOML file"
    )
    made.add_argument("--schema", action="store_true", help="print the JSON Schema of a job card")
    made = add("sheets", sheets, "companion sheets quillmoor-tiller")
    made.add_argument(
        "sheet", nargs="?", metavar="SPEC", help="print this one: a shipped name or a TOML file"
    )
    made.add_argument("--schema", action="store_true", help="print the JSON Schema of a spec sheet")
    made = add("cautions", cautions, "companion cautions")
    made.add_argument("--json", action="store_true", help="print them as JSON")
    add("checkup", checkup, "companion checkup")
    return parser


__all__ = ["WrongUse", "main"]

if __name__ == "__main__":
    sys.exit(main())
