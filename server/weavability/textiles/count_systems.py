"""The systems of numbering yarn: tex, denier and the counts of length per mass."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

from weavability.textiles.units import G_PER_LB, M_PER_YARD, TEX_M_PER_G


def tex_of_hank(yards_per_lb: float) -> float:
    """Return the tex of count 1 in a system in which ``yards_per_lb`` of yarn weigh one pound.

    Source: definitions of the English count systems; the products are tabulated in [ASTM-D2260],
    those of woollen yarn are in [DAVIS-1920], West of England in [HAND-SPINNING-COUNTS].

    >>> round(tex_of_hank(840), 7)
    590.5412474
    """
    return G_PER_LB / (yards_per_lb * M_PER_YARD / 1000.0)


TEX_NE: Final = tex_of_hank(840)
TEX_WORSTED: Final = tex_of_hank(560)
TEX_LEA: Final = tex_of_hank(300)
TEX_RUN: Final = tex_of_hank(1600)
TEX_SKEIN: Final = tex_of_hank(256)
TEX_GALASHIELS: Final = tex_of_hank(200)
TEX_ALLOA: Final = tex_of_hank(240)
TEX_CUT: Final = tex_of_hank(300)
TEX_WEST_OF_ENGLAND: Final = tex_of_hank(320)
TEX_LEICESTER: Final = tex_of_hank(176)
TEX_NM: Final = TEX_M_PER_G
TEX_FRENCH: Final = 500.0
TEX_PER_JUTE_LB: Final = tex_of_hank(14400)
TEX_PER_DRAM: Final = tex_of_hank(256_000)
TEX_PER_DENIER: Final = 1.0 / 9.0


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """A system of numbering yarn.

    Attributes:
        key: How a canonical designation writes it.
        tex_of_one: tex of a yarn of number 1.
        direct: Whether the number is mass per length (tex), not length per mass (Ne).
        names: Every name of it, lower case.
        fibre: The fibre that it is used for; ``None`` if it is used for many.
        spun: Whether it numbers spun yarns only.
        resultant: Whether the number of a folded yarn is already that of the whole.
    """

    key: str
    tex_of_one: float
    direct: bool
    names: tuple[str, ...]
    fibre: str | None = None
    spun: bool = False
    resultant: bool = False

    def tex(self, number: float) -> float:
        """Return the linear density, in tex, of a yarn of ``number``, which is above 0."""
        return number * self.tex_of_one if self.direct else self.tex_of_one / number

    def number(self, linear_density_tex: float) -> float:
        """Return the number of a yarn of ``linear_density_tex``, above 0."""
        if self.direct:
            return linear_density_tex / self.tex_of_one
        return self.tex_of_one / linear_density_tex


def _count(
    key: str,
    tex_of_one: float,
    *names: str,
    fibre: str | None = None,
    resultant: bool = False,
    direct: bool = False,
) -> System:
    return System(
        key=key,
        tex_of_one=tex_of_one,
        direct=direct,
        names=names,
        fibre=fibre,
        spun=True,
        resultant=resultant,
    )


SYSTEMS: Final[tuple[System, ...]] = (
    System(key="tex", tex_of_one=1.0, direct=True, names=("tex", "tt")),
    System(key="dtex", tex_of_one=0.1, direct=True, names=("dtex", "decitex")),
    System(key="mtex", tex_of_one=0.001, direct=True, names=("mtex", "millitex")),
    System(key="ktex", tex_of_one=1000.0, direct=True, names=("ktex", "kilotex")),
    System(
        key="den",
        tex_of_one=TEX_PER_DENIER,
        direct=True,
        names=("den", "denier", "deniers", "d", "td"),
    ),
    System(
        key="dram",
        tex_of_one=TEX_PER_DRAM,
        direct=True,
        names=("dram", "drams", "dram silk", "drams silk"),
        fibre="silk",
    ),
    _count(
        "Ne",
        TEX_NE,
        *("ne", "nec", "ecc", "cc", "cotton", "english cotton", "ne cotton", "nec cotton"),
        fibre="cotton",
    ),
    _count("Nm", TEX_NM, "nm", "metric", "nm metric"),
    _count(
        "woollen Nm",
        TEX_NM,
        *("woollen nm", "woolen nm", "woollen metric", "woolen metric", "woollen nm metric"),
        fibre="wool",
    ),
    _count(
        "NeK",
        TEX_WORSTED,
        *("nek", "new", "worsted", "wc", "ne worsted", "nek worsted"),
        fibre="worsted",
    ),
    _count(
        "NeL",
        TEX_LEA,
        *("nel", "lea", "leas", "linen", "flax", "linen lea", "nel linen", "ne linen", "flax lea"),
        fibre="linen",
    ),
    _count(
        "run",
        TEX_RUN,
        *("run", "runs", "woollen run", "woolen run", "american run"),
        fibre="wool",
    ),
    _count(
        "skein",
        TEX_SKEIN,
        *("skein", "skeins", "ysw", "yorkshire", "yorkshire skein", "yorkshire skeins"),
        *("yorkshire woollen", "yorkshire woollen skein", "woollen skein"),
        fibre="wool",
    ),
    _count(
        "Galashiels",
        TEX_GALASHIELS,
        *("galashiels", "gala", "galashiels cut", "gala cut", "cut galashiels", "cut gala"),
        fibre="wool",
    ),
    _count("Alloa", TEX_ALLOA, "alloa", "alloa woollen", "alloa cut", fibre="wool"),
    _count(
        "cut",
        TEX_CUT,
        *("cut", "cuts", "woollen cut", "woolen cut", "american cut", "philadelphia cut"),
        *("philadelphia",),
        fibre="wool",
    ),
    _count(
        "West of England",
        TEX_WEST_OF_ENGLAND,
        *("west of england", "west england", "west of england hank", "west of england hanks"),
        fibre="wool",
    ),
    _count("Leicester", TEX_LEICESTER, "leicester", "leicester lambswool", fibre="wool"),
    _count("Nf", TEX_FRENCH, "nf", "french", "french cotton", fibre="cotton"),
    _count("silk", TEX_NE, "silk", "spun silk", "nes", fibre="spun-silk", resultant=True),
    _count(
        "jute lb",
        TEX_PER_JUTE_LB,
        *("jute", "lb", "lbs", "jute lb", "jute lbs", "lb spyndle", "spyndle", "aberdeen"),
        *("jute lb spyndle",),
        fibre="jute",
        direct=True,
    ),
)

COUNT_OF_FIBRE: Final = {
    "cotton": "Ne",
    "polyester": "Ne",
    "viscose": "Ne",
    "modal": "Ne",
    "lyocell": "Ne",
    "spun-polyester": "Ne",
    "worsted": "NeK",
    "linen": "NeL",
    "spun-silk": "silk",
}
"""The English count that ``30s`` means when the fibre is known."""


WOOLLEN: Final = frozenset({"woollen", "woolen"})
"""Words that say woollen without saying which of its systems."""


@cache
def woollen_systems() -> tuple[str, ...]:
    """Return the keys of the count systems of woollen yarn."""
    return tuple(system.key for system in SYSTEMS if system.fibre == "wool")


@cache
def systems_by_name() -> dict[frozenset[str], System]:
    """Return every count system by the words of each of its names, in any order."""
    return {frozenset(name.split()): system for system in SYSTEMS for name in system.names}
