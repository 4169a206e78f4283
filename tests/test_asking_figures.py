"""Questions about a figure alone: how they are put, and what answers them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from companion.audio.utterance import Utterance
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.numbers_alone import WithNumbersAlone
from companion.intent.decision import ANOTHER_NUMBER, Listening, decide_utterance
from companion.intent.interpret import understand
from companion.job import events as ev
from companion.job.questions import HOLDS
from companion.log.check import check_log
from companion.log.line import FORMAT_VERSION, decode, encode
from companion.log.reader import read_log
from companion.recognize.held import HeldRecognizer
from companion.recognize.protocol import Hypothesis, Recognition
from companion.session.exchange import Exchange
from companion.session.listening import AGAIN_WITHIN
from companion.session.opening import open_session, resume_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet
from tests.bench_job import AFFIRM, NEGATIVE, Job, correction, reading
from tests.logs import tone
from tests.noises import NOISES
from tests.sounds import Samples, mix, speak, with_pauses

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
GRAMMAR = load_grammar()
SIXTEEN, SIXTY = reading("gap", "16", "thou"), reading("gap", "60", "thou")

Heard = tuple[tuple[str, float], ...]
CLOSE: Heard = (("torque sixteen foot pounds", 0.55), ("torque sixty foot pounds", 0.45))
MOSTLY: Heard = (("torque sixteen foot pounds", 0.93), ("torque sixty foot pounds", 0.07))


class Told:
    """A recognizer that hears what it is told, and keeps how it was asked."""

    name = "told"

    def __init__(self) -> None:
        self.hypotheses: Heard = ()
        self.numbers_alone: list[bool] = []

    def listen_for(self, grammar: CallGrammar) -> None:
        """Every word will do."""

    def recognize(
        self, samples: Samples, *, call_sign_needed: bool = False, number_alone: bool = False
    ) -> Recognition:
        self.numbers_alone.append(number_alone)
        ranked = (
            Hypothesis(text, -float(at), sure) for at, (text, sure) in enumerate(self.hypotheses)
        )
        return Recognition("told", tuple(ranked), 1.0, None, 0.0)

    def transcribe(self, samples: Samples) -> str | None:
        return None


class Bench:
    """A session, and what is heard in it."""

    def __init__(self, folder: Path, *, open_mic: bool = False) -> None:
        self.ears = Told()
        self.session: Session = open_session(
            folder,
            at=AT,
            card=load_card("four-stroke-service"),
            sheet=load_sheet("quillmoor-tiller"),
            recognizer=self.ears,
            open_mic=open_mic,
        )
        self.now = AT

    def hear(self, *hypotheses: tuple[str, float], after: float = 5.0) -> Exchange:
        """Hear one utterance, so many seconds after the last."""
        self.now += timedelta(seconds=after)
        self.ears.hypotheses = hypotheses
        return self.session.hear(Utterance(tone(), 0.0, 0.4), self.now)

    def said(self, exchange: Exchange) -> str:
        assert exchange.reply is not None
        return exchange.reply.text

    @property
    def torques(self) -> list[Decimal]:
        facts = self.session.state.readings
        return [fact.event.value for fact in facts if fact.event.measure == "torque"]


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "job")


# --- how it is asked ---
def test_where_one_figure_is_likelier_only_that_is_asked_about(bench: Bench) -> None:
    assert bench.said(bench.hear(*MOSTLY)) == "Sixteen, one six?"
    assert bench.torques == []
    assert bench.said(bench.hear(("yes", 1.0))).startswith("Torque, sixteen, one six, foot pounds.")
    assert bench.torques == [Decimal(16)]


def test_where_two_are_about_as_likely_both_are_named(bench: Bench) -> None:
    assert bench.said(bench.hear(*CLOSE)) == "Sixteen or sixty?"


def test_a_figure_that_sounds_like_no_other_is_said_once(bench: Bench) -> None:
    unsure = (("torque thirty one foot pounds", 0.9), ("torque thirty nine foot pounds", 0.1))
    assert bench.said(bench.hear(*unsure)) == "Thirty one?"


def test_parts_of_an_inch_are_asked_about_as_they_are_called(bench: Bench) -> None:
    unsure = (("play one eighth inch", 0.8), ("play one quarter inch", 0.2))
    assert bench.said(bench.hear(*unsure)) == "One eighth?"


@pytest.mark.parametrize(
    "hypotheses",
    [
        (("torque sixteen foot pounds", 0.6), ("torque sixteen inch pounds", 0.4)),
        (("torque sixteen foot pounds", 0.6), ("compression sixteen p s i", 0.4)),
        (("torque sixteen foot pounds", 0.8),),
        (("start timer fifteen minutes", 0.6), ("start timer fifty minutes", 0.4)),
    ],
    ids=["the unit", "what is measured", "who knows what else", "a timer"],
)
def test_where_anything_else_is_in_doubt_the_whole_call_is_asked_about(
    bench: Bench, hypotheses: Heard
) -> None:
    assert "Confirm: " in bench.said(bench.hear(*hypotheses))


def test_a_value_far_from_the_spec_is_asked_about_with_the_reason(bench: Bench) -> None:
    said = bench.said(bench.hear(("gap three hundred thou", 1.0)))
    assert said == (
        "That is ten times the usual: three hundred or thirty thou? "
        "Confirm: gap, three hundred thou?"
    )


# --- what answers ---
def test_the_number_alone_is_enough(bench: Bench) -> None:
    bench.hear(*CLOSE)
    assert bench.said(bench.hear(("sixty", 0.99))).startswith("Torque, sixty, six zero, foot pound")
    assert bench.torques == [Decimal(60)]
    assert bench.ears.numbers_alone == [False, True]


@pytest.mark.parametrize(
    "answer", ["sixteen", "sixteen foot pounds", "one six", "torque sixteen foot pounds"]
)
def test_so_is_it_with_its_unit_or_in_digits_or_the_whole_call(bench: Bench, answer: str) -> None:
    bench.hear(*MOSTLY)
    bench.hear((answer, 0.99))
    assert bench.torques == [Decimal(16)]


def test_no_has_the_other_one_asked_about(bench: Bench) -> None:
    bench.hear(*MOSTLY)
    assert bench.said(bench.hear(("no", 1.0))) == "Sixty, six zero?"
    bench.hear(("yes", 1.0))
    assert bench.torques == [Decimal(60)]


def test_yes_to_two_says_nothing_of_which_and_no_leaves_neither(bench: Bench) -> None:
    bench.hear(*CLOSE)
    assert bench.said(bench.hear(("yes", 1.0))) == "Sixteen, one six?"
    assert bench.torques == []
    bench.hear(("yes", 1.0))
    assert bench.torques == [Decimal(16)]
    bench.hear(*CLOSE)
    assert bench.said(bench.hear(("no", 1.0))) == "Say it again."
    assert bench.torques == [Decimal(16)]


def test_another_number_alone_is_asked_about_in_its_turn(bench: Bench) -> None:
    bench.hear(*MOSTLY)
    exchange = bench.hear(("fourteen", 0.995))
    assert bench.said(exchange) == "Fourteen, one four?"
    assert exchange.heard is not None
    assert ANOTHER_NUMBER in exchange.heard.reasons
    assert bench.torques == []
    bench.hear(("yes", 1.0))
    assert bench.torques == [Decimal(14)]


def test_a_question_that_is_never_answered_records_nothing(bench: Bench) -> None:
    bench.hear(*CLOSE)
    bench.session.typed("gap thirty thou", bench.now)
    assert bench.torques == []
    bench.hear(*CLOSE)
    bench.session.close()
    session = resume_session(bench.session.folder, at=bench.now)
    session.typed("yes", bench.now)
    session.typed("sixteen", bench.now)
    session.close()
    assert not [f for f in session.state.readings if f.event.measure == "torque"]


def test_a_number_alone_means_nothing_where_none_is_asked_about(bench: Bench) -> None:
    bench.hear(("sixteen", 1.0))
    assert bench.ears.numbers_alone == [False]
    bench.hear(*CLOSE)
    bench.hear(("sixteen", 1.0), after=HOLDS.total_seconds() + 1)
    bench.hear(("oil level full", 0.7), ("oil level low", 0.3))
    bench.hear(("sixteen", 1.0))
    assert bench.torques == []


@pytest.mark.parametrize(
    ("answer", "recorded"),
    [
        # Nobody says "sixteen" by the way while sixteen is asked about; any other number is on
        # the radio.
        (("sixteen", 0.999), [Decimal(16)]),
        (("eleven", 0.999), []),
        (("bench sixteen", 0.999), [Decimal(16)]),
    ],
)
def test_in_open_mic_only_the_numbers_asked_about_need_no_call_sign(
    tmp_path: Path, answer: tuple[str, float], recorded: list[Decimal]
) -> None:
    bench = Bench(tmp_path / "job", open_mic=True)
    bench.hear(*((f"bench {text}", sure) for text, sure in CLOSE))
    bench.hear(answer)
    assert bench.torques == recorded
    if not recorded:
        bench.hear(("bench sixty", 0.999))
        assert bench.torques == [Decimal(60)], "the question is still open"


# --- heard twice ---
def test_a_weak_call_said_again_is_recorded(bench: Bench) -> None:
    weak: Heard = (("gap thirty thou", 0.9), ("gap forty four thou", 0.1))
    assert bench.said(bench.hear(*weak)) == "Thirty, three zero?"
    assert bench.said(bench.hear(*weak)).startswith("Gap, thirty, three zero, thou.")


@pytest.mark.parametrize("between", ["nothing for long", "another call", "a typed call"])
def test_not_after_a_while_nor_with_another_call_between(bench: Bench, between: str) -> None:
    weak: Heard = (("torque eleven foot pounds", 0.9), ("torque seven foot pounds", 0.1))
    bench.hear(*weak)
    match between:
        case "nothing for long":
            bench.now += AGAIN_WITHIN
        case "another call":
            bench.hear(("oil level full", 1.0))
        case _:
            bench.session.typed("oil level full", bench.now)
    bench.hear(*weak)
    assert bench.torques == []
    bench.hear(*weak)
    assert bench.torques == [Decimal(11)]


# --- typed ---
def test_typed_the_number_is_enough_too(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, sheet=load_sheet("quillmoor-tiller"))
    for line in ("compression 120 psi", "gap 300 thou", "30"):
        session.typed(line, AT)
    assert [fact.event.value for fact in session.state.readings] == [Decimal(120), Decimal(30)]
    said = session.typed("31", AT).reply
    assert said is not None
    assert said.text.startswith("Say again.")
    assert len(session.state.readings) == 2


# --- a correction of what is asked about ---
def test_a_doubtful_correction_of_a_doubtful_reading_never_touches_an_older_one() -> None:
    job = Job().call(reading("gap", "30", "thou")).doubt(SIXTEEN).doubt(correction("60"))
    job.call(AFFIRM)
    last = job.last(ev.ReadingRecorded)
    assert (last.value, last.corrects) == (Decimal(60), None)
    assert [fact.event.value for fact in job.state.effective(job.state.readings)] == [30, 60]


def test_one_that_cannot_be_asks_for_the_call_again() -> None:
    job = Job().call(reading("gap", "30", "thou")).doubt(SIXTEEN).doubt(correction("60", "psi"))
    job.call(AFFIRM, NEGATIVE)
    assert len(job.all(ev.ReadingRecorded)) == 1


# --- the log ---
def test_only_a_question_about_a_figure_is_of_the_newest_format(bench: Bench) -> None:
    bench.hear(*CLOSE)
    bench.hear(("oil level full", 0.7), ("oil level low", 0.3))
    bench.session.close()
    assert check_log(bench.session.folder).whole
    records = read_log(bench.session.folder).records
    figures = [record.event.figure for record in records if isinstance(record.event, ev.Asked)]
    assert figures == ["either", None]
    lines = (bench.session.folder / "log.jsonl").read_bytes().splitlines()
    versions = {f'"v":{FORMAT_VERSION}' in line.decode()[:8] for line in lines}
    assert versions == {True, False}
    for line in lines:
        assert encode(*decode(line)) == line


# --- what the recognizer is held to ---
def says(grammar: WithNumbersAlone, text: str) -> bool:
    state: int | None = grammar.start
    for word in text.split():
        state = None if state is None else grammar.arcs(state).get(word)
    return state is not None and grammar.is_final(state)


@pytest.mark.parametrize("sign", ["", "bench "])
def test_every_call_and_every_number_alone_may_be_said(sign: str) -> None:
    wider = WithNumbersAlone(GRAMMAR)
    for text in ("gap thirty thou", "seventeen", "one seven", "thirty thou", "yes", "half"):
        assert says(wider, sign + text)
    for text in ("gap", "gap thirty thou thirty", "thirty bolts", "bench"):
        assert not says(wider, sign + text)
    assert wider.is_usual((sign + "seventeen").split())
    assert wider.is_usual((sign + "gap thirty thou").split())
    assert not wider.is_usual((sign + "gap is thirty thou").split())


def test_a_number_alone_is_heard_over_an_engine() -> None:
    ears = HeldRecognizer()
    ears.listen_for(GRAMMAR)
    asked: Callable[[str], Listening] = lambda call: Listening(  # noqa: E731
        answer_awaited=True, doubted=understand(call, GRAMMAR, Listening()).intents
    )
    for number, call in (
        ("sixteen", "torque sixteen foot pounds"),
        ("twenty eight", "gap twenty eight thou"),
        ("thirty two hundred", "engine speed thirty two hundred"),
    ):
        said = with_pauses(speak(number, "us-man"))
        noise = NOISES["engine"](len(said) / SAMPLE_RATE + 0.1, seed=3)[: len(said)]
        heard = ears.recognize(mix(said, noise, 15.0), number_alone=True)
        assert heard.hypotheses[0].text == number
        decision = decide_utterance(heard, GRAMMAR, asked(call))
        assert decision.intents[:1] == asked(call).doubted
        assert not any(each.text == number for each in ears.recognize(said).hypotheses)
    assert ears.recognize(np.zeros(16_000, np.float32), number_alone=True).hypotheses == ()
