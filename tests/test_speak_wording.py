"""What is spoken after each call: short shop English with value, unit and verdict."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from random import Random
from typing import Any, get_args

import pytest

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.intents import INTENT
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from companion.job import answers as an
from companion.job import decide as job
from companion.job import events as ev
from companion.job.card import JobCard
from companion.job.events import EVENT, AnyEvent
from companion.job.fill import Air
from companion.job.read_before import Past
from companion.job.reason import Reason
from companion.job.sheet import SpecSheet
from companion.job.state import State
from companion.shelf.rules import shipped_rules
from companion.shelf.words import vocabulary_of
from companion.speak.calls import call_words
from companion.speak.speech import WORDS_PER_MINUTE
from companion.speak.wording import Reply, word, word_not_understood, word_trouble
from tests.bench_job import CARD, MONDAY, SHEET, Job

LAST_MARCH = Past(Decimal(34), "thou", MONDAY - timedelta(days=360), 360)

SPEAKABLE = re.compile(r"[A-Za-z ,.:?!'-]+")


def speakable_and_careful(text: str) -> bool:
    """Nothing but words, and never a promise that something is safe (a step may be called so)."""
    promised = re.search(r"\bsafe", text.lower().replace("make safe", ""))
    return bool(SPEAKABLE.fullmatch(text)) and not promised


@pytest.fixture(scope="module")
def grammar() -> CallGrammar:
    card, sheet = JobCard.model_validate(CARD), SpecSheet.model_validate(SHEET)
    return load_grammar(vocabulary_of(card, sheet, "bench"))


class Bench:
    """A job that is called at in words and keeps what is answered."""

    def __init__(self, grammar: CallGrammar) -> None:
        self.grammar = grammar
        self.job = Job(sheet=SHEET, card=CARD)

    def reply(self) -> Reply | None:
        reply = word(self.job.state, self.job.events, self.job.answers)
        if reply is not None:
            self.job.keep(ev.Said(text=reply.text, tone=reply.tone, rest=reply.rest))
        return reply

    def hear(self, call: str) -> Reply | None:
        waiting = self.job.state.question is not None
        decision = understand(call, self.grammar, Listening(answer_awaited=waiting))
        if decision.outcome == "say-again":
            return word_not_understood(decision.reasons)
        if decision.outcome == "ask":
            self.job.doubt(*decision.intents)
        else:
            self.job.call(*decision.intents)
        return self.reply()

    def after(self, *calls: str) -> tuple[str, str]:
        """Tone and text of the reply to the last of these calls."""
        replies = [self.hear(call) for call in calls]
        reply = replies[-1]
        assert reply is not None, f"no reply to {calls[-1]!r}"
        assert speakable_and_careful(reply.whole), reply.whole
        return reply.tone, reply.whole


@pytest.fixture
def bench(grammar: CallGrammar) -> Bench:
    return Bench(grammar)


# --- readings and fluids ------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("call", "said"),
    [
        ("gap thirty thou", "Gap, thirty, three zero, thou. In."),
        ("gap forty thou", "Gap, forty, four zero, thou. High by eight point five."),
        ("intake clearance four thou", "Intake clearance, four thou. Low by one."),
        (
            "compression fifteen p s i",
            "Compression, fifteen, one five, p s i. Low by seventy five.",
        ),
        ("end play three thou", "End play, three thou. No figure on the sheet."),
        (
            "air temperature minus five celsius",
            "Air temperature, minus five degrees celsius. In.",
        ),
        (
            "engine speed thirty six hundred",
            "Engine speed, thirty six hundred r p m. No figure on the sheet.",
        ),
    ],
)
def test_a_reading_comes_back_with_unit_and_verdict(bench: Bench, call: str, said: str) -> None:
    assert bench.after(call) == ("recorded", said)


def test_a_correction_says_so_and_judges_anew(bench: Bench) -> None:
    tone, said = bench.after("gap forty thou", "correction thirty one thou")
    assert (tone, said) == ("recorded", "Corrected: gap, thirty one thou. In.")


def test_disregard_names_what_no_longer_counts(bench: Bench) -> None:
    assert bench.after("gap thirty one thou", "disregard") == (
        "recorded",
        "Disregarded: gap, thirty one thou.",
    )


def test_disregarding_a_correction_says_what_counts_again(bench: Bench) -> None:
    _, said = bench.after("gap thirty two thou", "correction thirty one thou", "disregard")
    assert said == ("Disregarded: gap, thirty one thou. This counts again: gap, thirty two thou.")


def test_filling_says_the_running_total_and_what_is_left(bench: Bench) -> None:
    _, drained = bench.after("drained eighteen ounces of oil")
    assert drained.startswith("Drained eighteen, one eight, ounces of oil. Tag hung: no oil.")
    assert drained.endswith("First fill about eighteen ounces.")
    assert bench.after("added twelve ounces of oil") == (
        "recorded",
        "Added twelve ounces of oil. Twelve of twenty ounces: eight more.",
    )
    assert bench.after("added seven ounces of oil") == (
        "recorded",
        "Added seven ounces of oil. Nineteen of twenty ounces: one more at most.",
    )
    assert bench.after("added one more ounce")[1] == (
        "Added one ounce of oil. Twenty of twenty ounces: read the level."
    )
    assert bench.after("added half an ounce of oil") == (
        "warning",
        "Added zero point five ounces of oil. Twenty point five of twenty ounces. "
        "Zero point five ounces too much. Let it out before a start.",
    )


def test_a_question_that_says_how_much_went_in_leaves_no_total_to_be_said_twice(
    bench: Bench,
) -> None:
    bench.after("drained eighteen ounces of oil", "added twelve ounces of oil", "oil level full")
    assert bench.after("negative", "added four ounces of oil") == (
        "question",
        "Added four ounces of oil. Oil was drained. Sixteen ounces added since, oil level called "
        "full before the last filling. Clear tag no oil?",
    )


def test_a_total_is_in_the_unit_that_was_called(bench: Bench) -> None:
    bench.after("drained half a liter of oil")
    _, said = bench.after("added five hundred milliliters of oil")
    assert said.endswith("Five hundred of five hundred ninety one milliliters: ninety one more.")


def test_nothing_is_said_of_a_capacity_that_nobody_knows(bench: Bench) -> None:
    said = bench.after("added one pint of fuel")[1]
    assert said.startswith("Added one pint of fuel. Caution.")
    assert "capacity" not in said


# --- tags, start, engine ------------------------------------------------------------------------
def test_a_tag_hung_and_hung_again(bench: Bench) -> None:
    assert bench.after("tag guard off") == ("recorded", "Tag hung: guard off.")
    assert bench.after("tag guard off") == ("not-understood", "Tag guard off hangs already.")


def test_clearing_a_tag_asks_and_says_what_it_means(bench: Bench) -> None:
    tone, said = bench.after(
        "drained eighteen ounces of oil", "added twenty ounces of oil", "oil level full"
    )
    assert tone == "question"
    assert said == (
        "Oil level full. Oil was drained. "
        "Twenty ounces added since, oil level called full. Clear tag no oil?"
    )
    assert bench.after("affirm") == ("recorded", "Tag cleared: no oil. No tag hangs.")


def test_clearing_a_tag_that_a_step_hung_names_the_step(bench: Bench) -> None:
    bench.job.open()
    assert bench.after("step done", "clear tag plug wire off")[1] == (
        "Hung at step make safe. Affirm if that is over. Clear tag plug wire off?"
    )


def test_a_tag_cleared_names_those_that_still_hang(bench: Bench) -> None:
    _, said = bench.after("tag guard off", "tag fuel off", "clear tag fuel off", "affirm")
    assert said == "Tag cleared: fuel off. Still hanging: guard off."


def test_negative_leaves_the_tag_and_says_so(bench: Bench) -> None:
    assert bench.after("tag fuel off", "clear tag fuel off", "negative") == (
        "recorded",
        "Tag fuel off stays.",
    )


def test_a_tag_that_must_stay_is_a_warning(bench: Bench) -> None:
    tone, said = bench.after("drained eighteen ounces of oil", "clear tag no oil")
    assert tone == "warning"
    assert said.startswith("Tag no oil stays: oil was drained, none was called added")


def test_a_blocked_start_says_every_reason(bench: Bench) -> None:
    tone, said = bench.after("drained eighteen ounces of oil", "tag guard off", "clear to start")
    assert tone == "warning"
    assert said.startswith("Do not start. Tag no oil: oil was drained")
    assert "Tag guard off: hung by a call. Not checked: oil level, five steps" in said
    assert "?" not in said


def test_an_open_start_is_a_question_that_says_what_was_not_checked(bench: Bench) -> None:
    tone, said = bench.after("clear to start")
    assert tone == "question"
    assert said.startswith(
        "No tag hangs. Checked: nothing. Not checked: oil level, five steps of the card, guards"
    )
    assert said.endswith("Clear to start?")
    tone, said = bench.after("affirm")
    assert tone == "recorded"
    assert said.startswith("Start affirmed. Caution. Exhaust kills without")


def test_no_to_the_start(bench: Bench) -> None:
    assert bench.after("clear to start", "negative") == ("recorded", "Not started.")


def test_an_engine_that_runs_against_a_tag_is_told_to_stop_first_of_all(bench: Bench) -> None:
    tone, said = bench.after("tag guard off", "engine running")
    assert tone == "warning"
    assert said.startswith("Stop the engine. This tag hangs: guard off.")


def test_an_engine_that_may_run(bench: Bench) -> None:
    tone, said = bench.after("engine running")
    assert tone == "recorded"
    assert said.startswith("Engine running. Caution. Exhaust kills")
    assert bench.after("engine stopped") == ("recorded", "Engine stopped.")


def test_reading_tags(bench: Bench) -> None:
    assert bench.after("read tags") == ("none", "No tag hangs.")
    bench.after("tag guard off")
    assert bench.after("read tags")[1] == "One tag hangs. Guard off: hung by a call."
    for tag in ("fuel off", "blocked up", "battery off"):
        bench.after(f"tag {tag}")
    assert bench.after("read tags")[1] == (
        "Four tags hang: guard off, fuel off, blocked up, battery off."
    )


# --- timers -------------------------------------------------------------------------------------
def test_a_timer_started_started_again_and_cancelled(bench: Bench) -> None:
    assert bench.after("start soak timer two hours") == (
        "recorded",
        "Soak timer, two hours, started.",
    )
    assert bench.after("start soak timer fifteen minutes")[1] == (
        "Soak timer, fifteen, one five, minutes, started again."
    )
    assert bench.after("cancel soak timer")[1] == "Soak timer cancelled."


def test_a_timer_rings_and_rings_on(bench: Bench) -> None:
    bench.after("start soak timer one minute")
    rung = []
    for minutes in (1, 1):
        bench.job.wait(minutes=minutes).ring()
        rung.append(bench.reply())
    assert rung == [Reply("ring", "Soak timer rings."), Reply("ring", "Soak timer still rings.")]
    assert bench.after("roger") == ("recorded", "Soak timer off.")


def test_time_left(bench: Bench) -> None:
    bench.after("start soak timer two hours", "start timer fifteen minutes")
    bench.job.wait(minutes=10)
    assert bench.after("time left") == (
        "none",
        "Timer, five minutes left. Soak timer, one hour fifty minutes left.",
    )
    bench.job.wait(minutes=8)
    assert bench.after("time left")[1].startswith("Timer, overdue by three minutes.")


def test_roger_to_nothing_needs_no_answer(bench: Bench) -> None:
    assert bench.hear("roger") is None


# --- steps --------------------------------------------------------------------------------------
def test_opening_says_the_limits_and_the_first_step(bench: Bench) -> None:
    bench.job.open()
    reply = bench.reply()
    assert reply is not None
    assert "Maker's manual, local codes and licensed practice come first." in reply.text
    assert reply.whole.endswith("Step one. Key out and plug wire off.")


def test_resuming_says_the_hanging_tags_first(bench: Bench) -> None:
    bench.job.open()
    bench.after("step done", "cancel settle timer", "start soak timer two hours")
    bench.job.wait(hours=30).resume()
    reply = bench.reply()
    assert reply is not None
    assert reply.whole == (
        "One tag hangs. Plug wire off: hung at step make safe. "
        "Soak timer, overdue by twenty eight hours. Step two. Drain the oil."
    )


def test_a_step_comes_after_its_cautions(bench: Bench) -> None:
    bench.job.open()
    bench.reply()
    tone, said = bench.after("step done")
    assert tone == "recorded"
    assert said == "Settle timer, ten minutes. Tag hung: plug wire off. Step two. Drain the oil."
    assert bench.after("step back", "say step")[1] == (
        "Caution. A hot muffler burns. Step one. Key out and plug wire off."
    )


def test_a_step_with_something_left_is_asked_about(bench: Bench) -> None:
    bench.job.open()
    bench.after("step done", "step done", "greased auger shaft")
    assert bench.after("step done") == (
        "question",
        "Still left: axle. Step done all the same?",
    )
    assert bench.after("negative") == ("recorded", "The step stays open.")


def test_a_point_ticked_off_names_what_is_left(bench: Bench) -> None:
    bench.job.open()
    bench.after("step done", "step done")
    assert bench.after("greased auger shaft")[1].endswith("Left here: axle.")
    assert bench.after("greased axle")[1].endswith("That is all of this step.")


def test_skipping_names_the_step(bench: Bench) -> None:
    bench.job.open()
    assert bench.after("skip step")[1].startswith("Skipped: make safe.")


# --- the rest of the bench ----------------------------------------------------------------------
@pytest.mark.parametrize(
    ("call", "said"),
    [
        ("spark plug fouled", "Spark plug fouled."),
        ("tightened axle", "Tightened axle."),
        ("need two spark plugs", "Spark plug, two needed."),
        ("used fifteen spark plugs", "Spark plug, fifteen, one five, used."),
        ("follow up carburetor", "Follow up carburetor."),
        ("note look at the cable again", "Note kept."),
        ("oil level low", "Oil level low."),
        ("stand by", "Standing by."),
        ("park job", "Job parked."),
        ("read back parts", "No parts recorded yet."),
        ("spec for compression", "Compression, at least ninety, nine zero, p s i."),
        ("spec for end play", "The sheet has no figure for end play."),
        (
            "spec for intake clearance",
            "Intake clearance, five to seven thou.",
        ),
        (
            "convert thirty thou to millimeters",
            "Thirty thou is zero point seven six two millimeters.",
        ),
        (
            "wrench for three eighths bolt",
            "Nine sixteenths inch wrench for a three eighths inch bolt.",
        ),
    ],
)
def test_short_replies(bench: Bench, call: str, said: str) -> None:
    assert bench.after(call)[1].startswith(said)


@pytest.mark.parametrize(
    ("how_many", "found", "done"),
    [
        ({}, "Drive belt worn", "Replaced drive belt"),
        ({"count": 2}, "Drive belt, two worn", "Drive belt, two replaced"),
        (
            {"count": 15},
            "Drive belt, fifteen, one five, worn",
            "Drive belt, fifteen, one five, replaced",
        ),
        ({"every": True}, "All drive belts worn", "All drive belts replaced"),
    ],
)
def test_findings_and_work_say_how_many_where_it_was_called(
    how_many: dict[str, Any], found: str, done: str
) -> None:
    finding = {"part": "drive belt", "condition": "worn", **how_many}
    work = {"part": "drive belt", "action": "replaced", **how_many}
    for recorded, called, said in (
        (ev.FindingRecorded(**finding), {"intent": "finding", **finding}, found),
        (ev.WorkRecorded(**work), {"intent": "work", **work}, done),
    ):
        reply = word(State.start(shipped_rules()), (recorded,), ())
        assert reply is not None
        assert reply.text == f"{said}."
        asked = call_words(INTENT.validate_python(called))
        assert asked.lower() == said.lower()


def test_reading_back_a_measure_a_fluid_and_a_list(bench: Bench) -> None:
    bench.after("gap forty thou", "drained eighteen ounces of oil", "added twelve ounces of oil")
    bench.after("need two spark plugs")
    assert bench.after("read back gap") == ("none", "Gap, forty, four zero, thou. High.")
    assert bench.after("read back oil")[1] == (
        "Oil: eighteen ounces out, twelve ounces in, eight ounces to capacity, sixty percent."
    )
    assert bench.after("read back parts")[1].startswith("Parts: need two spark plugs")


def test_closing_with_tags_is_asked_about(bench: Bench) -> None:
    assert bench.after("tag guard off", "close job") == (
        "question",
        "Still hanging: guard off. Five steps left. Close the job all the same?",
    )
    assert bench.after("negative")[1] == "The job stays open."


def test_closing_with_many_tags_names_the_oldest_and_says_how_many_more(bench: Bench) -> None:
    tags = ("guard off", "fuel off", "blocked up", "battery off", "belt off", "plug wire off")
    bench.after(*(f"tag {tag}" for tag in tags))
    six = f"Still hanging: {', '.join(tags)}. Five steps left. Close the job all the same?"
    assert bench.after("close job") == ("question", six)
    bench.after("negative", "tag no oil")
    seven = f"Still hanging: {', '.join(tags)}, and one more. Five steps left."
    assert bench.after("close job") == ("question", f"{seven} Close the job all the same?")


def test_say_again_repeats_word_for_word(bench: Bench) -> None:
    _, said = bench.after("gap thirty thou")
    assert bench.after("say again") == ("none", said)


# --- doubt and not understood -------------------------------------------------------------------
@pytest.mark.parametrize(
    ("intent", "said"),
    [
        (
            {"intent": "reading", "measure": "gap", "value": "15", "unit": "thou",
             "si": {"value": 0.000381, "unit": "m"}},
            "Confirm: gap, fifteen, one five, thou?",
        ),
        (
            {"intent": "fluid", "action": "added", "fluid": "oil", "value": "20", "unit": "ounce",
             "si": {"value": 0.00059147, "unit": "m3"}},
            "Confirm: added twenty u s ounces of oil?",
        ),
        (
            {"intent": "timer.start", "name": "soak", "seconds": 900},
            "Confirm: start soak timer, fifteen, one five, minutes?",
        ),
        ({"intent": "tag.clear", "tag": "no oil"}, "Confirm: clear tag no oil?"),
        ({"intent": "start.check"}, "Confirm: clear to start?"),
        ({"intent": "step.skip"}, "Confirm: skip step?"),
        ({"intent": "correction", "value": "31"}, "Confirm: correction, thirty one?"),
        ({"intent": "part.need", "part": "belt", "count": 2}, "Confirm: belt, two needed?"),
        (
            {"intent": "torque", "size": "0.375", "unit": "inch", "grade": "class 8.8"},
            "Confirm: torque for three eighths inch class eight point eight, dry?",
        ),
        (
            {"intent": "wrench", "size": "8", "unit": "millimeter"},
            "Confirm: wrench for m eight bolt?",
        ),
        (
            {"intent": "mix", "ratio": "50", "value": "2", "unit": "gallon",
             "si": {"value": 0.00757, "unit": "m3"}},
            "Confirm: mix fifty, five zero, to one, for two u s gallons?",
        ),
    ],
)  # fmt: skip
def test_a_doubtful_call_is_asked_about_in_full(
    bench: Bench, intent: dict[str, Any], said: str
) -> None:
    bench.job.doubt(INTENT.validate_python(intent))
    assert bench.reply() == Reply("question", said)


def test_a_doubt_denied_asks_about_the_rival(bench: Bench) -> None:
    first, second = (
        INTENT.validate_python({"intent": "tag.hang", "tag": tag}) for tag in ("no oil", "fuel off")
    )
    bench.job.doubt(first, second)
    bench.reply()
    assert bench.after("negative") == ("question", "Confirm: tag fuel off?")
    assert bench.after("negative") == ("not-understood", "Say it again.")


def test_the_shops_ounce_is_named_in_doubt() -> None:
    ounces = INTENT.validate_python(
        {"intent": "fluid", "action": "added", "fluid": None, "value": "1", "unit": "ounce",
         "si": {"value": 0.0000284, "unit": "m3"}}
    )  # fmt: skip
    assert call_words(ounces, "imperial") == "added one imperial ounce"


@pytest.mark.parametrize(
    ("reasons", "said"),
    [
        ((), "Say again."),
        (("low confidence",), "Say again."),
        (
            ("the unit is missing: thou, inches or millimeters",),
            "Say again. Which unit? Thou, inches or millimeters.",
        ),
        (
            ("'p s i' does not fit: thou or inches",),
            "Say again. P s i does not fit: thou or inches.",
        ),
        (("clipped",), "Say again. It was too loud."),
        (("truncated", "low confidence"), "Say again. The end is missing."),
        (("low confidence", "gap"), "Say again. A part of it was lost."),
    ],
)
def test_say_again_with_the_reason_that_helps(reasons: tuple[str, ...], said: str) -> None:
    assert word_not_understood(reasons) == Reply("not-understood", said)


def test_a_missing_unit_is_asked_for(bench: Bench) -> None:
    assert bench.after("torque thirty") == (
        "not-understood",
        "Say again. Which unit? Foot pounds, inch pounds or newton meters.",
    )


def test_a_unit_left_out_outside_the_window_of_the_sheet_is_asked_about(bench: Bench) -> None:
    tone, said = bench.after("gap thirty")
    assert tone == "question"
    assert said.startswith("Confirm: gap, thirty")


def test_trouble_is_a_warning() -> None:
    reply = word_trouble("The microphone 'Bench 3' has stopped giving sound; plug it in again.")
    assert reply.tone == "warning"
    assert speakable_and_careful(reply.text)


# --- what holds for all of them -----------------------------------------------------------------
UNSPOKEN = {
    "session.opened", "session.resumed", "machine.known", "heard", "said", "step.entered",
    "step.reopened", "photo.added", "work.order",
}  # fmt: skip


def example(kind: str) -> AnyEvent:
    """One event of each kind, with the least it needs."""
    more: dict[str, dict[str, Any]] = {
        "session.opened": {"session": "s", "machine": None, "card": None, "call_sign": "bench",
                           "ounce": "us", "software": "0"},
        "session.resumed": {"software": "0"},
        "trouble": {"what": "The microphone is gone."},
        "heard": {"text": "x", "engine": "typed", "confidence": 1, "call_confidence": 1,
                  "outcome": "record"},
        "said": {"text": "x", "tone": "none"},
        "question.asked": {"about": "start", "meaning": "No tag hangs."},
        "question.answered": {"answer": "affirm"},
        "reading": {"measure": "gap", "value": "30", "unit": "thou", "verdict": "in",
                    "si": {"value": 0.000762, "unit": "m"}},
        "fluid": {"action": "added", "fluid": "oil", "value": "20", "unit": "ounce",
                  "si": {"value": 0.000591, "unit": "m3"}},
        "level": {"fluid": "oil", "level": "full"},
        "timer.started": {"name": "soak", "seconds": 60, "due": "2024-03-04T09:00:00Z"},
        "timer.rang": {"name": "soak", "count": 1},
        "reviewed": {"record": 2, "by": "Rosa", "judgement": "right"},
        "signed.off": {"by": "Rosa"},
        "timer.acknowledged": {"name": "soak"},
        "timer.cancelled": {"name": "soak"},
        "elsewhere.rang": {"session": "s", "machine": "Quillmoor tiller", "name": "soak",
                           "count": 1},
        "elsewhere.acknowledged": {"session": "s", "machine": "Quillmoor tiller", "name": "soak",
                                   "kept": False},
        "tag.hung": {"tag": "no oil", "by": "voice", "reason": "called"},
        "tag.cleared": {"tag": "no oil"},
        "start.checked": {"standing": ["no oil"], "not_checked": []},
        "step.entered": {"step": "drain-oil"},
        "step.done": {"step": "drain-oil"},
        "step.skipped": {"step": "drain-oil", "reason": "no parts"},
        "step.reopened": {"step": "drain-oil"},
        "step.answered": {"step": "drain-oil", "answer": "negative"},
        "step.ruled": {"step": "drain-oil", "applies": False},
        "finding": {"part": "belt", "condition": "worn"},
        "work": {"action": "greased", "part": "axle"},
        "part.needed": {"part": "belt", "count": 1},
        "part.used": {"part": "belt", "count": 1},
        "followup": {"part": "belt"},
        "note": {"text": "x", "draft": False},
        "serial": {"serial": "QT-44"},
        "photo.added": {"file": "photos/1.jpg", "sha256": "0" * 64},
        "work.order": {},
        "disregarded": {"record": 1},
        "caution": {"caution": "x", "text": "Mind the 3/8 bolt; it is hot (80 °C)."},
    }  # fmt: skip
    return EVENT.validate_python({"kind": kind, **more.get(kind, {})})


KINDS = [kind.model_fields["kind"].default for kind in get_args(get_args(AnyEvent)[0])]


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_event_has_its_words(kind: str) -> None:
    reply = word(State.start(shipped_rules()), (example(kind),), ())
    if kind in UNSPOKEN:
        assert reply is None
    else:
        assert reply is not None
        assert speakable_and_careful(reply.text)


DRAINED = Reason(about="fluid", what="none added", name="oil", tag="no oil")
CRACKED = Reason(about="finding", what="cracked", name="brake cable", back="replaced")

ANSWERS: tuple[an.Answer, ...] = (
    an.TimeLeft((("soak", 61),)),
    an.TagsHanging((("no oil", (DRAINED,)),)),
    an.TagStays("no oil", (DRAINED,)),
    an.StandingOpen((CRACKED,)),
    an.StandingOpen((CRACKED,), still=True),
    an.EngineLeftRunning(("no oil",)),
    an.EngineLeftRunning(now=True),
    an.FromBefore((ev.ToComeBackTo(part="spark plug", count=2, at=MONDAY, session="s"),)),
    an.FromBefore(
        (ev.ToComeBackTo(part="carburetor", at=MONDAY, session="s"),),
        (
            ev.EarlierReading(
                measure="gap", value=Decimal(26), unit="thou", verdict="low", at=MONDAY, session="s"
            ),
        ),
    ),
    an.DrainedAgain("oil", MONDAY, 3, elsewhere=True),
    an.StepSpoken("Fill 20 oz of 10W-30.", ("Hot oil, 90 °C!",), 2, 9),
    an.StepsLeft(5, ("fill oil", "spark plug, no parts", "oil level")),
    an.PassedOver(("new-plug",)),
    an.SpecSaid("gap", ev.Window(low=Decimal(28), high=Decimal(31), unit="thou", source="x")),
    an.SpecSaid("gap", ev.Window(high=Decimal(31), unit="thou", source="x")),
    an.SpecSaid("gap", ev.Window(low=Decimal(30), high=Decimal(30), unit="thou", source="x")),
    an.ReadBackReading("gap", Decimal(30), "thou", "unknown"),
    an.ReadBackReading("gap", Decimal(30), "thou", "in", LAST_MARCH),
    an.NotReadYet("gap", LAST_MARCH),
    an.SpecSaid("gap", None, last=LAST_MARCH),
    an.ReadBackFluid("oil", Decimal(18), Decimal(21), "ounce", Decimal(-1), "over"),
    an.ReadBackFluid("oil", Decimal(0), Decimal(0), "ounce", None, None),
    an.FillSaid("oil", None, (Decimal(20), "ounce"), None, Decimal(18), "dipstick"),
    an.GradeSaid("oil", "5W-30", Air(Decimal(-5), "celsius")),
    an.ReadBackList("parts", ("need 2 shear pins", "used 1 belt")),
    an.HandbookSaid("3/8-16 grade 5: 31 ft·lbf (42 N·m).", "SAE J429"),
    an.SayAgain(("Gap, thirty one thou. In.",)),
    an.Refused("Tag no oil stays: it was drained."),
    an.Ticked(("axle",)),
    an.CanSay("step", ("drain plug", "gap"), more=True),
    an.Nothing("No timer runs."),
)


@pytest.mark.parametrize("answer", ANSWERS, ids=lambda answer: type(answer).__name__)
def test_every_answer_has_its_words(answer: an.Answer) -> None:
    reply = word(State.start(shipped_rules()), (), (answer,))
    assert reply is not None
    assert speakable_and_careful(reply.text), reply.text


def test_no_kind_of_answer_was_forgotten() -> None:
    assert {type(answer) for answer in ANSWERS} == set(get_args(an.Answer))


def test_nothing_brought_is_nothing_said() -> None:
    assert word(State.start(shipped_rules()), (), ()) is None


@pytest.mark.parametrize("seed", range(8))
def test_whatever_is_called_the_reply_can_be_spoken(grammar: CallGrammar, seed: int) -> None:
    random = Random(seed)
    bench = Bench(grammar)
    bench.job.open()
    bench.reply()
    for _ in range(60):
        bench.job.wait(minutes=random.choice((0, 1, 20)))
        call = random.choice((" ".join(grammar.generate(random)), "affirm", "resume"))
        reply = bench.hear(call.removeprefix("bench "))
        if reply is not None:
            assert speakable_and_careful(reply.text), f"{call}: {reply.text}"
        if job.next_deadline(bench.job.state) is not None:
            bench.job.wait(minutes=1).ring()
            bench.reply()


def test_an_ordinary_readback_is_short(bench: Bench) -> None:
    """Counted in words; spoken lengths are measured where there is a voice."""
    longest = timedelta(seconds=8)
    for call in ("gap forty thou", "engine speed three thousand six hundred and fifty"):
        words = len(bench.after(call)[1].split())
        assert timedelta(minutes=words / WORDS_PER_MINUTE) < longest
