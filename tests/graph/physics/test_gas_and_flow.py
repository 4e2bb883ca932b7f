"""Air, compressors, coolers, pipes and nozzles against reference libraries."""

import ambiance
import fluids
import ht
import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.optimize import brentq

from graph.physics import atmosphere, compressor, cooler, injector, pipe, pressure, throttle, turbine


@pytest.mark.parametrize("altitude", [0.0, 500.0, 1000.0, 1609.344, 2000.0, 3000.0])
def test_standard_atmosphere_equals_two_libraries(altitude):
    temperature, station = atmosphere.standard_atmosphere(altitude)
    one, two = ambiance.Atmosphere(altitude), fluids.ATMOSPHERE_1976(altitude)
    assert temperature == pytest.approx(one.temperature[0], rel=1e-5)
    assert station == pytest.approx(one.pressure[0], rel=1e-4)
    assert station == pytest.approx(two.P, rel=1e-4)


@pytest.mark.parametrize("altitude", [0.0, 1000.0, 3000.0])
def test_air_density_equals_ambiance(altitude):
    temperature, station = atmosphere.standard_atmosphere(altitude)
    assert pipe.gas_density(station, temperature) == pytest.approx(ambiance.Atmosphere(altitude).density[0], rel=1e-4)


@pytest.mark.parametrize("temperature", [288.15, 298.15])
def test_air_density_against_real_gas(temperature):
    assert pipe.gas_density(101325.0, temperature) == pytest.approx(
        PropsSI("D", "T", temperature, "P", 101325.0, "Air"), rel=1e-3
    )


@pytest.mark.parametrize("celsius", [10.0, 25.0, 30.0, 40.0])
def test_saturation_pressure_against_coolprop(celsius):
    reference = PropsSI("P", "T", celsius + 273.15, "Q", 0, "Water")
    assert atmosphere.saturation_pressure(celsius + 273.15) == pytest.approx(reference, rel=5e-3)


def test_moist_density_against_coolprop():
    reference = 1.0 / HAPropsSI("Vha", "T", 298.15, "P", 101325, "R", 0.5)
    assert atmosphere.moist_density(101325.0, 298.15, 0.5) == pytest.approx(reference, rel=2e-3)


def test_humidity_ratio_against_coolprop():
    reference = HAPropsSI("W", "T", 303.15, "P", 101325, "R", 0.6)
    vapour = 0.6 * PropsSI("P", "T", 303.15, "Q", 0, "Water")
    assert atmosphere.humidity_ratio(vapour, 101325.0) == pytest.approx(reference, rel=1e-2)


@pytest.mark.parametrize("ratio", [1.5, 2.0, 2.5, 3.0])
def test_compressor_outlet_against_real_air(ratio):
    """Real air, isentropic step by enthalpy and entropy: within 0.5 % in kelvin."""
    start, efficiency = 298.15, 0.70
    enthalpy = PropsSI("H", "T", start, "P", 101325, "Air")
    entropy = PropsSI("S", "T", start, "P", 101325, "Air")
    ideal = PropsSI("H", "S", entropy, "P", 101325 * ratio, "Air")
    end = enthalpy + (ideal - enthalpy) / efficiency
    reference = PropsSI("T", "H", end, "P", 101325 * ratio, "Air")
    outlet = compressor.outlet_temperature(start, ratio, efficiency)
    assert outlet == pytest.approx(reference, rel=5e-3)
    assert compressor.power(1.0, start, outlet) == pytest.approx(end - enthalpy, rel=1e-2)


def test_compressor_outlet_equals_fluids():
    reference = fluids.isentropic_T_rise_compression(298.15, 101325, 303975, 1.4, eta=0.7)
    assert compressor.outlet_temperature(298.15, 3.0, 0.7) == pytest.approx(reference, rel=1e-4)


@pytest.mark.parametrize("mach", [0.3, 0.5, 0.6, 1.0])
def test_mass_flux_against_real_air(mach):
    """Real air expanded isentropically from 100 kPa, 298 K to the pressure at which it moves at the Mach number."""
    enthalpy = PropsSI("H", "T", 298.0, "P", 1e5, "Air")
    entropy = PropsSI("S", "T", 298.0, "P", 1e5, "Air")

    def excess(static):
        velocity = np.sqrt(max(2 * (enthalpy - PropsSI("H", "S", entropy, "P", static, "Air")), 0.0))
        return velocity - mach * PropsSI("A", "S", entropy, "P", static, "Air")

    static = brentq(excess, 40e3, 99.99e3)
    velocity = mach * PropsSI("A", "S", entropy, "P", static, "Air")
    reference = velocity * PropsSI("D", "S", entropy, "P", static, "Air")
    assert compressor.mass_flux(mach, 1e5, 298.0) == pytest.approx(reference, rel=5e-3)


def test_choked_restrictor_against_real_gas():
    """34 mm throat, 293.15 K, 101.325 kPa: largest real-gas flux over the throat pressure (CoolProp)."""
    enthalpy = PropsSI("H", "T", 293.15, "P", 101325, "Air")
    entropy = PropsSI("S", "T", 293.15, "P", 101325, "Air")
    throat = np.linspace(45e3, 65e3, 400)
    flux = [
        PropsSI("D", "S", entropy, "P", p, "Air") * np.sqrt(2 * (enthalpy - PropsSI("H", "S", entropy, "P", p, "Air")))
        for p in throat
    ]
    area = np.pi / 4 * 0.034**2
    assert area * compressor.mass_flux(1.0, 101325.0, 293.15) == pytest.approx(area * max(flux), rel=5e-3)


def test_critical_pressure_of_the_nozzle_equals_fluids():
    choked = fluids.P_critical_flow(101325, 1.4) / 101325
    assert turbine.nozzle_function(1 / choked, 1.4) == pytest.approx(turbine.nozzle_function(10.0, 1.4), rel=1e-9)
    assert turbine.nozzle_function(0.98 / choked, 1.4) < turbine.nozzle_function(10.0, 1.4)


def test_nozzle_at_exhaust_conditions_choked_value():
    """sqrt(k) (2/(k+1))^((k+1)/(2(k-1))), the textbook constant, written out by hand for k = 1.33: 0.67263."""
    assert turbine.nozzle_function(5.0) == pytest.approx(0.67263, rel=1e-4)


@pytest.mark.parametrize(("units", "ratio"), [(2.0, 0.5), (2.5, 0.3), (1.5, 0.6), (0.8, 0.9)])
def test_crossflow_equals_ht(units, ratio):
    reference = ht.effectiveness_from_NTU(NTU=units, Cr=ratio, subtype="crossflow")
    assert cooler.effectiveness_crossflow(units, ratio) == pytest.approx(reference, rel=1e-5)


@pytest.mark.parametrize(("units", "ratio"), [(2.0, 0.5), (5.0, 0.7)])
def test_counterflow_equals_ht(units, ratio):
    reference = ht.effectiveness_from_NTU(NTU=units, Cr=ratio, subtype="counterflow")
    assert cooler.effectiveness_counterflow(units, ratio) == pytest.approx(reference, rel=1e-9)


def test_cooler_away_from_its_flow_equals_ht_at_capacity_ratio_zero():
    units = -np.log(1 - 0.72) * (0.35 / 0.25) ** -0.4
    reference = ht.effectiveness_from_NTU(NTU=units, Cr=0)
    assert cooler.effectiveness_at_flow(0.72, 0.25, 0.35, 0.4) == pytest.approx(reference, rel=1e-9)


@pytest.mark.parametrize(("reynolds", "roughness"), [(1e5, 1e-4), (1e4, 0.0), (14147.0, 2.5e-4), (1e6, 1e-3)])
def test_friction_factor_equals_fluids(reynolds, roughness):
    assert pipe.friction_factor(reynolds, roughness) == pytest.approx(
        fluids.friction_factor(Re=reynolds, eD=roughness), rel=1e-3
    )


@pytest.mark.parametrize(
    ("flow", "density", "viscosity", "diameter", "length"),
    [(0.03, 745.0, 4.5e-4, 0.006, 4.0), (0.05, 750.0, 5e-4, 0.008, 4.0), (0.045, 745.0, 4.5e-4, 0.008, 4.0)],
)
def test_fuel_line_equals_fluids(flow, density, viscosity, diameter, length):
    reference = fluids.one_phase_dP(m=flow, rho=density, mu=viscosity, D=diameter, roughness=1.5e-6, L=length)
    assert pipe.liquid_line_loss(flow, density, viscosity, diameter, length) == pytest.approx(reference, rel=1e-2)


def test_injector_law_equals_an_orifice_of_fluids():
    low = fluids.flow_meter_discharge(D=0.05, Do=0.01, P1=3e5, P2=1e-9, rho=750.0, C=0.6, expansibility=1.0)
    high = fluids.flow_meter_discharge(D=0.05, Do=0.01, P1=4e5, P2=1e-9, rho=750.0, C=0.6, expansibility=1.0)
    assert injector.flow_at(1.0, 3e5, 750.0, 4e5, 750.0) == pytest.approx(high / low, rel=1e-6)


def test_heptane_density_equals_coolprop():
    assert pytest.approx(PropsSI("D", "T", 293.15, "P", 101325, "n-Heptane"), rel=1e-4) == injector.fluid_density(
        "n-heptane"
    )


def test_throttle_flow_is_the_published_worked_value():
    """60 mm bore, coefficient 0.8, 1 bar, 298 K, ratio 0.95: 0.2379 kg/s by the flow function 0.30764 (hand)."""
    assert throttle.flow(np.pi / 4 * 0.06**2, 0.8, 1e5, 298.0, 0.95) == pytest.approx(0.23792, rel=1e-4)


def test_gauge_from_absolute_needs_the_ambient_of_the_day():
    _, station = atmosphere.standard_atmosphere(1500.0)
    assert pressure.gauge(2.2456e5, station) == pytest.approx(1.4e5, rel=1e-4)
    assert pressure.gauge(3.0e5, 101325.0) == pytest.approx(1.98675e5, rel=1e-9)


def test_plate_load_follows_absolute_pressure():
    assert throttle.rated_plate_pressure(1.9e5) == throttle.plate_pressure(1.9e5 + 101325.0)


def test_ellipse_rises_slowly_and_never_passes_one():
    ratios = np.linspace(1.0, 8.0, 200)
    values = turbine.ellipse(ratios)
    assert np.all(np.diff(values) > 0)
    assert values[-1] < 1.0
    assert turbine.ellipse(1.0) == 0.0
