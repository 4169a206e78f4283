"""Calls that the handbook answers, spoken at the bench."""

from __future__ import annotations

import re
from decimal import Decimal
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.grammar.files import shipped_grammar
from companion.grammar.linking import link
from companion.handbook.topics import TOPICS, answer
from companion.intent import intents as it
from companion.intent.meaning import meanings
from companion.intent.numbers import NUMBER_WORDS
from companion.job.answers import HandbookSaid, Nothing
from companion.job.decide import decide
from companion.job.events import Said
from companion.settings import Settings
from companion.speak.calls import call_words
from companion.speak.engines import EspeakEngine
from companion.speak.speakable import sentence
from companion.speak.wording import word
from tests.bench_job import SHEET, Job, quantity, reading

HANDBOOK = CallGrammar(link(shipped_grammar("handbook"), "handbook-question", shipped_grammar))
"""Only the questions, so that drawing sentences draws nothing else."""


def asked(words: str, job: Job | None = None) -> HandbookSaid | Nothing:
    (call,) = meanings(words.split(), HANDBOOK)
    (said,) = (job or Job()).call(call).answers
    assert isinstance(said, HandbookSaid | Nothing)
    return said


@pytest.mark.parametrize(
    ("call", "beginning"),
    [
        ("drill for three eighths sixteen", "5/16 inch drill for 3/8-16"),
        ("drill for half thirteen", "27/64 inch drill for 1/2-13"),
        ("drill for ten thirty two", "Number 21 drill for number 10, 32 threads"),
        ("drill for m eight", "6.8 millimeter drill for M8"),
        ("oil grade for minus ten celsius", "-10 degrees celsius: 5W-30 or 10W-30"),
        (
            "pulley three inches to nine inches at thirty six hundred",
            "3 to 9 inches at 3600: about 1200",
        ),
        ("tip speed for twenty one inches at thirty one hundred", "21 inches at 3100: 17000"),
        ("frequency at thirty six hundred", "3600 on 2 poles: 60 hertz, high for 50 and usual"),
        (
            "frequency at thirty nine hundred for sixty hertz",
            "3900 on 2 poles: 65 hertz, high for 60",
        ),
        (
            "torque for m fourteen spark plug taper seat cast iron",
            "M14 plug, taper seat, cast iron",
        ),
        ("torque for m ten plug", "M10 plug, gasket seat, aluminum: 10 to 12 newton meters"),
        ("torque for m eight stainless a two seventy", "M8 stainless A2 70: dry about 20"),
        ("torque for m six class four point eight oiled", "M6 class 4.8: dry about 5.6"),
        ("wrench for m eight flange bolt", "10 millimeter wrench for M8 with a flange"),
        ("wrench for m ten small head", "14 millimeter wrench for M10 with a small head"),
        ("charge for twelve point four volts glass mat", "12.4 volts at rest, glass mat: about 60"),
        ("convert thirty millimeters to centimeters", "30 millimeters is 3 centimeters."),
        ("convert five and a half horsepower to kilowatts", "5.5 horsepower is 4.1 kilowatts."),
        ("frequency at eighteen hundred on four poles", "1800 on 4 poles: 60 hertz"),
        ("charge for twelve point four volts", "12.4 volts at rest, taken as flooded: about 70"),
        ("displacement sixty eight by fifty four millimeters", "68 by 54 millimeters: 196 cc"),
        (
            "torque for three eighths fine grade five",
            "3/8 inch fine grade 5: dry about 35 foot pounds, oiled only",
        ),
        (
            "torque for m eight fine class eight point eight",
            "M8 fine class 8.8: dry about 27 newton meters, oiled only",
        ),
    ],
)
def test_a_question_is_answered_with_its_source(call, beginning):
    said = asked(call)
    assert isinstance(said, HandbookSaid)
    assert said.text.startswith(beginning)
    assert said.source


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        ("drill for eight thirty six", "Number 29 drill for number 8, 36 threads"),
        ("torque for m ten fine class eight point eight", "M10 has fine threads of 1.25 and 1"),
        ("torque for m six fine class eight point eight", "no fine thread on M6"),
        ("torque for m eight grade five", "grade 5 is of the other system"),
        ("oil grade for ninety celsius", "No engine is started in such air"),
        ("charge for twenty four volts", "No 12 volt battery rests at 24 volts"),
        ("displacement two by two millimeters", "No small engine has a bore of 2 millimeters"),
    ],
)
def test_what_the_handbook_does_not_hold_gets_a_sentence(call, sentence):
    assert sentence in asked(call).text


# --- advice on what was read --------------------------------------------------------------------


def test_advice_on_compression_goes_by_the_last_reading_and_the_sheet():
    # The sheet of the tests wants at least 90 psi.
    job = Job(SHEET).call(reading("compression", "60", "psi"))
    assert asked("advice on compression", job).text == (
        "60 psi: low. Put a spoonful of oil in the cylinder and measure again."
    )
    job = Job(SHEET).call(reading("compression", "120", "psi"))
    assert asked("advice on compression", job).text == "120 psi: within the sheet."


def test_a_second_reading_soon_after_is_taken_as_the_wet_one_and_said_so():
    job = Job().call(reading("compression", "60", "psi")).wait(minutes=5)
    job.call(reading("compression", "95", "psi"))
    assert asked("advice on compression", job).text == (
        "dry 60, wet 95 psi: low, and oil raised it. Points to rings or cylinder."
    )


def test_a_dry_reading_in_another_unit_is_compared_in_the_last_one():
    job = Job().call(
        reading("compression", "414", "kilopascal"), reading("compression", "61", "psi")
    )
    assert asked("advice on compression", job).text.startswith("dry 60, wet 61 psi: low, and oil")


def test_a_reading_of_another_day_is_not_the_dry_one():
    job = Job().call(reading("compression", "60", "psi")).wait(hours=20)
    job.call(reading("compression", "95", "psi"))
    assert asked("advice on compression", job).text.startswith("95 psi: fair or better")


def test_a_reading_that_was_disregarded_counts_no_more():
    job = Job().call(reading("compression", "60", "psi"), reading("compression", "95", "psi"))
    job.call(it.Plain(intent="disregard"))
    assert asked("advice on compression", job).text.startswith("60 psi: low.")


def test_advice_on_leak_down_says_what_leaks_where_air_is_heard():
    job = Job().call(reading("leak down", "25", "percent"))
    assert "Listen: intake or exhaust is that valve" in asked("advice on leak down", job).text
    assert asked("advice on leak down at exhaust", job).text.endswith("the exhaust valve.")
    assert asked("advice on leak down at crankcase", job).text.endswith(
        "rings, piston or cylinder."
    )
    assert job.events == ()


@pytest.mark.parametrize("measure", ["compression", "leak down"])
def test_advice_needs_a_reading(measure):
    said = asked(f"advice on {measure}")
    assert said == Nothing(f"No {measure} recorded yet: call the reading first.")


# --- the maker's figure wins --------------------------------------------------------------------


def oil_of(sheet: dict[str, Any] | None, celsius: str) -> str:
    job = said(Job(sheet), it.OilAsk(**quantity(celsius, "celsius")))
    return job.all(Said)[-1].text


def test_the_grade_of_the_sheet_goes_before_the_usual_one():
    grades = [{"grade": "5W-40", "high": "0"}, {"grade": "10W-40", "low": "0", "high": "40"}]
    sheet = {**SHEET, "fluid": [{"name": "oil", "grades": grades}]}
    assert oil_of(sheet, "-10") == "At minus ten degrees celsius: five W forty."
    assert oil_of(sheet, "15") == "At fifteen degrees celsius: ten W forty."
    # Above what the sheet covers, and with no sheet or a sheet without grades, the usual one.
    assert oil_of(sheet, "45").startswith("Forty five degrees celsius: s a e thirty")
    for without in (None, SHEET):
        assert oil_of(without, "-10").startswith("Minus ten degrees celsius: five w thirty or")


def test_a_sheet_with_one_grade_has_it_for_any_temperature():
    sheet = {**SHEET, "fluid": [{"name": "oil", "grade": "5W-40"}]}
    assert oil_of(sheet, "-10") == "Oil: five W forty."


BRACKWATER = {
    **SHEET,
    "kind": "portable generator, 120 volt, 60 hertz, two poles",
    "battery": {"volts": "12", "type": "absorbed glass mat"},
    "torque": [{"fastener": "plug", "unit": "newton meter", "low": "18", "high": "23"}],
}


@pytest.mark.parametrize(
    ("sheet", "call", "beginning"),
    [
        (BRACKWATER, "frequency at thirty nine hundred", "3900 on 2 poles: 65 hertz, high for 60."),
        # What is said goes before what the sheet says.
        (BRACKWATER, "frequency at fifteen hundred on four poles for fifty hertz",
         "1500 on 4 poles: 50 hertz, usual for 50 under load."),
        ({**BRACKWATER, "kind": "generator, 50 Hz, 4-pole"}, "frequency at sixteen fifty",
         "1650 on 4 poles: 55 hertz, high for 50."),
        ({**BRACKWATER, "kind": "generator, two poles", "reading": [
            {"measure": "engine speed", "unit": "rpm", "low": "3510", "high": "3780"}]},
         "frequency at three thousand", "3000 on 2 poles: 50 hertz, low for 60."),
        ({**BRACKWATER, "kind": "generator for 50 hertz or 60 hertz"},
         "frequency at thirty six hundred",
         "3600 on 2 poles: 60 hertz, high for 50 and usual under load for 60."),
        (BRACKWATER, "charge for twelve point six volts",
         "12.6 volts at rest, glass mat: about 75 percent"),
        (BRACKWATER, "charge for twelve point six volts flooded",
         "12.6 volts at rest, flooded: about 95 percent"),
        ({**SHEET, "battery": {"volts": "6"}}, "charge for six point three volts",
         "6.3 volts at rest, taken as flooded: about 95 percent"),
        (BRACKWATER, "torque for m fourteen plug", "The sheet has 18 to 23 newton meters"),
        ({**SHEET, "reading": [{"measure": "engine speed", "unit": "rpm", "high": "3100"}]},
         "tip speed for twenty one inches at thirty three hundred",
         "3300: 18100 feet per minute, too fast. At most the maker's 3100."),
        ({**SHEET, "reading": [{"measure": "blade speed", "unit": "rpm", "high": "2900"},
                               {"measure": "engine speed", "unit": "rpm", "high": "3600"}]},
         "tip speed for twenty one inches at thirty six hundred",
         "3600: 19800 feet per minute, too fast. At most the maker's 2900."),
    ],
)  # fmt: skip
def test_what_the_sheet_knows_of_the_machine_decides(sheet, call, beginning):
    assert asked(call, Job(sheet)).text.startswith(beginning)


def test_compression_over_the_sheets_highest_is_high():
    sheet = {**SHEET, "reading": [
        {"measure": "compression", "unit": "psi", "low": "85", "high": "140"}]}  # fmt: skip
    job = Job(sheet).call(reading("compression", "160", "psi"))
    assert asked("advice on compression", job).text.startswith("160 psi: higher than usual")


# --- where a figure is from ---------------------------------------------------------------------


def said(job: Job, *calls: it.Intent) -> Job:
    """Make calls, and keep what is said to each as a session does."""
    for call in calls:
        response = decide(job.state, call, at=job.now, heard=None)
        reply = word(job.state, response.events, response.answers)
        assert reply is not None
        job.keep(Said(text=reply.text, tone=reply.tone, source=reply.source))
    return job


def test_the_source_of_the_last_figure_is_kept_and_said_when_asked():
    job = said(Job(SHEET), it.WrenchAsk(size=Decimal("0.375"), unit="inch"))
    assert job.all(Said)[-1].source == "ASME B18.2.1 and B18.2.2, standard hex heads"
    said(job, it.SourceAsk())
    assert job.all(Said)[-1].text == (
        "Source: a s m e B eighteen point two point one and B eighteen point two point two, "
        "standard hex heads."
    )


def test_saying_it_again_keeps_the_source():
    job = said(Job(), it.OilAsk(**quantity("-10", "celsius")), it.Plain(intent="say.again"))
    said(job, it.SourceAsk())
    assert job.all(Said)[-1].text.startswith("Source: s a e J three hundred cranking limits")


def test_a_spec_has_the_source_that_the_sheet_gives():
    job = said(Job(SHEET), it.SpecAsk(measure="gap"))
    assert job.all(Said)[-1].source == "maker"


def test_what_gave_no_figure_has_no_source():
    job = said(Job(), it.TagList(), it.SourceAsk())
    assert job.all(Said)[-1].text.startswith("What was said last has no source")
    assert job.all(Said)[-1].source is None


# --- every question -----------------------------------------------------------------------------

LONGEST = 24
"""Words, a number however long counted as one: numbers drawn by chance are longer than called."""


def length(text: str) -> int:
    words = re.sub(r"[^a-z ]", " ", text.lower()).split()
    numbers = [word in NUMBER_WORDS for word in words]
    return sum(not (this and before) for before, this in pairwise([False, *numbers]))


@given(st.integers(0, 2**32))
def test_every_question_is_answered_shortly_and_in_plain_words(seed):
    job = Job().call(reading("compression", "60", "psi"), reading("leak down", "25", "percent"))
    for call in meanings(HANDBOOK.generate(Random(seed)), HANDBOOK):
        job.call(call)
        (said,) = job.answers
        reply = word(job.state, (), job.answers)
        assert reply is not None
        assert not any(char.isdigit() for char in reply.text)
        assert not job.events
        if isinstance(said, HandbookSaid):
            assert said.source
        assert length(reply.text) <= LONGEST, reply.text


@given(st.integers(0, 2**32))
def test_a_doubtful_question_is_put_in_words_that_need_no_digits(seed):
    for call in meanings(HANDBOOK.generate(Random(seed)), HANDBOOK):
        words = call_words(call)
        assert not any(char.isdigit() for char in words)
        assert words.split()[0].strip(",") in {
            "convert", "torque", "wrench", "mix", "drill", "oil", "pulley", "tip", "frequency",
            "charge", "displacement", "advice", "say",
        }  # fmt: skip


@pytest.mark.parametrize(
    ("call", "words"),
    [
        ("drill for three eighths sixteen", "drill for three eighths, sixteen, one six"),
        ("drill for ten twenty four", "drill for ten, twenty four"),
        ("drill for m eight", "drill for m eight"),
        (
            "frequency at twelve hundred on four poles",
            "frequency at twelve hundred, on four poles",
        ),
        ("advice on leak down at intake", "advice on leak down at intake"),
    ],
)
def test_how_a_question_is_said_back_when_in_doubt(call, words):
    (meant,) = meanings(call.split(), HANDBOOK)
    assert call_words(meant) == words


def test_no_answer_to_an_example_is_longer_than_eight_seconds_of_speech():
    engine = EspeakEngine(None, Settings().speech_rate)
    for topic in TOPICS.values():
        for example in topic.examples:
            name, *words = example.split()
            said = sentence(answer(name, words).text)
            assert len(engine.render(said)) / SAMPLE_RATE <= 8.0, said
