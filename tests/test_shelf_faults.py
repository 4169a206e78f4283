"""A sheet or card with many faults: all are told at once, each with its line, what is allowed and
the nearest name, and whatever a typed call takes is taken in the file too."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.handbook.unit_table import MEASURE_DIMENSIONS, UNITS
from companion.job.card import JobCard
from companion.job.sheet import SpecSheet
from companion.shelf.fault import WrongFile
from companion.shelf.figures import number_as_written
from companion.shelf.load import load_card, load_sheet


def sheet_of(tmp_path: Path, text: str) -> SpecSheet:
    path = tmp_path / "own.toml"
    path.write_text('name = "Trial tiller"\nkind = "tiller"\n' + text, encoding="utf-8")
    return load_sheet(path)


def card_of(tmp_path: Path, text: str) -> JobCard:
    path = tmp_path / "own.toml"
    path.write_text('name = "trial"\ntitle = "Trial"\n' + text, encoding="utf-8")
    return load_card(path)


def faults_of(tmp_path: Path, text: str, read: object = sheet_of) -> list[tuple[int, str]]:
    with pytest.raises(WrongFile) as refused:
        read(tmp_path, text)  # type: ignore[operator]
    return list(refused.value.faults)


# --- all at once ----------------------------------------------------------------------------------

SHEET = """\
invented = yes

[identification]
cycel = "four-stroke"

[[readings]]
measure = "gap"
unit = "inches"
low = .028
high = 0,031

[[reading]]
mesure = "intake clearance"
unit = "milimeter"
low = 0.1 mm

[[fluid]]
name = "oil"
capcity = 20
unit = "oz"

[[torque]]
fastener = "head bolt"
unit = "ft-lb"
low = 20
high = 17
grade = "class 8.9"

[[service]]
item = "engine oli"
work = "change"
hours = "fifty"

[[part]]
name = "Tine"
"""


def test_faults_of_every_sort_are_told_in_one_reading(tmp_path: Path) -> None:
    told = faults_of(tmp_path, SHEET)
    assert [(line, reason[:40]) for line, reason in told] == [
        (3, "not valid TOML: write invented = true"),
        (11, "not valid TOML: '.028' stands in quotes,"),
        (12, "not valid TOML: '0,031' stands in quotes"),
        (17, "not valid TOML: the figure stands alone,"),
        (6, "unknown key 'cycel'; the keys here are m"),
        (8, "unknown key 'readings'; the keys here ar"),
        (15, "unknown key 'mesure'; the keys here are "),
        (16, "'milimeter' is no unit that a measure ca"),
        (21, "unknown key 'capcity'; the keys here are"),
        (27, "the window is upside down: low is 20 and"),
        (29, "'class 8.9' is no grade of a fastener; t"),
        (32, "the service item 'engine oli' is not kno"),
        (34, "'hours' must be a number: 0.028, or in q"),
        (37, "'Tine' must be in lower case with single"),
    ]


CARD = """\
[[steps]]
name = "make-safe"
say = "Plug wire off."
wait = { timer = "soak", minutes = .5, sound = 1 }

[[steps]]
name = "measure"
sya = "Call gap."
expects = ["gapp"]
after = ["make-saf"]
engine = "stoped"
does = [
  { action = removed, part = "drain plug" },
  { action = "removd", part = "drain plg" },
]
"""


def test_a_card_tells_them_too(tmp_path: Path) -> None:
    told = faults_of(tmp_path, CARD, card_of)
    assert [(line, reason[:40]) for line, reason in told] == [
        (6, "not valid TOML: '.5' stands in quotes, o"),
        (15, "not valid TOML: text stands in quotes: a"),
        (3, "unknown key 'steps'; the keys here are n"),
        (6, "unknown key 'sound'; the keys here are t"),
        (10, "unknown key 'sya'; the keys here are nam"),
        (11, "the measure 'gapp' is not known; the nea"),
        (12, "'after' names 'make-saf', which is no st"),
        (13, "'engine' is 'stoped' but must be one of "),
        (16, "the work 'removd' is not known; the near"),
    ]


@pytest.mark.parametrize(
    ("text", "nearest"),
    [
         ('[[fluid]]\nname = "oil"\ncapacty = 3\nunit = "pint"\n',
         "the nearest is capacity"),
        ('[[reading]]\nmeasure = "gap"\nunit = "inchs"\n', "the nearest is inch"),
        ('[[tire]]\nname = "tire"\nunit = "pis"\n', "the nearest is psi"),
        ('[identification]\ncycle = "for-stroke"\n', "the nearest is four-stroke"),
        ('[[torque]]\nfastener = "head bolt"\nunit = "foot pound"\ngrade = "grad 5"\n',
         "the nearest are grade 5"),
        ('[[fluid]]\nname = "oil"\ncheck = "dip stick"\n', "the nearest is dipstick"),
    ],
)  # fmt: skip
def test_the_nearest_name_is_offered(tmp_path: Path, text: str, nearest: str) -> None:
    (fault,) = faults_of(tmp_path, text)
    assert nearest in fault[1]


def test_the_nearest_step_and_sheet_are_offered(tmp_path: Path) -> None:
    step = '[[step]]\nname = "look"\nsay = "Look."\n[[step]]\nname = "b"\nsay = "B."\n'
    (fault,) = faults_of(tmp_path, f'{step}after = ["lok"]\n', card_of)
    assert fault[1].endswith("which is no step of this card; the nearest is look")
    with pytest.raises(CompanionError, match=r"; the nearest is quillmoor-tiller\.$"):
        load_sheet("quilmoor-tiller")


def test_what_follows_from_a_fault_is_not_told_beside_it(tmp_path: Path) -> None:
    """A name that cannot be read leaves all that refers to it without one."""
    text = '[[step]]\nnaem = "look"\nsay = "Look."\n[[step]]\nname = "b"\nsay = "B."\n'
    told = faults_of(tmp_path, f'{text}after = ["look"]\n', card_of)
    assert [line for line, _ in told] == [4]
    text = '[[reading]]\nmeasure = gap\nunit = "thou"\n[[service]]\nitem = "gap"\nwork = "check"\n'
    assert [line for line, _ in faults_of(tmp_path, f"{text}months = 3\n")] == [4]


def test_a_table_for_a_list_of_tables_says_how_it_is_written(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, '[reading]\nmeasure = "gap"\nunit = "thou"\n')
    assert fault == (
        3,
        "'reading' must be a list in square brackets: write [[reading]] for [reading]",
    )


def test_more_than_a_screen_of_faults_is_kept_whole(tmp_path: Path) -> None:
    many = "".join(f'[[part]]\nname = "Part {number}"\n' for number in range(30))
    with pytest.raises(
        WrongFile, match=r"own\.toml: 10 more are wrong; mend these first\.$"
    ) as all_:
        sheet_of(tmp_path, many)
    assert len(all_.value.told) == 30


# --- as people write it ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "name"),
    [(form, unit.name) for unit in UNITS.values() if unit.dimension in MEASURE_DIMENSIONS
     for form in (*unit.typed, unit.symbol, unit.plural.title(), unit.name.upper())],
)  # fmt: skip
def test_every_way_to_type_a_unit_is_taken(tmp_path: Path, written: str, name: str) -> None:
    unit = UNITS[name]
    quoted = written.replace('"', '\\"')
    sheet = sheet_of(tmp_path, f'[[reading]]\nmeasure = "own figure"\nunit = "{quoted}"\nlow = 1\n')
    found = UNITS[sheet.reading[0].unit]
    assert (found.dimension, found.definition) == (unit.dimension, unit.definition)


@pytest.mark.parametrize("written", ["oz", "ounces", "OZ", "fl oz", "fluid ounces", "ounce"])
def test_an_ounce_of_a_fluid_is_one_of_volume(tmp_path: Path, written: str) -> None:
    sheet = sheet_of(tmp_path, f'[[fluid]]\nname = "oil"\ncapacity = 20\nunit = "{written}"\n')
    assert sheet.fluid[0].unit == "ounce"


def test_torques_tires_belts_and_ranges_take_them_as_well(tmp_path: Path) -> None:
    sheet = sheet_of(
        tmp_path,
        '[[torque]]\nfastener = "head bolt"\nunit = "foot pounds"\nlow = "17 1/2"\n'
        '[[tire]]\nname = "tire"\nunit = "PSI"\nlow = "15"\n'
        '[[belt]]\nname = "drive belt"\nunit = "\\""\nlow = "3/8"\nhigh = "½"\n'
        '[[fluid]]\nname = "oil"\n[[fluid.grades]]\ngrade = "SAE 30"\nunit = "°F"\nlow = "-4"\n'
        '[identification]\ncycle = "4 Stroke"\n',
    )
    assert (sheet.torque[0].unit, sheet.torque[0].low) == ("foot pound", Decimal("17.5"))
    assert (sheet.tire[0].unit, sheet.tire[0].low) == ("psi", 15)
    assert (sheet.belt[0].unit, sheet.belt[0].low) == ("inch", Decimal("0.375"))
    assert sheet.belt[0].high == Decimal("0.5")
    assert (sheet.fluid[0].grades[0].unit, sheet.fluid[0].grades[0].low) == ("fahrenheit", -4)
    assert sheet.identification.cycle == "four-stroke"


def test_a_card_takes_them_as_well(tmp_path: Path) -> None:
    card = card_of(
        tmp_path,
        '[[step]]\nname = "look"\nsay = "Look."\nexpects = ["gap"]\n'
        'windows = [{ measure = "gap", unit = "Inches", low = ".028", high = "0,031" }]\n'
        'wait = { timer = "soak", minutes = "1,5" }\n',
    )
    window = card.step[0].windows[0]
    assert (window.unit, str(window.low), str(window.high)) == ("inch", "0.028", "0.031")
    assert card.step[0].wait is not None
    assert card.step[0].wait.minutes == 1.5


@pytest.mark.parametrize(
    ("written", "value"),
    [
        (".028", "0.028"), ("0,028", "0.028"), (",028", "0.028"), ("12,5", "12.5"),
        ("3,600", "3600"), ("3,600.5", "3600.5"), ("1,234,567", "1234567"), ("5 3/8", "5.375"),
        ("5-3/8", "5.375"), ("5½", "5.5"), ("-5", "-5"), ("−5", "-5"), (" 7 ", "7"),
        ("1.50", "1.50"),
    ],
)  # fmt: skip
def test_numbers_are_taken_as_they_are_written(written: str, value: str) -> None:
    assert str(number_as_written(written)) == value


@pytest.mark.parametrize(
    "written",
    ["", "five", "1/3", "3/7", "1/0", "3.650,5", "28-31", "1 20", "1.2.3", "5 in", "1e3", "٣",
     "1,23,456", "9" * 500],
)  # fmt: skip
def test_what_is_not_plainly_a_number_is_not_taken(written: str) -> None:
    assert number_as_written(written) is None


@pytest.mark.parametrize(
    ("line", "instead"),
    [
        ("low = .028", "'.028' stands in quotes, or as TOML has it: low = 0.028"),
        ("low = 0,028", "'0,028' stands in quotes, or as TOML has it: low = 0.028"),
        ("low = 3/8 # of an inch", "'3/8' stands in quotes, or as TOML has it: low = 0.375"),
        ("low = 5 3/8", "'5 3/8' stands in quotes, or as TOML has it: low = 5.375"),
        ("low = 28 thou", 'low = 28, and its unit on a line of its own, unit = "thou"'),
        ('low = .028"', 'low = 0.028, and its unit on a line of its own, unit = "inch"'),
        ("source = maker", 'text stands in quotes: source = "maker"'),
        ("engine = Cold", 'text stands in quotes: engine = "Cold"'),
        ("only_grows = True", "write only_grows = true"),
        ("low = 28;", "write low = 28"),
        ("low: 28", "write low = 28"),
        ("low 28", "write low = 28"),
        ("low = 28-31", "two figures stand on two lines, low = 28 and high = 31"),
        ("low = .028 to .031", "two figures stand on two lines, low = 0.028 and high = 0.031"),
        ("condition = “no load”", 'quotation marks must be straight: condition = "no load"'),
        ('condition = "no load', 'the text is not closed: condition = "no load"'),
    ],
)
def test_what_toml_does_not_take_is_told_with_what_to_write(
    tmp_path: Path, line: str, instead: str
) -> None:
    told = faults_of(tmp_path, f'[[reading]]\nmeasure = "gap"\nunit = "inch"\n{line}\n')
    assert len(told) == 1
    assert told[0][0] == 6
    assert told[0][1].startswith("not valid TOML: ")
    assert told[0][1].endswith(instead)


@pytest.mark.parametrize(
    ("text", "line", "reason"),
    [
        ('[[part]\nname = "tine"\n', 3, "not valid TOML: write [[part]]"),
        ('[part]\nname = "tine"\n[part]\nname = "pin"\n', 5,
         "not valid TOML: write [[part]] before each part, not [part]"),
        ('[[part]]\nname = "tine"\nspoken = [\n  "tine",\n  tiller tine,\n]\n', 7,
         'not valid TOML: text stands in quotes: "tiller tine"'),
        ('[[part]]\nname = "tine"\nname = "pin"\n', 5,
         "not valid TOML: cannot overwrite a value: 'name' stands twice, leave one out"),
        ('[[fluid]]\nname = "oil"\nunit = "oz"\ncapacity = "20 oz"\n', 6,
         "'capacity' must be a number: the figure stands alone, capacity = 20, and its unit on a "
         'line of its own, unit = "oz"'),
        ('[identification]\nserial = 12345\n', 4, "'serial' must be text in quotes: \"12345\""),
    ],
)  # fmt: skip
def test_a_usual_slip_is_told_alone(tmp_path: Path, text: str, line: int, reason: str) -> None:
    assert faults_of(tmp_path, text) == [(line, reason)]


def test_keys_under_a_misspelt_key_are_told_with_their_own_nearest(tmp_path: Path) -> None:
    told = faults_of(tmp_path, '[[Reading]]\nMeasure = "gap"\nUnit = "thou"\nLow = 28\nHihg = 31\n')
    assert [(line, reason.rpartition("; ")[2]) for line, reason in told] == [
        (3, "the nearest is reading"),
        (4, "the nearest is measure"),
        (5, "the nearest is unit"),
        (6, "the nearest is low"),
        (7, "the nearest is high"),
    ]
