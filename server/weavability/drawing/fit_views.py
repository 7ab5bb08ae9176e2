"""Draw a cloth on a loom as a report shows it: point paper, the face of the cloth, a pick."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from weavability.answers.weave_analysis.colours import UNDYED
from weavability.checks.finding import Finding, Severity
from weavability.drawing.cloth_face import draw_cloth_face
from weavability.drawing.insertion_curve import RequestedSpeed, insertion_svg
from weavability.drawing.loose_cloth import loose_cloth_words
from weavability.drawing.point_paper import draw_point_paper
from weavability.drawing.thread_bands import ThreadBand, YarnSwatch
from weavability.drawing.weave_view import ASSUMED_WARP, ASSUMED_WEFT
from weavability.looms.drawing_in import OnHooks
from weavability.looms.fit import Fit
from weavability.looms.weft_insertion import SpeedLimitName
from weavability.textiles.thread_systems import SystemFacts
from weavability.textiles.yarns import Yarn

MOST_RULED: Final = 80
"""Most threads of a weave that are ruled in a picture as small as half a page; more are shown as a
picture without lines."""

BESIDE: Final = 470.0
"""Pixels that a drawing has if it is half as wide as a sheet of A4: its words can be read there."""

_FACE: Final = 300.0
"""Pixels of the longer side of a face beside which its words can be read."""

_COLOUR: Final = re.compile(r"#[0-9a-fA-F]{6}")


def yarn_bands(fit: Fit) -> tuple[ThreadBand, ThreadBand]:
    """Return warp and weft in their orders, with the colours that are stated.

    If the order states no colour at all, the warp is dark and the weft light, as in drawings of a
    weave; if it states some, the other yarns are undyed.
    """
    stated = fit.cloth.construction
    has_colours = any(
        yarn.colour for system in (stated.warp, stated.weft) for yarn in system.yarns.values()
    )
    warp, weft = (UNDYED, UNDYED) if has_colours else (ASSUMED_WARP, ASSUMED_WEFT)
    return (
        _band("Warp", fit.cloth.warp, stated.warp.yarns, warp),
        _band("Weft", fit.cloth.weft, stated.weft.yarns, weft),
    )


def _band(name: str, system: SystemFacts, yarns: Mapping[str, Yarn], undyed: str) -> ThreadBand:
    return ThreadBand(
        name=name,
        sequence=system.order.sequence,
        order=system.order.text,
        yarns={
            key: YarnSwatch(_colour(yarns[key], undyed), yarn_in_words(yarns[key]))
            for key in system.order.counts
        },
    )


def _colour(yarn: Yarn, undyed: str) -> str:
    stated = yarn.colour or ""
    return stated if _COLOUR.fullmatch(stated) else undyed


def yarn_in_words(yarn: Yarn) -> str:
    """Name a yarn as it is stated: its count and its fibre.

    >>> yarn_in_words(Yarn(designation="Ne 40/2", fibre="combed cotton"))
    'Ne 40/2 combed cotton'
    """
    count = yarn.designation or ""
    if not count and yarn.linear_density_tex is not None:
        count = f"{yarn.linear_density_tex:g} tex"
    if not count and yarn.diameter_mm is not None:
        count = f"{yarn.diameter_mm:g} mm"
    return " ".join(each for each in (count, yarn.fibre) if each)


def draw_fit_paper(fit: Fit) -> str:
    """Draw the weave with its drawing-in and lift plan, on hooks alone, with bands of colours."""
    cloth = fit.cloth
    warp, weft = yarn_bands(fit)
    return draw_point_paper(
        cloth.weave,
        draft=fit.draft,
        tightest=cloth.setting.tightest,
        layers=cloth.symbols.layered_weave,
        warp=warp,
        weft=weft,
        largest_ruled=MOST_RULED,
        widest=BESIDE,
        on_hooks=isinstance(fit.drawing_in, OnHooks),
        faults=loose_cloth_words(cloth.structure, cloth.symbols.layered_weave),
    )


def draw_fit_face(fit: Fit) -> str:
    """Draw the face of the cloth in the colours of its yarns."""
    cloth = fit.cloth
    bands = yarn_bands(fit)
    warp, weft = ([band.yarns[key].colour for key in band.sequence] for band in bands)
    return draw_cloth_face(
        cloth.weave,
        warp_colours=warp,
        weft_colours=weft,
        ends_per_cm=cloth.warp.threads_per_cm,
        picks_per_cm=cloth.weft.threads_per_cm,
        layers=cloth.symbols.layered_weave,
        yarns=bands,
        longest=_FACE,
        faults=loose_cloth_words(cloth.structure, cloth.symbols.layered_weave),
    )


def draw_fit_pick(fit: Fit, findings: Iterable[Finding]) -> str:
    """Draw a pick over the crank angle with the weft that uses most of its strength.

    Args:
        fit: The cloth on the loom.
        findings: What was found of them; those of the speed are named.
    """
    weft, speed = fit.hardest_weft.loaded, fit.speed_picks_per_min
    wished = fit.cloth.construction.requested_speed_picks_per_min
    is_slower = wished is not None and fit.limited_by.name is not SpeedLimitName.REQUESTED_SPEED
    return insertion_svg(
        weft.motion,
        weft.strained,
        speed_picks_per_min=speed,
        reed_width_cm=fit.cloth.widths.reed_cm,
        requested=RequestedSpeed(wished, fit.limited_by.name.value)
        if is_slower and wished is not None
        else None,
        beyond=[
            f"{one.code.value} ({one.severity.value})"
            for one in findings
            if one.severity is Severity.ERROR
            or (one.code.startswith("insertion.") and one.severity is Severity.WARNING)
        ],
    )
