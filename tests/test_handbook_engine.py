"""Oil grade, battery charge, leak-down, compression, displacement."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.handbook.answer import NotInHandbook
from companion.handbook.battery import REST_VOLTS, charge_at
from companion.handbook.compression import compression_suggests
from companion.handbook.displacement import compression_ratio, displacement_of
from companion.handbook.leak_down import POINTS_TO, leak_down_suggests
from companion.handbook.oil import COLDEST, HOTTEST, SAE_J300, oil_for
from companion.handbook.units import UnitsDoNotFit, convert

D = Decimal


# --- oil ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("temperature", "unit", "text"),
    [
        ("25", "celsius", "25 degrees celsius: SAE 30 or 10W-30. The maker's grade wins."),
        ("-10", "celsius",
         "-10 degrees celsius: 5W-30 or 10W-30, not SAE 30. The maker's grade wins."),
        ("-20", "celsius", "-20 degrees celsius: 5W-30, not SAE 30. The maker's grade wins."),
        ("-35", "celsius", "-35 degrees celsius: 0W-30, not SAE 30. The maker's grade wins."),
        # 40 degrees fahrenheit is the line of the charts, about 4 celsius.
        ("40", "fahrenheit",
         "40 degrees fahrenheit: SAE 30 or 10W-30. The maker's grade wins."),
        ("39", "fahrenheit",
         "39 degrees fahrenheit: 5W-30 or 10W-30, not SAE 30. The maker's grade wins."),
        ("5", "celsius", "5 degrees celsius: SAE 30 or 10W-30. The maker's grade wins."),
        ("-40", "fahrenheit",
         "-40 degrees fahrenheit: no oil is tested to crank below -31. Warm the engine first."),
        ("20", "fahrenheit",
         "20 degrees fahrenheit: 5W-30 or 10W-30, not SAE 30. The maker's grade wins."),
    ],
)  # fmt: skip
def test_how_oil_grades_are_said(temperature, unit, text):
    assert oil_for(D(temperature), unit).text == text


@given(st.decimals(COLDEST, HOTTEST, places=1))
def test_every_grade_that_is_named_still_cranks_there(celsius):
    lowest = {grade.name: grade.cranks_at for grade in SAE_J300}
    answer = oil_for(celsius, "celsius")
    for grade in answer.grades:
        winter = grade.partition("-")[0]
        if winter in lowest:
            assert celsius >= lowest[winter]
        else:
            # A single grade with no W is promised for no cold start: kept above freezing.
            assert celsius > 0
    assert bool(answer.grades) == (celsius >= -35)
    assert set(answer.cranks) == {name for name, lowest in lowest.items() if celsius >= lowest}


def test_the_limits_of_the_standard_behind_the_grades_are_noted():
    assert (
        "10W-30 cranks down to -25 °C and has 9.3 to 12.5 mm²/s" in oil_for(D(20), "celsius").note
    )
    assert "SAE 30 has 9.3 to 12.5 mm²/s at 100 °C and no limit in the cold" in (
        oil_for(D(20), "celsius").note
    )
    assert "from memory" in oil_for(D(20), "celsius").source


@given(st.decimals(-76, 122, places=0))
def test_the_thermometer_may_be_in_fahrenheit(fahrenheit):
    celsius = (fahrenheit - 32) / D("1.8")
    assert oil_for(fahrenheit, "fahrenheit").grades == oil_for(celsius, "celsius").grades


@pytest.mark.parametrize("temperature", ["-61", "51", "-300", "900", "NaN", "Infinity"])
def test_air_that_cold_or_hot_gets_a_sentence(temperature):
    with pytest.raises(NotInHandbook, match="No engine is started in such air"):
        oil_for(D(temperature), "celsius")


# --- battery ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "text"),
    [
        ("12.7", "12.7 volts at rest, taken as flooded: about 100 percent charged."),
        ("12.4",
         "12.4 volts at rest, taken as flooded: about 70 percent. Charge it before it stands."),
        ("11.8", "11.8 volts at rest, taken as flooded: flat. Charge it now."),
        ("10.5",
         "10.5 volts at rest, taken as flooded: "
         "far below flat. A cell is likely dead; load test it after "
         "charging."),
        ("6.3",
         "6.3 volts at rest, taken as flooded: "
         "that is a 6 volt battery, or a 12 volt one that is ruined."),
        ("14.2",
         "14.2 volts at rest, taken as flooded: "
         "no resting battery reads that. Charger off, wait some hours, "
         "measure again."),
    ],
)  # fmt: skip
def test_how_charges_are_said(volts, text):
    assert charge_at(D(volts)).text == text


@given(
    st.decimals("10.9", "12.9", places=2),
    st.decimals("10.9", "12.9", places=2),
    st.sampled_from(sorted(REST_VOLTS)),
)
def test_more_volts_never_mean_less_charge(one, another, built):
    low, high = sorted((one, another))
    assert 0 <= charge_at(low, built).percent <= charge_at(high, built).percent <= 100


@given(st.decimals("11.5", "12.9", places=2), st.sampled_from([6, 24]))
def test_cells_in_series_or_fewer_of_them_read_alike(volts, nominal):
    answer = charge_at(volts * nominal / 12, "flooded lead acid", nominal)
    assert answer.percent == charge_at(volts, "flooded lead acid").percent


@pytest.mark.parametrize(
    ("built", "text"),
    [
        (None, "12.6 volts at rest, taken as flooded: about 95 percent charged."),
        ("flooded lead acid", "12.6 volts at rest, flooded: about 95 percent charged."),
        ("absorbed glass mat", "12.6 volts at rest, glass mat: about 75 percent charged."),
        ("gel", "12.6 volts at rest, gel: about 70 percent. Charge it before it stands."),
        ("lithium", "12.6 volts at rest, lithium: not known. Its volts hardly change with its "
         "charge: go by its own gauge."),
    ],
)  # fmt: skip
def test_the_type_decides_and_is_named(built, text):
    assert charge_at(D("12.6"), built).text == text


def test_what_is_no_battery_gets_a_sentence():
    with pytest.raises(NotInHandbook, match="batteries of 6, 12 and 24 volts, not 40"):
        charge_at(D(38), nominal=40)
    with pytest.raises(NotInHandbook, match="flooded, glass mat, gel, lithium, not 'dry'"):
        charge_at(D(12), "dry")
    with pytest.raises(NotInHandbook, match="No 6 volt battery rests at 12"):
        charge_at(D(12), nominal=6)


@given(st.one_of(st.decimals("-50", "0"), st.decimals("16.01", 5000)))
def test_volts_of_no_12_volt_battery_get_a_sentence(volts):
    with pytest.raises(NotInHandbook, match="check the meter and its leads"):
        charge_at(volts)


# --- leak-down ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("percent", "heard", "limit", "text"),
    [
        ("12", None, None,
         "12 percent: no more than the usual. Some air always passes the rings."),
        ("25", None, None,
         "25 percent: more than usual. Listen: intake or exhaust is that valve, crankcase the "
         "rings."),
        ("25", "exhaust", None,
         "25 percent: more than usual. Heard at the exhaust, it points to the exhaust valve."),
        ("12", "crankcase", "10",
         "12 percent: over the sheet's 10. Heard at the crankcase, it points to rings, piston or "
         "cylinder."),
        ("95", "exhaust", None,
         "95 percent: severe. First see that the piston is at the top of compression."),
        ("70", None, None,
         "70 percent: severe. Listen: intake or exhaust is that valve, crankcase the rings."),
        ("70", "intake", "15",
         "70 percent: severe. Heard at the intake, it points to the intake valve."),
        ("0", None, None,
         "0 percent: no cylinder is that tight. First check gauge, hose and pressure."),
        ("0", None, "15",
         "0 percent: no cylinder is that tight. First check gauge, hose and pressure."),
        ("100", "exhaust", None,
         "100 percent: all is lost. First check the connection, then piston at top, then a stuck "
         "valve."),
    ],
)  # fmt: skip
def test_how_leak_down_is_judged(percent, heard, limit, text):
    assert leak_down_suggests(D(percent), heard, limit and D(limit)).text == text


@given(st.decimals(0, 100, places=1), st.sampled_from([None, *POINTS_TO]), st.integers(5, 40))
def test_a_cause_is_named_only_where_air_was_heard_and_too_much_is_lost(percent, heard, limit):
    answer = leak_down_suggests(percent, heard, D(limit))
    if answer.points_to is not None:
        assert heard is not None
        assert percent > limit
        assert answer.points_to == POINTS_TO[heard]
    elif heard is not None:
        assert percent <= limit or percent >= 90


@pytest.mark.parametrize("percent", ["-1", "100.1", "250", "NaN"])
def test_no_cylinder_loses_more_than_all(percent):
    with pytest.raises(NotInHandbook, match="from 0 to 100 percent"):
        leak_down_suggests(D(percent))


# --- compression --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dry", "wet", "least", "suggests"),
    [
        ("120", None, None, "good"),
        ("60", None, None, "measure wet"),
        ("95", None, "100", "measure wet"),
        ("60", None, "55", "good"),
        ("60", "95", None, "rings"),
        ("60", "61", None, "valves or gasket"),
        ("60", "66", None, "unclear"),
        ("60", "40", None, "measure again"),
        ("0", None, None, "zero"),
        ("0", "0", None, "zero"),
        ("0", "60", "90", "zero"),
        ("230", None, None, "high"),
    ],
)
def test_what_compression_suggests(dry, wet, least, suggests):
    answer = compression_suggests(D(dry), "psi", wet and D(wet), least and D(least))
    assert answer.suggests == suggests


def test_how_compression_is_said():
    assert compression_suggests(D(60), "psi", D(95)).text == (
        "dry 60, wet 95 psi: low, and oil raised it. Points to rings or cylinder."
    )
    assert compression_suggests(D(1), "bar").text.startswith("1 bar: low.")
    assert compression_suggests(D(0), "psi").text == (
        "0 psi: first check gauge and connection, then for a valve stuck open."
    )
    assert compression_suggests(D(230), "psi").text == (
        "230 psi: higher than usual: carbon, or a compression release that does not work."
    )


@pytest.mark.parametrize(("most", "suggests"), [(None, "good"), ("140", "high"), ("160", "good")])
def test_the_highest_of_the_sheet_goes_before_the_usual(most, suggests):
    answer = compression_suggests(D(160), "psi", most=most and D(most))
    assert answer.suggests == suggests


@given(st.integers(0, 399), st.one_of(st.none(), st.integers(0, 399)))
def test_the_unit_of_the_gauge_does_not_change_the_advice(dry, wet):
    # Half a psi keeps clear of the ends of the bands, where rounding would decide.
    read = [None if each is None else D(each) + D("0.5") for each in (dry, wet)]
    in_bar = [None if each is None else convert(each, "psi", "bar") for each in read]
    psi = compression_suggests(read[0], "psi", read[1])
    assert compression_suggests(in_bar[0], "bar", in_bar[1]).suggests == psi.suggests


@pytest.mark.parametrize(("dry", "wet"), [("-1", None), ("401", None), ("60", "-5"), ("NaN", None)])
def test_pressures_of_no_small_engine_get_a_sentence(dry, wet):
    with pytest.raises(NotInHandbook, match=r"No small engine reads .*; the handbook takes 0 to"):
        compression_suggests(D(dry), "psi", wet and D(wet))


# --- displacement -------------------------------------------------------------------------------


def test_how_displacements_are_said():
    assert displacement_of(D(68), D(54), "millimeter").text == (
        "68 by 54 millimeters: 196 cc, 12 cubic inches."
    )
    assert displacement_of(D("2.5"), D("2.25"), "inch", 2).text == (
        "2.5 by 2.25 inches, twin: 362 cc, 22.1 cubic inches."
    )
    assert displacement_of(D(35), D(26), "millimeter").text.startswith(
        "35 by 26 millimeters: 25 cc"
    )


@given(st.decimals(20, 120, places=1), st.decimals(20, 120, places=1), st.integers(1, 4))
def test_a_cylinder_holds_the_circle_of_its_bore_times_its_stroke(bore, stroke, cylinders):
    answer = displacement_of(bore, stroke, "millimeter", cylinders)
    radius = float(bore) / 20
    volume = math.pi * radius**2 * float(stroke) / 10 * cylinders
    assert float(answer.cubic_centimeters) == pytest.approx(volume)
    assert float(answer.cubic_inches) == pytest.approx(volume / 2.54**3)


@pytest.mark.parametrize(
    ("bore", "stroke", "cylinders", "sentence"),
    [
        ("0", "54", 1, "No small engine has a bore of 0 millimeters"),
        ("68", "-54", 1, "No small engine has a stroke of -54 millimeters"),
        ("6800", "54", 1, "No small engine has a bore of 6800 millimeters"),
        ("68", "54", 0, "1 to 4 cylinders, not 0"),
        ("68", "54", 12, "1 to 4 cylinders, not 12"),
    ],
)
def test_what_is_no_small_engine_gets_a_sentence(bore, stroke, cylinders, sentence):
    with pytest.raises(NotInHandbook, match=sentence):
        displacement_of(D(bore), D(stroke), "millimeter", cylinders)


def test_compression_ratios_are_said_to_one():
    assert compression_ratio(D(196), D(26), "milliliter").text == "8.5 to 1."
    assert "unusual" in compression_ratio(D(196), D(10), "milliliter").text


@given(st.decimals(10, 1000, places=1), st.decimals("1.5", 30, places=2))
def test_the_chamber_grows_by_its_own_ratio(chamber, ratio):
    swept = chamber * ratio - chamber
    answer = compression_ratio(swept, chamber, "milliliter")
    assert float(answer.ratio) == pytest.approx(float(ratio))


@pytest.mark.parametrize(
    ("swept", "chamber"), [("0", "26"), ("196", "0"), ("-196", "26"), ("26", "196"), ("9000", "1")]
)
def test_volumes_that_no_engine_has_get_a_sentence(swept, chamber):
    with pytest.raises(NotInHandbook, match=r"two volumes above zero|No engine compresses"):
        compression_ratio(D(swept), D(chamber), "milliliter")


def test_units_must_fit():
    for ask in (
        lambda: oil_for(D(10), "psi"),
        lambda: compression_suggests(D(60), "volt"),
        lambda: displacement_of(D(68), D(54), "psi"),
        lambda: compression_ratio(D(196), D(26), "inch"),
    ):
        with pytest.raises(UnitsDoNotFit):
            ask()
