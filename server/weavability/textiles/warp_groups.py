"""Groups of ends with a beam of their own, and the pile ratio of those that weave pile."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.construction import Construction, WarpGroup
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.joint_threads import joint_shares
from weavability.textiles.layered_weave import LayeredWeave
from weavability.textiles.sentences import say
from weavability.textiles.thread_systems import Threads


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupFacts:
    """Ends with a beam of their own.

    Attributes:
        name: What the mill calls them; ``warp`` if all ends come from one.
        yarns: Keys of their yarns.
        ends_share: Them as a share of the ends of the thread order.
        linear_density_tex: Mean over their ends.
        pile_ratio: Yarn length per cloth length; ``None`` for ends that are woven without pile.
        density_g_per_cm3: Of their wound yarn; ``None`` if the order does not state it.
    """

    name: str
    yarns: tuple[str, ...]
    ends_share: float
    linear_density_tex: float
    pile_ratio: float | None
    density_g_per_cm3: float | None


def group_faults(groups: Sequence[WarpGroup], yarns: Collection[str]) -> Iterator[Fault]:
    """Require that every yarn of the warp is in exactly one group, and that one is without pile.

    Args:
        groups: At least one.
        yarns: Keys of the yarns of the warp.
    """
    names: set[str] = set()
    owner: dict[str, str] = {}
    bounds = CONSTRUCTION_BOUNDS["/warp/beams/pile_ratio"]
    for place, group in enumerate(groups):
        if group.name in names:
            message = say(
                "fault.groups.name_twice",
                "Two groups are named {name!r}: each needs a name of its own.",
                name=group.name,
            )
            yield Fault(f"/{place}/name", message, group.name)
        names.add(group.name)
        for index, key in enumerate(group.yarns):
            at = f"/{place}/yarns/{index}"
            if key not in yarns:
                listed = sorted(yarns)
                yield Fault(
                    at,
                    say("fault.groups.unknown_yarn", "The warp has no yarn {yarn!r}.", yarn=key),
                    key,
                    listed,
                )
            elif key in owner:
                message = say(
                    "fault.groups.yarn_twice",
                    "Yarn {yarn} is in {group} already: put it in exactly one group.",
                    yarn=key,
                    group=owner[key],
                )
                yield Fault(at, message, key)
            owner.setdefault(key, group.name)
        if group.pile_ratio is not None and group.pile_ratio not in bounds:
            yield Fault(
                f"/{place}/pile_ratio",
                say(
                    "fault.groups.pile_ratio",
                    "A pile ratio is yarn length per cloth length, at least {least:g} "
                    "and at most {most:g}.",
                    least=bounds.least,
                    most=bounds.most,
                ),
                group.pile_ratio,
                f"{bounds.least:g} to {bounds.most:g}",
            )
    missing = sorted(set(yarns) - owner.keys())
    if missing:
        message = say(
            "fault.groups.yarn_missing",
            "Yarn {yarns} is in no group: put every yarn in exactly one.",
            yarns=", ".join(missing[:20]),
        )
        yield Fault("", message, None, missing[:20])
    if all(group.pile_ratio is not None for group in groups):
        yield Fault(
            "/0/pile_ratio",
            say(
                "fault.groups.pile_alone",
                "Every group has a pile ratio: leave it out of the group that weaves the ground.",
            ),
            groups[0].pile_ratio,
        )


def warp_groups(
    construction: Construction, warp: Threads, layers: LayeredWeave | None
) -> tuple[GroupFacts, ...]:
    """Resolve the groups of ends; one, if none are stated.

    Args:
        construction: As stated.
        warp: Its warp.
        layers: The layers, of which the ends of pile need a pile ratio.

    Raises:
        InputError: The groups do not go with the yarns or with the pile, at ``/warp/beams``.
    """
    stated = construction.warp.beams
    if not stated and layers is None:
        return (_remembered_whole_warp if warp.is_remembered else _whole_warp)(warp)
    if not stated:
        stated = (_all_of(warp),)
    else:
        faults = list(group_faults(stated, warp.yarns))
        if faults:
            raise InputError(faults).below("/warp/beams")
    faults = list(_pile_faults(stated, warp, layers))
    if faults:
        raise InputError(faults).below("/warp/beams")
    _refuse_crimp_of_pile(construction, stated)
    return tuple(_facts(group, warp) for group in stated)


def _all_of(warp: Threads) -> WarpGroup:
    return WarpGroup(name="warp", yarns=tuple(warp.yarns))


def _whole_warp(warp: Threads) -> tuple[GroupFacts, ...]:
    return (_facts(_all_of(warp), warp),)


_remembered_whole_warp: Final = lru_cache(maxsize=256)(_whole_warp)


def _refuse_crimp_of_pile(construction: Construction, stated: Sequence[WarpGroup]) -> None:
    """Refuse a crimp of a yarn whose length its pile ratio states.

    Raises:
        InputError: At the crimp or contraction of every such yarn.
    """
    faults = []
    for key in (key for group in stated if group.pile_ratio is not None for key in group.yarns):
        for name in ("crimp_pct", "contraction_pct"):
            value = getattr(construction.warp.yarns[key], name)
            if value is not None:
                message = say(
                    "fault.groups.crimp_of_pile",
                    "Leave out {field}: the pile ratio of its beam states the yarn's length.",
                    field=name,
                )
                faults.append(Fault(f"/warp/yarns/{key}/{name}", message, value))
    if faults:
        raise InputError(faults)


def _pile_faults(
    stated: Sequence[WarpGroup], warp: Threads, layers: LayeredWeave | None
) -> Iterator[Fault]:
    """Require a pile ratio for the ends of pile, and for no others."""
    if layers is None:
        return
    pile = {layer.letter for layer in layers.layers if layer.is_pile}
    places: dict[str, set[bool]] = {}
    for key, letter in joint_shares(warp.order, layers.ends):
        places.setdefault(key, set()).add(letter in pile)
    mixed = sorted(key for key, found in places.items() if len(found) > 1)
    if mixed:
        yield Fault(
            "",
            say(
                "fault.groups.pile_and_ground",
                "Yarn {yarn} weaves both pile and ground, which take up unequal "
                "lengths: give the ends of pile a yarn of their own.",
                yarn=mixed[0],
            ),
            mixed[0],
        )
    for place, group in enumerate(stated):
        of_pile = [key for key in group.yarns if places.get(key) == {True}]
        of_ground = [key for key in group.yarns if places.get(key) == {False}]
        if of_pile and of_ground and group.pile_ratio is not None:
            yield Fault(
                f"/{place}/yarns",
                say(
                    "fault.groups.unlike_yarns",
                    "Yarn {pile_yarn} of this group weaves pile and yarn {ground_yarn} "
                    "ground, which take up unequal lengths: put the yarns of pile in a "
                    "group of their own.",
                    pile_yarn=of_pile[0],
                    ground_yarn=of_ground[0],
                ),
                list(group.yarns),
                "yarns of pile or of ground",
            )
        elif of_pile and group.pile_ratio is None:
            yield Fault(
                "",
                say(
                    "fault.groups.pile_ratio_missing",
                    "The pile ratio of warp yarn {yarn}, which weaves pile, is missing: "
                    "put it in a group with pile_ratio, yarn length per cloth length.",
                    yarn=of_pile[0],
                ),
                None,
                '[{"name": "ground", "yarns": […]}, {"name": "pile", "yarns": ["'
                + of_pile[0]
                + '"], "pile_ratio": 5.2}]',
            )
        elif of_ground and pile and group.pile_ratio is not None:
            yield Fault(
                f"/{place}/pile_ratio",
                say(
                    "fault.groups.pile_ratio_of_ground",
                    "Leave out pile_ratio: yarn {yarn} of this group weaves in a layer "
                    "that is not pile.",
                    yarn=of_ground[0],
                ),
                group.pile_ratio,
            )


def _facts(group: WarpGroup, warp: Threads) -> GroupFacts:
    """Sum up a group; one of the selvedge alone has no ends in the thread order."""
    ends = {key: warp.order.counts.get(key, 0) for key in group.yarns}
    total = sum(ends.values())
    weights = ends if total else dict.fromkeys(group.yarns, 1)
    tex = sum(count * warp.yarns[key].linear_density_tex for key, count in weights.items())
    return GroupFacts(
        name=group.name,
        yarns=group.yarns,
        ends_share=total / warp.order.threads,
        linear_density_tex=tex / sum(weights.values()),
        pile_ratio=group.pile_ratio,
        density_g_per_cm3=group.density_g_per_cm3,
    )


def pile_ratio_of(groups: Sequence[GroupFacts]) -> Mapping[str, float]:
    """Return the pile ratio of every yarn that has one."""
    return {
        key: group.pile_ratio
        for group in groups
        if group.pile_ratio is not None
        for key in group.yarns
    }
