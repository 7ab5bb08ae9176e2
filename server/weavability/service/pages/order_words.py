"""An order in words: the cloth in a line, and what the order states with what is assumed of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from weavability.answers.cloth_words import (
    STAGE_WORDS,
    metric_figure,
    setts_and_width,
    stated_figure,
    weave_in_words,
)
from weavability.answers.few_names import capitalised
from weavability.answers.report import Report
from weavability.drawing.fit_views import yarn_in_words
from weavability.looms.fit import Fit
from weavability.service.pages.wording import between, counted, rounded, show
from weavability.textiles.assumptions import Assumption, Grade
from weavability.textiles.construction import Construction, Stage, ThreadSystem
from weavability.textiles.order_lengths import USUAL_LENGTH


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedRow:
    """A line of an order.

    Attributes:
        words: What it is about.
        value: What is stated, with units.
        origin: How it is known if the order does not state it: estimated or assumed.
    """

    words: str
    value: str
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownYarns:
    """Yarns in a list: those of one count and fibre together.

    Attributes:
        words: What they are.
        keys: Key and colour of each; the colour is ``None`` if none is stated.
    """

    words: str
    keys: Sequence[tuple[str, str | None]]


def cloth_heading(fit: Fit) -> str:
    """Name a cloth without its yarns: weave, setts, width, and what these hold for."""
    order = fit.cloth.construction
    text = f"{weave_in_words(order)}, {setts_and_width(order)} {_stage(fit)}"
    return capitalised(text)


def yarns_in_a_line(fit: Fit) -> str:
    """Name the yarns of warp and weft, each kind once."""
    order = fit.cloth.construction
    named = {
        name: ", ".join(dict.fromkeys(filter(None, map(yarn_in_words, system.yarns.values()))))
        for name, system in (("warp", order.warp), ("weft", order.weft))
    }
    text = "; ".join(f"{name} {words}" for name, words in named.items() if words)
    return capitalised(text)


def shown_yarns(fit: Fit, system: str) -> list[ShownYarns]:
    """List the yarns of ``warp`` or ``weft``, with the colours that are stated."""
    stated: ThreadSystem = getattr(fit.cloth.construction, system)
    alike: dict[str, list[tuple[str, str | None]]] = {}
    for key, yarn in stated.yarns.items():
        alike.setdefault(yarn_in_words(yarn), []).append((key, yarn.colour))
    return [ShownYarns(words=words, keys=keys) for words, keys in alike.items()]


def stated_rows(fit: Fit, report: Report) -> Iterator[StatedRow]:
    """Yield what the order states, and what is assumed of its main figures."""
    order, cloth = fit.cloth.construction, fit.cloth
    assumed = {line.pointer: line for line in report.assumptions}
    weave = weave_in_words(order)
    yield StatedRow(words="Weave", value=capitalised(weave))
    yield StatedRow(
        words="Sett and width hold for",
        value=f"{_stage(fit)} cloth" if _stage(fit) != "in the loom" else "cloth in the loom",
        origin=_origin(assumed.get("/construction/stage")),
    )
    for name, threads, pointer in (
        ("warp", "ends", "/warp/ends_per_cm"),
        ("weft", "picks", "/weft/picks_per_cm"),
    ):
        system = cloth.warp if name == "warp" else cloth.weft
        stated: ThreadSystem = getattr(order, name)
        title = name.capitalize()
        yield StatedRow(
            words=f"{title}: {threads}",
            value=_stated(order, pointer, per="per "),
        )
        if len(system.order.counts) > 1:
            text = system.order.text
            repeat = counted(system.order.threads, threads[:-1])
            yield StatedRow(words=f"{title}: order", value=f"{text} ({repeat})")
        yield StatedRow(
            words=f"{title}: crimp",
            value=f"{show(system.crimp_pct)} %",
            origin=_origin(assumed.get(f"/construction/{name}/crimp_pct"))
            or ("" if stated.contraction_pct is None else "from the contraction"),
        )
    width = _stated(order, "/width_cm")
    if cloth.panels > 1:
        width = f"{cloth.panels} panels of {width}"
    yield StatedRow(words="Width", value=width)
    yield StatedRow(words="Length", value=_length(order))
    yield from _further(fit, assumed)


def _further(fit: Fit, assumed: dict[str, Assumption]) -> Iterator[StatedRow]:
    order, cloth = fit.cloth.construction, fit.cloth
    edge = order.selvedge
    if cloth.ends.selvedge:
        ends = cloth.ends.selvedge // (2 * cloth.panels)
        parts = [f"{counted(ends, 'end')} a side"]
        parts += [f"yarn {edge.yarn}"] if edge.yarn else []
        if edge.weave is not None:
            size = f"{edge.weave.ends} ends × {edge.weave.picks} picks"
            parts.append(edge.weave.name or size)
        yield StatedRow(words="Selvedges", value=", ".join(parts))
    reed = _reed(order)
    if reed:
        yield StatedRow(words="Reed", value=reed)
    if order.draft is not None:
        threading = order.draft.threading
        named = threading if isinstance(threading, str) else f"{len(threading)} ends as stated"
        yield StatedRow(words="Drawing-in", value=named)
    if order.layers is not None and cloth.symbols.layered_weave is not None:
        letters = ", ".join(layer.letter for layer in cloth.symbols.layered_weave.layers)
        joined = f", {order.layers.joined}" if order.layers.joined else ""
        yield StatedRow(words="Layers", value=f"{letters}{joined}")
    if order.requested_speed_picks_per_min is not None:
        speed = f"{show(order.requested_speed_picks_per_min)} picks/min"
        yield StatedRow(words="Speed requested", value=speed)
    finishing, allowances = order.finishing, order.allowances
    for words, value, pointer in (
        ("Shrinkage in width", finishing.width_shrinkage_pct, "finishing/width_shrinkage_pct"),
        ("Shrinkage in length", finishing.length_shrinkage_pct, "finishing/length_shrinkage_pct"),
        ("Change of mass in finishing", finishing.mass_change_pct, "finishing/mass_change_pct"),
        ("Size on the warp", allowances.size_pct, "allowances/size_pct"),
    ):
        line = assumed.get(f"/construction/{pointer}")
        shown = value if line is None else line.value
        if shown is not None:
            yield StatedRow(words=words, value=f"{show(shown)} %", origin=_origin(line))


def _reed(order: Construction) -> str:
    reed, parts = order.reed, []
    if reed.dents_per_10cm is not None:
        parts.append(f"{show(reed.dents_per_10cm)} dents/10 cm")
    if reed.count is not None:
        parts.append(f"{show(reed.count)} {reed.system or ''}".strip())
    if reed.ends_per_dent is not None:
        parts.append(f"{counted(reed.ends_per_dent, 'end')} in a dent")
    if reed.ends_in_dents:
        parts.append(f"ends in dents {' '.join(map(str, reed.ends_in_dents[:40]))}")
    return ", ".join(parts)


def _length(order: Construction) -> str:
    if order.order is not None:
        pieces = order.order
        text = f"{counted(pieces.pieces, 'piece')} of {show(pieces.piece_length_m)} m, finished"
        for value, words in ((pieces.overage_pct, "overage"), (pieces.rejects_pct, "rejects")):
            text += "" if value is None else f", {words} {show(value)} %"
        return text
    if order.length_m is None:
        return f"not stated; figures are for {USUAL_LENGTH} of grey cloth"
    return _stated(order, "/length_m")


def _stage(fit: Fit) -> str:
    stated = fit.cloth.construction.stage
    return STAGE_WORDS[Stage.GREY if stated is None else stated]


def _stated(order: Construction, pointer: str, *, per: str = "") -> str:
    """Write a figure as it is stated, and one in inches or yards in its metric form too."""
    figure, unit = stated_figure(order, pointer)
    text, metric_unit = f"{show(figure)} {per}{unit}", pointer.rpartition("_")[2]
    if unit == metric_unit:
        return text
    return f"{text} ({rounded(metric_figure(order, pointer), 4)} {per}{metric_unit})"


def _origin(line: Assumption | None) -> str:
    if line is None:
        return ""
    words = "estimated" if line.grade is Grade.ESTIMATE else "assumed"
    band = between(line.band)
    return f"{words}, {band}" if band else words
