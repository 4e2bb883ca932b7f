"""Water and methanol sprayed into the charge: what it cools, what it burns, how long its tank lasts."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import mist, mist_supply
from graph.quantity import Quantity

KIND = Kind(
    name="mist",
    label="mist injection",
    area="Air",
    does="sprays water and methanol into the charge to cool it",
    synonyms=("water injection", "water methanol injection", "wassereinspritzung"),
    ratings=(
        RatingSpec(
            name="mist share",
            quantity=Quantity.RATIO,
            label="mass of mist per mass of fuel that calibration asks for at full load",
            plausible=(0.02, 0.6),
            conditions=(ConditionSpec(name="methanol", quantity=Quantity.RATIO, default=0.5),),
        ),
        RatingSpec(
            name="flow",
            quantity=Quantity.VOLUME_FLOW,
            label="largest flow of nozzles and pump",
            plausible=(1.0e-6, 6.0e-5),
        ),
        RatingSpec(
            name="tank volume",
            quantity=Quantity.VOLUME,
            label="usable volume of the tank",
            plausible=(5.0e-4, 0.04),
            required=False,
        ),
    ),
    limits=(
        LimitRule(
            name="flow of the mist",
            rating="flow",
            axis=Axis.FUEL_PER_HOUR,
            quantity=Quantity.VOLUME_FLOW,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: mist_supply.flow(
                op.fuel_flow, own.value("mist share"), own.condition("mist share", "methanol")
            ),
            capacity=lambda op, setting, own: own.value("flow"),
            why="beyond what nozzles and pump pass, the share of mist falls while the engine counts on it",
            consequence="knock at the top of the pull with a mist system that seems to work",
            source="continuity; the share is what the calibration relies on",
        ),
        LimitRule(
            name="time until the mist tank is empty",
            rating="tank volume",
            axis=Axis.COUNT,
            quantity=Quantity.VOLUME,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: mist_supply.used(
                mist_supply.flow(op.fuel_flow, own.value("mist share"), own.condition("mist share", "methanol")),
                setting.duration,
            ),
            capacity=lambda op, setting, own: own.value("tank volume"),
            why="what protects the engine is gone when the tank is empty",
            consequence="knock at full boost without a change on any gauge unless the level cuts the boost",
            source="continuity; full load for the time asked",
        ),
        LimitRule(
            name="mist that the charge can take up before the valve",
            rating="mist share",
            axis=Axis.TEMPERATURE,
            quantity=Quantity.RATIO,
            kind=LimitKind.PROTECTIVE,
            costs_power_only=True,
            demand=lambda op, setting, own: mist_supply.water_per_air(
                op.fuel_flow, op.air_flow, own.value("mist share"), own.condition("mist share", "methanol")
            ),
            capacity=lambda op, setting, own: mist_supply.saturation(op.charge_temperature, op.manifold_pressure),
            why="saturated air takes up no more water; what stays liquid cools later and less",
            consequence="liquid in the ports, one cylinder wetter than the others",
            source="Magnus form of the WMO guide (WMO-No. 8); half of the mist is counted before the valve (assumption)",
        ),
    ),
    feeds=(
        Feed(parameter="mist_share", value=lambda own, setting: own.value("mist share")),
        Feed(parameter="mist_methanol", value=lambda own, setting: own.condition("mist share", "methanol")),
        Feed(
            parameter="octane_shift",
            value=lambda own, setting: mist.octane_gain(
                setting.fuel.research_octane,
                setting.fuel.motor_octane,
                own.value("mist share"),
                own.condition("mist share", "methanol"),
            ),
        ),
    ),
    cautions=("F",),
)
