"""What an address says of a page beside the request that it shows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from weavability.service.schemas.base import Body
from weavability.service.schemas.fields import Choice, Text


class PageWindow(StrEnum):
    """The window of feasibility that the page of a report draws besides."""

    SETTS = "setts"
    WIDTH = "width"


@dataclass(frozen=True, slots=True, kw_only=True)
class PageQuery:
    """What an address says of a page.

    Attributes:
        reference: The caller's own name of the order.
        window: The window that is drawn.
    """

    reference: str | None = None
    window: PageWindow | None = None


class PageQuerySchema(Body[PageQuery]):
    """What an address says of a page."""

    title = "PageQuery"
    makes = PageQuery

    reference = Text(
        "The caller's own name of the order, for the heading of a page; the token has none",
        example="SO-10482/1",
        longest=200,
    )
    window = Choice(
        PageWindow,
        "The window of feasibility that the page draws besides: `setts` for ends and picks, "
        "`width` for width and picks, a quarter up and down",
        example=PageWindow.SETTS,
    )
