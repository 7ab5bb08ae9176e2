"""The numbers of a cloth on a loom for a trial, each computed when a rule reads it."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, Final, cast

from weavability.checks.facts import (
    Facts,
    Pair,
    WeaveCounts,
    WeaveNumbers,
    facts_on,
    fit_numbers_of,
)
from weavability.looms.denting import in_stated_reed
from weavability.looms.finished_figures import figures_like, finished_figures, required_on_use
from weavability.looms.fit import Fit, YarnOnLoom
from weavability.looms.fit_numbers import OF_SPEED, FitNumbers
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.order_numbers import (
    OF_NO_THREAD,
    REQUESTED_SPEED,
    OrderNumbers,
    at_requested_speed,
    order_on_use,
    with_requirements,
)
from weavability.textiles.assumptions import Ledger
from weavability.textiles.cloth import cloth_measures
from weavability.textiles.cloth_bounds import is_endless
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_states import OF_WIDTH, cloth_like, cloth_on_use
from weavability.textiles.cloth_symbols import changed_fields, cloth_symbols
from weavability.textiles.construction import Construction
from weavability.textiles.jamming import is_webbing
from weavability.textiles.numbers import Record, changed, on_use

_SPEED: Final = frozenset({"requested_speed_picks_per_min"})


_OF_NO_CLOTH: Final = _SPEED | {"reed"}
"""Fields on which the cloth does not depend, but for its width in the reed; of the reed, all but
its pattern."""


_OF_NO_THREAD: Final = _OF_NO_CLOTH | {
    *("warp", "weft", "width_cm", "panels", "draft", "ends_in_dents"),
}
"""Fields on which yarns, weave and allowances do not depend; of warp and weft, their setts."""


def _names_of(*kinds: type[Record[Any]]) -> frozenset[str]:
    return frozenset(each.name for kind in kinds for each in fields(cast("Any", kind)))


_ALTERED_BY_SPEED: Final = OF_SPEED | REQUESTED_SPEED
_ON_LOOM: Final = OF_NO_THREAD | _names_of(FitNumbers, WeaveNumbers) - _names_of(WeaveCounts)
_ALTERED_BY_WIDTH: Final = _ON_LOOM | OF_WIDTH
_ALTERED_BY_SETTS: Final = _ON_LOOM | _names_of(ClothNumbers)


@on_use
class Trial:
    """The numbers of a cloth on a loom for a trial that needs no message.

    Each part is computed when it is read, so that a rule that reads few numbers costs little. What
    rules read (``order``, ``cloth``, ``fit`` …) has the names of :class:`Facts`.

    Args:
        construction: The cloth.
        limits: The loom.
        like: The fit of a construction from which this one was changed, on the same loom: what the
            change leaves as it is, is taken from it.
        facts: The numbers of that fit.

    Raises:
        InputError: The construction cannot be read; also when a part is read.
    """

    def __init__(
        self,
        construction: Construction,
        limits: LoomLimits,
        like: Fit | None = None,
        facts: Facts[float] | None = None,
    ) -> None:
        unkept, before, other = Ledger(keeps=False), None, None
        if like is not None:
            before = like.cloth.symbols
            other = changed_fields(construction, before.construction)
        self._like, self._facts_like = like, facts
        self._changed: frozenset[str] | None = other
        self._limits = limits
        self._is_required = False
        self.symbols = cloth_symbols(construction, unkept, unkept, before, other)
        self.loom = limits.numbers
        self.shedding = limits.shedding.numbers

    @property
    def cloth(self) -> ClothNumbers[float]:
        """The cloth in numbers."""
        if self._like is not None and self._leaves(_SPEED):
            return self._like.cloth.numbers
        return in_stated_reed(self.order, self._as_ordered)

    @property
    def _as_ordered(self) -> ClothNumbers[float]:
        stated = self.symbols.stated()
        if self._like is None:
            return cloth_on_use(stated)
        before = self._like.cloth
        return cloth_like(stated, before.symbols.stated(), before.numbers)

    @property
    def order(self) -> OrderNumbers[float]:
        """What the order requests; what the customer requires only after :meth:`require`."""
        if self._like is not None and self._leaves(_SPEED):
            return at_requested_speed(self.symbols.construction, self._like.order)
        if self._like is not None and self._leaves(_OF_NO_THREAD):
            return order_on_use(self.symbols, self._like.order)
        return order_on_use(self.symbols)

    def require(self) -> None:
        """Add what the customer requires, which depends on all of the cloth."""
        if not self._is_required:
            self._is_required = True
            if self.symbols.construction.requirements is None or self._leaves_figures:
                return
            if self._like is None:
                figures = finished_figures(self.symbols)
            else:
                figures = figures_like(self.symbols, self._like.cloth.symbols, self.cloth)
            vars(self)["order"] = with_requirements(self.order, required_on_use(figures))

    @property
    def _leaves_figures(self) -> bool:
        """Whether the finished cloth is that of the order; wide selvedges rest on the denting."""
        is_wide = bool(self.order.selvedge.are_many)
        return self._leaves(_SPEED if is_wide else _OF_NO_CLOTH)

    @property
    def fit(self) -> FitNumbers[float]:
        """The cloth on the loom."""
        same = self._like if self._leaves(_SPEED) else None
        numbers = None if same is None else same.numbers
        return fit_numbers_of(self.order, self.cloth, self._limits, self._like, numbers)

    @property
    def weave(self) -> WeaveNumbers[float]:
        """The weave, drawn in."""
        return self._facts().weave

    @property
    def is_as_woven(self) -> bool:
        """Whether it is the cloth of the order, at another speed or none."""
        return self._like is not None and self._leaves(_SPEED)

    @property
    def altered(self) -> frozenset[str] | None:
        """Names of the numbers in which it may differ from the other; ``None`` for any."""
        if self._like is None or not self._leaves(_OF_NO_THREAD):
            return None
        if self._leaves(_SPEED):
            return _ALTERED_BY_SPEED
        were_webbing = is_webbing(self._like.cloth.numbers.grey_width_cm)
        is_wider_alone = self._leaves(_SPEED | {"width_cm"})
        if is_wider_alone and is_webbing(self.cloth.grey_width_cm) is were_webbing:
            return _ALTERED_BY_WIDTH
        return _ALTERED_BY_SETTS

    def on_loom(self) -> YarnOnLoom:
        """Return the facts of the cloth, and what decides how much yarn it takes."""
        if self._like is not None and self._leaves(_SPEED):
            return YarnOnLoom(self._like.cloth, self._limits, self.fit)
        return YarnOnLoom(cloth_measures(self.symbols, self.cloth), self._limits, self.fit)

    def _leaves(self, fields: frozenset[str]) -> bool:
        """Return whether nothing but some fields was changed."""
        return self._changed is not None and self._changed <= fields

    def _facts(self) -> Facts[float]:
        if self._facts_like is not None and self._leaves(_SPEED):
            return changed(self._facts_like, order=self.order, fit=self.fit)
        drawn = None
        if self._like is not None and self._leaves(_OF_NO_CLOTH):
            is_as_wide = self.cloth.reed_width_cm == self._like.cloth.widths.reed_cm
            drawn = self._like.drawing_in if is_as_wide else None
        return facts_on(self.symbols, self.order, self.cloth, self._limits, self.fit, drawn)

    def pair(self) -> Pair | None:
        """Return all numbers; ``None`` if the pair cannot be judged."""
        self.require()
        cloth = self._as_ordered
        endless = is_endless(
            total_ends=cloth.total_ends, reed_cm=cloth.reed_width_cm, warp_m=cloth.woven_warp_m
        )
        if endless or not self.fit.is_judged:
            return None
        return Pair(self._facts(), self.symbols, self._limits)
