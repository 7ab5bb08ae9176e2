"""The order in pieces, and what the customer requires, as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from weavability.service.schemas.base import Body, Part, ascending, described, without
from weavability.service.schemas.faults import escape, refused
from weavability.service.schemas.fields import Described, Number, Shape, Titled, WholeNumber
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS, REQUIRED_UNITS
from weavability.textiles.construction import PieceOrder, RequiredRange, Requirements
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.required_values import one_fibre, refuse_more_than_all
from weavability.textiles.sentences import say


class PieceOrderSchema(Body[PieceOrder]):
    """The order in pieces of finished cloth, in place of length_m.

    Overage and rejects that are not stated are assumed by the length of the order.
    """

    title = "PieceOrder"
    makes = PieceOrder

    pieces = WholeNumber(
        "Pieces to deliver, of all panels together",
        CONSTRUCTION_BOUNDS["/order/pieces"],
        example=20,
        required=True,
    )
    piece_length_m = Number(
        "Length of a piece of finished cloth",
        CONSTRUCTION_BOUNDS["/order/piece_length_m"],
        example=60,
        required=True,
    )
    overage_pct = Number(
        "Cloth to make beyond the order, on the length ordered",
        CONSTRUCTION_BOUNDS["/order/overage_pct"],
        example=5,
    )
    rejects_pct = Number(
        "Cloth that inspection rejects, on the length woven",
        CONSTRUCTION_BOUNDS["/order/rejects_pct"],
        example=1,
    )


class RequiredRangeSchema(Body[RequiredRange]):
    """Between which values a figure must lie: min, max or both, or nominal and tolerance_pct."""

    makes = RequiredRange

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require limits in one form, the least not above the greatest."""
        limits = [name for name in ("min", "max") if name in given]
        if "nominal" in given or "tolerance_pct" in given:
            yield from without(
                limits,
                given,
                because=say(
                    "part.tolerance_in_its_place", "nominal and tolerance_pct are in its place"
                ),
            )
            for name in ("nominal", "tolerance_pct"):
                if name not in given:
                    yield Fault(
                        f"/{name}",
                        say(
                            "fault.requirement.tolerance_incomplete",
                            "{field} is missing: nominal and tolerance_pct go together.",
                            field=name,
                        ),
                        None,
                        described(self.fields[name]).allowed(),
                    )
        elif not limits:
            yield Fault(
                "",
                say("fault.value.no_min_or_max", "State min, max or both."),
                dict(given),
                '{"min": 170, "max": 185}',
            )
        yield from ascending(values, "min", "max", strict=False)

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> RequiredRange:
        """Make the limits of a tolerance."""
        if "nominal" not in values:
            return RequiredRange(**values)
        nominal, share = values["nominal"], values["tolerance_pct"] / 100
        return RequiredRange(min=nominal * (1 - share), max=nominal * (1 + share))


def _range_of(figure: str, title: str, *, example: float) -> Body[RequiredRange]:
    """Return the schema of the limits of a figure, in its unit."""

    def number(name: str, description: str, at: float) -> Number:
        bounds = CONSTRUCTION_BOUNDS[f"/requirements/{figure}/{name}"]
        return Number(description, bounds, example=at)

    members = {
        "title": title,
        "__doc__": RequiredRangeSchema.__doc__,
        "min": number("min", "The least that is required", example),
        "max": number("max", "The greatest that is allowed", 1.1 * example),
        "nominal": number("nominal", "The figure, in place of min and max", example),
        "tolerance_pct": number(
            "tolerance_pct", "How far from nominal it may be on either side", 5
        ),
    }
    made: Body[RequiredRange] = type(title, (RequiredRangeSchema,), members)()
    return made


def _required(figure: str, title: str, description: str, *, example: float) -> Part[RequiredRange]:
    return Part(
        _range_of(figure, title, example=example),
        description,
        example={"min": example},
        unit=REQUIRED_UNITS[figure],
    )


MOST_FIBRES: Final = 16


class ByFibre(Described[Mapping[str, RequiredRange]]):
    """An object with the limits of each fibre, by its name."""

    def __init__(self, description: str, *, example: object) -> None:
        super().__init__(description, example=example, unit="%")
        self._limits = _range_of("fibre_pct", "RequiredShare", example=60)

    def allowed(self) -> str:
        """Return how many and what the keys are."""
        return f'an object of 1 to {MOST_FIBRES} fibres, such as {{"cotton": {{"min": 60}}}}'

    def parts(self) -> Iterable[Titled]:
        """Return the schema of the limits."""
        return (self._limits,)

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "object",
            "minProperties": 1,
            "maxProperties": MOST_FIBRES,
            "additionalProperties": {"$ref": f"#/components/schemas/{self._limits.title}"},
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> dict[str, RequiredRange]:
        if not isinstance(value, dict) or not 1 <= len(value) <= MOST_FIBRES:
            raise self.not_allowed(value)
        read: dict[str, RequiredRange] = {}
        known: set[str] = set()
        faults: list[Fault] = []
        # Sorted, because the order of the keys must not change the answer.
        for name, limits in sorted(value.items()):
            with collecting(faults, below=f"/{escape(name)}"):
                read[name] = self._limits.read(limits)
                fibre = one_fibre(name)
                if fibre in known:
                    raise InputError.of(
                        "",
                        say(
                            "fault.requirement.share_twice",
                            "The share of {fibre} is required twice.",
                            fibre=fibre,
                        ),
                        given=name,
                    )
                known.add(fibre)
        if not faults:
            with collecting(faults):
                refuse_more_than_all(read)
        if faults:
            raise refused(*faults)
        return read


class RequirementsSchema(Body[Requirements]):
    """What the customer requires of the finished cloth, whatever stage the order is stated at."""

    title = "Requirements"
    makes = Requirements

    mass_g_per_m2 = _required("mass_g_per_m2", "RequiredMass", "Mass, without size", example=170)
    mass_g_per_m = _required(
        "mass_g_per_m",
        "RequiredMassPerM",
        "Mass of a running metre of one panel, selvedge ends included",
        example=250,
    )
    finished_width_cm = _required(
        "finished_width_cm",
        "RequiredWidth",
        "Width of one panel over all, selvedges included",
        example=148,
    )
    ends_per_cm = _required("ends_per_cm", "RequiredEnds", "Sett of the warp", example=32)
    picks_per_cm = _required("picks_per_cm", "RequiredPicks", "Sett of the weft", example=24)
    thickness_mm = _required(
        "thickness_mm",
        "RequiredThickness",
        "Thickness, taken as that of the grey cloth",
        example=0.3,
    )
    open_area_pct = _required(
        "open_area_pct", "RequiredOpenArea", "Share of the surface that no yarn covers", example=10
    )
    cover_factor = _required(
        "cover_factor", "RequiredCover", "Cover factor of the cloth in SI units", example=20
    )
    fibre_pct = ByFibre(
        "Share of each fibre in the mass of the yarn", example={"cotton": {"min": 60}}
    )
