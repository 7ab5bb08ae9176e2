"""One form for every request that means the same: the base of identity, links and conditions."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256
from typing import Any, Final

import orjson

from weavability.looms.loom_hour import PRICES_OF_LOOM
from weavability.service.schemas.options_schema import DEFAULTS

# What decides nothing, by its place: free text, which must not get into addresses, because those
# land in logs; and what an answer says of a loom, if it is sent back.
_NOT_TECHNICAL: Final = (
    ("construction", "reference"),
    ("loom", "description"),
    ("loom", "assumed"),
    ("loom", "caution"),
)
_PRICES: Final = frozenset(PRICES_OF_LOOM)
_EMPTY: Final[tuple[object, ...]] = (None, {}, [])
_DIGEST_DIGITS: Final = 32
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

    Prices are left out, those of the loom too: addresses and tags must not hold them. Options that
    are stated as they are if they are not given are left out as well.

    >>> canonical_request({"loom_id": "L1", "construction": {"width_cm": 150.0, "reference": "x"}})
    b'{"construction":{"width_cm":150},"loom_id":"L1"}'
    """
    technical = without_prices(request)
    for part, name in _NOT_TECHNICAL:
        if isinstance(technical.get(part), dict):
            technical[part] = {k: v for k, v in technical[part].items() if k != name}
    if isinstance(technical.get("options"), dict):
        stated = technical["options"].items()
        technical["options"] = {k: v for k, v in stated if v != DEFAULTS.get(k)}
    return canonical(technical)


def without_prices(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return a request without any price: those beside the construction, and those of its looms.

    >>> without_prices({"loom": {"price": 9, "shafts": 8}, "prices": {"loom_hour": 6.5}})
    {'loom': {'shafts': 8}}
    """
    left = {name: value for name, value in request.items() if name != "prices"}
    if "loom" in left:
        left["loom"] = unpriced_loom(left["loom"])
    if isinstance(left.get("looms"), list):
        left["looms"] = [unpriced_loom(each) for each in left["looms"]]
    return left


def unpriced_loom(loom: Any) -> Any:
    """Return a loom as stated without what its hour costs."""
    if not isinstance(loom, dict) or _PRICES.isdisjoint(loom):
        return loom
    return {name: value for name, value in loom.items() if name not in _PRICES}


def canonical(value: object) -> bytes:
    """Write any JSON value in canonical form."""
    return orjson.dumps(normalised(value), option=orjson.OPT_SORT_KEYS)


def digest(*parts: bytes) -> str:
    """Return a short digest over ``parts``; the borders between them count."""
    found = sha256()  # processors have instructions for it, and a large design a megabyte
    for part in parts:
        found.update(len(part).to_bytes(8, "big"))
        found.update(part)
    return found.hexdigest()[:_DIGEST_DIGITS]
