"""What a verdict rests on: the turns that are reported are those of validations."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from answers.strategies import trade_looms, trade_orders
from builders import construction, example_loom, example_order, loom, report, shedding, threads
from hypothesis import given
from profiles import share_of_examples
from stating import NOT_STATED, assumed, stated

from weavability.answers.columns import WEAVABLE
from weavability.answers.decisive_assumptions import decide, values_tried
from weavability.answers.decisive_section import CornerValue, Decided, TurningCorner
from weavability.answers.report import Report
from weavability.answers.towards_limit import in_a_sentence
from weavability.answers.validation import assess, judge, with_decisive_assumptions
from weavability.answers.worst_corner import Corners
from weavability.checks.codes import CheckCode
from weavability.checks.facts import pair_of
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import find_check
from weavability.looms.loom import Loom
from weavability.service.requests.park import load_park
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.assumptions import of_any
from weavability.textiles.construction import (
    Construction,
    Layers,
    Reed,
    RequiredRange,
    Selvedge,
    ThreadSystem,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

WEFT_CRIMP = "/construction/weft/crimp_pct"


@pytest.mark.slow
def test_the_crimp_with_which_a_cloth_fills_the_reed_is_that_of_arithmetic() -> None:
    # 184 cm of grey cloth fill 190 cm of reed at a crimp of 190 / 184 - 1 = 3.26 %.
    wide = construction(width_cm=184.0, weft=threads(22.0, crimp_pct=None))
    (found,) = decide(wide, loom()).decisive
    assert (found.pointer, found.side, found.until) == (WEFT_CRIMP, "above", None)
    assert (found.turns_at, found.resolution) == (3.2, 0.1)
    assert (found.verdict, found.codes) == (Verdict.NOT_WEAVABLE, (CheckCode.WIDTH_REED_SPACE,))
    assert found.verdict_otherwise is Verdict.WEAVABLE
    assert found.message == (
        "Weft crimp: at 3.2 % the order is weavable, above that not weavable (width.reed_space). "
        "It is assumed at 7.15 %, 1.15 to 13.15. As long as it is not stated, the order is "
        "weavable with warnings."
    )
    assert assess(wide, loom(), remedies=False).verdict is Verdict.WEAVABLE_WITH_WARNINGS


@pytest.mark.slow
def test_a_stretch_inside_a_band_is_listed_once_by_its_nearer_end() -> None:
    # 24 ends/cm, two in a dent, need 112 dents/10 cm at the crimp assumed; between the reeds in
    # stock, of 112 and 106, neither serves.
    on = replace(loom(), reeds_in_stock_dents_per_10cm=(112.0, 106.0))
    found = decide(construction(weft=threads(22.0, crimp_pct=None)), on).decisive
    crimps = [each for each in found if each.pointer == WEFT_CRIMP]
    assert [(each.turns_at, each.side, each.until) for each in crimps] == [
        (8.7, "above", 11.6),
        (5.6, "below", None),
    ]


@pytest.mark.slow
def test_a_value_that_betters_the_verdict_inside_its_band_is_listed_as_well() -> None:
    # As the crimps are assumed no reed in stock serves; with others inside their bands one does.
    on = replace(loom(), reeds_in_stock_dents_per_10cm=(100.0, 110.0, 120.0, 130.0))
    sett = construction(
        warp=threads(24.0, crimp_pct=None), weft=threads(22.0, crimp_pct=None), reed=Reed()
    )
    assert assess(sett, on, remedies=False).verdict is Verdict.WEAVABLE_WITH_WARNINGS
    found = decide(sett, on).decisive
    assert {each.pointer for each in found} == {WEFT_CRIMP, "/construction/warp/crimp_pct"}
    assert {each.verdict_otherwise for each in found} == {Verdict.WEAVABLE}
    (one, *_) = (each for each in found if each.pointer == WEFT_CRIMP)
    stated = replace(sett, weft=threads(22.0, crimp_pct=one.turns_at))
    assert assess(stated, on, remedies=False).verdict is Verdict.WEAVABLE


@pytest.mark.slow
def test_a_turn_at_the_value_that_is_assumed_says_so() -> None:
    # What is assumed of the selvedge, no shafts of its own, is the last that the shafts carry.
    full = construction(
        weave=parse_weave("8-end satin move 3"), selvedge=Selvedge(ends_per_side=20)
    )
    found = decide(full, loom(shedding=shedding(shafts=8))).decisive
    shafts = next(each for each in found if each.pointer.endswith("selvedge/shafts"))
    assert shafts.turns_at == shafts.assumed
    assert "as it is assumed, at 0, the order is" in shafts.message
    assert "It is assumed at" not in shafts.message


@pytest.mark.slow
def test_a_turn_after_which_the_limit_is_still_passed_says_so() -> None:
    # With the warp crimp stated, the width rests on a weft crimp that is assumed anew: what was an
    # error is a warning, but the cloth of 178 cm needs 200.5 cm of the 190 cm.
    yarns = {"A": Yarn(designation="Ne 30", fibre="cotton")}
    wide = construction(
        width_cm=178.0,
        warp=threads(38.0, yarns=yarns, crimp_pct=None),
        weft=threads(36.0, yarns=yarns, crimp_pct=None),
    )
    (turn,) = (each for each in decide(wide, loom()).decisive if "warp/crimp" in each.pointer)
    assert turn.verdict_otherwise is Verdict.WEAVABLE_WITH_WARNINGS
    assert turn.still_beyond == turn.codes == (CheckCode.WIDTH_REED_SPACE,)
    assert (
        "the limit of width.reed_space is passed too: that only warns as long as other values are "
        "assumed, so measure these as well."
    ) in turn.message
    # The weft crimp itself settles it.
    (crimp,) = decide(
        construction(width_cm=184.0, weft=threads(22.0, crimp_pct=None)), loom()
    ).decisive
    assert crimp.still_beyond == ()


@pytest.mark.slow
def test_a_limit_that_counts_turns_at_a_whole_number() -> None:
    colours = {key: Yarn(designation="20 tex", fibre="cotton") for key in "ABCDEF"}
    weft = ThreadSystem(yarns=colours, order="A B C D E F", threads_per_cm=22.0, crimp_pct=5.0)
    found = decide(construction(weft=weft), loom(weft_selectors=None))
    (turn,) = [each for each in found.decisive if each.pointer == "/loom/weft_selectors"]
    assert (turn.turns_at, turn.side, turn.resolution) == (6, "below", 1)
    assert turn.verdict is Verdict.NOT_WEAVABLE
    assert turn.codes == (CheckCode.WEFT_SELECTORS,)


def test_a_value_that_turns_the_verdict_wherever_it_is_stated_is_listed() -> None:
    # 187 cm fill 190 cm of reed at a crimp of 1.6 %: below the band, which the warp's crimp moves.
    cloth = construction(
        width_cm=187.0,
        warp=threads(30.0, crimp_pct=None),
        weft=threads(28.0, crimp_pct=None),
    )
    found = decide(cloth, loom())
    turn = next(each for each in found.decisive if each.pointer == WEFT_CRIMP)
    assert (turn.side, turn.turns_at, turn.until) == ("anywhere", None, None)
    assert turn.codes == (CheckCode.WIDTH_REED_SPACE,)
    assert (turn.verdict, turn.verdict_otherwise) == (
        Verdict.NOT_WEAVABLE,
        assess(cloth, loom(), remedies=False).verdict,
    )
    assert "anywhere in its band" in turn.message
    for crimp_pct in (turn.band.low, turn.assumed, turn.band.high):
        after = assess(*stated(cloth, loom(), [(WEFT_CRIMP, crimp_pct)]))
        assert after.verdict is Verdict.NOT_WEAVABLE


@pytest.mark.slow
@share_of_examples(0.04)
@given(trade_orders, trade_looms)
def test_stating_a_value_at_its_turn_gives_both_verdicts(order: Construction, on: Loom) -> None:
    try:
        decided = decide(order, on)
    except InputError:
        return
    assert decided.holds is (not decided.decisive and not _has_corner(order, on, decided))
    assert decided.holds is (decided.note is None)
    if decided.corner is not None:
        assert _at_corner(order, on, decided.corner).verdict is decided.corner.verdict
    for turn in decided.decisive[:3]:
        if turn.turns_at is None:
            for value in (turn.band.low, turn.assumed, turn.band.high):
                kept = _like(assumed(judge(order, on))[turn.pointer].value, value)
                alone = assess(*stated(order, on, [(turn.pointer, kept)]))
                assert alone.verdict is not turn.verdict_otherwise
            continue
        assert turn.band.low <= turn.turns_at <= turn.band.high
        step = turn.resolution if turn.side == "above" else -turn.resolution
        beyond = min(max(turn.turns_at + step, turn.band.low), turn.band.high)
        at = assess(*stated(order, on, [(turn.pointer, turn.turns_at)]))
        worse = assess(*stated(order, on, [(turn.pointer, _like(turn.turns_at, beyond))]))
        assert at.verdict is turn.verdict_otherwise
        assert worse.verdict is turn.verdict
        found = {one.code for one in worse.findings if one.severity is not Severity.NOTE}
        assert turn.codes
        assert found.issuperset(turn.codes)


def _like(value: object, number: float) -> float:
    return round(number) if isinstance(value, int) else round(number, 10)


def _has_corner(order: Construction, on: Loom, decided: Decided) -> bool:
    """Whether a corner is worse than the order as it is, as far as that is reported."""
    return decided.corner is not None or (not decided.holds and not decided.decisive)


@pytest.mark.slow
def test_a_corner_turns_the_verdict_if_its_values_are_so_and_all_others_as_assumed() -> None:
    order, on = example_order(), example_loom()
    decided = decide(order, on)
    assert (decided.decisive, decided.holds) == ((), False)
    corner = decided.corner
    assert corner is not None
    check = find_check(corner.codes[0])
    assert check is not None
    known = assumed(judge(order, on))
    worst = {each.pointer: each.value for each in corner.values}
    rests_on = [at for at in known if of_any(at) in check.stated_for_error]
    everything = [(at, worst.get(at, known[at].value)) for at in rests_on]
    refused = assess(*stated(order, on, everything))
    assert (refused.verdict, corner.verdict) == (Verdict.NOT_WEAVABLE, Verdict.NOT_WEAVABLE)
    assert corner.codes[0] in {one.code for one in refused.findings}
    # With one value less at its worse end, the least effective, it is woven.
    weaker = [(at, known[at].value if at == [*worst][-1] else value) for at, value in everything]
    assert assess(*stated(order, on, weaker)).verdict is not Verdict.NOT_WEAVABLE


def _mill_order(loom_id: str, **request: Any) -> tuple[Construction, Loom]:
    return ConstructionSchema().read(request), load_park(None).looms[loom_id].loom


def _denim(**changes: Any) -> dict[str, Any]:
    yarns = {"A": {"designation": "Ne 7", "fibre": "cotton"}}
    return {
        "warp": {"yarns": yarns, "ends_per_cm": 26},
        "weft": {"yarns": yarns, "picks_per_cm": 17},
        "weave": "3/1 twill Z",
        "width_cm": 150,
        "length_m": 5000,
        **changes,
    }


def _at_corner(order: Construction, on: Loom, corner: TurningCorner) -> Report:
    """What a validation finds with all stated that a corner lists."""
    known = assumed(judge(order, on))
    values = [(each.pointer, each.value) for each in corner.values]
    beside = [(pointer, known[pointer].value) for pointer in corner.stated_as_assumed]
    return assess(*stated(order, on, [*values, *beside]), remedies=False)


@pytest.mark.slow
def test_a_verdict_does_not_hold_if_a_requirement_may_be_missed() -> None:
    # 400 to 480 g/m2 are required; over what is assumed the denim has 358 to 518.
    order, on = _mill_order(
        "rapier-190-cam",
        **_denim(
            stage="grey",
            finishing={"finish": "pre_shrunk"},
            requirements={"mass_g_per_m2": {"min": 400, "max": 480}},
        ),
    )
    decided = decide(order, on)
    assert (decided.decisive, decided.holds) == ((), False)
    assert decided.corner is not None
    assert decided.corner.codes == (CheckCode.REQUIREMENT_MASS,)
    (shrinkage,) = decided.corner.values
    assert (shrinkage.pointer, shrinkage.value, decided.corner.turns_at) == (
        "/construction/finishing/length_shrinkage_pct",
        15.0,
        12.0,
    )
    refused = _at_corner(order, on, decided.corner)
    assert refused.verdict is Verdict.NOT_WEAVABLE
    required = [one.severity for one in refused.findings if one.code == "requirement.mass"]
    assert required == [Severity.ERROR]
    # If all of the band is allowed, what is required turns nothing.
    assert order.requirements is not None
    wide = replace(order.requirements, mass_g_per_m2=RequiredRange(min=300.0, max=600.0))
    assert decide(replace(order, requirements=wide), on).corner is None


@pytest.mark.slow
def test_a_doubtful_fibre_leaves_a_verdict_open_though_no_number_turns_it() -> None:
    yarns = {"A": {"designation": "Ne 7"}}
    order, on = _mill_order(
        "rapier-190-cam",
        **_denim(
            weft={"yarns": yarns, "picks_per_cm": 17},
            requirements={"fibre_pct": {"cotton": {"min": 90}}},
        ),
    )
    decided = decide(order, on)
    assert (decided.holds, decided.corner) == (False, None)
    assert decided.note == (
        "The verdict does not hold over the bands of all assumed values: a fibre that is only "
        "assumed decides what is required (least share of cotton): state "
        "/construction/weft/yarns/A/fibre."
    )


@pytest.mark.slow
def test_a_corner_lists_what_has_to_be_stated_beside_it() -> None:
    order, on = _mill_order(
        "air-jet-340-dobby",
        warp={"yarns": {"A": {"designation": "Ne 30/2", "fibre": "cotton"}}, "ends_per_cm": 24},
        weft={"yarns": {"A": {"designation": "Nm 28", "fibre": "wool"}}, "picks_per_cm": 18},
        weave="2/2 twill Z",
        width_cm=238,
        length_m=2000,
        requested_speed_picks_per_min=420,
    )
    corner = decide(order, on).corner
    assert corner is not None
    assert corner.stated_as_assumed == (
        "/construction/weft/yarns/A/tenacity_cn_per_tex",
        "/construction/weft/yarns/A/strength_cv_pct",
        "/loom/insertion/free_weft_length_m",
    )
    assert corner.message == (
        "With stopping length of the loom below 13 cm (down to 10 cm), and all else as it is "
        "assumed, the order is not weavable (insertion.weft_speed). At 10 cm it is reported so "
        "only if these are stated as well, as they are assumed: tenacity of weft yarn A, variation "
        "of strength of weft yarn A, weft between feeder and carrier; until then it is a warning "
        "that rests on them."
    )
    assert _at_corner(order, on, corner).verdict is Verdict.NOT_WEAVABLE
    for left_out in corner.stated_as_assumed:
        beside = tuple(at for at in corner.stated_as_assumed if at != left_out)
        fewer = replace(corner, stated_as_assumed=beside)
        assert _at_corner(order, on, fewer).verdict is Verdict.WEAVABLE_WITH_WARNINGS
    # At the turn itself, and one step farther, with all else stated as it is assumed.
    (taken,) = corner.values
    known = assumed(judge(order, on))
    others = [(at, line.value) for at, line in known.items() if at not in NOT_STATED]
    found = [
        assess(*stated(order, on, [*others, (taken.pointer, value)]), remedies=False).verdict
        for value in (13.0, 12.0)
    ]
    assert found == [Verdict.WEAVABLE_WITH_WARNINGS, Verdict.NOT_WEAVABLE]


@pytest.mark.slow
def test_a_corner_names_no_check_whose_limit_is_passed_without_it() -> None:
    # The width is passed with all values as they are assumed, if only these are stated.
    order, on = _mill_order(
        "air-jet-190-cam",
        stage="finished",
        warp={"yarns": {"A": {"designation": "Nm 14", "fibre": "linen"}}, "ends_per_cm": 15.2},
        weft={"yarns": {"A": {"designation": "Nm 39", "fibre": "linen"}}, "picks_per_cm": 18.1},
        weave="2/2 twill S",
        width_cm=176,
        finishing={"width_shrinkage_pct": 4, "length_shrinkage_pct": 3},
        requirements={"mass_g_per_m2": {"max": 173}},
    )
    corner = decide(order, on).corner
    assert corner is not None
    assert corner.codes == (CheckCode.REQUIREMENT_MASS,)
    assert _errors(_at_corner(order, on, corner)) == {
        CheckCode.REQUIREMENT_MASS,
        CheckCode.WIDTH_REED_SPACE,
    }
    as_assumed = _as_assumed(order, on, corner)
    assert _errors(as_assumed) == {CheckCode.WIDTH_REED_SPACE}
    for left_out in corner.stated_as_assumed:
        beside = tuple(at for at in corner.stated_as_assumed if at != left_out)
        fewer = _at_corner(order, on, replace(corner, stated_as_assumed=beside))
        assert CheckCode.REQUIREMENT_MASS not in _errors(fewer)


def _twill_required(loom_id: str = "rapier-190-dobby") -> tuple[Construction, Loom]:
    return _mill_order(
        loom_id,
        warp={"yarns": {"A": {"designation": "Ne 40/2"}}, "ends_per_cm": 32},
        weft={"yarns": {"A": {"designation": "Ne 20", "fibre": "cotton"}}, "picks_per_cm": 24},
        weave="2/2 twill Z",
        width_cm=178,
        length_m=3000,
        requirements={
            "mass_g_per_m2": {"min": 170, "max": 195},
            "finished_width_cm": {"min": 165},
        },
    )


@pytest.mark.slow
def test_a_corner_of_one_value_names_what_gets_graver_where_it_turns() -> None:
    # The least width is missed from 7.3 % on, which is a line of its own: 165 / 178 = 1 - 7.3 %.
    order, on = _twill_required()
    decided = decide(order, on)
    width = next(each for each in decided.decisive if each.codes == (CheckCode.REQUIREMENT_WIDTH,))
    corner = decided.corner
    assert corner is not None
    assert width.turns_at == 7.3
    assert (width.pointer,) == tuple(each.pointer for each in corner.values)
    assert corner.codes == (CheckCode.REQUIREMENT_MASS,)
    assert (
        f"is not weavable (requirement.mass). At {corner.turns_at:g} % it is so already by "
        "requirement.width."
    ) in corner.message
    assert _turns_as_listed(order, on, corner)


@pytest.mark.slow
@share_of_examples(0.04)
@given(trade_orders, trade_looms)
def test_a_corner_of_one_value_turns_with_all_else_stated_as_listed(
    order: Construction, on: Loom
) -> None:
    try:
        corner = decide(order, on).corner
    except InputError:
        return
    assert corner is None or corner.turns_at is None or _turns_as_listed(order, on, corner)


def _turns_as_listed(order: Construction, on: Loom, corner: TurningCorner) -> bool:
    """Whether one request with all stated finds its codes one step beyond, and none before."""
    assert corner.turns_at is not None
    assert corner.resolution is not None
    (taken,) = corner.values
    step = corner.resolution if taken.value > corner.turns_at else -corner.resolution
    known = assumed(judge(order, on))
    others = [
        (at, line.value)
        for at, line in known.items()
        if at not in NOT_STATED and at != taken.pointer
    ]
    before, beyond = (
        assess(
            *stated(
                order, on, [*others, (taken.pointer, _like(known[taken.pointer].value, value))]
            ),
            remedies=False,
        )
        for value in (corner.turns_at, corner.turns_at + step)
    )
    assert not _errors(before).intersection(corner.codes)
    assert _errors(beyond).issuperset(corner.codes)
    return beyond.verdict is corner.verdict


def _as_assumed(order: Construction, on: Loom, corner: TurningCorner) -> Report:
    """What a validation finds with the fields of a corner stated as they are assumed."""
    known = assumed(judge(order, on))
    fields = [*(each.pointer for each in corner.values), *corner.stated_as_assumed]
    return assess(*stated(order, on, [(at, known[at].value) for at in fields]), remedies=False)


def _errors(found: Report) -> set[CheckCode]:
    return {CheckCode(one.code) for one in found.findings if one.severity is Severity.ERROR}


@pytest.mark.slow
def test_a_corner_names_every_check_that_turns_there() -> None:
    # As the width is known, the mass of a metre follows from that of a square metre.
    order, on = _mill_order(
        "rapier-190-cam",
        **_denim(
            stage="grey",
            finishing={"finish": "pre_shrunk", "width_shrinkage_pct": 1, "mass_change_pct": 0},
            requirements={"mass_g_per_m2": {"max": 480}, "mass_g_per_m": {"max": 720}},
        ),
    )
    corner = decide(order, on).corner
    assert corner is not None
    assert corner.codes == (CheckCode.REQUIREMENT_MASS, CheckCode.REQUIREMENT_MASS_PER_M)
    assert set(corner.codes) == _errors(_at_corner(order, on, corner))
    assert _errors(_as_assumed(order, on, corner)) == set()


@pytest.mark.slow
def test_a_corner_says_how_far_each_of_its_values_goes_towards_the_limit() -> None:
    order, on = _mill_order(
        "rapier-190-cam",
        **_denim(
            stage="grey",
            finishing={"finish": "pre_shrunk"},
            requirements={"mass_g_per_m2": {"max": 500}},
        ),
    )
    corner = decide(order, on).corner
    assert corner is not None
    assert corner.codes == (CheckCode.REQUIREMENT_MASS,)
    assert len(corner.values) == 2

    def mass_with(*values: tuple[str, object]) -> float:
        found = assess(*stated(order, on, list(values)), remedies=False).requirements
        assert found is not None
        return found[0].value

    as_assumed = mass_with()
    for each in corner.values:
        alone = mass_with((each.pointer, each.value))
        share_pct = 100 * (alone - as_assumed) / (500 - as_assumed)
        assert each.towards_limit_pct == pytest.approx(share_pct, abs=1.5)
    shares = [each.towards_limit_pct or 0.0 for each in corner.values]
    assert shares == sorted(shares, reverse=True)
    named = " and ".join(f"{each:.0f}" for each in shares)
    assert f" Alone, these go {named} % of the distance to the limit." in corner.message


@pytest.mark.slow
@share_of_examples(0.04)
@given(trade_orders, trade_looms)
def test_no_value_of_a_corner_can_be_left_out(order: Construction, on: Loom) -> None:
    try:
        pair = pair_of(judge(order, on))
    except InputError:
        return
    corners = Corners(pair, judge(order, on).assumptions)
    found = [*corners.required(), *filter(None, [corners.worst(WEAVABLE)])]
    for corner in found:
        needed = [each.line.pointer for each in corners.needed(corner)]
        if not any(rank >= corner.rank for _, rank in corner.with_only(frozenset(needed))):
            continue  # It takes a fibre, which is no number.
        for left_out in needed:
            fewer = frozenset(needed) - {left_out}
            assert all(rank < corner.rank for _, rank in corner.with_only(fewer))


@pytest.mark.slow
def test_requirements_that_are_missed_at_other_corners_are_listed() -> None:
    # Over what is assumed the denim has 358 to 518 g/m2: too heavy, or too light.
    order, on = _mill_order(
        "rapier-190-cam",
        **_denim(
            stage="grey",
            finishing={"finish": "pre_shrunk"},
            requirements={"mass_g_per_m2": {"min": 400, "max": 480}},
        ),
    )
    corner = decide(order, on).corner
    assert corner is not None
    assert corner.also_missed == ("/construction/requirements/mass_g_per_m2/min",)
    assert corner.message.endswith(
        "Other values together may miss what else is required: least mass."
    )
    # With that alone required, its own corner is the one that is described.
    assert order.requirements is not None
    least = replace(order.requirements, mass_g_per_m2=RequiredRange(min=400.0))
    other = decide(replace(order, requirements=least), on).corner
    assert other is not None
    assert (other.codes, other.also_missed) == ((CheckCode.REQUIREMENT_MASS,), ())
    assert {each.pointer for each in other.values} != {each.pointer for each in corner.values}


def test_a_limit_that_is_passed_so_far_that_another_counts_has_a_corner() -> None:
    # With the weft at the thick end of its band the cloth is set to 111 % of the jamming limit, and
    # this loom beats up 110 %; with all diameters there to more than any loom can.
    order, on = _mill_order(
        "rapier-190-cam",
        warp={
            "yarns": {"A": {"designation": "23.7 tex x 2", "fibre": "cotton"}},
            "ends_per_cm": 23.9,
            "crimp_pct": 9,
        },
        weft={
            "yarns": {"A": {"designation": "24.9 tex x 2", "fibre": "silk"}},
            "picks_per_cm": 24.2,
        },
        weave="plain",
        width_cm=114,
    )
    decided = decide(order, on)
    assert (decided.decisive, decided.holds) == ((), False)
    corner = decided.corner
    assert corner is not None
    assert (corner.verdict, corner.codes) == (Verdict.NOT_WEAVABLE, (CheckCode.SETT_JAMMED,))
    packing = "/construction/{}/yarns/A/packing_fraction"
    assert [(each.pointer, each.value) for each in corner.values] == [
        (packing.format("weft"), 0.612)
    ]
    assert corner.stated_as_assumed == (packing.format("warp"),)
    assert _errors(_at_corner(order, on, corner)) == {CheckCode.SETT_JAMMED}
    assert _as_assumed(order, on, corner).verdict is not Verdict.NOT_WEAVABLE


def test_a_requirement_that_is_missed_as_assumed_has_no_corner_of_its_other_limit() -> None:
    # The denim has 459 g/m2 as it is assumed, and 358 to 570 over its bands, which are more below
    # 450 than above 455. Both limits are one check, which refuses the order with all stated.
    def required(least: float, most: float) -> tuple[Construction, Loom]:
        return _mill_order(
            "rapier-190-cam",
            **_denim(
                stage="grey",
                finishing={"finish": "pre_shrunk"},
                requirements={"mass_g_per_m2": {"min": least, "max": most}},
            ),
        )

    order, on = required(450, 455)
    corner = decide(order, on).corner
    assert corner is not None
    assert (corner.codes, corner.values) == ((CheckCode.REQUIREMENT_MASS,), ())
    assert corner.also_missed == ("/construction/requirements/mass_g_per_m2/min",)
    assert _errors(_at_corner(order, on, corner)) == {CheckCode.REQUIREMENT_MASS}
    # If a value alone has the cloth miss the one, neither has a corner.
    decided = decide(*required(404, 416))
    assert [each.codes for each in decided.decisive] == [(CheckCode.REQUIREMENT_MASS,)]
    assert decided.corner is None


def test_a_corner_says_which_values_act_only_together() -> None:
    def said(*shares: float, code: CheckCode = CheckCode.WEFT_STRENGTH) -> str:
        values = [
            CornerValue(
                pointer=f"/{at}", name=f"{at}", value=1.0, unit=None, towards_limit_pct=share
            )
            for at, share in enumerate(shares)
        ]
        return in_a_sentence(values, code)

    assert said(52.0, 11.5, 0.0, 0.0) == (
        " Alone, these go 52, 12, 0 and 0 % of the distance to the limit; what goes none of it "
        "acts only together with the others."
    )
    assert said(0.0, 0.0).endswith("they act only together.")
    assert said(99.7, 0.2) == (
        " Alone, these go over 99 and under 1 % of the distance to the limit."
    )
    assert "the loom is slowed so far that the limit is just kept." in said(100.0, 100.0)
    assert "slowed" not in said(100.0, 100.0, code=CheckCode.REQUIREMENT_MASS)
    assert said(80.0) == ""


@pytest.mark.slow
def test_a_corner_of_many_values_names_the_most_effective_in_its_sentence() -> None:
    yarns = {key: {"designation": "Ne 30/2"} for key in "ABCDE"}
    order, on = _mill_order(
        "rapier-190-dobby",
        warp={"yarns": yarns, "order": "4A 4B 4C 4D 4E", "ends_per_cm": 30},
        weft={"yarns": yarns, "order": "2A 2B 2C 2D 2E", "picks_per_cm": 24},
        weave="2/2 twill Z",
        width_cm=150,
        length_m=3000,
    )
    corner = decide(order, on).corner
    assert corner is not None
    # Of the ten yarns alike one is the weakest that a band allows; the others change nothing.
    others = len(corner.values) - 3
    assert others == 4
    assert corner.message.startswith(
        "With rapier travel outside the cloth 4 cm, wrap angle of the weft 360 deg, factor of "
        f"withdrawal of weft 4 and {others} other values at the ends of their bands, and all else"
    )
    assert " Alone, these go 64, 30 and 29 % of the distance to the limit. " in corner.message
    assert _at_corner(order, on, corner).verdict is Verdict.NOT_WEAVABLE


@pytest.mark.slow
def test_a_reed_in_stock_that_serves_in_the_middle_of_a_band_is_found() -> None:
    # 24 ends/cm, two in a dent, need 120 / (1 + crimp) dents/10 cm, and the edges 0.6 more: of a
    # crimp of 7.15 % 112.5, of 1.15 % and 13.15 % 119.2 and 106.6. The one reed in stock serves
    # near 109.5 alone, which is needed at a crimp of 10 %.
    on = replace(loom(), reeds_in_stock_dents_per_10cm=(109.5,))
    order = construction(weft=threads(22.0, crimp_pct=None))
    turns = [each for each in decide(order, on).decisive if each.pointer == WEFT_CRIMP]
    assert turns
    for turn in turns:
        assert turn.is_of_stock
        assert turn.turns_at is not None
        assert turn.verdict_otherwise is Verdict.WEAVABLE
        served = assess(*stated(order, on, [(WEFT_CRIMP, turn.turns_at)]))
        assert served.verdict is Verdict.WEAVABLE
    ends = [assess(*stated(order, on, [(WEFT_CRIMP, at)])).verdict for at in (1.15, 13.15)]
    assert ends == [Verdict.WEAVABLE_WITH_WARNINGS] * 2


@pytest.mark.slow
def test_a_turn_says_where_its_value_makes_it_graver_yet() -> None:
    order, on = _mill_order(
        "rapier-190-jacquard",
        warp={"yarns": {"A": {"designation": "Ne 50/2"}}, "ends_per_cm": 28},
        weft={"yarns": {"A": {"designation": "Nm 28", "fibre": "linen"}}, "picks_per_cm": 28},
        weave="3/1 twill Z",
        width_cm=171,
        length_m=3000,
    )
    decided = decide(order, on)
    grave, of_stock = (each for each in decided.decisive if each.pointer == WEFT_CRIMP)
    assert grave.codes == (CheckCode.SHEDDING_HARNESS_DENSITY,)
    assert (of_stock.is_of_stock, of_stock.until) == (True, None)
    assert of_stock.where == f"between {of_stock.turns_at:g} and {grave.turns_at:g} %"
    assert (
        f"(reed.not_in_stock), above {grave.turns_at:g} % not weavable (shedding.harness_density)"
    ) in of_stock.message
    assert decided.note == (
        "The verdict does not hold over the bands of all assumed values: weft crimp turns it "
        "alone; whether a reed in stock serves turns with weft crimp and warp crimp."
    )


@pytest.mark.slow
def test_what_of_the_reeds_in_stock_serves_comes_last() -> None:
    # A denim of 171 cm fits 190 cm of reed up to a weft crimp of 190 / 171 - 1 = 11.1 %.
    order, on = _mill_order("rapier-190-cam", **_denim(width_cm=171))
    decided = decide(order, on)
    assert decided.corner is not None
    assert decided.corner.message.startswith("With weft crimp above 11.1 % (up to 14.96 %)")
    blends = _denim(width_cm=176, weave="plain", requested_speed_picks_per_min=420)
    found = decide(*_mill_order("rapier-190-cam", **blends)).decisive
    assert found
    ranks = [(-_RANKS[each.verdict], each.is_of_stock) for each in found]
    assert ranks == sorted(ranks)


_RANKS = {verdict: place for place, verdict in enumerate(Verdict)}


@pytest.mark.slow
def test_a_corner_names_the_weft_crimp_that_is_taken_in_it() -> None:
    # Pile picks bend little beside stiff ends; beside ends that are straight they bend all the
    # more, beyond the band around the estimate of now, and the cloth no longer fits the reed.
    velveteen = construction(
        warp=threads(29.1, crimp_pct=None, yarns={"A": Yarn(designation="Ne 70/2")}),
        weft=threads(78.7, crimp_pct=None, yarns={"A": Yarn(designation="Ne 60")}),
        weave=Weave.from_rows(
            ["101010", "010000", "000100", "000001", "010101", "100000", "001000", "000010"]
        ),
        layers=Layers(ends="G", picks="1G 3P", pile=("P",)),
        width_cm=152.4,
        reed=Reed(),
    )
    on = loom()
    decided = decide(velveteen, on)
    assert decided.corner is not None
    (crimp,) = decided.corner.values
    known = assumed(judge(velveteen, on))
    band = known[WEFT_CRIMP].band
    assert crimp.pointer == WEFT_CRIMP
    assert band is not None
    assert crimp.value > band.high
    worst = assess(*stated(velveteen, on, [(WEFT_CRIMP, crimp.value)]))
    assert worst.verdict is Verdict.NOT_WEAVABLE is decided.corner.verdict
    # 152.4 cm of grey cloth fill 190 cm of reed at a crimp of 190 / 152.4 - 1 = 24.67 %.
    assert (decided.corner.turns_at, decided.corner.stated_as_assumed) == (24.6, ())
    assert decided.corner.message == (
        f"With weft crimp above 24.6 % (up to {crimp.value:.6g} %), and all else as it is assumed, "
        "the order is not weavable (width.reed_space). The weft crimp is outside its own band "
        "there, because the band of the other crimp moves its estimate."
    )


def test_an_order_of_which_everything_is_stated_rests_on_nothing() -> None:
    order, on = construction(), loom()
    for _ in range(2):  # What is stated may leave other values open.
        known = assumed(judge(order, on))
        values = [(at, line.value) for at, line in known.items() if at not in NOT_STATED]
        order, on = stated(order, on, values)
    assert decide(order, on) == Decided((), holds=True, corner=None)


def test_an_error_that_is_certain_holds() -> None:
    decided = decide(construction(width_cm=195.0), loom())
    assert decided == Decided((), holds=True, corner=None)


@pytest.mark.slow
def test_a_verdict_that_one_value_turns_has_no_corner_that_turns_it_as_far() -> None:
    feeble = Yarn(
        designation="20 tex",
        fibre="cotton",
        tenacity_cn_per_tex=2.0,
        strength_cv_pct=10.0,
        breaking_elongation_pct=6.0,
    )
    crawling = construction(
        weft=ThreadSystem(yarns={"A": feeble}, threads_per_cm=22.0, crimp_pct=5.0),
        requested_speed_picks_per_min=400.0,
    )
    (resting,) = [
        one for one in report(crawling).findings if one.code == CheckCode.INSERTION_WEFT_SPEED
    ]
    assert len(resting.rests_on) == 4
    decided = decide(crawling, loom())
    assert {turn.verdict for turn in decided.decisive} == {Verdict.NOT_WEAVABLE}
    assert resting.code in {code for turn in decided.decisive for code in turn.codes}
    # One value alone turns it as far as any corner.
    assert (decided.holds, decided.corner) == (False, None)


def test_a_report_without_the_option_says_nothing_of_it() -> None:
    order, on = construction(), loom()
    plain = assess(order, on)
    assert (plain.verdict_holds, plain.decisive_assumptions, plain.turning_corner) == (None,) * 3
    asked = with_decisive_assumptions(plain, order, on)
    assert asked.verdict_holds is not None
    assert asked.decisive_assumptions is not None
    assert asked.findings == plain.findings


def test_its_work_is_in_proportion_to_the_assumed_values_with_a_band() -> None:
    order, on = construction(), loom()
    banded = [line for line in assumed(judge(order, on)).values() if line.band is not None]
    assert values_tried(banded) == len(banded)
    assert values_tried(()) == 0
