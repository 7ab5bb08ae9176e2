"""Orders as a mill's archive holds them: many lines, few yarns and weaves, every sett its own."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from importlib import resources
from io import StringIO
from pathlib import Path
from typing import Any, Final

import orjson
import pyarrow as pa
import pyarrow.parquet as pq

from weavability.service.batches.csv_columns import columns

_YARNS: Final = (
    ("Ne 20", "cotton", 20.0),
    ("Ne 30", "cotton", 26.0),
    ("Ne 40", "combed cotton", 34.0),
    ("Ne 40/2", "cotton", 22.0),
    ("150 dtex f48", "polyester", 30.0),
    ("Nm 60/2", "worsted", 22.0),
    ("linen 25 lea", "linen", 16.0),
    ("Ne 7", "cotton", 12.0),
)
"""Designation, fibre, and the ends per cm around which orders lie."""

_WEAVES: Final = (
    *("plain", "2/1 twill Z", "2/2 twill Z", "3/1 twill S", "2/2 hopsack", "2/2 herringbone 8"),
    *("5-end satin move 2", "8-end satin move 3", "2/2 warp rib", "1100|0110|0011|1001"),
)


def orders(count: int) -> Iterator[dict[str, Any]]:
    """Yield requests; no two are alike within some tens of thousands."""
    for number in range(count):
        warp, fibre, sett = _YARNS[number % len(_YARNS)]
        weft, weft_fibre, _ = _YARNS[number // 3 % len(_YARNS)]
        weave = _WEAVES[number // 7 % len(_WEAVES)]
        construction = {
            "reference": f"A-{number:06}",
            "warp": {
                "yarns": {"A": {"designation": warp, "fibre": fibre}},
                "ends_per_cm": round(sett * (0.8 + number * 197 % 641 / 1_000), 2),
            },
            "weft": {
                "yarns": {"A": {"designation": weft, "fibre": weft_fibre}},
                "picks_per_cm": round(sett * (0.55 + number * 151 % 487 / 1_000), 2),
            },
            "weave": {"rows": weave.split("|")} if "|" in weave else weave,
            "width_cm": 90 + number * 787 % 2_503 / 10,
        }
        if number % 5:
            construction["length_m"] = 200 + number % 997 * 10
        yield {"construction": construction}


def demo_orders() -> list[dict[str, Any]]:
    """The requests of the demo's order book."""
    text = resources.files("weavability").joinpath("data/demo_orders.toml").read_text("utf-8")
    return [
        {"construction": each["construction"], "loom_id": each["loom_id"]}
        for each in tomllib.loads(text)["order"]
    ]


def as_cells(request: Mapping[str, Any]) -> dict[str, Any]:
    """A request as the cells of its columns, lists and numbers as such."""
    known = {each.pointer: each.name for each in columns().values()}
    found: dict[str, Any] = {}

    def walk(pointer: str, value: Any) -> None:
        if isinstance(value, dict) and pointer not in known:
            for name, each in value.items():
                walk(f"{pointer}/{name}", each)
        elif "/yarns/" in pointer:
            _, _, system, _, key, field = pointer.split("/")
            found[f"{system}_{'yarn' if field == 'designation' else field}_{key}"] = value
        else:
            found[known[pointer]] = value

    walk("", request)
    return found


def fits_a_sheet(request: Mapping[str, Any]) -> bool:
    """Whether CSV has a way to write it: of weaves only names and rows, and no lists of lists."""
    return all(
        not isinstance(cell, dict) or cell.keys() == {"rows"} for cell in as_cells(request).values()
    )


def write_ndjson(path: Path, requests: Sequence[Mapping[str, Any]]) -> Path:
    path.write_bytes(b"".join(orjson.dumps(each) + b"\n" for each in requests))
    return path


def write_csv(path: Path, requests: Sequence[Mapping[str, Any]]) -> Path:
    rows = [as_cells(each) for each in requests]
    written = StringIO(newline="")
    writer = csv.DictWriter(written, list(dict.fromkeys(name for row in rows for name in row)))
    writer.writeheader()
    writer.writerows({name: as_text(cell) for name, cell in row.items()} for row in rows)
    path.write_text(written.getvalue(), "utf-8", newline="")
    return path


def as_text(cell: object) -> str:
    """A cell as CSV has it."""
    match cell:
        case {"rows": list(rows)}:
            return "|".join(rows)
        case list():
            return " ".join(map(str, cell))
    return str(cell)


def write_parquet(path: Path, requests: Sequence[Mapping[str, Any]], *, group: int) -> Path:
    """Numbers and texts as such, lists and objects as JSON."""
    rows = [as_cells(each) for each in requests]
    names = dict.fromkeys(name for row in rows for name in row)
    table = pa.table({name: [_json(row.get(name)) for row in rows] for name in names})
    pq.write_table(table, path, row_group_size=group)
    return path


def _json(cell: object) -> object:
    return orjson.dumps(cell).decode() if isinstance(cell, list | dict) else cell
