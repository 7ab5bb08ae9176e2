"""Numbers in the chapters and guides: each sentence states what the code and its data hold."""

from __future__ import annotations

import re
from typing import Any, Final

from documents import ROOT, chapter
from hypothesis import settings

from weavability.answers.another_cloth import PROBES_BEYOND
from weavability.answers.band_scale import LEAST_STEPS
from weavability.answers.changes_together import (
    KEPT_FOR_SEVERAL,
    MOST_TOGETHER,
    OF_SEARCH,
)
from weavability.answers.design_levers import MOST_WOVEN_ANEW
from weavability.answers.dominance import A_HAIR_PCT, FAR_POINTS, FARTHEST_POINTS
from weavability.answers.finding_remedies import OF_REPORT
from weavability.answers.judged_grid import MOST_POINTS_ALONE, MOST_WEAVINGS
from weavability.answers.levers import ANOTHER_CLOTH_PCT, SAME_CLOTH_PCT, SLOWEST_SHARE
from weavability.answers.published_evidence import evidence
from weavability.answers.remedy_search import MOST_LOOMS_SEARCHED, UNITS_OF_A_LOOM
from weavability.answers.trials import WORSE
from weavability.answers.tried_in_vain import NEARLY_WIDE_ENOUGH_PCT
from weavability.answers.yarn_counts import FARTHEST_TIMES, MOST_TIMES
from weavability.checks.sett import PUBLISHED
from weavability.looms.carriers import InsertionSystem
from weavability.looms.changeover_rates import RATE_BASES
from weavability.looms.changeover_work import SAME_WIDTH_CM
from weavability.looms.insertion_defaults import default_insertion
from weavability.looms.kept_harness import MOST_IN_DOUBT_PCT, MOST_LISTED_PCT
from weavability.looms.power_and_air import MEASURED_AIR_KG_PER_KG_WEFT
from weavability.looms.reeds import WIRE_SHARE_BAND_POINTS
from weavability.looms.suited_denting import ENDS_PER_DENT_BAND
from weavability.looms.thresholds import shipped
from weavability.looms.weaving_sequence import MOST_ORDERS
from weavability.service.gunicorn.command import REQUESTS_PER_MIN, WORK_PER_MIN
from weavability.service.gunicorn.handshakes import LINGER_S
from weavability.service.http import work
from weavability.service.http.form_bodies import LONGEST_URLENCODED, MOST_FORM_FIELDS
from weavability.service.http.slow_clients import SLOWEST_BYTES_PER_S
from weavability.service.pages import way_out
from weavability.service.resources import insertion_rates, windows
from weavability.service.resources.validation_changes import UNITS_OF_A_LINK
from weavability.service.settings import MEBIBYTE, Settings
from weavability.textiles.figured.effect_picture import MOST_COLOURS
from weavability.textiles.figured.float_binding import MOST_DOTS, MOST_TRIALS
from weavability.textiles.layer_declaration import MOST_JOINT_THREADS
from weavability.textiles.layered_weave import LEAST_PASSING_SHARE, MOST_STITCHED_SHARE
from weavability.textiles.order_defaults import order_default
from weavability.textiles.selvedge_facts import MOST_USUAL_ENDS
from weavability.textiles.sett_thresholds import sett_thresholds
from weavability.textiles.weave_matrix import MAX_SIDE
from weavability.textiles.weave_structure import MAX_KEPT_CELLS
from weavability.textiles.wool import FINEST_WOOLLEN_TEX
from weavability.textiles.yarn_sections import ROUNDED_FIBRE
from weavability_client import policies

WORDS: Final = {
    1 / LEAST_STEPS: "a fiftieth",
    0.1: "a tenth",
    0.25: "a quarter",
    0.5: "half",
    0.75: "three quarters",
    1: "one",
    2: "two",
    3: "three",
    4: "four",
}
USUAL: Final = shipped().usual
SETT: Final = sett_thresholds()
RAPIER: Final[dict[str, Any]] = {
    field: default.value for field, default in default_insertion(InsertionSystem.RAPIER).items()
}
ORDINARY: Final = ROOT / "tests" / "answers"
PAGES: Final = ROOT / "server" / "weavability" / "service" / "pages"


class Cloths:
    """What the ordinary cloths of a table are answered."""

    def __init__(self, name: str) -> None:
        text = (ORDINARY / name).read_text("utf-8")
        self.refused = text.count("\tnot_weavable\t")
        self.warned = text.count("\tweavable_with_warnings\t")
        self.errors, self.warnings, self.notes = (
            len(re.findall(rf"[\t ]{severity} ", text)) for severity in ("error", "warning", "note")
        )


def in_words(number: float) -> str:
    """Write a number in words, if it is one of those for which the documents do."""
    return WORDS.get(number, f"{number:g}")


NOW: Final = Cloths("ordinary_cloths.tsv")
AT_0_1: Final = Cloths("ordinary_cloths_at_0_1.tsv")
(CRIMP,) = (each.counts for each in evidence().subjects if each.subject == "Crimp")

Quotes = tuple[tuple[str, tuple[float | str, ...]], ...]

CHAPTERS: Final[dict[str, Quotes]] = {
    "looms": (
        (
            "has one for {} end fewer or up to {} more",
            tuple(in_words(n) for n in ENDS_PER_DENT_BAND),
        ),
        (
            "The share of the wires is {} % of the pitch and {} mm if it is not stated",
            (USUAL.reed_wire_share_of_pitch_pct, USUAL.reed_wire_least_mm),
        ),
        ("an assumption with a band of {} points each way", (WIRE_SHARE_BAND_POINTS,)),
        ("If the two differ by more than {} %, `reed.sett", (USUAL.reed_stock_tolerance_pct,)),
    ),
    "orders": (
        ("that make it up to {} % fibre make a solid tape", (100 * ROUNDED_FIBRE,)),
        ("whose single is finer than {} tex is taken as worsted", (FINEST_WOOLLEN_TEX,)),
        ("get {} % as an assumption", (order_default("size_pct").value,)),
        ("at more than {} of their crossings", (in_words(1 - MOST_STITCHED_SHARE),)),
        ("weave and layers has at most {} threads each way", (MOST_JOINT_THREADS,)),
        (
            "on unlike sides of a pick, at {} of the picks at least",
            (in_words(LEAST_PASSING_SHARE),),
        ),
        (
            "take more than {} of their room side by side (1.3 in published webbing, {} in a "
            "published rib)",
            (SETT.most_abreast, PUBLISHED["rib_pct"] / 100),
        ),
        (
            "up to {} times their room, if these leave such room up to {} times, and in webbing, "
            "cloth of at most {} cm, up to {} times. Published are {} for webbing, {} mm wide, and "
            "of full width {} for a rib and {} for a satin",
            (
                SETT.most_touching,
                SETT.most_passing,
                SETT.sett_abreast_width_cm,
                2 * SETT.most_abreast,
                PUBLISHED["webbing_pct"] / 100,
                PUBLISHED["webbing_mm"],
                PUBLISHED["rib_pct"] / 100,
                PUBLISHED["satin_pct"] / 100,
            ),
        ),
        ("among ground threads, up to {} %", (SETT.sett_over_pct,)),
        (
            "More than {} ends a side, more than {} cm in the reed, or more than {} % of the width",
            (MOST_USUAL_ENDS, USUAL.selvedge_widest_cm, USUAL.selvedge_widest_share_pct),
        ),
        ("if they set the ground more than {} % closer", (USUAL.reed_stock_tolerance_pct,)),
    ),
    "changeovers": (
        (
            "`most_further_ends_pct` ({} % if not stated)",
            (RATE_BASES["most_further_ends_pct"].value,),
        ),
        ("Widths in the reed that differ by up to {} cm need no step", (SAME_WIDTH_CM,)),
        (
            "for a change of up to {} %; up to {} % the reed on the loom is listed",
            (MOST_IN_DOUBT_PCT, MOST_LISTED_PCT),
        ),
        ('With `{{"orders": [...]}}`, at most {}', (MOST_ORDERS,)),
    ),
    "answers": (("beyond the greater of {} % of the jam", (SETT.sett_jammed_error_pct,)),),
    "ways_out": (
        ("or none within {} points makes the order weavable", (FAR_POINTS,)),
        ("two are made together, and {} if no two make it weavable", (in_words(MOST_TOGETHER),)),
        ("but for the {} % that a moved crimp may do", (100 * (WORSE - 1),)),
        ("nor to less than {} of the speed of the order", (in_words(SLOWEST_SHARE),)),
        ("no sett or width by more than {} %", (SAME_CLOTH_PCT,)),
        ("one more than {} times as fine or coarse", (MOST_TIMES,)),
        ("setts and widths to {} %", (100 - ANOTHER_CLOTH_PCT,)),
        ("counts to {} times as fine or coarse", (FARTHEST_TIMES,)),
        ("and {} numbers of checks more to name another cloth", (PROBES_BEYOND,)),
        ("or several together, of more than {} points is listed", (FARTHEST_POINTS,)),
        ("unless one that does is within {} points", (FAR_POINTS,)),
        ("or none within {} points that does not leave it to what is assumed", (FAR_POINTS,)),
        (
            "names up to {} other looms of the park that weave it as it is",
            (in_words(way_out.MOST_SHOWN),),
        ),
        (
            "no change nearer than {} points makes it weavable on its own loom, it has smaller "
            "ones on up to {} others",
            (FAR_POINTS, in_words(way_out.MOST_LOOMS_TRIED)),
        ),
        ("moves the same numbers no more than {} % farther", (A_HAIR_PCT,)),
        (
            "A report tries at most {} numbers of checks and {} whole orders",
            (OF_REPORT.probes, OF_REPORT.proofs),
        ),
        (
            "A search on a loom tries at most {} and {}, fewer for large designs, on at most {} "
            "looms, and takes {} units of work for each loom",
            (OF_SEARCH.probes, OF_SEARCH.proofs, MOST_LOOMS_SEARCHED, UNITS_OF_A_LOOM),
        ),
        (
            "those whose reed a panel takes by more than {} % are not named",
            (f"{NEARLY_WIDE_ENOUGH_PCT:g}",),
        ),
        ("{} and {} of these are kept for changes made together", tuple(KEPT_FOR_SEVERAL)),
        ("to {} of the band or finer", (in_words(1 / LEAST_STEPS),)),
        (
            "A window takes {} units of work and one for every {} points",
            (windows.UNITS_OF_A_WINDOW, windows.POINTS_A_UNIT),
        ),
        (
            "each point is read by itself: at most {}, {} to a unit, or {} if the order has "
            "requirements",
            (
                MOST_POINTS_ALONE,
                in_words(windows.POINTS_ALONE_A_UNIT),
                in_words(
                    windows.POINTS_ALONE_A_UNIT
                    // (work.UNITS_OF_REQUIREMENTS * windows.TIMES_REQUIRED_ALONE)
                ),
            ),
        ),
        (
            "at most {} times for one window of at most {} points, for {} units each",
            (MOST_WEAVINGS, MOST_POINTS_ALONE, in_words(windows.UNITS_OF_A_WEAVING)),
        ),
        (
            "A design of more than {} million crossings is not remembered",
            (round(MAX_KEPT_CELLS / 1e6, 1),),
        ),
    ),
    "designs": (
        (
            "at most {} a side and {} colours in use; the lines of all wefts make at most {} "
            "picks, such as {} lines of 3 wefts",
            (MAX_SIDE, MOST_COLOURS, MAX_SIDE, MAX_SIDE // 3),
        ),
        (
            "A design of more than {} million crossings is not woven anew",
            (round(MOST_WOVEN_ANEW / 1e6, 1),),
        ),
        (
            "`back_mm`, or the usual {} and {} mm",
            (USUAL.design_back_note_mm, USUAL.design_back_warning_mm),
        ),
        ("After {} dots, or {} ends tried", (MOST_DOTS, MOST_TRIALS)),
    ),
    "prices": (("the {} kg for a kilogram of weft", (MEASURED_AIR_KG_PER_KG_WEFT,)),),
    "pages": (
        (
            "polled every {}, {} or {} minutes or by hand",
            tuple(re.findall(r'value="(\d+)">every', (PAGES / "templates/board.html").read_text())),
        ),
        (
            "A first poll judges every link, {} in a request",
            tuple(
                int(each)
                for each in re.findall(
                    r"MOST_LINKS = (\d+);", (PAGES / "static/board_polling.js").read_text()
                )
            ),
        ),
        ("5,000 links take {} units of work", (5_000 * UNITS_OF_A_LINK,)),
    ),
    "client": (
        (
            "twice by default (`Client(..., retries={})`), after a pause of at most {} s, {} s",
            (policies.RETRIES, policies.BACKOFF_START_S, 2 * policies.BACKOFF_START_S),
        ),
        ("`Retry-After` is honoured up to {} s", (policies.RETRY_AFTER_CAP_S,)),
        (
            "`Client(..., timeout=({}, {}))`",
            (policies.CONNECT_TIMEOUT_S, policies.READ_TIMEOUT_S),
        ),
        (
            "never takes longer than {} minutes, however steadily it drips, and never more than "
            "{} MiB",
            (in_words(policies.ANSWER_DEADLINE_S / 60), policies.MAX_ANSWER_BYTES // MEBIBYTE),
        ),
    ),
    "evidence": (
        (
            "chosen on {} of the {} published crimps; {} are left",
            (CRIMP.fitted, CRIMP.fitted + CRIMP.outside, CRIMP.outside),
        ),
        (
            "({} cN/tex at the feeder, {} a turn over brake and guides, a balloon that doubles the "
            "withdrawal, {} cm of travel before a rapier or its taker draws, {} m of free weft)",
            (
                RAPIER["base_tension_cn_per_tex"],
                in_words(RAPIER["wrap_deg"] / 360),
                RAPIER["overrun_cm"],
                RAPIER["free_weft_length_m"],
            ),
        ),
        ("flies at more than {} m/s gets a note", (USUAL.insertion_jet_speed_note_m_per_s,)),
        (
            "published, {} m/s² at medium speed; `insertion.acceleration` notes more than twice",
            (f"{USUAL.insertion_acceleration_note_m_per_s2 / 2:g}",),
        ),
        ("none is refused and {} are warned of", (NOW.warned,)),
        (
            "refused {} of them and warned of {} (`ordinary_cloths_at_0_1.tsv`): {} error, {} "
            "warnings and {} notes, which now are {} warnings and {} notes",
            (
                AT_0_1.refused,
                AT_0_1.warned,
                AT_0_1.errors,
                AT_0_1.warnings,
                AT_0_1.notes,
                NOW.warnings,
                NOW.notes,
            ),
        ),
    ),
}
"""The numbers of sentences in the chapters, from the constants that fill them."""

DEPLOYING: Final[Quotes] = (
    ("these {} s begins again", (LINGER_S,)),
    (
        "1 more for every {} yarns beyond {}; twice as many if it has `requirements`",
        (work.YARNS_A_UNIT, work.FEW_YARNS),
    ),
    (
        "of the order's units {} for each probe, {} for each proof: {} times at most",
        (
            in_words(work.UNITS_OF_A_PROBE),
            in_words(work.UNITS_OF_A_PROOF),
            work.UNITS_OF_A_PROBE * OF_REPORT.probes + work.UNITS_OF_A_PROOF * OF_REPORT.proofs,
        ),
    ),
    ("| a million crossings of a design | {} |", (work.UNITS_OF_A_MILLION_CROSSINGS,)),
    (
        "| a million crossings of a design of more than {} million in a window, whatever its "
        "points | {} more |",
        (
            round(MAX_KEPT_CELLS / 1e6, 1),
            windows.READINGS_OF_A_WINDOW * work.UNITS_OF_A_MILLION_CROSSINGS,
        ),
    ),
    ("| a point of a sweep of insertion rates | 1/{} |", (insertion_rates.POINTS_A_UNIT,)),
    ("| a line of a batch, whatever comes of it | 1/{} |", (1 / work.UNITS_OF_A_LINE,)),
    ("is polled and has not changed | 1/{}, and", (1 / UNITS_OF_A_LINK,)),
    ("| work of one request, or of one line of a batch | {} units |", (work.MOST_UNITS,)),
    ("tries, on all looms together | {} units |", (work.MOST_UNITS_OF_VALUES,)),
    (
        "| a form of a page | {} fields; {} MiB, if",
        (MOST_FORM_FIELDS, LONGEST_URLENCODED // MEBIBYTE),
    ),
    ("designs of one judgement | {} million |", (work.MOST_CROSSINGS_AT_ONCE // 10**6,)),
    ("| designs of more than {} million crossings |", (work.LARGE_CROSSINGS // 10**6,)),
    ("`--requests-per-min` | {} a minute |", (REQUESTS_PER_MIN,)),
    ("`--work-per-min` | {} units a minute |", (WORK_PER_MIN,)),
    ("every {} kB earn a second", (SLOWEST_BYTES_PER_S // 1024,)),
    (
        "its first {} MiB (`--batch-read-ahead-mib`)",
        (Settings().batch_read_ahead_bytes // MEBIBYTE,),
    ),
)

DEVELOPING: Final[Quotes] = (
    (
        "`quick` {} examples a law, `default` and `ci` {}, `long` {}",
        tuple(
            str(settings.get_profile(name).max_examples) for name in ("quick", "default", "long")
        ),
    ),
)


def written(number: float | str) -> str:
    """Write a number as the documents do."""
    if isinstance(number, str):
        return number
    return f"{number:,}" if isinstance(number, int) else f"{number:g}"


def lost(text: str, quotes: Quotes) -> list[str]:
    """Return the sentences, with their numbers, that a document does not contain."""
    whole = " ".join(text.split())
    filled = (sentence.format(*map(written, numbers)) for sentence, numbers in quotes)
    return [each for each in filled if each not in whole]


def guide(path: str) -> str:
    """Return the text of a guide."""
    return (ROOT / path).read_text("utf-8")


def test_the_chapters_and_guides_quote_the_numbers_that_the_code_holds() -> None:
    found = {name: lost(chapter(name), quotes) for name, quotes in CHAPTERS.items()}
    found["deploy"] = lost(guide("server/deploy/README.md"), DEPLOYING)
    found["developers"] = lost(guide("DEVELOPERS.md"), DEVELOPING)
    assert {name: sentences for name, sentences in found.items() if sentences} == {}


def test_the_sentences_of_this_table_have_a_place_for_each_number() -> None:
    everywhere = (*CHAPTERS.values(), DEPLOYING, DEVELOPING)
    odd = [
        sentence
        for quotes in everywhere
        for sentence, numbers in quotes
        if not numbers or sentence.replace("{{", "").count("{}") != len(numbers)
    ]
    assert odd == []
    assert lost("a reed of 5 dents", (("a reed of {} dents", (6,)),)) == ["a reed of 6 dents"]


def test_what_a_sentence_says_in_words_is_so() -> None:
    assert work.UNITS_OF_REQUIREMENTS == 2
    assert RAPIER["withdrawal_factor"] == 2
    assert RAPIER["overrun_cm"] == RAPIER["transfer_travel_cm"]
    assert NOW.refused == 0
