"""A table of hostile inputs through the command line: nothing executes, nothing is fetched, memory and time are bounded.

Every case runs in a process of its own with a limit on its memory. An audit hook of the interpreter records, and
refuses, every connection, look-up of an address, start of a program, and every opening of a decoy file that the hostile
files name. What each case must end with is the program's own exit code and a sentence.
"""

# ruff: noqa: ARG005
import csv
import io
import json
import os
import struct
import subprocess
import sys
import zipfile
import zlib

import openpyxl
import pytest
from openpyxl.packaging.relationship import Relationship
from openpyxl.workbook.external_link import ExternalLink
from openpyxl.workbook.external_link.external import ExternalBook

from graph.store import open_database
from ingest.book import store_book

MEMORY = 1 << 30  # bytes that a case may hold
SECONDS = 20.0  # of the processor
HEAD = ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Evidence", "Date", "± %")
GOOD = ("HX-1", "decoy rods", "rods", "HM20-D4", "torque", "500", "Nm", "book", "2026-01-05", "5")
SHEET = "xl/worksheets/sheet1.xml"

#: Runs each case in a forked child and writes one line of JSON for it.
SERVER = r"""
import json, os, resource, sys, time, traceback
from click.testing import CliRunner
import ingest.book, ingest.exchange, ingest.log, ingest.study_sheet, ingest.annotate, graph.service, graph.projection.rdf
import graph.projection.sparql, openpyxl, rdflib.plugins.parsers.jsonld, rdflib.plugins.parsers.notation3
from ui.cli import main
folder, cases = sys.argv[1], json.load(open(sys.argv[1] + "/cases.json"))
DECOY = folder + "/decoy"
for case in cases:
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_AS, (case["memory"] + (2 << 30), case["memory"] + (2 << 30)))
        resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
        seen = []
        def hook(event, arguments):
            if event in ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "subprocess.Popen", "os.system",
                         "os.exec", "os.posix_spawn", "os.fork", "os.spawn", "pty.spawn", "urllib.Request"):
                seen.append(event)
                raise PermissionError(event)
            if event == "open" and isinstance(arguments[0], (str, bytes)) and os.fsdecode(arguments[0]).startswith(DECOY):
                seen.append("open of the decoy")
                raise PermissionError("decoy")
        sys.addaudithook(hook)
        words = [w.replace("{}", folder + "/" + case["name"]) for w in case["words"]]
        found = CliRunner().invoke(main, ["--db", "sqlite:///" + folder + "/" + case["name"] + "/shop.sqlite", *words])
        wrong = found.exception if not isinstance(found.exception, SystemExit) else None
        said = "" if wrong is None else "".join(traceback.format_exception(*found.exc_info))[-1500:]
        used = resource.getrusage(resource.RUSAGE_SELF)
        print(json.dumps({"name": case["name"], "code": found.exit_code, "out": found.stdout[:20000], "err": found.stderr[:20000],
                          "traceback": said, "seen": seen, "peak": used.ru_maxrss * 1024,
                          "seconds": used.ru_utime + used.ru_stime}), flush=True)
        os._exit(0)
    end = time.monotonic() + 600
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            break
        time.sleep(0.01)
    else:
        os.kill(child, 9)
        os.waitpid(child, 0)
        status = 9
    if status:
        print(json.dumps({"name": case["name"], "code": None, "out": "", "err": "", "seen": [], "peak": 0, "seconds": 90,
                          "traceback": f"ended by signal {status}"}), flush=True)
"""


def text_sheet(*rows):
    return "\r\n".join(";".join(f'"{str(c).replace(chr(34), 2 * chr(34))}"' for c in row) for row in (HEAD, *rows))


def part(name, number="HX-1"):
    return (number, name, *GOOD[2:])


def rated(text):
    return (*GOOD[:5], text, *GOOD[6:])


def workbook(*rows, formula=False):
    book = openpyxl.Workbook()
    for row in (HEAD, *rows):
        book.active.append(row)
    if not formula:
        for cells in book.active.iter_rows():
            for cell in cells:
                cell.data_type = "s"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def changed(content, **members):
    """A workbook with members replaced or added; a value is the new content or a function of the old one."""
    out = io.BytesIO()
    named = {k.replace("__", "/").replace("_dot_", "."): v for k, v in members.items()}
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            value = named.pop(name, None)
            new.writestr(name, old.read(name) if value is None else value(old.read(name)) if callable(value) else value)
        for name, value in named.items():
            new.writestr(name, value)
    return out.getvalue()


def with_member(name, value):
    return changed(workbook(GOOD), **{name.replace("/", "__").replace(".", "_dot_"): value})


def ods(rows, before=""):
    names = " ".join(f'xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0"' for n in ("office", "table", "text"))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        manifest = '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
        archive.writestr("META-INF/manifest.xml", manifest)
        archive.writestr(
            "content.xml",
            f'<?xml version="1.0"?>{before}<office:document-content {names}><office:body><office:spreadsheet>'
            f'<table:table table:name="Parts">{rows}</table:table></office:spreadsheet></office:body>'
            "</office:document-content>",
        )
    return out.getvalue()


def ods_row(cells, more=""):
    inner = "".join(
        f'<table:table-cell office:value-type="string"><text:p>{c}</text:p></table:table-cell>' for c in cells
    )
    return f"<table:table-row>{inner}{more}</table:table-row>"


def lying_zip():
    """A member whose header says 10 bytes and whose content is 200 MB."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    block = packer.compress(b" " * (200 << 20)) + packer.flush()
    content = bytearray(with_member("xl/sharedStrings.xml", b"<sst/>" + b" " * 94))
    with zipfile.ZipFile(io.BytesIO(bytes(content))) as archive:
        at = next(m for m in archive.infolist() if m.filename == "xl/sharedStrings.xml")
        start = at.header_offset + 30 + len(at.filename)
        begin = archive.start_dir
    shifted = bytes(content[:start]) + block + bytes(content[start + at.compress_size :])
    grown = len(block) - at.compress_size
    out = bytearray(shifted)
    out[at.header_offset + 18 : at.header_offset + 22] = len(block).to_bytes(4, "little")
    place = begin + grown
    while out[place : place + 4] == b"PK\x01\x02":
        length = int.from_bytes(out[place + 28 : place + 30], "little")
        offset = int.from_bytes(out[place + 42 : place + 46], "little")
        if out[place + 46 : place + 46 + length] == b"xl/sharedStrings.xml":
            out[place + 20 : place + 24] = len(block).to_bytes(4, "little")
        if offset > at.header_offset:
            out[place + 42 : place + 46] = (offset + grown).to_bytes(4, "little")
        extra = int.from_bytes(out[place + 30 : place + 32], "little") + int.from_bytes(
            out[place + 32 : place + 34], "little"
        )
        place += 46 + length + extra
    out[place + 16 : place + 20] = (begin + grown).to_bytes(4, "little")
    return bytes(out)


def overlapping_zip():
    """3000 entries of the directory that all point to one member of 1 MB."""
    content = with_member("xl/media/a.bin", b"\0" * (1 << 20))
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        begin, count = archive.start_dir, len(archive.namelist())
    tail = content.rindex(b"PK\x05\x06")
    directory, place, entry = content[begin:tail], 0, b""
    while place < len(directory):
        length = int.from_bytes(directory[place + 28 : place + 30], "little")
        size = 46 + length + int.from_bytes(directory[place + 30 : place + 32], "little")
        if directory[place + 46 : place + 46 + length] == b"xl/media/a.bin":
            entry = directory[place : place + size]
        place += size
    directory += entry * 3000
    end = bytearray(content[tail:])
    end[8:10] = end[10:12] = (count + 3000).to_bytes(2, "little")
    end[12:16] = len(directory).to_bytes(4, "little")
    return content[:begin] + directory + bytes(end)


def external_link():
    book = openpyxl.load_workbook(io.BytesIO(workbook(GOOD)))
    link = ExternalLink(externalBook=ExternalBook())
    link.file_link = Relationship(
        type="externalLinkPath", Target="http://127.0.0.1:9/prices.xlsx", TargetMode="External"
    )
    book._external_links.append(link)
    book.active["B3"] = "='[1]Sheet'!A1"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


LOL = (
    '<!DOCTYPE x [<!ENTITY a "'
    + "lol" * 20
    + '">'
    + "".join(f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 20}">' for n in range(8))
    + "]>"
)
XXE = '<!DOCTYPE x [<!ENTITY e SYSTEM "file://{decoy}">]>'
REMOTE = '<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd" [<!ENTITY % p SYSTEM "http://127.0.0.1:9/y">%p;]>'
STRINGS = '<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>{}</t></si></sst>'
ANY = "?a ?b ?c"


def declared(before, text, decoy=""):
    return before.replace("{decoy}", decoy) + STRINGS.replace("{}", text)


def sheet_of(rows):
    return (
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        f"{rows}</sheetData></worksheet>"
    )


def log(rows, head="time [s];engine speed [rpm];torque [Nm]"):
    return f"{head}\n" + "\n".join(rows)


NUMBERS = [f"{n / 10};{2000 + 20 * n};{300 + n}" for n in range(60)]
LOAD, ASK, PULL = ("load", "{}/sheet"), ("ask", "{}/question.rq", "--seconds", "2"), ("pull", "car-a", "{}/log.csv")

#: name -> (file, its content, command, exit codes that are right, what must be said, what must not be there)
CASES = {
    # archives
    "zip bomb of 600 MB": ("sheet.xlsx", lambda d: with_member(SHEET, b" " * (600 << 20)), LOAD, {4}, "unpacks to more than"),
    "zip bomb that lies about its size": ("sheet.xlsx", lambda d: lying_zip(), LOAD, {4}, "damaged"),
    "zip bomb of overlapping members": ("sheet.xlsx", lambda d: overlapping_zip(), LOAD, {4}, "unpacks to more than|damaged"),
    "archive in an archive": ("sheet.xlsx", lambda d: with_member("xl/inner.xlsx", workbook(GOOD)), LOAD, {0}, "1 part,"),
    "archive of archives": ("sheet.xlsx", lambda d: zip_of({"a.xlsx": workbook(GOOD)}), LOAD, {4}, "no XLSX or ODS"),
    "60,000 members": ("sheet.xlsx", lambda d: zip_of({f"m/{n}": b"" for n in range(60_000)}), LOAD, {4}, "no XLSX or ODS"),
    "members with path tricks": (
        "sheet.xlsx", lambda d: with_member("../../../decoy", b"overwritten"), LOAD, {0}, "1 part,"),
    "member that is a symbolic link": ("sheet.xlsx", lambda d: zip_link(d), LOAD, {0, 4}, ""),
    "gzip": ("sheet.xlsx", lambda d: b"\x1f\x8b\x08\0" + bytes(100), LOAD, {4}, "compressed archive"),
    "old workbook whose sectors go in a circle": ("sheet.xls", lambda d: circular_xls(), LOAD, {4}, "damaged"),
    "old workbook that is sound": ("sheet.xls", lambda d: xls((0, 0, "No."), (1, 0, "HX-1")), LOAD, {4}, "no header row"),
    "old workbook with a far stray cell": ("sheet.xls", lambda d: xls((0, 0, "No."), (65535, 16383, "x")), LOAD, {4}, "far-off stray cells"),
    "old workbook that claims 2^48 cells": (
        "sheet.xls", lambda d: xls((0, 0, "No."), more=record(0x200, struct.pack("<IIHHH", 0, 2**32 - 1, 0, 65535, 0))), LOAD, {4},
        "far-off stray cells|more than 20000 columns"),
    "old workbook that claims 2^31 texts": (
        "sheet.xls", lambda d: xls((0, 0, "No."), more=record(0xFC, struct.pack("<II", 0, 2**31 - 1))), LOAD, {4}, "damaged"),
    # XML
    "entity bomb in XLSX": ("sheet.xlsx", lambda d: with_member("xl/sharedStrings.xml", declared(LOL, "&i;")), LOAD, {4}, "damaged"),
    "entity bomb in ODS": ("sheet.ods", lambda d: ods(ods_row(["&i;"]), LOL), LOAD, {4}, "damaged"),
    "entity of a file in XLSX": (
        "sheet.xlsx", lambda d: with_member("xl/sharedStrings.xml", declared(XXE, "&e;", d)), LOAD, {0, 4}, ""),
    "entity of a file in ODS": (
        "sheet.ods", lambda d: ods(ods_row(["&e;"]), XXE.replace("{decoy}", d)), LOAD, {0, 4}, ""),
    "document type from elsewhere": (
        "sheet.xlsx", lambda d: with_member("xl/sharedStrings.xml", declared(REMOTE, "x")), LOAD, {0, 4}, ""),
    "nesting of 100,000 elements": ("sheet.ods", lambda d: ods("<text:p>" * 100_000 + "</text:p>" * 100_000), LOAD, {0, 4}, ""),
    "lone surrogate in XML": (
        "sheet.xlsx", lambda d: with_member("xl/sharedStrings.xml", STRINGS.replace("{}", "&#xD800;")), LOAD, {4}, "damaged"),
    # extent
    "cell in column 1,000,000": (
        "sheet.xlsx", lambda d: with_member(SHEET, sheet_of('<row r="1"><c r="BDWGN1"><v>1</v></c></row>')), LOAD, {4},
        "more than 20000 columns|damaged|no header row"),
    "1,000,000 columns of text": ("sheet.csv", lambda d: "x;" * 1_000_000, LOAD, {4}, "more than 20000 columns"),
    "far stray cell": (
        "sheet.xlsx", lambda d: with_member(SHEET, sheet_of('<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')), LOAD, {4},
        "far-off stray cells"),
    "cell repeated 2 000 000 000 times": (
        "sheet.ods", lambda d: ods(ods_row(["x"]).replace("table-cell o", 'table-cell table:number-columns-repeated="2000000000" o')),
        LOAD, {4}, "far-off stray cells|more than|damaged"),
    "row repeated 10^30 times": (
        "sheet.ods", lambda d: ods(ods_row(["x"]).replace("table-row>", 'table-row table:number-rows-repeated="1' + "0" * 30 + '">', 1)),
        LOAD, {4}, "far-off stray cells|damaged"),
    "merged block of the whole sheet": (
        "sheet.xlsx", lambda d: changed(workbook(GOOD), **{SHEET.replace("/", "__").replace(".", "_dot_"): merged}), LOAD, {4},
        "colours and comments cannot be read"),
    "column format of 2 000 000 000 columns": (
        "sheet.xlsx", lambda d: changed(workbook(GOOD), **{SHEET.replace("/", "__").replace(".", "_dot_"): wide_columns}), LOAD, {4},
        "colours and comments cannot be read"),
    "style whose font is a word": (
        "sheet.xlsx", lambda d: changed(workbook(GOOD), xl__styles_dot_xml=lambda x: x.replace(b'fontId="0"', b'fontId="t"')), LOAD, {4},
        "colours and comments cannot be read"),
    "sheet of 101 MB": ("sheet.csv", lambda d: 101 << 20, LOAD, {4}, "101 MB is more than the 100 MB read"),
    "one field of 90 MB": ("sheet.csv", lambda d: '"' + "x" * (90 << 20) + '"', LOAD, {4}, "found"),
    "quotation mark that never closes": ("sheet.csv", lambda d: text_sheet(GOOD) + '\r\n"' + "x\n" * 100_000, LOAD, {4}, "do not pair"),
    # text
    "NUL bytes": ("sheet.csv", lambda d: text_sheet(part("a\0b")), LOAD, {4}, "no text"),
    "lone surrogates in UTF-16": (
        "sheet.csv", lambda d: b"\xff\xfe" + text_sheet(part("a\ud800b")).encode("utf-16-le", "surrogatepass"), LOAD, {4}, "no text|damaged|found"),
    "lone surrogates in UTF-8": (
        "sheet.csv", lambda d: text_sheet(part("a\ud800b")).encode("utf-8", "surrogatepass"), LOAD, {0, 4}, "1 part,"),
    "terminal escapes in a name": ("sheet.csv", lambda d: text_sheet(part("a\x1b]0;x\x07\x1b[2J")), LOAD, {4}, "no text"),
    "right-to-left override in a number": (
        "sheet.csv", lambda d: text_sheet(part("mirror", "HX\u202e1-XH")), LOAD, {4}, r"found 'HX\u202e1-XH'"),
    "invisible space in a number": ("sheet.csv", lambda d: text_sheet(part("double", "HX\u200b-1")), LOAD, {4}, r"found 'HX\u200b-1'"),
    # numbers
    "number beyond every float": ("sheet.csv", lambda d: text_sheet(rated("1e999")), LOAD, {4}, "beyond|found"),
    "number of 100,000 digits": ("sheet.csv", lambda d: text_sheet(rated("9" * 100_000)), LOAD, {4}, "found"),
    "number that backtracks": ("sheet.csv", lambda d: text_sheet(rated("1 " * 30_000 + "x")), LOAD, {4}, "found"),
    "brackets 50,000 deep in a rating": ("sheet.csv", lambda d: text_sheet(rated("(" * 50_000)), LOAD, {4}, "found"),
    "nan as a rating": ("sheet.csv", lambda d: text_sheet(rated("nan")), LOAD, {4}, "found"),
    # what spreadsheets execute
    "macro": ("sheet.xlsm", lambda d: with_member("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0 Auto_Open Shell"), LOAD, {0}, "1 part,"),
    "link to another workbook": ("sheet.xlsx", lambda d: external_link(), LOAD, {4}, "without a stored result"),
    "formula that fetches": (
        "sheet.xlsx", lambda d: workbook(part('=WEBSERVICE("http://127.0.0.1:9/")'), formula=True), LOAD, {4}, "without a stored result"),
    "formula in ODS that fetches": (
        "sheet.ods", lambda d: ods(ods_row(HEAD) + ods_row(GOOD[:1], f'<table:table-cell table:formula="of:=DDE(&quot;soffice&quot;;&quot;{d}&quot;;&quot;a&quot;)"/>')),
        LOAD, {4}, "found"),
    "stylesheet in a text table": ("sheet.csv", lambda d: '<?xml version="1.0"?><x:stylesheet/>', LOAD, {4}, "web page or XML"),
    # files
    "pipe that never ends": ("sheet.csv", lambda d: "pipe", LOAD, {2}, "does not exist"),
    "link to a device that never ends": ("sheet.csv", lambda d: "/dev/zero", LOAD, {2}, "does not exist"),
    "path longer than any file system allows": (
        "sheet.csv", lambda d: text_sheet(GOOD), ("load", "{}/" + "x" * 5000 + ".csv"), {2}, "longer than a name may be"),
    "path with a NUL": ("sheet.csv", lambda d: text_sheet(GOOD), ("load", "{}/sheet\0.csv"), {2}, "no name may have"),
    "path with bytes that are no text": (
        "sheet.csv", lambda d: text_sheet(GOOD), ("import", "{}/sh\udcffeet.ttl"), {2}, "no text in UTF-8"),
    "path that climbs out of its folder": (
        "sheet.csv", lambda d: text_sheet(GOOD), ("load", "{}/../nothing/../../decoys.csv"), {2}, "does not exist"),
    "report to a path with a NUL": (
        "sheet.csv", lambda d: text_sheet(GOOD), ("load", "{}/sheet.csv", "--report", "{}/re\0port.xlsx"), {2}, "no name may have"),
    # RDF
    "JSON-LD with a remote context": (
        "book.jsonld", lambda d: '{"@context": "http://127.0.0.1:9/c.jsonld", "@id": "urn:x"}', ("import", "{}/book.jsonld"), {2}, "not done"),
    "JSON-LD with a context that imports": (
        "book.jsonld", lambda d: '{"@context": {"@import": "http://127.0.0.1:9/c"}, "@id": "urn:x"}', ("import", "{}/book.jsonld"), {2}, "not done"),
    "JSON-LD with a context in a file": (
        "book.jsonld", lambda d: json.dumps({"@context": [f"file://{d}"], "@id": "urn:x"}), ("import", "{}/book.jsonld"), {2}, "not done"),
    "JSON 100,000 deep": ("book.jsonld", lambda d: "[" * 100_000 + "]" * 100_000, ("import", "{}/book.jsonld"), {2}, "cannot be read"),
    "JSON with a number of 10,000 digits": (
        "book.jsonld", lambda d: '{"urn:p": ' + "9" * 10_000 + "}", ("import", "{}/book.jsonld"), {2}, "book"),
    "JSON with a lone surrogate": (
        "book.jsonld", lambda d: r'{"@id": "urn:\ud800", "urn:p": "\udfff"}', ("import", "{}/book.jsonld"), {2}, "book"),
    "Turtle that imports": (
        "book.ttl", lambda d: f"<urn:x> <http://www.w3.org/2002/07/owl#imports> <file://{d}>, <http://127.0.0.1:9/> .",
        ("import", "{}/book.ttl"), {2}, "no parts"),
    "Turtle 50,000 deep": ("book.ttl", lambda d: "<a:a> <a:b> " + "[ <a:c> " * 50_000, ("import", "{}/book.ttl"), {2}, "cannot be read"),
    "RDF of 101 MB": ("book.ttl", lambda d: 101 << 20, ("import", "{}/book.ttl"), {2}, "more than the 32 MB"),
    # SPARQL
    "SPARQL INSERT": ("question.rq", lambda d: "INSERT DATA { <a:b> <a:c> 1 }", ASK, {2}, "changes data"),
    "SPARQL DROP behind a SELECT": ("question.rq", lambda d: f"SELECT * {{ {ANY} }} ; DROP ALL", ASK, {2}, "SELECT, ASK or CONSTRUCT"),
    "SPARQL LOAD": ("question.rq", lambda d: f"LOAD <file://{d}>", ASK, {2}, "changes data"),
    "SPARQL SERVICE": ("question.rq", lambda d: f"SELECT * {{ SERVICE <http://127.0.0.1:9/> {{ {ANY} }} }}", ASK, {2}, "SERVICE"),
    "SPARQL FROM a file": ("question.rq", lambda d: f"SELECT * FROM <file://{d}> {{ {ANY} }}", ASK, {2}, "another graph"),
    "SPARQL GRAPH": ("question.rq", lambda d: f"SELECT * {{ GRAPH <file://{d}> {{ {ANY} }} }}", ASK, {2}, "another graph"),
    "SPARQL that runs for ever": ("question.rq", lambda d: "SELECT * { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i }", ASK, {2}, "took more than 2 s"),
    "SPARQL pattern that backtracks": (
        "question.rq", lambda d: f'SELECT ?x {{ BIND(REGEX("{"a" * 50}b", "^(a+)+$") AS ?x) }}', ASK, {2}, "took more than 2 s"),
    "SPARQL text that doubles 40 times": (
        "question.rq",
        lambda d: 'SELECT ?t40 { BIND("' + "x" * 64 + '" AS ?t0) ' + "".join(f"BIND(CONCAT(?t{n}, ?t{n}) AS ?t{n + 1}) " for n in range(40)) + "}",
        ASK, {2}, "makes a text of more than"),
    "SPARQL rows joined to one text": (
        "question.rq", lambda d: f'SELECT (GROUP_CONCAT(?t) AS ?all) {{ BIND("{"x" * 15_000}" AS ?t) ?a ?b ?c . ?d ?e ?f }}', ASK, {2},
        "joins more than"),
    "SPARQL brackets 5000 deep": ("question.rq", lambda d: "SELECT * { " + "{" * 5000, ASK, {2}, "query"),
    "SPARQL of 20 MB": ("question.rq", lambda d: "# " + "x" * (20 << 20), ASK, {2}, "at most 64 KB"),
    "SPARQL of 60 KB": ("question.rq", lambda d: "# " + "x" * 60_000, ASK, {2}, "20000 are the most"),
    "query from a pipe": ("question.rq", lambda d: "pipe", ASK, {2}, "no file"),
    # logs and studies
    "log with 100,000 columns": ("log.csv", lambda d: log([";".join("1" * 100_000)] * 3, "x;" * 100_000), PULL, {1, 2}, "no table of numbers|more than the 2000 read"),
    "log with 5000 columns": ("log.csv", lambda d: log([";".join("1" * 5000)] * 3, "x;" * 4999 + "x"), PULL, {1, 2}, "more than the 2000 read"),
    "log of 129 MB": ("log.csv", lambda d: 129 << 20, PULL, {1, 2}, "129 MB is more than the 128 MB read"),
    "log with numbers beyond every float": ("log.csv", lambda d: log([f"{n};9e999;1e308" for n in range(30)]), PULL, {0, 2, 4, 1, 3}, ""),
    "log with nan and infinity": ("log.csv", lambda d: log([f"{n};inf;-nan" for n in range(30)]), PULL, {0, 2, 4, 1, 3}, ""),
    "log whose time stands still": ("log.csv", lambda d: log([f"0;{n};1" for n in range(30)]), PULL, {0, 2, 4, 1, 3}, ""),
    "study of 10^18 assessments": (
        "study.toml",
        lambda d: 'cars = ["car-a"]\n' + "".join(
            f'{k} = {{ from = "{a} {u}", to = "{b} {u}", step = "{s} {u}" }}\n'
            for k, a, b, s, u in (("power", 100, 200, "0.0001", "kW"), ("boost", 1, 2, "0.000001", "bar"), ("torque", 100, 200, "0.0001", "Nm"))),
        ("study", "{}/study.toml"), {2}, "more than 1000000"),
    "study with tables 3000 deep": ("study.toml", lambda d: "a = " + "{a=" * 3000, ("study", "{}/study.toml"), {2}, "no TOML"),
}  # fmt: skip


def merged(sheet):
    """The sheet with all its cells merged to one."""
    return sheet.replace(
        b"</sheetData>", b'</sheetData><mergeCells count="1"><mergeCell ref="A1:XFD1048576"/></mergeCells>'
    )


def wide_columns(sheet):
    """The sheet with a hidden block of columns far beyond the last one."""
    return sheet.replace(b"<sheetData>", b'<cols><col min="1" max="2000000000" hidden="1"/></cols><sheetData>')


def zip_of(members):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def zip_link(decoy):
    """A workbook whose strings are a symbolic link to the decoy, as archives of Unix write it."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook(GOOD))) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            if name == "xl/sharedStrings.xml":
                info = zipfile.ZipInfo(name)
                info.external_attr, info.create_system = 0o120777 << 16, 3
                new.writestr(info, decoy)
            else:
                new.writestr(name, old.read(name))
    return out.getvalue()


def record(kind, body):
    return struct.pack("<HH", kind, len(body)) + body


def xls(*cells, more=b""):
    """A small workbook of the old format: one sheet with texts in cells ([MS-XLS] 2.1.7.20, [MS-CFB] 2)."""

    def start(kind):
        return record(0x809, struct.pack("<HHHHII", 0x600, kind, 0x0DBB, 0x07CC, 0, 6))

    def books(place):
        named = record(0x85, struct.pack("<IBBBB", place, 0, 0, 5, 0) + b"Parts")
        return (
            start(5) + record(0x42, struct.pack("<H", 1200)) + named + more * (more[:1] == b"\xfc") + record(0x0A, b"")
        )

    stream = books(len(books(0))) + start(0x10) + more * (more[:1] != b"\xfc")
    for row, column, text in cells:
        stream += record(0x204, struct.pack("<HHHHB", row, column, 0, len(text), 1) + text.encode("utf-16-le"))
    stream = (stream + record(0x0A, b"")).ljust(4096, b"\0")
    table = [0xFFFFFFFD, 0xFFFFFFFE, *range(3, 10), 0xFFFFFFFE]

    def entry(name, kind, begin, size, child):
        shown = name.encode("utf-16-le").ljust(64, b"\0")
        tree = struct.pack("<HBBIII", 2 * len(name) + 2, kind, 1, 2**32 - 1, 2**32 - 1, child)
        return shown + tree + bytes(36) + struct.pack("<IQ", begin, size)

    head = bytearray(b"\xff" * 512)
    head[:76] = bytes.fromhex("d0cf11e0a1b11ae1").ljust(24, b"\0") + struct.pack(
        "<HHHHH10sIIIIIIII", 0x3E, 3, 0xFFFE, 9, 6, b"", 1, 1, 0, 4096, 0xFFFFFFFE, 0, 0xFFFFFFFE, 0
    )
    head[76:80] = bytes(4)
    folder = entry("Root Entry", 5, 0xFFFFFFFE, 0, 1) + entry("Workbook", 2, 2, len(stream), 0xFFFFFFFF)
    return bytes(head) + struct.pack("<128I", *table, *[2**32 - 1] * 118) + folder.ljust(512, b"\0") + stream


def circular_xls():
    """The header of a compound file whose sector table leads back to itself ([MS-CFB] 2.2, 2.3)."""
    head = bytearray(512)
    head[:8] = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
    head[24:34] = bytes.fromhex("3e00 0300 feff 0900 0600".replace(" ", ""))
    head[44:48], head[48:52] = (1).to_bytes(4, "little"), (1).to_bytes(4, "little")
    head[56:60], head[60:64], head[68:72] = (4096).to_bytes(4, "little"), b"\xfe\xff\xff\xff", b"\xfe\xff\xff\xff"
    head[76:512] = (0).to_bytes(4, "little") + b"\xff" * 432
    table = (0).to_bytes(4, "little") + (1).to_bytes(4, "little") * 127
    return bytes(head) + table + bytes(512)


@pytest.fixture(scope="module")
def demo_file(demo_book, tmp_path_factory):
    """The demo shop in a file that a program of its own can open, whatever the other tests run on."""
    place = tmp_path_factory.mktemp("demo-file") / "shop.sqlite"
    place.touch()
    database = open_database(f"sqlite:///{place}")
    store_book(database, demo_book, who="tests", version="0")
    database.engine.dispose()
    return place


@pytest.fixture(scope="module")
def answers(tmp_path_factory, demo_file):
    folder = tmp_path_factory.mktemp("hostile")
    (folder / "decoy").write_text("never to be read", encoding="utf-8")
    listed = []
    for name, (file, make, words, *_) in CASES.items():
        place = folder / name.replace(" ", "-").replace(",", "").replace("^", "")
        place.mkdir()
        content = make(str(folder / "decoy"))
        path = place / file
        if content == "pipe":
            os.mkfifo(path)
        elif content == "/dev/zero":
            path.symlink_to(content)
        elif isinstance(content, int):
            with path.open("wb") as sparse:
                sparse.write(b"no;part\n")
                sparse.truncate(content)
        else:
            path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass"))
        if words is PULL:
            (place / "shop.sqlite").write_bytes(demo_file.read_bytes())
        words = [w.replace("{}/sheet", "{}/" + file) for w in words]
        listed.append({"name": place.name, "words": words, "memory": MEMORY})
    (folder / "cases.json").write_text(json.dumps(listed), encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, "-c", SERVER, str(folder)], capture_output=True, text=True, timeout=3600, check=True
    )
    found = [json.loads(line) for line in ran.stdout.splitlines()]
    assert (folder / "decoy").read_text(encoding="utf-8") == "never to be read"
    return dict(zip(CASES, found, strict=True))


def test_there_are_at_least_forty() -> None:
    assert len(CASES) >= 40


@pytest.mark.parametrize("name", CASES)
def test_nothing_happens_but_a_sentence(answers, name) -> None:
    _, _, _, codes, said = CASES[name]
    answer = answers[name]
    assert answer["traceback"] == ""
    assert answer["seen"] == []
    assert answer["code"] in codes, answer["err"]
    heard = answer["out"] + answer["err"]
    assert any(words in heard for words in said.split("|")), heard[:2000]
    assert "never to be read" not in heard
    assert max(map(len, heard.splitlines()), default=0) < 2000, "a sentence must stay readable"
    assert answer["peak"] < MEMORY
    assert answer["seconds"] < SECONDS


NAMES = (
    '=HYPERLINK("http://127.0.0.1:9/","x")',
    "+1+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1)",
    "<script>alert(1)</script>",
    '#read("decoy") $x^2$ *b* _i_ @ref <label>',
    '"> . } ; DROP ALL # \\ \u0022 """',
    "\u202egnihtyna\u202c \u2066x\u2069",
)


@pytest.mark.parametrize("form", ["csv", "xlsx", "ttl", "jsonld"])
def test_names_leave_as_texts_and_come_back_as_they_were(form, tmp_path) -> None:
    """What a spreadsheet, a page, Typst or SPARQL would act on is only ever a text."""
    from click.testing import CliRunner

    from graph.store import open_database
    from ingest.parts_sheet import harmless
    from ui.cli import main

    (tmp_path / "sheet.csv").write_text(
        text_sheet(*(part(name, f"HX-{n}") for n, name in enumerate(NAMES))), encoding="utf-8"
    )

    def run(database, *words):
        return CliRunner().invoke(main, ["--db", f"sqlite:///{tmp_path}/{database}.sqlite", *map(str, words)])

    first = run("one", "load", tmp_path / "sheet.csv")
    assert first.exit_code == 0, first.stderr
    out = tmp_path / f"out.{form}"
    assert run("one", "export", "--format", form, "--out", out).exit_code == 0
    if form == "csv":
        cells = [c for row in csv.reader(io.StringIO(out.read_text(encoding="utf-8"))) for c in row]
        assert not [
            c
            for c in cells
            if c.startswith(("=", "+", "@", "\t", "\r")) or (c.startswith("-") and c != "-2+3" and not c[1:2].isdigit())
        ]
    if form == "xlsx":
        sheet = openpyxl.load_workbook(out)
        assert not [c for ws in sheet for row in ws.iter_rows() for c in row if c.data_type == "f"]
    back = run("two", "import", out)
    assert back.exit_code == 0, back.stderr
    with open_database(f"sqlite:///{tmp_path}/two.sqlite").read() as view:
        # a CSV file cannot tell a text from a formula: there the apostrophe stays
        shown = [harmless(name) if form == "csv" else name for name in NAMES]
        assert [p.name for p in view.parts()] == shown
