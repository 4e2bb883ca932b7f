"""The array kernel against the same balance written out in plain floats, state by state."""

import numpy as np
import pytest
from plain_balance import STATES, Plain, full

from graph.check import examine
from graph.kinds import discover
from graph.operation import LEVELS, prepare, solve, stack_paths
from graph.service import Request, aim, assemble


@pytest.mark.parametrize(("name", "fuel"), [("car-a", None), ("car-b", "e85"), ("car-c", None)])
def test_arrays_and_plain_floats_agree(demo_database, name, fuel):
    with demo_database.read() as view:
        car = next(c for c in view.cars() if c.id == name)
        parts = {p.id: p for p in view.parts()}
        build = assemble(car, next(p for p in view.platforms() if p.id == car.platform), parts)
    target = aim(Request(power=280e3, boost=2.2e5, fuel=fuel, altitude=600.0), car, parts)
    anatomy, _ = examine(build, target, discover())
    paths = [anatomy.here(), anatomy.reference(), {**anatomy.here(), "gate_area": 1.2e-4, "cooler_soak": 4e-4}]
    engine = prepare(build.platform, speeds=7)
    solved = solve(engine, stack_paths(paths), target.fuel, target.weather, target.latest_phasing)
    plain = Plain(engine, target.fuel, target.weather)
    for row, path in enumerate(paths):
        expected = np.array(plain.states(full(path), LEVELS.tolist()))
        for column, field in enumerate(STATES):
            np.testing.assert_allclose(solved.state(field)[row], expected[..., column], rtol=1e-9, err_msg=field)
