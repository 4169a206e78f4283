"""A sheet or card of one's own: made in a minute, right at once, found by its name."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.blanks.card_text import CardAnswers, card_text
from companion.blanks.interview import kind_of
from companion.blanks.kinds import CYCLES, KINDS
from companion.blanks.known import Known, KnownFluid, KnownReading, known_of
from companion.blanks.sheet_text import SheetAnswers, sheet_text
from companion.cli import main
from companion.errors import WrongUse
from companion.job.card import CardStep, JobCard
from companion.job.sheet import SpecFluid, SpecReading, SpecSheet, SpecTorque
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from tests.conftest import Run, one_sentence
from tests.terminal import Terminal

READY = re.compile(r"^(\s*)#(?=[a-z_]+ = |\{ )")
"""Before a line that stands ready."""

STEPS = (
    "Blade off.",
    "Sharpen it, call gap and battery.",
    "Balance it. Does it hang level?",
    "Call engine hours.",
    "Fit 2 new plugs",
)


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty data folder."""
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", os.devnull)
    return tmp_path / "data"


def ready_lines(text: str) -> list[int]:
    return [place for place, line in enumerate(text.split("\n")) if READY.match(line)]


def put_to_use(text: str, places: Sequence[int]) -> str:
    """The text without the "#" of these lines."""
    lines = text.split("\n")
    for place in places:
        lines[place] = READY.sub(r"\1", lines[place])
    return "\n".join(lines)


def remarks(text: str) -> Iterator[str]:
    """What no line that stands ready is, and begins with "#" all the same."""
    for line in text.split("\n"):
        if line.lstrip().startswith("#") and not READY.match(line):
            yield line


# --- what it writes -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", KINDS)
def test_a_sheet_of_every_kind_passes_with_any_line_that_stands_ready(
    name: str, tmp_path: Path
) -> None:
    kind = KINDS[name]
    path = tmp_path / "sheet.toml"
    system = "metric" if kind.cycle == "two-stroke" else "inches"
    for blank in (False, True):
        text = sheet_text(SheetAnswers("Ours", kind, kind.cycle, system, True, blank=blank))
        assert all(line.startswith("# ") for line in remarks(text)), "nothing else is commented out"
        places = ready_lines(text)
        assert len(places) > 20
        for put in ([], *([place] for place in places), places):
            path.write_text(put_to_use(text, put), encoding="utf-8")
            load_sheet(path)


@given(
    st.builds(
        SheetAnswers,
        name=st.sampled_from(["Ours", 'The "old" one\\', "Motobłok №5"]),
        kind=st.sampled_from([*KINDS.values(), kind_of("log splitter, horizontal")]),
        cycle=st.sampled_from([*CYCLES, None]),
        system=st.sampled_from(["inches", "metric"]),
        battery=st.booleans(),
        known=st.lists(
            st.sampled_from(
                [
                    KnownReading("gap", "thou", Decimal(28), Decimal(31)),
                    KnownReading("leak down", "percent", None, Decimal(20)),
                    KnownReading("blade height", "inch", Decimal("1.5"), None),
                    KnownReading("head bolt torque", "foot pound", Decimal(17), Decimal(20)),
                    KnownReading("front tire pressure", "psi", Decimal(10), Decimal(14)),
                    KnownReading("upper belt deflection", "inch", None, Decimal("0.5")),
                    KnownReading("plug gap", "thou", Decimal(28), Decimal(31)),
                    KnownReading("air gap", "thou", Decimal(28), Decimal(31)),
                    KnownFluid("oil", "ounce", Decimal(20)),
                    KnownFluid("hydraulic oil", "liter", Decimal(3)),
                ]
            ),
            unique=True,
        ).map(tuple),
        serial=st.sampled_from([None, "QT4417"]),
        called=st.just((("compression", "psi", "105 psi"), ("rod torque", "foot pound", "8"))),
        blank=st.booleans(),
    ),
    st.data(),
)
def test_whatever_is_answered_a_sheet_passes(
    tmp_path_factory: pytest.TempPathFactory, answers: SheetAnswers, data: st.DataObject
) -> None:
    text = sheet_text(answers)
    places = ready_lines(text)
    put = data.draw(st.lists(st.sampled_from(places), unique=True))
    path = tmp_path_factory.getbasetemp() / "answered.toml"
    path.write_text(put_to_use(text, put), encoding="utf-8")
    read = load_sheet(path)
    assert read.name == answers.name
    for each in answers.known:
        if isinstance(each, KnownFluid):
            assert any((f.name, f.capacity) == (each.fluid, each.capacity) for f in read.fluid)


@pytest.mark.parametrize("blank", [False, True])
@pytest.mark.parametrize("cycle", [*CYCLES, None])
@pytest.mark.parametrize("steps", [(), STEPS])
def test_a_card_passes_with_any_line_that_stands_ready(
    blank: bool, cycle: str | None, steps: tuple[str, ...], tmp_path: Path
) -> None:
    kinds = () if cycle is None else (KINDS["mower"], KINDS["hedge trimmer"])
    text = card_text(CardAnswers("our-job", "Our job", kinds, cycle, "metric", steps, blank))
    assert all(line.startswith("# ") for line in remarks(text)), "nothing else is commented out"
    path = tmp_path / "our-job.toml"
    for put in ([], *([place] for place in ready_lines(text))):
        path.write_text(put_to_use(text, put), encoding="utf-8")
        load_card(path)
    path.write_text(text, encoding="utf-8")
    said = [step.say for step in load_card(path).step]
    assert all(each in said for each in steps if not each.endswith("?"))
    if steps:
        assert {"gap", "battery"} <= {
            each for step in load_card(path).step for each in step.expects
        }


@pytest.mark.parametrize(
    ("models", "text"),
    [
        (
            (SpecSheet, SpecReading, SpecFluid, SpecTorque),
            sheet_text(SheetAnswers("Ours", KINDS["tiller"], "four-stroke")),
        ),
        ((JobCard, CardStep), card_text(CardAnswers("ours", "Ours", steps=STEPS))),
    ],
)
def test_everything_that_may_stand_there_stands_there(models: Sequence[type], text: str) -> None:
    written = set(re.findall(r"(?:^#?|[{,] )([a-z_]+) = ", text, re.MULTILINE))
    headed = set(re.findall(r"^\[+([a-z]+)\]", text, re.MULTILINE))
    for model in models:
        assert set(model.model_fields) <= written | headed, model  # type: ignore[attr-defined]


# --- what is known ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("gap 28 to 31 thou", KnownReading("gap", "thou", Decimal(28), Decimal(31))),
        ("gap .028-.031 in", KnownReading("gap", "inch", Decimal("0.028"), Decimal("0.031"))),
        ("Gap: 0,7 to 0,8 mm", KnownReading("gap", "millimeter", Decimal("0.7"), Decimal("0.8"))),
        ("gap 28 to 31", KnownReading("gap", "thou", Decimal(28), Decimal(31))),
        ("play at most 1/8 inch", KnownReading("play", "inch", None, Decimal("0.125"))),
        ("compression 90 psi or more", KnownReading("compression", "psi", Decimal(90), None)),
        ("compression at least 90 PSI", KnownReading("compression", "psi", Decimal(90), None)),
        (
            "engine speed 3450 to 3650 RPM",
            KnownReading("engine speed", "rpm", Decimal(3450), Decimal(3650)),
        ),
        (
            "head bolt torque 17 - 20 ft-lb",
            KnownReading("head bolt torque", "foot pound", Decimal(17), Decimal(20)),
        ),
        (
            "pump pressure 180 to 200 bar",
            KnownReading("pump pressure", "bar", *map(Decimal, (180, 200))),
        ),
        ("oil 20 oz", KnownFluid("oil", "ounce", Decimal(20))),
        ("gear oil 1 1/2 pints", KnownFluid("gear oil", "pint", Decimal("1.5"))),
        ("engine oil 20 oz", KnownFluid("oil", "ounce", Decimal(20))),
        (
            "spark plug torque 13 to 17 ft lb",
            KnownReading("plug torque", "foot pound", Decimal(13), Decimal(17)),
        ),
        ("oil 20", KnownFluid("oil", "ounce", Decimal(20))),
    ],
)
def test_what_a_manual_says_is_taken_as_it_is_typed(said: str, expected: Known) -> None:
    assert known_of(said, "inches") == expected


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("gap", "cannot be read"),
        ("gap 30 thou", "one end only"),
        ("gap 31 to 28 thou", "upside down"),
        ("gap 28 to 31 furlongs", "not a unit"),
        ("blade height 2 to 3", "needs its unit"),
        ("oil 10 to 20 ounces", "how much goes in"),
        ("gap 1/0 to 2 thou", "divides by zero"),
        ("compression 90 psi", "'compression 90 to 150'"),
        ("gap 3 to 4 psi", "not given in p s i, but in thou"),
        ("head bolt torque 3 to 4 psi", "not given in"),
        ("chain 2 to 3 kg", "not given in"),
        ("", "cannot be read"),
    ],
)
def test_what_cannot_be_told_is_said_with_the_reason(said: str, why: str) -> None:
    with pytest.raises(WrongUse, match=why):
        known_of(said, "inches")


def test_a_slip_in_a_kind_is_asked_about_and_words_of_ones_own_are_taken() -> None:
    with pytest.raises(WrongUse, match="nearest is 'mower'"):
        kind_of("mowr")
    assert kind_of("Self-propelled mower").parts == KINDS["mower"].parts
    assert kind_of("log splitter").said == "log splitter"


# --- the command --------------------------------------------------------------------------------


def test_a_sheet_is_made_found_listed_and_worked_by(companion: Run, tmp_path: Path) -> None:
    made = companion(
        *("new", "sheet", "Rosa's mower", "--kind", "mower", "--known", "gap 28 to 31 thou")
    )
    path = tmp_path / "data" / "sheets" / "rosas-mower.toml"
    assert made.returncode == 0, made.stderr
    assert str(path) in made.stdout
    assert "Next: companion work --machine rosas-mower --job four-stroke-service" in made.stdout
    assert path.stat().st_mode & 0o777 == 0o600
    listed = companion("sheets").stdout.splitlines()
    assert listed[0].startswith("rosas-mower: Rosa's mower (")
    assert listed[0].endswith(", your own")
    # Its file's name, or the name as it was given.
    for name in ("rosas-mower", "Rosa's mower"):
        worked = companion(
            *("work", "--typed", "--quiet", "--out", tmp_path / f"job of {name[:4]}"),
            *("--machine", name),
            typed="gap 33 thou\n",
        )
        assert "high by 2" in worked.stdout, worked.stdout + worked.stderr


def test_what_is_there_is_replaced_only_where_that_is_asked_for(
    companion: Run, tmp_path: Path
) -> None:
    path = tmp_path / "data" / "cards" / "blade-change.toml"
    assert companion("new", "card", "Blade change", "--say", "Blade off.").returncode == 0
    before = path.read_bytes()
    again = companion("new", "card", "Blade change", "--say", "Blade on.")
    assert "is there already" in one_sentence(again, 1)
    assert path.read_bytes() == before
    assert (
        companion("new", "card", "Blade change", "--say", "Blade on.", "--replace").returncode == 0
    )
    assert b"Blade on." in path.read_bytes()
    # A link is never followed, whatever it leads to.
    elsewhere = tmp_path / "elsewhere.toml"
    elsewhere.write_text("mine", encoding="utf-8")
    path.unlink()
    path.symlink_to(elsewhere)
    refused = companion("new", "card", "Blade change", "--blank", "--replace")
    assert "cannot be written" in one_sentence(refused, 1)
    assert elsewhere.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", shipped_sheets())
def test_a_copy_of_a_shipped_sheet_says_still_that_its_figures_are_invented(
    name: str, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["new", "sheet", "Ours", "--from", name]) == 0
    made = load_sheet(own / "sheets" / "ours.toml")
    before = load_sheet(name)
    assert made.invented
    assert ", invented: passes its check" in capsys.readouterr().out
    assert made.name == "Ours"
    # Whose plates it has is not known; everything else is as it was.
    assert made.identification.model_dump(exclude_none=True) == {
        "cycle": before.identification.cycle
    }
    same = {"name", "identification"}
    assert made.model_dump(exclude=same) == before.model_dump(exclude=same)


def test_a_copy_of_an_own_sheet_is_of_the_same_model_and_of_another_machine(own: Path) -> None:
    (own / "sheets").mkdir(parents=True)
    (own / "sheets" / "first.toml").write_text(
        'name = "First"\nkind = "mower"\n'
        'identification = { model = "W 21", serial = "A1", engine_serial = "E1" } # plates\n'
        '[[reading]]\nmeasure = "gap"\nunit = "inches"\nlow = 0.028 # as the manual says\n',
        encoding="utf-8",
    )
    assert main(["new", "sheet", "Second", "--from", "First"]) == 0
    made = load_sheet(own / "sheets" / "second.toml")
    assert (made.name, made.invented) == ("Second", False)
    assert made.identification.model_dump(exclude_none=True) == {"model": "W 21"}
    assert "# as the manual says" in (own / "sheets" / "second.toml").read_text("utf-8")


@pytest.mark.parametrize("name", shipped_cards())
def test_a_copy_of_a_shipped_card_has_its_steps_and_its_remarks(name: str, own: Path) -> None:
    assert main(["new", "card", "Our way", "--from", name]) == 0
    path = own / "cards" / "our-way.toml"
    made = load_card(path)
    assert (made.name, made.title) == ("our-way", "Our way")
    assert made.step == load_card(name).step
    assert "It stands in for no manual" in path.read_text(encoding="utf-8")


def test_without_a_terminal_it_is_said_what_is_missing(companion: Run) -> None:
    assert "--kind" in one_sentence(companion("new", "sheet", "Ours"), 2)
    assert "no letter" in one_sentence(companion("new", "sheet", "№", "--blank"), 2)
    assert "do not go together" in one_sentence(
        companion("new", "sheet", "Ours", "--from", "quillmoor-tiller", "--kind", "mower"), 2
    )
    assert "There is no spec sheet" in one_sentence(
        companion("new", "sheet", "Ours", "--from", "nowhere"), 1
    )


def test_nothing_is_written_that_would_not_pass(companion: Run, tmp_path: Path) -> None:
    empty = companion("new", "card", "Ours", "--say", "")
    assert "does not make a whole one" in one_sentence(empty, 2)
    assert not (tmp_path / "data" / "cards").exists()


def test_it_is_opened_in_the_editor_and_checked_after(
    own: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("VISUAL", "sed -i 's/^#low = 90 /low = 95 /'")
    assert main(["new", "sheet", "Ours", "--kind", "tiller", "--edit"]) == 0
    read = load_sheet(own / "sheets" / "ours.toml")
    assert [r.low for r in read.reading if r.measure == "compression"] == [Decimal(95)]
    monkeypatch.setenv("VISUAL", "sed -i 's/^kind = .*/kind = 3/'")
    assert main(["new", "sheet", "Theirs", "--kind", "tiller", "--edit"]) == 1
    assert "theirs.toml:" in capsys.readouterr().err
    # What was written stays, to be mended.
    assert (own / "sheets" / "theirs.toml").exists()
    monkeypatch.setenv("VISUAL", "sed -i 's/^kind = 3/kind = \"tiller\"/'")
    assert main(["new", "sheet", "Theirs", "--edit"]) == 0
    monkeypatch.setenv("VISUAL", "no-such-editor")
    assert main(["new", "sheet", "Others", "--kind", "tiller", "--edit"]) == 1
    assert "cannot be started" in capsys.readouterr().err


# --- lists and the check ------------------------------------------------------------------------


def test_a_folder_with_ten_broken_files_lists_them_all_and_works_with_the_good_ones(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["new", "sheet", "Good one", "--kind", "mower"]) == 0
    good = (own / "sheets" / "good-one.toml").read_text(encoding="utf-8")
    for number in range(9):
        broken = good.replace("kind = ", f"kind{number} = ", 1)
        (own / "sheets" / f"broken-{number}.toml").write_text(broken, encoding="utf-8")
    (own / "sheets" / "broken-9.toml").write_bytes(b"\xff\x00")
    (own / "cards").mkdir()
    (own / "cards" / "no-steps.toml").write_text('name = "no-steps"\ntitle = "x"\n', "utf-8")
    capsys.readouterr()
    assert main(["sheets"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0] for line in lines] == [
        *(f"broken-{number}" for number in range(10)),
        "good-one",
        *shipped_sheets(),
    ]
    assert all("HAS " in line for line in lines[:10])
    assert main(["sheets", "--json"]) == 0
    as_json = json.loads(capsys.readouterr().out)["items"]
    assert sum(bool(each["faults"]) for each in as_json) == 10
    assert main(["check"]) == 1
    checked = capsys.readouterr().out
    assert all(f"broken-{number}.toml:" in checked for number in range(10))
    assert "no-steps.toml" in checked
    assert "11 with faults" in checked
    assert main(["check", "good-one"]) == 0
    assert main(["sheets", "good-one"]) == 0


def test_an_own_one_of_a_shipped_name_is_taken_and_that_is_said(
    companion: Run, tmp_path: Path
) -> None:
    name = "quillmoor-tiller"
    made = companion("new", "sheet", name, "--kind", "tiller", "--known", "gap 10 to 11 thou")
    assert made.returncode == 0
    listed = [line for line in companion("sheets").stdout.splitlines() if line.startswith(name)]
    assert ["your own" in line for line in listed] == [True, True]
    assert "not taken" in listed[1]
    worked = companion(
        *("work", "--typed", "--quiet", "--out", tmp_path / "job", "--machine", name),
        typed="gap 12 thou\n",
    )
    assert "Your own sheet 'quillmoor-tiller' is taken" in worked.stderr
    assert "high by 1" in worked.stdout


# --- at a terminal ------------------------------------------------------------------------------


def test_at_a_terminal_it_asks_what_it_must(shop: dict[str, str], tmp_path: Path) -> None:
    with Terminal("new", "sheet", "Rosa's mower", environment=shop, folder=tmp_path) as terminal:

        def asked_anew() -> bool:
            return ">" in terminal.lines

        for shown, typed in (
            ("in your own words:", "mowr"),
            ("nearest is 'mower'", "1"),
            ("How does its engine work?", ""),
            ("started by a battery?", "n"),
            ("Which units do you like?", ""),
            (asked_anew, "gap 28 to 31 thou"),
            (asked_anew, "oil 20"),
            (asked_anew, ""),
        ):
            terminal.wait(shown)
            terminal.type(f"{typed}\r")
        terminal.wait("Next: companion work --machine rosas-mower")
    read = load_sheet(Path(shop["BENCH_COMPANION_DATA"]) / "sheets" / "rosas-mower.toml")
    assert read.kind == "walk-behind mower, four-stroke engine, recoil start"
    assert [(r.low, r.high) for r in read.reading if r.measure == "gap"] == [(28, 31)]
