"""Published weaves, drafts, colours and hooks beside the computed ones."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
from properties.test_weave_laws import score_pairs
from reference.compared import Case, Subject, compared, read
from textiles.test_colouring import effect
from textiles.test_notation import twill_classes
from textiles.test_weave_analysis import from_text

from weavability.answers.published_evidence import EvidenceKind, EvidenceValue
from weavability.textiles.basic_weaves import satin, satin_moves
from weavability.textiles.colouring import colour_repeat, face_shares
from weavability.textiles.draft_kinds import draft_kind
from weavability.textiles.drafting import draft_from_lift_plan, draft_weave, healds_per_shaft
from weavability.textiles.jacquard import (
    design_paper,
    fit_harness,
    plan_hooks,
    repeat_width_cm,
    repeats_without_casting_out,
)
from weavability.textiles.notation import parse_weave
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.weave_matrix import Weave, write_rows
from weavability.textiles.weave_structure import analyse, layers_from_counts
from weavability.textiles.weave_symmetry import (
    equivalent,
    mirrored,
    quarter_turn,
    reverse_side,
)

Values = Iterator[EvidenceValue]
CM_PER_INCH: Final = 2.54


def subjects() -> Iterator[Subject]:
    """Yield the evidence on weaves."""
    yield Subject(
        subject="Weaves by name and notation",
        about="Matrices, repeats, moves of satins and numbers of weaves that exist.",
        against="[BROOKS-1892], [TAYLOR-1909], [WOLFENSBERGER-1921], [TEXTILE-TERMS], "
        "[OEIS-WEAVES]",
        values=[*_matrices(), *_names(), *_satins(), *_sequences()],
    )
    yield Subject(
        subject="Structure of weaves",
        about="Floats, interlacings, layers, and how many matrices of a size hang together.",
        against="[BROOKS-1892], [TAYLOR-1909], [OEIS-WEAVES]",
        values=[*_integrity(), *_counts(), *_structures(), *_facts(), *_turnings()],
    )
    yield Subject(
        subject="Drafts and colours",
        about="Drafts, healds, lift plans, and effects of colour and weave.",
        against="[BROOKS-1892], [TAYLOR-1909], [WOLFENSBERGER-1921], teaching texts",
        values=[*_drafts(), *_colours()],
    )
    yield Subject(
        subject="Jacquard",
        about="Hooks, casting out, repeats across the width and design paper.",
        against="[BELL-1895], [POSSELT-1888], [BROOKS-1892], [TAYLOR-1909]",
        values=list(_jacquard()),
    )


def said(case: Case, what: str, published: object, computed: object, **more: Any) -> EvidenceValue:
    """Put two statements side by side."""
    trust = str(case.get("trust", "B"))
    outside = trust in ("A", "B", "C")
    return compared(
        f"weave {case['id']}" if "id" in case else f"weave {case['name']}",
        what,
        source=case["source"],
        kind=EvidenceKind.OUTSIDE if outside else EvidenceKind.DERIVED,
        published=published if isinstance(published, int | float) else str(published),
        computed=computed if isinstance(computed, int | float) else str(computed),
        **more,
    )


def listed(numbers: Any) -> str:
    """Write a list of numbers."""
    return ", ".join(str(each) for each in numbers)


def _matrices() -> Values:
    found = read("weave_notation.json")
    for case in found["matrices"]:
        rows = "/".join(parse_weave(case["notation"]).rows)
        yield said(
            case, f"{case['notation']}: rows in pick order, 1 = warp up", case["matrix"], rows
        )
    for case in found["sizes"]:
        weave = parse_weave(case["notation"])
        yield said(
            case,
            f"{case['notation']}: ends x picks of the repeat",
            f"{case['ends']} x {case['picks']}",
            f"{weave.ends} x {weave.picks}",
        )
    for case in found["angles"]:
        weave = parse_weave(f"3/2 steep twill {case['degrees']} degrees")
        yield said(
            case,
            f"twill at {case['degrees']} degrees: picks that its line rises an end",
            case["picks_up"],
            int(weave.name.rpartition(" ")[2]),
        )


def _names() -> Values:
    for case in read("weave_names.json")["names"]:
        found = parse_weave(case["name"])
        if "ends" in case:
            what, size = "ends of the repeat", int(case["ends"])
            yield said(case, f"{case['name']}: {what}", size, found.ends)
            continue
        published = from_text(case["rows"])
        same = equivalent(found, published) or (
            "direction" in case.get("note", "") and equivalent(mirrored(found), published)
        )
        yield said(
            case,
            f"{case['name']}: rows in pick order, 1 = warp up; a match may begin elsewhere",
            case["rows"],
            "/".join(found.rows),
            agrees=same,
            note=case.get("note"),
        )


def _satins() -> Values:
    found = read("weave_notation.json")
    for case in found["satins"]:
        moves = list(satin_moves(case["ends"]))
        if "all_moves" in case:
            published, computed = case["all_moves"], moves
        else:
            published = case["moves_to_half"]
            computed = [move for move in moves if 2 * move < case["ends"]]
        yield said(
            case,
            f"moves of a satin of {case['ends']} ends",
            listed(published) or "no move",
            listed(computed) or "no move",
        )
    for case in found["bindings"]:
        weave = satin(case["ends"], move=case["move"], face="weft")
        yield said(
            case,
            f"{case['ends']}-end satin move {case['move']}: order of binding",
            listed(case["lifted"]),
            listed(weave.matrix.argmax(axis=1) + 1),
        )


def _sequences() -> Values:
    for case in read("weave_notation.json")["sequences"]:
        published = dict(enumerate(case["values"], start=case["first"]))
        if "satins" in case["name"]:
            computed = {ends: _satins_of(ends)[case["name"].split()[0]] for ends in range(5, 41)}
        else:
            of_exact = "exact" in case["name"]
            classes = {ends: twill_classes(ends) for ends in range(2, 8)}
            computed = {
                ends: each[ends] if of_exact else sum(each.values())
                for ends, each in classes.items()
            }
        sizes = [ends for ends in computed if ends in published]
        yield said(
            case,
            f"numbers of {case['name']}, n = {sizes[0]} to {sizes[-1]}",
            listed(published[ends] for ends in sizes),
            listed(computed[ends] for ends in sizes),
        )


def _satins_of(ends: int) -> dict[str, int]:
    square = symmetric = 0
    for move in satin_moves(ends):
        if 2 * move > ends:
            continue
        weave = satin(ends, move=move, face="weft")
        turned = Weave(matrix=weave.matrix.T)
        symmetric += equivalent(weave, turned)
        square += equivalent(Weave(matrix=weave.matrix[:, ::-1]), turned)
    return {"square": square, "symmetric": symmetric, "isonemal": square + symmetric}


def _integrity() -> Values:
    for case in read("weave_structure.json")["integrity"]:
        up = from_text(case["matrix"]).matrix.astype(np.int64)
        layers, _ = layers_from_counts(up_per_end=up.sum(axis=0), up_per_pick=up.sum(axis=1))
        yield said(case, f"{case['matrix']}: parts that hang together", case["layers"], layers)


def _counts() -> Values:
    found = read("weave_structure.json")
    for case in (*found["counts"], *found["large_counts"]):
        hang = sum(
            count
            for (columns, rows), count in score_pairs(case["picks"], case["ends"]).items()
            if layers_from_counts(up_per_end=np.array(columns), up_per_pick=np.array(rows))[0] == 1
        )
        yield said(
            case,
            f"matrices of {case['picks']} picks x {case['ends']} ends that hang together",
            case["hang_together"],
            hang,
        )


def _structures() -> Values:
    for case in read("weave_structure.json")["structures"]:
        structure = analyse(from_text(case["matrix"]))
        words = {
            "interlacings_of_ends": int(structure.interlacings_per_end.sum()),
            "interlacings_of_picks": int(structure.interlacings_per_pick.sum()),
            "warp_face": structure.warp_face_float_picks,
            "warp_back": structure.warp_back_float_picks,
            "weft_face": structure.weft_face_float_ends,
            "weft_back": structure.weft_back_float_ends,
            "shafts": structure.shafts_needed,
        }
        yield said(
            case,
            f"{case['name']}: interlacings of ends and of picks, longest floats of warp on face "
            "and back and of weft on face and back, shafts",
            listed(case[key] for key in words),
            listed(words.values()),
        )


def _facts() -> Values:
    for case in read("weave_structure.json")["facts"]:
        structure = analyse(parse_weave(case["weave"]))
        found = {
            "longest float": max(structure.warp_face_float_picks, structure.warp_back_float_picks),
            "interlacings of a pick over 4 ends": 4 / structure.mean_float_of_picks,
            "mean float": structure.mean_float_of_ends,
            "face": structure.face,
        }[case["fact"]]
        yield said(case, f"{case['weave']}: {case['fact']}", case["value"], found)


def _turnings() -> Values:
    turns = {"back": reverse_side, "quarter turn": quarter_turn, "mirror": mirrored}
    for case in read("weave_structure.json")["turnings"]:
        turned = turns[case["turn"]](from_text(case["from"]))
        yield said(
            case,
            f"{case['turn']} of {case['from']}",
            case["to"],
            "/".join(turned.rows),
            agrees=equivalent(turned, from_text(case["to"])),
            note="A match may begin at another end or pick.",
        )


def _drafts() -> Values:
    found = read("weave_drafting.json")
    for case in found["drafts"]:
        draft = draft_weave(parse_weave(case["weave"]))
        published = [listed(case["threading"]), case["kind"]]
        computed = [listed(draft.threading), draft.kind]
        if "lift_plan" in case:
            published.append(case["lift_plan"])
            computed.append("/".join(write_rows(draft.lift_plan)))
        yield said(case, f"{case['weave']}: draft", "; ".join(published), "; ".join(computed))
    for case in found["kinds"]:
        yield said(
            case,
            f"kind of the draft {listed(case['threading'])}",
            case["kind"],
            draft_kind(case["threading"]),
        )
    for case in found["stripes"]:
        cloth = striped_weave(
            [Stripe(weave=parse_weave(name), ends=ends) for name, ends in case["stripes"]]
        )
        draft = draft_weave(cloth)
        yield said(
            case,
            f"stripes {case['stripes']}: ends, picks, shafts; healds of the shafts",
            f"{case['ends']}, {case['picks']}, {case['shafts']}; {listed(case['healds'])}",
            f"{cloth.ends}, {cloth.picks}, {draft.shafts}; "
            f"{listed(healds_per_shaft(draft, cloth.ends))}",
        )
    case = found["peg_plan"]
    draft = draft_from_lift_plan(case["threading"], case["lift_plan"])
    yield said(case, "cloth of a peg plan", case["cloth"], "/".join(draft.cloth().rows))
    case = found["healds"]
    threading = [
        shaft
        for block, times in enumerate(case["blocks"], start=3)
        for shaft in [1, block, 2, block] * times
    ]
    draft = draft_from_lift_plan(threading, ["1" * 8, "0" * 8])
    yield said(
        case,
        f"healds of a block threading with {listed(case['blocks'])} units",
        listed(case["healds"]),
        listed(healds_per_shaft(draft, len(threading))),
    )


def _colours() -> Values:
    found = read("weave_colouring.json")
    for case in found["effects"]:
        weave = parse_weave(case["weave"])
        rows, picture = effect(weave, case["warp"], case["weft"])
        true = picture.reduced()
        published = [f"{case['ends']} x {case['picks']}"]
        computed = [f"{true.ends} x {true.picks}"]
        if "dark_share" in case:
            shares = face_shares(weave, warp=case["warp"], weft=case["weft"])
            published.append(f"dark {case['dark_share']:g}")
            computed.append(f"dark {shares['A']:g}")
        if "face" in case:
            published.append(case["face"])
            face = [row[: case["ends"]] for row in rows[: case["picks"]]]
            computed.append("/".join(face))
        yield said(
            case,
            f"{case['weave']}, warp {case['warp']}, weft {case['weft']}: repeat of the effect",
            "; ".join(published),
            "; ".join(computed),
        )
    for case in found["repeats"]:
        weave = Weave(matrix=np.eye(case["weave"], dtype=np.uint8))
        order = "A" * (case["colour"] - 1) + "B"
        yield said(
            case,
            f"weave of {case['weave']}, colours of {case['colour']}: threads of the repeat",
            case["repeat"],
            colour_repeat(weave, warp=order, weft=order).ends,
        )


def _jacquard() -> Values:
    found = read("weave_jacquard.json")
    for case in found["paper"]:
        yield said(
            case,
            f"{case['ends']} ends x {case['picks']} picks on paper of {case['first']}: design "
            "paper",
            f"{case['first']} x {case['second']}",
            "{} x {}".format(
                *design_paper(ends=case["ends"], picks=case["picks"], first=case["first"])
            ),
        )
    for case in found["casting_out"]:
        plan = plan_hooks(
            repeat_ends=case["ground"], hooks=case["hooks"], total_ends=case["used"] * 3
        )
        yield said(
            case,
            f"weave of {case['ground']} ends on {case['hooks']} hooks: hooks used and cast out",
            f"{case['used']}, {case['idle']}",
            f"{plan.hooks_used}, {plan.hooks_idle}",
        )
    for case in found["divisors"]:
        yield said(
            case,
            f"repeats of {case['hooks']} hooks without casting out",
            listed(case["repeats"]),
            listed(repeats_without_casting_out(case["hooks"])),
        )
    for case in found["ends_per_hook"]:
        plan = plan_hooks(repeat_ends=case["repeat"], hooks=case["hooks"], total_ends=case["ends"])
        yield said(
            case,
            f"{case['ends']} ends, {case['hooks']} hooks, repeat of {case['repeat']}: ends per "
            "hook, ends alike",
            f"{case['ends_per_hook']}, {case['similar']}",
            f"{plan.ends_per_hook}, {plan.repeats_across}",
        )
    for case in (*found["hooks"], *found["width"]):
        repeats = case.get("repeats", 1)
        width_cm = repeat_width_cm(
            repeats * case["hooks"], ends_per_cm=case["ends_per_in"] / CM_PER_INCH
        )
        inches = case.get("inches", case.get("repeat_in"))
        yield said(
            case,
            f"{repeats} x {case['hooks']} ends at {case['ends_per_in']} per inch: width",
            inches,
            width_cm / CM_PER_INCH,
            tolerance=case.get("tolerance", 0.0) * inches,
            unit="in",
        )
    for case in found["inches"]:
        sizes = repeats_without_casting_out(case["hooks"])
        whole = [size // case["ends_per_in"] for size in sizes if size % case["ends_per_in"] == 0]
        yield said(
            case,
            f"{case['hooks']} hooks at {case['ends_per_in']} ends per inch: repeats above 1 in",
            listed(case["inches"]),
            listed(inches for inches in whole if inches > 1),
        )
    for case in found["reed"]:
        used = case["hooks"] - case["cast_out"]
        plan = plan_hooks(repeat_ends=used, hooks=case["hooks"], total_ends=used * 4)
        fit = fit_harness(plan, harness_ends_per_cm=case["reed_in"], reed_ends_per_cm=87.5)
        yield said(
            case,
            f"{case['cast_out']} of {case['hooks']} hooks cast out of a harness for "
            f"{case['reed_in']} ends: ends that it weaves; the source drops the half",
            case["reed_out"],
            int(fit.usable_ends_per_cm),
        )
