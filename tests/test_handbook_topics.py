"""The handbook from the command line: typed words in, an answer or one plain sentence out."""

from __future__ import annotations

import json

import pytest

from companion.errors import CompanionError, WrongUse
from companion.handbook.topics import TOPICS, answer


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
        ("torque", ["3/8", "grade 5"], "3/8 inch coarse grade 5, dry: about 31 foot pounds"),
        ("torque", ["3/8-24", "5", "with", "anti-seize"], "3/8 inch fine grade 5, with anti seize"),
        ("torque", ["M8", "8.8"], "M8 coarse class 8.8, dry: about 25 newton meters"),
        ("torque", ["M8x1", "class", "10.9", "oiled"], "M8 fine class 10.9, oiled"),
        ("wrench", ["3/8", "bolt"], "9/16 inch wrench for a 3/8 inch bolt"),
        ("wrench", ["m10"], "16 millimeter wrench for M10"),
        ("mix", ["50:1", "2", "gallons"], "50 to 1 for 2 US gallons: 5.1 US ounces"),
        ("mix", ["50 to 1 for 5 litres"], "50 to 1 for 5 liters: 3.4 US ounces"),
    ],
)
def test_answers(topic, words, beginning):
    assert answer(topic, words).text.startswith(beginning)


def test_every_example_in_the_usage_lines_works():
    tried = 0
    for name, topic in TOPICS.items():
        for example in topic.usage.split("as in: ")[1].split(", "):
            assert example.split()[0] == name
            assert answer(name, example.split()[1:]).text
            tried += 1
    assert tried >= len(TOPICS)


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
    with pytest.raises(WrongUse, match="no topic 'recipes'; it has convert, torque, wrench, mix"):
        answer("recipes", [])


def test_what_the_handbook_does_not_hold_is_a_failure_not_wrong_use():
    with pytest.raises(CompanionError, match="no M9 bolt") as refused:
        answer("wrench", ["M9"])
    assert not isinstance(refused.value, WrongUse)


def test_the_shop_says_whose_ounces_are_meant():
    assert "568 milliliters" in answer("convert", ["20", "oz", "to", "ml"], ounce="imperial").text


@pytest.mark.parametrize(
    "asked", ["convert 30 thou mm", "torque M8 8.8 oiled", "wrench M10", "mix 50:1 1 gallon"]
)
def test_answers_go_through_json(asked):
    topic, *words = asked.split()
    found = answer(topic, words)
    there_and_back = json.loads(json.dumps(found.as_json()))
    assert there_and_back["text"] == found.text
    assert there_and_back["source"] == found.source
    assert len(there_and_back) > 2
