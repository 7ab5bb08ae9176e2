"""Write the modules of the client that are made from the OpenAPI document.

The records that the client reads and sends, the columns of its sheets, and its version come from
``openapi/openapi.json``; the grammar of a sheet, the row of a report and the words of fields are
the service's, copied.
"""

from __future__ import annotations

import json
import re
import sys
import textwrap
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parents[1]
SERVER: Final = ROOT / "server" / "weavability"
PACKAGE: Final = ROOT / "client" / "weavability_client"
HEADER: Final = '"""{about} Generated: run ``openapi/regenerate``."""\n'
WIDTH: Final = 100

Schema = Mapping[str, Any]

ROOTS: Final = (
    "ValidationRequest",
    "Report",
    "InsertionRateRequest",
    "RateSheet",
    "ReportSummary",
    "LoomMatchRequest",
    "MatchReport",
    "RemedyRequest",
    "RemedyReport",
    "WindowRequest",
    "Window",
    "ChangeoverRequest",
    "ChangeoverReport",
    "DesignRequest",
    "DesignSheet",
    "SequenceReport",
    "WeaveRequest",
    "WeaveSheet",
    "WeaveNotations",
    "KnownReport",
    "Changed",
    "MessageList",
    "CheckList",
    "Evidence",
    "ShownCheck",
)
"""Schemas from which all records of the client are reached."""
NAMES: Final[Mapping[str, str]] = {
    "Changed": "ChangedReport",
    "CheckList": "RuleSet",
    "EfficiencyFacts": "Stops",
    "KnownReport": "Watched",
    "PicksPerCmRange": "Band",
    "RequiredCover": "RequiredRange",
    "RequiredEnds": "RequiredRange",
    "RequiredMass": "RequiredRange",
    "RequiredMassPerM": "RequiredRange",
    "RequiredOpenArea": "RequiredRange",
    "RequiredPicks": "RequiredRange",
    "RequiredShare": "RequiredRange",
    "RequiredThickness": "RequiredRange",
    "RequiredWidth": "RequiredRange",
    "ShownCheck": "Check",
    "SpeedCurvePoint": "CurvePoint",
    "WeaveNotation": "Notation",
    "WeftTexRange": "Band",
}
"""Names of records that differ from those of their schemas."""
EXTENDED: Final = frozenset(
    {
        "Assumption",
        "ChangedReport",
        "ChangeoverReport",
        "DesignSheet",
        "Evidence",
        "Finding",
        "LoomMatch",
        "MatchReport",
        "MessageList",
        "RateSheet",
        "Remedy",
        "RemedyReport",
        "Report",
        "RuleSet",
        "SequenceReport",
        "Setup",
        "WeaveNotations",
        "WeaveSheet",
        "Window",
    }
)
"""Records to which a class written by hand adds methods: their own names end in ``Fields``."""
MEMBERS: Final[Mapping[str, Mapping[str, str]]] = {
    "Alteration": {"from": "from_value", "to": "to_value"},
    "FieldChange": {"from": "from_value", "to": "to_value"},
    "Remedy": {"from": "from_value", "to": "to_value"},
    "Sweep": {"from": "start", "to": "stop"},
    "VariedField": {"from": "start", "to": "stop"},
}
"""Names of fields that differ from those in JSON, by record."""
EMPTY: Final = frozenset({"speed_curve", "reeds_in_stock_dents_per_10cm"})
"""Lists of a loom that are empty, not ``None``, if nothing is stated: the two mean the same."""
PLAIN: Final[Mapping[str, str]] = {
    "Weave": "str | Mapping[str, object]",
    "NestedSentence": "Mapping[str, object]",
    "Problem": "Mapping[str, object]",
}
"""Schemas that stay as parsed."""
WORDS: Final[Mapping[str, str]] = {
    "verdict": "models.Verdict",
    "verdict_otherwise": "models.Verdict",
    "severity": "models.Severity | str",
    "severities": "tuple[models.Severity | str, ...]",
}
"""Fields whose text is one of a few words. An unknown verdict is an error, a severity is not."""
OPTIONS: Final[Mapping[str, tuple[str, frozenset[str]]]] = {
    "ChangeoverRequest": ("ChangeoverOptions", frozenset({"from", "to", "orders", "on_loom"})),
    "DesignRequest": ("DesignSheetOptions", frozenset({"construction", "options"})),
    "InsertionRateRequest": ("InsertionRateOptions", frozenset()),
    "LoomMatchRequest": ("LoomMatchOptions", frozenset({"construction", "options"})),
    "RemedyRequest": ("RemedyOptions", frozenset({"construction"})),
    "ValidationRequest": ("ValidationOptions", frozenset({"construction", "options"})),
    "WeaveRequest": ("WeaveOptions", frozenset({"weave"})),
    "WindowRequest": ("WindowOptions", frozenset({"construction"})),
}
"""Requests whose members are keywords of the client's methods, and those that are not."""
IN_BATCHES: Final = frozenset({"LoomMatchRequest", "ValidationRequest"})
"""Requests of which there is a record, too."""
_ORDER: Final = {"int": 0, "float": 1}
_SCALARS: Final = {"integer": "int", "number": "float", "string": "str", "boolean": "bool"}


def generated() -> dict[Path, str]:
    """Return the text of every generated module of the client, by its path."""
    document = json.loads((ROOT / "openapi" / "openapi.json").read_text("utf-8"))
    return {
        PACKAGE / "models" / "_generated.py": records(document["components"]["schemas"]),
        PACKAGE / "_csv_grammar.py": csv_grammar(
            _source("service/batches/csv_grammar"), _columns(document)
        ),
        PACKAGE / "_report_row.py": copied(
            _source("service/batches/report_row"),
            "The flat row of a report, as the service computes it.",
        ),
        PACKAGE / "_field_names.py": copied(
            _source("answers/field_names"), "What people call a field of a request."
        ),
        PACKAGE / "_version.py": HEADER.format(about="The version of client and service.")
        + f'\n__version__ = "{document["info"]["version"]}"\n',
    }


def records(schemas: Mapping[str, Schema]) -> str:
    """Return the module of records for the schemas of an OpenAPI document."""
    found: dict[str, str] = {}
    for title in reached(schemas):
        schema = schemas[title]
        if title in OPTIONS:
            name, apart = OPTIONS[title]
            found[name] = _options(name, schema, apart)
        if title not in OPTIONS or title in IN_BATCHES:
            name = NAMES.get(title, title)
            alike = [schemas[each] for each in schemas if NAMES.get(each, each) == name]
            found[name] = _record(name, schema, alike)
    public = sorted(found.keys() - EXTENDED)
    return "\n".join(
        [
            HEADER.format(about="The fields of what goes in and what comes out."),
            "from __future__ import annotations\n",
            "from collections.abc import Mapping, Sequence",
            "from dataclasses import field",
            "from typing import Required, TypedDict\n",
            "from weavability_client import models",
            "from weavability_client._record import Record, record\n",
            "__all__ = [",
            *(f'    "{name}",' for name in public),
            "]\n",
            *(f"\n{found[name]}" for name in sorted(found)),
        ]
    )


def reached(schemas: Mapping[str, Schema]) -> list[str]:
    """Return the names of all schemas that the roots refer to, themselves included."""
    found: dict[str, None] = {}
    waiting = list(ROOTS)
    while waiting:
        title = waiting.pop()
        if title not in found and title not in PLAIN:
            found[title] = None
            apart = frozenset() if title in IN_BATCHES else OPTIONS.get(title, ("", frozenset()))[1]
            members: Schema = schemas[title]["properties"]
            waiting.extend(_references([each for key, each in members.items() if key not in apart]))
    return list(found)


def _references(part: object) -> Iterator[str]:
    if isinstance(part, dict):
        if "$ref" in part:
            yield _title(part)
        for each in part.values():
            yield from _references(each)
    elif isinstance(part, list):
        for each in part:
            yield from _references(each)


def _title(schema: Schema) -> str:
    return str(schema["$ref"]).rpartition("/")[2]


def _record(name: str, schema: Schema, alike: list[Schema]) -> str:
    """Return the class of a record, with the words of all schemas that share it."""
    renamed = MEMBERS.get(name, {})
    members: Schema = schema["properties"]
    about = " ".join(dict.fromkeys(each["description"] for each in alike))
    words = {
        renamed.get(key, key): _shared([each["properties"][key]["description"] for each in alike])
        for key in members
    }
    lines = [
        _member(renamed.get(key, key), key, each, required=key in schema["required"])
        for key, each in members.items()
    ]
    title = f"{name}Fields" if name in EXTENDED else name
    head = f"@record\nclass {title}(Record):\n"
    return f"{head}{_docstring(about, words)}\n\n" + "\n".join(lines) + "\n"


def _shared(descriptions: list[str]) -> str:
    """Join the descriptions of a field that several schemas have; those of unlike units once."""
    units: dict[str, list[str]] = {}
    for words, _, unit in sorted({each.partition(" [") for each in descriptions}):
        units.setdefault(words, []).append(unit.removesuffix("]."))
    return " Or: ".join(
        f"{words} [{', '.join(some)}]." if some[0] else words for words, some in units.items()
    )


def _member(name: str, key: str, schema: Schema, *, required: bool) -> str:
    """Return the line of a field: what may be missing, or be null, is ``None`` by default."""
    kind = WORDS.get(key) or type_of(schema)
    if key in EMPTY:
        return f"    {name}: {kind.removesuffix(' | None')} = ()"
    optional = not required or _nullable(schema) or "x-since" in schema
    if optional and kind != "object" and not kind.endswith("| None"):
        kind += " | None"
    if name != key:
        default = "default=None, " if optional else ""
        return f'    {name}: {kind} = field({default}metadata={{"key": "{key}"}})'
    return f"    {name}: {kind}{' = None' if optional else ''}"


def _options(name: str, schema: Schema, apart: frozenset[str]) -> str:
    members = {key: each for key, each in schema["properties"].items() if key not in apart}
    words = {key: each["description"] for key, each in members.items()}
    lines = [
        f"    {key}: {_option(each, required=key in schema['required'])}"
        for key, each in members.items()
    ]
    head = f"class {name}(TypedDict, total=False):\n"
    about = f"Keywords of a request. {schema['description']}"
    return f"{head}{_docstring(about, words)}\n\n" + "\n".join(lines) + "\n"


def _option(schema: Schema, *, required: bool) -> str:
    """Return the annotation of a keyword: any sequence, and a mapping in place of a record."""
    kind = type_of(schema).removesuffix(" | None")
    either = re.sub(r"models\.\w+", r"\g<0> | Mapping[str, object]", kind)
    stated = re.sub(r"tuple\[(.*), \.\.\.\]", r"Sequence[\1]", either)
    return f"Required[{stated}]" if required else f"{stated} | None"


def _nullable(schema: Schema) -> bool:
    if "anyOf" in schema:
        return any(map(_nullable, schema["anyOf"]))
    return "$ref" not in schema and ("type" not in schema or "null" in _types(schema))


def _types(schema: Schema) -> list[str]:
    kinds = schema.get("type", [])
    return [kinds] if isinstance(kinds, str) else list(kinds)


def type_of(schema: Schema) -> str:
    """Return the annotation of a value."""
    if "$ref" in schema:
        title = _title(schema)
        return PLAIN.get(title) or f"models.{NAMES.get(title, title)}"
    if "anyOf" in schema:
        options = [type_of(each) for each in schema["anyOf"] if _types(each) != ["null"]]
    else:
        options = [_typed(kind, schema) for kind in _types(schema) if kind != "null"]
    if not options:
        return "object"
    # Whole numbers first: a value that may be either is not to become a fraction.
    ordered = sorted(options, key=lambda kind: _ORDER.get(kind, len(_ORDER)))
    return " | ".join(ordered) + (" | None" if _nullable(schema) else "")


def _typed(kind: str, schema: Schema) -> str:
    if kind == "array":
        return f"tuple[{type_of(schema['items'])}, ...]"
    if kind == "object":
        return f"Mapping[str, {type_of(schema.get('additionalProperties', {}))}]"
    return _SCALARS[kind]


def _docstring(about: str, words: Mapping[str, str]) -> str:
    """Return a docstring: a sentence, what else there is to say, and a line a field."""
    first, _, rest = re.sub(r"(?<=\.) ", "\n", about, count=1).partition("\n")
    first = _python(first)
    lines = [f'    """{first if first.endswith(".") else first + "."}', ""]
    if rest:
        lines += [*_wrapped(rest, indent=4, hanging=4), ""]
    lines.append("    Attributes:")
    for name, meaning in words.items():
        lines += _wrapped(f"{name}: {meaning}", indent=8, hanging=12)
    return "\n".join([*lines, '    """'])


def _wrapped(text: str, *, indent: int, hanging: int) -> list[str]:
    return textwrap.wrap(
        _python(text),
        WIDTH,
        initial_indent=" " * indent,
        subsequent_indent=" " * hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _python(text: str) -> str:
    """Return words of the document as a docstring has them."""
    return re.sub(r"`null`|\bnull\b", "`None`", text).replace("`", "``")


def _columns(document: Schema) -> Mapping[str, Mapping[str, str]]:
    body: Schema = document["paths"]["/v1/validations"]["post"]["requestBody"]
    columns: Mapping[str, Mapping[str, str]] = body["content"]["text/csv"]["schema"]["x-columns"]
    return columns


def _source(module: str) -> str:
    return (SERVER / f"{module}.py").read_text("utf-8")


def copied(source: str, about: str) -> str:
    """Return a module of the service with a first line that says where it is from."""
    _, _, code = source.split('"""', 2)
    return HEADER.format(about=about).rstrip() + code


def csv_grammar(source: str, columns: Mapping[str, Mapping[str, str]]) -> str:
    """Return the module that holds the grammar of a sheet and a table of its columns."""
    return "\n".join(
        [
            copied(source, "How a sheet of orders is read."),
            "\nCOLUMNS: Final[Mapping[str, tuple[str, Kind]]] = {",
            *(
                _column(name, each["pointer"], each["kind"].upper())
                for name, each in columns.items()
            ),
            "}",
            '"""Place and kind of the cells of every column; of yarns, those of warp yarn A."""\n',
        ]
    )


def _column(name: str, pointer: str, kind: str) -> str:
    line = f'    "{name}": ("{pointer}", Kind.{kind}),'
    if len(line) <= WIDTH:
        return line
    return f'    "{name}": (\n        "{pointer}",\n        Kind.{kind},\n    ),'


def main() -> int:
    """Write the modules."""
    for path, text in generated().items():
        path.write_text(text, "utf-8")
        sys.stdout.write(f"wrote {path.relative_to(ROOT)}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
