"""The question of the plan page, read as a sentence; the address and the kept question give its first values."""

from __future__ import annotations

from typing import Any

import streamlit as st

from graph.model import Car, Platform
from graph.quantity import Quantity
from ui import desk
from ui.asked import QUANTITIES, STEP, Asked, bounds, first_question, from_address, power_range
from ui.format import SHOWN, how_shown
from ui.sheet_table import trouble

KEPT = "asked"
#: Steps of the inputs in units other than the usual ones.
STEPS = {"psi": 0.5, "PS": 5.0, "bhp": 5.0}


def kept(key: str, usual: Any) -> str:
    """Key of a widget that comes back with its last value after it was away from the page."""
    st.session_state.setdefault(key, st.session_state.get(f"kept {key}", usual))
    return key


def keep(key: str, value: Any) -> None:
    """Remember the value of a widget beyond its stay on the page."""
    st.session_state[f"kept {key}"] = value


def ask(cars: dict[str, Car]) -> Asked:
    """Show the inputs.

    Parameters
    ----------
    cars : dict of str to Car
        Cars on record, at least one.

    Returns
    -------
    Asked
        The question; it stands in the address as well.
    """
    before: Asked | None = st.session_state.get(KEPT)
    named = st.query_params.get("car", "")
    if named and named not in cars:
        trouble(f"The address asks for car '{named}'; on record are {', '.join(cars)}.")
    start = named if named in cars else (before.car if before is not None and before.car in cars else next(iter(cars)))
    columns = st.columns([3, 5, 2, 2, 2], gap="small", vertical_alignment="bottom")
    with columns[0]:
        car = st.selectbox("Car", list(cars), index=list(cars).index(start), key="car")
    platform: Platform = desk.platforms()[cars[car].platform]
    fuels = desk.fuels()
    own = cars[car].fuel
    if own is not None and own not in fuels:  # what is in the tank may be in no book
        fuels = [own, *fuels]
    usual = before if before is not None and before.car == car else first_question(cars[car], platform, fuels)
    parameters = st.query_params.to_dict() if named == car else {}
    asked, refused = from_address(parameters, usual, platform)
    if asked.fuel not in fuels and "fuel" in parameters:
        refused.append(f"The address asks for fuel '{asked.fuel}'; the book holds {', '.join(fuels)}.")
    elif asked.fuel not in fuels:
        fuels = [asked.fuel, *fuels]
    fuel = asked.fuel if asked.fuel in fuels else usual.fuel
    with columns[1]:
        power = _number("power", car, asked.power, "wants, crank", power_range(platform))
    with columns[2]:
        boost = _number("boost", car, asked.boost, "boost up to", bounds("boost"))
    with columns[3]:
        key = f"fuel {car}"
        st.session_state.setdefault(key, fuel if fuel in fuels else fuels[0])
        fuel = st.selectbox("on", fuels, key=key)
    with columns[4]:
        ambient = _number("ambient", car, asked.ambient, "in air of", bounds("ambient"))
    for sentence in refused:
        trouble(sentence)
    row = st.session_state.get(f"row {car}", asked.row)
    view = st.session_state.get("view", asked.view)
    found = Asked(car=car, power=power, boost=boost, fuel=fuel, ambient=ambient, row=row or "", view=view or "")
    st.session_state[KEPT] = found
    return found


def told(asked: Asked) -> None:
    """Put the question into the address."""
    if st.query_params.to_dict() != asked.address():
        st.query_params.from_dict(asked.address())


def _number(name: str, car: str, value: float, words: str, ends: tuple[float, float]) -> float:
    """One number in the person's unit; a widget that stays on the page keeps its own value."""
    quantity = QUANTITIES[name]
    factor, offset, unit, _ = how_shown(quantity)
    usual_factor, usual_offset, usual_unit, _ = SHOWN[quantity]
    step = STEP[name] if unit == usual_unit else STEPS[unit]
    places = 1 if step < 1.0 else 0

    def there(number: float) -> float:
        return (number - usual_offset) / usual_factor * factor + offset

    key = f"{name} {car}" if unit == usual_unit else f"{name} {car} {unit}"
    if unit == usual_unit:
        low, high = ends
        first = value
    else:
        low, high = (round(there(e) / step) * step for e in ends)
        first = min(max(round(there(value) / step) * step, low), high)
    st.session_state.setdefault(key, first)
    if quantity is Quantity.POWER:
        found = st.slider(f"{words} {unit}", low, high, step=step, format=f"%.{places}f", key=key)
    else:
        found = st.number_input(f"{words}, {unit}", low, high, step=step, format=f"%.{places}f", key=key)
    if unit == usual_unit:
        return float(found)
    return round((float(found) - offset) / factor * usual_factor + usual_offset, 3)
