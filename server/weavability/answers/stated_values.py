"""State numbers at the pointers of a request: what an order would be with another value."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final, NamedTuple, get_args, get_type_hints

from weavability.answers.count_notation import WrittenCount, written_count
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Loom
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.looms.loom_hour import PRICES_OF_LOOM
from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS, YARN_BOUNDS, Bounds
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.construction import (
    INCH_FORMS,
    Construction,
    RequiredRange,
    Requirements,
)
from weavability.textiles.crimp import contraction_of_crimp_pct
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import NO_WORDS, Sentence, say
from weavability.textiles.yarns import resolve_yarn

CLOTH: Final = "/construction"
LOOM: Final = "/loom"

_ATTRIBUTES: Final = {"ends_per_cm": "threads_per_cm", "picks_per_cm": "threads_per_cm"}
_YARN: Final = re.compile(r"/construction/(warp|weft)/yarns/([^/]+)/([^/]+)")
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

_ITEM: Final = re.compile(
    r"/(?:construction(/warp/beams)|loom(/speed_curve))/(\d+)"
    r"/(pile_ratio|density_g_per_cm3|picks_per_min)"
)
_REQUIRED: Final = re.compile(
    r"/construction/requirements/(?:(fibre_pct)/([^/]+)|(?!fibre)(\w+))/(min|max)"
)
"""The items of lists that have a quantity, and the limits of what is required."""

_METRIC: Final[Mapping[str, tuple[str, float]]] = MappingProxyType(
    {inch: (metric, per_metric) for metric, (inch, per_metric) in INCH_FORMS.items()}
)
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
            found = _count_at(construction, self.pointer)
            return None if found is None else found.value
        pointer, per_metric = _in_metric(self.pointer)
        value: Any = loom if self.is_of_loom else construction
        for name in _path(pointer)[1:]:
            value = _part_of(value, name)
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


def numeric_field(pointer: str, construction: Construction, loom: Loom) -> Place:
    """Find a numeric field of a request by its pointer.

    Args:
        pointer: Of a number of construction or loom; of a yarn also its ``designation``, in which
            the count is the number.
        construction: Has the yarns.
        loom: The loom as stated.

    Raises:
        InputError: There is no such field, or it is no number that can be varied; the pointer of
            the fault is empty.
    """
    yarn = _YARN.fullmatch(pointer)
    if yarn is not None:
        return _of_yarn(pointer, yarn, construction)
    bounds = dict(_numbers()).get(pointer) or _bounds_of_part(pointer)
    refused = _reason_against(pointer, construction, loom)
    if bounds is None or refused is not None:
        raise InputError.of(
            "",
            refused
            or say(
                "fault.window.no_number_at_pointer",
                "There is no number at this pointer.{hint}",
                hint=_hint(pointer),
            ),
            given=pointer,
            allowed=_EXAMPLES,
        )
    metric, _ = _in_metric(pointer)
    return Place(pointer, bounds, is_whole(metric))


def _bounds_of_part(pointer: str) -> Bounds | None:
    """Return the bounds of a number of an item, or of a limit that is required."""
    item, required = _ITEM.fullmatch(pointer), _REQUIRED.fullmatch(pointer)
    if item is not None:
        of_cloth, of_loom, _, name = item.groups()
        return (
            CONSTRUCTION_BOUNDS.get(f"{of_cloth}/{name}")
            if of_cloth
            else LOOM_BOUNDS.get(f"{of_loom}/{name}")
        )
    if required is not None:
        fibre, _, figure, limit = required.groups()
        return CONSTRUCTION_BOUNDS.get(f"/requirements/{fibre or figure}/{limit}")
    return None


def _reason_against(pointer: str, construction: Construction, loom: Loom) -> Sentence | None:
    """Say why a number that a request may have is not varied; ``None`` if it may be."""
    if pointer.startswith("/construction/order/") and construction.order is None:
        return say(
            "fault.window.no_pieces",
            "The order states no pieces: state its order, or vary length_m.",
        )
    is_shuttle = loom.insertion.system is InsertionSystem.SHUTTLE
    if pointer == "/construction/selvedge/catch_cord_ends" and not is_shuttle:
        return say(
            "fault.window.catch_cords",
            "Catch cords decide a verdict on a shuttle loom alone, where they hold the weft as it "
            "turns; on others they count in the yarn of a validation.",
        )
    if pointer == "/construction/reed/count" and construction.reed.count is None:
        return say(
            "fault.window.no_reed_count",
            "The order states no reed by its count: vary dents_per_10cm.",
        )
    if pointer.startswith("/construction/requirements/") and pointer.endswith(_AS_TOLERANCE):
        return say(
            "fault.window.tolerance",
            "nominal and tolerance_pct are read as min and max: vary one of these.",
        )
    item = _ITEM.fullmatch(pointer)
    if item is not None:
        stated = len(construction.warp.beams if item[1] else loom.speed_curve)
        if int(item[3]) < stated:
            return None
        return say(
            "fault.window.no_such_item",
            "This list has no item {place}: {stated} are stated, counted from 0.",
            place=item[3],
            stated=stated,
        )
    return next((said for begins, said in _NO_QUANTITIES if pointer.startswith(begins)), None)


_AS_TOLERANCE: Final = ("/nominal", "/tolerance_pct")

_NO_QUANTITIES: Final = (
    (
        "/construction/weave/",
        say(
            "fault.window.another_weave",
            "Another number there is another weave: send that as an order of its own.",
        ),
    ),
    (
        "/construction/draft/",
        say(
            "fault.window.draft",
            "The shafts of a draft are names, of which there is no more or less.",
        ),
    ),
    (
        "/construction/reed/ends_in_dents",
        say(
            "fault.window.ends_in_dents",
            "A denting that is stated dent by dent is not varied: vary ends_per_dent, or the sett.",
        ),
    ),
    (
        "/loom/reeds_in_stock_dents_per_10cm",
        say(
            "fault.window.reeds_in_stock",
            "The reeds in stock are not varied: vary reed/dents_per_10cm of the order.",
        ),
    ),
    (
        "/loom/speed_curve",
        say(
            "fault.window.speed_curve",
            "The widths of a speed curve rise from point to point and are not varied: vary the "
            "speed of a point, such as speed_curve/0/picks_per_min.",
        ),
    ),
    (
        "/loom/boxes",
        say(
            "fault.window.boxes",
            "The boxes of both sides go together and are not varied: state the loom with others.",
        ),
    ),
    (
        "/loom/shedding/tie",
        say(
            "fault.window.tie",
            "A tie is a harness as it is knotted, and is not varied: state the loom with another.",
        ),
    ),
    (
        "/loom/changeover_rates/",
        say(
            "fault.window.changeover_rates",
            "Rates of a change of style decide no verdict: they count in POST /v1/changeovers.",
        ),
    ),
    *(
        (
            f"/loom/{name}",
            say(
                "fault.window.price_of_loom",
                "What a loom costs decides no verdict: it counts in the costs of a validation.",
            ),
        )
        for name in PRICES_OF_LOOM
    ),
    *(
        (
            f"/loom/{name}",
            say(
                "fault.window.power_and_air",
                "Power and air of a loom decide no verdict: they count in the energy and the costs "
                "of a validation.",
            ),
        )
        for name in ("power_kw", "air_m3_per_h")
    ),
    (
        "/loom/running/hours_per_day",
        say(
            "fault.window.hours_of_a_day",
            "The hours of a day decide no verdict: they count in the days of a validation.",
        ),
    ),
    *(
        (
            f"/construction/{name}",
            say(
                "fault.window.yarn_alone",
                "Waste of yarn and the leno at the edges decide no verdict: they count in the yarn "
                "of a validation.",
            ),
        )
        for name in (
            "allowances/warp_waste_pct",
            "allowances/weft_waste_pct",
            "selvedge/leno_ends_per_side",
        )
    ),
    (
        "/loom/assumed/",
        say(
            "fault.window.assumed",
            "What was assumed of a loom is listed there: vary the field itself.",
        ),
    ),
)
"""Why numbers are not varied, by how their pointers begin."""

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
            value = _with_count(construction, pointer, f"{value:.10g}")
        if yarn is not None and yarn[3] == "linear_density_tex":
            at = _path(pointer.rpartition("/")[0])[1:]
            counted = replace(
                _yarn_at(construction, at), designation=None, linear_density_tex=value
            )
            construction = _with(construction, at, counted)
            continue
        if _REQUIRED.fullmatch(pointer):
            construction = _requiring(construction, _path(pointer)[2:], value)
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
        return _with_count(construction, place.pointer, "…")
    return place.bounds.unit or None


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
        if _count_at(construction, pointer) is None:
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


def _count_at(construction: Construction, pointer: str) -> WrittenCount | None:
    """Return the count in a designation; ``None`` if there are several, or none."""
    system, _, key = pointer.split("/")[2:5]
    return written_count(getattr(construction, system).yarns[key])


def _with_count(construction: Construction, pointer: str, written: str) -> str | None:
    """Return a designation with something else in place of its count."""
    system, _, key = pointer.split("/")[2:5]
    designation: str | None = getattr(construction, system).yarns[key].designation
    found = _count_at(construction, pointer)
    return None if designation is None or found is None else found.replaced(designation, written)


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


def _part_of(value: Any, name: str) -> Any:
    """Return a part by its name in a pointer; ``None`` if there is none."""
    if isinstance(value, Mapping):
        return value.get(name)
    if isinstance(value, tuple):
        return value[int(name)]
    return None if value is None else getattr(value, name)


def _path(pointer: str) -> list[str]:
    names = [name.replace("~1", "/").replace("~0", "~") for name in pointer[1:].split("/")]
    has_setts = names[0] == "construction" and "requirements" not in names
    return [_ATTRIBUTES.get(name, name) if has_setts else name for name in names]


@lru_cache(maxsize=512)
def is_whole(pointer: str) -> bool:
    """Return whether the field at a pointer takes whole numbers alone.

    No yarn, beam, point of a curve or requirement has one.
    """
    part, *path = _path(pointer)
    if not {"yarns", "beams", "speed_curve", "requirements"}.isdisjoint(path):
        return False
    kind: Any = Loom if part == "loom" else Construction
    for name in path[:-1]:
        hint = get_type_hints(kind)[name]
        kind = next((each for each in get_args(hint) if is_dataclass(each)), hint)
    annotation = next(str(each.type) for each in fields(kind) if each.name == path[-1])
    return "int" in annotation and "float" not in annotation


def _requiring(construction: Construction, path: list[str], value: object) -> Construction:
    """Return an order that requires a limit, whether it has required that figure before or not."""
    figure, *fibre, limit = path
    required = construction.requirements or Requirements()
    before: Any = getattr(required, figure)
    if fibre:
        of_fibre = replace(before.get(fibre[0], RequiredRange()), **{limit: value})
        limits: Any = {**before, fibre[0]: of_fibre}
    else:
        limits = replace(before or RequiredRange(), **{limit: value})
    changes: dict[str, Any] = {figure: limits}
    return replace(construction, requirements=replace(required, **changes))


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
