"""Published values of figured designs, ties and take-up beside the computed ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, Final

import numpy as np
from reference.compared import Case, Subject, cited, compared_lists, read
from textiles.figured import design_of

from weavability.answers.published_evidence import EvidenceValue, LeftOutValue
from weavability.looms.harness_tie import TieOrder, TieSection, cord_length_cm, hook_of_end
from weavability.textiles.figured.design_figures import contraction_pct
from weavability.textiles.figured.figured_design import DesignWeft, Role
from weavability.textiles.figured.hook_lifts import lay_on_hooks
from weavability.textiles.notation import parse_weave
from weavability.textiles.units import CM_PER_INCH
from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_structure import analyse

CENTRED, RETURNED = TieOrder.CENTRED, TieOrder.RETURNED
BORDER: Final = TieSection(from_hook=1, hooks=80, order=CENTRED)
BORDERED: Final = (BORDER, TieSection(from_hook=81, hooks=120, times=4), BORDER)
GATHERED: Final = (
    TieSection(from_hook=1, hooks=48),
    TieSection(from_hook=49, hooks=160, times=3),
    TieSection(from_hook=1, hooks=48, order=RETURNED),
)
POINT: Final = TieSection(from_hook=1, hooks=100, order=CENTRED)
POINTED: Final = (
    POINT,
    TieSection(from_hook=101, hooks=100),
    TieSection(from_hook=201, hooks=200),
    TieSection(from_hook=101, hooks=100, order=RETURNED),
    POINT,
)
MARGIN: Final = TieSection(from_hook=1, hooks=8, times=12)


def _cords(sections: tuple[TieSection, ...], *hooks: int) -> list[float]:
    counted = Counter(hook_of_end(sections))
    return [counted[hook - 1] for hook in hooks]


def _second_cord() -> list[float]:
    ends = [end for end, hook in enumerate(hook_of_end(BORDERED), start=1) if hook == 0]
    return [ends[1]]


def _innermost() -> list[float]:
    tie = hook_of_end(GATHERED)
    (hook,) = {tie[47], tie[-48]}
    return [hook + 1]


def _cards(lines: int, wefts: int) -> list[float]:
    """Cards of a design of so many lines and wefts, the last of which show in every line."""
    pixels = np.tile(np.arange(wefts), (lines, 4))
    design = design_of(pixels, ["plain"] * wefts)
    keys = "ABCDEFG"[:wefts]
    effects = {
        colour: replace(effect, weft=key)
        for key, (colour, effect) in zip(keys, design.effects.items(), strict=True)
    }
    roles = {key: DesignWeft(role=Role.GROUND if key == "A" else Role.FIGURE) for key in keys}
    return [len(lay_on_hooks(replace(design, effects=effects, wefts=roles)).lift)]


def _interlacings(weave: str, picks: float) -> list[float]:
    structure = analyse(Repeat.of(parse_weave(weave)))
    return [picks * float(structure.interlacings_per_end.mean()) / structure.picks]


def _contraction(case: Case) -> list[float]:
    inputs = case["inputs"]
    (per_inch,) = _interlacings(inputs["weave"], inputs["picks per in"])
    return [contraction_pct(per_inch / CM_PER_INCH, weft_ne=inputs["weft Ne"])]


COMPUTED: Final[dict[str, Callable[[Case], list[float]]]] = {
    "J001": lambda _: _second_cord(),
    "J003": lambda _: _cords(BORDERED, 1),
    "J005": lambda case: [case["inputs"]["hooks of the machine"] - len(set(hook_of_end(BORDERED)))],
    "J006": lambda _: _innermost(),
    "J008": lambda _: [TieSection(from_hook=1, hooks=400, times=6).ends],
    "J038": lambda case: _cards(case["inputs"]["cards of the figure"], 2),
    "J041": lambda case: _cards(case["inputs"]["lines of the design"], case["inputs"]["wefts"]),
    "J045": lambda _: [len(hook_of_end(POINTED))],
    "J046": lambda _: _cords(POINTED, 1, 101, 201),
    "J048": lambda _: _cords((MARGIN,), 8),
    "J053": lambda case: _interlacings("5-end satin move 2", case["inputs"]["picks per in"]),
    "J056": _contraction,
    "J061": lambda case: [
        cord_length_cm(
            height_cm=case["inputs"]["hook to comber board cm"],
            aside_cm=case["inputs"]["end from the centre cm"],
        )
    ],
    "J058": lambda case: _interlacings(case["inputs"]["weave"], 1),
}
LEFT_OUT: Final = "sums and products of printed numbers, which no formula here takes part in"
REASONS: Final = {
    "J055": "the length of a warp from its contraction: compared with measured ones elsewhere",
    "J063": "card layouts of a machine are not made",
}


def subjects() -> Iterator[Subject]:
    """Yield the evidence on figured designs."""
    yield Subject(
        subject="Figured designs",
        about="Ties of harnesses, cords on a hook, cards of several wefts, and take-up of effects.",
        against="[BELL-1895], [POSSELT-1888], [TAYLOR-1909]",
        values=[value for case in read("designs.json") for value in _values(case)],
    )


def _values(case: Case) -> Iterator[EvidenceValue]:
    if case["id"] not in COMPUTED:
        return
    published: Any = case["published"]
    yield from compared_lists(
        f"design {case['id']}",
        f"{case['topic']}: {case['what']}",
        published=published if isinstance(published, list) else [published],
        computed=COMPUTED[case["id"]](case),
        tolerance=None if case["tolerance"] == "exact" else float(case["tolerance"]),
        unit=case["unit"],
        source=case["source"],
    )


def left_out() -> Iterator[LeftOutValue]:
    """Yield the cases that are not compared."""
    for case in read("designs.json"):
        if case["id"] not in COMPUTED:
            yield LeftOutValue(
                case=f"design {case['id']}",
                what=f"{case['topic']}: {case['what']}",
                source=cited(case["source"]),
                reason=REASONS.get(case["id"], LEFT_OUT),
            )
