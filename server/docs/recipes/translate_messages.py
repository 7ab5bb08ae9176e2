"""Show answers in a language of the mill: a pattern for each key, translated once.

    python translate_messages.py template > de.json     # English patterns, for a translator
    python translate_messages.py check de.json          # what is new, what is wrong
    python translate_messages.py show de.json < request.json

What is not translated yet, or wrongly, is shown in English, so that nothing is lost.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from string import Formatter
from typing import Any

from weavability_client import Client, InvalidInput, render

FORM = re.compile(r"[+_]?(?:\.\d{1,2})?[fg]")
"""How a number may be written, beside the form that the English pattern has."""

Words = Callable[[str, Mapping[str, object]], str]
"""Makes a sentence of its key and values."""


def quoted(pattern: str) -> dict[str, str]:
    """Return how a pattern writes each value; raise a ``ValueError`` if it is broken."""
    return {name: form or "" for _, name, form, _ in Formatter().parse(pattern) if name}


def fault_of(own: str, english: str) -> str | None:
    """Return what is wrong with a pattern; ``None`` if nothing is."""
    try:
        forms, known = quoted(own), quoted(english)
        strange = forms.keys() - known.keys()
        if strange:
            return f"no such value: quotes {', '.join(sorted(strange))}"
        for name, form in forms.items():
            if form and form != known[name] and not FORM.fullmatch(form):
                return f"cannot be written so: {{{name}:{form}}}"
    except ValueError as error:
        return f"a brace without its other: {error}"
    return None


def complaints(english: Mapping[str, str], own: Mapping[str, str]) -> Iterator[str]:
    """Yield what a translation lacks, and what is wrong with it."""
    for key in sorted(english.keys() - own.keys()):
        yield f"not translated: {key}: {english[key]}"
    for key in sorted(own.keys() - english.keys()):
        yield f"no longer used: {key}"
    for key in sorted(own.keys() & english.keys()):
        fault = fault_of(own[key], english[key])
        if fault is not None:
            yield f"wrong: {key}: {fault}"


def worded(
    own: Mapping[str, str], english: Mapping[str, str], key: str, values: Mapping[str, object]
) -> str:
    """Return a sentence in the mill's language, or in English if its pattern cannot be used."""
    try:
        return render({**english, **own}, key, values)
    except (ValueError, KeyError, IndexError):
        return render(english, key, values)


def shown(client: Client, words: Words, request: dict[str, Any]) -> Iterator[str]:
    """Yield the lines of an answer: the findings, or what is wrong with the request."""
    try:
        report = client.validate(**request)
    except InvalidInput as error:
        for field in error.errors:
            yield f"{field.pointer}: {words(field.message_key, field.message_values)}"
        return
    for finding in report.findings:
        if finding.message_key is not None:
            said = words(finding.message_key, finding.message_values or {})
            yield f"{finding.severity}: {said}"
    for each in report.assumptions:
        if each.reason_key is not None:
            reason = words(each.reason_key, each.reason_values or {})
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
        for line in shown(client, partial(worded, own, english), json.load(sys.stdin)):
            print(line)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
