from __future__ import annotations

import json
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import DELETE, changed, full_request, small_request

from weavability.service.schemas.request_schemas import ValidationRequestSchema
from weavability.textiles.errors import InputError

ADDRESS = "/v1/validations"


def refused(client: FlaskClient, request: object) -> Any:
    answer = client.post(ADDRESS, json=request)
    assert answer.status_code == 422, answer.text
    assert answer.mimetype == "application/problem+json"
    problem = json.loads(answer.data)
    assert problem["type"] == "/problems/invalid-request"
    assert problem["status"] == 422
    assert problem["detail"]
    return problem


# What is changed in a good request, and where and with what words the answer points at it.
CASES = {
    "missing sett": (
        "/construction/warp/ends_per_cm", DELETE,
        "/construction/warp/ends_per_cm", "exactly one of ends_per_cm or ends_per_in",
    ),
    "sett in both units": (
        "/construction/warp/ends_per_in", 71,
        "/construction/warp/ends_per_in", "both ends_per_cm and ends_per_in are given",
    ),
    "width in both units": (
        "/construction/width_in", 60,
        "/construction/width_in", "both width_cm and width_in are given",
    ),
    "negative width": (
        "/construction/width_cm", -150,
        "/construction/width_cm", "at least 1 cm",
    ),
    "number in quotation marks": (
        "/construction/warp/ends_per_cm", "30",
        "/construction/warp/ends_per_cm", "30 instead of '30'",
    ),
    "number written with an underscore": (
        "/construction/warp/ends_per_cm", "1_0",
        "/construction/warp/ends_per_cm", "must be a number",
    ),
    "true for a number": (
        "/construction/width_cm", True,
        "/construction/width_cm", "must be a number",
    ),
    "enormous number": (
        "/construction/width_cm", 1e300,
        "/construction/width_cm", "at most 3 556 cm",
    ),
    "enormous whole number": (
        "/construction/panels", 10**30,
        "/construction/panels", "whole number",
    ),
    "half a panel": (
        "/construction/panels", 1.5,
        "/construction/panels", "whole number",
    ),
    "unknown fibre": (
        "/construction/warp/yarns/A/fibre", "coton",
        "/construction/warp/yarns/A/fibre", "cotton",
    ),
    "unreadable designation": (
        "/construction/warp/yarns/A/designation", "thick",
        "/construction/warp/yarns/A/designation", "",
    ),
    "both designation and linear density": (
        "/construction/warp/yarns/A/linear_density_tex", 20,
        "/construction/warp/yarns/A", "",
    ),
    "colour in words": (
        "/construction/warp/yarns/A/colour", "navy-ish",
        "/construction/warp/yarns/A/colour", "must consist of a # and six hexadecimal digits",
    ),
    "unknown loom": (
        "/loom_id", "rapier-190-doby",
        "/loom_id", 'Did you mean "rapier-190-dobby"?',
    ),
    "loom name that is none": (
        "/loom_id", "../etc/passwd",
        "/loom_id", "letters, digits",
    ),
    "both loom and loom_id": (
        "/loom", full_request()["loom"],
        "/loom", "both loom_id and loom are given",
    ),
    "no loom": (
        "/loom_id", DELETE,
        "/loom_id", "exactly one of loom_id or loom",
    ),
    "ragged rows": (
        "/construction/weave", {"rows": ["1100", "011"]},
        "/construction/weave/rows/1", "Row 2",
    ),
    "rows of something else": (
        "/construction/weave", {"rows": ["10", [0, 1]]},
        "/construction/weave/rows/1", "string",
    ),
    "no rows": (
        "/construction/weave", {"rows": []},
        "/construction/weave/rows", "list of strings",
    ),
    "unknown weave": (
        "/construction/weave", "twil",
        "/construction/weave", "",
    ),
    "weave in no form": (
        "/construction/weave", {"rows": ["10", "01"], "code": "20-02 02-01-01"},
        "/construction/weave", "exactly one form",
    ),
    "weave as a list": (
        "/construction/weave", [[1, 0], [0, 1]],
        "/construction/weave", "notation or an object",
    ),
    "endless weave notation": (
        "/construction/weave", "2/2 twill " * 100,
        "/construction/weave", "200 characters",
    ),
    "unknown field": (
        "/construction/warp/end_per_cm", 30,
        "/construction/warp/end_per_cm", 'Did you mean "ends_per_cm"?',
    ),
    "unknown field with signs of a pointer": (
        "/construction/a~1b", 30,
        "/construction/a~01b", "no field of this name",
    ),
    "unknown stage": (
        "/construction/stage", "greige",
        "/construction/stage", 'Did you mean "grey"?',
    ),
    "two yarns without an order": (
        "/construction/warp/yarns/B", {"designation": "Ne 30", "fibre": "cotton"},
        "/construction/warp/order", "2 yarns",
    ),
    "order of a yarn that is not there": (
        "/construction/warp/order", "4A 4B",
        "/construction/warp/order", "B",
    ),
    "key that no order can name": (
        "/construction/warp/yarns/1A", {"designation": "Ne 30", "fibre": "cotton"},
        "/construction/warp/yarns/1A", "a letter",
    ),
    "no yarns": (
        "/construction/warp/yarns", {},
        "/construction/warp/yarns", "1 to 64 yarns",
    ),
    "too many yarns": (
        "/construction/warp/yarns", {f"Y{n}": {"designation": "Ne 30"} for n in range(65)},
        "/construction/warp/yarns", "1 to 64 yarns",
    ),
    "list for an object": (
        "/construction/selvedge", [24],
        "/construction/selvedge", "must be an object",
    ),
    "line break in a reference": (
        "/construction/reference", "a\nb",
        "/construction/reference", "control characters",
    ),
    "reference that is too long": (
        "/construction/reference", "x" * 201,
        "/construction/reference", "1 to 200 characters",
    ),
    "reed in two forms": (
        "/construction/reed", {"dents_per_10cm": 160, "count": 60, "system": "stockport"},
        "/construction/reed/count", "both dents_per_10cm and count",
    ),
    "reed count without a system": (
        "/construction/reed", {"count": 60}, "/construction/reed/system", "system is missing",
    ),
    "reed system without a count": (
        "/construction/reed", {"system": "stockport"}, "/construction/reed/count", "count is mis",
    ),
    "unknown reed system": (
        "/construction/reed", {"count": 60, "system": "stokport"},
        "/construction/reed/system", "counting system",
    ),
    "denting in two forms": (
        "/construction/reed", {"ends_per_dent": 2, "ends_in_dents": [2, 3]},
        "/construction/reed/ends_in_dents", "both ends_per_dent and ends_in_dents",
    ),
    "shaft 0 in a draft": (
        "/construction/draft", {"threading": [1, 0, 2]},
        "/construction/draft/threading/1", "1 to 64",
    ),
    "draft of nothing": (
        "/construction/draft", {"threading": []},
        "/construction/draft/threading", "1 to 20000 shafts",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_the_answer_points_at_the_field_and_says_what_to_change(
    client: FlaskClient, case: str
) -> None:
    pointer, value, at_field, words = CASES[case]
    problem = refused(client, changed(small_request(), pointer, value))
    found = {error["pointer"]: error for error in problem["errors"]}
    at = [path for path in found if path.startswith(at_field)]
    assert at, problem["errors"]
    assert words in found[at[0]]["message"]
    assert len(problem["errors"]) == 1


LOOM_CASES = {
    "cam without shafts": (
        "/loom/shedding", {"kind": "cam"}, "/loom/shedding/shafts", "needs shafts",
    ),
    "dobby without shafts": (
        "/loom/shedding", {"kind": "dobby"}, "/loom/shedding/shafts", "needs shafts",
    ),
    "jacquard without hooks": (
        "/loom/shedding", {"kind": "jacquard"}, "/loom/shedding/hooks", "needs hooks",
    ),
    "hooks on a dobby": (
        "/loom/shedding/hooks", 1344, "/loom/shedding/hooks", "Leave out hooks",
    ),
    "shafts on a jacquard": (
        "/loom/shedding", {"kind": "jacquard", "hooks": 1344, "shafts": 8},
        "/loom/shedding/shafts", "Leave out shafts",
    ),
    "efficiency and stop rates": (
        "/loom/running/looms_per_weaver", 12,
        "/loom/running/looms_per_weaver", "either it or the stop rates",
    ),
    "half of the stop rates": (
        "/loom/running",
        {
            "warp_stops_per_100k_picks": 3,
            "weft_stops_per_100k_picks": 2,
            "minutes_per_warp_stop": 1,
            "minutes_per_weft_stop": 1,
        },
        "/loom/running/looms_per_weaver", "looms_per_weaver is missing",
    ),
    "stops without anybody who mends them": (
        "/loom/running", {"minutes_per_warp_stop": 1},
        "/loom/running/looms_per_weaver", "looms_per_weaver is missing",
    ),
    "weavers without their looms": (
        "/loom/running", {"weavers": 2}, "/loom/running/looms_per_set", "looms_per_set is missing",
    ),
    "looms without their weavers": (
        "/loom/running", {"looms_per_set": 24}, "/loom/running/weavers", "weavers is missing",
    ),
    "more weavers than looms": (
        "/loom/running", {"looms_per_set": 2, "weavers": 3},
        "/loom/running/looms_per_set", "at least weavers",
    ),
    "one weaver and several": (
        "/loom/running", {"looms_per_weaver": 12, "weavers": 2},
        "/loom/running/weavers", "which are the looms of one weaver",
    ),
    "range upside down": (
        "/loom/picks_per_cm", {"min": 80, "max": 4}, "/loom/picks_per_cm/max", "at least min",
    ),
    "range of nothing": (
        "/loom/weft_tex", {}, "/loom/weft_tex", "min, max or both",
    ),
    "barrel thicker than the flanges": (
        "/loom/warp_beam/barrel_diameter_cm", 120,
        "/loom/warp_beam/flange_diameter_cm", "greater than barrel_diameter_cm",
    ),
    "speed curve that runs back": (
        "/loom/speed_curve/1/reed_width_cm", 140,
        "/loom/speed_curve/1/reed_width_cm", "rising width",
    ),
    "speed curve with a missing speed": (
        "/loom/speed_curve/1", {"reed_width_cm": 150},
        "/loom/speed_curve/1/picks_per_min", "picks_per_min is missing",
    ),
    "smallest width above the greatest": (
        "/loom/min_reed_width_cm", 200, "/loom/reed_width_cm", "at least min_reed_width_cm",
    ),
    "exit before entry": (
        "/loom/insertion/exit_deg", 60, "/loom/insertion", "",
    ),
    "boxes of the insertion": (
        "/loom/insertion/boxes", [1, 4],
        "/loom/insertion/boxes", "boxes is a field of the loom, beside insertion",
    ),
    "unknown system": (
        "/loom/insertion/system", "rapir", "/loom/insertion/system", 'Did you mean "rapier"?',
    ),
    "no system": (
        "/loom/insertion/system", DELETE, "/loom/insertion/system", "system is missing",
    ),
    "no shedding": ("/loom/shedding", DELETE, "/loom/shedding", "shedding is missing"),
    "a reed of no dents": (
        "/loom/reeds_in_stock_dents_per_10cm/2", 0,
        "/loom/reeds_in_stock_dents_per_10cm/2", "at least 5",
    ),
    "too many reeds": (
        "/loom/reeds_in_stock_dents_per_10cm", [160] * 201,
        "/loom/reeds_in_stock_dents_per_10cm", "0 to 200 items, not 201",
    ),
    "half a shaft": ("/loom/shedding/shafts", 4.5, "/loom/shedding/shafts", "whole number"),
}  # fmt: skip


@pytest.mark.parametrize("case", LOOM_CASES)
def test_the_answer_points_at_the_field_of_the_loom(client: FlaskClient, case: str) -> None:
    pointer, value, at_field, words = LOOM_CASES[case]
    problem = refused(client, changed(full_request(), pointer, value))
    (error,) = problem["errors"]
    assert error["pointer"].startswith(at_field)
    assert words in error["message"]


def test_stop_rates_in_place_of_an_efficiency_are_taken(client: FlaskClient) -> None:
    running = {
        "warp_stops_per_100k_picks": 3,
        "weft_stops_per_100k_picks": 2,
        "minutes_per_warp_stop": 1,
        "minutes_per_weft_stop": 1,
        "looms_per_weaver": 12,
    }
    answer = client.post(ADDRESS, json=changed(full_request(), "/loom/running", running))
    assert answer.status_code == 200
    assert 0 < json.loads(answer.data)["rates"]["efficiency_pct"] < 100


def test_a_calendar_is_no_stop_rate(client: FlaskClient) -> None:
    running = {"efficiency_pct": 90, "hours_per_day": 16}
    answer = client.post(ADDRESS, json=changed(full_request(), "/loom/running", running))
    assert answer.status_code == 200


def test_a_reed_may_be_counted_in_any_system(client: FlaskClient) -> None:
    # 60 Stockport are 60 dents in 2 inches: 118.11 dents in 10 cm.
    request = changed(small_request(), "/construction/reed", {"count": 60, "system": "stockport"})
    report = json.loads(client.post(ADDRESS, json=request).data)
    assert report["setup"]["reed_dents_per_10cm"] == pytest.approx(118.11, abs=0.05)


def test_all_faults_are_reported_at_once(client: FlaskClient) -> None:
    request = small_request()
    for pointer, value in (
        ("/construction/warp/yarns/A/fibre", "coton"),
        ("/construction/warp/ends_per_cm", "28"),
        ("/construction/weft/picks_per_cm", DELETE),
        ("/construction/weave", {"rows": ["10", "0"]}),
        ("/construction/width_cm", -1),
        ("/loom_id", "R191"),
    ):
        request = changed(request, pointer, value)
    problem = refused(client, request)
    # The test client sends the members of every object in the order of their names.
    assert [error["pointer"] for error in problem["errors"]] == [
        "/construction/warp/ends_per_cm",
        "/construction/warp/yarns/A/fibre",
        "/construction/weave/rows/1",
        "/construction/weft/picks_per_cm",
        "/construction/width_cm",
        "/loom_id",
    ]
    assert problem["detail"].startswith("6 things need to be changed.")


def test_at_most_fifty_faults_are_listed(client: FlaskClient) -> None:
    request = small_request()
    for number in range(55):
        request["construction"][f"field{number}"] = number
    problem = refused(client, request)
    assert len(problem["errors"]) == 50
    assert problem["detail"].startswith(
        "More than 50 things need to be changed; the first 50 are listed."
    )


def test_of_a_list_no_more_faults_are_looked_for_than_are_listed(client: FlaskClient) -> None:
    faulty = {"threading": [1, *[-1] * 9000], "tie_up": ["1x"] * 9000, "treadling": [0] * 9000}
    request = changed(small_request(), "/construction/weave", faulty)
    with pytest.raises(InputError) as refusal:
        ValidationRequestSchema().read(request)
    assert len(refusal.value.faults) <= 3 * 51
    pointers = [error["pointer"] for error in refused(client, request)["errors"]]
    assert pointers == [f"/construction/weave/threading/{place}" for place in range(1, 51)]


@pytest.mark.slow
def test_a_hundred_thousand_unknown_fields_cost_no_time(client: FlaskClient) -> None:
    request = small_request()
    request["construction"] |= {f"field{number}": 1 for number in range(100_000)}
    assert len(refused(client, request)["errors"]) == 50


def test_what_was_given_is_shortened(client: FlaskClient) -> None:
    problem = refused(client, changed(small_request(), "/construction/reference", "x" * 5000))
    given = problem["errors"][0]["given"]
    assert len(given) == 200
    assert given.endswith("…")


def test_a_long_list_as_given_is_shortened_too(client: FlaskClient) -> None:
    problem = refused(client, changed(small_request(), "/construction/warp", list(range(5000))))
    assert len(problem["errors"][0]["given"]) == 200


def test_a_short_value_is_given_back_as_it_came(client: FlaskClient) -> None:
    problem = refused(client, changed(small_request(), "/construction/warp", {"yarns": 3}))
    assert [error["given"] for error in problem["errors"]] == [3, None]


@pytest.mark.parametrize("body", [[], 3, "x", None, True, {}, [{}]])
def test_a_body_that_is_no_request_gets_what_it_lacks_listed(
    client: FlaskClient, body: object
) -> None:
    answer = client.post(ADDRESS, data=json.dumps(body), content_type="application/json")
    assert answer.status_code == 422
    assert json.loads(answer.data)["errors"]


def test_null_means_not_given(client: FlaskClient) -> None:
    request = small_request()
    request["construction"] |= {
        "selvedge": None,
        "panels": None,
        "stage": None,
        "reed": {"dents_per_10cm": None},
        "width_in": None,
    }
    request["loom"] = None
    with_nulls = client.post(ADDRESS, json=request)
    without = client.post(ADDRESS, json=small_request())
    assert with_nulls.data == without.data


def test_null_for_what_is_needed_is_missing(client: FlaskClient) -> None:
    problem = refused(client, changed(small_request(), "/construction/weave", None))
    assert problem["errors"][0]["message"].startswith("weave is missing")


def test_a_refused_request_changes_nothing_for_others(client: FlaskClient) -> None:
    before = client.post(ADDRESS, json=small_request()).data
    refused(client, changed(small_request(), "/construction/width_cm", -1))
    assert client.post(ADDRESS, json=small_request()).data == before
