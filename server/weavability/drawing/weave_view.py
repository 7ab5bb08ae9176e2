"""Draw what a request about a weave asks for: its point paper, or the face of the cloth."""

from __future__ import annotations

from typing import Final, Literal

from weavability.answers.weave_analysis.request import WeaveRequest
from weavability.answers.weave_analysis.resolved_request import WeaveCase, resolve_weave_request
from weavability.drawing.cloth_face import draw_cloth_face
from weavability.drawing.loose_cloth import loose_cloth_words
from weavability.drawing.point_paper import draw_point_paper

View = Literal["point_paper", "cloth_face"]

ASSUMED_PER_CM: Final = 20.0
ASSUMED_WARP: Final = "#2b4a63"
ASSUMED_WEFT: Final = "#efe8d8"


def draw_weave(request: WeaveRequest, *, view: View) -> str:
    """Draw a weave as SVG.

    Point paper shows the draft that the answer has in use: the given one if it weaves the cloth,
    else the spread one, else the least. Setts and colours that the face of the cloth needs and the
    request does not state are assumed, and listed in the title of the drawing.

    Args:
        request: The weave, and what else is known.
        view: What to draw.

    Returns:
        An SVG document.

    Raises:
        InputError: Something cannot be read; pointers are relative to the request.
    """
    case = resolve_weave_request(request)
    return _point_paper(case) if view == "point_paper" else _cloth_face(case)


def _point_paper(case: WeaveCase) -> str:
    name = case.name
    if case.drafts.given_faults:
        # The reader would take the drawing-in shown for the requested one.
        name = f"{name or 'Weave'} (the draft given does not weave it; drawn in another way)"
    return draw_point_paper(
        case.repeat,
        draft=case.drafts.in_use,
        name=name,
        layers=case.layers,
        faults=loose_cloth_words(case.structure, case.layers),
    )


def _cloth_face(case: WeaveCase) -> str:
    assumed = []
    ends_per_cm, picks_per_cm = case.setts.ends_per_cm, case.setts.picks_per_cm
    if ends_per_cm is None or picks_per_cm is None:
        ends_per_cm = ends_per_cm or picks_per_cm or ASSUMED_PER_CM
        picks_per_cm = picks_per_cm or ends_per_cm
        assumed.append(f"{ends_per_cm:g} ends and {picks_per_cm:g} picks per cm")
    warp: tuple[str, ...] = (ASSUMED_WARP,)
    weft: tuple[str, ...] = (ASSUMED_WEFT,)
    if case.colours is None:
        assumed.append("dark warp, light weft")
    else:
        warp, weft = case.colours.warp.sequence, case.colours.weft.sequence
        assumed += _undyed(case)
    name = case.name or "Cloth"
    return draw_cloth_face(
        case.repeat,
        warp_colours=warp,
        weft_colours=weft,
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        name=f"{name} (assumed: {'; '.join(assumed)})" if assumed else name,
        layers=case.layers,
        faults=loose_cloth_words(case.structure, case.layers),
    )


def _undyed(case: WeaveCase) -> list[str]:
    """Name the systems whose colours are not stated."""
    stated = {"warp": case.request.warp, "weft": case.request.weft}
    return [f"undyed {system}" for system, threads in stated.items() if threads is None]
