"""The way out that a technologist names first is among those that are found."""

from __future__ import annotations

from typing import Any

import pytest
from answers.test_honest_remedies import cotton, demo_loom
from answers.test_ways_found import searched, ways_out

from weavability.answers.validation import assess
from weavability.checks.finding import Remedy, Verdict
from weavability.service.schemas.construction_schema import ConstructionSchema


def proved(request: Any, on: str, remedy: Remedy) -> Verdict:
    """The verdict after a remedy, made as a caller makes it in the request."""
    for change in remedy["changes"]:
        names = change["pointer"].split("/")[2:]
        part = request = {**request}
        for name in names[:-1]:
            part[name] = part = {**(part.get(name) or {})}
        part[names[-1]] = change["to"]
    after = assess(ConstructionSchema().read(request), demo_loom(on), remedies=False)
    assert after.verdict is remedy["verdict"]
    return after.verdict


@pytest.mark.parametrize(
    ("weave", "threading"),
    [
        ("2/2 herringbone 12", [1, 2, 3, 4]),
        ("2/2 herringbone 12", [1, 2, 3, 4, 3, 2]),
        ("2/2 herringbone 8", "straight"),
    ],
)
def test_a_draft_that_cannot_weave_the_cloth_is_left_to_the_report(
    weave: str, threading: object
) -> None:
    draft = {"threading": threading}
    request = cotton("Ne 20 x Ne 20", (26, 22), weave, 150, draft=draft)
    first, *others = ways_out(searched(request, "rapier-190-cam"))
    (change,) = first["changes"]
    assert (change["pointer"], change["from"], change["to"]) == ("/construction/draft", draft, None)
    assert first["message"] == "Request no draft: the report draws the cloth in over 4 shafts."
    assert proved(request, "rapier-190-cam", first) is not Verdict.NOT_WEAVABLE
    assert first["distance"] == 0.5
    assert not others


def test_one_drawing_in_is_listed_once() -> None:
    request = cotton("Ne 38 x Ne 38", (52, 28), "plain", 150, draft={"threading": [1, 2]})
    found = searched(request, "rapier-190-cam")
    drawn = [each for each in found.remedies if "draft" in each["pointer"]]
    assert [each["message"] for each in drawn] == ["Draw in straight over 8 shafts."]
