"""What the hooks lift for a design: its weaves laid on the hooks, one pick for each weft of a line.

Weaves are laid on the hooks, never on the cloth: the tie turns and repeats them with the figure.
Each is counted from the first hook and line, so that separate areas of one colour join, and
in picks of its own weft. A figuring weft has all ends raised where it does not show, but for its
binding, and the ground weft lies under its figures: [BELL-1895], p. 117-118 and 250.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.figured.figured_design import Back, Design, Effect, Face, Insertion, Role
from weavability.textiles.weave_matrix import Matrix, Weave, about_to_make
from weavability.textiles.weave_structure import remembered_structure

Places = NDArray[np.intp]

_RAISED: Final = Weave.from_rows(["1"])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HookLifts:
    """What the hooks lift.

    Attributes:
        lift: ``uint8`` array of shape (picks, hooks), 1 where the hook is raised; read-only.
        line_of_pick: The line of the picture that each pick belongs to.
        weft_of_pick: The place of its weft among those of the design.
        effect_lines: Pixels of each effect on every line, shape (lines, effects).
    """

    design: Design
    lift: Matrix
    line_of_pick: Places
    weft_of_pick: Places
    effect_lines: NDArray[np.int32]

    @property
    def weave(self) -> Weave:
        """The lifts as a weave, each hook an end."""
        return Weave(matrix=self.lift)

    @property
    def weft_order(self) -> str:
        """The wefts of all picks as a thread order; empty if one weft weaves it all.

        Lines of the same wefts are put together.
        """
        keys = self.design.weft_keys
        if len(keys) == 1:
            return ""
        firsts = np.flatnonzero(np.diff(self.line_of_pick, prepend=-1))
        picks = np.split(self.weft_of_pick, firsts[1:])
        lines = [" ".join(keys[weft] for weft in of_line) for of_line in picks]
        runs = [(line, len(list(alike))) for line, alike in groupby(lines)]
        if len(runs) == 1:
            return runs[0][0]
        return " ".join(f"{times}({line})" for line, times in runs)

    @property
    def picks_by_weft(self) -> dict[str, int]:
        """Picks of each weft, which are its cards."""
        counts = np.bincount(self.weft_of_pick, minlength=len(self.design.weft_keys))
        return dict(zip(self.design.weft_keys, counts.tolist(), strict=True))

    @property
    def taken_up(self) -> NDArray[np.bool_]:
        """Whether the take-up moves the cloth on for each pick."""
        wefts = [not weft.without_take_up for weft in self.design.wefts.values()]
        moves: NDArray[np.bool_] = np.array(wefts or [True])[self.weft_of_pick]
        return moves

    @property
    def higher_lines_pct(self) -> float:
        """How much higher the highest line is than the lowest, by the picks that are taken up."""
        picks = np.bincount(self.line_of_pick[self.taken_up])
        return 100 * (float(picks.max() / picks.min()) - 1)

    def effects_of_pick(self, pick: int) -> Matrix:
        """Return the number of the effect at each hook of a pick."""
        row: Matrix = self.design.picture.pixels[self.line_of_pick[pick]]
        return row


def turned_to(weave: Weave, face: Face | None) -> Weave:
    """Return a weave with the face requested: as it is, or with warp and weft exchanged.

    >>> turned_to(Weave.from_rows(["110", "011", "101"]), Face.WEFT).rows
    ('001', '100', '010')
    """
    if face is None or remembered_structure(weave)[1].face in (face.value, "balanced"):
        return weave
    return Weave(matrix=1 - weave.matrix)


def lay_on_hooks(design: Design) -> HookLifts:
    """Lay the weaves of a design on the hooks.

    The cost is linear in the crossings; beside the result a line at a time is held.

    Args:
        design: Its columns are hooks.
    """
    pixels = design.picture.pixels
    lines, hooks = pixels.shape
    counted = count_effects(design)
    line_of_pick, weft_of_pick = _insertions(design, counted)
    if len(line_of_pick) > lines:
        about_to_make(ends=hooks, picks=len(line_of_pick) - lines)
    lift = np.empty((len(line_of_pick), hooks), dtype=np.uint8)
    own_picks = [0] * len(design.weft_keys)
    layers = [_Weft(design, weft, hooks) for weft in range(len(design.weft_keys))]
    for pick, (line, weft) in enumerate(
        zip(line_of_pick.tolist(), weft_of_pick.tolist(), strict=True)
    ):
        present = np.flatnonzero(counted[line])
        layers[weft].lay(lift[pick], pixels[line], present, own_picks[weft])
        own_picks[weft] += 1
    lift.setflags(write=False)
    return HookLifts(
        design=design,
        lift=lift,
        line_of_pick=line_of_pick,
        weft_of_pick=weft_of_pick,
        effect_lines=counted,
    )


def count_effects(design: Design) -> NDArray[np.int32]:
    """Count the pixels of each effect on every line."""
    pixels, most = design.picture.pixels, len(design.picture.colours)
    counted = np.empty((len(pixels), most), dtype=np.int32)
    for line, row in enumerate(pixels):
        counted[line] = np.bincount(row, minlength=most)
    return counted


def _insertions(design: Design, counted: NDArray[np.int32]) -> tuple[Places, Places]:
    """Return line and weft of every pick: wefts that need not be inserted are left out."""
    shown = [design.weft_of(effect) for effect in design.effects_by_value]
    inserted = np.ones((len(counted), len(design.weft_keys)), dtype=np.bool_)
    for place, weft in enumerate(design.wefts.values()):
        if weft.insert is Insertion.WHERE_IT_SHOWS:
            own = [value for value, one in enumerate(shown) if one == place]
            inserted[:, place] = counted[:, own].any(axis=1)
    lines, wefts = np.nonzero(inserted)
    return lines, wefts


class _Weft:
    """What one weft asks of the hooks in every effect, each weave repeated over the hooks."""

    def __init__(self, design: Design, place: int, hooks: int) -> None:
        self._weaves: list[Sequence[Matrix]] = []
        self._shifts: list[int] = []
        for effect in design.effects_by_value:
            weave, (ends, picks) = _weave_of(design, effect, place)
            self._weaves.append(_rows(weave, hooks, ends))
            self._shifts.append(picks)

    def lay(self, row: Matrix, effects: Matrix, present: Places, own_pick: int) -> None:
        """Fill the row of a pick, the ``own_pick``-th of this weft."""
        for effect in present.tolist():
            rows = self._weaves[effect]
            lifted = rows[(own_pick - self._shifts[effect]) % len(rows)]
            np.copyto(row, lifted, where=effects == effect)


def _rows(weave: Weave, hooks: int, shift: int) -> list[Matrix]:
    """Return the rows of a weave over all hooks."""
    ends = (np.arange(hooks) - shift) % weave.ends
    return [row[ends] for row in weave.matrix]


def _weave_of(design: Design, effect: Effect, place: int) -> tuple[Weave, tuple[int, int]]:
    """Return how a weft weaves in an effect, and how far that weave is moved."""
    if design.weft_of(effect) == place:
        return turned_to(effect.weave, effect.face), effect.shift
    weft = design.wefts[design.weft_keys[place]]
    if weft.role is Role.GROUND:
        return weft.weave or _RAISED, (0, 0)
    if weft.back is Back.BOUND and weft.binding is not None:
        return turned_to(weft.binding, Face.WARP), (0, 0)
    return _RAISED, (0, 0)
