"""The three states of a cloth: in the loom, grey and finished.

* **loom state**: in the reed (width) and under the take-up's tension (picks);
* **grey**: off the loom, relaxed, unfinished; the state in which cover, mass and crimp are stated;
* **finished**: after finishing, by its shrinkages and what it adds to the mass or takes off.

A cloth is stated in one of them; it is brought to the grey state, and from there to the others.

Only numbers here, of one cloth or of a column of cloths: what an order leaves open is settled in
``cloth_defaults``.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, fields
from math import inf
from operator import attrgetter
from typing import Any, Final, Generic, cast

from weavability.textiles.cloth_crimps import ClothCrimps, by_itself, cloth_crimps
from weavability.textiles.cloth_numbers import (
    ClothNumbers,
    GreyLayer,
    GroupCrimp,
    StatedCloth,
    StatedCrimp,
    StatedLayer,
)
from weavability.textiles.construction import Stage
from weavability.textiles.crimp import Crimps, crimp_heights_pct
from weavability.textiles.geometry import crowding, float_length_mm, free_float_length_mm
from weavability.textiles.jamming import Jam, is_webbing, jam_of_cloth, tightness_pct
from weavability.textiles.layer_crimps import crimps_of_layer
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    anywhere,
    changed,
    either,
    greatest,
    no,
    on_use,
    whole,
)
from weavability.textiles.stated_crimps import stated_crimps
from weavability.textiles.weave_squares import NO_SQUARES

CRIMP_ROUNDS: Final = 40
"""Most rounds in which crimp and width of a cloth stated in the loom are brought together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrinkages:
    """What is left of a length after each step, as factors.

    Attributes:
        width_kept: Finished width over grey width.
        length_kept: Finished length over grey length.
        relaxed_kept: Grey length over length on the loom.
        mass_kept: Finished mass of a piece over its grey mass, above 1 if finishing adds to it.
    """

    width_kept: float
    length_kept: float
    relaxed_kept: float
    mass_kept: float


def grey_width_factor(stage: Stage, shrinkages: Shrinkages) -> float:
    """Return grey width over the width stated at ``stage``; in the loom state crimp decides it."""
    return 1 / shrinkages.width_kept if stage is Stage.FINISHED else 1.0


def grey_length_factor(stage: Stage, shrinkages: Shrinkages) -> float:
    """Return grey length over the length stated at ``stage``, above 0."""
    if stage is Stage.FINISHED:
        return 1 / shrinkages.length_kept
    return shrinkages.relaxed_kept if stage is Stage.LOOM_STATE else 1.0


def estimated_crimps_pct(stated: StatedCloth[N]) -> Crimps[N]:
    """Return the crimps of the threads that state none, as :func:`grey_cloth` does."""
    return _grey_crimps(stated, stated.picks_per_cm / stated.grey_length_factor).estimated


@on_use
class _ClothOnUse(Generic[N]):
    """The same numbers, each computed when it is read: a rule that reads few costs little."""

    _stated: StatedCloth[N]
    _crimp: Crimps[N]
    ends_per_cm: N
    picks_per_cm: N
    grey_width_cm: N
    warp_crimp_pct: N
    weft_crimp_pct: N
    has_tape: Truth
    loom_length_m: N

    def __init__(self, stated: StatedCloth[N]) -> None:
        self._stated = stated
        self.picks_per_cm = stated.picks_per_cm / stated.grey_length_factor
        if anywhere((stated.warp_stated_share < 1.0) | (stated.weft_stated_share < 1.0)):
            self._crimp = self._found.crimp
        else:
            self._crimp = Crimps(stated.warp_crimp_pct, stated.weft_crimp_pct)
        width_factor = _width_factor(stated, self._crimp.weft_crimp_pct)
        self.ends_per_cm = stated.ends_per_cm / width_factor
        self.grey_width_cm = stated.width_cm * width_factor
        self.warp_crimp_pct, self.weft_crimp_pct = self._crimp
        self.has_tape = stated.has_tape
        self.loom_length_m = stated.loom_length_m

    @property
    def _found(self) -> ClothCrimps[N]:
        return _grey_crimps(self._stated, self.picks_per_cm)

    @property
    def groups(self) -> tuple[GroupCrimp[N], ...]:
        return self._found.groups

    @property
    def estimated_crimps(self) -> Crimps[N]:
        return self._found.estimated

    @property
    def estimated_warp_crimp_pct(self) -> N:
        return self.estimated_crimps.warp_crimp_pct

    @property
    def estimated_weft_crimp_pct(self) -> N:
        return self.estimated_crimps.weft_crimp_pct

    @property
    def panel_reed_width_cm(self) -> N:
        return self.grey_width_cm * (1 + self.weft_crimp_pct / 100)

    @property
    def reed_width_cm(self) -> N:
        stated = self._stated
        gaps_cm: N = (stated.panels - 1) * stated.panel_gap_cm
        return stated.panels * self.panel_reed_width_cm + gaps_cm

    @property
    def ground_ends(self) -> N:
        return greatest(1.0, whole(self.ends_per_cm * self.grey_width_cm))

    @property
    def total_ends(self) -> N:
        return self._stated.panels * self.ground_ends + self._stated.selvedge_ends

    @property
    def picks_per_cm_on_loom(self) -> N:
        return self.picks_per_cm * self._stated.taken_up_share * self._stated.relaxed_kept

    @property
    def _jam(self) -> Jam[N]:
        stated = self._stated
        return jam_of_cloth(
            stated.squares,
            lies_over=stated.lies_over | stated.has_tape,
            width_cm=self.grey_width_cm,
            ends_per_cm=self.ends_per_cm,
            picks_per_cm=self.picks_per_cm,
            warp_diameter_mm=stated.warp_width_mm,
            weft_diameter_mm=stated.weft_width_mm,
            mean_float_of_picks=stated.mean_float_of_picks,
            mean_float_of_ends=stated.mean_float_of_ends,
            warp_depth_mm=stated.warp_depth_mm,
            weft_depth_mm=stated.weft_depth_mm,
            side_share=stated.side_share,
            picks_per_shed=stated.picks_per_shed,
        )

    @property
    def layers(self) -> tuple[GreyLayer[N], ...]:
        return tuple(
            _grey_layer(
                self._stated,
                layer,
                crimps_of_layer(self._stated, slot, self.groups, self.estimated_crimps),
                self.ends_per_cm,
                self.picks_per_cm,
            )
            for slot, layer in enumerate(self._stated.layers)
        )

    @property
    def tightness_pct(self) -> N:
        return self._jam.tightness_pct

    @property
    def mean_tightness_pct(self) -> N:
        of_layers = [layer.mean_tightness_pct for layer in self.layers]
        return _greatest_of(self.layers, of_layers, self._jam.mean_tightness_pct)

    @property
    def in_plane_tightness_pct(self) -> N:
        return self._jam.in_plane_tightness_pct

    @property
    def loose_tightness_pct(self) -> N:
        return _loose_tightness_pct(self._stated, self.ends_per_cm, self.picks_per_cm)

    @property
    def gapless_tightness_pct(self) -> N:
        return self._jam.gapless_tightness_pct

    @property
    def held_tightness_pct(self) -> N:
        of_layers = [layer.held_tightness_pct for layer in self.layers]
        return _greatest_of(self.layers, of_layers, self._jam.held_tightness_pct)

    @property
    def warp_cover_pct(self) -> N:
        diameter_mm = self._stated.warp_width_mm
        return 100 * crowding(threads_per_cm=self.ends_per_cm, diameter_mm=diameter_mm)

    @property
    def weft_cover_pct(self) -> N:
        diameter_mm = self._stated.weft_width_mm
        return 100 * crowding(threads_per_cm=self.picks_per_cm, diameter_mm=diameter_mm)

    @property
    def warp_release_pct(self) -> N:
        return 100 * (1 - self._stated.length_kept / (1 + self.warp_crimp_pct / 100))

    @property
    def weft_release_pct(self) -> N:
        return 100 * (1 - self._stated.width_kept / (1 + self.weft_crimp_pct / 100))

    @property
    def longest_float_mm(self) -> N:
        of_cloth = _longest_float_mm(self._stated, self.ends_per_cm, self.picks_per_cm)
        return _greatest_of(
            self.layers, [layer.longest_float_mm for layer in self.layers], of_cloth
        )

    @property
    def free_float_mm(self) -> N:
        of_cloth = _free_float_mm(self._stated, self.ends_per_cm, self.picks_per_cm)
        return _greatest_of(self.layers, [layer.free_float_mm for layer in self.layers], of_cloth)

    @property
    def woven_warp_m(self) -> N:
        return self.loom_length_m * (1 + self.warp_crimp_pct / 100)

    @property
    def _stated_crimps(self) -> tuple[StatedCrimp[N], StatedCrimp[N]]:
        return stated_crimps(
            self._stated, self.estimated_crimps, self._crimp, self.ends_per_cm, self.picks_per_cm
        )

    @property
    def stated_warp_crimp(self) -> StatedCrimp[N]:
        return self._stated_crimps[0]

    @property
    def stated_weft_crimp(self) -> StatedCrimp[N]:
        return self._stated_crimps[1]

    @property
    def has_both_crimps(self) -> Truth:
        stated = self._stated
        both: Truth = (stated.warp_stated_share >= 1.0) & (stated.weft_stated_share >= 1.0)
        return both & _is_one_layer(stated)

    @property
    def crimp_heights_pct(self) -> N:
        return crimp_heights_pct(
            self._crimp,
            ends_per_cm=self.ends_per_cm,
            picks_per_cm=self.picks_per_cm,
            warp_diameter_mm=self._stated.warp_depth_mm,
            weft_diameter_mm=self._stated.weft_depth_mm,
            mean_float_of_picks=self._stated.mean_float_of_picks,
            mean_float_of_ends=self._stated.mean_float_of_ends,
        )


_NAMES: Final = tuple(each.name for each in fields(ClothNumbers))

OF_WIDTH: Final = frozenset(
    {
        *("grey_width_cm", "panel_reed_width_cm", "reed_width_cm", "ground_ends", "total_ends"),
        *("loom_length_m", "woven_warp_m"),
    }
)
"""Numbers that follow from width, panels and length as well; of others the tightness does, too, as
far as the cloth is webbing or wider."""

_BUT_WIDTH: Final = tuple(name for name in _NAMES if name not in OF_WIDTH)
_numbers_but_width: Final = attrgetter(*_BUT_WIDTH)
_STATED_WIDTH: Final = ("width_cm", "panels", "panel_gap_cm", "selvedge_ends", "loom_length_m")
_stated_but_width: Final = attrgetter(
    *(each.name for each in fields(StatedCloth) if each.name not in _STATED_WIDTH)
)


def is_wider_alone(stated: StatedCloth[float], like: StatedCloth[float]) -> bool:
    """Return whether a cloth differs from another in width, panels or length alone, if at all."""
    alike: bool = _stated_but_width(stated) == _stated_but_width(like)
    return alike


def as_wide_as(wide: StatedCloth[float], stated: StatedCloth[float]) -> StatedCloth[float]:
    """Return a cloth in the width, panels and length of another."""
    return changed(stated, **{name: getattr(wide, name) for name in _STATED_WIDTH})


def cloth_like(
    stated: StatedCloth[float], like: StatedCloth[float], cloth: ClothNumbers[float]
) -> ClothNumbers[float]:
    """Bring a cloth to the grey state, as :func:`cloth_on_use` does, that was changed from another.

    If it differs in width, panels or length alone, all else is taken from the other.

    Args:
        stated: The cloth.
        like: The other.
        cloth: The other in the grey state.
    """
    if not is_wider_alone(stated, like):
        return cloth_on_use(stated)
    crimp = Crimps(cloth.warp_crimp_pct, cloth.weft_crimp_pct)
    grey_width_cm = stated.width_cm * _width_factor(stated, crimp.weft_crimp_pct)
    if is_webbing(grey_width_cm) is not is_webbing(cloth.grey_width_cm):
        return cloth_on_use(stated)
    made: _ClothOnUse[float] = object.__new__(_ClothOnUse)
    vars(made).update(_known_but_width(cloth))
    made._stated, made._crimp = stated, crimp
    made.grey_width_cm, made.loom_length_m = grey_width_cm, stated.loom_length_m
    return cast("ClothNumbers[float]", made)


def _known_but_width(cloth: ClothNumbers[N]) -> dict[str, Any]:
    """Return the numbers of a cloth that do not follow from its width, as far as they are known."""
    if isinstance(cloth, ClothNumbers):
        known = dict(zip(_BUT_WIDTH, _numbers_but_width(cloth), strict=True))
        return known | {"estimated_crimps": cloth.estimated_crimps}
    return {name: value for name, value in vars(cloth).items() if name not in OF_WIDTH}


def cloth_on_use(stated: StatedCloth[N]) -> ClothNumbers[N]:
    """Bring a cloth to the grey state; each number is computed when it is read."""
    return cast("ClothNumbers[N]", _ClothOnUse(stated))


def grey_cloth(stated: StatedCloth[N]) -> ClothNumbers[N]:
    """Bring a cloth to the grey state, and count and measure it there."""
    found = cloth_on_use(stated)
    return ClothNumbers(**{name: getattr(found, name) for name in _NAMES})


def with_numbers(cloth: ClothNumbers[N], **numbers: N) -> ClothNumbers[N]:
    """Return a cloth with other numbers by their names, those that follow from them included."""
    if isinstance(cloth, ClothNumbers):
        return changed(cloth, **numbers)
    other = copy(cloth)
    vars(other).update(numbers)
    return other


def _loose_tightness_pct(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> N:
    """Return the tightness of the loosest hundredth of a design; infinity if there is none."""
    known = stated.loose_float_of_picks > 0
    if not anywhere(known):
        return inf + 0 * picks_per_cm
    loose = tightness_pct(
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm * stated.loose_picks_share,
        warp_diameter_mm=stated.warp_width_mm,
        weft_diameter_mm=stated.weft_width_mm,
        mean_float_of_picks=greatest(1.0, stated.loose_float_of_picks),
        mean_float_of_ends=greatest(1.0, stated.loose_float_of_ends),
        warp_depth_mm=stated.warp_depth_mm,
        weft_depth_mm=stated.weft_depth_mm,
    )
    return either(known, loose, inf)


def _is_one_layer(stated: StatedCloth[N]) -> Truth:
    """Return whether no layers are declared, or one that has all threads."""
    first = stated.layers[0]
    return no(first.present) | ((first.set_ends_share >= 1.0) & (first.set_picks_share >= 1.0))


def _longest_float_mm(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> N:
    return greatest(
        float_length_mm(float_threads=stated.longest_warp_float_picks, threads_per_cm=picks_per_cm),
        float_length_mm(float_threads=stated.longest_weft_float_ends, threads_per_cm=ends_per_cm),
    )


def _free_float_mm(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> N:
    over_picks, over_ends = stated.longest_warp_float_picks, stated.longest_weft_float_ends
    return greatest(
        free_float_length_mm(float_threads=over_picks, threads_per_cm=picks_per_cm),
        free_float_length_mm(float_threads=over_ends, threads_per_cm=ends_per_cm),
    )


def _grey_layer(
    stated: StatedCloth[N],
    layer: StatedLayer[N],
    crimp: Crimps[N],
    ends_per_cm: N,
    picks_per_cm: N,
) -> GreyLayer[N]:
    """Set a layer against its own threads; 0 throughout if there is none."""
    ends, picks = ends_per_cm * layer.set_ends_share, picks_per_cm * layer.set_picks_share
    nothing: N = 0 * ends
    if not anywhere(layer.present):
        return GreyLayer(
            present=layer.present,
            ends_per_cm=ends,
            picks_per_cm=picks,
            warp_cover_pct=nothing,
            weft_cover_pct=nothing,
            mean_tightness_pct=nothing,
            held_tightness_pct=nothing,
            warp_crimp_pct=nothing,
            weft_crimp_pct=nothing,
            longest_float_mm=nothing,
            free_float_mm=nothing,
        )
    alone = by_itself(stated, layer)
    jam = jam_of_cloth(
        NO_SQUARES,
        lies_over=False,
        width_cm=nothing,
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_diameter_mm=layer.warp_width_mm,
        weft_diameter_mm=layer.weft_width_mm,
        mean_float_of_picks=layer.mean_float_of_picks,
        mean_float_of_ends=layer.mean_float_of_ends,
        warp_depth_mm=layer.warp_depth_mm,
        weft_depth_mm=layer.weft_depth_mm,
        holding_ends_per_cm=ends_per_cm * layer.holding_ends_share,
        holding_picks_per_cm=picks_per_cm * layer.holding_picks_share,
    )
    return GreyLayer(
        present=layer.present,
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_cover_pct=100 * crowding(threads_per_cm=ends, diameter_mm=layer.warp_width_mm),
        weft_cover_pct=100 * crowding(threads_per_cm=picks, diameter_mm=layer.weft_width_mm),
        mean_tightness_pct=jam.mean_tightness_pct,
        held_tightness_pct=jam.held_tightness_pct,
        warp_crimp_pct=crimp.warp_crimp_pct,
        weft_crimp_pct=crimp.weft_crimp_pct,
        longest_float_mm=_longest_float_mm(alone, ends, picks),
        free_float_mm=_free_float_mm(alone, ends, picks),
    )


def _greatest_of(layers: Sequence[GreyLayer[N]], values: Sequence[N], of_cloth: N) -> N:
    """Return the greatest value of any layer; that of the cloth if it has no layers."""
    most: N = 0 * of_cloth
    for layer, value in zip(layers, values, strict=True):
        most = greatest(most, either(layer.present, value, 0.0))
    return either(layers[0].present, most, of_cloth)


def _grey_crimps(stated: StatedCloth[N], picks_per_cm: N) -> ClothCrimps[N]:
    """Return the crimps of the grey cloth."""
    factor = stated.grey_width_factor
    found: ClothCrimps[N] = cloth_crimps(stated, stated.ends_per_cm / factor, picks_per_cm)
    in_loom = stated.in_loom_state
    if not anywhere(in_loom):
        return found
    # In the reed the weft lies straight, so the grey width needs the crimp, which needs the
    # grey sett: a few rounds bring the two together.
    for _ in range(CRIMP_ROUNDS):
        before = found.crimp.weft_crimp_pct
        in_reed = stated.ends_per_cm * (1 + before / 100)
        ends: N = either(in_loom, in_reed, stated.ends_per_cm / factor)
        found = cloth_crimps(stated, ends, picks_per_cm)
        if not anywhere(found.crimp.weft_crimp_pct != before):
            break
    return found


def _width_factor(stated: StatedCloth[N], weft_crimp_pct: N) -> N:
    """Return the grey width over the stated one."""
    if not anywhere(stated.in_loom_state):
        return stated.grey_width_factor
    in_reed = 1 + weft_crimp_pct / 100
    factor: N = either(stated.in_loom_state, 1 / in_reed, stated.grey_width_factor)
    return factor


@dataclass(slots=True, kw_only=True)
class StateNumbers(Record[N]):
    """A cloth in one state.

    Attributes:
        ends_per_cm: Of the ground.
        width_cm: Of one panel.
        length_m: Of all panels together.
        mass_g_per_m2: Of the yarn in the cloth, without size.
    """

    ends_per_cm: N
    picks_per_cm: N
    width_cm: N
    length_m: N
    mass_g_per_m2: N


def in_loom_state(grey: StateNumbers[N], *, weft_crimp_pct: N, relaxed_kept: N) -> StateNumbers[N]:
    """Return a grey cloth as it is in the loom: the weft straight in the reed, the warp tight."""
    straight = 1 + weft_crimp_pct / 100
    return StateNumbers(
        ends_per_cm=grey.ends_per_cm / straight,
        picks_per_cm=grey.picks_per_cm * relaxed_kept,
        width_cm=grey.width_cm * straight,
        length_m=grey.length_m / relaxed_kept,
        mass_g_per_m2=grey.mass_g_per_m2 * relaxed_kept / straight,
    )


def in_finished_state(
    grey: StateNumbers[N], *, width_kept: float, length_kept: float, mass_kept: float
) -> StateNumbers[N]:
    """Return a grey cloth as it is when finished; the factors are those of ``Shrinkages``."""
    return StateNumbers(
        ends_per_cm=grey.ends_per_cm / width_kept,
        picks_per_cm=grey.picks_per_cm / length_kept,
        width_cm=grey.width_cm * width_kept,
        length_m=grey.length_m * length_kept,
        mass_g_per_m2=grey.mass_g_per_m2 * mass_kept / (width_kept * length_kept),
    )
