"""Port-injection supplement: a second way for the fuel."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import fuel_share, injector, pump
from graph.quantity import Quantity

KIND = Kind(
    name="port_injection",
    label="port injection",
    area="Fuel",
    does="adds fuel in front of the inlet valves",
    synonyms=(
        "port injectors",
        "saugrohreinspritzung",
    ),
    ratings=(
        RatingSpec(
            name="flow",
            quantity=Quantity.VOLUME_FLOW,
            label="flow of all port injectors held open",
            plausible=(5.0e-6, 3.0e-4),
            conditions=(
                ConditionSpec(name="pressure difference", quantity=Quantity.PRESSURE_DIFFERENCE, default=3.0e5),
            ),
        ),
        RatingSpec(
            name="fuel share",
            quantity=Quantity.RATIO,
            label="share of the fuel that calibration sends this way",
            plausible=(0.05, 1.0),
        ),
    ),
    limits=(
        LimitRule(
            name="fuel through the port injectors",
            rating="flow",
            axis=Axis.FUEL_PER_HOUR,
            quantity=Quantity.VOLUME_FLOW,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: pump.volume_flow(
                fuel_share.port(op.fuel_flow, setting.shared), setting.fuel.density
            ),
            capacity=lambda op, setting, own: injector.port_flow(own.value("flow")),
            why="port injectors may be open for about 85 % of the time",
            consequence="lean at the top while the direct side is healthy",
            source="duty limit of the trade, 80 to 85 % (from memory)",
        ),
    ),
    offers=(Feed(parameter="port share", value=lambda own, setting: own.value("fuel share")),),
    cautions=("F",),
)
