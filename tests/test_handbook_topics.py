"""The handbook from the command line: typed words in, an answer or one plain sentence out."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.cli import main
from companion.errors import CompanionError, WrongUse
from companion.handbook.topics import TOPICS, answer, contents
from companion.handbook.unit_table import UNITS


@pytest.mark.parametrize(
    ("topic", "words", "beginning"),
    [
        ("convert", ["30", "thou", "to", "mm"], "30 thou is 0.762 millimeters"),
        ("convert", ["3/8", "in", "to", "mm"], "0.375 inches is 9.525 millimeters"),
        ("convert", ["3/8", "in", "in", "mm"], "0.375 inches is 9.525 millimeters"),
        ("convert", ["5", "3/8", "inch", "mm"], "5.375 inches is 136.5 millimeters"),
        ("convert", ["25mm", "inch"], "25 millimeters is 0.9843 inches"),
        ("convert", ["16 foot pounds to newton metres"], "16 foot pounds is 21.7 newton meters"),
        ("convert", ["-5", "C", "to", "F"], "-5 degrees celsius is 23 degrees fahrenheit"),
        ("torque", ["3/8", "grade 5"], "3/8 inch grade 5: dry about 31 foot pounds, oiled only 28"),
        (
            "torque",
            ["3/8-24", "5", "with", "anti-seize"],
            "3/8 inch fine grade 5: dry about 35 foot pounds, with anti seize only 26",
        ),
        ("torque", ["M8", "8.8"], "M8 class 8.8: dry about 25 newton meters, oiled only 23"),
        ("torque", ["M8", "stainless", "A2-70"], "M8 stainless A2 70: dry about 20"),
        ("torque", ["M8", "a4", "80", "oiled"], "M8 stainless A4 80: dry about 26"),
        ("torque", ["M8", "9.8"], "M8 class 9.8: dry about 29"),
        ("plug", ["M14"], "M14 plug, gasket seat, aluminum: 25 to 30 newton meters"),
        ("plug", ["14", "mm", "tapered", "seat", "iron"], "M14 plug, taper seat, cast iron: 15 to"),
        ("wrench", ["M8", "flange"], "10 millimeter wrench for M8 with a flange"),
        ("wrench", ["M10", "small", "head", "bolt"], "14 millimeter wrench for M10 with a small"),
        ("battery", ["12.6", "V", "AGM"], "12.6 volts at rest, glass mat: about 75 percent"),
        (
            "battery",
            ["6.2", "flooded", "6", "volt", "battery"],
            "6.2 volts at rest, flooded: about",
        ),
        ("frequency", ["3720", "60", "Hz"], "3720 on 2 poles: 62 hertz, usual for 60 with no load"),
        (
            "tip-speed",
            ["21", "in", "at", "3500", "governed", "3000"],
            "3500: 19300 feet per minute, too fast. At most the maker's 3000.",
        ),
        ("compression", ["160 psi most 140"], "160 psi: higher than usual"),
        ("convert", ["30", "mm", "to", "cm"], "30 millimeters is 3 centimeters"),
        ("convert", ["5", "hp", "to", "kW"], "5 horsepower is 3.73 kilowatts"),
        ("convert", ["16", "cu", "in", "to", "cc"], "16 cubic inches is 262 milliliters"),
        ("convert", ["8", "oz", "g"], "8 ounces is 226.8 grams"),
        ("convert", ["2", "kgf/cm2", "to", "psi"], "2 kilograms per square centimeter is 28.4"),
        (
            "torque",
            ["M8x1", "class", "10.9", "oiled"],
            "M8 fine class 10.9: dry about 39 newton meters, oiled only 35",
        ),
        ("wrench", ["3/8", "bolt"], "9/16 inch wrench for a 3/8 inch bolt"),
        ("wrench", ["m10"], "16 millimeter wrench for M10"),
        ("mix", ["50:1", "2", "gallons"], "50 to 1 for 2 US gallons: 5.1 US ounces"),
        ("mix", ["50 to 1 for 5 litres"], "50 to 1 for 5 liters: 3.4 US ounces"),
        ("drill", ["3/8-16"], "5/16 inch drill for 3/8-16"),
        ("drill", ["3/8"], "5/16 inch drill for 3/8-16"),
        ("drill", ["#10-24", "tap"], "Number 25 drill for number 10, 24 threads"),
        ("drill", ["10-32"], "Number 21 drill for number 10, 32 threads"),
        ("drill", ["#8"], "Number 29 drill for number 8, 32 threads"),
        ("drill", ["m8x1"], "7 millimeter drill for M8x1"),
        ("drill", ["1/2-20", "65", "percent"], "29/64 inch drill for 1/2-20"),
        ("oil", ["-10C"], "-10 degrees celsius: 5W-30 or 10W-30, not SAE 30."),
        ("oil", ["grade", "for", "60", "F"], "60 degrees fahrenheit: SAE 30 or 10W-30."),
        (
            "pulley",
            ["3", "to", "9", "inches", "at", "3600"],
            "3 to 9 inches at 3600: about 1200",
        ),
        ("pulley", ["3 in to 9 in at 3600 rpm"], "3 to 9 inches at 3600: about 1200 rpm"),
        ("tip-speed", ["21 inches at 3100 rpm"], "21 inches at 3100: 17000 feet"),
        ("tip", ["speed", "21", "in", "at", "3100"], "21 inches at 3100: 17000 feet"),
        ("frequency", ["at", "1500", "rpm", "4", "poles"], "1500 on 4 poles: 50"),
        ("battery", ["12.4", "volts"], "12.4 volts at rest, taken as flooded: about 70"),
        ("leak", ["down", "25%", "at", "the", "exhaust"], "25 percent: more than usual. Heard at"),
        ("leak-down", ["12", "limit", "15"], "12 percent: no more than the sheet's 15"),
        ("compression", ["dry", "60", "wet", "95", "psi"], "dry 60, wet 95 psi: low, and oil"),
        ("compression", ["75 psi least 90"], "75 psi: low."),
        ("displacement", ["68 x 54 mm"], "68 by 54 millimeters: 196 cc"),
        ("displacement", ["2 1/2 by 2 1/4 in 2 cylinders"], "2.5 by 2.25 inches, twin: 362"),
        ("ratio", ["196 cc and 26 cc"], "8.5 to 1."),
    ],
)
def test_answers(topic, words, beginning):
    assert answer(topic, words).text.startswith(beginning)


@pytest.mark.parametrize("topic", TOPICS)
def test_every_example_of_every_topic_works(topic):
    assert TOPICS[topic].examples
    for example in TOPICS[topic].examples:
        name, *words = example.split()
        assert name == topic
        assert answer(name, words).text


def test_without_a_topic_the_contents_are_listed_with_an_example_each(capsys):
    assert main(["handbook"]) == 0
    printed = capsys.readouterr().out.splitlines()
    assert printed == list(contents())
    assert [line.split()[0] for line in printed] == list(TOPICS)
    for line in printed:
        typed = line.split("type: companion ")[1].split()
        assert main(typed) == 0
        assert "Source: " in capsys.readouterr().out


def test_what_is_below_zero_is_no_option(capsys):
    assert main(["handbook", "oil", "-10C", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["temperature"] == "-10"


@pytest.mark.parametrize("topic", TOPICS)
@pytest.mark.parametrize("words", [[], [""], ["?"], ["to"], ["1", "2", "3", "4", "5"], ["in"]])
def test_words_that_do_not_fit_are_refused_in_one_line(topic, words):
    with pytest.raises(CompanionError) as refused:
        answer(topic, words)
    assert "\n" not in str(refused.value)
    assert str(refused.value).endswith(".")


def test_wrong_use_shows_how_to_ask():
    with pytest.raises(WrongUse, match=r"type: companion handbook mix RATIO:1 VOLUME UNIT"):
        answer("mix", ["2", "gallons"])


def test_an_unknown_topic_names_those_there_are():
    with pytest.raises(
        WrongUse, match="no topic 'recipes'; it has convert, torque, plug, wrench, drill"
    ):
        answer("recipes", [])


def test_what_the_handbook_does_not_hold_is_a_failure_not_wrong_use():
    with pytest.raises(CompanionError, match="no M9 bolt") as refused:
        answer("wrench", ["M9"])
    assert not isinstance(refused.value, WrongUse)


def test_the_shop_says_whose_ounces_are_meant():
    assert "568 milliliters" in answer("convert", ["20", "oz", "to", "ml"], ounce="imperial").text


@pytest.mark.parametrize(
    "asked", [example for topic in TOPICS.values() for example in topic.examples]
)
def test_answers_go_through_json(asked):
    topic, *words = asked.split()
    found = answer(topic, words)
    there_and_back = json.loads(json.dumps(found.as_json()))
    assert there_and_back["text"] == found.text
    assert there_and_back["source"] == found.source
    assert len(there_and_back) > 2


# --- nonsense -----------------------------------------------------------------------------------

NUMBERS = st.one_of(
    st.sampled_from(
        ["0", "-0", "-1", "1/0", "1e9", "nan", "inf", "٣", "999999999999", "1" * 40, ".", "-"]
    ),
    st.decimals(-1_000_000, 1_000_000, places=2).map(str),
    st.integers(-5, 40).map(str),
)
WORDS = st.sampled_from(
    [*UNITS, "to", "at", "x", "by", "and", "wet", "least", "limit", "poles", "cylinders", "percent",
     "exhaust", "grade 5", "8.8", "3/8", "3/8-16", "M8", "#10-24", "oiled", "in", "for", "%", ":1"]
)  # fmt: skip


@given(st.sampled_from(sorted(TOPICS)), st.lists(st.one_of(NUMBERS, WORDS), max_size=7))
def test_whatever_is_typed_gets_an_answer_with_a_source_or_one_plain_sentence(topic, words):
    said, source = asked(topic, words)
    assert said.endswith(".")
    assert "\n" not in said
    assert source


def asked(topic, words):
    """What is said, and its source or that it was refused."""
    try:
        found = answer(topic, words)
    except CompanionError as refused:
        return str(refused), "refused"
    return found.text, found.source


@given(
    st.sampled_from(
        ["oil {} psi", "pulley 3 to 9 {} at 3600", "tip-speed {} volts at 3000", "battery {} psi",
         "frequency {} inches", "leak-down {} volts", "compression {} inches",
         "ratio 196 and {} psi", "displacement 68 x {} liters", "mix 50:1 {} psi",
         "convert {} psi to mm", "compression 60 wet {} celsius"]
    ),
    st.decimals("0.01", 5000, places=2),
)  # fmt: skip
def test_a_unit_that_does_not_fit_is_never_answered_with_a_number(question, value):
    topic, *words = question.format(value).split()
    with pytest.raises(CompanionError):
        answer(topic, words)


@given(
    st.sampled_from(
        ["torque {} 5", "wrench {}", "drill {}", "mix {}:1 2 gallons", "mix 50:1 {} gallons",
         "pulley {} to 9 inches at 3600", "pulley 3 to {} inches at 3600",
         "pulley 3 to 9 inches at {}", "tip-speed {} inches at 3000", "tip-speed 21 inches at {}",
         "frequency {}", "frequency 3600 {} poles", "battery {}", "displacement {} x 54 mm",
         "displacement 68 x {} mm", "displacement 68 x 54 mm {} cylinders", "ratio {} and 26 cc",
         "ratio 196 and {} cc", "plug M{}", "tip-speed 21 inches at 3000 governed {}"]
    ),
    st.one_of(
        st.just("0"),
        st.decimals(-5000, "-0.01", places=2).map(str),
        st.integers(10**6, 10**11).map(str),
    ),
)  # fmt: skip
def test_zero_less_than_zero_and_absurd_sizes_are_never_answered_with_a_number(question, value):
    topic, *words = question.format(value).split()
    with pytest.raises(CompanionError):
        answer(topic, words)
