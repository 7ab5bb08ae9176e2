"""The models: they read what the service writes, keep what they do not know, and print well."""

from __future__ import annotations

import copy
import dataclasses
import html.parser
import json
import pickle
import typing
from enum import StrEnum
from typing import Any

import pytest
from client.recorded import REPORTS, sample
from hypothesis import given
from hypothesis import strategies as st

from weavability.checks import finding as server_finding
from weavability_client import models
from weavability_client._paint import painted
from weavability_client._record import Record
from weavability_client.errors import AnswerUnreadable
from weavability_client.models import Construction, Finding, Report, Severity, Verdict


def recorded(name: str) -> Report:
    return Report.from_json(sample(name)["answer"])


def with_change(path: str, value: object) -> dict[str, Any]:
    """Return a recorded answer in which the member at ``path`` is another."""
    answer: dict[str, Any] = sample("not_weavable")["answer"]
    *parents, last = path.split("/")
    place: Any = answer
    for name in parents:
        place = place[int(name)] if isinstance(place, list) else place[name]
    place[last] = value
    return answer


READ: dict[str, type[Record]] = {
    **dict.fromkeys((*REPORTS, "again", "decisive"), Report),
    "rates": models.RateSheet,
    "rates_of_a_jet": models.RateSheet,
    "matches": models.MatchReport,
    "window": models.Window,
    "changeover": models.ChangeoverReport,
    "changeover_that_cannot_be_woven": models.ChangeoverReport,
    "sequence": models.SequenceReport,
    "design": models.DesignSheet,
    "weave": models.WeaveSheet,
    "weave_on_hooks": models.WeaveSheet,
    "weave_with_faults": models.WeaveSheet,
    "notations": models.WeaveNotations,
    "loom": models.Loom,
    "check": models.Check,
}
PRINTED = [name for name, kind in READ.items() if issubclass(kind, models.Answer)]


def answered(name: str) -> Any:
    return READ[name].from_json(sample(name)["answer"])


@pytest.mark.parametrize("name", READ)
def test_a_recorded_answer_is_read_and_written_back_unchanged(name: str) -> None:
    assert json.loads(json.dumps(answered(name).to_json())) == without_null(sample(name)["answer"])


@pytest.mark.parametrize("name", READ)
def test_nothing_of_a_recorded_answer_is_unknown(name: str) -> None:
    assert list(unknown(answered(name))) == []


def unknown(value: object) -> typing.Iterator[str]:
    """Every member at any depth that no class has a field for."""
    match value:
        case Record():
            yield from (f"{type(value).__name__}.{name}" for name in value.extra)
            for each in dataclasses.fields(value):
                yield from unknown(getattr(value, each.name))
        case tuple():
            for each in value:
                yield from unknown(each)


@pytest.mark.parametrize("name", READ)
def test_an_answer_survives_pickling_and_compares_by_what_it_says(name: str) -> None:
    answer = answered(name)
    assert pickle.loads(pickle.dumps(answer)) == answer == copy.deepcopy(answer)
    assert answer != dataclasses.replace(answer, extra={"new": 1})
    assert answer != object()


@pytest.mark.parametrize("name", PRINTED)
def test_an_answer_prints_as_a_page_and_shows_as_a_table(name: str) -> None:
    answer = answered(name)
    page = str(answer)
    tags = Tags(answer._repr_html_())
    # A list of names is nothing from which a machine is set up.
    assert name == "notations" or answer.caution in page
    assert page.splitlines()[0] in repr(answer)
    assert sorted(tags.opened) == sorted(tags.closed)
    assert "table" in tags.opened


@pytest.mark.parametrize("name", PRINTED)
def test_an_answer_gives_flat_rows_of_the_same_columns(name: str) -> None:
    answer = answered(name)
    rows = answer.to_rows()
    assert rows or not answer.findings
    for row in rows:
        assert {type(value) for value in row.values()} <= {str, float, int, bool, type(None)}


def test_the_names_of_weaves_are_found_by_name_and_alias() -> None:
    known: models.WeaveNotations = answered("notations")
    assert [each.name for each in known.about("DOGTOOTH").names or ()] == ["houndstooth"]
    assert [each.name for each in known.about("cavalry", "twill").names or ()] == ["whipcord"]
    assert known.about("no such name").to_rows() == []
    older = dataclasses.replace(known, names=None)
    assert len(older.to_rows()) == len(known.notations)
    assert "names of the trade" in str(older)


def without_null(value: Any) -> Any:
    """Drop members that are null: not stating them says the same."""
    match value:
        case dict():
            return {key: without_null(each) for key, each in value.items() if each is not None}
        case list():
            return [without_null(each) for each in value]
        case _:
            return value


@pytest.mark.parametrize("name", REPORTS)
def test_a_recorded_request_fits_the_input_classes(name: str) -> None:
    stated = sample(name)["request"]["construction"]
    read = Construction.from_json(stated)
    assert read.extra == {}
    assert read.to_json() == stated


@pytest.mark.parametrize("name", REPORTS)
def test_the_verdict_is_that_of_the_name(name: str) -> None:
    report = recorded(name)
    assert report.verdict == name
    assert report.ok is (name != "not_weavable")


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [(models.Verdict, server_finding.Verdict), (models.Severity, server_finding.Severity)],
)
def test_the_words_of_the_service_are_those_of_the_client(
    ours: type[StrEnum], theirs: type[StrEnum]
) -> None:
    assert sorted(ours) == sorted(theirs)


def test_what_a_newer_service_adds_is_kept_at_every_level() -> None:
    answer = with_change("rates/glow_pct", 3.5)
    answer["mood"] = ["bright"]
    report = Report.from_json(answer)
    assert report.extra == {"mood": ["bright"]}
    assert report.rates.extra == {"glow_pct": 3.5}
    assert report.to_json()["mood"] == ["bright"]


def test_a_severity_of_a_newer_service_is_text_and_its_finding_is_printed_first() -> None:
    answer = with_change("findings/0/severity", "fatal")
    report = Report.from_json(answer)
    assert report.findings[0].severity == "fatal"
    assert report.gravest == report.findings[0]
    assert report.findings[0] not in (*report.errors, *report.warnings, *report.notes)
    assert str(report.findings[0]) in str(report)
    assert report.to_json()["findings"] == without_null(answer["findings"])


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("verdict", "maybe", "/verdict should be one of weavable"),
        ("rates/speed_picks_per_min", "fast", "/rates/speed_picks_per_min should be float"),
        ("rates/speed_picks_per_min", True, "/rates/speed_picks_per_min should be float"),
        ("setup/total_ends", 12.5, "/setup/total_ends should be int"),
        ("setup/lift_plan", "1010", "/setup/lift_plan should be a list"),
        ("findings/0", 7, "/findings/0 should be an object"),
        ("links", [], "/links should be an object"),
        ("cloth", None, "/cloth should be an object"),
    ],
)
def test_an_answer_of_another_shape_is_refused_with_its_place(
    path: str, value: object, words: str
) -> None:
    answer = with_change(path, value) if path != "findings/0" else sample("not_weavable")["answer"]
    if path == "findings/0":
        answer["findings"][0] = value
    with pytest.raises(AnswerUnreadable, match=words):
        Report.from_json(answer)


def test_a_member_that_is_missing_is_named() -> None:
    answer = sample("weavable")["answer"]
    del answer["rates"]["limited_by"]
    with pytest.raises(AnswerUnreadable, match="/rates/limited_by"):
        Report.from_json(answer)


def test_whole_numbers_are_read_where_a_fraction_may_be() -> None:
    report = Report.from_json(with_change("rates/speed_picks_per_min", 300))
    assert type(report.rates.speed_picks_per_min) is float


def test_findings_are_found_by_code_and_by_weight() -> None:
    report = recorded("not_weavable")
    assert report.finding("sett.jammed") in report.errors
    assert report.finding("sett.unheard") is None
    assert report.gravest == report.errors[0]
    assert len(report.notes) == report.counts.notes
    assert len(report.warnings) == report.counts.warnings


def test_without_findings_there_is_no_gravest_one() -> None:
    bare = dataclasses.replace(recorded("weavable"), findings=())
    assert bare.gravest is None


def test_a_remedy_is_typed() -> None:
    jammed = recorded("not_weavable").finding("sett.jammed")
    assert jammed is not None
    remedy = jammed.remedies[0]
    assert remedy.from_value != remedy.to_value
    assert "sett.jammed" in remedy.clears


def test_a_printed_report_says_what_the_loom_master_asks() -> None:
    report = recorded("not_weavable")
    printed = str(report)
    assert printed.startswith(f"{report.reference} on {report.loom_id}: not weavable")
    assert "300 picks/min, limited by requested speed" in printed
    for each in report.findings:
        assert each.message in printed
    assert report.caution in printed


def test_a_jacquard_report_speaks_of_hooks() -> None:
    assert recorded("weavable").setup.lifting == "2400 hooks"
    assert "2400 hooks, 0 idle" in str(recorded("weavable"))


def test_a_report_of_shafts_speaks_of_those_used() -> None:
    assert recorded("weavable_with_warnings").setup.lifting == "6 shafts"
    assert "6 shafts, 2 needed" in str(recorded("weavable_with_warnings"))


def test_the_gravest_findings_are_printed_first() -> None:
    printed = str(recorded("not_weavable"))
    assert printed.index("  error ") < printed.index("  note ")


class Tags(html.parser.HTMLParser):
    """Collects the tags of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.opened: list[str] = []
        self.closed: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.opened.append(tag)

    def handle_endtag(self, tag: str) -> None:
        self.closed.append(tag)


def test_a_notebook_shows_a_table_in_which_nothing_of_the_caller_is_markup() -> None:
    hostile = "<script>alert(1)</script>"
    report = dataclasses.replace(recorded("not_weavable"), reference=hostile)
    tags = Tags(report._repr_html_())
    assert sorted(tags.opened) == sorted(tags.closed)
    assert "table" in tags.opened
    assert "script" not in tags.opened


def test_rows_are_flat_one_a_finding() -> None:
    report = recorded("not_weavable")
    rows = report.to_rows()
    assert [row["code"] for row in rows] == [each.code for each in report.findings]
    assert {type(value) for row in rows for value in row.values()} <= {str, float, int, type(None)}


def test_a_summary_is_one_flat_row() -> None:
    row = recorded("not_weavable").summary()
    assert row["verdict"] == "not_weavable"
    assert row["tightness_pct"] == recorded("not_weavable").cloth.tightness_pct
    assert {type(value) for value in row.values()} <= {str, float, int}


def test_an_assumption_prints_its_field_value_and_reason() -> None:
    first = recorded("weavable").assumptions[0]
    assert str(first).startswith(f"{first.pointer} = {first.value}")
    assert first.reason in str(first)


def test_what_was_tried_in_vain_is_one_line() -> None:
    def shown(*tried: str) -> list[str]:
        return Finding(
            code="a.b",
            severity=Severity.ERROR,
            message="m",
            pointer="/x",
            source="trade",
            remedies=(),
            tried=tried,
        ).lines()[1:]

    assert shown("fewer ends", "size") == ["  no single remedy; tried: fewer ends, size"]
    nothing = "nothing, because no change of the order is known to help"
    assert shown(nothing) == [f"  no remedy; tried {nothing}"]


NOTE = Finding(
    code="a.b", severity=Severity.NOTE, message="m", pointer="/x", remedies=(), source="trade"
)


def test_a_repr_shows_what_is_stated_and_counts_what_is_long() -> None:
    yarn = models.Yarn(designation="Ne 30/2", fibre="cotton")
    assert repr(yarn) == "Yarn(designation='Ne 30/2', fibre='cotton')"
    draft = models.Draft(threading=tuple(range(1, 129)))
    assert repr(draft) == "Draft(threading=(1, 2, 3, 4, 5, 6, ... 128 in all))"
    assert repr(NOTE) == (
        "Finding(code='a.b', severity='note', message='m', pointer='/x', source='trade')"
    )


def test_equal_inputs_have_equal_hashes() -> None:
    one, other = (models.Yarn(designation="Ne 30") for _ in range(2))
    assert one == other
    assert hash(one) == hash(other)
    assert len({one, other, models.Yarn(designation="Ne 31")}) == 2


def test_a_row_is_flat_with_dotted_names() -> None:
    row = models.Loom.from_json(sample("loom")["answer"]).to_row()
    assert row["loom_id"] == "rapier-190-dobby"
    assert row["insertion.system"] == "rapier"
    assert row["shedding.shafts"] == 20


def test_the_best_loom_is_the_first_that_can_weave() -> None:
    report: models.MatchReport = answered("matches")
    assert report.ok
    assert report.best == report.matches[0]
    assert report.match("shuttle-130-cam") == report.matches[-1]
    assert report.match("nowhere") is None
    none = dataclasses.replace(report, matches=report.matches[-1:])
    assert (none.ok, none.best) == (False, None)
    assert "width.reed_space" in str(none)


def test_a_sheet_without_a_sweep_gives_a_row_a_weft() -> None:
    swept, bare = answered("rates"), answered("rates_of_a_jet")
    assert [row["speed_picks_per_min"] for row in swept.to_rows()] == [300, 450, 600]
    assert [row["weft"] for row in bare.to_rows()] == ["weft"]
    assert "air jet" in str(bare)


def test_a_sheet_shows_what_is_found_and_what_each_point_is_beyond() -> None:
    swept: models.RateSheet = answered("rates")
    *slow, fast = swept.sweep
    fast = dataclasses.replace(fast, beyond=("insertion.shedding_speed",))
    finding: models.Finding = answered("not_weavable").findings[0]
    sheet = dataclasses.replace(swept, sweep=(*slow, fast), findings=(finding,))
    assert [row["beyond"] for row in sheet.to_rows()][-1] == '["insertion.shedding_speed"]'
    assert any(line.endswith("  insertion.shedding_speed") for line in str(sheet).splitlines())
    assert str(finding) in str(sheet)
    bare = dataclasses.replace(sheet, sweep=())
    assert {row["findings"] for row in bare.to_rows()} == {f'["{finding.code}"]'}


def test_a_changeover_says_how_long_the_loom_is_stopped() -> None:
    report: models.ChangeoverReport = answered("changeover")
    assert report.ok
    assert sum(each.hours for each in report.steps if each.stops_loom) == pytest.approx(
        report.loom_stop_hours
    )
    assert "the loom is stopped for" in str(report)
    hours = report.loom_stop_hours
    assert hours is not None
    later = dataclasses.replace(report, loom_stop_hours=hours + 4, loom_stop_hours_at_start=hours)
    assert "the other 4 h when the warp is woven out" in str(later)
    for early in (report, dataclasses.replace(later, loom_stop_hours_at_start=None)):
        assert "woven out" not in str(early).partition("warp: ")[0]


def test_the_rows_of_a_changeover_have_route_width_and_warp_even_if_nothing_is_done() -> None:
    report: models.ChangeoverReport = answered("changeover")
    assert report.width is not None
    rows = report.to_rows()
    assert [row["step"] for row in rows] == [str(each.step) for each in report.steps]
    for row in (*rows, *dataclasses.replace(report, steps=()).to_rows()):
        assert row["route"] == report.route
        assert row["width.grey_width_cm"] == report.width.grey_width_cm
        assert row["loom_stop_hours"] == report.loom_stop_hours
        assert "warp.needed_m" in row


def test_a_changeover_to_what_cannot_be_woven_shows_why_and_no_work() -> None:
    report: models.ChangeoverReport = answered("changeover_that_cannot_be_woven")
    assert not report.ok
    assert (report.route, report.steps) == (None, ())
    assert "error" in {row["severity"] for row in report.to_rows()}
    assert "D-103 to D-104 on rapier-190-dobby: not weavable" in str(report)
    assert "error " in str(report)
    assert report.caution in str(report)


def test_a_sequence_lists_its_orders_and_what_is_left_out() -> None:
    report: models.SequenceReport = answered("sequence")
    assert not report.ok
    assert [row["reference"] for row in report.to_rows()] == ["D-109", "D-103"]
    assert "D-104 is left out: error" in str(report)
    assert report.caution in str(report)


def test_a_weave_sheet_shows_its_point_paper_with_the_first_pick_at_the_bottom() -> None:
    sheet_: models.WeaveSheet = answered("weave")
    assert sheet_.ok
    assert sheet_.rows == ("1100", "0110", "0011", "1001")
    assert sheet_.point_paper() == "█··█\n··██\n·██·\n██··"
    assert "hangs together" in str(sheet_)
    assert "    █··█\n    ··██\n" in str(sheet_)
    assert "<pre>█··█\n" in sheet_._repr_html_()


def test_a_weave_that_falls_apart_is_described_as_such() -> None:
    sheet_: models.WeaveSheet = answered("weave_with_faults")
    found = sheet_.finding("weave.falls_apart")
    assert not sheet_.ok
    assert found in sheet_.errors
    assert sheet_.finding("weave.unheard") is None
    assert "falls apart" in str(sheet_)


def test_models_are_frozen() -> None:
    report = recorded("weavable")
    with pytest.raises(dataclasses.FrozenInstanceError):
        report.verdict = Verdict.WEAVABLE  # type: ignore[misc]


TEXT = st.text(max_size=8)
FINDINGS = st.builds(
    Finding,
    code=TEXT,
    severity=st.sampled_from(Severity),
    message=TEXT,
    pointer=TEXT,
    actual=st.none() | TEXT | st.floats(allow_nan=False, allow_infinity=False),
    limit=st.none() | TEXT,
    unit=st.none() | TEXT,
    margin_pct=st.none() | st.floats(-1e6, 1e6),
    remedies=st.just(()),
    source=TEXT,
    extra=st.dictionaries(TEXT.filter(lambda key: key not in vars_of(Finding)), TEXT, max_size=3),
)


def vars_of(cls: type[Record]) -> set[str]:
    return {each.name for each in dataclasses.fields(cls)}


@pytest.mark.slow
@given(FINDINGS)
def test_law_reading_what_was_written_gives_the_same(finding: Finding) -> None:
    assert Finding.from_json(json.loads(json.dumps(finding.to_json()))) == finding


def test_a_sentence_that_denies_a_verdict_is_not_in_its_colour() -> None:
    for said in (
        "No point of this window is weavable without warnings: each has a warning of width.x.",
        "nothing found makes the order weavable here",
    ):
        assert painted(said) == said
    assert painted("the order: weavable") != "the order: weavable"


def test_a_corner_of_many_values_lists_those_that_its_sentence_only_counts() -> None:
    document = sample("decisive")["answer"]
    names = [f"weft yarn {key} tenacity" for key in "ABCDEF"]
    values = [
        {"pointer": f"/{name}", "name": name, "value": 9.5, "unit": "%", "towards_limit_pct": 7.6}
        for name in names
    ]
    corner = {
        "verdict": "not_weavable",
        "codes": ["insertion.crawl"],
        "values": values,
        "stated_as_assumed": [],
        "message": f"With {names[0]} 9.5 % and 5 other values at the ends of their bands",
    }
    page = str(Report.from_json(document | {"turning_corner": corner}))
    far = "(alone 8 % of the distance to the limit)"
    listed = "; ".join(f"{name} 9.5 % {far}" for name in names)
    assert f"all together, the most effective first: {listed}" in " ".join(page.split())
    assert f"decides together: {corner['message']}" in " ".join(page.split())
    corner["values"] = values[:1]
    page = str(Report.from_json(document | {"turning_corner": corner}))
    assert "together" not in page
    assert f"decides: {corner['message']}" in " ".join(page.split())


def test_what_turns_only_with_the_reeds_in_stock_is_the_line_of_the_service() -> None:
    document = sample("decisive")["answer"]
    first = document["decisive_assumptions"][0]
    said = "With warp crimp above 3 % (assumed: 4 %), no reed in stock serves."
    changed = {"decisive_assumptions": [first | {"is_of_stock": True}], "reed_note": said}
    page = str(Report.from_json(document | changed))
    assert f"  {said}" in page.splitlines()
    assert first["message"] not in page


def test_a_report_says_what_its_verdict_rests_on() -> None:
    report = answered("decisive")
    assert report.verdict_holds is False
    first = report.decisive_assumptions[0]
    assert f"  decides: {first.message}" in str(report).splitlines()
    assert report.verdict_holds_note is not None
    assert f"  {report.verdict_holds_note}" in str(report).splitlines()
    assert first.verdict is Verdict.NOT_WEAVABLE
    assert recorded("weavable").decisive_assumptions is None


def test_a_page_and_a_notebook_name_fields_in_words() -> None:
    document = copy.deepcopy(sample(REPORTS[0])["answer"])
    finding = document["findings"][0]
    pointer = "/construction/weft/yarns/A/strength_cv_pct"
    finding["message"] = f"It is too weak. Its strength is assumed: {pointer} = 12 %. State it."
    report = Report.from_json(document)
    for said in (report.to_page(), report._repr_html_()):
        assert "assumed: variation of strength of weft yarn A = 12 %." in said
        assert pointer not in said
    # A program reads where to state it.
    assert pointer in report.findings[0].message
