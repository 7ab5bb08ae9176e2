"""Fibres and blends: density, packing, strength; read once from ``data/fibres.toml``."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache, lru_cache
from importlib import resources
from types import MappingProxyType
from typing import Any, Final, Literal

from weavability.textiles.assumptions import Grade, ValueBand
from weavability.textiles.bounds import YARN_BOUNDS
from weavability.textiles.digits import require_plain_digits
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import Sentence, say, say_row

Kind = Literal["spun", "filament"]
Style = Literal["slub", "chenille", "core-spun", "monofilament", "tape"]

ELASTANE: Final = "elastane"
LONGEST_NAME: Final = 160
MOST_COMPONENTS: Final = 5
SHARES_TOLERANCE_PCT: Final = 1.0
USUAL_SHARES: Final[Mapping[tuple[str, ...], tuple[float, ...]]] = {
    ("polyester", "cotton"): (65.0, 35.0),
    ("polyester", "viscose"): (65.0, 35.0),
    ("polyester", "wool"): (55.0, 45.0),
    ("polyester", "worsted"): (55.0, 45.0),
}
"""Shares that a blend has in the trade if it states none (common practice, no source)."""

MOST_CORE_PCT: Final = 50.0
"""Elastane in a core-spun yarn; beyond it the shares are mistaken. Common practice, no source."""

USUAL_ELASTANE_PCT: Final = 3.0
"""Share of elastane in a blend of it that states none; common practice, no source."""

SHORT_NAMES: Final[Mapping[str, str]] = {
    "polycotton": "polyester/cotton",
    "poly cotton": "polyester/cotton",
    "tc": "polyester/cotton",
    "cvc": "cotton 60 polyester 40",
    "tr": "polyester/viscose",
}
ELASTOMERIC_ELONGATION_PCT: Final = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What a fibre gives as a yarn of one kind.

    Attributes:
        packing_fraction: Share of the yarn's cross-section that is fibre.
        tenacity_cn_per_tex: Mean breaking force of the yarn per linear density.
        strength_cv_pct: Coefficient of variation of the breaking force.
        breaking_elongation_pct: Mean elongation at break of the yarn.
        sources: Source of each value, by attribute name.
        grades: How well each is supported, by attribute name.
    """

    packing_fraction: float
    tenacity_cn_per_tex: float
    strength_cv_pct: float
    breaking_elongation_pct: float
    sources: Mapping[str, Sentence]
    grades: Mapping[str, Grade]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fibre:
    """A fibre or a blend of fibres.

    Attributes:
        key: Its name, for a blend with the shares: ``polyester 65 cotton 35``.
        density_g_per_cm3: Density of the fibre substance.
        usual: The kind of yarn that is meant unless the designation says otherwise.
        forms: The kinds of yarn that are made of it.
        components: Names and shares by mass in per cent; one of 100 for a pure fibre.
        shares_assumed: Whether the shares of a blend were not stated.
        density_source: Where the density comes from.
        density_grade: How well it is supported.
        is_short_staple: Whether its spun yarns are of short staple.
        is_bulked: Whether its filaments are crimped and hold together without twist.
        is_metal: Whether it is a wire.
        style: The kind of yarn that is named with the fibre; ``None`` for a plain yarn.
        fibre_assumed: Whether only the style was named.
    """

    key: str
    density_g_per_cm3: float
    usual: Kind
    forms: Mapping[Kind, Form]
    components: tuple[tuple[str, float], ...]
    density_source: Sentence
    density_grade: Grade
    is_short_staple: bool = False
    is_bulked: bool = False
    is_metal: bool = False
    style: Style | None = None
    fibre_assumed: bool = False
    shares_assumed: bool = False

    def form(self, kind: Kind) -> Form:
        """Return the values for ``kind``; those of the usual kind if the table has no other."""
        return self.forms.get(kind) or self.forms[self.usual]

    @property
    def filament(self) -> bool:
        """Whether the usual yarn is a filament yarn."""
        return self.usual == "filament"

    def share_pct(self, component: str) -> float:
        """Return the share of a component by mass, 0 if it has none."""
        return dict(self.components).get(component, 0.0)

    def with_share(self, component: str, share_pct: float) -> Fibre:
        """Return the blend with another share of a component, the others in proportion.

        >>> find_fibre("cotton/elastane").with_share("elastane", 6.0).key
        'cotton 94 elastane 6'
        """
        left = (100.0 - share_pct) / (100.0 - self.share_pct(component))
        parts = (
            f"{key} {share_pct if key == component else share * left:.6g}"
            for key, share in self.components
        )
        return find_fibre(" ".join((*parts, *filter(None, (self.style,)))))

    def in_style(self, style: Style) -> Fibre:
        """Return the same fibre in a yarn of another style.

        >>> find_fibre("cotton").in_style("slub").key
        'cotton slub'
        """
        row = _data()["styles"][style]
        changed = {kind: _styled(form, row, style=style) for kind, form in self.forms.items()}
        return replace(
            self,
            key=f"{self.key} {style}",
            forms=changed,
            style=style,
            is_short_staple=self.is_short_staple and style in ("slub", "core-spun"),
        )


def _styled(form: Form, row: Mapping[str, Any], *, style: str) -> Form:
    """Change the values of a form by those of a style; a changed one has the style's source."""
    times = {name: row[name] for name in row if name.endswith("_times")}
    values = {
        name: getattr(form, name) * times[short] for name, short in _TIMES.items() if short in times
    }
    if "packing_fraction" in row:
        values["packing_fraction"] = row["packing_fraction"]
    if not values:
        return form
    source = row["source"]
    return replace(
        form,
        **values,
        sources={
            **form.sources,
            **dict.fromkeys(
                values,
                say(
                    "part.source_of_style",
                    "{style} yarn: {source}",
                    style=style,
                    source=_source(source),
                ),
            ),
        },
        grades={**form.grades, **dict.fromkeys(values, _grade(source))},
    )


_TIMES: Final[Mapping[str, str]] = {
    "tenacity_cn_per_tex": "tenacity_times",
    "strength_cv_pct": "strength_cv_times",
}


@lru_cache(maxsize=1024)
def band_of(name: str, value: float, grade: Grade) -> ValueBand:
    """Return the range in which a value of a fibre is expected, by how well it is supported.

    Args:
        name: Name of the value, as in ``data/fibres.toml``.
        value: The value.
        grade: Its grade.

    >>> band_of("density_g_per_cm3", 1.5, Grade.FROM_MEMORY)
    ValueBand(low=1.455, high=1.545)
    """
    share = _data()["bands"][name][grade.value]
    low, high = (float(f"{value * (1 + side):.6g}") for side in (-share, share))
    bounds = YARN_BOUNDS[_FIELDS.get(name, name)]
    return ValueBand(*bounds.cut(low, high))


_FIELDS: Final = {"density_g_per_cm3": "fibre_density_g_per_cm3"}
"""Fields of a yarn whose names differ from those of the values of its fibre."""


@cache
def fibres() -> tuple[Fibre, ...]:
    """Return every pure fibre of the table, in its order."""
    return tuple(fibre for fibre, _ in _table())


@cache
def _table() -> tuple[tuple[Fibre, tuple[str, ...]], ...]:
    data = _data()
    return tuple(
        (_read_fibre(key, row), (key, *row["aliases"]))
        for key, row in data.items()
        if key not in _NO_FIBRES
    )


_NO_FIBRES: Final = ("sources", "bands", "styles")


@cache
def _data() -> Mapping[str, Any]:
    file = resources.files("weavability").joinpath("data/fibres.toml")
    return tomllib.loads(file.read_text(encoding="utf-8"))


def _source(key: str) -> Sentence:
    """Return the source of a value by its key in the table."""
    return say_row(f"part.fibre_source.{key.replace(' ', '_')}", _data()["sources"][key])


def patterns() -> Mapping[str, str]:
    """Return the text of every source, by key."""
    return {
        f"part.fibre_source.{key.replace(' ', '_')}": text
        for key, text in _data()["sources"].items()
    }


def _grade(source: str) -> Grade:
    """Return the grade of a value by the key of its source."""
    graded = {"common practice": Grade.COMMON_PRACTICE, "memory": Grade.FROM_MEMORY}
    return graded.get(source, Grade.SOURCE)


def _read_fibre(key: str, row: Mapping[str, Any]) -> Fibre:
    density, source = row["density_g_per_cm3"]
    kinds: tuple[Kind, ...] = ("spun", "filament")
    return Fibre(
        key=key,
        density_g_per_cm3=density,
        usual=row["usual"],
        forms={kind: _read_form(row[kind]) for kind in kinds if kind in row},
        components=((key, 100.0),),
        density_source=_source(source),
        density_grade=_grade(source),
        is_short_staple=row.get("short_staple", False),
        is_bulked=row.get("bulked", False),
        is_metal=row.get("metal", False),
    )


def _read_form(row: Mapping[str, tuple[float, str]]) -> Form:
    return Form(
        packing_fraction=row["packing_fraction"][0],
        tenacity_cn_per_tex=row["tenacity_cn_per_tex"][0],
        strength_cv_pct=row["strength_cv_pct"][0],
        breaking_elongation_pct=row["breaking_elongation_pct"][0],
        sources={name: _source(source) for name, (_, source) in row.items()},
        grades={name: _grade(source) for name, (_, source) in row.items()},
    )


@cache
def _by_name() -> dict[str, Fibre]:
    return {_plain(name): fibre for fibre, names in _table() for name in names}


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]+", " ", name.strip().lower())


NAMED_FIRST: Final = 12
"""Fibres that a message names."""

ALIKE: Final = 0.76
"""How alike a name must be that is offered: ``viskose`` is viscose, but not every word has one."""

OF_NO_MATTER: Final = re.compile(
    r"\b(?:combed|carded|organic|recycled|mercerised|mercerized|bleached|dyed|ecru|raw|pima"
    r"|egyptian|upland|long staple|compact|ring spun|ring|rotor|open end|bci|gassed|100 ?%) "
)
"""Words before a fibre on which nothing depends that is computed here."""


def find_fibre(name: str) -> Fibre:
    """Return the fibre or blend that ``name`` means.

    Case, hyphens and spacing do not matter. Blends are understood as ``polyester/cotton`` (the
    usual shares are then assumed), ``65/35 polyester/cotton``, ``polyester/cotton 65/35``,
    ``polyester 65 cotton 35`` and ``65 % polyester, 35 % cotton``. The density of a blend is
    harmonic in the shares by mass (volumes add), the rest is the mean by mass; elastomeric threads
    of a blend do not count for strength and elongation, because the hard fibre carries the load.
    What does not matter here, as ``combed`` or ``organic``, may be written before a fibre.
    A style of yarn goes with the fibre, before or after it: ``cotton slub``, ``viscose chenille``,
    ``core-spun cotton/elastane``, ``nylon monofilament``, ``polypropylene tape``. So does the word
    ``filament``, with a fibre that is one: ``polyamide filament``.

    Raises:
        InputError: Nothing is known by that name, or the shares do not add up to 100 %.

    >>> find_fibre("Flax").key
    'linen'
    >>> round(find_fibre("65/35 polyester/cotton").density_g_per_cm3, 3)
    1.433
    """
    if len(name) > LONGEST_NAME:
        raise InputError.of(
            "",
            say(
                "fault.fibre.too_long",
                "Shorten the fibre to {most_characters} characters.",
                most_characters=LONGEST_NAME,
            ),
            given=name[:LONGEST_NAME],
        )
    require_plain_digits(name)
    return _found(OF_NO_MATTER.sub("", _plain(name)))


@lru_cache(maxsize=1024)
def _found(name: str) -> Fibre:
    pure = _by_name().get(name)
    if pure is not None:
        return pure
    of_filament = name.removeprefix("filament ").removesuffix(" filament")
    if of_filament != name:
        found = _found(of_filament)
        if not found.filament:
            raise InputError.of(
                "",
                say(
                    "fault.fibre.no_filament",
                    "No filament yarn is known of {fibre!r}. Leave out the word, or "
                    "name a fibre that is spun as filaments.",
                    fibre=of_filament,
                ),
                given=name,
                allowed=[fibre.key for fibre in fibres() if fibre.filament],
            )
        return found
    style, rest = _split_style(name)
    if style is not None:
        row = _data()["styles"][style]
        found = _found(rest or row.get(f"fibre_of_{name}") or row["fibre"])
        if found.style is not None:
            raise _unknown(name)
        if style == "core-spun":
            _require_thin_core(found, name)
        styled = found.in_style(style)
        return styled if rest else replace(styled, fibre_assumed=True)
    parts, shares = _split_blend(SHORT_NAMES.get(name, name))
    if len(parts) < 2:
        raise _unknown(name)
    blended = tuple(_component(part, whole=name) for part in parts)
    return _blend(blended, shares, name=name)


def _require_thin_core(found: Fibre, name: str) -> None:
    """Refuse a core-spun yarn that would be mostly elastane.

    Raises:
        InputError: The shares are not in the order of the fibres.
    """
    share = found.share_pct(ELASTANE)
    if share <= MOST_CORE_PCT:
        return
    others = [(key, pct) for key, pct in found.components if key != ELASTANE]
    example = f"{100 - share:g}/{share:g} elastane/{others[0][0]}" if others else "cotton/elastane"
    raise InputError.of(
        "",
        say(
            "fault.fibre.thick_core",
            "{share_pct:g} % of elastane is no core-spun yarn: the elastane in it is a thin core, "
            "at most {most_pct:g} %. Write the shares in the order of the fibres.",
            share_pct=share,
            most_pct=MOST_CORE_PCT,
        ),
        given=name,
        allowed=f"for example core-spun {example}",
    )


def _split_style(name: str) -> tuple[Style | None, str]:
    """Return the style that a name begins or ends with, and the rest of the name."""
    for style, row in _data()["styles"].items():
        for words in sorted(row["names"], key=len, reverse=True):
            if name == words:
                return style, ""
            if name.startswith(words + " "):
                return style, name[len(words) + 1 :]
            if name.endswith(" " + words):
                return style, name[: -len(words) - 1]
    return None, name


_SHARE: Final = re.compile(r"\d+(?:\.\d+)?")


def _split_blend(text: str) -> tuple[list[str], list[float]]:
    """Return the names and the numbers of a blend, each in the order in which they are written."""
    words = re.sub(r"[%,;/+&]", " / ", text)
    numbers = [float(number) for number in _SHARE.findall(words)]
    names = [part.strip() for part in re.split(r"[/]|\band\b", _SHARE.sub("/", words))]
    return [part for part in names if part], numbers


def _component(name: str, *, whole: str) -> Fibre:
    pure = _by_name().get(name)
    if pure is None:
        raise _unknown(name, whole=whole)
    return pure


def _unknown(name: str, *, whole: str | None = None) -> InputError:
    styles = (words for row in _data()["styles"].values() for words in row["names"])
    near = get_close_matches(name, [*_by_name(), *SHORT_NAMES, *styles], n=1, cutoff=ALIKE)
    hint = (
        say("part.did_you_mean_fibre", "Did you mean {name!r}?", name=near[0])
        if near
        else say(
            "part.name_one_of_the_list",
            "Name one of the list: {names} and others.",
            names=", ".join(fibre.key for fibre in fibres()[:NAMED_FIRST]),
        )
    )
    return InputError.of(
        "",
        say("fault.fibre.unknown", "No fibre is known as {fibre!r}. {hint}", fibre=name, hint=hint),
        given=whole or name,
        allowed=[fibre.key for fibre in fibres()] + ["65/35 polyester/cotton"],
    )


def _blend(parts: tuple[Fibre, ...], stated: list[float], *, name: str) -> Fibre:
    shares = _shares(parts, stated, name=name)
    pairs = tuple(zip(parts, shares, strict=True))
    usual: Kind = "filament" if all(part.filament for part in parts) else "spun"
    kinds: tuple[Kind, ...] = ("spun", "filament")
    return Fibre(
        key=" ".join(f"{part.key} {share:g}" for part, share in pairs),
        density_g_per_cm3=100.0 / sum(share / part.density_g_per_cm3 for part, share in pairs),
        usual=usual,
        forms={kind: _blend_form(pairs, kind) for kind in kinds},
        components=tuple((part.key, share) for part, share in pairs),
        density_source=say("part.volumes_added", "of the components, volumes added"),
        density_grade=Grade.ESTIMATE,
        is_short_staple=all(part.is_short_staple for part in parts if part.key != ELASTANE),
        is_bulked=all(part.is_bulked for part in parts if part.key != ELASTANE),
        is_metal=any(part.is_metal for part in parts),
        shares_assumed=not stated,
    )


def _shares(parts: tuple[Fibre, ...], stated: list[float], *, name: str) -> tuple[float, ...]:
    if len(parts) > MOST_COMPONENTS or len({part.key for part in parts}) < len(parts):
        raise InputError.of(
            "",
            say(
                "fault.fibre.blend_components",
                "Name two to {most_fibres} different fibres in a blend.",
                most_fibres=MOST_COMPONENTS,
            ),
            given=name,
        )
    if not stated:
        return _usual_shares(tuple(part.key for part in parts))
    exact = len(stated) == len(parts) and min(stated) > 0.0
    if not exact or abs(sum(stated) - 100.0) > SHARES_TOLERANCE_PCT:
        raise InputError.of(
            "",
            say(
                "fault.fibre.blend_shares",
                "Give one share for each fibre of the blend, adding up to 100.",
            ),
            given=name,
            allowed="65/35 polyester/cotton",
        )
    # As a blend is written, so that one that is read back is the same.
    return tuple(float(f"{100.0 * share / sum(stated):g}") for share in stated)


def _usual_shares(keys: tuple[str, ...]) -> tuple[float, ...]:
    """Return the shares of a blend that states none: equal ones, if no others are usual."""
    if ELASTANE in keys:
        hard = tuple(key for key in keys if key != ELASTANE)
        others = _usual_shares(hard) if len(hard) > 1 else (100.0,)
        left = 1.0 - USUAL_ELASTANE_PCT / 100.0
        shares = dict(zip(hard, (left * share for share in others), strict=True))
        return tuple(shares.get(key, USUAL_ELASTANE_PCT) for key in keys)
    return USUAL_SHARES.get(keys) or (100.0 / len(keys),) * len(keys)


def _blend_form(pairs: tuple[tuple[Fibre, float], ...], kind: Kind) -> Form:
    forms = [(part.form(kind), share) for part, share in pairs]
    hard = [
        (form, share)
        for form, share in forms
        if form.breaking_elongation_pct < ELASTOMERIC_ELONGATION_PCT
    ]
    carrying = hard or forms
    rule = say("part.mean_by_mass", "mean of the components by mass ([COMMON-PRACTICE])")
    return Form(
        packing_fraction=_mean([(form.packing_fraction, share) for form, share in forms]),
        tenacity_cn_per_tex=_mean([(form.tenacity_cn_per_tex, share) for form, share in carrying]),
        strength_cv_pct=_mean([(form.strength_cv_pct, share) for form, share in carrying]),
        breaking_elongation_pct=_mean(
            [(form.breaking_elongation_pct, share) for form, share in carrying]
        ),
        sources=dict.fromkeys(forms[0][0].sources, rule),
        grades=dict.fromkeys(forms[0][0].sources, Grade.ESTIMATE),
    )


def _mean(weighted: list[tuple[float, float]]) -> float:
    return sum(value * share for value, share in weighted) / sum(share for _, share in weighted)


SAME_CONTENT: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "polyester": ("spun-polyester", "textured-polyester"),
        "silk": ("spun-silk",),
        "viscose": ("viscose-filament",),
        "wool": ("worsted",),
    }
)
"""Fibres that are the same by content, whichever way the yarn of them is made."""


def content_pct(fibre: Fibre, key: str) -> float:
    """Return the share of a fibre by mass, in whatever kind of yarn.

    >>> content_pct(find_fibre("spun polyester"), "polyester")
    100.0
    >>> content_pct(find_fibre("polyester"), "spun-polyester")
    0.0
    """
    shares = dict(fibre.components)
    return sum(shares.get(each, 0.0) for each in (key, *SAME_CONTENT.get(key, ())))
