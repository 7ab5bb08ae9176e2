"""A pick over the crank circle as SVG: travel, speed and tension of the weft, and its danger.

Three panels share the crank angle. Behind the tension are the bands of the strength in use. Over
the angles at which the curve lies in a band all three panels are shaded, so that the danger is seen
on the travel of the weft too. Every band, line and peak is named in words: nothing depends on
colour alone. No words lie on a line: bands are named beside the panel, and peaks have numbers at
their dots and their names below.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Final, NamedTuple

import numpy as np

from weavability.checks.finding import Severity
from weavability.checks.rules import Test
from weavability.checks.weft import StrengthBand, strength_bands
from weavability.drawing import svg
from weavability.looms.carriers import (
    InsertionSetup,
    InsertionSystem,
    Rapiers,
    insertion_motion,
)
from weavability.looms.pick_over_crank import InsertionCurve, insertion_curve
from weavability.looms.thresholds import in_force
from weavability.looms.weft_tension import (
    Moment,
    WeftTension,
    WeftYarn,
    weft_tension,
)
from weavability.textiles.numbers import Floats, Truth

WIDTH: Final = 680
EDGE: Final = 12
LEFT: Final = 56
RIGHT: Final = 112
TOP: Final = 104
PANEL_HEIGHT: Final = 84
GAP: Final = 40
LEGEND_TOP: Final = TOP + 3 * PANEL_HEIGHT + 2 * GAP + 64
LINE: Final = 18
SIGN: Final = 7.2
BOLD_SIGN: Final = 7.6
"""Pixels: the first line below the picture, distance of lines, ample width of a sign of 12."""
TICK_DEG: Final = 30
MIN_SLACK_DEG: Final = 12
FAR_ABOVE: Final = 6.0
NAMES_ABREAST: Final = 2
"""Peaks that are named in one line below the picture."""

BESIDE: Final = (10, 14, 18, 24, 32, 42)
"""Pixels from a dot to the middle of its number, the nearest first."""
RULED: Final = 12.0
"""Pixels that a number is moved away rather than a ruled line runs through it."""
CURVE_STEPS: Final = 720
WHOLE_CN: Final = 100.0
"""From here on a tension is written without decimals."""

BAND_FILLS: Final = ("#fdf3d0", "#fbdcb4", "#f3b8ae")
BAND_WORDS: Final = {
    Severity.NOTE: "worth a note",
    Severity.WARNING: "warning",
    Severity.ERROR: "error",
}
BAND_HATCHES: Final = (0, 9, 4)
"""Pixels between the lines that hatch each band, so that it is seen without colour; 0 for none."""

CURVE_COLOURS: Final = (svg.INK, svg.INK, svg.ACCENT)

TENSION_TITLE: Final = "Tension of the weft, cN; shaded: share of the strength at its weakest place"

SYSTEM_WORDS: Final = {
    InsertionSystem.RAPIER: "rapier",
    InsertionSystem.PROJECTILE: "projectile",
    InsertionSystem.AIR_JET: "air jet",
    InsertionSystem.WATER_JET: "water jet",
    InsertionSystem.SHUTTLE: "shuttle",
    InsertionSystem.NEEDLE: "needle",
}
BLOWS: Final = frozenset({Moment.PICK_UP, Moment.TRANSFER, Moment.LAUNCH, Moment.STOP})
"""Peaks that are added at an angle; the others are maxima of the curve itself."""


def insertion_svg(
    setup: InsertionSetup,
    yarn: WeftYarn,
    *,
    speed_picks_per_min: float,
    reed_width_cm: float,
    requested: RequestedSpeed | None = None,
    beyond: Sequence[str] = (),
    not_shown: Sequence[str] = (),
) -> str:
    """Draw travel, speed and tension of the weft over the crank angle.

    Args:
        setup: The insertion.
        yarn: The weft.
        speed_picks_per_min: Loom speed.
        reed_width_cm: Reed width in use.
        requested: A greater speed that is requested, if that is what ``beyond`` is about.
        beyond: Names of the limits that the setting is beyond.
        not_shown: Names of findings on the cloth, of which the picture shows nothing.

    Returns:
        An SVG document with title and description; it refers to nothing outside itself.

    Raises:
        InputError: Speed or width is not a positive number.
    """
    given = {"speed_picks_per_min": speed_picks_per_min, "reed_width_cm": reed_width_cm}
    bands = strength_bands(in_force().usual)
    picture = _Picture(
        setup=setup,
        yarn=yarn,
        picks=speed_picks_per_min,
        width_cm=reed_width_cm,
        curve=insertion_curve(setup, yarn, **given, steps=CURVE_STEPS),
        tension=weft_tension(setup, yarn, **given),
        peak_speed=insertion_motion(setup, **given).peak_speed_m_per_s,
        bands_cn=tuple(band.limit_pct / 100 * yarn.weakest_strength_cn for band in bands),
        bands=bands,
        requested=requested,
        beyond=tuple(beyond),
        not_shown=tuple(not_shown),
    )
    return svg.document(
        width=WIDTH,
        height=LEGEND_TOP + LINE * (_rows_of_names(picture) + len(_legend_lines(picture))),
        title=_heading(picture),
        description=_description(picture),
        parts=_parts(picture),
    )


class RequestedSpeed(NamedTuple):
    """A speed that is requested, and the limit for which a lower one is drawn."""

    picks_per_min: float
    limited_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Picture:
    setup: InsertionSetup
    yarn: WeftYarn
    picks: float
    width_cm: float
    curve: InsertionCurve
    tension: WeftTension
    peak_speed: float
    bands_cn: tuple[float, ...]
    bands: tuple[StrengthBand, ...]
    requested: RequestedSpeed | None
    beyond: tuple[str, ...]
    not_shown: tuple[str, ...]

    @property
    def tension_top(self) -> float:
        """Top of the scale: above the peak, and above the first band unless that is far off."""
        peak = self.tension.peak_tension_cn
        first = self.bands_cn[0] * 1.25 if self.bands_cn else 0.0
        near = first <= FAR_ABOVE * peak
        return max(peak * 1.6 if near else peak * 2, first if near else 0.0, 1e-6)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panel:
    index: int
    title: str
    top_value: float
    angles: Floats
    values: Floats

    @property
    def top(self) -> float:
        return TOP + self.index * (PANEL_HEIGHT + GAP)

    @property
    def bottom(self) -> float:
        return self.top + PANEL_HEIGHT

    def y(self, value: float) -> float:
        share = min(max(value / self.top_value, 0.0), 1.0)
        return self.bottom - share * PANEL_HEIGHT

    def crosses(self, box: _Box) -> bool:
        """Return whether the curve runs through some room."""
        x = LEFT + self.angles / 360 * (WIDTH - LEFT - RIGHT)
        y = self.bottom - np.clip(self.values / self.top_value, 0, 1) * PANEL_HEIGHT
        # Between two steps the curve may rise steeply, as where the weft is caught.
        low, high = np.minimum(y[1:], y[:-1]), np.maximum(y[1:], y[:-1])
        beside = (x[1:] > box.left - 2) & (x[:-1] < box.right + 2)
        return bool((beside & (high > box.top - 2) & (low < box.bottom + 2)).any())


def _x(angle_deg: float) -> float:
    return LEFT + angle_deg / 360 * (WIDTH - LEFT - RIGHT)


def _parts(picture: _Picture) -> Iterator[str]:
    curve = picture.curve
    shown = (
        ("Travel of the weft, m", picture.width_cm / 100 * 1.12, curve.displacement_m),
        (
            f"Speed of the weft, m/s; at most {picture.peak_speed:.1f}",
            picture.peak_speed * 1.12,
            curve.speed_m_per_s,
        ),
        (TENSION_TITLE, picture.tension_top, curve.tension_cn),
    )
    panels = [
        _Panel(index=index, title=title, top_value=top, angles=curve.angle_deg, values=values)
        for index, (title, top, values) in enumerate(shown)
    ]
    yield svg.text(EDGE, 26, _heading(picture), size=15)
    yield svg.text(EDGE, 46, _subheading(picture), fill=svg.QUIET, size=11)
    yield from _danger_angles(picture, panels)
    yield from _bands(picture, panels[2])
    for panel in panels:
        yield from _frame(panel)
    yield from _marks(picture, panels)
    for panel in panels:
        yield _line(panel)
    yield from _band_names(picture, panels[2])
    yield from _peaks(picture, panels[2])
    yield from _angle_axis(panels[2])
    yield from _legend(picture)


def _heading(picture: _Picture) -> str:
    return (
        f"Weft insertion by {SYSTEM_WORDS[picture.setup.system]}: "
        f"{picture.picks:.0f} picks/min at {picture.width_cm:.0f} cm in the reed"
    )


def _subheading(picture: _Picture) -> str:
    law = picture.setup.motion_law
    kind = f"{picture.setup.rapiers} rapier, " if picture.setup.rapiers else ""
    motion = f"{kind}{law.replace('_', ' ')}; " if law else ""
    return (
        f"{motion}weft {picture.yarn.linear_density_tex:.3g} tex, "
        f"weakest place {picture.yarn.weakest_strength_cn:.0f} cN, "
        f"{picture.tension.base_tension_cn:.1f} cN at rest"
    )


def _description(picture: _Picture) -> str:
    tension = picture.tension
    peaks = "; ".join(
        f"{peak.moment.in_words} at {peak.at_deg:.0f} degrees: {peak.tension_cn:.1f} cN"
        for peak in tension.peaks
    )
    return (
        "Three curves over the crank angle from 0 to 360 degrees: travel, speed and tension of "
        f"the weft. It enters at {picture.setup.entry_deg:g} and has arrived at "
        f"{picture.setup.exit_deg:g} degrees. Greatest speed {picture.peak_speed:.1f} m/s. "
        f"Tension peaks: {peaks}. The greatest uses {tension.strength_use_pct:.1f} % of the "
        f"strength at the weakest place: {_verdict(picture)}. {' '.join(_beyond(picture))}"
    )


def _beyond(picture: _Picture) -> list[str]:
    """Say what the setting is beyond: the speed that is requested, if a lower one is drawn."""
    requested, names = picture.requested, ", ".join(picture.beyond)
    within = "Speed and width are" if picture.not_shown else "This setting is"
    said = [f"This setting is beyond: {names}." if names else f"{within} within all limits."]
    if requested is not None:
        speed = f"{requested.picks_per_min:g} picks/min are"
        runs, limit = f"{round(picture.picks, 1):g}", requested.limited_by.replace("_", " ")
        said = [
            f"{speed} requested; the loom runs at {runs}, limited by the {limit}.",
            *([f"{speed} beyond: {names}."] if names else []),
        ]
    if picture.not_shown:
        said.append(f"Also found on the cloth: {', '.join(picture.not_shown)}.")
    return said


def _verdict(picture: _Picture) -> str:
    use_pct = picture.tension.strength_use_pct
    entered = [band for band in picture.bands if band.test(use_pct, band.limit_pct)]
    return BAND_WORDS[entered[-1].severity] if entered else "below the first band"


def _danger_angles(picture: _Picture, panels: Sequence[_Panel]) -> Iterator[str]:
    """Shade the angles over which the curve, or a blow at one angle, lies in a band."""
    bands = zip(picture.bands, picture.bands_cn, strict=True)
    for index, (band, limit_cn) in enumerate(bands):
        for start, end in _dangerous(picture, band.test, limit_cn):
            for panel in panels[:2]:
                yield from _shaded(index, (_x(start), _x(end)), (panel.top, panel.bottom))


def _shaded(index: int, across: tuple[float, float], down: tuple[float, float]) -> Iterator[str]:
    """Fill and hatch a part of a panel as one of the bands."""
    (left, right), (top, bottom) = across, down
    yield (
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" '
        f'height="{bottom - top:.1f}" fill="{BAND_FILLS[index]}"/>'
    )
    step = BAND_HATCHES[index]
    if step:
        lines = "".join(
            f"M{x:.1f} {top:.1f}V{bottom:.1f}" for x in np.arange(left + step / 2, right, step)
        )
        yield f'<path d="{lines}" stroke="{svg.FAULT}" stroke-width="0.5" fill="none"/>'


def _dangerous(picture: _Picture, test: Test, limit_cn: float) -> Iterator[tuple[float, float]]:
    tension_cn = picture.curve.tension_cn
    in_band = test(tension_cn, np.full_like(tension_cn, limit_cn))
    yield from _runs(picture.curve.angle_deg, in_band)
    for peak in picture.tension.peaks:
        if peak.moment in BLOWS and test(peak.tension_cn, limit_cn):
            yield max(peak.at_deg - 3, 0.0), min(peak.at_deg + 3, 360.0)


def _runs(angles: Floats, holds: Truth) -> Iterator[tuple[float, float]]:
    """Yield the first and last angle of every run of angles for which something holds."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], holds, [False]))))
    for start, end in edges.reshape(-1, 2):
        yield float(angles[start]), float(angles[end - 1])


def _bands(picture: _Picture, panel: _Panel) -> Iterator[str]:
    ends = (*picture.bands_cn[1:], float("inf"))
    for index, (low, high) in enumerate(zip(picture.bands_cn, ends, strict=True)):
        if low >= panel.top_value:
            return
        y_low, y_high = panel.y(low), panel.y(min(high, panel.top_value))
        yield from _shaded(index, (LEFT, WIDTH - RIGHT), (y_high, y_low))
        yield (
            f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y_low:.1f}" y2="{y_low:.1f}" '
            f'stroke="{svg.QUIET}" stroke-width="0.8"/>'
        )


def _band_names(picture: _Picture, panel: _Panel) -> Iterator[str]:
    """Name each band beside the panel, at the line at which it begins."""
    base = float("inf")
    for low, band in zip(picture.bands_cn, picture.bands, strict=True):
        if low >= panel.top_value:
            return
        base = min(panel.y(low) + 4, base - LINE + 4)
        words = f"{band.limit_pct:g} %: {band.severity}"
        yield svg.text(WIDTH - RIGHT + 8, base, words, size=12)


def _frame(panel: _Panel) -> Iterator[str]:
    yield (
        f'<rect x="{LEFT}" y="{panel.top:.1f}" width="{WIDTH - LEFT - RIGHT}" '
        f'height="{PANEL_HEIGHT}" fill="none" stroke="{svg.QUIET}"/>'
    )
    yield svg.text(
        LEFT, panel.top - 8, panel.title, bold=True, fill=CURVE_COLOURS[panel.index], size=12
    )
    for value in _ticks(panel.top_value):
        y = panel.y(value)
        yield (
            f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="{svg.RULE}" '
            'stroke-width="0.7"/>'
        )
        yield svg.text(LEFT - 8, y + 4, f"{value:g}", anchor="end", fill=svg.QUIET, size=12)


def _ticks(top: float) -> list[float]:
    """Return three to six round values from 0 up to ``top``."""
    power = 10.0 ** np.floor(np.log10(top))
    step = next(float(power * m) for m in (0.2, 0.25, 0.5, 1, 2, 2.5) if top / (power * m) < 6)
    return [round(step * k, 10) for k in range(int(top / step) + 1)]


def _marked_angles(picture: _Picture) -> Iterator[tuple[str, float]]:
    """Yield what happens at each dashed line, and its angle."""
    setup = picture.setup
    turning = "hand-over" if setup.rapiers is Rapiers.DOUBLE else "turn"
    marks = (("entry", setup.entry_deg), (turning, setup.transfer_deg), ("exit", setup.exit_deg))
    for word, angle in marks:
        if angle is not None:
            yield word, angle


def _marks(picture: _Picture, panels: Sequence[_Panel]) -> Iterator[str]:
    end = 0.0
    for word, angle in _marked_angles(picture):
        x, words = _x(angle), f"{word} {angle:g}°"
        width = len(words) * SIGN
        left = max(x - width / 2, end)
        end = left + width + SIGN
        yield svg.text(left + width / 2, TOP - 26, words, anchor="middle", size=12)
        for panel in panels:
            yield (
                f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{panel.top:.1f}" y2="{panel.bottom:.1f}" '
                f'stroke="{svg.INK}" stroke-width="0.9" stroke-dasharray="5 4"/>'
            )


def _line(panel: _Panel) -> str:
    points = " ".join(
        f"{_x(angle):.1f},{panel.y(value):.1f}"
        for angle, value in zip(panel.angles.tolist(), panel.values.tolist(), strict=True)
    )
    colour = CURVE_COLOURS[panel.index]
    return (
        f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="2.2" '
        'stroke-linejoin="round"/>'
    )


def _peaks(picture: _Picture, panel: _Panel) -> Iterator[str]:
    """Draw a dot at every peak, and its number; a blow has a stem: it is not part of the curve."""
    taken = [*_dashes(picture, panel), *_peak_marks(picture, panel)]
    for number, peak in enumerate(picture.tension.peaks, start=1):
        x, y = _x(peak.at_deg), panel.y(peak.tension_cn)
        if peak.moment in BLOWS:
            base = panel.y(picture.tension.base_tension_cn)
            yield (
                f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{base:.1f}" y2="{y:.1f}" '
                f'stroke="{CURVE_COLOURS[2]}" stroke-width="2.2"/>'
            )
        yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{CURVE_COLOURS[2]}"/>'
        box = _free_box(x, y, panel=panel, ruled=picture.bands_cn, taken=taken)
        taken.append(box)
        middle = (box.left + box.right) / 2
        yield svg.text(
            middle, box.bottom, f"{number}", anchor="middle", bold=True, size=12, over_lines=True
        )


def _peak_names(picture: _Picture) -> list[str]:
    """Return number, name and tension of every peak, and what share of the strength it uses."""
    return [
        f"{number} {peak.moment.in_words} "
        f"{peak.tension_cn:.{0 if peak.tension_cn >= WHOLE_CN else 1}f} cN, "
        f"{peak.tension_cn / picture.yarn.weakest_strength_cn * 100:.0f} %"
        for number, peak in enumerate(picture.tension.peaks, start=1)
    ]


class _Box(NamedTuple):
    """Room on the sheet, in pixels."""

    left: float
    right: float
    top: float
    bottom: float

    def meets(self, other: _Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


def _dashes(picture: _Picture, panel: _Panel) -> Iterator[_Box]:
    """Yield the room of the dashed lines."""
    for _, angle in _marked_angles(picture):
        yield _Box(_x(angle) - 2, _x(angle) + 2, panel.top, panel.bottom)


def _peak_marks(picture: _Picture, panel: _Panel) -> Iterator[_Box]:
    """Yield the room of the dots of the peaks, and of the stems of blows."""
    for peak in picture.tension.peaks:
        x, y = _x(peak.at_deg), panel.y(peak.tension_cn)
        end = panel.y(picture.tension.base_tension_cn) if peak.moment in BLOWS else y
        yield _Box(x - 5, x + 5, min(y, end) - 5, max(y, end) + 5)


def _free_box(
    x: float, y: float, *, panel: _Panel, ruled: Sequence[float], taken: Sequence[_Box]
) -> _Box:
    """Find room for a number near a dot: clear of all that is drawn, and near.

    A ruled line through it counts as some distance; anything else only if there is no other room.
    """
    lines = [panel.y(value) for value in (*_ticks(panel.top_value), *ruled)]
    found: dict[_Box, tuple[bool, float]] = {}
    for away in BESIDE:
        for turn in np.linspace(0, 2 * np.pi, 24, endpoint=False).tolist():
            middle, low = x + away * np.sin(turn), y + 4 - away * np.cos(turn)
            box = _Box(middle - SIGN / 2, middle + SIGN / 2, low - 9, low)
            if not (box.left > LEFT + 2 and box.right < WIDTH - RIGHT - 2):
                continue
            if not (panel.top + 2 < box.top and box.bottom < panel.bottom - 2):
                continue
            is_crossed = panel.crosses(box) or any(map(box.meets, taken))
            passes = any(box.top - 1 < line < box.bottom + 1 for line in lines)
            found[box] = is_crossed, away + RULED * passes
    return min(found, key=found.__getitem__)


def _angle_axis(panel: _Panel) -> Iterator[str]:
    for angle in range(0, 361, TICK_DEG):
        x = _x(angle)
        yield (
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{panel.bottom:.1f}" y2="{panel.bottom + 5:.1f}" '
            f'stroke="{svg.QUIET}"/>'
        )
        yield svg.text(x, panel.bottom + 20, f"{angle}", anchor="middle", fill=svg.QUIET, size=12)
    yield svg.text(
        (LEFT + WIDTH - RIGHT) / 2,
        panel.bottom + 40,
        "crank angle, degrees (0 = beat-up)",
        anchor="middle",
        fill=svg.QUIET,
        size=12,
    )


def _legend_lines(picture: _Picture) -> list[tuple[str, bool]]:
    """Return the lines below the picture, and whether each is bold."""
    use = picture.tension.strength_use_pct
    signs = int((WIDTH - 2 * EDGE) / BOLD_SIGN)
    said = f"Greatest tension uses {use:.1f} % of the weakest strength: {_verdict(picture)}."
    lines = [(line, True) for line in wrap(said, signs)]
    slack = [
        f"{start:.0f}° to {end:.0f}°"
        for start, end in _runs(picture.curve.angle_deg, picture.curve.tension_cn <= 0.0)
        if end - start >= MIN_SLACK_DEG
    ]
    if slack:
        said = f"The weft is slack from {' and from '.join(slack)}."
        lines += [(line, False) for line in wrap(said, signs)]
    for sentence in _beyond(picture):
        lines += [(line, bool(picture.beyond)) for line in wrap(sentence, signs)]
    if picture.bands_cn and picture.bands_cn[0] >= picture.tension_top:
        above = f"The first band begins at {picture.bands_cn[0]:.0f} cN, far above the picture."
        lines.append((above, False))
    return lines


def _legend(picture: _Picture) -> Iterator[str]:
    names = _peak_names(picture)
    for place, name in enumerate(names):
        row, column = divmod(place, NAMES_ABREAST)
        x = EDGE + column * (WIDTH - 2 * EDGE) / NAMES_ABREAST
        yield svg.text(x, LEGEND_TOP + LINE * row, name, size=12)
    start = LEGEND_TOP + LINE * _rows_of_names(picture)
    for place, (line, bold) in enumerate(_legend_lines(picture)):
        yield svg.text(EDGE, start + LINE * place, line, bold=bold, size=12)


def _rows_of_names(picture: _Picture) -> int:
    return -(-len(picture.tension.peaks) // NAMES_ABREAST)
