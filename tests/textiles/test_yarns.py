"""Yarn designations and the facts that follow from them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pint
import pytest
from textiles.published import read, setting_cases, tolerance
from textiles.sentences import is_sentence

from weavability.textiles import geometry
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.bounds import YARN_BOUNDS
from weavability.textiles.count_systems import SYSTEMS, TEX_NE
from weavability.textiles.designation_parts import MOST_PLIES, TwistDirection
from weavability.textiles.designations import LONGEST_DESIGNATION, parse_designation
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import find_fibre
from weavability.textiles.yarn_facts import twist_factor
from weavability.textiles.yarns import Yarn, resolve_yarn

GRAIN_G = 453.59237 / 7000.0
DRAM_G = 453.59237 / 256.0
OUNCE_G = 453.59237 / 16.0
POUND_G = 453.59237
YARD_KM = 0.0009144
SYSTEM = {system.key: system for system in SYSTEMS}


@cache
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry()


def tex(designation: str) -> float:
    return parse_designation(designation).linear_density_tex


def number(system: str, linear_density_tex: float) -> float:
    return SYSTEM[system].number(linear_density_tex)


def weighed(yards: float, grams: float) -> float:
    return grams / (yards * YARD_KM)


def yards_in(grams: float, designation: str) -> float:
    return grams / tex(designation) / YARD_KM


COUNT_CASES: dict[str, Callable[[], float]] = {
    "S003": lambda: tex("1 lea"),
    "S004": lambda: tex("1 run"),
    "S005": lambda: yards_in(POUND_G, "1 tex"),
    "S006": lambda: number("den", weighed(120, GRAIN_G)),
    "S007": lambda: weighed(120, GRAIN_G),
    "S008": lambda: number("NeL", tex("NeK 1")),
    "S011": lambda: number("run", tex("NeK 1")),
    "S013": lambda: number("NeK", tex("Ne 10")),
    "S014": lambda: number("Ne", tex("30 tex")),
    "S015": lambda: number("Ne", tex("20 tex")),
    "S016": lambda: number("den", tex("20 tex")),
    "S018": lambda: tex("jute 1 lb"),
    "S019": lambda: tex("1 den"),
    "S021": lambda: number("NeK", tex("20s cotton")),
    "S022": lambda: number("NeL", tex("20s cotton")),
    "S023": lambda: number("Nf", tex("20s cotton")),
    "S024": lambda: number("Ne", weighed(120, 25 * GRAIN_G)),
    "S025": lambda: tex("44s cotton") * 9240 * YARD_KM / POUND_G,
    "S026": lambda: number("Ne", weighed(840, 100 * GRAIN_G)),
    "S027": lambda: number("Ne", weighed(120, 20 * GRAIN_G)),
    "S028": lambda: tex("40s cotton") * 120 * YARD_KM / GRAIN_G,
    "S030": lambda: yards_in(OUNCE_G, "4 dram silk"),
    "S031": lambda: number("NeK", weighed(20, 10 * GRAIN_G)),
    "S032": lambda: number("NeK", weighed(20, 35 * GRAIN_G)),
    "S034": lambda: number("Ne", weighed(20, 14 * GRAIN_G)),
    "S035": lambda: number("Galashiels", weighed(20, 2 * DRAM_G)),
    "S037": lambda: number("NeK", tex("2/40 cotton")),
    "S038": lambda: number("skein", tex("20s cotton")),
    "S039": lambda: number("Alloa", tex("12 cut Galashiels")),
    "S042": lambda: number("skein", tex("40/2 spun silk")),
    "S043": lambda: yards_in(3 * POUND_G, "2/48 worsted"),
    "S044": lambda: yards_in(0.25 * OUNCE_G, "60/2 spun silk"),
    "S047": lambda: number("run", weighed(4000, 5 * OUNCE_G)),
    "S048": lambda: number("run", weighed(200_000, 15 * POUND_G)),
    "S055": lambda: yards_in(POUND_G, "4400 tex"),
    "S057": lambda: number("Ne", tex("40s + 20s cotton")),
    "S058": lambda: number("Ne", tex("Ne 40 + Ne 80 + Ne 120")),
    "S059": lambda: number("Ne", tex("3/300s cotton")),
    "S060": lambda: number("Ne", tex("60s + 40s cotton")),
    "S062": lambda: number("Ne", tex("64s + 48s + 32s cotton")),
    "S063": lambda: number("Ne", parse_designation("64s + 48s + 32s cotton").single_tex),
    "S064": lambda: number("NeK", tex("2/40 worsted + 60/2 spun silk")),
    "S070": lambda: number("Ne", tex("80s + 40s + 20s cotton")),
    "S071": lambda: number("Ne", tex("Ne 21") - tex("Ne 30")),
    "S072": lambda: number("Ne", tex("Ne 10") - tex("Ne 48 + Ne 24")),
    "S074": lambda: number("Ne", tex("Ne 12") - tex("Ne 16")),
    "S162": lambda: number("Ne", weighed(504 * 14_256, 301 * POUND_G)),
    "S163": lambda: number("Ne", weighed(2280 * 14_256, 1639 * POUND_G)),
    "S178": lambda: number("skein", weighed(12 * 60 * 200 * 2.25, 80 * POUND_G)),
}


@pytest.mark.parametrize("case_id", COUNT_CASES)
def test_count_as_published(case_id: str) -> None:
    case = setting_cases()[case_id]
    assert COUNT_CASES[case_id]() == pytest.approx(case["published"], abs=tolerance(case)), case


NAMES_IN_TABLE = {
    "dtex": "dtex",
    "denier": "den",
    "Nm": "Nm",
    "Ne": "Ne",
    "worsted": "NeK",
    "lea": "NeL",
    "run": "run",
    "skein 256": "skein",
}


@pytest.mark.parametrize("row", read("setting_counts.json")["rows"], ids=lambda row: row["tex"])
def test_conversion_table_of_counts(row: dict[str, float]) -> None:
    for column, system in NAMES_IN_TABLE.items():
        printed_to = 10.0 ** -len(str(row[column]).partition(".")[2])
        assert number(system, row["tex"]) == pytest.approx(row[column], abs=0.51 * printed_to)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("system", "unit", "direct"),
    [
        ("tex", "tex", True),
        ("dtex", "dtex", True),
        ("den", "denier", True),
        ("jute lb", "jute", True),
        ("Ne", "number_english", False),
        ("Nm", "number_meter", False),
    ],
)
@pytest.mark.parametrize("count", [0.5, 7.0, 30.0, 120.0])
def test_count_systems_agree_with_pint(system: str, unit: str, direct: bool, count: float) -> None:
    quantity = registry().Quantity(count, unit)
    mass_per_length = quantity if direct else 1 / quantity
    expected = mass_per_length.to("gram / kilometer").magnitude
    assert SYSTEM[system].tex(count) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("product", "system"),
    [
        (590.5412474, "Ne"),
        (885.8118712, "NeK"),
        (1653.5154929, "NeL"),
        (310.0341549, "run"),
        (1937.7134682, "skein"),
        (1000.0, "Nm"),
    ],
)
def test_products_of_tex_and_count(product: float, system: str) -> None:
    # ASTM D2260 to its printed digits, the further ones from the exact pound and yard.
    assert SYSTEM[system].tex(1.0) == pytest.approx(product, abs=5e-8)


@pytest.mark.parametrize(
    ("text", "canonical", "expected_tex", "plies", "filaments"),
    [
        ("20 tex", "20 tex", 20.0, 1, None),
        ("R 40 tex/2", "R 40 tex/2", 40.0, 2, None),
        ("R40tex/2", "R 40 tex/2", 40.0, 2, None),
        ("20 tex x 2", "20 tex x 2", 40.0, 2, None),
        ("20tex×2", "20 tex x 2", 40.0, 2, None),
        ("2 x 20 tex", "20 tex x 2", 40.0, 2, None),
        ("20 x 2 tex", "20 tex x 2", 40.0, 2, None),
        ("5 tex x 6", "5 tex x 6", 30.0, 6, None),
        ("20 tex x 2 x 3", "20 tex x 6", 120.0, 6, None),
        ("20 tex 2-ply", "20 tex x 2", 40.0, 2, None),
        ("20 tex x 2; R 41.2 tex", "20 tex x 2; R 41.2 tex", 41.2, 2, None),
        ("34 tex S600 x 2 Z400; R 69.3 tex", "34 tex x 2; R 69.3 tex", 69.3, 2, None),
        ("150 dtex f48", "150 dtex f48", 15.0, 1, 48),
        ("150dtex/48f", "150 dtex f48", 15.0, 1, 48),
        ("dtex 150f48", "150 dtex f48", 15.0, 1, 48),
        ("48f 150 dtex", "150 dtex f48", 15.0, 1, 48),
        ("150 dtex f48 x 2", "150 dtex f48 x 2", 30.0, 2, 48),
        ("133 dtex f40 t0", "133 dtex f40", 13.3, 1, 40),
        ("167/48 dtex", "167 dtex f48", 16.7, 1, 48),
        ("167/48x2 dtex", "167 dtex f48 x 2", 33.4, 2, 48),
        ("2 x 22/48 dtex", "22 dtex f48 x 2", 4.4, 2, 48),
        ("75/36/1 den", "75 den f36", 75 / 9, 1, 36),
        ("75D/36F", "75 den f36", 75 / 9, 1, 36),
        ("75 den", "75 den", 75 / 9, 1, None),
        ("75 denier f36", "75 den f36", 75 / 9, 1, 36),
        ("Ne 30", "Ne 30", 590.5412474 / 30, 1, None),
        ("NeC30", "Ne 30", 590.5412474 / 30, 1, None),
        ("Ne 30/1", "Ne 30", 590.5412474 / 30, 1, None),
        ("30's cotton", "Ne 30", 590.5412474 / 30, 1, None),
        ("ne30/2", "Ne 30/2", 590.5412474 / 15, 2, None),
        ("Ne 2/30", "Ne 30/2", 590.5412474 / 15, 2, None),
        ("30/2 Ne", "Ne 30/2", 590.5412474 / 15, 2, None),
        ("2-30s cotton", "Ne 30/2", 590.5412474 / 15, 2, None),
        ("Ne 60/2/3", "Ne 60/6", 590.5412474 / 10, 6, None),
        ("Nm 60/2", "Nm 60/2", 1000 / 30, 2, None),
        ("Nm 2/60", "Nm 60/2", 1000 / 30, 2, None),
        ("NeK 48/2", "NeK 48/2", 885.8118712 / 24, 2, None),
        ("2/48s worsted", "NeK 48/2", 885.8118712 / 24, 2, None),
        ("NeL 25", "NeL 25", 1653.5154929 / 25, 1, None),
        ("25 lea linen", "NeL 25", 1653.5154929 / 25, 1, None),
        ("woollen run 3", "run 3", 310.0341549 / 3, 1, None),
        ("woollen Nm 8", "woollen Nm 8", 125.0, 1, None),
        ("Nm 8/2 woollen", "woollen Nm 8/2", 250.0, 2, None),
        ("24 yorkshire skeins", "skein 24", 1937.7134682 / 24, 1, None),
        ("12 cut Galashiels", "Galashiels 12", 2480.2732393 / 12, 1, None),
        ("Alloa 10", "Alloa 10", 206.68943661, 1, None),
        ("8 lb jute", "jute 8 lb", 8 * 34.4482394345, 1, None),
        ("8 lb/spyndle", "jute 8 lb", 8 * 34.4482394345, 1, None),
        ("40/2 spun silk", "silk 40/2", 590.5412474 / 40, 2, None),
        ("1.3 drams", "1.3 dram", 1.3 * 1.9377134682, 1, None),
        ("Ne 30 + Ne 40", "Ne 30 + Ne 40", 590.5412474 * (1 / 30 + 1 / 40), 2, None),
        ("Ne 30 + 40", "Ne 30 + Ne 40", 590.5412474 * (1 / 30 + 1 / 40), 2, None),
        ("150 dtex f48 + 75 dtex f36", "150 dtex f48 + 75 dtex f36", 22.5, 2, 42),
    ],
)
def test_designation_is_read(
    text: str, canonical: str, expected_tex: float, plies: int, filaments: int | None
) -> None:
    read_as = parse_designation(text)
    assert read_as.text == canonical
    assert read_as.linear_density_tex == pytest.approx(expected_tex, rel=1e-9)
    assert (read_as.plies, read_as.filaments) == (plies, filaments)
    assert parse_designation(canonical).linear_density_tex == read_as.linear_density_tex


@pytest.mark.parametrize(
    ("text", "deniers", "plies"),
    [
        ("13/15 den", 14, 1),
        ("20/22 D", 21, 1),
        ("20-22 denier x 2", 42, 2),
        ("2 x 20/22 den", 42, 2),
        ("silk 20/22 den x 3", 63, 3),
        ("20/22 den raw silk", 21, 1),
        ("silk 2/20/22 den", 42, 2),
        ("22/24 dtex", 23 * 0.9, 1),
    ],
)
def test_a_titre_of_raw_silk_counts_by_its_mean(text: str, deniers: float, plies: int) -> None:
    """13/15 and 20/22 denier are titres of raw silk (A. Wolfensberger, 1921, p. 109)."""
    read = parse_designation(text, fibre=find_fibre("silk"))
    assert read.linear_density_tex == pytest.approx(deniers / 9)
    assert read.plies == plies
    assert read.filaments is None
    assert "titre of raw silk" in (read.reading or "")
    nylon = parse_designation("20/22 den", fibre=find_fibre("nylon"))
    assert (nylon.filaments, nylon.reading) == (22, None)


@pytest.mark.parametrize("text", ["silk 20/22 den", "silk 21 den", "raw silk 21D", "21 den silk"])
def test_silk_in_deniers_is_raw_silk(text: str) -> None:
    yarn = resolve_yarn(Yarn(designation=text), Ledger())
    assert yarn.fibre.key == "silk"
    assert yarn.linear_density_tex == pytest.approx(21 / 9)


def test_only_a_folded_cotton_count_of_silk_is_warned_of() -> None:
    single, folded = (
        parse_designation(text, fibre=find_fibre("silk")) for text in ("Ne 40", "Ne 40/2")
    )
    assert single.reading is None
    assert "numbers the folded yarn" in (folded.reading or "")


def test_folded_cotton_and_spun_silk_are_numbered_differently() -> None:
    # J. T. Taylor, Cotton Weaving and Designing, 1909, p. 239: a 2-40's is 20 hanks to the pound;
    # 40's-2 spun silk is 40 hanks to the pound, made of two threads of 80's.
    cotton, silk = parse_designation("2-40s cotton"), parse_designation("40s-2 spun silk")
    assert number("Ne", cotton.linear_density_tex) == pytest.approx(20.0)
    assert number("Ne", silk.linear_density_tex) == pytest.approx(40.0)
    assert number("Ne", silk.single_tex) == pytest.approx(80.0)
    assert "resultant" in (silk.reading or "")
    assert "resultant" in (parse_designation("Ne 20 + silk 40/2").reading or "")


@pytest.mark.parametrize(
    ("fibre", "canonical"),
    [
        ("cotton", "Ne 30"),
        ("65/35 polyester/cotton", "Ne 30"),
        ("worsted", "NeK 30"),
        ("linen", "NeL 30"),
        ("spun silk", "silk 30"),
    ],
)
def test_thirties_without_a_system_take_the_count_of_the_fibre(fibre: str, canonical: str) -> None:
    read_as = parse_designation("30s", fibre=find_fibre(fibre))
    assert read_as.text == canonical
    assert canonical in (read_as.reading or "")


@pytest.mark.parametrize("fibre", [None, "wool", "carbon"])
def test_thirties_without_a_system_are_refused_where_no_count_is_usual(fibre: str | None) -> None:
    with pytest.raises(InputError, match="which count 30s is"):
        parse_designation("30s", fibre=None if fibre is None else find_fibre(fibre))


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "Write the number"),
        ("   ", "Write the number"),
        ("Ne", "Write the number"),
        ("f48", "Write the number"),
        ("20 tex + ", "Write the number"),
        ("30", "Ne 30, Nm 30 or 30 tex"),
        ("30/2", "State the system"),
        ("150/48", "150 den f48 or 150 dtex f48 of 48 filaments"),
        ("0.3 mm", "It is a diameter"),
        ("40 tex/2", r"write R 40 tex/2 .* 40 tex x 2"),
        ("15/2 tex", "several readings"),
        ("150/12 den", "several readings"),
        ("150D/48F/2", "150 den f48 x 2"),
        ("167/48/2 dtex", "167 dtex f48 x 2 for 2 such yarns"),
        ("Ne 30//2", 'between the two marks "//"'),
        ("Ne 30/ x 2", 'between the two marks "/x"'),
        ("R 40 tex x 2", "R names the resultant"),
        ("R Ne 30", "R goes with direct systems"),
        ("20 tex x 2; R 60 tex", "does not go with"),
        ("20 tex x 2; 41 tex", "write the resultant alone"),
        ("Ne 0", "above 0"),
        ("0 tex", "above 0"),
        ("-20 tex", "above 0"),
        ("Ne -30", "above 0"),
        ("Nm 2,5", "decimal point"),
        ("silk 20/22", "write 20/22 den"),
        ("abc 30", "'abc 30' cannot be read as a yarn count"),
        ("Ne twenty", "'Ne twenty' cannot be read as a yarn count"),
        ("Ne 30 polyester", "its own field"),
        ("Ne 30/2.5", "2.5 plies"),
        ("Ne 30 x", 'No number follows "x"'),
        ("dtex 167 f 48 x", 'No number follows "x"'),
        ("30/ Ne", 'No number follows "/"'),
        ("Ne 30-", 'No number follows "-"'),
        ("Ne /2", 'No number comes before "/"'),
        ("/40 tex", 'No number comes before "/"'),
        ("x 30 Ne", 'No number comes before "x"'),
        ("40 40 tex", "side by side"),
        ("1/2/3/4 Ne", "at most a number and two"),
        ("150 dtex f48 f36", "twice"),
        ("150 dtex f0", "0 filaments"),
        ("150 dtex f20001", "20001 filaments"),
        ("20 tex?", "'?' has no meaning"),
        ("２０ tex", "digits 0 to 9"),
        ("nan tex", "'nan tex' cannot be read as a yarn count"),
        ("9" * 70 + " tex", "check the number"),
        ("Ne " + "9" * 70, "check the number"),
    ],
)
def test_designation_is_refused_with_a_reason(text: str, reason: str) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        parse_designation(text)
    (fault,) = caught.value.faults
    assert fault.pointer == ""
    assert fault.allowed
    assert is_sentence(fault.message)


@pytest.mark.parametrize(
    ("inside", "outside"),
    [
        ("0.1 tex", "0.0999 tex"),
        ("100000 tex", "100001 tex"),
        (f"20 tex x {MOST_PLIES}", f"20 tex x {MOST_PLIES + 1}"),
        ("20 tex x 4 x 6", "20 tex x 5 x 5"),
        ("150/13 dtex", "150/12 dtex"),
        ("150 dtex f20000", "150 dtex f20001"),
        ("20 tex x 2; R 36 tex", "20 tex x 2; R 35.9 tex"),
        ("20 tex x 2; R 50 tex", "20 tex x 2; R 50.1 tex"),
        ("20 tex" + " " * (LONGEST_DESIGNATION - 6), "20 tex" + " " * (LONGEST_DESIGNATION - 5)),
        ("+".join(["Ne 9"] * 10), "+".join(["Ne 9"] * 25)[: LONGEST_DESIGNATION + 1]),
    ],
)
def test_bounds_of_a_designation(inside: str, outside: str) -> None:
    parse_designation(inside)
    with pytest.raises(InputError):
        parse_designation(outside)


@pytest.mark.parametrize(
    ("text", "noted"),
    [("Ne 3/2", True), ("Ne 24/3", True), ("Ne 30/2", False), ("Ne 2.5/2", False), ("Ne 8", False)],
)
def test_a_count_that_could_be_a_ply_is_noted(text: str, noted: bool) -> None:
    assert (parse_designation(text).reading is not None) is noted


COTTON = Yarn(designation="Ne 40/2", fibre="cotton")


def test_every_value_that_was_not_given_is_noted() -> None:
    ledger = Ledger()
    facts = resolve_yarn(COTTON, ledger.below("/warp/yarns/A"))
    assert {line.pointer: line.value for line in ledger} == {
        "/warp/yarns/A/folding_take_up_pct": 0.0,
        "/warp/yarns/A/fibre_density_g_per_cm3": facts.fibre_density_g_per_cm3,
        "/warp/yarns/A/packing_fraction": facts.packing_fraction,
        "/warp/yarns/A/tenacity_cn_per_tex": facts.tenacity_cn_per_tex,
        "/warp/yarns/A/strength_cv_pct": facts.strength_cv_pct,
        "/warp/yarns/A/breaking_elongation_pct": facts.breaking_elongation_pct,
    }
    assert all(line.reason for line in ledger)


def test_nothing_is_noted_when_everything_is_given() -> None:
    ledger = Ledger()
    facts = resolve_yarn(
        Yarn(
            designation="20 tex x 2",
            fibre="cotton",
            colour="#1c2a4a",
            fibre_density_g_per_cm3=1.5,
            packing_fraction=0.5,
            tenacity_cn_per_tex=16.0,
            strength_cv_pct=10.0,
            breaking_elongation_pct=5.0,
            folding_take_up_pct=3.0,
        ),
        ledger,
    )
    assert list(ledger) == []
    assert facts.linear_density_tex == pytest.approx(40.0 / 0.97)
    assert facts.single_tex == 20.0
    assert facts.strength_cn == pytest.approx(16.0 * 40.0 / 0.97)
    assert facts.weakest_strength_cn == pytest.approx(0.7 * facts.strength_cn)
    assert facts.modulus_cn_per_tex == pytest.approx(320.0)
    assert facts.colour == "#1c2a4a"


@pytest.mark.parametrize(
    ("designation", "fibre"),
    [
        ("NeK 48/2", "worsted"),
        ("NeL 25", "linen"),
        ("jute 8 lb", "jute"),
        ("silk 40/2", "spun-silk"),
        ("150 dtex f48", "polyester"),
        ("75 den", "polyester"),
        ("Ne 30", "cotton"),
        ("20 tex", "cotton"),
    ],
)
def test_fibre_is_assumed_from_the_designation_and_noted(designation: str, fibre: str) -> None:
    ledger = Ledger()
    facts = resolve_yarn(Yarn(designation=designation), ledger)
    assert facts.fibre.key == fibre
    assert ledger.lines["/fibre"].value == fibre


@pytest.mark.parametrize(
    ("designation", "fibre", "kind"),
    [
        ("150 dtex f48", "polyester", "filament"),
        ("150 dtex", "polyester", "filament"),
        ("Ne 30", "polyester", "spun"),
        ("30 tex", "cotton", "spun"),
        ("150 dtex f48", "viscose", "filament"),
        ("silk 60/2", "silk", "spun"),
        ("22 den", "silk", "filament"),
        ("Nm 50", "polyester/wool", "spun"),
    ],
)
def test_kind_of_yarn(designation: str, fibre: str, kind: str) -> None:
    facts = resolve_yarn(Yarn(designation=designation, fibre=fibre), Ledger())
    assert facts.kind == kind
    assert facts.packing_fraction == facts.fibre.forms[facts.kind].packing_fraction


def test_shares_of_a_blend_are_noted_when_they_were_assumed() -> None:
    ledger = Ledger()
    resolve_yarn(Yarn(designation="Ne 45", fibre="polyester/cotton"), ledger)
    assert ledger.lines["/fibre"].value == "polyester 65 cotton 35"


def test_cotton_count_on_silk_warns_of_the_trap() -> None:
    ledger = Ledger()
    facts = resolve_yarn(Yarn(designation="Ne 60/2", fibre="spun silk"), ledger)
    assert "write silk in place of Ne" in ledger.lines["/designation"].reason
    assert facts.linear_density_tex == pytest.approx(2 * TEX_NE / 60)


def test_a_measured_diameter_is_kept_and_gives_the_packing() -> None:
    ledger = Ledger()
    facts = resolve_yarn(replace(COTTON, diameter_mm=0.25), ledger)
    again = geometry.yarn_diameter_mm(
        linear_density_tex=facts.linear_density_tex,
        fibre_density_g_per_cm3=facts.fibre_density_g_per_cm3,
        packing_fraction=facts.packing_fraction,
    )
    assert facts.diameter_mm == 0.25
    assert again == pytest.approx(0.25)
    assert "/packing_fraction" not in ledger.lines


def test_linear_density_in_place_of_a_designation() -> None:
    facts = resolve_yarn(Yarn(linear_density_tex=29.5, fibre="cotton"), Ledger())
    assert (facts.designation, facts.linear_density_tex, facts.plies) == (None, 29.5, 1)


def test_strength_of_the_weakest_place_is_never_negative() -> None:
    facts = resolve_yarn(replace(COTTON, strength_cv_pct=40.0), Ledger())
    assert facts.weakest_strength_cn == 0.0


@pytest.mark.parametrize(
    ("yarn", "pointer", "reason"),
    [
        (Yarn(), "/designation", "either a designation or linear_density_tex"),
        (Yarn(designation="20 tex", linear_density_tex=20.0), "/designation", "either"),
        (Yarn(designation="Ne", fibre="cotton"), "/designation", "Write the number"),
        (Yarn(designation="9" * 200, fibre="cotton"), "/designation", "Shorten"),
        (Yarn(designation="Ne 30", fibre="coton"), "/fibre", "Did you mean 'cotton'"),
        (Yarn(designation="30s", fibre="coton"), "/fibre", "Did you mean 'cotton'"),
        (Yarn(linear_density_tex=float("nan")), "/linear_density_tex", "must lie between"),
        (replace(COTTON, diameter_mm=0.15), "/diameter_mm", "thinner than its solid fibre"),
        (
            replace(COTTON, diameter_mm=0.2, packing_fraction=0.6),
            "/packing_fraction",
            "one follows from the other",
        ),
        (
            Yarn(designation="R 40 tex/2", folding_take_up_pct=3.0),
            "/folding_take_up_pct",
            "yarn as it is",
        ),
        (Yarn(designation="Ne 30", folding_take_up_pct=3.0), "/folding_take_up_pct", "as it is"),
    ],
)
def test_yarn_is_refused_at_the_field_to_change(yarn: Yarn, pointer: str, reason: str) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        resolve_yarn(yarn, Ledger())
    assert [fault.pointer for fault in caught.value.faults] == [pointer]
    assert all(is_sentence(fault.message) for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("name", "least", "most"), [(name, each.least, each.most) for name, each in YARN_BOUNDS.items()]
)
def test_bounds_of_every_number_of_a_yarn(name: str, least: float, most: float) -> None:
    base = Yarn() if name == "linear_density_tex" else COTTON
    for value, complains in [
        (least, False),
        (least - 1e-3 * (abs(least) + 1.0), True),
        (most, False),
        (most * 1.001, True),
    ]:
        yarn = replace(base, **{name: value})  # type: ignore[arg-type]
        assert (f"{name} must lie between" in faults_of(yarn)) is complains


def faults_of(yarn: Yarn) -> str:
    try:
        resolve_yarn(yarn, Ledger())
    except InputError as error:
        return str(error)
    return ""


def test_all_numbers_out_of_bounds_are_reported_together() -> None:
    with pytest.raises(InputError) as caught:
        resolve_yarn(replace(COTTON, packing_fraction=2.0, strength_cv_pct=90.0), Ledger())
    assert [fault.pointer for fault in caught.value.faults] == [
        "/packing_fraction",
        "/strength_cv_pct",
    ]


@pytest.mark.parametrize(
    ("text", "turns", "direction"),
    [
        ("20 tex Z 800", 800.0, "Z"),
        ("Z800 20 tex", 800.0, "Z"),
        ("34 tex S600 x 2 Z400; R 69.3 tex", 400.0, "Z"),
        ("34 tex S600 x 2", None, None),
        ("133 dtex f40 t0", 0.0, None),
        ("Ne 30", None, None),
    ],
)
def test_twist_of_a_designation(text: str, turns: float | None, direction: str | None) -> None:
    read_as = parse_designation(text)
    assert (read_as.twist_per_m, read_as.twist_direction) == (turns, direction)


def test_a_twist_beyond_measure_is_refused() -> None:
    with pytest.raises(InputError, match="no twist of a yarn"):
        parse_designation("20 tex Z 10001")


# The published multiplier of a cotton warp, 4.0 to 5.0 turns/inch by root of Ne, in turns/m by
# root of Nm: turns/inch = 39.37 turns/m and Nm = 1.6934 Ne.
@pytest.mark.parametrize(("multiplier", "factor"), [(4.0, 121.0), (5.0, 151.3)])
@pytest.mark.parametrize("ne", [10.0, 30.0, 80.0])
def test_twist_factor_of_a_cotton_multiplier(multiplier: float, factor: float, ne: float) -> None:
    turns = multiplier * ne**0.5 / 0.0254
    assert twist_factor(twist_per_m=turns, tex=TEX_NE / ne) == pytest.approx(factor, abs=0.05)


@pytest.mark.parametrize(
    "row", read("woollen_counts.json")["rows"], ids=lambda row: row["designation"]
)
def test_yards_to_the_pound_of_count_1(row: dict[str, Any]) -> None:
    assert yards_in(POUND_G, row["designation"]) == pytest.approx(row["yards_per_lb"])


def test_woollen_alone_is_answered_with_its_systems() -> None:
    with pytest.raises(InputError, match="write which") as caught:
        parse_designation("woollen 24")
    allowed = str(caught.value.faults[0].allowed)
    for key in ("skein", "Galashiels", "run", "cut", "West of England"):
        assert key in allowed
        parse_designation(f"{key} 24")


@pytest.mark.parametrize(
    ("case_id", "system", "sample"),
    [
        ("S024", "Ne", {"sample_length_yd": 120.0, "sample_mass_grains": 25.0}),
        ("S026", "Ne", {"sample_length_yd": 840.0, "sample_mass_grains": 100.0}),
        ("S027", "Ne", {"sample_length_yd": 120.0, "sample_mass_grains": 20.0}),
        ("S031", "NeK", {"sample_length_yd": 20.0, "sample_mass_grains": 10.0}),
        ("S035", "Galashiels", {"sample_length_yd": 20.0, "sample_mass_g": 2 * DRAM_G}),
        ("S047", "run", {"sample_length_yd": 4000.0, "sample_mass_g": 5 * OUNCE_G}),
    ],
)
def test_count_of_a_sample_as_published(
    case_id: str, system: str, sample: dict[str, float]
) -> None:
    facts = resolve_yarn(Yarn(**sample), Ledger())  # type: ignore[arg-type]
    case = setting_cases()[case_id]
    found = number(system, facts.linear_density_tex)
    assert found == pytest.approx(case["published"], abs=tolerance(case))
    assert facts.designation is None


def test_a_sample_of_100_m_and_2_g_is_20_tex() -> None:
    facts = resolve_yarn(Yarn(sample_length_m=100.0, sample_mass_g=2.0), Ledger())
    assert facts.linear_density_tex == pytest.approx(20.0)


FILAMENT = Yarn(designation="84 dtex f36", fibre="polyester")
TAPE = Yarn(designation="111 tex", fibre="polypropylene tape")


@pytest.mark.parametrize(
    ("yarn", "pointer", "reason"),
    [
        (Yarn(sample_length_m=100.0), "/sample_mass_g", "needs its mass"),
        (Yarn(sample_mass_grains=25.0), "/sample_length_m", "needs its length"),
        (
            Yarn(sample_length_m=100.0, sample_mass_g=2.0, linear_density_tex=20.0),
            "/designation",
            "either a designation",
        ),
        (Yarn(sample_length_m=0.01, sample_mass_g=1e6), "/sample_mass_g", "check its length"),
        (replace(COTTON, twist_per_m=800.0), "/twist_direction", "which direction"),
        (replace(COTTON, twist_direction=TwistDirection.Z), "/twist_per_m", "alone is no twist"),
        (
            replace(FILAMENT, twist_per_m=0.0, twist_direction=TwistDirection.Z),
            "/twist_direction",
            "no direction of twist",
        ),
        (
            Yarn(designation="20 tex Z 600", twist_per_m=800.0, twist_direction=TwistDirection.Z),
            "/twist_per_m",
            "designation says",
        ),
        (
            Yarn(designation="20 tex Z 600", twist_direction=TwistDirection.S),
            "/twist_direction",
            "designation says",
        ),
        (replace(TAPE, diameter_mm=0.4), "/diameter_mm", "no diameter"),
        (replace(COTTON, tape_width_mm=2.0, diameter_mm=0.4), "/diameter_mm", "no diameter"),
        (replace(TAPE, flattening_ratio=5.0), "/flattening_ratio", "as flat as"),
        (
            replace(TAPE, tape_width_mm=2.5, tape_thickness_mm=0.05, packing_fraction=1.0),
            "/packing_fraction",
            "follows from them",
        ),
        (
            replace(TAPE, tape_width_mm=2.5, tape_thickness_mm=0.02),
            "/tape_thickness_mm",
            "244 % fibre",
        ),
        (replace(TAPE, tape_thickness_mm=1.0), "/tape_thickness_mm", "no tape"),
        (replace(TAPE, tape_width_mm=0.1), "/tape_width_mm", "no tape"),
        (replace(TAPE, monofilament=True), "/monofilament", "no monofilament"),
        (replace(FILAMENT, monofilament=True), "/monofilament", "36 filaments"),
        (replace(COTTON, monofilament=True), "/monofilament", "count of a spun yarn"),
        (Yarn(designation="20 tex", fibre="linen", monofilament=True), "/monofilament", "linen"),
        (Yarn(designation="220 dtex f1", monofilament=False), "/monofilament", "one filament"),
        (Yarn(designation="Ne 30", fibre="nylon monofilament"), "/fibre", "count of a spun yarn"),
        (
            Yarn(designation="220 dtex f1", flattening_ratio=3.0),
            "/flattening_ratio",
            "stays round",
        ),
        (replace(COTTON, elastane_draft=3.0), "/elastane_draft", "this yarn has none"),
        (Yarn(designation="20 tex", elastane_draft=3.0), "/elastane_draft", "has none"),
        (
            Yarn(
                designation="44 dtex",
                fibre="elastane",
                elastane_draft=4.0,
                breaking_elongation_pct=300.0,
            ),
            "/elastane_draft",
            "does not stretch",
        ),
    ],
)
def test_a_contradictory_yarn_is_refused_at_the_field(
    yarn: Yarn, pointer: str, reason: str
) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        resolve_yarn(yarn, Ledger())
    assert [fault.pointer for fault in caught.value.faults] == [pointer]
    assert all(is_sentence(fault.message) for fault in caught.value.faults)


def test_a_tape_is_as_wide_and_thick_as_stated() -> None:
    ledger = Ledger()
    both = resolve_yarn(replace(TAPE, tape_width_mm=2.5, tape_thickness_mm=0.05), ledger)
    assert (both.width_mm, both.thickness_mm, both.is_tape) == (2.5, 0.05, True)
    # 111 tex of 0.91 g/cm3 are 0.1220 mm2 of 0.125 mm2.
    assert both.packing_fraction == pytest.approx(0.9758, abs=1e-4)
    assert "/packing_fraction" not in ledger.lines
    assert "/tape_thickness_mm" not in ledger.lines
    # Its measures are rounded: of 0.045 mm it would be 108 % fibre.
    rounded = resolve_yarn(replace(TAPE, tape_width_mm=2.5, tape_thickness_mm=0.045), Ledger())
    assert (rounded.packing_fraction, rounded.thickness_mm) == (1.0, 0.045)
    with pytest.raises(InputError, match="111 % fibre") as caught:
        resolve_yarn(replace(TAPE, tape_width_mm=2.5, tape_thickness_mm=0.044), Ledger())
    assert caught.value.faults[0].allowed == "0.0444 to 0.4879 mm"


def test_of_width_and_thickness_of_a_tape_one_follows_from_the_other() -> None:
    by_width = resolve_yarn(replace(TAPE, tape_width_mm=2.5), Ledger())
    by_thickness = resolve_yarn(
        replace(TAPE, tape_thickness_mm=by_width.thickness_mm), ledger := Ledger()
    )
    assert by_width.thickness_mm == pytest.approx(0.111 / 0.91 / 2.5)
    assert by_thickness.width_mm == pytest.approx(2.5)
    assert "/tape_width_mm" not in ledger.lines
    assumed = Ledger()
    assert resolve_yarn(TAPE, assumed).thickness_mm == 0.05
    assert assumed.lines["/tape_thickness_mm"].band is not None


def test_a_filament_yarn_lies_flat_and_a_twisted_textured_or_single_one_does_not() -> None:
    ledger = Ledger()
    flat = resolve_yarn(FILAMENT, ledger)
    assert flat.thickness_mm == pytest.approx(flat.diameter_mm / 6**0.5)
    band = ledger.lines["/flattening_ratio"].band
    assert band is not None
    assert (band.low, band.high) == (3.0, 16.0)
    crepe = resolve_yarn(
        replace(FILAMENT, twist_per_m=2000.0, twist_direction=TwistDirection.S), Ledger()
    )
    assert crepe.thickness_mm == pytest.approx(0.85 * crepe.diameter_mm)
    textured = resolve_yarn(replace(FILAMENT, fibre="textured polyester"), Ledger())
    assert textured.thickness_mm == pytest.approx(0.85 * textured.diameter_mm)
    mono = resolve_yarn(Yarn(designation="84 dtex f1"), Ledger())
    assert mono.thickness_mm == mono.diameter_mm
    assert mono.packing_fraction == 1.0
    stated = resolve_yarn(replace(FILAMENT, flattening_ratio=4.0), Ledger())
    assert stated.thickness_mm == pytest.approx(stated.diameter_mm / 2)


@pytest.mark.parametrize(
    ("cloth", "designation", "fibre", "thickness_mm"),
    [
        # The published styles of the trade, square or nearly; from memory, no page: 7628 glass
        # 0.17 to 0.18 mm, 1080 0.06 mm, carbon of 3000 filaments 0.22 mm, 200 g/m2.
        ("glass 7628", "68 tex", "glass", 0.175),
        ("glass 1080", "11 tex", "glass", 0.06),
        ("carbon 3K", "200 tex", "carbon", 0.22),
    ],
)
def test_thickness_of_technical_cloth_lies_in_the_band_of_the_ratio(
    cloth: str, designation: str, fibre: str, thickness_mm: float
) -> None:
    thinnest, thickest = (
        2
        * resolve_yarn(
            Yarn(designation=designation, fibre=fibre, flattening_ratio=ratio), Ledger()
        ).thickness_mm
        for ratio in (16.0, 3.0)
    )
    assert thinnest <= thickness_mm <= thickest


def test_the_mass_of_a_covered_yarn_is_that_of_its_drafted_elastane() -> None:
    # 70 denier drafted 3.5 times in Ne 16 are 70/3.5 = 20 denier on 5315/16 denier of cotton.
    facts = resolve_yarn(
        Yarn(designation="Ne 16 + 70 den", fibre="cotton/elastane", elastane_draft=3.5), Ledger()
    )
    cotton, bare = TEX_NE / 16, 20.0 / 9
    assert facts.linear_density_tex == pytest.approx(cotton + bare)
    assert facts.elastane_pct == pytest.approx(100 * bare / (cotton + bare), rel=1e-5)
    assert facts.elastane_dtex == pytest.approx(700 / 9, rel=1e-5)
    assert facts.is_short_staple_single
    assert not facts.is_bare_elastane


def test_a_core_spun_count_is_that_of_the_whole_yarn() -> None:
    # The trade's figure: share = denier x Ne / (5315 x draft), 70 x 16 / (5315 x 3.5) = 6.02 %.
    facts = resolve_yarn(
        Yarn(designation="Ne 16", fibre="core-spun 94/6 cotton/elastane", elastane_draft=3.5),
        Ledger(),
    )
    assert facts.linear_density_tex == pytest.approx(TEX_NE / 16)
    assert facts.elastane_dtex == pytest.approx(700 / 9, rel=0.01)


def test_bare_elastane_runs_thinner_by_its_draft_and_holds_the_same_load() -> None:
    slack = resolve_yarn(Yarn(designation="44 dtex", fibre="elastane"), ledger := Ledger())
    assumed = ledger.lines["/elastane_draft"]
    assert (assumed.value, assumed.grade) == (1.0, Grade.COMMON_PRACTICE)
    assert assumed.band == ValueBand(1.0, 4.0)
    drawn = resolve_yarn(
        Yarn(designation="44 dtex", fibre="elastane", elastane_draft=3.0), ledger := Ledger()
    )
    assert "/elastane_draft" not in ledger.lines
    stiff = Yarn(designation="44 dtex", fibre="elastane", breaking_elongation_pct=100.0)
    resolve_yarn(stiff, ledger)
    assert ledger.lines["/elastane_draft"].band == ValueBand(1.0, 1.8)
    assert drawn.linear_density_tex == pytest.approx(slack.linear_density_tex / 3)
    assert drawn.strength_cn == pytest.approx(slack.strength_cn)
    assert drawn.breaking_elongation_pct == pytest.approx(100.0)
    assert slack.is_bare_elastane
    assert not slack.is_multifilament


@pytest.mark.parametrize(
    ("yarn", "needs_size"),
    [
        (Yarn(designation="Ne 40", fibre="cotton"), True),
        (Yarn(designation="Ne 40", fibre="65/35 polyester/cotton"), True),
        (Yarn(designation="Ne 30", fibre="viscose"), True),
        (Yarn(designation="Ne 20", fibre="cotton slub"), True),
        (Yarn(designation="Ne 40/2", fibre="cotton"), False),
        (Yarn(designation="150 dtex f48", fibre="viscose"), False),
        (Yarn(designation="Nm 12", fibre="wool"), False),
        (Yarn(designation="Nm 48", fibre="worsted"), False),
        (Yarn(designation="worsted 24", fibre="polyester"), False),
        (Yarn(designation="Nm 40", fibre="55/45 polyester/wool"), False),
        (Yarn(designation="NeL 25", fibre="linen"), False),
        (Yarn(designation="jute 8 lb", fibre="jute"), False),
        (Yarn(designation="Nm 10", fibre="hemp"), False),
        (Yarn(designation="Nm 4", fibre="chenille"), False),
    ],
    ids=lambda given: f"{given.designation} {given.fibre}" if isinstance(given, Yarn) else "",
)
def test_which_singles_are_of_short_staple(yarn: Yarn, needs_size: bool) -> None:
    assert resolve_yarn(yarn, Ledger()).is_short_staple_single is needs_size


def test_every_assumption_about_a_yarn_has_a_grade_and_a_number_its_band() -> None:
    for yarn in (
        COTTON,
        FILAMENT,
        TAPE,
        Yarn(designation="Ne 16 + 70 den", fibre="cotton/elastane"),
        Yarn(designation="44 dtex", fibre="elastane"),
    ):
        ledger = Ledger()
        resolve_yarn(yarn, ledger)
        for line in ledger:
            assert line.grade is not None, line
            if isinstance(line.value, float):
                assert line.band is not None, line
                assert line.band.low <= line.value <= line.band.high


def test_a_monofilament_may_be_stated_by_its_diameter() -> None:
    # Solid nylon of 1.14 g/cm3: 1140 x pi/4 x 0.04 mm2.
    wire = Yarn(fibre="nylon monofilament", diameter_mm=0.2)
    facts = resolve_yarn(wire, Ledger())
    assert facts.linear_density_tex == pytest.approx(35.814, abs=0.001)
    assert (facts.diameter_mm, facts.packing_fraction) == (0.2, 1.0)


@pytest.mark.parametrize(
    ("fibre", "g_per_cm3"),
    [
        ("steel wire", 7.9),
        ("stainless steel wire", 7.9),
        ("brass wire", 8.5),
        ("phosphor bronze wire", 8.8),
        ("aluminium wire", 2.7),
        ("wire", 7.9),
    ],
)
def test_a_wire_is_solid(fibre: str, g_per_cm3: float) -> None:
    wire = resolve_yarn(Yarn(fibre=fibre, diameter_mm=0.2), Ledger())
    assert wire.linear_density_tex == pytest.approx(1000 * g_per_cm3 * math.pi / 4 * 0.04)
    again = Yarn(fibre=fibre, linear_density_tex=wire.linear_density_tex)
    assert resolve_yarn(again, Ledger()).diameter_mm == pytest.approx(0.2)
    assert wire.is_monofilament
    assert wire.fibre.is_metal


@pytest.mark.parametrize(
    ("yarn", "pointer", "words"),
    [
        (Yarn(designation="0.20 mm", fibre="nylon monofilament"), "/designation", "diameter_mm"),
        (Yarn(fibre="cotton", diameter_mm=0.2), "/designation", "of a monofilament its diameter"),
        (
            Yarn(designation="330 dtex", fibre="polyester monofilament", diameter_mm=0.3),
            "/diameter_mm",
            "33 tex is solid and 0.174 mm thick",
        ),
        (Yarn(designation="40/2", fibre="spun silk"), "/designation", "folded yarn: silk 40/2"),
        (
            Yarn(designation="40/2", fibre="cotton"),
            "/designation",
            "Ne 40/2, Nm 40/2 or 40 tex x 2",
        ),
    ],
)
def test_what_a_yarn_leaves_open_is_requested_at_its_field(
    yarn: Yarn, pointer: str, words: str
) -> None:
    with pytest.raises(InputError) as refused:
        resolve_yarn(yarn, Ledger())
    (fault,) = refused.value.faults
    assert fault.pointer == pointer
    assert words in fault.message
