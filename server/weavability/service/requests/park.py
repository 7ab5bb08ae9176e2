"""The loom park that the service is started with: a TOML file of ``[[loom]]`` tables.

The names in the file are those of the API, so a loom can be copied from one to the other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from importlib import resources
from pathlib import Path
from typing import Any, Final

from weavability.looms.loom import Loom
from weavability.service.http.suggestions import did_you_mean, nearest
from weavability.service.requests.canonical import canonical, digest, normalised, unpriced_loom
from weavability.service.schemas.loom_schema import LoomSchema
from weavability.textiles.errors import Fault, collecting
from weavability.textiles.sentences import say
from weavability.textiles.toml_files import TomlFileError, as_written, parse_toml, read_text

MOST_LOOMS: Final = 10_000
LONGEST_FILE: Final = 16 * 2**20
_SCHEMA: Final = LoomSchema()
_MOST_NAMED: Final = 20


class ParkError(ValueError):
    """The park file cannot be used; the message names file, loom and field."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ParkLoom:
    """A loom of the park.

    Attributes:
        loom: As the domain sees it.
        document: As it was written, in normalised JSON, without prices.
        limits: Its limits in canonical form: what a conditional request depends on.
    """

    loom: Loom
    document: Mapping[str, Any]
    limits: bytes


@dataclass(frozen=True, kw_only=True)
class Park:
    """All looms by name, in the order of the file."""

    looms: Mapping[str, ParkLoom]

    @cached_property
    def digest(self) -> str:
        """A digest over all looms: two parks with the same digest answer alike."""
        return digest(*(canonical(each.document) for each in self.looms.values()))

    def get(self, loom_id: str) -> ParkLoom | None:
        """Return a loom; ``None`` if there is none of this name."""
        return self.looms.get(loom_id)

    def unknown(self, loom_id: str, *, pointer: str = "") -> Fault:
        """Return the fault of a name that no loom has."""
        return Fault(
            pointer,
            say(
                "fault.loom.unknown_in_park",
                "There is no loom of this name in the park.{hint}",
                hint=did_you_mean(loom_id, self.looms),
            ),
            given=loom_id,
            allowed=self.suggestions(loom_id),
        )

    def suggestions(self, loom_id: str) -> list[str]:
        """Name the nearest looms, or the first of the park if none is near."""
        return nearest(loom_id, self.looms) or list(self.looms)[:_MOST_NAMED]


def load_park(path: Path | str | None) -> Park:
    """Read a park file; the demo park if ``path`` is ``None``.

    Raises:
        ParkError: The file cannot be read, or a loom in it is wrong.
    """
    file = None if path is None else Path(path)
    name = file.name if file else "the demo park"
    try:
        text = _text(file)
    except TomlFileError as error:
        raise ParkError(f"{name} cannot be read: {error}") from None
    return parse_park(text, name=name)


def _text(path: Path | None) -> str:
    if path is None:
        return resources.files("weavability").joinpath("data/demo_park.toml").read_text("utf-8")
    return read_text(path, most_bytes=LONGEST_FILE)


def parse_park(text: str, *, name: str) -> Park:
    """Read the text of a park file called ``name``.

    Raises:
        ParkError: With every fault of every loom.
    """
    try:
        tables = parse_toml(text)
    except TomlFileError as error:
        raise ParkError(f"{name} is not TOML: {error}") from None
    stated = tables.pop("loom", None)
    others = f"; it holds {', '.join(map(as_written, tables))}" if tables else ""
    complaint = f"{name} must hold 1 to {MOST_LOOMS} [[loom]] tables and nothing else{others}"
    if not isinstance(stated, list) or not 1 <= len(stated) <= MOST_LOOMS:
        raise ParkError(complaint)
    return _park(stated, name, [complaint] if tables else [])


def _park(stated: list[Any], name: str, wrong: Sequence[str]) -> Park:
    """Read the looms.

    Raises:
        ParkError: With every fault of every loom, and what is wrong with the file as a whole.
    """
    looms: dict[str, ParkLoom] = {}
    first: dict[str, int] = {}
    complaints: list[str] = []
    for number, document in enumerate(stated, start=1):
        faults: list[Fault] = []
        with collecting(faults):
            read = _loom(document)
        loom_id = document.get("loom_id") if isinstance(document, dict) else None
        if isinstance(document, dict) and loom_id is None:
            faults.append(
                Fault("/loom_id", say("fault.park.no_name", "every loom of a park needs a name"))
            )
        if isinstance(loom_id, str) and first.setdefault(loom_id, number) != number:
            message = say(
                "fault.park.name_twice",
                "another loom has this name already, loom {loom}",
                loom=first[loom_id],
            )
            faults.append(Fault("/loom_id", message))
        if faults:
            complaints.extend(_complaints(faults, loom_id, number))
        else:
            looms[loom_id or ""] = read
    if complaints:
        complaints.insert(0, f"{name} cannot be used:")
    if wrong or complaints:
        raise ParkError("\n".join([*wrong, *complaints]))
    return Park(looms=looms)


def _loom(document: Any) -> ParkLoom:
    loom = _SCHEMA.read(document)
    known = {key: value for key, value in document.items() if key in _SCHEMA.load_fields}
    stated = unpriced_loom(known)
    limits = {key: value for key, value in stated.items() if key != "description"}
    return ParkLoom(loom=loom, document=normalised(stated), limits=canonical(limits))


def _complaints(faults: Iterable[Fault], loom_id: object, number: int) -> Iterator[str]:
    label = f"loom {number} ({as_written(loom_id)})" if loom_id else f"loom {number}"
    for fault in faults:
        field = fault.pointer.lstrip("/").replace("/", ".") or "the table"
        given = "" if fault.given is None else f"given: {as_written(fault.given)}"
        allowed = "" if fault.allowed is None else f"allowed: {_allowed(fault.allowed)}"
        beside = "; ".join(filter(None, (given, allowed)))
        yield f"  {label}, {field}: {fault.message}{f' ({beside})' if beside else ''}"


def _allowed(allowed: object) -> str:
    """Write what is allowed in a line: a long list is cut."""
    if not isinstance(allowed, list):
        return allowed if isinstance(allowed, str) else as_written(allowed)
    cut = ", …" if len(allowed) > _MOST_NAMED else ""
    return ", ".join(map(str, allowed[:_MOST_NAMED])) + cut
