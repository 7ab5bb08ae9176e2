"""Laws of counts, folding and thread orders."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weavability.textiles.assumptions import Ledger
from weavability.textiles.count_systems import SYSTEMS, System
from weavability.textiles.designations import parse_designation
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import Fibre, fibres, find_fibre
from weavability.textiles.thread_order import parse_order
from weavability.textiles.yarns import Yarn, resolve_yarn

systems = st.sampled_from(SYSTEMS)
densities = st.floats(0.2, 4_000.0).map(lambda tex: float(f"{tex:.6g}"))
plies = st.integers(1, 24)


def written(system: System, number: float) -> str:
    return f"{number:.9f} {system.names[0]}"


@given(systems, densities)
def test_a_count_and_back_is_the_same_yarn(system: System, tex: float) -> None:
    assert system.tex(system.number(tex)) == pytest.approx(tex, rel=1e-12)


@given(systems, densities)
def test_a_written_count_is_read_as_its_yarn(system: System, tex: float) -> None:
    text = written(system, system.number(tex))
    assert parse_designation(text).linear_density_tex == pytest.approx(tex, rel=1e-4)


@given(systems, systems, densities)
def test_canonical_text_is_read_as_the_same_yarn(one: System, two: System, tex: float) -> None:
    text = f"{written(one, one.number(tex))} + {written(two, two.number(tex))}"
    first = parse_designation(text)
    again = parse_designation(first.text)
    assert again.linear_density_tex == pytest.approx(first.linear_density_tex, rel=1e-8)
    assert (again.text, again.plies) == (first.text, first.plies)


@given(st.integers(25, 300), plies)
def test_ply_before_or_after_the_stroke_is_the_same(count: int, ply: int) -> None:
    after, before = parse_designation(f"Ne {count}/{ply}"), parse_designation(f"Ne {ply}/{count}")
    assert after == before


@given(densities, plies)
def test_folding_adds_in_direct_systems(tex: float, ply: int) -> None:
    folded = parse_designation(f"{tex} tex x {ply}")
    assert folded.linear_density_tex == pytest.approx(ply * tex)
    assert folded.single_tex == pytest.approx(tex)


@given(st.lists(st.integers(2, 200), min_size=1, max_size=6))
def test_folding_adds_reciprocals_in_count_systems(counts: list[int]) -> None:
    folded = parse_designation(" + ".join(f"Ne {count}" for count in counts))
    resultant = 1.0 / sum(1.0 / count for count in counts)
    ne = next(system for system in SYSTEMS if system.key == "Ne")
    assert ne.number(folded.linear_density_tex) == pytest.approx(resultant)
    assert folded.plies == len(counts)


@given(densities, st.floats(0.0, 25.0))
def test_twist_take_up_makes_the_folded_yarn_heavier_by_the_length_lost(
    tex: float, take_up: float
) -> None:
    yarn = Yarn(designation=f"{tex} tex x 2", fibre="cotton", folding_take_up_pct=take_up)
    folded = resolve_yarn(yarn, Ledger()).linear_density_tex
    assert folded * (1 - take_up / 100) == pytest.approx(2 * tex)


@pytest.mark.slow
@given(densities, st.sampled_from(fibres()), st.floats(1.1, 4.0))
def test_facts_scale_with_linear_density(tex: float, fibre: Fibre, factor: float) -> None:
    thin = resolve_yarn(Yarn(linear_density_tex=tex, fibre=fibre.key), Ledger())
    thick = resolve_yarn(Yarn(linear_density_tex=tex * factor, fibre=fibre.key), Ledger())
    assert thick.diameter_mm == pytest.approx(thin.diameter_mm * factor**0.5)
    assert thick.strength_cn == pytest.approx(thin.strength_cn * factor)
    assert 0.0 <= thick.weakest_strength_cn <= thick.strength_cn


pairs = st.lists(
    st.sampled_from([fibre.key for fibre in fibres()]), min_size=2, max_size=4, unique=True
)


@given(pairs, st.data())
def test_a_blend_lies_between_its_components(keys: list[str], data: st.DataObject) -> None:
    weights = [data.draw(st.integers(1, 100)) for _ in keys]
    shares = [100 * weight / sum(weights) for weight in weights]
    name = " ".join(f"{key} {share:.4f}" for key, share in zip(keys, shares, strict=True))
    blend = find_fibre(name)
    parts = [find_fibre(key) for key in keys]
    densities = [part.density_g_per_cm3 for part in parts]
    assert min(densities) - 1e-9 <= blend.density_g_per_cm3 <= max(densities) + 1e-9
    packings = [part.form(blend.usual).packing_fraction for part in parts]
    packing = blend.form(blend.usual).packing_fraction
    assert min(packings) - 1e-9 <= packing <= max(packings) + 1e-9
    assert sum(share for _, share in blend.components) == pytest.approx(
        100.0, abs=1e-3
    )  # as written


@given(st.text(max_size=90))
def test_any_text_is_read_or_refused(text: str) -> None:
    for read in (
        lambda: parse_designation(text),
        lambda: find_fibre(text),
        lambda: parse_order(text, known="AB"),
    ):
        with suppress(InputError):
            read()


alphabet = st.text("0123456789./x+-; RfsNekmtdltexdn", max_size=40)


@given(alphabet)
def test_anything_like_a_designation_is_read_the_same_again_or_refused(text: str) -> None:
    with suppress(InputError):
        first = parse_designation(text)
        again = parse_designation(first.text)
        assert again.linear_density_tex == pytest.approx(first.linear_density_tex, rel=1e-8)
        assert again.text == first.text


@st.composite
def orders(draw: st.DrawFn, depth: int = 2) -> str:
    def term() -> str:
        times = draw(st.integers(1, 5))
        if depth and draw(st.booleans()):
            return f"{times}({draw(orders(depth=depth - 1))})"
        return f"{times}{draw(st.sampled_from('ABC'))}"

    return " ".join(term() for _ in range(draw(st.integers(1, 4))))


def with_all(text: str) -> str:
    return f"{text} A B C"


@given(orders(), st.integers(0, 5_000))
def test_threads_of_all_yarns_add_up_to_the_total(text: str, total: int) -> None:
    order = parse_order(with_all(text), known="ABC")
    over = order.over(total)
    assert sum(over.values()) == total
    laid = [order.sequence[thread % order.threads] for thread in range(total)]
    assert over == {yarn: laid.count(yarn) for yarn in order.counts}
    assert order.remainder(total) == total % order.threads


@given(orders())
def test_canonical_order_lays_the_same_threads(text: str) -> None:
    order = parse_order(with_all(text), known="ABC")
    again = parse_order(order.text, known="ABC")
    assert again.sequence == order.sequence
    assert again.text == order.text
    assert order.over(order.threads) == order.counts


@given(orders(), st.integers(1, 5))
def test_a_group_repeats_its_threads(text: str, times: int) -> None:
    order = parse_order(with_all(text), known="ABC")
    repeated = parse_order(f"{times}({with_all(text)})", known="ABC")
    assert repeated.sequence == order.sequence * times
