"""Checks of yarns, warp and weft alike: twist, elastane, monofilament and tape."""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import RELEASED
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare_each_warp,
    compare_each_weft,
    describe,
    message,
)
from weavability.looms.thresholds import Usual
from weavability.looms.yarn_numbers import WarpNumbers, WeftNumbers
from weavability.textiles.count_systems import TEX_NE
from weavability.textiles.numbers import N, Truth, either, no, passed, short
from weavability.textiles.units import CM_PER_INCH
from weavability.textiles.yarn_facts import twist_factor

WARP: Final = "/construction/warp/yarns/{yarn}"
WEFT: Final = "/construction/weft/yarns/{yarn}"
WEFT_CRIMP: Final = "/construction/weft/crimp_pct"


def _found(truth: Truth, like: N) -> Compared[N]:
    """Compare a truth about a yarn with none."""
    none = 0 * like
    return either(truth, 1 + none, none), (none,), truth


def _of_warp(words: Words, seen: Observation) -> str:
    return words.warp_keys[seen.warp]


def _of_weft(words: Words, seen: Observation) -> str:
    return words.weft_keys[seen.weft]


PER_COTTON_MULTIPLIER: Final = twist_factor(twist_per_m=100 / CM_PER_INCH, tex=TEX_NE)
"""Twist factor of a cotton twist multiplier of 1: one turn an inch in Ne 1."""

describe(
    CheckCode.YARN_HARD_TWIST,
    says="A yarn of hard twist snarls as soon as it is slack.",
    compares="twist factor of each yarn with {yarn_hard_twist_note_factor:g} and "
    "{yarn_hard_twist_warning_factor:g}",
    formula="turns/m x root of (tex/1000); a cotton twist multiplier (turns/inch by root of Ne) x "
    f"{PER_COTTON_MULTIPLIER:.2f}",
    source="",
)

_HARD: Final = (
    "{system} {yarn} has a twist factor of {actual:.0f} (turns/m by root of ktex; a cotton "
    "multiplier of {multiplier:.1f}), more than {limit:g}: it snarls when it is slack. "
)
_HARD_WARNING: Final = _HARD + "Set its twist by steaming, and keep it under tension throughout."
_HARD_NOTE: Final = _HARD + "Set its twist, and mind the brake at every stop."


@compare_each_warp(
    CheckCode.YARN_HARD_TWIST, passed, Severity.WARNING, Severity.NOTE, unit="twist factor"
)
def hard_twist_warp(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find ends that snarl."""
    limits = (u.yarn_hard_twist_warning_factor, u.yarn_hard_twist_note_factor)
    return warp.nature.twist_factor, limits, warp.present


@compare_each_weft(
    CheckCode.YARN_HARD_TWIST, passed, Severity.WARNING, Severity.NOTE, unit="twist factor"
)
def hard_twist_weft(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find picks that snarl."""
    limits = (u.yarn_hard_twist_warning_factor, u.yarn_hard_twist_note_factor)
    return weft.nature.twist_factor, limits, weft.present


@message(hard_twist_warp, pointer=WARP, warning=_HARD_WARNING, note=_HARD_NOTE)
def _hard_twist_warp(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _hard("Warp", _of_warp(words, seen), seen)


def _hard(system: str, yarn: str, seen: Observation) -> Wording:
    multiplier = seen.actual / PER_COTTON_MULTIPLIER
    return Wording(values={"system": system, "yarn": yarn, "multiplier": multiplier})


@message(hard_twist_weft, pointer=WEFT, warning=_HARD_WARNING, note=_HARD_NOTE)
def _hard_twist_weft(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _hard("Weft", _of_weft(words, seen), seen)


describe(
    CheckCode.YARN_ELASTANE,
    says="Elastane without a cover sticks and stretches; a cloth of covered elastane contracts.",
    compares="each yarn with bare elastane; of yarn that holds elastane, the shortening from "
    "straight yarn to finished cloth with {yarn_elastane_release_least_pct:g} %; ends that hold it "
    "with others on their beam that hold none",
    formula="100 x (1 - finished over grey length, or width / (1 + crimp)); a warning for a yarn "
    "of elastane alone, for less shortening and for unlike ends on one beam, else a note",
    source="[COMMON-PRACTICE]",
)

_BARE: Final = (
    "{system} {yarn} is elastane without a cover: it sticks to guides and stretches unevenly. "
    "Use a core-spun or covered yarn."
)


@compare_each_warp(CheckCode.YARN_ELASTANE, passed, Severity.WARNING, unit=None)
def bare_in_warp(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find elastane that no other yarn covers."""
    return _found(warp.nature.is_bare_elastane & warp.present, warp.tex)


@compare_each_weft(CheckCode.YARN_ELASTANE, passed, Severity.WARNING, unit=None)
def bare_in_weft(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find elastane that no other yarn covers."""
    return _found(weft.nature.is_bare_elastane & weft.present, weft.tex)


def _covered(yarn: WarpNumbers[N] | WeftNumbers[N]) -> Truth:
    return yarn.present & yarn.nature.has_elastane & no(yarn.nature.is_bare_elastane)


@compare_each_warp(CheckCode.YARN_ELASTANE, passed, Severity.WARNING, unit=None)
def mixed_on_a_beam(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find ends that draw back from others on their beam."""
    rigid: Truth = False
    for other in f.order.warps:
        rigid = rigid | (other.present & no(other.nature.has_elastane))
    return _found(_covered(warp) & rigid & (f.order.group_count <= 1), warp.tex)


@compare_each_warp(
    CheckCode.YARN_ELASTANE, short, Severity.WARNING, unit="%", cleared_by=(RELEASED,)
)
def unreleased_warp(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find ends whose elastane is not counted in the length of the cloth."""
    return f.cloth.warp_release_pct, (u.yarn_elastane_release_least_pct,), _covered(warp)


@compare_each_weft(
    CheckCode.YARN_ELASTANE, short, Severity.WARNING, unit="%", cleared_by=(RELEASED,)
)
def unreleased_weft(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find picks whose elastane is not counted in the width of the cloth."""
    return f.cloth.weft_release_pct, (u.yarn_elastane_release_least_pct,), _covered(weft)


@compare_each_warp(CheckCode.YARN_ELASTANE, passed, Severity.NOTE, unit=None)
def stretching(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find ends that stretch in preparation and weaving, and draw back."""
    counted = no(short(f.cloth.warp_release_pct, u.yarn_elastane_release_least_pct))
    return _found(_covered(warp) & counted, warp.tex)


@compare_each_weft(CheckCode.YARN_ELASTANE, passed, Severity.NOTE, unit=None)
def contracting(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find a weft that contracts beyond what an estimate of crimp knows."""
    counted = no(short(f.cloth.weft_release_pct, u.yarn_elastane_release_least_pct))
    return _found(_covered(weft) & counted, weft.tex)


@message(bare_in_warp, pointer=WARP, bare=_BARE)
def _bare_in_warp(f: Facts[float], words: Words, seen: Observation) -> Wording:
    values = {"system": "Warp", "yarn": _of_warp(words, seen)}
    return Wording(values=values, reported=Reported(actual="bare", limit="covered"))


@message(bare_in_weft, pointer=WEFT, bare=_BARE)
def _bare_in_weft(f: Facts[float], words: Words, seen: Observation) -> Wording:
    values = {"system": "Weft", "yarn": _of_weft(words, seen)}
    return Wording(values=values, reported=Reported(actual="bare", limit="covered"))


@message(
    mixed_on_a_beam,
    pointer=WARP,
    mixed="Warp {yarn} holds elastane, and other ends on its beam hold none: as it draws back they "
    "run slack. Give it a beam of its own: state warp.beams.",
)
def _mixed_on_a_beam(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={"yarn": _of_warp(words, seen)},
        reported=Reported(actual="elastane in the yarn", limit="none"),
    )


_UNRELEASED: Final = (
    "{system} {yarn} holds elastane, but from straight yarn to finished cloth it shortens by "
    "only {actual:.1f} %, less than {limit:g} %: as much as rigid yarn does. The cloth draws in "
    "further, off the loom and in finishing, and comes out {less} than ordered. State the "
    "{system_crimp} and the {shrinkage} as they are measured."
)


@message(unreleased_warp, pointer="/construction/finishing/length_shrinkage_pct", warp=_UNRELEASED)
def _unreleased_warp(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={
            "system": "Warp",
            "yarn": _of_warp(words, seen),
            "less": "shorter",
            "system_crimp": "warp's crimp (warp.crimp_pct)",
            "shrinkage": "cloth's shrinkage in length (finishing.length_shrinkage_pct)",
        }
    )


@message(unreleased_weft, pointer="/construction/finishing/width_shrinkage_pct", weft=_UNRELEASED)
def _unreleased_weft(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={
            "system": "Weft",
            "yarn": _of_weft(words, seen),
            "less": "narrower",
            "system_crimp": "weft's crimp (weft.crimp_pct)",
            "shrinkage": "cloth's shrinkage in width (finishing.width_shrinkage_pct)",
        }
    )


@message(
    stretching,
    pointer=WARP,
    stretching="Warp {yarn} holds elastane. Warp and size it at one even stretch, keep the warp "
    "under tension when the loom is stopped, and measure the crimp on the loom, here "
    "{crimp_pct:.3g} %: no estimate knows how far it draws back.",
)
def _stretching(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={"yarn": _of_warp(words, seen), "crimp_pct": f.cloth.warp_crimp_pct},
        reported=Reported(actual="elastane in the yarn", limit="none"),
    )


_CONTRACTS: Final = (
    "The cloth contracts off the loom by it, which no estimate of crimp knows: weft.crimp_pct, "
    "here {crimp_pct:.3g} %, must be the measured one, or the reed is too narrow."
)


@message(
    contracting,
    pointer=WEFT_CRIMP,
    of_blend="Weft {yarn} holds elastane. " + _CONTRACTS,
    of_core="Weft {yarn} holds elastane of {dtex:.0f} dtex at rest. " + _CONTRACTS,
)
def _contracting(f: Facts[float], words: Words, seen: Observation) -> Wording:
    dtex = words.weft_elastane_dtex[seen.weft]
    return Wording(
        values={
            "yarn": _of_weft(words, seen),
            "dtex": dtex,
            "crimp_pct": f.cloth.weft_crimp_pct,
        },
        variant="of_core" if dtex else "of_blend",
        reported=Reported(actual="elastane in the yarn", limit="none"),
    )


describe(
    CheckCode.YARN_MONOFILAMENT,
    says="A monofilament is stiff and smooth: it springs back and slips.",
    compares="each yarn with a monofilament",
    formula="one filament",
    source="[COMMON-PRACTICE]",
)

_STIFF: Final = "{system} {yarn} is a monofilament: it springs off the package and slips in "


@compare_each_warp(CheckCode.YARN_MONOFILAMENT, passed, Severity.NOTE, unit=None)
def stiff_warp(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find ends of one filament."""
    return _found(warp.nature.is_monofilament & warp.present, warp.tex)


@compare_each_weft(CheckCode.YARN_MONOFILAMENT, passed, Severity.NOTE, unit=None)
def stiff_weft(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find picks of one filament."""
    return _found(weft.nature.is_monofilament & weft.present, weft.tex)


@message(
    stiff_warp,
    pointer=WARP,
    in_warp=_STIFF + "knots. Wind it at an even tension, and tie it with a knot for wire.",
)
def _stiff_warp(f: Facts[float], words: Words, seen: Observation) -> Wording:
    values = {"system": "Warp", "yarn": _of_warp(words, seen)}
    return Wording(values=values, reported=Reported(actual="monofilament", limit="yarn"))


@message(
    stiff_weft,
    pointer=WEFT,
    in_weft=_STIFF + "clamps and selvedges. Use clamps and a selvedge that are made for it.",
)
def _stiff_weft(f: Facts[float], words: Words, seen: Observation) -> Wording:
    values = {"system": "Weft", "yarn": _of_weft(words, seen)}
    return Wording(values=values, reported=Reported(actual="monofilament", limit="yarn"))


describe(
    CheckCode.YARN_TAPE,
    says="A tape must not turn over on its path to the cloth.",
    compares="each yarn with a tape",
    formula="a tape or spread tow, by its measures or its name",
    source="[COMMON-PRACTICE]",
)

_TURNS: Final = "{system} {yarn} is a tape: it turns over and folds if it is drawn off over end. "


@compare_each_warp(CheckCode.YARN_TAPE, passed, Severity.NOTE, unit=None)
def tape_in_warp(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find ends that must lie flat."""
    return _found(warp.nature.is_tape & warp.present, warp.tex)


@compare_each_weft(CheckCode.YARN_TAPE, passed, Severity.NOTE, unit=None)
def tape_in_weft(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find picks that must lie flat."""
    return _found(weft.nature.is_tape & weft.present, weft.tex)


@message(
    tape_in_warp,
    pointer=WARP,
    in_warp=_TURNS
    + "Run it off a creel or a beam without twist, through healds and dents as wide as "
    "it is.",
)
def _tape_in_warp(f: Facts[float], words: Words, seen: Observation) -> Wording:
    values = {"system": "Warp", "yarn": _of_warp(words, seen)}
    return Wording(values=values, reported=Reported(actual="tape", limit="yarn"))


@message(
    tape_in_weft, pointer=WEFT, in_weft=_TURNS + "Let its package roll off, and clamp it flat."
)
def _tape_in_weft(f: Facts[float], words: Words, seen: Observation) -> Wording:
    values = {"system": "Weft", "yarn": _of_weft(words, seen)}
    return Wording(values=values, reported=Reported(actual="tape", limit="yarn"))
