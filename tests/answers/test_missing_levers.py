"""Ways out that a technologist takes and a search did not know, and what it says where none is."""

from __future__ import annotations

from typing import Any

import pytest
from answers.test_honest_remedies import cotton, demo_loom
from answers.test_likeliest_ways import proved
from answers.test_ways_found import searched
from builders import construction, loom

from weavability.answers.field_changes import Write
from weavability.answers.levers import (
    FEWER_IN_DENT,
    FEWER_IN_EDGE_DENT,
    FEWER_PANELS,
    FEWER_SELVEDGE_ENDS,
    At,
    NumberLever,
    with_unit,
)
from weavability.answers.validation import assess, judge
from weavability.answers.yarn_counts import folded_counts, other_counts
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity, Verdict
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.construction import Reed, Selvedge
from weavability.textiles.designations import parse_designation
from weavability.textiles.yarns import Yarn


def chenille(count: str, picks: float) -> dict[str, Any]:
    request: dict[str, Any] = cotton("Ne 20/2 x Ne 1", (16, picks), "plain", 240)
    request["weft"]["yarns"]["A"] = {"designation": count, "fibre": "viscose chenille"}
    return request


def severity(request: Any, on: str, code: str) -> Severity | None:
    found = assess(ConstructionSchema().read(request), demo_loom(on), remedies=False).findings
    return next((each.severity for each in found if each.code == code), None)


def test_a_search_says_at_which_sett_and_count_another_cloth_is_woven() -> None:
    on = "rapier-340-dobby"
    found = searched(chenille("Nm 1", 10), on)  # 2.6 times the jam
    (jammed,) = (each for each in found.not_found if each.code == "sett.jammed")
    other = "but only as another cloth"
    assert f"fewer picks, {other}: 4 picks/cm" in jammed.tried
    assert f"a finer weft, {other}: Nm 9" in jammed.tried
    # What nothing clears, however far, says how far it was tried.
    assert "fewer ends (to 12 ends/cm)" in jammed.tried
    clear = (None, Severity.NOTE)
    assert severity(chenille("Nm 1", 4), on, "sett.jammed") in clear
    assert severity(chenille("Nm 1", 4.1), on, "sett.jammed") not in clear
    assert severity(chenille("Nm 9", 10), on, "sett.jammed") in clear
    assert severity(chenille("Nm 8", 10), on, "sett.jammed") not in clear


@pytest.mark.parametrize(
    ("yarn", "finer", "coarser", "folded"),
    [
        ("jute 14 lb", "jute 13 lb", "jute 16 lb", ["jute 7 lb x 2"]),
        ("Galashiels 12", "Galashiels 14", "Galashiels 10", ["Galashiels 24/2"]),
        ("skein 24", "skein 26", "skein 22", ["skein 48/2"]),
        ("woollen Nm 8", "woollen Nm 9", "woollen Nm 7", ["woollen Nm 16/2"]),
        # The count of spun silk is that of the folded yarn.
        ("silk 60/2", "silk 70/2", "silk 50/2", []),
    ],
)
def test_yarns_of_their_own_systems_are_proposed_in_other_counts(
    yarn: str, finer: str, coarser: str, folded: list[str]
) -> None:
    stated = Yarn(designation=yarn)
    assert other_counts(stated, finer=True)[0].to == finer
    assert other_counts(stated, finer=False)[0].to == coarser
    assert [each.to for each in folded_counts(stated)] == folded
    for each in (*other_counts(stated, finer=True), *other_counts(stated, finer=False)):
        times = tex_of(str(each.to)) / tex_of(yarn)
        assert times == pytest.approx(1 + each.change_pct / 100)


def tex_of(designation: str) -> float:
    return parse_designation(designation).linear_density_tex


def uneven(dents: list[int], ends_per_cm: float) -> dict[str, Any]:
    reed = {"ends_in_dents": dents}
    request: dict[str, Any] = cotton("Ne 20 x Ne 20", (ends_per_cm, 20), "2/2 twill Z", 150)
    return {**request, "reed": reed}


def test_uneven_dents_that_only_give_the_sett_are_evened_for_a_reed_in_stock() -> None:
    request, on = uneven([3, 3, 4], 22), "rapier-190-cam"
    first, *_ = searched(request, on).remedies
    assert first["message"] == "Draw 3 ends in every dent, for the reed of 70 dents/10 cm."
    assert {each["pointer"]: each["to"] for each in first["changes"]} == {
        "/construction/reed/ends_per_dent": 3,
        "/construction/reed/ends_in_dents": None,
    }
    del request["reed"]["ends_in_dents"]
    request["reed"]["ends_per_dent"] = 3
    after = assess(ConstructionSchema().read(request), demo_loom(on), remedies=False)
    assert after.verdict is first["verdict"] is Verdict.WEAVABLE


def test_of_ranges_of_size_only_the_least_is_proposed() -> None:
    request: dict[str, Any] = cotton("Ne 40 x Ne 40", (40, 30), "plain", 150)
    request["allowances"] = {"size_pct": 0.0}
    remedies = [
        each
        for each in searched(request, "rapier-190-cam").remedies
        if "warp.unsized" in each["clears"] and len(each["changes"]) == 1
    ]
    sizes = [each for each in remedies if each["pointer"].endswith("/size_pct")]
    assert [(each["to"], each["message"]) for each in sizes] == [(1.0, "Size the warp with 1 %.")]


@pytest.mark.parametrize(
    ("lever", "to", "message"),
    [
        (FEWER_PANELS, 1, "Weave it in one panel."),
        (FEWER_PANELS, 2, "Weave 2 panels side by side."),
        (FEWER_SELVEDGE_ENDS, 1, "Use 1 selvedge end a side."),
        (FEWER_IN_EDGE_DENT, 1, "Draw 1 selvedge end in a dent."),
        (FEWER_IN_DENT, 1, "Draw 1 end in a dent."),
    ],
)
def test_one_is_not_called_several(lever: NumberLever, to: int, message: str) -> None:
    order = construction(panels=3, reed=Reed(ends_per_dent=3), selvedge=Selvedge(ends_per_side=3))
    at = At(fit=judge(order, loom()), code=CheckCode.SELVEDGE_WIDE, warp_key="A", weft_key="A")
    found = {each.writes[0].to: each.message for each in lever.options(at)}
    assert found[to] == message
    assert with_unit(Write(field="/x", to=1, unit="ends/dent")) == "1 end/dent"


def test_crammed_and_empty_dents_are_left_as_they_are() -> None:
    found = searched(uneven([2, 0, 2], 30), "rapier-190-cam")
    assert not found.remedies
    (missing,) = found.not_found
    assert missing.tried == (
        "nothing, because crammed and empty dents make the cloth, and no reed for them is near",
    )


def two_warps(**of_second: Any) -> dict[str, Any]:
    request: dict[str, Any] = cotton("Ne 20 x Ne 20", (22, 20), "2/2 twill Z", 150)
    yarn = request["warp"]["yarns"]["A"]
    beams = [{"name": "one", "yarns": ["A"]}, {"name": "two", "yarns": ["B"], **of_second}]
    request["warp"] |= {"yarns": {"A": yarn, "B": yarn}, "order": "A B", "beams": beams}
    return request


def test_warps_of_one_take_up_are_wound_on_one_beam_of_a_loom_with_one_let_off() -> None:
    request, on = two_warps(), "rapier-190-cam"
    (way,) = (each for each in searched(request, on).remedies if "beams" in each["pointer"])
    assert (way["to"], way["clears"]) == (None, ["warp.second_warp"])
    assert proved(request, on, way) is way["verdict"]


@pytest.mark.parametrize(
    ("request_", "on", "code", "why"),
    [
        (
            two_warps(pile_ratio=1.3),
            "rapier-190-cam",
            "warp.second_warp",
            "nothing, because only another loom weaves it as it is",
        ),
        (
            cotton("Ne 20 x Ne 20", (22, 20), "plain", 150),
            "water-jet-190-dobby",
            "warp.unsuitable_for_system",
            "nothing, because only another loom weaves it as it is",
        ),
    ],
)
def test_a_search_says_why_nothing_was_tried(request_: Any, on: str, code: str, why: str) -> None:
    tried = {each.code.value: each.tried for each in searched(request_, on).not_found}
    assert why in tried[code]


def test_one_change_that_is_left_of_two_is_no_larger_than_it_has_to_be() -> None:
    """Fewer ends with a finer warp clear both; without the finer warp, fewer of them do."""
    request = cotton("Ne 60/2 x Ne 60/2", (95.4, 36), "double cloth plain + plain", 112)
    request["weft"]["yarns"]["A"] = {"designation": "550 dtex f48", "fibre": "nylon"}
    request |= {
        "selvedge": {"ends_per_side": 0},
        "layers": {"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"},
        "length_m": 3000,
    }
    del request["stage"]
    on, pointer = "rapier-150-dobby", "/construction/warp/ends_per_cm"
    for way in searched(request, on).remedies:
        change: Any = way["changes"][0]
        if change["pointer"] == pointer and change["step"] is not None:
            more = {**request["warp"], "ends_per_cm": round(change["to"] + change["step"], 1)}
            severities = {severity({**request, "warp": more}, on, each) for each in way["clears"]}
            assert Severity.WARNING in severities
            break
    else:
        pytest.fail("no sett clears what is warned of")
