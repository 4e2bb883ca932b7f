"""The pages as they are computed, without a browser; expected values are the demo sheets' own words or plain counts."""

from __future__ import annotations

import io
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import altair as alt
import click
import pytest
from click.testing import CliRunner
from streamlit import config
from streamlit.testing.v1 import AppTest

from graph.errors import UsageError
from graph.gate import CHECKS
from graph.plan.wish import Wishes
from graph.proposal import Terms
from graph.quantity import Quantity
from graph.service import Request
from graph.store import open_database
from ui import desk
from ui.app_command import command_line, register, settings
from ui.asked import first_question, from_address, power_range, shown, to_si
from ui.chart import ladder_chart, ladder_domain, ladder_rows
from ui.commission import Commission
from ui.errand import ENDED, Lane, lane
from ui.format import choose, in_unit, kilowatts
from ui.path_place import AREAS
from ui.preference import read_units, write_units
from ui.shop_settings import Rule, ShopSettings, read_shop, write_shop
from ui.sign_in import actor
from ui.theme import DARK, LIGHT

ROOT = Path(__file__).resolve().parents[2]
UI = ROOT / "ui"
PATIENCE = 60


@pytest.fixture
def open_page(demo_database, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., AppTest]]:
    """Open a page over the demo shop, or over another database."""

    def opened(name: str, *, url: str | None = None, **address: str) -> AppTest:
        where = url or demo_database.engine.url.render_as_string(hide_password=False)
        monkeypatch.setenv(desk.DATABASE, where)
        test = AppTest.from_file(str(UI / f"page_{name}.py"), default_timeout=PATIENCE)
        for key, value in address.items():
            test.query_params[key] = value
        return test.run()

    yield opened
    desk._database.clear()


def words(test: AppTest) -> str:
    """Everything that the page says."""
    plain = [e.value for kind in ("title", "header", "subheader") for e in test.get(kind)]
    return "\n".join([*plain, *(e.proto.body for e in test.get("html"))])


def settled(test: AppTest, patience: float = 240.0) -> AppTest:
    """The page once no work goes on beside it; a browser looks by itself, here each look is a run."""
    end = time.monotonic() + patience
    while "working" in words(test):
        assert time.monotonic() < end, "the work beside the page did not end"
        time.sleep(0.3)
        test.run()
    return test


def test_navigation_offers_the_pages_whose_parts_are_there(open_page, demo_database, monkeypatch):
    monkeypatch.setenv(desk.DATABASE, demo_database.engine.url.render_as_string(hide_password=False))
    config.set_option("server.address", "127.0.0.1")  # as the command does
    test = AppTest.from_file(str(UI / "app.py"), default_timeout=PATIENCE).run()
    assert not test.exception
    assert test.title[0].value == "3 cars are on record"


def test_cars_page_shows_each_car_with_its_narrowest_place_and_what_is_not_known(open_page):
    said = words(open_page("cars"))
    for car in ("car-a", "car-b", "car-c"):
        assert f'href="/plan?car={car}"' in said
    assert "turbine" in said
    # the car sheet of car B: claimed by the customer, not seen
    assert "? tank pump, high-pressure pump, pistons, rods" in said


def test_empty_shop_says_what_goes_there_and_loads_the_demo_shop(open_page, tmp_path):
    test = open_page("cars", url=f"sqlite:///{tmp_path}/new.sqlite")
    assert test.title[0].value == "No car yet"
    test.button(key="demo").click().run()
    assert not test.exception
    assert test.title[0].value == "3 cars are on record"


def test_plan_page_of_an_empty_shop_says_what_to_do(open_page, tmp_path):
    test = open_page("check", url=f"sqlite:///{tmp_path}/new.sqlite")
    assert test.title[0].value == "No car yet"


def test_plan_page_answers_in_its_heading_and_keeps_the_question_in_the_address(open_page):
    test = open_page("check", car="car-a", power="340", boost="2.2")
    assert not test.exception
    assert test.title[0].value.startswith("The turbine stops car-a at ")
    assert test.slider(key="power car-a").value == 340.0
    assert test.query_params["power"] == "340"
    assert "340 kW crank".replace(" kW", "\u00a0kW") in words(test)


def test_moved_target_gives_a_new_answer(open_page):
    test = open_page("check", car="car-a", power="340", boost="2.2")
    before = words(settled(test))
    test.slider(key="power car-a").set_value(300.0).run()
    assert not test.exception
    assert test.query_params["power"] == "300"
    assert "What would clear 340 kW" in before
    assert "What would clear 300 kW" in words(settled(test))


def test_target_moved_is_answered_at_once_from_the_stated_values(open_page, monkeypatch):
    # the work beside the page never begins: what stands there is the check without samples alone
    monkeypatch.setattr(Lane, "_run", str)
    lane.clear()
    test = open_page("check", car="car-a", power="320", boost="2.2")
    said = words(test)
    lane.clear()
    assert test.title[0].value.startswith("The turbine stops car-a at ")
    assert "by the stated values" in said
    assert "9 in 10:" not in said
    assert "What would clear" not in said


def test_paths_show_every_place_by_number_and_word(open_page):
    test = open_page("check", car="car-b", power="270", boost="2.2", view="paths")
    assert not test.exception
    said = words(test)
    for name in AREAS:
        assert f"<b>{name}</b>" in said
    # the car sheet of car B: claimed, not seen
    assert "? not known" in said
    assert "tank pump" in said


def test_plan_view_names_price_reasons_and_what_is_left_without_a_part(open_page):
    test = settled(open_page("check", car="car-a", power="250", boost="2.2", view="fit"))
    assert not test.exception
    said = words(test)
    assert "with tax" in test.title[0].value
    assert "Fit these" in said
    assert "without it, kW" in said
    assert "part=PY-8010" in said  # more than the factory's 225 kW needs the calibration of the demo's sheet
    test.multiselect(key="leave out car-a").set_value(
        [test.multiselect(key="leave out car-a").options[0].split(", ")[0]]
    )
    test.run()
    assert not test.exception
    assert "the finished car carries" in words(test)


def test_chosen_unit_is_used_on_every_page_and_comes_back(open_page, demo_database, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv(desk.DATABASE, demo_database.engine.url.render_as_string(hide_password=False))
    config.set_option("server.address", "127.0.0.1")  # as the command does
    write_units(actor().name, {Quantity.POWER: "PS", Quantity.GAUGE_PRESSURE: "psi"})
    test = AppTest.from_file(str(UI / "app.py"), default_timeout=PATIENCE).run()
    assert not test.exception
    assert "carries, crank PS" in words(test)
    assert read_units(actor().name) == {Quantity.POWER: "PS", Quantity.GAUGE_PRESSURE: "psi"}


def test_first_stage_is_asked_in_the_person_s_unit(open_page, demo_database, monkeypatch):
    def page():
        from graph.quantity import Quantity
        from ui import page_check
        from ui.format import choose

        choose({Quantity.POWER: "PS"})
        page_check.show()

    monkeypatch.setenv(desk.DATABASE, demo_database.engine.url.render_as_string(hide_password=False))
    test = AppTest.from_function(page, default_timeout=PATIENCE)
    for key, value in {"car": "car-c", "power": "300", "boost": "1.8", "view": "stages"}.items():
        test.query_params[key] = value
    test.run()
    assert not test.exception
    slider = next(s for s in test.slider if s.label.startswith("first stage"))
    assert slider.label == "first stage, crank PS"
    # 300 kW are 407.9 PS, on the slider 410; 5 kW (6.8 PS) below that, down to a step of 5
    assert slider.max == 400.0
    slider.set_value(380.0).run()
    assert "First 380 PS, later 410 PS" in test.title[0].value.replace("\u00a0", " ")


def test_units_are_those_of_their_definitions():
    # PS: 75 kgf m/s with g = 9.80665 m/s2; bhp: 550 ft lbf/s with 0.3048 m and 0.45359237 kg; psi: lbf per square inch
    pound = 0.45359237 * 9.80665
    try:
        choose({Quantity.POWER: "PS", Quantity.GAUGE_PRESSURE: "psi"})
        assert in_unit(75.0 * 9.80665 * 462.0, Quantity.POWER) == pytest.approx(462.0)
        assert in_unit(30.0 * pound / 0.0254**2, Quantity.GAUGE_PRESSURE) == pytest.approx(30.0)
        assert kilowatts(340e3) == "462"  # 340 000 / 735.49875 = 462.27
        choose({Quantity.POWER: "bhp"})
        assert in_unit(550.0 * 0.3048 * pound * 456.0, Quantity.POWER) == pytest.approx(456.0)
    finally:
        choose({})
    assert kilowatts(340e3) == "340"


def test_shop_settings_come_back_as_written(tmp_path):
    rule = Rule(text='Keep "it" dry.', source="our terms, section 4")
    shop = ShopSettings(name="Löffler & Söhne", tax=0.19, hourly_rate=101.5, rules={"warranty": rule})
    file = tmp_path / "new folder" / "shop.toml"
    write_shop(file, shop)
    found = read_shop(file)
    assert (found.name, found.tax, found.hourly_rate, dict(found.rules)) == (
        shop.name,
        0.19,
        101.5,
        {"warranty": rule},
    )
    with pytest.raises(UsageError, match="tax"):
        write_shop(file, ShopSettings(name="x", tax=19.0))
    assert read_shop(file).tax == 0.19


def test_errand_ends_at_the_readers_word_and_keeps_the_best_answer(demo_database):
    lane.clear()
    url = demo_database.engine.url.render_as_string(hide_password=False)
    request = Request(power=300e3, boost=2.2e5)
    commission = Commission(url=url, state="test", car="car-c", request=request, terms=Terms(), wishes=Wishes())
    own = Lane()
    errand = own.ask("key", "frontier", commission, 5e3)
    end = time.monotonic() + 240.0
    while not errand.news.best and time.monotonic() < end:
        own.look(errand)
        time.sleep(0.2)
    own.end(errand)
    assert errand.news.done
    assert errand.news.words == ENDED
    assert errand.news.best[0].power >= 225e3  # the platform sheet's factory power
    again = own.ask("other", "refine", url, "test", "car-b", request)
    while not again.news.done and time.monotonic() < end:
        own.look(again)
        time.sleep(0.2)
    assert again.news.best.build.car == "car-b"
    wrong = own.ask("wrong", "refine", url, "test", "car-z", request)
    while not wrong.news.done and time.monotonic() < end:
        own.look(wrong)
        time.sleep(0.2)
    assert wrong.news.failed
    assert "car-z" in wrong.news.words


def test_row_chosen_shows_its_evidence_and_stands_in_the_address(open_page):
    test = open_page("check", car="car-a", power="340", boost="2.2", row="tank pump")
    said = words(test)
    # seed_parts/parts-fuel.ods, row 2
    assert "121 L/h at pressure 5.5 bar; voltage 13.2 V" in said
    assert "parts-fuel.ods" in said
    test.selectbox(key="row car-a").set_value("rods").run()
    assert test.query_params["row"] == "rods"
    assert "Rods: " in words(test)


def test_parts_of_a_car_that_are_not_known_are_listed_and_never_counted_as_clear(open_page):
    said = words(open_page("check", car="car-b", power="340", boost="2.2"))
    assert "Not known, and never counted as clear" in said
    assert "claimed, not seen: stage 2 pump" in said


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ({"power": "9000"}, "The address asks for power '9000'"),
        ({"power": "nan"}, "The address asks for power 'nan'"),
        ({"boost": "much"}, "The address asks for boost 'much'"),
        ({"fuel": "ron7"}, "The address asks for fuel 'ron7'"),
    ],
)
def test_address_that_cannot_be_asked_is_named_and_the_page_stays(open_page, address, sentence):
    test = open_page("check", car="car-a", **address)
    assert not test.exception
    assert sentence.replace("'", "&#x27;") in words(test)
    assert test.title[0].value.startswith("The turbine stops car-a at ")


def test_unknown_car_in_the_address_is_named(open_page):
    said = words(open_page("check", car="<b>car-z</b>"))
    assert "&lt;b&gt;car-z&lt;/b&gt;" in said
    assert "<b>car-z</b>" not in said


def test_parts_page_finds_by_number_place_and_words(open_page):
    test = open_page("parts")
    assert test.title[0].value == "The book holds 87 parts"
    test.text_input(key="find_part").set_value("vundle 240").run()
    said = words(test)
    assert "part=PY-1110" in said
    assert "part=PY-1010" not in said
    test.text_input(key="find_part").set_value("nothing of that name").run()
    assert "No part has" in words(test)


def test_part_shows_every_rating_with_condition_meaning_and_evidence(open_page):
    said = words(open_page("parts", part="PY-3011"))
    for expected in ("flow parameter", "gate area", "220 mm²", "3.60 bar abs", "own bench", "parts-exhaust.csv, row 4"):
        assert expected in said


def test_unknown_part_in_the_address_is_named(open_page):
    assert "The address asks for part" in words(open_page("parts", part="PY-0000"))


def test_sheet_is_read_before_it_is_loaded_and_comes_back_annotated(open_page, tmp_path):
    url = f"sqlite:///{tmp_path}/own.sqlite"
    test = open_page("parts", url=url)
    sheet = (ROOT / "seed_parts" / "parts.xlsx").read_bytes()
    broken = "No.;Slot;Name;Rating;Source\nPY-9;tank pump;a pump;;x\nPY-10;no such place;thing;5;x\n"
    test.file_uploader(key="sheets").upload("parts.xlsx", sheet).run()
    said = words(test)
    assert "rows can be loaded" in said
    assert "taken for" in said
    with open_database(url).read() as view:
        assert view.parts() == ()
    test.button(key="store").click().run()
    assert not test.exception
    with open_database(url).read() as view:
        assert len(view.parts()) > 10
    test.file_uploader(key="sheets").set_value(("broken.csv", broken.encode(), "text/csv")).run()
    assert "defects" in words(test)
    assert "no such place" in words(test)


def test_annotated_copy_is_a_workbook(demo_database, monkeypatch):
    from ui.book_loading import _read

    monkeypatch.setenv(desk.DATABASE, demo_database.engine.url.render_as_string(hide_password=False))
    content = (ROOT / "seed_parts" / "parts-exhaust.csv").read_bytes()
    loaded = _read("state", (("parts-exhaust.csv", content),))
    assert "xl/workbook.xml" in zipfile.ZipFile(io.BytesIO(loaded.annotated)).namelist()
    columns = loaded.columns[0]
    assert ("F1", "Rating", "parts: rating") in [(t.cell, t.head, t.meaning) for t in columns.taken]
    assert columns.known
    assert columns.differs == ()


def test_ladder_has_a_row_for_every_ceiling_and_for_what_is_not_known(make_report, unknown_rods):
    rows = ladder_rows(make_report())
    assert [row["slot"] for row in rows] == ["turbine", "intercooler", "gears", "rods"]
    # 263 - 340 by hand is in the fixture's numbers: the turbine's ceiling there is 262 kW
    assert rows[0]["gap"] == "−78"
    assert "kw" not in rows[-1]


def test_ladder_axis_holds_all_ceilings_and_the_target(make_report):
    low, high = ladder_domain(ladder_rows(make_report()), 340.0)
    assert low < 262.0
    assert high > 387.0


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("colours", [LIGHT, DARK])
def test_ladder_says_every_state_by_a_shape_and_never_by_colour_alone(make_report, narrow, colours):
    drawn = ladder_chart(make_report(), colours, chosen="turbine", narrow=narrow)
    shapes = {layer["mark"].get("shape") for layer in drawn["layer"]}
    texts = [row for layer in drawn["layer"] for row in layer["data"]["values"]]
    alt.LayerChart.from_dict(drawn)  # the schema of the chart language, which the pages do not check each time
    assert len(shapes) >= 5
    assert any(row.get("mark") == "?" for row in texts)


def test_chart_texts_hold_the_contrast_of_the_guideline():
    # WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1, relative luminance as defined there
    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for palette in (LIGHT, DARK):
        for text in (palette.ink, palette.mute, palette.need, palette.pinch):
            for ground in (palette.paper, palette.panel):
                light, dark = sorted((luminance(text), luminance(ground)), reverse=True)
                assert (light + 0.05) / (dark + 0.05) >= 4.5, (text, ground)


def test_inputs_come_back_from_si_as_they_were():
    assert to_si(340.0, Quantity.POWER) == pytest.approx(340e3)
    assert to_si(25.0, Quantity.TEMPERATURE) == pytest.approx(298.15)
    assert shown(to_si(1.9, Quantity.GAUGE_PRESSURE), Quantity.GAUGE_PRESSURE) == pytest.approx(1.9)


def test_address_within_the_range_is_taken(shop):
    car, platform = shop.cars()[0], shop.platforms()[0]
    usual = first_question(car, platform, ["ron98"])
    # the platform sheet states 225 kW: half and twice of it in steps of 5
    assert power_range(platform) == (110.0, 450.0)
    asked, refused = from_address({"power": "305", "boost": "1.8"}, usual, platform)
    assert (asked.power, asked.boost, refused) == (305.0, 1.8, [])
    assert asked.request().power == pytest.approx(305e3)


def test_arrival_page_keeps_a_car_off_the_rollers_until_everything_was_looked_at(open_page):
    test = open_page("arrival", car="car-b")
    assert test.title[0].value == "car-b does not go on the rollers yet"
    assert "not looked at yet: oil level and smell" in words(test)
    test.multiselect(key="checked").set_value(list(CHECKS)).run()
    assert not test.exception
    assert test.title[0].value == "car-b may go on the rollers"


def test_arrival_page_refuses_one_sign_as_there_and_away(open_page):
    test = open_page("arrival", car="car-b")
    sign = test.multiselect(key="present").options[0]
    test.multiselect(key="present").select(sign)
    test.multiselect(key="absent").select(sign).run()
    assert test.title[0].value == "One sign cannot be there and away"


def test_dyno_page_judges_a_log_and_names_what_it_cannot_show(open_page):
    test = open_page("dyno", car="car-b")
    assert test.title[0].value == "No pull yet"
    test.file_uploader(key="log").upload("d1.csv", (ROOT / "seed_parts" / "logs" / "d1.csv").read_bytes()).run()
    assert not test.exception
    # the demo's story: car B's high-pressure pump falls short in the middle, the tank pump has reserve
    assert test.title[0].value == "car-b: high-pressure side"
    said = words(test)
    assert "Cannot be seen in this log" in said
    assert "? back pressure" in said


def test_ask_page_answers_a_named_question_with_its_evidence(open_page):
    test = open_page("ask", question="pulls-along", part="PY-1110")
    assert not test.exception
    # seed_parts/parts-fuel.ods: the pump asks for line, filter and controller
    said = words(test)
    for part in ("PY-1112", "PY-1113", "PY-1119"):
        assert f"part={part}" in said
    assert "parts-fuel.ods" in said


def test_ask_page_asks_for_what_a_question_needs(open_page):
    assert "Name the part number." in words(open_page("ask", question="pulls-along"))


def test_command_serves_on_this_machine_alone_and_sends_nothing_out():
    said = settings(8501, browser=False)
    assert said["server.address"] == "127.0.0.1"
    assert said["browser.gatherUsageStats"] == "false"
    assert said["server.enableXsrfProtection"] == "true"
    assert said["client.toolbarMode"] == "minimal"
    assert "--server.allowedHosts=127.0.0.1" in command_line(8501, browser=False)


def test_command_hands_the_database_over(monkeypatch, tmp_path):
    group = click.Group()
    register(group)
    handed: list[tuple[str, bool]] = []
    monkeypatch.setattr(
        "ui.app_command.serve", lambda url, words, *_: handed.append((url, "--server.port=9000" in words)) or 0
    )
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    done = CliRunner().invoke(group, ["ui", "--db", url, "--port", "9000", "--no-browser"])
    assert done.exit_code == 0, done.output
    assert handed == [(url, True)]


def test_fuel_in_the_tank_that_no_book_holds_stays_the_one_asked_for(open_page):
    # seed_parts/cars.xlsx: car C runs on a mixture that was measured, the book holds four fuels
    test = open_page("check", car="car-c", power="250", boost="1.8", fuel="e71")
    assert test.selectbox(key="fuel car-c").value == "e71"
    assert "The address asks for fuel" not in words(test)
