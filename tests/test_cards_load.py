"""Job cards: the shipped ones load, and a wrong one is refused with file, line and reason."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from companion.cli import main
from companion.errors import CompanionError
from companion.grammar.compiled import load_grammar
from companion.job.card import JobCard
from companion.shelf.card_words import actions
from companion.shelf.load import CARDS, card_schema, load_card, shipped_cards

GOOD = """\
name = "trial"
title = "Trial"

[[step]]
name = "make-safe"
say = "Plug wire off."
hangs = ["plug wire off", "chain off"]

[[step]]
name = "measure"
say = "Call the gap and the coil gap."
cautions = [
  "Eyes covered.",
  "Gloves on.",
]
clears = ["plug wire off", "chain off"]
wait = { timer = "soak", minutes = 1.5 }
expects = ["gap", "coil gap"]
points = ["left pin"]
after = ["make-safe"]

[[measure]]
name = "coil gap"
dimension = "length"

[[part]]
name = "tire"
spoken = ["tire", "wheel"]

[[part]]
name = "left pin"

[[tag]]
name = "chain off"
"""


def load_text(tmp_path: Path, text: str) -> JobCard:
    path = tmp_path / "card.toml"
    path.write_text(text, encoding="utf-8")
    return load_card(path)


def test_a_card_is_read_as_it_stands(tmp_path):
    card = load_text(tmp_path, GOOD)
    assert [step.name for step in card.step] == ["make-safe", "measure"]
    measure = card.step[1]
    assert measure.wait is not None
    assert (measure.wait.timer, measure.wait.minutes) == ("soak", 1.5)
    assert measure.cautions == ("Eyes covered.", "Gloves on.")
    assert card.measure[0].dimension == "length"
    assert card.part[0].spoken == ("tire", "wheel")


@pytest.mark.parametrize(
    ("was", "becomes", "line", "reason"),
    [
        ('title = "Trial"\n', "", 1, "the file has no 'title'"),
        ('title = "Trial"', "title = 7", 2, "'title' must be text in quotes"),
        ('title = "Trial"', "title = ", 2, "not valid TOML: invalid value"),
        ('title = "Trial"', 'name = "again"', 2, "not valid TOML: cannot overwrite a value"),
        ('name = "trial"', 'name = "My trial"', 1, "'name' must be lower-case"),
        ('title = "Trial"', 'titel = "Trial"', 2, "unknown key 'titel'; the keys here are"),
        ('say = "Plug wire off."', 'speak = "Off."', 6, "unknown key 'speak'; the keys"),
        ('say = "Plug wire off."\n', "", 4, "step 1 has no 'say'"),
        ('say = "Plug wire off."', 'say = " "', 6, "'say' is empty"),
        ('  "Gloves on.",', '  "",', 14, "the caution is empty"),
        ('hangs = ["plug', 'hangs = "off" # ["plug', 7, "'hangs' must be a list in square"),
        ('"chain off"]\n\n', '"Chain  off"]\n\n', 7, "'Chain  off' cannot be listened for"),
        ('"chain off"]\n\n', '"plug wire off"]\n\n', 7, "'plug wire off' is listed twice"),
        ('name = "measure"', 'name = "make-safe"', 10, "the name 'make-safe' is that of"),
        ('name = "measure"', 'name = "Measure it"', 10, "'name' must be lower-case"),
        ("minutes = 1.5", "minutes = 0", 17, "'minutes' must be above zero"),
        ("minutes = 1.5", "minutes = -3", 17, "'minutes' must be above zero"),
        ("minutes = 1.5", "minutes = inf", 17, "'minutes' must be above zero"),
        ("minutes = 1.5", "minutes = nan", 17, "'minutes' must be above zero"),
        ("minutes = 1.5", 'minutes = "long"', 17, "'minutes' must be a number"),
        ("minutes = 1.5", "hours = 2, minutes = 3", 17, "unknown key 'hours'; the keys"),
        (", minutes = 1.5", "", 17, "step 2 wait has no 'minutes'"),
        ('timer = "soak"', 'timer = "2 hours"', 17, "'2 hours' cannot be listened for"),
        ('wait = { timer = "soak", minutes = 1.5 }', "wait = 5", 17, "'wait' must be a table"),
        ('expects = ["gap"', 'expects = ["lash"', 18, "the measure 'lash' is not known"),
        ('dimension = "length"', 'dimension = "size"', 24, "'dimension' is 'size' but must be"),
        (
            '[[measure]]\n',
            '[[measure]]\nname = "compression"\ndimension = "length"\n[[measure]]\n',
            24,
            "'compression' is measured in pressure",
        ),
        ('"left pin"', '"pin #1"', 19, "'pin #1' cannot be listened for"),
        ('after = ["make-safe"]', 'after = ["begin"]', 20, "'after' names 'begin', which is no"),
        ('after = ["make-safe"]', 'after = ["measure"]', 20, "'measure' and 'measure' wait for"),
        ('hangs = ["plug wire off", "chain off"]', "", 16, "nothing hangs the tag 'chain off'"),
        ('"wheel"]', '"Wheel"]', 28, "'Wheel' cannot be listened for"),
        ('name = "tire"', 'name = "Tire"', 27, "'Tire' must be in lower case"),
    ],
)  # fmt: skip
def test_a_wrong_card_is_refused_with_line_and_reason(tmp_path, was, becomes, line, reason):
    assert was in GOOD
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, GOOD.replace(was, becomes, 1))
    # What follows from a fault is told after it.
    message = str(refused.value).splitlines()[0]
    assert message.startswith(f"{tmp_path / 'card.toml'}:{line}: ")
    assert reason in message
    assert message.endswith(".")


def steps(*named: tuple[str, list[str]]) -> str:
    return 'name = "trial"\ntitle = "Trial"\n' + "".join(
        f'[[step]]\nname = "{name}"\nsay = "Do it."\nafter = {json.dumps(after)}\n'
        for name, after in named
    )


BRANCHING = """\
name = "trial"
title = "Trial"

[[step]]
name = "look"
say = "Look."
asks = "Is it wet?"
branch = [{ when = { answer = "affirm" }, to = "dry-it" }]

[[step]]
name = "measure"
say = "Call compression."
expects = ["compression"]
windows = [{ measure = "compression", unit = "psi", low = 60, high = 90 }]
tally = [{ point = "head bolt", count = 4 }]
parts = [{ name = "head gasket", count = 1 }]

[[step]]
name = "dry-it"
say = "Dry it."
needs = ["plug wire off"]
only_if = { part = "spark plug", found = ["wet"], step = "look" }

[[part]]
name = "head bolt"

[[condition]]
name = "wet"

[[tag]]
name = "chain off"
"""


@pytest.mark.parametrize(
    ("was", "becomes", "line", "reason"),
    [
        ('to = "dry-it"', 'to = "paint"', 8, "'to' names 'paint', which is no step"),
        ('to = "dry-it"', 'to = "look"', 8, "stands no later on the card: that goes in a ring"),
        ('answer = "affirm"', 'answer = "maybe"', 8, "'answer' is 'maybe' but must be one of"),
        ('when = { answer = "affirm" }', "when = {}", 8, "a condition needs one of 'answer'"),
        ('asks = "Is it wet?"\n', "", 7, "the step 'look' asks nothing"),
        ('asks = "Is it wet?"', 'asks = " "', 7, "'asks' is empty"),
        (
            'when = { answer = "affirm" }',
            'when = { measure = "lash", verdict = ["low"] }',
            8,
            "the measure 'lash' is not known",
        ),
        (
            'when = { answer = "affirm" }',
            'when = { measure = "compression" }',
            8,
            "a 'measure' needs its 'verdict'",
        ),
        ("low = 60, high = 90", "low = 90, high = 60", 14, "the window is upside down"),
        (", low = 60, high = 90", "", 14, "the window has neither 'low' nor 'high'"),
        ('unit = "psi"', 'unit = "thou"', 14, "'compression' takes a unit of pressure, not thou"),
        ('unit = "psi"', 'unit = "smoot"', 14, "'smoot' is no unit that a measure can have"),
        ('windows = [{ measure = "compression"', 'windows = [{ measure = "gap"', 14,
         "'gap' has a window but the step does not expect it"),
        ("count = 4", "count = 0", 15, "'count' must be above zero"),
        ("count = 1", "count = -1", 16, "'count' must be above zero"),
        ('needs = ["plug wire off"]', 'needs = ["chain off"]', 21, "nothing hangs the tag"),
        ('step = "look" }', 'step = "dry-it" }', 22, "which does not come before"),
        ('step = "look" }', 'step = "paint" }', 22, "'step' names 'paint', which is no step"),
        (
            'branch = [{ when = { answer = "affirm" }, to = "dry-it" }]',
            'branch = [{ when = { answer = "affirm" }, to = "dry-it" }, '
            '{ when = { answer = "negative" }, to = "dry-it" }]',
            10,
            "no way leads to the step 'measure'",
        ),
    ],
)  # fmt: skip
def test_a_wrong_branch_window_or_count_is_refused(tmp_path, was, becomes, line, reason):
    assert was in BRANCHING
    load_text(tmp_path, BRANCHING)
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, BRANCHING.replace(was, becomes, 1))
    message = str(refused.value)
    assert message.startswith(f"{tmp_path / 'card.toml'}:{line}: "), message
    assert reason in message, message


def test_steps_that_wait_for_each_other_in_a_ring_are_refused(tmp_path):
    text = steps(("first", ["third"]), ("second", ["first"]), ("third", ["second"]))
    with pytest.raises(
        CompanionError, match=r"card\.toml:6: 'first' and 'third' wait for each other"
    ):
        load_text(tmp_path, text)


def test_a_step_cannot_wait_for_one_that_stands_later(tmp_path):
    text = steps(("first", []), ("second", ["third"]), ("third", []))
    with pytest.raises(
        CompanionError, match=r"card\.toml:10: 'after' names 'third', which stands later"
    ):
        load_text(tmp_path, text)


@pytest.mark.parametrize(
    "tag",
    ["no oil", "plug wire off", "fuel off", "no fuel", "guard off", "belt off", "blocked up",
     "battery off"],
)  # fmt: skip
def test_tags_that_calls_hang_by_themselves_may_be_cleared_by_any_step(tmp_path, tag):
    text = steps(("first", [])) + f'clears = ["{tag}"]\n'
    assert load_text(tmp_path, text).step[0].clears == (tag,)


def test_a_tag_may_not_be_cleared_before_the_step_that_hangs_it(tmp_path):
    early = steps(("first", [])) + 'clears = ["chain off"]\n'
    late = '[[step]]\nname = "second"\nsay = "Off."\nhangs = ["chain off"]\n'
    late += '[[tag]]\nname = "chain off"\n'
    with pytest.raises(CompanionError, match=r"card\.toml:7: nothing hangs the tag 'chain off'"):
        load_text(tmp_path, early + late)


def test_a_card_without_steps_is_refused(tmp_path):
    with pytest.raises(CompanionError, match=r"card\.toml:1: the card has no \[\[step\]\]"):
        load_text(tmp_path, 'name = "trial"\ntitle = "Trial"\n')


def test_two_names_said_alike_are_refused(tmp_path):
    more = '[[part]]\nname = "rim"\nspoken = ["wheel"]\n'
    with pytest.raises(CompanionError, match=r"card\.toml:37: 'wheel' already means 'tire'"):
        load_text(tmp_path, GOOD + more)


def test_a_name_listed_twice_is_refused(tmp_path):
    with pytest.raises(CompanionError, match=r"card\.toml:36: the part 'tire' is listed twice"):
        load_text(tmp_path, GOOD + '[[part]]\nname = "tire"\n')


def test_all_faults_are_told_at_once_each_with_its_line(tmp_path):
    text = GOOD.replace('say = "Plug wire off."', 'say = ""').replace("1.5", "0")
    text = text.replace('expects = ["gap"', 'expects = ["lash"')
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, text)
    path = tmp_path / "card.toml"
    told = str(refused.value).splitlines()
    assert told[:2] == [f"{path}:6: 'say' is empty.", f"{path}:17: 'minutes' must be above zero."]
    assert told[2].startswith(f"{path}:18: the measure 'lash' is not known; ")
    assert len(told) == 3


def test_all_keys_and_types_that_are_wrong_are_told_at_once(tmp_path):
    text = GOOD.replace('title = "Trial"', "title = 7").replace("points =", "pionts =")
    text = text.replace('say = "Plug wire off."', 'speak = "Off."')
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, text)
    told = [line.split(": ", 1)[1] for line in str(refused.value).splitlines()]
    assert [each[:20] for each in told] == [
        "'title' must be text",
        "unknown key 'speak';",
        "unknown key 'pionts'",
    ]


def test_the_command_prints_every_fault_on_a_line_of_its_own(tmp_path, capsys):
    path = tmp_path / "card.toml"
    path.write_text(GOOD.replace('say = "Plug wire off."', 'say = ""').replace("1.5", "0"))
    assert main(["cards", str(path)]) == 1
    told = capsys.readouterr().err.splitlines()
    assert [line.rpartition(f"{path}:")[2] for line in told] == [
        "6: 'say' is empty.",
        "17: 'minutes' must be above zero.",
    ]


# --- what a card may name -----------------------------------------------------------------------

NAMING = """\
name = "trial"
title = "Trial"
fits = { cycles = ["four-stroke"], kinds = ["mower"] }

[[step]]
name = "belt-off"
say = "Belt off."
does = [{ action = "removed", part = "drive belt" }]
hangs = ["chain off"]
points = ["idler pulley"]
tally = [{ point = "frame bolt", count = 2 }]

[[step]]
name = "brake-test"
say = "Let the lever go."
asks = "Did it stop?"
finds = [{ answer = "negative", part = "brake", condition = "defective" }]
needs = ["chain off"]
branch = [{ when = { part = "brake", found = ["defective"] }, to = "belt-on" }]

[[step]]
name = "belt-on"
say = "Belt on."
does = [
  { action = "installed", part = "drive belt" },
  { action = "tightened", part = "frame bolt", count = 2 },
]
only_if = { listed = "drive belt" }
clears = ["chain off"]
parts = [{ name = "cotter pin" }]

[[part]]
name = "brake"
[[part]]
name = "idler pulley"
[[part]]
name = "frame bolt"
[[condition]]
name = "defective"
[[tag]]
name = "chain off"
"""


@pytest.mark.parametrize(
    ("was", "becomes", "line", "reason"),
    [
        ('hangs = ["chain off"]', 'hangs = ["plug wire of"]', 9,
         "the tag 'plug wire of' is not known; the nearest are plug wire off"),
        ('needs = ["chain off"]', 'needs = ["guards off"]', 18,
         "the tag 'guards off' is not known; the nearest are guard off"),
        ('clears = ["chain off"]', 'clears = ["chains off"]', 29,
         "the tag 'chains off' is not known; the nearest are chain off"),
        ('points = ["idler pulley"]', 'points = ["idler puley"]', 10,
         "the part 'idler puley' is not known; the nearest is idler pulley"),
        ('point = "frame bolt"', 'point = "handle bolt"', 11,
         "the part 'handle bolt' is not known; the nearest"),
        ('"removed", part = "drive belt"', '"removed", part = "reverse belt"', 8,
         "the part 'reverse belt' is not known; the nearest are drive belt, frame bolt; list it"),
        ('"removed"', '"took off"', 8, "the work 'took off' is not known; the work that is called"),
        ('"removed"', '"raised"', 8, "'raised' is said of machine, not of 'drive belt'"),
        ("bolt\", count = 2 }", "bolt\", count = 0 }", 11, "'count' must be above zero"),
        ('asks = "Did it stop?"\n', "", 16, "an answer means nothing where nothing is asked"),
        ('part = "brake", condition', 'part = "break", condition', 17,
         "the part 'break' is not known; the nearest is brake"),
        ('condition = "defective" }', 'condition = "defect" }', 17,
         "the condition 'defect' is not known; the nearest is defective"),
        ('when = { part = "brake"', 'when = { part = "brakes"', 19, "the part 'brakes' is not"),
        ('found = ["defective"]', 'found = ["wrong"]', 19, "the condition 'wrong' is not known"),
        ('listed = "drive belt"', 'listed = "belt 2"', 28, "'belt 2' cannot be listened for"),
        ('cycles = ["four-stroke"]', 'cycles = ["diesel"]', 3, "'cycles' is 'diesel' but must be"),
        ('kinds = ["mower"]', 'kinds = ["Mower"]', 3, "'Mower' must be lower-case words"),
        ('kinds = ["mower"]', 'kinds = ["mower", "mower"]', 3, "'mower' is listed twice"),
        ('name = "idler pulley"', 'name = "brake"', 35, "the part 'brake' is listed twice"),
    ],
)  # fmt: skip
def test_what_a_card_names_must_be_known(tmp_path, was, becomes, line, reason):
    load_text(tmp_path, NAMING)
    assert was in NAMING
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, NAMING.replace(was, becomes, 1))
    assert f"{tmp_path / 'card.toml'}:{line}: {reason}" in str(refused.value)


def test_the_work_that_a_step_may_do_is_the_work_that_can_be_called():
    assert actions()["raised"] == {"machine"}
    assert {"disconnected", "connected", "installed"} <= set(actions())
    assert actions()["tightened"] == frozenset()
    assert "added" not in actions()
    grammar = load_grammar()
    for action, said_of in actions().items():
        for part in said_of or {"spark plug", "drive belt"}:
            calls = [f"{action} {part}".split(), f"hooked up {part}".split()]
            assert any(grammar.parse(words) for words in calls), (action, part)


def test_a_file_that_is_not_text_is_refused(tmp_path):
    path = tmp_path / "card.toml"
    path.write_bytes(b'name = "trial"\ntitle = "caf\xe9"\n')
    with pytest.raises(CompanionError, match=r"card\.toml:2: not UTF-8 text"):
        load_card(path)


def test_a_file_that_ends_too_early_is_refused(tmp_path):
    with pytest.raises(CompanionError, match=r"card\.toml:2: not valid TOML"):
        load_text(tmp_path, 'name = "trial"\ntitle = [')


@pytest.mark.parametrize("opened", ['title = "Trial', "title = 'Trial", 'title = """x'])
def test_what_is_never_closed_is_told_on_the_line_that_opens_it(tmp_path, opened):
    with pytest.raises(CompanionError, match=r"card\.toml:2: not valid TOML"):
        load_text(tmp_path, GOOD.replace('title = "Trial"', opened))


def test_byte_order_mark_and_other_line_ends_are_read(tmp_path):
    path = tmp_path / "card.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_card(path) == load_text(tmp_path, GOOD)


def test_a_card_that_is_not_there_names_those_that_are(tmp_path):
    with pytest.raises(
        CompanionError, match=r"There is no job card 'nowhere'; .*four-stroke-service"
    ):
        load_card("nowhere")
    with pytest.raises(CompanionError, match="is a folder, not a job card"):
        load_card(tmp_path)


# --- the shipped ones ---------------------------------------------------------------------------


def test_cards_are_shipped():
    assert {
        "blade-service",
        "chipper-service",
        "drive-service",
        "four-stroke-service",
        "generator-load-check",
        "no-start-diagnosis",
        "pressure-washer-service",
        "season-lay-up",
        "two-stroke-service",
    } <= set(shipped_cards())


@pytest.mark.parametrize("name", shipped_cards())
def test_a_shipped_card_loads_and_says_that_it_is_invented(name):
    card = load_card(name)
    assert card.name == name
    assert card.invented
    first_comment = (CARDS / f"{name}.toml").read_text(encoding="utf-8").split("\n\n")[0]
    assert first_comment.startswith("#")
    assert "Invented" in first_comment


@pytest.mark.parametrize("name", shipped_cards())
def test_a_shipped_card_survives_the_log(name):
    card = load_card(name)
    assert JobCard.model_validate(json.loads(json.dumps(card.model_dump(mode="json")))) == card


@pytest.mark.parametrize("name", shipped_cards())
def test_what_a_shipped_card_says_takes_less_than_eight_seconds(name):
    # 170 words a minute is the usual rate of the voice: eight seconds are 22 words.
    for step in load_card(name).step:
        for text in (step.say, *step.cautions):
            assert len(text.split()) <= 22, text


@pytest.mark.parametrize("name", shipped_cards())
def test_a_shipped_card_fits_the_schema(name):
    schema = card_schema()
    Draft202012Validator.check_schema(schema)
    data = tomllib.loads((CARDS / f"{name}.toml").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(data)


def test_the_schema_refuses_what_the_loader_refuses():
    validator = Draft202012Validator(card_schema())
    assert not validator.is_valid({"name": "trial"})
    assert not validator.is_valid({"name": "trial", "title": "Trial", "titel": "Trial"})
