"""Choices for a figured design: its proportion, the width of its tie, its repeat and its dots."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice, takewhile
from operator import itemgetter
from typing import Final

from weavability.answers.few_names import listed
from weavability.answers.field_changes import ROOT, Change, Write, one_field
from weavability.answers.levers import FEWER_PICKS, MORE_PICKS, At, ChoiceLever
from weavability.answers.reed_levers import width_of_ends
from weavability.answers.weave_family import Member, family_of
from weavability.answers.weave_levers import Fits, nearest_weaves, weave_write
from weavability.checks.facts import hooks_in_use
from weavability.looms.drawing_in import OnHooks
from weavability.looms.fit import Fit
from weavability.textiles.figured.figured_design import Covers, Effect
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.numbers import SLACK
from weavability.textiles.weave_matrix import Weave

MOST_WOVEN_ANEW: Final = 1 << 24
"""Most crossings of a design that is woven anew for a remedy, in about two seconds."""


MOST_OF_AN_EFFECT: Final = 2
"""Weaves that are proposed for one effect of a design."""

EVEN: Final = 0.5
"""Share of warp on the face of a weave that has no face to turn."""


def _picks_in_proportion(at: At) -> Iterator[Change]:
    """Yield the picks between those ordered and those with which the picture is as designed."""
    figured = at.fit.cloth.construction.figured
    if figured is None or not all(figured.words.designed_cm):
        return
    (width, height), (wide, high) = figured.words.woven_cm, figured.words.designed_cm
    times = height / width * wide / high
    lever = MORE_PICKS if times > 1.0 else FEWER_PICKS

    def is_between(change: Change) -> bool:
        moved = 1.0 + change.writes[0].change_pct / 100
        return moved <= times + SLACK if times > 1.0 else moved >= times - SLACK

    yield from takewhile(is_between, lever.options(at))


PICKS_IN_PROPORTION: Final = ChoiceLever(
    words="picks in the proportion of the picture", choose=_picks_in_proportion, is_ordered=True
)


def _as_wide_as_the_tie(at: At) -> Iterator[Change]:
    """Yield the width of which every end has its cord, and every cord of a tie its end."""
    tied = int(at.fit.order.design.tie_ends)
    if tied:
        message = "Weave it {to:.5g} {unit} wide, as the harness is tied."
        found = width_of_ends(at.fit, tied // at.fit.cloth.panels, message)
        if found is not None:
            yield found


def _design_to_weave_anew(at: At) -> HookLifts | None:
    """Return the design of an order, if it is not too large to be woven once more for a remedy."""
    lifts = at.fit.cloth.construction.design
    return None if lifts is None or lifts.lift.size > MOST_WOVEN_ANEW else lifts


def _cast_out(at: At) -> Iterator[Change]:
    """Yield the columns and lines of a figured design at which its weaves join.

    Of a picture of the cloth only lines: its columns are those of the tie.
    """
    stated, figured = _design_to_weave_anew(at), at.fit.cloth.construction.figured
    if stated is None or figured is None:
        return
    design, words = stated.design, figured.words
    writes = tuple(
        Write(
            field=f"{ROOT}/weave/design/{name}",
            to=fitting,
            unit=name,
            change_pct=100 * (fitting / drawn - 1),
        )
        for name, fitting, drawn in _cast_out_to(at.fit)
    )
    if not writes:
        return
    message = "Cast the design out to " + " and ".join(f"{each.to} {each.unit}" for each in writes)
    ends = _ends_lifted(at.fit, words.fitting_ends or design.columns)
    if design.covers is Covers.CLOTH or ends >= at.fit.cloth.ends.ground:
        yield Change(writes=writes, message=f"{message}.")
        return
    narrower = width_of_ends(at.fit, ends, "")
    if narrower is not None:
        width = narrower.writes[0]
        message += f", and weave it {width.to:.5g} {width.unit} wide, as the other hooks lift it."
        yield Change(writes=(*writes, width), message=message)


def _cast_out_to(fit: Fit) -> list[tuple[str, int, int]]:
    """Return what is cast out, to how many threads, and how many are drawn."""
    stated, figured = fit.cloth.construction.design, fit.cloth.construction.figured
    if stated is None or figured is None:
        return []
    design, words = stated.design, figured.words
    columns = ("columns", words.fitting_ends, design.columns)
    lines = ("lines", words.fitting_lines, design.lines)
    named = (lines,) if design.covers is Covers.CLOTH else (columns, lines)
    return [each for each in named if each[1] and each[1] != each[2]]


def too_large_to_cast_out(fit: Fit) -> str | None:
    """Say what to state of a design that is too large to be woven once more for a remedy."""
    stated, cast_out = fit.cloth.construction.design, _cast_out_to(fit)
    if stated is None or stated.lift.size <= MOST_WOVEN_ANEW or not cast_out:
        return None
    fields = " and ".join(f"{name} {fitting}" for name, fitting, _ in cast_out)
    return (
        f"nothing, because a design of more than {MOST_WOVEN_ANEW:,} crossings is not woven anew "
        f"for a remedy: state {fields}"
    )


def _ends_lifted(fit: Fit, columns: int) -> int:
    """Return the most ground ends of a panel that a repeat of so many columns finds cords for."""
    figured = fit.cloth.construction.figured
    if not isinstance(fit.drawing_in, OnHooks):
        return fit.cloth.ends.ground
    if figured is not None and figured.numbers.is_tied:
        cast_out = columns < figured.numbers.columns
        return int(figured.words.fitting_tied_ends if cast_out else figured.numbers.tie_ends)
    limits = fit.drawing_in.limits
    room = int(hooks_in_use(limits.hooks, columns)) * limits.ends_per_hook
    return room // fit.cloth.panels


def _bound_by_dots(at: At) -> Iterator[Change]:
    """Yield the correction of a figured design that states limits and does not request it."""
    lifts = _design_to_weave_anew(at)
    if lifts is not None and lifts.design.has_limits and not lifts.design.correct:
        message = "Bind the long floats by dots."
        yield one_field(f"{ROOT}/weave/design/correct", to=True, message=message)


def _laid_out_otherwise(at: At) -> Iterator[Change]:
    """Yield the picture as one of the hooks in place of the cloth, or the other way round."""
    lifts = _design_to_weave_anew(at)
    if lifts is None:
        return
    if lifts.design.covers is Covers.CLOTH:
        to, message = Covers.HOOKS, "Take the picture as one of the hooks, which repeat it."
    else:
        to, message = Covers.CLOTH, "Take the picture as one of the whole cloth."
    yield one_field(f"{ROOT}/weave/design/covers", to.value, message)


def _as_wide_as_the_picture(at: At) -> Iterator[Change]:
    """Yield the width of which every end has its column in a picture of the cloth."""
    lifts, design = at.fit.cloth.construction.design, at.fit.order.design
    if lifts is not None and lifts.design.covers is Covers.CLOTH and not design.is_tied:
        message = "Weave it {to:.5g} {unit} wide, as the picture is."
        found = width_of_ends(at.fit, lifts.design.columns // at.fit.cloth.panels, message)
        if found is not None:
            yield found


def _firmer_effects(at: At) -> Iterator[Change]:
    """Yield weaves with shorter floats for the effects of one weave, the longest floats first."""
    lifts = _design_to_weave_anew(at)
    if lifts is None:
        return
    found = [
        (-own.longest_float, change)
        for weave, effects in _effects_by_weave(lifts).items()
        for own, change in _in_other_weaves(weave, effects, _is_firmer)
    ]
    yield from (change for _, change in sorted(found, key=itemgetter(0)))


def _effects_by_weave(lifts: HookLifts) -> dict[Weave, dict[str, Effect]]:
    """Return the effects of each weave, by their colours."""
    alike: dict[Weave, dict[str, Effect]] = {}
    for colour, effect in lifts.design.effects.items():
        alike.setdefault(effect.weave, {})[colour] = effect
    return alike


def _in_other_weaves(
    weave: Weave, effects: Mapping[str, Effect], fits: Fits
) -> Iterator[tuple[Member, Change]]:
    """Yield a weave with each change of all its effects to one of its family that fits.

    One that is to be turned to a face has one.
    """
    is_turned = any(each.face is not None for each in effects.values())
    family = family_of(weave)
    if family is None:
        return

    def suits(own: Member, one: Member) -> bool:
        return fits(own, one) and not (is_turned and one.up_share == EVEN)

    names = listed([each.name for each in effects.values()])
    for own, one in islice(nearest_weaves(family, suits), MOST_OF_AN_EFFECT):
        writes = (
            weave_write(f"{ROOT}/weave/design/effects/{colour}/weave", one.name, own, one)
            for colour in effects
        )
        yield own, Change(writes=tuple(writes), message=f"Weave {names} in {one.name}.")


def _joining_effects(at: At) -> Iterator[Change]:
    """Yield weaves whose repeat divides that of a design which cannot be cast out."""
    lifts, figured = _design_to_weave_anew(at), at.fit.cloth.construction.figured
    if lifts is None or figured is None or any(_cast_out(at)):
        return
    words, design = figured.words, lifts.design
    hooks = words.join[2] if words.breaks_across else design.columns
    picks = words.own_picks if words.breaks_up else design.lines

    def divides(_: Member, one: Member) -> bool:
        return hooks % one.shafts == 0 == picks % one.picks

    for weave, effects in _effects_by_weave(lifts).items():
        if any(each.name in words.broken for each in effects.values()):
            yield from (change for _, change in _in_other_weaves(weave, effects, divides))


def _is_firmer(own: Member, one: Member) -> bool:
    """Return whether a weave has shorter floats."""
    return one.longest_float < own.longest_float


LAID_OUT_OTHERWISE: Final = ChoiceLever(
    words="the picture laid out otherwise", choose=_laid_out_otherwise
)
AS_WIDE_AS_THE_PICTURE: Final = ChoiceLever(
    words="the width of the picture", choose=_as_wide_as_the_picture
)
JOINING_EFFECT: Final = ChoiceLever(
    words="a weave of effects that divides the repeat", choose=_joining_effects
)
FIRMER_EFFECT: Final = ChoiceLever(words="a firmer weave of effects", choose=_firmer_effects)
AS_WIDE_AS_THE_TIE: Final = ChoiceLever(words="the width of the tie", choose=_as_wide_as_the_tie)
CAST_OUT: Final = ChoiceLever(words="columns and lines that all weaves divide", choose=_cast_out)
BOUND_BY_DOTS: Final = ChoiceLever(words="the correction of the design", choose=_bound_by_dots)
