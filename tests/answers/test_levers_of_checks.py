"""Every lever that clears a check is tried for it, or there is a reason why it is not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

import pytest
from builders import construction, loom, threads
from checks.test_limits import LIMITS

from weavability.answers.check_levers import LEVERS
from weavability.answers.field_changes import Change, one_field
from weavability.answers.finding_remedies import is_sought
from weavability.answers.levers import Lever, Options
from weavability.answers.remedy_search import search_remedies
from weavability.answers.trials import Bound, Trials
from weavability.answers.validation import judge
from weavability.answers.verdicts import by_weight
from weavability.checks.codes import CheckCode
from weavability.checks.facts import pair_of
from weavability.checks.finding import Verdict
from weavability.checks.registry import observe_pair
from weavability.looms.loom import Loom
from weavability.service.requests.park import load_park
from weavability.textiles.construction import Construction, Finishing, Reed, Stage
from weavability.textiles.notation import parse_weave
from weavability.textiles.yarns import Yarn

_EXACT: Final = "what is tried names the value exactly at which the finding is gone"
_TURNS: Final = "it keeps its twist factor, and only the rounded turns are less hard"
_OF_MISMATCH: Final = "a reed that is not that of the sett is found by reed.sett_mismatch"
_OF_EDGE: Final = "an edge that has a weave of its own keeps one that binds"

LEFT_OUT: Final[dict[str, dict[str, str]]] = {
    "contraction.implausible": dict.fromkeys(
        (
            *("fewer ends", "fewer picks", "a finer warp", "a finer weft"),
            *("a looser weave of the family", "another weave of the family"),
        ),
        "a crimp is stated that the cloth cannot have: state another, and weave the same cloth",
    ),
    "reed.air_space": {"the reed that the sett needs": _OF_MISMATCH},
    "reed.not_in_stock": {"more ends": _EXACT, "fewer ends": _EXACT},
    "insertion.rate_exceeded": {"the reed that the sett needs": _OF_MISMATCH},
    "colour.warp_remainder": {"a narrower cloth": _EXACT},
    "order.piece_length": dict.fromkeys(
        ("a narrower cloth", "fewer ends", "a finer warp", "a finer weft", "a folded warp"),
        "pieces may always be shorter, which leaves the cloth as it is",
    ),
    "selvedge.tight": {
        **dict.fromkeys(
            ("a wider cloth", "more ends in a dent", "fewer ends", "a finer warp"),
            "the ground is not changed for its edge",
        ),
        "a selvedge woven as the ground": _OF_EDGE,
        "fewer selvedge ends": "those that are left are as close but for the reed they fill",
    },
    "selvedge.wide": dict.fromkeys(
        ("a wider cloth", "more ends"), "the ground is not changed for its edge"
    ),
    "selvedge.unbound": dict.fromkeys(
        (
            "a selvedge woven as the ground",
            *("a smaller weave of the family", "a firmer weave of the family"),
            *("another weave of the family", "a weave of the family that raises fewer ends"),
        ),
        "the ground is not changed for its edge",
    ),
    "selvedge.hooks": {"a selvedge woven as the ground": _OF_EDGE},
    "warp.pile_ratio": dict.fromkeys(
        ("less pile", "more pile"), "it asks whether the ratio or the layer was stated as meant"
    ),
    "warp.untwisted": {"a finer warp": "it lacks turns, which do not ask for another count"},
    "yarn.hard_twist": dict.fromkeys(("a finer weft", "a coarser weft"), _TURNS),
    "warp.yarn_variety": dict.fromkeys(
        ("a finer warp", "a folded warp"), "a note: yarns are unlike because the design wants it"
    ),
    "weft.mixed_counts": {"a folded weft": "a single of the usual counts is nearer"},
    "weft.linear_density": {"a folded weft": "a single of the usual counts is nearer"},
}
"""Why a lever is not tried for a check that it clears, by the code of the check."""

EVERY: Final = tuple(dict.fromkeys(lever for some in LEVERS.values() for lever in some))


def outside() -> Iterator[tuple[CheckCode, Construction, Loom]]:
    """Cases just outside every limit; also as two panels of half the width."""
    for limit in LIMITS:
        cloth, on = construction(**limit.outside), limit.outside_loom or loom()
        yield CheckCode(limit.code), cloth, on
        if limit.code.startswith(("insertion.", "weft.", "width.", "shedding.", "warp.beam")):
            yield CheckCode(limit.code), replace(cloth, panels=2, width_cm=cloth.width_cm / 2), on


def reach(options: Options) -> list[Any]:
    """The middle and the end of what a lever offers."""
    return [options[at] for at in sorted({len(options) // 2, len(options) - 1})]


def helpful(code: CheckCode, cloth: Construction, on: Loom) -> Iterator[Lever]:
    """Levers that clear a check as a remedy and are not tried for it."""
    fit = judge(cloth, on)
    pair = pair_of(fit)
    found = observe_pair(pair)
    severity = by_weight(found).get(code)
    if severity is None or not is_sought(code, severity):
        return
    trials = Trials(fit, pair.facts, found, Bound(100_000, 100_000))
    at, own = trials.at(code), LEVERS.get(code, ())
    tried = {change.key for lever in own for change in lever.options(at)}
    for lever in EVERY:
        is_of_other_yarn = code.startswith("weft.") and lever.words.endswith(" warp")
        if lever in own or is_of_other_yarn or not (options := lever.options(at)):
            continue
        for change in reach(options):
            proof = None if change.key in tried else trials.prove(change)
            if proof is not None and code in proof.clears and not proof.worsens:
                yield lever
                break


@pytest.mark.slow
def test_every_lever_that_clears_a_check_is_tried_for_it() -> None:
    missing = {
        (code.value, lever.words)
        for code, cloth, on in outside()
        for lever in helpful(code, cloth, on)
        if lever.words not in LEFT_OUT.get(code, {})
    }
    assert not missing


def test_a_narrower_cloth_suits_the_harness() -> None:
    cotton = {"A": Yarn(designation="Ne 20", fibre="cotton")}
    upholstery = construction(
        stage=Stage.GREY,
        warp=threads(29.0, yarns=cotton, crimp_pct=None),
        weft=threads(19.0, yarns=cotton, crimp_pct=None),
        weave=parse_weave("2/2 hopsack"),
        width_cm=207.0,
        reed=Reed(),
        finishing=Finishing(),
    )
    on = load_park(None).looms["rapier-190-jacquard"].loom
    (found,) = search_remedies(upholstery, [on]).looms
    narrower = next(each for each in found.remedies if "shedding.harness_density" in each["clears"])
    assert [(each["pointer"], each["to"]) for each in narrower["changes"]] == [
        ("/construction/width_cm", 176.5)
    ]
    assert narrower["verdict"] is Verdict.WEAVABLE


def test_the_place_of_an_option_is_found_without_making_all() -> None:
    """Of selvedge ends, all steps of which are as near; a walk from the first took seconds."""
    made: list[int] = []

    def make(place: int) -> Change:
        made.append(place)
        ends = 900_000 - place
        return one_field("/construction/selvedge/ends_per_side", ends, "", step=1.0, now=900_001)

    options = Options(900_000, make, is_ordered=True)
    places = (0, 654_321, 899_999)
    assert tuple(options.place_of(options[place]) for place in places) == places
    assert len(made) < 100
    assert options.up_to(10).place_of(options[10]) == -1
