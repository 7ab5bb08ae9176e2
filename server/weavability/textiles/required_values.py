"""What a customer requires of the finished cloth, beside what is computed of it and its band.

A figure of the finished cloth rests on values that may be assumed: crimps, shrinkages, the change
of mass, the sections of yarns. Each moves it one way, so that it is least with all of them at the
ends of their bands that leave the cloth open and light, and greatest at the others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Final, NamedTuple

from weavability.textiles.assumptions import YARNS, End, Moves
from weavability.textiles.cloth_symbols import (
    EDGE_ENDS_PER_DENT,
    ENDS_PER_DENT,
    SELVEDGE_ENDS,
    WEFT_CRIMP,
)
from weavability.textiles.construction import (
    RequiredRange,
    Requirements,
)
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.fibres import SAME_CONTENT, fibres, find_fibre
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    passed,
)
from weavability.textiles.sentences import say

WARP_CRIMP: Final = "/construction/warp/crimp_pct"
THICKNESS: Final = "/construction/thickness_mm"
FIBRE: Final = "fibre_pct"

FIGURES: Final = tuple(field.name for field in fields(Requirements))
"""Names of what may be required, in the order in which it is reported."""

_OF_YARN: Final = {
    "folding_take_up_pct": End.HIGH,
    "elastane_draft": End.LOW,
    "fibre_density_g_per_cm3": End.LOW,
    "packing_fraction": End.LOW,
    "tape_thickness_mm": End.LOW,
}
_CLOSE: Final[Mapping[str, End]] = {
    **{f"{yarns}*/{name}": end for yarns in YARNS for name, end in _OF_YARN.items()},
    "/construction/finishing/width_shrinkage_pct": End.HIGH,
    "/construction/finishing/length_shrinkage_pct": End.HIGH,
    "/construction/finishing/relaxation_pct": End.HIGH,
    "/construction/finishing/mass_change_pct": End.HIGH,
    WARP_CRIMP: End.HIGH,
    "/construction/warp/yarns/*/crimp_pct": End.HIGH,
    WEFT_CRIMP: End.HIGH,
    THICKNESS: End.HIGH,
}
_OTHER_END: Final = {End.LOW: End.HIGH, End.HIGH: End.LOW}
CLOSE: Final = Moves(_CLOSE)
"""Where assumed values make the finished cloth close and heavy."""

OPEN: Final = Moves({at: _OTHER_END[end] for at, end in _CLOSE.items()})
"""Where they leave it open and light."""

FALLING: Final = frozenset({"finished_width_cm", "open_area_pct"})
"""Figures that are least when the cloth is close; all others are greatest."""

WIDTH: Final = "finished_width_cm"
MASS_PER_M: Final = "mass_g_per_m"
OF_WHOLE_WIDTH: Final = frozenset({WIDTH, MASS_PER_M})
"""Figures of the whole cloth, of which its selvedges are a part."""

_WIDE: Final[Mapping[str, End]] = {
    ENDS_PER_DENT: End.HIGH,
    EDGE_ENDS_PER_DENT: End.LOW,
    SELVEDGE_ENDS: End.HIGH,
}
_NARROW: Final = {at: _OTHER_END[end] for at, end in _WIDE.items()}
"""Where assumed values make the selvedges wide and heavy, and where narrow and light."""


def _of_end(name: str, *, is_high: bool) -> Moves:
    moves = CLOSE if is_high is not (name in FALLING) else OPEN
    if name not in OF_WHOLE_WIDTH:
        return moves
    return Moves({**moves.ends, **(_WIDE if is_high else _NARROW)})


_ENDS: Final = {
    (name, is_high): _of_end(name, is_high=is_high) for name in FIGURES for is_high in (False, True)
}


def moves_to(figure: str, *, is_high: bool) -> Moves:
    """Return where assumed values make a figure greatest, or least."""
    return _ENDS[figure, is_high]


@dataclass(slots=True, kw_only=True)
class RequiredNumbers(Record[N]):
    """One figure that is required; a slot that an order does not fill has ``present`` false.

    Attributes:
        figure: Its place in :data:`FIGURES`.
        value: As computed.
        low: Least that it may be over the bands of what is assumed.
        high: Greatest, likewise.
        least: The least that is required; 0 if none is.
        most: The greatest; infinite if none is.
    """

    present: Truth
    figure: N
    value: N
    low: N
    high: N
    least: N
    most: N


class Required(NamedTuple):
    """A figure that is required, by name.

    Attributes:
        figure: One of :data:`FIGURES`.
        name: The fibre of a share, as the order calls it; empty of all else.
        fibre: Its key.
    """

    figure: str
    limits: RequiredRange
    name: str = ""
    fibre: str = ""

    @property
    def pointer(self) -> str:
        """The field of the request."""
        return f"/construction/requirements/{self.figure}" + (f"/{self.name}" if self.name else "")


def required_of(requirements: Requirements | None) -> tuple[Required, ...]:
    """List what is required, each fibre by itself.

    Raises:
        InputError: A share is required of what is no fibre, or more than all; see
            :func:`one_fibre` and :func:`refuse_more_than_all`.
    """
    return () if requirements is None else tuple(_required(requirements))


def _required(requirements: Requirements) -> Iterator[Required]:
    for name in FIGURES:
        stated = getattr(requirements, name)
        if isinstance(stated, RequiredRange):
            with pointing_below(f"/construction/requirements/{name}"):
                _refuse_crossed(stated)
            yield Required(name, stated)
    for name, limits in sorted(requirements.fibre_pct.items()):
        with pointing_below(f"/construction/requirements/{FIBRE}/{name}"):
            fibre = one_fibre(name)
            _refuse_crossed(limits)
        yield Required(FIBRE, limits, name, fibre)
    with pointing_below(f"/construction/requirements/{FIBRE}"):
        refuse_more_than_all(requirements.fibre_pct)


def _refuse_crossed(limits: RequiredRange) -> None:
    """Refuse a least limit above the greatest.

    Raises:
        InputError: It is; the pointer is relative to the figure.
    """
    if limits.min is not None and limits.max is not None and limits.min > limits.max:
        raise InputError.of(
            "/max",
            say(
                "fault.requirement.crossed_limits",
                "What is required at most must not be below what is required at least ({least:g}).",
                least=limits.min,
            ),
            given=limits.max,
            allowed=f"at least {limits.min:g}",
        )


def refuse_more_than_all(shares: Mapping[str, RequiredRange]) -> None:
    """Refuse shares of fibres of which the least make more than the whole.

    Raises:
        InputError: They do; the pointer of the fault is empty.
    """
    least = {name: limits.min for name, limits in sorted(shares.items()) if limits.min}
    by_fibre = {one_fibre(name): share for name, share in least.items()}
    of_kinds = {
        key: sum(by_fibre.pop(one, 0.0) for one in kinds) for key, kinds in SAME_CONTENT.items()
    }
    for key, share in of_kinds.items():
        by_fibre[key] = max(by_fibre.get(key, 0.0), share)
    total = math.fsum(by_fibre.values())
    if passed(total, 100.0):
        raise InputError.of(
            "",
            say(
                "fault.requirement.more_than_all",
                "The least shares of all fibres together must be at most 100 %; they "
                "are {total_pct:g} %.",
                total_pct=total,
            ),
            given={name: {"min": share} for name, share in least.items()},
            allowed='such as {"cotton": {"min": 60}, "polyester": {"min": 35}}',
        )


def one_fibre(name: str) -> str:
    """Return the key of a fibre, by any of its names.

    Raises:
        InputError: It is no fibre, or a blend.

    >>> one_fibre("combed cotton")
    'cotton'
    """
    found = find_fibre(name)
    if len(found.components) > 1:
        raise InputError.of(
            "",
            say("fault.requirement.not_one_fibre", "Name one fibre, not a blend."),
            given=name,
            allowed=[fibre.key for fibre in fibres()],
        )
    return found.components[0][0]
