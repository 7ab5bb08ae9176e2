"""How pages write verdicts, names and figures."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from markupsafe import Markup, escape

from weavability.answers.decisive_section import DecisiveAssumption, TurningCorner
from weavability.answers.field_names import in_sentence, named_in_words
from weavability.answers.field_words import without_unit
from weavability.answers.finding_remedies import NOTHING_HELPS, OUT_OF_TRIALS, STATE_FIRST
from weavability.answers.tried_in_vain import USED_UP
from weavability.answers.written_remedies import AS_ASSUMED
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Alteration, Finding, Remedy, Severity, Verdict
from weavability.checks.requirement import CODES as REQUIREMENTS
from weavability.textiles.assumptions import Grade, ValueBand

_THIN_SPACE: Final = "\u202f"
VERDICTS: Final[Mapping[Verdict, tuple[str, str, str]]] = {
    Verdict.WEAVABLE: ("good", "✓", "Weavable"),
    Verdict.WEAVABLE_WITH_WARNINGS: ("fair", "!", "Weavable, with warnings"),
    Verdict.NOT_WEAVABLE: ("bad", "✕", "Not weavable"),
}
"""Class of style, sign and words of a verdict: colour is never the only carrier."""

SEVERITIES: Final[Mapping[Severity, tuple[str, str]]] = {
    Severity.ERROR: ("bad", "Error: cannot or must not run"),
    Severity.WARNING: ("fair", "Warning: runs, but with this effect"),
    Severity.NOTE: ("plain", "Note: worth knowing"),
}
"""Class of style and meaning of a severity, the gravest first."""


GRADES: Final[Mapping[Grade, str]] = {
    Grade.ESTIMATE: "estimated",
    Grade.SOURCE: "from a source",
    Grade.COMMON_PRACTICE: "common practice",
    Grade.FROM_MEMORY: "from memory",
    Grade.MILL: "of the mill",
}
"""How well a value that nobody stated is supported, in words."""

_CODE: Final = re.compile(
    rf"(?<![\w./])(?:{'|'.join(re.escape(code) for code in sorted(CheckCode, reverse=True))})\b"
)


_MEMBER: Final = re.compile(
    rf"(?<![\w./])(?!(?:{'|'.join(re.escape(code) for code in CheckCode)})\b)"
    r"(warp|weft|order|finishing|selvedge)\.([a-z]+(?:_[a-z0-9]+)*)\b"
)
FIELD_NAME: Final = re.compile(r"(?<![\w.])[a-z]+(?:_[a-z0-9]+)+\b(?!\.\w)")
"""Name of a field in a sentence, which a part of the code of a check is not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line of a table of facts."""

    words: str
    value: str
    unit: str = ""


class Deciding(NamedTuple):
    """What turns a verdict.

    Attributes:
        listed: The values that do by themselves, but for those that only change which reed in stock
            serves, which a report says in its ``reed_note``.
        together: The values that turn it together, if a sentence does not name all.
    """

    listed: tuple[DecisiveAssumption, ...]
    together: tuple[str, ...]


def deciding(
    found: Iterable[DecisiveAssumption] | None, corner: TurningCorner | None = None
) -> Deciding:
    """Part the values that turn a verdict by what they decide.

    Args:
        found: Those that do by themselves.
        corner: Those that do together.
    """
    listed = tuple(each for each in found or () if not each.is_of_stock)
    return Deciding(listed, () if corner is None else tuple(_unless_named(corner)))


def _unless_named(corner: TurningCorner) -> Iterator[str]:
    """Yield the values of a corner if its message does not name all."""
    if not all(each.name in corner.message for each in corner.values):
        for each in corner.values:
            far = each.towards_limit_pct
            alone = "" if far is None else f": alone {far:.0f} % of the distance to the limit"
            if far is not None and far <= 0:
                alone = ": only together with the others"
            yield f"{each.name} {measure(each.value, each.unit)}{alone}"


def linked(text: str) -> Markup:
    """Write a sentence for people: fields of a request in words, codes of checks as links.

    >>> linked("sett.open rests on /construction/weft/crimp_pct & more")
    Markup('<a href="/v1/checks/sett.open">sett.open</a> rests on weft crimp &amp; more')
    >>> linked("State twist_per_m, or warp.beams.")
    Markup('State twist, or beams of the warp.')
    """
    spoken_text = members_in_words(in_sentence(text))
    spoken_text = FIELD_NAME.sub(lambda found: named_in_words(found[0]), spoken_text)
    address = r'<a href="/v1/checks/\g<0>">\g<0></a>'
    return Markup(_CODE.sub(address, str(escape(spoken_text))))  # noqa: S704 (escaped before)


def members_in_words(text: str) -> str:
    """Write fields that are named with their part for people; codes of checks stay.

    >>> members_in_words("sett.open: state warp.crimp_pct.")
    'sett.open: state crimp of the warp.'
    """
    return _MEMBER.sub(lambda found: f"{named_in_words(found[2])} of the {found[1]}", text)


def _named(field: str) -> str:
    """Name a field without its unit."""
    return without_unit(field).removesuffix("_per").replace("_", " ")


def spoken(name: str) -> str:
    """Return a field's name as words.

    >>> spoken("reed_width_cm"), spoken("min_reed_width")
    ('Reed width cm', 'Least reed width')
    """
    whole = _LIMITING.sub(lambda found: _EXTREMES[found[0]], name)
    return whole.replace("_", " ").capitalize()


_EXTREMES: Final = {"min_": "least_", "max_": "greatest_"}
_LIMITING: Final = re.compile(r"\b(?:min|max)_")


def show(value: object) -> str:
    """Write a value for people: four significant figures, thousands apart, no exponent.

    >>> show(29.527062), show(0.012341), show(4912), show(-4.5), show("requested_speed")
    ('29.53', '0.01234', '4912', '−4.5', 'requested speed')
    """
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "none"}[value]
    if isinstance(value, str):
        return value.replace("_", " ").replace("jacquard", "Jacquard")
    if not isinstance(value, int | float):
        return str(value)
    return _figure(value).replace("-", "−")


def _figure(value: float) -> str:
    if abs(value) >= 10_000:
        return f"{value:,.0f}".replace(",", _THIN_SPACE)
    if isinstance(value, int) or abs(value) >= 1000:
        return f"{value:.0f}"
    return f"{float(f'{value:.4g}'):f}".rstrip("0").rstrip(".")


def rounded(value: float, digits: int = 3) -> str:
    """Write a figure for the shop floor: so many significant digits, whole numbers whole.

    >>> rounded(158.764), rounded(1216), rounded(27.58), rounded(0.6667, 2), rounded(12743.6)
    ('159', '1216', '27.6', '0.67', '12\u202f744')
    """
    if abs(value) >= 10 ** (digits - 1):
        return _figure(round(value)).replace("-", "−")
    return _figure(float(f"{value:.{digits}g}")).replace("-", "−")


def untried(tried: Sequence[str]) -> str:
    """Say what was tried in vain, and whether more may help.

    >>> untried(["fewer ends", "a coarser yarn"])
    'What was tried does not clear it: fewer ends, a coarser yarn.'
    >>> untried(["nothing, because no change of the order is known to help"])
    'No change of the order is known to help.'
    >>> untried([STATE_FIRST])
    'No change of the order clears it: the band of the figure is wider than its limits. State what \
is assumed first.'
    >>> untried(["fewer ends", OUT_OF_TRIALS])
    'What was tried does not clear it: fewer ends. More may help: not searched here.'
    >>> untried(["fewer ends", USED_UP])
    'What was tried does not clear it: fewer ends. The trials of a search were used up: more may \
help.'
    """
    if list(tried) == [NOTHING_HELPS]:
        return "No change of the order is known to help."
    if list(tried) == [STATE_FIRST]:
        return (
            "No change of the order clears it: the band of the figure is wider than its limits. "
            "State what is assumed first."
        )
    known = [each for each in tried if each not in (OUT_OF_TRIALS, USED_UP)]
    vain = [f"What was tried does not clear it: {', '.join(known)}."] if known else []
    more = ["More may help: not searched here."] if may_be_more(tried) else []
    used = ["The trials of a search were used up: more may help."] if USED_UP in tried else []
    return " ".join([*vain, *more, *used])


def may_be_more(tried: Sequence[str]) -> bool:
    """Return whether a search may find what a report did not try."""
    return OUT_OF_TRIALS in tried


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownFinding:
    """A finding as a page lists it.

    Attributes:
        finding: What was found.
        remedies: Its remedies that are not listed with a graver finding.
        above: What those are called that are and clear it.
        easing: What those are called that are and leave a warning of it.
    """

    finding: Finding
    remedies: tuple[Remedy, ...]
    above: tuple[str, ...]
    easing: tuple[str, ...]


def shown_findings(findings: Iterable[Finding], above: Iterable[Remedy] = ()) -> list[ShownFinding]:
    """Return findings, the gravest first, with each remedy once.

    Args:
        findings: What was found.
        above: Remedies that are listed before all findings.
    """
    listed = {str(each["changes"]) for each in above}
    shown = []
    for finding in sorted(findings, key=lambda each: list(SEVERITIES).index(each.severity)):
        again = [each for each in finding.remedies if str(each["changes"]) in listed]
        clearing = [each for each in again if finding.code in each["clears"]]
        shown.append(
            ShownFinding(
                finding=finding,
                remedies=tuple(each for each in finding.remedies if each not in again),
                above=tuple(change_of(each).rstrip(".") for each in clearing),
                easing=tuple(change_of(each).rstrip(".") for each in again if each not in clearing),
            )
        )
        listed.update(str(each["changes"]) for each in finding.remedies)
    return shown


def also_helped(above: Sequence[str], easing: Sequence[str] = ()) -> str:
    """Say which remedies of graver findings clear a finding as well, or leave a warning of it.

    >>> also_helped(["Weave it 183 cm wide", "Use 20 picks/cm"])
    'It is cleared as well by “Weave it 183 cm wide” or “Use 20 picks/cm” above.'
    >>> also_helped([], ["Set 34.6 ends/cm"])
    'It is left as a warning by “Set 34.6 ends/cm” above.'
    """
    said = [("cleared as well", above), ("left as a warning", easing)]
    parts = [
        f"It is {how} by {' or '.join(f'“{each}”' for each in changes)} above."
        for how, changes in said
        if changes
    ]
    return " ".join(parts)


_LEAVES: Final = " It leaves "


def change_of(remedy: Remedy) -> str:
    """Write what is to be changed, without what it leaves, which a page says beside it."""
    return remedy["message"].partition(_LEAVES)[0]


def effects_of(remedy: Remedy, verdict: Verdict) -> str:
    """Write what comes of a remedy, apart from what it clears.

    Args:
        remedy: The remedy.
        verdict: The verdict without it.
    """
    rejected = remedy["rejected_if_assumed"]
    doubt = f", but not weavable if what is assumed is so ({', '.join(rejected)})"
    said = [
        f"The order is then {VERDICTS[after][2].lower()}{doubt if rejected else ''}."
        for after in (remedy["verdict"],)
        if after != verdict
    ]
    warned = [code for code in remedy["leaves_warnings"] if code not in rejected]
    required = [code for code in warned if code in REQUIREMENTS]
    for codes, words, besides in (
        ([code for code in warned if code not in required], "Leaves a warning of", ""),
        (required, "Leaves a warning of", AS_ASSUMED),
        (remedy["leaves_notes"], "Leaves a note of", ""),
        (remedy["brings"], "Brings", ""),
    ):
        if codes:
            said.append(f"{words} {', '.join(codes)}{besides}.")
    if figures := altered(remedy):
        said.append(f"Also: {'; '.join(figures)}.")
    return " ".join(said)


def altered(remedy: Remedy) -> list[str]:
    """Write what a remedy changes besides; not what is the same as far as it is shown."""
    return [
        altered_figure(each) for each in remedy["alters"] if show(each["from"]) != show(each["to"])
    ]


def altered_figure(change: Alteration) -> str:
    """Write a figure before and after a change.

    >>> altered_figure({"name": "cost_per_m", "from": 0.9116, "to": 0.901, "unit": "EUR/m"})
    'cost 0.9116 to 0.901 EUR/m'
    >>> altered_figure({"name": "mass_g_per_m2", "from": 96.36, "to": 94.96, "unit": "g/m²"})
    'grey mass 96.36 to 94.96 g/m²'
    """
    name = change["name"]
    # In the report it is beside the finished mass.
    words = _named(f"grey_{name}" if name == "mass_g_per_m2" else name)
    # A cover factor is a number of the trade; its unit says nothing to whoever uses it.
    unit = "" if words.endswith("cover factor") else f" {change['unit']}"
    return f"{words} {show(change['from'])} to {show(change['to'])}{unit}"


def between(band: ValueBand | None) -> str:
    """Write the band of a value.

    >>> between(ValueBand(0.45, 8.45)), between(None)
    ('0.45 to 8.45', '')
    """
    return "" if band is None else f"{show(band.low)} to {show(band.high)}"


def counted(number: int, word: str) -> str:
    """Write a number of things.

    >>> counted(1, "pick"), counted(4864, "end")
    ('1 pick', '4864 ends')
    """
    return f"{show(number)} {word}{'' if number == 1 else 's'}"


def measure(value: object, unit: str | None) -> str:
    """Write a value with its unit.

    >>> measure(1520, "mm"), measure("cotton", None)
    ('1520\u202fmm', 'cotton')
    """
    return f"{show(value)}{_THIN_SPACE}{unit}" if unit else show(value)
