"""The bodies of requests: constructions and looms, put together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from weavability.looms.loom import Loom
from weavability.service.schemas.body import Body, Part, exactly_one
from weavability.service.schemas.construction import ConstructionSchema
from weavability.service.schemas.loom import LoomSchema, loom_id_field
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class ValidationRequest:
    """A construction, and the loom that it is held against: stated, or named in the park."""

    construction: Construction
    loom: Loom | None = None
    loom_id: str | None = None


class ValidationRequestSchema(Body[ValidationRequest]):
    """A construction, and the loom that it is to be woven on: exactly one of loom and loom_id."""

    title = "ValidationRequest"
    makes = ValidationRequest

    construction = Part(
        ConstructionSchema(), "The cloth as ordered", required=True, example={"weave": "plain"}
    )
    loom = Part(LoomSchema(), "The loom, stated in full", example={"reed_width_cm": 190})
    loom_id = loom_id_field("The loom, by its name in the park")

    def presence(self, names: frozenset[str], /) -> Iterator[Fault]:
        """Require exactly one loom."""
        yield from exactly_one(names, "loom_id", "loom", words="the loom")
