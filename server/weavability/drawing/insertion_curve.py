"""A pick over the crank circle as SVG: travel, speed and tension of the weft, and its danger.

Three panels share the crank angle. Behind the tension are the bands of the strength in use. Over
the angles at which the curve lies in a band all three panels are shaded, so that the danger is seen
on the travel of the weft too. Every band, line and peak is named in words: nothing depends on
colour alone.
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

WIDTH: Final = 620
EDGE: Final = 12
LEFT: Final = 56
RIGHT: Final = 24
TOP: Final = 104
PANEL_HEIGHT: Final = 104
GAP: Final = 40
LEGEND_TOP: Final = TOP + 3 * PANEL_HEIGHT + 2 * GAP + 64
LINE: Final = 18
SIGN: Final = 7.2
BOLD_SIGN: Final = 7.6
"""Pixels: the first line below the picture, distance of lines, ample width of a sign of 12."""
TICK_DEG: Final = 30
MIN_SLACK_DEG: Final = 12
FAR_ABOVE: Final = 6.0
THROUGH: Final = 60
"""Pixels that words are moved away rather than the curve runs through them."""
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
        height=LEGEND_TOP + LINE * len(_legend_lines(picture)),
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
        """Whether the curve crosses a line of text."""
        x = LEFT + self.angles / 360 * (WIDTH - LEFT - RIGHT)
        y = self.bottom - self.values / self.top_value * PANEL_HEIGHT
        beside = (x > box.left - 3) & (x < box.right + 3)
        return bool((beside & (y > box.bottom - 12) & (y < box.bottom + 4)).any())


def _x(angle_deg: float) -> float:
    return LEFT + angle_deg / 360 * (WIDTH - LEFT - RIGHT)


def _parts(picture: _Picture) -> Iterator[str]:
    curve = picture.curve
    shown = (
        ("Travel of the weft, m", picture.width_cm / 100 * 1.12, curve.displacement_m),
        ("Speed of the weft, m/s", picture.peak_speed * 1.2, curve.speed_m_per_s),
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
    yield from _speed_label(picture, panels[1])
    taken: list[_Box] = []
    yield from _band_names(picture, panels[2], taken)
    yield from _peaks(picture, panels[2], taken)
    yield from _slack(picture, panels[2], taken)
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
    asked, names = picture.requested, ", ".join(picture.beyond)
    within = "Speed and width are" if picture.not_shown else "This setting is"
    said = [f"This setting is beyond: {names}." if names else f"{within} within all limits."]
    if asked is not None:
        speed = f"{asked.picks_per_min:g} picks/min are"
        runs, limit = f"{round(picture.picks, 1):g}", asked.limited_by.replace("_", " ")
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


def _band_names(picture: _Picture, panel: _Panel, taken: list[_Box]) -> Iterator[str]:
    """Name each band at its right end, over the line at which it begins."""
    for low, band in zip(picture.bands_cn, picture.bands, strict=True):
        if low >= panel.top_value:
            return
        words = f"{band.limit_pct:g} %, {low:.0f} cN: {BAND_WORDS[band.severity]}"
        box = _free_box(
            words, WIDTH - RIGHT, panel.y(low) + 2, before=True, panel=panel, taken=taken
        )
        taken.append(box)
        yield svg.text(box.left, box.bottom, words, size=12, over_lines=True)


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


def _marks(picture: _Picture, panels: Sequence[_Panel]) -> Iterator[str]:
    setup = picture.setup
    turning = "hand-over" if setup.rapiers is Rapiers.DOUBLE else "turn"
    marks = (("entry", setup.entry_deg), (turning, setup.transfer_deg), ("exit", setup.exit_deg))
    end = 0.0
    for word, angle in marks:
        if angle is None:
            continue
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


def _speed_label(picture: _Picture, panel: _Panel) -> Iterator[str]:
    speeds = picture.curve.speed_m_per_s
    angle = float(picture.curve.angle_deg[int(speeds.argmax())])
    y = panel.y(picture.peak_speed)
    words = f"{picture.peak_speed:.1f} m/s"
    left = min(_x(angle) + 6, WIDTH - RIGHT - 4 - len(words) * SIGN)
    yield svg.text(left, y - 6, words, size=12, over_lines=True)


def _peaks(picture: _Picture, panel: _Panel, taken: list[_Box]) -> Iterator[str]:
    """Draw a dot at every peak; a blow has a stem, as it is not part of the curve. Name them all.

    A name is beside its dot, or as far above or below it as no other name is in its place.
    """
    marks = list(_peak_marks(picture, panel))
    for peak in picture.tension.peaks:
        x, y = _x(peak.at_deg), panel.y(peak.tension_cn)
        if peak.moment in BLOWS:
            base = panel.y(picture.tension.base_tension_cn)
            yield (
                f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{base:.1f}" y2="{y:.1f}" '
                f'stroke="{CURVE_COLOURS[2]}" stroke-width="2.2"/>'
            )
        yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{CURVE_COLOURS[2]}"/>'
        use = peak.tension_cn / picture.yarn.weakest_strength_cn * 100
        tension = (
            f"{peak.tension_cn:.0f}" if peak.tension_cn >= WHOLE_CN else f"{peak.tension_cn:.1f}"
        )
        words = f"{peak.moment.in_words} {tension} cN, {use:.0f} %"
        before = peak.moment in {Moment.PICK_UP, Moment.TRANSFER, Moment.STOP}
        box = _free_box(words, x, y, before=before, panel=panel, taken=taken, marks=marks)
        taken.append(box)
        if box.bottom + LINE < y:  # A name far above its dot is led to it.
            foot = min(max(x, box.left), box.right)
            yield (
                f'<line x1="{x:.1f}" x2="{foot:.1f}" y1="{y:.1f}" y2="{box.bottom + 3:.1f}" '
                f'stroke="{svg.INK}" stroke-width="0.7"/>'
            )
        yield svg.text(box.left, box.bottom, words, size=12, over_lines=True)


def _peak_marks(picture: _Picture, panel: _Panel) -> Iterator[_Box]:
    """Yield the room of the dots of the peaks, and of the stems of blows."""
    for peak in picture.tension.peaks:
        x, y = _x(peak.at_deg), panel.y(peak.tension_cn)
        end = panel.y(picture.tension.base_tension_cn) if peak.moment in BLOWS else y
        for at in np.arange(y, end + 1, 6).tolist():
            yield _Box(x - 5, x + 5, at + 5)


class _Box(NamedTuple):
    """The room of a line of text in pixels; ``bottom`` is its base line."""

    left: float
    right: float
    bottom: float

    def meets(self, other: _Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and abs(self.bottom - other.bottom) < LINE - 4
        )


def _free_box(
    words: str,
    x: float,
    y: float,
    *,
    before: bool,
    panel: _Panel,
    taken: Sequence[_Box],
    marks: Sequence[_Box] = (),
) -> _Box:
    """Find room for words near a point: clear of other words; near, and off the curve, if it can.

    A step away costs less than a line through the words, and the side that is asked for is the
    first of equal ones.
    """
    width = len(words) * SIGN
    start, other = (x - 8 - width, x + 8) if before else (x + 8, x - 8 - width)
    boxes = {}
    for side in np.linspace(start, other, 16).tolist():
        left = min(max(side, LEFT + 4), WIDTH - RIGHT - 4 - width)
        aside = max(left - x - 8, x - 8 - left - width, 0)
        for shift in range(-PANEL_HEIGHT, PANEL_HEIGHT, 4):
            box = _Box(left, left + width, y - 7 + shift)
            if panel.top + 13 <= box.bottom <= panel.bottom - 4:
                boxes[box] = abs(shift) + aside
    free = [box for box in boxes if not any(map(box.meets, taken))] or list(boxes)
    nearest = sorted(free, key=boxes.__getitem__)
    for box in nearest:
        if boxes[box] > boxes[nearest[0]] + THROUGH:
            break
        if not (any(map(box.meets, marks)) or panel.crosses(box)):
            return box
    return next((box for box in nearest if not any(map(box.meets, marks))), nearest[0])


def _slack(picture: _Picture, panel: _Panel, taken: list[_Box]) -> Iterator[str]:
    """Name the angles at which the weft runs ahead of its carrier, if there is room."""
    for start, end in _runs(picture.curve.angle_deg, picture.curve.tension_cn <= 0.0):
        middle, half = _x((start + end) / 2), len("slack") * SIGN / 2
        box = _Box(middle - half, middle + half, panel.bottom - 6)
        if end - start >= MIN_SLACK_DEG and not any(map(box.meets, taken)):
            yield svg.text(middle, box.bottom, "slack", anchor="middle", size=12, over_lines=True)


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
    for sentence in _beyond(picture):
        lines += [(line, bool(picture.beyond)) for line in wrap(sentence, signs)]
    if picture.bands_cn and picture.bands_cn[0] >= picture.tension_top:
        above = f"The first band begins at {picture.bands_cn[0]:.0f} cN, far above the picture."
        lines.append((above, False))
    return lines


def _legend(picture: _Picture) -> Iterator[str]:
    for place, (line, bold) in enumerate(_legend_lines(picture)):
        yield svg.text(EDGE, LEGEND_TOP + LINE * place, line, bold=bold, size=12)
