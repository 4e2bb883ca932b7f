"""Edges of the unit grammar: what is declared by the column, and what a stored value of another kind is called."""

import math
from datetime import date, datetime, time, timedelta

import pytest

from graph.quantity import Quantity
from ingest.problem import UnreadableValue
from ingest.units import Measure, parse_quantity, read_value


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        (date(2026, 1, 5), "a date"),
        (datetime(2026, 1, 5, 12, 30), "a date"),
        (time(3, 4), "a time"),
        (timedelta(hours=5), "a time"),
        (True, "no number"),
        (b"5", "no number"),
    ],
)
def test_a_stored_value_of_another_kind_is_called_by_its_kind(value, kind):
    with pytest.raises(UnreadableValue, match=f", {kind}") as caught:
        read_value(value, Quantity.POWER, declared_unit="kW")
    assert str(value) in caught.value.found
    assert [k for k in ("a date", "a time", "no number") if f", {k}" in caught.value.found] == [kind]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_stored_value_that_is_no_number_is_shown_as_it_is(value):
    with pytest.raises(UnreadableValue) as caught:
        read_value(value, Quantity.POWER, declared_unit="kW")
    assert caught.value.found == repr(value)


@pytest.mark.parametrize("text", ["1e309 kW", "9e999 kW", f"{'9' * 400} kW", f"5..{'9' * 400} kW"])
def test_a_number_beyond_every_float_is_never_infinite(text):
    with pytest.raises(UnreadableValue):
        parse_quantity(text, Quantity.POWER)


def test_a_number_that_only_its_unit_carries_beyond_every_float_is_refused():
    """1e308 kW is 1e311 W; the largest double is about 1.8e308 (IEEE 754)."""
    with pytest.raises(UnreadableValue, match="beyond every number"):
        parse_quantity(f"1{'0' * 307} kW", Quantity.POWER)


@pytest.mark.parametrize(
    ("text", "quantity", "unit", "declared"),
    [
        ("5 kW", Quantity.POWER, None, False),
        ("5 kW", Quantity.POWER, "PS", False),
        ("5", Quantity.POWER, "PS", True),
        ("5", Quantity.COUNT, None, False),
        ("1.9:1", Quantity.PRESSURE_RATIO, None, False),
        ("1.9 abs", Quantity.ABSOLUTE_PRESSURE, "bar", True),
    ],
)
def test_whether_the_unit_is_the_column_s(text, quantity, unit, declared):
    assert parse_quantity(text, quantity, declared_unit=unit).declared is declared


def test_a_measure_says_nothing_that_was_not_given():
    plain = Measure(quantity=Quantity.POWER, value=1.0, text="1 W", unit="W")
    assert (plain.declared, plain.condition, plain.qualifiers, plain.low, plain.high) == (False, "", (), None, None)
