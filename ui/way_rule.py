"""The rule of good, better and best, for plans that are searched one by one and for a line that is found already."""

from __future__ import annotations

from typing import Protocol

#: Distance between two ways worth telling apart [W].
APART = 10.0e3
#: Reserve of the best way above a wish that the car's own fuel allows [1].
RESERVE = 1.05
#: A way to half of the gain is offered where it costs at most this share of the whole [1].
CHEAPER = 0.9
#: Powers are compared to this [W], totals to that [currency].
FINE, CENTS = 1.0, 0.5
#: Kinds of part that belong together for a customer.
ENGINE = frozenset({"pistons", "rods", "head_clamp"})
GEARBOX = frozenset({"packs", "clutch", "gears"})
TURBO = frozenset({"compressor", "turbine"})
FUEL = frozenset({"fuel_grade"})
#: What the ways leave as it is, from the one that may change everything.
KEPT = (frozenset[str](), FUEL | ENGINE | GEARBOX, FUEL | ENGINE | GEARBOX | TURBO)
#: What the ways are called, by how many there are.
NAMES = {1: ("better",), 2: ("good", "better"), 3: ("good", "better", "best")}

#: The rule in a sentence each, for whoever reads the ways.
RULE = (
    "Three ways are looked for: the highest power that leaves the fuel, the turbocharger, the engine inside and the "
    "gearbox as they are; the highest that leaves the fuel, the engine inside and the gearbox; and the wish, with a "
    "reserve where a set has one, or else the highest power below it that keeps the shop's margins. Ways less than 10 kW "
    "apart are one; where only one is left, a way to half of the gain stands beside it if it costs a tenth less. A way is "
    "left out where another gives more power, costs no more and opens nothing else. What is left is called good, better "
    "and best in rising power. Each is the cheapest set for its power that leaves what it says."
)


class Sets(Protocol):
    """Where sets of parts for a power are found."""

    def highest(self, top: float, kept: frozenset[str], /) -> float | None:
        """The highest power up to `top` with a set that leaves these kinds [W]."""

    def above(self, wish: float, /) -> float | None:
        """The highest power with a set within the reserve above a wish [W]."""

    def halfway(self, best: float, kept: frozenset[str], /) -> float | None:
        """Half of the gain up to `best`, where it has a set that costs a tenth less [W]."""

    def total(self, power: float, kept: frozenset[str], /) -> float:
        """What the set costs with tax [currency]."""

    def opened(self, power: float, kept: frozenset[str], /) -> frozenset[str]:
        """The kinds of part that the set changes, of those that a way may promise to leave."""


def ways(sets: Sets, wish: float) -> dict[float, frozenset[str]]:
    """The powers worth offering.

    Parameters
    ----------
    sets : Sets
        Where sets of parts are found.
    wish : float
        Power asked for [W].

    Returns
    -------
    dict of float to frozenset of str
        Power [W] and the kinds of part that its set was told to leave; rising in power, at most three.
    """
    found: dict[float, frozenset[str]] = {}
    top = wish
    for kept in KEPT:
        power = sets.highest(top, kept)
        if power is None:
            break
        if all(abs(power - other) >= APART for other in found):
            found[power] = kept
        top = power
    best = max(found, default=None)
    if best is not None and abs(best - wish) <= FINE:
        more = sets.above(wish)
        if more is not None:
            found[more] = frozenset()
    elif best is not None and len(found) == 1:
        half = sets.halfway(best, found[best])
        if half is not None:
            found[half] = frozenset()
    worth = {power: found[power] for power in sorted(found) if not _beaten(sets, found, power)}
    chosen = list(worth)
    if len(chosen) > len(NAMES):
        chosen = [chosen[0], *chosen[-2:]]
    return {power: worth[power] for power in chosen}


def _beaten(sets: Sets, found: dict[float, frozenset[str]], power: float) -> bool:
    """True where another way gives more power, costs no more and opens nothing else."""
    total, opened = sets.total(power, found[power]), sets.opened(power, found[power])
    return any(
        other > power and sets.total(other, kept) <= total + CENTS and sets.opened(other, kept) <= opened
        for other, kept in found.items()
    )
