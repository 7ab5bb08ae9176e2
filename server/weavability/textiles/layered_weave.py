"""Threads that lie over one another: the layers that an order declares, held against its weave.

Each thread belongs to a layer, by thread orders of their own in which a letter is a layer. A layer
that has ends and picks is a cloth; one that has only ends or only picks is a backing, which is
bound by the ends or picks of other layers, or a wadding, which nothing binds; webbing is one system
of picks with several layers of ends. Pile is bound in the layers and lies in no plane. At every
crossing of two layers one lies above the other: the layer that is the upper one at more crossings
lies above, and a crossing that has it the other way round is a stitch in a stitched cloth and a
contradiction in a separate one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.construction import Joined, Layers
from weavability.textiles.errors import InputError
from weavability.textiles.layer_declaration import MOST_JOINT_THREADS, layer_orders, too_long_repeat
from weavability.textiles.thread_order import ThreadOrder
from weavability.textiles.weave_matrix import Matrix, Weave, about_to_make
from weavability.textiles.weave_structure import (
    MAX_KEPT_CELLS,
    MAX_REMEMBERED_CELLS,
    Structure,
    analyse,
)

MOST_STITCHED_SHARE: Final = 0.25
"""Share of the crossings of two layers up to which those against their order are stitches.

Our definition: at more, neither of the two lies above the other. A backing that is bound by one end
in four has this share.
"""

LEAST_PASSING_SHARE: Final = 0.5
"""Crossings at which the ends of two layers with the same picks are on unlike sides; ours."""

MOST_EXCHANGED_SHARE: Final = 0.25
"""Exchanges of two interchanging layers along a thread, over its crossings with the other layer.

Our definition: a figure has at least four threads of a layer side by side before they exchange.
"""

LEAST_PILE_FLOAT_ENDS: Final = 3
"""Ends that the longest float of pile picks passes at the least; our definition."""


Places = NDArray[np.intp]


class Clash(StrEnum):
    """How a declaration contradicts the weave."""

    CROSSING = "crossing"
    ORDER = "order"
    NEVER = "never"
    MIXED = "mixed"
    LAYER = "layer"
    PILE = "pile"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """The first contradiction between the declared layers and the weave.

    Attributes:
        clash: What contradicts.
        layer: The layer that it is about; of a crossing, that which should lie above.
        other: The other layer, if there is one.
        pick: The crossing, or the thread, where it is found first; 1-based, 0 if there is none.
        end: Likewise.
        crossings: Crossings that contradict, in the joint repeat of weave and layers.
        share_pct: Them as a share of all crossings of the two layers; of ``MIXED``, the exchanges.
        without_picks: A layer without pile that has only ends, if another has only picks; else
            ``""``. Perhaps the two are one, and a letter is mistyped.
        without_ends: That other layer.
    """

    clash: Clash
    layer: str
    other: str = ""
    pick: int = 0
    end: int = 0
    crossings: int = 1
    share_pct: float = 0.0
    without_picks: str = ""
    without_ends: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LayerWeave:
    """A layer in the weave.

    Attributes:
        letter: Its name.
        is_pile: Whether it is pile.
        ends_share: Its own ends as a share of all ends.
        picks_share: Its own picks as a share of all picks.
        set_with_ends: Layers whose ends its picks are set with: its own, or those that bind it.
        set_with_picks: Layers whose picks its ends are set with, likewise.
        weave: The weave of its threads alone; ``None`` if nothing binds it.
        structure: Of that weave.
    """

    letter: str
    is_pile: bool
    ends_share: float
    picks_share: float
    set_with_ends: tuple[str, ...]
    set_with_picks: tuple[str, ...]
    weave: Weave | None
    structure: Structure | None

    @property
    def is_set(self) -> bool:
        """Whether its threads are set against one another: it is woven, and no pile."""
        return self.weave is not None and not self.is_pile

    @property
    def is_cloth(self) -> bool:
        """Whether it has ends and picks of its own and is no pile."""
        return not self.is_pile and self.ends_share > 0 and self.picks_share > 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LayeredWeave:
    """The layers that an order declares, in its weave.

    Attributes:
        joined: How the layers without pile are joined; ``None`` if there is one.
        ends: The layer of every end of one repeat of its order.
        picks: The layer of every pick, likewise.
        joint_ends: Ends after which weave and layers repeat together.
        joint_picks: Picks, likewise.
        layers: The layers from the face to the back, then the pile.
        stitches: Crossings by which stitched layers are bound, in the joint repeat; ``None`` of
            layers that are not stitched, or that all share picks or ends.
        sharing: Pairs of layers that share their picks, or ends, and pass one another on two
            levels, as in webbing: what crosses in them is no stitch.
        shared: All layers that so share picks or ends, each time as the one layer that they are
            where there is no room to pass.
        unbound_parts: Parts of a stitched cloth that no stitch joins; 1 if it is one.
        cloths: Cloths that are meant to come off one another.
        contradiction: The first contradiction between declaration and weave.
    """

    joined: Joined | None
    ends: ThreadOrder
    picks: ThreadOrder
    joint_ends: int
    joint_picks: int
    layers: tuple[LayerWeave, ...] = field(repr=False)
    stitches: int | None
    sharing: frozenset[tuple[str, str]]
    shared: tuple[LayerWeave, ...] = field(repr=False)
    unbound_parts: int
    cloths: int
    contradiction: Contradiction | None

    def set_shares(self, layer: LayerWeave) -> tuple[float, float]:
        """Return the ends and picks that are set with one another in a layer, as shares of all."""
        return _share(self.ends, layer.set_with_ends), _share(self.picks, layer.set_with_picks)

    def holding_shares(self, layer: LayerWeave) -> tuple[float, float]:
        """Return all ends that its picks interlace with, and all such picks, as shares of all.

        So the picks of webbing are held by the ends of every layer.
        """
        ground = [one for one in self.layers if not one.is_pile]
        ends = {
            letter
            for one in ground
            if not set(one.set_with_picks).isdisjoint(layer.set_with_picks)
            for letter in one.set_with_ends
        }
        picks = {
            letter
            for one in ground
            if not set(one.set_with_ends).isdisjoint(layer.set_with_ends)
            for letter in one.set_with_picks
        }
        return _share(self.ends, sorted(ends)), _share(self.picks, sorted(picks))


def _share(order: ThreadOrder, letters: Sequence[str]) -> float:
    return sum(order.counts.get(letter, 0) for letter in letters) / order.threads


def layered_weave(weave: Weave, stated: Layers) -> LayeredWeave:
    """Find the layers of a weave, and what in it contradicts them.

    Args:
        weave: The weave, cut to its true repeat.
        stated: The declaration.

    Raises:
        InputError: The declaration cannot be read, or repeats with the weave after more than
            ``MOST_JOINT_THREADS``; pointers are relative to the declaration.

    Two plain cloths, one over the other:

    >>> double = Weave.from_rows(["1000", "1110", "0010", "1011"])
    >>> tube = layered_weave(double, Layers(ends="F B", picks="F B", joined=Joined.SEPARATE))
    >>> [layer.letter for layer in tube.layers], tube.layers[0].weave.rows, tube.contradiction
    (['F', 'B'], ('10', '01'), None)
    """
    ends, picks = layer_orders(stated)
    joint = math.lcm(weave.ends, ends.threads), math.lcm(weave.picks, picks.threads)
    faults = [
        fault
        for name, text, threads in zip(
            ("ends", "picks"), (stated.ends, stated.picks), joint, strict=True
        )
        if threads > MOST_JOINT_THREADS
        for fault in too_long_repeat(f"/{name}", text, threads).faults
    ]
    if faults:
        raise InputError(faults)
    crossings = joint[0] * joint[1]
    if crossings > MAX_KEPT_CELLS:
        return _found(weave, stated)
    return (_kept if crossings > MAX_REMEMBERED_CELLS else _remembered)(weave, stated)


# The remedies of an order, and every loom of a park, ask for the same layers again.
@lru_cache(maxsize=64)
def _remembered(weave: Weave, stated: Layers) -> LayeredWeave:
    return _found(weave, stated)


@lru_cache(maxsize=1)
def _kept(weave: Weave, stated: Layers) -> LayeredWeave:
    return _found(weave, stated)


def _found(weave: Weave, stated: Layers) -> LayeredWeave:
    ends, picks = layer_orders(stated)
    joint_ends = math.lcm(weave.ends, ends.threads)
    joint_picks = math.lcm(weave.picks, picks.threads)
    about_to_make(ends=joint_ends, picks=joint_picks)
    return _Crossings.of(weave, stated, ends, picks, joint_ends, joint_picks).read()


class _Pair(NamedTuple):
    """Two layers, the upper one first, and how often it lies above."""

    upper: str
    lower: str
    above: int
    crossings: int

    @property
    def against(self) -> int:
        return self.crossings - self.above


@dataclass(frozen=True, slots=True, kw_only=True)
class _Crossings:
    """The joint repeat of weave and layers.

    Attributes:
        weave: The weave, at its own repeat.
        up: Crossings of every layer of picks with every layer of ends at which the end is up.
    """

    weave: Weave
    stated: Layers
    ends: ThreadOrder
    picks: ThreadOrder
    matrix: Matrix
    ends_of: Mapping[str, Places]
    picks_of: Mapping[str, Places]
    up: Mapping[tuple[str, str], int]

    @classmethod
    def of(
        cls,
        weave: Weave,
        stated: Layers,
        ends: ThreadOrder,
        picks: ThreadOrder,
        joint_ends: int,
        joint_picks: int,
    ) -> _Crossings:
        matrix = np.tile(weave.matrix, (joint_picks // weave.picks, joint_ends // weave.ends))
        ends_of, picks_of = _places(ends, joint_ends), _places(picks, joint_picks)
        up = {}
        for letter, rows in picks_of.items():
            raised = matrix[rows].sum(axis=0, dtype=np.int64)
            for other, columns in ends_of.items():
                up[letter, other] = int(raised[columns].sum())
        return cls(
            weave=weave,
            stated=stated,
            ends=ends,
            picks=picks,
            matrix=matrix,
            ends_of=ends_of,
            picks_of=picks_of,
            up=up,
        )

    @property
    def ground(self) -> list[str]:
        """The layers without pile, in the order in which they are named."""
        named = dict.fromkeys((*self.ends.counts, *self.picks.counts))
        return [letter for letter in named if letter not in self.stated.pile]

    @property
    def joined(self) -> Joined | None:
        """How several layers are joined."""
        return self.stated.joined if len(self.ground) > 1 else None

    def read(self) -> LayeredWeave:
        """Put together what follows."""
        order = self._from_the_face()
        joined = self.joined
        pairs = [
            pair
            for place, upper in enumerate(order)
            for lower in order[place + 1 :]
            if (pair := self._pair(upper, lower)).crossings
        ]
        layers = tuple(map(self._layer, (*order, *self.stated.pile)))
        parts = len(_strong_parts(order, pairs)) if joined is Joined.STITCHED else 1
        separate = joined is Joined.SEPARATE
        stitched = joined is Joined.STITCHED
        sharing = [pair for pair in pairs if stitched and self._share_threads(pair)]
        return LayeredWeave(
            joined=joined,
            ends=self.ends,
            picks=self.picks,
            joint_ends=self.matrix.shape[1],
            joint_picks=self.matrix.shape[0],
            layers=layers,
            stitches=sum(pair.against for pair in pairs if pair not in sharing)
            if stitched and not (sharing and len(sharing) == len(pairs))
            else None,
            sharing=frozenset((pair.upper, pair.lower) for pair in sharing),
            shared=tuple(self._as_one(order, sharing)),
            unbound_parts=parts,
            cloths=self._apart(layers) if separate else parts,
            contradiction=self._contradiction(layers, pairs),
        )

    def _crossings(self, picks: str, ends: str) -> int:
        if picks not in self.picks_of or ends not in self.ends_of:
            return 0
        return len(self.picks_of[picks]) * len(self.ends_of[ends])

    def _pair(self, one: str, other: str) -> _Pair:
        """Count where one layer lies above another: its ends up, the other's ends down."""
        ends, picks = self._crossings(other, one), self._crossings(one, other)
        above = self.up.get((other, one), 0) + picks - self.up.get((one, other), 0)
        return _Pair(one, other, above, ends + picks)

    def _from_the_face(self) -> list[str]:
        """Sort the layers without pile from the face of the cloth to its back."""
        ground = self.ground

        def beaten(letter: str) -> int:
            pairs = (self._pair(letter, other) for other in ground if other != letter)
            return sum(2 * pair.above < pair.crossings for pair in pairs)

        return sorted(ground, key=beaten)

    def _layer(self, letter: str) -> LayerWeave:
        is_pile = letter in self.stated.pile
        own_ends, own_picks = letter in self.ends_of, letter in self.picks_of
        with_ends = (letter,) if own_ends and not is_pile else self._binding(letter, ends=True)
        with_picks = (letter,) if own_picks and not is_pile else self._binding(letter, ends=False)
        if is_pile:
            # Ends of pile are bound by the picks of the ground, its picks by the ends.
            with_ends = with_ends if own_picks else (letter,)
            with_picks = (letter,) if own_picks else with_picks
        sub = self._sub_weave(with_picks, with_ends)
        return LayerWeave(
            letter=letter,
            is_pile=is_pile,
            ends_share=self.ends.counts.get(letter, 0) / self.ends.threads,
            picks_share=self.picks.counts.get(letter, 0) / self.picks.threads,
            set_with_ends=with_ends,
            set_with_picks=with_picks,
            weave=sub,
            structure=None if sub is None else analyse(sub),
        )

    def _as_one(self, order: Sequence[str], sharing: Sequence[_Pair]) -> Iterator[LayerWeave]:
        """Put together the layers that share their picks, or their ends."""
        for part in _strong_parts(order, [pair._replace(above=1) for pair in sharing]):
            if len(part) == 1:
                continue
            ends = tuple(letter for letter in order if letter in part & self.ends_of.keys())
            picks = tuple(letter for letter in order if letter in part & self.picks_of.keys())
            sub = self._sub_weave(picks, ends)
            if sub is not None:
                yield LayerWeave(
                    letter="".join(sorted(part)),
                    is_pile=False,
                    ends_share=_share(self.ends, ends),
                    picks_share=_share(self.picks, picks),
                    set_with_ends=ends,
                    set_with_picks=picks,
                    weave=sub,
                    structure=analyse(sub),
                )

    def _binding(self, letter: str, *, ends: bool) -> tuple[str, ...]:
        """Return layers without pile whose ends (or picks) interlace with threads of a layer."""
        return tuple(
            other
            for other in self.ground
            if other != letter
            for key in [(letter, other) if ends else (other, letter)]
            if 0 < self.up.get(key, 0) < self._crossings(*key)
        )

    def _sub_weave(self, picks: Sequence[str], ends: Sequence[str]) -> Weave | None:
        rows, columns = _joint(self.picks_of, picks), _joint(self.ends_of, ends)
        if not len(rows) or not len(columns):
            return None
        return Weave(matrix=self.matrix[np.ix_(rows, columns)]).reduced()

    def _apart(self, layers: Sequence[LayerWeave]) -> int:
        """Count the cloths of separate layers; each thread that lies between them is one."""
        loose = [one for one in layers if not one.is_pile and not one.is_cloth]
        between = sum(
            self.weave.picks * one.picks_share + self.weave.ends * one.ends_share for one in loose
        )
        return sum(one.is_cloth for one in layers) + round(between)

    def _contradiction(
        self, layers: Sequence[LayerWeave], pairs: Sequence[_Pair]
    ) -> Contradiction | None:
        found = next(self._contradictions(layers, pairs), None)
        only_ends = [letter for letter in self.ground if letter not in self.picks_of]
        only_picks = [letter for letter in self.ground if letter not in self.ends_of]
        if found is None or not only_ends or not only_picks:
            return found
        return replace(found, without_picks=only_ends[0], without_ends=only_picks[0])

    def _contradictions(
        self, layers: Sequence[LayerWeave], pairs: Sequence[_Pair]
    ) -> Iterator[Contradiction]:
        """Yield what contradicts, the layers by themselves first."""
        for layer in layers:
            yield from self._of_layer(layer)
        joined = self.joined
        if joined is Joined.SEPARATE:
            contrary = [found for pair in pairs if pair.against for found in [self._first(pair)]]
            yield from sorted(contrary, key=lambda one: (one.pick, one.end))
        elif joined is Joined.STITCHED:
            for pair in pairs:
                if _is_mixed(pair) and not self._share_threads(pair):
                    yield self._first(pair, Clash.ORDER)
        elif joined is Joined.INTERCHANGING:
            yield from self._of_exchange(pairs)

    def _share_threads(self, pair: _Pair) -> bool:
        """Return whether two layers share picks, or ends, and pass one another on two levels.

        So do the ends of webbing: each layer interlaces with the only picks, and where an end of
        one is up, the end beside it of the other is mostly down.
        """
        one, other = pair.upper, pair.lower
        if not _is_mixed(pair):
            return False
        for mine, shared, matrix in (
            (self.ends_of, self.picks_of, self.matrix),
            (self.picks_of, self.ends_of, self.matrix.T),
        ):
            if not (one in mine and other in mine and (one in shared) != (other in shared)):
                continue
            rows = shared[one] if one in shared else shared[other]
            beside = mine[other][np.searchsorted(mine[other], mine[one]) % len(mine[other])]
            unlike = matrix[np.ix_(rows, mine[one])] != matrix[np.ix_(rows, beside)]
            return bool(unlike.mean() >= LEAST_PASSING_SHARE)
        return False

    def _of_layer(self, layer: LayerWeave) -> Iterator[Contradiction]:
        structure = layer.structure
        if layer.is_pile:
            longest = structure.longest_weft_float_ends if structure else 0
            if layer.picks_share and longest < LEAST_PILE_FLOAT_ENDS:
                first = int(self.picks_of[layer.letter][0]) + 1
                yield Contradiction(clash=Clash.PILE, layer=layer.letter, pick=first)
        elif layer.is_cloth and structure and not structure.hangs_together:
            ends, picks = self.ends_of[layer.letter], self.picks_of[layer.letter]
            yield Contradiction(
                clash=Clash.LAYER,
                layer=layer.letter,
                pick=_number(picks, structure.loose_picks),
                end=_number(ends, structure.loose_ends),
            )

    def _first(self, pair: _Pair, clash: Clash = Clash.CROSSING) -> Contradiction:
        """Find the first crossing at which the lower of two layers lies above."""
        pick, end = min(
            _first_crossing(self._at(pair.lower, pair.upper), value=0),
            _first_crossing(self._at(pair.upper, pair.lower), value=1),
        )
        return Contradiction(
            clash=clash,
            layer=pair.upper,
            other=pair.lower,
            pick=pick,
            end=end,
            crossings=pair.against,
            share_pct=100 * pair.against / pair.crossings,
        )

    def _at(self, picks: str, ends: str) -> tuple[Places, Places, Matrix]:
        rows, columns = _joint(self.picks_of, [picks]), _joint(self.ends_of, [ends])
        return rows, columns, self.matrix[np.ix_(rows, columns)]

    def _of_exchange(self, pairs: Sequence[_Pair]) -> Iterator[Contradiction]:
        if not any(pair.against for pair in pairs):
            upper, lower = pairs[0][:2]
            yield Contradiction(clash=Clash.NEVER, layer=upper, other=lower)
        for pair in pairs:
            share = max(
                _exchanges(self._at(pair.lower, pair.upper)[2]),
                _exchanges(self._at(pair.upper, pair.lower)[2]),
            )
            if share > MOST_EXCHANGED_SHARE:
                yield Contradiction(
                    clash=Clash.MIXED, layer=pair.upper, other=pair.lower, share_pct=100 * share
                )


def _is_mixed(pair: _Pair) -> bool:
    """Return whether neither of two layers is above the other: no crossing is a stitch."""
    return pair.against > MOST_STITCHED_SHARE * pair.crossings


def _places(order: ThreadOrder, threads: int) -> dict[str, Places]:
    """Return the places of every layer's threads in a joint repeat."""
    letters = np.array(order.sequence * (threads // order.threads))
    return {letter: np.flatnonzero(letters == letter) for letter in order.counts}


def _joint(places: Mapping[str, Places], letters: Sequence[str]) -> Places:
    found = [places[letter] for letter in letters if letter in places]
    return np.sort(np.concatenate(found)) if found else np.array([], dtype=np.intp)


def _number(places: Places, loose: Sequence[int]) -> int:
    """Return the 1-based number in the cloth of the first loose thread of a layer; 0 for none."""
    return int(places[loose[0] - 1]) + 1 if loose else 0


def _first_crossing(at: tuple[Places, Places, Matrix], *, value: int) -> tuple[int, int]:
    """Return pick and end of the first crossing with a value, 1-based; beyond all if none has."""
    rows, columns, matrix = at
    if matrix.size:
        found = matrix == value
        lines = found.any(axis=1)
        if lines.any():
            row = int(lines.argmax())
            return int(rows[row]) + 1, int(columns[found[row].argmax()]) + 1
    return MOST_JOINT_THREADS + 1, 0


def _exchanges(matrix: Matrix) -> float:
    """Return the greater share of neighbours along rows or columns that differ, cyclically."""
    shares = [
        float((matrix != np.roll(matrix, 1, axis=axis)).mean())
        for axis in (0, 1)
        if matrix.size and matrix.shape[axis] > 1
    ]
    return max(shares, default=0.0)


def _strong_parts(order: Sequence[str], pairs: Sequence[_Pair]) -> list[set[str]]:
    """Return the layers that hold one another: each lies above another, and below it."""
    reached = {letter: {letter} for letter in order}
    for pair in pairs:
        if pair.above:
            reached[pair.upper].add(pair.lower)
        if pair.against:
            reached[pair.lower].add(pair.upper)
    for middle in order:
        for letter in order:
            if middle in reached[letter]:
                reached[letter] |= reached[middle]
    parts: list[set[str]] = []
    for letter in order:
        if not any(letter in part for part in parts):
            parts.append({one for one in reached[letter] if letter in reached[one]})
    return parts
