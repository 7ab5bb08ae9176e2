"""The sequence of orders on a loom: what it saves, what it leaves out, and how it is judged."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from typing import Any

import pytest
from builders import construction, loom, named, threads

from weavability.answers import changeover
from weavability.answers.changeover import change_style
from weavability.answers.changeover_sequence import sequence_orders
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.style_change import RouteKind
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.construction import Construction, DraftRequest
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn


def order(reference: str, **changes: Any) -> Construction:
    """An order so short that one beam of the loom holds the warp of all of them."""
    return construction(**({"reference": reference, "length_m": 500.0} | changes))


PLAIN = order("plain", draft=DraftRequest(threading=(1, 2, 3, 4)))
TWILL = order("twill", weave=named("2/2 twill Z"))
SATIN = order("satin", weave=named("5-end satin move 2"))
RIB = order("rib", weave=named("2/2 warp rib"))
WIDE = construction(reference="wide", width_cm=400.0)


def test_what_needs_the_same_draft_is_woven_together() -> None:
    found = sequence_orders([TWILL, SATIN, PLAIN, RIB], loom())
    order = [each.reference for each in found.sequence]
    assert order.index("satin") in (0, 3)
    assert [each.route for each in found.sequence].count(RouteKind.DRAW_IN) == 1
    assert found.given_loom_stop_hours == pytest.approx(6 + 6 + 3 * 5 / 60)
    assert found.loom_stop_hours == pytest.approx(6 + 3 * 5 / 60)
    assert found.saved_hours == pytest.approx(6)
    # One gaiting-up, of 4 to 8 h; the lift plans are loaded either way.
    assert found.saved_hours_band == ValueBand(4.0, 8.0)


def test_every_change_is_the_one_that_is_planned_for_what_is_on_the_loom() -> None:
    found = sequence_orders([SATIN, TWILL], loom(), on_loom=RIB)
    assert [each.reference for each in found.sequence] == ["twill", "satin"]
    first, second = found.sequence
    assert first.loom_stop_hours == change_style(RIB, TWILL, loom()).loom_stop_hours
    assert second.loom_stop_hours == change_style(TWILL, SATIN, loom()).loom_stop_hours
    assert (first.draft_of, second.draft_of) == (None, 0)
    assert second.steps
    assert second.loom_stop_hours_band.low < second.loom_stop_hours


def test_an_order_that_comes_out_in_another_width_has_the_warning_that_its_change_has() -> None:
    unknown, fine = threads(22.0, crimp_pct=None), Yarn(designation="12 tex", fibre="cotton")
    coarse = order("coarse", weft=unknown)
    finer = order("finer", weft=replace(unknown, yarns={"A": fine}))
    (first,) = sequence_orders([finer], loom(), on_loom=coarse).sequence
    found = change_style(coarse, finer, loom())
    assert found.width is not None
    assert found.width.change_pct > 1.5
    assert first.verdict == found.new.verdict == "weavable_with_warnings"
    assert "reed.sett_mismatch" in first.codes.warnings
    assert first.codes.errors == ()


@pytest.mark.slow
def test_the_hours_are_the_least_of_all_permutations() -> None:
    orders = [SATIN, PLAIN, TWILL, construction(warp=threads(20.0), reference="open")]
    found = sequence_orders(orders, loom(), on_loom=TWILL)
    hours = [
        sequence_orders(list(order), loom(), on_loom=TWILL).given_loom_stop_hours
        for order in permutations(orders)
    ]
    assert found.loom_stop_hours == pytest.approx(min(hours))
    assert max(hours) > min(hours)


def test_the_matrix_is_of_each_cloth_on_its_own_draft() -> None:
    """Plain on the draft that satin leaves fails; on its own it is two minutes from twill."""
    found = sequence_orders([TWILL, SATIN], loom(), on_loom=PLAIN)
    rows = {row.reference: row.loom_stop_hours for row in found.matrix}
    assert set(rows) == {"plain", "twill", "satin"}
    assert rows["twill"][0] == 0
    assert rows["twill"][1] == change_style(TWILL, SATIN, loom()).loom_stop_hours
    assert rows["plain"][0] == change_style(PLAIN, TWILL, loom()).loom_stop_hours
    assert "on its own draft" in found.matrix_holds


def test_an_order_that_cannot_be_woven_is_left_out_with_its_findings() -> None:
    found = sequence_orders([WIDE, TWILL], loom())
    (left,) = found.not_weavable
    assert (left.index, left.reference) == (0, "wide")
    assert "/orders/0/width_cm" in {each.pointer for each in left.findings}
    assert [each.index for each in found.sequence] == [1]
    assert [row.loom_stop_hours for row in found.matrix] == [(None, 0.0)]


def test_nothing_is_set_up_if_no_order_can_be_woven() -> None:
    found = sequence_orders([WIDE], loom())
    assert (found.sequence, found.loom_stop_hours, found.saved_hours) == ((), 0, 0)


def test_the_first_order_needs_no_change_if_nothing_is_on_the_loom() -> None:
    found = sequence_orders([TWILL], loom())
    (only,) = found.sequence
    assert (only.route, only.steps, only.loom_stop_hours) == (None, (), 0)


def test_each_order_is_judged_once(monkeypatch: pytest.MonkeyPatch) -> None:
    judged: list[Fit] = []

    def counted(cloth: ClothFacts, limits: LoomLimits) -> Fit:
        judged.append(fit_cloth(cloth, limits))
        return judged[-1]

    monkeypatch.setattr(changeover, "fit_cloth", counted)
    sequence_orders([TWILL, SATIN, PLAIN, TWILL], loom(), on_loom=RIB)
    assert len(judged) == 4  # the second twill is the same object


def test_the_faults_of_all_orders_come_in_one_answer() -> None:
    wrong = construction(warp=threads(24.0, order="7Q"))
    with pytest.raises(InputError) as refused:
        sequence_orders([wrong, TWILL, construction(weft=threads(22.0, order="7Q"))], loom())
    assert [fault.pointer for fault in refused.value.faults] == [
        "/orders/0/warp/order",
        "/orders/2/weft/order",
    ]


class TestWarpIsUsedUp:
    """20 tex, 3840 ends: a beam of the loom takes about 8.1 km of it. Worked by hand."""

    def test_three_long_orders_of_one_warp_do_not_follow_one_another_for_nothing(self) -> None:
        """6000 m take 6300 m of warp at 5 % of crimp: 18 900 m, and so three beams."""
        long = [order(name, length_m=6000.0) for name in ("a", "b", "c")]
        found = sequence_orders(long, loom())
        assert [each.route for each in found.sequence] == [None, "tie_in", "tie_in"]
        first, second, third = found.sequence
        assert second.loom_stop_hours == pytest.approx(0.25 + 3840 / 6000 + 3840 / 1250, rel=1e-4)
        assert first.warp is None
        assert second.warp is not None
        assert third.warp is not None
        assert third.warp.left_m == second.warp.left_after_m
        assert not second.warp.kept
        assert [step.step for step in second.steps] == ["weave_out", "tie_in"]
        assert second.loom_stop_hours_at_start == 0
        assert "tie 3840 ends of a new beam" in second.steps[1].message

    def test_what_is_left_serves_a_short_order_first(self) -> None:
        """The rest of the beam of a is enough for c, and not for b."""
        a, b, c = (order(name, length_m=m) for name, m in (("a", 4e3), ("b", 4e3), ("c", 200.0)))
        found = sequence_orders([b, c], loom(), on_loom=a)
        as_stated = sequence_orders([b, c], loom(), on_loom=a, warp_left_m=50.0)
        assert [each.route for each in found.sequence] == ["tie_in", "keep"]
        assert {"/warp_left_m"} == {
            line.pointer for line in found.assumptions if line.pointer == "/warp_left_m"
        }
        assert "/warp_left_m" not in {line.pointer for line in as_stated.assumptions}
        assert as_stated.sequence[0].warp is not None
        assert as_stated.sequence[0].warp.left_m == 50

    def test_the_further_warps_of_a_long_order_are_counted(self) -> None:
        """10 000 m take two fillings: one is on the loom, or comes with the change, one further."""
        long = order("long", length_m=10_000.0)
        knots = 0.25 + 3840 / 6000 + 3840 / 1250
        found = sequence_orders([long, SATIN], loom())
        assert [each.further_warps_hours for each in found.sequence] == [
            pytest.approx(knots if each.reference == "long" else 0.0, rel=1e-4)
            for each in found.sequence
        ]
        assert found.further_warps_hours == pytest.approx(knots, rel=1e-4)
        assert found.given_further_warps_hours == found.further_warps_hours
        assert found.further_warps_hours_band.low < knots < found.further_warps_hours_band.high
        alone = change_style(SATIN, long, loom())
        after = sequence_orders([long], loom(), on_loom=SATIN).sequence[0]
        assert after.further_warps_hours == alone.further_warps_hours

    def test_the_findings_on_what_is_on_the_loom_are_reported(self) -> None:
        found = sequence_orders([TWILL], loom(), on_loom=WIDE)
        assert "/on_loom/width_cm" in {each.pointer for each in found.findings_on_loom}


def test_the_work_away_from_the_loom_has_a_band() -> None:
    found = sequence_orders([SATIN], loom(), on_loom=TWILL)
    (first,) = found.sequence
    (away,) = (step for step in first.steps if not step.stops_loom)
    assert away.hours_band.low < away.hours < away.hours_band.high
    assert first.off_loom_hours_band == found.off_loom_hours_band == away.hours_band
    assert change_style(TWILL, SATIN, loom()).off_loom_hours_band == away.hours_band
