"""A trial that takes from its order what its change leaves finds what a fresh one finds."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, Final

import pytest
from answers.strategies import constructions, looms
from builders import construction as cloth
from builders import loom
from hypothesis import assume, given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.field_changes import changed, one_field
from weavability.answers.validation import judge
from weavability.checks.facts import Facts, facts_of
from weavability.checks.registry import observe, observe_altered, observe_pair
from weavability.checks.trial_facts import Trial
from weavability.looms.fit import Fit
from weavability.looms.fit_numbers import FitNumbers
from weavability.looms.loom import Loom
from weavability.looms.order_numbers import OrderNumbers
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.required_values import RequiredNumbers

CHANGES: Final[dict[str, st.SearchStrategy[Any]]] = {
    "/construction/requested_speed_picks_per_min": st.floats(50, 900),
    "/construction/width_cm": st.floats(20, 300),
    "/construction/panels": st.integers(1, 4),
    "/construction/warp/ends_per_cm": st.floats(5, 60),
    "/construction/weft/picks_per_cm": st.floats(5, 60),
    "/construction/reed/dents_per_10cm": st.floats(40, 200),
    "/construction/reed/ends_per_dent": st.integers(1, 6),
    "/construction/draft/threading": st.just("straight"),
    "/construction/draft": st.none(),
    "/construction/finishing/relaxation_pct": st.floats(0, 5),
    "/construction/allowances/size_pct": st.floats(0, 15),
    "/construction/weft/crimp_pct": st.floats(0, 20),
    "/construction/weave": st.sampled_from(("plain", "3/1 twill S", "8-end satin move 3")),
    "/construction/warp/yarns/A/sized": st.booleans(),
    "/construction/weft/yarns/A/designation": st.sampled_from(("Ne 40", "20 tex x 2")),
    "/construction/selvedge/ends_per_side": st.integers(0, 40),
    "/construction/selvedge/weave": st.sampled_from(("plain", "2/2 weft rib")),
    "/construction/length_m": st.floats(100, 10_000),
}
"""Fields that a remedy changes, and three more on which other parts of an order depend."""


@pytest.mark.slow
@pytest.mark.parametrize("pointer", CHANGES)
@share_of_examples(0.1)
@given(st.data(), constructions, looms())
def test_the_order_lends_only_what_the_change_leaves(
    pointer: str, data: st.DataObject, construction: Construction, loom: Loom
) -> None:
    fit, other = _changed(pointer, data, construction, loom)
    assert _found(other, fit) == _found(other, fit, lender=fit)


# Of what they are not named to alter, no rule is applied anew.
@pytest.mark.slow
@pytest.mark.parametrize("pointer", CHANGES)
@share_of_examples(0.1)
@given(st.data(), constructions, looms())
def test_a_change_alters_no_number_but_those_that_are_named(
    pointer: str, data: st.DataObject, construction: Construction, loom: Loom
) -> None:
    fit, other = _changed(pointer, data, construction, loom)
    facts = facts_of(fit)
    try:
        trial = Trial(other, fit.limits, fit, facts)
        pair = trial.pair()
    except InputError:
        return
    if pair is None or trial.altered is None:
        return
    for part in fields(Facts):
        before, after = getattr(facts, part.name), getattr(pair.facts, part.name)
        for each in fields(type(before)):
            if each.name not in trial.altered:
                assert getattr(after, each.name) == getattr(before, each.name), each.name


def _changed(
    pointer: str, data: st.DataObject, construction: Construction, loom: Loom
) -> tuple[Fit, Construction]:
    """A cloth on a loom, and the same cloth with another value of a field."""
    try:
        fit = judge(construction, loom)
    except InputError:
        assume(False)
    stated = replace(construction, inch_fields=frozenset())
    other = changed(stated, one_field(pointer, data.draw(CHANGES[pointer]), ""))
    return fit, replace(other, inch_fields=construction.inch_fields)


# Two panels of 80 cm take 5 % more in the reed, and 4 cm lie between them: 2 x 84 + 4 cm.
def test_panels_stay_as_wide_in_the_reed_with_another_denting() -> None:
    two = cloth(width_cm=80.0, panels=2, panel_gap_cm=4.0)
    fit = judge(two, loom())
    other = changed(two, one_field("/construction/reed/ends_per_dent", 3, ""))
    pair = Trial(other, fit.limits, fit).pair()
    assert pair is not None
    assert pair.facts.cloth.reed_width_cm == pytest.approx(172.0)


def _found(construction: Construction, fit: Fit, lender: Fit | None = None) -> object:
    """What a trial finds and from which numbers, or the faults for which it cannot be."""
    try:
        facts = None if lender is None else facts_of(lender)
        trial = Trial(construction, fit.limits, lender, facts)
        pair = trial.pair()
    except InputError as error:
        return error.faults
    if pair is None:
        return None
    facts = pair.facts
    # The numbers of a trial are computed as they are read, and compared one by one.
    of_fit = [getattr(facts.fit, each.name) for each in fields(FitNumbers)]
    of_cloth = [getattr(facts.cloth, each.name) for each in fields(ClothNumbers)]
    of_order = [
        getattr(facts.order, each.name)
        for each in fields(OrderNumbers)
        if each.name != "requirements"
    ]
    required = [
        [getattr(one, each.name) for each in fields(RequiredNumbers)]
        for one in facts.order.requirements
    ]
    altered = trial.altered
    found = observe_pair(pair) if altered is None else observe_altered(pair, observe(fit), altered)
    return found, of_order, required, of_fit, of_cloth, facts.weave, pair.symbols.assumed
