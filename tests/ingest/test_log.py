"""Logs as they come out of control units and dynos: forms, heads, units, signs, rates, and thirty malformed ones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import openpyxl
import pytest

from ingest.channel import read_head
from ingest.log import LogBook, read_log
from ingest.log_rows import number_of, plain_numbers
from ingest.problem import UnreadableFile

SEED = Path(__file__).resolve().parents[2] / "seed_parts" / "logs"
BAR = 1e5


def rows(count: int = 20, *, decimal: str = ".", delimiter: str = ";") -> list[str]:
    """Time, speed, boost, target, rail, target, low side: a plain pull from 3000 to 6000 1/min in 2 s."""
    made = []
    for k in range(count):
        share = k / (count - 1)
        values = [0.1 * k, 3000 + 3000 * share, 1.5, 1.5, 200 - 5 * share, 200.0, 5.5]
        made.append(delimiter.join(f"{v:.2f}" for v in values).replace(".", decimal))
    return made


HEAD = "time [s];rpm;boost [bar g];boost req [bar g];rail [bar];rail target [bar];low side [bar]"


def read(tmp_path: Path, text: str | bytes, name: str = "log.csv", **answers: str) -> LogBook:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_log(path, answers)


def pull_of(book: LogBook):
    assert book.reading.pull is not None
    return book.reading.pull


def test_plain_log(tmp_path: Path) -> None:
    book = read(tmp_path, "\n".join([HEAD, *rows()]))
    assert book.problems == []
    traces = pull_of(book).traces
    assert traces["engine speed"].value[0] == pytest.approx(50.0)  # 3000 / 60
    assert traces["boost"].value[0] == pytest.approx(1.5 * BAR)
    assert traces["rail pressure"].value[-1] == pytest.approx(195.0 * BAR)
    assert book.rates["boost"] == pytest.approx(10.0, rel=1e-6)


# --- forms that must read alike ---------------------------------------------------------------------------------

COMMA = "\n".join([HEAD, *rows(decimal=",")])
FORMS = {
    "decimal comma": COMMA.encode(),
    "byte-order mark": COMMA.encode("utf-8-sig"),
    "utf-16": COMMA.encode("utf-16"),
    "cp1252": COMMA.replace("low side", "Kraftstoffvordruck").replace("rpm", "Drehzahl").encode("cp1252"),
    "old line ends": COMMA.replace("\n", "\r\n").encode(),
    "tabs": "\n".join([HEAD.replace(";", "\t"), *rows(delimiter="\t")]).encode(),
    "commas": "\n".join([HEAD.replace(";", ","), *rows(delimiter=",")]).encode(),
    "bars": "\n".join([HEAD.replace(";", "|"), *rows(delimiter="|")]).encode(),
    "trailing signs": "\n".join([HEAD + ";", *(r + ";" for r in rows())]).encode(),
    "prologue": "\n".join(
        ["Dyno 1; car B", "air pressure; 985 hPa", "air temperature; 22 °C", "", HEAD, *rows()]
    ).encode(),
    "sep line": ("sep=;\n" + "\n".join([HEAD, *rows()])).encode(),
    "units in a second row": "\n".join(
        [
            "time;rpm;boost;boost req;rail;rail target;low side",
            "s;1/min;bar g;bar g;bar;bar;bar",
            *rows(),
        ]
    ).encode(),
    "units in brackets in a second row": "\n".join(
        [
            "time;rpm;boost;boost req;rail;rail target;low side",
            "[s];[1/min];[bar g];[bar g];[bar];[bar];[bar]",
            *rows(),
        ]
    ).encode(),
    "groups in a first row": "\n".join(
        [
            "base;;boost;;rail;;fuel",
            "time;rpm;actual;target;actual;target;low side",
            "s;1/min;bar g;bar g;bar;bar;bar",
            *rows(),
        ]
    ).encode(),
    "German heads": "\n".join(
        [
            "Zeit [s];Drehzahl [1/min];Ladedruck Ist [bar rel];Ladedruck Soll [bar rel];Raildruck Ist [bar];"
            "Raildruck Soll [bar];Vordruck [bar]",
            *rows(decimal=","),
        ]
    ).encode(),
    "short heads": "\n".join(
        ["t [s];n;p_im [bar g];pBoostSP [bar g];RailP [bar];FRP des [bar];LPFP [bar]", *rows()]
    ).encode(),
    "other order": "\n".join(
        [";".join(HEAD.split(";")[i] for i in (0, 6, 5, 4, 3, 2, 1))]
        + [";".join(r.split(";")[i] for i in (0, 6, 5, 4, 3, 2, 1)) for r in rows()]
    ).encode(),
    "quoted": "\n".join(
        [";".join(f'"{c}"' for c in HEAD.split(";")), *(";".join(f'"{c}"' for c in r.split(";")) for r in rows())]
    ).encode(),
}


@pytest.mark.parametrize("form", FORMS)
def test_forms_read_alike(tmp_path: Path, form: str) -> None:
    plain = pull_of(read(tmp_path, "\n".join([HEAD, *rows()]), "plain.csv"))
    book = read(tmp_path, FORMS[form])
    assert [p.sentence for p in book.problems] == []
    traces = pull_of(book).traces
    assert set(traces) == set(plain.traces)
    for name, trace in plain.traces.items():
        np.testing.assert_allclose(traces[name].value, trace.value, rtol=1e-12)
        np.testing.assert_allclose(traces[name].time, trace.time, atol=1e-12)


def test_spreadsheet_reads_like_text(tmp_path: Path) -> None:
    sheet = openpyxl.Workbook()
    assert sheet.active is not None
    sheet.active.append(HEAD.split(";"))
    for row in rows():
        sheet.active.append([float(v) for v in row.split(";")])
    sheet.save(tmp_path / "log.xlsx")
    traces = pull_of(read_log(tmp_path / "log.xlsx")).traces
    assert traces["rail pressure"].value[-1] == pytest.approx(195.0 * BAR)


def test_weather_of_the_prologue(tmp_path: Path) -> None:
    pull = pull_of(read(tmp_path, FORMS["prologue"]))
    assert pull.ambient_pressure == pytest.approx(98500.0)
    assert pull.ambient_temperature == pytest.approx(295.15)


# --- units ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "shown", "channel", "si"),
    [
        # Definitions of the units (SI brochure, NIST SP 811): psi 6894.757 Pa, degF, lb/min 0.0075599 kg/s.
        ("boost [psi gauge]", 20.0, "boost", 20.0 * 6894.757),
        ("boost [kPa gauge]", 150.0, "boost", 150e3),
        ("boost [mbar gauge]", 1500.0, "boost", 150e3),
        ("boost [bar abs]", 2.5, "boost", 2.5e5 - 101325.0),
        ("rail [MPa]", 20.0, "rail pressure", 20e6),
        ("IAT [°F]", 122.0, "charge temperature", 323.15),
        ("IAT [°C]", 50.0, "charge temperature", 323.15),
        ("MAF [kg/h]", 720.0, "air flow", 0.2),
        ("MAF [lb/min]", 30.0, "air flow", 30.0 * 0.45359237 / 60.0),
        ("tank duty [%]", 80.0, "tank duty", 0.8),
        ("IGN [°]", 12.0, "spark advance", np.radians(12.0)),
        ("Lam [-]", 0.85, "lambda", 0.85),
        ("AFR(E0)", 12.495, "lambda", 0.85),  # 14.7 at lambda 1 on that scale
        ("ti [ms]", 5.0, "injection time", 5e-3),
        ("vehicle speed [km/h]", 108.0, "road speed", 30.0),
        ("crank power [PS]", 400.0, "crank power", 400.0 * 735.49875),
        ("whp [hp]", 300.0, "wheel power", 300.0 * 745.69987),
        ("mg/stk air", 0.0, "", 0.0),
        ("ml [mg/stk]", 1000.0, "air flow", 1000e-6 * 4 * 50.0 / 2.0),  # four cylinders at 3000 1/min
        ("STFT [%]", -9.0, "trim", -0.09),
    ],
)
def test_units(tmp_path: Path, head: str, shown: float, channel: str, si: float) -> None:
    lines = [f"time [s];rpm;{head}", *(f"{0.1 * k:.1f};{3000 + 100 * k};{shown}" for k in range(12))]
    book = read(tmp_path, "\n".join(lines))
    if not channel:
        assert book.ignored == (head,)
        return
    assert pull_of(book).traces[channel].value[0] == pytest.approx(si, rel=1e-6)


def test_trim_about_one_is_centred(tmp_path: Path) -> None:
    lines = ["time [s];rpm;fra [-]", *(f"{0.1 * k:.1f};{3000 + 100 * k};0.91" for k in range(12))]
    assert pull_of(read(tmp_path, "\n".join(lines))).traces["trim"].value[0] == pytest.approx(-0.09)


@pytest.mark.parametrize(
    ("head", "name"),
    [
        ("dZW cyl1", "spark correction 1"),
        ("KR4", "spark correction 4"),
        ("Zündwinkelrücknahme Zyl. 3 [°KW]", "spark correction 3"),
        ("MisCnt3", "misfires 3"),
        ("Aussetzer Zyl. 2", "misfires 2"),
        ("HDP_soll", "rail target"),
        ("FRP des", "rail target"),
        ("pBoostSP", "boost target"),
        ("TP_PWM", "tank duty"),
        ("HDP duty", "pump valve duty"),
        ("Tabg model", "exhaust temperature"),
        ("E%", "ethanol"),
        ("DK ist", "throttle"),
        ("EngSpd", "engine speed"),
        ("Lambda Soll", "lambda target"),
    ],
)
def test_heads_of_two_languages(head: str, name: str) -> None:
    found = read_head(head)
    assert found is not None
    assert found.name == name


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1.234,5", ",", 1234.5),
        ("1,5", ",", 1.5),
        ("\u22122,5", ",", -2.5),
        ("1.5e3", ".", 1500.0),
        ("00:01:02,250", ",", 62.25),
        ("1 5", ".", None),
        ("1,5", ".", None),
        ("12. Mai", ",", None),
    ],
)
def test_numbers(text: str, decimal: str, value: float | None) -> None:
    assert number_of(text, decimal) == (None if value is None else pytest.approx(value))


# --- time -------------------------------------------------------------------------------------------------------


def test_each_channel_keeps_its_own_stamps(tmp_path: Path) -> None:
    lines = ["t [s];rpm;t [s];rail [bar];t [s];IAT [°C]"]
    for k in range(21):
        slow = f"{0.5 * k + 0.07:.2f};{30 + k}" if k < 5 else ";"
        lines.append(f"{0.1 * k:.2f};{3000 + 100 * k};{0.1 * k + 0.03:.2f};{200 - k};{slow}")
    book = read(tmp_path, "\n".join(lines))
    assert book.problems == []
    assert book.rates["engine speed"] == pytest.approx(10.0, rel=0.02)
    assert book.rates["charge temperature"] == pytest.approx(2.0, rel=0.02)
    assert pull_of(book).traces["rail pressure"].time[0] == pytest.approx(0.03)


def test_milliseconds_and_clock_times(tmp_path: Path) -> None:
    ms = ["Time(ms);rpm", *(f"{50 * k};{3000 + 100 * k}" for k in range(20))]
    assert read(tmp_path, "\n".join(ms)).rates["engine speed"] == pytest.approx(20.0)
    clock = ["Zeit;Drehzahl", *(f"00:00:{0.05 * k:06.3f};{3000 + 100 * k}".replace(".", ",") for k in range(20))]
    assert read(tmp_path, "\n".join(clock)).rates["engine speed"] == pytest.approx(20.0)


def test_pull_is_cut_out_of_a_longer_log(tmp_path: Path) -> None:
    lines = ["time [s];rpm;TPS [%];IAT [°C]"]
    speed = [900] * 20 + list(range(2000, 6600, 100)) + [3000] * 20
    throttle = [5] * 20 + [100] * 46 + [0] * 20
    lines += [f"{0.1 * k:.1f};{n};{a};40" for k, (n, a) in enumerate(zip(speed, throttle, strict=True))]
    book = read(tmp_path, "\n".join(lines))
    trace = pull_of(book).traces["engine speed"]
    assert trace.value[0] * 60 == pytest.approx(2000)
    assert trace.value[-1] * 60 == pytest.approx(6500)
    assert any("outside the pull" in text for text in book.reading.assumed)


# --- what cannot be told is asked -------------------------------------------------------------------------------


def test_boost_without_reference_is_asked(tmp_path: Path) -> None:
    text = "\n".join([HEAD.replace("bar g", "bar"), *rows()])
    book = read(tmp_path, text)
    assert "boost" not in pull_of(book).traces
    assert any("boost=gauge" in p.remedy for p in book.problems)
    answered = read(tmp_path, text, boost="absolute")
    assert answered.problems == []
    assert pull_of(answered).traces["boost"].value[0] == pytest.approx(1.5 * BAR - 101325.0)


def _corrections(values: list[float], head: str = "KR1 [°]") -> str:
    return "\n".join([f"time [s];rpm;{head}", *(f"{0.1 * k:.1f};{3000 + 100 * k};{v}" for k, v in enumerate(values))])


def test_sign_of_spark_correction(tmp_path: Path) -> None:
    values = [0.0, 0.5, 1.0, 2.0, 3.0, 2.5, 2.0, 1.0, 0.5, 0.0]
    plus = pull_of(read(tmp_path, _corrections(values))).traces["spark correction 1"].value
    minus = pull_of(read(tmp_path, _corrections([-v for v in values]))).traces["spark correction 1"].value
    np.testing.assert_allclose(plus, minus)
    assert plus.min() == pytest.approx(-np.radians(3.0))  # minus is pulled inside
    both = _corrections([*values[:5], *(-v for v in values[5:])])
    book = read(tmp_path, both)
    assert "spark correction 1" not in pull_of(book).traces
    assert any("spark correction=minus" in p.remedy for p in book.problems)
    answered = read(tmp_path, both, **{"spark correction": "plus"})
    assert pull_of(answered).traces["spark correction 1"].value.min() == pytest.approx(-np.radians(3.0))


def test_channel_without_any_value_is_left_out(tmp_path: Path) -> None:
    book = read(tmp_path, "\n".join(["time [s];rpm;KR1 [°]", *(f"{0.1 * k:.1f};{3000 + 100 * k};" for k in range(10))]))
    assert set(pull_of(book).traces) == {"engine speed"}


def test_bare_power_is_asked(tmp_path: Path) -> None:
    text = _corrections([100.0 + k for k in range(10)], "power [kW]")
    assert any("power=wheel" in p.remedy for p in read(tmp_path, text).problems)
    assert "wheel power" in pull_of(read(tmp_path, text, power="wheel")).traces


# --- range ------------------------------------------------------------------------------------------------------


def test_saturation_is_seen_and_a_held_target_is_not(tmp_path: Path) -> None:
    lines = ["time [s];rpm;MAF [g/s];boost [bar g];boost req [bar g]"]
    lines += [
        f"{0.1 * k:.1f};{3000 + 90 * k};{min(130 + 6 * k, 280)};{min(1.2 + 0.1 * k, 1.75)};1.75" for k in range(40)
    ]
    traces = pull_of(read(tmp_path, "\n".join(lines))).traces
    assert traces["air flow"].saturated
    assert not traces["boost"].saturated
    stuck = ["time [s];rpm;boost [bar g];boost req [bar g]"]
    stuck += [f"{0.1 * k:.1f};{3000 + 90 * k};{min(1.2 + 0.1 * k, 1.49)};1.75" for k in range(40)]
    assert pull_of(read(tmp_path, "\n".join(stuck))).traces["boost"].saturated


# --- malformed logs: each must say what is wrong, or be refused in a sentence ------------------------------------

BODY = rows()
ODD = {
    "word in a cell": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("200.00", "ERR"), *BODY[6:]]), "ERR"),
    "two numbers in a cell": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "5.5 / 5.6"), *BODY[6:]]), "5.5 / 5.6"),
    "hash signs": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "#####"), *BODY[6:]]), "#####"),
    "decimal comma in between": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "5,50"), *BODY[6:]]), "5,50"),
    "date in a cell": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "12. Mai"), *BODY[6:]]), "12. Mai"),
    "infinity": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "inf"), *BODY[6:]]), "inf"),
    "huge number": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "1e400"), *BODY[6:]]), "1e400"),
    "cell too few": ("\n".join([HEAD, *BODY[:5], BODY[5].rsplit(";", 1)[0], *BODY[6:]]), "6 cells"),
    "cell too many": ("\n".join([HEAD, *BODY[:5], BODY[5] + ";7", *BODY[6:]]), "8 cells"),
    "cut last row": ("\n".join([HEAD, *BODY, "2.0;60"]), "2 cells"),
    "head again in between": ("\n".join([HEAD, *BODY[:9], HEAD, *BODY[9:]]), "time [s]"),
    "remark in between": ("\n".join([HEAD, *BODY[:9], "--- marker ---", *BODY[9:]]), "marker"),
    "remark at the end": ("\n".join([HEAD, *BODY, "end of log"]), "end of log"),
    "clock goes back": ("\n".join([HEAD, *BODY, *BODY]), "resets of the clock"),
    "equal stamps": ("\n".join([HEAD, *BODY[:9], BODY[8], *BODY[9:]]), "equal time stamps"),
    "pressure without a unit": ("\n".join([HEAD.replace("rail [bar]", "rail"), *BODY]), "without a unit"),
    "unit that does not exist": ("\n".join([HEAD.replace("rail [bar]", "rail [barn]"), *BODY]), "barn"),
    "unit of another quantity": ("\n".join([HEAD.replace("rail [bar]", "rail [°C]"), *BODY]), "°C"),
    "boost of no reference": ("\n".join([HEAD.replace("bar g", "bar"), *BODY]), "gauge or absolute"),
    "channel twice": ("\n".join([HEAD.replace("low side", "rail"), *BODY]), "a second column"),
    "column without a name": ("\n".join([HEAD.replace("low side [bar]", ""), *BODY]), "without a name"),
    "low side and rail swapped": (
        "\n".join([HEAD.replace("rail [bar]", "@").replace("low side", "rail").replace("@", "low side [bar]"), *BODY]),
        "over 20 bar",
    ),
    "engine speed that cannot be": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("3789.47", "99999"), *BODY[6:]]), "cannot be"),
    "temperature under zero kelvin": ("\n".join([HEAD.replace("low side [bar]", "IAT [°C]"), *(r[:-4] + "-300" for r in BODY)]), "cannot be"),
    "air-fuel ratio of no scale": ("\n".join([HEAD.replace("low side [bar]", "lambda"), *(r[:-4] + "12.5" for r in BODY)]), "air-fuel ratio"),
    "time of no unit": ("\n".join([HEAD.replace("time [s]", "time"), *(f"{2 * k};" + r.split(";", 1)[1] for k, r in enumerate(BODY))]), "time without a unit"),
    "numbers before the head": ("\n".join([BODY[3], "", HEAD, *BODY]), "numbers before the head"),
    "unit in a cell": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("200.00", "200 bar"), *BODY[6:]]), "200 bar"),
    "percent sign in a cell": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "78 %"), *BODY[6:]]), "78 %"),
    "error of a spreadsheet": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "#DIV/0!"), *BODY[6:]]), "#DIV/0!"),
    "two points in a number": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "5.5.0"), *BODY[6:]]), "5.5.0"),
    "hexadecimal number": ("\n".join([HEAD, *BODY[:5], BODY[5].replace("5.50", "0x5F"), *BODY[6:]]), "0x5F"),
    "other columns from the middle on": (
        "\n".join([HEAD, *BODY[:9], "time [s];rpm;IAT [°C]", *(";".join(r.split(";")[:3]) for r in BODY[9:])]), "9 rows of 7 numbers"),
    "negative rail": ("\n".join([HEAD, *(r.replace("200.00", "-1.00") for r in BODY)]), "cannot be"),
}  # fmt: skip


@pytest.mark.parametrize("case", ODD)
def test_malformed_log_says_what_is_wrong(tmp_path: Path, case: str) -> None:
    text, expected = ODD[case]
    book = read(tmp_path, text)
    assert any(expected in p.sentence for p in book.problems), [p.sentence for p in book.problems]
    for problem in book.problems:
        assert problem.file == "log.csv"
        assert problem.remedy
        assert problem.row is not None or problem.column is not None
    assert book.reading.pull is not None  # the good part is read
    for trace in book.reading.pull.traces.values():
        assert not np.isinf(trace.value).any()


def test_place_of_a_bad_cell(tmp_path: Path) -> None:
    book = read(tmp_path, ODD["word in a cell"][0])
    assert book.problems[0].where == "log.csv, row 7, column 'F'"


REFUSED = {
    "empty": b"",
    "blank lines": b"\n\n   \n",
    "no numbers": b"just;some;words\nand;more;words\n",
    "no head": "\n".join(rows()).encode(),
    "head alone": HEAD.encode(),
    "one column": b"rpm\n3000\n3100\n3200\n",
    "picture": b"\x89PNG\r\n\x1a\n\x00\x00\x00\x00IHDR",
    "binary": bytes(range(256)) * 4,
    "damaged spreadsheet": b"PK\x03\x04" + b"\x00" * 200,
    "web page": b"<html><body><p>please sign in</p></body></html>",
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_no_log_is_refused_in_a_sentence(tmp_path: Path, case: str) -> None:
    with pytest.raises(UnreadableFile) as refused:
        read(tmp_path, REFUSED[case])
    assert refused.value.remedy
    assert "log.csv" in str(refused.value)


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="no such file"):
        read_log(tmp_path / "nothing.csv")


def test_unknown_columns_are_named(tmp_path: Path) -> None:
    book = read(tmp_path, "\n".join([HEAD.replace("low side [bar]", "mystery [bar]"), *rows()]))
    assert book.ignored == ("mystery [bar]",)
    assert "low-side pressure" in book.reading.missing


# --- the demo's logs --------------------------------------------------------------------------------------------


def test_demo_logs_have_no_defects() -> None:
    first, second = read_log(SEED / "d1.csv"), read_log(SEED / "d2.csv")
    assert first.problems == second.problems == []
    assert first.ignored == second.ignored == ()
    assert set(map(round, first.rates.values())) == {20}
    series = second.reading.series
    assert series is not None
    assert len(series.changes) == 9
    assert series.changes[8]
    assert np.isnan(series.values["pump voltage"][8])  # not noted, and no zero


# --- long logs: blocks of plain numbers must read as cells one by one ---------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_blocks_of_plain_numbers_equal_the_interpreters_own_conversion(seed: int) -> None:
    # Python's float() is correctly rounded; the block reader must give the very same doubles.
    rng = np.random.default_rng(seed)
    decimal, delimiter = (",", ";") if seed % 2 else (".", "\t")
    lines = []
    for _ in range(400):
        cells = []
        for _ in range(5):
            digits = int(rng.integers(1, 10))
            number = f"{rng.normal() * 10 ** rng.uniform(-3, 6):.{digits}g}"
            if "e" in number:
                number = "0"
            cells.append("" if rng.random() < 0.1 else number)
        lines.append(cells if sum(map(bool, cells)) > 1 else ["1", "2.50", "-.5", "+7.", ""])
    content = "\r\n".join(delimiter.join(cells).replace(".", decimal) for cells in lines).encode()
    found = plain_numbers(content, 5, delimiter, decimal)
    assert found is not None
    expected = np.array([[float(c) if c else np.nan for c in cells] for cells in lines])
    np.testing.assert_array_equal(found, expected)


@pytest.mark.parametrize(
    "content",
    [
        b"1;2\n3;x\n", b"1;2\n3;1e5\n", b"1;2\n3;4;5\n", b"1;2\n3\n", b"1;2;3\n4\n", b"1;2\n3;-\n", b"1;2\n3;1-2\n",
        b"1;2\n3;1.2.3\n", b"1;2\n3;1,2\n", b"1;2\n3;--1\n", b"1;2\n;3\n", b"1;2\n3;1234567890123456\n", b"1;2\n3; 4\n",
        b"1;2\n3;inf\n", b"1;2\n3;.\n", b"1;2\n\n3;4\n", b'1;2\n"3";4\n', "1;2\n3;\u22124\n".encode(),
    ],
)  # fmt: skip
def test_a_block_with_anything_else_is_left_to_the_reader_of_cells(content: bytes) -> None:
    assert plain_numbers(content, 2, ";", ".") is None


def test_a_long_log_with_one_odd_cell_keeps_every_other_row(tmp_path: Path) -> None:
    body = rows(30_000)  # more than the sample and than a block
    body[20_000] = body[20_000].replace("5.50", "ERR")
    body[25_000] = body[25_000].rsplit(";", 1)[0]
    book = read(tmp_path, "\n".join([HEAD, *body]))
    assert [p.where for p in book.problems] == ["log.csv, row 25002", "log.csv, row 20002, column 'G'"]
    traces = pull_of(book).traces
    assert traces["rail pressure"].value.size == 30_000 - 1
    assert traces["low-side pressure"].value.size == 30_000 - 2
    assert traces["engine speed"].value[-1] == pytest.approx(100.0)  # 6000 / 60


def test_many_lines_before_the_head(tmp_path: Path) -> None:
    remarks = [f"remark {k} of a talkative logger" for k in range(2000)]
    book = read(tmp_path, "\n".join([*remarks, HEAD, *rows()]))
    assert book.problems == []
    assert pull_of(book).traces["engine speed"].value.size == 20


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\x00" * 4096, "no text"),
        (("\n".join([HEAD, *BODY]).encode() * 3)[:700] + b"\x00\x01\x02", "no text"),
        ("\n".join([HEAD, *BODY]).encode("utf-16")[:-301], "log.csv"),
        (b"PK\x03\x04", "log.csv"),
    ],
)
def test_truncated_and_binary_files_give_one_sentence(tmp_path: Path, content: bytes, said: str) -> None:
    with pytest.raises(UnreadableFile) as refused:
        read(tmp_path, content)
    sentence = str(refused.value)
    assert said in sentence
    assert "\n" not in sentence


def test_a_log_cut_in_the_middle_of_a_row_keeps_the_rest(tmp_path: Path) -> None:
    whole = "\n".join([HEAD, *BODY])
    book = read(tmp_path, whole[: whole.rindex("200.00")])
    assert len(book.problems) == 1
    assert pull_of(book).traces["rail pressure"].value.size == len(BODY) - 1


def test_lying_units_are_doubted(tmp_path: Path) -> None:
    # A head that says MPa over numbers in bar: 2000 bar of rail in SI lies outside what can be.
    book = read(tmp_path, "\n".join([HEAD.replace("rail [bar]", "rail [MPa]"), *BODY]))
    assert any("cannot be" in p.sentence for p in book.problems)
    # a head that says °C over kelvin, and a speed in 1/s under a head of 1/min
    kelvin = ["time [s];rpm;IAT [°C]", *(f"{0.1 * k:.1f};{3000 + 100 * k};{310 + k}" for k in range(12))]
    assert any("cannot be" in p.sentence for p in read(tmp_path, "\n".join(kelvin)).problems)


def test_at_least_thirty_malformed_logs() -> None:
    assert len(ODD) + len(REFUSED) >= 30
    assert len(ODD) >= 30
