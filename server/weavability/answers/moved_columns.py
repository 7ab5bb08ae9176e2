"""Columns of pairs with other values assumed: only what a rule reads is computed."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from weavability.checks.facts import Facts, WeaveCounts, WeaveNumbers, facts_from
from weavability.looms.beam_density import BEAM_DENSITIES
from weavability.looms.denting import in_stated_reed
from weavability.looms.drawing_in import DrawnNumbers
from weavability.looms.drawing_in_columns import draw_in_columns
from weavability.looms.fit_numbers import FitNumbers, fit_on_use
from weavability.looms.loom_columns import LoomColumn, MovedPark, ParkColumns, moved_park
from weavability.looms.loom_numbers import LoomNumbers, SheddingNumbers
from weavability.looms.order_numbers import (
    OrderNumbers,
    is_requested_alike,
    order_numbers,
    order_on_use,
)
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Moves
from weavability.textiles.cloth_numbers import ClothNumbers, StatedCloth
from weavability.textiles.cloth_symbols import (
    EDGE_ENDS_PER_DENT,
    ENDS_PER_DENT,
    SELVEDGE_ENDS,
    WEFT_CRIMP,
    ClothSymbols,
)
from weavability.textiles.errors import InputError
from weavability.textiles.moved_cloth import moved_cloth, moved_symbols
from weavability.textiles.numbers import ColumnsOnUse, Floats, columns_of

_OF_THE_CLOTH: Final = {WEFT_CRIMP, ENDS_PER_DENT, EDGE_ENDS_PER_DENT, SELVEDGE_ENDS}
"""What is moved when the cloth is computed, and changes no symbol."""


@dataclass(eq=False)
class Row:
    """An order that was read.

    Attributes:
        place: Its place among all orders.
        symbols: What it says.
        stated: Its cloth as stated.
        requested: What it requests; ``None`` if that is only gathered when it is read.
        weave: Its weave.
    """

    place: int
    symbols: ClothSymbols
    stated: StatedCloth[float]
    requested: OrderNumbers[float] | None
    weave: WeaveCounts[float]

    @cached_property
    def order(self) -> OrderNumbers[float]:
        """What it requests, in numbers."""
        return order_numbers(self.symbols) if self.requested is None else self.requested

    @property
    def order_on_use(self) -> OrderNumbers[float]:
        """The same; if values are moved, the groups of ends are computed when they are read."""
        is_moved = self.symbols.moves is not None and self.requested is None
        return order_on_use(self.symbols) if is_moved else self.order

    def moved(self, moves: Moves) -> Row | None:
        """Return the order with other values assumed; ``None`` if they contradict one another."""
        concerned = moves.ends.keys() & self.symbols.assumed
        # The density on the beam is assumed with the loom, and follows from the order's yarns.
        is_wound = not moves.ends.keys().isdisjoint(BEAM_DENSITIES) and any(
            group.density_g_per_cm3 is None for group in self.symbols.groups
        )
        if concerned <= _OF_THE_CLOTH and not is_wound:
            return self
        try:
            symbols = moved_symbols(self.symbols, moves)
        except InputError:
            return None
        requested = self.order if is_requested_alike(symbols, self.symbols, moves) else None
        return replace(self, symbols=symbols, stated=symbols.stated(), requested=requested)


@dataclass(slots=True, eq=False)
class MovedBlock:
    """A block of orders, of which some are computed again.

    Attributes:
        rows: The orders.
        cloth: Their cloth with nothing moved.
        park: The looms.
    """

    rows: Sequence[Row]
    cloth: ClothNumbers[Floats]
    park: ParkColumns
    _rests: dict[Moves, NDArray[np.bool_]] = field(default_factory=dict)
    _last: tuple[Moves, NDArray[np.intp], _MovedOrders] | None = None

    def on(self, column: int) -> MovedOnLooms:
        """Return the orders on the looms of a column."""
        return MovedOnLooms(self, column)

    def rest_on(self, moves: Moves) -> NDArray[np.bool_]:
        """Return the orders of which a value that is moved is assumed."""
        if moves not in self._rests:
            known: dict[frozenset[str], bool] = {}
            ends, found = moves.ends.keys(), []
            for row in self.rows:
                assumed = row.symbols.assumed
                if assumed not in known:
                    known[assumed] = not ends.isdisjoint(assumed)
                found.append(known[assumed])
            self._rests[moves] = np.array(found)
        return self._rests[moves]

    def moved(self, moves: Moves, orders: NDArray[np.intp]) -> _MovedOrders:
        """Return some orders with other values assumed; the last ones are remembered."""
        if self._last is None or self._last[0] is not moves or self._last[1] is not orders:
            self._last = (moves, orders, self._moved(moves, orders))
        return self._last[2]

    def _moved(self, moves: Moves, orders: NDArray[np.intp]) -> _MovedOrders:
        found = [(self.rows[place], self.rows[place].moved(moves)) for place in orders.tolist()]
        rows = [row if moved is None else moved for row, moved in found]
        stated: StatedCloth[Floats] = columns_of([row.stated for row in rows], shape=(-1,))
        estimate = np.broadcast_to(np.ravel(self.cloth.estimated_weft_crimp_pct), len(self.rows))
        cloth = moved_cloth(stated, estimated_weft_crimp_pct=estimate[orders], moves=moves)
        return _MovedOrders(rows, cloth, moves, np.array([moved is None for _, moved in found]))


class MovedOnLooms(NamedTuple):
    """A block of orders on the looms of a column."""

    block: MovedBlock
    column: int

    def rest_on(self, moves: Moves) -> NDArray[np.bool_]:
        """Return where a value that is moved is assumed: looms in rows, orders in columns."""
        looms = self.block.park.columns[self.column].rest_on(moves)
        return looms | self.block.rest_on(moves)

    def moved(
        self, moves: Moves, orders: NDArray[np.intp]
    ) -> tuple[Facts[Floats], NDArray[np.bool_]]:
        """Return the numbers of some orders, and where they cannot be computed."""
        park, some = moved_park(self.block.park, moves), self.block.moved(moves, orders)
        facts = _MovedFacts(some, park, self.column)
        return cast("Facts[Floats]", facts), some.kept | park.kept[self.column]


@dataclass(eq=False)
class _MovedOrders:
    rows: Sequence[Row]
    as_ordered: ClothNumbers[Floats]
    moves: Moves
    kept: NDArray[np.bool_]
    _drawn: tuple[ParkColumns, DrawnNumbers[Floats]] | None = None

    @cached_property
    def cloth(self) -> ClothNumbers[Floats]:
        if not any(row.symbols.fills_reed for row in self.rows):
            return self.as_ordered
        return in_stated_reed(self.order, self.as_ordered, self.moves)

    @cached_property
    def order(self) -> OrderNumbers[Floats]:
        """What they request, of which a rule that is judged again reads little."""
        columns = ColumnsOnUse([row.order_on_use for row in self.rows], shape=(-1,))
        return cast("OrderNumbers[Floats]", columns)

    @cached_property
    def counts(self) -> WeaveCounts[Floats]:
        found: WeaveCounts[Floats] = columns_of([row.weave for row in self.rows], shape=(-1,))
        return found

    def drawn(self, park: ParkColumns) -> DrawnNumbers[Floats]:
        """Draw them in on the motions of a park, once for all its columns."""
        if self._drawn is None or self._drawn[0] is not park:
            symbols, motions = [row.symbols for row in self.rows], park.shedding_motions
            self._drawn = park, draw_in_columns(symbols, self.cloth, motions)
        return self._drawn[1]


class FactsOnUse(ABC):
    """Facts of orders on the looms of a column, of which each part is computed when it is read.

    Args:
        column: The looms.
    """

    def __init__(self, column: LoomColumn) -> None:
        self._column = column

    @property
    @abstractmethod
    def cloth(self) -> ClothNumbers[Floats]:
        """The cloth."""

    @property
    @abstractmethod
    def order(self) -> OrderNumbers[Floats]:
        """What the orders request."""

    @abstractmethod
    def _counts(self) -> WeaveCounts[Floats]:
        """Return what the weaves alone decide."""

    @abstractmethod
    def _drawn(self) -> DrawnNumbers[Floats]:
        """Return the drawing-in on the looms."""

    @property
    def loom(self) -> LoomNumbers[Floats]:
        """The looms."""
        return self._column.numbers

    @property
    def shedding(self) -> SheddingNumbers[Floats]:
        """Their shedding motions."""
        return self._column.shedding

    @cached_property
    def fit(self) -> FitNumbers[Floats]:
        """The cloth on the looms."""
        return fit_on_use(
            self.order,
            self.cloth,
            self.loom,
            lambda: self._column.pick_rises(reed_width_cm=self.cloth.reed_width_cm),
            in_force().usual,
        )

    @cached_property
    def weave(self) -> WeaveNumbers[Floats]:
        """The weaves on the shedding motions."""
        return facts_from(
            self._counts(),
            self.order,
            self.cloth,
            self.shedding,
            self._drawn(),
            self.loom,
            self.fit,
        ).weave


class _MovedFacts(FactsOnUse):
    """Facts of orders with other values assumed."""

    def __init__(self, orders: _MovedOrders, park: MovedPark, column: int) -> None:
        super().__init__(park.park.columns[column])
        self._orders, self._park = orders, park.park

    @property
    def cloth(self) -> ClothNumbers[Floats]:
        return self._orders.cloth

    @property
    def order(self) -> OrderNumbers[Floats]:
        return self._orders.order

    def _counts(self) -> WeaveCounts[Floats]:
        return self._orders.counts

    def _drawn(self) -> DrawnNumbers[Floats]:
        return self._column.drawing_in(self._orders.drawn(self._park))
