"""Values ten times the usual, or a tenth of it: both are named, and each is asked about."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from companion.handbook.units import convert, to_si
from companion.intent import intents as it
from companion.intent.doubt import is_expected
from companion.intent.intents import Intent
from companion.intent.outcome import Expectation, Listening
from companion.intent.tenfold import tenfold
from companion.intent.thresholds import DEFAULT
from companion.job import events as ev
from companion.job.expected import expectations
from companion.speak.wording import word
from tests.bench_job import AFFIRM, MONDAY, NEGATIVE, SHEET, Job, added, correction, reading


def listening(job: Job) -> Listening:
    return Listening(expectations=expectations(job.state))


def slip(job: Job, call: Intent, **more: str) -> Intent | None:
    known = Listening(expectations=expectations(job.state), **more)  # type: ignore[arg-type]
    return tenfold(call, known, DEFAULT)


def test_ten_times_the_window_and_a_tenth_of_it() -> None:
    job = Job(SHEET)
    assert slip(job, reading("intake clearance", "60", "thou")) == reading(
        "intake clearance", "6", "thou"
    )
    assert slip(job, reading("intake clearance", "0.6", "thou")) == reading(
        "intake clearance", "6", "thou"
    )
    assert slip(job, reading("intake clearance", "6", "thou")) is None
    # Merely out of the window is no slip.
    assert slip(job, reading("intake clearance", "9", "thou")) is None
    assert slip(job, reading("intake clearance", "20", "thou")) is None


def test_a_window_with_one_end_has_its_usual_size_near_that_end() -> None:
    job = Job(SHEET)
    assert slip(job, reading("compression", "1100", "psi")) == reading("compression", "110", "psi")
    assert slip(job, reading("compression", "11", "psi")) == reading("compression", "110", "psi")
    # Low compression is what the gauge is there for, not a slip.
    assert slip(job, reading("compression", "60", "psi")) is None


def test_without_a_window_the_last_reading_is_the_usual() -> None:
    earlier = ev.EarlierReading(
        measure="end play",
        value=Decimal(12),
        unit="thou",
        verdict="unknown",
        at=MONDAY - timedelta(days=100),
        session="earlier",
    )
    job = Job(SHEET, earlier=(earlier,))
    assert slip(job, reading("end play", "120", "thou")) == reading("end play", "12", "thou")
    assert slip(job, reading("end play", "30", "thou")) is None
    assert slip(Job(SHEET), reading("end play", "120", "thou")) is None
    job = Job(SHEET).call(reading("end play", "12", "thou"))
    assert slip(job, reading("end play", "1.2", "thou")) == reading("end play", "12", "thou")


def test_fluids_beyond_what_the_machine_takes() -> None:
    job = Job(SHEET)
    assert slip(job, added("180")) == added("18")
    # Little by little is how it is filled.
    assert slip(job, added("1.8")) is None


def test_a_correction_may_slip_too_but_not_against_what_it_corrects() -> None:
    job = Job(SHEET).call(reading("intake clearance", "6", "thou"))
    assert slip(
        job, correction("60"), correcting="intake clearance", correcting_unit="thou"
    ) == correction("6")
    job = Job(SHEET).call(reading("end play", "120", "thou"))
    assert slip(job, correction("12"), correcting="end play", correcting_unit="thou") is None


def test_temperatures_only_where_they_are_far_off() -> None:
    job = Job(SHEET)
    assert slip(job, reading("air temperature", "250", "celsius")) == reading(
        "air temperature", "25", "celsius"
    )
    assert slip(job, reading("air temperature", "45", "celsius")) is None


def test_the_question_says_both_and_asks_first_about_what_was_heard() -> None:
    heard, meant = (
        reading("intake clearance", "60", "thou"),
        reading("intake clearance", "6", "thou"),
    )
    job = Job(SHEET).doubt(heard, meant)
    assert job.all(ev.ReadingRecorded) == []
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    assert reply.text == (
        "That is ten times the usual: sixty or six thou? "
        "Confirm: intake clearance, sixty, six zero, thou?"
    )
    job.call(NEGATIVE)
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    assert reply.text == "Confirm: intake clearance, six thou?"
    job.call(AFFIRM)
    assert job.last(ev.ReadingRecorded).value == 6


def test_candidates_ten_times_apart_for_another_reason_are_not_called_unusual() -> None:
    job = Job(SHEET).doubt(
        reading("intake clearance", "6", "thou"), reading("intake clearance", "60", "thou")
    )
    assert job.asked is not None
    assert job.asked.meaning is None


@given(
    low=st.decimals("0.1", "500", places=1),
    width=st.decimals("0", "1", places=2),
    where=st.decimals("0", "1", places=2),
    power=st.sampled_from([-1, 1]),
    units=st.sampled_from(
        [("psi", "kilopascal"), ("thou", "millimeter"), ("volt", "volt"), ("rpm", "rpm"),
         ("foot pound", "newton meter"), ("kilohm", "ohm")]
    ),
)  # fmt: skip
@settings(deadline=None)
def test_any_value_in_the_window_is_asked_about_when_its_point_slips_out_of_it(
    low: Decimal, width: Decimal, where: Decimal, power: int, units: tuple[str, str]
) -> None:
    sheet_unit, called_unit = units
    high = low * (1 + width)
    value = convert(low + (high - low) * where, sheet_unit, called_unit)
    ends = [to_si(end, sheet_unit) for end in (low, high)]
    known = Listening(
        expectations={"measure": Expectation(float(ends[0][0]), float(ends[1][0]), ends[0][1])}
    )
    slipped = _call(value.scaleb(power), called_unit)
    assume(not is_expected(slipped, known))
    found = tenfold(slipped, known, DEFAULT)
    assert isinstance(found, it.Reading)
    assert abs(found.value - value) <= abs(value) * Decimal("1e-20")
    # And what is in the window is never asked about.
    if is_expected(_call(value, called_unit), known):
        assert tenfold(_call(value, called_unit), known, DEFAULT) is None


def _call(value: Decimal, unit: str) -> it.Reading:
    number, si_unit = to_si(value, unit)
    return it.Reading.model_validate(
        {
            "measure": "measure",
            "value": value,
            "unit": unit,
            "si": {"value": float(number), "unit": si_unit},
        }
    )
