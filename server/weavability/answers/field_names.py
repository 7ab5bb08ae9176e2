"""What people call a field of a request: its words, without its unit.

Sentences, axes, the form and the pages of service and client name fields by these words; a copy of
this module is part of the client. A field that is not listed is called by its name without its
unit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

_OF_YARN: Final[Mapping[str, str]] = {
    # A number in a designation is the count.
    "designation": "count",
    "fibre_density_g_per_cm3": "density of the fibre",
    "diameter_mm": "measured diameter",
    "strength_cv_pct": "variation of strength",
    "breaking_elongation_pct": "elongation at break",
    "folding_take_up_pct": "take-up in folding",
    "twist_per_m": "twist",
    "twist_direction": "direction of twist",
    "elastane_draft": "draft of the elastane",
    "sample_length_m": "length of a weighed sample",
    "sample_length_yd": "length of a weighed sample",
    "sample_mass_g": "mass of a weighed sample",
    "sample_mass_grains": "mass of a weighed sample",
    "tape_width_mm": "width of a tape",
    "tape_thickness_mm": "thickness of a tape",
    "flattening_ratio": "width over thickness",
}
_OF_ORDER: Final[Mapping[str, str]] = {
    "warp/ends_per_in": "ends per inch",
    "weft/picks_per_in": "picks per inch",
    "selvedge/ends_per_side": "selvedge ends a side",
    "selvedge/ends_per_dent": "selvedge ends in a dent",
    "selvedge/shafts": "shafts of the selvedge",
    "selvedge/yarn": "yarn of the selvedge",
    "selvedge/weave": "weave of the selvedge",
    "selvedge/leno_ends_per_side": "leno ends a side",
    "selvedge/catch_cord_ends": "ends of catch cords",
    "panels": "panels side by side",
    "panel_gap_cm": "reed left between panels",
    "order/piece_length_m": "length of a piece",
    "reed/dents_per_10cm": "dents of the reed",
    "reed/count": "reed count",
    "reed/ends_per_dent": "ends in a dent",
    "reed/wire_share_pct": "share of the wire in a dent",
    "finishing/width_shrinkage_pct": "shrinkage in width",
    "finishing/length_shrinkage_pct": "shrinkage in length",
    "finishing/relaxation_pct": "relaxation off the loom",
    "finishing/mass_change_pct": "change of mass in finishing",
    "allowances/warp_waste_pct": "waste of warp yarn",
    "allowances/weft_waste_pct": "waste of weft yarn",
    "allowances/size_pct": "size on the warp",
    "allowances/loom_waste_m": "warp lost on the loom",
    "allowances/size_strength_gain_pct": "gain of strength by size",
    "allowances/size_elongation_loss_pct": "loss of elongation at break by size",
    "requested_speed_picks_per_min": "planned speed",
}
_OF_LOOM: Final[Mapping[str, str]] = {
    # These say that they are of the loom, or are of nothing else.
    "cloth_roll_diameter_cm": "diameter of the cloth roll",
    "cloth_tube_diameter_cm": "diameter of the cloth tube",
    "insertion/max_rate_m_per_min": "greatest insertion rate",
    "insertion/entry_deg": "angle of entry of the weft",
    "insertion/transfer_deg": "angle of hand-over of the weft",
    "insertion/exit_deg": "angle of exit of the weft",
    "insertion/overrun_cm": "rapier travel outside the cloth",
    "insertion/picks_per_insertion": "picks in an insertion",
    "insertion/transfer_travel_cm": "rapier travel before hand-over",
    "insertion/extra_weft_cm": "weft beyond the reed width",
    "insertion/free_weft_length_m": "weft between feeder and carrier",
    "insertion/base_tension_cn_per_tex": "weft tension at rest",
    "insertion/withdrawal_factor": "factor of withdrawal of weft",
    "insertion/friction_coefficient": "friction of the weft",
    "insertion/wrap_deg": "wrap angle of the weft",
    "insertion/initial_modulus_times": "initial over mean stiffness of weft",
    "insertion/max_feeder_speed_m_per_min": "greatest speed of the weft feeder",
    "shedding/max_repeat_picks": "greatest repeat of the shedding in picks",
    "shedding/max_pattern_picks": "greatest pattern of the shedding in picks",
    "shedding/max_speed_picks_per_min": "greatest speed of shedding",
    "shedding/max_healds_per_cm_per_shaft": "most healds per cm on a shaft",
    "shedding/max_healds_per_shaft": "most healds on a shaft",
    "shedding/ends_per_hook": "ends on a hook",
    "shedding/harness_ends_per_cm": "sett of the harness",
    "shedding/cord_cm": "height of the hooks",
    "shedding/hook_lift_cm": "lift of the hooks",
    "picks_per_cm/min": "fewest picks per cm of the take-up",
    "picks_per_cm/max": "most picks per cm of the take-up",
    "weft_tex/min": "linear density of the finest weft",
    "weft_tex/max": "linear density of the coarsest weft",
    "warp_beam/flange_diameter_cm": "diameter of the beam flanges",
    "warp_beam/barrel_diameter_cm": "diameter of the beam barrel",
    "warp_beam/width_cm": "width of the warp beam",
    "warp_beam/count": "number of warp beams",
    "warp_beam/density_g_per_cm3": "density of warp on the beam",
    "warp_strain/base_tension_cn_per_tex": "warp tension at rest",
    "warp_strain/base_tension_pct": "warp tension at rest",
    "warp_strain/shed_half_height_cm": "half height of the shed",
    "warp_strain/easing_pct": "easing of the shed",
    "running/warp_stops_per_100k_picks": "warp stops in 100 000 picks",
    "running/weft_stops_per_100k_picks": "weft stops in 100 000 picks",
    "running/minutes_per_warp_stop": "minutes for a warp stop",
    "running/minutes_per_weft_stop": "minutes for a weft stop",
    "running/looms_per_weaver": "looms a weaver",
    "running/looms_per_set": "looms in a set",
    "running/hours_per_day": "running hours of a day",
    "air_m3_per_h": "compressed air of the loom",
    "reeds_in_stock_dents_per_10cm": "reeds in stock",
    "loom_hour": "price of a loom hour",
    "life_years": "life of the loom in years",
    "hours_per_year": "running hours of a year",
}
_REQUIRED: Final[Mapping[str, str]] = {"mass_g_per_m": "mass of a running metre"}
_LIMITS: Final[Mapping[str, str]] = {"min": "least", "max": "greatest", "nominal": "nominal"}

_UNIT: Final = re.compile(
    r"_(?:picks_per_min|m_per_min|m_per_s|g_per_m2?|g_per_cm3|cn_per_tex|tex|pct|cm|mm|m|in|yd|kw"
    r"|cn|deg)$"
)
_A_SETT: Final = re.compile(r"(?:ends|picks)_per_cm")
_EXTREME: Final = re.compile(r"^(min|max)_")

POINTER: Final = re.compile(r"/(?:construction|loom|prices)(?:/[A-Za-z0-9_]+)+")
"""A field of a request, as messages name it."""


def own_words(pointer: str) -> str:
    """Name a field apart from what it is of.

    >>> own_words("/construction/weft/yarns/A/strength_cv_pct"), own_words("/loom/reed_width_cm")
    ('variation of strength', 'reed width')
    """
    part, *path = pointer.strip("/").split("/")
    if "yarns" in path and path[-1] in _OF_YARN:
        return _OF_YARN[path[-1]]
    if path[:1] == ["speed_curve"] and path[-1] == "picks_per_min":
        return "speed"
    listed = _OF_LOOM if part == "loom" else _OF_ORDER
    return listed.get("/".join(path)) or _without_unit(path[-1] if path else part)


def field_in_words(pointer: str) -> str:
    """Name a field of a request, and what it is of.

    >>> field_in_words("/construction/weft/yarns/A/tenacity_cn_per_tex")
    'tenacity of weft yarn A'
    >>> field_in_words("/construction/weft/crimp_pct"), field_in_words("/loom/weft_selectors")
    ('weft crimp', 'weft selectors of the loom')
    >>> field_in_words("/construction/requirements/mass_g_per_m2/max")
    'greatest required mass'
    >>> field_in_words("/construction/requirements/fibre_pct/cotton/min")
    'least required share of cotton'
    >>> field_in_words("/construction/warp/beams/1/pile_ratio")
    'pile ratio of warp beam no. 2'
    >>> field_in_words("/construction/width_in"), field_in_words("/construction/warp/ends_per_in")
    ('width', 'warp ends per inch')
    """
    words = own_words(pointer)
    match pointer.strip("/").split("/"):
        case ["construction", "requirements", "fibre_pct", fibre, limit]:
            return f"{_LIMITS.get(limit, limit)} required share of {fibre}"
        case ["construction", "requirements", figure, limit]:
            how = _LIMITS.get(limit) or f"{_without_unit(limit)} of the"
            return f"{how} required {required_figure(figure)}"
        case ["construction", "warp" | "weft" as system, "yarns", key, _]:
            return f"{words} of " + (
                f"each {system} yarn" if key == "*" else f"{system} yarn {key}"
            )
        case ["construction", "warp", "beams", place, _] if place.isdecimal():
            return f"{words} of warp beam no. {int(place) + 1}"
        case ["construction", "warp" | "weft" as system, _]:
            return f"{system} {words}"
        case ["loom", "speed_curve", place, _] if place.isdecimal():
            return f"{words} of the loom at point no. {int(place) + 1} of its curve"
        case ["loom", *path] if "/".join(path) not in _OF_LOOM:
            return f"{words} of the loom"
    return words


def required_figure(name: str) -> str:
    """Name a figure that a customer may require: the mass of a running metre apart.

    >>> required_figure("mass_g_per_m"), required_figure("mass_g_per_m2")
    ('mass of a running metre', 'mass')
    """
    return _REQUIRED.get(name) or _without_unit(name)


def named_in_words(name: str) -> str:
    """Name a field of a yarn or of an order by the last part of its pointer.

    >>> named_in_words("strength_cv_pct"), named_in_words("width_shrinkage_pct")
    ('variation of strength', 'shrinkage in width')
    """
    return _OF_YARN.get(name) or _NAMED.get(name) or _without_unit(name)


_NAMED: Final[Mapping[str, str]] = {
    pointer.removeprefix(group): words
    for pointer, words in _OF_ORDER.items()
    for group in ("finishing/", "allowances/")
    if pointer.startswith(group)
}


def in_sentence(text: str) -> str:
    """Write the fields that a sentence points at in words.

    >>> in_sentence("It rests on /construction/weft/crimp_pct = 4 %.")
    'It rests on weft crimp = 4 %.'
    """
    return POINTER.sub(lambda found: field_in_words(found[0]), text)


def _without_unit(name: str) -> str:
    """Return a name as words, without its unit; that of a sett is all that it has."""
    if _A_SETT.fullmatch(name) is None:
        name = _UNIT.sub("", name)
    name = re.sub(r"_per_h$", "_an_hour", name)
    name = _EXTREME.sub(lambda found: f"{_LIMITS[found[1]]}_", name)
    return name.replace("_", " ")
