"""Many orders at once: rankings as lines and sheets, and validations in short."""

from __future__ import annotations

import csv
import json
from io import StringIO
from typing import Any

import pytest
from archived_orders import demo_orders, orders
from documents import chapter
from flask.testing import FlaskClient
from service.support import changed, full_request, small_request

from weavability.answers import loom_matching, validation
from weavability.answers.caution import CAUTION, SHORT_CAUTION
from weavability.service import Settings, create_app
from weavability.service.http import work
from weavability.service.openapi import example_requests

NDJSON, CSV = "application/x-ndjson", "text/csv"
MATCHES, REPORTS = "/v1/loom-matches", "/v1/validations"
SUMMARY = "?fields=summary"
MATCH = {"construction": small_request()["construction"]}
HEADER = (
    "reference,loom_id,loom_ids,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,weft_yarn_A"
)


def sent(client: FlaskClient, path: str, *lines: Any) -> list[dict[str, Any]]:
    body = "".join(f"{json.dumps(each)}\n" for each in lines)
    answer = client.post(path, data=body, headers={"Content-Type": NDJSON})
    assert answer.status_code == 200, answer.text
    return [json.loads(line) for line in answer.text.splitlines()]


def rows(client: FlaskClient, path: str, text: str) -> list[dict[str, str]]:
    answer = client.post(path, data=text, headers={"Content-Type": CSV})
    assert answer.status_code == 200, answer.text
    return list(csv.DictReader(StringIO(answer.text, newline=""), strict=True))


class TestRankings:
    def test_a_line_is_answered_as_it_would_be_alone(self, client: FlaskClient) -> None:
        named = MATCH | {"loom_ids": ["air-jet-190-cam"]}
        wrong = changed(MATCH | {"loom_id": "no-such"}, "/construction/reference", "SO-7")
        first, second, third = sent(client, MATCHES, MATCH, wrong, named)
        assert first == {
            "index": 0,
            "status": 200,
            "report": client.post(MATCHES, json=MATCH).get_json(),
        }
        assert (second["status"], second["reference"]) == (422, "SO-7")
        assert {each["pointer"] for each in second["problem"]["errors"]} == {"/loom_id"}
        assert third["report"]["matches"][0]["loom_id"] == "air-jet-190-cam"

    def test_a_sheet_gets_a_row_for_each_order_and_loom(self, client: FlaskClient) -> None:
        text = "\n".join(
            [
                HEADER,
                "S-1,rapier-190-dobby,,plain,150,28,24,Ne 30,Ne 30",
                "S-2,,,plain,wide,28,24,Ne 30,Ne 30",
                "S-3,,air-jet-190-cam,plain,150,28,24,Ne 30,Ne 30",
                "S-4,,air-jet-190-cm,plain,150,28,24,Ne 30,Ne 30",
            ]
        )
        answer = client.post(MATCHES, data=text, headers={"Content-Type": CSV})
        assert answer.headers["Ignored-Columns"] == "loom_id"
        found = list(csv.DictReader(StringIO(answer.text, newline=""), strict=True))
        assert [(row["row"], row["reference"], row["status"], row["rank"]) for row in found] == [
            ("2", "S-1", "200", "1"),
            ("2", "S-1", "200", "2"),
            ("3", "S-2", "422", ""),
            ("4", "S-3", "200", "1"),
            ("5", "S-4", "422", ""),
        ]
        (report,) = (each["report"] for each in sent(client, MATCHES, MATCH))
        assert [(row["loom_id"], row["verdict"], float(row["hours"])) for row in found[:2]] == [
            (each["loom_id"], each["verdict"], each["hours"]) for each in report["matches"]
        ]
        assert found[0]["reason"] == report["matches"][0]["reason"]
        assert found[2]["message"].startswith("width_cm: ")
        assert found[4]["message"].startswith("loom_ids: ")
        assert {row["caution"] for row in found} == {SHORT_CAUTION, ""}
        assert found[0]["costs.cost_per_m"] == ""

    @pytest.mark.slow
    def test_a_sheet_with_prices_has_the_costs(self, client: FlaskClient) -> None:
        text = (
            "weave,width_cm,length_m,ends_per_cm,picks_per_cm,warp_yarn_A,weft_yarn_A,rank_by,"
            "prices.currency,prices.loom_hour,options.decisive_assumptions\n"
            "plain,150,1000,28,24,Ne 30,Ne 30,cost,EUR,6.5,true\n"
        )
        found = rows(client, MATCHES, text)
        asked: dict[str, Any] = {
            "construction": {**MATCH["construction"], "length_m": 1000},
            "prices": {"currency": "EUR", "loom_hour": 6.5},
        }
        for system in ("warp", "weft"):
            bare = {**MATCH["construction"][system], "yarns": {"A": {"designation": "Ne 30"}}}
            asked["construction"][system] = bare
        report = client.post(MATCHES, json=asked | {"rank_by": "cost"}).get_json()
        assert [float(row["costs.cost_for_order"]) for row in found] == [
            each["costs"]["cost_for_order"] for each in report["matches"]
        ]
        assert found[0]["currency"] == "EUR"
        assert "warp A; weft A" in found[0]["costs.not_priced"]
        assert {row["verdict_holds"] for row in found} <= {"true", "false"}

    def test_the_sheet_of_validations_has_no_column_of_rankings(self, client: FlaskClient) -> None:
        answer = client.post(REPORTS, data=f"{HEADER}\n", headers={"Content-Type": CSV})
        assert answer.status_code == 422
        assert "There is no column 'loom_ids'" in answer.text

    @pytest.mark.slow
    def test_every_loom_of_every_order_counts(self) -> None:
        per_min = 60 * 60
        client = create_app(Settings(work_per_min=per_min)).test_client()
        looms = len(client.get("/v1/looms").get_json()["looms"])
        sent(client, MATCHES, *(20 * [MATCH]))
        left = int(client.get("/v1/looms").headers["RateLimit-Remaining"])
        assert left < per_min / 6 - 10 * looms  # what time has given back is far less

    def test_it_ends_when_the_caller_has_gone(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        ranked: list[int] = []

        def gone() -> None:
            if len(ranked) == 2:
                raise ConnectionResetError("the caller has hung up")

        def match(*args: Any, **kwargs: Any) -> Any:
            ranked.append(1)
            return loom_matching.match_looms(*args, **kwargs)

        monkeypatch.setattr(work, "_LOOK_EVERY_S", 0)
        monkeypatch.setattr(work, "_stop_if_nobody_waits", gone)
        monkeypatch.setattr("weavability.service.resources.loom_matches.match_looms", match)
        body = 20 * f"{json.dumps(MATCH)}\n"
        with pytest.raises(ConnectionResetError):
            client.post(MATCHES, data=body, headers={"Content-Type": NDJSON}).get_data()
        assert len(ranked) == 2


class TestSummaries:
    def test_it_says_the_same_as_the_report(self, client: FlaskClient) -> None:
        request = full_request()
        whole = client.post(REPORTS, json=request)
        report = whole.get_json()
        answer = client.post(REPORTS + SUMMARY, json=request)
        assert answer.get_json() == {
            "validation_id": report["validation_id"],
            "verdict": report["verdict"],
            "codes": list(dict.fromkeys(each["code"] for each in report["findings"])),
            "limited_by": report["rates"]["limited_by"],
            "speed_picks_per_min": report["rates"]["speed_picks_per_min"],
            "insertion_rate_m_per_min": report["rates"]["insertion_rate_m_per_min"],
            "hours_for_order": report["rates"]["hours_for_order"],
            "caution": CAUTION,
        }
        (line,) = sent(client, REPORTS + SUMMARY, request)
        assert line == {
            "index": 0,
            "status": 200,
            "summary": {k: v for k, v in answer.get_json().items() if k != "caution"},
        }
        (linked,) = sent(client, f"{REPORTS}{SUMMARY},link", request)
        assert linked["summary"] == line["summary"] | {"link": report["links"]["self"]}

    def test_it_is_another_form_with_a_tag_of_its_own(self, client: FlaskClient) -> None:
        whole = client.post(REPORTS, json=full_request())
        link, tag = whole.get_json()["links"]["self"], whole.headers["ETag"]
        posted = client.post(REPORTS + SUMMARY, json=full_request())
        assert posted.headers["Content-Location"] == link + SUMMARY
        shown = client.get(link + SUMMARY)
        assert shown.data == posted.data
        own = shown.headers["ETag"]
        assert own == posted.headers["ETag"] == f'{tag[:-1]}-summary"'
        for path, known, status in (
            (link + SUMMARY, own, 304),
            (link + SUMMARY, tag, 200),
            (link, own, 200),
            (f"{link}{SUMMARY},link", own, 200),
        ):
            answer = client.get(path, headers={"If-None-Match": known})
            assert (path, answer.status_code) == (path, status)
        assert client.get(f"{link}{SUMMARY},link").get_json()["link"] == link
        queried = client.open(
            REPORTS + SUMMARY, method="QUERY", json=full_request(), headers={"If-None-Match": own}
        )
        assert queried.status_code == 304

    def test_prices_leave_no_tag_and_no_address(self, client: FlaskClient) -> None:
        answer = client.post(REPORTS + SUMMARY, json=example_requests.PRICED)
        assert answer.headers["Cache-Control"] == "no-store"
        assert not {"ETag", "Content-Location"} & set(answer.headers.keys())

    @pytest.mark.parametrize(
        ("fields", "accept", "status"),
        [("short", "*/*", 422), ("summary", CSV, 406), ("link", "*/*", 422)],
    )
    def test_what_cannot_be_given_is_named(
        self, client: FlaskClient, fields: str, accept: str, status: int
    ) -> None:
        answer = client.post(
            f"{REPORTS}?fields={fields}",
            data=f"{json.dumps(small_request())}\n",
            headers={"Content-Type": NDJSON, "Accept": accept},
        )
        assert answer.status_code == status
        assert ("summary or summary,link" in answer.text) == (status == 422)

    def test_no_change_is_tried_for_it(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        asked = []
        assess = validation.assess

        def seen(*args: Any, remedies: bool, **kwargs: Any) -> Any:
            asked.append(remedies)
            return assess(*args, remedies=remedies, **kwargs)

        monkeypatch.setattr(validation, "assess", seen)
        sent(client, REPORTS + SUMMARY, full_request())
        client.post(REPORTS + SUMMARY, json=full_request())
        assert asked == [False, False]

    @pytest.mark.slow
    def test_every_line_is_short_and_the_caution_is_in_the_header(self) -> None:
        client = create_app().test_client()
        looms = [each["loom_id"] for each in client.get("/v1/looms").get_json()["looms"]]
        book = [*demo_orders(), *orders(150)]
        asked = [
            each if {"loom", "loom_id"} & set(each) else each | {"loom_id": looms[at % len(looms)]}
            for at, each in enumerate(book)
        ]
        body = "".join(f"{json.dumps(each)}\n" for each in asked)
        answer = client.post(REPORTS + SUMMARY, data=body, headers={"Content-Type": NDJSON})
        assert answer.headers["Caution"] == SHORT_CAUTION
        lines = answer.text.splitlines()
        assert "lines of less than 400 bytes" in " ".join(chapter("batches").split())
        assert max(map(len, lines)) < 400
        found = [json.loads(line) for line in lines]
        assert {each["status"] for each in found} == {200}
        longest = max(found, key=lambda each: each["summary"].get("more_codes", 0))
        assert longest["summary"]["more_codes"] > 0
        whole = client.post(REPORTS, json=asked[longest["index"]]).get_json()
        codes = list(dict.fromkeys(each["code"] for each in whole["findings"]))
        shown = longest["summary"]["codes"]
        assert shown == codes[: len(shown)]
        assert len(codes) == len(shown) + longest["summary"]["more_codes"]


class TestRemediesInSheets:
    def test_the_smallest_changes_are_there_in_words_and_as_fields(
        self, client: FlaskClient
    ) -> None:
        request = changed(small_request(), "/construction/width_cm", 190)
        text = (
            "# orders.csv\nloom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,"
            "warp_fibre_A,weft_yarn_A,weft_fibre_A\n"
            "rapier-190-dobby,plain,190,28,24,Ne 30,cotton,Ne 30,cotton\n"
        )
        (row,) = rows(client, REPORTS, text)
        report = client.post(REPORTS, json=request).get_json()
        (wide,) = (each for each in report["findings"] if each["code"] == "width.reed_space")
        smallest = wide["remedies"][0]
        assert f"{smallest['message']} Clears {' '.join(smallest['clears'])}." in row["remedies"]
        listed = json.loads(row["remedies.changes"])
        for change in smallest["changes"]:
            same = {name: change[name] for name in ("pointer", "from", "to")}
            assert same | {"clears": smallest["clears"]} in listed


class TestRemarks:
    @pytest.mark.parametrize("before", ["# orders.csv\n", "sep=,\n#by Friday\n\n", "\n# a\n# b\n"])
    def test_they_are_passed_over_before_the_header(self, client: FlaskClient, before: str) -> None:
        text = f"{before}loom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,weft_yarn_A\n"
        row = "rapier-190-dobby,plain,150,28,24,Ne 30,Ne 30\n"
        assert [each["status"] for each in rows(client, REPORTS, text + row)] == ["200"]
        hidden = rows(client, REPORTS, f"{text}#{row}")
        assert [each["status"] for each in hidden] == ["422"]

    @pytest.mark.parametrize("path", [REPORTS, MATCHES])
    def test_whether_columns_are_ignored_is_judged_for_every_body(
        self, client: FlaskClient, path: str
    ) -> None:
        assert client.post(f"{path}?ignore_columns=", json=small_request()).status_code == 400

    @pytest.mark.parametrize(
        ("query", "hint"),
        [("field=summary", ' Did you mean "fields"?'), ("ignore_column=true", "ignore_columns")],
    )
    def test_a_misspelt_parameter_is_refused(
        self, client: FlaskClient, query: str, hint: str
    ) -> None:
        answer = client.post(f"{REPORTS}?{query}", json=small_request())
        assert answer.status_code == 422
        assert hint in answer.get_json()["detail"]
        assert client.get(f"/v1/looms?{query}").status_code == 422
        assert client.get(f"/?{query}").status_code != 422

    def test_a_heading_for_numbers_is_none(self, client: FlaskClient) -> None:
        text = "#,loom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,weft_yarn_A\n"
        row = "1,rapier-190-dobby,plain,150,28,24,Ne 30,Ne 30\n"
        found = rows(client, f"{REPORTS}?ignore_columns=true", text + row)
        assert [each["status"] for each in found] == ["200"]
