"""Ways out of figured designs: the picture laid out otherwise, and effects that bind better."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from answers.test_honest_remedies import cotton
from answers.test_likeliest_ways import proved
from answers.test_ways_found import searched
from demo_pictures import in_base64, rosette

from weavability.answers.remedy_search import LoomRemedies
from weavability.checks.finding import Remedy, Verdict

ON = "rapier-190-jacquard"


def damask(weave: str, setts: tuple[float, float], picture: Any = None, **design: Any) -> Any:
    """A rose that is turned on its ground, both in one weave."""
    return cotton("Ne 40/2 x Ne 20", setts, "plain", 140) | {
        "weave": {
            "design": {
                "picture_png": in_base64(
                    rosette(120) if picture is None else picture, "#ffffff", "#101010"
                ),
                "effects": {
                    "#ffffff": {"name": "ground", "weave": weave},
                    "#101010": {"name": "rose", "weave": weave, "face": "weft"},
                },
                **design,
            }
        }
    }


def clearing(found: LoomRemedies, code: str) -> list[Remedy]:
    return [each for each in found.remedies if code in each["clears"]]


def test_a_picture_that_is_no_picture_of_the_cloth_is_one_of_the_hooks() -> None:
    request = damask("8-end satin move 3", (30, 26), covers="cloth")
    first, *_ = clearing(searched(request, ON), "design.tie_width")
    (change,) = first["changes"]
    assert change["pointer"] == "/construction/weave/design/covers"
    assert (change["from"], change["to"], first["distance"]) == ("cloth", "hooks", 1.0)
    assert proved(request, ON, first) is not Verdict.NOT_WEAVABLE


def test_a_cloth_is_woven_as_wide_as_its_picture() -> None:
    # 3,840 columns; 140 cm have 4,200 ends.
    request = damask("8-end satin move 3", (30, 26), np.tile(rosette(80), (1, 48)), covers="cloth")
    found = clearing(searched(request, ON), "design.tie_width")
    (narrower,) = (each for each in found if each["pointer"] == "/construction/width_cm")
    assert narrower["message"] == "Weave it 128 cm wide, as the picture is."
    assert proved(request, ON, narrower) is narrower["verdict"]


# 4 picks are 1.5 mm at 26 picks/cm, 3 picks 1.2 mm.
@pytest.mark.parametrize("limits", [{"warp_mm": 1.4}, {"warp_mm": 1.4, "weft_mm": 1.3}])
def test_effects_of_one_weave_are_woven_in_another_with_shorter_floats(
    limits: dict[str, float],
) -> None:
    request = damask("5-end satin move 2", (30, 26), float_limits=limits)
    found = clearing(searched(request, ON), "design.effect_unbound")
    (firmer,) = (each for each in found if "/effects/" in each["pointer"])
    assert firmer["message"].startswith("Weave rose and ground in 3/1 broken twill Z.")
    assert {(each["pointer"], each["from"], each["to"]) for each in firmer["changes"]} == {
        (
            f"/construction/weave/design/effects/{colour}/weave",
            "5-end satin move 2",
            "3/1 broken twill Z",
        )
        for colour in ("#ffffff", "#101010")
    }
    # The mean float is 2 in place of 2.5, and 75 % of the face are warp in place of 80.
    assert firmer["distance"] == pytest.approx(5 + 0.1 * 20 + 0.2 * 5)
    proved(request, ON, firmer)
    # Closer picks shorten those of the warp too.
    by_picks = any(each["pointer"].endswith("/picks_per_cm") for each in found)
    assert by_picks is ("weft_mm" not in limits)
