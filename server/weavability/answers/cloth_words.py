"""A cloth in one line, as a mill writes it."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from weavability.textiles.construction import Construction, Stage, ThreadSystem
from weavability.textiles.naming import name_of
from weavability.textiles.units import CM_PER_INCH
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

LARGEST_LOOKED_UP: Final = 32
"""Most ends and picks of a weave without a name that is compared with the named weaves."""

_STAGES: Final = {
    Stage.LOOM_STATE: " in the loom",
    Stage.GREY: " grey",
    Stage.FINISHED: " finished",
}


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
    stage = "" if construction.stage is None else _STAGES[construction.stage]
    return (
        f"{weave_in_words(construction.weave)}, "
        f"{_yarns(construction.warp)} × {_yarns(construction.weft)}, "
        f"{_setts(construction)}, {_width(construction)}{stage}"
    )


def weave_in_words(weave: Weave) -> str:
    """Return the name of a weave, or that of a named weave that it is; else its size."""
    known: str | None = weave.name
    if not known and max(weave.ends, weave.picks) <= LARGEST_LOOKED_UP:
        known = _looked_up(weave.rows)
    return known or f"weave of {weave.ends} ends × {weave.picks} picks"


@lru_cache(maxsize=256)
def _looked_up(rows: tuple[str, ...]) -> str | None:
    return name_of(Weave.from_rows(rows))


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


def _setts(construction: Construction) -> str:
    in_inches = "/warp/ends_per_in" in construction.inch_fields
    factor, unit = (CM_PER_INCH, "inch") if in_inches else (1.0, "cm")
    ends, picks = (
        f"{float(f'{threads.threads_per_cm * factor:.4g}'):g}"
        for threads in (construction.warp, construction.weft)
    )
    return f"{ends} × {picks} per {unit}"


def _width(construction: Construction) -> str:
    panels = f"{construction.panels} × " if (construction.panels or 1) > 1 else ""
    if "/width_in" in construction.inch_fields:
        return f"{panels}{construction.width_cm / CM_PER_INCH:.4g} inch"
    return f"{panels}{construction.width_cm:.4g} cm"
