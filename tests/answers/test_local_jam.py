"""A cloth jams where its threads are closest: stripes, figures and crammed dents."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from answers.strategies import trade_orders
from builders import construction, finding, loom, named, report, severity, shedding, threads
from hypothesis import given
from hypothesis import strategies as st

from weavability.checks.finding import Verdict
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import Construction, Finish, Finishing, Reed, Stage
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

NE_40 = {"A": Yarn(designation="Ne 40", fibre="cotton")}
ON = loom(shedding=shedding(max_healds_per_cm_per_shaft=40.0, max_healds_per_shaft=10_000))


def shirting(weave: Weave, **changes: Any) -> Construction:
    """Ne 40, 60 ends and 44 picks per cm."""
    close = {"warp": threads(60.0, yarns=NE_40), "weft": threads(44.0, yarns=NE_40)}
    return construction(**close | {"weave": weave, "length_m": None} | changes)


def striped(*stripes: tuple[str, int]) -> Weave:
    return striped_weave([Stripe(weave=named(name), ends=ends) for name, ends in stripes])


PLAIN_AND_SATIN = striped(("plain", 40), ("8-end satin move 3", 40))


def test_a_stripe_of_plain_jams_as_plain_does() -> None:
    plain = report(shirting(named("plain")), ON)
    satin = report(shirting(named("8-end satin move 3")), ON)
    both = report(shirting(PLAIN_AND_SATIN), ON)
    assert plain.cloth.tightness_pct == pytest.approx(121.0, abs=0.5)
    assert satin.cloth.tightness_pct == pytest.approx(86.1, abs=0.5)
    assert both.cloth.tightness_pct == pytest.approx(plain.cloth.tightness_pct)
    assert both.verdict is Verdict.NOT_WEAVABLE
    assert severity("sett.jammed", shirting(PLAIN_AND_SATIN), ON) == "error"


def test_the_average_of_the_cloth_is_reported_beside_its_tightest_square() -> None:
    cloth = report(shirting(PLAIN_AND_SATIN), ON).cloth
    assert cloth.mean_tightness_pct == pytest.approx(100.6, abs=0.05)
    square = cloth.tightest_square
    assert square is not None
    assert 1 <= square.first_end <= square.last_end <= 40
    assert (square.last_end - square.first_end, square.first_pick, square.last_pick) == (15, 1, 8)
    plain = report(shirting(named("plain")), ON).cloth
    assert plain.tightest_square is None
    assert plain.mean_tightness_pct == plain.tightness_pct


def test_a_message_says_where_the_threads_are_closest() -> None:
    found = finding("sett.jammed", shirting(PLAIN_AND_SATIN), ON)
    assert found is not None
    assert found.message_key == "sett.jammed.error_in_a_square"
    assert found.message.startswith(
        "Ends 9-24 and picks 1-8 of the repeat are set to 121 % of the jamming limit, the cloth on "
        "average to 101 %; this loom can beat up at most 105 %."
    )


@given(
    st.lists(
        st.tuples(
            st.sampled_from(("plain", "2/1 twill", "5-end satin move 2", "2/2 hopsack")),
            st.integers(1, 40),
        ),
        min_size=1,
        max_size=4,
    ),
    st.integers(1, 3),
)
def test_a_stripe_is_judged_alike_written_in_rows(
    stripes: list[tuple[str, int]], times: int
) -> None:
    weave = striped(*stripes)
    rows = Weave.from_rows([row * times for row in weave.rows])
    as_stripes, as_rows = cloth_facts(shirting(weave)), cloth_facts(shirting(rows))
    assert as_rows.setting == as_stripes.setting


@given(trade_orders, st.sampled_from(("warp", "weft")), st.floats(1.0, 2.0))
def test_a_closer_cloth_is_nowhere_looser(cloth: Construction, way: str, factor: float) -> None:
    threads_ = getattr(cloth, way)
    closer = replace(
        cloth, **{way: replace(threads_, threads_per_cm=threads_.threads_per_cm * factor)}
    )
    before, after = cloth_facts(cloth).setting, cloth_facts(closer).setting
    assert after.tightness_pct >= before.tightness_pct * (1 - 1e-9)


def test_an_open_cloth_is_one_that_is_open_on_average() -> None:
    # The plain stripe alone would hold; the cloth between the stripes slips.
    stripes = striped(("plain", 24), ("8-end satin move 3", 200))
    open_ = construction(weave=stripes, warp=threads(14.0), weft=threads(12.0))
    cloth = report(open_).cloth
    assert cloth.mean_tightness_pct < 35.0 < cloth.tightness_pct
    found = finding("sett.open", open_)
    assert found is not None
    assert found.actual == cloth.mean_tightness_pct


@pytest.mark.parametrize(
    ("ends", "picks", "said"),
    [
        (26.0, 26.0, None),
        # Picks 2.5 mm apart slip along the ends, however close those are.
        (40.0, 4.0, "/construction/weft/picks_per_cm"),
        (4.0, 40.0, "/construction/warp/ends_per_cm"),
        # Ends that touch clamp them.
        (62.0, 4.0, None),
    ],
)
def test_threads_slip_along_close_ones_too(ends: float, picks: float, said: str | None) -> None:
    order = construction(warp=threads(ends), weft=threads(picks))
    found = finding("sett.open", order)
    assert (found.pointer if found else None) == said
    if found:
        assert found.message_key == "sett.open.one_set"
        assert report(order).cloth.mean_tightness_pct > 60
        # The closer set counts 1.5 times as close as the other.
        as_close = construction(warp=threads(6.0), weft=threads(4.0))
        assert found.actual == pytest.approx(report(as_close).cloth.tightness_pct, rel=1e-5)


def test_a_percentage_near_its_limit_has_the_decimals_that_separate_them() -> None:
    order = construction(warp=threads(36.0), weft=threads(36.0))
    tightness_pct = report(order).cloth.tightness_pct
    found = finding("sett.jammed", order, loom(max_tightness_pct=round(tightness_pct - 0.03, 2)))
    assert found is not None
    assert "set to 104.2 % of the jamming limit; this loom can beat up at most 104.16 %" in (
        found.message
    )


# 12 dents of two ends and 4 of six hold three on average: where they are crammed, 24 ends side by
# side are set twice as close.
def test_crammed_dents_are_a_closer_sett() -> None:
    even = report(construction(weft=threads(24.0)))
    crammed = construction(weft=threads(24.0), reed=Reed(ends_in_dents=(2,) * 12 + (6,) * 4))
    cloth = report(crammed).cloth
    assert cloth.mean_tightness_pct == even.cloth.tightness_pct
    alone = report(construction(warp=threads(48.0), weft=threads(24.0))).cloth
    assert cloth.tightness_pct == pytest.approx(alone.tightness_pct, rel=1e-6)
    square = cloth.tightest_square
    assert square is not None
    assert 25 <= square.first_end < square.last_end <= 48
    assert report(construction(reed=Reed(ends_in_dents=(3, 1)))).cloth.tightest_square is None


DOUBLE_PLAIN = ("1000", "1110", "0010", "1011")
NE_30 = {"A": Yarn(designation="Ne 30", fibre="cotton")}


def stitched() -> Weave:
    """Two cloths of plain, one over the other, a back end raised over a face pick in 16 picks."""
    rows = [list(row * 4) for row in DOUBLE_PLAIN * 4]
    rows[0][1] = "1"
    return Weave.from_rows(["".join(row) for row in rows])


def double(weave: Weave, times: float = 1.0) -> Construction:
    """Twice 26 x 25 of Ne 30: each layer alone is set to 73 % of its jam."""
    return construction(
        warp=threads(52.0 * times, yarns=NE_30),
        weft=threads(50.0 * times, yarns=NE_30),
        weave=weave,
        length_m=None,
    )


@pytest.mark.slow
@pytest.mark.parametrize("weave", [stitched(), Weave.from_rows(DOUBLE_PLAIN)])
def test_threads_that_lie_over_one_another_are_not_judged_undeclared(weave: Weave) -> None:
    cloth = double(weave)
    assert report(cloth, ON).cloth.tightness_pct == pytest.approx(115.3, abs=1.0)
    found = finding("sett.not_judged", cloth, ON)
    assert found is not None
    assert found.severity == "warning"
    assert found.pointer == "/construction/layers"
    assert "layers" in found.message
    assert severity("sett.jammed", cloth, ON) is None
    assert severity("sett.not_judged", double(weave, 0.9), ON) is None


@pytest.mark.parametrize("name", ["plain", "2/2 hopsack", "2/2 weft rib", "3/3 warp rib"])
def test_threads_that_are_lifted_alike_lie_in_one_plane(name: str) -> None:
    cloth = shirting(named(name), warp=threads(90.0, yarns=NE_40), weft=threads(80.0, yarns=NE_40))
    assert severity("sett.jammed", cloth, ON) == "error"
    assert severity("sett.not_judged", cloth, ON) is None


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "ends", "picks"),
    [
        ("2/2 twill", 256.0, 43.3),
        ("2/2 twill", 90.0, 45.0),
        ("8-end satin", 90.0, 50.0),
        ("plain", 100.0, 30.0),
        ("plain", 200.0, 4.0),
        # All ends change sides in a gap, where the closest published rib takes 1.19 of its room.
        ("plain", 100.0, 15.0),
        # Seven of eight ends lie on one side, side by side in 1.38 of their room.
        ("8-end satin", 110.0, 25.0),
        ("honeycomb 8", 70.0, 60.0),
        ("honeycomb 8", 300.0, 280.0),
        ("5/3 steep twill Z move 2", 75.0, 75.0),
        # Far beyond the closest published rib, 119 %, and satin, 109 %, in full width.
        ("2/2 twill", 140.0, 20.0),
        ("3/1 twill", 120.0, 20.0),
        ("5-end satin", 110.0, 25.0),
        ("plain", 90.0, 18.0),
    ],
)
def test_an_ordinary_weave_beyond_its_jam_is_refused(name: str, ends: float, picks: float) -> None:
    cloth = shirting(named(name), warp=threads(ends, yarns=NE_40), weft=threads(picks, yarns=NE_40))
    assert report(cloth, ON).cloth.tightness_pct > 115
    assert severity("sett.jammed", cloth, ON) == "error"
    assert severity("sett.not_judged", cloth, ON) is None


def test_cloth_of_full_width_is_refused_as_such() -> None:
    close = shirting(
        named("2/2 twill"), warp=threads(140.0, yarns=NE_40), weft=threads(20.0, yarns=NE_40)
    )
    found = finding("sett.jammed", close, ON)
    assert found is not None
    assert found.message.startswith(
        "The ends side by side take 201 % of their room, more than the 120 % that cloth wider than "
        "30 cm is taken to have at most; this loom can beat up at most 105 %. Reduce ends"
    )
    # What the assumed packing of the yarn may be lets 122 % pass, and 119 % is a published rib.
    for ends, refused, left in ((85.0, "warning", None), (83.0, None, "warning")):
        rib = replace(close, warp=threads(ends, yarns=NE_40), weave=named("plain"))
        rib = replace(rib, weft=threads(14.0, yarns=NE_40))
        assert severity("sett.jammed", rib, ON) == refused
        assert severity("sett.not_judged", rib, ON) == left


@pytest.mark.parametrize("block", [16, 20, 64])
def test_two_cloths_that_change_places_are_not_judged_at_the_corners_either(block: int) -> None:
    face_up = double_rows(DOUBLE_PLAIN, block)
    back_up = double_rows(tuple(row[1::-1] + row[3:1:-1] for row in DOUBLE_PLAIN), block)
    back_up = tuple(back_up[place ^ 1] for place in range(block))
    beside = [a + b for a, b in zip(face_up, back_up, strict=True)]
    below = [b + a for a, b in zip(face_up, back_up, strict=True)]
    figured = double(Weave.from_rows(beside + below))
    assert report(figured, ON).cloth.tightness_pct == pytest.approx(115.3, abs=1.0)
    assert severity("sett.jammed", figured, ON) is None
    assert severity("sett.not_judged", figured, ON) == "warning"


def double_rows(rows: tuple[str, ...], block: int) -> tuple[str, ...]:
    return tuple(rows[pick % 4] * (block // 4) for pick in range(block))


def test_a_stripe_of_plain_between_two_double_cloths_is_refused_and_layers_are_named() -> None:
    stripes = [(Weave.from_rows(DOUBLE_PLAIN), 32), (named("plain"), 12)]
    between = striped_weave([Stripe(weave=weave, ends=ends) for weave, ends in stripes])
    found = finding("sett.jammed", double(between), ON)
    assert found is not None
    assert found.severity == "error"
    assert "declare their layers in layers" in found.message


def test_threads_lie_over_one_another_to_a_limit() -> None:
    double_plain = Weave.from_rows(DOUBLE_PLAIN)
    for times, refused in ((2.5, None), (2.7, "error")):  # 288 and 311 %
        assert severity("sett.jammed", double(double_plain, times), ON) == refused


@pytest.mark.parametrize(("stripe", "beside"), [(12, "8-end satin move 3"), (13, "6/2 twill Z")])
def test_a_stripe_of_plain_does_not_lie_over_the_weave_beside_it(stripe: int, beside: str) -> None:
    both = striped(("plain", stripe), (beside, 96 - stripe))
    assert severity("sett.jammed", shirting(both), ON) == "error"
    assert severity("sett.not_judged", shirting(both), ON) is None


def test_a_stripe_in_one_plane_is_judged_beside_threads_that_lie_over_one_another() -> None:
    # The double cloth passes every limit, but the plain beside it jams as well and is refused.
    double_plain = Weave.from_rows(DOUBLE_PLAIN)
    both = striped_weave(
        [Stripe(weave=named("plain"), ends=32), Stripe(weave=double_plain, ends=32)]
    )
    assert severity("sett.jammed", double(both), ON) == "error"


# A limit that is only assumed rejects nothing below 115 %, and the finding names the field.
def test_an_assumed_limit_warns_and_a_stated_one_rejects() -> None:
    percale = construction(warp=threads(41.0), weft=threads(36.0))
    stated, assumed = loom(max_tightness_pct=100.0), loom(max_tightness_pct=None)
    assert 110.0 < report(percale, assumed).cloth.tightness_pct < 115.0
    assert severity("sett.jammed", percale, stated) == "error"
    found = finding("sett.jammed", percale, assumed)
    assert found is not None
    assert found.severity == "warning"
    assert "max_tightness_pct" in found.message


# Milled linen of 24 x 22 is 119 % if it shrank by nothing, 101 % if by 15 % either way.
def test_a_jam_that_rests_on_an_assumed_shrinkage_warns_and_names_it() -> None:
    yarn = {"A": Yarn(designation="NeL 25", fibre="linen")}
    milled = construction(
        warp=threads(24.0, yarns=yarn),
        weft=threads(22.0, yarns=yarn),
        stage=Stage.FINISHED,
        finishing=Finishing(finish=Finish.MILLED),
        length_m=None,
    )
    found = finding("sett.jammed", milled, ON)
    assert found is not None
    assert found.severity == "warning"
    assert found.actual == pytest.approx(119, abs=0.5)
    assert "shrinkage" in found.message
    as_woven = replace(
        milled,
        finishing=Finishing(
            finish=Finish.MILLED, width_shrinkage_pct=0.0, length_shrinkage_pct=0.0
        ),
    )
    assert severity("sett.jammed", as_woven, ON) == "error"


def test_the_rules_of_setting_are_reported_beside_the_jam() -> None:
    # Ne 30 in 2/2 twill: 2^0.39 x sqrt(200 x 30) = 101.5 per inch, 39.96 per cm.
    twill = double(named("2/2 twill"), 0.8)
    cloth = report(twill, ON).cloth
    assert cloth.brierley_square_sett_per_cm == pytest.approx(39.962, abs=0.001)
    assert cloth.brierley_setting_use_pct == pytest.approx(100 * 0.8 * 50.99 / 39.962, abs=0.1)
    assert cloth.setting_disagreement is not None
    assert cloth.setting_disagreement.startswith("Too close by ")
    assert "but not by the jam (" in cloth.setting_disagreement
    assert report().cloth.setting_disagreement is None


@pytest.mark.slow
@pytest.mark.parametrize(
    ("weave", "fibre"), [("2/2 hopsack", "cotton"), ("5-end satin", "cotton"), ("plain", "linen")]
)
def test_brierleys_rule_is_for_cotton_in_plain_and_twill_only(weave: str, fibre: str) -> None:
    yarn = {"A": Yarn(designation="20 tex", fibre=fibre)}
    cloth = construction(
        weave=named(weave), warp=threads(24.0, yarns=yarn), weft=threads(22.0, yarns=yarn)
    )
    assert report(cloth).cloth.brierley_square_sett_per_cm is None
    assert report(cloth).cloth.brierley_setting_use_pct is None


@pytest.mark.parametrize("name", ["12/12 twill", "20-end satin move 7", "24-end satin move 5"])
def test_a_float_that_a_square_cuts_off_does_not_lie_over_its_neighbour(name: str) -> None:
    close = threads(90.0, yarns=NE_40)
    cloth = shirting(named(name), warp=close, weft=close)
    assert severity("sett.jammed", cloth, ON) == "error"
    assert severity("sett.not_judged", cloth, ON) is None


def taped(per_cm: float, width_mm: float = 2.5, thickness_mm: float | None = None) -> Construction:
    """A square sack cloth of polypropylene tapes of 1000 den, 2.5 mm wide."""
    yarn = Yarn(
        designation="1000 den",
        fibre="polypropylene tape",
        tape_width_mm=width_mm,
        tape_thickness_mm=thickness_mm,
    )
    system = threads(per_cm, crimp_pct=None, yarns={"A": yarn})
    return construction(warp=system, weft=system, reed=Reed())


class TestTapes:
    def test_they_jam_where_they_touch_and_their_edges_bend(self) -> None:
        # In square plain each room q = p - (w - t) is 0.866 x 2 t at the jam, so p = w + 0.732 t.
        tape = cloth_facts(taped(3.0)).warp.yarns["A"]
        assert tape.thickness_mm == pytest.approx(1000 / 9 / (1000 * 0.91 * 2.5), rel=1e-5)
        at_the_jam = 10 / (2.5 + (2 * math.sqrt(0.75) - 1) * tape.thickness_mm)
        assert report(taped(at_the_jam)).cloth.tightness_pct == pytest.approx(100, abs=0.001)

    def test_a_sack_cloth_of_ten_tapes_an_inch_is_closed(self) -> None:
        answer = report(taped(10 / 2.54))
        assert answer.cloth.tightness_pct == pytest.approx(99.83, abs=0.01)
        assert answer.cloth.warp_crimp_pct == 0.5
        assert not {"sett.open", "sett.jammed", "sett.warp_crowding"} & {
            each.code.value for each in answer.findings
        }

    def test_what_has_no_room_folds_and_is_not_judged(self) -> None:
        found = finding("sett.not_judged", taped(12 / 2.54))
        assert found is not None
        assert (found.message_key, found.severity) == ("sett.not_judged.tapes", "warning")
        assert severity("sett.jammed", taped(12 / 2.54)) is None

    def test_a_tape_as_thick_as_wide_is_a_round_yarn(self) -> None:
        round_ = Yarn(designation="1000 den", fibre="polypropylene", diameter_mm=0.4)
        system = threads(12.0, crimp_pct=None, yarns={"A": round_})
        alike = report(construction(warp=system, weft=system, reed=Reed())).cloth
        flat = report(taped(12.0, 0.4, 0.4)).cloth
        assert flat.tightness_pct == alike.tightness_pct
        assert flat.warp_crimp_pct == alike.warp_crimp_pct


def test_a_jam_of_threads_on_one_side_says_so() -> None:
    fine = {"A": Yarn(designation="Ne 40", fibre="cotton")}
    close = construction(
        warp=threads(110.0, crimp_pct=None, yarns=fine),
        weft=threads(25.0, crimp_pct=None, yarns=fine),
        weave=named("8-end satin"),
    )
    found = finding("sett.jammed", close, loom())
    assert found is not None
    assert "88 % of them lie on one side of the picks, where they take 138 %" in found.message
    assert "a looser weave" not in found.message
