"""The arrows of the house: who may import whom, counting imports in functions and by name."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Final

import networkx as nx
import pytest

pytestmark = pytest.mark.slow

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


@cache
def nodes(path: Path) -> Sequence[ast.AST]:
    """Everything in a module that imports, calls or may name a module."""
    kept = (ast.Import, ast.ImportFrom, ast.Call, ast.Constant)
    return [each for each in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(each, kept)]


def imported(name: str, path: Path, known: frozenset[str] = frozenset()) -> Iterator[str]:
    """Every module that a file imports, absolute; a string that names a module counts as well."""
    for node in nodes(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = _base(name, path, node)
            yield from (f"{base}.{each.name}" for each in node.names)
            yield base
        elif isinstance(node, ast.Constant) and node.value in known:
            yield str(node.value)


def called(path: Path) -> Iterator[str]:
    """The names of everything that a file calls."""
    for node in nodes(path):
        if isinstance(node, ast.Call):
            yield str(getattr(node.func, "id", getattr(node.func, "attr", "")))


def _base(name: str, path: Path, node: ast.ImportFrom) -> str:
    if node.level == 0:
        return node.module or ""
    package = name.split(".") if path.stem == "__init__" else name.split(".")[:-1]
    parents = package[: len(package) - node.level + 1]
    return ".".join((*parents, *((node.module,) if node.module else ())))


@cache
def arrows(root: Path) -> nx.DiGraph[str]:
    """Imports among the modules below a source root; a package's ``__init__`` counts as itself."""
    names = modules(root)
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(names)
    for name, path in names.items():
        targets = {each for each in imported(name, path, frozenset(names)) if each in names}
        # `from package import module` runs the package too, but needs only the module.
        graph.add_edges_from((name, each) for each in targets if not name.startswith(f"{each}."))
    return graph


def layer(name: str) -> str:
    return name.split(".")[1] if "." in name else ""


@pytest.mark.parametrize("of", LAYERS)
def test_imports_run_one_way(of: str) -> None:
    above = LAYERS[LAYERS.index(of) + 1 :]
    wrong = [
        f"{name} imports {other}"
        for name, other in arrows(SERVER).edges
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
        for name, other in arrows(SERVER).edges
        if room(name) == of and room(other) in above
    ]
    assert wrong == []


def test_every_module_of_the_service_belongs_to_a_room() -> None:
    assert {room(name) for name in modules(SERVER)} - {""} == set(ROOMS)


def test_nothing_in_the_server_is_imported_by_a_name_made_at_run_time() -> None:
    dynamic = {"import_module", "__import__", "importlib.import_module", "runpy"}
    wrong = [
        f"{name} uses {found}"
        for name, path in modules(SERVER).items()
        for found in {*called(path), *imported(name, path)} & dynamic
    ]
    assert wrong == []


@pytest.mark.parametrize("root", [SERVER, CLIENT], ids=["server", "client"])
def test_no_imports_in_a_circle(root: Path) -> None:
    circles = [sorted(each) for each in nx.strongly_connected_components(arrows(root))]
    assert [each for each in circles if len(each) > 1] == []


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
        for text in [path.read_text("utf-8")]
        for line in NO_VERBS.finditer(text)
        for above in [text[: line.start()].rstrip("\n")]
        for head in [above[above.rfind("\n\n") + 1 :]]
        if "def " in head and not re.search(r"@(.*property|on_use|compare\w*\()", head)
    ]
    assert not offenders, "\n".join(offenders)


def test_the_test_sees_imports() -> None:
    graph = arrows(SERVER)
    assert graph.has_edge("weavability.looms.fit", "weavability.textiles.cloth")
    assert not graph.has_edge("weavability.textiles.cloth", "weavability.looms.fit")
