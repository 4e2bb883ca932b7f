"""The fuel chain against SciPy's root of the same balance, hand calculations, and what must hold for any chain."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from graph.physics.fuel_chain import Chain
from graph.physics.low_side import controlled_flow, filling, inlet_pressure, pump_voltage

LITRE_PER_HOUR = 1.0 / 3.6e6
TANK = {"tank pump flow": 120.0 * LITRE_PER_HOUR, "tank pump pressure": 5.5e5, "tank pump voltage": 13.2}


def chain(**said):
    return of({name.replace("_", " "): value for name, value in said.items()})


def of(linked):
    return Chain(density=745.0, jet_flow=15.0 * LITRE_PER_HOUR, low_side=5.5e5, voltage=13.2, rail=200e5, linked=linked)


def balance(share, made, flow, speed):
    """What the chain could deliver less what flows, written out a second time in floats."""
    said = made.linked
    litres = share * flow / 745.0 + made.jet_flow
    voltage = 13.2
    if "wiring current" in said:
        current = said["tank pump current"] * (0.5 + 0.5 * litres / said["tank pump flow"])
        voltage -= said["wiring drop"] * max(current / said["wiring current"] - 1.0, 0.0)
    full = said["tank pump flow"] * (1.0 + 0.09 * (voltage - said["tank pump voltage"]))
    pressure = min(5.5e5, said["tank pump pressure"] + (1.0 - litres / full) / 0.06 * 1e5)
    for part in ("filter", "line"):
        if f"{part} flow" in said:
            pressure -= said[f"{part} drop"] * max((litres / said[f"{part} flow"]) ** 2 - 1.0, 0.0)
    share_filled = min(max((max(pressure, 0.0) - 1.0e5) / 3.0e5, 0.0), 1.0)
    return share_filled * said["cam pump delivery"] * speed * 745.0 / flow - share


@settings(max_examples=60, deadline=None)
@given(
    tank=st.floats(60.0, 200.0),
    cam=st.floats(0.15e-6, 0.5e-6),
    wire=st.floats(6.0, 30.0),
    line=st.floats(80.0, 250.0),
    flow=st.floats(0.010, 0.040),
    speed=st.floats(30.0, 115.0),
)
def test_the_share_that_arrives_is_the_root_of_the_balance(tank, cam, wire, line, flow, speed):
    linked = {
        **TANK,
        "tank pump flow": tank * LITRE_PER_HOUR,
        "tank pump current": 12.0,
        "wiring current": wire,
        "wiring drop": 0.5,
        "line flow": line * LITRE_PER_HOUR,
        "line drop": 0.6e5,
        "cam pump delivery": cam,
    }
    made = of(linked)
    found = float(made.arriving(flow, speed))
    if balance(1.0, made, flow, speed) >= 0.0:
        assert found == 1.0
    else:
        assert found == pytest.approx(brentq(balance, 0.0, 1.0, args=(made, flow, speed)), abs=1e-4)


def test_an_adequate_chain_changes_nothing():
    made = chain(cam_pump_delivery=0.40e-6, tank_pump_flow=200.0 * LITRE_PER_HOUR, tank_pump_pressure=5.5e5,
                 tank_pump_voltage=13.2)  # fmt: skip
    flow, speed = np.linspace(0.005, 0.028, 6), np.linspace(30.0, 115.0, 6)
    assert made.arriving(flow, speed).tolist() == [1.0] * 6
    assert made.rail_pressure(flow, speed).tolist() == [200e5] * 6
    assert made.pump_filling(flow, speed).tolist() == [1.0] * 6


def test_a_short_cam_pump_by_hand():
    # 0.3 cm3 a turn at 100 turns a second and 745 kg/m3 are 22.35 g/s; of 30 g/s that is 0.745. The rail settles at
    # 200 * 0.745^2 = 111.0 bar.
    made = chain(cam_pump_delivery=0.3e-6)
    assert float(made.arriving(0.030, 100.0)) == pytest.approx(0.745, abs=1e-4)
    assert float(made.rail_pressure(0.030, 100.0)) / 1e5 == pytest.approx(111.0, abs=0.05)


def test_a_short_tank_pump_sags_before_the_cam_pump():
    # 120 L/h at 5.5 bar: 1 % more flow costs a sixth of a bar. At 132 L/h, 10 % more, 5.5 - 10/6 = 3.833 bar are left,
    # and the cylinder fills to (3.833 - 1) / 3 = 0.944.
    assert float(inlet_pressure(132.0 * LITRE_PER_HOUR, 5.5e5, 13.2, TANK)) / 1e5 == pytest.approx(3.8333, abs=1e-4)
    assert float(filling(3.8333e5)) == pytest.approx(0.94443, abs=1e-4)


def test_a_drop_inside_what_the_parts_state_is_contained():
    said = {"filter flow": 150.0 * LITRE_PER_HOUR, "filter drop": 0.3e5}
    assert float(inlet_pressure(150.0 * LITRE_PER_HOUR, 5.5e5, 13.2, said)) == 5.5e5
    # At 1.5 times the flow 2.25 times the drop: 1.25 * 0.3 = 0.375 bar more than stated.
    assert float(inlet_pressure(225.0 * LITRE_PER_HOUR, 5.5e5, 13.2, said)) == pytest.approx(5.125e5)


def test_thin_wiring_takes_voltage():
    # 12 A at the rated flow through wiring that drops 0.5 V at 8 A: 0.75 V, 0.25 V more than stated.
    said = {**TANK, "tank pump current": 12.0, "wiring current": 8.0, "wiring drop": 0.5}
    assert float(pump_voltage(120.0 * LITRE_PER_HOUR, 13.2, said)) == pytest.approx(12.95)


def test_the_controller_holds_the_flow_of_its_current():
    # 9 of 12 A: 3 A above the 6 A that hold the pressure are half of the other 6 A: half the flow.
    said = {**TANK, "tank pump current": 12.0, "controller current": 9.0}
    assert controlled_flow(said) == pytest.approx(60.0 * LITRE_PER_HOUR)
    assert controlled_flow({**said, "controller current": 5.0}) == 0.0
    assert controlled_flow(TANK) == np.inf


@settings(max_examples=40, deadline=None)
@given(cam=st.floats(0.1e-6, 0.5e-6), tank=st.floats(50.0, 250.0))
def test_more_fuel_asked_never_raises_the_rail(cam, tank):
    made = of({**TANK, "tank pump flow": tank * LITRE_PER_HOUR, "cam pump delivery": cam})
    flow = np.linspace(0.004, 0.045, 40)
    rail = made.rail_pressure(flow, 100.0)
    assert np.all(np.diff(rail) <= 1e-9)
    assert np.all((rail > 0.0) & (rail <= 200e5))
    # what arrives never exceeds what the cam pump has
    assert np.all(made.arriving(flow, 100.0) * flow <= cam * 100.0 * 745.0 * (1.0 + 1e-3))


def test_no_operating_point_stays_none():
    made = chain(cam_pump_delivery=0.3e-6)
    found = made.rail_pressure(np.array([np.nan, 0.030]), np.array([100.0, 100.0]))
    assert np.isnan(found[0])
    assert found[1] < 200e5
