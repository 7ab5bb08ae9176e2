"""What is judged of weave and shedding alone: what is not known, and how it is said."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from builders import construction, jacquard, report

from weavability.checks import judgements
from weavability.checks.finding import Observation, Severity
from weavability.looms.loom import SheddingKind
from weavability.textiles.weave import Weave, analyse


def severities(seen: Iterable[Observation]) -> list[Severity]:
    return [each.severity for each in seen]


def loose(*rows: str) -> list[str]:
    structure = analyse(Weave.from_rows(rows))
    return [each.message for each in judgements.loose_threads(structure, pointer="/weave")]


def test_nothing_is_said_of_what_is_not_known() -> None:
    kind, at = SheddingKind.DOBBY, "/weave"
    silent: list[Iterable[Observation]] = [
        judgements.long_float(None, pointer=at),
        judgements.draft_mismatch(None, another=True, pointer=at),
        judgements.repeat_picks(picks=9999, max_picks=None, kind=kind, pointer=at),
        judgements.heald_crowding(
            healds_per_cm_per_shaft=99.0,
            max_healds_per_cm_per_shaft=None,
            shafts_used=4,
            pointer=at,
        ),
        judgements.heald_crowding(
            healds_per_cm_per_shaft=None,
            max_healds_per_cm_per_shaft=1.0,
            shafts_used=None,
            pointer=at,
        ),
        judgements.healds_on_a_shaft(healds_per_shaft=None, max_healds_per_shaft=1, pointer=at),
        judgements.healds_on_a_shaft(healds_per_shaft=(9,), max_healds_per_shaft=None, pointer=at),
        judgements.repeat_on_hooks(repeat_ends=9, hooks=None, pointer=at),
        judgements.hooks_idle(repeat_ends=9, hooks=None, pointer=at),
    ]
    assert [list(each) for each in silent] == [[]] * len(silent)


@pytest.mark.parametrize(("needed", "carried"), [(None, 4), (9, None)])
def test_shafts_are_judged_where_both_are_known(needed: int | None, carried: int | None) -> None:
    seen = judgements.shafts(
        needed=needed,
        used=9,
        carried=carried,
        kind=SheddingKind.DOBBY,
        weave_pointer="/weave",
        draft_pointer="/draft",
    )
    assert list(seen) == []


@pytest.mark.parametrize(("needed", "pointer"), [(8, "/draft"), (9, "/weave")])
def test_shafts_are_laid_to_the_draft_only_where_a_better_one_would_do(
    needed: int, pointer: str
) -> None:
    (seen,) = judgements.shafts(
        needed=needed,
        used=10,
        carried=8,
        kind=SheddingKind.CAM,
        weave_pointer="/weave",
        draft_pointer="/draft",
    )
    assert (seen.pointer, seen.actual, seen.limit) == (pointer, 10, 8)


def test_loose_threads_are_counted_against_none() -> None:
    structure = analyse(Weave.from_rows(["1" * 9 + "01", "1" * 9 + "10"]))
    (ends,) = judgements.loose_threads(structure, pointer="/weave")
    assert (ends.actual, ends.limit) == (9, 0)


def test_loose_threads_are_named_one_or_many() -> None:
    assert loose("110", "101", "111") == [
        "End 1 of the repeat never interlaces and lies loose on the cloth. Bind it with at least "
        "one crossing in the repeat.",
        "Pick 3 of the repeat never interlaces and lies loose on the cloth. Bind it with at least "
        "one crossing in the repeat.",
    ]
    ends, picks = loose("1" * 9 + "01", "1" * 9 + "10")[0], loose("11", "00")
    assert ends.startswith("Ends 1, 2, 3, 4, 5, 6, 7, 8 and 1 more of the repeat never interlace ")
    assert [text.split(" of ")[0] for text in picks] == ["Picks 1, 2"]


@pytest.mark.parametrize("another", [True, False])
def test_another_draft_is_told_of_only_where_there_is_one(another: bool) -> None:
    (seen,) = judgements.draft_mismatch("Ends 1 and 2 clash.", another=another, pointer="/draft")
    assert seen.severity is Severity.ERROR
    assert seen.message.startswith("The draft asked for cannot weave this cloth: Ends 1 and 2 ")
    assert seen.message.endswith("of a draft that can." if another else "clash.")


@pytest.mark.parametrize(
    ("hooks", "ground_ends", "says"),
    [(120, 240, []), (120, 241, [Severity.ERROR]), (129, 240, []), (11, 9999, [])],
)
def test_cords_are_counted_under_whole_repeats(
    hooks: int, ground_ends: int, says: list[Severity]
) -> None:
    # A repeat of 12 lifts 2 x 120 ends from 120 hooks or 129; on 11 there is nothing to count.
    seen = judgements.ends_on_hooks(
        ground_ends=ground_ends, repeat_ends=12, hooks=hooks, ends_per_hook=2, pointer="/weave"
    )
    assert severities(seen) == says


def test_a_repeat_that_the_hooks_do_not_hold_is_said_once() -> None:
    assert severities(judgements.repeat_on_hooks(repeat_ends=12, hooks=11, pointer="/weave")) == [
        Severity.ERROR
    ]
    assert list(judgements.hooks_idle(repeat_ends=12, hooks=11, pointer="/weave")) == []
    thin = judgements.harness_density(
        reed_ends_per_cm=99.0,
        harness_ends_per_cm=1.0,
        repeat_ends=12,
        hooks=11,
        pointer="/weave",
    )
    assert list(thin) == []


def test_a_narrow_cloth_leaves_cords_empty_at_its_sides_and_thins_no_harness() -> None:
    # 2880 ends of plain in 126 cm, on a harness of 4800 hooks tied at 25.5 ends/cm.
    found = report(construction(width_cm=120.0), jacquard(hooks=4800, ends_per_hook=1))
    assert [one for one in found.findings if one.code.startswith("shedding.")] == []


def test_hooks_cast_out_thin_the_harness() -> None:
    # A repeat of 100 ends leaves 60 of 160 hooks idle: 30 ends/cm become 18.75.
    for reed_ends_per_cm, says in ((19.12, []), (19.13, [Severity.ERROR])):
        seen = judgements.harness_density(
            reed_ends_per_cm=reed_ends_per_cm,
            harness_ends_per_cm=30.0,
            repeat_ends=100,
            hooks=160,
            pointer="/weave",
        )
        assert severities(seen) == says
