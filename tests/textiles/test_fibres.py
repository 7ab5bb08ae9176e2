"""The table of fibres and the blends made of it."""

from __future__ import annotations

import pytest
from textiles.sentences import is_sentence

from weavability.textiles.assumptions import Ledger
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import LONGEST_NAME, fibres, find_fibre
from weavability.textiles.yarns import Yarn, resolve_yarn


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("cotton", "cotton"),
        (" COTTON ", "cotton"),
        ("Flax", "linen"),
        ("para_aramid", "para-aramid"),
        ("Para-Aramid", "para-aramid"),
        ("aramid", "para-aramid"),
        ("nylon 6.6", "nylon"),
        ("Polyamide", "nylon"),
        ("polyamide filament", "nylon"),
        ("filament PTFE", "ptfe"),
        ("polyester monofilament filament", "polyester monofilament"),
        ("spun silk", "spun-silk"),
        ("worsted wool", "worsted"),
        ("rayon", "viscose"),
        ("organic combed cotton", "cotton"),
        ("compact cotton", "cotton"),
        ("ring-spun combed cotton", "cotton"),
        ("polyester FDY", "polyester"),
        ("65/35 recycled polyester/combed cotton", "polyester 65 cotton 35"),
        ("polyester DTY", "textured-polyester"),
        ("alpaca", "wool"),
        ("100 % Pima cotton", "cotton"),
    ],
)
def test_names_of_fibres(name: str, key: str) -> None:
    assert find_fibre(name).key == key


@pytest.mark.parametrize(
    ("key", "density"),
    [
        # W. E. Morton and J. W. S. Hearle, Physical Properties of Textile Fibres, 4th ed. 2008,
        # tables 5.1 and 5.2 (at 65 % relative humidity).
        ("cotton", 1.52),
        ("viscose", 1.49),
        ("acetate", 1.32),
        ("wool", 1.31),
        ("silk", 1.34),
        ("nylon", 1.14),
        ("polyester", 1.39),
        ("acrylic", 1.19),
        ("polypropylene", 0.91),
        ("para-aramid", 1.44),
        ("polyethylene", 0.97),
    ],
)
def test_densities_as_published(key: str, density: float) -> None:
    assert find_fibre(key).density_g_per_cm3 == density


def test_cotton_yarn_lies_within_the_published_ranges() -> None:
    # Handbook of Properties of Textile and Technical Fibres, 2nd ed. 2018, table 7.3: ring-spun
    # carded, Ne 20 to 40: 17 cN/tex, CV 8.5 to 10 %, elongation 6.4 to 5.6 %.
    cotton = find_fibre("cotton").form("spun")
    assert cotton.tenacity_cn_per_tex == 17.0
    assert 8.5 <= cotton.strength_cv_pct <= 10.0
    assert 5.6 <= cotton.breaking_elongation_pct <= 6.4


def test_every_fibre_is_plausible_and_names_its_sources() -> None:
    for fibre in fibres():
        assert find_fibre(fibre.key) is fibre
        assert 0.5 < fibre.density_g_per_cm3 < (10.0 if fibre.is_metal else 3.0), fibre
        assert fibre.density_source, fibre
        assert fibre.usual in fibre.forms, fibre
    for form in (each for fibre in fibres() for each in fibre.forms.values()):
        assert 0.4 < form.packing_fraction < 0.91, form  # hexagonal close packing of round fibres
        assert set(form.sources) == {
            "packing_fraction",
            "tenacity_cn_per_tex",
            "strength_cv_pct",
            "breaking_elongation_pct",
        }
        assert all(form.sources.values()), form


@pytest.mark.parametrize(
    "name",
    [
        "65/35 polyester/cotton",
        "polyester/cotton 65/35",
        "polyester 65 cotton 35",
        "65% polyester, 35% cotton",
        "65 % PES / 35 % CO",
        "polyester 65 and cotton 35",
    ],
)
def test_ways_to_write_a_blend(name: str) -> None:
    blend = find_fibre(name)
    assert blend.components == (("polyester", 65.0), ("cotton", 35.0))
    assert not blend.shares_assumed


def test_density_of_a_blend_adds_volumes() -> None:
    # 1 g of the blend: 0.65 g of polyester and 0.35 g of cotton; the list of constructions in
    # fabrics.json takes 1.43.
    blend = find_fibre("65/35 polyester/cotton")
    volume = 0.65 / 1.39 + 0.35 / 1.52
    assert blend.density_g_per_cm3 == pytest.approx(1.0 / volume)
    assert blend.density_g_per_cm3 == pytest.approx(1.43, abs=0.005)


@pytest.mark.parametrize(
    ("name", "shares"),
    [
        ("polyester/cotton", (65.0, 35.0)),
        ("poly-cotton", (65.0, 35.0)),
        ("polyester/wool", (55.0, 45.0)),
        ("linen/cotton", (50.0, 50.0)),
        ("cotton/elastane", (97.0, 3.0)),
        ("elastane/cotton", (3.0, 97.0)),
    ],
)
def test_shares_that_are_not_stated_are_assumed_and_say_so(
    name: str, shares: tuple[float, ...]
) -> None:
    blend = find_fibre(name)
    assert tuple(share for _, share in blend.components) == shares
    assert blend.shares_assumed


def test_a_core_of_elastane_is_thin() -> None:
    assert find_fibre("core-spun 6/94 elastane/cotton").share_pct("elastane") == 6.0
    with pytest.raises(InputError, match="94 % of elastane is no core-spun yarn") as refused:
        find_fibre("core-spun 94/6 elastane/cotton")
    (fault,) = refused.value.faults
    assert fault.allowed == "for example core-spun 6/94 elastane/cotton"


def test_the_key_of_a_blend_finds_it_again() -> None:
    blend = find_fibre("polyester/cotton")
    assert find_fibre(blend.key).density_g_per_cm3 == blend.density_g_per_cm3


def test_a_little_elastane_does_not_change_strength_and_elongation() -> None:
    blend, cotton = find_fibre("98/2 cotton/elastane"), find_fibre("cotton")
    spun, pure = blend.form("spun"), cotton.form("spun")
    assert spun.tenacity_cn_per_tex == pure.tenacity_cn_per_tex
    assert spun.breaking_elongation_pct == pure.breaking_elongation_pct
    assert not blend.filament


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("coton", "Did you mean 'cotton'"),
        ("vicuna", "Name one of the list: cotton, wool, worsted"),
        ("plyester/cotton", "Did you mean 'polyester'"),
        ("", "No fibre is known"),
        ("xyz", "Name one of the list"),
        ("cotton filament", "No filament yarn is known of 'cotton'"),
        ("65/45 polyester/cotton", "adding up to 100"),
        ("100/0 polyester/cotton", "adding up to 100"),
        ("65 polyester cotton", "No fibre is known"),
        ("65/30/5 polyester/cotton", "one share for each"),
        ("cotton/cotton", "different fibres"),
        ("cotton/linen/wool/silk/jute/hemp", "different fibres"),
    ],
)
def test_unknown_fibres_and_wrong_blends_are_refused(name: str, reason: str) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        find_fibre(name)
    assert is_sentence(caught.value.faults[0].message)


@pytest.mark.parametrize(("first", "second", "good"), [(65, 36, True), (65, 36.1, False)])
def test_shares_may_miss_the_hundred_by_rounding_only(
    first: float, second: float, good: bool
) -> None:
    name = f"polyester {first} cotton {second}"
    if good:
        assert sum(share for _, share in find_fibre(name).components) == pytest.approx(100.0)
    else:
        with pytest.raises(InputError):
            find_fibre(name)


def test_the_refusal_lists_what_there_is() -> None:
    with pytest.raises(InputError) as caught:
        find_fibre("unobtainium")
    allowed = caught.value.faults[0].allowed
    assert isinstance(allowed, list)
    assert {"cotton", "polyester", "glass"} <= set(allowed)


def test_the_length_of_a_name_is_bounded() -> None:
    assert find_fibre("cotton".ljust(LONGEST_NAME)).key == "cotton"
    with pytest.raises(InputError, match="Shorten"):
        find_fibre("cotton".ljust(LONGEST_NAME + 1))


@pytest.mark.parametrize(
    ("designation", "fibre", "spun"),
    [
        ("Nm 60/2", "wool", "worsted"),
        ("Nm 40", "65/35 polyester/wool", "polyester 65 worsted 35"),
        ("Nm 28/2", "cashmere", "wool"),  # woollen-spun cashmere of every day
        ("Nm 60/2", "Woollen", "wool"),
        ("woollen Nm 40", None, "wool"),
        ("Nm 60/2", "55/45 worsted/wool", "worsted 55 wool 45"),
    ],
)
def test_wool_too_fine_for_carded_yarn_is_worsted(
    designation: str, fibre: str | None, spun: str
) -> None:
    """Common practice, no source: carded wool is spun down to about Nm 33."""
    ledger = Ledger()
    assert resolve_yarn(Yarn(designation=designation, fibre=fibre), ledger).fibre.key == spun
    (why,) = [str(line.reason) for line in ledger if line.pointer == "/fibre"] or [""]
    is_changed = "worsted" in spun and "worsted" not in str(fibre)
    assert ("too fine for woollen yarn" in why) == is_changed
