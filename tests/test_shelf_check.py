"""What is asked about on a card or sheet though nothing is wrong: figures far from the usual, a
service that never counts, a name that card and sheet write in two ways; and a folder of one's
own."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.cli import main
from companion.files.data import DATA_VARIABLE
from companion.job.fits import fits
from companion.shelf.check import check_card, check_sheet
from companion.shelf.listed import listed_cards, listed_sheets
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.shelf.together import card_and_sheet
from tests.conftest import Run

HEAD = 'name = "Trial tiller"\nkind = "tiller"\n'
CARD_HEAD = 'name = "trial"\ntitle = "Trial"\n'


def asked(tmp_path: Path, text: str) -> tuple[str, ...]:
    """What is asked about on a sheet in which nothing is wrong; without the name of its file."""
    path = tmp_path / "own.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    found = check_sheet(path)
    assert found.faults == ()
    assert found.read is not None
    return tuple(each.removeprefix(f"{path}:") for each in found.asked)


def reading(measure: str, unit: str, low: str) -> str:
    return f'[[reading]]\nmeasure = "{measure}"\nunit = "{unit}"\nlow = {low}\n'


# --- figures far from the usual -------------------------------------------------------------------


def test_a_gap_of_28_inches_is_asked_about_with_the_usual_and_its_source(tmp_path: Path) -> None:
    assert asked(tmp_path, reading("gap", "inch", "28")) == (
        "6: 'low' is 28 in, far from the usual of gap, 0.015 to 0.06 in (common practice); is the "
        "unit or the decimal point right?",
    )
    assert asked(tmp_path, reading("gap", "inch", "0.028")) == ()


@pytest.mark.parametrize(
    ("measure", "unit", "usual", "odd"),
    [
        ("intake clearance", "millimeter", "0.1", "4"),
        ("valve lash", "thou", "5", "0.1"),
        ("coil gap", "thou", "12", "0.3"),
        ("plug gap", "millimeter", "0.7", "0.028"),
        ("play", "inch", "0.02", "20"),
        ("compression", "psi", "90", "900"),
        ("compression", "bar", "8", "90"),
        ("pump pressure", "bar", "180", "1800"),
        ("idle speed", "rpm", "1800", "180"),
        ("engine speed", "rpm", "3600", "36000"),
        ("battery", "volt", "12.6", "126"),
        ("coil resistance", "kilohm", "2.5", "2500"),
        ("leak down", "percent", "20", "200"),
        ("output frequency", "hertz", "60", "6"),
        ("oil temperature", "celsius", "90", "9000"),
        ("air temperature", "fahrenheit", "70", "700"),
        ("belt deflection", "inch", "0.5", "5"),
        ("knife width", "meter", "0.07", "70"),
        ("left bolt tightness", "foot pound", "20", "20000"),
        ("intake clearance of cylinder two", "thou", "5", "500"),
    ],
)  # fmt: skip
def test_each_kind_of_figure_has_a_usual_range(
    tmp_path: Path, measure: str, unit: str, usual: str, odd: str
) -> None:
    bare = measure.replace(" of cylinder two", "")
    assert asked(tmp_path, reading(bare, unit, usual)) == ()
    (question,) = asked(tmp_path, reading(bare, unit, odd))
    assert question.startswith(f"6: 'low' is {odd} ")
    assert "(common practice)" in question


@pytest.mark.parametrize(
    ("text", "figure"),
    [
        ('[[fluid]]\nname = "oil"\ncapacity = 600\nunit = "liter"\n', "'capacity' is 600 L"),
        ('[[fluid]]\nname = "oil"\ncapacity = 200\nunit = "oz"\n', "'capacity' is 200 fl oz"),
        ('[[fluid]]\nname = "engine oil"\ncapacity = 2\nunit = "ml"\n', "'capacity' is 2 mL"),
        ('[[fluid]]\nname = "fuel"\nmix = 5\n', "'mix' is 5,"),
        ('[[torque]]\nfastener = "plug"\nunit = "foot pound"\nlow = 150\n', "'low' is 150 ft"),
        ('[[torque]]\nfastener = "head bolt"\nunit = "foot pound"\nthread = "M8x1.25"\n'
         'low = 17\nhigh = 200\n', "'high' is 200 ft"),
        ('[[torque]]\nfastener = "deck bolt"\nunit = "N·m"\nthread = "1/4-20"\nlow = 90\n',
         "'low' is 90 N"),
        ('[[tire]]\nname = "tire"\nlow = 150\n', "'low' is 150 psi"),
        ('[[belt]]\nname = "drive belt"\nhigh = 12\n', "'high' is 12 in"),
        ("[battery]\nvolts = 1200\n", "'volts' is 1200 V"),
        ("[battery]\nvolts = 12\nampere_hours = 9000\n", "'ampere_hours' is 9000,"),
        ('[[service]]\nitem = "air filter"\nwork = "clean"\nhours = 25000\n', "'hours' is 25000 h"),
        ('[[service]]\nitem = "air filter"\nwork = "clean"\nmonths = 600\n', "'months' is 600,"),
    ],
)  # fmt: skip
def test_every_table_of_a_sheet_is_asked_about(tmp_path: Path, text: str, figure: str) -> None:
    (question,) = asked(tmp_path, text)
    assert figure in question
    assert question.endswith("; is the unit or the decimal point right?")


def test_the_windows_and_timers_of_a_card_are_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        f'{CARD_HEAD}[[step]]\nname = "look"\nsay = "Look."\nexpects = ["gap"]\n'
        'windows = [{ measure = "gap", unit = "inch", low = 28 }]\n'
        'wait = { timer = "soak", minutes = 6000 }\n'
    )
    found = check_card(path)
    assert found.faults == ()
    assert [each.split(", far")[0] for each in found.asked] == [
        f"{path}:7: 'low' is 28 in",
        f"{path}:8: 'minutes' is 6000 min",
    ]


@pytest.mark.parametrize("name", shipped_sheets())
def test_nothing_is_asked_of_a_shipped_sheet(name: str) -> None:
    assert check_sheet(name).asked == ()


@pytest.mark.parametrize("name", shipped_cards())
def test_nothing_is_asked_of_a_shipped_card(name: str) -> None:
    assert check_card(name).asked == ()


# --- what never counts, and what is not invented --------------------------------------------------


def test_a_service_that_no_call_can_do_is_told(tmp_path: Path) -> None:
    service = '[[service]]\nitem = "tiller"\nwork = "run for half an hour"\nmonths = 1\n'
    (question,) = asked(tmp_path, service)
    assert question.startswith("5: no call says that 'run for half an hour' was done to 'tiller'")
    change = (
        '[[fluid]]\nname = "engine oil"\n[[service]]\nitem = "oil"\nwork = "change"\nhours = 50\n'
    )
    assert asked(tmp_path, change) == ()


def test_a_sheet_of_ones_own_that_is_a_copy_still_says_invented(tmp_path: Path) -> None:
    assert asked(tmp_path, "invented = true\n") == (
        "3: 'invented' stamps every page of this machine as invented data; leave it out for a "
        "machine that there is",
    )


# --- card and sheet together ----------------------------------------------------------------------


def together(tmp_path: Path, card: str, sheet: str) -> tuple[str, ...]:
    (tmp_path / "card.toml").write_text(CARD_HEAD + card)
    (tmp_path / "sheet.toml").write_text(HEAD + sheet)
    return card_and_sheet(load_card(tmp_path / "card.toml"), load_sheet(tmp_path / "sheet.toml"))


STEP = '[[step]]\nname = "look"\nsay = "Look."\n'


def test_a_measure_that_the_sheet_lacks_is_told_once(tmp_path: Path) -> None:
    more = STEP.replace("look", "again")
    card = f'{STEP}expects = ["compression", "gap"]\n{more}expects = ["compression"]\n'
    assert together(tmp_path, card, reading("gap", "thou", "28")) == (
        "The sheet has no figure for what the card measures: compression. What is called is kept, "
        "and nobody can say whether it is right.",
    )
    assert (
        together(tmp_path, card, reading("gap", "thou", "28") + reading("compression", "psi", "90"))
        == ()
    )


def test_a_measure_by_another_name_is_told_with_the_nearest(tmp_path: Path) -> None:
    card = f'{STEP}expects = ["gap"]\n'
    (told,) = together(tmp_path, card, reading("plug gap", "thou", "28"))
    assert "measures 'gap' in step 'look'" in told
    assert "the nearest that it has is 'plug gap'" in told
    card = f'{STEP}expects = ["crankcase pressure"]\n[[measure]]\nname = "crankcase pressure"\n'
    card += 'dimension = "pressure"\n'
    (told,) = together(tmp_path, card, reading("crank case pressure", "psi", "6"))
    assert "the nearest that it has is 'crank case pressure'" in told


def test_a_window_of_the_card_stands_for_the_figure_of_the_sheet(tmp_path: Path) -> None:
    card = f'{STEP}expects = ["gap"]\nwindows = [{{ measure = "gap", unit = "thou", low = 28 }}]\n'
    assert together(tmp_path, card, "") == ()


def test_a_step_that_is_passed_over_for_a_name_is_told(tmp_path: Path) -> None:
    card = f'{STEP}only_if = {{ listed = "drive belt" }}\n'
    (told,) = together(tmp_path, card, '[[belt]]\nname = "main drive belt"\n')
    assert "lists 'drive belt'; this one lists 'main drive belt'" in told
    assert together(tmp_path, card, '[[belt]]\nname = "drive belt"\n') == ()
    assert together(tmp_path, card, "") == ()


def test_a_fluid_by_another_name_is_told(tmp_path: Path) -> None:
    card = f'{STEP}[[fluid]]\nname = "engine oil"\n'
    (told,) = together(tmp_path, card, '[[fluid]]\nname = "oil"\n')
    assert "moves 'engine oil'; the sheet calls a fluid 'oil'" in told
    assert (
        together(tmp_path, card, '[[fluid]]\nname = "oil"\nspoken = ["oil", "engine oil"]\n') == ()
    )


def test_a_shipped_card_offers_no_other_name_on_a_shipped_sheet_that_it_fits() -> None:
    for sheet in map(load_sheet, shipped_sheets()):
        for card in map(load_card, shipped_cards()):
            if fits(card, sheet):
                told = card_and_sheet(card, sheet)
                assert [each for each in told if "nearest" in each or "one name" in each] == []


def test_work_asks_once_at_the_start_and_refuses_nothing(companion: Run, tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(HEAD + reading("gap", "inch", "28"))
    (tmp_path / "card.toml").write_text(f'{CARD_HEAD}{STEP}expects = ["compression"]\n')
    ran = companion(
        "work", "--typed", "--out", "job", "--machine", "own.toml", "--job", "card.toml",
        typed="roger\n",
    )  # fmt: skip
    assert ran.returncode == 0
    assert ran.stderr.count("'low' is 28 in, far from the usual of gap, 0.015 to 0.06 in") == 1
    assert ran.stderr.count("no figure for what the card measures: compression") == 1


# --- a folder of one's own ------------------------------------------------------------------------

BROKEN = (
    "name = Trial\n",
    'name = "a"\n',
    'name = "a"\nkind = "b"\nlow = .028\n',
    "[[[\n",
    'name = """\n',
    'name = "a"\nkind = "b"\n[[reading]]\nmeasure = "gap"\nunit = "psi"\n',
    'name = "a"\nkind = "b"\n[[fluid]]\nname = "oil"\ncapacity = 2\n',
    'name = "a"\nkind = "b"\n[[service]]\nitem = "oil"\nwork = "change"\n',
    'name = "a"\nkind = "b"\n[[reading]]\nmesure = "gap"\n[[parts]]\nname = "x 1"\n',
    "\0",
)


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of one's own, with folders for sheets and cards."""
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    (tmp_path / "sheets").mkdir()
    (tmp_path / "cards").mkdir()
    return tmp_path


def test_ten_broken_files_are_all_listed_and_the_good_ones_read(own: Path) -> None:
    for number, text in enumerate(BROKEN):
        (own / "sheets" / f"broken-{number}.toml").write_text(text)
        (own / "sheets" / f"good-{number}.toml").write_text(HEAD)
    found = [each for each in listed_sheets() if each.own]
    assert [bool(each.faults) for each in found] == [True] * 10 + [False] * 10
    for each in found[:10]:
        assert each.table is None
        assert all(fault.startswith(f"{each.path}:") for fault in each.faults)
    assert len(found[8].faults) >= 3
    assert [each.table.name for each in found[10:] if each.table] == ["Trial tiller"] * 10
    assert [each.name for each in listed_sheets() if not each.own] == [*shipped_sheets()]


def test_cards_of_a_folder_too_and_a_folder_among_them(own: Path) -> None:
    (own / "cards" / "a.toml").write_text(CARD_HEAD)
    (own / "cards" / "b.toml").write_text(CARD_HEAD + STEP)
    (own / "cards" / "c.toml").mkdir()
    first, second, third = (each for each in listed_cards() if each.own)
    assert first.faults == (f"{first.path}:1: the card has no [[step]].",)
    assert second.table is not None
    assert len(third.faults) == 1


def test_the_check_tells_every_fault_and_every_question(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (own / "sheets" / "broken.toml").write_text(f'{HEAD}[[parts]]\nname = "x 1"\n')
    (own / "sheets" / "odd.toml").write_text(HEAD + reading("gap", "inch", "28"))
    assert main(["check", "broken", "odd"]) == 1
    told = capsys.readouterr().out
    assert "broken.toml:3: unknown key 'parts'" in told
    assert "broken.toml:4: 'x 1' cannot be listened for" in told
    assert "odd.toml:6: 'low' is 28 in, far from the usual of gap" in told
    assert told.endswith("1 passes, 1 of them with questions, 1 with faults.\n")
    assert main(["check", "odd"]) == 0
