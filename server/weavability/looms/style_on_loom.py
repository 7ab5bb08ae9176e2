"""A style as it is set up on a loom: what a change of style compares."""

from __future__ import annotations

from dataclasses import dataclass

from weavability.looms.loom import SheddingKind
from weavability.looms.selvedge_on_loom import NO_SELVEDGE, SelvedgeOnLoom
from weavability.looms.warp_left import Beams, left_on_full_beams_m
from weavability.textiles.cloth_bounds import MOST_ENDS
from weavability.textiles.guards import positive, whole


@dataclass(frozen=True, slots=True, kw_only=True)
class ReedBasis:
    """The cloth for whose width a reed was chosen.

    Attributes:
        ends_per_cm: Ground ends in the grey cloth.
        weft_crimp_pct: On the grey width.
        is_crimp_estimated: Whether that crimp is an estimate.
        crimp_band_points: By how many percentage points an estimate may be out.
    """

    ends_per_cm: float
    weft_crimp_pct: float
    is_crimp_estimated: bool
    crimp_band_points: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StyleOnLoom:
    """The figures of a cloth on a loom that a change of style compares.

    Attributes:
        ends: Ends of the warp.
        reed_dents_per_10cm: The reed.
        ends_per_dent: Ends in a dent.
        threading: Draft, the shaft of each end over its repeat; on a Jacquard, the hook.
        selvedge: Its selvedges, whose ends are among ``ends``.
        lift_plan: Key of the ground's lift plan or design; equal keys lift alike.
        weft_yarns: Wefts, in the order of the selectors.
        weft_order: Which of the wefts follow each other, a character each, over the repeat.
        warp: Key of the warp: yarns, their colour order and their beams.
        beams: The warp that the cloth needs, by groups of ends with beams of their own; empty if
            that is not known, and the warp then suffices.
        let_offs: Beams, or sets of beams abreast, that are let off by themselves.
        pile_ratios: Of the groups of ends that are pile, in their order.
        shedding: The shedding motion of the loom.
        harness: Key of a Jacquard's harness tie; ``None`` on shafts.
        cords_per_cm: Cords in use of that harness over the width of the warp, which are fewer than
            are tied if some are cast out evenly; 0 on shafts.
        picks_per_cm: Picks at the take-up.
        reed_width_cm: Width in the reed.
        panels: Cloths side by side, with empty dents between them.
        reed_basis: The cloth for whose width the reed was chosen, if that is known.
    """

    ends: int
    reed_dents_per_10cm: float
    ends_per_dent: float
    threading: tuple[int, ...] = ()
    selvedge: SelvedgeOnLoom = NO_SELVEDGE
    lift_plan: str
    weft_yarns: tuple[str, ...]
    weft_order: str = ""
    warp: str
    beams: tuple[Beams, ...] = ()
    let_offs: int = 1
    pile_ratios: tuple[float, ...] = ()
    shedding: SheddingKind
    harness: str | None = None
    cords_per_cm: float = 0.0
    picks_per_cm: float
    reed_width_cm: float
    panels: int = 1
    reed_basis: ReedBasis | None = None

    def __post_init__(self) -> None:
        whole("ends", self.ends, least=1, most=MOST_ENDS)
        positive("reed_dents_per_10cm", self.reed_dents_per_10cm)
        positive("ends_per_dent", self.ends_per_dent)
        positive("picks_per_cm", self.picks_per_cm)
        positive("reed_width_cm", self.reed_width_cm)

    @property
    def reed(self) -> tuple[float, float]:
        """The reed and the ends in its dents."""
        return (self.reed_dents_per_10cm, self.ends_per_dent)

    @property
    def sleying(self) -> tuple[float, float, int]:
        """The reed, the ends in its dents and the panels, between which dents are empty."""
        return (*self.reed, self.panels)

    @property
    def left_m(self) -> tuple[float, ...]:
        """Warp that the cloth leaves of its own full beams, group by group."""
        return left_on_full_beams_m(self.beams)

    def has_warp_of(self, other: StyleOnLoom) -> bool:
        """Return whether both are woven from the same warp, as many ends of it."""
        return self.warp == other.warp and self.ends == other.ends

    def has_draft_of(self, other: StyleOnLoom) -> bool:
        """Return whether the ground of both is drawn in on the same draft of the same harness."""
        own, others = ((each.harness, each.cords_per_cm, each.threading) for each in (self, other))
        return own == others

    def lifts_as(self, old: StyleOnLoom) -> bool:
        """Return whether the shedding lifts all ends as before; fewer of them do not count."""
        return self.lift_plan == old.lift_plan and self.selvedge.lifts in ("", old.selvedge.lifts)
