"""Orders from files: JSON, JSON lines, TOML, a table or a spreadsheet; one request or many."""

from __future__ import annotations

import base64
import datetime as dt
import io
import json
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import fields
from difflib import get_close_matches
from pathlib import Path
from typing import BinaryIO, Final

from weavability_client._columns import looks_like_columns, read_columns
from weavability_client._json import elements, members
from weavability_client._sheets import LABELS, ZIP, read_sheet
from weavability_client.errors import UsageError
from weavability_client.models import Construction, ValidationRequest

PNG = b"\x89PNG\r\n\x1a\n"
_REQUEST: Final = [each.name for each in fields(ValidationRequest) if each.name != "extra"]
_BESIDE: Final = [name for name in _REQUEST if name != "construction"]
_OF_CLOTH: Final = frozenset(each.name for each in fields(Construction)) - {"extra"}
_BINARY: Final[Mapping[bytes, str]] = {
    PNG: "a picture; weavability weave and design read pictures",
    ZIP: "a ZIP archive or a spreadsheet; orders may be in a spreadsheet, nothing else",
    b"%PDF": "a PDF document",
    b"\x1f\x8b": "compressed; unpack it first",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet; save it as XLSX or CSV",
    b"\xff\xfe": "text in UTF-16; save it as UTF-8",
    b"\xfe\xff": "text in UTF-16; save it as UTF-8",
}
"""What a file that is no text is, by how it begins."""


def read_orders(
    content: bytes, *, name: str, ignore: Callable[[str], object] | None = None
) -> list[dict[str, object] | UsageError]:
    """Return the validation requests in a file; an error for each order that has faults.

    Understood are one request ``{construction, loom | loom_id}``, a bare construction, a list of
    either, the same under ``order`` (TOML: ``[[order]]``), one a line of JSON, and a table, as CSV
    or XLSX, whose columns are named by the paths of the API. The picture of a figured design may be
    a file of its own: ``picture`` of ``weave.design`` is its name, relative to the file of the
    order.

    Args:
        content: The file's bytes.
        name: Its name; its ending says what it is. Without one that does, the content is tried.
        ignore: Called with each unknown heading of a table, whose column is then left unread.

    Raises:
        UsageError: It is none of these, or holds no order.

    Example:
        >>> read_orders(b'{"weave": "plain"}', name="-")
        [{'construction': {'weave': 'plain'}}]
    """
    if content.startswith(ZIP):
        document: object = read_sheet(content, name=name, ignore=ignore)
    else:
        document = _parse(content, name, ignore)
    orders = (members(document) or {}).get("order", document)
    listed = elements(orders)
    if listed is None:
        listed = [orders]
    if not listed:
        raise UsageError(f"{name}: holds no order")
    folder = Path() if name == "-" else Path(name).parent
    places = (f"{name}, order {number}" for number in range(1, len(listed) + 1))
    return [
        _with_picture(_request(each, place), folder, place)
        for each, place in zip(listed, places, strict=True)
    ]


def read_file(path: str, standard_input: BinaryIO) -> bytes:
    """Return the bytes of ``path``; ``-`` is the standard input.

    Raises:
        UsageError: The file cannot be read.
    """
    try:
        return standard_input.read() if path == "-" else Path(path).read_bytes()
    except IsADirectoryError:
        raise UsageError(f"{path}: it is a directory; name a file in it") from None
    except OSError as error:
        raise UsageError(f"{path}: {error.strerror}") from error


def read_json(content: bytes, *, name: str) -> object:
    """Return the document in a file of JSON.

    Raises:
        UsageError: It is not JSON.
    """
    try:
        return json.loads(_text(content, name))
    except (ValueError, RecursionError) as error:
        raise UsageError(f"{name}: not readable as JSON: {_reason(error)}") from error


def read_object(content: bytes, *, name: str) -> dict[str, object]:
    """Return the one object in a file, such as a loom.

    Raises:
        UsageError: It is neither JSON nor TOML, or not an object.
    """
    document = members(_parse(content, name))
    if document is None:
        raise UsageError(f"{name}: should hold one object")
    return dict(document)


def _parse(content: bytes, name: str, ignore: Callable[[str], object] | None = None) -> object:
    text = _text(content, name)
    try:
        return _reader(name, text, ignore)(text)
    except UsageError:
        raise
    except (ValueError, RecursionError) as error:
        raise UsageError(f"{name}: not readable as {_languages(name)}: {_reason(error)}") from error


def _reason(error: Exception) -> str:
    return "it is nested too deeply" if isinstance(error, RecursionError) else str(error)


def _text(content: bytes, name: str) -> str:
    """Return the text of a file.

    Raises:
        UsageError: It holds nothing, or no text.
    """
    what = next((words for start, words in _BINARY.items() if content.startswith(start)), None)
    if what is None and b"\0" in content:
        what = "no text"
    if what is not None:
        raise UsageError(f"{name}: it is {what}")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise UsageError(
            f"{name}: line {line} is not in UTF-8 (byte {content[error.start]:#04x}); save the "
            "file as UTF-8"
        ) from error
    if not text.strip():
        nothing = "nothing came on the standard input" if name == "-" else "the file is empty"
        raise UsageError(f"{name}: {nothing}")
    return text


def _reader(
    name: str, text: str, ignore: Callable[[str], object] | None
) -> Callable[[str], object]:
    match _ending(name):
        case ".toml":
            return tomllib.loads
        case ".jsonl" | ".ndjson":
            return _json_lines
        case ".csv" | ".tsv":
            return lambda table: read_columns(table, name=name, labels=LABELS, ignore=ignore)
        case ".json":
            return json.loads
        case _ if looks_like_columns(text):
            return lambda table: read_columns(table, name=name, labels=LABELS, ignore=ignore)
        case _:
            return _json_or_toml


def _ending(name: str) -> str:
    return Path(name).suffix.lower()


def _languages(name: str) -> str:
    known = {".toml": "TOML", ".json": "JSON", ".csv": "a table", ".tsv": "a table"}
    return known.get(_ending(name), "JSON, TOML or a table")


def _json_lines(text: str) -> list[object]:
    return [json.loads(line) for line in text.splitlines() if line.strip()]


def _json_or_toml(text: str) -> object:
    try:
        document: object = json.loads(text)
    except json.JSONDecodeError as not_json:
        try:
            return tomllib.loads(text)
        except tomllib.TOMLDecodeError:
            pass
        try:
            return _json_lines(text)
        except json.JSONDecodeError:
            raise not_json from None
    return document


def _request(order: object, place: str) -> dict[str, object] | UsageError:
    if isinstance(order, UsageError):
        return order
    stated = members(order)
    if stated is None:
        raise UsageError(f"{place}: should be an object with a construction")
    request = {key: value for key, value in stated.items() if key not in LABELS}
    fault = _not_json(request) or _misplaced(request)
    if fault is not None:
        return UsageError(f"{place}: {fault}")
    return request if "construction" in request else {"construction": request}


def _not_json(value: object, pointer: str = "") -> str | None:
    """Return where an order holds what JSON does not know, such as a date of TOML."""
    if isinstance(value, dt.date | dt.time):
        return f"{pointer}: is a date or time ({value}); write it in quotation marks"
    inner = members(value)
    below = dict(enumerate(elements(value) or ())) if inner is None else inner
    found = (_not_json(each, f"{pointer}/{name}") for name, each in below.items())
    return next(filter(None, found), None)


def _misplaced(request: Mapping[str, object]) -> str | None:
    """Return what was meant, if members are in another object than that of their own.

    Whatever else is wrong with an order the service says.
    """
    inner = members(request.get("construction"))
    if inner is None:
        if not _is_some_order(request):
            return "is no order: it has no construction, nor any field of one"
        for key in request:
            near = get_close_matches(str(key), ["construction"], n=1, cutoff=0.8)
            if near and key != "construction":
                return f"there is no {key!r}; did you mean construction?"
        beside = [key for key in _BESIDE if key in request]
        if beside and "construction" not in request:
            return (
                f"{beside[0]} is beside the fields of the cloth; put these under construction "
                "(in TOML below a line [construction])"
            )
        return None
    if members(inner.get("construction")) is not None:
        return "construction is within construction; leave one out"
    within = next((key for key in _BESIDE if key in inner), None)
    if within is not None:
        return (
            f"{within} is within construction; put it beside that (in TOML above the line "
            "[construction])"
        )
    for key in request:
        if key in _OF_CLOTH and key not in _REQUEST:
            return f"{key} is beside construction; put it into that"
        near = get_close_matches(str(key), _REQUEST, n=1, cutoff=0.8)
        if near and key not in _REQUEST:
            return f"there is no {key!r}; did you mean {near[0]}?"
    return None


def _is_some_order(request: Mapping[str, object]) -> bool:
    """Return whether any name in it is one of an order, perhaps misspelt."""
    known = [*_REQUEST, *_OF_CLOTH]
    return any(get_close_matches(str(name), known, n=1, cutoff=0.6) for name in request)


def _with_picture(
    order: dict[str, object] | UsageError, folder: Path, place: str
) -> dict[str, object] | UsageError:
    """Put the picture of a figured design in place of the name of its file."""
    if isinstance(order, UsageError):
        return order
    construction = members(order.get("construction")) or {}
    design = members((members(construction.get("weave")) or {}).get("design")) or {}
    if "picture" not in design:
        return order
    file = design["picture"]
    if not isinstance(file, str) or "picture_png" in design:
        raise UsageError(
            f"{place}: picture of the design should be the name of a PNG file, without picture_png"
        )
    content = read_file(str(folder / file), io.BytesIO())
    if not content.startswith(PNG):
        raise UsageError(f"{place}: {file} should be a PNG file")
    stated = {key: value for key, value in design.items() if key != "picture"}
    stated["picture_png"] = base64.b64encode(content).decode()
    return {**order, "construction": {**construction, "weave": {"design": stated}}}


def read_design(stated: dict[str, object], picture: bytes, *, name: str) -> dict[str, object]:
    """Return the request about a figured design whose picture is in a file of its own.

    Args:
        stated: An order whose ``weave.design`` lacks the picture; or one without a weave, and
            beside it the members of the design, such as ``effects``. What is no member of a request
            is sent as one of the design, so that the service names what it does not know.
        picture: The bytes of the picture.
        name: The name of the file that holds the order.

    Raises:
        UsageError: The picture is no PNG file, or there is no construction.
    """
    if not picture.startswith(PNG):
        raise UsageError("the picture should be a PNG file")
    construction = members(stated.get("construction"))
    if construction is None:
        raise UsageError(f"{name}: should hold a construction, and the effects of the design")
    within = members((members(construction.get("weave")) or {}).get("design")) or {}
    no_design = {*_REQUEST, *LABELS}
    beside = {key: value for key, value in stated.items() if key not in no_design}
    design = {**within, **beside, "picture_png": base64.b64encode(picture).decode()}
    # The file that is named as an argument counts.
    design.pop("picture", None)
    request = {key: value for key, value in stated.items() if key in _REQUEST}
    return {**request, "construction": {**construction, "weave": {"design": design}}}


def read_weave(stated: str, standard_input: BinaryIO) -> str | dict[str, object]:
    """Return the weave that an argument means: a notation, or what a file holds.

    A file holds point paper in PNG, or in JSON or TOML a weave object, a request about a weave, or
    an order.

    Args:
        stated: The notation, the name of a file, or ``-`` for the standard input.
        standard_input: The standard input.

    Raises:
        UsageError: The file cannot be read, or holds no weave.

    Example:
        >>> import io
        >>> read_weave("2/2 twill Z", io.BytesIO())
        '2/2 twill Z'
    """
    if stated != "-" and _ending(stated) not in {".json", ".toml", ".png"}:
        return stated
    content = read_file(stated, standard_input)
    if content.startswith(PNG):
        return {"image_png": base64.b64encode(content).decode()}
    document = read_object(content, name=stated)
    inner = members(document.get("construction", document)) or {}
    weave = inner.get("weave", inner)
    if isinstance(weave, str):
        return weave
    if not members(weave):
        raise UsageError(f"{stated}: holds no weave")
    return dict(members(weave) or {})
