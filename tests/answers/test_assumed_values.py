"""What is only assumed rejects nothing: laws over random orders and looms, and what is answered."""

from __future__ import annotations

import random
from typing import Any

from answers.strategies import constructions, looms, trade_looms, trade_orders
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from stating import assumed, stated

from weavability.answers.validation import judge
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity
from weavability.checks.registry import observe, run_checks
from weavability.looms.fit import Fit
from weavability.looms.loom import Loom
from weavability.textiles.assumptions import Assumption
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError

Pair = tuple[Construction, Loom]
pairs = st.tuples(trade_orders, trade_looms) | st.tuples(constructions, looms())
seeds = st.integers(0, 2**32)

SAMPLES = 3

WHATEVER_IS_ASSUMED = frozenset({CheckCode.SETT_JAMMED})
"""Above 115 % of the jam no loom weaves, however thick the yarns may be in their bands."""


def fit_of(pair: Pair) -> Fit | None:
    try:
        return judge(*pair)
    except InputError:
        return None


def codes(fit: Fit, severity: Severity) -> set[CheckCode]:
    return {seen.code for seen in observe(fit) if seen.severity is severity}


def somewhere(line: Assumption, choose: random.Random) -> Any:
    """A value inside the band of an assumption, often at an end."""
    assert line.band is not None
    low, high = line.band.low, line.band.high
    value = choose.choice((low, high, choose.uniform(low, high)))
    return round(value) if isinstance(line.value, int) else value


@share_of_examples(2)
@given(pairs, seeds)
def test_no_value_inside_its_band_clears_an_error(pair: Pair, seed: int) -> None:
    fit = fit_of(pair)
    if fit is None:
        return
    errors = codes(fit, Severity.ERROR) - WHATEVER_IS_ASSUMED
    banded = [line for line in assumed(fit).values() if line.band is not None]
    choose = random.Random(seed)
    for _ in range(SAMPLES if errors else 0):
        values = [(line.pointer, somewhere(line, choose)) for line in banded]
        moved = fit_of(stated(*pair, values))
        if moved is not None:
            assert errors <= codes(moved, Severity.ERROR), values


@share_of_examples(2)
@given(pairs)
def test_an_error_that_rests_on_assumed_values_is_one_if_they_are_stated(pair: Pair) -> None:
    fit = fit_of(pair)
    if fit is None:
        return
    known = assumed(fit)
    found = list(run_checks(fit))
    for finding in found:
        if not finding.rests_on:
            continue
        assert finding.severity is Severity.WARNING
        assert finding.pointer == finding.rests_on[0]
        as_it_is = stated(*pair, [(at, known[at].value) for at in finding.rests_on])
        again = fit_of(as_it_is)
        assert again is not None
        after = list(run_checks(again))
        assert finding.code in {one.code for one in after if one.severity is Severity.ERROR}
        others = [{one.code for one in some} for some in (found, after)]
        assert others[0] == others[1]
