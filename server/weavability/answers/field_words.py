"""The meaning and the unit of every field of an answer, written on the field itself.

A field of an answer is annotated with its words::

    speed_picks_per_min: Annotated[float, "Speed at which the cloth runs"]

Its unit follows from the end of its name, or is stated beside the words: ``Unit("d")``. The
OpenAPI document, the report page and the client's records are made from these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, Final, TypeAlias, get_args, get_type_hints

from weavability.looms.style_change import RouteKind
from weavability.looms.weft_insertion import SpeedLimitName
from weavability.textiles.assumptions import Assumption, ValueBand
from weavability.textiles.field_marks import Deprecated, Since, Unit

__all__ = [
    "AssumedValues",
    "CanonicalDesignation",
    "CautionText",
    "CostForOrder",
    "CostPerM",
    "CostPerM2",
    "DecidingLimit",
    "Deprecated",
    "DraftName",
    "ExpectedHours",
    "FieldWords",
    "FinishedPanelWidth",
    "GreyPanelWidth",
    "GreyPicks",
    "HandOvers",
    "HooksCastOut",
    "HooksUsed",
    "HoursForOrder",
    "InsertedWeft",
    "InsertionRateLimit",
    "InsertionRateUse",
    "InsertionTime",
    "LinearDensity",
    "LoomHourPrice",
    "LoomName",
    "MeanInsertionSpeed",
    "OffLoomHours",
    "OrderReference",
    "OutputPerHour",
    "PeakInsertionSpeed",
    "PeakWeftTension",
    "ReedToUse",
    "ReedWidthInUse",
    "ReedWidthUse",
    "RejectedIfAssumed",
    "RouteTaken",
    "RulesetDigest",
    "RunningSpeed",
    "ShaftsUsed",
    "Since",
    "SpeedLimits",
    "TotalEnds",
    "Unit",
    "WeftStrengthUse",
    "WeftsToInsert",
    "unit_of",
    "without_unit",
    "words_of",
]

# Fields of many answers.
RulesetDigest: TypeAlias = Annotated[str, "Digest of the rules, thresholds and default limits"]
OrderReference: TypeAlias = Annotated[str | None, "The caller's own name of the order, as sent"]
LoomName: TypeAlias = Annotated[str | None, "Name of the loom, if it has one"]
AssumedValues: TypeAlias = Annotated[
    tuple[Assumption, ...], "Every value that was not given and was therefore assumed"
]
CostPerM: TypeAlias = Annotated[
    float | None,
    "For a metre of first quality, as the order measures it; null if nothing is priced",
    Unit("per m"),
]
CostPerM2: TypeAlias = Annotated[
    float | None, "For a square metre of it; null likewise", Unit("per m²")
]
CostForOrder: TypeAlias = Annotated[
    float | None,
    "For the order; null likewise, or if no length is ordered",
    Unit("per order"),
]
LoomHourPrice: TypeAlias = Annotated[
    float | None, "Price of an hour of the loom; null if it is not priced", Unit("per h")
]
CanonicalDesignation: TypeAlias = Annotated[
    str | None, "Designation in canonical form; null if only a linear density was given"
]
DecidingLimit: TypeAlias = Annotated[SpeedLimitName, "The limit that sets the speed"]
DraftName: TypeAlias = Annotated[str | None, "Name of the draft"]
ExpectedHours: TypeAlias = Annotated[ValueBand, "Between how many hours that is expected"]
FinishedPanelWidth: TypeAlias = Annotated[float, "Width of a panel when finished"]
GreyPanelWidth: TypeAlias = Annotated[float, "Width of a panel in the grey"]
GreyPicks: TypeAlias = Annotated[float, "Picks in the grey cloth"]
HandOvers: TypeAlias = Annotated[
    float | None, "Hand-overs from rapier to rapier; null without a pair of rapiers"
]
HooksCastOut: TypeAlias = Annotated[int | None, "Hooks cast out; null without a Jacquard"]
HooksUsed: TypeAlias = Annotated[int | None, "Hooks used; null without a Jacquard"]
HoursForOrder: TypeAlias = Annotated[
    float | None, "Loom hours for the whole order; null if no length is ordered", Unit("h")
]
InsertedWeft: TypeAlias = Annotated[float, "Weft inserted per minute at this speed"]
InsertionRateLimit: TypeAlias = Annotated[float, "Greatest weft insertion rate of the loom"]
InsertionRateUse: TypeAlias = Annotated[float, "Insertion rate as a share of its limit"]
InsertionTime: TypeAlias = Annotated[float, "Time from entry to exit of the weft"]
LinearDensity: TypeAlias = Annotated[float, "Linear density"]
MeanInsertionSpeed: TypeAlias = Annotated[float, "Mean speed of the carrier or of the weft"]
OffLoomHours: TypeAlias = Annotated[float, "Hours of work away from the loom"]
OutputPerHour: TypeAlias = Annotated[float, "Cloth woven per hour, efficiency included"]
PeakInsertionSpeed: TypeAlias = Annotated[float, "Greatest speed of the carrier or of the weft"]
PeakWeftTension: TypeAlias = Annotated[float, "Greatest tension of the weft during insertion"]
ReedToUse: TypeAlias = Annotated[float, "Reed to use"]
ReedWidthInUse: TypeAlias = Annotated[float, "Reed width in use"]
ReedWidthUse: TypeAlias = Annotated[float, "Reed width in use as a share of the loom's"]
RejectedIfAssumed: TypeAlias = Annotated[
    tuple[str, ...],
    "Codes for which the order is not weavable on the loom if what is assumed is so; a validation "
    "says in its `verdict_note` what to state. Looms without any are first of those of a verdict",
    Since("0.2"),
]
RunningSpeed: TypeAlias = Annotated[float, "Speed at which this cloth runs on this loom"]
ShaftsUsed: TypeAlias = Annotated[
    int | None, "Shafts used so that no shaft is crowded; null on a Jacquard"
]
SpeedLimits: TypeAlias = Annotated[dict[str, float], "Every limit of the speed, by name"]
TotalEnds: TypeAlias = Annotated[int, "Ends over the whole width, selvedges included"]
RouteTaken: TypeAlias = Annotated[RouteKind, "How the warp is brought on"]
WeftStrengthUse: TypeAlias = Annotated[
    float, "Peak tension as a share of the strength of the weft's weakest place"
]
WeftsToInsert: TypeAlias = Annotated[int, "Different wefts to insert"]
CautionText: TypeAlias = Annotated[str, "What a computed result is not"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldWords:
    """What is known of a field beside its type.

    Attributes:
        words: Its meaning, without a full stop.
        unit: Its unit; ``None`` if it has none.
        since: The version that added it; ``None`` for a field of the first version.
        is_deprecated: Whether it is to go.
    """

    words: str
    unit: str | None
    since: str | None
    is_deprecated: bool = False


_UNITS: Final[Mapping[str, str]] = {
    "picks_per_min": "picks/min",
    "m_per_min": "m/min",
    "m_per_s": "m/s",
    "m_per_s2": "m/s²",
    "m_per_h": "m/h",
    "m2_per_h": "m²/h",
    "per_min": "1/min",
    "ends_per_cm": "ends/cm",
    "ends_per_cm_in_reed": "ends/cm",
    "picks_per_cm": "picks/cm",
    "picks_per_cm_on_loom": "picks/cm",
    "healds_per_cm_per_shaft": "healds/cm/shaft",
    "dents_per_10cm": "dents/10 cm",
    "g_per_m2": "g/m²",
    "g_per_m": "g/m",
    "g_per_cm3": "g/cm³",
    "cn_per_tex": "cN/tex",
    "pct": "%",
    "cm": "cm",
    "mm": "mm",
    "m": "m",
    "km": "km",
    "kg": "kg",
    "kw": "kW",
    "ms": "ms",
    "cn": "cN",
    "tex": "tex",
    "deg": "degrees of the crank circle",
    "hours": "h",
    "hours_at_start": "h",
    "stops_per_loom_hour": "stops/h",
    "wait_min": "min",
    "stop_min": "min",
    "float_picks": "picks",
    "float_ends": "ends",
}
"""Units by the end of a name; the longest end that fits decides."""
_NO_NAMES: Final = frozenset({"max", "min"})


def unit_of(name: str) -> str | None:
    """Return the unit that a field's name ends in, ``None`` if it ends in none.

    >>> unit_of("speed_picks_per_min"), unit_of("mass_g_per_m2"), unit_of("panels")
    ('picks/min', 'g/m²', None)
    """
    end = _unit_end(name)
    return _UNITS[end] if end else None


def without_unit(name: str) -> str:
    """Return a field's name without the unit that it ends in, if a name is left.

    >>> without_unit("tenacity_cn_per_tex"), without_unit("ends_per_cm"), without_unit("panels")
    ('tenacity', 'ends_per_cm', 'panels')
    """
    end = _unit_end(name)
    rest = name.removesuffix(f"_{end}") if end else name
    return name if rest in _NO_NAMES else rest


@lru_cache(maxsize=1024)
def _unit_end(name: str) -> str | None:
    ends = [end for end in _UNITS if name == end or name.endswith(f"_{end}")]
    return max(ends, key=len) if ends else None


_KNOWN: Final[dict[type, Mapping[str, FieldWords]]] = {}


def words_of(kind: type) -> Mapping[str, FieldWords]:
    """Return the words of every field of an answer's class, by name; worked out once.

    Raises:
        TypeError: A field has no words.
    """
    if kind not in _KNOWN:
        hints = get_type_hints(kind, include_extras=True)
        _KNOWN[kind] = {
            name: _words(kind, name, get_args(hint)[1:]) for name, hint in hints.items()
        }
    return _KNOWN[kind]


def _words(kind: type, name: str, marks: tuple[Any, ...]) -> FieldWords:
    words = next((each for each in marks if isinstance(each, str)), None)
    if words is None:
        raise TypeError(f"{kind.__name__}.{name} has no words: Annotated[<type>, '<meaning>']")
    unit = next((each.symbol for each in marks if isinstance(each, Unit)), None)
    since = next((each.version for each in marks if isinstance(each, Since)), None)
    return FieldWords(
        words=words,
        unit=unit or unit_of(name),
        since=since,
        is_deprecated=any(isinstance(each, Deprecated) for each in marks),
    )
