"""Sentences of findings: a key, a template, and the values that it quotes."""

from __future__ import annotations

import re
from dataclasses import replace
from string import Formatter
from typing import Any

import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import COTTON_20_TEX, construction, finding, jacquard, loom, threads
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.validation import judge
from weavability.checks.codes import CheckCode
from weavability.checks.registry import all_checks, find_check, run_checks
from weavability.looms.loom import Loom
from weavability.service.openapi.message_list import patterns as known_patterns
from weavability.textiles.construction import Construction, PieceOrder, Reed
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn
from weavability_client import render

QUOTED = re.compile(r"\{[^}]*\}")
pairs = st.tuples(trade_orders, trade_looms) | st.tuples(constructions, looms())


def test_every_code_is_described_and_every_check_has_a_code() -> None:
    assert {info.code for info in all_checks()} == set(CheckCode)


def test_every_key_begins_with_its_code_and_names_one_sentence() -> None:
    keys = [(key, info.code) for info in all_checks() for key in info.messages]
    assert len({key for key, _ in keys}) == len(keys)
    assert all(key.rpartition(".")[0] == code for key, code in keys)


def test_a_sentence_quotes_its_figures_and_repeats_none() -> None:
    for template in (each for info in all_checks() for each in info.messages.values()):
        assert template.endswith((".", "{fault}")), template
        assert not re.search(r"\d", QUOTED.sub("", template).replace("/10 cm", "")), template


@pytest.mark.slow
@share_of_examples(1.5)
@given(pairs)
def test_a_sentence_is_its_template_filled_with_its_values(pair: tuple[Construction, Loom]) -> None:
    try:
        fit = judge(*pair)
    except InputError:
        return
    for found in run_checks(fit):
        info = find_check(found.code)
        assert info is not None
        template = info.messages[found.message_key]
        patterns = {**known_patterns(), found.message_key: template}
        assert found.message == render(patterns, found.message_key, found.message_values)
        names = {name for _, name, _, _ in Formatter().parse(template) if name}
        assert set(found.message_values) == names
        assert found.severity in info.severities


def test_less_than_one_repeat_of_the_warp_is_not_counted_in_repeats() -> None:
    both = {"A": COTTON_20_TEX, "B": COTTON_20_TEX}
    cloth = construction(warp=threads(24.0, yarns=both, order="2000A 3000B"))
    found = finding("colour.warp_remainder", cloth)
    assert found is not None
    assert found.message.startswith("3840 ends are less than one repeat of 5000. Centre")


def test_a_jacquard_is_written_as_a_name() -> None:
    on = jacquard(max_speed_picks_per_min=600.0)
    fast = construction(requested_speed_picks_per_min=9_000.0)
    found = finding("insertion.shedding_speed", fast, on)
    assert found is not None
    assert "; the Jacquard can run at up to " in found.message
    assert found.message.endswith(" picks/min.")


@pytest.mark.parametrize(("key", "named"), [("A", "Weft A"), ("weft", "Weft yarn")])
def test_a_yarn_that_is_called_weft_is_not_named_twice(key: str, named: str) -> None:
    thick = threads(5.0, yarns={key: Yarn(linear_density_tex=600.0, fibre="cotton")})
    found = finding("weft.linear_density", construction(weft=thick))
    assert found is not None
    assert found.message.startswith(f"{named} has ")
    assert found.message_values["weft"] == key


COUNTED = Reed(count=60.0, system="stockport", ends_per_dent=2)
UNEVEN = Reed(ends_in_dents=(6, 6, 7))
COARSE = Reed(dents_per_10cm=10.0)


@pytest.mark.parametrize(
    ("code", "changes", "field"),
    [
        ("sett.jammed", {"warp": threads(80.0)}, "warp/ends_per_cm"),
        ("sett.jammed", {"warp": threads(40.0), "weft": threads(40.0)}, "weft/picks_per_cm"),
        ("sett.tight", {"warp": threads(62.0), "weft": threads(2.0)}, "warp/ends_per_cm"),
        ("reed.sett_mismatch", {"reed": COUNTED}, "reed/count"),
        ("reed.ends_per_dent", {"reed": UNEVEN}, "reed/ends_in_dents"),
        ("reed.count", {"reed": COARSE}, "reed/dents_per_10cm"),
        ("reed.count", {"reed": Reed(ends_per_dent=20)}, "reed/ends_per_dent"),
        ("width.reed_space", {"reed": replace(COARSE, ends_per_dent=2)}, "reed/dents_per_10cm"),
        ("width.reed_space", {"width_cm": 200.0}, "width_cm"),
    ],
)
def test_a_finding_points_at_the_field_that_its_sentence_speaks_of(
    code: str, changes: dict[str, Any], field: str
) -> None:
    found = finding(code, construction(**changes))
    assert found is not None
    assert found.pointer == f"/construction/{field}", found.message
    if code == "sett.tight":
        assert "fewer ends" in found.message


def test_what_is_little_is_not_rounded_to_nothing_nor_an_excess_to_its_limit() -> None:
    # pi/4 (15.05^2 - 15^2) cm^2 of cloth 0.5 mm thick are 0.236 m.
    hair = loom(cloth_roll_diameter_cm=15.05)
    thick = construction(thickness_mm=0.5)
    in_pieces = replace(thick, length_m=None, order=PieceOrder(pieces=2, piece_length_m=50.0))
    for cloth in (thick, in_pieces):
        found = finding("order.piece_length", cloth, hair)
        assert found is not None
        assert found.message_values["roll_m"] == 0.24
        assert "holds 0.24 m" in found.message
    # Hardly thicker than the 125 % of the gap from which it is warned of.
    full = finding("reed.air_space", construction(warp=threads(35.98), reed=Reed(ends_per_dent=1)))
    assert full is not None
    assert full.severity == "warning"
    assert "is 125.3 % as thick" in full.message
