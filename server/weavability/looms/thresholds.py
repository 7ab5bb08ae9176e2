"""The thresholds of the trade: numbers that decide verdicts and belong to no loom.

They are read from ``data/thresholds.toml``, each with its unit, grade, source and meaning. A mill
replaces values by name in a TOML file of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Annotated, Final, Generic

from weavability.textiles.assumptions import Assumption, Grade
from weavability.textiles.numbers import N
from weavability.textiles.sentences import Sentence, say, say_row
from weavability.textiles.sett_thresholds import (
    SettThresholds,
    put_sett_thresholds_in_force,
    threshold_rows,
)
from weavability.textiles.sources import cite
from weavability.textiles.toml_files import TomlFileError, as_written, parse_toml, read_text

LONGEST_FILE: Final = 2**20
LARGEST: Final = 1e6
"""No threshold is greater, whatever its unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual(Generic[N]):
    """What is usual in the trade: a number for each threshold of ``data/thresholds.toml``."""

    width_reed_use_low_pct: N
    reed_stock_tolerance_pct: N
    reed_usual_coarsest_dents_per_10cm: N
    reed_usual_finest_dents_per_10cm: N
    reed_coarsest_dents_per_10cm: N
    reed_finest_dents_per_10cm: N
    reed_wire_share_of_pitch_pct: N
    reed_wire_least_mm: N
    reed_gap_fill_note_pct: N
    reed_gap_fill_warning_pct: N
    reed_single_end_warning_pct: N
    reed_knot_width_diameters: N
    reed_most_ends_per_dent: N
    shedding_healds_error_times: N
    shedding_lift_swing_warning_pct: N
    shedding_warp_up_note_pct: N
    shedding_idle_hooks_note_pct: N
    shedding_harness_wider_warning_mm: N
    shedding_harness_wider_error_mm: N
    shedding_harness_narrower_note_mm: N
    shedding_harness_narrower_error_mm: N
    shedding_slant_note_pct: N
    weave_float_note_mm: N
    weave_float_warning_mm: N
    selvedge_float_most_picks: N
    selvedge_widest_cm: N
    selvedge_widest_share_pct: N
    contraction_far_times: N
    contraction_heights_least_pct: N
    design_width_warning_pct: N
    design_proportion_note_pct: N
    design_proportion_warning_pct: N
    design_thin_note_pct: N
    design_back_note_mm: N
    design_back_warning_mm: N
    design_binding_note_pct: N
    sett_jammed_error_pct: N
    sett_abreast_pct: N
    sett_abreast_width_cm: N
    sett_touching_pct: N
    sett_over_pct: N
    sett_tight_note_pct: N
    sett_tight_warning_pct: N
    sett_open_warning_pct: N
    sett_holding_times: N
    sett_warp_crowding_warning_pct: N
    weft_counts_note_times: N
    weft_counts_warning_times: N
    weft_strength_note_pct: N
    weft_strength_warning_pct: N
    weft_strength_error_pct: N
    yarn_weakest_place_least_pct: N
    insertion_near_limit_note_pct: N
    insertion_jet_speed_note_m_per_s: N
    insertion_jet_speed_warning_m_per_s: N
    insertion_acceleration_note_m_per_s2: N
    insertion_acceleration_warning_m_per_s2: N
    insertion_crawl_pct: N
    warp_strength_note_pct: N
    warp_strength_warning_pct: N
    warp_counts_note_times: N
    warp_interlacing_note_times: N
    warp_interlacing_warning_times: N
    warp_take_up_note_pct: N
    warp_take_up_warning_pct: N
    warp_take_up_error_pct: N
    warp_pile_ratio_least: N
    warp_size_least_pct: N
    warp_filament_twist_least_per_m: N
    warp_beam_width_tolerance_pct: N
    warp_beam_least_useful_m: N
    yarn_elastane_release_least_pct: N
    yarn_hard_twist_note_factor: N
    yarn_hard_twist_warning_factor: N
    colour_least_weft_repeats: N
    colour_joint_repeat_times: N
    order_least_roll_m: N
    order_short_run_hours: N


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """A number of the trade that decides a verdict."""

    name: Annotated[str, "Name, by which a mill replaces it; it ends in the unit"]
    value: Annotated[float, "The value in force"]
    unit: Annotated[str, "Unit of the value"]
    grade: Annotated[
        Grade, "How well it is supported: by a source, by common practice, or by the mill itself"
    ]
    source: Annotated[str, "Where the value comes from"]
    meaning: Annotated[str, "What the threshold separates"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Thresholds:
    """All thresholds in force; compared by identity, since they are read once.

    Attributes:
        usual: Their values, as the rules read them.
        replaced: The values that the mill has set itself, by name.
    """

    usual: Usual[float]
    replaced: tuple[tuple[str, float], ...] = ()

    def listed(self) -> tuple[Threshold, ...]:
        """Return every threshold with its value, unit, grade and source."""
        return tuple(self.of(name) for name in threshold_rows())

    def of(self, name: str) -> Threshold:
        """Return one threshold."""
        row, by_mill = threshold_rows()[name], name in dict(self.replaced)
        return Threshold(
            name=name,
            value=getattr(self.usual, name),
            unit=row["unit"],
            grade=Grade.MILL if by_mill else Grade(row["grade"]),
            source="set by the mill" if by_mill else cite(row["source"]),
            meaning=row["meaning"],
        )

    def assumptions(self, among: Collection[str] | None = None) -> tuple[Assumption, ...]:
        """Return the values that the mill has set itself, as an answer lists them.

        Args:
            among: Names of the thresholds that decide in the answer; without them, all do.
        """
        return tuple(
            Assumption.of(
                f"/thresholds/{name}",
                value,
                threshold_rows()[name]["unit"],
                say(
                    "assumption.threshold.of_the_mill",
                    "{meaning}; set by the mill in place of {shipped:g}",
                    meaning=_meaning(name),
                    shipped=getattr(shipped().usual, name),
                ),
                Grade.MILL,
            )
            for name, value in self.replaced
            if among is None or name in among
        )


class ThresholdFileError(ValueError):
    """The file of thresholds cannot be used; the message names file and threshold."""


def _meaning(name: str) -> Sentence:
    return say_row(f"part.threshold.{name}", threshold_rows()[name]["meaning"])


def patterns() -> Mapping[str, str]:
    """Return the meaning of every threshold, by key."""
    return {f"part.threshold.{name}": row["meaning"] for name, row in threshold_rows().items()}


@cache
def shipped() -> Thresholds:
    """Return the thresholds that the package states."""
    return Thresholds(
        usual=Usual(**{name: float(row["value"]) for name, row in threshold_rows().items()})
    )


_in_force: list[Thresholds] = []


def in_force() -> Thresholds:
    """Return the thresholds by which this process judges."""
    return _in_force[0] if _in_force else shipped()


def put_in_force(thresholds: Thresholds) -> None:
    """Judge by other thresholds from now on; done once, before the first answer is given."""
    _in_force[:] = [thresholds]
    usual = thresholds.usual
    put_sett_thresholds_in_force(
        SettThresholds(*(getattr(usual, name) for name in SettThresholds._fields))
    )


def read_thresholds(path: Path | None) -> Thresholds:
    """Read a mill's own thresholds: a TOML file of ``name = value`` lines.

    Args:
        path: The file; without one, the thresholds stay as the package states them.

    Raises:
        ThresholdFileError: The file cannot be read, or states an unknown name or a value that is
            impossible.
    """
    if path is None:
        return shipped()
    try:
        stated = parse_toml(read_text(path, most_bytes=LONGEST_FILE))
    except TomlFileError as error:
        raise ThresholdFileError(f"{path}: {error}") from None
    replaced = tuple((name, _checked(path, name, value)) for name, value in sorted(stated.items()))
    usual = replace(shipped().usual, **dict(replaced))
    _refuse_disorder(path, usual)
    return Thresholds(usual=usual, replaced=replaced)


def _checked(path: Path, name: str, value: object) -> float:
    rows = threshold_rows()
    if name not in rows:
        near = get_close_matches(name, rows, n=1)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise ThresholdFileError(
            f"{path}: there is no threshold {as_written(name)}.{hint} GET /v1/checks lists all."
        )
    row = rows[name]
    least, most = row.get("least", 0.0), row.get("most", LARGEST)
    if not isinstance(value, int | float) or isinstance(value, bool) or not least < value <= most:
        raise ThresholdFileError(
            f"{path}: {name} is {as_written(value)}; allowed is a number above {least:g}, at "
            f"most {most:g} [{row['unit']}]."
        )
    return float(value)


def _refuse_disorder(path: Path, usual: Usual[float]) -> None:
    """Refuse thresholds of one figure that are out of order, such as a note above its warning."""
    for name, row in threshold_rows().items():
        above = row.get("at_most")
        if above is not None and getattr(usual, name) > getattr(usual, above):
            raise ThresholdFileError(
                f"{path}: {name} is {getattr(usual, name):g}, above {above}, which is "
                f"{getattr(usual, above):g}; state values in this order."
            )


NAMES: Final = tuple(field.name for field in fields(Usual))
"""The names of all thresholds."""
