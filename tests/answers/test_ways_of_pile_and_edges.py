"""Ways out that change pile or selvedges, as a mill does first, and what a remedy names."""

from __future__ import annotations

from typing import Any, Final

import pytest
from answers.test_honest_remedies import cotton, demo_loom
from answers.test_likeliest_ways import proved
from answers.test_ways_found import searched, ways_out
from archived_orders import demo_orders
from builders import terry_document

from weavability.answers.field_changes import Change
from weavability.answers.lever_choices import COARSER_WARP, COARSER_WEFT, LESS_PILE, MORE_PILE
from weavability.answers.levers import At, ChoiceLever
from weavability.answers.validation import assess, judge
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Verdict
from weavability.service.schemas.construction_schema import ConstructionSchema

JACQUARD: Final = "rapier-190-jacquard"


def terry(mass_g_per_m2: dict[str, float]) -> dict[str, Any]:
    """Three-pick terry as wide as on the loom, with a required mass."""
    return {
        **terry_document(),
        "stage": "grey",
        "width_cm": 172,
        "finishing": {
            "length_shrinkage_pct": 5,
            "width_shrinkage_pct": 4,
            "mass_change_pct": -4,
        },
        "requirements": {"mass_g_per_m2": mass_g_per_m2},
    }


def at(request: dict[str, Any], on: str, **keys: str) -> At:
    fit = judge(ConstructionSchema().read(request), demo_loom(on))
    return At(
        fit=fit, code=CheckCode.REQUIREMENT_MASS, **{"warp_key": "P", "weft_key": "A", **keys}
    )


@pytest.mark.parametrize(
    ("lever", "second", "place"),
    [
        (COARSER_WARP, "Ne 20", "warps A and B"),  # all that are alike, of three
        (COARSER_WARP, "Ne 12", "warp A"),
        (COARSER_WEFT, "Ne 20", "the weft"),
    ],
)
def test_of_several_yarns_a_remedy_names_those_that_it_changes(
    lever: ChoiceLever, second: str, place: str
) -> None:
    request = cotton("Ne 20 x Ne 20", (22, 20), "2/2 twill Z", 150)
    others = {"B": {"designation": second, "fibre": "cotton"}}
    others["C"] = {"designation": "Ne 8", "fibre": "cotton"}
    request["warp"]["yarns"] |= others
    request["warp"]["order"] = "A B C"
    first: Change = lever.options(at(request, JACQUARD, warp_key="A"))[0]
    assert first.message.endswith(f" in {place}.")


PILE: Final = "/construction/warp/beams"


@pytest.mark.parametrize(("required", "is_more"), [({"min": 600}, True), ({"max": 480}, False)])
def test_the_mass_of_terry_is_made_by_its_pile(
    required: dict[str, float], *, is_more: bool
) -> None:
    request = terry(required)
    # Beside it may be one that meets the requirement only if what is assumed is so.
    found = ways_out(searched(request, JACQUARD))
    (way,) = (each for each in found if each["pointer"] == PILE and each["clears"])
    beams: Any = way["to"]
    ground, pile = beams
    assert ground == request["warp"]["beams"][0]
    assert (pile["pile_ratio"] > 5.2) is is_more
    assert way["message"] == f"Let off warp P, {pile['pile_ratio']:g} m for a metre of cloth."
    assert proved(request, JACQUARD, way) is not Verdict.NOT_WEAVABLE
    # A tenth less of it does not do.
    nearer = round(pile["pile_ratio"] - (0.1 if is_more else -0.1), 1)
    request["warp"]["beams"][1]["pile_ratio"] = nearer
    less = assess(ConstructionSchema().read(request), demo_loom(JACQUARD), remedies=False)
    assert "requirement.mass" in {each.code for each in less.findings}
    # Loops let off at another length are nearer to the order than another sett of the ground.
    assert way["distance"] == pytest.approx(1 + 0.5 * abs(100 * (pile["pile_ratio"] / 5.2 - 1)))


def test_pile_on_two_beams_is_changed_alike() -> None:
    request = terry({"min": 600})
    yarns = request["warp"]["yarns"]
    yarns["Q"] = yarns["P"]
    request["warp"]["order"] = "G P G Q"
    request["warp"]["beams"].append({"name": "back", "yarns": ["Q"], "pile_ratio": 4})
    request["weave"] = {"rows": ["10001000", "11011101", "01110111"]}
    request["layers"] |= {"ends": "1G 1P 1G 1Q", "pile": ["P", "Q"]}
    first = MORE_PILE.options(at(request, JACQUARD))[0]
    assert first.message == "Let off warp P 5.3 m and warp Q 4.1 m for a metre of cloth."
    first = LESS_PILE.options(at(request, JACQUARD))[0]
    assert first.message == "Let off warp P 5.1 m and warp Q 3.9 m for a metre of cloth."


def coating(**more: Any) -> dict[str, Any]:
    """A demo order in two panels, on a loom for one: twenty shafts, and two of the selvedge."""
    orders = (each["construction"] for each in demo_orders())
    return {**next(each for each in orders if each["reference"] == "D-119"), **more}


@pytest.mark.parametrize("weave", ["2/2 weft rib", None])
def test_a_selvedge_that_takes_the_last_shafts_is_woven_as_the_ground(weave: str | None) -> None:
    edge = {"ends_per_side": 24, "shafts": 2} | ({"weave": weave} if weave else {})
    request, on = coating(panels=1, selvedge=edge), "rapier-230-dobby"
    first, second, *_ = ways_out(searched(request, on))
    assert first["message"] == "Weave the selvedge as the ground."
    assert {each["pointer"]: each["to"] for each in first["changes"]} == dict.fromkeys(
        f"/construction/selvedge/{name}" for name in ("weave", "shafts") if name in edge
    )
    assert (first["distance"], first["clears"]) == (len(first["changes"]), ["shedding.shafts"])
    assert first["brings"] == ["selvedge.unbound"]
    assert second["distance"] > 10.0  # another weave
    assert proved(request, on, first) is first["verdict"] is Verdict.WEAVABLE_WITH_WARNINGS


def test_one_panel_is_woven_with_the_edge_as_the_ground_where_its_shafts_are_assumed() -> None:
    request, on = coating(), "rapier-230-dobby"
    first, *_ = ways_out(searched(request, on))
    assert first["message"] == "Weave it in one panel. Weave the selvedge as the ground."
    assert (first["distance"], first["rejected_if_assumed"]) == (2.0, [])
    assert proved(request, on, first) is first["verdict"] is Verdict.WEAVABLE_WITH_WARNINGS


@pytest.mark.parametrize("ends", [600, 400])
def test_of_fewer_selvedge_ends_those_are_preferred_after_which_less_is_left(ends: int) -> None:
    request = cotton("Ne 20 x Ne 20", (26, 20), "plain", 160, selvedge={"ends_per_side": ends})
    request["warp"]["crimp_pct"], request["weft"]["crimp_pct"] = 7, 5
    on = "rapier-190-dobby"
    first, *_ = searched(request, on).remedies
    assert first["message"] == ("Use 148 selvedge ends a side. It leaves a note of selvedge.wide.")
    assert proved(request, on, first) is Verdict.WEAVABLE
    report = assess(ConstructionSchema().read(request), demo_loom(on))
    (wide,) = (each for each in report.findings if each.code == "selvedge.wide")
    assert wide.remedies[0]["message"] == first["message"]
