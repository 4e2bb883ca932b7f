"""The message about a name that is in no list: all of a short list, the nearest first of a long one."""

from __future__ import annotations

from graph.errors import SHOWN, UnknownName


def test_a_short_list_is_shown_whole_and_in_its_order():
    assert str(UnknownName("car", "x", ["car-b", "car-a"])) == "no car is called 'x'; known: car-b, car-a"


def test_of_a_long_list_the_nearest_name_comes_first_and_the_rest_is_counted():
    names = [f"place {n}" for n in range(30)] + ["turbine"]
    said = str(UnknownName("slot", "tubrine", names))
    assert said.startswith("no slot is called 'tubrine'; known: turbine, place 0, ")
    assert said.endswith(f" and {31 - SHOWN} more")


def test_an_empty_list_says_so():
    assert str(UnknownName("car", "car-a", [])) == "no car is called 'car-a'; known: none yet"
