"""Checks of a figured design: does it go with the tie and the cloth, do its weaves join?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Words, hooks_in_use
from weavability.checks.finding import Severity
from weavability.checks.pointers import DESIGN, PICTURE, WEFTS, WIDTH
from weavability.checks.rules import (
    Compared,
    Observation,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.thresholds import Usual
from weavability.textiles.figured.design_numbers import DesignNumbers
from weavability.textiles.numbers import N, Truth, either, no, passed
from weavability.textiles.sentences import NO_WORDS, Sentence, listed, say

_CONFLICTS_NAMED: Final = 3
"""Ends in conflict with their hooks that a sentence names; the answer on a design lists more."""


_STRETCHES_NAMED: Final = 3
"""Stretches of columns without ends that a sentence names."""


describe(
    CheckCode.DESIGN_TIE_WIDTH,
    says="The picture of a figured design has a column for each hook of the tie, or each end.",
    compares="columns of the picture with the hooks of the tie, or with its ends if the picture "
    "covers the cloth; a picture that divides the hooks is repeated on them. Columns whose hooks "
    "have no end: a warning, an error if an effect shows only there. Without a tie, a "
    "picture of the cloth is compared with the ends of the ground: a note from two ends on, an "
    "error above {design_width_warning_pct:g} %",
    formula="greatest hook of the tie; ends of all its sections; ends of the ground of all panels",
    source="[BY-DEFINITION] of a Jacquard tie",
)


@compare(CheckCode.DESIGN_TIE_WIDTH, passed, Severity.ERROR, unit="hooks")
def tie_width(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Give every end of the tie a hook, and every column of the picture an end."""
    design = f.order.design
    return abs(design.columns - design.tie_columns), (0 * design.columns,), design.is_tied


def _is_unlike_the_tie(design: DesignNumbers[N]) -> Truth:
    return passed(abs(design.columns - design.tie_columns), 0 * design.columns)


@message(
    tie_width,
    pointer=PICTURE,
    any="The picture has {columns} columns; the tie of the loom has {needed}. Draw it for the tie, "
    "or state in covers whether it is one of the hooks or of the cloth.",
)
def _tie_width(f: Facts[float], words: Words, seen: Observation) -> Wording:
    design = f.order.design
    return Wording(values={"columns": int(design.columns), "needed": int(design.tie_columns)})


@compare(CheckCode.DESIGN_TIE_WIDTH, passed, Severity.ERROR, Severity.WARNING, unit="columns")
def columns_without_ends(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Weave every column of the picture."""
    design = f.order.design
    nothing, any_number = 0 * design.idle_columns, design.columns
    limits = (either(passed(design.lost_effects, nothing), nothing, any_number), nothing)
    return design.idle_columns, limits, no(_is_unlike_the_tie(design))


_IDLE: Final = (
    "The tie of the loom has no end on the hooks of {actual:.0f} columns of the picture, columns "
    "{columns}, which are not woven{lost}. Draw the figure on the hooks that are tied, or choose a "
    "loom that is tied to all."
)


@message(columns_without_ends, pointer=PICTURE, no_end=_IDLE)
def _columns_without_ends(f: Facts[float], words: Words, seen: Observation) -> Wording:
    stretches = words.design.idle_columns
    named = [
        str(first) if first == last else f"{first} to {last}"
        for first, last in stretches[:_STRETCHES_NAMED]
    ]
    more = len(stretches) - len(named)
    lost = words.design.lost
    return Wording(
        values={
            "columns": say(
                "part.more_stretches",
                "{columns} and {stretches} more stretches",
                columns=", ".join(named),
                stretches=more,
            )
            if more
            else ", ".join(named),
            "lost": say(
                "part.lost_effects", ", and with them all of {effects}", effects=", ".join(lost)
            )
            if lost
            else NO_WORDS,
        }
    )


@compare(CheckCode.DESIGN_TIE_WIDTH, passed, Severity.ERROR, Severity.NOTE, unit="ends")
def cloth_width(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Give every end of the cloth a column of its picture."""
    design, ends = f.order.design, f.weave.ground_ends
    limits = (u.design_width_warning_pct / 100 * ends, 1 + 0 * ends)
    return abs(design.columns - ends), limits, design.covers_cloth & no(design.is_tied)


@message(
    cloth_width,
    pointer=PICTURE,
    cloth="The picture covers the cloth and has {columns} columns; the ordered width has {ends} "
    "ends of the ground. Draw it for the width, order its width, or state in covers that it is one "
    "of the hooks.",
)
def _cloth_width(f: Facts[float], words: Words, seen: Observation) -> Wording:
    columns, ends = int(f.order.design.columns), int(f.weave.ground_ends)
    return Wording(values={"columns": columns, "ends": ends})


describe(
    CheckCode.DESIGN_TIE_CONFLICT,
    says="All ends of a hook are lifted alike, so that the figure must be alike there too.",
    compares="pixels of a picture of the cloth that differ from those of the first end on the same "
    "hook, with none",
    formula="counted over the whole picture",
    source="[BY-DEFINITION] of a Jacquard tie",
)


@compare(CheckCode.DESIGN_TIE_CONFLICT, passed, Severity.ERROR, unit="pixels")
def tie_conflict(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Ask the ends of a hook for one effect at a time."""
    conflicts = f.order.design.tie_conflicts
    return conflicts, (0 * conflicts,), True


@message(
    tie_conflict,
    pointer=PICTURE,
    any="{actual:.0f} pixels of {ends} ends differ from the first end on the same hook: {places}. "
    "Draw the figure as the tie repeats and turns it.",
)
def _tie_conflict(f: Facts[float], words: Words, seen: Observation) -> Wording:
    ends, first = int(f.order.design.conflicting_ends), words.design.conflicts
    places: Sentence = listed([each.what for each in first[:_CONFLICTS_NAMED]])
    if ends > _CONFLICTS_NAMED:
        more = ends - _CONFLICTS_NAMED
        places = say("part.and_more", "{places}; and {more} more", places=places, more=more)
    return Wording(values={"ends": ends, "first": first[0].end, "places": places})


describe(
    CheckCode.DESIGN_TURN_FLOAT,
    says="The ends beside a turn of the tie are lifted alike, so that weft floats double there.",
    compares="every weft float across a turn with the least limit that is stated of the effects "
    "under it, else with the longest float of their weaves and one end more",
    formula="floats of the cloth through the tie, after the correction",
    source="[BELL-1895], p. 126 and 134",
)


@compare(CheckCode.DESIGN_TURN_FLOAT, passed, Severity.WARNING, unit="ends")
def turn_float(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Turn a weave at the turn of the tie without a long float."""
    design = f.order.design
    return design.turn_float_ends, (design.turn_limit_ends,), design.is_tied


_AT_TURN: Final = (
    "Where the tie turns, after end {end}, the weft floats over {actual} ends on pick {pick}, more "
    "than {limit}. "
)


@message(
    turn_float,
    pointer=PICTURE,
    any=_AT_TURN + "Move dots there, or let correct bind it.",
    corrected=_AT_TURN + "Move dots there.",
    unlimited=_AT_TURN + "Move dots there, or state float_limits.weft_mm, to which correct binds.",
)
def _turn_float(f: Facts[float], words: Words, seen: Observation) -> Wording:
    place = words.design.turns[0]
    variant = "corrected" if f.order.design.is_corrected else "any"
    if not words.design.is_turn_limited:
        variant = "unlimited"
    return Wording(variant=variant, values={"end": place.end, "pick": place.pick})


describe(
    CheckCode.DESIGN_GROUND_BREAK,
    says="A weave that goes on over the edge of the repeat must divide the repeat.",
    compares="effects that cross the edge of the repeat and whose weave does not join there, with "
    "none",
    formula="ends of the repeat, and picks of the effect's own weft, modulo those of its weave",
    source="[TAYLOR-1909], p. 220",
)


@compare(CheckCode.DESIGN_GROUND_BREAK, passed, Severity.WARNING, unit="effects")
def ground_break(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Let the weaves of repeats join."""
    broken = f.order.design.broken_effects
    return broken, (0 * broken,), True


_BREAKS: Final = "The weave of {effects} breaks where "
_ACROSS: Final = (
    _BREAKS
    + "hook {last} meets hook {first}: its ends do not divide the {hooks} {of_hooks} between. "
)
_UP: Final = (
    _BREAKS
    + "the repeat meets the next one above: its picks do not divide the {picks} {of_picks} of its "
    "weft. "
)
_BOTH: Final = (
    _BREAKS + "hook {last} meets hook {first}, and where the repeat meets the next one above: its "
    "repeat does not divide the {hooks} {of_hooks} between and the {picks} {of_picks} of its weft. "
)
_OTHER_WEAVE: Final = "Choose a weave that does."


@message(
    ground_break,
    pointer=PICTURE,
    across=_ACROSS + _OTHER_WEAVE,
    across_fits=_ACROSS + "Cast out to {ends} columns{lifted}, or choose a weave that does.",
    up=_UP + _OTHER_WEAVE,
    up_fits=_UP + "Cast out to {lines} lines, or choose a weave that does.",
    both=_BOTH + _OTHER_WEAVE,
    both_fits=_BOTH
    + "Cast out to {ends} columns{lifted} and {lines} lines, or choose a weave that does.",
    both_lines_fit=_BOTH + "Cast out to {lines} lines, and choose a weave whose ends divide the "
    "hooks.",
)
def _ground_break(f: Facts[float], words: Words, seen: Observation) -> Wording:
    design = words.design
    last, first, hooks = design.join
    where = "both" if design.breaks_across and design.breaks_up else "up"
    if not design.breaks_up:
        where = "across"
    variant = where
    if design.fitting_ends and design.fitting_lines:
        variant = f"{where}_fits"
    elif where == "both" and design.fitting_lines:
        variant = "both_lines_fit"
    return Wording(
        variant=variant,
        values={
            "effects": ", ".join(design.broken),
            "last": last,
            "first": first,
            "hooks": hooks,
            "of_hooks": say("part.hook", "hook") if hooks == 1 else say("part.hooks", "hooks"),
            "picks": design.own_picks,
            "of_picks": say("part.pick", "pick")
            if design.own_picks == 1
            else say("part.picks", "picks"),
            "ends": design.fitting_ends,
            "lifted": _ends_left(f, words, design.fitting_ends),
            "lines": design.fitting_lines,
        },
    )


def _ends_left(f: Facts[float], words: Words, columns: int) -> Sentence:
    """Say how many ends so many columns lift, if they are fewer than there are."""
    lifted = int(hooks_in_use(f.weave.hooks, columns) * f.weave.ends_per_hook) if columns else 0
    if f.order.design.is_tied:
        lifted = words.design.fitting_tied_ends
    if f.weave.is_jacquard and f.weave.ground_ends > lifted > 0:
        return say("part.ends_lifted", " and to the {ends} ends that they lift", ends=lifted)
    return NO_WORDS


describe(
    CheckCode.DESIGN_PROPORTION,
    says="A tied harness has its number of ends, whatever width is ordered, and a picture the "
    "proportion of the cloth, not of its pixels.",
    compares="ends of the ground with those of the tie: a note from two ends on, a warning above "
    "{design_width_warning_pct:g} %; width over height of the picture in the cloth with what was "
    "designed, and lines that have a figuring weft with lines that have none: "
    "{design_proportion_note_pct:g} and {design_proportion_warning_pct:g} %",
    formula="ends of the tie - ends of the ordered width; width = columns / ends per cm, height = "
    "picks / picks per cm",
    source="[BY-DEFINITION] of a Jacquard tie; paper in the proportion of the cloth: [BELL-1895], "
    "p. 112",
)


@compare(CheckCode.DESIGN_PROPORTION, passed, Severity.WARNING, Severity.NOTE, unit="ends")
def narrower_than_the_tie(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Weave the whole figure."""
    tied = f.order.design.tie_ends
    fewer = tied - f.weave.ground_ends
    return fewer, (u.design_width_warning_pct / 100 * tied, 1 + 0 * tied), True


@message(
    narrower_than_the_tie,
    pointer=WIDTH,
    any="The width has {ends} ends of the ground; the tie has {tied}. The figure is cut at the "
    "edges by {actual:.0f} ends. Order the width of the tie.",
)
def _narrower(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"ends": int(f.weave.ground_ends), "tied": int(f.order.design.tie_ends)})


@compare(CheckCode.DESIGN_PROPORTION, passed, Severity.WARNING, Severity.NOTE, unit="%")
def distorted(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Weave a figure in the proportion in which it was designed."""
    limits = (u.design_proportion_warning_pct, u.design_proportion_note_pct)
    return f.order.design.distortion_pct, limits, True


@message(
    distorted,
    pointer=DESIGN + "/designed_width_cm",
    distorted="In the cloth the picture is {width:.4g} cm wide and {height:.4g} cm high; it was "
    "designed for {designed_width:.4g} x {designed_height:.4g} cm, so that the figure is "
    "{actual:.0f} % {how}. Draw it on paper of the cloth's proportion, or change the picks.",
)
def _distorted(f: Facts[float], words: Words, seen: Observation) -> Wording:
    (width, height), (designed_width, designed_height) = (
        words.design.woven_cm,
        words.design.designed_cm,
    )
    is_wide = width / height > designed_width / designed_height
    return Wording(
        values={
            "width": width,
            "height": height,
            "designed_width": designed_width,
            "designed_height": designed_height,
            "how": say("part.too_broad", "too broad")
            if is_wide
            else say("part.too_high", "too high"),
        }
    )


@compare(CheckCode.DESIGN_PROPORTION, passed, Severity.WARNING, Severity.NOTE, unit="%")
def uneven_lines(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Weave all lines of a figure equally high."""
    limits = (u.design_proportion_warning_pct, u.design_proportion_note_pct)
    return f.order.design.higher_lines_pct, limits, True


message(
    uneven_lines,
    pointer=WEFTS,
    uneven="Every pick is taken up, so that lines with figuring wefts are {actual:.0f} % higher "
    "than lines without, and the figure is stretched there. If the take-up stops on their picks, "
    "state without_take_up of those wefts; else insert them on every line.",
)
