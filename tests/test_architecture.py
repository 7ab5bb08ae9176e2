"""The arrows of the house: who may import whom."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SERVER = ROOT / "server" / "weavability"
CLIENT = ROOT / "client" / "weavability_client"

WEB = {"flask", "werkzeug", "marshmallow", "apispec", "gunicorn", "requests", "prometheus_client"}
ABOVE_TEXTILES = {"looms", "checks", "drawing", "service"}
ANSWERS = {
    "assessment",
    "changes",
    "matching",
    "rate_sheet",
    "report",
    "style_change",
    "weave_sheets",
}

FORBIDDEN = {
    "textiles": ABOVE_TEXTILES | ANSWERS,
    "looms": {"checks", "drawing", "service"} | ANSWERS,
    "checks": {"drawing", "service"} | ANSWERS,
    "drawing": {"service", "checks"},
}


def imported(path: Path) -> Iterator[str]:
    """Every module that a file imports, absolute."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield _absolute(path, node)


def _absolute(path: Path, node: ast.ImportFrom) -> str:
    if node.level == 0:
        return node.module or ""
    package = path.relative_to(ROOT).parts[1:]  # without server/ or client/
    base = package[: len(package) - node.level]
    return ".".join((*base, node.module or ""))


def modules(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.py"))


@pytest.mark.parametrize("package", sorted(FORBIDDEN))
def test_imports_run_one_way(package: str) -> None:
    refused = {f"weavability.{name}" for name in FORBIDDEN[package]}
    wrong = [
        f"{path.name} imports {name}"
        for path in modules(SERVER / package)
        for name in imported(path)
        if any(name == bad or name.startswith(bad + ".") for bad in refused)
    ]
    assert wrong == []


@pytest.mark.parametrize("package", ["textiles", "looms", "checks"])
def test_the_core_knows_no_http(package: str) -> None:
    wrong = [
        f"{path.name} imports {name}"
        for path in modules(SERVER / package)
        for name in imported(path)
        if name.split(".")[0] in WEB
    ]
    assert wrong == []


def test_the_client_imports_nothing_of_the_server_and_only_requests() -> None:
    outside = {name.split(".")[0] for path in modules(CLIENT) for name in imported(path)}
    assert "weavability" not in outside
    assert outside & WEB == {"requests"}


def test_the_test_sees_imports() -> None:
    seen = set(imported(SERVER / "looms" / "fit.py"))
    assert "weavability.textiles.cloth" in seen
    assert "weavability.textiles.errors" in set(imported(SERVER / "textiles" / "weave.py"))
