"""The sequence of orders on a loom: what it saves, what it leaves out, and how it is judged."""

from __future__ import annotations

from itertools import permutations

import pytest
from builders import construction, loom, named, threads

from weavability.answers import changeover
from weavability.answers.changeover import change_style
from weavability.answers.changeover_sequence import sequence_orders
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.style_change import RouteKind
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.construction import DraftRequest
from weavability.textiles.errors import InputError

PLAIN = construction(reference="plain", draft=DraftRequest(threading=(1, 2, 3, 4)))
TWILL = construction(reference="twill", weave=named("2/2 twill Z"))
SATIN = construction(reference="satin", weave=named("5-end satin move 2"))
RIB = construction(reference="rib", weave=named("2/2 warp rib"))
WIDE = construction(reference="wide", width_cm=400.0)


def test_what_needs_the_same_draft_is_woven_together() -> None:
    found = sequence_orders([TWILL, SATIN, PLAIN, RIB], loom())
    order = [each.reference for each in found.sequence]
    assert order.index("satin") in (0, 3)
    assert [each.route for each in found.sequence].count(RouteKind.DRAW_IN) == 1
    assert found.given_loom_stop_hours == pytest.approx(6 + 6 + 3 * 5 / 60)
    assert found.loom_stop_hours == pytest.approx(6 + 3 * 5 / 60)
    assert found.saved_hours == pytest.approx(6)


def test_every_change_is_the_one_that_is_planned_for_what_is_on_the_loom() -> None:
    found = sequence_orders([SATIN, TWILL], loom(), on_loom=RIB)
    assert [each.reference for each in found.sequence] == ["twill", "satin"]
    first, second = found.sequence
    assert first.loom_stop_hours == change_style(RIB, TWILL, loom()).loom_stop_hours
    assert second.loom_stop_hours == change_style(TWILL, SATIN, loom()).loom_stop_hours
    assert (first.draft_of, second.draft_of) == (None, 0)
    assert second.steps
    assert second.loom_stop_hours_band.low < second.loom_stop_hours


def test_the_hours_are_the_least_of_all_permutations() -> None:
    orders = [SATIN, PLAIN, TWILL, RIB, construction(warp=threads(20.0), reference="open")]
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
