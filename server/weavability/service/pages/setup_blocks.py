"""How a loom is set up for an order, in steps: warp, reed, drawing-in or harness, weft, running."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Final

from weavability.answers.field_names import field_in_words
from weavability.answers.report import Report, YarnUse
from weavability.checks.codes import CheckCode
from weavability.looms.beam_arrangement import Beams
from weavability.looms.drawing_in import OnHooks
from weavability.looms.fit import Fit
from weavability.looms.harness_tie import TieSection
from weavability.looms.loom import BeamArrangement, SheddingKind
from weavability.looms.reeds import reed_systems
from weavability.service.pages.wording import Row, counted, rounded, show
from weavability.textiles.construction import Construction
from weavability.textiles.drafting import Draft

LONGEST_WRITTEN: Final = 400
"""Most ends of a threading, or picks of a lift plan, that are written out."""

_USUAL_SYSTEMS: Final = ("stockport", "radcliffe")
"""Counting systems in which a reed is written if the order names none."""

LEAST_DIFFERENCE_CM: Final = 0.1
"""Least difference of two widths in the reed that is written."""

_MOST_BEAMS: Final = 4
_MOST_SECTIONS: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupBlock:
    """A step of the setting-up.

    Attributes:
        title: What is set.
        rows: What is set to what.
        yarns: The yarns of the step.
        counts: Their counts as the order writes them, by yarn.
        is_drawn: Whether the drawing-in and the lift plan are drawn with it.
    """

    title: str
    rows: Sequence[Row]
    yarns: Sequence[YarnUse] = ()
    counts: Mapping[str, str] = field(default_factory=dict)
    is_drawn: bool = False


def setup_blocks(fit: Fit, report: Report) -> Iterator[SetupBlock]:
    """Yield the steps of setting a loom up."""
    own = {"warp", "leno", "catch"}
    counts = {each.yarn: _count(fit.cloth.construction, each) for each in report.yarn}
    yield SetupBlock(
        title="Warp",
        rows=list(_warp(fit, report)),
        yarns=[each for each in report.yarn if each.yarn.split()[0] in own],
        counts=counts,
    )
    yield SetupBlock(title="Reed", rows=list(_reed(fit, report)))
    if isinstance(fit.drawing_in, OnHooks):
        yield SetupBlock(
            title="Harness and design",
            rows=list(_harness(fit, fit.drawing_in, report)),
            is_drawn=True,
        )
    else:
        rows = list(_drawing_in(fit, report))
        yield SetupBlock(title="Drawing-in and lift plan", rows=rows, is_drawn=True)
    yield SetupBlock(
        title="Weft",
        rows=list(_weft(fit)),
        yarns=[each for each in report.yarn if each.system == "weft"],
        counts=counts,
    )
    yield SetupBlock(title="Running", rows=list(_running(fit, report)))


def _count(order: Construction, use: YarnUse) -> str:
    """Return the count of a yarn as the order writes it; empty without one."""
    threads = order.weft if use.system == "weft" else order.warp
    return threads.yarns[use.yarn.rpartition(" ")[2]].designation or ""


def _warp(fit: Fit, report: Report) -> Iterator[Row]:
    cloth, warp, setup = fit.cloth, report.warp, report.setup
    ends = show(setup.total_ends)
    if setup.selvedge_ends:
        ground = setup.total_ends - setup.selvedge_ends
        ends += f" ({show(ground)} ground, {show(setup.selvedge_ends)} selvedge)"
    yield Row(words="Ends", value=ends)
    order = cloth.warp.order
    if len(order.counts) > 1:
        whole, rest = divmod(cloth.ends.ground, order.threads)
        repeats = f"{counted(whole, 'repeat')} of {counted(order.threads, 'end')}"
        if rest:
            repeats += f" and {counted(rest, 'end')} more"
        if cloth.panels > 1:
            repeats += " in each panel"
        yield Row(words="Warp order", value=f"{order.text}, from the left; {repeats}")
    if warp.beams:
        for group in warp.beams:
            pile = "" if group.pile_ratio is None else f", pile ratio {show(group.pile_ratio)}"
            yield Row(
                words=f"Warp {group.name}",
                value=f"{show(group.ends)} ends of yarn {', '.join(group.yarns)}, "
                f"{rounded(group.length_m)} m on {counted(group.beams_needed, 'beam')}{pile}",
            )
    else:
        beams = "beam" if fit.limits.beams.abreast == 1 else "set of beams"
        value = f"{rounded(warp.length_m)} m on {counted(warp.beams_needed, beams)}"
        if warp.beams_needed > 1:
            value += f" of at most {rounded(warp.beam_capacity_m)} m"
        yield Row(words="Length", value=value)
    yield Row(words="Beams", value=_beams(fit.limits.beams, report))
    if warp.size_kg:
        share = 100 * warp.size_kg / (warp.mass_kg - warp.size_kg)
        yield Row(words="Size", value=f"{rounded(share)} %, {rounded(warp.size_kg)} kg")
    for each in report.assumptions:
        if each.pointer == "/construction/allowances/loom_waste_m":
            yield Row(words="Tying and end", value=f"{show(each.value)} m of each beam")


def _beams(beams: Beams, report: Report) -> str:
    on_loom = report.setup.beams
    arranged = {
        BeamArrangement.ONE: "",
        BeamArrangement.ABREAST: "abreast: ",
        BeamArrangement.STACKED: "one above the other: ",
    }[beams.arrangement]
    if not on_loom:
        return f"more let-offs needed than the loom has ({beams.let_offs})"
    alike = {(each.ends, each.width_cm) for each in on_loom}
    shown = on_loom[:1] if len(alike) == 1 else on_loom[:_MOST_BEAMS]
    each_has = "; ".join(
        f"{show(one.ends)} ends over {rounded(one.width_cm)} cm ({rounded(one.ends_per_cm)}/cm)"
        for one in shown
    )
    if len(on_loom) == 1:
        return each_has
    each_words = "each " if len(alike) == 1 else ""
    return f"{len(on_loom)} {arranged}{each_words}{each_has}"


def _reed(fit: Fit, report: Report) -> Iterator[Row]:
    setup, denting, cloth = report.setup, fit.denting, fit.cloth
    stock = ", in stock" if denting.from_stock else ""
    yield Row(words="Reed", value=f"{rounded(setup.reed_dents_per_10cm, 4)} dents/10 cm{stock}")
    yield Row(words="Other counts", value=_counts(fit, setup.reed_counts))
    pattern = cloth.construction.reed.ends_in_dents
    if pattern:
        shown = " ".join(map(str, pattern[:60])) + (" …" if len(pattern) > 60 else "")
        yield Row(words="Denting", value=f"ends in dents {shown}")
    else:
        yield Row(words="Denting", value=f"{counted(round(setup.ends_per_dent), 'end')} in a dent")
    yield Row(words="Width in reed", value=_width_in_reed(report))
    yield Row(words="First dent", value=_first_dent(fit, report))
    if cloth.panels > 1:
        gap = fit.cloth.widths.panel_gap_cm
        each = rounded((setup.filled_width_cm - (cloth.panels - 1) * gap) / cloth.panels, 4)
        value = f"{cloth.panels} of {each} cm with {rounded(gap)} cm of empty dents between"
        yield Row(words="Panels", value=value)
    yield Row(words="Each selvedge", value=_selvedge(report))
    edge = setup.selvedge
    if edge.leno_ends_per_side or edge.catch_cord_ends:
        value = (
            f"{edge.leno_ends_per_side} leno ends a side, {edge.catch_cord_ends} catch cord ends"
        )
        yield Row(words="Beside the warp", value=value)


def _width_in_reed(report: Report) -> str:
    """Write the width of the dents in the reed to use, beside the width that the cloth needs."""
    setup = report.setup
    width = f"{rounded(setup.filled_width_cm, 4)} cm, {show(setup.dents)} dents"
    wider_cm = round(setup.filled_width_cm, 1) - round(setup.reed_width_cm, 1)
    if abs(wider_cm) < LEAST_DIFFERENCE_CM:
        return width
    than = "wider" if wider_cm > 0 else "narrower"
    needed = rounded(setup.reed_width_cm, 4)
    return f"{width}; needed {needed}, so {rounded(abs(wider_cm), 2)} cm {than}"


def _first_dent(fit: Fit, report: Report) -> str:
    """Write where the first dent is, or by how much the dents do not fit the loom's reed."""
    setup, reed_cm = report.setup, fit.limits.reed_width_cm
    if setup.first_dent_cm is None:
        beyond = rounded(setup.filled_width_cm - reed_cm, 2)
        fields = (
            field
            for each in report.findings
            if each.code == CheckCode.WIDTH_REED_SPACE
            for field in each.rests_on
        )
        assumed = " and ".join(dict.fromkeys(map(field_in_words, fields)))
        first = f"does not fit: {beyond} cm more than the {rounded(reed_cm)} cm of the loom's reed"
        return f"{first}. Measure the {assumed} before setting up" if assumed else first
    first = f"{rounded(setup.first_dent_cm)} cm from each edge"
    dents = setup.first_dent_cm * setup.reed_dents_per_10cm / 10
    return f"{first}, dent {show(int(dents) + 1)} of a full reed" if dents >= 1 else first


def _counts(fit: Fit, counts: Mapping[str, float]) -> str:
    """Write a reed in the counting system that the order names, or in usual ones."""
    named = fit.cloth.construction.reed.system
    names = _USUAL_SYSTEMS if named in (None, "metric") else (named,)
    systems = reed_systems()
    return ", ".join(
        f"{rounded(counts[name])} {systems[name].title.partition(':')[0].partition(',')[0]}"
        for name in names
    )


def _selvedge(report: Report) -> str:
    edge = report.setup.selvedge
    if not edge.ends_per_side:
        return "no extra ends"
    parts = [f"{counted(edge.ends_per_side, 'end')} of yarn {edge.yarn}"]
    parts.append(f"{edge.ends_per_dent} in a dent, {counted(edge.dents_per_side, 'dent')}")
    if edge.rows:
        rows = f" ({' '.join(edge.rows)})" if len(edge.rows) <= 4 else ""
        parts.append(f"weaves {edge.weave}{rows}")
    else:
        parts.append("weaves as the ground")
    return ", ".join(parts)


def _drawing_in(fit: Fit, report: Report) -> Iterator[Row]:
    setup, draft = report.setup, fit.draft
    if draft is None:
        yield Row(words="Shafts", value=f"{show(setup.shafts_needed)} are needed; no draft is made")
        return
    used = setup.shafts_used or draft.shafts
    own = setup.selvedge.own_shafts
    value = show(used) + (f", {own} of them of the selvedges alone" if own else "")
    yield Row(words="Shafts", value=value)
    repeat = counted(len(draft.threading), "end")
    yield Row(words="Drawing-in", value=f"{draft.kind}, repeats on {repeat}")
    yield Row(words="Shafts of ends", value=written_threading(draft.threading))
    if setup.healds_per_shaft:
        yield Row(words="Healds", value=healds_in_words(setup.healds_per_shaft))
    yield Row(words="Lift plan", value=lift_in_words(fit, draft))


def healds_in_words(healds: Sequence[int]) -> str:
    """Write the healds of each shaft, those of neighbours that are alike together.

    >>> healds_in_words([1216, 1216, 1216, 1216, 12, 12]), healds_in_words([800])
    ('shafts 1–4: 1216 each; shafts 5–6: 12 each', 'shaft 1: 800')
    """
    parts, first = [], 1
    for number, run in groupby(healds):
        last = first + len(list(run)) - 1
        parts.append(
            f"shaft {first}: {show(number)}"
            if first == last
            else f"shafts {first}–{last}: {show(number)} each"
        )
        first = last + 1
    return "; ".join(parts)


def written_threading(threading: Sequence[int]) -> str:
    """Write the shaft of each end, from the left; a straight run by its ends.

    >>> written_threading([1, 2, 3, 4]), written_threading([1, 2, 1, 2, 1, 2, 3, 4, 5])
    ('1–4', '3 × (1 2) 3 4 5')
    >>> written_threading([1, 2, 3, 4, 5, 4, 3, 2])
    '1–5 4 3 2'
    """
    if len(threading) > LONGEST_WRITTEN:
        return f"{len(threading)} ends: see the JSON form of the report"
    parts, at = [], 0
    while at < len(threading):
        length, times = _repeated(threading, at)
        if times > 1:
            inner = " ".join(map(str, threading[at : at + length]))
            parts.append(f"{times} × ({inner})" if length > 1 else f"{times} × {inner}")
            at += length * times
            continue
        run = _straight(threading, at)
        if run > 3:
            parts.append(f"{threading[at]}–{threading[at + run - 1]}")
        else:
            run = 1
            parts.append(str(threading[at]))
        at += run
    return " ".join(parts)


def _repeated(threading: Sequence[int], at: int) -> tuple[int, int]:
    """Return length and times of the repetition from a place on that takes in most ends."""
    best = (1, 1)
    for length in range(1, 13):
        unit, times = threading[at : at + length], 1
        if len(unit) < length:
            break
        while threading[at + times * length : at + (times + 1) * length] == unit:
            times += 1
        if times > 1 and length * times >= 4 and length * times > best[0] * best[1]:
            best = (length, times)
    return best


def _straight(threading: Sequence[int], at: int) -> int:
    """Return how many ends from a place on go over neighbouring shafts in one direction."""
    run = 1
    while at + run < len(threading) and threading[at + run] == threading[at + run - 1] + 1:
        run += 1
    return run


def lift_in_words(fit: Fit, draft: Draft) -> str:
    """Write the lift plan: of each pick the shafts that are lifted."""
    kind = fit.limits.shedding.kind
    picks = counted(fit.cloth.structure.picks, "pick")
    how = {SheddingKind.CAM: "cams", SheddingKind.DOBBY: "dobby"}.get(kind, "")
    text = f"{how}, repeats on {picks}"
    if draft.picks > 12 or draft.picks * draft.shafts > 64:
        return text
    lifted = "; ".join(
        f"{pick}: {' '.join(str(shaft + 1) for shaft in row.nonzero()[0].tolist()) or 'none'}"
        for pick, row in enumerate(draft.lift_plan, start=1)
    )
    return f"{text}; lifted on pick {lifted}"


def _harness(fit: Fit, on: OnHooks, report: Report) -> Iterator[Row]:
    setup, limits, panels = report.setup, on.limits, fit.cloth.panels
    idle = f", {show(on.hooks_idle)} cast out" if on.hooks_idle else ""
    yield Row(words="Hooks", value=f"{show(on.hooks_used)} of {show(limits.hooks)} used{idle}")
    yield Row(words="Tie", value=_tie(limits.tie, limits.ends_per_hook))
    cords = limits.numbers.tied_ends or on.hooks_used * limits.ends_per_hook
    ends = panels * fit.cloth.ends.ground
    if ends < cords:
        value = f"{show(ends)} of {show(cords)} lift an end, {show(cords - ends)} are empty"
        yield Row(words="Cords", value=value)
    yield Row(
        words="Harness",
        value=f"tied to {rounded(limits.harness_ends_per_cm)} ends/cm; "
        f"{rounded(setup.ends_per_cm_in_reed)} ends/cm in the reed",
    )
    own = setup.selvedge.own_shafts
    needed = f"{show(own)} needed of {show(limits.selvedge_hooks)}"
    yield Row(words="Selvedge hooks", value=needed if own else "as the ground")
    repeat = f"{show(report.cloth.repeat_ends)} ends × {show(report.cloth.repeat_picks)} picks"
    across = f"{rounded(on.weave_repeats_across / panels)} times across"
    if panels > 1:
        across += f" each of {show(panels)} panels"
    yield Row(words="Repeat", value=f"{repeat}, {across}")
    yield Row(
        words="Lift plan", value=f"{counted(setup.lift_plan_picks, 'card')}, one for each pick"
    )


def _tie(sections: Sequence[TieSection], ends_per_hook: int) -> str:
    if not sections:
        return f"{counted(ends_per_hook, 'end')} on a hook"
    named = [
        f"hooks {each.from_hook}–{each.last_hook} {each.order.value}"
        + (f" × {each.times}" if each.times > 1 else "")
        for each in sections[:_MOST_SECTIONS]
    ]
    more = len(sections) - _MOST_SECTIONS
    return "; ".join(named) + (f"; and {more} more sections" if more > 0 else "")


def _weft(fit: Fit) -> Iterator[Row]:
    order = fit.cloth.weft.order
    if len(order.counts) > 1:
        repeat = counted(order.threads, "pick")
        yield Row(words="Weft order", value=f"{order.text}; repeats on {repeat}")
    selectors = ", ".join(
        f"{place}: yarn {weft.key}" for place, weft in enumerate(fit.wefts, start=1)
    )
    yield Row(words="Selectors", value=selectors)
    feeders = ", ".join(
        f"{weft.key} {rounded(weft.feeder_speed_m_per_min)} m/min" for weft in fit.wefts
    )
    yield Row(words="Mean feed", value=feeders)
    tension = fit.hardest_weft.tension
    yield Row(
        words="Weft tension",
        value=f"{rounded(tension.base_tension_cn, 2)} cN at rest, at most "
        f"{rounded(tension.peak_tension_cn, 2)} cN, {fit.hardest_weft.key}",
    )


def _running(fit: Fit, report: Report) -> Iterator[Row]:
    setup, rates, warp = report.setup, report.rates, report.warp
    picks = f"{rounded(setup.picks_per_cm_on_loom, 4)} picks/cm"
    design = fit.cloth.construction.design
    wefts = {} if design is None else design.design.wefts
    stopped = [key for key, weft in wefts.items() if weft.without_take_up]
    if stopped:
        picks += f"; the take-up stops on the picks of {', '.join(stopped)}"
    yield Row(words="Picks to set", value=picks)
    grey = report.cloth.picks_per_cm
    yield Row(words="Picks, grey", value=f"{rounded(grey, 4)} picks/cm")
    take_up = rounded(report.order.beam_contraction_pct)
    yield Row(words="Warp take-up", value=f"{take_up} % of the beam length")
    limited = str(rates.limited_by).replace("_", " ")
    yield Row(words="Speed", value=f"{rates.speed_picks_per_min:.0f} picks/min")
    yield Row(words="Limited by", value=limited)
    yield Row(words="Weft insertion", value=f"{rates.insertion_rate_m_per_min:.0f} m/min")
    tension = f"at most {rounded(warp.peak_tension_cn, 2)} cN an end, {fit.hardest_warp[0]}"
    yield Row(words="Warp tension", value=tension)
    output = f"{rounded(rates.output_m_per_h)} m/h at {rounded(rates.efficiency_pct)} % efficiency"
    yield Row(words="Output", value=output)
    if rates.hours_for_order is not None:
        yield Row(words="For the order", value=f"{rounded(rates.hours_for_order)} h")
    rolls = f"{counted(warp.doffs, 'roll')} of at most {rounded(warp.cloth_roll_capacity_m)} m"
    yield Row(words="Cloth rolls", value=rolls)
