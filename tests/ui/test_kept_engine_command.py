"""A calibration kept from the command line: used by check, plan and pull, left out on request, withdrawn with a reason.

The engine is made up: readings of the model itself, all 4 % lower, so that the car must make less and nothing else moves.
"""

import json

import pytest
from click.testing import CliRunner
from sqlalchemy import text

from graph.service import Request, assess
from graph.store import open_database, trail
from ingest.book import store_book
from ui.cli import main

ASK = ("--power", "240 kW", "--boost", "1.5 bar")


def run(url, *words, code=None):
    found = CliRunner().invoke(main, ["--db", url, *words])
    assert code is None or found.exit_code == code, found.output
    return found


@pytest.fixture(scope="module")
def readings(demo_database):
    with demo_database.read() as view:
        curve = assess(view, "car-a", Request(power=200e3, boost=1.25e5), suggest=False, samples=0).curve
    words = []
    for n, torque, pressure in list(zip(curve.speed, curve.torque, curve.manifold_pressure, strict=True))[25::4]:
        words += ["--point", f"{torque * 0.96:.2f} Nm @ {n * 60:.1f} rpm @ {(pressure - 101325.0) / 1e5:.4f} bar"]
    return words


@pytest.fixture
def url(demo_book, tmp_path):
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    store_book(open_database(url), demo_book, who="tests", version="0")
    return url


def learn(url, readings, *more):
    return run(url, "learn", "car-a", *readings, "--loss", "-1 to 1 %", *more, code=0)


def checked(url, *more):
    return json.loads(run(url, "check", "car-a", *ASK, "--json", *more).stdout)


def test_what_is_kept_is_used_and_can_be_left_out(url, readings):
    before = checked(url)
    learn(url, readings)
    assert checked(url) == before
    learn(url, readings, "--keep")
    after, stated = checked(url), checked(url, "--as-stated")
    assert stated == before
    assert before["learnt"] is None
    assert after["makes"]["power_kW"] < 0.985 * before["makes"]["power_kW"]
    said = after["learnt"]
    assert said["as_stated"]["makes_kW"] == pytest.approx(before["makes"]["power_kW"], abs=0.01)
    assert said["readings"] == len(readings) // 2
    assert len(said["records"]) == 1
    assert "crank, loss -1 to 1 %" in said["records"][0]
    breathing = next(f for f in said["factors"] if f["name"] == "breathing")
    assert breathing["low"] < breathing["factor"] < breathing["high"]
    assert breathing["factor"] < 0.99


def test_the_ladder_says_from_what_and_when_and_what_it_moved(url, readings):
    learn(url, readings, "--keep")
    told = " ".join(run(url, "check", "car-a", *ASK, "--no-evidence").output.split())
    assert f"learnt from 1 record ({len(readings) // 2} readings) on 20" in told
    assert "breathing x 0.9" in told
    assert "As the platform's sheet states it, the car would make" in told
    assert "--as-stated leaves out what was learnt" in told
    on_other_fuel = " ".join(run(url, "check", "car-a", *ASK, "--fuel", "e85", "--no-evidence").output.split())
    assert "learnt on ron98: on e85 its knock is carried over" in on_other_fuel
    assert "learnt" not in run(url, "check", "car-b", *ASK, "--no-evidence").output


def test_the_plan_speaks_of_the_learnt_engine(url, readings):
    learn(url, readings, "--keep")
    words = ("plan", "car-a", "--power", "200 kW", "--boost", "1.6 bar", "--fuel", "ron98", "--json")
    learnt, stated = (json.loads(run(url, *words, *more).stdout) for more in ((), ("--as-stated",)))
    assert learnt["before"]["learnt"] is not None
    assert stated["before"]["learnt"] is None
    assert learnt["before"]["makes"]["power_kW"] < stated["before"]["makes"]["power_kW"]


def test_the_customer_page_is_written_with_and_without_what_was_learnt(url, readings, tmp_path):
    def page(name, *more):
        out = tmp_path / name
        run(url, "explain", "car-a", *ASK, "--no-plan", "--date", "2026-11-25", "--out", str(out), *more, code=0)
        return out.read_text(encoding="utf-8")

    before = page("before.html")
    learn(url, readings, "--keep")
    assert page("stated.html", "--as-stated") == before
    assert page("learnt.html") != before


def test_a_study_is_made_with_and_without_what_was_learnt(url, readings, tmp_path):
    def table(name, *more):
        sheet = tmp_path / f"{name}.toml"
        sheet.write_text(
            'cars = ["car-a"]\npower = ["240 kW"]\nboost = ["1.5 bar"]\nfuel = ["ron98"]\n', encoding="utf-8"
        )
        run(url, "study", str(sheet), *more, code=0)
        return (tmp_path / f"{name}-results.csv").read_text(encoding="utf-8")

    before = table("before")
    learn(url, readings, "--keep")
    assert table("stated", "--as-stated") == before
    assert table("learnt") != before


def test_a_pull_is_compared_with_the_learnt_engine(url, readings, tmp_path):
    learn(url, readings, "--keep")
    log = tmp_path / "run.csv"
    lines = ["Time (s);Engine speed (1/min);Boost (bar gauge);Crank power (kW)"]
    lines += [f"{k / 20:.2f};{2500 + 25 * k};1.25;{80 + 0.9 * k:.1f}" for k in range(161)]
    log.write_text("\n".join(lines), encoding="utf-8")
    assert "the engine as learnt from 1 records" in run(url, "pull", "car-a", str(log), "--no-keep").output
    assert "as learnt" not in run(url, "pull", "car-a", str(log), "--no-keep", "--as-stated").output


def test_a_withdrawal_needs_a_reason_and_leaves_the_record(url, readings):
    before = checked(url)
    learn(url, readings, "--keep")
    learn(url, readings[:8], "--keep")
    run(url, "learn", "car-a", "--withdraw", "the rollers slipped", code=0)
    assert checked(url) == before
    history = json.loads(run(url, "learn", "car-a", "--history", "--json", code=0).stdout)["kept"]
    assert [row["revision"] for row in history] == [1, 2, 3]
    assert [row["engine"] and row["engine"]["readings"] for row in history] == [len(readings) // 2, 4, None]
    assert history[2]["withdrawn"] == "the rollers slipped"
    assert all(row["by"] and row["at"] for row in history)
    assert "withdrawn, the rollers slipped" in run(url, "learn", "car-a", "--history").output
    with open_database(url).read() as view:
        assert [entry.what for entry in trail(view)].count("engine") == 3


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--withdraw", "wrong car"), "nothing is kept"),
        (("--withdraw", "  "), "say why"),
        (("--withdraw", "x", "--keep"), "go without records"),
        (("--history", "--point", "200 kW @ 6000 rpm @ 1 bar"), "go without records"),
    ],
)
def test_what_cannot_be_withdrawn_is_one_sentence(url, words, said):
    found = run(url, "learn", "car-a", *words, code=2)
    assert said in found.output


def test_an_unknown_car_keeps_nothing(url, readings):
    assert "car-q" in run(url, "learn", "car-q", "--history", code=2).output
    assert run(url, "learn", "car-q", *readings, "--keep").exit_code == 2
    with open_database(url).read() as view:
        assert view.lessons() == ()


def test_a_log_leaves_its_digest(url, tmp_path):
    """SHA-256 of the file, worked out here."""
    import hashlib

    log = tmp_path / "run.csv"
    lines = ["Time (s);Engine speed (1/min);Boost (bar gauge);Crank power (kW)"]
    lines += [f"{k / 20:.2f};{3600 + 15 * k};1.25;{150 + 0.4 * k:.1f}" for k in range(161)]
    log.write_text("\n".join(lines), encoding="utf-8")
    run(url, "learn", "car-a", str(log), "--keep", code=0)
    with open_database(url).read() as view:
        (lesson,) = view.lessons("car-a")
    assert lesson.digests == (hashlib.sha256(log.read_bytes()).hexdigest(),)


def test_revisions_are_rows_that_stay(url, readings):
    learn(url, readings, "--keep")
    with open_database(url).engine.connect() as connection:
        first = connection.execute(text("SELECT body FROM car_note WHERE topic = 'engine'")).scalars().all()
    run(url, "learn", "car-a", "--withdraw", "again", code=0)
    with open_database(url).engine.connect() as connection:
        both = connection.execute(text("SELECT body FROM car_note WHERE topic = 'engine' ORDER BY id")).scalars().all()
    assert both[:1] == first
    assert len(both) == 2
