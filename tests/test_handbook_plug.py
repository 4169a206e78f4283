"""Spark plugs: their torque by thread, seat and head.

Figures and threads are checked in ``tests/outside/threads.py``.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from companion.handbook.answer import NotInHandbook
from companion.handbook.drill import drill_for
from companion.handbook.plug import TORQUES, plug_torque
from companion.handbook.thread import PLUG_THREADS


def test_how_it_is_said():
    answer = plug_torque(Decimal(14))
    assert answer.text == (
        "M14 plug, gasket seat, aluminum: 25 to 30 newton meters. The maker's figure wins."
    )
    assert answer.note.startswith("The same as 18 to 22 foot pounds.")
    assert answer.thread == "M14x1.25"
    assert "from memory" in answer.source


@pytest.mark.parametrize(("size", "seat", "head"), sorted(TORQUES))
def test_a_tapered_seat_and_a_soft_head_never_take_more(size, seat, head):
    low, high = plug_torque(Decimal(size), seat, head).newton_meters
    assert 0 < low < high
    assert high >= plug_torque(Decimal(size), seat, "aluminum").newton_meters[1]
    assert high <= plug_torque(Decimal(size), "gasket", head).newton_meters[1]


@pytest.mark.parametrize(("size", "pitch"), sorted(PLUG_THREADS.items()))
def test_every_plug_thread_can_be_tapped(size, pitch):
    assert 70 <= drill_for(size, "millimeter", pitch).percent <= 80


@pytest.mark.parametrize("size", ["8.5", "13", "0", "-14", "140"])
def test_threads_of_no_plug_get_a_sentence(size):
    with pytest.raises(NotInHandbook, match="they are M10, M12, M14 and M18"):
        plug_torque(Decimal(size))


def test_a_small_plug_has_no_tapered_seat():
    with pytest.raises(NotInHandbook, match="no M10 plug with a taper seat"):
        plug_torque(Decimal(10), "taper")
