"""Every sentence of an answer has a key and values from which its text follows."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sentences_in_code import SOURCE, WRITTEN, written
from service.support import changed, full_request
from werkzeug.test import TestResponse

from weavability.textiles.sentences import quoted, say
from weavability.textiles.sources import sources
from weavability_client import MessageList, render

ROOT: Final = Path(__file__).parents[2]
TEXTS: Final = ("message", "reason", "detail")


@pytest.fixture(scope="module")
def client(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


@pytest.fixture(scope="module")
def known(client: FlaskClient) -> MessageList:
    return MessageList.from_json(client.get("/v1/messages").json)


@pytest.fixture(scope="module")
def patterns(known: MessageList) -> dict[str, str]:
    return known.patterns()


def answered(response: TestResponse) -> dict[str, Any]:
    found = response.json
    assert isinstance(found, dict)
    return found


def sentences(node: Any) -> Iterator[tuple[str | None, str, dict[str, Any]]]:
    """Yield text, key and values of every sentence of a JSON document.

    A sentence within another one has no text of its own.
    """
    if isinstance(node, dict):
        for name in TEXTS:
            if f"{name}_key" in node:
                yield node.get(name), node[f"{name}_key"], node[f"{name}_values"]
        for each in node.values():
            yield from sentences(each)
    elif isinstance(node, list):
        for each in node:
            yield from sentences(each)


def wrong(document: Any, patterns: Mapping[str, str]) -> list[str]:
    """Return what is wrong with the sentences of a document."""
    found = []
    for text, key, values in sentences(document):
        if key not in patterns:
            found.append(f"{key} is not listed")
        elif text not in (None, render(patterns, key, values)):
            found.append(f"{key}: {text!r} is rendered {render(patterns, key, values)!r}")
        else:
            found += [
                f"{key}: the number {each.name} has no format"
                for each in quoted(patterns[key])
                if isinstance(values[each.name], float) and not each.form
            ]
    return found


@pytest.mark.slow
def test_every_sentence_of_the_code_has_a_literal_key_and_is_listed() -> None:
    assert WRITTEN.read_text("utf-8") == written(), "run openapi/regenerate"


@pytest.mark.slow
def test_a_sentence_is_made_by_say_alone() -> None:
    makers = {
        path.name
        for path in SOURCE.rglob("*.py")
        for call in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Name)
        and call.func.id == "Sentence"
    }
    assert makers == {"sentences.py"}


def test_every_sentence_of_the_documented_answers_follows_from_its_values(
    patterns: Mapping[str, str],
) -> None:
    document = json.loads((ROOT / "openapi" / "openapi.json").read_text("utf-8"))
    del document["components"]["schemas"]
    assert len({key for _, key, _ in sentences(document)}) > 100
    assert not wrong(document, patterns)


BAD: Final[tuple[dict[str, Any], ...]] = (
    {},
    {"/construction/width_cm": "152", "/construction/weave": "plian"},
    {"/construction/weave": "2/2/1 twill", "/construction/warp/order": "3(A"},
    {"/construction/weave": "terry", "/construction/panels": 0, "/loom_id": "rapier-190-doby"},
    {"/construction/weave": {"rows": ["10", "1"]}, "/construction/colour": 1},
    {"/construction/weave": {"code": "30-04 01-01-01"}, "/construction/length_yd": 1},
    {"/construction/warp/yarns/A/designation": "Ne 40/2/3/4", "/construction/stage": "gray"},
    {"/construction/warp/yarns/A/designation": "30", "/construction/weft/picks_per_in": 60},
    {"/construction/warp/yarns/A/fibre": "coton", "/construction/weft/yarns": {}},
    {"/construction/warp/yarns/A/elastane_draft": 3.0, "/construction/length_m": 1e9},
    {"/construction/warp/ends_per_cm": 390.0, "/construction/width_cm": 3000.0},
    {"/construction/layers": {"ends": "1F 1B", "picks": "1F 1C"}, "/prices": {"currency": 1}},
    {"/construction/draft": {"threading": "herringbone skip"}, "/options": []},
    {"/construction/order": {"pieces": 3}, "/construction/requirements": {"mass_g_per_m2": {}}},
)


@pytest.mark.parametrize("changes", BAD)
def test_every_sentence_of_a_problem_follows_from_its_values(
    client: FlaskClient, patterns: Mapping[str, str], changes: Mapping[str, object]
) -> None:
    body = full_request()
    for pointer, value in changes.items():
        body = changed(body, pointer, value)
    answer = answered(client.post("/v1/validations", json=body))
    assert not wrong(answer, patterns)
    if changes:
        assert all(each["message_key"].startswith("fault.") for each in answer["errors"])
        assert answer["detail_key"].startswith("problem.")


def test_messages_are_listed_by_kind(client: FlaskClient, known: MessageList) -> None:
    of_kinds = {
        kind: answered(client.get(f"/v1/messages?kind={kind}"))["messages"]
        for kind in ("finding", "assumption", "fault", "problem", "part")
    }
    assert sum(map(len, of_kinds.values())) == len(known.messages)
    assert all(each["kind"] == kind for kind, listed in of_kinds.items() for each in listed)
    refused = client.get("/v1/messages?kind=warning")
    assert refused.status_code == 422
    assert answered(refused)["detail_key"] == "problem.parameter_not_one_of"


def test_a_list_of_messages_that_is_current_is_not_sent_again(client: FlaskClient) -> None:
    etag = client.get("/v1/messages").headers["ETag"]
    assert client.get("/v1/messages", headers={"If-None-Match": etag}).status_code == 304
    assert client.get("/v1/messages?kind=part").headers["ETag"] != etag


def test_a_unit_is_known_from_the_end_of_a_name(known: MessageList) -> None:
    listed = {each.key: each for each in known.messages}
    too_long = listed["fault.cloth.too_long"]
    assert [(each.name, each.unit, each.format) for each in too_long.values] == [
        ("warp_m", "m", ".3g")
    ]


def test_another_language_needs_key_values_and_patterns_alone() -> None:
    german = {
        "fault.cloth.too_long": "Der Auftrag braucht {warp_m:.3g} m Kette; {what}.",
        "part.what": "Länge ändern",
        "fault.value.most": "höchstens {most:_.10g}",
    }
    what = say("part.what", "change the length")
    made = say("fault.cloth.too_long", "{warp_m:.3g} {what}", warp_m=1234567.0, what=what)
    shown = render(german, made.key, made.written_values())
    assert shown == "Der Auftrag braucht 1.23e+06 m Kette; Länge ändern."
    assert render(german, "fault.value.most", {"most": 2e7}) == "höchstens 20 000 000"


STATED_ELSEWHERE: Final = {
    # What a source or the trade states; the value that is assumed is listed beside the sentence.
    "assumption.changeover_rate": {"gaiting_hours", "knots_per_h", "tie_in_ends_per_h"},
    "assumption.finishing.source": {
        *("cotton_mass", "cotton_width", "silk_mass", "silk_width"),
        *("synthetic_width", "woollen_width", "worsted_width"),
    },
    "assumption.loom": {
        *("cloth_roll_diameter_cm", "max_tightness_pct", "running.efficiency_pct"),
        *("insertion.extra_weft_cm.projectile", "insertion.max_rate_m_per_min.projectile"),
        *("running.minutes_per_warp_stop", "running.minutes_per_weft_stop"),
        *("running.warp_stops_per_100k_picks", "running.weft_stops_per_100k_picks"),
        *("shedding.max_healds_per_cm_per_shaft", "shedding.max_repeat_picks"),
        *("warp_beam.barrel_diameter_cm", "warp_beam.flange_diameter_cm"),
    },
    "assumption.size": {"strength_gain"},
    "assumption.warp_beam": {"density_of_spun"},
    # A yarn that stretches in proportion has 1 by definition.
    "assumption.insertion": {"initial_modulus"},
}
"""Assumptions whose sentence has a number that is no value of this service."""


def test_an_assumption_quotes_each_number_that_the_service_holds(
    patterns: Mapping[str, str],
) -> None:
    citations = sorted((each.citation for each in sources().values()), key=len, reverse=True)
    cited_or_quoted = re.compile("|".join((r"\{[^}]*\}", *map(re.escape, citations))))
    found = {
        key
        for key, pattern in patterns.items()
        if key.startswith("assumption.") and re.search(r"\d", cited_or_quoted.sub("", pattern))
    }
    assert found == {f"{area}.{topic}" for area, of in STATED_ELSEWHERE.items() for topic in of}
