"""``/v1/windows``: what can be woven if two fields of an order are varied."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final, NamedTuple

from flask import Response, request

from weavability.answers.judged_grid import (
    MOST_POINTS_ALONE,
    MOST_WEAVINGS,
    weaves_anew,
    weavings_of,
)
from weavability.answers.window import Stretch, Window, axes_of, make_window
from weavability.drawing.window_view import draw_window
from weavability.looms.loom import Loom
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.json_or_svg import JSON_OR_SVG, figures_or_drawing
from weavability.service.http.problems import ProblemError
from weavability.service.http.work import (
    MOST_UNITS,
    UNITS_OF_A_MILLION_CROSSINGS,
    UNITS_OF_REQUIREMENTS,
    spend,
    spend_readings,
    units_of,
)
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import resolve_request
from weavability.service.requests.park import Park
from weavability.service.schemas.loom_schema import LoomSchema
from weavability.service.schemas.window_schema import WindowRequest, WindowRequestSchema
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.sentences import say
from weavability.textiles.weave_structure import MAX_KEPT_CELLS

_SCHEMA: Final = WindowRequestSchema()
_LOOM: Final = LoomSchema()

UNITS_OF_A_WINDOW: Final = 20
POINTS_A_UNIT: Final = 100
POINTS_ALONE_A_UNIT: Final = 4
"""Points that are a unit of work if each has to be read by itself."""

TIMES_REQUIRED_ALONE: Final = 2
"""Of these, if the order requires figures of its finished cloth: more than orders with requirements
take over others, because all that is required is computed for every point by itself."""

UNITS_OF_A_WEAVING: Final = 4
"""Of a figured design that is woven anew, beside its crossings."""

MOST_UNITS_OF_WEAVINGS: Final = 700
"""Of weaving a figured design anew for a window on a page, for which a person waits."""

POINTS_BY_WEAVING: Final = range(5, 16, 2)
"""Values of a field for which a figured design is woven anew, in a window on a page: as many as it
may take. They are odd, so that the order is one of the points."""

TOO_LARGE_TO_DRAW: Final = "It is not drawn. The order is too large to be judged at so many setts."

READINGS_OF_A_WINDOW: Final = 2
"""How often a design that is not remembered is read again at most, however many points there are:
for the grid, and once more if its points are read by themselves."""


@operation(
    "POST",
    "/v1/windows",
    tag="Windows",
    body=_SCHEMA,
    answer=Window,
    answer_words="The verdict over both fields, its borders, and the nearest better point",
    examples={"ends_and_picks": example_requests.WINDOW},
    problems=problems.OF_BODIES,
    media_types=JSON_OR_SVG,
    quotes={
        "units": UNITS_OF_A_WINDOW,
        "points": POINTS_A_UNIT,
        "points_alone": POINTS_ALONE_A_UNIT,
        "times_alone": UNITS_OF_REQUIREMENTS * TIMES_REQUIRED_ALONE,
        "most_alone": MOST_POINTS_ALONE,
        "kept_millions": MAX_KEPT_CELLS / 1e6,
        "readings": READINGS_OF_A_WINDOW,
        "most_weavings": MOST_WEAVINGS,
        "of_weaving": UNITS_OF_A_WEAVING,
    },
)
def compute_window() -> Response:
    """Compute what can be woven if two numeric fields of an order are varied.

    Every point of the grid has the verdict, the codes and the speed limit that a validation with
    these two values would find. The fields are any two numbers of construction and loom: picks and
    width, ends and picks, count and sett, speed and width. With `Accept: image/svg+xml` the window
    is drawn. A window takes {units} units of work and one for every {points} points. If both fields
    act on one figure, as the counts of two warp yarns do, each point is read by itself: then there
    may be {most_alone:,}, and {points_alone} of them take a unit. All of it counts twice for an
    order with requirements, points that are read by themselves {times_alone} times, and more for
    many yarns. A design of more than {kept_millions:.1f}
    million crossings, which is not remembered, counts {readings} times more, whatever its points. A
    figured design is woven anew for each sett, number of panels and of hooks: at most
    {most_weavings} times, each {of_weaving} units and its crossings.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolve_request(_SCHEMA, given, here.park)
    _refuse_foreign(found.request, found.loom, given, here.park)
    return figures_or_drawing(
        found.etag,
        compute=lambda: window_on(found.request, found.loom),
        draw=lambda: draw_window(window_on(found.request, found.loom)),
    )


def _refuse_foreign(read: WindowRequest, loom: Loom, given: Any, park: Park) -> None:
    """Refuse to vary what is no number, and what this loom cannot state, as the hooks of a dobby.

    Raises:
        InputError: At the pointer of the field.
    """
    named = None if read.loom_id is None else park.looms[read.loom_id]
    document = given["loom"] if named is None else named.document
    faults: list[Fault] = []
    axes = axes_of(read.construction, loom, read.across, read.along)
    for name, (place, values) in zip(("across", "along"), axes, strict=True):
        if place.is_of_loom:
            path = place.pointer.removeprefix("/loom/").split("/")
            first, last = (
                _faults_of(_stated(document, path, value), place.pointer)
                for value in (values[0], values[-1])
            )
            if first and last:
                faults += [Fault(f"/{name}/pointer", each.message, place.pointer) for each in first]
    if faults:
        raise InputError(faults)


def _faults_of(document: object, pointer: str) -> list[Fault]:
    """Return what is wrong with one field of a loom."""
    found: list[Fault] = []
    with collecting(found, below="/loom"):
        _LOOM.read(document)
    return [each for each in found if each.pointer == pointer]


def _stated(document: Any, path: Sequence[str], value: float) -> Any:
    """Return a JSON object, or a list, with a value stated at a path."""
    name, *rest = path
    if isinstance(document, list):
        place = int(name)
        return [*document[:place], _stated(document[place], rest, value), *document[place + 1 :]]
    inner = dict(document or {})
    inner[name] = _stated(inner.get(name), rest, value) if rest else value
    return inner


def window_on(read: WindowRequest, loom: Loom) -> Window:
    """Compute a window, and count its work."""
    across, along = read.across.points, read.along.points
    own = units_of(read.construction)
    spend(own * (UNITS_OF_A_WINDOW + across * along / POINTS_A_UNIT))
    of_window = axes_of(read.construction, loom, read.across, read.along)
    weavings = weavings_of(read.construction, *of_window)
    if weavings <= MOST_WEAVINGS:
        spend(weavings * _units_of_a_weaving(read.construction))
    spend_readings(
        read.construction.weave.matrix.size,
        READINGS_OF_A_WINDOW,
        instead=say("part.no_window", "judge single orders"),
    )
    made = make_window(read.construction, loom, across=read.across, along=read.along)
    times = 1 if read.construction.requirements is None else TIMES_REQUIRED_ALONE
    spend(own * times * made.points_alone / POINTS_ALONE_A_UNIT)
    return made.window


def _units_of_a_weaving(construction: Construction) -> float:
    millions = construction.weave.matrix.size / 1e6
    return UNITS_OF_A_WEAVING + millions * UNITS_OF_A_MILLION_CROSSINGS


class OnPage(NamedTuple):
    """A window on a page.

    Attributes:
        drawing: As SVG; empty if it is not drawn.
        note: What is said below it, or why it is not drawn.
    """

    drawing: str = ""
    note: str = ""


def window_on_page(
    construction: Construction,
    loom: Loom,
    pointers: tuple[str, str],
    stretch: Callable[[str, int], Stretch],
    *,
    points: int,
) -> OnPage:
    """Draw the window of an order, or say why it is not drawn.

    Args:
        construction: The order.
        loom: The loom.
        pointers: The fields that are varied, across and along.
        stretch: Returns the values of a field, so many.
        points: In each direction, unless a figured design is woven anew for each.
    """
    try:
        over, down = _points_of(construction, pointers, points)
        across, along = stretch(pointers[0], over), stretch(pointers[1], down)
        read = WindowRequest(
            construction=construction, loom=None, loom_id=None, across=across, along=along
        )
        drawing = draw_window(window_on(read, loom))
    except InputError as error:
        return OnPage(note=f"It is not drawn. {error.faults[0].message}")
    except ProblemError as problem:
        if problem.kind is not problems.TOO_MUCH_WORK:
            raise
        return OnPage(note=TOO_LARGE_TO_DRAW)
    if construction.design is None:
        return OnPage(drawing)
    return OnPage(
        drawing,
        f"It has {over} x {down} points, because the figured design is woven anew for each sett. "
        "A program that asks the service gets other setts, and more of one.",
    )


def _points_of(
    construction: Construction, pointers: tuple[str, str], usual: int
) -> tuple[int, int]:
    """Return how many points a page draws across and along.

    Raises:
        InputError: A figured design would be woven anew too often for any window.
    """
    woven = [weaves_anew(pointer) for pointer in pointers]
    if construction.design is None or not any(woven):
        return usual, usual
    of_one = _units_of_a_weaving(construction)
    most = min(MOST_WEAVINGS, MOST_UNITS_OF_WEAVINGS / of_one)
    found = [each for each in POINTS_BY_WEAVING if each ** sum(woven) <= most]
    if not found:
        weavings = POINTS_BY_WEAVING.start ** sum(woven)
        raise InputError.of(
            "/construction/weave",
            say(
                "fault.window.too_many_weavings_on_page",
                "A figured design is woven anew for each sett, at {weavings} of them for a window "
                "of the fewest points: {units:.0f} units of work, and a page does "
                "{most_units:,} at most. A program that asks the service gets up to "
                "{most_units_of_request:,}, and as few setts as it names.",
                weavings=weavings,
                units=weavings * of_one,
                most_units=MOST_UNITS_OF_WEAVINGS,
                most_units_of_request=MOST_UNITS,
            ),
        )
    over, down = (max(found) if each else usual for each in woven)
    return over, down
