"""What several commands make of what they were given: the job, who works, what hears and speaks."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from companion.commands.progress import waiting
from companion.errors import CompanionError
from companion.plain_print import shortened

if TYPE_CHECKING:
    from companion.enroll.ways_file import WaysFile
    from companion.grammar.compiled import CallGrammar
    from companion.intent.decision import Listening
    from companion.job.card import JobCard
    from companion.job.sheet import SpecSheet
    from companion.recognize.protocol import Recognizer
    from companion.settings import Settings

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Job:
    """The card and sheet a command was given."""

    card: JobCard | None
    sheet: SpecSheet | None

    def grammar(self, settings: Settings, own_ways: WaysFile | None = None) -> CallGrammar:
        """Return the grammar of the job, with the ways of whoever works where they are given."""
        from companion.grammar.compiled import load_grammar
        from companion.session.own_grammar import grammar_of
        from companion.shelf.rules import shipped_rules
        from companion.shelf.words import vocabulary_of

        vocabulary = vocabulary_of(self.card, self.sheet, settings.call_sign)
        if own_ways is None:
            return load_grammar(vocabulary)
        grammar, left_out = grammar_of(vocabulary, own_ways, shipped_rules().dangers)
        tell(left_out)
        return grammar

    def listening(
        self, settings: Settings, *, call_sign_needed: bool, answer_awaited: bool
    ) -> Listening:
        """Return what is known of the job when a call is understood.

        Args:
            settings: What the shop has set: its ounce.
            call_sign_needed: Whether a call counts only with the call sign before it.
            answer_awaited: Whether "affirm" and "negative" have a question to answer.
        """
        from companion.intent.decision import Listening
        from companion.job.judge import expectations

        return Listening(
            call_sign_needed=call_sign_needed,
            answer_awaited=answer_awaited,
            ounce=settings.ounce,
            expectations=expectations(self.sheet, ounce=settings.ounce),
        )


def job_given(options: argparse.Namespace) -> Job:
    """The card and the sheet that --job and --machine name, read."""
    from companion.shelf.load import load_card, load_sheet
    from companion.shelf.own import card_named, own_taken, sheet_named

    tell(own_taken(card=options.job, sheet=options.machine))
    return Job(
        load_card(card_named(options.job)) if options.job else None,
        load_sheet(sheet_named(options.machine)) if options.machine else None,
    )


def files_of(options: argparse.Namespace) -> tuple[Path, ...]:
    """The files that the words of a job come from."""
    from companion.shelf.load import card_file, sheet_file
    from companion.shelf.own import card_named, sheet_named
    from companion.shipped import shipped

    return (
        *((card_file(card_named(options.job)),) if options.job else ()),
        *((sheet_file(sheet_named(options.machine)),) if options.machine else ()),
        *sorted(shipped("grammars").glob("*.gram")),
    )


def own_ways_of(options: argparse.Namespace, settings: Settings) -> WaysFile:
    """Where the ways of whoever works are kept."""
    from companion.enroll.ways_file import ways_of

    return ways_of(options.voice or settings.enrolled_voice)


def one_by_one(things: Iterable[Thing], do: Callable[[Thing], int | None]) -> int:
    """Do the same with several things: one that fails costs none of the others.

    Args:
        things: As they were named, in that order.
        do: Returns the exit status, None for 0.

    Returns:
        The highest exit status of all; what went wrong is on standard error, a line each.
    """
    status = 0
    for thing in things:
        try:
            status = max(status, do(thing) or 0)
        except CompanionError as error:
            tell([shortened(str(error))])
            status = max(status, error.exit_status)
    return status


def tell(sentences: Sequence[str]) -> None:
    """Print what is missing, though the work goes on, on standard error."""
    for sentence in sentences:
        print(f"companion: {sentence}", file=sys.stderr)


def recognizer_given(options: argparse.Namespace, settings: Settings) -> Recognizer:
    """The recognizer that the options name, else that of the settings."""
    from companion.enroll.recognizer_of import recognizer_of

    with waiting("loading the recognizer"):
        return recognizer_of(
            settings,
            name=options.recognizer,
            model=options.model,
            second=options.second,
            voice=options.voice,
        )


def live_ears(
    options: argparse.Namespace, settings: Settings, meanwhile: Callable[[], Thing]
) -> tuple[Recognizer, Thing]:
    """The recognizer, after a look for the microphone that it is to hear by.

    It loads in a program beside this one, so that it is begun first. What is wrong otherwise is
    told first all the same: what ``meanwhile`` finds, then the microphone, and the recognizer last.

    Args:
        options: What was typed.
        settings: Of the shop.
        meanwhile: Done while it is loaded.

    Returns:
        The recognizer, and what came of ``meanwhile``.
    """
    from concurrent.futures import ThreadPoolExecutor

    from companion.live.recognizer_beside import RecognizerBeside
    from companion.live.recognizer_program import Wanted
    from companion.live.run import require_microphone

    done: list[Thing] = []

    def the_rest() -> None:
        with ThreadPoolExecutor(1) as beside:
            microphone = beside.submit(require_microphone, settings)
            done.append(meanwhile())
            microphone.result()

    # In a program of its own: at the bench it may hang or end, and the session goes on.
    recognizer = RecognizerBeside(
        Wanted(settings, options.recognizer, options.model, options.second, options.voice),
        meanwhile=the_rest,
    )
    print(heard_by(options, settings, recognizer), flush=True)
    return recognizer, done[0]


def heard_by(options: argparse.Namespace, settings: Settings, recognizer: Recognizer) -> str:
    """Which recognizer it is, and why that one.

    Args:
        options: What was typed: a recognizer and a model, or neither.
        settings: What the shop has set of both.
        recognizer: The one in use.
    """
    from companion.recognize.choose import reason

    asked = options.recognizer or settings.recognizer
    return f"Heard by {recognizer.name}, {reason(asked, options.model or settings.model)}."


def shower(settings: Settings, *, quiet: bool) -> Callable[[Any], None]:
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


def list_session(folder: Path, machine: str | None) -> None:
    """Let the shop's list of sessions know of one that stands elsewhere."""
    from companion.log.other_places import list_other_place

    try:
        list_other_place(folder, machine)
    except CompanionError as error:
        # The job itself goes on; only it will not be found by its name.
        print(f"companion: {error}", file=sys.stderr)
