"""``/docs``: the OpenAPI document as a page to read and to try out.

Our own page rather than a vendored viewer: it is plain HTML that reads without a script, 8 KB of
script and style of ours in place of a megabyte of somebody else's, and it runs under a strict
content security policy. It shows what the document says, so it cannot drift from the service.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pprint import pformat
from typing import Any, Final

from flask import render_template
from markupsafe import Markup, escape

from weavability.service.batches.csv_columns import column, columns, yarn_fields
from weavability.service.batches.csv_grammar import YARN_PRICE
from weavability.service.http.problems import KINDS, ProblemType

Shape = Mapping[str, Any]

_CODE: Final = re.compile(r"`([^`]+)`")
_STRESS: Final = re.compile(r"(?<![\w*])\*([A-Za-z][^*<>]*)\*(?![\w*])")
_BOUNDS: Final = {
    "minimum": "at least {}",
    "maximum": "at most {}",
    "exclusiveMinimum": "over {}",
    "exclusiveMaximum": "under {}",
    "minLength": "{} characters or more",
    "maxLength": "at most {} characters",
    "minItems": "{} items or more",
    "maxItems": "at most {} items",
    "pattern": "matches {}",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A field of a schema."""

    name: str
    kind: Markup
    required: bool
    words: Markup
    bounds: str
    example: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Schema:
    """A named schema."""

    name: str
    words: Markup
    kind: Markup
    members: tuple[Member, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """A body that can be sent, or one that is answered."""

    name: str
    media_type: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """A method at an address."""

    name: str
    method: str
    path: str
    tag: str
    summary: Markup
    words: Markup
    parameters: tuple[Member, ...]
    bodies: tuple[Example, ...]
    samples: Mapping[str, str]
    body_kind: Markup | None
    sends: tuple[str, ...]
    answers: tuple[str, ...]
    answer_kind: Markup
    answer: str
    problems: tuple[ProblemType, ...]


def render(document: Shape) -> str:
    """Return the page of an OpenAPI 3.1 document of this service."""
    calls = [
        _call(path, method, operation)
        for path, methods in document["paths"].items()
        for method, operation in methods.items()
    ]
    return render_template(
        "docs.html",
        info=document["info"],
        words=in_words(document["info"]["description"]),
        tags=[
            (tag, [call for call in calls if call.tag == tag["name"]]) for tag in document["tags"]
        ],
        columns=list(_columns()),
        schemas=[_schema(*item) for item in document["components"]["schemas"].items()],
        kinds=KINDS.values(),
        here=_HERE,
    )


def _call(path: str, method: str, operation: Shape) -> Call:
    sent: Shape = operation.get("requestBody", {}).get("content", {})
    answered: Shape = operation["responses"]["200"]["content"]
    first = next(iter(answered.values()))
    bodies = tuple(_examples(sent))
    own = [each for each in operation["parameters"] if each["name"] != "X-Request-Id"]
    return Call(
        name=operation["operationId"],
        method=method.upper(),
        path=path,
        tag=operation["tags"][0],
        summary=in_words(operation["summary"]),
        words=in_words(operation["description"]),
        parameters=tuple(_parameter(each) for each in own),
        bodies=bodies,
        samples=_samples(method.upper(), path, own, bodies[0] if bodies else None, tuple(answered)),
        body_kind=kind_of(next(iter(sent.values()))["schema"]) if sent else None,
        sends=tuple(sent),
        answers=tuple(answered),
        answer_kind=kind_of(first["schema"]),
        answer=next((each.text for each in _examples(answered)), ""),
        problems=tuple(_problems(operation["responses"])),
    )


def _examples(content: Shape) -> Iterator[Example]:
    """Yield every example of every media type."""
    for media_type, form in content.items():
        for name, example in form.get("examples", {}).items():
            yield Example(name=name, media_type=media_type, text=_written(example["value"]))


def _samples(
    method: str,
    path: str,
    parameters: Iterable[Shape],
    body: Example | None,
    answers: tuple[str, ...],
) -> dict[str, str]:
    """Write a call as it is made from a shell, from Python and from TypeScript."""
    for each in parameters:
        path = path.replace(f"{{{each['name']}}}", str(each.get("example", "")))
    is_json = body is not None and body.media_type == "application/json"
    accept = "" if answers[0] in ("application/json", "text/html") else answers[0]
    reads = "json" if is_json and answers[0] == "application/json" else "text"
    return {
        "curl": _in_curl(method, path, body, accept),
        "Python": _in_python(
            method, path, json.loads(body.text) if body and is_json else None, reads
        ),
        "TypeScript": _in_typescript(method, path, body.text if body and is_json else "", reads),
    }


_HERE: Final = "http://127.0.0.1:8080"


def _in_curl(method: str, path: str, body: Example | None, accept: str) -> str:
    lines = [f"curl {_HERE}{path}"]
    if method != "GET":
        lines[0] = f"curl -X {method} {_HERE}{path}"
    if accept:
        lines.append(f"  -H 'Accept: {accept}'")
    if body:
        lines.append(f"  -H 'Content-Type: {body.media_type}'")
        lines.append("  --data-binary @- <<'EOF'")
        return " \\\n".join(lines) + f"\n{body.text}\nEOF"
    return " \\\n".join(lines)


def _in_python(method: str, path: str, body: object, reads: str) -> str:
    address = json.dumps(_HERE + path)
    if body is None:
        call = f"answer = requests.{method.lower()}({address}, timeout=30)"
        return f"import requests\n\n{call}\nanswer.raise_for_status()\nprint(answer.text)"
    written = pformat(body, indent=1, width=88, sort_dicts=False)
    call = f"answer = requests.{method.lower()}({address}, json=body, timeout=30)"
    return (
        f"import requests\n\nbody = {written}\n{call}\nanswer.raise_for_status()\n"
        f"print(answer.{'json()' if reads == 'json' else 'text'})"
    )


def _in_typescript(method: str, path: str, body: str, reads: str) -> str:
    address = json.dumps(_HERE + path)
    if not body:
        how = "" if method == "GET" else f', {{ method: "{method}" }}'
        return f"const answer = await fetch({address}{how});\nconsole.log(await answer.text());"
    return (
        f"const body = {body};\n"
        f"const answer = await fetch({address}, {{\n"
        f'  method: "{method}",\n'
        '  headers: { "Content-Type": "application/json" },\n'
        "  body: JSON.stringify(body),\n"
        "});\n"
        "if (!answer.ok) throw new Error((await answer.json()).detail);\n"
        f"console.log(await answer.{reads}());"
    )


def _columns() -> Iterator[tuple[str, str, Markup]]:
    """Yield heading, kind of the cells and meaning of every column of a sheet of orders."""
    yarns = (*(f"warp_{word}_A" for word in yarn_fields()), f"{YARN_PRICE}warp A")
    for heading in (*columns(), *yarns):
        found = column(heading)
        if found is not None:
            yield heading, found.kind.value, in_words(found.words)


def _written(value: object) -> str:
    return value if isinstance(value, str) else json.dumps(value, indent=2, ensure_ascii=False)


def _problems(responses: Shape) -> Iterator[ProblemType]:
    for response in responses.values():
        slugs = response.get("$ref", "").rpartition("/")[2].split("-or-")
        yield from (KINDS[slug] for slug in slugs if slug in KINDS)


def _parameter(parameter: Shape) -> Member:
    shape = {**parameter["schema"], "description": parameter["description"]}
    if "example" in parameter:
        shape["examples"] = [parameter["example"]]
    return _member(parameter["name"], shape, required=parameter["required"])


def _schema(name: str, shape: Shape) -> Schema:
    required = shape.get("required", ())
    return Schema(
        name=name,
        words=in_words(shape.get("description", "")),
        kind=kind_of({key: value for key, value in shape.items() if key != "$ref"}),
        members=tuple(
            _member(field, each, required=field in required)
            for field, each in shape.get("properties", {}).items()
        ),
    )


def _member(name: str, shape: Shape, *, required: bool) -> Member:
    examples = shape.get("examples", ())
    return Member(
        name=name,
        kind=kind_of(shape),
        required=required,
        words=in_words(shape.get("description", "")),
        bounds="; ".join(w.format(shape[key]) for key, w in _BOUNDS.items() if key in shape),
        example=json.dumps(examples[0], ensure_ascii=False) if examples else "",
    )


def kind_of(shape: Shape) -> Markup:
    """Return in a few words what a schema allows, with links to the named ones.

    >>> kind_of({"type": ["number", "null"]}), kind_of({"enum": ["cam", "dobby"]})
    (Markup('number or null'), Markup('&#34;cam&#34; or &#34;dobby&#34;'))
    >>> kind_of({"type": "string", "x-known-values": ["note", "error"]})
    Markup('&#34;note&#34;, &#34;error&#34;')
    """
    if "$ref" in shape:
        name = shape["$ref"].rpartition("/")[2]
        return Markup('<a href="#schema-{0}">{0}</a>').format(name)
    for several in ("anyOf", "oneOf"):
        if several in shape:
            return Markup(" or ").join(kind_of(each) for each in shape[several])
    if "enum" in shape:
        return Markup(" or ").join(json.dumps(each) for each in shape["enum"])
    if "x-known-values" in shape:
        known = Markup(", ").join(json.dumps(each) for each in shape["x-known-values"])
        return known + (" or null" if "null" in shape["type"] else "")
    if shape.get("type") == "array":
        return Markup("list of ") + kind_of(shape.get("items", {}))
    named = shape.get("additionalProperties")
    if shape.get("type") == "object" and isinstance(named, Mapping):
        return Markup("object of ") + kind_of(named)
    stated = shape.get("type", "anything")
    return escape(" or ".join([stated] if isinstance(stated, str) else stated))


def in_words(text: str) -> Markup:
    """Return text with `code` and *stress* marked up.

    >>> in_words("see `GET /v1/looms` & more, *all of it*")
    Markup('see <code>GET /v1/looms</code> &amp; more, <em>all of it</em>')
    """
    marked = _STRESS.sub(r"<em>\1</em>", _CODE.sub(r"<code>\1</code>", str(escape(text))))
    return Markup(marked)  # noqa: S704 (escaped before)
