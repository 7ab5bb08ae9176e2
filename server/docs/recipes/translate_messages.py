"""Show answers in a language of the mill: a pattern for each key, translated once.

    python translate_messages.py template > de.json     # English patterns, for a translator
    python translate_messages.py check de.json          # what is new, what is wrong
    python translate_messages.py show de.json < request.json

What is not translated yet is shown in English, so that nothing is lost.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from string import Formatter
from typing import Any

from weavability_client import Client, InvalidInput, render


def quoted(pattern: str) -> set[str]:
    """Return the names of the values that a pattern quotes."""
    return {name for _, name, _, _ in Formatter().parse(pattern) if name}


def complaints(english: Mapping[str, str], own: Mapping[str, str]) -> Iterator[str]:
    """Yield what a translation lacks, and what is wrong with it."""
    for key in sorted(english.keys() - own.keys()):
        yield f"not translated: {key}: {english[key]}"
    for key in sorted(own.keys() - english.keys()):
        yield f"no longer used: {key}"
    for key in sorted(own.keys() & english.keys()):
        strange = quoted(own[key]) - quoted(english[key])
        if strange:
            yield f"no such value: {key} quotes {', '.join(sorted(strange))}"


def shown(client: Client, patterns: Mapping[str, str], request: dict[str, Any]) -> Iterator[str]:
    """Yield the lines of an answer: the findings, or what is wrong with the request."""
    try:
        report = client.validate(**request)
    except InvalidInput as error:
        for field in error.errors:
            yield f"{field.pointer}: {render(patterns, field.message_key, field.message_values)}"
        return
    for finding in report.findings:
        if finding.message_key is not None:
            said = render(patterns, finding.message_key, finding.message_values or {})
            yield f"{finding.severity}: {said}"
    for each in report.assumptions:
        if each.reason_key is not None:
            reason = render(patterns, each.reason_key, each.reason_values or {})
            yield f"{each.pointer} = {each.value} {each.unit or ''}: {reason}"
    yield report.caution


def main(arguments: list[str]) -> int:
    """Do what the first argument says; the address of the service is WEAVABILITY_URL."""
    with Client() as client:
        english = client.messages().patterns()
        if arguments == ["template"]:
            json.dump(english, sys.stdout, indent=1, ensure_ascii=False)
            return 0
        action, file = arguments
        own: dict[str, str] = json.loads(Path(file).read_text("utf-8"))
        if action == "check":
            found = list(complaints(english, own))
            print("\n".join(found) or "complete")
            return 1 if found else 0
        for line in shown(client, {**english, **own}, json.load(sys.stdin)):
            print(line)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
