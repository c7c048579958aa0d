"""Units against their definitions.

Sources: [1] BIPM, The International System of Units, 9th edition 2019 (prefixes, litre, hour,
degree Celsius: T/K = t/degC + 273.15; standard atmosphere 101325 Pa; bar 1e5 Pa); [2] NIST SP 811
(2008), appendix B.8 (psi 6.894757 kPa, torr 133.3224 Pa, mmHg 133.3224 Pa, inch 25.4 mm, pound
0.45359237 kg, lbf 4.448222 N, degree Fahrenheit T/K = (t/degF + 459.67)/1.8,
inch of water (conventional) 249.0889 Pa).
"""

from __future__ import annotations

import math

import pytest

from review.scenario import units
from review.scenario.units import Dimension, convert, parse, parse_stated, show
from review.scenario.usual import FACTORS, from_si, to_si

KNOWN: list[tuple[str, Dimension, float]] = [
    ("20 mm", "length", 0.020),
    ("80cm", "length", 0.80),
    ("1 in", "length", 0.0254),
    ("5 µm", "length", 5e-6),
    ("5 \u03bcm", "length", 5e-6),
    ("100 mL", "volume", 1e-4),
    ("60 m3", "volume", 60.0),
    ("60 m³", "volume", 60.0),
    ("60 m^3", "volume", 60.0),
    ("1 cc", "volume", 1e-6),
    ("2 cm2", "area", 2e-4),
    ("5 g", "mass", 0.005),
    ("1 lb", "mass", 0.45359237),
    ("500 mmol", "amount", 0.5),
    ("10 min", "time", 600.0),
    ("1.5 h", "time", 5400.0),
    ("2 days", "time", 172800.0),
    ("480 degC", "temperature", 753.15),
    ("480 °C", "temperature", 753.15),
    ("480 ℃", "temperature", 753.15),
    ("700 K", "temperature", 700.0),
    ("20 degF", "temperature", (20 + 459.67) / 1.8),
    ("-78.5 degC", "temperature", 194.65),
    ("−78.5 degC", "temperature", 194.65),
    ("5 K", "temperature_difference", 5.0),
    ("-5 delta_degC", "temperature_difference", -5.0),
    ("9 delta_degF", "temperature_difference", 5.0),
    ("0.4 bar gauge", "pressure", 141325.0),
    ("0.4 barg", "pressure", 141325.0),
    ("0.4 bar(g)", "pressure", 141325.0),
    ("0.4 bar (g)", "pressure", 141325.0),
    ("1.2 bar absolute", "pressure", 120000.0),
    ("1.2 bara", "pressure", 120000.0),
    ("1.2 bar abs", "pressure", 120000.0),
    ("-0.5 bar gauge", "pressure", 51325.0),
    ("10 psig", "pressure", 101325.0 + 68947.57),
    ("10 psia", "pressure", 68947.57),
    ("20 kPa gauge", "pressure", 121325.0),
    ("10 mbarg", "pressure", 102325.0),
    ("4 inH2O gauge", "pressure", 101325.0 + 4 * 249.0889),
    ("1 atm", "pressure", 101325.0),
    ("1 atm", "pressure_absolute", 101325.0),
    ("760 mmHg", "pressure", 101325.0),
    ("760 Torr", "pressure", 101325.0),
    ("76 mmHg gauge", "pressure", 101325.0 * 1.1),
    ("0.5 m/s", "speed", 0.5),
    ("1 lbf", "force", 4.448222),
    ("4 / hour", "rate_per_time", 4 / 3600),
    ("4 1/h", "rate_per_time", 4 / 3600),
    ("4/h", "rate_per_time", 4 / 3600),
    ("4 per hour", "rate_per_time", 4 / 3600),
    ("4 h^-1", "rate_per_time", 4 / 3600),
    ("1.2 g/cm3", "density", 1200.0),
    ("3", "number", 3.0),
    ("45 deg", "angle", math.pi / 4),
    ("45°", "angle", math.pi / 4),
    ("500 W", "power", 500.0),
    ("20 MPa", "stress", 2e7),
    ("20 N/mm2", "stress", 2e7),
    ("5 %", "fraction", 0.05),
    ("500 ppm", "fraction", 5e-4),
    ("20 ppb", "fraction", 2e-8),
    ("0.05", "fraction", 0.05),
    ("5 mol%", "fraction_mole", 0.05),
    ("5 wt%", "fraction_mass", 0.05),
    ("5 vol %", "fraction_volume", 0.05),
    ("20 ppmv", "fraction_volume", 2e-5),
]


@pytest.mark.parametrize(("text", "dimension", "value"), KNOWN)
def test_known_conversion(text: str, dimension: Dimension, value: float) -> None:
    # NIST SP 811 gives seven digits.
    assert parse(text, dimension) == pytest.approx(value, rel=2e-7)


@pytest.mark.parametrize(
    ("text", "by", "value"),
    [
        ("200 mL/min", "volume", 200e-6 / 60),
        ("3 L per min", "volume", 3e-3 / 60),
        ("3.6 m3/h", "volume", 1e-3),
        ("60 mmol/min", "molar", 1e-3),
        ("6 g/min", "mass", 1e-4),
    ],
)
def test_flow_says_by_what_it_was_stated(text: str, by: str, value: float) -> None:
    stated = parse_stated(text, "flow")
    assert stated.by == by
    assert stated.value == pytest.approx(value)


def test_a_pressure_that_says_neither_is_read_as_its_field_says() -> None:
    """A supply's gauge shows gauge; a rating may be absolute, which is less (hand arithmetic)."""
    assert parse("0.4 bar", "pressure", bare="gauge") == pytest.approx(101325 + 40000)
    assert parse("5 bar", "pressure", bare="absolute") == pytest.approx(500000)
    assert parse("5 bar gauge", "pressure", bare="absolute") == pytest.approx(601325)
    assert parse("1 atm", "pressure", bare="gauge") == pytest.approx(101325)
    # A rating of 1 bar would be none at all if it were absolute: it asks which.
    for text in ("1 bar", "1.4 bar", "0.5 bar"):
        with pytest.raises(ValueError, match="does not say which"):
            parse(text, "pressure", bare="absolute")


WRONG: list[tuple[str, Dimension, str]] = [
    ("25 C", "temperature", "'C' is coulomb in unit systems: write '25 degC'"),
    ("77 F", "temperature", "'F' is farad in unit systems: write '77 degF'"),
    ("20", "temperature", "has no unit: write for example '480 degC'"),
    ("-300 degC", "temperature", "is not above absolute zero"),
    ("0 K", "temperature", "is not above absolute zero"),
    ("5 delta_degC", "temperature", "is a difference: write '5 degC'"),
    ("5 degC", "temperature_difference", "is a temperature: write '5 K'"),
    ("0.4 bar", "pressure", "write '0.4 bar gauge' or '0.4 bar absolute'"),
    ("14.7 psi", "pressure_absolute", "does not say which: write '14.7 psi absolute'"),
    ("-2 bar gauge", "pressure", "is below vacuum"),
    ("-1 bar absolute", "pressure", 'negative pressure "-1 bar absolute"'),
    ("20 MPa gauge", "stress", "is no stress"),
    ("1,5 mm", "length", "has a decimal comma: write a point"),
    ("1.2.3 mm", "length", "is no length"),
    ("5-10 mm", "length", "is no length"),
    ("1:30", "time", "is no time: write for example '10 min'"),
    ("10 m", "time", "is no time"),
    ("5 Mm", "length", 'unknown unit "Mm" in "5 Mm" (nearest: \'mm\')'),
    ("2 Ml", "volume", 'unknown unit "Ml" in "2 Ml" (nearest: \'ml\')'),
    ("3 rpm", "rate_per_time", 'unknown unit "rpm"'),
    ("3 deg/s", "rate_per_time", "is no rate"),
    ("1 MM", "length", 'unknown unit "MM"'),
    ("nan", "number", "is not a finite number"),
    ("1e999 m", "length", "is not a finite number"),
    ("-0.1", "fraction", "negative fraction"),
    ("101 %", "fraction", "fraction above 1"),
    ("5", "fraction", "write '5 %'"),
    ("5 g/L", "fraction", "is no fraction"),
    ("5 wt%", "fraction_mole", "is a mass fraction, a mole fraction is expected"),
    ("3 m", "number", "should be a number without unit"),
    ("-4 / hour", "rate_per_time", "negative rate"),
    ("2 m**9**9**9", "length", "is no length"),
    ("2 m^9", "length", "is no length"),
    ("2 " + "m*" * 50, "length", "is too long"),
    ("2 __import__", "length", 'unknown unit "__import__"'),
    ("", "length", "length is empty: write for example '20 mm'"),
]


@pytest.mark.parametrize(("text", "dimension", "message"), WRONG)
def test_wrong_text_shows_the_right_spelling(text: str, dimension: Dimension, message: str) -> None:
    with pytest.raises(ValueError) as caught:
        parse(text, dimension)
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("text", "plain"), [("20 sccm", "20 mL/min"), ("2 slm", "2 L/min"), ("0.1 Nm3/h", "0.1 m3/h")]
)
def test_a_unit_that_says_its_condition_is_a_flow_at_0_degc(text: str, plain: str) -> None:
    """SEMI E12 and DIN 1343 (from memory): 0 degC, 101325 Pa."""
    assert parse_stated(text, "flow") == parse_stated(plain, "flow")
    assert units.at_normal(text) and not units.at_normal(plain)


@pytest.mark.parametrize("dimension", [d for d in units.SPECS if d not in ("flow", "quantity")])
def test_the_example_of_each_dimension_reads(dimension: Dimension) -> None:
    assert math.isfinite(parse(units.SPECS[dimension].example, dimension))


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (573.15, "degC", "300 degC"),
        (120000.0, "bar absolute", "1.2 bar absolute"),
        (0.05, "%", "5 %"),
        (5e-4, "ppm", "500 ppm"),
        (0.0254, "mm", "25.4 mm"),
        (200e-6 / 60, "mL/min", "200 mL/min"),
        (5400.0, "min", "90 min"),
        (1234.0, "s", "1230 s"),
        (2.0, "", "2"),
        (4 / 3600, "1/h", "4 1/h"),
        (1200.0, "g/cm3", "1.2 g/cm3"),
        (0.0, "mm", "0 mm"),
        (1e12, "", "1e+12"),
        (math.nan, "degC", "unknown"),
        (math.inf, "s", "inf s"),
        (-5.0, "K", "-5 K"),
    ],
)
def test_shown_with_three_digits(value: float, unit: str, shown: str) -> None:
    assert show(value, unit) == shown


def test_what_is_shown_reads_back() -> None:
    cases: list[tuple[str, Dimension, str]] = [
        ("0.4 bar absolute", "pressure", "bar absolute"),
        ("480 degC", "temperature", "degC"),
        ("20 psi absolute", "pressure", "psi absolute"),
    ]
    for text, dimension, unit in cases:
        value = parse(text, dimension)
        assert show(value, unit) == text
        assert convert(value, unit) == pytest.approx(float(text.split()[0]))


def test_each_text_is_parsed_once() -> None:
    units.clear_memo()
    for _ in range(3):
        parse("17 mm", "length")
    assert units._parsed.cache_info().misses == 1
    units.clear_memo()
    assert units._parsed.cache_info().currsize == 0


@pytest.mark.parametrize("unit", [*FACTORS, "degC"])
def test_usual_units_are_those_of_pint_to_the_last_bit(unit: str) -> None:
    registry = units._registry()
    spelled = registry.parse_units(unit)
    for value in (1.0, 0.1, 7.3, 293.15, 1e-9, -2.7e5):
        known = to_si(value, unit)
        assert known is not None
        assert registry.Quantity(value, spelled).to(known[1]).magnitude == known[0]
        assert registry.Quantity(value, known[1]).to(spelled).magnitude == from_si(value, unit)
