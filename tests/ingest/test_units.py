"""Workshop text read as quantities: what is certain is read, what is not is refused with a remedy.

Expected values are hand conversions with factors of NIST SP 811 (2008), appendix B; the factors themselves are checked
against scipy.constants (CODATA, NIST) and against pint's own default registry.
"""

from __future__ import annotations

import math
from datetime import date, time
from fractions import Fraction

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants

from graph.errors import OutOfRange, PinchpointError
from graph.quantity import Quantity
from ingest.problem import UnreadableValue
from ingest.unit_list import EXAMPLE, SI, UNITS, find_unit
from ingest.units import convert, format_quantity, parse_quantity, read_unit, read_value

ABSOLUTE, GAUGE, DIFFERENCE = Quantity.ABSOLUTE_PRESSURE, Quantity.GAUGE_PRESSURE, Quantity.PRESSURE_DIFFERENCE
FLOW, FUEL, POWER, TORQUE = Quantity.MASS_FLOW, Quantity.VOLUME_FLOW, Quantity.POWER, Quantity.TORQUE
SPEED, LENGTH, DURATION = Quantity.ROTATIONAL_SPEED, Quantity.LENGTH, Quantity.DURATION
TEMPERATURE, RATIO, COUNT = Quantity.TEMPERATURE, Quantity.RATIO, Quantity.COUNT

HP, PS, PSI = 745.69987158227, 735.49875, 6894.757293168361
POUND, LITRE_PER_HOUR, CC_PER_MINUTE = 0.45359237, 1e-3 / 3600, 1e-6 / 60

READ = [
    # what a unit library reads wrongly without a word
    ("1,8 bar", GAUGE, 1.8e5),
    ("1 000 kW", POWER, 1e6),
    ("585 Nm", TORQUE, 585.0),
    ("400 PS", POWER, 400 * PS),
    ('3"', LENGTH, 0.0762),
    ("550 cc/min @ 3 bar", FUEL, 550 * CC_PER_MINUTE),
    ("430 lb ft", TORQUE, 430 * 1.3558179483314),
    ("12.5:1", RATIO, 12.5),
    ("9.6 : 1", RATIO, 9.6),
    # numbers
    ("1.234,5 kW", POWER, 1_234_500.0),
    ("1,234.5 kW", POWER, 1_234_500.0),
    ("1.234.567 W", POWER, 1_234_567.0),
    ("1'500 W", POWER, 1500.0),
    ("1\u00a0000\u00a0kW", POWER, 1e6),
    ("1\u202f000 kW", POWER, 1e6),
    ("1\u2009987\u2009cm³", Quantity.VOLUME, 1.987e-3),
    ("90 000 km", Quantity.DISTANCE, 9e7),
    ("120 000 km", Quantity.DISTANCE, 1.2e8),
    ("400\u202f450 W", POWER, 400_450.0),
    ("0,188 cm³/stroke", Quantity.VOLUME, 1.88e-7),
    ("0.235 cc/stroke", Quantity.VOLUME, 2.35e-7),
    ("1234.567 W", POWER, 1234.567),
    ("\u221210 °C", TEMPERATURE, 263.15),
    ("+5 °C", TEMPERATURE, 278.15),
    ("½ day", DURATION, 43_200.0),
    ("2½ h", DURATION, 9000.0),
    ("2.0e-5 kg·√K/(s·Pa)", Quantity.FLOW_PARAMETER, 2e-5),
    ("2,0·10⁻⁵ kg√K/(s Pa)", Quantity.FLOW_PARAMETER, 2e-5),
    ("2.0 x 10^-5 kg*sqrt(K)/(s*Pa)", Quantity.FLOW_PARAMETER, 2e-5),
    ("2.0e-5 kg.K^0.5/(s.Pa)", Quantity.FLOW_PARAMETER, 2e-5),
    # units
    ("16,5g/s@100", FLOW, 0.0165),
    ("45 lb/min", FLOW, 45 * POUND / 60),
    ("3000 lbs/hr", FLOW, 3000 * POUND / 3600),
    ("109 kg/h", FLOW, 109 / 3600),
    ("240 l/h", FUEL, 240 * LITRE_PER_HOUR),
    ("240 L/H", FUEL, 240 * LITRE_PER_HOUR),
    ("4 L/min", FUEL, 4e-3 / 60),
    ("550 cm³ / min", FUEL, 550 * CC_PER_MINUTE),
    ("340kW", POWER, 340_000.0),
    ("340 KW", POWER, 340_000.0),
    ("456 bhp", POWER, 456 * HP),
    ("400 ft-lbf", TORQUE, 400 * 1.3558179483314),
    ("55 kgf m", TORQUE, 55 * 9.80665),
    ("540 N·m", TORQUE, 540.0),
    ("6600 1/min", SPEED, 110.0),
    ("6 600 rpm", SPEED, 110.0),
    ("6600 min\u207b\u00b9", SPEED, 110.0),
    ("6600/min", SPEED, 110.0),
    ("6600 U/min", SPEED, 110.0),
    ("220 mm²", Quantity.AREA, 2.2e-4),
    ("10 \u00b5m", LENGTH, 1e-5),
    ("10 \u03bcm", LENGTH, 1e-5),
    ("0.748 kg/L", Quantity.DENSITY, 748.0),
    ("212 °F", TEMPERATURE, 373.15),
    ("65 °C", TEMPERATURE, 338.15),
    ("18 °F", Quantity.TEMPERATURE_DIFFERENCE, 10.0),
    ("15 °C", Quantity.TEMPERATURE_DIFFERENCE, 15.0),
    ("258°", Quantity.ANGLE, math.radians(258)),
    ("0,4 ms", DURATION, 4e-4),
    ("12 min", DURATION, 720.0),
    ("72 %", RATIO, 0.72),
    ("0.72 [1]", RATIO, 0.72),
    ("98 RON", Quantity.OCTANE_NUMBER, 98.0),
    ("2.7", Quantity.PRESSURE_RATIO, 2.7),
    ("4x", COUNT, 4.0),
    ("12 stops", COUNT, 12.0),
    ("70 mJ", Quantity.ENERGY, 0.07),
    ("0.9 kW/K", Quantity.THERMAL_CONDUCTANCE, 900.0),
    # pressures
    ("2.2 bar", GAUGE, 2.2e5),
    ("32 psi", GAUGE, 32 * PSI),
    ("220 kPa", GAUGE, 2.2e5),
    ("3.2 bar abs", ABSOLUTE, 3.2e5),
    ("30 inHg", ABSOLUTE, 30 * 3386.388640341),
    ("3.0 bar diff.", DIFFERENCE, 3e5),
    ("4.0 kPa", DIFFERENCE, 4000.0),
]


@pytest.mark.parametrize(("text", "quantity", "value"), READ)
def test_certain_text_is_read(text: str, quantity: Quantity, value: float) -> None:
    measure = parse_quantity(text, quantity)
    assert measure.value == pytest.approx(value, rel=1e-12)
    assert measure.text == text


REFUSED = [
    ("1,200 rpm", SPEED, "1200 or 1.2"),
    ("1.234 kW", POWER, "1234 or 1.234"),
    ("400 450 hp", POWER, "two numbers"),
    ("550", FUEL, "without a unit"),
    ("0.72", RATIO, "without a unit"),
    ("2.2", GAUGE, "without a unit"),
    ("550cc@3bar", FUEL, "a unit of volume"),
    ("550 (43.5psi)", FUEL, "several numbers"),
    ("118 bar peak ≈ 322 kW", ABSOLUTE, "several numbers"),
    ("70 mJ → 1.95 bar", Quantity.ENERGY, "several numbers"),
    ("150 L/h new; 115 at 90 000 km", FUEL, "several numbers"),
    ("2.2 bar / 32 psi", GAUGE, "several numbers"),
    ("450 ±10 hp", POWER, "several numbers"),
    ("220 kPa", FLOW, "a unit of absolute pressure or gauge pressure"),
    ("16 A box", Quantity.CURRENT, "no known unit"),
    ("585 lb", TORQUE, "no known unit"),
    ("3 mPa", GAUGE, "no known unit"),
    ("3 MBAR", GAUGE, "no known unit"),
    ("40 mW", POWER, "no known unit"),
    ("20 s", Quantity.DISTANCE, "a unit of duration"),
    ("12. Mai", FLOW, "a date"),
    ("12-May", FLOW, "a date"),
    ("2024-05-12", FLOW, "a date"),
    ("12.05.2024", FLOW, "a date"),
    ("12.5.", FLOW, "a date"),
    ("12/2024", DURATION, "a date"),
    ("5/12", COUNT, "a fraction, a date or a range"),
    ("1/2 day", DURATION, "a fraction, a date or a range"),
    ("007 mm", LENGTH, "starts with a zero"),
    ("1.2.3 bar", GAUGE, "commas and points"),
    ("1e999 kW", POWER, "beyond every number"),
    ("450/400 hp", POWER, "do not rise"),
    ("5 -3 °C", TEMPERATURE, "a range or a negative number"),
    ("-5--3 °C", TEMPERATURE, "two signs"),
    ("up to 450+ hp", POWER, "at once"),
    ("", FLOW, "nothing"),
    ("  \u00a0", FLOW, "nothing"),
    ("tbc", POWER, "words without a number"),
    ("OK", POWER, "words without a number"),
    ("call", DURATION, "words without a number"),
    ("ex stock", DURATION, "words without a number"),
    ("–", POWER, "words without a number"),
    ("?", POWER, "words without a number"),
    ("E85", RATIO, "E85"),
    ("stage 2+", POWER, "stage 2+"),
    ("@ 3 bar", FUEL, "no number before '@'"),
    ("550 cc/min @", FUEL, "nothing behind '@'"),
    ("2.2 bar abs", GAUGE, "says absolute"),
    ("32 psia", GAUGE, "says absolute"),
    ("3.2 bar g", ABSOLUTE, "says gauge"),
    ("4 kPa gauge", DIFFERENCE, "says gauge"),
    ("3 bar diff", GAUGE, "says difference"),
    ("3 bar (abs", ABSOLUTE, "no known unit"),
    ("400 kW abs", POWER, "no known unit"),
    ("-0.2 bar abs", ABSOLUTE, "below absolute zero"),
    ("-300 °C", TEMPERATURE, "below absolute zero"),
    ("-1", COUNT, "below zero"),
    ("2,5 pcs", COUNT, "not a whole number"),
    ("10 1", RATIO, "several numbers"),
]


@pytest.mark.parametrize(("text", "quantity", "reason"), REFUSED)
def test_doubtful_text_is_refused_with_its_reason_and_a_remedy(text: str, quantity: Quantity, reason: str) -> None:
    with pytest.raises(UnreadableValue) as caught:
        parse_quantity(text, quantity)
    error = caught.value
    assert reason in error.found
    assert text.strip() in error.found or "nothing" in error.found
    assert quantity.label in error.expected
    assert error.remedy
    assert "\n" not in str(error)
    assert isinstance(error, PinchpointError)
    problem = error.problem(file="parts.xlsx", sheet="Fuel", row=12, column="F")
    assert problem.where == "parts.xlsx, sheet 'Fuel', row 12, column 'F'"
    assert problem.sentence == f"{problem.where}: {error}"


@pytest.mark.parametrize(
    ("text", "low", "high", "qualifiers"),
    [
        ("400/450 W", 400, 450, ("range",)),
        ("400-450 W", 400, 450, ("range",)),
        ("400 – 450 W", 400, 450, ("range",)),
        ("400 to 450 W", 400, 450, ("range",)),
        ("400 bis 450 W", 400, 450, ("range",)),
        ("400..450 W", 400, 450, ("range",)),
        ("0.83–0.86 W", 0.83, 0.86, ("range",)),
        ("ca. 400-450 W", 400, 450, ("approximately", "range")),
        ("450+ W", 450, None, ("at least",)),
        ("450 W+", 450, None, ("at least",)),
        (">= 450 W", 450, None, ("at least",)),
        ("≥450 W", 450, None, ("at least",)),
        ("min. 450 W", 450, None, ("at least",)),
        ("450 W min", 450, None, ("at least",)),
        ("up to 450 W", None, 450, ("at most",)),
        ("≤ 450 W", None, 450, ("at most",)),
        ("450 W max", None, 450, ("at most",)),
        ("~ 450 W", None, None, ("approximately",)),
        ("≈450 W", None, None, ("approximately",)),
        ("450 W?", None, None, ("doubtful",)),
        ("450 W (?) @ 3 bar", None, None, ("doubtful",)),
        ("450 W", None, None, ()),
    ],
)
def test_words_around_the_number(text: str, low: float | None, high: float | None, qualifiers: tuple[str, ...]) -> None:
    measure = parse_quantity(text, POWER)
    assert (measure.low, measure.high) == (low, high)
    assert set(measure.qualifiers) == set(qualifiers)
    stated = [bound for bound in (low, high) if bound is not None] or [450.0]
    assert measure.value == pytest.approx(sum(stated) / len(stated))


@pytest.mark.parametrize(
    ("text", "reference"),
    [
        *(
            (f"2.2 {words}", "gauge")
            for words in ("bar g", "bar gauge", "barg", "bar(g)", "bar (g)", "kPa rel", "Bar G")
        ),
        ("32 psig", "gauge"),
        ("32 psi", None),
        ("1.2 bar ü", "gauge"),
    ],
)
def test_gauge_is_a_reference_and_not_a_unit(text: str, reference: str | None) -> None:
    assert parse_quantity(text, GAUGE).reference == reference


@pytest.mark.parametrize(
    "words", ["bar abs", "bar a", "bara", "bar(a)", "bar (abs)", "bar absolute", "kPa abs", "psia"]
)
def test_absolute_is_a_reference_and_not_a_unit(words: str) -> None:
    assert parse_quantity(f"3.2 {words}", ABSOLUTE).reference == "absolute"


@pytest.mark.parametrize(
    ("text", "basis"),
    [
        ("400hp wheel?", "wheel"),
        ("400 hp (wheel)", "wheel"),
        ("400 hp at the wheels", "wheel"),
        ("400 whp", "wheel"),
        ("400 hp crank", "crank"),
        ("400 hp", None),
        ("400 bhp", None),
    ],
)
def test_wheel_or_crank_is_kept_beside_the_unit(text: str, basis: str | None) -> None:
    measure = parse_quantity(text, POWER)
    assert measure.basis == basis
    assert measure.value == pytest.approx(400 * HP, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "condition"),
    [
        ("16,5g/s@100", "100"),
        ("16.5 g/s @ 100 bar, n-heptane", "100 bar, n-heptane"),
        ("16.5 g/s at 100 bar", "100 bar"),
        ("16.5 g/s", ""),
    ],
)
def test_the_condition_is_kept_unread(text: str, condition: str) -> None:
    assert parse_quantity(text, FLOW).condition == condition


def test_a_count_keeps_the_word_in_brackets() -> None:
    measure = parse_quantity("1 (used)", COUNT)
    assert (measure.value, measure.condition) == (1.0, "used")


def test_the_declared_unit_serves_bare_numbers_only() -> None:
    bare = parse_quantity("550", FUEL, declared_unit="[cc/min]")
    assert (bare.value, bare.unit, bare.declared) == (pytest.approx(550 * CC_PER_MINUTE), "cc/min", True)
    own = parse_quantity("33 L/h", FUEL, declared_unit="cc/min")
    assert (own.value, own.unit, own.declared) == (pytest.approx(33 * LITRE_PER_HOUR), "L/h", False)


def test_the_declared_reference_holds_for_units_written_in_the_cell() -> None:
    assert parse_quantity("27 psi", GAUGE, declared_unit="bar gauge").reference == "gauge"
    assert parse_quantity("3 abs", ABSOLUTE, declared_unit="bar").reference == "absolute"
    with pytest.raises(UnreadableValue, match="says absolute"):
        parse_quantity("3 abs", GAUGE, declared_unit="bar gauge")


@pytest.mark.parametrize("unit", ["cc", "bar", "foo", ""])
def test_a_declared_unit_of_another_quantity_is_refused(unit: str) -> None:
    with pytest.raises(UnreadableValue, match="volume flow"):
        parse_quantity("550", FUEL, declared_unit=unit)


def test_a_declared_decimal_sign_settles_three_digits() -> None:
    assert parse_quantity("1.234 kW", POWER, decimal=",").value == 1_234_000.0
    assert parse_quantity("1.234 kW", POWER, decimal=".").value == 1234.0
    assert parse_quantity("1,200 kW", POWER, decimal=",").value == 1200.0
    assert parse_quantity("1,8 bar", GAUGE, decimal=".").value == pytest.approx(1.8e5)
    with pytest.raises(UnreadableValue, match="commas and points"):
        parse_quantity("1.234.567 W", POWER, decimal=".")


@pytest.mark.parametrize("value", [date(2024, 5, 12), time(3, 4), True, None, "", math.nan])
def test_a_cell_that_holds_no_number_is_refused(value: object) -> None:
    with pytest.raises(UnreadableValue, match="expected a mass flow"):
        read_value(value, FLOW, declared_unit="g/s")


def test_a_stored_number_has_one_reading() -> None:
    assert read_value(1.234, FLOW, declared_unit="kg/s").value == 1.234
    assert read_value(1234, FLOW, declared_unit="g/s").value == pytest.approx(1.234)
    assert read_value("16,5", FLOW, declared_unit="g/s").value == pytest.approx(0.0165)


@pytest.mark.parametrize(
    ("unit", "quantity", "factor"),
    [
        ("hp", POWER, constants.hp),
        ("psi", ABSOLUTE, constants.psi),
        ("atm", ABSOLUTE, constants.atm),
        ("bar", ABSOLUTE, constants.bar),
        ("in", LENGTH, constants.inch),
        ("mi", Quantity.DISTANCE, constants.mile),
        ("lb/min", FLOW, constants.lb / constants.minute),
        ("lb ft", TORQUE, constants.lbf * constants.foot),
        ("kgf m", TORQUE, constants.kgf),
        ("PS", POWER, 75 * constants.kgf),
        ("L/h", FUEL, constants.liter / constants.hour),
        ("weeks", DURATION, constants.week),
        ("°", Quantity.ANGLE, constants.degree),
    ],
)
def test_factors_agree_with_scipy(unit: str, quantity: Quantity, factor: float) -> None:
    assert convert(1.0, unit, SI[quantity], quantity) == pytest.approx(factor, rel=1e-12)


def test_temperatures_agree_with_scipy() -> None:
    for unit, name in (("°C", "Celsius"), ("°F", "Fahrenheit")):
        for value in (-40.0, 0.0, 98.6):
            expected = constants.convert_temperature(value, name, "Kelvin")
            assert convert(value, unit, "K", TEMPERATURE) == pytest.approx(expected, rel=1e-12)


DEFAULT_NAMES = {
    "hp": "horsepower",
    "bhp": "horsepower",
    "PS": "metric_horsepower",
    "inHg": "inch_Hg",
    "U/min": "1/min",
    "°": "degree",
    "%": "percent",
    "weeks": "week",
    "days": "day",
    "cc": "cm**3",
    "cc/min": "cm**3/min",
    "lb ft": "lbf*ft",
    "kgf m": "kgf*m",
    "N.m": "N*m",
    "in": "inch",
    "mi": "mile",
    "rpm": "1/min",
    **{
        f"{mass}·√K/(s·{pressure})": f"{mass}*K**0.5/(s*{pressure})"
        for mass in ("g", "kg")
        for pressure in ("Pa", "kPa", "bar")
    },
}
ALL_UNITS = [(quantity, unit.label) for quantity, units in UNITS.items() for unit in units]


def test_factors_agree_with_the_default_registry_of_pint() -> None:
    registry = pint.UnitRegistry()
    checked = 0
    for quantity, label in ALL_UNITS:
        if quantity in (TEMPERATURE, Quantity.TEMPERATURE_DIFFERENCE, COUNT, Quantity.OCTANE_NUMBER):
            continue
        if label == "1":
            continue
        name = DEFAULT_NAMES.get(label, label).replace("/stroke", "")
        for power in ("2", "3"):
            name = name.replace(f"m{power}", f"m**{power}")
        expected = registry.Quantity(1.0, name).to_base_units()
        target = SI[quantity].replace("·√K", "*K**0.5").replace("·", "*").replace("N.m", "N*m")
        target = target.replace("m3", "m**3").replace("m2", "m**2")
        reference = registry.Quantity(1.0, target).to_base_units() if target != "1" else registry.Quantity(1.0, "")
        assert expected.dimensionality == reference.dimensionality, label
        ratio = expected.magnitude / reference.magnitude
        assert convert(1.0, label, SI[quantity], quantity) == pytest.approx(ratio, rel=1e-6), label
        checked += 1
    assert checked > 70


def test_every_quantity_has_units_its_si_unit_and_a_readable_example() -> None:
    for quantity in Quantity:
        assert find_unit(SI[quantity], quantity) is not None
        assert find_unit(quantity.unit, quantity) is not None
        assert parse_quantity(EXAMPLE[quantity], quantity).quantity is quantity


def test_no_spelling_means_two_units_of_one_quantity() -> None:
    for quantity, units in UNITS.items():
        for unit in units:
            for spelling in unit.spellings:
                assert find_unit(spelling, quantity) is unit, (quantity, spelling)


@pytest.mark.parametrize(("quantity", "label"), ALL_UNITS)
@settings(max_examples=40, deadline=None)
@given(number=st.floats(min_value=-1e9, max_value=1e9, allow_subnormal=False))
def test_what_is_written_is_read_back(quantity: Quantity, label: str, number: float) -> None:
    if quantity in (ABSOLUTE, COUNT):
        number = abs(number)
    if quantity is TEMPERATURE:
        number = abs(number) + 1.0
    if quantity is COUNT:
        number = float(round(number))
    measure = parse_quantity(format_quantity(number, quantity, label), quantity)
    scale = abs(convert(1.0, label, SI[quantity], quantity)) if quantity is TEMPERATURE else 0.0
    assert measure.value == pytest.approx(number, rel=1e-12, abs=1e-12 * scale + 1e-300)
    assert measure.unit == label
    assert measure.qualifiers == ()


@given(number=st.fractions(min_value=Fraction(1, 1000), max_value=999, max_denominator=1000))
def test_three_decimals_are_never_written_in_a_form_with_two_readings(number: Fraction) -> None:
    value = round(float(number), 3)
    assert parse_quantity(format_quantity(value, POWER, "W"), POWER).value == value


@given(text=st.text(max_size=40))
def test_any_text_is_read_or_refused_in_one_way(text: str) -> None:
    for quantity in (GAUGE, COUNT, FLOW):
        try:
            measure = parse_quantity(text, quantity, declared_unit=SI[quantity])
        except UnreadableValue:
            continue
        assert math.isfinite(measure.value)


@given(text=st.text(alphabet="0123456789., '-+/eE½x10^@?~<>()bargNmkW%\u00a0\u202f\u2212–", max_size=24))
def test_any_mix_of_the_grammars_own_characters_is_read_or_refused(text: str) -> None:
    for quantity in (GAUGE, POWER, RATIO):
        try:
            measure = parse_quantity(text, quantity)
        except UnreadableValue:
            continue
        assert math.isfinite(measure.value)


def test_what_cannot_be_written_is_refused() -> None:
    with pytest.raises(OutOfRange, match="finite"):
        format_quantity(math.inf, POWER, "kW")
    with pytest.raises(UnreadableValue, match="no known unit"):
        format_quantity(1.0, POWER, "horses")


def test_gauge_and_absolute_are_never_converted_into_each_other() -> None:
    with pytest.raises(UnreadableValue, match="says absolute"):
        convert(1.0, "bar gauge", "bar abs", GAUGE)


def test_headers_state_units_with_their_words() -> None:
    words = read_unit("[hp wheel]", POWER)
    assert (words.unit.label, words.basis) == ("hp", "wheel")
    assert read_unit("bar(g)", GAUGE).reference == "gauge"
