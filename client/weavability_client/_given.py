"""What a command is given: orders in files, and the loom and the prices of orders or options."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, BinaryIO, Final

from weavability_client._json import members
from weavability_client._orders import read_file, read_object, read_orders
from weavability_client._output import say
from weavability_client.errors import UsageError

Order = dict[str, object]
"""A request about an order in the API's names."""


def orders_in(path: str, options: argparse.Namespace) -> list[Order | UsageError]:
    """Read the orders of a file; say which columns were left unread on request."""
    ignored: list[str] = []
    try:
        ignore = ignored.append if options.ignore_columns else None
        return read_orders(content_of(path), name=path, ignore=ignore)
    finally:
        if ignored:
            say(f"{path}: columns ignored: {', '.join(ignored)}")


def order_in(path: str, options: argparse.Namespace) -> Order:
    """Read the one order of a file."""
    orders = orders_in(path, options)
    if len(orders) > 1:
        raise UsageError(f"{path}: holds {len(orders)} orders, but only one is needed")
    return readable(orders[0])


def readable(order: Order | UsageError) -> Order:
    """Return an order that could be read; a sequence without one of its orders is of no use."""
    if isinstance(order, UsageError):
        raise order
    return order


def object_in(path: str) -> dict[str, object]:
    """Read a file that holds one object, in JSON or TOML."""
    return read_object(content_of(path), name=path)


def content_of(path: str) -> bytes:
    """Read a file, or the standard input if it is ``-``."""
    if path != "-":
        return read_file(path, io.BytesIO())
    stream = standard_input()
    if sys.stdin.isatty():
        say("reading the standard input; Ctrl-D ends it")
    return read_file(path, stream)


def standard_input() -> BinaryIO:
    """Return the standard input as bytes; a process may have none."""
    if sys.stdin is None:
        raise UsageError("-: there is no standard input")
    return sys.stdin.buffer


def loom_of_options(options: argparse.Namespace) -> dict[str, object]:
    """Return the loom of the options as members of a request; empty if there is none."""
    if options.loom_id is not None:
        return {"loom_id": options.loom_id}
    return {} if options.loom is None else {"loom": object_in(options.loom)}


def prices_of_options(options: argparse.Namespace) -> dict[str, object]:
    """Return the prices of the options as a member of a request; empty if there are none."""
    return {} if options.prices is None else {"prices": object_in(options.prices)}


def prices_of(order: Order, options: argparse.Namespace) -> Mapping[str, object] | None:
    """Return the prices of the options, or else those of an order."""
    of_options = prices_of_options(options)
    say_repriced([order], of_options, options)
    prices = (order | of_options).get("prices")
    stated = members(prices)
    if prices is not None and stated is None:
        raise UsageError("prices should be an object")
    return stated


def with_loom(request: Order, loom: Order) -> Order:
    """Return a request on the loom of the options, or else on that which it names."""
    if not loom and not named_loom(request):
        adding = "the order names no loom: add loom_id to it, or"
        raise UsageError(f"{adding if request else 'the command names no loom:'} {_CHOOSE}")
    return {name: value for name, value in request.items() if not loom or name not in _LOOM} | loom


_LOOM: Final = ("loom", "loom_id")
_CHOOSE: Final = "pass --loom-id or --loom"


def named_loom(request: Mapping[str, object]) -> dict[str, object]:
    """Return the loom that an order names, as members of a request; empty if it names none."""
    return {name: request[name] for name in _LOOM if name in request}


def say_replaced(
    orders: Iterable[Order], loom: Mapping[str, object], options: argparse.Namespace
) -> None:
    """Say which looms of orders are not used, because the options name another one."""
    named = [stated for stated in map(named_loom, orders) if stated and stated != loom]
    if loom and named:
        option = "--loom" if options.loom_id is None else f"--loom-id {options.loom_id}"
        own = "a loom of its own" if len(named) == 1 else "looms of their own"
        looms = ", ".join(dict.fromkeys(str(each.get("loom_id", own)) for each in named))
        say(f"{option} is used in place of the loom of {_orders_of(named)}: {looms}")


def say_repriced(
    orders: Iterable[Order], prices: Mapping[str, object], options: argparse.Namespace
) -> None:
    """Say that prices of orders are not used, as the options state others; none is repeated."""
    own = [order["prices"] for order in orders if "prices" in order]
    replaced = [each for each in own if each != prices.get("prices")]
    if prices and replaced:
        of = _orders_of(replaced)
        say(f"--prices {options.prices} is used in place of the prices of {of}")


def _orders_of(listed: Sequence[object]) -> str:
    return "the order" if len(listed) == 1 else f"{len(listed)} orders"


def loom_of(order: Order, options: argparse.Namespace) -> dict[str, Any]:
    """Return the loom of the options, or else that which an order names: stated, or by name."""
    loom = loom_of_options(options)
    say_replaced([order], loom, options)
    return stated_loom(order, loom)


def stated_loom(order: Order, loom_of_options: Order) -> dict[str, Any]:
    """Return the loom of the options, or else that of an order, as arguments of a call."""
    named = named_loom(with_loom(order, loom_of_options))
    loom, loom_id = named.get("loom"), named.get("loom_id")
    if (loom is not None and members(loom) is None) or not isinstance(loom_id, str | None):
        raise UsageError("loom should be an object, loom_id a text")
    return named


def construction_of(order: Order) -> Mapping[str, object]:
    """Return the cloth of an order."""
    construction = members(order.get("construction"))
    if construction is None:
        raise UsageError("construction should be an object")
    return construction
