"""Which ways out are found: the near ones, and none that only seems to be one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from answers.test_honest_remedies import cotton, demo_loom
from answers.test_remedies import codes, followed

from weavability.answers import remedy_search
from weavability.answers.dominance import FAR_POINTS, FARTHEST_POINTS, WEAVE
from weavability.answers.finding_remedies import STATE_FIRST
from weavability.answers.remedy_search import LoomRemedies, search_remedies
from weavability.answers.requirement_summary import requirement_summaries
from weavability.answers.trials import Bound
from weavability.answers.tried_in_vain import USED_UP
from weavability.answers.validation import assess, judge
from weavability.checks.finding import Remedy, Severity, Verdict
from weavability.service.schemas.construction_schema import ConstructionSchema


def searched(request: Any, on: str) -> LoomRemedies:
    order = ConstructionSchema().read(request)
    (found,) = search_remedies(order, [demo_loom(on)]).looms
    return found


def ways_out(found: LoomRemedies) -> list[Remedy]:
    return [each for each in found.remedies if each["verdict"] is not Verdict.NOT_WEAVABLE]


LONG_AND_FAST = {"length_m": 3000, "requested_speed_picks_per_min": 600}


@pytest.mark.parametrize(
    ("counts", "setts", "weave"),
    [
        ("Ne 40/2 x Ne 20", (60, 28), "2/2 twill Z"),
        ("Ne 40/2 x Ne 24", (57, 28), "2/2 twill S"),
    ],
)
def test_two_single_changes_that_clear_an_error_each_are_made_together(
    counts: str, setts: tuple[float, float], weave: str
) -> None:
    request = cotton(counts, setts, weave, 158, **LONG_AND_FAST)
    found = searched(request, "rapier-190-dobby")
    (first, *_) = ways_out(found)
    # A lower speed with a finer warp is farther than that: 18.8 points.
    assert first["distance"] < 15.0
    order, on = ConstructionSchema().read(request), demo_loom("rapier-190-dobby")
    after = assess(followed(order, first), on, remedies=False)
    assert after.verdict is first["verdict"] is Verdict.WEAVABLE_WITH_WARNINGS
    # A finer warp that is no longer jammed, but cannot be judged, is not the last that is tried.
    (jammed,) = (each for each in assess(order, on).findings if each.code == "sett.jammed")
    assert any("in the warp" in each["message"] for each in jammed.remedies)


def test_a_search_says_that_its_trials_were_used_up(monkeypatch: pytest.MonkeyPatch) -> None:
    request = cotton("Ne 40/2 x Ne 20", (60, 28), "2/2 twill Z", 158, **LONG_AND_FAST)
    assert not searched(request, "rapier-190-dobby").trials_used_up
    monkeypatch.setattr(remedy_search, "OF_SEARCH", Bound(probes=6, proofs=2))
    found = searched(request, "rapier-190-dobby")
    assert found.trials_used_up
    assert found.not_found
    assert all(each.tried[-1] == USED_UP for each in found.not_found)


@pytest.mark.parametrize(
    ("designation", "fibre", "setts"),
    [("Ne 10/2", "cotton", (22, 18)), ("Nm 40/2", "wool", (30, 26))],
)
def test_a_pair_is_sought_if_only_a_far_change_clears_the_only_error(
    designation: str, fibre: str, setts: tuple[float, float]
) -> None:
    request = cotton(f"{designation} x {designation}", setts, "plain", 150)
    for system in ("warp", "weft"):
        request[system]["yarns"]["A"]["fibre"] = fibre
    (first, *others) = ways_out(searched(request, "rapier-190-dobby"))
    assert first["to"] == "2/2 warp rib"
    assert first["changes"][1]["pointer"] == "/construction/weft/picks_per_cm"
    assert FAR_POINTS < first["distance"] < 20.0
    assert others[0]["distance"] > 35.0


def test_an_order_is_not_fixed_by_the_end_of_the_band_of_what_is_required() -> None:
    # 145 g/m2, up to 170 over what is assumed; the reed of 110 brings 147, up to 172.
    request = cotton(
        "Ne 20 x Ne 20",
        (24, 20),
        "plain",
        155,
        stage="finished",
        requirements={
            "mass_g_per_m2": {"min": 170, "max": 185},
            "finished_width_cm": {"min": 150},
        },
    )
    found = searched(request, "rapier-190-dobby")
    assert found.verdict is Verdict.NOT_WEAVABLE
    tried = {each.code.value: each.tried for each in found.not_found}
    assert tried["requirement.mass"] == (STATE_FIRST,)
    # Only what brings the figure itself inside the limits makes it weavable, with a warning.
    order, on = ConstructionSchema().read(request), demo_loom("rapier-190-dobby")
    reported = [each for one in assess(order, on).findings for each in one.remedies]
    assert ways_out(found)
    for remedy in (*ways_out(found), *reported):
        assert remedy["leaves_warnings"] == ["requirement.mass"]
        after = requirement_summaries(judge(followed(order, remedy), on))
        (mass,) = (each for each in after if each.figure == "mass_g_per_m2")
        assert mass.met == "perhaps"
        assert 170.0 <= mass.value <= 185.0


def test_a_count_that_lies_between_two_limits_is_found_though_the_next_ones_do_not() -> None:
    """145 g/m2 are required to be 170 to 185: of the usual counts only Ne 12 in the weft is."""
    request = cotton(
        "Ne 20 x Ne 20",
        (24, 20),
        "plain",
        155,
        stage="finished",
        finishing={"length_shrinkage_pct": 3, "width_shrinkage_pct": 4, "mass_change_pct": -4},
        requirements={"mass_g_per_m2": {"min": 170, "max": 185}},
    )
    request["warp"]["crimp_pct"], request["weft"]["crimp_pct"] = 5, 6
    found = searched(request, "rapier-190-dobby")
    alone = [each for each in ways_out(found) if each["message"] == "Use Ne 12 in the weft."]
    assert [each["verdict"] for each in alone] == [Verdict.WEAVABLE]


def test_what_is_only_made_a_warning_of_is_not_found() -> None:
    request = cotton("Ne 20 x Ne 20", (40, 24), "5-end satin move 2", 110)
    found = searched(request, "shuttle-130-cam")
    cleared = {code for each in found.remedies for code in each["clears"]}
    eased = {code for each in found.remedies for code in each["leaves_warnings"]}
    assert "shedding.heald_crowding" in eased - cleared
    order = ConstructionSchema().read(request)
    before = assess(order, demo_loom("shuttle-130-cam"), remedies=False)
    heavy = codes(before, Severity.ERROR, Severity.WARNING)
    assert {each.code for each in found.not_found} == heavy - cleared


def test_what_helps_of_an_error_is_listed_first() -> None:
    wide = cotton("Ne 20 x Ne 20", (40, 24), "2/1 twill Z", 195)
    first, second = searched(wide, "rapier-190-dobby").remedies
    assert "width.reed_space" in first["clears"]
    assert second["clears"] == ["reed.not_in_stock"]
    assert second["distance"] < first["distance"]


def test_no_other_denting_is_listed_beside_the_same_sett_in_the_usual_one() -> None:
    poplin = cotton("Ne 40 x Ne 40", (51, 28), "plain", 155)
    found = searched(poplin, "rapier-190-dobby")
    setts = [each for each in found.remedies if each["to"] == 50.24]
    assert [len(each["changes"]) for each in setts] == [1]
    order = ConstructionSchema().read(poplin)
    for finding in assess(order, demo_loom("rapier-190-dobby")).findings:
        assert len({str(each["to"]) for each in finding.remedies}) == len(finding.remedies)


CANVAS = cotton("Ne 8/4 x Ne 8/6", (12, 9), "plain", 125, requested_speed_picks_per_min=150)
NYLON = {"designation": "470 dtex f136", "fibre": "nylon"}


@pytest.mark.parametrize(
    ("request_of", "on", "fields", "points"),
    [
        (CANVAS, "shuttle-130-cam", {"width_cm", "picks_per_cm"}, 15.5),
        (
            cotton("Ne 30 x Ne 30", (27, 24), "plain", 180, requested_speed_picks_per_min=900),
            "air-jet-190-cam",
            {"width_cm", "requested_speed_picks_per_min"},
            2.0,
        ),
        (
            cotton("Ne 20 x Ne 20", (40, 52), "3/1 twill S", 150),
            "rapier-190-cam",
            {"picks_per_cm", "ends_per_cm"},
            12.0,
        ),
        (
            {
                "warp": {"yarns": {"A": NYLON}, "ends_per_cm": 21},
                "weft": {"yarns": {"A": NYLON}, "picks_per_cm": 21},
                "weave": "plain",
                "width_cm": 178,
                "requested_speed_picks_per_min": 780,
            },
            "water-jet-190-dobby",
            {"width_cm", "designation", "requested_speed_picks_per_min"},
            20.0,
        ),
    ],
)
def test_what_leaves_a_rejection_to_what_is_assumed_ends_no_search(
    request_of: Any, on: str, fields: set[str], points: float
) -> None:
    found = searched(request_of, on)
    (certain, *others) = (
        each
        for each in ways_out(found)
        if WEAVE not in [change["pointer"] for change in each["changes"]]
    )
    assert certain["rejected_if_assumed"] == []
    assert {each["pointer"].rpartition("/")[2] for each in certain["changes"]} == fields
    assert certain["distance"] < points
    doubtful = next(each for each in others if each["rejected_if_assumed"])
    assert "It leaves the order not weavable (" in doubtful["message"]
    order, machine = ConstructionSchema().read(request_of), demo_loom(on)
    assert assess(followed(order, certain), machine, remedies=False).verdict_note is None
    note = assess(followed(order, doubtful), machine, remedies=False).verdict_note
    assert note is not None
    assert all(code in note for code in doubtful["rejected_if_assumed"])


def test_a_change_that_leaves_less_takes_the_place_of_one_that_is_a_hair_nearer() -> None:
    # 385 picks/min are too fast if the crimp is as it is assumed; 380 are not.
    blanket = {
        "warp": {"yarns": {"A": {"designation": "Nm 8", "fibre": "wool"}}, "ends_per_cm": 9},
        "weft": {"yarns": {"A": {"designation": "Nm 4", "fibre": "wool"}}, "picks_per_cm": 9},
        "weave": "2/2 twill Z",
        "width_cm": 290,
        "requested_speed_picks_per_min": 420,
    }
    (first, *_) = ways_out(searched(blanket, "rapier-340-dobby"))
    assert first["message"].startswith("Run at 380 picks/min.")
    report = assess(ConstructionSchema().read(blanket), demo_loom("rapier-340-dobby"))
    offered = [each["message"] for one in report.findings for each in one.remedies]
    assert any(each.startswith("Run at 380") for each in offered)
    assert not any(each.startswith("Run at 385") for each in offered)


def test_another_cloth_is_no_way_out() -> None:
    # Its cover takes five times as coarse a warp: from 91 to 319 g/m².
    request = cotton("Ne 30 x Ne 30", (24, 20), "plain", 150)
    request["requirements"] = {"cover_factor": {"min": 24}}
    found = searched(request, "rapier-190-dobby")
    assert ways_out(found) == []
    assert max(each["distance"] for each in found.remedies) <= FARTHEST_POINTS
    (cover,) = (each for each in found.not_found if each.code == "requirement.cover")
    assert "a coarser warp, but only as another cloth: Ne 6, 202 points away" in cover.tried
    report = assess(ConstructionSchema().read(request), demo_loom("rapier-190-dobby"))
    (missed,) = (each for each in report.findings if each.code == "requirement.cover")
    assert missed.remedies == ()
    assert "a coarser warp, but only as another cloth: Ne 6, 202 points away" in missed.tried


def test_a_reed_in_a_counting_system_gives_way_to_one_in_stock() -> None:
    reed = {"count": 64, "system": "stockport", "ends_per_dent": 2}
    request = cotton("Ne 30 x Ne 30", (28, 24), "plain", 152, reed=reed)
    (first, *_) = ways_out(searched(request, "rapier-190-dobby"))
    assert (first["distance"], first["clears"]) == (
        0.5,
        ["reed.not_in_stock", "reed.sett_mismatch"],
    )
    assert [(each["pointer"], each["from"], each["to"]) for each in first["changes"]] == [
        ("/construction/reed/dents_per_10cm", None, 130.0),
        ("/construction/reed/count", 64.0, None),
        ("/construction/reed/system", "stockport", None),
    ]
    order, on = ConstructionSchema().read(request), demo_loom("rapier-190-dobby")
    after = assess(followed(order, first), on, remedies=False)
    assert "reed.not_in_stock" not in codes(after)
    assert after.verdict is first["verdict"]


def test_a_reed_in_a_counting_system_gives_way_to_that_of_the_sett() -> None:
    reed = {"count": 70, "system": "stockport", "ends_per_dent": 2}
    request = cotton("Ne 30 x Ne 30", (28, 24), "plain", 152, reed=reed)
    on = replace(demo_loom("rapier-190-dobby"), reeds_in_stock_dents_per_10cm=())
    order = ConstructionSchema().read(request)
    (found,) = search_remedies(order, [on]).looms
    (remedy,) = (each for each in found.remedies if "Use a reed of" in each["message"])
    assert [each["to"] for each in remedy["changes"][1:]] == [None, None]
    assert "reed.sett_mismatch" in remedy["clears"]
    after = assess(followed(order, remedy), on, remedies=False)
    assert "reed.sett_mismatch" not in codes(after)


@pytest.mark.parametrize(
    ("setts", "weave", "cm", "on", "reed", "more"),
    [
        ((12.2, 48.5), "2/2 hopsack", 120, "shuttle-130-cam", (52, 2), (None, "Ne 100", 1300)),
        ((7.2, 22.3), "plain", 125, "rapier-190-dobby", (71, 1), (500, "Ne 24", None)),
    ],
)
def test_the_sett_that_a_reed_in_stock_is_said_to_give_is_the_one_it_gives(
    setts: tuple[float, float],
    weave: str,
    cm: float,
    on: str,
    reed: tuple[int, int],
    more: tuple[int | None, str, int | None],
) -> None:
    """A coarse warp under a fine weft: crimp and selvedges move with the sett."""
    warp_twist, weft, weft_twist = more
    request = cotton(f"Ne 3 x {weft}", setts, weave, cm)
    warp = {"linear_density_tex": 200, "fibre": "cotton"}
    if warp_twist:
        warp |= {"twist_per_m": warp_twist, "twist_direction": "Z"}
        request["selvedge"] = {"ends_per_side": 152}
    if weft_twist:
        request["weft"]["yarns"]["A"] |= {"twist_per_m": weft_twist, "twist_direction": "Z"}
    request["warp"]["yarns"]["A"] = warp
    request["reed"] = {"dents_per_10cm": reed[0], "ends_per_dent": reed[1]}
    order, machine = ConstructionSchema().read(request), demo_loom(on)
    found = [each for each in searched(request, on).remedies if "which it gives" in each["message"]]
    assert len(found) == 2
    for remedy in found:
        after = assess(followed(order, remedy), machine, remedies=False)
        assert "reed.sett_mismatch" not in codes(after), remedy["message"]


@pytest.mark.parametrize(
    ("setts", "on", "dents", "listed"),
    [
        ((26, 20.8), "rapier-190-cam", 123, ["60 4", "80 3"]),
        ((27, 24), "projectile-360-cam", 128, ["65 4", "80 3"]),
    ],
)
def test_another_denting_with_its_sett_is_found_if_the_same_one_is_far(
    setts: tuple[float, float], on: str, dents: int, listed: list[str]
) -> None:
    reed = {"dents_per_10cm": dents, "ends_per_dent": 2}
    request = cotton("Ne 30 x Ne 30", setts, "plain", 152, reed=reed)
    found = [each for each in ways_out(searched(request, on)) if each["distance"] < 10.0]
    assert [" ".join(f"{one['to']:g}" for one in each["changes"][:2]) for each in found] == listed
    assert {each["verdict"] for each in found} == {Verdict.WEAVABLE}
    order = ConstructionSchema().read(request)
    after = assess(followed(order, found[0]), demo_loom(on), remedies=False)
    assert after.verdict is Verdict.WEAVABLE
    assert not codes(after) & {"reed.not_in_stock", "reed.sett_mismatch"}
