"""What is requested about a weave: plain data, as a request states it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from weavability.looms.loom import Shedding
from weavability.textiles.assumptions import Assumption
from weavability.textiles.construction import Layers
from weavability.textiles.weave_matrix import Weave


@dataclass(frozen=True, slots=True, kw_only=True)
class ColouredThreads:
    """The thread order of warp or weft in colours.

    Attributes:
        order: The order, such as ``24A 4B`` or ``3(2A 2B) 4C``.
        colours: The colour of each yarn of the order as ``#rrggbb``, such as
            ``{"A": "#1c2a4a", "B": "#f4f1e8"}``.
    """

    order: str
    colours: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftToCheck:
    """A drawing-in that is to be held against the weave.

    Attributes:
        threading: The shaft of every end, 1-based, for one repeat of the weave or several; or
            ``straight``, ``point`` or ``skip``.
        lift_plan: One string a pick, ``1`` for every shaft that is lifted, the first shaft first;
            derived from the weave where not given.
        shafts: Shafts of a threading that is given by name.
    """

    threading: str | tuple[int, ...]
    lift_plan: tuple[str, ...] | None = None
    shafts: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveRequest:
    """What is requested.

    Attributes:
        weave: The weave, read from any of its forms.
        weave_notes: What its notation left open; pointers are relative to the weave.
        ends_per_cm: Ends per cm of the cloth; gives lengths of weft floats and widths of repeats.
        picks_per_cm: Picks per cm of the cloth; gives lengths of warp floats and of repeats.
        layers: The layer of each thread; ``None`` if all lie in one plane.
        warp: The colours of the ends.
        weft: The colours of the picks.
        total_ends: Ends of the ground over the whole width, without selvedges.
        reed_width_cm: Width of those ends in the reed.
        draft: A drawing-in that is to be held against the weave.
        shedding: The shedding motion that is to weave it.
        against: Another weave that is to be compared with it.
    """

    weave: Weave
    weave_notes: tuple[Assumption, ...] = ()
    ends_per_cm: float | None = None
    picks_per_cm: float | None = None
    layers: Layers | None = None
    warp: ColouredThreads | None = None
    weft: ColouredThreads | None = None
    total_ends: int | None = None
    reed_width_cm: float | None = None
    draft: DraftToCheck | None = None
    shedding: Shedding | None = None
    against: Weave | None = None
