"""Find every sentence of the code, and write the list of them that the service answers with.

``openapi/regenerate`` runs it, after a change of wording.
"""

from __future__ import annotations

import ast
import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

import weavability
from weavability.service.openapi.message_list import KINDS
from weavability.textiles.sentences import quoted

SOURCE: Final = Path(weavability.__file__).parent
WRITTEN: Final = SOURCE / "service" / "openapi" / "messages.json"
OF_TABLES: Final = "say_row"
_KEY: Final = re.compile(rf"(?:{'|'.join(sorted(KINDS))})\.[a-z0-9_]+(?:\.[a-z0-9_]+)*")


class Site(NamedTuple):
    """A place that makes a sentence, and what is wrong with it; ``""`` if nothing is."""

    place: str
    key: str
    pattern: str
    fault: str


def sites() -> Iterator[Site]:
    """Yield every call of ``say`` in the server."""
    for path in sorted(SOURCE.rglob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        within_rows = {
            id(call)
            for node in ast.walk(tree)
            if isinstance(node, ast.FunctionDef) and node.name == OF_TABLES
            for call in ast.walk(node)
        }
        for call in ast.walk(tree):
            if (
                isinstance(call, ast.Call)
                and isinstance(call.func, ast.Name)
                and call.func.id == "say"
                and id(call) not in within_rows
            ):
                yield _site(f"{path.relative_to(SOURCE)}:{call.lineno}", call)


def _site(place: str, call: ast.Call) -> Site:
    literal = [each.value for each in call.args if isinstance(each, ast.Constant)]
    texts = [each for each in literal if isinstance(each, str)]
    if len(call.args) != 2 or len(texts) != 2:
        return Site(place, "", "", "key and pattern must be literal")
    key, pattern = texts
    if not _KEY.fullmatch(key):
        return Site(place, key, pattern, f"{key} is no key: kind.area.topic")
    names = {each.name for each in quoted(pattern)}
    given = {str(each.arg) for each in call.keywords}
    if names != given:
        return Site(place, key, pattern, f"{key} quotes {sorted(names)}, given {sorted(given)}")
    return Site(place, key, pattern, "")


def patterns() -> dict[str, str]:
    """Return the pattern of every key that the code names.

    Raises:
        ValueError: A sentence has no literal key or pattern, quotes what it is not given, or has
            the key of another one.
    """
    found: dict[str, str] = {}
    faults = []
    for site in sites():
        if site.fault:
            faults.append(f"{site.place}: {site.fault}")
        elif found.setdefault(site.key, site.pattern) != site.pattern:
            faults.append(f"{site.place}: {site.key} has another pattern elsewhere")
    if faults:
        raise ValueError("\n".join(faults))
    return dict(sorted(found.items()))


def written() -> str:
    """Return the text of the list."""
    return json.dumps(patterns(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    WRITTEN.write_text(written(), "utf-8")
    sys.exit(0)
