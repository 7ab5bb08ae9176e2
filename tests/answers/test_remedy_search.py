"""The way out: every remedy keeps its word, is no larger than it has to be, and is bounded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import inf
from typing import Any, Final
from unittest.mock import ANY

import numpy as np
import pytest
from answers.strategies import trade_looms, trade_orders
from answers.test_remedies import codes, followed, uncleared
from builders import COTTON_20_TEX, construction, jacquard, loom, shedding, threads
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers import changes_together, remedy_search
from weavability.answers.changes_together import OF_SEARCH
from weavability.answers.field_changes import Change, Write, changed
from weavability.answers.finding_remedies import NOTHING_HELPS, OF_REPORT, WHY_NOTHING
from weavability.answers.loom_matching import match_looms
from weavability.answers.prices import Prices
from weavability.answers.remedy_search import LoomRemedies, search_remedies
from weavability.answers.report import Report
from weavability.answers.trials import WORSE, Bound
from weavability.answers.validation import assess, judge
from weavability.checks.codes import CheckCode
from weavability.checks.facts import pair_of
from weavability.checks.finding import Remedy, Severity, Verdict
from weavability.checks.registry import comparisons_of, excess_of
from weavability.checks.settling import IF_ASSUMED_KEY
from weavability.checks.trial_facts import Trial
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import (
    Band,
    BeamArrangement,
    CurvePoint,
    Insertion,
    Loom,
    Shedding,
    SheddingKind,
    WarpBeam,
)
from weavability.looms.thresholds import in_force
from weavability.service.requests.park import load_park
from weavability.textiles import weave_structure
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.construction import (
    Construction,
    Finishing,
    Reed,
    RequiredRange,
    Requirements,
    Selvedge,
    Stage,
    ThreadSystem,
)
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Repeat, Weave
from weavability.textiles.weave_structure import Structure, analyse
from weavability.textiles.yarns import Yarn


def searched(cloth: Construction, on: Loom) -> LoomRemedies:
    (found,) = search_remedies(cloth, [on]).looms
    return found


def heaviness(report: Report, code: str) -> int:
    """The place of the heaviest finding of a check among severities: 0 of an error."""
    return min(list(Severity).index(each.severity) for each in report.findings if each.code == code)


def one_step_less(cloth: Construction, remedy: Remedy) -> Construction | None:
    """The order with a remedy of one number stopped one step short; ``None`` if there is none."""
    (change, *others) = remedy["changes"]
    now, to, step = change["from"], change["to"], change["step"]
    if others or step is None or not isinstance(now, int | float):
        return None
    short = to + step if to < now else to - step  # type: ignore[operator]
    if abs(short - now) < step / 2 or (short - now) * (to - now) < 0:  # type: ignore[operator]
        return None
    kept = int(short) if isinstance(to, int) else round(short, 6)
    return followed(cloth, {**remedy, "changes": ({**change, "to": kept},)})


def each_one_step_less(cloth: Construction, remedy: Remedy) -> Iterator[Construction]:
    """The order with a remedy of which one field is stopped one step short, field by field."""
    for place, change in enumerate(remedy["changes"]):
        now, to, step = change["from"], change["to"], change["step"]
        if step is not None and isinstance(now, int | float) and isinstance(to, int | float):
            short = to + step if to < now else to - step
            kept = list(remedy["changes"])
            kept[place] = {**change, "to": int(short) if isinstance(to, int) else round(short, 6)}
            yield followed(cloth, {**remedy, "changes": tuple(kept)})


def each_less(cloth: Construction, remedy: Remedy) -> Iterator[Construction]:
    """The order with each field of a remedy at every step short of it, the others as they are."""
    for place, change in enumerate(remedy["changes"]):
        now, to, step = change["from"], change["to"], change["step"]
        assert isinstance(now, int | float)
        assert isinstance(to, int | float)
        assert step is not None
        for steps in range(1, round(abs(to - now) / step) + 1):
            short = to + steps * step if to < now else to - steps * step
            kept = list(remedy["changes"])
            kept[place] = {**change, "to": int(short) if isinstance(to, int) else round(short, 6)}
            yield followed(cloth, {**remedy, "changes": tuple(kept)})


def falls_short(remedy: Remedy, after: Report, before: Report | None = None) -> bool:
    """Whether something that a remedy names is not cleared, or there is more wrong than before.

    A warning in place of an error is not what a remedy leaves if it is an error as all is assumed.
    """
    is_error = as_assumed(after).keys() & set(remedy["leaves_warnings"])
    known = codes(after) if before is None else codes(before)
    worse = codes(after, Severity.WARNING, Severity.ERROR) - known
    return bool(uncleared(remedy, after) or is_error or worse or passed_farther(after, before))


def as_assumed(report: Report) -> dict[str, float]:
    """How many times each limit is passed of what is an error if all is as it is assumed."""
    times: dict[str, float] = {}
    for each in report.findings:
        if each.severity is Severity.ERROR or each.message_key.endswith(IF_ASSUMED_KEY):
            passed = 1.0
            if isinstance(each.actual, int | float) and isinstance(each.limit, int | float):
                low, high = sorted((each.actual, each.limit))
                passed = high / low if low > 0 else inf
            times[each.code] = max(passed, times.get(each.code, 0.0))
    return times


def passed_farther(after: Report, before: Report | None) -> set[str]:
    """The codes of the limits that were passed before, and are passed by more afterwards."""
    if before is None:
        return set()
    now, then = as_assumed(after), as_assumed(before)
    return {code for code in now.keys() & then.keys() if now[code] > then[code] * WORSE}


@pytest.mark.slow
@share_of_examples(0.25)
@given(trade_orders, trade_looms)
def test_the_way_out_keeps_its_word_and_goes_no_farther_than_it_has_to(
    cloth: Construction, on: Loom
) -> None:
    before, found = assess(cloth, on, remedies=False), searched(cloth, on)
    assert found.verdict is before.verdict
    assert found.trials <= OF_SEARCH.proofs
    errors = codes(before, Severity.ERROR)
    places = [
        (
            errors.isdisjoint([*each["clears"], *each["leaves_warnings"]]),
            bool(errors and each["rejected_if_assumed"]),
            each["distance"],
        )
        for each in found.remedies
    ]
    assert places == sorted(places)
    for remedy in found.remedies:
        after = assess(followed(cloth, remedy), on, remedies=False)
        assert not uncleared(remedy, after), remedy
        assert codes(after, Severity.ERROR) <= codes(before, Severity.ERROR), remedy
        assert after.verdict is remedy["verdict"]
        assert set(remedy["leaves_warnings"]) <= codes(after, Severity.WARNING)
        rejected = as_assumed(after).keys() if after.verdict_note else ()
        assert set(remedy["rejected_if_assumed"]) == set(rejected), remedy
        brought, cleared = (
            {heaviness(each, code) for code in some}
            for each, some in (
                (after, remedy["brings"]),
                (before, [*remedy["clears"], *remedy["leaves_warnings"]]),
            )
        )
        assert not brought or min(brought) >= min(cleared), remedy
        for change in remedy["changes"]:
            bounds = CONSTRUCTION_BOUNDS.get(change["pointer"].removeprefix("/construction"))
            assert bounds is None or not isinstance(change["to"], float) or change["to"] in bounds
        for altered in remedy["alters"]:
            if altered["name"] == "mass_g_per_m2":
                assert altered["to"] == after.cloth.mass_g_per_m2
        together = len(remedy["changes"]) > 1
        shorter = () if together else (one_step_less(cloth, remedy),)
        for each in each_one_step_less(cloth, remedy) if together else shorter:
            if each is not None:
                less = assess(each, on, remedies=False)
                assert falls_short(remedy, less, before), remedy


def test_what_leaves_a_warning_of_an_error_leaves_none_that_rests_on_what_is_assumed() -> None:
    # From 32 to 30.2 ends/cm it is no error only if the cloth fills more of the reed than assumed.
    on = loom(min_reed_width_cm=50.0, shedding=shedding(shafts=4, max_healds_per_cm_per_shaft=6.0))
    crowded = construction(
        warp=threads(38.2),
        weft=threads(12.0, crimp_pct=None),
        width_cm=60.0,
        selvedge=Selvedge(),
        reed=Reed(ends_per_dent=4),
    )
    (remedy,) = searched(crowded, on).remedies
    assert remedy["leaves_warnings"] == ["shedding.heald_crowding"]
    assert not as_assumed(assess(followed(crowded, remedy), on, remedies=False))
    shorter = one_step_less(crowded, remedy)
    assert shorter is not None
    less = assess(shorter, on, remedies=False)
    assert not codes(less, Severity.ERROR)
    assert as_assumed(less).keys() == {"shedding.heald_crowding"}
    assert falls_short(remedy, less)


@pytest.mark.slow
def test_no_remedy_makes_an_error_of_a_warning_by_settling_what_is_assumed() -> None:
    # What the cloth shrinks is assumed from its crimp; a weft of 9 tex would settle it.
    on = jacquard(hooks=2688, ends_per_hook=1, harness_ends_per_cm=15.0, selvedge_hooks=None)
    yarns = {
        name: {"A": Yarn(linear_density_tex=50.0, fibre=name)} for name in ("polyester", "worsted")
    }
    jammed = construction(
        stage=Stage.FINISHED,
        warp=ThreadSystem(yarns=yarns["polyester"], threads_per_cm=45.0, contraction_pct=9.3),
        weft=ThreadSystem(yarns=yarns["worsted"], threads_per_cm=50.0),
        weave=parse_weave("5-end satin move 2"),
        reed=Reed(dents_per_10cm=120.0),
        finishing=Finishing(relaxation_pct=2.0),
    )
    before = assess(jammed, on, remedies=False)
    assert "shedding.harness_density" in codes(before, Severity.WARNING)
    found = searched(jammed, on)
    tried = {each.code.value: each.tried for each in found.not_found}
    assert "a finer weft, but for shedding.harness_density" in tried["sett.jammed"]
    for remedy in found.remedies:
        after = assess(followed(jammed, remedy), on, remedies=False)
        assert codes(after, Severity.ERROR) <= codes(before, Severity.ERROR), remedy["message"]


def test_two_changes_are_made_where_none_does_alone() -> None:
    wide_and_fast = construction(width_cm=190.0, requested_speed_picks_per_min=700.0)
    found = searched(wide_and_fast, loom())
    whole = [each for each in found.remedies if each["verdict"] is not Verdict.NOT_WEAVABLE]
    assert [len(each["changes"]) for each in whole] == [2]
    assert {change["pointer"] for change in whole[0]["changes"]} == {
        "/construction/width_cm",
        "/construction/requested_speed_picks_per_min",
    }


def test_three_changes_are_made_where_no_two_do() -> None:
    # Too wide for the reed, jammed in plain, and faster than the loom: three causes.
    yarns = {"A": COTTON_20_TEX}
    lost = construction(
        warp=threads(42.0, yarns=yarns),
        weft=threads(40.0, yarns=yarns),
        width_cm=196.0,
        requested_speed_picks_per_min=720.0,
    )
    found = searched(lost, loom())
    whole = [each for each in found.remedies if each["verdict"] is not Verdict.NOT_WEAVABLE]
    assert [len(each["changes"]) for each in whole] == [3]
    (remedy,) = whole
    assert assess(followed(lost, remedy), loom(), remedies=False).verdict is remedy["verdict"]
    for shorter in each_one_step_less(lost, remedy):
        assert codes(assess(shorter, loom(), remedies=False), Severity.ERROR), remedy["message"]
    assert all(each in remedy["message"] for each in ("wide.", "picks/min."))


def test_no_remedy_leads_away_from_another_limit() -> None:
    yarns = {"A": COTTON_20_TEX}
    on = replace(loom(), reeds_in_stock_dents_per_10cm=(215.0, 235.0))
    jammed = construction(warp=threads(44.0, yarns=yarns), weft=threads(42.0, yarns=yarns))
    before = assess(jammed, on, remedies=False)
    assert "sett.jammed" in codes(before, Severity.ERROR)
    assert "reed.not_in_stock" in codes(before)
    found = searched(jammed, on)
    for remedy in found.remedies:
        after = assess(followed(jammed, remedy), on, remedies=False)
        assert after.cloth.tightness_pct <= before.cloth.tightness_pct * 1.001, remedy["message"]
    # A requirement is a limit like any other, and what was tried says why it was not enough.
    required = Requirements(finished_width_cm=RequiredRange(min=188.0))
    wide = construction(width_cm=190.0, requirements=required)
    assert codes(assess(wide, loom(), remedies=False), Severity.ERROR) == {"width.reed_space"}
    (missing,) = searched(wide, loom()).not_found
    assert missing.tried == ("a narrower cloth, but for requirement.width",)
    (finding,) = (one for one in assess(wide, loom()).findings if one.code == "width.reed_space")
    assert finding.tried == missing.tried
    assert finding.remedies == ()


def test_a_width_of_whole_repeats_has_as_few_decimals_as_give_its_ends() -> None:
    yarns = {"A": COTTON_20_TEX, "B": COTTON_20_TEX}
    striped = construction(warp=threads(32.3, yarns=yarns, order="24A 4B 24A 8B"), width_cm=155.3)
    found = [
        each
        for each in searched(striped, loom()).remedies
        if each["pointer"] == "/construction/width_cm"
    ]
    # 4980 and 5040 ends are 154.180 and 156.037 cm wide.
    assert {each["to"] for each in found} == {154.18, 156.04}
    for remedy in found:
        after = assess(followed(striped, remedy), loom(), remedies=False)
        assert "colour.warp_remainder" not in codes(after)


WEIGHED: Final = Yarn(sample_length_m=100.0, sample_mass_g=2.0, fibre="cotton")
"""A yarn of 20 tex, which is proposed in no other count."""

HERRINGBONE_ACROSS: Final = Weave.from_rows(
    [*("1001", "1100", "0110", "0011") * 2, *("1100", "1001", "0011", "0110") * 2]
)
"""A weave without a name, and so without a family."""


def test_both_setts_are_lowered_if_neither_alone_would_leave_it_the_same_cloth() -> None:
    # No other count of a yarn that was weighed, and no family of a herringbone across.
    yarns = {"A": replace(WEIGHED, diameter_mm=0.165)}
    jammed = construction(
        warp=threads(62.0, yarns=yarns),
        weft=threads(60.0, yarns=yarns),
        weave=HERRINGBONE_ACROSS,
    )
    found = searched(jammed, loom())
    (remedy,) = (each for each in found.remedies if "sett.jammed" in each["clears"])
    assert {change["pointer"] for change in remedy["changes"]} == {
        "/construction/warp/ends_per_cm",
        "/construction/weft/picks_per_cm",
    }
    after = assess(followed(jammed, remedy), loom())
    assert "sett.jammed" not in codes(after)
    for shorter in each_one_step_less(jammed, remedy):
        assert uncleared(remedy, assess(shorter, loom(), remedies=False))


@pytest.mark.parametrize("ends", [59.0, 61.0])
def test_neither_of_two_changes_goes_farther_than_it_has_to(ends: float) -> None:
    yarns = {"A": replace(COTTON_20_TEX, diameter_mm=0.165)}
    jammed = construction(
        warp=threads(ends, yarns=yarns),
        weft=threads(60.0, yarns=yarns),
        weave=parse_weave("2/2 herringbone 8"),
        requested_speed_picks_per_min=200.0,
    )
    pairs = [each for each in searched(jammed, loom()).remedies if len(each["changes"]) == 2]
    assert pairs
    for remedy in pairs:
        for shorter in each_one_step_less(jammed, remedy):
            after = assess(shorter, loom(), remedies=False)
            assert uncleared(remedy, after), remedy["message"]


def test_two_feeders_halve_the_speed_of_each() -> None:
    fast = loom(reed_width_cm=190.0)
    on = replace(fast, insertion=replace(fast.insertion, max_feeder_speed_m_per_min=700.0))
    found = searched(construction(), on)
    (remedy,) = (each for each in found.remedies if "feeders" in each["message"])
    assert [change["pointer"] for change in remedy["changes"]] == [
        "/construction/weft/order",
        "/construction/weft/yarns/B",
    ]
    assert "weft.feeder_speed" not in codes(assess(followed(construction(), remedy), on))


def test_the_remainder_of_a_repeat_is_shared_by_the_selvedges() -> None:
    yarns = {"A": COTTON_20_TEX, "B": COTTON_20_TEX}
    striped = construction(
        warp=threads(24.0, yarns=yarns, order="60A 40B"), selvedge=Selvedge(ends_per_side=10)
    )
    found = searched(striped, loom())
    (remedy,) = (each for each in found.remedies if "share" in each["message"])
    before, after = assess(striped, loom()), assess(followed(striped, remedy), loom())
    assert "colour.warp_remainder" not in codes(after)
    assert abs(after.setup.total_ends - before.setup.total_ends) <= 1


def test_unlike_yarns_get_a_second_beam_if_the_loom_has_one() -> None:
    yarns = {"A": COTTON_20_TEX, "B": Yarn(designation="100 tex", fibre="cotton")}
    mixed = construction(warp=threads(12.0, yarns=yarns, order="A B"))
    beams = WarpBeam(flange_diameter_cm=100.0, barrel_diameter_cm=20.0, count=2)
    stacked = loom(warp_beam=replace(beams, arrangement=BeamArrangement.STACKED))
    found = searched(mixed, stacked)
    assert any(each["pointer"] == "/construction/warp/beams" for each in found.remedies)
    assert not any(
        each["pointer"] == "/construction/warp/beams" for each in searched(mixed, loom()).remedies
    )


def test_one_yarn_of_which_some_ends_interlace_more_is_split_between_two_beams() -> None:
    # Four plain ends beside an eight-end satin: the plain ends interlace four times as often.
    satin = parse_weave("8-end satin move 3").matrix
    plain = np.array([[(row + column) % 2 for column in range(4)] for row in range(8)])
    striped = construction(
        weave=Weave(matrix=np.hstack([satin, plain]).astype(np.uint8)),
        requested_speed_picks_per_min=200.0,
    )
    beams = WarpBeam(flange_diameter_cm=100.0, barrel_diameter_cm=20.0, count=2)
    stacked = loom(
        warp_beam=replace(beams, arrangement=BeamArrangement.STACKED),
        shedding=shedding(shafts=20, max_healds_per_shaft=2500),
    )
    assert "warp.second_warp" in codes(assess(striped, stacked, remedies=False), Severity.WARNING)
    found = searched(striped, stacked)
    remedy = next(each for each in found.remedies if "warp.second_warp" in each["clears"])
    assert [(each["pointer"], each["to"]) for each in remedy["changes"]][:1] == [
        ("/construction/warp/order", "8A 4B")
    ]
    assert "warp.second_warp" not in codes(assess(followed(striped, remedy), stacked))


def test_equal_wefts_are_inserted_from_one_selector() -> None:
    red = replace(COTTON_20_TEX, colour="red")
    blue = replace(COTTON_20_TEX, colour="blue")
    weft = threads(22.0, yarns={"A": red, "B": blue, "C": red}, order="2A 2B 2C")
    few = loom(weft_selectors=2)
    found = searched(construction(weft=weft), few)
    remedy = next(each for each in found.remedies if "weft.selectors" in each["clears"])
    assert remedy["changes"][0]["to"] == "2A 2B 2A"
    merged = followed(construction(weft=weft), remedy)
    assert list(merged.weft.yarns) == ["A", "B"]
    assert "weft.selectors" not in codes(assess(merged, few))
    # Three colours need three.
    weft = replace(weft, yarns={**weft.yarns, "C": replace(red, colour="green")})
    (missing,) = searched(construction(weft=weft), few).not_found
    assert missing.tried == (WHY_NOTHING[missing.code],)
    (finding,) = (
        each
        for each in assess(construction(weft=weft), few).findings
        if each.code == "weft.selectors"
    )
    assert finding.tried == missing.tried


COTTON_NE_4: Final = Yarn(designation="Ne 4", fibre="cotton", colour="ecru")


def test_equal_wefts_on_one_selector_are_made_finer_together() -> None:
    yarns = {"A": COTTON_NE_4, "B": COTTON_20_TEX, "C": COTTON_NE_4}
    coarse = construction(weft=threads(12.0, yarns=yarns, order="2A 2B 2C"))
    few = loom(weft_selectors=2, weft_tex=Band(min=7.0, max=80.0))
    whole = next(
        each for each in searched(coarse, few).remedies if each["verdict"] != "not_weavable"
    )
    # Neither alone is enough, and of the yarn that is taken out nothing is written.
    assert [(each["pointer"], each["to"]) for each in whole["changes"]] == [
        ("/construction/weft/order", "2A 2B 2A"),
        ("/construction/weft/yarns", ANY),
        ("/construction/weft/yarns/A/designation", "Ne 8"),
    ]
    assert not codes(assess(followed(coarse, whole), few, remedies=False), Severity.ERROR)


def test_equal_wefts_on_one_selector_change_the_cost_by_the_prices_that_are_left() -> None:
    red, white = (replace(COTTON_20_TEX, colour=each) for each in ("red", "white"))
    yarns = {"A": white, "B": red, "C": white}
    cloth = construction(weft=threads(22.0, yarns=yarns, order="2A 2B 2C"))
    prices = Prices(yarn_per_kg={"weft A": 4.0, "weft B": 5.0, "weft C": 8.0, "warp A": 4.0})
    (found,) = search_remedies(cloth, [loom(weft_selectors=2)], prices=prices).looms
    remedy = next(each for each in found.remedies if "weft.selectors" in each["clears"])
    (cost,) = (each for each in remedy["alters"] if each["name"] == "cost_per_m")
    assert cost["to"] < cost["from"]


@share_of_examples(0.1)
@given(st.lists(st.sampled_from(("Ne 4", "Ne 12", "Ne 20")), min_size=2, max_size=5), trade_looms)
def test_orders_with_equal_wefts_have_remedies_that_keep_their_word(
    counts: list[str], on: Loom
) -> None:
    yarns = {
        key: replace(COTTON_NE_4, designation=count)
        for key, count in zip("ABCDE", counts, strict=False)
    }
    order = " ".join(f"2{key}" for key in yarns)
    cloth = construction(weft=threads(14.0, yarns=yarns, order=order))
    few = replace(on, weft_selectors=2, weft_tex=Band(min=10.0, max=80.0))
    for remedy in searched(cloth, few).remedies:
        after = assess(followed(cloth, remedy), few, remedies=False)
        assert not uncleared(remedy, after), remedy
        assert after.verdict is remedy["verdict"]


@pytest.mark.parametrize(
    ("weft", "band", "to"),
    [
        (Yarn(linear_density_tex=200.0, fibre="cotton"), Band(min=7.0, max=80.0), 80.0),
        (Yarn(linear_density_tex=100.0, fibre="polyester"), Band(min=3.0, max=40.0), 40.0),
        (Yarn(designation="Ne 100", fibre="cotton"), Band(min=10.0, max=900.0), "Ne 54"),
    ],
)
def test_the_nearest_usual_count_within_the_limits_is_found_however_many_are_before_it(
    weft: Yarn, band: Band, to: float | str
) -> None:
    cloth, on = construction(weft=threads(8.0, yarns={"A": weft})), loom(weft_tex=band)
    (finding,) = (f for f in assess(cloth, on).findings if f.code == "weft.linear_density")
    for remedies in (finding.remedies, searched(cloth, on).remedies):
        assert to in [each["to"] for each in remedies if "weft.linear_density" in each["clears"]]


def test_all_wefts_beyond_the_range_are_brought_into_it_together() -> None:
    yarns = {
        key: Yarn(designation=f"Ne {count}", fibre="cotton")
        for key, count in {"A": 6, "B": 7, "C": 12}.items()
    }
    wefts = threads(8.0, yarns=yarns, order="1A 1B 1C")
    cloth, on = construction(weft=wefts), loom(weft_tex=Band(min=7.0, max=80.0))
    (remedy,) = searched(cloth, on).remedies
    assert [(each["pointer"], each["to"]) for each in remedy["changes"]] == [
        ("/construction/weft/yarns/B/designation", "Ne 8"),
        ("/construction/weft/yarns/A/designation", "Ne 8"),
    ]
    assert remedy["message"] == "Use Ne 8 in wefts A and B."
    after = assess(followed(cloth, remedy), on, remedies=False)
    assert after.verdict is remedy["verdict"] is not Verdict.NOT_WEAVABLE


def of_counts(*counts: str) -> Construction:
    """A cloth with cotton wefts of several counts, one pick of each in turn."""
    keys = "ABCD"[: len(counts)]
    yarns = {
        key: Yarn(designation=count, fibre="cotton")
        for key, count in zip(keys, counts, strict=True)
    }
    return construction(weft=threads(12.0, yarns=yarns, order=" ".join(keys)))


def test_wefts_beyond_either_end_of_the_range_are_brought_into_it_together() -> None:
    # Of 4.9, 148 and 20 tex; the order of the keys makes no difference.
    on = loom(weft_tex=Band(min=7.0, max=80.0))
    for counts, to in (
        (("Ne 120", "Ne 4", "Ne 30"), {"A": "Ne 80", "B": "Ne 8"}),
        (("Ne 4", "Ne 30", "Ne 120"), {"A": "Ne 8", "C": "Ne 80"}),
    ):
        cloth = of_counts(*counts)
        found = searched(cloth, on).remedies
        remedy = next(each for each in found if "weft.linear_density" in each["clears"])
        assert {each["pointer"].split("/")[4]: each["to"] for each in remedy["changes"]} == to
        after = assess(followed(cloth, remedy), on, remedies=False)
        assert "weft.linear_density" not in codes(after)


def test_of_unlike_wefts_the_finest_may_become_coarser() -> None:
    # 59 and 9.8 tex; without a note the finest would become twice as coarse: another cloth.
    cloth, on = of_counts("Ne 10", "Ne 60"), loom()
    changes = {
        change["pointer"]: change["to"]
        for remedy in searched(cloth, on).remedies
        if remedy["leaves_notes"] == ["weft.mixed_counts"]
        for change in remedy["changes"]
    }
    assert changes["/construction/weft/yarns/B/designation"] == "Ne 40"
    assert "/construction/weft/yarns/A/designation" in changes


def test_no_remedy_trades_a_warning_for_a_warning() -> None:
    # A yarn that was weighed has no other count, and only very many ends in a dent leave them room.
    weighed = Yarn(sample_length_m=100.0, sample_mass_g=10.0, fibre="wool")
    rib = construction(
        weave=parse_weave("2/2 warp rib"),
        reed=Reed(),
        width_cm=111.0,
        warp=threads(46.9, crimp_pct=12.0, yarns={"A": weighed}),
        weft=threads(
            45.2, crimp_pct=None, yarns={"A": Yarn(designation="Nm 60/2", fibre="viscose")}
        ),
    )
    (remedy,) = searched(rib, loom()).remedies
    # A few ends fewer leave a note; to leave none, as many warnings would come.
    assert (remedy["to"], remedy["leaves_notes"]) == (45.1, ["reed.air_space"])
    assert remedy["brings"] == []


def dense(ends: float, picks: float, counts: str, **changes: Any) -> Construction:
    """A cloth of cotton counts in warp and weft, of which nothing but setts and counts is known."""
    warp, weft = (Yarn(designation=each, fibre="cotton") for each in counts.split(" x "))
    return construction(
        warp=threads(ends, crimp_pct=None, yarns={"A": warp}),
        weft=threads(picks, crimp_pct=None, yarns={"A": weft}),
        **changes,
    )


def test_a_sett_is_changed_until_it_is_not_tight_either() -> None:
    # The nearest sett that is not jammed bumps at the fell still: a warning for a warning.
    twill = dense(28.8, 28.8, "Ne 12 x Ne 12", weave=parse_weave("2/1 twill Z"), reed=Reed())
    plain = dense(30.0, 30.0, "Ne 20 x Ne 20", reed=Reed())
    for cloth, on in ((twill, loom(max_tightness_pct=110.0)), (plain, loom())):
        before = assess(cloth, on)
        assert codes(before, Severity.WARNING) == {"sett.jammed"}
        (finding,) = (each for each in before.findings if each.code == "sett.jammed")
        remedies = searched(cloth, on).remedies
        fewer = [each for each in remedies if each["pointer"].endswith("/picks_per_cm")]
        assert fewer
        assert fewer[0] in finding.remedies
        for remedy in fewer:
            assert remedy["verdict"] is Verdict.WEAVABLE
            shorter = one_step_less(cloth, remedy)
            assert shorter is not None
            assert codes(assess(shorter, on, remedies=False), Severity.WARNING) == {"sett.tight"}


def test_two_changes_go_as_far_as_it_takes_to_bring_no_warning() -> None:
    # What the customer requires leaves no room to lower one sett alone as far as that; and both,
    # until it is just not jammed, would leave it tight. A yarn that was weighed has no other count.
    weighed = replace(WEIGHED, sample_mass_g=2.953)
    close = threads(38.0, crimp_pct=None, yarns={"A": weighed})
    least = RequiredRange(min=35.9)
    cloth = construction(
        warp=close,
        weft=close,
        weave=HERRINGBONE_ACROSS,
        reed=Reed(),
        requirements=Requirements(ends_per_cm=least, picks_per_cm=least),
    )
    (remedy,) = searched(cloth, loom()).remedies
    assert len(remedy["changes"]) == 2
    after = assess(followed(cloth, remedy), loom(), remedies=False)
    assert after.verdict is remedy["verdict"] is Verdict.WEAVABLE
    for shorter in each_one_step_less(cloth, remedy):
        less = assess(shorter, loom(), remedies=False)
        assert codes(less, Severity.WARNING) == {"sett.tight"}


def test_a_jammed_sett_is_farther_from_its_limit_the_more_it_is_jammed() -> None:
    # Beyond what no loom beats up, the nearer limit of this loom is to be met all the same.
    jammed, usual = comparisons_of([CheckCode.SETT_JAMMED])[0], in_force().usual
    cloths = (dense(30.0, picks, "Ne 16 x Ne 20") for picks in (30.0, 32.0, 34.0, 36.0))
    facts = [pair_of(judge(cloth, loom())).facts for cloth in cloths]
    assert facts[1].cloth.in_plane_tightness_pct > 115.0 > facts[0].cloth.in_plane_tightness_pct
    times = [excess_of(jammed, each, usual).times for each in facts]
    assert times == sorted(times)
    assert times[0] > 1.0


def test_what_is_jammed_beyond_every_loom_has_a_way_out_and_none_farther_in() -> None:
    twill = dense(40.6, 39.7, "Ne 16 x Ne 20", weave=parse_weave("2/2 twill Z"), width_cm=150.0)
    assert any("sett.jammed" in each["clears"] for each in searched(twill, loom()).remedies)


def test_what_a_remedy_alters_is_computed_from_the_order_that_is_sent() -> None:
    # 70.5 in are a hair more as 70.5 / (1 / 2.54) than as 70.5 x 2.54: one end more.
    wide = Write(field="/construction/width_cm", to=70.5)
    inches = construction(inch_fields=frozenset({"/width_in"}))
    assert changed(inches, Change(writes=(wide,), message="")).width_cm == 70.5 * 2.54


def test_what_nothing_clears_says_what_was_tried_and_where_it_can_be_woven() -> None:
    # 20 tex is below the range of the loom by more than any usual count nearby.
    coarse = loom(loom_id="coarse", weft_tex=Band(min=300.0, max=900.0))
    usual, prices = loom(loom_id="usual"), Prices(yarn_per_kg={"warp A": 4.0})
    report = search_remedies(construction(), [coarse], [usual, coarse], prices=prices)
    (missing,) = report.looms[0].not_found
    assert missing.code == "weft.linear_density"
    # A finer one leads away.
    assert missing.tried == ("a coarser weft, but only as another cloth: 300 tex",)
    (other,) = report.other_looms
    costs = assess(construction(), usual, prices=prices).costs
    assert other.loom_id == "usual"
    assert other.costs is not None
    assert costs is not None
    assert other.costs.cost_per_m == costs.cost_per_m
    assert other.hours == match_looms(construction(), [usual]).matches[0].hours


def test_other_looms_that_only_an_assumed_value_allows_are_named_so_and_come_last() -> None:
    narrow, usual = loom(loom_id="narrow", reed_width_cm=120.0), loom(loom_id="usual")
    tight = loom(loom_id="tight", reed_width_cm=162.0, max_speed_picks_per_min=650.0)
    of_estimated_crimp = construction(weft=threads(22.0, crimp_pct=None))
    report = search_remedies(of_estimated_crimp, [narrow], [tight, usual])
    named = [(each.loom_id, each.rejected_if_assumed) for each in report.other_looms]
    assert named == [("usual", ()), ("tight", ("width.reed_space",))]
    # The order as it is on the tight loom is farther than a change that leaves no doubt.
    looms = search_remedies(of_estimated_crimp, [tight, usual]).looms
    assert [(each.loom_id, each.rejected_if_assumed) for each in looms] == named
    slow = loom(loom_id="slow", max_speed_picks_per_min=300.0)
    hurried = replace(of_estimated_crimp, requested_speed_picks_per_min=320.0)
    assert search_remedies(hurried, [tight, slow]).looms[0].loom_id == "slow"


def test_the_mass_that_a_remedy_alters_is_that_which_is_required() -> None:
    light = Requirements(mass_g_per_m2=RequiredRange(max=92.0))
    cloth = construction(requirements=light, finishing=replace(AS_WOVEN, mass_change_pct=-3.0))
    remedy = searched(cloth, loom()).remedies[0]
    (mass,) = [each for each in remedy["alters"] if "mass_g" in each["name"]]
    assert mass["name"] == "finished_mass_g_per_m2"
    after = assess(followed(cloth, remedy), loom(), remedies=False)
    assert mass["to"] == after.cloth.finished_mass_g_per_m2 <= 92.0
    free = searched(replace(cloth, requirements=None, width_cm=190.0), loom()).remedies
    assert not [each for one in free for each in one["alters"] if each["name"].startswith("fin")]


AS_WOVEN: Final = Finishing(width_shrinkage_pct=0.0, length_shrinkage_pct=0.0, relaxation_pct=0.0)
"""A cloth that is finished as it was woven."""


def test_two_changes_are_tried_only_if_both_lead_towards_the_limit() -> None:
    # Half of the mass is beyond what setts may be lowered by, and the yarns have no other count.
    yarns = {"A": replace(WEIGHED, diameter_mm=0.165)}
    light = Requirements(mass_g_per_m2=RequiredRange(max=50.0))
    heavy = construction(
        warp=threads(24.0, yarns=yarns), weft=threads(22.0, yarns=yarns), requirements=light
    )
    (missing,) = searched(heavy, loom()).not_found
    # More of either leads away and is not listed as tried.
    assert missing.tried == (
        "fewer picks (to 16.5 picks/cm)",
        "fewer ends (to 18 ends/cm)",
        "fewer picks with fewer ends (to 16.5 picks/cm and 18.1 ends/cm)",
    )
    # No sett and no count of cotton puts polyester into it.
    fibre = Requirements(fibre_pct={"polyester": RequiredRange(min=50.0)})
    (missing,) = searched(construction(requirements=fibre), loom()).not_found
    assert missing.tried == (NOTHING_HELPS,)


def test_without_remedies_no_change_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[object] = []

    def counted(*given: object) -> object:
        tried.append(given)
        return Trial(*given)  # type: ignore[arg-type]

    monkeypatch.setattr("weavability.answers.trials.Trial", counted)
    wide = construction(width_cm=190.0)
    plain = assess(wide, loom(), remedies=False)
    assert not tried
    assert all(not each.remedies and not each.tried for each in plain.findings)
    assert any(each.remedies for each in assess(wide, loom()).findings)
    assert 0 < len(tried) <= OF_REPORT.probes + OF_REPORT.proofs


def test_a_design_is_analysed_once_for_all_trials(monkeypatch: pytest.MonkeyPatch) -> None:
    analysed: list[object] = []

    def counted(repeat: Repeat) -> Structure:
        analysed.append(repeat)
        return analyse(repeat)

    # As of the largest designs, nothing is remembered.
    monkeypatch.setattr(weave_structure, "MAX_KEPT_CELLS", 0)
    monkeypatch.setattr(weave_structure, "analyse", counted)
    bits = np.random.default_rng(5).integers(0, 2, (40, 60), dtype=np.uint8)
    figured = construction(weave=Weave(matrix=bits), requested_speed_picks_per_min=900.0)
    report = assess(figured, jacquard())
    assert any(each.remedies for each in report.findings)
    assert len(analysed) == 1


def test_two_small_changes_are_sought_beside_one_that_is_hardly_the_same_order() -> None:
    wide = construction(width_cm=195.0, requested_speed_picks_per_min=600.0)
    found = searched(wide, loom())
    whole = [each for each in found.remedies if each["verdict"] is not Verdict.NOT_WEAVABLE]
    assert len(whole[0]["changes"]) == 2
    assert whole[0]["distance"] < 10.0


@pytest.mark.slow
def test_a_step_that_makes_a_warning_of_an_error_leads_to_a_second() -> None:
    # Two panels of the three fill the reed and a little more; no width alone and no speed alone do.
    twill = dense(
        28.0,
        24.0,
        "Ne 30 x Ne 30",
        weave=parse_weave("2/1 twill Z"),
        width_cm=110.5,
        panels=3,
        requested_speed_picks_per_min=700.0,
        reed=Reed(),
        finishing=Finishing(),
    )
    on = load_park(None).looms["rapier-230-dobby"].loom
    whole = next(
        each for each in searched(twill, on).remedies if each["verdict"] != Verdict.NOT_WEAVABLE
    )
    # With a little less width the reed is wide enough whatever the crimp is.
    assert {each["pointer"].split("/")[-1]: each["to"] for each in whole["changes"]} == {
        "panels": 2,
        "requested_speed_picks_per_min": 480.0,
        "width_cm": 109.0,
    }
    assert whole["leaves_warnings"] == whole["rejected_if_assumed"] == []
    assert "width.reed_space" in whole["clears"]
    after = assess(followed(twill, whole), on, remedies=False)
    assert after.verdict is whole["verdict"] is Verdict.WEAVABLE
    for shorter in each_less(twill, whole):
        assert falls_short(whole, assess(shorter, on, remedies=False))


def test_a_further_change_is_measured_from_the_order_after_the_first() -> None:
    # One panel is narrower than the loom's least width, which two panels are far from.
    wool = {"A": Yarn(designation="Nm 40/2", fibre="wool")}
    upholstery = construction(
        warp=threads(9.7, yarns=wool, crimp_pct=None),
        weft=threads(10.3, yarns={"A": Yarn(designation="Nm 60/2", fibre="wool")}, crimp_pct=None),
        width_cm=156.0,
        panels=2,
        length_m=1000.0,
        reed=Reed(ends_per_dent=1),
        finishing=Finishing(),
        selvedge=Selvedge(),
        requirements=Requirements(finished_width_cm=RequiredRange(min=141.0)),
    )
    on = load_park(None).looms["rapier-280-jacquard"].loom
    whole = next(
        each for each in searched(upholstery, on).remedies if each["verdict"] != "not_weavable"
    )
    assert {each["pointer"].split("/")[-1]: each["to"] for each in whole["changes"]} == {
        "panels": 1,
        "width_cm": 165.5,
    }


def sheer_in_panels() -> tuple[Construction, Loom]:
    """A cloth too narrow for the loom and too fast, and a harness that is dense for its reed."""
    cloth = construction(
        stage=Stage.LOOM_STATE,
        warp=ThreadSystem(
            yarns={"A": Yarn(linear_density_tex=3.0, fibre="polyester")},
            threads_per_cm=60.0,
            contraction_pct=7.2,
        ),
        weft=ThreadSystem(
            yarns={"A": Yarn(linear_density_tex=7.4, fibre="cotton")},
            threads_per_cm=50.0,
            crimp_pct=2.1,
        ),
        weave=parse_weave("2/1 twill Z"),
        width_cm=6.0,
        reed=Reed(dents_per_10cm=120.0, ends_per_dent=5),
        selvedge=Selvedge(weave=parse_weave("2/2 warp rib")),
        finishing=Finishing(),
        length_m=3000.0,
        requested_speed_picks_per_min=700.0,
    )
    curve = ((100.0, 600.0), (200.0, 450.0))
    harness = Shedding(
        kind=SheddingKind.JACQUARD, hooks=1200, ends_per_hook=2, harness_ends_per_cm=56.1947
    )
    on = Loom(
        insertion=Insertion(system=InsertionSystem.AIR_JET, max_rate_m_per_min=400.0),
        reed_width_cm=190.0,
        min_reed_width_cm=60.0,
        max_speed_picks_per_min=650.0,
        speed_curve=tuple(
            CurvePoint(reed_width_cm=width_cm, picks_per_min=speed) for width_cm, speed in curve
        ),
        shedding=harness,
        weft_selectors=3,
        picks_per_cm=Band(min=4.0, max=80.0),
        weft_tex=Band(min=5.0, max=40.0),
        warp_beam=WarpBeam(),
        max_tightness_pct=90.0,
    )
    return cloth, on


def test_of_three_changes_one_that_is_not_needed_is_left_out() -> None:
    cloth, on = sheer_in_panels()
    (whole,) = (each for each in searched(cloth, on).remedies if each["verdict"] != "not_weavable")
    assert {each["pointer"].split("/")[-1]: each["to"] for each in whole["changes"]} == {
        "requested_speed_picks_per_min": 600.0,
        "panels": 6,
    }
    before = assess(cloth, on, remedies=False)
    for shorter in each_one_step_less(cloth, whole):
        assert falls_short(whole, assess(shorter, on, remedies=False), before)


def test_changes_are_not_called_smallest_if_that_could_not_be_proved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cloth, on = sheer_in_panels()
    monkeypatch.setattr(changes_together, "KEPT_TO_SETTLE", 0)
    monkeypatch.setattr(remedy_search, "OF_SEARCH", Bound(probes=140, proofs=12))
    (whole,) = (each for each in searched(cloth, on).remedies if each["verdict"] != "not_weavable")
    assert "trials of a search were used up" in whole["message"]
    assert {each["step"] for each in whole["changes"]} == {None}
    assert len(whole["changes"]) > 1
