"""The arrows of the house: who may import whom, counting imports in functions and by name."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from functools import cache
from graphlib import TopologicalSorter
from itertools import chain
from pathlib import Path
from textwrap import dedent
from typing import Final

import pytest

ROOT: Final = Path(__file__).parent.parent
SERVER: Final = ROOT / "server"
CLIENT: Final = ROOT / "client"

LAYERS: Final = ("textiles", "looms", "checks", "answers", "drawing", "service")
"""Each may import those before it."""

ROOMS: Final = (
    "settings",
    "http",
    "schemas",
    "requests",
    "observability",
    "access",
    "state",
    "operations",
    "batches",
    "archive",
    "pages",
    "openapi",
    "resources",
    "app",
    "gunicorn",
)
"""The rooms and single modules of the service; each may import those before it."""

WEB: Final = {"flask", "werkzeug", "marshmallow", "gunicorn", "requests", "prometheus_client"}


@cache
def modules(root: Path) -> Mapping[str, Path]:
    """Every module below a source root, by its dotted name."""
    found = {}
    for path in sorted(root.rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


IMPORT: Final = re.compile(
    r"^[ \t]*(?:from[ ]+[\w.]+[ ]+import[ ]+(?:\([^)]*\)|.+)|import[ ]+\w.*)$", re.MULTILINE
)
"""A statement that imports: to parse these alone takes a tenth of the time of parsing it all."""


@cache
def source(path: Path) -> str:
    return path.read_text("utf-8")


@cache
def imports(path: Path) -> Sequence[ast.Import | ast.ImportFrom]:
    """Every statement of a module that imports, those in functions too."""
    found = "\n".join(dedent(each.group()) for each in IMPORT.finditer(source(path)))
    return _imports_of(ast.parse(found).body)


def _imports_of(nodes: Iterable[ast.AST]) -> list[ast.Import | ast.ImportFrom]:
    return [each for each in nodes if isinstance(each, ast.Import | ast.ImportFrom)]


def imported(name: str, path: Path, known: frozenset[str] = frozenset()) -> Iterator[str]:
    """Every module that a file imports, absolute; a string that names a module counts as well."""
    for node in imports(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        else:
            base = _base(name, path, node)
            yield from (f"{base}.{each.name}" for each in node.names)
            yield base
    yield from known.intersection(source(path).split('"'))


def _base(name: str, path: Path, node: ast.ImportFrom) -> str:
    if node.level == 0:
        return node.module or ""
    package = name.split(".") if path.stem == "__init__" else name.split(".")[:-1]
    parents = package[: len(package) - node.level + 1]
    return ".".join((*parents, *((node.module,) if node.module else ())))


@cache
def arrows(root: Path) -> Mapping[str, Set[str]]:
    """What each module below a source root imports of the others.

    A package's ``__init__`` counts as itself: ``from package import module`` runs the package too,
    but needs only the module.
    """
    names = modules(root)
    return {
        name: {
            each
            for each in imported(name, path, frozenset(names))
            if each in names and not f"{name}.".startswith(f"{each}.")
        }
        for name, path in names.items()
    }


def edges(root: Path) -> Iterator[tuple[str, str]]:
    return chain.from_iterable(
        ((name, other) for other in others) for name, others in arrows(root).items()
    )


def layer(name: str) -> str:
    return name.split(".")[1] if "." in name else ""


@pytest.mark.parametrize("of", LAYERS)
def test_imports_run_one_way(of: str) -> None:
    above = LAYERS[LAYERS.index(of) + 1 :]
    wrong = [
        f"{name} imports {other}"
        for name, other in edges(SERVER)
        if layer(name) == of and layer(other) in above
    ]
    assert wrong == []


def test_every_module_of_the_server_belongs_to_a_layer() -> None:
    rooms = {layer(name) for name in modules(SERVER) if name.startswith("weavability.")}
    assert rooms - {"__main__"} == set(LAYERS)


def room(name: str) -> str:
    """The room of a module of the service; programs to be run are above all of them."""
    parts = name.split(".")
    if parts[:2] != ["weavability", "service"] or len(parts) == 2 or parts[-1] == "__main__":
        return ""
    return parts[2]


@pytest.mark.parametrize("of", ROOMS)
def test_imports_run_one_way_among_the_rooms_of_the_service(of: str) -> None:
    above = ROOMS[ROOMS.index(of) + 1 :]
    wrong = [
        f"{name} imports {other}"
        for name, other in edges(SERVER)
        if room(name) == of and room(other) in above
    ]
    assert wrong == []


def test_every_module_of_the_service_belongs_to_a_room() -> None:
    assert {room(name) for name in modules(SERVER)} - {""} == set(ROOMS)


def test_nothing_in_the_server_is_imported_by_a_name_made_at_run_time() -> None:
    dynamic = re.compile(r"import_module|__import__|runpy")
    wrong = [name for name, path in modules(SERVER).items() if dynamic.search(source(path))]
    assert wrong == []


@pytest.mark.parametrize("root", [SERVER, CLIENT], ids=["server", "client"])
def test_no_imports_in_a_circle(root: Path) -> None:
    TopologicalSorter(arrows(root)).prepare()  # raises an error that names a circle


def test_no_two_modules_of_one_name() -> None:
    names = Counter(path.stem for path in modules(SERVER).values())
    assert [name for name, count in names.items() if count > 1 and not name.startswith("__")] == []


def test_the_core_knows_no_http() -> None:
    wrong = [
        f"{name} imports {other}"
        for name, path in modules(SERVER).items()
        if layer(name) in LAYERS[:-1]
        for other in imported(name, path)
        if other.split(".")[0] in WEB
    ]
    assert wrong == []


def test_the_client_imports_nothing_of_the_server_and_only_requests() -> None:
    outside = {
        other.split(".")[0]
        for name, path in modules(CLIENT).items()
        for other in imported(name, path)
    }
    assert "weavability" not in outside
    assert outside & WEB == {"requests"}


NO_VERBS: Final = re.compile(
    r'^ *"""(Whether|Every|Each|How|What|Which|The|An?|Its?|This|That|If|When) .*$', re.MULTILINE
)
"""First lines of docstrings that begin with no verb, which the linter takes for one."""


def test_docstrings_of_functions_begin_with_a_verb() -> None:
    # Nouns describe the attributes of a class, properties too; a rule of a check is a sentence.
    offenders = [
        f"{name}: {line.group().strip()}"
        for root in (SERVER, CLIENT)
        for name, path in modules(root).items()
        for text in [source(path)]
        for line in NO_VERBS.finditer(text)
        for above in [text[: line.start()].rstrip("\n")]
        for head in [above[above.rfind("\n\n") + 1 :]]
        if "def " in head and not re.search(r"@(.*property|on_use|compare\w*\()", head)
    ]
    assert not offenders, "\n".join(offenders)


def test_the_test_sees_imports() -> None:
    graph = arrows(SERVER)
    assert "weavability.textiles.cloth" in graph["weavability.looms.fit"]
    assert "weavability.looms.fit" not in graph["weavability.textiles.cloth"]


@pytest.mark.slow
@pytest.mark.parametrize("root", [SERVER, CLIENT], ids=["server", "client"])
def test_the_test_sees_what_python_does(root: Path) -> None:
    known = frozenset(modules(root))
    for path in modules(root).values():
        whole = list(ast.walk(ast.parse(source(path))))
        seen = {ast.unparse(each) for each in imports(path)}
        assert {ast.unparse(each) for each in _imports_of(whole)} <= seen, path
        texts = {each.value for each in whole if isinstance(each, ast.Constant)}
        assert known & texts <= set(imported("", path, known)), path
