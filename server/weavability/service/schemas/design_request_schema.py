"""The body of a request about a figured design on a loom."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Final

from weavability.looms.loom import Loom
from weavability.service.schemas.base import Body, Part
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.service.schemas.fields import Choice, WholeNumber
from weavability.service.schemas.request_schemas import OnLoomSchema
from weavability.textiles.bounds import Bounds
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import MAX_SIDE

_PLACE: Final = Bounds(1, MAX_SIDE, "threads")
MOST_IN_A_WINDOW: Final = 200
_WINDOW: Final = Bounds(1, MOST_IN_A_WINDOW, "threads")


class DesignView(StrEnum):
    """What a drawing of a design shows."""

    OVERVIEW = "overview"
    POINT_PAPER = "point_paper"


class Paper(StrEnum):
    """What a picture of point paper shows."""

    CORRECTED = "corrected"
    UNCORRECTED = "uncorrected"
    ASKED = "asked"
    CLOTH = "cloth"


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A part of the point paper, from 1."""

    first_hook: int = 1
    first_pick: int = 1
    hooks: int = 64
    picks: int = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignOptions:
    """What the drawings of a design show."""

    view: DesignView = DesignView.OVERVIEW
    window: Window = field(default_factory=Window)
    paper: Paper = Paper.CORRECTED


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignRequest:
    """A figured design, and the loom that is to weave it."""

    construction: Construction
    loom: Loom | None = None
    loom_id: str | None = None
    options: DesignOptions = field(default_factory=DesignOptions)


class WindowSchema(Body[Window]):
    """A part of the point paper: 64 hooks and picks from the first, unless stated otherwise."""

    title = "DesignWindow"
    makes = Window

    first_hook = WholeNumber("Its first hook, from 1", _PLACE, example=1)
    first_pick = WholeNumber("Its first pick, from 1", _PLACE, example=1)
    hooks = WholeNumber("Hooks that it shows", _WINDOW, example=64)
    picks = WholeNumber("Picks that it shows", _WINDOW, example=64)


class DesignOptionsSchema(Body[DesignOptions]):
    """What drawings and pictures of the design show; the figures are the same whatever they are."""

    title = "DesignOptions"
    makes = DesignOptions

    view = Choice(
        DesignView,
        "What a drawing shows: the whole design in the colours of its effects with tie, tight "
        "places and findings, or a window of the point paper",
        example=DesignView.OVERVIEW,
    )
    window = Part(WindowSchema(), "The part of the point paper", example={"first_hook": 1})
    paper = Choice(
        Paper,
        "What a picture shows: the point paper, one pixel a hook and pick, corrected or "
        "uncorrected (deprecated word: asked), or the cloth through the tie",
        example=Paper.CORRECTED,
    )


class DesignRequestSchema(OnLoomSchema[DesignRequest]):
    """A construction whose weave is a figured design, and the loom: one of loom and loom_id."""

    title = "DesignRequest"
    makes = DesignRequest

    construction = Part(
        ConstructionSchema(),
        "The cloth as ordered; its weave is a design",
        required=True,
        example={"weave": {"design": {}}},
    )
    options = Part(DesignOptionsSchema(), "What drawings show", example={"view": "overview"})

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require a figured design."""
        yield from super().judge(values, given)
        cloth: Construction | None = values.get("construction")
        if cloth is not None and cloth.design is None:
            message = say(
                "fault.design.member_missing",
                "State a figured design: a weave with the member design.",
            )
            needed = {"design": {"picture_png": "...", "effects": {}}}
            yield Fault("/construction/weave", message, given["construction"]["weave"], needed)
