"""The way out that a technologist names first is among those that are found."""

from __future__ import annotations

from typing import Any

import pytest
from answers.test_honest_remedies import cotton, demo_loom
from answers.test_ways_found import searched, ways_out

from weavability.answers.validation import assess
from weavability.answers.yarn_counts import other_counts
from weavability.checks.finding import Remedy, Verdict
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.designation_parts import TwistDirection
from weavability.textiles.yarns import Yarn


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


def voile(**stated: Any) -> dict[str, Any]:
    request: dict[str, Any] = cotton("Ne 100 x Ne 100", (26, 22), "plain", 160)
    for system in ("warp", "weft"):
        request[system]["yarns"]["A"] |= stated
    return request


def test_a_stated_twist_goes_with_the_count() -> None:
    request = voile(twist_per_m=1300, twist_direction="Z")
    (first,) = ways_out(searched(request, "air-jet-190-cam"))
    assert first["message"] == (
        "Use Ne 80 with 1160 turns/m in the weft. The twist factor stays the same."
    )
    yarn = "/construction/weft/yarns/A"
    assert {each["pointer"]: each["to"] for each in first["changes"]} == {
        f"{yarn}/designation": "Ne 80",
        f"{yarn}/twist_per_m": 1160,
    }
    assert proved(request, "air-jet-190-cam", first) is Verdict.WEAVABLE_WITH_WARNINGS
    without = ways_out(searched(voile(), "air-jet-190-cam"))
    assert first["distance"] == min(each["distance"] for each in without)


@pytest.mark.parametrize(
    ("stated", "finer"),
    [
        ({"designation": "Ne 100 Z 1300"}, "Ne 120 Z 1420"),
        ({"designation": "20 tex T0"}, "18 tex T0"),
        (
            {
                "designation": "Ne 30/2",
                "twist_per_m": 600.0,
                "twist_direction": TwistDirection.S,
                "folding_take_up_pct": 3.0,
            },
            "Ne 32/2 with 620 turns/m",
        ),
        ({"linear_density_tex": 20.0, "diameter_mm": 0.2}, "18 tex with 0.19 mm diameter"),
        ({"designation": "Nm 1"}, "Nm 1.2"),
        ({"designation": "Ne 1.2"}, "Ne 1.5"),
    ],
)
def test_what_is_stated_of_a_yarn_goes_with_its_count(stated: Any, finer: str) -> None:
    nearest, *_ = other_counts(Yarn(fibre="cotton", **stated), finer=True)
    assert str(nearest) == finer


def test_a_yarn_that_is_proposed_in_no_other_count_has_its_reason() -> None:
    request = cotton("Ne 30 x Ne 30", (26, 22), "plain", 160)
    tape = {"linear_density_tex": 1200, "fibre": "polypropylene", "tape_width_mm": 2}
    request["weft"] = {"yarns": {"A": tape}, "picks_per_cm": 4}
    (missing,) = (
        each
        for each in searched(request, "air-jet-190-cam").not_found
        if each.code == "weft.linear_density"
    )
    assert missing.tried == (
        "nothing, because weft A is proposed in no other count: its tape_width_mm is stated, "
        "which would change with the count",
    )


def test_a_finer_weft_is_tried_of_a_very_coarse_one() -> None:
    request = cotton("Ne 20/2 x Nm 1", (24, 8), "plain", 140)
    request["weft"]["yarns"]["A"]["fibre"] = "acrylic chenille"
    found = searched(request, "rapier-190-cam")
    (jammed,) = (each for each in found.not_found if each.code == "sett.jammed")
    assert "a finer weft (to Nm 6)" in jammed.tried
