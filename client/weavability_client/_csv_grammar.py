"""How a sheet of orders is read. Generated: run ``openapi/regenerate``."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from typing import Any, Final


class Kind(StrEnum):
    """What the cells of a column hold."""

    TEXT = "text"
    NUMBER = "number"
    FLAG = "flag"
    LIST = "list"
    NAMES = "names"
    THREADING = "threading"
    WEAVE = "weave"
    JSON = "json"


SEPARATORS: Final = ",;\t"
MOST_LINES_A_ROW: Final = 100
"""Line breaks within quotation marks that one row may have, and one."""

YARN_KEY: Final = "[A-Z][A-Za-z0-9_]{0,31}"
"""Key of a yarn at the end of a heading: the capital shows where the name of the field ends."""

YARN_PRICE: Final = "prices.yarn_per_kg."
"""How the heading of a yarn's price begins; its name in the report follows."""

_FLAGS: Final[Mapping[str, bool]] = {"true": True, "yes": True, "false": False, "no": False}
_NUMBER: Final = re.compile(r"[+-]?\d{1,30}(\.\d{1,30})?([eE][+-]?\d{1,3})?", re.ASCII)
_WHOLE: Final = re.compile(r"[+-]?\d{1,18}", re.ASCII)
_AMBIGUOUS: Final = re.compile(r"[+-]?\d{1,3}\.\d{3}", re.ASCII)
_GROUPED: Final = re.compile(r"[+-]?\d{1,3}([ ,.'\u00a0\u202f])\d{3}(\1\d{3})*([.,]\d+)?", re.ASCII)
_STATED_SEPARATOR: Final = re.compile(r'"?sep=(.)"?', re.IGNORECASE)
_ROWS: Final = re.compile(r"[01]+(\|[01]+)+")


def separator_of(header: str) -> str:
    """Return what divides the cells: the separator that the first line has most of."""
    return max(SEPARATORS, key=header.count)


def stated_separator(line: str) -> str | None:
    """Return the separator that the first line of a spreadsheet states; ``None`` if it is a header.

    >>> stated_separator("sep=;"), stated_separator("reference;weave")
    (';', None)
    """
    found = _STATED_SEPARATOR.fullmatch(line.strip("\r\n"))
    return found[1] if found and found[1] in SEPARATORS else None


def is_remark(line: str) -> bool:
    """Return whether a line before the header is a remark: ``#``, and no separator behind it.

    >>> is_remark("# orders.csv"), is_remark("#,reference,weave")
    (True, False)
    """
    return line.startswith("#") and line[1:2] not in tuple(SEPARATORS)


def spelt(heading: str, columns: Iterable[str], yarn_words: Iterable[str]) -> str:
    """Return a heading in the spelling of the column that it names in another case.

    Args:
        heading: The heading.
        columns: The names of the columns that every sheet can have.
        yarn_words: The words of the columns of yarns.

    >>> spelt("Ends_Per_cm", ["ends_per_cm"], ["yarn"]), spelt("WARP_YARN_A", [], ["yarn"])
    ('ends_per_cm', 'warp_yarn_A')
    """
    lower = heading.lower()
    plain = next((each for each in columns if each.lower() == lower), None)
    if plain is not None:
        return plain
    starts = [f"{system}_{word}_" for system in ("warp", "weft") for word in yarn_words]
    start = max((each for each in starts if lower.startswith(each)), key=len, default="")
    if lower.startswith(YARN_PRICE):
        kind, blank, key = heading[len(YARN_PRICE) :].rpartition(" ")
        return f"{YARN_PRICE}{kind.lower()}{blank}{_spelt_key(key)}"
    return f"{start}{_spelt_key(heading[len(start) :])}" if start else heading


def _spelt_key(key: str) -> str:
    """Return a yarn's key; a longer one in small letters is rather a word that nobody knows."""
    return key.upper() if len(key) == 1 else key


def has_decimal_comma(separator: str) -> bool:
    """Return whether numbers may have a comma: if the cells are divided by a semicolon."""
    return separator == ";"


def read_cell(kind: Kind, cell: str, *, decimal_comma: bool) -> Any:
    """Return the JSON value of a cell; a cell that is none of its kind stays text.

    >>> read_cell(Kind.WEAVE, "1100|0110|0011|1001", decimal_comma=False)
    {'rows': ['1100', '0110', '0011', '1001']}
    >>> read_cell(Kind.NUMBER, "152,5", decimal_comma=True)
    152.5
    >>> read_cell(Kind.JSON, '[{"name": "ground", "yarns": ["A"]}]', decimal_comma=False)
    [{'name': 'ground', 'yarns': ['A']}]
    """
    match kind:
        case Kind.NUMBER:
            return _number(cell, decimal_comma=decimal_comma)
        case Kind.FLAG:
            return _FLAGS.get(cell.lower(), cell)
        case Kind.WEAVE if _ROWS.fullmatch(cell):
            return {"rows": cell.split("|")}
        case Kind.WEAVE if cell.startswith("{"):
            return _json(cell)
        case Kind.THREADING if " " not in cell:
            return cell
        case Kind.JSON:
            return _json(cell)
        case Kind.NAMES:
            return cell.split()
        case Kind.LIST | Kind.THREADING:
            return [_number(each, decimal_comma=False) for each in cell.split()]
    return cell


def _json(cell: str) -> Any:
    """Read a list or an object that is written as JSON."""
    try:
        return json.loads(cell)
    except (ValueError, RecursionError):
        return cell


def _number(cell: str, *, decimal_comma: bool) -> float | int | str:
    """Read a number; with a decimal comma, ``1.250`` could mean either and stays text."""
    if decimal_comma:
        if _AMBIGUOUS.fullmatch(cell):
            return cell
        cell = cell.replace(",", ".", 1) if "." not in cell else cell
    if _WHOLE.fullmatch(cell):
        return int(cell)
    return float(cell) if _NUMBER.fullmatch(cell) else cell


ADVICE: Final[Mapping[str, str]] = {
    "part.decimal_comma_or_thousands": "Write a decimal comma: {with_decimals}. If thousands are "
    "meant, leave out the point: {with_thousands}.",
    "part.no_thousands": "Leave out what separates the thousands: {written}.",
    "part.digits_0_to_9": "Write it with the digits 0 to 9.",
    "part.digits_and_comma": "Write digits, and a decimal comma if it has one.",
    "part.digits_and_point": "Write digits, and a decimal point if it has one.",
}
"""How a number is to be written: the patterns by key."""


def number_advice(cell: str, *, decimal_comma: bool) -> str:
    """Return how to write the number of a cell that is not read as one.

    >>> number_advice("1.250", decimal_comma=True)
    'Write a decimal comma: 1,25. If thousands are meant, leave out the point: 1250.'
    >>> number_advice("1,250.5", decimal_comma=False)
    'Leave out what separates the thousands: 1250.5.'
    """
    key, values = advice_of(cell, decimal_comma=decimal_comma)
    return ADVICE[key].format_map(values)


def advice_of(cell: str, *, decimal_comma: bool) -> tuple[str, dict[str, str]]:
    """Return the key of :data:`ADVICE` for a cell that is not read as a number, and its values."""
    if decimal_comma and _AMBIGUOUS.fullmatch(cell):
        whole, decimals = cell.split(".")
        return "part.decimal_comma_or_thousands", {
            "with_decimals": f"{whole},{decimals.rstrip('0') or '0'}",
            "with_thousands": f"{whole}{decimals}",
        }
    grouped = _GROUPED.fullmatch(cell)
    if grouped:
        whole = cell[: len(cell) - len(grouped[3] or "")].replace(grouped[1], "")
        decimals = (grouped[3] or "")[1:]
        written = f"{whole}{',' if decimal_comma else '.'}{decimals}" if decimals else whole
        return "part.no_thousands", {"written": written}
    if any(each.isdecimal() and not each.isascii() for each in cell):
        return "part.digits_0_to_9", {}
    return f"part.digits_and_{'comma' if decimal_comma else 'point'}", {}


def has_line_end_inside(lines: Iterable[str], separator: str) -> bool:
    r"""Return whether a row that cannot be read could be read but for a carriage return in it.

    >>> has_line_end_inside(["D-1,plain\r,28\n"], ","), has_line_end_inside(['D-1,"a"b\r\n'], ",")
    (True, False)
    """
    ended = [each.rstrip("\r\n") for each in lines]
    if not any("\r" in each for each in ended):
        return False
    blanked = (each.replace("\r", " ") + "\n" for each in ended)
    try:
        return next(csv.reader(blanked, delimiter=separator, strict=True), None) is not None
    except csv.Error:
        return False


def put(request: dict[str, Any], path: Sequence[str], value: Any) -> None:
    """Set the member of a request at a path; objects on the way are made."""
    for step in path[:-1]:
        request = request.setdefault(step, {})
    request[path[-1]] = value


COLUMNS: Final[Mapping[str, tuple[str, Kind]]] = {
    "loom_id": ("/loom_id", Kind.TEXT),
    "reference": ("/construction/reference", Kind.TEXT),
    "stage": ("/construction/stage", Kind.TEXT),
    "warp_order": ("/construction/warp/order", Kind.TEXT),
    "warp_crimp_pct": ("/construction/warp/crimp_pct", Kind.NUMBER),
    "warp_contraction_pct": ("/construction/warp/contraction_pct", Kind.NUMBER),
    "ends_per_cm": ("/construction/warp/ends_per_cm", Kind.NUMBER),
    "ends_per_in": ("/construction/warp/ends_per_in", Kind.NUMBER),
    "warp_beams": ("/construction/warp/beams", Kind.JSON),
    "weft_order": ("/construction/weft/order", Kind.TEXT),
    "weft_crimp_pct": ("/construction/weft/crimp_pct", Kind.NUMBER),
    "weft_contraction_pct": ("/construction/weft/contraction_pct", Kind.NUMBER),
    "picks_per_cm": ("/construction/weft/picks_per_cm", Kind.NUMBER),
    "picks_per_in": ("/construction/weft/picks_per_in", Kind.NUMBER),
    "weave": ("/construction/weave", Kind.WEAVE),
    "layers_ends": ("/construction/layers/ends", Kind.TEXT),
    "layers_picks": ("/construction/layers/picks", Kind.TEXT),
    "layers_joined": ("/construction/layers/joined", Kind.TEXT),
    "layers_pile": ("/construction/layers/pile", Kind.LIST),
    "width_cm": ("/construction/width_cm", Kind.NUMBER),
    "width_in": ("/construction/width_in", Kind.NUMBER),
    "thickness_mm": ("/construction/thickness_mm", Kind.NUMBER),
    "selvedge_ends_per_side": ("/construction/selvedge/ends_per_side", Kind.NUMBER),
    "selvedge_ends_per_dent": ("/construction/selvedge/ends_per_dent", Kind.NUMBER),
    "selvedge_shafts": ("/construction/selvedge/shafts", Kind.NUMBER),
    "selvedge_yarn": ("/construction/selvedge/yarn", Kind.TEXT),
    "selvedge_weave": ("/construction/selvedge/weave", Kind.WEAVE),
    "selvedge_leno_ends_per_side": ("/construction/selvedge/leno_ends_per_side", Kind.NUMBER),
    "selvedge_catch_cord_ends": ("/construction/selvedge/catch_cord_ends", Kind.NUMBER),
    "panels": ("/construction/panels", Kind.NUMBER),
    "panel_gap_cm": ("/construction/panel_gap_cm", Kind.NUMBER),
    "length_m": ("/construction/length_m", Kind.NUMBER),
    "length_yd": ("/construction/length_yd", Kind.NUMBER),
    "reed_dents_per_10cm": ("/construction/reed/dents_per_10cm", Kind.NUMBER),
    "reed_count": ("/construction/reed/count", Kind.NUMBER),
    "reed_system": ("/construction/reed/system", Kind.TEXT),
    "reed_ends_per_dent": ("/construction/reed/ends_per_dent", Kind.NUMBER),
    "reed_ends_in_dents": ("/construction/reed/ends_in_dents", Kind.LIST),
    "reed_wire_share_pct": ("/construction/reed/wire_share_pct", Kind.NUMBER),
    "draft": ("/construction/draft/threading", Kind.THREADING),
    "finish": ("/construction/finishing/finish", Kind.TEXT),
    "width_shrinkage_pct": ("/construction/finishing/width_shrinkage_pct", Kind.NUMBER),
    "length_shrinkage_pct": ("/construction/finishing/length_shrinkage_pct", Kind.NUMBER),
    "relaxation_pct": ("/construction/finishing/relaxation_pct", Kind.NUMBER),
    "mass_change_pct": ("/construction/finishing/mass_change_pct", Kind.NUMBER),
    "stabilised": ("/construction/finishing/stabilised", Kind.FLAG),
    "warp_waste_pct": ("/construction/allowances/warp_waste_pct", Kind.NUMBER),
    "weft_waste_pct": ("/construction/allowances/weft_waste_pct", Kind.NUMBER),
    "size_pct": ("/construction/allowances/size_pct", Kind.NUMBER),
    "loom_waste_m": ("/construction/allowances/loom_waste_m", Kind.NUMBER),
    "size_strength_gain_pct": ("/construction/allowances/size_strength_gain_pct", Kind.NUMBER),
    "size_elongation_loss_pct": ("/construction/allowances/size_elongation_loss_pct", Kind.NUMBER),
    "requested_speed_picks_per_min": ("/construction/requested_speed_picks_per_min", Kind.NUMBER),
    "order.pieces": ("/construction/order/pieces", Kind.NUMBER),
    "order.piece_length_m": ("/construction/order/piece_length_m", Kind.NUMBER),
    "order.overage_pct": ("/construction/order/overage_pct", Kind.NUMBER),
    "order.rejects_pct": ("/construction/order/rejects_pct", Kind.NUMBER),
    "requirements.mass_g_per_m2.min": ("/construction/requirements/mass_g_per_m2/min", Kind.NUMBER),
    "requirements.mass_g_per_m2.max": ("/construction/requirements/mass_g_per_m2/max", Kind.NUMBER),
    "requirements.mass_g_per_m2.nominal": (
        "/construction/requirements/mass_g_per_m2/nominal",
        Kind.NUMBER,
    ),
    "requirements.mass_g_per_m2.tolerance_pct": (
        "/construction/requirements/mass_g_per_m2/tolerance_pct",
        Kind.NUMBER,
    ),
    "requirements.mass_g_per_m.min": ("/construction/requirements/mass_g_per_m/min", Kind.NUMBER),
    "requirements.mass_g_per_m.max": ("/construction/requirements/mass_g_per_m/max", Kind.NUMBER),
    "requirements.mass_g_per_m.nominal": (
        "/construction/requirements/mass_g_per_m/nominal",
        Kind.NUMBER,
    ),
    "requirements.mass_g_per_m.tolerance_pct": (
        "/construction/requirements/mass_g_per_m/tolerance_pct",
        Kind.NUMBER,
    ),
    "requirements.finished_width_cm.min": (
        "/construction/requirements/finished_width_cm/min",
        Kind.NUMBER,
    ),
    "requirements.finished_width_cm.max": (
        "/construction/requirements/finished_width_cm/max",
        Kind.NUMBER,
    ),
    "requirements.finished_width_cm.nominal": (
        "/construction/requirements/finished_width_cm/nominal",
        Kind.NUMBER,
    ),
    "requirements.finished_width_cm.tolerance_pct": (
        "/construction/requirements/finished_width_cm/tolerance_pct",
        Kind.NUMBER,
    ),
    "requirements.ends_per_cm.min": ("/construction/requirements/ends_per_cm/min", Kind.NUMBER),
    "requirements.ends_per_cm.max": ("/construction/requirements/ends_per_cm/max", Kind.NUMBER),
    "requirements.ends_per_cm.nominal": (
        "/construction/requirements/ends_per_cm/nominal",
        Kind.NUMBER,
    ),
    "requirements.ends_per_cm.tolerance_pct": (
        "/construction/requirements/ends_per_cm/tolerance_pct",
        Kind.NUMBER,
    ),
    "requirements.picks_per_cm.min": ("/construction/requirements/picks_per_cm/min", Kind.NUMBER),
    "requirements.picks_per_cm.max": ("/construction/requirements/picks_per_cm/max", Kind.NUMBER),
    "requirements.picks_per_cm.nominal": (
        "/construction/requirements/picks_per_cm/nominal",
        Kind.NUMBER,
    ),
    "requirements.picks_per_cm.tolerance_pct": (
        "/construction/requirements/picks_per_cm/tolerance_pct",
        Kind.NUMBER,
    ),
    "requirements.thickness_mm.min": ("/construction/requirements/thickness_mm/min", Kind.NUMBER),
    "requirements.thickness_mm.max": ("/construction/requirements/thickness_mm/max", Kind.NUMBER),
    "requirements.thickness_mm.nominal": (
        "/construction/requirements/thickness_mm/nominal",
        Kind.NUMBER,
    ),
    "requirements.thickness_mm.tolerance_pct": (
        "/construction/requirements/thickness_mm/tolerance_pct",
        Kind.NUMBER,
    ),
    "requirements.open_area_pct.min": ("/construction/requirements/open_area_pct/min", Kind.NUMBER),
    "requirements.open_area_pct.max": ("/construction/requirements/open_area_pct/max", Kind.NUMBER),
    "requirements.open_area_pct.nominal": (
        "/construction/requirements/open_area_pct/nominal",
        Kind.NUMBER,
    ),
    "requirements.open_area_pct.tolerance_pct": (
        "/construction/requirements/open_area_pct/tolerance_pct",
        Kind.NUMBER,
    ),
    "requirements.cover_factor.min": ("/construction/requirements/cover_factor/min", Kind.NUMBER),
    "requirements.cover_factor.max": ("/construction/requirements/cover_factor/max", Kind.NUMBER),
    "requirements.cover_factor.nominal": (
        "/construction/requirements/cover_factor/nominal",
        Kind.NUMBER,
    ),
    "requirements.cover_factor.tolerance_pct": (
        "/construction/requirements/cover_factor/tolerance_pct",
        Kind.NUMBER,
    ),
    "requirements.fibre_pct": ("/construction/requirements/fibre_pct", Kind.JSON),
    "prices.currency": ("/prices/currency", Kind.TEXT),
    "prices.size_per_kg": ("/prices/size_per_kg", Kind.NUMBER),
    "prices.loom_hour": ("/prices/loom_hour", Kind.NUMBER),
    "prices.changeover_hour": ("/prices/changeover_hour", Kind.NUMBER),
    "prices.changeover_hours": ("/prices/changeover_hours", Kind.NUMBER),
    "prices.energy_per_kwh": ("/prices/energy_per_kwh", Kind.NUMBER),
    "prices.air_per_m3": ("/prices/air_per_m3", Kind.NUMBER),
    "prices.second_quality_value_pct": ("/prices/second_quality_value_pct", Kind.NUMBER),
    "options.remedies": ("/options/remedies", Kind.FLAG),
    "options.decisive_assumptions": ("/options/decisive_assumptions", Kind.FLAG),
    "warp_yarn_A": ("/construction/warp/yarns/A/designation", Kind.TEXT),
    "warp_linear_density_tex_A": ("/construction/warp/yarns/A/linear_density_tex", Kind.NUMBER),
    "warp_sample_length_m_A": ("/construction/warp/yarns/A/sample_length_m", Kind.NUMBER),
    "warp_sample_length_yd_A": ("/construction/warp/yarns/A/sample_length_yd", Kind.NUMBER),
    "warp_sample_mass_g_A": ("/construction/warp/yarns/A/sample_mass_g", Kind.NUMBER),
    "warp_sample_mass_grains_A": ("/construction/warp/yarns/A/sample_mass_grains", Kind.NUMBER),
    "warp_fibre_A": ("/construction/warp/yarns/A/fibre", Kind.TEXT),
    "warp_colour_A": ("/construction/warp/yarns/A/colour", Kind.TEXT),
    "warp_fibre_density_g_per_cm3_A": (
        "/construction/warp/yarns/A/fibre_density_g_per_cm3",
        Kind.NUMBER,
    ),
    "warp_packing_fraction_A": ("/construction/warp/yarns/A/packing_fraction", Kind.NUMBER),
    "warp_diameter_mm_A": ("/construction/warp/yarns/A/diameter_mm", Kind.NUMBER),
    "warp_tenacity_cn_per_tex_A": ("/construction/warp/yarns/A/tenacity_cn_per_tex", Kind.NUMBER),
    "warp_strength_cv_pct_A": ("/construction/warp/yarns/A/strength_cv_pct", Kind.NUMBER),
    "warp_breaking_elongation_pct_A": (
        "/construction/warp/yarns/A/breaking_elongation_pct",
        Kind.NUMBER,
    ),
    "warp_folding_take_up_pct_A": ("/construction/warp/yarns/A/folding_take_up_pct", Kind.NUMBER),
    "warp_crimp_pct_A": ("/construction/warp/yarns/A/crimp_pct", Kind.NUMBER),
    "warp_contraction_pct_A": ("/construction/warp/yarns/A/contraction_pct", Kind.NUMBER),
    "warp_twist_per_m_A": ("/construction/warp/yarns/A/twist_per_m", Kind.NUMBER),
    "warp_twist_direction_A": ("/construction/warp/yarns/A/twist_direction", Kind.TEXT),
    "warp_sized_A": ("/construction/warp/yarns/A/sized", Kind.FLAG),
    "warp_monofilament_A": ("/construction/warp/yarns/A/monofilament", Kind.FLAG),
    "warp_elastane_draft_A": ("/construction/warp/yarns/A/elastane_draft", Kind.NUMBER),
    "warp_tape_width_mm_A": ("/construction/warp/yarns/A/tape_width_mm", Kind.NUMBER),
    "warp_tape_thickness_mm_A": ("/construction/warp/yarns/A/tape_thickness_mm", Kind.NUMBER),
    "warp_flattening_ratio_A": ("/construction/warp/yarns/A/flattening_ratio", Kind.NUMBER),
    "prices.yarn_per_kg.warp A": ("/prices/yarn_per_kg/warp A", Kind.NUMBER),
}
"""Place and kind of the cells of every column; of yarns, those of warp yarn A."""
