"""An order of an archive: the request of a batch, whose loom does not matter."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from weavability.looms.loom import Loom
from weavability.service.schemas.base import Body, Part
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.service.schemas.loom_schema import LoomSchema, loom_id_field
from weavability.service.schemas.request_schemas import cloth_faults
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivedOrder:
    """A construction, and the loom that was planned for it."""

    construction: Construction
    loom: Loom | None = None
    loom_id: str | None = None


class ArchivedOrderSchema(Body[ArchivedOrder]):
    """A construction that every loom of the park is tried for.

    A loom may be stated or named, so that a batch can be judged as an archive too; it need not be
    in the park.
    """

    title = "ArchivedOrder"
    makes = ArchivedOrder

    construction = Part(
        ConstructionSchema(), "The cloth as ordered", required=True, example={"weave": "plain"}
    )
    loom = Part(LoomSchema(), "The loom planned for it", example={"reed_width_cm": 190})
    loom_id = loom_id_field("The name of the loom planned for it")

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Judge the cloth of a faulty order too, so that all faults are found."""
        if given.keys() != values.keys():
            yield from cloth_faults(values)
