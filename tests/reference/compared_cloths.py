"""Published yarn counts, setting, crimp, mass and whole cloths beside the computed ones."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from answers.fabrics import Row, judged, reading, rows, why_not
from answers.mill_constructions import STAGES, likely_weaves
from answers.mill_constructions import judged as judged_of_mill
from answers.mill_constructions import rows as rows_of_mill
from answers.test_layered_cloths import (
    VELVETS,
    TestOneSystemOfPicks,
    towel_kg,
    velvet,
    velvet_loom,
)
from answers.test_published import PUBLISHED
from answers.test_requirements import porous
from reference.compared import Subject, cited, compared, read
from textiles import test_geometry, test_yarns
from textiles.published import setting_cases, tolerance
from textiles.published_crimps import READ_AS, PublishedCrimp, crimp_rows, published_crimps

from weavability.answers.published_evidence import EvidenceKind, EvidenceValue, LeftOutValue
from weavability.answers.report import Report
from weavability.answers.validation import assess
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.textiles import geometry, jamming, setting_rules
from weavability.textiles.count_systems import TEX_NE
from weavability.textiles.crimp import crimp_of_height_pct
from weavability.textiles.designations import parse_designation

Values = Iterator[EvidenceValue]

VERDICTS: Final = {
    Verdict.WEAVABLE: "weavable",
    Verdict.WEAVABLE_WITH_WARNINGS: "weavable, with warnings",
    Verdict.NOT_WEAVABLE: "not weavable",
}
SAME_AS: Final = {"S153": "L077", "S159": "L083"}
"""Cases that a whole report gives under another name; a printed value counts once."""
APPROXIMATED: Final = "S118"
MASS_SHARE_PCT: Final = 10.0
"""Deviation up to which a stated mass of a cloth and that of its yarn count as the same."""
YARDS_PER_LB: Final = 453.59237 / 0.0009144


def subjects() -> Iterator[Subject]:
    """Yield the evidence on yarns and cloths."""
    yield Subject(
        subject="Yarn counts",
        about="Count systems, folding and conversions, to the last printed digit.",
        against="[ASTM-D2260], [BROOKS-1892], [BROOKS-1898], [DAVIS-1920], [TAYLOR-1909], "
        "[PINT-UNITS], [HAND-SPINNING-COUNTS]",
        values=[*_setting(test_yarns.COUNT_CASES), *_conversions(), *_woollen()],
    )
    yield Subject(
        subject="Diameter, cover, setting, length and mass",
        about="Rules and worked examples of books and examinations, each by its own constants.",
        against="[BROOKS-1892], [TAYLOR-1909], [EXAM-GATE], the jam of [PEIRCE-1937]",
        values=[*_setting(test_geometry.CASES), *_exact_arcs(), *_jams(), *_brierley()],
    )
    cloths = [*_cloths(), *_velvets(), *_webbing()]
    yield Subject(
        subject="Published cloths",
        about="Cloths that were woven, limits of setting, and cloths that cannot be woven, each "
        "on a "
        "permissive rapier loom made around it: a quarter wider than the cloth, 20 shafts, a range "
        "that holds its weft.",
        against="handbooks, standards and trade lists of 1892 to 2011",
        values=cloths,
        result=_verdicts(cloths),
    )
    mill = list(_mill())
    yield Subject(
        subject="A mill's constructions",
        about="Constructions that a mill wove on rapier looms. Weave and stage of the sett are not "
        "recorded: a planned contraction of 13.5 % of beam length or more is taken to mean plain, "
        "less than 11 % 2/2 twill, and between them either; each is judged as measured in the "
        "loom, in the grey and when finished, and the heaviest verdict counts.",
        against="[MILL-CONSTRUCTIONS-2023]",
        values=mill,
        result=_verdicts(mill),
    )
    yield Subject(
        subject="Crimp",
        about="Published crimps beside their estimates, with nothing stated of the cloth's crimps. "
        "The tolerance is the band that the estimate carries in a report, which is as wide as "
        "these "
        "cloths need it. On most of them the flattening or the split over unequal floats was "
        "chosen: "
        "those are fitted, and only the others are evidence.",
        against="[BROOKS-1892], [TAYLOR-1909], [WOLFENSBERGER-1921], [ROBERTS-1912]",
        values=list(_crimps()),
        result=_errors_of_crimp(),
    )
    yield Subject(
        subject="Mass of cloths, yarn of a towel",
        about="Masses that a source computed from its yarn and crimp, stated masses beside those "
        "of "
        f"the yarn with estimated crimp (tolerance {MASS_SHARE_PCT:g} %), and a terry towel.",
        against="[BROOKS-1892], [TAYLOR-1909], [WOLFENSBERGER-1921], teaching pages",
        values=[*_masses(), *_stated_masses(), *_towel(), *_porosity()],
    )


def _verdicts(values: list[EvidenceValue]) -> str:
    woven = [
        each.computed
        for each in values
        if (each.kind, each.published) == (EvidenceKind.OUTSIDE, "woven")
    ]
    refused, warned = (
        woven.count(VERDICTS[verdict])
        for verdict in (Verdict.NOT_WEAVABLE, Verdict.WEAVABLE_WITH_WARNINGS)
    )
    return f"Of {len(woven)} that were woven, {refused} are refused and {warned} warned of."


def _errors_of_crimp() -> str:
    """Say how far the estimates are out, by the class of the weave."""
    woven = [one for one in published_crimps() if one.group == "woven"]
    parts = []
    for band in dict.fromkeys(one.band for one in woven):
        errors = [abs(error) for one in woven if one.band is band for error in one.errors]
        parts.append(
            f"{band.floats}: {len(errors)} estimates, {sum(errors) / len(errors):.1f} percentage "
            f"points out on average, {max(errors):.1f} at worst"
        )
    alone = [abs(one.alone - one.published) for one in woven if not one.is_fitted]
    return (
        f"{len(alone)} measured crimps of cloths on which nothing was chosen, "
        f"{sum(alone) / len(alone):.1f} percentage points out on average, {max(alone):.1f} at "
        f"worst. With those that are fitted: {len(woven)} measured crimps of "
        f"{len({one.row for one in woven})} woven cloths, each estimated from nothing and "
        f"from the cloth's other crimp: {'; '.join(parts)}."
    )


def left_out() -> Iterator[LeftOutValue]:
    """Yield the rows and crimps that are not compared, each with its reason."""
    yield from (_left_out_row(row) for row in read("fabrics.json") if reason_of(row))
    for name, why in READ_AS["left_out"].items():
        row = crimp_rows()[name.split()[0]]
        yield LeftOutValue(
            case=f"crimp {name}",
            what=f"crimp of {row['cloth']}",
            source=_source(row),
            reason=why,
        )
    for row in rows_of_mill(unread=True):
        yield LeftOutValue(
            case=f"mill {row['construction']}",
            what="construction of a mill",
            source=cited("[MILL-CONSTRUCTIONS-2023]"),
            reason="its counts are not single figures, or a typing error",
        )


def reason_of(row: Row) -> str | None:
    """Return why a row of the published constructions is not compared; None if it is."""
    if row["id"] in VELVETS:
        return None
    if row["test_use"] in ("reference_only", "stress_only"):
        worked = "a worked sum; no source says that it was woven"
        return why_not(row) or row.get("note") or worked
    if row["id"] == "L021":
        return "the same question as case S120, which is compared"
    return why_not(row)


def _left_out_row(row: Row) -> LeftOutValue:
    reason = str(reason_of(row))
    if why_not(row) is None:
        reason += f"; today: {VERDICTS[judged(row).verdict]}, {_tightness(judged(row))}"
    return LeftOutValue(case=_name(row), what=_what(row), source=_source(row), reason=reason)


def _name(row: Row) -> str:
    return f"{'cloth' if row['id'].startswith('F') else 'limit'} {row['id']}"


def _what(row: Row) -> str:
    setts = " x ".join(
        f"{row[key]:g}" if row.get(key) is not None else "?"
        for key in ("ends_per_cm", "picks_per_cm")
    )
    yarns = " x ".join(
        f"{row[key]:g}" if row.get(key) is not None else "?" for key in ("warp_tex", "weft_tex")
    )
    return f"{row['cloth']}, {row['weave']}, {setts} per cm, {yarns} tex"


def _source(row: Row) -> str:
    return ", ".join(filter(None, (row["source"], row.get("source_page"))))


def _setting(cases: Mapping[str, Callable[[], float]]) -> Values:
    in_reports = {case["id"] for case in PUBLISHED["cases"]}
    for name, compute in cases.items():
        if name in in_reports or SAME_AS.get(name) in in_reports:
            continue
        case = setting_cases()[name]
        yield compared(
            f"setting {name}",
            case["inputs"],
            source=case["source"],
            kind=EvidenceKind.DERIVED if case["kind"] == "derived" else EvidenceKind.OUTSIDE,
            published=case["published"],
            computed=compute(),
            tolerance=tolerance(case),
            note=case["note"],
        )


def _conversions() -> Values:
    table = read("setting_counts.json")
    columns = test_yarns.NAMES_IN_TABLE
    for row in table["rows"]:
        digits = {column: len(str(row[column]).partition(".")[2]) for column in columns}
        computed = {
            column: test_yarns.number(system, row["tex"]) for column, system in columns.items()
        }
        yield compared(
            f"conversion of {row['tex']:g} tex",
            f"{row['tex']:g} tex as {', '.join(columns)}",
            source=table["source"],
            kind=EvidenceKind.DERIVED,
            published=", ".join(f"{row[column]:.{digits[column]}f}" for column in columns),
            computed=", ".join(f"{computed[column]:.{digits[column]}f}" for column in columns),
        )


def _woollen() -> Values:
    for row in read("woollen_counts.json")["rows"]:
        tex = parse_designation(row["designation"]).linear_density_tex
        yield compared(
            f"woollen {row['designation']}",
            f"{row['designation']}: yards that weigh a pound",
            source=row["source"],
            published=row["yards_per_lb"],
            computed=YARDS_PER_LB / tex,
            tolerance=1e-6 * row["yards_per_lb"],
            unit="yd",
        )


def _exact_arcs() -> Values:
    """Peirce's approximation of the height, at the jam where it is known to be low."""
    for name in (APPROXIMATED, "S119"):
        case = setting_cases()[name]
        computed = crimp_of_height_pct(
            height_mm=0.2, crossed_per_cm=10 / (0.8660254 * 0.4), mean_float=1
        )
        as_share = case["published"] < 1
        yield compared(
            f"setting {name}",
            case["inputs"],
            source=case["source"],
            published=case["published"],
            computed=computed / 100 if as_share else computed,
            tolerance=tolerance(case),
            note="Peirce's approximation of the height of the wave, which the estimate uses, is "
            "low "
            "at the jam; the figure is that of exact arcs",
        )


def _jams() -> Values:
    table = read("setting_jamming.json")
    for row in table["rows"]:
        cloth = test_geometry.plain(
            ends=1 / (0.04 * row["p1_over_D"]),
            picks=1 / (0.04 * row["p2_over_D"]),
            warp_mm=0.2,
            weft_mm=0.2,
        )
        spaced = f"spacings of {row['p1_over_D']:g} and {row['p2_over_D']:g} D"
        yield compared(
            "jam after Peirce",
            f"plain cloth with {spaced}: tightness",
            source=table["source"],
            kind=EvidenceKind.DERIVED,
            published=100.0,
            computed=jamming.tightness_pct(**cloth),
            tolerance=1e-4,
            unit="%",
        )
        for side in ("warp", "weft"):
            share = row["p1_over_D" if side == "warp" else "p2_over_D"]
            yield compared(
                "cover at the jam after Peirce",
                f"plain cloth with {spaced}: {side} cover factor",
                source=table["source"],
                kind=EvidenceKind.DERIVED,
                published=row[f"{side}_cover_factor_cotton"],
                computed=geometry.cover_factor_cotton(
                    threads_per_cm=1 / (share * 2 * 2.54 / (28 * 5)), linear_density_tex=TEX_NE / 25
                ),
                tolerance=1e-3,
            )


def _brierley() -> Values:
    for case in read("setting_brierley.json"):
        given, published = case["inputs"], case["published"]
        per_cm = setting_rules.brierley_square_sett_per_cm(
            linear_density_tex=given["yarn tex"], mean_float=given["F (average float)"]
        )
        yield compared(
            f"order {case['id']}",
            f"{given['weave']}, {given['yarn tex']} tex cotton: {published['name']}",
            source=case["source"],
            published=published["value"],
            computed=per_cm * {"threads/in": 2.54, "threads/dm": 10.0}[published["unit"]],
            tolerance=float(case["tolerance"]),
            unit=published["unit"],
            note=case["note"],
        )


def _cloths() -> Values:
    for row in rows():
        if reason_of(row) is not None or row["id"] in VELVETS:
            continue
        report, use = judged(row), row["test_use"]
        what, note = _what(row), _tightness(report)
        if use == "jam_limit":
            yield compared(
                _name(row),
                f"{what}: tightness",
                source=_source(row),
                kind=EvidenceKind.DERIVED,
                published=100.0,
                computed=report.cloth.tightness_pct,
                tolerance=0.2,
                unit="%",
            )
            continue
        woven = use != "miss"
        stated = {
            "miss": "no room to interlace",
            "soft_limit": "a limit for easy weaving",
        }.get(use, "woven")
        read_as = reading(row)
        if read_as is not None and read_as.notation != row["weave"]:
            note += f"; read as {read_as.notation or '/'.join(read_as.rows)}: {read_as.why}"
        yield compared(
            _name(row),
            what,
            source=_source(row),
            kind=_kind_of_row(row),
            published=stated,
            computed=VERDICTS[report.verdict],
            agrees=(report.verdict is not Verdict.NOT_WEAVABLE) == woven,
            note=note + _heavy(report),
        )


def _kind_of_row(row: Row) -> EvidenceKind:
    if row["test_use"] == "false_alarm_unverified":
        return EvidenceKind.RECALLED
    return EvidenceKind.DERIVED if row["id"] == "L022" else EvidenceKind.OUTSIDE


def _tightness(report: Report) -> str:
    return f"tightness {report.cloth.tightness_pct:.1f} % of the jam"


def _heavy(report: Report) -> str:
    codes = sorted({one.code for one in report.findings if one.severity is not Severity.NOTE})
    return f"; {', '.join(codes)}" if codes else ""


def _velvets() -> Values:
    for row in rows():
        if row["id"] not in VELVETS:
            continue
        report = assess(velvet(row), velvet_loom())
        ground, piles = VELVETS[row["id"]]
        yield compared(
            _name(row),
            f"{_what(row)}; declared with layers: {ground} ground, {piles} pile picks to each of "
            "its",
            source=_source(row),
            published="woven",
            computed=VERDICTS[report.verdict],
            agrees=report.verdict is not Verdict.NOT_WEAVABLE,
            note=f"{_tightness(report)}{_heavy(report)}; how the pile is bound is only drawn in "
            "the "
            "source, and the verdict does not depend on it",
        )


def _webbing() -> Values:
    woven = TestOneSystemOfPicks()
    for row in read("webbing.json"):
        report = assess(woven.belt(weave=row["weave"]), woven.ON)
        yield compared(
            f"cloth {row['id']}",
            f"{row['what']}, {row['ends']} ends of {row['warp_dtex']} dtex, weft of "
            f"{row['weft_dtex']} dtex, {row['weave']}; from memory: {row['from_memory']}",
            source=row["source"],
            kind=EvidenceKind.RECALLED,
            published="woven",
            computed=VERDICTS[report.verdict],
            agrees=report.verdict is not Verdict.NOT_WEAVABLE,
            note=f"{_tightness(report)}{_heavy(report)}",
        )


def _mill() -> Values:
    for row in rows_of_mill():
        weaves = likely_weaves(row)
        reports = [judged_of_mill(row, stage, weave) for weave in weaves for stage in STAGES]
        worst = max(reports, key=lambda each: list(VERDICTS).index(each.verdict))
        tightest = [each.cloth.tightness_pct for each in reports[: len(STAGES)]]
        findings = {one.code for each in reports for one in each.findings if _warns(one)}
        yield compared(
            f"mill {row['construction']}",
            f"Ne {row['warp_ne']} x {row['weft_ne']}, {row['epi']} x {row['ppi']} per inch, as "
            f"{' and as '.join(weaves)}; {row['orders']} orders, planned contraction "
            f"{float(row['planned_contraction_median']):g} %",
            source="[MILL-CONSTRUCTIONS-2023]",
            published="woven",
            computed=VERDICTS[worst.verdict],
            agrees=worst.verdict is not Verdict.NOT_WEAVABLE,
            note=f"tightness as {weaves[0]} {tightest[0]:.1f} % if the sett is that in the loom, "
            f"{tightest[1]:.1f} % if grey, {tightest[2]:.1f} % if finished"
            + "".join(f"; {code}" for code in sorted(findings)),
        )


def _warns(found: Finding) -> bool:
    return found.severity is not Severity.NOTE


def _crimps() -> Values:
    for one in published_crimps():
        yield compared(
            f"crimp {one.row} {one.system}",
            f"{one.cloth}: {one.system} crimp",
            source=_source(crimp_rows()[one.row]),
            kind=_kind_of_crimp(one),
            published=one.published,
            computed=one.alone,
            tolerance=one.band.points,
            unit="%",
            note=_note_of_crimp(one),
        )


def _kind_of_crimp(one: PublishedCrimp) -> EvidenceKind:
    if one.group != "woven":
        return EvidenceKind.DERIVED
    return EvidenceKind.FITTED if one.is_fitted else EvidenceKind.OUTSIDE


def _note_of_crimp(one: PublishedCrimp) -> str | None:
    notes = [one.why] if one.why else []
    if one.from_other is not None:
        notes.append(f"from the cloth's other published crimp: {one.from_other:.2f} %")
    return "; ".join(notes) or None


def _masses() -> Values:
    for row in test_geometry.MASS_ROWS:
        if row["id"] == "F113":  # the question of report S147
            continue
        ends = row["ends_per_cm"] * row["warp_ends_weaving_as_one"]
        found = geometry.mass_g_per_m2(
            ends_per_cm=ends,
            picks_per_cm=row["picks_per_cm"],
            warp_tex=row["warp_tex"],
            weft_tex=row["weft_tex"],
            warp_crimp_pct=row.get("warp_crimp_pct", 0.0),
            weft_crimp_pct=row.get("weft_crimp_pct", 0.0),
        )
        yield compared(
            f"mass {row['id']}",
            f"{_what(row)}: mass by the published crimps",
            source=_source(row),
            published=row["mass_published_gsm"],
            computed=found,
            tolerance=0.03 * row["mass_published_gsm"],
            unit="g/m²",
            note=test_geometry.MISPRINTED.get(row["id"]),
        )


def _stated_masses() -> Values:
    for row in rows():
        stated = row.get("mass_recalled_gsm")
        recalled = stated is not None
        if row["id"] == "F101":
            stated = row["mass_published_gsm"]
        if stated is None or reason_of(row) is not None:
            continue
        yield compared(
            f"mass {row['id']}",
            f"{_what(row)}: mass by estimated crimps",
            source=_source(row),
            kind=EvidenceKind.RECALLED if recalled else EvidenceKind.OUTSIDE,
            published=stated,
            computed=judged(row).cloth.mass_g_per_m2,
            tolerance=MASS_SHARE_PCT / 100 * stated,
            unit="g/m²",
            note=_why_lighter(row),
        )


def _why_lighter(row: Row) -> str | None:
    read_as = reading(row)
    return read_as.why if read_as is not None and "ripstop" in row["weave"] else None


def _towel() -> Values:
    for case in read("terry.json"):
        yield compared(
            case["id"],
            case["what"],
            source=case["source"],
            published=case["mass_g"],
            computed=1000 * towel_kg(case),
            tolerance=0.01,
            unit="g",
        )


def _porosity() -> Values:
    case = read("porosity.json")
    yield compared(
        case["id"],
        f"{case['what']}: {case['mass_g_per_m2']} g/m², {case['thickness_mm']} mm, "
        f"{case['fibre_g_per_cm3']} g/cm³",
        source=f"{case['source']}, {case['place']}",
        published=case["porosity_pct"],
        computed=100 - porous(case).cloth.fibre_volume_pct,
        tolerance=case["tolerance"],
        unit="%",
    )
