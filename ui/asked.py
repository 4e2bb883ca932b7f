"""What a page is asked: the reader's inputs, kept in the address so that a page can be sent to somebody."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields

from graph.model import Car, Platform
from graph.quantity import Quantity
from graph.service import ASKED, Request
from ui.format import SHOWN

#: Where a car is first shown above its factory power [1].
USUAL_GAIN = 1.2
STEP = {"power": 5.0, "boost": 0.1, "ambient": 1.0}
QUANTITIES = {"power": Quantity.POWER, "boost": Quantity.GAUGE_PRESSURE, "ambient": Quantity.TEMPERATURE}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One question in the units of the page.

    Parameters
    ----------
    car : str
        Id of the car.
    power : float
        Crank power [kW].
    boost : float
        Boost cap, gauge [bar].
    fuel : str
        Name of a fuel.
    ambient : float
        Air temperature [degC].
    row : str
        Slot whose evidence is shown; empty for the weakest.
    view : str
        Which view of the answer; empty for the ladder.
    """

    car: str
    power: float
    boost: float
    fuel: str
    ambient: float = 25.0
    row: str = ""
    view: str = ""

    def request(self) -> Request:
        """The same in SI units, as the use cases take it."""
        return Request(
            power=to_si(self.power, Quantity.POWER),
            boost=to_si(self.boost, Quantity.GAUGE_PRESSURE),
            fuel=self.fuel,
            ambient=to_si(self.ambient, Quantity.TEMPERATURE),
        )

    def address(self) -> dict[str, str]:
        """Parameters of the page's address."""
        values = {f.name: getattr(self, f.name) for f in fields(self)}
        return {k: f"{v:g}" if isinstance(v, float) else v for k, v in values.items() if v != ""}


def to_si(value: float, quantity: Quantity) -> float:
    """A value in the unit in which a quantity is shown, in its SI unit."""
    factor, offset, _, _ = SHOWN[quantity]
    return (value - offset) / factor


def shown(value: float, quantity: Quantity) -> float:
    """An SI value in the unit in which its quantity is shown."""
    factor, offset, _, _ = SHOWN[quantity]
    return value * factor + offset


def bounds(name: str) -> tuple[float, float]:
    """Lowest and highest value of an input on the page, in its shown unit."""
    low, high, *_ = ASKED[name]
    quantity, step = QUANTITIES[name], STEP[name]
    return math.ceil(shown(low, quantity) / step) * step, math.floor(shown(high, quantity) / step) * step


def power_range(platform: Platform) -> tuple[float, float]:
    """Powers that the slider of the check page offers: half to twice the factory power [kW], in whole steps."""
    factory, step = shown(platform.constants["factory power"], Quantity.POWER), STEP["power"]
    low, high = bounds("power")
    return max(low, math.floor(factory / 2 / step) * step), min(high, math.ceil(factory * 2 / step) * step)


def first_question(car: Car, platform: Platform, fuels: list[str]) -> Asked:
    """What a page shows of a car before anything is asked: a fifth above the factory power on its own fuel."""
    step = STEP["power"]
    factory = shown(platform.constants["factory power"], Quantity.POWER)
    boost = shown(platform.constants.get("factory boost", 1.0e5), Quantity.GAUGE_PRESSURE)
    fuel = car.fuel if car.fuel is not None else (fuels[0] if fuels else "")
    return Asked(
        car=car.id,
        power=round(factory * USUAL_GAIN / step) * step,
        boost=round(boost * USUAL_GAIN, 1),
        fuel=fuel,
    )


def from_address(parameters: Mapping[str, str], usual: Asked, platform: Platform) -> tuple[Asked, list[str]]:
    """Read the page's address; what cannot be read keeps its usual value and is named.

    Parameters
    ----------
    parameters : mapping of str to str
        Of the address.
    usual : Asked
        What holds where the address is silent.
    platform : Platform
        For the range of powers.

    Returns
    -------
    asked : Asked
        Within the ranges of the inputs.
    refused : list of str
        Sentences about parameters that were not taken.
    """
    refused: list[str] = []
    numbers: dict[str, float] = {}
    for name in QUANTITIES:
        text = parameters.get(name)
        numbers[name] = float(getattr(usual, name))
        if text is None:
            continue
        low, high = power_range(platform) if name == "power" else bounds(name)
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if low <= value <= high:
            numbers[name] = round(value, 3)
        else:
            unit = SHOWN[QUANTITIES[name]][2]
            refused.append(
                f"The address asks for {name} '{text}'; allowed is {low:g} to {high:g} {unit}. "
                f"Shown is {numbers[name]:g} {unit}."
            )
    return (
        Asked(
            car=usual.car,
            fuel=parameters.get("fuel") or usual.fuel,
            row=parameters.get("row", ""),
            view=parameters.get("view", ""),
            **numbers,
        ),
        refused,
    )
