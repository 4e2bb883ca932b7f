"""Every public function of the physics documents its units, its source and a worked example that runs."""

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from types import ModuleType

import pytest

import graph.physics

MODULES = [
    importlib.import_module(f"graph.physics.{found.name}") for found in pkgutil.iter_modules(graph.physics.__path__)
]
FUNCTIONS = [
    pytest.param(member, id=f"{module.__name__.rsplit('.', 1)[1]}.{name}")
    for module in MODULES
    for name, member in inspect.getmembers(module, inspect.isfunction)
    if member.__module__ == module.__name__ and not name.startswith("_")
]
UNIT = re.compile(r"\[[^\]\s][^\]]*\]")


def sections(function: Callable[..., object]) -> dict[str, list[str]]:
    """Lines of each numpydoc section by its title."""
    lines = (inspect.getdoc(function) or "").splitlines()
    starts = [i for i in range(1, len(lines)) if lines[i] and set(lines[i]) == {"-"} and lines[i - 1].strip()]
    ends = [i - 1 for i in starts[1:]] + [len(lines)]
    return {lines[start - 1]: lines[start + 1 : end] for start, end in zip(starts, ends, strict=True)}


def entries(lines: list[str]) -> dict[str, str]:
    """Each unindented head of a section with the indented text under it."""
    found: dict[str, str] = {}
    head = ""
    for line in lines:
        if line and not line.startswith(" "):
            head = line
            found[head] = ""
        elif head:
            found[head] += " " + line.strip()
    return found


def test_there_are_functions_to_read() -> None:
    assert len(MODULES) >= 18
    assert len(FUNCTIONS) >= 80


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_parameter_is_listed_with_its_unit(function: Callable[..., object]) -> None:
    listed = entries(sections(function).get("Parameters", []))
    names = [name.strip() for head in listed for name in head.split(":")[0].split(",")]
    assert names == list(inspect.signature(function).parameters)
    assert [head for head, text in listed.items() if not UNIT.search(text)] == []


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_return_has_a_unit(function: Callable[..., object]) -> None:
    listed = entries(sections(function).get("Returns", []))
    assert listed
    assert [head for head, text in listed.items() if not UNIT.search(text)] == []


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_source_is_named(function: Callable[..., object]) -> None:
    assert any(line.strip() for line in sections(function).get("References", []))


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_function_has_a_worked_example(function: Callable[..., object]) -> None:
    assert any(line.startswith(">>>") for line in sections(function).get("Examples", []))


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_worked_examples_run(module: ModuleType) -> None:
    assert doctest.testmod(module).failed == 0
