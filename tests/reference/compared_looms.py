"""Published values of looms, orders and whole reports beside the computed ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

import numpy as np
from answers.test_order_chain import middle_m, mill_chain
from answers.test_published import PUBLISHED, UNITS, construction, figure
from answers.test_published import loom as permissive_loom
from looms.test_denting import ONE_FEWER, denting_of
from looms.test_denting import PUBLISHED as DENTINGS
from looms.test_loom_reference import CALLS
from looms.test_weft_tension import RAPIER
from reference.compared import Case, Subject, cited, compared, compared_lists, read

from weavability.answers.published_evidence import EvidenceKind, EvidenceValue, LeftOutValue
from weavability.answers.validation import assess
from weavability.looms.carriers import insertion_motion
from weavability.textiles.order_lengths import usual_of_mill
from weavability.textiles.units import M_PER_YARD

KINDS: Final = {
    "P": EvidenceKind.OUTSIDE,
    "O": EvidenceKind.OUTSIDE,
    "D": EvidenceKind.DERIVED,
}
SUBJECTS: Final = {
    "Weft insertion": (
        "[EXAM-GATE], [SLIDES-2006], [RAPIER-SERIES]",
        "Insertion rates, motion and speed of the carrier, and tension of the weft.",
        "insertion_rate crank_speed motion speed_for_mean inertia_tension jerk_tension weft_waste "
        "feeder_speed",
    ),
    "Reeds and denting": (
        "[BROOKS-1892], [TAYLOR-1909], [WOLFENSBERGER-1921], [REED-COUNT-PAGE]",
        "Reed counts of the trade, dents, ends per dent as chosen, and air space.",
        "convert convert_many ends_per_inch ends_in_inches ends_of_parts reed_for_sett denting "
        "denting_density "
        "stockport_for_cloth air_space",
    ),
    "Output and stops": (
        "teaching pages on loom production",
        "Cloth per hour, efficiency from stops and from output, days for an order.",
        "production efficiency_from_output output_m_per_h order_days stopped_minutes "
        "stop_efficiency repair_ratio",
    ),
    "Machine interference": (
        "[FINITE-QUEUE-TABLE], [TIPPETT-1950] and a textbook case",
        "Looms that wait for a weaver, and how breaks scatter between looms.",
        "queue stop_rates constant_repair breaks_within_band",
    ),
    "Beams and change of style": (
        "university course work, teaching pages",
        "Volume, mass and length of warps, and how long tying-in takes.",
        "warp_length warp_hanks beam_volume beam_mass beam_capacity warp_mass tie_in_ends_per_h "
        "knotting_rate_range hand_tying_hours days_between_warps",
    ),
}
SAME_AS: Final = {"L091": "S131"}
"""Cases that two files hold; a printed value counts once."""


def subjects() -> Iterator[Subject]:
    """Yield the evidence on looms; a value that a whole report gives is that of the report."""
    in_reports = {case["id"] for case in PUBLISHED["cases"]}
    for subject, (against, about, functions) in SUBJECTS.items():
        values: list[EvidenceValue] = []
        for case in read("loom.json")["cases"]:
            if case["function"] not in functions.split() or case["id"] in in_reports:
                continue
            if SAME_AS.get(case["id"]) not in in_reports:
                values += _of_loom(case)
        if subject == "Weft insertion":
            values += _of_insertion()
        if subject == "Reeds and denting":
            values += _of_dentings()
        yield Subject(subject=subject, about=about, against=against, values=values)
    yield Subject(
        subject="Whole reports",
        about="Worked examples put in as orders and read out of the report.",
        against="[BROOKS-1892], [TAYLOR-1909], [MILL-CONSTRUCTIONS-2023], [EXAM-GATE], teaching "
        "pages",
        values=[_of_report(case) for case in PUBLISHED["cases"]],
    )
    yield Subject(
        subject="Lengths of orders",
        about="Orders of a mill: finished cloth to grey cloth and warp, as it planned them, and "
        "what it rejected and planned beyond the order by its length.",
        against="[MILL-CONSTRUCTIONS-2023]",
        values=list(_of_orders()),
    )


def _of_orders() -> Iterator[EvidenceValue]:
    published = read("order_lengths.json")
    source = published["source"]
    for case in published["cases"]:
        chain = mill_chain(case["finished_yd"], case["allowance_pct"], case["contraction_pct"])
        yield compared(
            case["grey"],
            f"{case['finished_yd']:g} yd finished, allowance {case['allowance_pct']:g} % of the "
            "grey cloth: grey cloth",
            source=f"{source}, {case['place']}",
            published=case["grey_yd"],
            computed=chain.grey_m / M_PER_YARD,
            tolerance=1e-6 * case["grey_yd"],
            unit="yd",
        )
        yield compared(
            case["beam"],
            f"that grey cloth, contraction {case['contraction_pct']:g} % of the beam: warp",
            source=f"{source}, {case['place']}",
            published=case["beam_m"],
            computed=chain.steps[-1].from_m,
            tolerance=2e-5 * case["beam_m"],
            unit="m",
        )
    for row in published["by_length"]:
        low, high = row["grey_yd"]
        found = usual_of_mill(middle_m(row))
        for name, computed, allowed in (
            ("rejects", found.rejects_pct, 0.02),
            ("allowance", found.allowance_pct, 0.1),
        ):
            yield compared(
                f"{row['id']} {name}",
                f"orders of {low} to {high} yd: {name}, at the middle of that range",
                source=source,
                published=row[f"{name}_pct"],
                computed=computed,
                tolerance=allowed,
                unit="%",
                kind=EvidenceKind.DERIVED,
                note="the assumption is this value, and others between two ranges",
            )


def left_out() -> Iterator[LeftOutValue]:
    """Yield the printed results that are wrong."""
    for case in read("loom.json")["rejected"]:
        yield LeftOutValue(
            case=f"loom {case['id']}",
            what=f"printed {case['printed']}; recomputed {case['recomputed']}",
            source=cited(case["source"]),
            reason=case["why"],
        )
    for case in read("insertion_published.json")["rates"]:
        low, high = case["rate_m_per_min"]
        yield LeftOutValue(
            case=f"insertion rates of {case['system'].replace('_', ' ')} looms",
            what=f"{low} to {high} m/min",
            source=case["source"],
            reason="ranges of machines of the 1980s, with which no computed figure can be "
            "compared; "
            "a test holds that looms at the rates of water jets are not warned of",
        )


def _of_loom(case: Case) -> Iterator[EvidenceValue]:
    expected = np.atleast_1d(case["expected"]).tolist()
    allowed = case["tolerance"]
    yield from compared_lists(
        f"loom {case['id']}",
        f"{case['inputs']}: {case['output']}",
        source=case["source"],
        kind=KINDS[case["kind"]],
        published=expected,
        computed=np.atleast_1d(CALLS[case["function"]](case["arguments"])).tolist(),
        tolerance=[
            max(allowed.get("abs", 0.0), allowed.get("rel", 0.0) * abs(each)) for each in expected
        ],
        note=case["note"],
    )


def _of_insertion() -> Iterator[EvidenceValue]:
    published = read("insertion_published.json")
    for number, case in enumerate(published["capstan"], start=1):
        setup = replace(RAPIER, friction_coefficient=case["friction"], wrap_deg=case["wrap_deg"])
        yield compared(
            f"capstan {number}",
            f"{case['in_cn']} cN over {case['wrap_deg']} degrees with friction {case['friction']}: "
            "tension behind the guide",
            source=case["source"],
            published=case["out_cn"],
            computed=case["in_cn"] * setup.guide_times,
            tolerance=case["tolerance_cn"],
            unit="cN",
        )
    case = published["acceleration"]
    motion = insertion_motion(RAPIER, speed_picks_per_min=500, reed_width_cm=190)
    assert motion.peak_acceleration_m_per_s2 is not None
    yield compared(
        "acceleration",
        "double rapier of medium speed (here 500 picks/min, 190 cm, harmonic motion): greatest "
        "acceleration of the weft",
        source=case["source"],
        published=case["m_per_s2"],
        computed=motion.peak_acceleration_m_per_s2,
        tolerance=case["m_per_s2"] * case["tolerance_pct"] / 100,
        unit="m/s²",
    )


def _of_dentings() -> Iterator[EvidenceValue]:
    for row in DENTINGS:
        printed, found = row["ends_per_dent"], denting_of(row).ends_per_dent
        page = f", {row['source_page']}" if row.get("source_page") else ""
        notes = [ONE_FEWER.get(row["id"]), row.get("note")]
        yield compared(
            f"denting {row['id']}",
            f"{row['cloth']}, {row['weave']}, {row['ends_per_inch_in_reed']} ends per inch in the "
            f"reed, {row['warp_tex']:g} tex: ends per dent",
            source=f"{row['source']}{page}",
            published=" or ".join(f"{count:g}" for count in printed),
            computed=f"{found:g}",
            agrees=found in printed,
            note="; ".join(filter(None, notes)) or None,
        )


def _of_report(case: Any) -> EvidenceValue:
    given = case["given"]
    found = figure(assess(construction(given), permissive_loom(given)), case["figure"])
    place = f", {case['place']}" if case.get("place") else ""
    return compared(
        f"report {case['id']}",
        case["inputs"],
        source=f"{case['source']}{place}",
        kind=KINDS[case["kind"]],
        published=case["expected"],
        computed=found * case.get("times", 1) / UNITS.get(case.get("unit", ""), 1.0),
        tolerance=max(case["tolerance"], 1e-6 * abs(case["expected"])),
        note=case.get("note"),
    )
