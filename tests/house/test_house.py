"""The house rules: what the distribution owns, what must stand in no file, which way imports run."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import distribution, packages_distributions
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("graph", "ingest", "ui")

# Put together from pieces, so that this file does not hold what it looks for.
FORBIDDEN = re.compile(
    "|".join(
        (
            "pypi" + r"\.org",
            "python" + r"hosted\.org",
            "index" + r"-url\s*[= ]\s*\S",
            "/" + r"simple/\w",
            '"resolved"' + r"\s*:",
            re.escape(str(ROOT)) + r"(?![\w-])",
            r"(?<![\w.])/(?:home|root|Users)" + r"/[\w.-]+/",
        )
    )
)


def tracked() -> list[Path]:
    answer = subprocess.run(
        ["git", "-c", "safe.directory=*", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    paths = [ROOT / name for name in answer.stdout.decode().split("\0") if name]
    assert paths, "git lists no files"
    return [p for p in paths if p.is_file()]


def texts(path: Path) -> list[str]:
    """A file's text; of a zipped spreadsheet the text of every member."""
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            return [archive.read(name).decode("utf-8", "replace") for name in archive.namelist()]
    return [path.read_bytes().decode("utf-8", "replace")]


@pytest.fixture(scope="module")
def project() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))


@pytest.mark.parametrize("name", PACKAGES)
def test_no_other_distribution_owns_the_name(name: str) -> None:
    # An editable install lists no modules, so the owners are either nobody else or this distribution.
    assert set(packages_distributions().get(name, [])) <= {"pinchpoint"}


@pytest.mark.parametrize("name", PACKAGES)
def test_name_is_imported_from_this_tree(name: str) -> None:
    spec = importlib.util.find_spec(name)
    assert spec is not None
    assert spec.origin is not None
    assert Path(spec.origin).resolve() == ROOT / name / "__init__.py"


def test_wheel_holds_the_packages_and_the_demo_shop(project: dict) -> None:
    wheel = project["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]
    assert sorted(wheel) == sorted([*PACKAGES, "seed_parts"])


def test_installed_script_and_version_are_those_of_the_project(project: dict) -> None:
    installed = distribution("pinchpoint")
    assert installed.version == project["project"]["version"]
    scripts = {e.name: e.value for e in installed.entry_points if e.group == "console_scripts"}
    assert scripts == project["project"]["scripts"]


def test_build_backend_is_pinned(project: dict) -> None:
    # A constraints file does not reach the build backend, so it is pinned where it is asked for.
    assert all("==" in requirement for requirement in project["build-system"]["requires"])


def test_no_file_holds_a_registry_address_or_a_path_of_a_machine() -> None:
    found = [
        f"{path.relative_to(ROOT)}: {match.group()}"
        for path in tracked()
        for text in texts(path)
        if (match := FORBIDDEN.search(text)) is not None
    ]
    assert found == []


@pytest.mark.parametrize(
    "text",
    [
        "--index" + "-url=somewhere",
        "files.python" + "hosted.org/packages/x",
        f"{ROOT}/tests",
        "see /ho" + "me/somebody/file",
        '"resolved"' + ': "x"',
    ],
)
def test_the_guard_sees_what_it_looks_for(text: str) -> None:
    assert FORBIDDEN.search(text) is not None


def test_constraints_hold_pins_and_no_address(project: dict) -> None:
    lines = (ROOT / "constraints.txt").read_text("utf-8").splitlines()
    assert [line for line in lines if "://" in line] == []
    pinned = {normal(line.split("==")[0]) for line in lines if "==" in line}
    declared = list(project["project"]["dependencies"])
    for extra in project["project"]["optional-dependencies"].values():
        declared += extra
    names = {normal(re.split(r"[\[<>=!~; ]", requirement, maxsplit=1)[0]) for requirement in declared}
    assert names - pinned == set()


def normal(name: str) -> str:
    """Name of a distribution as PEP 503 compares it."""
    return re.sub(r"[-_.]+", "-", name).strip().lower()


def test_imports_run_one_way() -> None:
    answer = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=ROOT,
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert answer.returncode == 0, answer.stdout + answer.stderr


def test_tests_are_no_packages() -> None:
    # With one, pytest would import tests/graph as the package graph.
    assert list((ROOT / "tests").rglob("__init__.py")) == []


def test_test_files_have_names_of_their_own() -> None:
    names = [p.name for p in (ROOT / "tests").rglob("test_*.py")]
    assert sorted({n for n in names if names.count(n) > 1}) == []


def test_no_module_hides_an_installed_one() -> None:
    # A page run by Streamlit has ui/ first on the module path.
    taken = {*PACKAGES, "seed_parts", *sys.stdlib_module_names, *packages_distributions()}
    assert sorted(p.name for p in (ROOT / "ui").glob("*.py") if p.stem in taken) == []


def test_licence_is_the_one_declared(project: dict) -> None:
    assert project["project"]["license"] == "Apache-2.0"
    text = (ROOT / "LICENSE").read_text("utf-8")
    assert "Apache License" in text
    assert "Version 2.0, January 2004" in text
    assert "9. Accepting Warranty or Additional Liability" in text


def test_continuous_integration_runs_what_a_developer_runs() -> None:
    assert "tests/run.sh" in (ROOT / ".ci" / "run").read_text("utf-8")
    last = (ROOT / "tests" / "run.sh").read_text("utf-8").rstrip().splitlines()[-1]
    assert last.startswith("exec .venv/bin/pytest")
