"""Sessions at the bench, one after the other, with the devices of this machine."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager

from companion.audio.calibration import Calibrating
from companion.audio.devices import MicrophoneUnavailable, find_device
from companion.audio.echo import EchoRemover, EchoUnavailable, can_cancel
from companion.audio.endpointing import Segmentation, Segmenter
from companion.audio.microphone import Microphone
from companion.audio.own_sound import OwnSound
from companion.errors import CompanionError
from companion.handbook.units import load_registry
from companion.live.at_terminal import at_terminal
from companion.live.ears import Ears
from companion.live.last_resort import (
    Failures,
    ends_session,
)
from companion.live.loop import LiveLoop, now
from companion.live.recognizer_beside import RecognizerBeside
from companion.live.talked_over import TalkedOver
from companion.live.voice_beside import VoiceBeside, bench_voice
from companion.live.watchdog import Watched
from companion.log.live_status import LiveSign
from companion.session.exchange_lines import print_exchange
from companion.session.other_timers import OtherTimers
from companion.session.session import Session
from companion.settings import Settings


@contextmanager
def showing_life(loop: LiveLoop) -> Iterator[None]:
    """Let other programs know meanwhile that the loop's session is worked on, and whether it
    listens."""
    loop.sign = LiveSign(loop.session.folder)
    try:
        yield
    finally:
        # Not the first folder, where the session went on in another one.
        if loop.sign is not None:
            loop.sign.close()


def run_live(
    session: Session,
    settings: Settings,
    *,
    typed: bool,
    push_to_talk: bool,
    quiet: bool,
    go_on_with: Callable[[str, Session], Session],
    beside: Sequence[Watched] = (),
) -> Session:
    """Run a session at the bench, with the devices of this machine.

    Args:
        session: Just opened or resumed.
        settings: Of the shop.
        typed: Calls come from standard input, a line each, instead of the microphone.
        push_to_talk: Listen for one call after each press of Enter.
        quiet: Print the replies without speaking them.
        go_on_with: Takes up another job of the machine, by the name of its session, where that was
            asked for, with the recognizer of this one.
        beside: What else is to be looked after: the board on the wall.

    Returns:
        The session that was worked on last; it and those before it are left open.

    Raises:
        MicrophoneUnavailable: If there is no microphone; says how to go on without.
    """
    # Pint takes a third of a second to load: not while somebody waits for the first readback.
    threading.Thread(target=load_registry, name="units", daemon=True).start()
    # A silent companion is not heard by its microphone.
    own = None if typed or quiet or not can_cancel() else OwnSound()
    voice = bench_voice(settings, quiet=quiet, own=own)
    if voice.trouble is not None:
        print(f"companion: {voice.trouble} Replies are printed.", file=sys.stderr)
    session.watch_other_timers(OtherTimers(session.folder))
    loop = LiveLoop(session, voice, print_exchange)
    may_fail = (voice, session.recognizer, *beside)
    loop.watched = [each for each in may_fail if isinstance(each, Watched)]

    def run() -> Session:
        with showing_life(loop):
            loop.run()
        while loop.session.state.go_on_with is not None:
            before = loop.session
            loop.session = _gone_on(go_on_with, before)
            before.close()
            loop.session.watch_other_timers(OtherTimers(loop.session.folder))
            with showing_life(loop):
                loop.run()
        return loop.session

    if typed:
        with _ending(voice), at_terminal(loop, typed=True, push_to_talk=False):
            return run()
    with Microphone(settings.microphone, own) as microphone, ExitStack() as stack:
        stack.enter_context(_ending(voice, session.recognizer))
        segmenter = Segmenter(Segmentation(end_pause=settings.end_pause), interims=True)
        loop.ears = Ears(
            microphone,
            loop.happenings,
            segmenter=segmenter,
            push_to_talk=push_to_talk,
            talked_over=None if own is None else _talked_over(own, microphone),
            calibrating=Calibrating(),
        )
        loop.ears.start()
        loop.watched.append(loop.ears)
        stack.callback(loop.ears.stop)
        if push_to_talk:
            print("Press Enter or the pedal, then speak. Ctrl-C ends.", flush=True)
        stack.enter_context(at_terminal(loop, typed=False, push_to_talk=push_to_talk))
        return run()


def _talked_over(own: OwnSound, microphone: Microphone) -> TalkedOver | None:
    """Listening while the companion speaks; None where the canceller does not load, which checkup
    tells."""
    try:
        return TalkedOver(own, EchoRemover(own), lambda: microphone.captured_at)
    except EchoUnavailable:
        return None


@contextmanager
def _ending(*beside: object) -> Iterator[None]:
    """End the programs beside the session with it: one that hangs would not end by itself."""
    try:
        yield
    finally:
        for each in beside:
            if isinstance(each, VoiceBeside | RecognizerBeside):
                each.close()


def _gone_on(go_on_with: Callable[[str, Session], Session], before: Session) -> Session:
    """The other job that was asked for; this one is parked by now.

    Raises:
        CompanionError: If it cannot be opened, whatever the reason.
    """
    name = before.state.go_on_with or ""
    try:
        return go_on_with(name, before)
    except Exception as error:
        if ends_session(error):
            raise
        Failures(before.folder).write(error, "opening another job", now())
        raise CompanionError(
            f"The other job could not be opened ({type(error).__name__}). Everything recorded is "
            "safe; go on with 'companion resume'."
        ) from error


def require_microphone(settings: Settings) -> None:
    """Look for the microphone before a session is opened for it.

    Raises:
        MicrophoneUnavailable: If there is none; says how to go on without.
    """
    try:
        find_device("input", settings.microphone)
    except MicrophoneUnavailable as error:
        raise MicrophoneUnavailable(f"{error} To work without one, add --typed.") from error
