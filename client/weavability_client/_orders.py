"""Orders from files: JSON or TOML, one request or many."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import BinaryIO

from weavability_client.errors import UsageError

LABELS = frozenset({"cloth", "remark"})
"""Members of an order that are for its readers only; they are not sent."""


def read_orders(content: bytes, *, name: str) -> list[dict[str, object]]:
    """Return the validation requests in a file.

    Understood are one request ``{construction, loom | loom_id}``, a bare construction, a list of
    either, and the same under ``order`` (TOML: ``[[order]]``).

    Args:
        content: The file's bytes.
        name: Its name; ``.toml`` is read as TOML, everything else as JSON first.

    Raises:
        UsageError: It is neither JSON nor TOML, or holds something else.

    Example:
        >>> read_orders(b'{"weave": "plain"}', name="-")
        [{'construction': {'weave': 'plain'}}]
    """
    document = _parse(content, name)
    orders = document.get("order", document) if isinstance(document, Mapping) else document
    listed = orders if isinstance(orders, list) else [orders]
    return [_request(each, f"{name}, order {place}") for place, each in enumerate(listed, start=1)]


def read_file(path: str, standard_input: BinaryIO) -> bytes:
    """Return the bytes of ``path``; ``-`` is the standard input.

    Raises:
        UsageError: The file cannot be read.
    """
    if path == "-":
        return standard_input.read()
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise UsageError(f"{path}: {error.strerror}") from error


def read_object(content: bytes, *, name: str) -> dict[str, object]:
    """Return the one object in a file, such as a loom.

    Raises:
        UsageError: It is neither JSON nor TOML, or not an object.
    """
    document = _parse(content, name)
    if not isinstance(document, dict):
        raise UsageError(f"{name}: should hold one object")
    return document


def _parse(content: bytes, name: str) -> object:
    try:
        text = content.decode("utf-8-sig")
        document: object = tomllib.loads(text) if name.endswith(".toml") else _json_or_toml(text)
    except (ValueError, RecursionError) as error:
        raise UsageError(f"{name}: neither JSON nor TOML: {error}") from error
    return document


def _json_or_toml(text: str) -> object:
    try:
        document: object = json.loads(text)
    except json.JSONDecodeError as not_json:
        try:
            return tomllib.loads(text)
        except tomllib.TOMLDecodeError:
            raise not_json from None
    return document


def _request(order: object, place: str) -> dict[str, object]:
    if not isinstance(order, dict):
        raise UsageError(f"{place}: should be an object with a construction")
    request = {key: value for key, value in order.items() if key not in LABELS}
    return request if "construction" in request else {"construction": request}
