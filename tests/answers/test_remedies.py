"""Every remedy of a report, done as it says and validated again, clears what it names."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from typing import Any, Final

import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import COTTON_20_TEX, construction, loom, report, shedding, threads
from checks.test_limits import LIMITS, Limit
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.report import Report
from weavability.answers.validation import assess
from weavability.checks.finding import Remedy, Severity
from weavability.looms.loom import Band, Loom
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.construction import (
    Construction,
    DraftRequest,
    Joined,
    Layers,
    Stage,
    WarpGroup,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

IN_INCHES = frozenset({"/warp/ends_per_in", "/weft/picks_per_in", "/width_in", "/length_yd"})

# A request of which a remedy changes one field: whatever else it says, the change must be read.
ORDER: Final[dict[str, Any]] = {
    "warp": {"yarns": {"A": {"designation": "Ne 20"}}, "ends_per_cm": 32},
    "weft": {"yarns": {"A": {"designation": "Ne 20"}}, "picks_per_cm": 24},
    "weave": "plain",
    "width_cm": 150,
}
METRIC: Final = {
    "ends_per_in": "ends_per_cm",
    "picks_per_in": "picks_per_cm",
    "width_in": "width_cm",
    "length_yd": "length_m",
}


def with_remedy(remedy: Remedy) -> dict[str, Any]:
    order = deepcopy(ORDER)
    *parents, name = remedy["pointer"].split("/")[2:]
    part = order
    for parent in parents:
        part = part.setdefault(parent, {})
    part.pop(METRIC.get(name, ""), None)
    part[name] = remedy["to"]
    return order


# Orders at the edge of what a request may state.
setts = st.sampled_from((0.5, 0.51, 0.6, 0.62, 400.0, 480.0, 495.0, 500.0))
widths = st.sampled_from((1.0, 2.0, 2.6, 3000.0, 3546.0, 3555.0, 3556.0))


@st.composite
def edge_orders(draw: st.DrawFn) -> Construction:
    cloth = draw(constructions)
    return replace(
        cloth,
        width_cm=draw(widths),
        warp=replace(cloth.warp, threads_per_cm=draw(setts), crimp_pct=5.0),
        weft=replace(cloth.weft, threads_per_cm=draw(setts), crimp_pct=5.0),
        panels=1,
        stage=Stage.GREY,
    )


def followed(cloth: Construction, remedy: Remedy) -> Construction:
    """What a person does with a remedy: write every ``to`` at its ``pointer``."""
    for change in remedy["changes"]:
        cloth = written(cloth, change["pointer"], change["to"])
    return cloth


def written(cloth: Construction, pointer: str, to: Any) -> Construction:
    match pointer.split("/")[2:]:
        case ["warp" | "weft" as system, "ends_per_cm" | "picks_per_cm"]:
            return with_threads(cloth, system, threads_per_cm=to)
        case ["warp" | "weft" as system, "ends_per_in" | "picks_per_in"]:
            return with_threads(cloth, system, threads_per_cm=to / 2.54)
        case ["width_in"]:
            return replace(cloth, width_cm=to * 2.54)
        case ["length_yd"]:
            return replace(cloth, length_m=to * 0.9144)
        case ["warp", "beams"]:
            groups = tuple(WarpGroup(**{**g, "yarns": tuple(g["yarns"])}) for g in to or ())
            return with_threads(cloth, "warp", beams=groups)
        case ["warp" | "weft" as system, "order"]:
            return with_threads(cloth, system, order=to)
        case ["weft", "yarns"]:
            yarns = {key: Yarn(**yarn) for key, yarn in to.items()}
            return with_threads(cloth, "weft", yarns=yarns)
        case ["warp" | "weft" as system, "yarns", key, *rest]:
            yarns = getattr(cloth, system).yarns
            yarn = replace(yarns[key], **{rest[0]: to}) if rest else Yarn(**to)
            return with_threads(cloth, system, yarns={**yarns, key: yarn})
        case ["selvedge", "weave"]:
            weave = None if to is None else parse_weave(to)
            return replace(cloth, selvedge=replace(cloth.selvedge, weave=weave))
        case ["layers"]:
            return replace(cloth, layers=Layers(**{**to, "joined": Joined(to["joined"])}))
        case ["weave"]:
            return replace(cloth, weave=weave_of(to), weave_notes=())
        case ["draft"]:
            assert to is None
            return replace(cloth, draft=None)
        case ["draft", "threading"]:
            threading = to if isinstance(to, str) else tuple(to)
            return replace(cloth, draft=DraftRequest(threading=threading))
        case ["reed" | "selvedge" | "allowances" | "finishing" | "order" as part, name]:
            return replace(cloth, **{part: replace(getattr(cloth, part), **{name: to})})
        case ["width_cm" | "length_m" | "panels" | "requested_speed_picks_per_min" as name]:
            return replace(cloth, **{name: to})
        case other:
            raise AssertionError(f"a remedy changes {other}")


def weave_of(to: Any) -> Weave:
    if isinstance(to, str):
        return parse_weave(to)
    if "rows" in to:
        return Weave.from_rows(to["rows"])
    return striped_weave(
        [Stripe(weave=weave_of(each["weave"]), ends=each["ends"]) for each in to["stripes"]]
    )


def with_threads(cloth: Construction, system: str, **fields: Any) -> Construction:
    return replace(cloth, **{system: replace(getattr(cloth, system), **fields)})


def codes(report: Report, *severities: Severity) -> set[str]:
    return {f.code for f in report.findings if not severities or f.severity in severities}


def uncleared(remedy: Remedy, after: Report) -> set[str]:
    """The codes that a remedy names and a report has, but for notes that it says it leaves."""
    heavier = codes(after, Severity.ERROR, Severity.WARNING)
    noted = codes(after, Severity.NOTE) - set(remedy["leaves_notes"])
    assert set(remedy["leaves_notes"]) <= set(remedy["clears"])
    return set(remedy["clears"]) & (heavier | noted)


def hold_to_it(cloth: Construction, on: Loom, before: Report) -> int:
    """Follow every remedy of a report; return how many there were."""
    remedies = [remedy for found in before.findings for remedy in found.remedies]
    for remedy in remedies:
        after = assess(followed(cloth, remedy), on, remedies=False)
        assert not uncleared(remedy, after), remedy
        assert codes(after, Severity.ERROR) <= codes(before, Severity.ERROR), remedy
        assert set(remedy["leaves_warnings"]) <= codes(after, Severity.WARNING), remedy
        assert set(remedy["leaves_warnings"]).isdisjoint(remedy["clears"]), remedy
    for found in before.findings:
        for remedy in found.remedies:
            assert found.code in (*remedy["clears"], *remedy["leaves_warnings"])
    return len(remedies)


def sides(limit: Limit) -> list[tuple[Construction, Loom]]:
    return [
        (construction(**limit.inside), limit.inside_loom or loom()),
        (construction(**limit.outside), limit.outside_loom or loom()),
    ]


@pytest.mark.slow
@pytest.mark.parametrize("inch_fields", [frozenset(), IN_INCHES], ids=["metric", "inches"])
@pytest.mark.parametrize("limit", LIMITS, ids=str)
def test_a_remedy_keeps_its_word(limit: Limit, inch_fields: frozenset[str]) -> None:
    for cloth, on in sides(limit):
        stated = replace(cloth, inch_fields=inch_fields)
        hold_to_it(stated, on, assess(stated, on))


@pytest.mark.slow
@share_of_examples(0.6)
@given(trade_orders, trade_looms)
def test_a_remedy_keeps_its_word_whatever_is_ordered(cloth: Construction, on: Loom) -> None:
    hold_to_it(cloth, on, assess(cloth, on))


@pytest.mark.slow
@share_of_examples(0.5)
@given(constructions | edge_orders() | trade_orders, looms() | trade_looms)
def test_a_remedy_can_be_sent_as_an_order(cloth: Construction, on: Loom) -> None:
    try:
        report = assess(cloth, on)
    except InputError:
        return
    for remedy in (remedy for found in report.findings for remedy in found.remedies):
        metric = remedy["pointer"].removeprefix("/construction")
        for inch, per_cm in METRIC.items():
            metric = metric.replace(inch, per_cm)
        to = remedy["to"]
        if isinstance(to, int | float) and metric in CONSTRUCTION_BOUNDS:
            bounds = CONSTRUCTION_BOUNDS[metric]
            inches = remedy["pointer"].endswith(("_in", "_yd"))
            assert to in (bounds.in_inches() if inches else bounds)
        if "/yarns/" not in metric and metric != "/warp/beams":  # of yarns of its own order
            ConstructionSchema().read(with_remedy(remedy))


# Codes for which a small change of the order helps; each is tried on its own failing case.
@pytest.mark.slow
@pytest.mark.parametrize(
    "code",
    [
        "width.reed_space",
        "reed.not_in_stock",
        "reed.sett_mismatch",
        "reed.ends_per_dent",
        "sett.jammed",
        "sett.tight",
        "sett.open",
        "weave.draft_mismatch",
        "insertion.rate_exceeded",
        "insertion.speed_exceeded",
        "insertion.shedding_speed",
        "picks.out_of_range",
        "colour.warp_remainder",
    ],
)
@pytest.mark.parametrize("inch_fields", [frozenset(), IN_INCHES], ids=["metric", "inches"])
def test_what_a_small_change_would_clear_has_a_remedy(
    code: str, inch_fields: frozenset[str]
) -> None:
    cases = [sides(limit)[1] for limit in LIMITS if limit.code == code]
    reports = [assess(replace(cloth, inch_fields=inch_fields), on) for cloth, on in cases]
    found = [one for report in reports for one in report.findings if one.code == code]
    assert any(one.remedies for one in found)


def the_remedies(cloth: Construction, code: str, on: Loom | None = None) -> tuple[Remedy, ...]:
    (found,) = (one for one in report(cloth, on).findings if one.code == code)
    return found.remedies


def test_a_few_ends_too_many_are_taken_out_at_the_sides() -> None:
    # 4272 ends at 5 % of crimp need 186.9 cm in the reed; 186.5 take 4263, or 4262 alike.
    wide, on = construction(width_cm=178.0), loom(reed_width_cm=186.5)
    first = the_remedies(wide, "width.reed_space", on)[0]
    assert (first["pointer"], first["to"]) == ("/construction/width_cm", 177.6)  # 4262 / 24
    assert first["message"].startswith("Take the 10 outer ends out, 5 at each side: ")
    # 4 straight shafts have 1068 healds each; those that hold 1060 hold 4240 of the ends.
    few = loom(shedding=shedding(shafts=4, max_healds_per_shaft=1060))
    first = the_remedies(wide, "shedding.healds_per_shaft", few)[0]
    assert first["message"].startswith("Take the 32 outer ends out, 16 at each side: ")
    # A hundred ends are another cloth.
    much = the_remedies(wide, "width.reed_space", loom(reed_width_cm=180.0))
    assert not any("outer ends" in one["message"] for one in much)


def test_a_remedy_in_inches_reads_as_the_shop_floor_writes_it() -> None:
    # 66.14 in of cloth at 5 % weft crimp are 69.45 in (176.4 cm) wide in the reed; 62.99 in fit
    # its 168 cm, and the shop floor writes quarters.
    wide = construction(width_cm=168.0, inch_fields=frozenset({"/width_in"}))
    (remedy,) = the_remedies(wide, "width.reed_space", loom(reed_width_cm=168.0))
    assert remedy["pointer"] == "/construction/width_in"
    assert remedy["from"] == pytest.approx(66.141732)
    assert remedy["to"] == 62.75
    assert remedy["changes"][0]["step"] == 0.25
    assert remedy["unit"] == "in"
    assert remedy["message"] == "Weave it 62.75 in wide."


def test_a_remedy_in_threads_per_inch() -> None:
    close = construction(weft=threads(22.0), inch_fields=frozenset({"/weft/picks_per_in"}))
    on = loom(picks_per_cm=Band(min=4.0, max=21.0))
    (remedy,) = the_remedies(close, "picks.out_of_range", on)
    assert remedy["pointer"] == "/construction/weft/picks_per_in"
    assert remedy["from"] == pytest.approx(55.88)
    assert remedy["to"] == 53.25  # 53.34 in quarters


def test_no_remedy_makes_another_cloth() -> None:
    on = loom(picks_per_cm=Band(min=4.0, max=10.0))
    assert the_remedies(construction(), "picks.out_of_range", on) == ()


@pytest.mark.parametrize("inch_fields", [frozenset(), IN_INCHES], ids=["metric", "inches"])
def test_no_remedy_is_wider_than_an_order_may_be(inch_fields: frozenset[str]) -> None:
    # 3555 ends are nearly 7 repeats of 509, which would be 3563 cm wide; 6 are 3054 cm. No reed is
    # as wide as that, and what is too wide is made no wider: 5 are 2545 cm.
    stripe = threads(1.0, yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX}, order="508A 1B")
    for width_cm, to in ((3555.0, 3054.0), (3000.0, 2545.0)):
        cloth = construction(warp=stripe, width_cm=width_cm, inch_fields=inch_fields)
        remedy, *_ = the_remedies(cloth, "colour.warp_remainder")
        assert remedy["to"] == (round(to / 2.54, 1) if inch_fields else to)
