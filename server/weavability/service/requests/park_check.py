"""A park file checked: what is wrong with it, or which limits its looms leave to be assumed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from weavability.answers.caution import CAUTION
from weavability.looms.loom_limits import resolve_loom
from weavability.service.requests.park import load_park
from weavability.textiles.assumptions import Assumption
from weavability_client.tables import text_table


def check_park(path: Path) -> Iterator[str]:
    """Yield the lines of what is to be known of a park file that can be used.

    For every loom, each limit that the file does not state: its field, the value that is assumed,
    the band in which it is expected, how well it is supported, and why this value.

    Args:
        path: The park file.

    Raises:
        ParkError: The file cannot be used; the message has every fault, with loom and field.
    """
    park = load_park(path)
    assumed = {name: resolve_loom(each.loom).assumptions for name, each in park.looms.items()}
    count = sum(map(len, assumed.values()))
    looms = "1 loom" if len(assumed) == 1 else f"{len(assumed)} looms"
    yield (
        f"{path.name} can be used: {looms}. It leaves {count} limits to be assumed; state those "
        "that you know."
    )
    for name, lines in assumed.items():
        yield f"\n{name}"
        table = text_table(_HEADER, [_row(line) for line in lines])
        yield "\n".join(f"  {line}" for line in table.splitlines())
    yield f"\n{CAUTION}"


_HEADER: Final = ("limit", "assumed", "band", "grade", "reason")


def _row(line: Assumption) -> tuple[str, ...]:
    unit = f" {line.unit}" if line.unit else ""
    band = "" if line.band is None else f"{line.band.low:g} to {line.band.high:g}"
    return (
        line.pointer.strip("/").replace("/", "."),
        f"{_shown(line.value)}{unit}",
        band,
        line.grade.replace("_", " "),
        line.reason,
    )


def _shown(value: object) -> str:
    return f"{value:.10g}" if isinstance(value, int | float) else str(value)
