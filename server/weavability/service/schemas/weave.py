"""The ``weave`` field: a notation in words, or an object in one of several forms."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from weavability.service.schemas.fields import Described, Shape
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave import MAX_SIDE, Weave

LONGEST_NOTATION = 200
_MATRIX_ROWS: Shape = {
    "type": "array",
    "minItems": 1,
    "maxItems": MAX_SIDE,
    "items": {"type": "string", "pattern": "^[01]+$", "maxLength": MAX_SIDE},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """One way to write a weave as an object.

    Attributes:
        shapes: JSON Schema of each of its members; all are required.
        read: Makes the weave from the object; raises ``InputError`` relative to it.
        words: What the form is, for people.
        example: An object of this form.
    """

    shapes: Mapping[str, Shape]
    read: Callable[[Mapping[str, Any]], Weave]
    words: str
    example: Mapping[str, object]

    @property
    def names(self) -> str:
        """The members of the form, for messages."""
        return " + ".join(self.shapes)

    def kind(self) -> Shape:
        """Return the JSON Schema of the object."""
        return {
            "type": "object",
            "description": self.words,
            "properties": dict(self.shapes),
            "required": list(self.shapes),
            "additionalProperties": False,
            "examples": [self.example],
        }


def _read_rows(given: Mapping[str, Any]) -> Weave:
    """Read a matrix; the domain judges the rows once it is sure that they are a list of strings."""
    rows = given["rows"]
    if not isinstance(rows, list) or not rows:
        raise InputError.of(
            "/rows",
            "rows must be a list of strings, one a pick.",
            given=rows,
            allowed=["1100", "0110"],
        )
    for index, row in enumerate(rows):
        if not isinstance(row, str):
            raise InputError.of(
                f"/rows/{index}",
                "Each row must be a string of 1 (warp up) and 0.",
                given=row,
                allowed="1100",
            )
    return Weave.from_rows(rows)


FORMS: tuple[Form, ...] = (
    Form(
        shapes={"rows": _MATRIX_ROWS},
        read=_read_rows,
        words="The matrix: one string a pick, first pick first; 1 = warp up, first end first",
        example={"rows": ["1100", "0110", "0011", "1001"]},
    ),
)


class WeaveField(Described[Weave]):
    """A weave in any form that the service understands."""

    def __init__(self, description: str, *, example: object, required: bool = True) -> None:
        super().__init__(description, example=example, required=required)

    def allowed(self) -> str:
        """Name the forms."""
        forms = ", ".join(f"{{{form.names}}}" for form in FORMS)
        return f'a notation such as "2/2 twill Z", or an object in one of the forms {forms}'

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {"$ref": "#/components/schemas/Weave"}

    def take(self, value: Any) -> Weave:
        """Read a value, strictly."""
        if isinstance(value, str):
            return self._notation(value)
        if isinstance(value, dict):
            return self._form(value).read(value)
        raise InputError.of(
            "",
            f"{self.label} must be a notation or an object.",
            given=value,
            allowed=self.allowed(),
        )

    def _notation(self, text: str) -> Weave:
        if len(text) > LONGEST_NOTATION:
            raise InputError.of(
                "",
                f"A weave notation has at most {LONGEST_NOTATION} characters.",
                given=text,
                allowed=self.allowed(),
            )
        return parse_weave(text)

    def _form(self, given: Mapping[str, Any]) -> Form:
        for form in FORMS:
            if form.shapes.keys() == given.keys():
                return form
        strangers = [name for name in given if not any(name in form.shapes for form in FORMS)]
        listed = "; ".join(form.names for form in FORMS)
        raise InputError.of(
            "",
            f"Write the weave in exactly one form. An object has {listed}.",
            given=strangers[:10] or list(given)[:10],
            allowed=self.allowed(),
        )


def weave_shape() -> Shape:
    """Return the JSON Schema of every form, for the OpenAPI document."""
    notation: Shape = {
        "type": "string",
        "minLength": 1,
        "maxLength": LONGEST_NOTATION,
        "description": "A notation in words; GET /v1/weaves lists them",
        "examples": ["2/2 twill Z"],
    }
    return {
        "description": "The weave: which warp ends are raised over which pick.",
        "anyOf": [notation, *(form.kind() for form in FORMS)],
    }
