"""State numbers at the pointers of a request: what an order would be with another value."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final, NamedTuple, get_args, get_type_hints

from weavability.answers.field_words import without_unit
from weavability.looms.loom import Loom
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS, YARN_BOUNDS, Bounds
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.construction import INCH_FORMS, Construction
from weavability.textiles.crimp import contraction_of_crimp_pct
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import NO_WORDS, Sentence, say
from weavability.textiles.yarns import resolve_yarn

CLOTH: Final = "/construction"
LOOM: Final = "/loom"

_ATTRIBUTES: Final = {"ends_per_cm": "threads_per_cm", "picks_per_cm": "threads_per_cm"}
_YARN: Final = re.compile(r"/construction/(warp|weft)/yarns/([^/]+)/([^/]+)")
_COUNT: Final = re.compile(r"\d+(?:\.\d+)?")
_OF_LISTS: Final = (
    "/warp/beams/",
    "/reed/ends_in_dents",
    "/draft/threading",
    "/speed_curve/",
    "/boxes",
    "/reeds_in_stock_dents_per_10cm",
    "/changeover_rates/",
    "/requirements/",
    "/shedding/tie/",
)
"""Where bounds are those of the items of a list, of what decides no verdict, or of what a customer
requires."""

_METRIC: Final[Mapping[str, tuple[str, float]]] = MappingProxyType(
    {inch: (metric, per_metric) for metric, (inch, per_metric) in INCH_FORMS.items()}
)
_ITEM: Final = re.compile(r"/\d+(/|$)")
_COUNT_BOUNDS: Final = Bounds(0.01, 100_000)


class Place(NamedTuple):
    """A numeric field of a request.

    Attributes:
        pointer: As it was given.
        bounds: What a request may state there.
        is_whole: Whether it counts.
    """

    pointer: str
    bounds: Bounds
    is_whole: bool

    @property
    def metric_pointer(self) -> str:
        """The pointer of the field's metric form."""
        return _in_metric(self.pointer)[0]

    @property
    def figure(self) -> str:
        """The pointer of the figure that it states: two fields that state one are not both varied.

        >>> Place("/construction/weft/yarns/A/designation", Bounds(1, 9), is_whole=False).figure
        '/construction/weft/yarns/A/linear_density_tex'
        """
        yarn = _YARN.fullmatch(self.pointer)
        if yarn is not None and yarn[3] == "designation":
            return self.pointer.removesuffix("designation") + "linear_density_tex"
        return self.metric_pointer

    @property
    def is_of_loom(self) -> bool:
        """Whether it is a field of the loom."""
        return self.pointer.startswith(LOOM + "/")

    def in_metric(self, value: float) -> float:
        """Return a number that is stated at the pointer in the unit of the metric form."""
        return value / _in_metric(self.pointer)[1]

    def stated(self, construction: Construction, loom: Loom) -> float | None:
        """Return the number that a pair states there; ``None`` if it states none."""
        yarn = _YARN.fullmatch(self.pointer)
        if yarn is not None and yarn[3] == "designation":
            return float(_counts(construction, self.pointer)[0])
        pointer, per_metric = _in_metric(self.pointer)
        value: Any = loom if self.is_of_loom else construction
        for name in _path(pointer)[1:]:
            value = value.get(name) if isinstance(value, Mapping) else getattr(value, name)
        return None if value is None else value * per_metric

    def in_use(
        self, cloth: ClothFacts, assumptions: Sequence[Assumption], loom: Loom
    ) -> float | None:
        """Return the number by which a pair is judged: stated, assumed, or that of another form.

        Args:
            cloth: With the order.
            assumptions: Of the pair.
            loom: As stated.

        Returns:
            ``None`` if there is none.
        """
        value: object = self.stated(cloth.construction, loom)
        if value is None:
            value = next((one.value for one in assumptions if one.pointer == self.pointer), None)
        yarn = _YARN.fullmatch(self.pointer)
        if value is None and yarn is not None:
            system, key, name = yarn.groups()
            facts = resolve_yarn(
                getattr(cloth.construction, system).yarns[key], Ledger(keeps=False)
            )
            value = getattr(facts, name, None)
        if value is None and self.pointer.endswith("/contraction_pct"):
            on_cloth = self._replace(pointer=self.pointer.replace("/contraction", "/crimp"))
            crimp_pct = on_cloth.in_use(cloth, assumptions, loom)
            value = None if crimp_pct is None else contraction_of_crimp_pct(crimp_pct)
        return float(value) if isinstance(value, int | float) else None


def numeric_field(pointer: str, construction: Construction) -> Place:
    """Find a numeric field of a request by its pointer.

    Args:
        pointer: Of a number of construction or loom; of a yarn also its ``designation``, in which
            the count is the number.
        construction: Has the yarns.

    Raises:
        InputError: There is no such field, or it is no number; the pointer of the fault is empty.
    """
    yarn = _YARN.fullmatch(pointer)
    if yarn is not None:
        return _of_yarn(pointer, yarn, construction)
    bounds = dict(_numbers()).get(pointer)
    if pointer.startswith(_REQUIRED):
        raise InputError.of(
            "",
            say(
                "fault.window.requirement",
                "What is required of the cloth is not varied: vary what decides it, such as setts, "
                "width or counts.",
            ),
            given=pointer,
            allowed=_EXAMPLES,
        )
    if pointer.startswith(_ORDERED) and construction.order is None:
        raise InputError.of(
            "",
            say(
                "fault.window.no_pieces",
                "The order states no pieces: state its order, or vary length_m.",
            ),
            given=pointer,
            allowed=_EXAMPLES,
        )
    if pointer == _REED_COUNT and construction.reed.count is None:
        raise InputError.of(
            "",
            say(
                "fault.window.no_reed_count",
                "The order states no reed by its count: vary dents_per_10cm.",
            ),
            given=pointer,
            allowed=_EXAMPLES,
        )
    if bounds is None and _ITEM.search(pointer):
        raise InputError.of(
            "",
            say(
                "fault.window.item_of_list",
                "Items of a list, such as beams or points of a curve, are not varied: vary a field "
                "that has one number.",
            ),
            given=pointer,
            allowed=_EXAMPLES,
        )
    if bounds is None:
        raise InputError.of(
            "",
            say(
                "fault.window.no_number_at_pointer",
                "There is no number at this pointer.{hint}",
                hint=_hint(pointer),
            ),
            given=pointer,
            allowed=_EXAMPLES,
        )
    metric, _ = _in_metric(pointer)
    return Place(pointer, bounds, is_whole(metric))


_REQUIRED: Final = "/construction/requirements/"
_ORDERED: Final = "/construction/order/"
_REED_COUNT: Final = "/construction/reed/count"
_EXAMPLES: Final = [
    "/construction/warp/ends_per_cm",
    "/construction/weft/picks_per_cm",
    "/construction/width_cm",
    "/construction/weft/yarns/A/designation",
    "/construction/requested_speed_picks_per_min",
    "/loom/max_speed_picks_per_min",
]


def with_values(
    construction: Construction, loom: Loom, values: Iterable[tuple[str, object]]
) -> tuple[Construction, Loom]:
    """Return a pair with values stated at pointers.

    A yarn whose linear density is stated loses its designation; a number for its designation takes
    the place of the count in it.

    Args:
        construction: The cloth as ordered.
        loom: The loom as stated.
        values: Pointer and value of each.
    """
    for pointer, value in values:
        yarn = _YARN.fullmatch(pointer)
        if yarn is not None and yarn[3] == "designation" and isinstance(value, float | int):
            value = _COUNT.sub(f"{value:.10g}", _designation(construction, pointer), count=1)
        if yarn is not None and yarn[3] == "linear_density_tex":
            at = _path(pointer.rpartition("/")[0])[1:]
            counted = replace(
                _yarn_at(construction, at), designation=None, linear_density_tex=value
            )
            construction = _with(construction, at, counted)
            continue
        metric, per_metric = _in_metric(pointer)
        if per_metric != 1 and isinstance(value, float | int):
            value = value / per_metric
        if isinstance(value, float) and is_whole(metric):
            value = round(value)
        part, *path = _path(metric)
        if part == "loom":
            loom = _with(loom, path, value)
        else:
            construction = _with(construction, path, value)
    return construction, loom


def unit_at(place: Place, construction: Construction) -> str | None:
    """Return the unit of a field; of a designation, the designation with a gap for the count."""
    if place.pointer.endswith("/designation"):
        return _COUNT.sub("…", _designation(construction, place.pointer), count=1)
    return place.bounds.unit or None


def in_words(pointer: str) -> str:
    """Name a field of a request in words.

    >>> in_words("/construction/weft/yarns/A/tenacity_cn_per_tex"), in_words("/loom/weft_selectors")
    ('weft yarn A tenacity', 'loom weft selectors')
    """
    part, *names = pointer.strip("/").split("/")
    names[-1] = without_unit(names[-1])
    words = " ".join(names if part == "construction" else [part, *names])
    return words.replace("yarns ", "yarn ").replace("_", " ")


def _of_yarn(pointer: str, yarn: re.Match[str], construction: Construction) -> Place:
    system, key, name = yarn.groups()
    yarns = getattr(construction, system).yarns
    if key not in yarns:
        raise InputError.of(
            "",
            say(
                "fault.window.unknown_yarn",
                "The {system} has no yarn {yarn}.",
                system=system,
                yarn=key,
            ),
            given=pointer,
            allowed=sorted(yarns),
        )
    if name == "designation":
        if len(_counts(construction, pointer)) != 1:
            raise InputError.of(
                "",
                say(
                    "fault.window.count_not_variable",
                    "The count in this designation cannot be varied; vary linear_density_tex.",
                ),
                given=pointer,
                allowed="a designation with one count, such as Ne 30/2",
            )
        return Place(pointer, _COUNT_BOUNDS, is_whole=False)
    if name not in YARN_BOUNDS:
        near = get_close_matches(name, YARN_BOUNDS, n=1)
        hint = _meant(near)
        raise InputError.of(
            "",
            say(
                "fault.window.unknown_number_of_yarn",
                "A yarn has no number {number}.{hint}",
                number=name,
                hint=hint,
            ),
            given=pointer,
            allowed=["designation", *YARN_BOUNDS],
        )
    return Place(pointer, YARN_BOUNDS[name], is_whole=False)


def _designation(construction: Construction, pointer: str) -> str:
    yarn = _YARN.fullmatch(pointer)
    if yarn is None:
        return ""
    return getattr(construction, yarn[1]).yarns[yarn[2]].designation or ""


def _counts(construction: Construction, pointer: str) -> list[str]:
    """Return the counts of a designation: of folded yarns of unlike singles there are several."""
    parts = _designation(construction, pointer).split("+")
    return [found[0] for part in parts if (found := _COUNT.search(part))]


def _numbers() -> Iterator[tuple[str, Bounds]]:
    for prefix, table in ((CLOTH, CONSTRUCTION_BOUNDS), (LOOM, LOOM_BOUNDS)):
        for pointer, bounds in table.items():
            if not pointer.startswith(_OF_LISTS):
                yield prefix + pointer, bounds
                if prefix == CLOTH and pointer in INCH_FORMS:
                    yield CLOTH + INCH_FORMS[pointer][0], bounds.in_inches()


def _hint(pointer: str) -> Sentence:
    near = get_close_matches(pointer, [known for known, _ in _numbers()], n=1, cutoff=0.85)
    return _meant(near)


def _meant(near: list[str]) -> Sentence:
    if not near:
        return NO_WORDS
    return say("part.did_you_mean_pointer", " Did you mean {name}?", name=near[0])


def _in_metric(pointer: str) -> tuple[str, float]:
    """Return the metric form of a pointer, and the figure there for a metric figure of 1."""
    metric, per_metric = _METRIC.get(pointer.removeprefix(CLOTH), (None, 1.0))
    return (pointer, 1.0) if metric is None else (CLOTH + metric, per_metric)


def _path(pointer: str) -> list[str]:
    names = [name.replace("~1", "/").replace("~0", "~") for name in pointer[1:].split("/")]
    of_cloth = names[0] == "construction"
    return [_ATTRIBUTES.get(name, name) if of_cloth else name for name in names]


@lru_cache(maxsize=512)
def is_whole(pointer: str) -> bool:
    """Return whether the field at a pointer takes whole numbers alone: no yarn or beam has one."""
    part, *path = _path(pointer)
    if "yarns" in path or "beams" in path:
        return False
    kind: Any = Loom if part == "loom" else Construction
    for name in path[:-1]:
        hint = get_type_hints(kind)[name]
        kind = next((each for each in get_args(hint) if is_dataclass(each)), hint)
    annotation = next(str(each.type) for each in fields(kind) if each.name == path[-1])
    return "int" in annotation and "float" not in annotation


def _yarn_at(construction: Construction, path: list[str]) -> Any:
    system, _, key = path
    return getattr(construction, system).yarns[key]


def _with(record: Any, path: list[str], value: object) -> Any:
    if not path:
        return value
    name, *rest = path
    if isinstance(record, Mapping):
        return {**record, name: _with(record[name], rest, value)}
    if isinstance(record, tuple):
        place = int(name)
        return (*record[:place], _with(record[place], rest, value), *record[place + 1 :])
    if not is_dataclass(record):
        raise KeyError(name)
    inner = _with(getattr(record, name), rest, value)
    return replace(record, **{name: inner})  # type: ignore[type-var]
