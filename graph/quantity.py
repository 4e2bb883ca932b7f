"""The closed list of physical quantities; inside the program every value is in the SI unit named here."""

from __future__ import annotations

from enum import Enum


class Quantity(Enum):
    """A physical quantity: its name, its SI unit and its usual symbol.

    Two members may share a unit (gauge and absolute pressure); they never share a name, because
    the reference is part of the meaning.
    """

    ABSOLUTE_PRESSURE = ("absolute pressure", "Pa", "p")
    GAUGE_PRESSURE = ("gauge pressure", "Pa", "p_g")
    PRESSURE_DIFFERENCE = ("pressure difference", "Pa", "dp")
    TEMPERATURE = ("temperature", "K", "T")
    TEMPERATURE_DIFFERENCE = ("temperature difference", "K", "dT")
    MASS_FLOW = ("mass flow", "kg/s", "m")
    VOLUME_FLOW = ("volume flow", "m3/s", "Q")
    VOLUME = ("volume", "m3", "V")
    TORQUE = ("torque", "N.m", "M")
    FORCE = ("force", "N", "F")
    POWER = ("power", "W", "P")
    ROTATIONAL_SPEED = ("rotational speed", "1/s", "N")
    VOLTAGE = ("voltage", "V", "U")
    CURRENT = ("current", "A", "I")
    ENERGY = ("energy", "J", "E")
    LENGTH = ("length", "m", "d")
    DISTANCE = ("distance", "m", "s")
    AREA = ("area", "m2", "A")
    MASS = ("mass", "kg", "M_m")
    DENSITY = ("density", "kg/m3", "rho")
    DURATION = ("duration", "s", "t")
    ANGLE = ("angle", "rad", "theta")
    FLOW_PARAMETER = ("flow parameter", "kg.K^0.5/(s.Pa)", "phi")
    THERMAL_CONDUCTANCE = ("thermal conductance", "W/K", "UA")
    RATIO = ("ratio", "1", "r")
    PRESSURE_RATIO = ("pressure ratio", "1", "pi")
    OCTANE_NUMBER = ("octane number", "1", "ON")
    COUNT = ("count", "1", "n")

    def __init__(self, label: str, unit: str, symbol: str) -> None:
        self.label = label
        self.unit = unit
        self.symbol = symbol
