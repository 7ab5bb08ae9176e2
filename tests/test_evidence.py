"""The evidence: it is current, it is complete, and it shows what does not agree."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from html.parser import HTMLParser
from typing import Any, Final

import pytest
from flask import Flask
from flask.testing import FlaskClient
from reference import compared_cloths, compared_looms, evidence
from reference.compared import FOLDER, citations, compared, compared_lists, read
from reference.compared_cloths import reason_of

from weavability.answers.published_evidence import Evidence, EvidenceKind, evidence_of
from weavability.textiles.sources import CITED, sources

FOUND: Final = "run openapi/regenerate and look at what it changed"


@pytest.fixture(scope="module")
def made() -> Evidence:
    return evidence_of(evidence.document())


@pytest.fixture(scope="module")
def client(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


@pytest.mark.slow
def test_the_data_the_chapter_and_the_readme_are_what_is_computed_today() -> None:
    stale = [
        path.name for path, text in evidence.written_in().items() if path.read_text("utf-8") != text
    ]
    assert stale == [], FOUND


@pytest.mark.slow
def test_counts_are_those_of_the_values(made: Evidence) -> None:
    values = [value for each in made.subjects for value in each.values]
    outside = [value for value in values if value.kind is EvidenceKind.OUTSIDE]
    assert made.counts.outside == len(outside) > 400
    assert made.counts.outside_agree == sum(value.agrees for value in outside)
    assert made.counts.derived == sum(each.counts.derived for each in made.subjects)
    assert made.counts.recalled == sum(each.counts.recalled for each in made.subjects)


@pytest.mark.slow
def test_what_does_not_agree_is_known_and_explained(made: Evidence) -> None:
    apart = {
        value.case: value.note
        for each in made.subjects
        for value in each.values
        if value.kind is EvidenceKind.OUTSIDE and not value.agrees
    }
    assert set(apart) == {
        *("setting S118", "setting S119", "mass F110"),
        *("denting F035", "denting F045"),
    }
    assert all(apart.values())


@pytest.mark.slow
def test_every_value_has_a_source_in_words(made: Evidence) -> None:
    keyless = [
        value.case
        for each in made.subjects
        for value in each.values
        if not value.source or CITED.search(value.source)
    ]
    assert keyless == []
    assert [each.case for each in made.left_out if not (each.source and each.reason)] == []


def cited_keys(part: object) -> Iterator[str]:
    if isinstance(part, Mapping):
        for key, each in part.items():
            if key == "source" and isinstance(each, str):
                yield from CITED.findall(each)
            yield from cited_keys(each)
    elif isinstance(part, list):
        for each in part:
            yield from cited_keys(each)


def test_every_key_of_a_published_value_has_one_source_and_every_source_is_cited() -> None:
    cited = {key for path in FOLDER.glob("*.json") for key in cited_keys(read(path.name))}
    assert cited <= set(citations())
    of_tests = set(citations()) - set(sources())
    text = (FOLDER / "sources.toml").read_text("utf-8")
    assert set(re.findall(r"^([A-Z0-9-]+) =", text, re.MULTILINE)) == of_tests <= cited


def names_of(made: Evidence) -> set[str]:
    compared_cases = {value.case for each in made.subjects for value in each.values}
    return compared_cases | {each.case for each in made.left_out}


@pytest.mark.slow
def test_no_case_of_the_files_is_forgotten(made: Evidence) -> None:
    names = names_of(made)
    same = {**compared_cloths.SAME_AS, **compared_looms.SAME_AS}
    forgotten = [
        f"{file} {case['id']}"
        for file, word, cases in (
            ("setting.json", "setting", read("setting.json")),
            ("loom.json", "loom", read("loom.json")["cases"]),
            ("answers_published.json", "report", read("answers_published.json")["cases"]),
        )
        for case in cases
        if not {f"{word} {case['id']}", f"report {same.get(case['id'], case['id'])}"} & names
    ]
    forgotten += [
        f"fabrics.json {row['id']}"
        for row in read("fabrics.json")
        if not {f"cloth {row['id']}", f"limit {row['id']}"} & names
    ]
    weaves = {name.split()[1] for name in names if name.startswith("weave ")}
    forgotten += [
        f"{path.name} {case['id']}"
        for path in FOLDER.glob("weave_*.json")
        for cases in read(path.name).values()
        for case in (cases if isinstance(cases, list) else [cases])
        if isinstance(case, dict) and "id" in case and case["id"] not in weaves
    ]
    assert forgotten == []


def test_every_file_of_published_values_is_compared() -> None:
    readers = "".join(
        path.read_text("utf-8")
        for folder in (FOLDER, *(FOLDER.parent / each for each in ("answers", "textiles", "looms")))
        for path in folder.glob("*.py")
    )
    files = [*FOLDER.glob("*.json"), *FOLDER.glob("*.csv")]
    assert [path.name for path in files if f"{path.name}" not in readers] == []


@pytest.mark.slow
def test_a_value_counts_once(made: Evidence) -> None:
    """A case in two files is compared once: as a whole report if one gives it."""
    names = [value.case for each in made.subjects for value in each.values]
    numbers = [name.split()[1] for name in names if name.split()[0] in ("setting", "loom")]
    in_reports = {name.split()[1] for name in names if name.startswith("report ")}
    assert in_reports.isdisjoint(numbers)


def test_figures_agree_within_the_tolerance_and_texts_if_they_are_the_same() -> None:
    inside, outside = (
        compared("c", "w", source="s", published=10.0, computed=10.0 + by, tolerance=0.5)
        for by in (0.5, 0.51)
    )
    assert (inside.agrees, inside.deviation, inside.deviation_pct) == (True, 0.5, 5.0)
    assert (outside.agrees, outside.deviation) == (False, 0.51)
    said = compared("c", "w", source="s", published="10/01", computed="01/10")
    assert (said.agrees, said.deviation, said.tolerance) == (False, None, None)
    nothing = compared("c", "w", source="s", published=0.0, computed=0.1)
    assert (nothing.agrees, nothing.deviation, nothing.deviation_pct) == (False, 0.1, None)


def test_lists_are_compared_place_by_place() -> None:
    both = list(
        compared_lists(
            "c", "w", source="s", published=[1.0, 2.0], computed=[1.0, 2.2], tolerance=[0.1, 0.1]
        )
    )
    assert [each.agrees for each in both] == [True, False]
    assert both[1].what == "w, value 2 of 2"


# Their dictionary and their teaching page are doubted by the list of constructions itself.
@pytest.mark.slow
def test_the_doubted_rows_are_named_with_their_verdict(made: Evidence) -> None:
    doubted = {each.case: each.reason for each in made.left_out}
    assert "today: weavable, with warnings" in doubted["cloth F072"]
    # A warp-faced rib: its ends pass one another on two levels.
    assert "today: weavable, with warnings" in doubted["cloth F086"]


def test_velvets_are_compared_although_they_are_only_for_stress() -> None:
    stress = [row for row in read("fabrics.json") if row["test_use"] == "stress_only"]
    assert {row["id"] for row in stress if reason_of(row) is None} == {
        "F023", "F024", "F025", "F026", "F027",
    }  # fmt: skip


@pytest.mark.slow
def test_the_service_answers_the_evidence(client: FlaskClient, made: Evidence) -> None:
    answer = client.get("/evidence")
    body: Any = answer.get_json()
    assert body["counts"]["outside"] == made.counts.outside
    assert [each["subject"] for each in body["subjects"]] == [
        each.subject for each in made.subjects
    ]
    assert "qualified staff decide" in body["caution"].lower()
    again = client.get("/evidence", headers={"If-None-Match": answer.headers["ETag"]})
    assert (again.status_code, answer.headers["Vary"]) == (304, "Accept")


class Page(HTMLParser):
    """Collects elements and text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""
        self.labels: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.labels |= {value for name, value in attrs if name == "data-label" and value}

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.slow
def test_a_browser_gets_a_page_without_script(client: FlaskClient, made: Evidence) -> None:
    answer = client.get("/evidence", headers={"Accept": "text/html"})
    page = Page()
    page.feed(answer.text)
    assert answer.mimetype == "text/html"
    assert "script" not in page.tags
    assert page.tags.count("table") == len(made.subjects) + 1
    assert {"Published", "Computed", "Deviation", "Tolerance", "Agrees", "Why"} == page.labels
    assert "qualified staff decide" in page.text.lower()
    for each in made.subjects:
        assert each.subject in page.text
    own = client.get("/evidence").headers["ETag"]
    assert answer.headers["ETag"] != own
    headers = {"Accept": "text/html", "If-None-Match": answer.headers["ETag"]}
    assert client.get("/evidence", headers=headers).status_code == 304


def test_other_forms_are_refused(client: FlaskClient) -> None:
    assert client.get("/evidence", headers={"Accept": "text/csv"}).status_code == 406
