"""The way out that a technologist names first is among those that are found."""

from __future__ import annotations

from typing import Any

import pytest
from answers.test_honest_remedies import cotton, demo_loom
from answers.test_ways_found import searched, ways_out

from weavability.answers.field_changes import distance_of
from weavability.answers.levers import At
from weavability.answers.validation import assess, judge
from weavability.answers.weave_levers import OTHER_WEAVE
from weavability.answers.yarn_counts import folded_counts, other_counts
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Remedy, Verdict
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.designation_parts import TwistDirection
from weavability.textiles.designations import parse_designation
from weavability.textiles.fibres import find_fibre
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


@pytest.mark.parametrize(
    ("ordered", "fibre", "coarser"),
    [
        # ISO 1139: the resultant and the plies, or the single, the plies and the resultant.
        ("R 60 tex/2", "cotton", "R 64 tex/2"),
        ("R150 dtex f48/2", "polyester", "R152 dtex f48/2"),
        ("20 tex x 2", "cotton", "22 tex x 2"),
        ("2 x 20 tex", "cotton", "2 x 22 tex"),
        ("20 tex x 2; R 41.2 tex", "cotton", "22 tex x 2; R 45.3 tex"),
        ("34 tex S600 x 2 Z400; R 69.3 tex", "wool", "36 tex S580 x 2 Z390; R 73.4 tex"),
        ("20 tex Z 800", "cotton", "22 tex Z 760"),
        ("20 tex T0", "cotton", "22 tex T0"),
        # Counts, as the trade writes them.
        ("2/30s", "cotton", "2/28s"),
        ("30s", "cotton", "28s"),
        ("Ne 30/2/3", "cotton", "Ne 28/2/3"),
        ("worsted 2/48", "wool", "worsted 2/44"),
        ("silk 40/2", "silk", "silk 30/2"),
        ("167/48 dtex", "polyester", "180/48 dtex"),
        # A titre is a range.
        ("20/22 den", "silk", "30 den"),
    ],
)
def test_a_yarn_in_another_count_is_written_as_the_order_writes_it(
    ordered: str, fibre: str, coarser: str
) -> None:
    yarn = Yarn(designation=ordered, fibre=fibre)
    nearest, *others = other_counts(yarn, finer=False)
    assert nearest.to == coarser
    before, *after = (
        parse_designation(str(each), fibre=find_fibre(fibre))
        for each in (ordered, nearest.to, *(other.to for other in others))
    )
    for read, other in zip(after, (nearest, *others), strict=True):
        assert (read.plies, read.filaments, read.system, read.twist_direction) == (
            before.plies,
            before.filaments,
            before.system,
            before.twist_direction,
        )
        times = read.linear_density_tex / before.linear_density_tex
        assert times == pytest.approx(1 + other.change_pct / 100)
        # A stated resultant goes with the count.
        assert times == pytest.approx(read.single_tex / before.single_tex, rel=0.005)


def test_no_count_is_proposed_that_reads_as_the_ply() -> None:
    # Ne 2.5/3 cannot be read, and Ne 2/3 is a two-fold three.
    assert other_counts(Yarn(designation="3/3s", fibre="cotton"), finer=False) == ()


@pytest.mark.parametrize(
    ("single", "folded"),
    [
        ("Ne 20", "Ne 40/2"),
        ("Nm 34", "Nm 68/2"),
        ("20 tex", "10 tex x 2"),
        ("150 dtex", None),  # a filament yarn, which is not spun thinner to be folded
        ("Ne 40/2", None),
    ],
)
def test_a_spun_single_is_folded_of_two_half_as_heavy(single: str, folded: str | None) -> None:
    fibre = "polyester" if "dtex" in single else "cotton"
    nearest = next(iter(folded_counts(Yarn(designation=single, fibre=fibre))), None)
    assert (nearest and str(nearest)) == folded
    assert nearest is None or nearest.change_pct == pytest.approx(0)


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
    assert "a finer weft, but only as another cloth: Nm 7" in jammed.tried


def of_stripes(figure: str, ends: int, ground: int) -> dict[str, Any]:
    stripes = [{"weave": "plain", "ends": ground}, {"weave": figure, "ends": ends}]
    request: dict[str, Any] = cotton("Ne 60/2 x Ne 60/2", (48, 30), "plain", 130)
    return {**request, "weave": {"stripes": stripes}}


@pytest.mark.parametrize(
    ("figure", "ends", "ground", "on", "instead"),
    [
        ("18-end satin move 5", 18, 30, "rapier-150-dobby", "12-end satin move 5"),
        # On a cam of eight shafts and picks there is room for no regular satin beside plain.
        ("8-end satin move 3", 16, 24, "rapier-190-cam", "3/1 broken twill Z"),
    ],
)
def test_a_smaller_weave_is_put_into_a_stripe(
    figure: str, ends: int, ground: int, on: str, instead: str
) -> None:
    request = of_stripes(figure, ends, ground)
    first, *_ = ways_out(searched(request, on))
    assert first["message"].startswith(f"Weave {instead} in place of {figure}.")
    (change,) = first["changes"]
    assert change["from"] == request["weave"]
    assert change["to"] == of_stripes(instead, ends, ground)["weave"]
    assert proved(request, on, first) is not Verdict.NOT_WEAVABLE


def test_a_stripe_of_rows_stays_beside_one_that_is_changed() -> None:
    request = of_stripes("18-end satin move 5", 18, 30)
    request["weave"]["stripes"][0]["weave"] = rows = {"rows": ["1100", "0110", "1001", "0011"]}
    first, *_ = ways_out(searched(request, "rapier-150-dobby"))
    of_changed: Any = first["to"]
    assert of_changed["stripes"][0]["weave"] == rows
    assert proved(request, "rapier-150-dobby", first) is not Verdict.NOT_WEAVABLE


@pytest.mark.parametrize(
    ("weave", "shorter"),
    [
        ("5/2/1/2 twill", {"3/2 twill Z", "4/1/1/2 twill Z"}),
        ("5/2/1/2 herringbone 10", {"3/2 herringbone 10"}),
    ],
)
def test_a_twill_of_many_floats_has_shorter_ones(weave: str, shorter: set[str]) -> None:
    request = cotton("Ne 20 x Ne 20", (26, 22), weave, 150)
    found = ways_out(searched(request, "rapier-190-cam"))
    assert shorter <= {each["to"] for each in found}
    assert proved(request, "rapier-190-cam", found[0]) is Verdict.WEAVABLE_WITH_WARNINGS


@pytest.mark.parametrize(
    ("weave", "instead", "points"),
    [
        # The mean float of both is 2.5, and 60 % of the face is warp.
        ("5/2/1/2 twill Z", "3/2 twill Z", 10.0),
        # Turned, a third of the face is warp in place of two; of 2/2 half of it, of 3/1 75 %.
        ("2/1 twill Z", "1/2 twill Z", 10 + 0.2 * 100 / 3),
        ("3/1 twill Z", "2/2 twill Z", 10 + 0.2 * 25),
        # From 2 to 2.5 the mean float is a quarter longer.
        ("3/1 twill Z", "4/1 twill Z", 10 + 0.1 * 25 + 0.2 * 5),
    ],
)
def test_a_weave_that_turns_the_face_is_farther(weave: str, instead: str, points: float) -> None:
    request = cotton("Ne 20 x Ne 20", (20, 18), weave, 150)
    fit = judge(ConstructionSchema().read(request), demo_loom("rapier-190-dobby"))
    at = At(fit=fit, code=CheckCode.SETT_JAMMED, warp_key="A", weft_key="A")
    found = {each.writes[0].to: distance_of(each) for each in OTHER_WEAVE.options(at)}
    assert found[instead] == pytest.approx(points)
    assert "2/3 twill Z" not in found  # 10 + 0.2 x 20
    assert list(found.values()) == sorted(found.values())


def test_a_face_that_is_turned_in_stripes_counts_for_their_share() -> None:
    request = of_stripes("3/1 twill Z", 20, 30)
    fit = judge(ConstructionSchema().read(request), demo_loom("rapier-190-dobby"))
    at = At(fit=fit, code=CheckCode.SETT_JAMMED, warp_key="A", weft_key="A")
    found = {each.message: distance_of(each) for each in OTHER_WEAVE.options(at)}
    # 20 of 50 ends are 25 percentage points less of warp.
    assert found["Weave 2/2 twill Z in place of 3/1 twill Z."] == pytest.approx(10 + 0.2 * 10)


def check(**stated: Any) -> dict[str, Any]:
    request: dict[str, Any] = cotton("Ne 50 x Ne 50", (44, 34), "plain", 160)
    yarns = dict.fromkeys("ABC", request["weft"]["yarns"]["A"] | stated)
    request["weft"] |= {"yarns": yarns, "order": "20A 4B 20A 4C"}
    return request


def test_a_check_of_unstated_colours_is_not_wiped_out() -> None:
    found = searched(check(), "air-jet-190-cam")
    (missing,) = (each for each in found.not_found if each.code == "weft.selectors")
    assert missing.tried == (
        "nothing, because wefts A, B and C state no colour: give those of one colour one key",
    )
    first, *_ = ways_out(searched(check(colour="#0000aa"), "air-jet-190-cam"))
    assert first["message"] == "Insert B and C from the selector of A, which has the same yarn."
    pairs = check()
    yarn = pairs["weft"]["yarns"]["A"]
    colours = {"A": "#0000aa", "B": "#aa0000", "C": "#0000aa", "D": "#aa0000"}
    yarns = {key: {**yarn, "colour": each} for key, each in colours.items()}
    pairs["weft"] |= {"yarns": yarns, "order": "4A 4B 4C 4D"}
    first, *_ = ways_out(searched(pairs, "air-jet-190-cam"))
    assert first["message"] == (
        "Insert C from the selector of A and D from the selector of B, each of which has the same "
        "yarn."
    )
    # Two of one colour are enough; what is not stated to be the same stays.
    request = check()
    for key in "AC":
        request["weft"]["yarns"][key] = {**request["weft"]["yarns"][key], "colour": "#0000aa"}
    first, *_ = ways_out(searched(request, "air-jet-190-cam"))
    assert first["changes"][0]["to"] == "20A 4B 24A"


@pytest.mark.parametrize(("order", "is_shared"), [("200A 200B", False), ("24A 24B", True)])
def test_the_selvedges_take_a_small_remainder_only(order: str, is_shared: bool) -> None:
    request = cotton("Ne 50 x Ne 50", (44, 34), "plain", 160.8)
    request["warp"] |= {"yarns": dict.fromkeys("AB", request["warp"]["yarns"]["A"]), "order": order}
    found = searched(request, "rapier-190-dobby")
    written = {each["pointer"] for one in found.remedies for each in one["changes"]}
    assert ("/construction/selvedge/ends_per_side" in written) is is_shared
