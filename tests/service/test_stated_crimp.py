"""Crimp, contraction and finishing as a request states them."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import changed, full_request

CLOTH = "/construction"


def posted(client: FlaskClient, changes: dict[str, Any], path: str = "/v1/validations") -> Any:
    body = full_request()
    for pointer, value in changes.items():
        body = changed(body, pointer, value)
    return client.post(path, json=body)


def faults(answer: Any) -> list[tuple[str, object]]:
    assert answer.status_code == 422, answer.json
    return [(error["pointer"], error["given"]) for error in answer.json["errors"]]


TWO_YARNS = {
    "A": {"designation": "Ne 40/2", "fibre": "cotton", "crimp_pct": 6.0},
    "B": {"designation": "Ne 40/2", "fibre": "cotton", "contraction_pct": 15.0},
}


@pytest.mark.slow
def test_crimps_of_yarns_come_back_in_the_report(client: FlaskClient) -> None:
    answer = posted(
        client,
        {
            f"{CLOTH}/warp/yarns": TWO_YARNS,
            f"{CLOTH}/warp/crimp_pct": None,
            f"{CLOTH}/finishing/mass_change_pct": -5,
        },
    )
    assert answer.status_code == 200
    of_a, of_b = answer.json["yarn"][:2]
    assert (of_a["crimp_pct"], of_b["contraction_pct"]) == (6.0, 15.0)
    assert of_b["crimp_pct"] == pytest.approx(100 * 15 / 85, rel=1e-5)
    states = answer.json["states"]
    assert set(states) == {"loom_state", "grey", "finished"}
    assert states["finished"]["mass_g_per_m2"] == pytest.approx(
        0.95 * states["grey"]["mass_g_per_m2"] / (0.96 * 0.97), rel=1e-5
    )
    again = client.get(answer.json["links"]["self"], headers={"Accept": "application/json"})
    assert again.json is not None
    assert again.json["yarn"] == answer.json["yarn"]


def test_crimp_and_contraction_at_once_are_refused_wherever_they_are_stated(
    client: FlaskClient,
) -> None:
    twice = {**TWO_YARNS["A"], "contraction_pct": 5.7}
    answer = posted(
        client,
        {
            f"{CLOTH}/warp/yarns": {"A": twice, "B": TWO_YARNS["B"]},
            f"{CLOTH}/weft/contraction_pct": 4.8,
        },
    )
    assert faults(answer) == [
        (f"{CLOTH}/warp/yarns/A/contraction_pct", 5.7),
        (f"{CLOTH}/weft/contraction_pct", 4.8),
    ]


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({f"{CLOTH}/warp/yarns": TWO_YARNS}, f"{CLOTH}/warp/crimp_pct"),
        (
            {f"{CLOTH}/weft/crimp_pct": None, f"{CLOTH}/weft/contraction_pct": 100},
            f"{CLOTH}/weft/contraction_pct",
        ),
        ({f"{CLOTH}/finishing/mass_change_pct": -100}, f"{CLOTH}/finishing/mass_change_pct"),
        ({f"{CLOTH}/finishing/finish": "mangled"}, f"{CLOTH}/finishing/finish"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(
    client: FlaskClient, changes: dict[str, Any], pointer: str
) -> None:
    assert [at for at, _ in faults(posted(client, changes))] == [pointer]


def test_a_weft_without_a_cloth_has_no_crimp(client: FlaskClient) -> None:
    body = {
        "loom": full_request()["loom"],
        "weft": {"designation": "Ne 20", "fibre": "cotton", "crimp_pct": 5},
    }
    assert faults(client.post("/v1/insertion-rates", json=body)) == [("/weft/crimp_pct", 5)]


def test_a_sheet_states_crimp_by_yarn_and_finish(client: FlaskClient) -> None:
    head = (
        "loom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,warp_contraction_pct_A,"
        "weft_yarn_A,weft_contraction_pct,finish,mass_change_pct\r\n"
    )
    row = "rapier-190-dobby,plain,152,28,24,Ne 30,7,Ne 30,5,washed,-4\r\n"
    answer = client.post("/v1/validations", data=head + row, content_type="text/csv")
    assert answer.status_code == 200
    assert b",200," in answer.data
