"""Mutated cells and files through ingest, logs and import: python tests/campaign_fuzz.py [cells|files|guided] [options].

Every item comes from its number alone, so a finding is repeated with ``--first NUMBER --count 1``. Each batch runs in a
process of its own with a limit on its memory; an item that takes more than five seconds, ends the process or raises
anything but the program's own errors is a finding, printed and kept in the folder of ``--keep``.

``guided`` lets coverage choose the mutations of the text readers; it needs Atheris (Apache-2.0) in the environment.
"""

import argparse
import contextlib
import importlib.util
import io
import json
import multiprocessing
import os
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from pathlib import Path

from graph.errors import PinchpointError

ROOT = Path(__file__).resolve().parent.parent
SEED = ROOT / "seed_parts"
SLOW = 5.0  # s of the processor
STUCK = 60.0  # s of the clock
MEMORY = 1 << 30  # bytes
CELLS_OF_SHEET = 100
ODD = (
    "", " ", "\u00a0", "\u202e", "\u200b", "\ufeff", "\x00", "\x1b[31m", "\ud800", "'", '"', ";", ",", ".", "-", "−", "+", "±",
    "%", "°", "@", "=", "=1+1", "#REF!", "#N/A", "nan", "inf", "-inf", "NaN", "1e999", "1e-999", "9" * 400, "0x10", "1_000",
    "1,8", "1.800,5", "1 000", "1'000", "½", "²", "٣", "Ⅷ", "𝟙", "bar", "bar abs", "kW", "PS", "hp", "Nm", "rpm", "1/min",
    "L/h", "g/s", "°C", "K", "(", ")", "((((", "[", "]", "{", "}", "<", ">", "&", "\\", "/", "|", "\r", "\n", "\t", "x" * 300,
    "(?:a+)+$", "${jndi:x}", "{{7*7}}", "%s%n", "../../x", "true", "yes", "ja", "none", "2026-02-30", "31.12.99", "1e5", "1E+5",
    "at", "bei", "@ 12 V", "min", "max", "..", "...", "-5..5", "3-4", "~", "ca.", "≥", "<=", "ß", "ﬁ", "İ", "\u0301", "👩‍🔧", "DROP TABLE",
)  # fmt: skip


class Hang(BaseException):
    """An item took too long."""


def mutated_text(text: str, chance: random.Random) -> str:
    """A text with one to four changes of the kinds that people, machines and attackers make."""
    letters = list(text)
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        at = chance.randint(0, len(letters))
        what = chance.randrange(8)
        if what == 0 and letters:
            del letters[min(at, len(letters) - 1)]
        elif what == 1:
            letters[at:at] = chance.choice(ODD)
        elif what == 2 and letters:
            letters[min(at, len(letters) - 1)] = chr(
                chance.choice((chance.randrange(32, 127), chance.randrange(0x3000)))
            )
        elif what == 3 and letters:
            other = chance.randint(0, len(letters))
            letters[at:at] = letters[min(at, other) : max(at, other)]
        elif what == 4:
            letters = list(chance.choice(ODD))
        elif what == 5:
            letters = list("".join(letters).swapcase())
        elif what == 6 and len(letters) > 1:
            cut = chance.randrange(len(letters))
            letters = letters[cut:] + letters[:cut]
        else:
            letters *= chance.choice((1, 2, 3))
    return "".join(letters)[:2000]


def mutated_bytes(content: bytes, chance: random.Random) -> bytes:
    """Bytes with bits, numbers and blocks changed, cut or repeated."""
    data = bytearray(content)
    for _ in range(chance.choice((1, 1, 2, 4, 16))):
        if not data:
            break
        at = chance.randrange(len(data))
        what = chance.randrange(8)
        if what == 0:
            data[at] ^= 1 << chance.randrange(8)
        elif what == 1:
            data[at] = chance.randrange(256)
        elif what == 2:
            size = chance.choice((1, 2, 4, 8))
            data[at : at + size] = chance.choice((b"\xff", b"\0", b"\x80", b"\x7f")) * size
        elif what == 3:
            del data[at : at + chance.choice((1, 4, 64, 1024))]
        elif what == 4:
            block = data[at : at + chance.choice((1, 8, 128, 4096))]
            data[at:at] = block * chance.choice((1, 2, 10))
        elif what == 5:
            data[at:at] = chance.choice(ODD).encode("utf-8", "surrogatepass")
        elif what == 6:
            data = data[:at]
        else:
            other = chance.randrange(len(data))
            data[at : at + 32] = data[other : other + 32]
    return bytes(data)


def mutated_archive(content: bytes, chance: random.Random) -> bytes:
    """An archive with one member changed inside, so that the change reaches the readers of XML."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        names = old.namelist()
        hit = set(chance.sample(names, chance.choice((1, 1, 2))))
        for name in names:
            inner = old.read(name)
            if name in hit:
                what = chance.randrange(4)
                if what == 0:
                    continue
                inner = mutated_bytes(inner, chance) if what < 3 else _mutated_attributes(inner, chance)
            new.writestr(name, inner)
    return out.getvalue()


def _mutated_attributes(content: bytes, chance: random.Random) -> bytes:
    """XML that stays well formed while numbers and texts in it change."""
    parts = content.decode("utf-8", "replace").split('"')
    for _ in range(chance.choice((1, 3, 10))):
        at = chance.randrange(len(parts))
        if at % 2:
            odd = chance.choice(
                ("-1", "0", "4294967295", "99999999999999999999", "A1", "XFD1048576", "ZZZZ9", "", "t", "1e9", "s")
            )
            parts[at] = odd
    return '"'.join(parts).encode("utf-8", "surrogatepass")


class Material:
    """What is mutated, made once in every process."""

    def __init__(self) -> None:
        import openpyxl

        from graph.projection.facts import Facts
        from graph.projection.rdf import describe
        from graph.store import open_database
        from ingest.book import read_book, store_book

        self.rows = [line.split(";") for line in (SEED / "parts-exhaust.csv").read_text("utf-8-sig").splitlines()]
        self.book = read_book([SEED])
        hostile = importlib.util.spec_from_file_location("hostile", ROOT / "tests" / "ingest" / "test_hostile.py")
        module = importlib.util.module_from_spec(hostile)
        hostile.loader.exec_module(module)
        small = openpyxl.Workbook()
        for row in self.rows[:14]:
            small.active.append([float(c.replace(",", ".")) if c.replace(",", "").isdigit() else c for c in row])
        out = io.BytesIO()
        small.save(out)
        self.xlsx = [out.getvalue(), module.with_member("xl/vbaProject.bin", b"x"), module.workbook(module.GOOD)]
        self.large = [p.read_bytes() for p in sorted(SEED.glob("*.xlsx"))]
        self.ods = [
            module.ods(
                "".join(module.ods_row([c.replace("&", "+").replace("<", "") for c in row]) for row in self.rows[:12])
            )
        ]
        self.xls = [
            module.xls(*((r, c, text[:200]) for r, row in enumerate(rows) for c, text in enumerate(row) if text))
            for rows in ([row[:8] for row in self.rows[:5]], [module.HEAD, module.GOOD])
        ]
        self.text = [b"\r\n".join(";".join(row).encode() for row in self.rows[:15])]
        self.text.append(self.text[0].replace(b";", b"\t"))
        self.logs = [
            b"\n".join(p.read_bytes().splitlines()[:160])
            for p in sorted((SEED / "logs").glob("*"))
            if p.suffix == ".csv"
        ]
        self.study = [b'cars = ["car-a"]\npower = { from = "250 kW", to = "400 kW", step = "10 kW" }\nboost = ["1.9 bar"]\n'
                      b'[choose]\nturbine = ["own", "PY-3110"]\n[[day]]\nname = "hot"\nambient = "35 \xc2\xb0C"\n']  # fmt: skip
        database = open_database("sqlite://")
        store_book(database, self.book, who="campaign", version="0")
        from graph.projection.facts import gather

        with database.read() as view:
            facts = gather(view)
        few = Facts(**{**{f: getattr(facts, f) for f in facts.__dataclass_fields__}, "parts": facts.parts[:6]})
        graph = describe(few)
        self.turtle = [graph.serialize(format="turtle").encode()]
        self.json = [graph.serialize(format="json-ld").encode()]


def cells_item(number: int, material: Material, folder: Path) -> int:
    """A sheet and a log with mutated cells; the number of cells mutated."""
    from graph.quantity import Quantity
    from graph.store import open_database
    from ingest.book import read_book, store_book
    from ingest.log import read_log
    from ingest.units import parse_quantity

    chance = random.Random(number)
    rows = [list(row) for row in chance.sample(material.rows[1:], min(12, len(material.rows) - 1))]
    done = 0
    for _ in range(CELLS_OF_SHEET):
        row = chance.choice(rows)
        at = chance.randrange(len(row))
        row[at] = mutated_text(row[at], chance)
        done += 1
    head = list(material.rows[0])
    if chance.random() < 0.2:
        at = chance.randrange(len(head))
        head[at] = mutated_text(head[at], chance)
        done += 1
    path = folder / "sheet.csv"
    text = "\r\n".join(";".join('"' + c.replace('"', '""') + '"' for c in row) for row in (head, *rows))
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    answered(lambda: keep(store_book, open_database, read_book([path]), chance))
    if chance.random() < 0.3:
        lines = [line.split(b";") for line in chance.choice(material.logs).splitlines()[:60]]
        for _ in range(50):
            cells = chance.choice(lines)
            at = chance.randrange(len(cells))
            cells[at] = mutated_text(cells[at].decode("utf-8", "replace"), chance).encode("utf-8", "surrogatepass")
            done += 1
        log = folder / "log.csv"
        log.write_bytes(b"\n".join(b";".join(cells) for cells in lines))
        answered(lambda: read_log(log))
    for _ in range(50):
        quantity = chance.choice(list(Quantity))
        cell = mutated_text(
            chance.choice(("1.9 bar", "340 kW @ 6500 rpm", "1,8 bar abs", "12 V", "5..7 g/s", "-40 °C", "≥ 3 Nm")),
            chance,
        )
        answered(lambda cell=cell, quantity=quantity: parse_quantity(cell, quantity))
        done += 1
    return done


def keep(store_book, open_database, book, chance):
    """Now and then the book is stored as well."""
    for problem in book.problems:
        problem.sentence.encode("utf-8", "backslashreplace")
    if chance.random() < 0.1:
        store_book(open_database("sqlite://"), book, who="campaign", version="0")


def files_item(number: int, material: Material, folder: Path) -> int:
    """One mutated file of any kind."""
    from ingest.book import read_book
    from ingest.exchange import read_book_graph
    from ingest.log import read_log
    from ingest.operation import read_operations
    from ingest.study_sheet import read_study

    chance = random.Random(number)
    kind = chance.choice(("xlsx",) * 6 + ("large",) + ("ods",) * 4 + ("xls",) * 4 + ("csv",) * 4 + ("log",) * 4 + ("xlsx", "ods", "csv") * 4 + ("ttl", "jsonld", "toml", "hours"))  # fmt: skip
    source = {
        "xlsx": material.xlsx, "large": material.large, "ods": material.ods, "xls": material.xls, "csv": material.text,
        "log": material.logs, "ttl": material.turtle, "jsonld": material.json, "toml": material.study,
        "hours": [(SEED / "labour" / "operations.csv").read_bytes()],
    }[kind]  # fmt: skip
    content = chance.choice(source)
    if kind in ("xlsx", "large", "ods") and chance.random() < 0.75:
        content = mutated_archive(content, chance)
    elif kind == "jsonld" and chance.random() < 0.5:
        content = mutated_json(content, chance)
    else:
        content = mutated_bytes(content, chance)
    ending = {"large": "xlsx", "log": "csv", "hours": "csv"}.get(kind, kind)
    path = folder / f"file.{ending}"
    path.write_bytes(content)
    read = {
        "log": read_log,
        "ttl": read_book_graph,
        "jsonld": read_book_graph,
        "toml": read_study,
        "hours": read_operations,
    }
    answered(lambda: read[kind](path) if kind in read else read_book([path]))
    return 1


def mutated_json(content: bytes, chance: random.Random) -> bytes:
    """JSON that stays JSON while its values change their kind."""
    value = json.loads(content)
    for _ in range(chance.choice((1, 3, 8))):
        place = value
        while isinstance(place, list | dict) and place:
            keys = list(place) if isinstance(place, dict) else list(range(len(place)))
            key = chance.choice(keys)
            if not isinstance(place[key], list | dict) or chance.random() < 0.2:
                place[key] = chance.choice(
                    (None, True, -1, 1e308, 10**400, "", "x", [], {}, [[]], {"@id": "x"}, {"@value": "x"}, *ODD)
                )
                break
            place = place[key]
    return json.dumps(value).encode()


def answered(call) -> None:
    """Run a call within the time of the processor; the program's own errors are answers."""

    def stop(*_):
        raise Hang

    signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, SLOW)
    try:
        call()
    except PinchpointError as error:
        str(error).encode("utf-8", "backslashreplace")
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)


ITEMS = {"cells": cells_item, "files": files_item}


def worker(kind: str, first: int, count: int, pipe, keep_in: str) -> None:
    material = Material()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY + (3 << 30), MEMORY + (3 << 30)))
        for number in range(first, first + count):
            for old in folder.iterdir():
                old.unlink()
            pipe.send(("begin", number, 0))
            try:
                done = ITEMS[kind](number, material, folder)
                pipe.send(("done", number, done))
            except BaseException as error:  # a finding, whatever it is
                said = f"{type(error).__name__}: {error}"[:300]
                where = traceback.extract_tb(error.__traceback__)[-1]
                own = [
                    f
                    for f in traceback.extract_tb(error.__traceback__)
                    if "/ingest/" in f.filename or "/graph/" in f.filename
                ]
                at = own[-1] if own else where
                for file in folder.iterdir():
                    Path(keep_in).mkdir(parents=True, exist_ok=True)
                    (Path(keep_in) / f"{kind}-{number}-{file.name}").write_bytes(file.read_bytes())
                pipe.send(("finding", number, f"{said} at {Path(at.filename).name}:{at.lineno}"))
        pipe.send(("end", 0, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024))


def campaign(kind: str, first: int, wanted: int, seconds: float, keep_in: str) -> int:
    """Run until enough was mutated or the time is up; the number of findings."""
    began = time.monotonic()
    done, number, peak = 0, first, 0
    findings: Counter[str] = Counter()
    examples: dict[str, int] = {}
    while done < wanted and time.monotonic() - began < seconds:
        ours, theirs = multiprocessing.Pipe()
        process = multiprocessing.get_context("fork").Process(
            target=worker, args=(kind, number, 100_000, theirs, keep_in)
        )
        process.start()
        theirs.close()
        current, alive = number, True
        while alive and done < wanted and time.monotonic() - began < seconds:
            try:
                if not ours.poll(STUCK):
                    said = "hang that no signal ends"
                    findings[said] += 1
                    examples.setdefault(said, current)
                    number, alive = current + 1, False
                    continue
                what, at, more = ours.recv()
            except EOFError:
                process.join(5)
                said = f"process ended with {process.exitcode}"
                findings[said] += 1
                examples.setdefault(said, current)
                print(f"item {current}: {said}", flush=True)
                number, alive = current + 1, False
                continue
            if what == "begin":
                current = at
                number = at + 1
            elif what == "done":
                done += more
            elif what == "finding":
                done += 1
                findings[more] += 1
                if more not in examples:
                    print(f"item {at}: {more}", flush=True)
                examples.setdefault(more, at)
        if process.is_alive():
            with Path(f"/proc/{process.pid}/status").open() as status:
                peak = max([peak, *(int(line.split()[1]) * 1024 for line in status if line.startswith("VmHWM"))])
            process.kill()
        process.join()
    spent = time.monotonic() - began
    print(
        f"{kind}: {done} mutated, items {first} to {number - 1}, {spent:.0f} s, peak {peak >> 20} MB, {sum(findings.values())} findings"
    )
    for said, times in findings.most_common():
        print(f"  {times} x {said} (first: --first {examples[said]} --count 1)")
    return sum(findings.values())


def guided(seconds: float) -> None:
    """Let coverage choose the mutations of what reads text."""
    import atheris

    with atheris.instrument_imports(include=["ingest"]):
        from graph.quantity import Quantity
        from ingest.log import read_log
        from ingest.operation import read_operations
        from ingest.study_sheet import read_study
        from ingest.table import read_workbook
        from ingest.units import parse_quantity

    folder = Path(tempfile.mkdtemp())
    quantities = list(Quantity)

    def one(data: bytes) -> None:
        if len(data) < 2:
            return
        which, rest = data[0] % 5, data[1:]
        if which == 0:
            quantity = quantities[rest[0] % len(quantities)]
            text = rest[1:].decode("utf-8", "replace")
            run = lambda: parse_quantity(text, quantity)  # noqa: E731
        else:
            path = folder / ("a.toml" if which == 3 else "a.csv")
            path.write_bytes(rest)
            run = lambda: (read_workbook, read_log, read_study, read_operations)[which - 1](path)  # noqa: E731
        with contextlib.suppress(PinchpointError):
            run()

    corpus = folder / "corpus"
    corpus.mkdir()
    material = Material()
    for n, (which, content) in enumerate(
        [(1, c) for c in material.text]
        + [(2, c[:3000]) for c in material.logs]
        + [(3, c) for c in material.study]
        + [(0, b"\x01340 kW @ 6500 rpm")]
    ):
        (corpus / str(n)).write_bytes(bytes([which]) + content)
    atheris.Setup(
        [
            sys.argv[0],
            str(corpus),
            f"-max_total_time={seconds:.0f}",
            "-timeout=5",
            "-rss_limit_mb=1024",
            "-max_len=4096",
            "-print_final_stats=1",
        ],
        one,
    )
    atheris.Fuzz()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=("cells", "files", "guided"))
    parser.add_argument("--first", type=int, default=0, help="number of the first item")
    parser.add_argument("--count", type=int, help="how many to mutate; 200,000 cells or 20,000 files without it")
    parser.add_argument("--seconds", type=float, default=7200.0, help="longest time")
    parser.add_argument(
        "--keep", default=str(Path(tempfile.gettempdir()) / "pinchpoint-findings"), help="folder for findings"
    )
    given = parser.parse_args()
    os.nice(10)
    if given.what == "guided":
        guided(given.seconds)
        return
    wanted = given.count or {"cells": 200_000, "files": 20_000}[given.what]
    sys.exit(1 if campaign(given.what, given.first, wanted, given.seconds, given.keep) else 0)


if __name__ == "__main__":
    main()
