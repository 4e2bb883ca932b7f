"""Each use from start to finish in a real browser on the demo shop; what the pages look like is kept as pictures."""

from __future__ import annotations

import re
from pathlib import Path

from page_server import Watch, choose, hand_over, picture, settle
from playwright.sync_api import Page, expect

SEED = Path(__file__).resolve().parents[2] / "seed_parts"
#: Searches share two cores with everything else that runs [ms].
PATIENCE = 300_000


def test_plan_of_car_a_moved_left_out_and_printed(walk: Page, demo: str, tmp_path: Path):
    watch = Watch(walk, demo)
    walk.goto(f"{demo}/plan?car=car-a&power=250&boost=2.2")
    expect(walk.get_by_role("heading", name="The turbine stops car-a at")).to_be_visible()
    walk.get_by_role("slider", name="wants, crank kW").press("ArrowRight")
    expect(walk.locator(".note").get_by_text("target 255")).to_be_visible()
    settle(walk)
    picture(walk, "plan ladder")
    walk.get_by_role("radio", name="paths").click()
    expect(walk.get_by_role("heading", name="Where the car is too narrow")).to_be_visible()
    settle(walk)
    picture(walk, "plan paths")
    walk.get_by_role("radio", name="what to fit").click()
    expect(walk.get_by_role("heading", name="Fit these")).to_be_visible(timeout=PATIENCE)
    assert "view=fit" in walk.url
    expect(walk.get_by_role("heading", name=re.compile(r"255 kW.* with tax"))).to_be_visible()
    settle(walk, 300.0)  # a redraw would close the list again
    choose(walk, "Not to be fitted")
    walk.keyboard.press("Escape")  # an open list hides the rest of the page from assistive tools
    expect(walk.get_by_role("heading", name="the finished car carries")).to_be_visible()
    settle(walk, 300.0)
    picture(walk, "plan what to fit")
    walk.get_by_role("button", name="Make the sheet").click()
    with walk.expect_download(timeout=PATIENCE) as fetched:
        walk.get_by_role("button", name="PDF").click(timeout=PATIENCE)
    fetched.value.save_as(tmp_path / "page.pdf")
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF-")
    watch.quiet()


def test_log_d1_is_read_as_high_pressure_side(walk: Page, demo: str):
    watch = Watch(walk, demo)
    walk.goto(f"{demo}/dyno?car=car-b")
    hand_over(walk, SEED / "logs" / "d1.csv")
    # the demo's story: car B's high-pressure pump falls short in the middle, the tank pump has reserve
    expect(walk.get_by_role("heading", name="car-b: high-pressure side")).to_be_visible()
    settle(walk)
    picture(walk, "dyno d1")
    watch.quiet()


def test_named_question_is_answered(walk: Page, demo: str):
    watch = Watch(walk, demo)
    walk.goto(f"{demo}/ask?question=pulls-along&part=PY-1110")
    # seed_parts/parts-fuel.ods: the pump asks for line, filter and controller
    for part in ("PY-1112", "PY-1113", "PY-1119"):
        expect(walk.get_by_role("link", name=part).first).to_be_visible()
    settle(walk)
    picture(walk, "ask")
    watch.quiet()


def test_car_b_arrives_three_looks_are_answered_and_the_gate_opens(walk: Page, own: str):
    watch = Watch(walk, own)
    walk.goto(f"{own}/arrival?car=car-b")
    expect(walk.get_by_role("heading", name="car-b does not go on the rollers yet")).to_be_visible()
    settle(walk)
    picture(walk, "arrival before any look")
    # three looks: the oil is fine, the pump falls short in the middle of the range, nothing is heard
    choose(walk, "was looked at for, and does not show", "oil level over the mark")
    choose(walk, "shows", "rail pressure short of its target at the torque peak")
    choose(walk, "was looked at for, and does not show", "hiss, rattle or knock")
    expect(walk.get_by_role("cell", name=re.compile("^high-pressure pump delivers too")).first).to_be_visible()
    expect(walk.get_by_role("heading", name="car-b does not go on the rollers yet")).to_be_visible()
    picture(walk, "arrival three looks answered")
    # graph.gate.CHECKS: everything that must have been looked at, as the list on the page writes it
    for check in ("coolant", "brake fluid", "leaks", "tyre", "straps", "extraction"):
        choose(walk, "looked at and fine", check)
    expect(walk.get_by_role("heading", name="car-b may go on the rollers")).to_be_visible()
    walk.get_by_role("button", name="Keep what is said above (9)").click()
    expect(walk.get_by_role("button", name="Keep what is said above (9)")).to_have_count(0)
    walk.goto(f"{own}/arrival?car=car-b")  # nothing selected: all of it comes from the record
    expect(walk.get_by_role("heading", name="car-b may go on the rollers")).to_be_visible()
    settle(walk)
    picture(walk, "arrival gate open")
    watch.quiet()


def test_car_c_in_two_stages_to_the_end(walk: Page, demo: str):
    watch = Watch(walk, demo)
    walk.goto(f"{demo}/plan?car=car-c&power=300&boost=1.8&view=stages")
    title = walk.get_by_role("heading", name=re.compile(r"First \d+ kW, later 300 kW: together .* EUR"))
    expect(title).to_be_visible(timeout=PATIENCE)
    for stage in ("Stage 1", "Stage 2"):
        expect(walk.get_by_role("heading", name=stage)).to_be_visible()
    settle(walk, 300.0)
    picture(walk, "stages")
    watch.quiet()


def test_money_against_power_comes_point_by_point_and_is_stopped(walk: Page, demo: str):
    watch = Watch(walk, demo)
    walk.goto(f"{demo}/plan?car=car-c&power=300&boost=1.8&view=money")
    stop = walk.get_by_role("button", name="Stop here")
    stop.click(timeout=PATIENCE)  # offered from the first second on, so that a quick machine cannot be done before
    expect(walk.get_by_text(re.compile("^Stopped after"))).to_be_visible()
    expect(stop).to_have_count(0)
    settle(walk)
    watch.quiet()


def test_money_against_power_goes_to_the_end_and_is_there_at_once_the_next_time(walk: Page, demo: str):
    watch = Watch(walk, demo)
    walk.goto(f"{demo}/plan?car=car-a&power=300&boost=2.2&view=money")
    expect(walk.get_by_role("heading", name=re.compile(r"kW costs .* EUR"))).to_be_visible(timeout=PATIENCE)
    expect(walk.locator("[data-testid=stVegaLiteChart] >> visible=true").first).to_be_visible()
    settle(walk, 300.0)
    title = walk.get_by_role("heading", level=1).inner_text()
    expect(walk.get_by_role("heading", name=re.compile("Good|Better"))).to_be_visible()
    expect(walk.get_by_role("button", name="Stop here")).to_have_count(0)
    picture(walk, "money")
    walk.reload()
    expect(walk.get_by_role("heading", level=1, name=title)).to_be_visible(timeout=20_000)
    watch.quiet()
