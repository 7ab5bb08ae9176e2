"""A woven construction as the order states it: nothing assumed, metric units.

Inch forms (``ends_per_in``, ``width_in`` …) are converted when they are read; which fields were
stated in inches is kept, so that findings and remedies refer to the field that the caller wrote.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from weavability.textiles.assumptions import Assumption
from weavability.textiles.figured.figured_cloth import FiguredCloth
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.records import record
from weavability.textiles.units import CM_PER_INCH, M_PER_YARD
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

INCH_FORMS: Final[Mapping[str, tuple[str, float]]] = MappingProxyType(
    {
        "/warp/ends_per_cm": ("/warp/ends_per_in", CM_PER_INCH),
        "/weft/picks_per_cm": ("/weft/picks_per_in", CM_PER_INCH),
        "/width_cm": ("/width_in", 1 / CM_PER_INCH),
        "/length_m": ("/length_yd", 1 / M_PER_YARD),
    }
)
"""By the pointer of a metric field its inch form, and the figure there for a metric figure of 1."""


class Stage(StrEnum):
    """Where sett, width and length were measured."""

    LOOM_STATE = "loom_state"
    GREY = "grey"
    FINISHED = "finished"


class Finish(StrEnum):
    """How the cloth is finished, as far as it decides about shrinkage."""

    WASHED = "washed"
    PRE_SHRUNK = "pre_shrunk"
    MILLED = "milled"


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpGroup:
    """Ends with a beam of their own.

    Attributes:
        name: What the mill calls them, such as ``pile``.
        yarns: Keys of their yarns.
        pile_ratio: Yarn length per cloth length, at least 1; ``None`` for ends that are woven
            without pile.
        density_g_per_cm3: Density of the yarn wound on their beam; that of the loom's beams, or
            by the kind of yarn, if not given.
    """

    name: str
    yarns: tuple[str, ...]
    pile_ratio: float | None = None
    density_g_per_cm3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadSystem:
    """Warp or weft.

    Attributes:
        yarns: Yarns by their key in the thread order.
        order: Thread order such as ``24A 4B``; ``None`` only if there is one yarn.
        threads_per_cm: Ends or picks per centimetre at the stated stage.
        crimp_pct: Crimp on the length of the grey cloth, ``(yarn - cloth) / cloth``, of the yarns
            that state none of their own.
        contraction_pct: The same on yarn length, ``(yarn - cloth) / yarn``, in its place.
        beams: Groups of ends with a beam of their own; empty if all ends come from one warp. A
            weft has none.
    """

    yarns: Mapping[str, Yarn]
    order: str | None = None
    threads_per_cm: float
    crimp_pct: float | None = None
    contraction_pct: float | None = None
    beams: tuple[WarpGroup, ...] = ()


class Joined(StrEnum):
    """How the layers of a cloth are joined."""

    SEPARATE = "separate"
    STITCHED = "stitched"
    INTERCHANGING = "interchanging"


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Which layer of the cloth each thread belongs to.

    Attributes:
        ends: The layer of every end, as a thread order with one letter a layer.
        picks: The layer of every pick, likewise.
        joined: How the layers without pile are joined; needed if there are several.
        pile: The layers that are pile.
    """

    ends: str
    picks: str
    joined: Joined | None = None
    pile: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Selvedge:
    """The edges of each panel.

    Attributes:
        ends_per_side: Extra ends at each side of each panel, beyond the ends of the ground.
        ends_per_dent: Ends in each dent of the selvedge.
        shafts: Shafts of its own that the selvedge weave needs; 0 if it follows the ground.
        yarn: Key of the warp yarn of the selvedge; it need not be in the thread order.
        weave: Its weave; ``None`` if its ends weave as the ground.
        weave_notes: What the notation of that weave left open, with pointers relative to it.
        leno_ends_per_side: Ends of a leno at each side of each panel, from bobbins.
        catch_cord_ends: Ends of the catch cords of the whole loom, which are cut off.
    """

    ends_per_side: int | None = None
    ends_per_dent: int | None = None
    shafts: int | None = None
    yarn: str | None = None
    weave: Weave | None = None
    weave_notes: tuple[Assumption, ...] = ()
    leno_ends_per_side: int | None = None
    catch_cord_ends: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reed:
    """The reed that the order requests; all fields empty if it requests none.

    Attributes:
        dents_per_10cm: Dents in 10 cm.
        count: The reed in another counting system, in place of ``dents_per_10cm``.
        system: That system, such as ``stockport``.
        ends_per_dent: Ends of the ground in each dent.
        ends_in_dents: One repeat of an uneven denting instead: ends in each dent, 0 for an empty
            one.
        wire_share_pct: Share of a dent that its wire takes.
    """

    dents_per_10cm: float | None = None
    count: float | None = None
    system: str | None = None
    ends_per_dent: int | None = None
    ends_in_dents: tuple[int, ...] = ()
    wire_share_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftRequest:
    """The drawing-in that the order requests.

    Attributes:
        threading: A named draft, or the shaft of every end.
    """

    threading: str | tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finishing:
    """Shrinkage after the loom, and the finish.

    Attributes:
        finish: What decides about the shrinkages that are not stated.
        width_shrinkage_pct: Loss of width from grey to finished, on the grey width.
        length_shrinkage_pct: Loss of length from grey to finished, on the grey length.
        relaxation_pct: Loss of length when the cloth leaves the loom's tension, on the length
            on the loom.
        mass_change_pct: Gain of mass in finishing, or loss if it is negative, on the mass of the
            yarn without size.
        stabilised: A finish (or leno) that holds an open cloth together.
    """

    finish: Finish | None = None
    width_shrinkage_pct: float | None = None
    length_shrinkage_pct: float | None = None
    relaxation_pct: float | None = None
    mass_change_pct: float | None = None
    stabilised: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowances:
    """Waste and size as the order states them.

    Attributes:
        warp_waste_pct: Warp yarn lost in preparation, on the warp woven.
        weft_waste_pct: Weft yarn lost at the package and in stops, on the weft inserted.
        size_pct: Size added to the warp, on the mass of the unsized warp.
        loom_waste_m: Warp that is lost at tying and at the end of the warp.
        size_strength_gain_pct: What the size adds to the strength of a yarn.
        size_elongation_loss_pct: What it takes off the elongation at break.
    """

    warp_waste_pct: float | None = None
    weft_waste_pct: float | None = None
    size_pct: float | None = None
    loom_waste_m: float | None = None
    size_strength_gain_pct: float | None = None
    size_elongation_loss_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceOrder:
    """A number of pieces that the customer orders, as finished cloth.

    Attributes:
        pieces: Pieces to deliver, of all panels together.
        piece_length_m: Length of each, finished.
        overage_pct: Cloth made beyond that, on the length ordered.
        rejects_pct: Cloth that inspection rejects, on the length woven.
    """

    pieces: int
    piece_length_m: float
    overage_pct: float | None = None
    rejects_pct: float | None = None

    @property
    def length_m(self) -> float:
        """Finished cloth that is ordered."""
        return self.pieces * self.piece_length_m


@dataclass(frozen=True, slots=True, kw_only=True)
class RequiredRange:
    """Between which values a figure of the finished cloth must lie; at least one is stated."""

    min: float | None = None
    max: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirements:
    """What the customer requires of the finished cloth.

    Attributes:
        mass_g_per_m2: Mass.
        mass_g_per_m: Mass of a running metre of one panel, selvedge ends included.
        finished_width_cm: Width of one panel over all, selvedges included.
        ends_per_cm: Sett of the warp.
        picks_per_cm: Sett of the weft.
        thickness_mm: Thickness, taken as that of the grey cloth.
        open_area_pct: Share of the surface that no yarn covers.
        cover_factor: Cover factor of the cloth, SI form.
        fibre_pct: Share of a fibre in the mass of the yarn, by its key.
    """

    mass_g_per_m2: RequiredRange | None = None
    mass_g_per_m: RequiredRange | None = None
    finished_width_cm: RequiredRange | None = None
    ends_per_cm: RequiredRange | None = None
    picks_per_cm: RequiredRange | None = None
    thickness_mm: RequiredRange | None = None
    open_area_pct: RequiredRange | None = None
    cover_factor: RequiredRange | None = None
    fibre_pct: Mapping[str, RequiredRange] = field(default_factory=dict)


@record(kw_only=True)
class Construction:
    """A cloth as ordered.

    Attributes:
        reference: The mill's own name of the order.
        stage: Where sett, width and length were measured.
        warp: The warp at that stage.
        weft: The weft at that stage.
        weave: The weave.
        weave_notes: What the weave's notation left open, with pointers relative to it.
        design: The figured design on the hooks, if the order is one; ``weave`` is then what they
            lift, until a loom and its tie are known.
        figured: The design as a loom weaves it through its tie; ``weave`` is then that cloth.
        layers: The layer of each thread; ``None`` if all lie in one plane.
        width_cm: Width of one panel, selvedges included, but for what very wide ones exceed.
        selvedge: The edges of each panel.
        panels: Panels woven side by side.
        panel_gap_cm: Reed width left between two panels for the cutters.
        length_m: Cloth to weave, all panels together, as long as it is at the stated stage.
        order: The order in pieces of finished cloth, in place of ``length_m``.
        thickness_mm: Thickness of the grey cloth under the tension of winding.
        reed: The reed that is requested.
        draft: The drawing-in that is requested.
        finishing: What happens to the cloth after the loom.
        allowances: Waste and size.
        requested_speed_picks_per_min: Speed that is requested.
        requirements: What the customer requires of the finished cloth; ``None`` if nothing.
        inch_fields: Pointers (relative to the construction) that were stated in inches or yards,
            in their inch form, such as ``/warp/ends_per_in``.
    """

    reference: str | None = None
    stage: Stage | None = None
    warp: ThreadSystem
    weft: ThreadSystem
    weave: Weave
    weave_notes: tuple[Assumption, ...] = ()
    design: HookLifts | None = None
    figured: FiguredCloth | None = None
    layers: Layers | None = None
    width_cm: float
    selvedge: Selvedge = field(default_factory=Selvedge)
    panels: int | None = None
    panel_gap_cm: float | None = None
    length_m: float | None = None
    order: PieceOrder | None = None
    thickness_mm: float | None = None
    reed: Reed = field(default_factory=Reed)
    draft: DraftRequest | None = None
    finishing: Finishing = field(default_factory=Finishing)
    allowances: Allowances = field(default_factory=Allowances)
    requested_speed_picks_per_min: float | None = None
    requirements: Requirements | None = None
    inch_fields: frozenset[str] = frozenset()

    def as_stated(self, pointer: str) -> str:
        """Return the pointer of a field, given in metric form, in the form that the order uses."""
        if pointer == "/length_m" and self.length_m is None and self.order is not None:
            return "/order/pieces"
        inch, _ = INCH_FORMS.get(pointer, (pointer, 1.0))
        return inch if inch in self.inch_fields else pointer
