"""What a person has typed into the form of an order, and what its buttons make of it.

The state of the form is a list of fields and texts, as an address has them. Every button is an
action on that list; what comes of it is again a state, so that each has an address and Back works.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import chain, count
from string import ascii_uppercase
from typing import Any, Final

from weavability.service.batches.csv_columns import column, columns
from weavability.service.batches.csv_grammar import YARN_KEY, YARN_PRICE, Kind, read_cell
from weavability.service.batches.flat_order import read_fields, write_fields
from weavability.service.pages import order_designs, order_tables
from weavability.service.pages.order_fields import INCH_HEADINGS
from weavability.textiles.errors import InputError
from weavability.textiles.point_paper_image import weave_from_png
from weavability.textiles.sentences import say

Pairs = tuple[tuple[str, str], ...]
"""Name and text of each field, in the order in which they were given."""

WINDOW: Final = "window"
ROWS: Final = "weave_rows"
PICTURE: Final = "picture"
PICTURE_IS: Final = "picture_is"
SHOWN: Final = "show"
"""Which page of an order is wanted in place of the form: ``report`` or ``setup-sheet``."""

SEARCH: Final = "search"
"""Whether more remedies are searched than a report tries; it goes with the next change."""

BESIDE: Final = frozenset({WINDOW, SEARCH})
"""Fields of the state that are no part of the order."""

_YARN: Final = re.compile(rf"(warp|weft)_(?:[a-z0-9_]+)_({YARN_KEY})")
_COUNT: Final = re.compile(rf"(warp|weft)_yarn_({YARN_KEY})")
_INCHES: Final = frozenset(inch for inch, _ in INCH_HEADINGS.values())
_METRIC: Final[Mapping[str, tuple[str, float]]] = {
    inch: (metric, 1 / per_metric) for metric, (inch, per_metric) in INCH_HEADINGS.items()
}
_DIGITS: Final = 5
_ROW_OF_WEAVE: Final = re.compile(r"[01]+")


def settled(given: Iterable[tuple[str, str]]) -> Pairs:
    """Return the state after the buttons that were pressed; without any, what was typed.

    Empty fields are left out, but for those that show an empty row of a yarn or an inch form. What
    is settled is settled: the function gives it back as it is.

    Raises:
        InputError: A remedy cannot be read, as no button sends it.
    """
    every = [(_as_listed(name), text.strip()) for name, text in given]
    tabled = [
        pair
        for pair in every
        if order_tables.is_of_table(pair[0]) or order_designs.is_of_effect(pair[0])
    ]
    pairs: Pairs = tuple(
        pair
        for pair in every
        if pair[0] not in (*_ACTIONS, ROWS, PICTURE_IS) and pair not in tabled
    )
    pairs = _with_rows(pairs, next((text for name, text in every if name == ROWS and text), ""))
    pairs = (*pairs, *order_tables.cells_of(tabled).items())
    pairs = tuple(
        (name, order_designs.with_effects(text, tabled) if name == "weave" else text)
        for name, text in pairs
    )
    for name, value in every:
        if name in _ACTIONS and value:
            pairs = _ACTIONS[name](pairs, value)
    return tuple(_needed(pairs))


def _as_listed(name: str) -> str:
    """Return a heading as it is listed, if it is one in another case."""
    place = None if name in columns() else column(name)
    return place.name if place else name


def _needed(pairs: Pairs) -> Iterator[tuple[str, str]]:
    """Yield the fields that state or show something; of what is no order, the last."""
    stated = {name for name, text in pairs if text}
    keys = {(yarn[1], yarn[2]) for name in stated if (yarn := _YARN.fullmatch(name))}
    beside = {name: text for name, text in pairs if name in BESIDE}
    seen: set[str] = set()
    for name, text in pairs:
        yarn = _COUNT.fullmatch(name)
        opens_row = yarn is not None and yarn[2] != "A" and (yarn[1], yarn[2]) not in keys
        is_shown = opens_row or (name in _INCHES and _METRIC[name][0] not in stated)
        if name not in BESIDE and (text or (is_shown and name not in stated | seen)):
            seen.add(name)
            yield name, text
    yield from ((name, text) for name, text in beside.items() if text)


def _with_rows(pairs: Pairs, rows: str) -> Pairs:
    """Take a weave that was written in rows, a line a pick."""
    lines = rows.replace("|", "\n").split()
    if not lines:
        return pairs
    weave = json.dumps({"rows": lines}) if len(lines) == 1 else "|".join(lines)
    if not all(map(_ROW_OF_WEAVE.fullmatch, lines)):
        weave = " | ".join(lines)
    return (*pairs, ("weave", weave))


def with_point_paper(pairs: Pairs, picture: bytes) -> Pairs:
    """Take a picture of point paper as the weave.

    Raises:
        InputError: It is none.
    """
    weave_from_png(picture)
    weave = {"image_png": base64.b64encode(picture).decode()}
    return _with_weave(pairs, json.dumps(weave, separators=(",", ":")))


def with_design(pairs: Pairs, picture: bytes) -> Pairs:
    """Take a picture of a figured design as the weave.

    Raises:
        InputError: It is none.
    """
    return _with_weave(pairs, order_designs.design_of_picture(picture))


def _with_weave(pairs: Pairs, weave: str) -> Pairs:
    return (*(pair for pair in pairs if pair[0] != "weave"), ("weave", weave))


def yarn_keys(pairs: Iterable[tuple[str, str]], system: str) -> list[str]:
    """Return the keys of the yarns of warp or weft, also of those that are empty; A at least."""
    found = (_YARN.fullmatch(name) for name, _ in pairs)
    keys = {yarn[2] for yarn in found if yarn is not None and yarn[1] == system and _is_field(yarn)}
    return sorted(keys | {"A"}, key=lambda key: (len(key), key))


def yarn_of(heading: str) -> tuple[str, str] | None:
    """Return system and key of the yarn of a field; ``None`` if it is of no yarn.

    >>> yarn_of("warp_fibre_B"), yarn_of("warp_order")
    (('warp', 'B'), None)
    """
    yarn = _YARN.fullmatch(heading)
    return (yarn[1], yarn[2]) if yarn is not None and _is_field(yarn) else None


def _is_field(yarn: re.Match[str]) -> bool:
    return column(yarn[0]) is not None


def _add_yarn(pairs: Pairs, system: str) -> Pairs:
    if system not in ("warp", "weft"):
        return pairs
    used = yarn_keys(pairs, system)
    free = chain(ascii_uppercase, (f"A{number}" for number in count(1)))
    return (*pairs, (f"{system}_yarn_{next(key for key in free if key not in used)}", ""))


def _remove(pairs: Pairs, which: str) -> Pairs:
    """Take out a yarn with all that is stated of it, or the weave."""
    if which == "weave":
        return tuple(pair for pair in pairs if pair[0] != "weave")
    system, _, key = which.partition("_")
    prices = {f"{YARN_PRICE}{system} {key}"}

    def is_of_yarn(name: str) -> bool:
        yarn = _YARN.fullmatch(name)
        return name in prices or (yarn is not None and (yarn[1], yarn[2]) == (system, key))

    return tuple(pair for pair in pairs if not is_of_yarn(pair[0]))


def _convert(pairs: Pairs, heading: str) -> Pairs:
    """State a field in its other unit, what is typed converted."""
    forms = {inch: (metric, factor) for metric, (inch, factor) in INCH_HEADINGS.items()}
    back = {metric: (inch, 1 / factor) for metric, (inch, factor) in INCH_HEADINGS.items()}
    if heading not in forms | back:
        return pairs
    other, factor = (forms | back)[heading]
    texts = dict(reversed(pairs))
    text = texts.get(heading) or _times(texts.get(other, ""), factor)
    left = tuple(pair for pair in pairs if pair[0] not in (heading, other))
    return (*left, (heading, text))


def _times(text: str, factor: float) -> str:
    """Multiply what is typed; what is no number stays as it is.

    >>> _times("28", 2.54), _times("32,5", 2.54), _times("many", 2.54)
    ('71.12', '82.55', 'many')
    """
    read = read_fields([("width_cm", text)]).request["construction"].get("width_cm", text)
    if isinstance(read, str):
        return read
    return f"{float(f'{read * factor:.{_DIGITS}g}'):f}".rstrip("0").rstrip(".")


def _set(pairs: Pairs, changes: str) -> Pairs:
    """Make the changes of a remedy: an object of values by the pointers of their fields.

    Raises:
        InputError: It is none.
    """
    values = read_cell(Kind.JSON, changes, decimal_comma=False)
    if not isinstance(values, dict):
        raise InputError.of(
            "",
            say("fault.remedy.not_an_object", "A remedy is an object of values by pointer."),
            given=changes[:80],
        )
    order = [pair for pair in pairs if pair[0] not in BESIDE]
    request = read_fields(order).request
    for pointer, value in values.items():
        _put(request, [_unescaped(step) for step in pointer.split("/")[1:]], value)
    written = write_fields(request).cells
    known = {name for name, _ in order if column(name) is not None}
    beside = tuple(pair for pair in pairs if pair[0] not in known or not pair[1])
    return (*written.items(), *beside)


def _unescaped(step: str) -> str:
    return step.replace("~1", "/").replace("~0", "~")


def _put(request: dict[str, Any], path: list[str], value: Any) -> None:
    part: Any = request
    for step in path[:-1]:
        part = part.setdefault(step, {}) if isinstance(part, dict) else _item(part, step)
    if not path or not isinstance(part, dict):
        raise InputError.of(
            "", say("fault.remedy.not_a_field", "A remedy changes a field of the order.")
        )
    part[path[-1]] = value


def _item(part: Any, step: str) -> Any:
    if isinstance(part, list) and step.isdecimal() and int(step) < len(part):
        return part[int(step)]
    raise InputError.of(
        "", say("fault.remedy.not_a_field", "A remedy changes a field of the order.")
    )


_ACTIONS: Final[Mapping[str, Callable[[Pairs, str], Pairs]]] = {
    "add": _add_yarn,
    "remove": _remove,
    "convert": _convert,
    "set": _set,
}
"""What each button does with the state; its value says with which part of it."""
