"""A remedy leads out, not deeper in: what it clears is gone or eased, what it brings is named."""

from __future__ import annotations

from typing import Any

import pytest
from answers.test_remedies import codes, followed, uncleared
from builders import construction, loom

from weavability.answers.finding_remedies import OUT_OF_TRIALS
from weavability.answers.remedy_search import search_remedies
from weavability.answers.validation import assess
from weavability.checks.finding import Remedy, Severity, Verdict
from weavability.looms.loom import Loom
from weavability.service.requests.park import load_park
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.construction import Construction, Reed


def demo_loom(name: str) -> Loom:
    return load_park(None).looms[name].loom


def cotton(ends: str, setts: tuple[float, float], weave: str, cm: float, **more: Any) -> Any:
    """The request for a cotton cloth of two counts, ``"Ne 30 x Ne 30"``, with setts per cm."""
    warp, weft = ({"A": {"designation": each, "fibre": "cotton"}} for each in ends.split(" x "))
    return {
        "stage": "grey",
        "warp": {"yarns": warp, "ends_per_cm": setts[0]},
        "weft": {"yarns": weft, "picks_per_cm": setts[1]},
        "weave": weave,
        "width_cm": cm,
        **more,
    }


def offered(request: Any, on: str) -> tuple[Construction, Loom, list[Remedy]]:
    """An order, a loom of the demo park, and all remedies of report and search."""
    order, machine = ConstructionSchema().read(request), demo_loom(on)
    (found,) = search_remedies(order, [machine]).looms
    findings = assess(order, machine).findings
    return order, machine, [*found.remedies, *(each for one in findings for each in one.remedies)]


TUBE = {"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"}


@pytest.mark.parametrize(
    ("request_of", "on"),
    [
        (
            cotton("Ne 30 x Ne 30", (38, 34.5), "plain", 150, selvedge={"ends_per_side": 20}),
            "rapier-190-dobby",
        ),
        pytest.param(
            cotton("Ne 30 x Ne 30", (75, 70), "double cloth plain + plain", 150, layers=TUBE),
            "rapier-190-dobby",
            marks=pytest.mark.slow,
        ),
    ],
    ids=["plain", "tube"],
)
def test_a_tight_cloth_is_not_set_closer_to_be_cleared_of_it(request_of: Any, on: str) -> None:
    # The reeds in stock on either side are as near; the finer one would jam the cloth.
    order, machine, remedies = offered(request_of, on)
    before = assess(order, machine, remedies=False)
    assert "sett.tight" in codes(before, Severity.WARNING)
    assert any("sett.tight" in each["clears"] for each in remedies)
    for remedy in remedies:
        after = assess(followed(order, remedy), machine, remedies=False)
        assert not uncleared(remedy, after), remedy
        assert "sett.jammed" not in codes(after), remedy
        assert after.cloth.tightness_pct < before.cloth.tightness_pct, remedy


def test_a_warning_is_eased_to_a_note_if_it_cannot_be_cleared() -> None:
    selvedge = {"ends_per_side": 16, "weave": "2/2 weft rib"}
    irregular = {"rows": ["1" * end + "0" + "1" * (7 - end) for end in (0, 3, 6, 1, 5, 2, 7, 4)]}
    satin = cotton("Ne 7 x Ne 2", (8, 6.6), "plain", 150, selvedge=selvedge)
    satin["weave"] = irregular  # a weave without a name, and so without a firmer one
    order, machine, remedies = offered(satin, "rapier-190-cam")
    eased = [each for each in remedies if "weave.long_float" in each["clears"]]
    assert {(each["pointer"], each["to"]) for each in eased} == {
        ("/construction/weft/picks_per_cm", 7.0)
    }
    assert eased[0]["leaves_notes"] == ["weave.long_float"]
    assert eased[0]["message"] == "Set 7 picks/cm. It leaves a note of weave.long_float."
    after = assess(followed(order, eased[0]), machine, remedies=False)
    assert "weave.long_float" in codes(after, Severity.NOTE)


@pytest.mark.parametrize(
    ("weave", "on", "to"),
    [
        ("4/4 twill", "shuttle-130-cam", "3/3 twill Z"),
        ("5/3 twill", "shuttle-130-cam", "4/2 twill Z"),
        ("6/2 twill", "shuttle-130-cam", "4/2 twill Z"),
        ("6/6 twill", "rapier-190-cam", "4/4 twill Z"),
        ("honeycomb 12", "rapier-190-cam", "honeycomb 8"),
        ("huckaback 10", "rapier-190-cam", "huckaback 6"),
    ],
)
def test_of_a_weave_that_is_too_large_the_nearest_smaller_one_is_found(
    weave: str, on: str, to: str
) -> None:
    order = ConstructionSchema().read(cotton("Ne 10 x Ne 10", (16, 12), weave, 100))
    machine = demo_loom(on)
    assert assess(order, machine, remedies=False).verdict is Verdict.NOT_WEAVABLE
    (found,) = search_remedies(order, [machine]).looms
    whole = [each for each in found.remedies if each["verdict"] is not Verdict.NOT_WEAVABLE]
    assert whole[0]["to"] == to


def test_a_looser_weave_keeps_the_face() -> None:
    jammed = cotton("Ne 30 x Ne 30", (52, 46), "3/1 twill Z", 150)
    order, machine, remedies = offered(jammed, "rapier-190-dobby")
    assert "sett.jammed" in codes(assess(order, machine, remedies=False))
    weaves = [each["to"] for each in remedies if each["pointer"] == "/construction/weave"]
    assert weaves[0] == "4/1 twill Z"


def test_the_smaller_of_two_pairs_is_found() -> None:
    def system(sett: str, per_cm: float, crimp_pct: float) -> Any:
        yarn = {"designation": "Ne 30", "fibre": "cotton", "packing_fraction": 0.6}
        return {"yarns": {"A": yarn}, sett: per_cm, "crimp_pct": crimp_pct}

    request = {
        "stage": "grey",
        "warp": system("ends_per_cm", 28, 8),
        "weft": system("picks_per_cm", 26, 7),
        "weave": "plain",
        "width_cm": 160,
        "finishing": {
            "width_shrinkage_pct": 5,
            "length_shrinkage_pct": 3,
            "relaxation_pct": 0,
            "mass_change_pct": 0,
        },
        "requirements": {"finished_width_cm": {"min": 156}, "mass_g_per_m2": {"max": 112}},
    }
    order, machine = ConstructionSchema().read(request), demo_loom("rapier-190-dobby")
    (found,) = search_remedies(order, [machine]).looms
    whole = next(each for each in found.remedies if each["verdict"] is not Verdict.NOT_WEAVABLE)
    assert [each["to"] for each in whole["changes"]] == [164.5, "Ne 38"]
    assert whole["verdict"] is Verdict.WEAVABLE


def test_no_remedy_of_a_note_makes_the_verdict_worse() -> None:
    yarns = {key: {"designation": "Ne 30", "fibre": "cotton"} for key in "AB"}
    striped = cotton("Ne 30 x Ne 30", (30, 28), "huckaback 10", 150)
    striped["warp"] |= {"yarns": yarns, "order": "24A 8B"}
    order, machine, remedies = offered(striped, "rapier-230-dobby")
    before = assess(order, machine, remedies=False)
    assert before.verdict is Verdict.WEAVABLE
    assert any("colour.warp_remainder" in each["clears"] for each in remedies)
    assert {each["verdict"] for each in remedies} == {Verdict.WEAVABLE}


def test_a_note_that_becomes_a_warning_is_brought() -> None:
    # In a weave of five threads it needs a reed that is farther from those in stock.
    order, machine, remedies = offered(
        cotton("Ne 10 x Ne 10", (16, 12), "6/2 twill", 100), "shuttle-130-cam"
    )
    before = assess(order, machine, remedies=False)
    assert "reed.not_in_stock" in codes(before, Severity.NOTE)
    (remedy,) = (each for each in remedies if each["to"] == "4/1 twill Z")
    after = assess(followed(order, remedy), machine, remedies=False)
    assert "reed.not_in_stock" in codes(after, Severity.WARNING)
    assert "reed.not_in_stock" in remedy["brings"]


def in_reed(ends: float, dents: float, ends_per_dent: int) -> Any:
    """The request for a plain cloth in a stated reed."""
    reed = {"dents_per_10cm": dents, "ends_per_dent": ends_per_dent}
    return cotton("Ne 30 x Ne 30", (ends, 24), "plain", 152, reed=reed)


def written(remedy: Remedy) -> dict[str, Any]:
    return {each["pointer"].rpartition("/")[2]: each["to"] for each in remedy["changes"]}


# 131.7 dents/10 cm are needed for the first. A cloth for 100 in their place would be a metre wider.
@pytest.mark.parametrize(
    ("ends", "dents", "ends_per_dent", "loom_id"),
    [
        (28, 125, 2, "projectile-360-cam"),
        (28, 125, 2, "rapier-190-dobby"),
        (27, 97, 4, "rapier-190-dobby"),
        (27, 38, 1, "rapier-190-cam"),
    ],
)
def test_a_reed_in_stock_gives_the_cloth_that_is_ordered(
    ends: float, dents: float, ends_per_dent: int, loom_id: str
) -> None:
    order, machine, remedies = offered(in_reed(ends, dents, ends_per_dent), loom_id)
    stock = machine.reeds_in_stock_dents_per_10cm
    chosen = [each for each in remedies if written(each).get("dents_per_10cm") in stock]
    assert chosen
    for remedy in chosen:
        assert "reed.sett_mismatch" in remedy["clears"]
        after = assess(followed(order, remedy), machine, remedies=False)
        assert not {"reed.sett_mismatch", "reed.not_in_stock"} & codes(after)
        (width,) = (one for one in remedy["alters"] if one["name"] == "grey_width_from_reed_cm")
        assert width["to"] == pytest.approx(152, rel=0.015)
        assert abs(width["from"] - 152) > 5


def test_of_changes_as_near_that_which_leaves_fewer_findings_is_first() -> None:
    _, _, remedies = offered(in_reed(28, 125, 2), "rapier-190-dobby")
    first, second = remedies[:2]
    assert (written(first), first["verdict"]) == ({"dents_per_10cm": 130}, Verdict.WEAVABLE)
    assert written(second) == {"dents_per_10cm": 131.7}
    assert second["verdict"] is Verdict.WEAVABLE_WITH_WARNINGS
    assert first["distance"] == second["distance"]


# 27 x 130 / 127 ends per cm: 126.96 dents/10 cm are needed.
@pytest.mark.parametrize("dents", [128.0, 94.0, 104.0])
def test_a_reed_in_stock_and_the_sett_that_it_gives_are_set_together(dents: float) -> None:
    order, machine, remedies = offered(in_reed(27, dents, 2), "rapier-190-dobby")
    (remedy,) = (each for each in remedies if written(each).get("dents_per_10cm") == 130)
    assert written(remedy) == {"dents_per_10cm": 130, "ends_per_cm": 27.65}
    assert remedy["verdict"] is Verdict.WEAVABLE
    assert remedy["distance"] == pytest.approx(0.5 + 100 * (27.65 / 27 - 1), rel=1e-4)
    # A report changes one field, and leads to the search.
    (finding,) = (
        each for each in assess(order, machine).findings if each.code == "reed.not_in_stock"
    )
    assert finding.remedies == ()
    assert finding.tried[-1] == OUT_OF_TRIALS


def test_no_reed_in_stock_is_offered_that_only_another_cloth_fits() -> None:
    reed = {"dents_per_10cm": 50, "ends_per_dent": 1}
    order = cotton("R 400 tex/4 x 400 tex", (5, 4), "plain", 150, reed=reed)
    _, machine, remedies = offered(order, "rapier-150-dobby")
    assert min(machine.reeds_in_stock_dents_per_10cm) == 80
    assert not any(written(each).get("dents_per_10cm", 0) >= 80 for each in remedies)


def test_a_warning_is_not_cleared_by_a_cloth_that_comes_out_still_wider() -> None:
    # Six ends in a dent are too many; five of them fill a fifth more of the reed.
    machine = loom(reed_width_cm=260.0)
    order = construction(reed=Reed(dents_per_10cm=36.0, ends_per_dent=6))
    assert codes(assess(order, machine, remedies=False), Severity.WARNING) >= {
        "reed.sett_mismatch",
        "reed.ends_per_dent",
    }
    (found,) = search_remedies(order, [machine]).looms
    assert {"ends_per_dent": 5} not in [written(each) for each in found.remedies]
