"""The trade's arithmetic against standards, tables, libraries and common practice, row by row."""

from __future__ import annotations

from collections import Counter
from importlib.util import find_spec
from typing import get_args

import pytest

from companion.handbook.topics import TOPICS
from tests.outside import CHECKS
from tests.outside.__main__ import main
from tests.outside.check import Basis, Check
from tests.outside.elsewhere import ELSEWHERE


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check.topic}: {check.what}")
def test_ours_agrees_with_the_figure_from_outside(check: Check) -> None:
    ours = check.ours()
    assert check.agrees(ours), f"{ours} is not {check.expected} ({check.source})"


def test_every_row_names_its_source_and_how_it_was_come_by() -> None:
    for check in CHECKS:
        assert check.source
        assert check.basis in get_args(Basis)
        assert "common practice" not in check.source


def test_no_row_stands_twice() -> None:
    assert len({(check.topic, check.what, check.source) for check in CHECKS}) == len(CHECKS)


def test_every_topic_of_the_handbook_has_rows() -> None:
    other_names = {"convert": "unit", "drill": "tap drill", "tip-speed": "tip speed",
                   "ratio": "displacement"}  # fmt: skip
    topics = {check.topic for check in CHECKS}
    assert {other_names.get(name, name) for name in TOPICS} <= topics


def test_torque_has_at_least_twenty_rows_in_inch_and_metric() -> None:
    torques = [check for check in CHECKS if check.topic == "torque"]
    systems = Counter(check.what.startswith("M") for check in torques)
    assert systems[False] >= 20
    assert systems[True] >= 10
    assert {"3/8-16 grade 5, dry, ft·lbf", "M8 class 8.8, dry, N·m"} <= {c.what for c in torques}


def test_a_wrong_figure_would_show() -> None:
    for check in CHECKS:
        ours = check.ours()
        if isinstance(ours, str):
            assert not check.agrees(f"not {ours}")
            continue
        wrong = float(ours) * 1.4 + 30
        assert not check.agrees(wrong), check.what


def test_what_stands_elsewhere_is_there() -> None:
    for _, _, _, module in ELSEWHERE:
        assert find_spec(module) is not None


def test_the_table_can_be_printed(capsys: pytest.CaptureFixture[str]) -> None:
    main()
    printed = capsys.readouterr().out
    for check in CHECKS:
        assert check.what in printed
        assert check.source in printed
