"""A cloth in one line, as a mill writes it."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from weavability.textiles.construction import INCH_FORMS, Construction, Stage, ThreadSystem
from weavability.textiles.naming import name_of
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

LARGEST_LOOKED_UP: Final = 32
"""Most ends and picks of a weave without a name that is compared with the named weaves."""

STAGE_WORDS: Final = {
    Stage.LOOM_STATE: "in the loom",
    Stage.GREY: "grey",
    Stage.FINISHED: "finished",
}
"""What sett and width hold for."""


def cloth_in_words(construction: Construction) -> str:
    """Return weave, counts, setts and width, in the units in which the order states them.

    >>> from weavability.textiles.notation import parse_weave
    >>> def plain(designation, sett):
    ...     yarns = {"A": Yarn(designation=designation, fibre="cotton")}
    ...     return ThreadSystem(yarns=yarns, threads_per_cm=sett)
    >>> cloth_in_words(Construction(weave=parse_weave("plain"), width_cm=152.0,
    ...                             warp=plain("Ne 40", 48.0), weft=plain("Ne 36", 31.5)))
    'plain, Ne 40 × Ne 36, 48 × 31.5 per cm, 152 cm'
    """
    stage = "" if construction.stage is None else f" {STAGE_WORDS[construction.stage]}"
    return (
        f"{weave_in_words(construction)}, "
        f"{_yarns(construction.warp)} × {_yarns(construction.weft)}, "
        f"{setts_and_width(construction)}{stage}"
    )


def weave_in_words(construction: Construction) -> str:
    """Return the name of the weave, or that of a named weave that it is; else its size."""
    weave = construction.weave
    size = f"{weave.ends} ends × {weave.picks} picks"
    if construction.figured is not None or construction.design is not None:
        return f"figured design, {size}"
    known: str | None = weave.name
    if not known and max(weave.ends, weave.picks) <= LARGEST_LOOKED_UP:
        known = _looked_up(weave.rows)
    return known or f"weave of {size}"


@lru_cache(maxsize=256)
def _looked_up(rows: tuple[str, ...]) -> str | None:
    return name_of(Weave.from_rows(rows))


def setts_and_width(construction: Construction) -> str:
    """Return setts and width, each in the unit in which it is stated."""
    ends, ends_unit = _written(construction, "/warp/ends_per_cm")
    picks, picks_unit = _written(construction, "/weft/picks_per_cm")
    setts = (
        f"{ends} × {picks} per {ends_unit}"
        if ends_unit == picks_unit
        else f"{ends} ends per {ends_unit}, {picks} picks per {picks_unit}"
    )
    panels = f"{construction.panels} × " if (construction.panels or 1) > 1 else ""
    width, unit = _written(construction, "/width_cm")
    return f"{setts}, {panels}{width} {unit}"


def _written(construction: Construction, pointer: str) -> tuple[str, str]:
    figure, unit = stated_figure(construction, pointer)
    return f"{float(f'{figure:.4g}'):g}", unit


def stated_figure(construction: Construction, pointer: str) -> tuple[float, str]:
    """Return a figure that has an inch form as the order states it, and its unit.

    Args:
        construction: The order.
        pointer: That of the metric field.
    """
    metric = metric_figure(construction, pointer)
    inch, factor = INCH_FORMS[pointer]
    stated, figure = (
        (inch, metric * factor) if inch in construction.inch_fields else (pointer, metric)
    )
    return figure, stated.rpartition("_")[2]


def metric_figure(construction: Construction, pointer: str) -> float:
    """Return a figure that has an inch form.

    Raises:
        KeyError: It is a length that is not stated.
    """
    figures = {
        "/warp/ends_per_cm": construction.warp.threads_per_cm,
        "/weft/picks_per_cm": construction.weft.threads_per_cm,
        "/width_cm": construction.width_cm,
    }
    if construction.length_m is not None:
        figures["/length_m"] = construction.length_m
    return figures[pointer]


def _yarns(threads: ThreadSystem) -> str:
    """Return the first count, and how many others there are."""
    counts = list(dict.fromkeys(map(_count, threads.yarns.values())))
    return counts[0] + (f" (+{len(counts) - 1})" if len(counts) > 1 else "")


def _count(yarn: Yarn) -> str:
    if yarn.designation is not None:
        return yarn.designation
    if yarn.linear_density_tex is not None:
        return f"{yarn.linear_density_tex:g} tex"
    return yarn.fibre or "yarn by sample"
