"""The pane below everything on the terminal: all tags before all timers, at any width."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.job.state import State
from companion.job.state_values import Tag, Timer
from companion.screen.flow import columns, folded, line_columns, line_text
from companion.screen.pane import brief_line, pane_lines
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet
from companion.shelf.rules import shipped_rules
from companion.speak.glance import clock_face, timer_words

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
FIVE_TAGS = ("no oil", "plug wire off", "belt off", "no fuel", "drive open")


def job(
    tags: Sequence[str] = (), timers: Sequence[tuple[str, float]] = (), at: datetime = AT
) -> State:
    """A job in which these tags hang and these timers have so many seconds left."""
    return replace(
        State.start(shipped_rules()),
        tags=tuple(Tag(tag, seq, at, "voice", None) for seq, tag in enumerate(tags)),
        timers={
            name: Timer(seq, name, 60.0, at + timedelta(seconds=left))
            for seq, (name, left) in enumerate(timers)
        },
    )


def shown(state: State, width: int = 80, height: int = 24, doing: str = "ready") -> list[str]:
    return [line_text(line) for line in pane_lines(state, AT, width, height, doing)]


@pytest.fixture
def service(tmp_path: Path) -> Session:
    session = open_session(
        tmp_path / "job",
        at=AT,
        card=load_card("four-stroke-service"),
        sheet=load_sheet("quillmoor-tiller"),
    )
    session.open(AT)
    return session


def test_five_tags_and_three_timers_at_eighty_columns() -> None:
    state = job(FIVE_TAGS, (("soak", 7199), ("settle", 88), ("charge", 36000)))
    assert shown(state) == [
        "─ ready " + "─" * 72,
        "TAGS no oil, plug wire off, belt off, no fuel, drive open",
        "TIMERS settle 1:28, soak 1:59:59, charge 10:00:00",
    ]


def test_at_forty_columns_they_wrap_and_nothing_is_lost() -> None:
    state = job(FIVE_TAGS, (("soak", 7199), ("settle", 88), ("charge", 36000)))
    assert shown(state, width=40)[1:] == [
        "TAGS no oil, plug wire off, belt off,",
        "  no fuel, drive open",
        "TIMERS settle 1:28, soak 1:59:59,",
        "  charge 10:00:00",
    ]


def test_where_there_is_no_room_it_says_how_many_more_and_what_to_say() -> None:
    state = job([f"tag number {number}" for number in range(30)], (("soak", 60),))
    lines = shown(state, width=40, height=24)
    assert len(lines) == 8
    assert lines[0].startswith("─ ready")
    assert lines[6] == "  tag number 10, +19: read tags"
    assert lines[7] == "TIMERS soak 1:00"


def test_on_the_smallest_terminal_the_tags_are_counted() -> None:
    state = job(FIVE_TAGS, (("soak", 60),))
    assert shown(state, width=20, height=5) == ["TAGS +5: read tags"]


def test_a_timer_that_rings_says_so_and_for_how_long() -> None:
    assert shown(job(timers=(("settle", -12), ("soak", 60))))[1] == (
        "TIMERS settle RINGS +0:12, soak 1:00"
    )


@pytest.mark.parametrize(
    ("left", "words"),
    [(0.1, "soak 0:01"), (1, "soak 0:01"), (59.5, "soak 1:00"), (3600, "soak 1:00:00"),
     (0, "soak RINGS +0:00"), (-0.5, "soak RINGS +0:00"), (-3600, "soak RINGS +1:00:00")],
)  # fmt: skip
def test_nothing_is_left_only_when_it_is_due(left: float, words: str) -> None:
    (timer,) = job(timers=(("soak", left),)).timers.values()
    assert timer_words(timer, AT) == words


def test_the_step_and_what_it_still_needs(service: Session) -> None:
    assert shown(service.state)[1] == "STEP 1 of 42, take in: once done, say 'step done'"
    service.typed("go to step set gap", AT)
    if service.state.question is not None:
        service.typed("affirm", AT)
    assert re.search(r"STEP \d+ of 42, set gap: gap$", shown(service.state)[-1])
    service.typed("gap thirty thou", AT)
    # The gap is in its window, so that there is nothing to set.
    assert shown(service.state)[-1].endswith("set gap: does not apply, say 'next step'")


def test_the_open_question_stands_until_it_is_answered(service: Session) -> None:
    service.typed("tag no oil", AT)
    service.typed("clear tag no oil", AT)
    lines = shown(service.state)
    assert lines[1] == "TAGS no oil"
    assert lines[2].startswith("ASKED ")
    assert lines[2].endswith("Clear tag no oil?")
    service.typed("negative", AT)
    assert not any(line.startswith("ASKED") for line in shown(service.state))


def test_of_a_long_question_the_end_is_kept(service: Session) -> None:
    for tag in ("no oil", "plug wire off", "belt off", "no fuel", "drive open"):
        service.typed(f"tag {tag}", AT)
    service.typed("close job", AT)
    lines = shown(service.state, width=40, height=15)
    assert re.search(
        r"ASKED … .*Close the job all the same\?", re.sub(r"\s+", " ", " ".join(lines))
    )


def test_standing_by_says_how_to_go_on(service: Session) -> None:
    service.typed("stand by", AT)
    assert shown(service.state, doing="listening")[0].startswith("─ standing by: say 'resume' ─")


def test_typed_calls_that_wait_are_counted() -> None:
    rule = line_text(pane_lines(job(), AT, 80, 24, "speaking", waiting=2)[0])
    assert rule.startswith("─ speaking, 2 calls wait ─")


def test_nothing_in_a_name_moves_the_cursor() -> None:
    text = "".join(shown(job(["no\x1b[2Joil\r"], (("so\x9bak", 5),))))
    assert text.isprintable()


def test_one_line_has_the_tags_before_the_timers_and_counts_what_it_cannot_show() -> None:
    state = job(FIVE_TAGS, (("soak", 7199),))
    assert brief_line(state, AT, 100, "ready") == (
        "[ready]  TAGS no oil, plug wire off, belt off, no fuel, drive open  TIMERS soak 1:59:59"
    )
    short = brief_line(state, AT, 60, "ready")
    assert columns(short) <= 60
    assert "and 3 more: say 'read tags'" in short or "read tags" in short


def test_a_line_of_an_exchange_is_folded_under_its_words() -> None:
    line = "09:00:00  said    Tag hung: no oil. Drain it warm."
    assert folded(line, 40, 18) == [
        "09:00:00  said    Tag hung: no oil.",
        "                  Drain it warm.",
    ]
    assert folded("09:00:00  said    " + "x" * 60, 40, 18)[0] == "09:00:00  said"


# --- for every width ----------------------------------------------------------------------------

NAMES = st.text(
    st.characters(codec="utf-8", exclude_categories=("C", "Z", "M")), min_size=1, max_size=9
)
PHRASES = st.lists(NAMES, min_size=1, max_size=4).map(" ".join)
TAGS = st.lists(PHRASES, max_size=14, unique=True)
TIMERS = st.lists(
    st.tuples(PHRASES, st.floats(-9000, 90000)), max_size=9, unique_by=lambda each: each[0]
)
WIDTHS, HEIGHTS = st.integers(20, 160), st.integers(1, 80)


def squeezed(text: str) -> str:
    """Without blanks, for where they stand depends on the width."""
    return re.sub(r"\s", "", text)


@given(TAGS, TIMERS, WIDTHS, HEIGHTS)
def test_no_line_is_wider_than_the_terminal_nor_the_pane_higher_than_its_share(
    tags: list[str], timers: list[tuple[str, float]], width: int, height: int
) -> None:
    lines = pane_lines(job(tags, timers), AT, width, height, "listening")
    assert all(line_columns(line) <= width for line in lines)
    assert len(lines) <= max(1, height // 3, min(5, height - 4))


@given(TAGS, TIMERS, WIDTHS, HEIGHTS)
def test_all_tags_come_before_all_timers_or_are_counted(
    tags: list[str], timers: list[tuple[str, float]], width: int, height: int
) -> None:
    text = squeezed("".join(shown(job(tags, timers), width, height)))
    where = text.find("TAGS")
    assert (where >= 0) == bool(tags)
    rest = text[where + 4 :] if tags else text
    rest, _, after = rest.partition("TIMERS") if tags else ("", "", rest)
    named = 0
    for tag in tags:
        if not rest.startswith(squeezed(tag)):
            break
        rest = rest[len(squeezed(tag)) :].removeprefix(",")
        named += 1
    left = len(tags) - named
    assert (left == 0) == (rest == "")
    if left:
        assert rest in (f"and{left}more:say'readtags'", f"+{left}:readtags")
    assert not any("TAGS" in line for line in after.splitlines())


@given(TAGS, TIMERS, WIDTHS)
def test_with_rows_enough_every_tag_and_every_countdown_stands_there(
    tags: list[str], timers: list[tuple[str, float]], width: int
) -> None:
    text = squeezed("".join(shown(job(tags, timers), width, height=600)))
    expected = "TAGS" + ",".join(map(squeezed, tags)) if tags else ""
    if timers:
        soonest = sorted(enumerate(timers), key=lambda each: (due(each[1][1]), each[0]))
        faces = [
            f"{name} {clock_face(math.ceil(left))}"
            if left > 0
            else f"{name} RINGS +{clock_face(math.floor(-left))}"
            for name, left in ((name, due(left)) for _, (name, left) in soonest)
        ]
        expected += "TIMERS" + ",".join(map(squeezed, faces))
    assert text.endswith(expected)


def due(left: float) -> float:
    """To the microsecond, as deadlines are kept."""
    return timedelta(seconds=left).total_seconds()


@given(st.integers(0, 10**6))
def test_a_clock_face_reads_back_as_the_seconds_it_shows(seconds: int) -> None:
    *hours, minutes, rest = map(int, clock_face(seconds).split(":"))
    assert sum(hours) * 3600 + minutes * 60 + rest == seconds


@given(st.text(max_size=200), WIDTHS, st.integers(2, 18))
def test_a_folded_line_loses_nothing_but_blanks(text: str, width: int, indent: int) -> None:
    parts = folded(text, width, indent)
    assert squeezed("".join(parts)) == squeezed(text)
    assert all(columns(part) <= width for part in parts[:-1])
