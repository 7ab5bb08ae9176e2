"""What a search says where a way out is near, far or none: nothing that a reader finds untrue."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any, Final

import pytest
from answers.test_honest_remedies import cotton, demo_loom
from answers.test_likeliest_ways import proved
from answers.test_remedies import codes, followed
from answers.test_ways_found import searched
from answers.test_ways_of_designs import damask
from builders import terry_document

from weavability.answers.dominance import FARTHEST_POINTS
from weavability.answers.finding_remedies import ANOTHER_LOOM, NOTHING_HELPS
from weavability.answers.remedy_search import LoomRemedies, search_remedies
from weavability.answers.validation import assess
from weavability.checks.finding import Severity, Verdict
from weavability.service.requests.park import load_park
from weavability.service.schemas.construction_schema import ConstructionSchema


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


def tried_of(found: LoomRemedies) -> dict[str, tuple[str, ...]]:
    return {each.code.value: each.tried for each in found.not_found}


def test_a_width_makes_no_other_cloth() -> None:
    wide = tried_of(searched(required_width(149, 150), "rapier-190-dobby"))
    assert wide["requirement.width"] == ("a wider cloth, but only from 187.5 cm",)


def of_yarns(
    designation: str, fibre: str, setts: tuple[float, float], weave: str = "plain"
) -> dict[str, Any]:
    request: dict[str, Any] = cotton("Ne 20 x Ne 20", setts, weave, 130)
    for system in ("warp", "weft"):
        request[system]["yarns"]["A"] = {"designation": designation, "fibre": fibre}
    return request


def test_a_count_that_is_too_far_is_named() -> None:
    tried = tried_of(searched(of_yarns("22 den", "silk", (50, 50)), "rapier-150-dobby"))
    assert tried["weft.linear_density"] == (
        "a coarser weft, but only as another cloth: 50 den, 66 points away",
    )


def test_what_was_tried_is_named_once() -> None:
    tried = tried_of(searched(of_yarns("200 tex", "carbon", (5, 5)), "air-jet-190-cam"))
    (once,) = tried["reed.not_in_stock"]
    assert once.startswith("fewer ends in a dent (to 1 end")


@pytest.mark.parametrize(
    ("request_", "code", "helps"),
    [
        (
            cotton(
                "Ne 20 x Ne 20", (20, 20), "2/2 twill Z", 150, reed={"ends_in_dents": [9, 1, 0]}
            ),
            "reed.ends_per_dent",
            "a finer reed",
        ),
        (cotton("Ne 20 x Ne 20", (20, 16), "1/5 weft rib", 150), "shedding.uneven_lift", "slower"),
    ],
)
def test_what_was_tried_does_not_contradict_the_finding(
    request_: dict[str, Any], code: str, helps: str
) -> None:
    on = "rapier-190-dobby"
    (why,) = tried_of(searched(request_, on))[code]
    assert helps in why
    report = assess(ConstructionSchema().read(request_), demo_loom(on))
    (finding,) = (each for each in report.findings if each.code == code)
    assert helps in finding.message
    assert finding.tried == (why,)


def test_errors_that_are_cleared_together_only_as_another_cloth_say_so() -> None:
    found = searched(of_yarns("200 tex", "carbon", (5, 5)), "air-jet-190-cam")
    alone = {each["message"].split(".")[0]: each["distance"] for each in found.remedies}
    assert sum(alone.values()) > FARTHEST_POINTS
    assert all(each["verdict"] is Verdict.NOT_WEAVABLE for each in found.remedies)
    tried = tried_of(found)
    far = (
        "more picks (6.1 picks/cm) and a finer weft (80 tex), together 54 points: only as another "
        "cloth"
    )
    assert (tried["weft.linear_density"], tried["picks.out_of_range"]) == ((far,), (far,))


def nine_wefts() -> dict[str, Any]:
    request: dict[str, Any] = cotton("Ne 20 x Ne 20", (22, 20), "plain", 150)
    yarn = request["weft"]["yarns"]["A"]
    wefts = {key: {**yarn, "colour": f"#0000{place}0"} for place, key in enumerate("ABCDEFGHI")}
    request["weft"] |= {"yarns": wefts, "order": " ".join(f"2{key}" for key in wefts)}
    return request


def test_no_other_loom_is_said_to_weave_what_none_of_those_judged_does() -> None:
    order = ConstructionSchema().read(nine_wefts())
    park = [each.loom for each in load_park(None).looms.values()]
    most = max(each.weft_selectors or 0 for each in park)
    (found,) = (alone := search_remedies(order, [demo_loom("rapier-190-dobby")], park)).looms
    assert alone.other_looms == ()
    (why,) = tried_of(found)["weft.selectors"]
    assert why == f"nothing, because none of the looms judged feeds more than {most} weft yarns"
    assert most < len(order.weft.yarns)
    # With more selectors on a loom that is too narrow, it is not for them that none weaves it.
    on = demo_loom("rapier-190-dobby")
    narrow = replace(on, loom_id="narrow", weft_selectors=12, reed_width_cm=120.0)
    (found,) = search_remedies(order, [on], [narrow]).looms
    (why,) = tried_of(found)["weft.selectors"]
    assert "only another loom clears it, such as narrow; width.reed_space" in why


def test_what_only_another_loom_weaves_is_said_to_be_so() -> None:
    order = ConstructionSchema().read(damask("8-end satin move 3", (30, 26)))
    on, jacquard = demo_loom("rapier-190-dobby"), demo_loom("rapier-190-jacquard")
    report = search_remedies(order, [on], [jacquard])
    assert [each.loom_id for each in report.other_looms] == ["rapier-190-jacquard"]
    why = tried_of(report.looms[0])["shedding.hooks"]
    assert why == ("nothing, because only another loom weaves it as it is",)


def test_another_loom_that_clears_one_of_two_errors_is_named_with_what_it_leaves() -> None:
    request = nine_wefts()
    wefts = dict(list(request["weft"]["yarns"].items())[:5])
    request["weft"] |= {"yarns": wefts, "order": " ".join(f"2{key}" for key in wefts)}
    request["finishing"] = {"width_shrinkage_pct": 4}
    request["requirements"] = {"finished_width_cm": {"min": 155}}
    order = ConstructionSchema().read(request)
    park = [each.loom for each in load_park(None).looms.values()]
    (found,) = (alone := search_remedies(order, [demo_loom("rapier-190-cam")], park)).looms
    assert alone.other_looms == ()
    (why,) = tried_of(found)["weft.selectors"]
    begin = "nothing, because only another loom clears it, such as "
    assert why.startswith(begin)
    named, _, left = why.removeprefix(begin).partition("; ")
    assert left == "requirement.width would be left to be mended there"
    looms = [demo_loom(name) for name in named.replace(" and ", ", ").split(", ")]
    for on in looms:
        assert codes(assess(order, on, remedies=False), Severity.ERROR) == {"requirement.width"}
    found_there = [search_remedies(order, [on]).looms[0].remedies for on in looms]
    assert any(each["verdict"] is not Verdict.NOT_WEAVABLE for some in found_there for each in some)


def wide_wefts(colours: str) -> dict[str, Any]:
    """A cloth of 345 cm with wefts of some colours, each a letter of a name of them."""
    request: dict[str, Any] = cotton("Ne 20 x Ne 20", (24, 20), "plain", 345)
    yarn = request["weft"]["yarns"]["A"]
    wefts = {
        key: {**yarn, "colour": f"#0000{ord(colour):02x}"}
        for key, colour in zip("ABCDEFGHI", colours, strict=False)
    }
    request["weft"] |= {"yarns": wefts, "order": " ".join(f"4{key}" for key in wefts)}
    return request


@pytest.mark.parametrize(
    ("colours", "on"),
    [
        ("rgbwkr", "projectile-360-cam"),  # five colours, also with two wefts on one selector
        ("rgbwky", "projectile-360-cam"),
        ("rgbwk", "air-jet-340-dobby"),
    ],
)
def test_of_the_looms_that_feed_enough_wefts_those_are_named_that_are_wide_enough(
    colours: str, on: str
) -> None:
    order = ConstructionSchema().read(wide_wefts(colours))
    park = [each.loom for each in load_park(None).looms.values()]
    (found,) = search_remedies(order, [demo_loom(on)], park).looms
    # One of 230 cm feeds as many, but no change makes this cloth one for its reed.
    assert tried_of(found)["weft.selectors"] == (
        "nothing, because only another loom clears it, such as rapier-340-dobby; "
        "width.reed_space would be left to be mended there",
    )
    findings = assess(order, demo_loom(on)).findings
    (selectors,) = (each for each in findings if each.code == "weft.selectors")
    assert selectors.tried == (ANOTHER_LOOM,)


def test_looms_that_are_all_far_too_narrow_are_said_to_be_so() -> None:
    order = ConstructionSchema().read(wide_wefts("rgbwk"))
    park = [demo_loom(f"rapier-{cm}-dobby") for cm in (150, 190, 230)]
    (found,) = search_remedies(order, [demo_loom("air-jet-340-dobby")], park).looms
    (why,) = tried_of(found)["weft.selectors"]
    findings = assess(order, park[-1], remedies=False).findings
    (wide,) = (each for each in findings if each.code == "width.reed_space")
    assert isinstance(wide.actual, float)
    share_pct = 100 * wide.actual / 230
    assert share_pct > 150
    assert why.endswith(
        "such as rapier-230-dobby; width.reed_space would be left to be mended there, where a "
        f"panel takes {share_pct:.0f} % of the reed"
    )


@pytest.mark.parametrize(
    ("weave", "threads"),
    [("double cloth plain + plain", "1F 1B"), ("triple cloth plain + plain + plain", "1F 1C 1B")],
)
def test_cloths_one_above_the_other_by_name_have_their_layers_stated(
    weave: str, threads: str
) -> None:
    many = len(threads.split())
    request = cotton("Ne 30 x Ne 30", (26 * many, 25 * many), weave, 150)
    on = demo_loom("rapier-190-dobby")
    order = ConstructionSchema().read(request)
    before = assess(order, on)
    assert "weave.falls_apart" in codes(before, Severity.ERROR)
    found = searched(request, "rapier-190-dobby")
    to = {"ends": threads, "picks": threads, "joined": "separate"}
    # No other sett or count is proposed for what is only not stated.
    unstated = {"weave.falls_apart", "sett.not_judged"}
    for finding in (each for each in before.findings if each.code in unstated):
        assert [each["to"] for each in finding.remedies] == [to]
    (remedy,) = (each for each in found.remedies if unstated & {*each["clears"]})
    assert (remedy["pointer"], remedy["to"]) == ("/construction/layers", to)
    stated = ConstructionSchema().read({**request, "layers": to})
    assert followed(order, remedy) == stated
    assert assess(stated, on, remedies=False).verdict is remedy["verdict"] is not before.verdict


def layers_said(why: str) -> dict[str, Any]:
    """The layers that what was tried says to state."""
    found: dict[str, Any] = json.loads("{" + why[why.index('"layers": ') :] + "}")
    return found


def of_rows(*rows: str, **layers: Any) -> dict[str, Any]:
    return {**cotton("Ne 30 x Ne 30", (52, 50), "plain", 150), "weave": {"rows": [*rows]}, **layers}


FACE_FIRST: Final = ("1000", "1110", "0010", "1011")
BACK_PICK_FIRST: Final = ("1110", "1000", "1011", "0010")
IN_TURN: Final = {"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"}


@pytest.mark.parametrize(
    ("rows", "ends", "picks"),
    [
        (FACE_FIRST, "1F 1B", "1F 1B"),
        (BACK_PICK_FIRST, "1F 1B", "1B 1F"),
        # The back end first, and two picks of each cloth after one another.
        (("0100", "0001", "1101", "0111"), "1B 1F", "2F 2B"),
    ],
)
def test_of_a_weave_without_a_name_that_falls_apart_it_is_said_what_to_state(
    rows: tuple[str, ...], ends: str, picks: str
) -> None:
    request, on = of_rows(*rows), demo_loom("rapier-190-dobby")
    (why,) = tried_of(searched(request, "rapier-190-dobby"))["weave.falls_apart"]
    said = layers_said(why)
    assert said == {"layers": {"ends": ends, "picks": picks, "joined": "separate"}}
    order = ConstructionSchema().read(request)
    (finding,) = (each for each in assess(order, on).findings if each.code == "weave.falls_apart")
    assert finding.tried == (why,)
    after = assess(ConstructionSchema().read({**request, **said}), on, remedies=False)
    assert after.verdict is Verdict.WEAVABLE


def test_of_a_weave_with_a_loose_thread_that_falls_apart_no_layers_are_named() -> None:
    loose = [f"{row}0" for row in FACE_FIRST]
    (why,) = tried_of(searched(of_rows(*loose), "rapier-190-dobby"))["weave.falls_apart"]
    assert "whose each thread is" in why
    assert "{" not in why


@pytest.mark.parametrize(
    ("rows", "layers", "agree"),
    [
        # Two cloths, of which the letters of the picks are mixed up, and so is how they are joined.
        (BACK_PICK_FIRST, IN_TURN, {**IN_TURN, "picks": "1B 1F"}),
        (BACK_PICK_FIRST, {**IN_TURN, "joined": "stitched"}, {**IN_TURN, "picks": "1B 1F"}),
        # A stitch, the first back end over the first face pick, in two cloths that have none.
        (
            ("1100", "1110", "0010", "1011"),
            IN_TURN,
            {**IN_TURN, "joined": "stitched"},
        ),
    ],
)
def test_of_layers_that_the_weave_contradicts_it_is_said_which_agree(
    rows: tuple[str, ...], layers: dict[str, str], agree: dict[str, str]
) -> None:
    request, on = of_rows(*rows, layers=layers), demo_loom("rapier-190-dobby")
    (why,) = tried_of(searched(request, "rapier-190-dobby"))["layers.contradicted"]
    assert layers_said(why) == {"layers": agree}
    after = assess(ConstructionSchema().read({**request, "layers": agree}), on, remedies=False)
    assert after.verdict is not Verdict.NOT_WEAVABLE


def test_of_layers_that_nothing_near_makes_agree_the_letters_are_to_be_corrected() -> None:
    request = of_rows("10", "01", layers={**IN_TURN, "joined": "stitched"})
    (why,) = tried_of(searched(request, "rapier-190-dobby"))["layers.contradicted"]
    assert why.endswith("correct the letters of ends and picks, or the weave")


def test_of_pile_without_layers_it_is_said_which_to_state() -> None:
    request = terry_document()
    layers = request.pop("layers")
    (why,) = tried_of(searched(request, "rapier-190-jacquard"))["warp.pile_ratio"]
    said = layers_said(why)
    as_in_the_chapter, as_said = (
        ConstructionSchema().read({**request, "layers": each}) for each in (layers, said["layers"])
    )
    on = demo_loom("rapier-190-jacquard")
    assert assess(as_said, on).cloth == assess(as_in_the_chapter, on).cloth
    assert "warp.pile_ratio" not in codes(assess(as_said, on, remedies=False))


def test_of_pile_that_the_weave_contradicts_no_layers_are_named() -> None:
    # The ground by itself is two cloths that nothing holds together.
    request = {**terry_document(), "weave": {"rows": ["10100000", "11111010", "00001010"]}}
    request["warp"] = {**request["warp"], "order": "G P"}
    del request["layers"]
    why = tried_of(searched(request, "rapier-190-jacquard"))["warp.pile_ratio"]
    assert why == (NOTHING_HELPS,)
