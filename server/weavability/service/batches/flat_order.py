"""An order as flat fields, such as those of a form or an address, and as a JSON request.

The fields have the headings of a sheet of orders: an order in an address is a row of that sheet.
:func:`read_fields` and :func:`write_fields` are each other's inverse for whatever fits; what does
not is named.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final
from urllib.parse import quote, quote_plus

from weavability.service.batches.csv_columns import (
    Column,
    column,
    columns,
    yarn_fields,
)
from weavability.service.batches.csv_grammar import (
    YARN_PRICE,
    Kind,
    put,
    read_cell,
)
from weavability.service.batches.number_advice import advice
from weavability.service.http.json_bodies import DEEPEST
from weavability.service.http.problems import MOST_ERRORS
from weavability.service.http.suggestions import did_you_mean
from weavability.service.requests.loom_choice import MOST_HINTS
from weavability.service.schemas.faults import escape
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import NO_WORDS, Sentence, say

LONGEST_QUERY: Final = 7_000
"""Characters of an address' query; common servers and proxies take a request line of 8 000."""

_MOST_FIELDS: Final = 1_000
_COUNT_COMMA: Final = re.compile(r"(?<=\d),(?=\d{1,2}(?!\d))")
"""A decimal comma in a count of yarn; what three digits follow may be a thousand."""

_THOUSANDS: Final = re.compile(r"[+-]?\d{1,3},\d{3}")
_COMMA: Final = re.compile(r"[+-]?\d+,\d+")
_PRICES: Final = "prices."
_SAFE: Final = "/:;,|*()"
_WORD_OF: Final[Mapping[str, str]] = {"designation": "yarn"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldFault:
    """What is wrong with a field.

    Attributes:
        heading: The field at which it is to be mended; empty if it is none alone.
        fault: What is wrong, its pointer into the JSON request.
    """

    heading: str
    fault: Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatOrder:
    """An order that was read from flat fields.

    Attributes:
        cells: What each field states, as it was given; empty ones are left out.
        request: The same as a JSON request, as far as the fields are known.
        faults: Fields that there are not, that are given twice, or that may not be given here.
        commas: What numbers and counts with a decimal comma were read as, by their heading.
    """

    cells: Mapping[str, str]
    request: dict[str, Any]
    faults: tuple[FieldFault, ...]
    commas: Mapping[str, float | str]

    def faults_of(self, error: InputError) -> tuple[FieldFault, ...]:
        """Return the faults of the request, each at its field and in the words of a form."""
        return tuple(self._at_field(fault) for fault in error.faults)

    def _at_field(self, fault: Fault) -> FieldFault:
        heading = self.heading_of(fault.pointer)
        place = column(heading)
        cell = self.cells.get(heading, "")
        is_number = place is not None and place.kind is Kind.NUMBER
        if is_number and isinstance(fault.given, str) and fault.given == cell:
            fault = replace(fault, message=_number_message(cell))
        return FieldFault(heading=heading, fault=fault)

    def heading_of(self, pointer: str) -> str:
        """Return the heading of a pointer into the request; empty if no field is nearer than all.

        The field itself, else the first that is given of those within, else the first within; if
        there is none, the same of the part around.
        """
        while pointer not in ("/construction", ""):
            within = (name for name in self.cells if _is_within(name, pointer))
            found = next(within, None) or _first_within(pointer)
            if found:
                return found
            pointer = pointer.rpartition("/")[0]
        return ""


def read_fields(
    given: Iterable[tuple[str, str]], *, beside: Collection[str] = (), in_address: bool = False
) -> FlatOrder:
    """Read an order from flat fields: parameters of an address, or fields of a form.

    Empty fields state nothing. A decimal comma is understood; ``1,250``, which may also be a
    thousand, is refused. The request always has warp and weft, so that what lacks in them is a
    fault of a field.

    Args:
        given: Name and text of each field, in any order.
        beside: Names that are no part of the order.
        in_address: Whether prices are refused, which no address must hold.

    Returns:
        The order; what follows on ``MOST_ERRORS`` faults and one more is not read.
    """
    cells: dict[str, str] = {}
    faults: list[FieldFault] = []
    commas: dict[str, float | str] = {}
    request: dict[str, Any] = {"construction": {"warp": {}, "weft": {}}}
    for heading, text in given:
        cell = text.strip()
        if not cell or heading in beside:
            continue
        place = _column(heading)
        heading = heading if place is None else place.name
        has_hint = len(faults) < MOST_HINTS
        fault = _field_fault(heading, place, cells, in_address=in_address, has_hint=has_hint)
        if fault is not None and len(faults) == MOST_ERRORS:
            break
        if fault is not None:
            faults.append(FieldFault(heading=heading if place else "", fault=fault))
        elif place is not None:
            cells[heading] = cell
            value = _value(place, cell)
            put(request, place.path, value)
            is_count = place.path[-1] == "designation" and value != cell
            if is_count or (
                place.kind is Kind.NUMBER and "," in cell and not isinstance(value, str)
            ):
                commas[heading] = value
    return FlatOrder(cells=cells, request=request, faults=tuple(faults), commas=commas)


def _value(place: Column, cell: str) -> Any:
    if place.path[-1] == "designation":
        return _COUNT_COMMA.sub(".", cell)
    comma = place.kind is Kind.NUMBER and _COMMA.fullmatch(cell) is not None
    if comma and _THOUSANDS.fullmatch(cell):
        return cell
    value = read_cell(place.kind, cell, decimal_comma=comma)
    return cell if _is_deeper(value, DEEPEST) else value


def _is_deeper(value: Any, levels: int) -> bool:
    inner = value.values() if isinstance(value, dict) else value
    if not isinstance(value, dict | list):
        return False
    return levels == 0 or any(_is_deeper(each, levels - 1) for each in inner)


def _number_message(cell: str) -> Sentence:
    if _THOUSANDS.fullmatch(cell):
        whole, decimals = cell.split(",")
        return say(
            "fault.address.comma",
            "{cell} may be {with_decimals} or {with_thousands}: write a decimal point, and no "
            "comma between thousands.",
            cell=cell,
            with_decimals=f"{whole}.{decimals}",
            with_thousands=f"{whole}{decimals}",
        )
    return say(
        "fault.address.not_a_number",
        "This must be a number. {advice}",
        advice=advice(cell, decimal_comma=False),
    )


def _field_fault(
    heading: str,
    place: Column | None,
    cells: Mapping[str, str],
    *,
    in_address: bool,
    has_hint: bool,
) -> Fault | None:
    """Return why a field cannot be taken; nothing of a price is repeated."""
    if place is None:
        hint = did_you_mean(heading, _known()) if has_hint else NO_WORDS
        return Fault(
            "",
            say(
                "fault.address.unknown_field",
                "There is no field {field!r}.{hint}",
                field=heading[:80],
                hint=hint,
            ),
            heading[:80],
        )
    if in_address and is_price(heading):
        message = say(
            "fault.address.prices", "Prices do not belong in an address: type them into the form."
        )
        return Fault(place.pointer, message)
    if heading in cells:
        return Fault(
            place.pointer,
            say("fault.address.field_twice", "This field is given twice; leave one out."),
            cells[heading],
        )
    if len(cells) >= _MOST_FIELDS:
        return Fault(
            place.pointer,
            say(
                "fault.address.too_many_fields",
                "An order has at most {most_fields} fields.",
                most_fields=_MOST_FIELDS,
            ),
        )
    return None


@cache
def _known() -> tuple[str, ...]:
    yarns = (f"{system}_{word}_A" for system in ("warp", "weft") for word in yarn_fields())
    return (*columns(), *yarns)


def _column(heading: str) -> Column | None:
    """Return the column of a heading; at once if it is spelt as it is listed."""
    return columns().get(heading) or column(heading)


def _is_within(heading: str, pointer: str) -> bool:
    place = _column(heading)
    if place is None:
        return False
    own = "".join(f"/{escape(step)}" for step in place.path)
    return own == pointer or own.startswith(f"{pointer}/")


def _first_within(pointer: str) -> str:
    """Return the first heading of a part of the request, its yarns' designations among them."""
    yarn = re.fullmatch(r"/construction/(warp|weft)/yarns(?:/(\w+))?(?:/(\w+))?", pointer)
    if yarn is not None:
        system, key, name = yarn.groups()
        heading = f"{system}_{_WORD_OF.get(name or '', name or 'yarn')}_{key or 'A'}"
        return heading if _column(heading) else ""
    if re.fullmatch(r"/construction/(warp|weft)", pointer):
        return f"{pointer.rpartition('/')[2]}_yarn_A"
    return next((each for each in columns() if _is_within(each, pointer)), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatFields:
    """A request as flat fields.

    Attributes:
        cells: The text of each field by its heading.
        left_out: Pointers of what does not fit a field and is in none.
    """

    cells: Mapping[str, str]
    left_out: tuple[str, ...]


def write_fields(request: Mapping[str, Any], *, texts_as_typed: bool = False) -> FlatFields:
    """Write a JSON request as flat fields, in the order of the columns of a sheet.

    What is null or empty states nothing and is passed over. A loom that is stated in full, yarns
    whose key does not begin with a capital and whatever no column holds fit no field.

    Args:
        request: The request.
        texts_as_typed: Whether a text fits every field, such as a number in quotation marks.
    """
    cells: dict[str, str] = {}
    left: list[str] = []
    for path, value in _leaves((), request):
        place = _column_at(path)
        cell = None if place is None else _cell(place.kind, value)
        if cell is None and texts_as_typed and isinstance(value, str):
            cell = value.strip() or None
        if place is None or cell is None:
            left.append("".join(f"/{escape(step)}" for step in path))
        else:
            cells[place.name] = cell
    order = {name: index for index, name in enumerate(columns())}
    ranked = sorted(cells, key=lambda name: order.get(name, len(order)))
    return FlatFields(cells={name: cells[name] for name in ranked}, left_out=tuple(left))


def _leaves(path: tuple[str, ...], value: Any) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Yield path and value of everything that is stated, as deep as columns go."""
    if value is None or value in ({}, []):
        return
    if isinstance(value, dict) and _is_part(path):
        for name, each in value.items():
            yield from _leaves((*path, str(name)), each)
    else:
        yield path, value


@cache
def _parts() -> frozenset[tuple[str, ...]]:
    """Return the paths of the objects whose members have columns, but for those of yarns."""
    yarns = {("construction", system, "yarns") for system in ("warp", "weft")}
    paths = [each.path for each in columns().values()]
    above = {path[:depth] for path in paths for depth in range(len(path))}
    return frozenset({*above, *yarns, ("prices", "yarn_per_kg")})


def _is_part(path: tuple[str, ...]) -> bool:
    return path in _parts() or (len(path) == 4 and path[2] == "yarns" and path[:3] in _parts())


@cache
def _headings() -> Mapping[tuple[str, ...], str]:
    return {each.path: each.name for each in columns().values()}


def _column_at(path: tuple[str, ...]) -> Column | None:
    match path:
        case ("construction", system, "yarns", key, name):
            heading = f"{system}_{_WORD_OF.get(name, name)}_{key}"
        case ("prices", "yarn_per_kg", name):
            heading = f"{YARN_PRICE}{name}"
        case _:
            heading = _headings().get(path, "")
    found = _column(heading)
    return found if found and found.path == path else None


def _cell(kind: Kind, value: Any) -> str | None:
    """Write a value as the text from which it is read again; ``None`` if there is no such text."""
    cell = _written(kind, value)
    if cell is None or cell != cell.strip() or not cell:
        return None
    again = read_cell(kind, cell, decimal_comma=False)
    return cell if again == value and isinstance(again, bool) is isinstance(value, bool) else None


def _written(kind: Kind, value: Any) -> str | None:
    match value:
        case bool():
            return str(value).lower()
        case str():
            return value
        case float() if value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        case int() | float():
            return repr(value)
        case {"rows": [*rows]} if kind is Kind.WEAVE and len(value) == 1 and len(rows) > 1:
            return "|".join(map(str, rows))
        case list() if kind in (Kind.LIST, Kind.THREADING):
            return " ".join(_written(kind, each) or "" for each in value)
        case dict() | list() if kind in (Kind.WEAVE, Kind.JSON):
            return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return None


def query_of(cells: Mapping[str, str]) -> str | None:
    """Write fields as the query of an address, without prices.

    Returns:
        The query without its question mark; ``None`` if it is too long for an address.

    >>> query_of({"weave": "2/2 twill Z", "prices.loom_hour": "6"})
    'weave=2/2+twill+Z'
    """
    return query_of_pairs(cells.items())


def form_address(cells: Mapping[str, str]) -> str | None:
    """Return the address of the form of the start page with an order in it; ``None`` if too long.

    Its prices are in the fragment, which browsers do not send.

    >>> form_address({"weave": "plain", "prices.loom_hour": "6"})
    '/?weave=plain#prices.loom_hour=6'
    """
    query = query_of(cells)
    prices = [f"{quote(name)}={quote(text)}" for name, text in cells.items() if is_price(name)]
    fragment = "#" + "&".join(prices) if prices else ""
    return None if query is None else f"/?{query}{fragment}"


def query_of_pairs(pairs: Iterable[tuple[str, str]]) -> str | None:
    """Do the same for fields of which a name may come twice, or be empty."""
    query = "&".join(
        f"{quote_plus(name, safe=_SAFE)}={quote_plus(text, safe=_SAFE)}"
        for name, text in pairs
        if not is_price(name)
    )
    return query if len(query) <= LONGEST_QUERY else None


def is_price(heading: str) -> bool:
    """Return whether a field holds a price, which no address may."""
    return heading.startswith(_PRICES)
