"""Direct injectors: the crank window at high speed."""

from graph.limit import Axis, ConditionSpec, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import fuel_chain, fuel_share, injector
from graph.quantity import Quantity

KIND = Kind(
    name="injectors",
    label="injectors",
    area="Fuel",
    does="spray the fuel into the cylinders",
    synonyms=(
        "injector",
        "di injectors",
        "einspritzventile",
        "einspritzventil",
        "einspritzduesen",
        "einspritzduese",
        "duesen",
    ),
    ratings=(
        RatingSpec(
            name="static flow",
            quantity=Quantity.MASS_FLOW,
            label="flow of one injector held open",
            plausible=(2.0e-3, 8.0e-2),
            conditions=(
                ConditionSpec(name="pressure", quantity=Quantity.GAUGE_PRESSURE, required=True),
                ConditionSpec(name="fluid", quantity=None, default="n-heptane", words=("n-heptane", "petrol")),
            ),
        ),
        RatingSpec(
            name="dead time",
            quantity=Quantity.DURATION,
            label="opening lag less closing lag",
            plausible=(1.0e-4, 0.002),
            required=False,
            default=0.0004,
            default_source="0.3 to 0.5 ms net (assumption)",
        ),
        RatingSpec(
            name="spray pressure",
            quantity=Quantity.GAUGE_PRESSURE,
            label="lowest rail pressure at which it still sprays finely at full load",
            plausible=(20.0e5, 500.0e5),
            required=False,
            default=100.0e5,
            default_source="100 to 150 bar at full load (from memory)",
            lower_bound=True,
        ),
    ),
    limits=(
        LimitRule(
            name="time in the injection window",
            rating="static flow",
            axis=Axis.CRANK_WINDOW,
            quantity=Quantity.DURATION,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: injector.open_duration(
                fuel_share.direct(op.fuel_flow, setting.shared),
                op.speed,
                own.count,
                injector.flow_at(
                    own.value("static flow"),
                    own.condition("static flow", "pressure"),
                    injector.fluid_density(own.word("static flow", "fluid")),
                    fuel_chain.Chain.of(setting).rail_pressure(op.fuel_flow, op.speed),
                    setting.fuel.density,
                ),
                own.value("dead time"),
            ),
            capacity=lambda op, setting, own: injector.window_duration(setting.constant("injection window"), op.speed),
            why="fuel must be in before the mixture needs its time; the window shrinks with speed",
            consequence="lean only at the top, smoke, end of injection too late",
            source="orifice law and crank window (homogeneous injection 220 to 260 degrees, assumption)",
        ),
        LimitRule(
            name="rail pressure for a fine spray",
            rating="spray pressure",
            axis=Axis.PRESSURE,
            quantity=Quantity.GAUGE_PRESSURE,
            kind=LimitKind.FLOOR,
            demand=lambda op, setting, own: own.value("spray pressure"),
            capacity=lambda op, setting, own: fuel_chain.Chain.of(setting, derated=True).rail_pressure(
                op.fuel_flow, op.speed
            ),
            why="when a pump before them sags, the injectors see less pressure and the drops grow",
            consequence="smoke, fuel on the walls and in the oil, misfire under load",
            source="drop size falls with pressure to the power 0.4 to 0.5 (from memory); the chain of pumps by continuity",
            no_ceiling="a floor: it says what the rail pressure must not fall below, not a highest power",
        ),
    ),
    cautions=(
        "F",
        "J",
    ),
)
