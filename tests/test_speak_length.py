"""No spoken answer takes longer than eight seconds, unless a list was asked for.

Every shipped card is walked by typed calls with a sheet that fits it, and the calls of the
demonstration sessions are typed at their times. Every piece of every answer is measured with the
real voice; those that are plainly short are only estimated.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

from companion.job import steps
from companion.job.asking import window_of
from companion.job.card import CardStep
from companion.job.judge import spec_of
from companion.replay import SESSION_FILE, load_replay, open_replay
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet, shipped_cards
from companion.speak.numbers import amount_words
from companion.speak.pieces import seconds_to_say
from companion.speak.speech import SpeechEngine

LONGEST = 8.0
"""Seconds that an answer may take."""
LONGEST_ASKED = 11.0
"""Seconds that a question may take with the grounds on which it is asked."""
PLAINLY_SHORT = 6.6
"""Estimated seconds below which a text is not rendered: the estimate was never 1 s too short."""
OFFENDERS = 12
"""How many are shown."""

LISTS = (
    "clear to start",
    "read tags",
    "read back",
    "what is left",
    "time left",
    # It repeats a list where one was asked for last.
    "say again",
)
"""Calls that ask for a list, or begin so."""

WALKS = {
    "blade-service": "tarnfield-mower",
    "chipper-service": "oddlestone-chipper",
    "drive-service": "quillmoor-tiller",
    "four-stroke-service": "tarnfield-mower",
    "generator-load-check": "brackwater-generator",
    "no-start-diagnosis": "quillmoor-tiller",
    "pressure-washer-service": "saltmere-washer",
    "season-lay-up": "quillmoor-tiller",
    "two-stroke-service": "wrenlow-trimmer",
}
"""A sheet that fits each card."""

AT_STEP = {
    "take-in": ("engine hours one hundred twelve", "spark plug fouled", "read tags"),
    "warm-up": ("engine running", "time left", "engine stopped"),
    "first-start": ("clear to start", "affirm"),
    "treat-fuel": ("added ten ounces of fuel",),
    "fuel-out": ("drained ten ounces of fuel",),
    "fuel-in": ("added ten ounces of fuel",),
    "drain-pump": ("drained four ounces of pump oil", "how much more pump oil"),
    "fill-pump": ("added four ounces of pump oil", "pump oil level full"),
    "hose-off": ("hose swollen", "removed hose", "read tags"),
    "knives": ("knives cracked", "knife dull"),
    "soak-pins": ("soaked shear pin", "shear pin seized", "time left"),
    "make-safe": ("clear to start", "tag guard off", "what is left", "clear tag guard off"),
    "drain-oil": ("drained fifteen ounces of oil", "how much more oil", "oil grade"),
    "fill-oil": ("added fifteen ounces of oil", "how much more", "added two more ounces of oil"),
    "oil-level": ("oil level full", "say step"),
    "oil-and-fuel": ("oil level full", "fuel level full"),
    "drain-gearbox": ("drained ten ounces of gear oil",),
    "fill-gearbox": ("added ten ounces of gear oil", "gear oil level full"),
    "drain-fuel": ("drained ten ounces of fuel",),
    "fresh-fuel": ("drained ten ounces of fuel", "added ten ounces of fuel"),
    "fresh-mix": ("added ten ounces of fuel", "mix fifty to one for two gallons"),
    "shear-pins": ("shear pin broken", "replaced shear pin", "need two shear pins"),
    "spark-plug": ("spark plug fouled", "spec for gap", "removed spark plug"),
    "plug-out": ("spark plug wet", "spec for gap"),
    "belts-off": ("removed drive belt", "removed belt guard", "read tags"),
    "belts-on": ("installed drive belt", "installed belt guard"),
    "blade-off": ("removed blade",),
    "blade-on": ("installed blade", "torque for three eighths grade five"),
    "look-at-blade": ("blade bent", "blade dull"),
    "battery-out": ("removed battery",),
    "battery": ("battery corroded",),
    "recoil": ("recoil rope frayed",),
    "carburetor": ("removed carburetor", "cleaned carburetor", "carburetor leaking"),
    "start-check": ("clear to start", "affirm", "engine running"),
    "after-run": ("engine stopped", "muffler loose"),
    "level-again": ("engine stopped", "oil level full"),
    "hand-over": ("engine stopped", "follow up carburetor", "read back work", "close job"),
}
"""What is called besides the readings a step expects, by its name."""

NINE = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
MOST_CALLS = 400


@dataclass(frozen=True)
class Spoken:
    """One piece of an answer.

    Attributes:
        where: Card, step and call that brought it.
        text: All of the piece.
        asked: Whether it asks a question.
    """

    where: str
    text: str
    asked: bool

    @property
    def limit(self) -> float:
        return LONGEST_ASKED if self.asked else LONGEST


class Walk:
    """A session at which calls are typed; keeps what is spoken but for the lists asked for."""

    def __init__(self, session: Session, at: datetime, where: str) -> None:
        self.session, self.at, self.where = session, at, where
        self.spoken: list[Spoken] = []
        self._keep(session.open(at), "open")
        self._tick("open")

    def call(self, text: str) -> None:
        """Type a call, once everything that is due was said."""
        self._tick("the clock")
        exchange = self.session.typed(text, self.at)
        assert exchange.heard is not None
        assert exchange.heard.outcome in ("record", "ask"), f"{self.where}: “{text}” is no call"
        self._keep(exchange, text)
        self._tick(text)

    def until(self, at: datetime) -> None:
        """Let time pass, with all that rings in it."""
        while (due := self.session.next_deadline()) is not None and due <= at:
            self.at = max(self.at, due)
            exchange = self.session.tick(self.at)
            if exchange is None:
                break
            self._keep(exchange, "the clock")
        self.at = max(self.at, at)

    def _tick(self, call: str) -> None:
        while (exchange := self.session.tick(self.at)) is not None:
            self._keep(exchange, call)

    def _keep(self, exchange: Exchange, call: str) -> None:
        reply = exchange.reply
        if reply is None or call.removeprefix("bench ").startswith(LISTS):
            return
        asked = self.session.state.question is not None and reply.text.endswith("?")
        where = f"{self.where}, {self.session.state.step}, “{call}”"
        self.spoken.append(Spoken(where, reply.text, asked))


@cache
def voice() -> SpeechEngine:
    return SpeechEngine()


@cache
def seconds(text: str) -> float:
    """How long a text takes to say: measured where that may matter."""
    estimated = seconds_to_say(text)
    if estimated < PLAINLY_SHORT:
        return estimated
    return len(voice().render(text)) / 16_000


def too_long(spoken: list[Spoken]) -> str:
    """Say what takes too long, the worst first; nothing where nothing does."""
    worst = {each.text: each for each in spoken if seconds(each.text) > each.limit}
    ranked = sorted(worst.values(), key=lambda each: seconds(each.text) - each.limit, reverse=True)
    return "\n".join(
        f"{seconds(each.text):.1f} s: {each.where}: {each.text}" for each in ranked[:OFFENDERS]
    )


def readings(session: Session, step: CardStep) -> Iterator[str]:
    """Call what a step wants measured: a value from within the window."""
    for measure in step.expects:
        window = window_of(spec_of(session.state.sheet, measure)) or steps.window_on_card(
            session.state, measure
        )
        if window is not None and (window.low or window.high):
            value = window.low or window.high or Decimal(1)
            yield f"{measure} {amount_words(value, window.unit)}"


def walked(folder: Path, name: str, answer: str) -> Walk:
    """Walk a card to its end; its own questions are answered alike."""
    card, sheet = load_card(name), load_sheet(WALKS[name])
    walk = Walk(open_session(folder / name, at=NINE, card=card, sheet=sheet), NINE, name)
    seen: set[str] = set()
    for _ in range(MOST_CALLS):
        state = walk.session.state
        if state.question is not None:
            mine = state.question.event.about in ("step-question", "applies")
            walk.call(answer if mine else "affirm")
            continue
        current = steps.current(state)
        if current is None or state.closed:
            break
        if current.name not in seen:
            seen.add(current.name)
            for call in (*readings(walk.session, current), *AT_STEP.get(current.name, ())):
                walk.call(call)
            walk.call("roger")
            continue
        if current.name == card.step[-1].name:
            break
        walk.call("step done")
        walk.until(walk.at + timedelta(minutes=7))
    assert walk.session.state.step == card.step[-1].name, walk.session.state.step
    walk.session.close()
    return walk


def test_every_card_is_walked() -> None:
    assert sorted(WALKS) == sorted(shipped_cards())


@pytest.mark.parametrize("answer", ["affirm", "negative"])
@pytest.mark.parametrize("name", sorted(WALKS))
def test_nothing_that_a_card_brings_takes_longer_than_eight_seconds(
    memory_path: Path, name: str, answer: str
) -> None:
    walk = walked(memory_path, name, answer)
    assert len(walk.spoken) > 10
    assert not too_long(walk.spoken), f"\n{too_long(walk.spoken)}"


DEMONSTRATIONS = sorted(
    path.parent for path in Path(__file__).parent.parent.glob(f"demo_sessions/*/{SESSION_FILE}")
)


@pytest.mark.parametrize("folder", DEMONSTRATIONS, ids=[each.name for each in DEMONSTRATIONS])
def test_nothing_in_a_demonstration_takes_longer_than_eight_seconds(
    memory_path: Path, folder: Path
) -> None:
    plan = load_replay(folder)
    before = [] if plan.before is None else [replayed(folder / plan.before, memory_path / "before")]
    earlier = [each.session.folder for each in before]
    walks = [*before, replayed(folder, memory_path / "job", earlier)]
    for walk in walks:
        assert not too_long(walk.spoken), f"\n{too_long(walk.spoken)}"


def replayed(folder: Path, out: Path, earlier: Sequence[Path] = ()) -> Walk:
    """Type the calls of a script at their times."""
    plan = load_replay(folder)
    script = tomllib.loads((folder / "script.toml").read_text(encoding="utf-8"))
    session = open_replay(plan, folder, out, None, earlier)
    walk = Walk(session, plan.recording[0].at, folder.name)
    for recording, written in zip(plan.recording, script["recording"], strict=True):
        assert recording.file == written["file"]
        walk.until(recording.at)
        for line in written["line"]:
            walk.until(walk.at + timedelta(seconds=3))
            if "call" in line or "note" in line:
                walk.call(line.get("call") or line["note"])
            walk.until(walk.at + timedelta(seconds=line.get("pause", 2.4)))
    session.close()
    assert session.state.closed
    return walk
