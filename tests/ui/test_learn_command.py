"""The command that learns from dyno records. Readings are made by the model itself, so the truth is known: the factors
are 1, and what the check says at another boost must lie within the prediction."""

import json

import pytest
from click.testing import CliRunner

from graph.dyno import Basis
from graph.errors import MissingRecord
from graph.lesson import readings
from graph.service import Request, assess
from graph.trace import Pull
from ingest.log import read_log
from ui.cli import main


def run(url, *words):
    return CliRunner().invoke(main, ["--db", url, *words])


@pytest.fixture(scope="module")
def url(demo_database):
    return str(demo_database.engine.url)


@pytest.fixture(scope="module")
def known(demo_database):
    """Readings of car A at 1.25 bar as the model makes them, and its power at 1.8 bar."""
    with demo_database.read() as view:
        factory = assess(view, "car-a", Request(power=200e3, boost=1.25e5), suggest=False, samples=0)
        more = assess(view, "car-a", Request(power=240e3, boost=1.8e5), suggest=False, samples=0)
    curve = factory.curve
    rows = [
        (float(n) * 60.0, float(t), float(p) - 101325.0)
        for n, t, p in zip(curve.speed, curve.torque, curve.manifold_pressure, strict=True)
        if n > 60.0
    ]
    return rows[:: max(1, len(rows) // 10)], more.makes.at_cap


def points(rows, scale=1.0):
    words = []
    for rpm, torque, boost in rows:
        words += ["--point", f"{torque * scale:.2f} Nm @ {rpm:.1f} rpm @ {boost / 1e5:.4f} bar"]
    return words


@pytest.mark.parametrize(
    ("scale", "options"),
    [(1.0, ["--basis", "crank", "--loss", "-1 to 1 %"]), (0.85, ["--basis", "wheel", "--loss", "14 to 16 %"])],
)
def test_readings_of_the_model_itself_give_back_the_model(url, known, scale, options):
    rows, power = known
    result = run(url, "learn", "car-a", *points(rows, scale), *options, "--then-boost", "1.8 bar", "--json")
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    assert document["schema"] == "pinchpoint.learn/1"
    assert document["readings"] == len(rows)
    for estimate in document["estimates"]:
        assert estimate["low"] <= 1.0 <= estimate["high"]
    ahead = document["predictions"][0]
    assert ahead["power_kW"]["low"] <= power / 1e3 <= ahead["power_kW"]["high"]
    assert ahead["boost_bar"] == 1.8


def test_a_weaker_engine_is_predicted_weaker(url, known):
    rows, _ = known
    found = []
    for scale in (0.95, 1.0):
        result = run(url, "learn", "car-a", *points(rows, scale), "--then-boost", "1.8 bar", "--json")
        found.append(json.loads(result.stdout)["predictions"][0]["power_kW"])
    assert found[0]["value"] < found[1]["value"]
    assert found[0]["low"] < found[0]["value"] < found[0]["high"]


def test_the_text_says_what_the_readings_leave_open(url):
    result = run(url, "learn", "car-a", "--point", "231 kW @ 6400 rpm @ 1.25 bar", "--then-boost", "1.6 bar")
    assert result.exit_code == 0, result.output
    assert "not learnt from these readings" in result.output
    assert "9 in 10" in result.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "no record"),
        (["--point", "231 kW @ 6400 rpm"], "expected is a power or torque, a speed and a boost"),
        (["--point", "231 bar @ 6400 rpm @ 1.2 bar"], "--point"),
        (["--point", "231 kW @ 6400 rpm @ 1.2 bar", "--loss", "15 %"], "an interval"),
        (["--point", "231 kW @ 6400 rpm @ 1.2 bar", "--standard", "homebrew"], "homebrew"),
        (["--point", "231 kW @ 6400 rpm @ 1.2 bar", "--then-boost", "9 bar"], "boost"),
        (["--point", "231 kW @ 19400 rpm @ 1.2 bar"], "speed"),
    ],
)
def test_what_cannot_be_learnt_from_is_one_sentence(url, words, said):
    result = run(url, "learn", "car-a", *words)
    assert result.exit_code in (1, 2)
    assert said in result.output
    assert len(result.output.strip().splitlines()) == 1


def test_a_log_is_read_at_full_boost(tmp_path):
    """A run of 3 s whose boost rises for one second: readings before that are no full load (hand-made table)."""
    path = tmp_path / "run.csv"
    lines = ["Time (s);Engine speed (1/min);Boost (bar gauge);Crank power (kW)"]
    for tick in range(301):
        time = tick / 100.0
        lines.append(f"{time:.2f};{2000 + 1500 * time:.0f};{min(1.2, 0.2 + time):.3f};{60 + 50 * time:.1f}")
    path.write_text("\n".join(lines), encoding="utf-8")
    pull = read_log(path).reading.pull
    found = readings(pull, "run.csv", Basis.CRANK)
    assert min(p.boost for p in found) >= 0.9 * 1.2e5
    assert all(p.power == pytest.approx(1e3 * (60 + 50 * (p.speed * 60 - 2000) / 1500), rel=2e-3) for p in found)
    with pytest.raises(MissingRecord, match="wheel"):
        readings(pull, "run.csv", Basis.WHEEL)
    with pytest.raises(MissingRecord, match="boost"):
        readings(Pull(traces={}), "run.csv", Basis.CRANK)
