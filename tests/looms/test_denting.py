"""The reed for a cloth: counted reeds, uneven dentings, stock, selvedges, panels."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import COTTON_20_TEX, construction, finding, loom, named, report, severity, threads
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.columns import judge_columns
from weavability.answers.remedy_search import search_remedies
from weavability.answers.validation import assess, judge
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Finding, Severity
from weavability.looms.denting_facts import Denting
from weavability.looms.loom import Loom, Running
from weavability.looms.reeds import WIRE_SHARE_BAND_POINTS, usual_wire_share_pct
from weavability.looms.suited_denting import ENDS_PER_DENT_BAND
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.construction import Construction, Reed, Selvedge
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn


def denting(on: Loom | None = None, **changes: Any) -> Denting:
    return judge(construction(**changes), on or loom()).denting


def test_reed_follows_from_ends_and_reed_width() -> None:
    # 3840 ends over 168 cm, two in a dent: 1920 dents, 114.29 in 10 cm.
    found = denting()
    assert found.dents == 1920
    assert found.needed_dents_per_10cm == pytest.approx(10 * 1920 / 168)


# Cotton of 20 tex is 0.167 mm thick, a knot 0.334 mm. Two in a dent leave a gap of 0.43 mm at
# 300 ends/10 cm, but 0.22 mm at 500; four leave 0.54 mm there, in a reed that plain weave fills
# evenly, and 0.36 mm at 700. At 880 only five leave as much as a knot.
@pytest.mark.parametrize(("ends_per_10cm", "per_dent"), [(300, 2), (500, 4), (700, 4), (880, 5)])
def test_as_few_ends_in_a_dent_as_let_a_knot_pass(ends_per_10cm: int, per_dent: int) -> None:
    sett = threads(1.05 * ends_per_10cm / 10)
    found = denting(warp=sett, reed=Reed(), selvedge=Selvedge(ends_per_side=0))
    assert found.ends_per_dent == per_dent


@pytest.mark.parametrize("stock", [(), (100.0, 120.0, 140.0, 160.0, 180.0)])
@pytest.mark.parametrize("ends_per_10cm", range(300, 960, 20))
def test_stating_the_wire_share_as_it_is_assumed_chooses_the_same_reed(
    ends_per_10cm: int, stock: tuple[float, ...]
) -> None:
    on = loom(reeds_in_stock_dents_per_10cm=stock)
    sett, none = threads(1.05 * ends_per_10cm / 10), Selvedge(ends_per_side=0)
    before = denting(on, warp=sett, reed=Reed(), selvedge=none)
    share_pct = before.air.wire_share_pct
    after = denting(on, warp=sett, reed=Reed(wire_share_pct=share_pct), selvedge=none)
    assert after.ends_per_dent == before.ends_per_dent
    assert after.dents_per_10cm == before.dents_per_10cm


def test_stating_the_denting_of_selvedges_as_it_is_assumed_chooses_the_same_reed() -> None:
    """In a narrow cloth the dents of the selvedges are many of all, and decide about the reed."""
    on = loom(reeds_in_stock_dents_per_10cm=(100.0, 120.0, 140.0, 160.0, 180.0))
    warp = threads(26.6, yarns={"A": Yarn(linear_density_tex=60, fibre="cotton")})
    open_order, stated = (
        denting(
            on,
            warp=warp,
            width_cm=12.4,
            reed=Reed(),
            selvedge=Selvedge(ends_per_side=24, ends_per_dent=ends),
        )
        for ends in (None, 8)
    )
    assert open_order.selvedge_ends_per_dent == 8
    assert stated.ends_per_dent == open_order.ends_per_dent
    assert stated.dents_per_10cm == open_order.dents_per_10cm


def test_a_wire_share_by_which_a_reed_is_warned_of_has_another_chosen() -> None:
    # Two ends of 0.167 mm in a dent of 0.67 mm: with 70 % wire the gap is 0.2 mm.
    sett, none = threads(31.5), Selvedge(ends_per_side=0)
    thin, thick = (
        denting(warp=sett, reed=Reed(wire_share_pct=share), selvedge=none) for share in (30.0, 70.0)
    )
    assert thin.ends_per_dent == 2
    assert thick.ends_per_dent > 2


def of_cotton(tex: float, per_cm: float, notation: str) -> Denting:
    warp = threads(per_cm, yarns={"A": Yarn(linear_density_tex=tex, fibre="cotton")})
    return denting(warp=warp, weave=named(notation), reed=Reed())


@pytest.mark.parametrize(
    ("tex", "per_cm", "notation", "per_dent"),
    [(84.0, 26.6, "3/1 twill", 4), (30.0, 36.0, "2/1 twill", 3), (14.8, 38.0, "plain", 2)],
)
def test_coarse_warps_get_fewer_dents_and_a_repeat_comes_out_in_them(
    tex: float, per_cm: float, notation: str, per_dent: int
) -> None:
    assert of_cotton(tex, per_cm, notation).ends_per_dent == per_dent


# Two in a dent need 19.95, 20.1, 239.5 and 240.5 dents/10 cm; usual reeds have 20 to 240.
@pytest.mark.parametrize(
    ("tex", "per_cm", "per_dent"),
    [(20.0, 4.19, 1), (20.0, 4.22, 2), (5.0, 50.3, 2), (5.0, 50.5, 4)],
)
def test_two_ends_share_a_dent_of_a_usual_reed(tex: float, per_cm: float, per_dent: int) -> None:
    assert of_cotton(tex, per_cm, "plain").ends_per_dent == per_dent


@pytest.mark.parametrize(
    ("cloth", "tex", "per_cm", "notation", "usual"),
    [
        ("percale", 16.4, 44.0, "plain", {2}),
        ("duck", 118.1, 19.0, "plain", {2}),
        ("poplin", 14.8, 52.4, "plain", {2, 4}),
        ("denim", 84.4, 26.0, "3/1 twill", {3, 4}),
        ("drill", 36.9, 37.0, "3/1 twill", {3, 4}),
        ("gabardine", 29.5, 44.0, "2/1 twill", {3, 4}),
        ("satin", 9.8, 60.0, "5-end satin move 2", {3, 4, 5}),
    ],
)
def test_ordinary_cloths_are_dented_as_mills_do(
    cloth: str, tex: float, per_cm: float, notation: str, usual: set[int]
) -> None:
    """What is usual is from memory; no table of dentings by cloth was found."""
    found = of_cotton(tex, per_cm, notation)
    assert found.ends_per_dent in usual, cloth
    assert found.air.knot_room_pct >= 100


PUBLISHED: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent.parent / "reference" / "reed_dentings.json").read_text("utf-8")
)
ONE_FEWER = {
    "F035": "a knot passes in dents of three already",
    "F045": "a check warns of six in a dent",
}


def denting_of(row: Mapping[str, Any]) -> Denting:
    """The denting that is chosen for a published cloth."""
    fibre = "worsted" if row["warp_fibre"] == "worsted wool" else row["warp_fibre"]
    return denting(
        warp=threads(
            1.05 * row["ends_per_inch_in_reed"] / 2.54,
            yarns={"A": Yarn(linear_density_tex=row["warp_tex"], fibre=fibre)},
        ),
        weave=named(row["weave"]),
        reed=Reed(),
    )


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row["cloth"])
def test_published_dentings(row: dict[str, Any]) -> None:
    found, printed = denting_of(row).ends_per_dent, row["ends_per_dent"]
    if row["id"] in ONE_FEWER:
        assert [found + 1] == printed
    else:
        assert found in printed


@pytest.mark.slow
@share_of_examples(0.5)
@given(trade_orders, trade_looms)
def test_no_denting_of_up_to_five_ends_gets_fewer_warnings_than_the_one_chosen(
    cloth: Construction, on: Loom
) -> None:
    def warned(ends_per_dent: int | None) -> tuple[float, list[CheckCode]]:
        dented = replace(cloth, reed=Reed(ends_per_dent=ends_per_dent))
        found = assess(dented, on, remedies=False)
        codes = [one.code for one in found.findings if one.severity != Severity.NOTE]
        return found.setup.ends_per_dent, [code for code in codes if code in OF_THE_DENTING]

    fewer, more = ENDS_PER_DENT_BAND
    ends, chosen = warned(None)
    for count in range(1, 6):
        _, other = warned(count)
        # What is in stock decides only between dentings that are about as usual.
        is_about = ends - fewer <= count <= ends + more
        compared = OF_THE_DENTING if is_about else OF_THE_DENTING - {CheckCode.REED_NOT_IN_STOCK}
        mine, others = (sum(code in compared for code in each) for each in (chosen, other))
        assert mine <= others


OF_THE_DENTING = {
    CheckCode.REED_AIR_SPACE,
    CheckCode.REED_ENDS_PER_DENT,
    CheckCode.REED_COUNT,
    CheckCode.REED_NOT_IN_STOCK,
}


def test_wires_follow_the_reed_and_a_stated_share_stays() -> None:
    # 20 % and 0.1 mm: of a pitch of 0.875 mm 31.4 %, of 1.75 mm 25.7 %.
    fine, coarse = denting(), denting(reed=Reed(ends_per_dent=4))
    assert (fine.air.wire_share_pct, coarse.air.wire_share_pct) == (31.4, 25.7)
    assert fine.air.fill_pct > coarse.air.fill_pct
    assert denting(reed=Reed(ends_per_dent=4, wire_share_pct=40.0)).air.wire_share_pct == 40.0


def test_the_assumed_share_of_the_wire_has_a_band_that_holds_the_published_one() -> None:
    assumed = report(construction(reed=Reed())).assumptions
    (line,) = (one for one in assumed if one.pointer == "/construction/reed/wire_share_pct")
    assert line.grade == "common_practice"
    assert line.band is not None
    assert (line.band.low, line.band.high) == pytest.approx((23.4, 39.4))
    at_120 = usual_wire_share_pct(120.0, share_of_pitch_pct=20.0, least_mm=0.1)
    # Examination key: 60 % of air.
    assert at_120 + WIRE_SHARE_BAND_POINTS == 40.0


def test_a_warp_is_rounded_to_whole_dents_and_repeats_with_what_that_changes() -> None:
    # 4471 ends at 24/cm, two in a dent: 4472, whole repeats of 2/2 twill too; of 20 colours 4480.
    odd = construction(width_cm=4471 / 24, weave=named("2/2 twill"))
    wide = loom(reed_width_cm=230.0)
    setup = report(odd, wide).setup
    assert (setup.total_ends, setup.dents) == (4471, 2236)
    assert (setup.whole_dents.total_ends, setup.whole_dents.ends_change) == (4472, 1)
    assert setup.whole_dents.dents == 2236
    assert setup.whole_dents.grey_width_cm == pytest.approx(4472 / 24, abs=1e-3)
    assert setup.whole_dents.ends_per_cm == pytest.approx(24 * 4472 / 4471, abs=1e-4)
    assert setup.whole_repeats is not None
    assert setup.whole_repeats.total_ends == 4472
    checked = replace(odd, warp=replace(odd.warp, order="10A 10B"))
    two = {"A": COTTON_20_TEX, "B": COTTON_20_TEX}
    checked = replace(checked, warp=replace(checked.warp, yarns=two))
    colours = report(checked, wide).setup.whole_repeats
    assert colours is not None
    assert (colours.total_ends, colours.ends_change) == (4480, 9)


def test_a_cloth_narrower_than_a_repeat_has_no_whole_one() -> None:
    narrow = construction(
        width_cm=10.0,
        warp=replace(
            threads(24.0),
            yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX},
            order="200A 200B",
        ),
    )
    on = loom(min_reed_width_cm=5.0, speed_curve=())
    assert report(narrow, on).setup.whole_repeats is None
    assert report(narrow, on).setup.whole_dents.ends_change == 0


def test_a_knot_that_does_not_pass_gets_the_denting_in_which_it_does() -> None:
    close = construction(warp=threads(45.0), reed=Reed(ends_per_dent=2))
    found = finding("reed.air_space", close)
    assert found is not None
    assert found.message_key == "reed.air_space.knot"
    to = found.message_values["ends_per_dent"]
    assert isinstance(to, int)
    again = replace(close, reed=Reed(ends_per_dent=to))
    assert severity("reed.air_space", again) is None


def test_an_end_alone_in_its_dent_has_to_go_through_the_gap() -> None:
    """Ends of 0.35 mm, one by one in gaps of 0.23 mm: nothing separates, and nothing passes."""
    denim = construction(
        warp=threads(26.0, yarns={"A": Yarn(designation="Ne 7", fibre="cotton")}),
        weave=named("3/1 twill Z"),
        reed=Reed(ends_per_dent=1),
    )
    found = finding("reed.air_space", denim)
    assert found is not None
    assert (found.severity, found.message_key) == ("warning", "reed.air_space.single")
    assert found.pointer == "/construction/reed/ends_per_dent"
    assert found.actual == pytest.approx(154, abs=1)
    assert severity("reed.air_space", replace(denim, reed=Reed(ends_per_dent=3))) is None
    assert "the wires press it flat" in found.message
    # A tape of 2.5 mm folds in a narrower gap.
    tape = Yarn(
        designation="111 tex",
        fibre="polypropylene tape",
        tape_width_mm=2.5,
        tape_thickness_mm=0.05,
    )
    sack = threads(4.3, yarns={"A": tape})
    cloth = construction(warp=sack, weft=sack, reed=Reed(ends_per_dent=1))
    assert report(cloth).setup.gap_fill_pct > 125
    assert severity("reed.air_space", cloth) is None


def test_a_warp_for_which_no_reed_has_room_is_said_to_be_woven_so() -> None:
    """The ends of webbing, 60 of 1100 dtex a cm, lie over one another in whatever reed."""
    polyester = {"A": Yarn(designation="1100 dtex", fibre="polyester filament")}
    webbing = construction(
        warp=threads(60.0, yarns=polyester), weave=named("2/2 twill Z"), reed=Reed()
    )
    found = finding("reed.air_space", webbing)
    assert found is not None
    assert found.message_key == "reed.air_space.in_any_reed"
    at_best = found.message_values["roomiest_pct"]
    assert isinstance(at_best, float)
    five = report(replace(webbing, reed=Reed(ends_per_dent=5))).setup
    assert at_best == pytest.approx(five.gap_fill_pct, rel=1e-3)
    assert at_best > 200


def test_where_no_denting_lets_a_knot_pass_none_is_proposed() -> None:
    dense = construction(
        warp=threads(115.0), weave=named("8-end satin move 3"), reed=Reed(ends_per_dent=5)
    )
    keys = [one.message_key for one in report(dense).findings]
    assert "reed.air_space.knot_in_any" in keys


def test_a_reed_may_be_counted_in_a_system_of_the_trade() -> None:
    # Stockport counts dents in 2 inches (C. P. Brooks, Cotton Manufacturing, 1892): 60 are 118.11.
    found = denting(reed=Reed(count=60.0, system="stockport", ends_per_dent=2))
    assert found.requested_dents_per_10cm == pytest.approx(60 / 5.08 * 10)


def test_the_report_gives_the_reed_in_every_counting_system() -> None:
    stated = construction(reed=Reed(count=60.0, system="stockport", ends_per_dent=2))
    counts = report(stated).setup.reed_counts
    assert counts["stockport"] == 60.0
    assert counts["metric"] == pytest.approx(118.11, abs=0.005)
    # 40 Stockport are 24 1/4 Bolton (C. P. Brooks, 1892), so 60 are 36.375.
    assert counts["bolton"] == pytest.approx(36.375)


def test_an_unknown_counting_system_is_pointed_at() -> None:
    with pytest.raises(InputError) as refused:
        denting(reed=Reed(count=60.0, system="furlong"))
    assert refused.value.faults[0].pointer == "/construction/reed/system"


def test_crammed_and_empty_dents_are_counted_as_dents() -> None:
    # J. T. Taylor, Cotton Weaving and Designing (1909): this stripe puts 71 ends in 25 dents.
    stripe = (4,) * 12 + (5, 0, 1, 0) * 3 + (5,)
    found = denting(warp=threads(71.0 / 2.5), reed=Reed(ends_in_dents=stripe))
    assert found.ends_per_dent == pytest.approx(71 / 25)
    assert found.fullest_dent == 5
    assert found.dents == pytest.approx(160 * 71 / 2.5 * 25 / 71, abs=25)


def test_an_empty_denting_is_refused_at_its_field() -> None:
    with pytest.raises(InputError) as refused:
        denting(reed=Reed(ends_in_dents=(0, 0)))
    assert refused.value.faults[0].pointer == "/construction/reed/ends_in_dents"


def test_selvedges_take_dents_of_their_own() -> None:
    found = denting(selvedge=Selvedge(ends_per_side=24, ends_per_dent=4))
    assert found.selvedge_dents == 6
    assert found.dents == 1920 + 2 * 6
    assert found.needed_dents_per_10cm == pytest.approx(10 * (1920 + 12) / 168)


def test_a_reed_in_stock_is_preferred_when_it_is_near() -> None:
    found = denting(loom(reeds_in_stock_dents_per_10cm=(100.0, 115.0)))
    assert (found.dents_per_10cm, found.from_stock) == (115.0, True)


def test_the_stock_decides_only_between_dentings_that_are_about_as_usual() -> None:
    """A shirting is drawn two in a dent, a fine twill two or three (from memory)."""
    # 228.57 ends in 10 cm: three in a dent fit 76 dents, two need 114, which are usual in plain.
    plain, on = construction(reed=Reed()), loom(reeds_in_stock_dents_per_10cm=(76.0,))
    assert denting(on, reed=Reed()).ends_per_dent == 2
    noted = finding("reed.not_in_stock", plain, on)
    assert noted is not None
    assert (noted.severity, noted.message_key) == ("note", "reed.not_in_stock.other_in_stock")
    assert (noted.message_values["ends_per_dent"], noted.message_values["other_dents"]) == (3, 76.0)
    assert noted.remedies[0]["to"] == 3
    # Of a 5-end satin no dent holds whole repeats: one end more is as usual.
    satin = denting(on, reed=Reed(), weave=named("5-end satin move 2"))
    assert (satin.ends_per_dent, satin.dents_per_10cm) == (3, 76.0)
    # Nothing in stock serves with any usual number of ends: that is a warning. So it is if five
    # would fit, which nobody draws into the dents of a plain cloth.
    for stock in (90.0, 46.0):
        assert severity(
            "reed.not_in_stock", plain, loom(reeds_in_stock_dents_per_10cm=(stock,))
        ) == ("warning")


def test_one_end_in_a_dent_counts_as_much_as_a_split_repeat_in_a_reed_to_buy() -> None:
    # One end in the reed in stock: a note, 50. Two split the repeat of five, in a reed that is not
    # in stock: 20 + 15 + 15. Of equal ones two are taken; three and more count from 60.
    found = denting(
        loom(reeds_in_stock_dents_per_10cm=(152.4,)),
        warp=threads(16.0, yarns={"A": Yarn(linear_density_tex=10.0, fibre="cotton")}),
        weave=named("5-end satin move 2"),
        reed=Reed(),
        selvedge=Selvedge(ends_per_side=0),
    )
    assert (found.ends_per_dent, found.from_stock) == (2, False)


def test_a_reed_that_is_not_in_stock_is_compared_with_other_ends_in_a_dent_too() -> None:
    jute = Yarn(designation="8 lb jute", fibre="jute")
    hessian = construction(
        warp=threads(4.3, yarns={"A": jute}),
        weft=threads(4.7, yarns={"A": jute}),
        reed=Reed(),
    )
    on = loom(reeds_in_stock_dents_per_10cm=(30.0, 40.0))
    found = finding("reed.not_in_stock", hessian, on)
    assert found is not None
    assert (found.severity, found.message_key) == ("warning", "reed.not_in_stock.needed_otherwise")
    # 4.3 / 1.05 ends/cm need 20.5 dents/10 cm of two and 41 of one: 40 loses 2.3 % of the sett.
    assert (found.actual, found.limit) == pytest.approx((43 / 1.05, 40.0), rel=2e-3)
    assert found.message_values["ends_per_dent"] == 1
    search = search_remedies(hessian, [on]).looms[0].remedies
    (remedy,) = (one for one in search if "reed.not_in_stock" in one["clears"])
    assert [change["to"] for change in remedy["changes"]] == [4.2, 1]


@given(
    ends_per_cm=st.floats(4, 80),
    ends_per_dent=st.integers(1, 5),
    panels=st.integers(1, 4),
    width_cm=st.floats(20, 45),
)
def test_every_end_is_in_a_dent(
    ends_per_cm: float, ends_per_dent: int, panels: int, width_cm: float
) -> None:
    cloth = construction(
        warp=threads(ends_per_cm),
        width_cm=width_cm,
        panels=panels,
        panel_gap_cm=2.0,
        reed=Reed(ends_per_dent=ends_per_dent),
    )
    wide = loom(reed_width_cm=400.0, min_reed_width_cm=10.0, speed_curve=())
    found = judge(cloth, wide)
    ground_ends = found.cloth.panels * found.cloth.ends.ground
    assert ground_ends <= found.denting.dents * ends_per_dent
    assert found.denting.dents * ends_per_dent < ground_ends + panels * ends_per_dent


def test_days_and_doffs_follow_the_calendar_and_the_roll() -> None:
    one_shift = loom(running=Running(efficiency_pct=88.0, hours_per_day=8.0))
    day, shift = report().rates, report(on=one_shift).rates
    assert shift.hours_for_order == day.hours_for_order
    assert shift.days_for_order == pytest.approx(3 * (day.days_for_order or 0))
    # pi/4 (55^2 - 15^2) cm^2 of cloth 0.5 mm thick are 439.8 m; 3000 m fill seven rolls.
    thick = replace(construction(), thickness_mm=0.5)
    assert report(thick).warp.cloth_roll_capacity_m == pytest.approx(439.8, abs=0.05)
    assert report(thick).warp.doffs == 7


def test_what_is_assumed_of_a_dent_can_be_stated() -> None:
    # 30.5 ends/cm in a reed of 5 dents/10 cm would be 61 ends in a dent.
    coarse = construction(warp=threads(32.0, crimp_pct=5.0), reed=Reed(dents_per_10cm=5.0))
    most = CONSTRUCTION_BOUNDS["/reed/ends_per_dent"].most
    answer = report(coarse)
    (assumed,) = (a for a in answer.assumptions if a.pointer.endswith("/reed/ends_per_dent"))
    assert assumed.value == most
    assert "reed.sett_mismatch" in {found.code for found in answer.findings}


@pytest.mark.slow
@given(constructions | trade_orders, looms() | trade_looms)
def test_every_number_that_is_assumed_of_an_order_can_be_stated(
    cloth: Construction, on: Loom
) -> None:
    try:
        answer = assess(cloth, on, remedies=False)
    except InputError:
        return
    for line in answer.assumptions:
        bounds = CONSTRUCTION_BOUNDS.get(line.pointer.removeprefix("/construction"))
        if bounds is not None and isinstance(line.value, int | float):
            assert line.value in bounds, line


def _stated_reed(width_cm: float, dents: float, in_dent: int | None = 2) -> Construction:
    return construction(
        warp=threads(32.0),
        width_cm=width_cm,
        reed=Reed(dents_per_10cm=dents, ends_per_dent=in_dent),
    )


def _errors(cloth: Construction) -> dict[str, Finding]:
    on = loom(min_reed_width_cm=120.0)
    found = {one.code.value: one for one in report(cloth, on).findings}
    return {code: one for code, one in found.items() if one.severity is Severity.ERROR}


@pytest.mark.slow
def test_ends_in_a_stated_reed_decide_the_width() -> None:
    # 5600 ends, 2 in a dent, in 14 dents per cm: 200 cm on a loom of 190 cm.
    wide = _errors(_stated_reed(175.0, 140.0))["width.reed_space"]
    assert wide.actual == pytest.approx(200.0)
    assert wide.rests_on == ()
    assert "5600 ends" in wide.message
    assert "140 dents/10 cm" in wide.message
    # 4000 ends in 18 dents per cm: 111 cm, under the least of 120 cm.
    narrow = _errors(_stated_reed(125.0, 180.0))["width.below_minimum"]
    assert narrow.actual == pytest.approx(4000 / 2 / 18)
    found = report(_stated_reed(175.0, 150.0))
    assert found.setup.reed_width_cm == pytest.approx(5600 / 2 / 15, abs=0.05)
    other = report(_stated_reed(160.0, 160.0))
    assert found.rates.speed_picks_per_min < other.rates.speed_picks_per_min


def test_an_assumed_denting_refuses_no_width() -> None:
    # 2.28 ends in a dent of 140 give the width ordered; 2 whole ones 192 cm.
    cloth = construction(warp=threads(30.5), width_cm=176.4, reed=Reed(dents_per_10cm=140.0))
    found = {one.code.value: one for one in report(cloth).findings}["width.reed_space"]
    assert found.severity is Severity.WARNING
    assert found.rests_on == ("/construction/reed/ends_per_dent",)


@pytest.mark.slow
@pytest.mark.parametrize("dents", [120.0, 140.0, 160.0, 200.0])
@pytest.mark.parametrize("in_dent", [2, None])
def test_columns_have_the_width_in_a_stated_reed(dents: float, in_dent: int | None) -> None:
    cloths = [_stated_reed(width, dents, in_dent) for width in (100.0, 150.0, 175.0)]
    cloths.append(construction(width_cm=170.0))
    judged = judge_columns(cloths, [loom()], numbers=["reed_width_cm", "speed_picks_per_min"])
    for place, cloth in enumerate(cloths):
        fit = judge(cloth, loom())
        assert judged.numbers["reed_width_cm"][place, 0] == fit.cloth.widths.reed_cm
        assert judged.numbers["speed_picks_per_min"][place, 0] == fit.speed_picks_per_min
