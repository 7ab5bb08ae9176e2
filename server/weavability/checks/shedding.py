"""Checks of the shedding: shafts and healds, lift repeat, hooks and harness of a Jacquard."""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import (
    FEW_SELVEDGE_SHAFTS,
    LOW,
    NARROW,
    SELVEDGES_IN_REED,
    WIDE,
    away,
)
from weavability.checks.facts import Facts, WeaveNumbers, WeaveWords, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import SETT, THREADING, WEAVE
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare,
    compare_weave,
    describe,
    message,
)
from weavability.looms.default_limits import starting_value
from weavability.looms.harness_tie import lift_lost_pct
from weavability.looms.loom import SheddingKind
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, Truth, greatest, least, no, passed, quotient, short, up

describe(
    CheckCode.SHEDDING_SHAFTS,
    says="Ends that weave differently need separate shafts.",
    compares="ends that weave differently, plus the selvedge's shafts, with the loom's shafts",
    formula="shafts needed = distinct columns of the weave repeat + shafts of the selvedge",
    source="[BY-DEFINITION] of a draft",
)


@compare_weave(
    CheckCode.SHEDDING_SHAFTS,
    passed,
    Severity.ERROR,
    unit="shafts",
    eased_by={
        **WIDE,
        **FEW_SELVEDGE_SHAFTS,
        **away("shedding/max_healds_per_cm_per_shaft"),
    },
)
def shafts(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Weave and draft must not need more shafts than the loom has."""
    return greatest(w.shafts_needed, w.shafts_used), (w.loom_shafts,), True


@message(
    shafts,
    pointer="{pointer}",
    weave="The weave needs {actual} shafts; the {shedding} has {limit}. Use more shafts or a "
    "Jacquard, or a weave with a smaller repeat.",
    draft="The requested draft needs {actual} shafts; the {shedding} has {limit}. Drawn in on the "
    "fewest shafts, the weave needs {needed}.",
)
def _shafts(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    by_draft = w.shafts_needed <= w.loom_shafts
    return Wording(
        values={
            "shedding": words.shedding,
            "needed": int(w.shafts_needed),
            "pointer": THREADING if by_draft else WEAVE,
        },
        variant="draft" if by_draft else "weave",
    )


describe(
    CheckCode.SHEDDING_HEALD_CROWDING,
    says="Crowded healds rub the ends, and the shed does not clear.",
    compares="healds per cm on the fullest shaft with the loom's limit; an error above "
    "{shedding_healds_error_times:g} times the limit",
    formula="healds on the fullest shaft / reed width in use; columns are divided over more shafts "
    "while the loom has them",
    source="[LOOM-LIMIT]; " + starting_value("/shedding/max_healds_per_cm_per_shaft"),
)


@compare_weave(
    CheckCode.SHEDDING_HEALD_CROWDING,
    passed,
    Severity.ERROR,
    Severity.WARNING,
    unit="healds/cm/shaft",
    eased_by={
        **WIDE,
        **SELVEDGES_IN_REED,
        **FEW_SELVEDGE_SHAFTS,
        **away("shedding/max_healds_per_cm_per_shaft"),
    },
)
def heald_crowding(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Leave healds the room to let ends separate."""
    limit = w.max_healds_per_cm
    return w.healds_per_cm, (u.shedding_healds_error_times * limit, limit), True


_HEALDS: Final = (
    "There are {actual:.1f} healds/cm on the fullest of {shafts} shafts; the limit is {limit:g}"
)
_FEWER_HEALDS: Final = "Divide the ends over more shafts, or lower the sett."


@message(
    heald_crowding,
    pointer=SETT,
    any=_HEALDS + ". " + _FEWER_HEALDS,
    error=_HEALDS
    + "; more than {most:.3g} is an error, since ends then do not separate in the shed. "
    + _FEWER_HEALDS,
)
def _heald_crowding(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return Wording(
        values={"shafts": int(w.shafts_used), "most": seen.limit},
        reported=Reported(actual=seen.actual, limit=w.max_healds_per_cm),
    )


describe(
    CheckCode.SHEDDING_HEALDS_PER_SHAFT,
    says="A shaft has room for a limited number of healds.",
    compares="healds on the fullest shaft, over the whole width, with what a shaft holds",
    formula="ends drawn on each shaft, selvedges included",
    source="[LOOM-LIMIT]",
)


@compare_weave(
    CheckCode.SHEDDING_HEALDS_PER_SHAFT,
    passed,
    Severity.ERROR,
    unit="healds/shaft",
    eased_by={
        **NARROW,
        **FEW_SELVEDGE_SHAFTS,
        "/loom/shedding/max_healds_per_cm_per_shaft": LOW,
    },
)
def healds_on_a_shaft(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Compare the fullest shaft with what a shaft holds."""
    return w.healds_on_fullest_shaft, (w.max_healds_per_shaft,), True


message(
    healds_on_a_shaft,
    pointer=SETT,
    error="There are {actual} healds on one shaft; a shaft holds {limit}. Divide the ends over "
    "more shafts.",
)

describe(
    CheckCode.SHEDDING_REPEAT_PICKS,
    says="The lift must repeat within what the shedding motion can store.",
    compares="picks of the lift repeat with what cam, dobby or Jacquard can store",
    formula="picks of the true weave repeat",
    source="[LOOM-LIMIT]; cam: " + starting_value("/shedding/max_repeat_picks"),
)


@compare_weave(
    CheckCode.SHEDDING_REPEAT_PICKS,
    passed,
    Severity.ERROR,
    unit="picks",
    eased_by={
        **FEW_SELVEDGE_SHAFTS,
        **away("shedding/max_repeat_picks", "shedding/max_pattern_picks"),
    },
)
def repeat_picks(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Cams and pattern stores are finite."""
    return w.lift_picks, (w.max_lift_picks,), True


@message(
    repeat_picks,
    pointer=WEAVE,
    cam="The lift repeats after {actual} picks; the {shedding} repeats within {limit}. Use a "
    "dobby, or a weave with a shorter repeat.",
    store="The lift repeats after {actual} picks; the {shedding} repeats within {limit}. Use a "
    "larger pattern store, or a weave with a shorter repeat.",
)
def _repeat_picks(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return Wording(
        values={"shedding": words.shedding},
        variant="cam" if words.shedding == SheddingKind.CAM else "store",
    )


describe(
    CheckCode.SHEDDING_UNEVEN_LIFT,
    says="Shafts that are mostly up, or up all at once, load the shedding motion.",
    compares="share of the warp raised, on average with {shedding_warp_up_note_pct:.4g} %, and "
    "from pick to pick with a swing of {shedding_lift_swing_warning_pct:g} %",
    formula="mean share raised over the repeat; greatest less least share raised on a pick",
    source="",
)


@compare_weave(CheckCode.SHEDDING_UNEVEN_LIFT, passed, Severity.WARNING, unit="%")
def lift_swing(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Limit how much the lift changes, because the warp tension changes with it."""
    return w.lift_swing_pct, (u.shedding_lift_swing_warning_pct,), True


message(
    lift_swing,
    pointer=WEAVE,
    swing="From pick to pick the number of ends raised changes by {actual:.0f} % of all, more than "
    "{limit:g} %: expect uneven warp tension and a loaded shedding motion. Run slower.",
)


@compare_weave(CheckCode.SHEDDING_UNEVEN_LIFT, passed, Severity.NOTE, unit="%")
def heavy_lift(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Prefer a warp that is mostly down, which loads the motion less."""
    return w.warp_up_pct, (u.shedding_warp_up_note_pct,), True


@message(
    heavy_lift,
    pointer=WEAVE,
    heavy="On average {actual:.0f} % of the ends are raised, more than {limit:.4g} %. Weave the "
    "cloth face down, which raises {face_down_pct:.0f} %.",
)
def _heavy_lift(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return Wording(values={"face_down_pct": 100 - seen.actual})


describe(
    CheckCode.SHEDDING_HOOKS,
    says="A Jacquard needs a hook for every end of the repeat, and a cord for every end.",
    compares="hooks that the weave repeat needs, and ends that the harness lifts, with the "
    "Jacquard",
    formula="hooks needed = ends of the true repeat; harness ends = hooks in use x ends per hook",
    source="[BY-DEFINITION] of a Jacquard tie",
)


@compare_weave(CheckCode.SHEDDING_HOOKS, passed, Severity.ERROR, unit="hooks")
def repeat_on_hooks(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Every end of the repeat needs a hook."""
    return w.repeat_ends, (w.hooks,), w.is_jacquard


message(
    repeat_on_hooks,
    pointer=WEAVE,
    repeat="The repeat has {actual} ends; the Jacquard has {limit} hooks. Use a larger machine or "
    "a smaller repeat.",
)


@compare(CheckCode.SHEDDING_HOOKS, passed, Severity.ERROR, unit="hooks")
def design_without_hooks(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Weave a figured design by hooks."""
    return f.order.design.columns, (f.shedding.hooks,), no(f.shedding.is_jacquard)


@message(
    design_without_hooks,
    pointer=WEAVE,
    shafts="A figured design needs a Jacquard; the loom has a {shedding}. Choose another loom.",
)
def _design_without_hooks(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"shedding": words.weave.shedding})


@compare_weave(
    CheckCode.SHEDDING_HOOKS,
    passed,
    Severity.ERROR,
    unit="ends",
    eased_by=away("shedding/ends_per_hook"),
)
def ends_on_hooks(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Every end of the ground needs a cord on a hook."""
    return w.ground_ends, (w.harness_ends,), _holds_a_repeat(w)


def _holds_a_repeat(w: WeaveNumbers[N]) -> Truth:
    return passed(w.hooks_in_use, 0 * w.hooks_in_use)


@message(
    ends_on_hooks,
    pointer=SETT,
    ends="The cloth has {actual} ground ends; {in_use} hooks in use, with {each} to a hook, lift "
    "{limit}. Use fewer ends or a larger harness.",
)
def _ends_on_hooks(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return Wording(values={"in_use": int(w.hooks_in_use), "each": int(w.ends_per_hook)})


describe(
    CheckCode.SHEDDING_HOOKS_IDLE,
    says="Hooks that the repeat cannot use are cast out, which thins the harness.",
    compares="hooks cast out because the repeat does not divide the machine, with "
    "{shedding_idle_hooks_note_pct:g} %",
    formula="idle = hooks - repeat x whole repeats that the hooks hold",
    source="casting out: [BROOKS-1892]",
)


@compare_weave(CheckCode.SHEDDING_HOOKS_IDLE, passed, Severity.NOTE, unit="%")
def hooks_idle(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Prefer a repeat that divides the hooks, which uses them all."""
    idle_pct = quotient(100 * (w.hooks - w.hooks_in_use), w.hooks)
    return idle_pct, (u.shedding_idle_hooks_note_pct,), _holds_a_repeat(w)


@message(
    hooks_idle,
    pointer=WEAVE,
    note="{idle} of {hooks} hooks are cast out ({actual:.0f} %), because the repeat of {repeat} "
    "ends does not divide them. A repeat that divides {hooks} would use them all.",
)
def _hooks_idle(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return Wording(
        values={
            "idle": int(w.hooks - w.hooks_in_use),
            "hooks": int(w.hooks),
            "repeat": int(w.repeat_ends),
        }
    )


describe(
    CheckCode.SHEDDING_HARNESS_DENSITY,
    says="The harness is about as wide as the warp in the reed: what differs makes the ends at the "
    "sides run at a slant.",
    compares="ground ends per cm in the reed with those at which the harness is wider than the "
    "warp by {shedding_harness_wider_warning_mm:g} and {shedding_harness_wider_error_mm:g} mm on "
    "either side, or narrower by {shedding_harness_narrower_note_mm:g} mm: a note if enough cords "
    "can be cast out evenly, else a warning, and an error by "
    "{shedding_harness_narrower_error_mm:g} mm",
    formula="width of the harness = ground ends / density in use; density in use = tied density x "
    "hooks under whole repeats / hooks; a narrow cloth leaves cords empty at its sides only; hooks "
    "can be cast out while whole repeats are left with a cord for every end",
    source="[BELL-1895], p. 106-107",
)


def _harness_density(w: WeaveNumbers[N]) -> N:
    """Return the ends per cm of the harness; hooks that are cast out thin it."""
    return quotient(w.harness_ends_per_cm * w.hooks_in_use, w.hooks)


def _thinnest_density(w: WeaveNumbers[N]) -> N:
    """Return the ends per cm of the harness with all hooks cast out that can be spared."""
    ends_of_repeat = quotient(w.harness_ends * w.repeat_ends, w.hooks_in_use)
    repeats = greatest(1.0, up(quotient(w.ground_ends, ends_of_repeat)))
    hooks = least(repeats * w.repeat_ends, w.hooks_in_use)
    return quotient(w.harness_ends_per_cm * hooks, w.hooks)


def _wider_mm(w: WeaveNumbers[float], reed_ends_per_cm: float) -> float:
    """Return how much wider than the warp in a reed the harness is, on either side."""
    return 5 * w.ground_ends * (1 / _harness_density(w) - 1 / reed_ends_per_cm)


def _sett_of_harness(w: WeaveNumbers[N], density: N, wider_mm: N) -> N:
    """Return the ends per cm in the reed at which a harness is so much wider on either side."""
    on_harness = quotient(w.ground_ends, density)
    return quotient(w.ground_ends, greatest(0.0, on_harness - wider_mm / 5))


def _can_be_set(w: WeaveNumbers[N]) -> Truth:
    return w.harness_known & _holds_a_repeat(w) & passed(w.ground_ends, 0 * w.ground_ends)


@compare_weave(
    CheckCode.SHEDDING_HARNESS_DENSITY,
    passed,
    Severity.ERROR,
    Severity.WARNING,
    unit="ends/cm",
    eased_by={
        **WIDE,
        **SELVEDGES_IN_REED,
        **away("shedding/harness_ends_per_cm", "shedding/ends_per_hook"),
    },
)
def harness_too_thin(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Allow the sett to be little above the density of the harness."""
    limits = (
        _sett_of_harness(w, _harness_density(w), u.shedding_harness_wider_error_mm),
        _sett_of_harness(w, _harness_density(w), u.shedding_harness_wider_warning_mm),
    )
    return w.reed_ends_per_cm, limits, _can_be_set(w)


_ON_HARNESS: Final = (
    "There are {actual:.1f} ends/cm in the reed on a harness that gives {density:.1f} with the "
    "hooks in use: "
)


@message(
    harness_too_thin,
    pointer=SETT,
    thin=_ON_HARNESS + "it is {wider_mm:.0f} mm wider than the warp on either side, and the ends "
    "at the sides chafe. Up to {limit:.1f} ends/cm it is {most_mm:.0f} mm. Lower the sett, or use "
    "a denser harness.",
)
def _harness_too_thin(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return Wording(
        values={
            "density": _harness_density(w),
            "wider_mm": _wider_mm(w, seen.actual),
            "most_mm": _wider_mm(w, seen.limit),
        }
    )


@compare_weave(
    CheckCode.SHEDDING_HARNESS_DENSITY,
    short,
    Severity.ERROR,
    Severity.WARNING,
    Severity.NOTE,
    unit="ends/cm",
    eased_by={
        **NARROW,
        **away("shedding/ends_per_hook"),
        "/loom/shedding/harness_ends_per_cm": LOW,
    },
)
def harness_too_dense(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Cords of a sparse sett pull at a slant, unless some are left empty between the others."""
    thinnest = _thinnest_density(w)
    limits = (
        _sett_of_harness(w, thinnest, -u.shedding_harness_narrower_error_mm),
        _sett_of_harness(w, thinnest, -u.shedding_harness_narrower_note_mm),
        _sett_of_harness(w, _harness_density(w), -u.shedding_harness_narrower_note_mm),
    )
    return w.reed_ends_per_cm, limits, _can_be_set(w)


_NARROWER: Final = _ON_HARNESS + "it is {narrower_mm:.0f} mm narrower than the warp on either side"
_TOO_NARROW: Final = (
    _NARROWER + ", and the ends at the sides chafe. Too few of its hooks can be cast out, because "
    "the repeat and the ends need the others. Use a harness tied to about {actual:.0f} ends/cm."
)


@message(
    harness_too_dense,
    pointer=SETT,
    error=_TOO_NARROW,
    warning=_TOO_NARROW,
    note=_NARROWER + ". Cast out {idle_pct:.0f} % of the cords evenly.",
)
def _harness_too_dense(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    density = _harness_density(w)
    return Wording(
        values={
            "density": density,
            "narrower_mm": -_wider_mm(w, seen.actual),
            "idle_pct": 100 * (1 - w.reed_ends_per_cm / density),
        }
    )


describe(
    CheckCode.SHEDDING_LIFT_SLANT,
    says="Cords that slant to the sides of a wide harness lift their ends less than the hooks.",
    compares="share of the lift that the slant of the outermost cord takes with "
    "{shedding_slant_note_pct:g} %, if height and lift of the hooks are stated",
    formula="1 - (root((h + L)^2 + a^2) - root(h^2 + a^2)) / L, with the height h of the hooks "
    "above the comber board, their lift L and half the width a of the ends on the harness",
    source="geometry: [EXAM-GATE], 2007; limit: [COMMON-PRACTICE]",
)


@compare(CheckCode.SHEDDING_LIFT_SLANT, passed, Severity.NOTE, unit="%")
def lift_slant(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Open the shed at the sides of the harness as in its middle."""
    lost_pct = lift_lost_pct(
        height_cm=f.shedding.cord_cm,
        aside_cm=_half_harness_cm(f.weave),
        lift_cm=f.shedding.hook_lift_cm,
    )
    is_judged = f.shedding.lift_is_known & _can_be_set(f.weave)
    return lost_pct, (u.shedding_slant_note_pct,), is_judged


_WIDEST_CM: Final = 1e6


def _half_harness_cm(w: WeaveNumbers[N]) -> N:
    # Where no hook is in use, the width is none; it stays a number.
    return least(quotient(w.ground_ends, _harness_density(w)), _WIDEST_CM) / 2


@message(
    lift_slant,
    pointer="/loom/shedding/cord_cm",
    slant="The outermost cords lie {aside_cm:.0f} cm from the middle and lift their ends "
    "{actual:.0f} % less than the hooks, more than {limit:g} %. Raise the machine, or level the "
    "shed by the harness.",
)
def _lift_slant(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"aside_cm": _half_harness_cm(f.weave)})
