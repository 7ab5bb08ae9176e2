"""What a search says where a way out is near, far or none: nothing that a reader finds untrue."""

from __future__ import annotations

from typing import Any

import pytest
from answers.test_honest_remedies import cotton
from answers.test_likeliest_ways import proved
from answers.test_ways_found import searched

from weavability.checks.finding import Verdict


def required_width(
    width_cm: float, least_cm: float, weave: str = "2/2 twill Z", count: str = "Nm 60/2"
) -> dict[str, Any]:
    """An order of a least finished width, of which the finish is not stated."""
    request: dict[str, Any] = cotton("Ne 20 x Ne 20", (22, 18), weave, width_cm)
    fibre = "worsted" if count.startswith("Nm") else "cotton"
    for system, crimp_pct in (("warp", 9), ("weft", 7)):
        request[system]["yarns"]["A"] = {"designation": count, "fibre": fibre}
        request[system]["crimp_pct"] = crimp_pct
    return {**request, "requirements": {"finished_width_cm": {"min": least_cm}}}


@pytest.mark.parametrize(
    ("request_", "on", "to_cm"),
    [
        (required_width(149, 150), "rapier-190-dobby", 150),
        (required_width(119.3, 120, "3/2 twill"), "rapier-190-dobby", 120),
        (required_width(218.1, 219), "rapier-340-dobby", 219),
        # 167 cm meets it whatever is assumed; what is near is beside it.
        (required_width(149, 150, count="Ne 20"), "rapier-190-dobby", 150),
    ],
)
def test_a_width_that_meets_what_is_required_as_all_is_assumed_is_a_way_out(
    request_: dict[str, Any], on: str, to_cm: float
) -> None:
    found = searched(request_, on)
    assert found.verdict is Verdict.NOT_WEAVABLE
    (near,) = (each for each in found.remedies if each["to"] == to_cm)
    assert near["verdict"] is Verdict.WEAVABLE_WITH_WARNINGS
    assert (near["leaves_warnings"], near["rejected_if_assumed"]) == (["requirement.width"], [])
    assert proved(request_, on, near) is near["verdict"]
    assert near["distance"] < 1
