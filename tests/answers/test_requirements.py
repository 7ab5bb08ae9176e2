"""What the customer requires: bands, severities, what to state, and remedies that meet it."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest
from answers.strategies import plain_trade_orders, requirements
from answers.test_assumed_values import somewhere
from answers.test_remedies import followed
from builders import construction, loom, report, threads, weave
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from reference.compared import read
from stating import assumed, stated

from weavability.answers.finding_remedies import STATE_FIRST
from weavability.answers.remedy_search import search_remedies
from weavability.answers.report import Report
from weavability.answers.requirement_summary import requirement_summaries
from weavability.answers.validation import assess, judge
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.checks.registry import observe
from weavability.looms.fit import Fit
from weavability.looms.loom import BeamArrangement
from weavability.textiles.construction import (
    Construction,
    Finishing,
    RequiredRange,
    Requirements,
    Stage,
    WarpGroup,
)
from weavability.textiles.errors import InputError
from weavability.textiles.required_values import required_of
from weavability.textiles.yarns import Yarn

WIDE = loom(reed_width_cm=260.0)
STATED = Yarn(designation="20 tex", fibre="cotton", diameter_mm=0.2)
FINISHING = replace(construction().finishing, mass_change_pct=0.0)


def cloth(required: dict[str, Any] | None = None, **changes: Any) -> Construction:
    """A cloth of which all that decides about its figures is stated: 96.6 g/m², 160 cm wide."""
    plain = {
        "warp": threads(24.0, yarns={"A": STATED}),
        "weft": threads(22.0, yarns={"A": replace(STATED, fibre="polyester")}),
        "thickness_mm": 0.3,
        "finishing": FINISHING,
        "requirements": Requirements(**(required or {})),
    }
    return construction(**{**plain, **changes})


def between(low: float | None = None, high: float | None = None) -> RequiredRange:
    return RequiredRange(min=low, max=high)


def fit_of(order: Construction) -> Fit | None:
    try:
        return judge(order, loom())
    except InputError:
        return None


required_orders = st.builds(
    lambda order, required: replace(order, requirements=required), plain_trade_orders, requirements
)


@pytest.mark.slow
@share_of_examples(0.5)
@given(required_orders, st.integers(0, 2**32))
def test_a_figure_stays_in_its_band_whatever_is_stated_within_the_bands(
    order: Construction, seed: int
) -> None:
    fit = fit_of(order)
    if fit is None:
        return
    choose = random.Random(seed)
    # All at once: an estimate of one follows those of the others that are stated.
    values = [
        (line.pointer, somewhere(line, choose))
        for line in assumed(fit).values()
        if line.band is not None and line.pointer.startswith("/construction/")
    ]
    moved = fit_of(stated(order, loom(), values)[0])
    if moved is None:
        return
    found = requirement_summaries(fit), requirement_summaries(moved)
    for before, after in zip(*found, strict=True):
        slack = 1e-6 * before.band.high
        assert before.band.low - slack <= after.value <= before.band.high + slack, before.figure
        assert before.band.low <= before.value <= before.band.high


def test_each_group_of_ends_has_the_band_of_its_own_weave() -> None:
    """Ends A and B float unlike on beams of their own; all but their crimps is stated."""
    warp = threads(
        36.0,
        crimp_pct=None,
        yarns={"A": STATED, "B": STATED},
        order="A B",
        beams=(WarpGroup(name="one", yarns=("A",)), WarpGroup(name="other", yarns=("B",))),
    )
    order = cloth(
        {"mass_g_per_m2": between(10.0, 131.0)}, warp=warp, weave=weave("10", "00", "11", "01")
    )
    stacked = loom(
        warp_beam=replace(loom().warp_beam, count=2, arrangement=BeamArrangement.STACKED)
    )
    fit = judge(order, stacked)
    bands = {
        line.pointer[-11]: line.band
        for line in fit.cloth.assumptions
        if line.pointer.endswith("crimp_pct") and line.band
    }
    half = {key: round((band.high - band.low) / 2, 6) for key, band in bands.items()}
    assert half["A"] != half["B"]
    (mass,) = requirement_summaries(fit)
    # Half of the ends each, 18 per cm of 20 tex, in g per m² and point of crimp.
    points = sum(band.high - fit.cloth.warp.crimps_pct[key] for key, band in bands.items())
    assert mass.band.high - mass.value == pytest.approx(points * 18 * 20 / 10 / 100)
    (finding,) = (each for each in report(order, stacked).findings if "require" in each.code)
    assert finding.pointer == "/construction/warp/yarns/A/crimp_pct"
    assert "State to settle it: /construction/warp/yarns/A/crimp_pct" in finding.message


def test_no_change_is_tried_if_the_band_reaches_beyond_both_limits() -> None:
    """Its width, which only stating narrows, is more than the limits are apart."""
    warp = threads(24.0, yarns={"A": STATED}, crimp_pct=None)
    (mass,) = requirement_summaries(
        judge(cloth({"mass_g_per_m2": between(1.0)}, warp=warp), loom())
    )
    limits = between(mass.value - 0.5, mass.value + 0.5)
    order = cloth({"mass_g_per_m2": limits}, warp=warp)
    findings = [each for each in report(order).findings if each.code == "requirement.mass"]
    assert [each.severity for each in findings] == [Severity.WARNING] * 2
    assert {(each.remedies, each.tried) for each in findings} == {((), (STATE_FIRST,))}
    (missing,) = search_remedies(order, [loom()]).looms[0].not_found
    assert missing.tried == (STATE_FIRST,)


def test_what_a_wide_band_leaves_in_doubt_is_met_as_assumed_and_never_for_certain() -> None:
    # A shrinkage of 0 to 10 % makes 145 to 161 cm of a width that is to be 170 to 172 cm.
    order = cloth(
        {"finished_width_cm": between(170.0, 172.0)}, finishing=Finishing(), width_cm=161.0
    )
    (width,) = requirement_summaries(judge(order, loom()))
    assert width.met == "no"
    assert width.band.high / width.band.low > 172.0 / 170.0
    (finding,) = (each for each in report(order).findings if each.code == "requirement.width")
    assert finding.severity is Severity.ERROR
    found = search_remedies(order, [loom()]).looms[0]
    assert [each.tried for each in found.not_found if each.code == finding.code] == [(STATE_FIRST,)]
    for remedies in (finding.remedies, found.remedies):
        (remedy,) = remedies
        assert (remedy["clears"], remedy["leaves_warnings"]) == ([], [finding.code])
        (width,) = requirement_summaries(judge(followed(order, remedy), loom()))
        assert width.met == "perhaps"
        assert 170.0 <= width.value <= 172.0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("code", "required", "changes", "pointer"),
    [
        (
            "requirement.mass",
            {"mass_g_per_m2": between(132.0, 168.0)},
            {"stage": Stage.FINISHED, "finishing": FINISHING},
            "/designation",
        ),
        (
            "requirement.width",
            {"finished_width_cm": between(low=162.0)},
            {"stage": Stage.GREY, "finishing": Finishing()},
            "/width_cm",
        ),
    ],
)
def test_an_error_of_a_figure_with_a_band_has_a_remedy_that_brings_in_all_of_the_band(
    code: str, required: dict[str, Any], changes: dict[str, Any], pointer: str
) -> None:
    # Between the error and the end there is a warning, whose end of the band is further out.
    yarn = Yarn(designation="Ne 30", fibre="cotton")
    order = cloth(
        required,
        warp=threads(30.0, yarns={"A": yarn}, crimp_pct=None),
        weft=threads(26.0, yarns={"A": yarn}, crimp_pct=None),
        thickness_mm=None,
        width_cm=150.0,
        **changes,
    )
    (finding,) = (each for each in report(order, WIDE).findings if each.code == code)
    assert finding.severity is Severity.ERROR
    # Beside it there are nearer ones, after which the figure itself is met.
    remedy = next(each for each in finding.remedies if code in each["clears"])
    assert remedy["pointer"].endswith(pointer)
    after = report(followed(order, remedy), WIDE)
    assert code not in {each.code for each in after.findings}


@pytest.mark.slow
def test_a_share_of_fibre_is_met_by_another_count() -> None:
    """Half of the mass is weft of spun polyester: a coarser one, or a finer warp, makes it more."""
    order = cloth(
        {"fibre_pct": {"polyester": between(55.0)}},
        warp=threads(24.0, yarns={"A": replace(STATED, diameter_mm=None)}),
        weft=threads(22.0, yarns={"A": replace(STATED, diameter_mm=None, fibre="spun polyester")}),
    )
    (loom_remedies,) = search_remedies(order, [loom()]).looms
    cleared = [
        each["pointer"] for each in loom_remedies.remedies if "requirement.fibre" in each["clears"]
    ]
    assert "/construction/warp/yarns/A/designation" in cleared


def test_a_fibre_counts_in_whatever_kind_of_yarn_and_a_kind_for_itself() -> None:
    shares = {"polyester": between(40.0), "spun polyester": between(40.0), "cotton": between(60.0)}
    order = cloth(
        {"fibre_pct": {name: shares[name] for name in ("polyester", "spun polyester")}},
        weft=threads(22.0, yarns={"A": replace(STATED, fibre="spun polyester")}),
    )
    values = {each.fibre: each.value for each in requirement_summaries(judge(order, loom()))}
    assert values["polyester"] == values["spun polyester"] == pytest.approx(100 * 22 / 46)
    # 40 % of spun polyester is part of the polyester; with the cotton that is all.
    required_of(Requirements(fibre_pct=shares))
    with pytest.raises(InputError):
        required_of(Requirements(fibre_pct={**shares, "linen": between(1.0)}))


WORSE = {"yes": 0, "perhaps": 1, "no": 2}


@pytest.mark.slow
@share_of_examples(0.4)
@given(required_orders, st.floats(1.0, 2.0))
def test_wider_limits_are_never_harder_to_meet(order: Construction, times: float) -> None:
    fit = fit_of(order)
    if fit is None:
        return

    def wider(one: RequiredRange) -> RequiredRange:
        return RequiredRange(
            min=None if one.min is None else one.min / times,
            max=None if one.max is None else one.max * times,
        )

    given_ = order.requirements
    assert given_ is not None
    names = [each.figure for each in requirement_summaries(fit) if each.fibre is None]
    relaxed = replace(
        given_,
        **{name: wider(getattr(given_, name)) for name in names},
        fibre_pct={name: wider(one) for name, one in given_.fibre_pct.items()},
    )
    eased = judge(replace(order, requirements=relaxed), loom())
    for before, after in zip(requirement_summaries(fit), requirement_summaries(eased), strict=True):
        assert (before.value, before.band) == (after.value, after.band)
        assert WORSE[after.met] <= WORSE[before.met]
    of_both = [
        {seen.code for seen in observe(each) if seen.severity is Severity.ERROR}
        for each in (fit, eased)
    ]
    assert of_both[1] <= of_both[0]


def required(code: str, order: Construction) -> list[Finding]:
    return [one for one in report(order).findings if one.code == f"requirement.{code}"]


def test_a_figure_that_is_stated_throughout_is_met_or_not() -> None:
    (found,) = required("mass", cloth({"mass_g_per_m2": between(97.0, 110.0)}))
    assert (found.severity, found.rests_on) == (Severity.ERROR, ())
    assert found.pointer == "/construction/requirements/mass_g_per_m2"
    assert found.message == (
        "The finished cloth has a mass of 96.6 g/m²; the customer requires at least 97 g/m²."
    )
    assert (found.actual, found.limit, found.unit) == (96.6, 97.0, "g/m²")
    answer = report(cloth({"mass_g_per_m2": between(96.0, 97.0)}))
    assert answer.verdict is Verdict.WEAVABLE
    (line,) = answer.requirements
    assert (line.figure, line.min, line.max, line.value, line.met) == (
        "mass_g_per_m2",
        96.0,
        97.0,
        96.6,
        "yes",
    )


# The crimp of the warp is estimated as 12.68 % (6.68 to 18.68), so that the mass is 100.29 g/m2
# (97.41 to 103.17).
ESTIMATED = {"warp": threads(24.0, yarns={"A": STATED}, crimp_pct=None)}


def test_a_band_that_reaches_over_a_limit_names_what_to_state() -> None:
    perhaps = cloth({"mass_g_per_m2": between(99.0)}, **ESTIMATED)
    (found,) = required("mass", perhaps)
    assert (found.severity, found.message_key) == (
        Severity.WARNING,
        "requirement.mass.below_perhaps",
    )
    assert (found.pointer, found.rests_on) == ("/construction/warp/crimp_pct", ())
    assert found.message == (
        "The finished cloth has a mass of 100.3 g/m², but it may be 97.41 g/m² over what is "
        "assumed, and the customer requires at least 99 g/m². State to settle it: "
        "/construction/warp/crimp_pct = 12.68 % (6.68 to 18.68)."
    )
    assert report(perhaps).verdict_note is None
    beyond = cloth({"mass_g_per_m2": between(102.0)}, **ESTIMATED)
    (found,) = required("mass", beyond)
    assert (found.severity, found.message_key) == (
        Severity.WARNING,
        "requirement.mass.below_if_assumed",
    )
    assert found.rests_on == ("/construction/warp/crimp_pct",) == (found.pointer,)
    assert report(beyond).verdict_note is not None
    as_it_is = replace(beyond, warp=replace(beyond.warp, crimp_pct=12.68))
    assert [one.severity for one in required("mass", as_it_is)] == [Severity.ERROR]
    whole = cloth({"mass_g_per_m2": between(104.0)}, **ESTIMATED)
    assert [one.severity for one in required("mass", whole)] == [Severity.ERROR]


def test_limits_closer_than_the_band_warn_on_both_sides() -> None:
    found = required("mass", cloth({"mass_g_per_m2": between(99.0, 101.0)}, **ESTIMATED))
    assert [one.message_key.rpartition(".")[2] for one in found] == [
        "below_perhaps",
        "above_perhaps",
    ]
    assert all(one.remedies == () for one in found)


def test_shrinkage_that_nobody_states_decides_about_grey_cloth() -> None:
    order = cloth({"finished_width_cm": between(158.0)}, finishing=Finishing())
    (found,) = required("width", order)
    assert found.rests_on == ()
    assert found.pointer == "/construction/finishing/width_shrinkage_pct"
    # Of finished cloth it decides how wide the loom weaves it, but not what the customer gets.
    finished = replace(order, stage=Stage.FINISHED)
    assert required("width", finished) == []


def test_the_share_of_a_fibre_that_is_not_stated_is_open() -> None:
    unknown = {"weft": threads(22.0, yarns={"A": Yarn(linear_density_tex=20.0, diameter_mm=0.2)})}
    order = cloth({"fibre_pct": {"combed cotton": between(60.0)}}, **unknown)
    (found,) = required("fibre", order)
    assert (found.severity, found.pointer) == (
        Severity.WARNING,
        "/construction/weft/yarns/A/fibre",
    )
    assert found.message.startswith("The finished cloth has a share of cotton of 100 %, but")
    known = cloth({"fibre_pct": {"combed cotton": between(60.0)}})
    (found,) = required("fibre", known)
    assert found.severity is Severity.ERROR
    assert found.pointer == "/construction/requirements/fibre_pct/combed cotton"
    # 24 ends and 22 picks of one linear density and crimp.
    assert found.actual == pytest.approx(100 * 24 / 46)


def test_crimp_that_is_estimated_leaves_a_band_to_the_share_of_a_fibre() -> None:
    order = cloth({"fibre_pct": {"cotton": between(53.0)}}, **ESTIMATED)
    (line,) = report(order).requirements
    assert line.met == "perhaps"
    warp = [24 * (1 + crimp / 100) for crimp in (6.68, 18.68)]
    expected = [100 * mass / (mass + 22 * 1.05) for mass in warp]
    assert [line.band.low, line.band.high] == pytest.approx(expected, rel=1e-4)


REMEDIES: list[tuple[str, dict[str, Any], dict[str, float]]] = [
    # (24 + picks) x 2 x 1.05 of 100 g/m2 wants 23.62 picks, or 25.62 ends.
    ("mass", {"mass_g_per_m2": between(100.0)}, {"picks_per_cm": 23.7, "ends_per_cm": 25.7}),
    # 46 x 2 x 1.05 of 150 g/m wants 155.3 cm; (ends + 22) x 2 x 1.05 x 1.6 wants 22.64 ends.
    (
        "mass_per_m",
        {"mass_g_per_m": between(None, 150.0)},
        {"width_cm": 155.0, "ends_per_cm": 22.6},
    ),
    ("width", {"finished_width_cm": between(None, 150.0)}, {"width_cm": 150.0}),
    ("ends", {"ends_per_cm": between(26.0)}, {"ends_per_cm": 26.0}),
    ("picks", {"picks_per_cm": between(None, 21.0)}, {"picks_per_cm": 21.0}),
    # (1 - 0.48) x (1 - picks / 50) of 31 % wants 20.19 picks.
    ("open_area", {"open_area_pct": between(31.0)}, {"picks_per_cm": 20.1}),
    ("cover", {"cover_factor": between(17.5)}, {"picks_per_cm": 25.3}),
    ("fibre", {"fibre_pct": {"cotton": between(55.0)}}, {"picks_per_cm": 19.6}),
    ("thickness", {"thickness_mm": between(1.0)}, {}),
    ("mass", {"mass_g_per_m2": between(200.0)}, {}),
]


@pytest.mark.slow
@pytest.mark.parametrize(("topic", "limits", "changes"), REMEDIES)
def test_a_remedy_is_the_least_step_that_meets_it(
    topic: str, limits: dict[str, Any], changes: dict[str, float]
) -> None:
    (found,) = required(topic, cloth(limits))
    proposed = {one["pointer"].rpartition("/")[2]: one["to"] for one in found.remedies}
    assert {name: proposed.get(name) for name in changes} == changes
    assert bool(proposed) == bool(changes)
    for one in found.remedies:
        assert f"requirement.{topic}" in one["clears"]


def test_what_is_no_fibre_is_refused_at_its_name() -> None:
    for name in ("coton", "cotton/polyester"):
        with pytest.raises(InputError) as error:
            assess(cloth({"fibre_pct": {name: between(1.0)}}), loom())
        (fault,) = error.value.faults
        assert fault.pointer == f"/construction/requirements/fibre_pct/{name}"


def porous(case: Any) -> Report:
    """A cloth of a mass, a thickness and a density of its fibre."""
    yarn = Yarn(linear_density_tex=200.0, fibre_density_g_per_cm3=case["fibre_g_per_cm3"])
    system = threads(case["mass_g_per_m2"] / 40, yarns={"A": yarn}, crimp_pct=0.0)
    return report(construction(warp=system, weft=system, thickness_mm=case["thickness_mm"]))


def test_what_is_required_is_named_in_words() -> None:
    required = Requirements(
        mass_g_per_m2=RequiredRange(min=100.0),
        mass_g_per_m=RequiredRange(min=150.0),
        finished_width_cm=RequiredRange(min=120.0),
        ends_per_cm=RequiredRange(min=20.0),
        fibre_pct={"cotton": RequiredRange(min=90.0)},
    )
    found = requirement_summaries(judge(construction(requirements=required), loom()))
    assert [each.words for each in found] == [
        "mass",
        "mass of a running metre",
        "finished width",
        "ends per cm",
        "share of cotton",
    ]


def test_porosity_is_that_of_a_published_example() -> None:
    case = read("porosity.json")
    answer = porous(case)
    assert answer.cloth.mass_g_per_m2 == pytest.approx(case["mass_g_per_m2"])
    assert 100 - answer.cloth.fibre_volume_pct == pytest.approx(
        case["porosity_pct"], abs=case["tolerance"]
    )
