"""A request about a weave with everything resolved: what sheet, findings and drawing are made from.

Every fact is computed once. What was not stated and is needed is assumed, with a line in the
ledger.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from weavability.answers.weave_analysis.colours import ColourCase, resolve_colours
from weavability.answers.weave_analysis.drafts import Drafts, find_drafts
from weavability.answers.weave_analysis.request import WeaveRequest
from weavability.answers.weave_analysis.weave_shedding import (
    HooksForWeave,
    ShaftsForWeave,
    resolve_motion,
)
from weavability.textiles.assumptions import Assumption, Grade, Ledger, ValueBand
from weavability.textiles.bounds import ENDS_PER_CM, PICKS_PER_CM, WIDTH_CM, Bounds
from weavability.textiles.cloth_bounds import MOST_ENDS
from weavability.textiles.construction import Layers
from weavability.textiles.errors import pointing_below
from weavability.textiles.guards import between, whole
from weavability.textiles.jacquard import HookPlan, plan_hooks
from weavability.textiles.layered_weave import LayeredWeave, layered_weave
from weavability.textiles.naming import LARGEST_NAMED, name_of
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import Repeat, Weave
from weavability.textiles.weave_structure import Structure, analyse


@dataclass(frozen=True, slots=True, kw_only=True)
class Setts:
    """Setts and width, as far as they are stated or follow.

    Attributes:
        total_ends: Ends of the ground over the whole width.
        reed_width_cm: Width of those ends in the reed.
        ends_per_cm_in_reed: The one over the other; as in the cloth where they are not known.
    """

    ends_per_cm: float | None
    picks_per_cm: float | None
    total_ends: int | None
    reed_width_cm: float | None
    ends_per_cm_in_reed: float | None


LEAST_WIDTH_KEPT: Final = 0.85
"""Width of a close cloth over its width in the reed; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveCase:
    """A resolved request.

    Attributes:
        repeat: The weave at its true smallest repeat.
        recognised_name: What the trade calls its matrix; ``None`` also where it is too large to be
            compared with the named weaves.
        lift_swing: Greatest less least share of the ends raised on a pick, 0 to 1.
        shedding: The shedding motion; ``None`` if none is given.
        hooks: The repeat on the hooks; ``None`` without a Jacquard, or where they do not hold it.
        colours: Both thread orders, where at least one is stated.
        layers: The layers that are declared.
    """

    request: WeaveRequest
    repeat: Weave
    recognised_name: str | None
    structure: Structure
    lift_swing: float
    setts: Setts
    shedding: ShaftsForWeave | HooksForWeave | None
    drafts: Drafts
    hooks: HookPlan | None
    colours: ColourCase | None
    layers: LayeredWeave | None
    assumptions: tuple[Assumption, ...]

    @property
    def name(self) -> str:
        """The canonical notation, given or recognised; ``""`` where the weave has none."""
        return self.repeat.name or self.recognised_name or ""

    @property
    def sett_pointer(self) -> str:
        """The field of the request that states how dense the ends are."""
        return "/total_ends" if self.request.ends_per_cm is None else "/ends_per_cm"

    @property
    def on_hooks(self) -> bool:
        """Whether a Jacquard is to weave it."""
        return isinstance(self.shedding, HooksForWeave)


def resolve_weave_request(request: WeaveRequest) -> WeaveCase:
    """Resolve a request, with every assumption written down.

    Raises:
        InputError: Something cannot be read; pointers are relative to the request.
    """
    ledger = Ledger()
    for note in request.weave_notes:
        ledger.repeat(note, "/weave")
    setts = _setts(request, ledger)
    shedding = None
    if request.shedding is not None:
        shedding = resolve_motion(
            request.shedding, ledger, has_sett_in_reed=setts.ends_per_cm_in_reed is not None
        )
    colours = resolve_colours(request.warp, request.weft, ledger)
    repeat = Repeat.of(request.weave)
    return WeaveCase(
        request=request,
        repeat=repeat.weave,
        recognised_name=name_if_small(repeat.weave),
        structure=analyse(repeat),
        lift_swing=repeat.lift_swing,
        setts=setts,
        shedding=shedding,
        drafts=find_drafts(
            repeat,
            given=request.draft,
            shedding=shedding,
            ends_per_cm_in_reed=setts.ends_per_cm_in_reed,
        ),
        hooks=_hooks(repeat.weave, shedding, setts),
        colours=colours,
        layers=_layers(repeat.weave, request.layers),
        assumptions=tuple(ledger),
    )


def _layers(weave: Weave, stated: Layers | None) -> LayeredWeave | None:
    if stated is None:
        return None
    with pointing_below("/layers"):
        return layered_weave(weave, stated)


def name_if_small(repeat: Weave) -> str | None:
    """Return the name of a weave that is at its true repeat, where it is small enough to have one.

    >>> name_if_small(Weave.from_rows(["011", "101", "110"]))
    '2/1 twill Z'
    """
    return name_of(repeat) if max(repeat.picks, repeat.ends) <= LARGEST_NAMED else None


def _setts(request: WeaveRequest, ledger: Ledger) -> Setts:
    """Check what is stated, and derive ends from width or width from ends."""
    ends_per_cm = _sett("ends_per_cm", request.ends_per_cm, ENDS_PER_CM)
    picks_per_cm = _sett("picks_per_cm", request.picks_per_cm, PICKS_PER_CM)
    total_ends, width_cm = request.total_ends, request.reed_width_cm
    if total_ends is not None:
        whole("total_ends", total_ends, least=1, most=MOST_ENDS)
    if width_cm is not None:
        between("reed_width_cm", width_cm, least=WIDTH_CM.least, most=WIDTH_CM.most)
    if ends_per_cm is not None and total_ends is None and width_cm is not None:
        ends = min(MOST_ENDS, max(1, round(ends_per_cm * width_cm)))
        total_ends = ledger.note(
            "/total_ends",
            ends,
            unit="ends",
            reason=say(
                "assumption.weave_request.total_ends",
                "ends per cm x reed width: contraction in the width left out",
            ),
            grade=Grade.ESTIMATE,
            band=ValueBand(round(LEAST_WIDTH_KEPT * ends), ends),
        )
    elif ends_per_cm is not None and total_ends is not None and width_cm is None:
        width_cm = ledger.note(
            "/reed_width_cm",
            total_ends / ends_per_cm,
            unit="cm",
            reason=say(
                "assumption.weave_request.reed_width",
                "ends / ends per cm: contraction in the width left out",
            ),
            grade=Grade.ESTIMATE,
            band=ValueBand(total_ends / ends_per_cm, total_ends / ends_per_cm / LEAST_WIDTH_KEPT),
        )
    return Setts(
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        total_ends=total_ends,
        reed_width_cm=width_cm,
        ends_per_cm_in_reed=_sett_in_reed(request, total_ends, width_cm, ledger),
    )


def _sett(name: str, per_cm: float | None, bounds: Bounds) -> float | None:
    if per_cm is None:
        return None
    return between(name, per_cm, least=bounds.least, most=bounds.most)


def _sett_in_reed(
    request: WeaveRequest, total_ends: int | None, width_cm: float | None, ledger: Ledger
) -> float | None:
    """Return the ends per cm in the reed, which healds and harness must give."""
    if total_ends is not None and width_cm is not None:
        return total_ends / width_cm
    if request.ends_per_cm is not None and request.shedding is not None:
        ledger.note(
            "/reed_width_cm",
            None,
            unit="cm",
            reason=say(
                "assumption.weave_request.sett_in_reed",
                "neither ends nor reed width stated: {ends_per_cm:g} ends per cm "
                "in the reed, as in the cloth",
                ends_per_cm=request.ends_per_cm,
            ),
            grade=Grade.ESTIMATE,
        )
    return request.ends_per_cm


def _hooks(
    repeat: Weave, shedding: ShaftsForWeave | HooksForWeave | None, setts: Setts
) -> HookPlan | None:
    """Put the repeat on the hooks; without a stated width, as often as the harness is tied."""
    if not isinstance(shedding, HooksForWeave) or repeat.ends > shedding.hooks:
        return None
    total_ends = setts.total_ends
    if total_ends is None:
        on_hooks = shedding.hooks // repeat.ends * repeat.ends
        total_ends = on_hooks * max(1, shedding.ends_per_hook)
    return plan_hooks(repeat_ends=repeat.ends, hooks=shedding.hooks, total_ends=total_ends)
