"""One form for every request that means the same: the base of identity, links and conditions."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import blake2b
from typing import Any, Final

import orjson

from weavability.service.schemas.options_schema import DEFAULTS

# What decides nothing, by its place: free text, which must not get into addresses, because those
# land in logs; and what an answer says of a loom, if it is sent back.
_NOT_TECHNICAL: Final = (
    ("construction", "reference"),
    ("loom", "description"),
    ("loom", "assumed"),
    ("loom", "caution"),
)
_EMPTY: Final[tuple[object, ...]] = (None, {}, [])
_DIGEST_BYTES: Final = 16
# Up to here every whole number is a float too.
_EXACT: Final = 2**53


def normalised(value: Any) -> Any:
    """Return a JSON value with whole numbers written as such and everything empty left out.

    >>> normalised({"b": 30.0, "a": [1.5, 2.0], "c": None, "d": {"e": {}}})
    {'b': 30, 'a': [1.5, 2]}
    """
    kind = type(value)
    if kind is str or kind is int:
        return value
    if kind is dict:
        return {
            name: each
            for name, below in value.items()
            if (each := normalised(below)) or each not in _EMPTY
        }
    if kind is list:
        return [normalised(each) for each in value]
    if kind is float and value.is_integer() and abs(value) <= _EXACT:
        return int(value)
    return value


def canonical_request(request: Mapping[str, Any]) -> bytes:
    """Write a valid request in its canonical form: no free text, sorted names, no white space.

    Options that are stated as they are if they are not given are left out.

    >>> canonical_request({"loom_id": "L1", "construction": {"width_cm": 150.0, "reference": "x"}})
    b'{"construction":{"width_cm":150},"loom_id":"L1"}'
    """
    technical = dict(request)
    for part, name in _NOT_TECHNICAL:
        if isinstance(technical.get(part), dict):
            technical[part] = {k: v for k, v in technical[part].items() if k != name}
    if isinstance(technical.get("options"), dict):
        stated = technical["options"].items()
        technical["options"] = {k: v for k, v in stated if v != DEFAULTS.get(k)}
    return canonical(technical)


def canonical(value: object) -> bytes:
    """Write any JSON value in canonical form."""
    return orjson.dumps(normalised(value), option=orjson.OPT_SORT_KEYS)


def digest(*parts: bytes) -> str:
    """Return a short digest over ``parts``; the borders between them count."""
    framed = b"".join(len(part).to_bytes(8, "big") + part for part in parts)
    return blake2b(framed, digest_size=_DIGEST_BYTES).hexdigest()
