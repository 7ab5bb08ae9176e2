"""Change the core in one place, run its tests, and print the changes that no test notices.

Without ``--sample``: every threshold and default, which are the numbers of the data files and the
named constants of the modules, one at a time, a little up and a little down. With ``--sample N``: N
changes picked at random among those and all constants, comparisons and operators in the code.

    python tests/bench/mutations.py --only thresholds.toml
    python tests/bench/mutations.py --sample 100 --seed 7

The changes are made in copies of the tree. The tests are those of the core with the hypothesis
profile ``quick``: the folder of the changed package, and the others only if it passes; the first
that fails ends the run. Tests that compute for longer than ``--limit-s`` have noticed too. That
they pass without any change is tried once for a tree, and remembered beside the cache of pytest.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import tomllib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from time import monotonic
from typing import Final, NamedTuple

ROOT: Final = Path(__file__).parents[2]
CORE: Final = Path("server", "weavability")
# Tests of what is built upon the core, and folders that hold none.
NOT_OF_THE_CORE: Final = {
    *("service", "client", "contract", "fuzz", "deploy", "browser", "bench", "reference"),
    "__pycache__",
}
# What tests import is loaded once, before the process forks.
LIBRARIES: Final = ("flask", "hypothesis", "marshmallow", "networkx", "numpy", "pint", "pytest")
# What the tests run on, and where the digest of it is kept once they have passed.
COPIED: Final = ("server", "client", "tests", "openapi", "pyproject.toml")
PASSED: Final = ROOT / ".pytest_cache" / "mutations-passed"
A_LITTLE: Final = 0.05
NOT_COPIED: Final = shutil.ignore_patterns("__pycache__", ".*", "node_modules")
MEMORY_BYTES: Final = 4 << 30
WAITING: Final = 10
"""How many times longer than its computing time a run may last, on a machine with other work."""

OPERATORS: Final[dict[type[ast.AST], tuple[str, tuple[str, ...]]]] = {
    ast.Add: ("+", ("-",)),
    ast.Sub: ("-", ("+",)),
    ast.Mult: ("*", ("/",)),
    ast.Div: ("/", ("*",)),
    ast.FloorDiv: ("//", ("*",)),
    ast.Mod: ("%", ("*",)),
    ast.Pow: ("**", ("*",)),
    ast.And: ("and", ("or",)),
    ast.Or: ("or", ("and",)),
    ast.Lt: ("<", ("<=", ">")),
    ast.LtE: ("<=", ("<", ">")),
    ast.Gt: (">", (">=", "<")),
    ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
}
TOML_TEXT: Final = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'|#.*')
TOML_NUMBER: Final = re.compile(r"(?<![\w.+-])\d[\d_]*(?:\.\d+)?(?![\w.])")


class Change(NamedTuple):
    """One place of a file, and what it is changed to."""

    path: Path
    line: int
    start: int
    end: int
    old: str
    new: str
    context: str
    threshold: bool

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.old} -> {self.new}   in: {self.context}"


def moved(value: float) -> tuple[str, ...]:
    """A number, a little up and a little down."""
    if not value:
        return ("1",) if isinstance(value, int) else ("0.1",)
    if isinstance(value, int):
        step = max(1, round(A_LITTLE * value))
        return str(value + step), str(value - step)
    return tuple(repr(float(f"{value * factor:.6g}")) for factor in (1 + A_LITTLE, 1 - A_LITTLE))


def data_changes(path: Path) -> Iterator[Change]:
    """The numbers of a data file, but for those in names, texts and comments."""
    text = (ROOT / path).read_text("utf-8")
    bare = TOML_TEXT.sub(lambda found: " " * len(found[0]), text)
    lines = text.splitlines()
    for found in TOML_NUMBER.finditer(bare):
        line = text.count("\n", 0, found.start())
        old = found[0].replace("_", "")
        for new in moved(float(old) if "." in old else int(old)):
            changed = text[: found.start()] + new + text[found.end() :]
            with suppress(tomllib.TOMLDecodeError):
                if tomllib.loads(changed).keys() == tomllib.loads(text).keys():
                    yield Change(
                        path, line + 1, *found.span(), old, new, lines[line].strip(), threshold=True
                    )


class Source:
    """A module's text, with the place of every node in it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.text = (ROOT / path).read_text("utf-8")
        self._lines = self.text.splitlines(keepends=True)
        starts = [0]
        for line in self._lines:
            starts.append(starts[-1] + len(line))
        self._starts = starts

    def at(self, line: int, byte: int) -> int:
        """Index into the text; ast counts the bytes of a line."""
        before = self._lines[line - 1].encode()[:byte].decode()
        return self._starts[line - 1] + len(before)

    def begin(self, node: ast.expr) -> int:
        return self.at(node.lineno, node.col_offset)

    def end(self, node: ast.expr) -> int:
        return self.at(node.end_lineno or node.lineno, node.end_col_offset or node.col_offset)

    def change(self, start: int, end: int, new: str, *, threshold: bool = False) -> Change:
        line = self.text.count("\n", 0, start)
        context = self._lines[line].strip()
        return Change(
            self.path, line + 1, start, end, self.text[start:end], new, context, threshold
        )

    def between(self, left: ast.expr, right: ast.expr, kind: ast.AST) -> Iterator[Change]:
        """Changes of the operator between two nodes."""
        written, others = OPERATORS.get(type(kind), ("", ()))
        start = self.text.find(written, self.end(left), self.begin(right))
        for other in others if start >= 0 else ():
            yield self.change(start, start + len(written), other)

    def of(self, node: ast.AST, *, threshold: bool) -> Iterator[Change]:
        """Changes of one node."""
        match node:
            case ast.Constant(value=int() | float() as value) if not isinstance(value, bool):
                for new in moved(value):
                    yield self.change(self.begin(node), self.end(node), new, threshold=threshold)
            case ast.BinOp(left=left, op=op, right=right):
                yield from self.between(left, right, op)
            case ast.BoolOp(op=op, values=values):
                for one, other in pairwise(values):
                    yield from self.between(one, other, op)
            case ast.Compare(left=left, ops=ops, comparators=others):
                for kind, (one, other) in zip(ops, pairwise([left, *others]), strict=True):
                    yield from self.between(one, other, kind)

    def changes(self, node: ast.AST | None = None, *, threshold: bool = False) -> Iterator[Change]:
        """Changes of a node and all that is in it; texts and types are left as they are."""
        node = node or ast.parse(self.text)
        yield from self.of(node, threshold=threshold)
        for name, part in ast.iter_fields(node):
            for each in part if isinstance(part, list) else [part]:
                if name in {"annotation", "returns"} or not isinstance(each, ast.AST):
                    continue
                if not isinstance(each, ast.JoinedStr):
                    named = isinstance(node, ast.Module) and isinstance(
                        each, ast.Assign | ast.AnnAssign
                    )
                    yield from self.changes(each, threshold=threshold or named)


def all_changes() -> list[Change]:
    """Every change that may be made to the core, in the order of files and lines."""
    found: list[Change] = []
    for path in sorted((ROOT / CORE).rglob("*")):
        here = path.relative_to(ROOT)
        if "service" in here.parts or path.name.startswith("demo_"):
            continue
        if path.suffix == ".toml":
            found += data_changes(here)
        elif path.suffix == ".py":
            found += Source(here).changes()
    return found


def tests_for(path: Path) -> tuple[list[str], list[str]]:
    """The folder of tests of the changed package, and those of the rest of the core."""
    folders = [each.name for each in sorted((ROOT / "tests").iterdir()) if each.is_dir()]
    names = [name for name in folders if name not in NOT_OF_THE_CORE]
    nearest = [f"tests/{name}" for name in names if name in path.parts]
    return nearest, [f"tests/{name}" for name in names if name not in path.parts]


def copy_of_the_tree(to: Path) -> Path:
    for name in COPIED:
        if (ROOT / name).is_file():
            shutil.copy(ROOT / name, to)
        else:
            shutil.copytree(ROOT / name, to / name, ignore=NOT_COPIED)
    return to


def digest_of(tree: Path) -> str:
    """Name of all that is in a copy."""
    found = hashlib.sha256()
    for path in sorted(tree.rglob("*")):
        if path.is_file():
            found.update(str(path.relative_to(tree)).encode() + b"\0" + path.read_bytes())
    return found.hexdigest()


def run_tests(tree: Path, stages: Iterable[list[str]], limit_s: int) -> int:
    """In a process of their own, a stage only if the one before passes; return its id."""
    pid = os.fork()
    if pid:
        return pid
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s))
    signal.alarm(WAITING * limit_s)
    os.chdir(tree)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    sys.dont_write_bytecode = True
    sys.path[:0] = [str(tree / name) for name in ("server", "client", "tests")]
    import pytest

    options = [
        "-x",
        "-q",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:schemathesis",
        "--tb=no",
        "--assert=plain",
    ]
    options += ["--hypothesis-profile=quick"]
    os._exit(any(pytest.main([*options, *folders]) for folders in stages if folders))


def unnoticed(changes: list[Change], jobs: int, limit_s: int) -> Iterator[Change]:
    """Try all changes, as many at once as there are jobs; yield those that no test notices."""
    with tempfile.TemporaryDirectory() as folder:
        free = [copy_of_the_tree(Path(folder, str(number))) for number in range(jobs)]
        under_way: dict[int, tuple[Path, Change]] = {}
        waiting = list(reversed(changes))
        while waiting or under_way:
            while waiting and free:
                tree, change = free.pop(), waiting.pop()
                text = (ROOT / change.path).read_text("utf-8")
                changed = text[: change.start] + change.new + text[change.end :]
                (tree / change.path).write_text(changed, "utf-8")
                pid = run_tests(tree, tests_for(change.path), limit_s)
                under_way[pid] = tree, change
            pid, status = os.wait()
            tree, change = under_way.pop(pid)
            shutil.copy(ROOT / change.path, tree / change.path)
            free.append(tree)
            if status == 0:
                yield change


def must_pass(limit_s: int) -> None:
    """End with what is wrong, unless the tests pass, or have passed, on the tree as it is."""
    with tempfile.TemporaryDirectory() as folder:
        tree = copy_of_the_tree(Path(folder))
        digest = digest_of(tree)
        if PASSED.is_file() and PASSED.read_text() == digest:
            return
        _, status = os.waitpid(run_tests(tree, tests_for(CORE), limit_s), 0)
    if status:
        why = "take too long" if os.WIFSIGNALED(status) else "fail"
        sys.exit(f"without any change the tests {why}")
    PASSED.parent.mkdir(exist_ok=True)
    PASSED.write_text(digest)


def chosen(options: argparse.Namespace) -> list[Change]:
    found = [each for each in all_changes() if re.search(options.only, str(each))]
    if options.sample is None:
        return [each for each in found if each.threshold]
    return random.Random(options.seed).sample(found, min(options.sample, len(found)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--only", default="", help="pattern that path:line: old -> new must have")
    parser.add_argument("--sample", type=int, help="how many random changes of code and data")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--limit-s", type=int, default=120, help="computing time of a run")
    parser.add_argument("--list", action="store_true", help="only list the changes")
    options = parser.parse_args()
    changes = chosen(options)
    if options.list:
        print(*changes, sep="\n")
        return
    for name in LIBRARIES:
        import_module(name)
    must_pass(options.limit_s)
    began, missed = monotonic(), 0
    for change in unnoticed(changes, options.jobs, options.limit_s):
        missed += 1
        print(change, flush=True)
    print(f"{missed} of {len(changes)} changes not noticed, {monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
