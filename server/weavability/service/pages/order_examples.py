"""The demo's order book as examples to start from: each an address of the form."""

from __future__ import annotations

import tomllib
from collections.abc import Container, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from typing import Any

from weavability.service.batches.flat_order import form_address, write_fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """An order to start from.

    Attributes:
        reference: Its number.
        cloth: What it is.
        remark: What is worth seeing in it.
        address: Of the form that is filled in with it; its prices are in the fragment.
    """

    reference: str
    cloth: str
    remark: str
    address: str


def examples(park: Container[str]) -> tuple[Example, ...]:
    """Return the examples; the loom of each only if the park has it."""
    return _examples(tuple(order["loom_id"] in park for order in _book()))


@lru_cache(maxsize=8)
def _examples(on_their_loom: tuple[bool, ...]) -> tuple[Example, ...]:
    return tuple(_written(on_their_loom))


def _written(on_their_loom: tuple[bool, ...]) -> Iterator[Example]:
    for order, has_loom in zip(_book(), on_their_loom, strict=True):
        names = ("construction", "prices", *(["loom_id"] if has_loom else []))
        cells = write_fields({name: order[name] for name in names if name in order}).cells
        address = form_address(cells)
        if address is not None:
            yield Example(
                reference=order["construction"]["reference"],
                cloth=order["cloth"],
                remark=order["remark"],
                address=address,
            )


@cache
def _book() -> tuple[dict[str, Any], ...]:
    text = resources.files("weavability").joinpath("data/demo_orders.toml").read_text("utf-8")
    return tuple(tomllib.loads(text)["order"])
