"""Reading a request's body: JSON only, whole, within bounds, and unambiguous."""

from __future__ import annotations

import json
import re
from itertools import chain
from typing import IO, Final, NoReturn

import numpy as np
import orjson
from flask import Request

from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.streams import drain
from weavability.textiles.errors import Fault
from weavability.textiles.sentences import Sentence, say

DEEPEST: Final = 32
MOST_CONTAINERS: Final = 50_000
MOST_VALUES: Final = 1_000_000
_SNIPPET: Final = 40
# Every name in an object ends in a quotation mark and a colon. Text inside a string can only look
# like one more, so the number of matches is never less than the number of names.
_NAME_END: Final = re.compile(rb'"[ \t\r\n]*:')


def json_body(request: Request, *, longest: int) -> object:
    """Return the JSON value of the request's body, which may have ``longest`` bytes.

    Raises:
        ProblemError: 415 for other media types and for compressed bodies, 413 for bodies over the
            limit, 400 for what is not JSON or is ambiguous.
    """
    require_media_type(request, "application/json")
    return parse(_bytes(request, longest))


def require_media_type(request: Request, *known: str) -> None:
    """Refuse a body that is compressed, not UTF-8, or of none of the ``known`` media types.

    Raises:
        ProblemError: 415.
    """
    coding = request.headers.get("Content-Encoding", "identity").strip().lower()
    if coding not in ("", "identity"):
        raise ProblemError(
            kind=problems.UNSUPPORTED_MEDIA_TYPE,
            detail=say(
                "problem.compressed_body",
                "Compressed bodies ({coding!r}) are not accepted: send it uncompressed.",
                coding=coding[:40],
            ),
            headers={"Accept-Encoding": "identity"},
        )
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if request.mimetype not in known or charset not in ("utf-8", "utf8", "us-ascii"):
        given = request.headers.get("Content-Type") or "no Content-Type"
        raise ProblemError(
            kind=problems.UNSUPPORTED_MEDIA_TYPE,
            detail=say(
                "problem.media_type",
                "Send UTF-8 with Content-Type: {media_types}; given: {given!r}.",
                media_types=" or ".join(known),
                given=given[:100],
            ),
            headers={"Accept": ", ".join(known)},
        )


def body_stream(request: Request) -> IO[bytes]:
    """Return the body of any length, to be read piece by piece; it ends with the request."""
    return request.stream


def _bytes(request: Request, longest: int) -> bytes:
    """Read the body from the server's stream; one of unknown length is measured as it is read."""
    stream: IO[bytes] = request.environ["wsgi.input"]
    length = request.content_length
    if length is None:
        if not request.environ.get("wsgi.input_terminated"):
            return b""
        length = longest + 1
    raw = stream.read(length) if length <= longest + 1 else b""
    if len(raw) > longest or length > longest + 1:
        drain(stream)
        raise _too_large(longest)
    return raw


def _too_large(longest: int) -> ProblemError:
    return ProblemError(
        kind=problems.BODY_TOO_LARGE,
        detail=say(
            "problem.body_too_large",
            "A body may have at most {most_bytes} bytes ({most_mib:g} MiB).",
            most_bytes=longest,
            most_mib=longest / 2**20,
        ),
        headers={"Connection": "close"},
    )


def parse(raw: bytes) -> object:
    """Parse JSON strictly.

    orjson refuses NaN, infinities, bad UTF-8 and lone surrogates, but takes the last of two equal
    names silently; those are found by counting names, each of which has a colon, and looked for
    only if the count differs.

    Raises:
        ProblemError: 400, with the place and what is wrong there.

    >>> parse(b'{"a": [1, 2.5]}')
    {'a': [1, 2.5]}
    """
    if not raw.strip():
        _refuse(say("problem.body_empty", "The body is empty. Send a JSON object."))
    if _has_too_many(raw):
        _refuse(
            say(
                "problem.too_many_values",
                "The body has more than {most_containers} objects and lists, or more "
                "than {most_values} values.",
                most_containers=MOST_CONTAINERS,
                most_values=MOST_VALUES,
            )
        )
    try:
        tree = orjson.loads(raw)
    except orjson.JSONDecodeError as error:
        raise _unreadable(raw, error) from None
    names = _survey(tree)
    if names != _count(raw, b":") and names != len(_NAME_END.findall(raw)):
        _refuse_doubles(raw)
    return tree


def _has_too_many(raw: bytes) -> bool:
    """Return whether a body has too many objects and lists, or values; a short one cannot."""
    if len(raw) <= MOST_CONTAINERS:
        return False
    if _count(raw, b"{") + _count(raw, b"[") > MOST_CONTAINERS:
        return True
    return len(raw) > MOST_VALUES and _count(raw, b",") > MOST_VALUES


def _count(raw: bytes, character: bytes) -> int:
    """Count a character, in a long body several times as fast as ``bytes.count``."""
    return int(np.count_nonzero(np.frombuffer(raw, dtype=np.uint8) == ord(character)))


def _unreadable(raw: bytes, error: orjson.JSONDecodeError) -> ProblemError:
    words = error.msg.split(": line ")[0]
    near = raw.decode("utf-8", "replace")[max(0, error.pos - _SNIPPET // 2) :][:_SNIPPET]
    return ProblemError(
        kind=problems.UNREADABLE_JSON,
        detail=say(
            "problem.not_json",
            "At line {line}, column {column}: {words}.",
            line=error.lineno,
            column=error.colno,
            words=words,
        ),
        faults=[
            Fault(
                "",
                say(
                    "fault.json.unreadable",
                    "The body is not JSON at line {line}, column {column}: {words}.",
                    line=error.lineno,
                    column=error.colno,
                    words=words,
                ),
                near,
                "JSON (RFC 8259)",
            )
        ],
    )


def _refuse(detail: Sentence) -> NoReturn:
    raise ProblemError(kind=problems.UNREADABLE_JSON, detail=detail)


def _survey(tree: object) -> int:
    """Count the names in all objects of ``tree``; refuse it if it is nested too deeply."""
    names = 0
    level = [tree] if type(tree) in _CONTAINERS else []
    for _ in range(DEEPEST + 1):
        objects = [node for node in level if isinstance(node, dict)]
        lists = [node for node in level if isinstance(node, list)]
        names += sum(map(len, objects))
        held = chain(*(node.values() for node in objects), *lists)
        level = [each for each in held if type(each) in _CONTAINERS]
        if not level:
            return names
    _refuse(
        say(
            "problem.nested_too_deep",
            "The body is nested more than {most_levels} deep.",
            most_levels=DEEPEST,
        )
    )


_CONTAINERS: Final = frozenset({dict, list})


class _DoubledError(Exception):
    """A name is in one object twice; its only argument is the name."""


def _unique(pairs: list[tuple[str, object]]) -> None:
    seen: set[str] = set()
    for name, _ in pairs:
        if name in seen:
            raise _DoubledError(name)
        seen.add(name)


def _refuse_doubles(raw: bytes) -> None:
    """Refuse a body that names a field twice in one object; which of the two would be meant?"""
    try:
        json.loads(raw, object_pairs_hook=_unique)
    except _DoubledError as doubled:
        shown = str(doubled)[: problems.LONGEST_GIVEN]
        raise ProblemError(
            kind=problems.UNREADABLE_JSON,
            detail=say(
                "problem.field_twice",
                'The field "{field}" is in one object twice; remove one.',
                field=shown,
            ),
            faults=[
                Fault(
                    "",
                    say(
                        "fault.json.field_twice",
                        'The field "{field}" is in one object twice.',
                        field=shown,
                    ),
                    shown,
                )
            ],
        ) from None
