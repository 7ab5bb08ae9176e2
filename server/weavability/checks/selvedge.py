"""Checks of the selvedge: does it hold the weft, is it set too close, has it hooks enough?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import NARROW
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.rules import (
    Compared,
    Observation,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.denting import filled_panel_cm
from weavability.looms.thresholds import Usual
from weavability.looms.wide_selvedges import selvedges_in_reed
from weavability.textiles.numbers import N, Truth, no, passed, short
from weavability.textiles.required_values import OF_WHOLE_WIDTH
from weavability.textiles.selvedge_facts import MOST_USUAL_ENDS
from weavability.textiles.sentences import NO_WORDS, Sentence, say

SELVEDGE: Final = "/construction/selvedge"
WEAVE: Final = "/construction/selvedge/weave"

FLOAT_OF_PAIRS: Final = 2
"""Ends that a pick passes at a time in a weave of ends in pairs."""

describe(
    CheckCode.SELVEDGE_UNBOUND,
    says="The ends at the edge must bind the weft, and hold it when a shuttle returns it.",
    compares="longest float of the ends at the edge with {selvedge_float_most_picks:g} picks; on a "
    "shuttle loom without a catch cord also the picks that share their shed with the next, with "
    "none",
    formula="of the selvedge weave, or of the outermost ends of the ground; two picks share a shed "
    "if no end changes between them",
    source="[BY-MECHANICS]",
)


def _turns(f: Facts[N]) -> Truth:
    """Return whether the edge ends alone hold the weft at its turn."""
    edge = f.order.selvedge
    return edge.is_known & f.loom.is_shuttle & no(edge.has_catch_cord)


@compare(CheckCode.SELVEDGE_UNBOUND, passed, Severity.WARNING, unit="picks")
def turns_unheld(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Require a change of shed: else the returning weft pulls the pick before it out."""
    edge = f.order.selvedge
    return edge.unheld_turns, (0 * edge.unheld_turns,), edge.is_stated & _turns(f)


@compare(CheckCode.SELVEDGE_UNBOUND, passed, Severity.NOTE, unit="picks")
def turns_of_ground_unheld(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Note the same of the ground, if the order leaves open how the edge weaves."""
    edge = f.order.selvedge
    return edge.unheld_turns, (0 * edge.unheld_turns,), no(edge.is_stated) & _turns(f)


@compare(CheckCode.SELVEDGE_UNBOUND, passed, Severity.WARNING, unit="picks")
def floats_too_long(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Limit the float of the edge ends: an edge that binds seldom is loose, and curls."""
    edge = f.order.selvedge
    is_judged = edge.is_stated & edge.is_known
    return edge.longest_float_picks, (u.selvedge_float_most_picks,), is_judged


@compare(CheckCode.SELVEDGE_UNBOUND, passed, Severity.NOTE, unit="picks")
def floats_of_ground_too_long(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Note the same of the ground, if the order leaves open how the edge weaves."""
    edge = f.order.selvedge
    is_judged = no(edge.is_stated) & edge.is_known
    return edge.longest_float_picks, (u.selvedge_float_most_picks,), is_judged


_UNHELD: Final = (
    "{actual} picks in the repeat at the edge lie in the same shed as the next, so that the "
    "returning shuttle pulls them out. "
)
_FLOATING: Final = (
    "The ends at the edge float over {actual} picks, more than {limit:g}: the selvedge stays loose "
    "and curls. "
)
_WEAVE_IT: Final = "Weave the selvedge plain, or as a weft rib of ends in pairs."
_STATE_IT: Final = "State the selvedge: its ends, and a weave such as plain."

message(turns_unheld, pointer=WEAVE, turn=_UNHELD + _WEAVE_IT)
message(turns_of_ground_unheld, pointer=SELVEDGE, ground_turn=_UNHELD + _STATE_IT)
message(floats_too_long, pointer=WEAVE, float=_FLOATING + _WEAVE_IT)
message(floats_of_ground_too_long, pointer=SELVEDGE, ground_float=_FLOATING + _STATE_IT)

describe(
    CheckCode.SELVEDGE_TIGHT,
    says="A selvedge that is set closer than its weave allows rides up at the fell.",
    compares="tightness of the selvedge at its own sett with the loom's limit",
    formula="tightness as for the ground, with the ends of a selvedge dent, the yarn and the weave "
    "of the selvedge; if the order states no weave but fuller dents than are usual, with the "
    "ground's and two ends as one",
    source="[PEIRCE-1937]; [LOOM-LIMIT]",
)


@compare(CheckCode.SELVEDGE_TIGHT, passed, Severity.WARNING, unit="%")
def too_tight(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with the loom's limit: the picks are those of the ground, and the edge jams first."""
    return f.fit.selvedge_tightness_pct, (f.loom.max_tightness_pct,), True


_SET: Final = "The selvedge is set at {actual:.0f} % of its jam; the loom beats up to {limit:g} %. "


@message(
    too_tight,
    pointer="/construction/selvedge/ends_per_dent",
    any=_SET + "Draw fewer ends in its dents, or let two ends weave as one, as in a weft rib.",
    in_pairs=_SET + "Draw fewer ends in its dents, or give it a finer yarn.",
    side_by_side="The ends of the selvedge side by side take {actual:.0f} % of their room, in any "
    "weave; the loom beats up to {limit:g} %. Draw fewer ends in its dents, or give it a finer "
    "yarn.",
)
def _too_tight(f: Facts[float], words: Words, seen: Observation) -> Wording:
    if not short(f.fit.selvedge_cover_pct, seen.actual):
        return Wording(variant="side_by_side")
    pairs = f.order.selvedge.mean_float_of_picks >= FLOAT_OF_PAIRS
    return Wording(variant="in_pairs" if pairs else "any")


describe(
    CheckCode.SELVEDGE_WIDE,
    says="A wide selvedge presses the ground; a very wide one is a border or a mistake, and makes "
    "the cloth wider than ordered.",
    compares="width of a selvedge in the reed with {selvedge_widest_cm:g} cm, of both with "
    "{selvedge_widest_share_pct:g} % of the width of the panel, and each with that of "
    f"{MOST_USUAL_ENDS} ends; of those that pass one of these but not all, how much closer they "
    "set the ground in a reed that is chosen for the ordered width with "
    "{reed_stock_tolerance_pct:g} %",
    formula="width = ends of the selvedge x ends per dent of the ground / those of the selvedge / "
    "ends per cm of the ground in the reed; what is more than the limit is beside the ordered "
    "width, unless a stated reed gives it another; closer by = dents per cm x ends per dent / "
    "ends per cm of the ground in the reed - 1",
    source="",
)


@compare(CheckCode.SELVEDGE_WIDE, passed, Severity.WARNING, unit="cm", cleared_by=(NARROW,))
def too_wide(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find selvedges that would take the reed from the ground."""
    edges = selvedges_in_reed(f.order, f.cloth)
    return edges.width_cm, (edges.within_cm,), True


_BORDER: Final = (
    " Use fewer selvedge ends; if a border is meant, put it into weave and warp order instead."
)
_TAKES: Final = (
    "The {ends} ends of a selvedge take {actual:.1f} cm in the reed beside a ground at its sett; "
    "up to {limit:.1f} cm is part of the ordered width. "
)


@message(
    too_wide,
    pointer="/construction/selvedge/ends_per_side",
    beside=_TAKES + "The rest is beside it, so that a panel is {panel_cm:.1f} cm wide in the reed: "
    "{grey_cm:.1f} cm in the grey, not {ordered_cm:.1f} cm. What is within it sets the ground "
    "{closer_pct:.1f} % closer.{judged}" + _BORDER,
    in_stated_reed=_TAKES + "With the {ground_ends} ends of the ground they fill {panel_cm:.1f} cm "
    "of the stated reed: {ends_per_cm:.1f} ends/cm in the ground there, and sett, width and weft "
    "crimp need {needed_per_cm:.1f}." + _BORDER,
)
def _too_wide(f: Facts[float], words: Words, seen: Observation) -> Wording:
    ordered_cm, panel_cm = f.cloth.panel_reed_width_cm, filled_panel_cm(f.order, f.cloth)
    dents = f.order.denting.dents_per_10cm
    return Wording(
        values={
            "ends": _ends_a_side(f),
            "panel_cm": panel_cm,
            "grey_cm": f.cloth.grey_width_cm * panel_cm / ordered_cm,
            "ordered_cm": f.cloth.grey_width_cm,
            "closer_pct": _closer_pct(f),
            "judged": _judged_with_it(words),
            "ground_ends": int(f.cloth.ground_ends),
            "ends_per_cm": f.fit.denting.ends_per_dent * dents / 10,
            "needed_per_cm": f.cloth.ground_ends / ordered_cm,
        },
        variant="in_stated_reed" if f.order.denting.is_reed_stated else "beside",
    )


def _judged_with_it(words: Words) -> Sentence:
    """Say that what is required of the width or of a running metre is that of the whole cloth."""
    is_required = any(one.figure in OF_WHOLE_WIDTH for one in words.requirements)
    if words.figures is None or not is_required:
        return NO_WORDS
    return say(
        "part.required_with_selvedges",
        " What the customer requires of the finished width and of the mass per metre is compared "
        "with the whole cloth, {finished_cm:.1f} cm wide when it is finished.",
        finished_cm=words.figures.whole_width_cm,
    )


def _ends_a_side(f: Facts[float]) -> int:
    return int(f.order.selvedge_ends / (2 * f.order.panels))


def _closer_pct(f: Facts[N]) -> N:
    """Return how much closer the ground is in the reed that is chosen than its sett needs."""
    chosen = f.fit.denting.needed_dents_per_10cm * f.fit.denting.ends_per_dent / 10
    return 100 * (chosen * f.cloth.panel_reed_width_cm / f.cloth.ground_ends - 1)


@compare(CheckCode.SELVEDGE_WIDE, passed, Severity.NOTE, unit="%")
def presses(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find unusual selvedges within the width that set the ground closer than a reed may."""
    edges, denting = selvedges_in_reed(f.order, f.cloth), f.fit.denting
    # In the reed that is chosen, so that to state its denting changes nothing.
    side_dents = f.order.selvedge_ends / (2 * f.order.panels) / denting.selvedge_ends_per_dent
    ground_dents = f.cloth.ground_ends / denting.ends_per_dent
    width_cm = f.cloth.panel_reed_width_cm * side_dents / ground_dents
    is_unusual = f.order.selvedge.are_many | passed(width_cm, edges.usual_cm)
    is_within: Truth = no(passed(edges.width_cm, edges.within_cm))
    applies = is_unusual & is_within & no(f.order.denting.is_reed_stated)
    return _closer_pct(f), (u.reed_stock_tolerance_pct,), applies


@message(
    presses,
    pointer="/construction/selvedge/ends_per_side",
    note="The selvedges, of {ends} ends each, are part of the ordered width, over which the ends "
    "of the ground are counted: in the reed these are {actual:.1f} % closer than sett, width and "
    "weft crimp need. Use fewer selvedge ends, or expect a closer ground.",
)
def _presses(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"ends": _ends_a_side(f)})


describe(
    CheckCode.SELVEDGE_HOOKS,
    says="Selvedge ends that weave differently from the ground need hooks of their own.",
    compares="ends of the selvedge weave that no end of the ground weaves like with the hooks kept "
    "for selvedges",
    formula="distinct columns of the selvedge weave that are no column of the ground",
    source="[LOOM-LIMIT]",
)


@compare(CheckCode.SELVEDGE_HOOKS, passed, Severity.WARNING, unit="hooks")
def too_few_hooks(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Require a hook for every end that no hook of the ground can lift."""
    edge = f.order.selvedge
    return edge.own_lifts, (f.shedding.selvedge_hooks,), edge.is_stated


message(
    too_few_hooks,
    pointer=WEAVE,
    any="The selvedge weave needs {actual} hooks of its own; the loom keeps {limit} for selvedges. "
    "Choose a weave with fewer different ends.",
)
