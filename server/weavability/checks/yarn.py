"""Checks of yarns, warp and weft alike: twist, elastane, monofilament and tape."""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
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
from weavability.looms.order_numbers import WarpNumbers, WeftNumbers
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, Truth, either, no, passed

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


describe(
    CheckCode.YARN_HARD_TWIST,
    says="A yarn of hard twist snarls as soon as it is slack.",
    compares="twist factor of each yarn with {yarn_hard_twist_note_factor:g} and "
    "{yarn_hard_twist_warning_factor:g}",
    formula="turns/m x root of (tex/1000); a cotton twist multiplier x 30.25",
    source="",
)

_HARD: Final = (
    "{system} {yarn} has a twist factor of {actual:.0f}, more than {limit:g}: it snarls when it is "
    "slack. "
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
    return Wording(values={"system": "Warp", "yarn": _of_warp(words, seen)})


@message(hard_twist_weft, pointer=WEFT, warning=_HARD_WARNING, note=_HARD_NOTE)
def _hard_twist_weft(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"system": "Weft", "yarn": _of_weft(words, seen)})


describe(
    CheckCode.YARN_ELASTANE,
    says="Elastane without a cover sticks and stretches; a cloth of covered elastane contracts.",
    compares="each yarn with bare elastane; each weft with elastane in the yarn",
    formula="a warning for a yarn of elastane alone; a note for a weft that holds elastane",
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


@compare_each_weft(CheckCode.YARN_ELASTANE, passed, Severity.NOTE, unit=None)
def contracting(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find a weft that contracts beyond what an estimate of crimp knows."""
    covered = weft.nature.has_elastane & no(weft.nature.is_bare_elastane)
    return _found(covered & weft.present, weft.tex)


@message(bare_in_warp, pointer=WARP, bare=_BARE)
def _bare_in_warp(f: Facts[float], words: Words, seen: Observation) -> Wording:
    values = {"system": "Warp", "yarn": _of_warp(words, seen)}
    return Wording(values=values, reported=Reported(actual="bare", limit="covered"))


@message(bare_in_weft, pointer=WEFT, bare=_BARE)
def _bare_in_weft(f: Facts[float], words: Words, seen: Observation) -> Wording:
    values = {"system": "Weft", "yarn": _of_weft(words, seen)}
    return Wording(values=values, reported=Reported(actual="bare", limit="covered"))


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
