"""A cloth in numbers, as an order states it and as it is grey; of one cloth or a column of them.

What follows from what is computed in ``cloth_states``.
"""

from __future__ import annotations

from dataclasses import dataclass

from weavability.textiles.crimp import (
    Crimps,
)
from weavability.textiles.numbers import (
    Lists,
    N,
    Record,
    Truth,
)


@dataclass(slots=True, kw_only=True)
class StatedLayer(Record[N]):
    """A layer whose threads are set against one another, in numbers.

    The first slot of a cloth without layers has ``present`` false.

    Attributes:
        ends_share: Its own ends as a share of all ends; 0 of a backing that has only picks.
        picks_share: Its own picks, likewise.
        set_ends_share: The ends that its picks are set with: its own, or those that bind it.
        set_picks_share: The picks, likewise.
        holding_ends_share: All ends that those picks interlace with, of whatever layer but pile.
        holding_picks_share: All picks that those ends interlace with, likewise.
        stated_ends_share: Of the ends that its picks are set with, those that state a crimp, as a
            share of all ends; in a part of a group, those of the group.
        open_ends_share: Those that state none, likewise.
        stated_ends_pct: Mean crimp of those that state one; 0 if there are none.
        least_ends_pct: The least that any of them states; 0 likewise.
        stated_picks_share: The picks that state a crimp, and so on, as of the ends.
        warp_width_mm: Mean of those ends, as are the figures below, or of those picks.
    """

    present: Truth
    ends_share: N
    picks_share: N
    set_ends_share: N
    set_picks_share: N
    stated_ends_share: N
    open_ends_share: N
    stated_ends_pct: N
    least_ends_pct: N
    stated_picks_share: N
    stated_picks_pct: N
    least_picks_pct: N
    holding_ends_share: N
    holding_picks_share: N
    warp_width_mm: N
    weft_width_mm: N
    warp_depth_mm: N
    weft_depth_mm: N
    mean_float_of_picks: N
    mean_float_of_ends: N
    longest_warp_float_picks: N
    longest_weft_float_ends: N


@dataclass(slots=True, kw_only=True)
class StatedGroup(Record[N]):
    """Ends on a beam of their own, which take up as their own weave asks.

    The groups of a cloth of which only one weaves the ground have ``present`` false: its crimp is
    that of the cloth.

    Attributes:
        open_share: Its ends that state no crimp, as a share of all ends.
        stated_share: Its ends that state one, likewise.
        least_crimp_pct: The least that any of them states; 0 if none do.
        parts: Its ends in each layer, in the order of the layers; one part in a cloth without
            layers. ``ends_share`` is theirs.
    """

    present: Truth
    open_share: N
    stated_share: N
    least_crimp_pct: N
    parts: tuple[StatedLayer[N], ...]


@dataclass(kw_only=True)
class StatedCloth(Record[N]):
    """A cloth as an order states it, in numbers, with nothing left open but its crimps.

    Attributes:
        ends_per_cm: At the stage of the order, as are picks and width.
        width_cm: Of one panel.
        grey_width_factor: Grey width over stated width, unless stated in the loom.
        grey_length_factor: Grey length over stated length.
        in_loom_state: Whether it is stated in the loom.
        taken_up_share: Share of the picks for which the take-up moves the cloth on.
        relaxed_kept: Grey length over length on the loom.
        width_kept: Finished width over grey width.
        length_kept: Finished length over grey length.
        warp_width_mm: Mean over the order, as are the other figures of the yarns: the diameter of a
            round yarn, the width of a tape.
        warp_depth_mm: The diameter of a round yarn, the thickness of a tape.
        has_tape: Whether warp or weft holds tapes, which fold where they have no room.
        warp_stated_share: Share of the ends whose crimp is stated, 0 to 1; ends of pile, whose
            ratio is stated, are not counted.
        warp_crimp_pct: Mean crimp of those ends; 0 if there are none.
        warp_least_crimp_pct: The least that any of them states; 0 likewise.
        warp_greatest_crimp_pct: The greatest, likewise.
        side_share: Share of the threads on the fuller side of those that cross them.
        picks_per_shed: Picks after one another that lie in the same shed, at least.
        squares: Squares of the weave that may govern its jam; none if its mean floats do.
        lies_over: Whether all its threads can lie over one another.
        loose_float_of_picks: Of a figured design, in its loosest hundredth; 0 of any other cloth.
        loose_float_of_ends: Likewise.
        loose_picks_share: The sett of the picks there over the mean.
        weft_stated_share: Share of the picks whose crimp is stated.
        weft_crimp_pct: Mean crimp of those picks; 0 if there are none.
        weft_least_crimp_pct: The least that any of them states; 0 likewise.
        weft_greatest_crimp_pct: The greatest, likewise.
        warp_moved_points: Percentage points by which the mean crimp is moved beside what is stated
            and estimated, to an end of its band; likewise those of the weft.
        selvedge_ends: Extra ends of all selvedges of all panels.
        loom_length_m: Grey cloth to weave on the loom.
        layers: Layers that are set each against itself.
        groups: Groups of ends, each on a beam of its own; one if none are stated.
    """

    ends_per_cm: N
    picks_per_cm: N
    width_cm: N
    grey_width_factor: N
    grey_length_factor: N
    in_loom_state: Truth
    taken_up_share: N
    relaxed_kept: N
    width_kept: N
    length_kept: N
    warp_width_mm: N
    weft_width_mm: N
    warp_depth_mm: N
    weft_depth_mm: N
    has_tape: Truth
    mean_float_of_picks: N
    mean_float_of_ends: N
    side_share: N
    picks_per_shed: N
    squares: Lists
    lies_over: Truth
    loose_float_of_picks: N
    loose_float_of_ends: N
    loose_picks_share: N
    longest_warp_float_picks: N
    longest_weft_float_ends: N
    warp_stated_share: N
    warp_crimp_pct: N
    warp_least_crimp_pct: N
    warp_greatest_crimp_pct: N
    weft_stated_share: N
    weft_crimp_pct: N
    weft_least_crimp_pct: N
    weft_greatest_crimp_pct: N
    warp_moved_points: N
    weft_moved_points: N
    panels: N
    panel_gap_cm: N
    selvedge_ends: N
    loom_length_m: N
    layers: tuple[StatedLayer[N], ...]
    groups: tuple[StatedGroup[N], ...]


@dataclass(slots=True, kw_only=True)
class GreyLayer(Record[N]):
    """A layer in the grey cloth, set against its own threads.

    Attributes:
        ends_per_cm: The ends that its picks are set with.
        picks_per_cm: The picks, likewise.
        mean_tightness_pct: Share of its own jam, by its mean floats.
        held_tightness_pct: The same as far as the threads hold one another, those of other layers
            among them; see ``jamming``.
        warp_cover_pct: Widths of those ends over their spacing, likewise of those picks.
        warp_crimp_pct: Mean over those ends, stated or estimated, likewise over those picks.
    """

    present: Truth
    ends_per_cm: N
    picks_per_cm: N
    warp_cover_pct: N
    weft_cover_pct: N
    mean_tightness_pct: N
    held_tightness_pct: N
    warp_crimp_pct: N
    weft_crimp_pct: N
    longest_float_mm: N
    free_float_mm: N


@dataclass(slots=True, kw_only=True)
class GroupCrimp(Record[N]):
    """The crimp of a group of ends.

    Attributes:
        present: Whether it takes up differently from others; else its crimp is that of the cloth.
        estimated_warp_crimp_pct: Of its ends that state none.
    """

    present: Truth
    estimated_warp_crimp_pct: N


@dataclass(kw_only=True)
class StatedCrimp(Record[N]):
    """The crimp that an order states of warp or weft, beside what is expected of the cloth.

    Attributes:
        is_stated: Whether it states one, of some threads at least.
        stated_pct: Mean of what it states.
        least_pct: The least that any thread states; of groups of ends that take up differently, in
            the group in which it is farthest below what is expected.
        least_expected_pct: What would be estimated of that thread if no crimp were stated.
        least_points: Half width of the band of that estimate.
        greatest_pct: The greatest that any thread states.
        expected_pct: Mean of what would be estimated of the threads that state one.
        points: Half width of the band in which a crimp is expected.
        has_most: Whether there is a greatest: not if groups of ends take up differently.
        other_pct: Crimp of the other set of threads.
        other_is_bounded: Whether that is an estimate at a bound of estimates.
    """

    is_stated: Truth
    stated_pct: N
    least_pct: N
    least_expected_pct: N
    least_points: N
    greatest_pct: N
    expected_pct: N
    points: N
    has_most: Truth
    other_pct: N
    other_is_bounded: Truth


@dataclass(kw_only=True)
class ClothNumbers(Record[N]):
    """What follows from a construction alone, in numbers; grey unless otherwise stated.

    Attributes:
        warp_crimp_pct: Mean over the ends, stated or estimated.
        weft_crimp_pct: Mean over the picks.
        estimated_warp_crimp_pct: Of the ends that state none.
        estimated_weft_crimp_pct: Of the picks that state none.
        grey_width_cm: Of one panel.
        panel_reed_width_cm: Of one panel in the reed: the weft lies straight at beat-up.
        reed_width_cm: Of all panels in the reed, with the gaps between them.
        ground_ends: Of one panel, without the extra ends of its selvedges.
        total_ends: Of all panels, selvedges included.
        tightness_pct: Share of the jam where the threads are closest; at 100 % round yarns can come
            no closer; of layers, each is set against itself.
        mean_tightness_pct: The same by mean floats and setts of the whole cloth, or of the layer in
            which it is greatest.
        in_plane_tightness_pct: Where threads that lie in one plane are closest; 0 if all can lie
            over one another.
        loose_tightness_pct: That of the loosest hundredth of a figured design; infinity for any
            other cloth.
        gapless_tightness_pct: Where those of them are closest that have no gap to pass, however
            few are abreast of one another; 0 likewise.
        held_tightness_pct: The mean one as far as the threads hold one another; see ``jamming``.
        warp_cover_pct: Diameters of the ends over their spacing; of tapes their widths.
        weft_cover_pct: Likewise of the picks.
        has_tape: Whether warp or weft holds tapes.
        warp_release_pct: Shortening from straight yarn to finished cloth, on the yarn.
        weft_release_pct: Likewise across: from the reed to finished cloth.
        longest_float_mm: Longest float on either side of the cloth, warp or weft; of layers, each
            by itself.
        free_float_mm: The longest of those over two threads or more; 0 if there is none.
        loom_length_m: Grey cloth to weave on the loom.
        woven_warp_m: Warp that goes into it.
        layers: The layers, each set against itself.
        groups: The groups of ends, each with its crimp.
        stated_warp_crimp: The crimp that is stated of the warp, beside what is expected.
        stated_weft_crimp: Likewise of the weft.
        has_both_crimps: Whether all threads of both state a crimp, of a cloth in one layer.
        crimp_heights_pct: Heights of both waves over the diameters of both yarns.
    """

    ends_per_cm: N
    picks_per_cm: N
    warp_crimp_pct: N
    weft_crimp_pct: N
    estimated_warp_crimp_pct: N
    estimated_weft_crimp_pct: N
    grey_width_cm: N
    panel_reed_width_cm: N
    reed_width_cm: N
    ground_ends: N
    total_ends: N
    picks_per_cm_on_loom: N
    tightness_pct: N
    mean_tightness_pct: N
    in_plane_tightness_pct: N
    loose_tightness_pct: N
    gapless_tightness_pct: N
    held_tightness_pct: N
    warp_cover_pct: N
    weft_cover_pct: N
    has_tape: Truth
    warp_release_pct: N
    weft_release_pct: N
    longest_float_mm: N
    free_float_mm: N
    loom_length_m: N
    woven_warp_m: N
    layers: tuple[GreyLayer[N], ...]
    groups: tuple[GroupCrimp[N], ...]
    stated_warp_crimp: StatedCrimp[N]
    stated_weft_crimp: StatedCrimp[N]
    has_both_crimps: Truth
    crimp_heights_pct: N

    @property
    def estimated_crimps(self) -> Crimps[N]:
        """Crimps of the threads that state none."""
        return Crimps(self.estimated_warp_crimp_pct, self.estimated_weft_crimp_pct)
