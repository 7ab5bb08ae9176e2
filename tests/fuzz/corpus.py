"""Hostile bodies: hand-written files beside this module, and many made by rule, always the same."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import deepcopy
from pathlib import Path
from typing import Any, Final

Place = tuple[str | int, ...]
Case = tuple[str, bytes]

FILES: Final = Path(__file__).parent / "bodies"

INSTEAD: Final[Mapping[str, Any]] = {
    "null": None,
    "true": True,
    "empty object": {},
    "empty list": [],
    "empty text": "",
    "nul": "\x00",
    "minus one": -1,
    "huge number": 1e308,
    "tiny number": 5e-324,
    "whole number beyond all": 10**300,
    "number as text": "30",
    "long text": "A" * 100_000,
    "long list": [0] * 20_000,
    "object in itself": {"construction": {"construction": {"construction": {}}}},
    "emoji": "🧵" * 50,
}

TEXTS: Final = (
    "999999999A", "9999(9999(9999(A)))", "(" * 2000, "(" * 999 + "A" + ")" * 999, "A" * 2000,
    "A " * 999, "0A", "-3A", "1e9A", "٣A", "A;B", "3(2A 2B", "999999/999999 twill Z",
    "0/0 twill Z", "1/1/1/1/1/1/1/1/1/1 twill Z", "4294967295-end satin move 2",
    "5-end satin move 0", "99999/1 hopsack", "2/2 herringbone 999999999", "plain " * 300,
    "p" * 200, "plain\x00", "Plain\u200b", "𝓹𝓵𝓪𝓲𝓷", "Ne 1e-300", "Ne 1e300", "Ne 0", "Ne -1",
    "Ne inf", "Ne nan", "R 1 tex/999999999", "1 tex x 999999999", "0 tex", "150 dtex f0",
    "150 dtex f" + "9" * 100, "Ne 30/2/2/2/2/2/2/2/2", "Ne ٣٠", "Ne 30\u20442", "20-02 02-01-01",
    "99-99 99-99-99", "20-" + "02 " * 500 + "-01-01", "#gggggg", "javascript:alert(1)",
    "../../../etc/passwd", "%00", "%2e%2e%2f", "${a:b://x}", "{{7*7}}", "' OR 1=1 --",
    "\u202e", "\ufeff", "\ud7ff\ue000", "a\u0300" * 200, "\r\nSet-Cookie: a=b", "x" * 65_536,
)  # fmt: skip
"""Texts for every field that takes one: bombs of repetition, of nesting and of size among them."""

WEAVES: Final[Mapping[str, Any]] = {
    "a million rows": {"rows": ["10"] * 1_000_000},
    "a row of a million": {"rows": ["10" * 500_000, "01" * 500_000]},
    "unequal rows": {"rows": ["1", "10", "100"]},
    "no rows": {"rows": []},
    "empty rows": {"rows": ["", ""]},
    "other figures": {"rows": ["12", "21"]},
    "a large weave": {"rows": [("1" * (row % 97 + 1)).ljust(997, "0") for row in range(997)]},
    "all up": {"rows": ["1" * 64] * 64},
    "threading beyond the shafts": {"threading": [10**9, 1], "lift_plan": ["10", "01"]},
    "threading of zeros": {"threading": [0, 0], "lift_plan": ["1"]},
    "threading of fractions": {"threading": [1.5], "lift_plan": ["1"]},
    "long threading": {"threading": [1, 2] * 50_000, "lift_plan": ["10", "01"]},
    "treadling beyond the tie-up": {"threading": [1, 2], "tie_up": ["10"], "treadling": [9]},
    "stripes in stripes": {"stripes": [{"weave": {"stripes": []}, "ends": 4}]},
    "stripes without end": {"stripes": [{"weave": "plain", "ends": 10**9}] * 2},
    "stripes that never meet": {
        "stripes": [{"weave": f"{n}-end satin move 2", "ends": n} for n in (5, 7, 11, 13, 17, 19)]
    },
    "many stripes": {"stripes": [{"weave": "plain", "ends": 2}] * 50_000},
    "two ways at once": {"rows": ["10", "01"], "code": "10-01 01-01-01"},
    "an image that is text": {"image_png": "aGVsbG8="},
    "an image that is endless": {"image_png": "iVBORw0KGgo" + "A" * 500_000},
}

_PLAIN_JSON: Final[Mapping[str, bytes]] = {
    "nothing": b"",
    "white space": b" \t\r\n" * 1000,
    "a number": b"1",
    "a text": b'"construction"',
    "null": b"null",
    "a list": b"[]",
    "a list of requests": b"[{},{}]",
    "an empty object": b"{}",
    "byte order mark": b"\xef\xbb\xbf{}",
    "UTF-16": '{"construction": {}}'.encode("utf-16"),
    "UTF-32": '{"construction": {}}'.encode("utf-32"),
    "Latin-1": b'{"reference": "\xe4"}',
    "overlong UTF-8": b'{"a": "\xc0\xaf"}',
    "half a character": b'{"a": "\xf0\x9f"}',
    "a lone surrogate": b'{"a": "\\ud800"}',
    "two lone surrogates": b'{"\\udc00": "\\ud800"}',
    "a NUL": b"\x00",
    "a NUL in a text": b'{"a": "\x00"}',
    "control characters": bytes(range(1, 32)),
    "all bytes": bytes(range(256)),
    "NaN": b'{"construction": NaN}',
    "Infinity": b'{"construction": -Infinity}',
    "a leading zero": b'{"a": 01}',
    "a plus": b'{"a": +1}',
    "hexadecimal": b'{"a": 0x1F}',
    "underscores": b'{"a": 1_000}',
    "a comma for a point": b'{"a": 1,5}',
    "an exponent beyond all": b'{"a": 1e999999999}',
    "a number without end": b'{"a": ' + b"9" * 500_000 + b"}",
    "a fraction without end": b'{"a": 0.' + b"3" * 500_000 + b"}",
    "the same name twice": b'{"construction": {}, "construction": {}}',
    "the same name in two spellings": b'{"loom_id": "a", "loom\\u005fid": "b"}',
    "a thousand of one name": b"{" + b",".join([b'"a":1'] * 1000) + b"}",
    "lists without end": b"[" * 100_000,
    "objects without end": b'{"a":' * 50_000,
    "33 lists": b"[" * 33 + b"]" * 33,
    "1000 lists": b"[" * 1000 + b"]" * 1000,
    "many small lists": b"[" + b",".join([b"[]"] * 60_000) + b"]",
    "many numbers": b"[" + b",".join([b"1"] * 1_100_000) + b"]",
    "many names": b"{" + b",".join(b'"k%d":0' % n for n in range(100_000)) + b"}",
    "a long name": b'{"' + b"k" * 1_000_000 + b'": 1}',
    "a long text": b'{"reference": "' + b"x" * 4_000_000 + b'"}',
    "quotation marks and colons": b'{"reference": "' + b'\\":' * 200_000 + b'"}',
    "backslashes": b'{"reference": "' + b"\\\\" * 500_000 + b'"}',
    "escapes that never end": b'{"a": "\\',
    "more than is read": b" " * (9 * 2**20),
    "gzip": gzip.compress(b"{}", mtime=0),
}


def cases(example: Mapping[str, Any]) -> list[Case]:
    """Return every hostile body for an operation that takes ``example``, each with a name."""
    return [*of_files(), *_PLAIN_JSON.items(), *_broken_off(example), *_changed(example)]


def of_files() -> Iterator[Case]:
    """The hand-written ones."""
    for path in sorted(FILES.iterdir()):
        yield path.name, path.read_bytes()


def _broken_off(example: Mapping[str, Any]) -> Iterator[Case]:
    """The example, ended or spoiled at places all over it."""
    whole = json.dumps(example).encode()
    step = max(1, len(whole) // 40)
    for place in range(1, len(whole), step):
        yield f"ends after {place} bytes", whole[:place]
        yield f"without byte {place}", whole[:place] + whole[place + 1 :]
        yield f"a flipped bit in byte {place}", _flipped(whole, place)


def _flipped(data: bytes, place: int) -> bytes:
    return data[:place] + bytes([data[place] ^ 1 << place % 8]) + data[place + 1 :]


def _changed(example: Mapping[str, Any]) -> Iterator[Case]:
    """The example with one thing in it replaced, left out, doubled or misspelt."""
    for place in places(example):
        name = "/".join(map(str, place))
        for words, value in INSTEAD.items():
            yield f"{name} is {words}", _put(example, place, value)
        yield f"{name} is left out", _edited(example, place, lambda node, last: node.pop(last))
        now = _at(example, place)
        if place[-1] == "weave":
            for words, value in WEAVES.items():
                yield f"{name} is {words}", _put(example, place, value)
        if isinstance(now, str):
            for number, text in enumerate(TEXTS):
                yield f"{name} is text {number}", _put(example, place, text)
        if isinstance(now, dict):
            yield f"{name} has one more", _put(example, (*place, "constructor"), {})
        if isinstance(now, list) and now:
            yield f"{name} is a thousand times as long", _put(example, place, now * 1000)


def places(value: object, above: Place = ()) -> Iterator[Place]:
    """Every place in a JSON value but the outermost; of a list, the first item's."""
    if isinstance(value, Mapping):
        items: Sequence[tuple[str | int, object]] = list(value.items())
    else:
        items = list(enumerate(value))[:1] if isinstance(value, list) else []
    for step, below in items:
        yield (*above, step)
        yield from places(below, (*above, step))


def _at(value: Any, place: Place) -> Any:
    for step in place:
        value = value[step]
    return value


def _put(example: Mapping[str, Any], place: Place, value: object) -> bytes:
    def put(node: Any, last: str | int) -> None:
        node[last] = value

    return _edited(example, place, put)


def _edited(
    example: Mapping[str, Any], place: Place, edit: Callable[[Any, str | int], object]
) -> bytes:
    changed = deepcopy(dict(example))
    edit(_at(changed, place[:-1]), place[-1])
    return json.dumps(changed).encode()
