"""What an answer states of the layers of a cloth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal, TypeAlias

from weavability.answers.field_words import Since, Unit
from weavability.answers.tightest_square import TightestSquare, square_at
from weavability.looms.fit import Fit
from weavability.looms.yarn_amounts import LayerYarn, layer_yarns
from weavability.textiles.construction import Joined
from weavability.textiles.layered_cloth import LayerFacts
from weavability.textiles.layered_weave import LayeredWeave, LayerWeave
from weavability.textiles.naming import LARGEST_NAMED, name_of, size_in_words
from weavability.textiles.weave_matrix import Weave

LayerKind = Literal["cloth", "backing", "pile"]

_Kind: TypeAlias = Annotated[
    LayerKind,
    "`cloth` with ends and picks of its own, `backing` (or wadding) with ends or picks alone, or "
    "`pile`",
]
_OwnWeave: TypeAlias = Annotated[
    str | None,
    "The weave of its threads alone; of a backing and of pile, with the threads that bind it; "
    "null if nothing does",
]
_HowJoined: TypeAlias = Annotated[
    Joined | None, "How they are joined; null if one alone is not pile"
]
_Stitches: TypeAlias = Annotated[
    int | None, "Stitches in the repeat of weave and layers together; null if none are meant"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerInWeave:
    """A layer in a weave."""

    layer: Annotated[str, "Its letter"]
    kind: _Kind
    weave: _OwnWeave


@dataclass(frozen=True, slots=True, kw_only=True)
class LayersInWeave:
    """The layers that are declared, in a weave."""

    joined: _HowJoined
    stitches_per_repeat: _Stitches
    repeat_ends: Annotated[int, "Ends after which weave and layers repeat together"]
    repeat_picks: Annotated[int, "Picks after which weave and layers repeat together"]
    layers: Annotated[tuple[LayerInWeave, ...], "From the face to the back, then the pile"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerSummary:
    """A layer of the grey cloth."""

    layer: Annotated[str, "Its letter"]
    kind: _Kind
    weave: _OwnWeave
    ends_per_cm: Annotated[float, "Its own ends in the grey cloth"]
    picks_per_cm: Annotated[float, "Its own picks in the grey cloth"]
    tightness_pct: Annotated[
        float | None, "How near it is to its own jam; null of pile and of a wadding"
    ]
    tightest_square: Annotated[
        TightestSquare | None,
        "Where that is, counted among its own ends and picks; null if its weave repeats within "
        "16 x 16 threads and is set evenly, so that it is judged as a whole",
        Since("0.2"),
    ]
    warp_crimp_pct: Annotated[
        float | None,
        "Crimp that its ends would have by themselves; those of the cloth have the mean of all "
        "layers, because they come from one warp",
    ]
    weft_crimp_pct: Annotated[
        float | None,
        "Crimp that its picks would have by themselves; those of the cloth have the mean of all "
        "layers, because all picks are inserted over one width",
    ]
    pile_height_mm: Annotated[
        float | None,
        "Height of the pile: of ends from the pile ratio, of picks half of their longest float; "
        "null if it is no pile",
    ]
    thickness_mm: Annotated[float, "Thickness of the layer; of pile its height"]
    mass_g_per_m2: Annotated[float, "Mass of its own threads in the grey cloth"]
    warp_yarn_kg: Annotated[float, "Warp yarn that it takes, waste included, without selvedges"]
    weft_yarn_kg: Annotated[float, "Weft yarn that it takes, waste included"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayersSummary:
    """The layers of the cloth, each set against itself."""

    joined: _HowJoined
    stitches_per_repeat: _Stitches
    stitches_per_cm2: Annotated[
        float | None, "Stitches in the grey cloth; null if none are meant", Unit("1/cm²")
    ]
    layers: Annotated[tuple[LayerSummary, ...], "From the face to the back, then the pile"]


def layers_in_weave(woven: LayeredWeave | None) -> LayersInWeave | None:
    """Describe the layers that are declared in a weave; ``None`` if none are."""
    if woven is None:
        return None
    return LayersInWeave(
        joined=woven.joined,
        stitches_per_repeat=woven.stitches,
        repeat_ends=woven.joint_ends,
        repeat_picks=woven.joint_picks,
        layers=tuple(
            LayerInWeave(layer=one.letter, kind=_kind(one), weave=_named(one.weave))
            for one in woven.layers
        ),
    )


def layers_summary(fit: Fit) -> LayersSummary | None:
    """Describe the layers of a cloth; ``None`` if none are declared."""
    woven = fit.cloth.symbols.layered_weave
    if woven is None:
        return None
    return LayersSummary(
        joined=woven.joined,
        stitches_per_repeat=woven.stitches,
        stitches_per_cm2=fit.cloth.stitches_per_cm2,
        layers=tuple(_summaries(fit)),
    )


def _summaries(fit: Fit) -> Iterator[LayerSummary]:
    for facts, yarn in zip(fit.cloth.layers, layer_yarns(fit), strict=True):
        yield _summary(facts, yarn)


def _summary(facts: LayerFacts, yarn: LayerYarn) -> LayerSummary:
    grey = facts.grey
    return LayerSummary(
        layer=facts.layer.letter,
        kind=_kind(facts.layer),
        weave=_named(facts.layer.weave),
        ends_per_cm=facts.ends_per_cm,
        picks_per_cm=facts.picks_per_cm,
        tightness_pct=facts.tightness_pct,
        tightest_square=square_at(facts.tightest),
        warp_crimp_pct=None if grey is None else grey.warp_crimp_pct,
        weft_crimp_pct=None if grey is None else grey.weft_crimp_pct,
        pile_height_mm=facts.pile_height_mm,
        thickness_mm=facts.thickness_mm,
        mass_g_per_m2=facts.mass_g_per_m2,
        warp_yarn_kg=yarn.warp_kg,
        weft_yarn_kg=yarn.weft_kg,
    )


def _kind(layer: LayerWeave) -> LayerKind:
    if layer.is_pile:
        return "pile"
    return "cloth" if layer.is_cloth else "backing"


def _named(weave: Weave | None) -> str | None:
    if weave is None:
        return None
    name = name_of(weave) if max(weave.ends, weave.picks) <= LARGEST_NAMED else None
    return name or size_in_words(weave)
