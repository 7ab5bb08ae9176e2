"""The body of a question about many reports at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from weavability.service.http.links import LONGEST_TOKEN
from weavability.service.schemas.base import Body, Part
from weavability.service.schemas.fields import Items, Text

MOST_ITEMS: Final = 10_000
MOST_CODES: Final = 200
# An address in front of the token: a dashboard may keep whole addresses.
_LONGEST_LINK: Final = LONGEST_TOKEN + 500


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownReport:
    """A report that the caller has seen.

    Attributes:
        link: Its own link.
        etag: Its entity tag.
        codes: The codes of its findings, if the caller remembers them.
    """

    link: str
    etag: str
    codes: tuple[str, ...] | None = None


class KnownReportSchema(Body[KnownReport]):
    """A report that the caller has seen: its link, its entity tag, the codes of its findings."""

    title = "KnownReport"
    makes = KnownReport

    link = Text(
        "The report's own link, as in links.self; a whole address is understood too",
        example="/v1/validations/v1.eyJsb29tX2lkIjo",
        longest=_LONGEST_LINK,
        required=True,
    )
    etag = Text(
        "The report's validation_id, or the ETag that its answer had, with or without quotation "
        "marks",
        example="f5f03bec67ea9af2016a679a55198b3c",
        longest=200,
        required=True,
    )
    codes = Items(
        Text("Code of a finding", example="shedding.heald_crowding", longest=80),
        "Codes of the findings that the caller saw last. The service stores nothing and an entity "
        "tag does not contain them: only with them can it report what was added and what has gone",
        most=MOST_CODES,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangesRequest:
    """Many reports that the caller has seen."""

    items: tuple[KnownReport, ...]


class ChangesRequestSchema(Body[ChangesRequest]):
    """Reports that the caller has seen; the answer states which of them have changed."""

    title = "ChangesRequest"
    makes = ChangesRequest

    items = Items(
        Part(
            KnownReportSchema(),
            "A report that the caller has seen",
            example={"link": "/v1/validations/v1.eyJsb29tX2lkIjo", "etag": "f5f03bec67ea9af2"},
        ),
        "The reports",
        most=MOST_ITEMS,
        required=True,
    )
