"""The client against a played service."""

from __future__ import annotations

import ast
import dataclasses
import json
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import requests
import responses
from client.recorded import sample

import weavability_client
from weavability_client import (
    AnswerUnreadable,
    ApiError,
    Client,
    ConnectionFailed,
    Construction,
    InvalidInput,
    Loom,
    NotAuthenticated,
    NotFound,
    Report,
    ServiceFault,
    Sweep,
    TimedOut,
    TooManyRequests,
    UsageError,
    ValidationRequest,
    VariedField,
    Watched,
    WeavabilityError,
    Yarn,
)
from weavability_client.errors import BY_STATUS

URL = "http://mill.example:8080"
VALIDATIONS = f"{URL}/v1/validations"
REQUEST: dict[str, Any] = sample("weavable")["request"]
ANSWER: dict[str, Any] = sample("weavable")["answer"]
CONSTRUCTION: dict[str, Any] = REQUEST["construction"]
LOOM: dict[str, Any] = {
    "loom_id": "L 1/2",
    "insertion": {"system": "rapier"},
    "reed_width_cm": 190.0,
    "max_speed_picks_per_min": 500.0,
    "shedding": {"kind": "dobby", "shafts": 16},
}


@pytest.fixture
def played() -> Iterator[responses.RequestsMock]:
    with responses.RequestsMock() as mock:
        yield mock


@pytest.fixture(autouse=True)
def pauses(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Collect the pauses instead of sleeping."""
    slept: list[float] = []
    monkeypatch.setattr("weavability_client.client.time.sleep", slept.append)
    return slept


@pytest.fixture(autouse=True)
def _bare_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("WEAVABILITY_URL", "WEAVABILITY_TOKEN"):
        monkeypatch.delenv(name, raising=False)


def sent(played: responses.RequestsMock, index: int = -1) -> Any:
    """Return the JSON body of a request that was sent."""
    calls: list[Any] = list(played.calls)
    return json.loads(calls[index].request.body)


def headers(played: responses.RequestsMock) -> Any:
    calls: list[Any] = list(played.calls)
    return calls[-1].request.headers


def problem(status: int, **members: object) -> dict[str, Any]:
    return {
        "status": status,
        "json": {"title": "T", "detail": "D", "status": status, **members},
        "content_type": "application/problem+json",
    }


def test_a_dict_goes_in_and_a_typed_report_comes_out(played: responses.RequestsMock) -> None:
    played.post(VALIDATIONS, json=ANSWER)
    with Client(URL) as client:
        report = client.validate(CONSTRUCTION, loom_id="rapier-280-jacquard")
    assert report == Report.from_json(ANSWER)
    assert sent(played) == {"construction": CONSTRUCTION, "loom_id": "rapier-280-jacquard"}


def test_dataclasses_go_in_as_the_same_json(played: responses.RequestsMock) -> None:
    played.post(VALIDATIONS, json=ANSWER)
    Client(URL).validate(Construction.from_json(CONSTRUCTION), loom=Loom.from_json(LOOM))
    assert sent(played)["construction"] == CONSTRUCTION
    assert sent(played)["loom"]["shedding"] == {"kind": "dobby", "shafts": 16}


def test_the_token_is_sent_as_bearer(played: responses.RequestsMock) -> None:
    played.get(f"{URL}/v1/looms", json={"looms": []})
    Client(URL, token="abc").looms()
    assert headers(played)["Authorization"] == "Bearer abc"


def test_without_a_token_nothing_takes_its_place(
    played: responses.RequestsMock, tmp_path: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    netrc = tmp_path / "netrc"
    netrc.write_text("machine mill.example login somebody password secret\n")
    monkeypatch.setenv("NETRC", str(netrc))
    played.get(f"{URL}/v1/looms", json={"looms": []})
    Client(URL).looms()
    assert "Authorization" not in headers(played)


def test_address_and_token_come_from_the_environment(
    played: responses.RequestsMock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WEAVABILITY_URL", URL + "/")
    monkeypatch.setenv("WEAVABILITY_TOKEN", "from-outside\n")
    played.get(f"{URL}/v1/looms", json={"looms": []})
    client = Client()
    client.looms()
    assert client.base_url == URL
    assert headers(played)["Authorization"] == "Bearer from-outside"


def test_an_empty_token_switches_the_environments_off(
    played: responses.RequestsMock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WEAVABILITY_TOKEN", "from-outside")
    played.get(f"{URL}/v1/looms", json={"looms": []})
    Client(URL, token="").looms()
    assert "Authorization" not in headers(played)


def test_without_an_address_the_message_says_where_to_give_one() -> None:
    with pytest.raises(UsageError, match="WEAVABILITY_URL"):
        Client()


@pytest.mark.parametrize("wrong", [{"retries": -1}, {"pool_size": 0}])
def test_policies_out_of_range_are_refused(wrong: dict[str, int]) -> None:
    with pytest.raises(UsageError):
        Client(URL, **wrong)  # type: ignore[arg-type]


def test_the_token_is_in_no_repr() -> None:
    assert "secret" not in repr(Client(URL, token="secret"))


def test_looms_and_checks_are_typed(played: responses.RequestsMock) -> None:
    check = sample("check")["answer"] | {"code": "width.reed_space", "new": 1}
    played.get(f"{URL}/v1/looms", json={"looms": [LOOM]})
    played.get(f"{URL}/v1/looms/L%201%2F2", json=LOOM)
    played.get(f"{URL}/v1/checks", json={"ruleset": "r", "checks": [check]})
    played.get(f"{URL}/v1/checks/width.reed_space", json=check)
    client = Client(URL)
    assert client.looms() == (client.loom("L 1/2"),)
    assert client.checks() == (client.check("width.reed_space"),)
    assert client.check("width.reed_space").extra == {"new": 1}


@pytest.mark.parametrize("answer", [[], {}, {"looms": {}}, {"looms": [3]}])
def test_a_list_of_another_shape_is_explained(
    played: responses.RequestsMock, answer: object
) -> None:
    played.get(f"{URL}/v1/looms", json=answer)
    with pytest.raises(WeavabilityError, match="looms"):
        Client(URL).looms()


@pytest.mark.parametrize("start", ["", URL])
def test_a_report_is_had_again_from_its_link(played: responses.RequestsMock, start: str) -> None:
    played.get(f"{VALIDATIONS}/v1.abc", json=ANSWER)
    assert Client(URL).report(f"{start}/v1/validations/v1.abc").verdict == "weavable"


@pytest.mark.parametrize(
    "link",
    [
        "http://evil.example/v1/validations/x",
        "//evil.example/v1/validations/x",
        "/v1/looms",
        "@evil",
    ],
)
def test_a_link_to_elsewhere_is_never_followed(link: str) -> None:
    with pytest.raises(UsageError, match="not a report's link"):
        Client(URL, token="abc").report(link)


def test_an_unchanged_report_is_none(played: responses.RequestsMock) -> None:
    played.get(f"{VALIDATIONS}/v1.abc", status=304)
    assert Client(URL).poll("/v1/validations/v1.abc", "e1") is None
    assert headers(played)["If-None-Match"] == '"e1"'


def test_a_changed_report_comes_whole(played: responses.RequestsMock) -> None:
    played.get(f"{VALIDATIONS}/v1.abc", json=ANSWER)
    report = Client(URL).poll("/v1/validations/v1.abc", "e1")
    assert report is not None
    assert report.etag == ANSWER["validation_id"] != "e1"


def test_changes_are_requested_by_report_or_by_link(played: responses.RequestsMock) -> None:
    report = Report.from_json(ANSWER)
    changes = sample("changes")["answer"]
    played.post(f"{URL}/v1/validation-changes", json=changes)
    known = Watched(link="/v1/validations/v1.x", etag="e")
    changed = Client(URL).changes([report, known, {"link": "y", "etag": "z"}])
    first, *others = sent(played)["items"]
    assert first["link"] == report.link
    assert first["etag"] == report.etag
    assert first["codes"] == [each.code for each in report.findings]
    assert others == [{"link": "/v1/validations/v1.x", "etag": "e"}, {"link": "y", "etag": "z"}]
    assert [each.index for each in changed] == [0, 1, 2]
    assert changed[0].findings_cleared == ("reed.not_in_stock",)
    assert changed[1].findings_added is None
    assert changed[2].problem is not None


def test_many_reports_are_polled_in_few_questions(
    played: responses.RequestsMock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def last_has_changed(request: Any) -> tuple[int, dict[str, str], str]:
        items = json.loads(request.body)["items"]
        changed = [{"index": len(items) - 1, "link": items[-1]["link"], "etag": "new"}]
        return 200, {"Content-Type": "application/json"}, json.dumps({"items": changed})

    monkeypatch.setattr("weavability_client.policies.CHANGES_ITEMS", 4)
    played.add_callback("POST", f"{URL}/v1/validation-changes", last_has_changed)
    asked = [Watched(link=f"l{place}", etag="e") for place in range(10)]
    changed = Client(URL).changes(iter(asked))
    assert [(each.index, each.link) for each in changed] == [(3, "l3"), (7, "l7"), (9, "l9")]


def test_a_report_without_a_link_cannot_be_watched() -> None:
    report = dataclasses.replace(Report.from_json(ANSWER), links={"self": None})
    with pytest.raises(UsageError, match="has no link"):
        Client(URL).changes([report])


VARIED = VariedField(pointer="/construction/width_cm", start=100, stop=200)

CALLS: dict[str, tuple[str, str, Callable[[Client], object]]] = {
    "weavable": ("POST", "/v1/validations", lambda c: c.validate(CONSTRUCTION, loom_id="L")),
    "rates": (
        "POST",
        "/v1/insertion-rates",
        lambda c: c.insertion_rate(loom_id="L", construction=CONSTRUCTION),
    ),
    "drawn_rates": (
        "POST",
        "/v1/insertion-rates",
        lambda c: c.draw_insertion(loom_id="L", construction=CONSTRUCTION),
    ),
    "decisive": (
        "POST",
        "/v1/validations",
        lambda c: c.validate(CONSTRUCTION, loom_id="L", decisive_assumptions=True),
    ),
    "window": (
        "POST",
        "/v1/windows",
        lambda c: c.window(CONSTRUCTION, across=VARIED, along=VARIED, loom_id="L"),
    ),
    "drawn_window": (
        "POST",
        "/v1/windows",
        lambda c: c.draw_window(CONSTRUCTION, across=VARIED, along=VARIED, loom_id="L"),
    ),
    "matches": ("POST", "/v1/loom-matches", lambda c: c.match_looms(CONSTRUCTION)),
    "remedies": ("POST", "/v1/remedies", lambda c: c.remedies(CONSTRUCTION, loom_id="L")),
    "changeover": (
        "POST",
        "/v1/changeovers",
        lambda c: c.changeover(CONSTRUCTION, CONSTRUCTION, loom_id="L"),
    ),
    "sequence": (
        "POST",
        "/v1/changeovers",
        lambda c: c.sequence([CONSTRUCTION], loom_id="L", on_loom=CONSTRUCTION),
    ),
    "changes": ("POST", "/v1/validation-changes", lambda c: c.changes([{"link": "l"}])),
    "weave": ("POST", "/v1/weaves", lambda c: c.analyse_weave("2/2 twill Z", ends_per_cm=32)),
    "drawn_weave": ("POST", "/v1/weaves", lambda c: c.draw_weave("plain", view="cloth_face")),
    "design": ("POST", "/v1/designs", lambda c: c.design(CONSTRUCTION, loom_id="L")),
    "notations": ("GET", "/v1/weaves", lambda c: c.notations()),
    "loom": ("GET", "/v1/looms/L", lambda c: c.loom("L")),
    "check": ("GET", "/v1/checks/sett.tight", lambda c: c.check("sett.tight")),
}


@pytest.mark.parametrize("name", CALLS)
def test_every_operation_reads_its_recorded_answer(
    played: responses.RequestsMock, name: str
) -> None:
    method, path, call = CALLS[name]
    recorded = sample(name)
    written = recorded["answer"]
    body = written if isinstance(written, str) else json.dumps(written)
    played.add(method, f"{URL}{path}", body=body, content_type=recorded["content_type"])
    assert call(Client(URL))


@pytest.mark.slow
@pytest.mark.parametrize("name", CALLS)
def test_every_status_of_every_operation_is_its_own_error(
    played: responses.RequestsMock, name: str
) -> None:
    method, path, call = CALLS[name]
    for status, error in BY_STATUS.items():
        added = played.add(method, f"{URL}{path}", **problem(status, request_id="r-1"))
        with pytest.raises(error, match=rf"^{status}: .+\[request r-1\]") as caught:
            call(Client(URL, retries=0))
        assert type(caught.value) is error
        assert caught.value.problem.title == "T"
        played.remove(added)


@pytest.mark.parametrize("body", ["[]", "null", "7", '{"x": 1}', "", "{"])
def test_every_operation_explains_an_answer_of_another_shape(
    played: responses.RequestsMock, body: str
) -> None:
    for method, path, call in CALLS.values():
        added = played.add(method, f"{URL}{path}", body=body, content_type="application/json")
        with pytest.raises(AnswerUnreadable, match=r"\w"):
            call(Client(URL))
        played.remove(added)


def test_what_is_stated_is_sent_and_nothing_else(played: responses.RequestsMock) -> None:
    played.post(f"{URL}/v1/insertion-rates", json=sample("rates")["answer"])
    Client(URL).insertion_rate(
        loom=Loom.from_json(LOOM),
        weft=Yarn(designation="Ne 20"),
        reed_width_cm=160,
        feeders=2,
        sweep=Sweep(over="speed_picks_per_min", start=300, stop=600),
    )
    body = sent(played)
    assert body.pop("loom")["loom_id"] == "L 1/2"
    assert body == {
        "weft": {"designation": "Ne 20"},
        "reed_width_cm": 160,
        "feeders": 2,
        "sweep": {"over": "speed_picks_per_min", "from": 300, "to": 600},
    }


def test_a_drawing_is_shown_and_saved(played: responses.RequestsMock, tmp_path: Path) -> None:
    recorded = sample("drawn_rates")
    played.post(f"{URL}/v1/insertion-rates", body=recorded["answer"], content_type="image/svg+xml")
    drawing = Client(URL).draw_insertion(loom_id="L", weft={"designation": "Ne 20"})
    assert headers(played)["Accept"].startswith("image/svg+xml")
    assert drawing.save(tmp_path / "pick.svg").read_text("utf-8") == drawing.svg
    assert str(drawing) == drawing._repr_svg_() == recorded["answer"]
    assert "characters of SVG" in repr(drawing)


def test_a_refused_field_is_an_error_with_its_pointer(played: responses.RequestsMock) -> None:
    played.post(VALIDATIONS, **problem(422) | {"json": sample("invalid")["answer"]})
    with pytest.raises(InvalidInput) as caught:
        Client(URL).validate(CONSTRUCTION, loom_id="rapier-190-doby")
    assert caught.value.pointer == "/construction/warp/ends_per_cm"
    assert len(caught.value.errors) == 4
    assert "Did you mean 'cotton'" in str(caught.value)


@pytest.mark.parametrize("status", [429, 502, 503, 504])
def test_a_post_is_sent_again_where_that_may_help(
    played: responses.RequestsMock, pauses: list[float], status: int
) -> None:
    played.post(VALIDATIONS, **problem(status))
    played.post(VALIDATIONS, body=requests.exceptions.ConnectionError("reset"))
    played.post(VALIDATIONS, json=ANSWER)
    assert Client(URL).validate(CONSTRUCTION, loom_id="L").ok
    assert len(pauses) == 2


def test_no_more_attempts_are_made_than_allowed(
    played: responses.RequestsMock, pauses: list[float]
) -> None:
    for _ in range(3):
        played.get(f"{URL}/v1/looms", **problem(503))
    with pytest.raises(ServiceFault):
        Client(URL, retries=2).looms()
    assert len(pauses) == 2


def test_without_retries_the_first_failure_is_raised(played: responses.RequestsMock) -> None:
    played.get(f"{URL}/v1/looms", body=requests.exceptions.ReadTimeout("slow"))
    with pytest.raises(TimedOut, match="longer timeout"):
        Client(URL, retries=0).looms()


@pytest.mark.parametrize("status", [400, 404, 422, 500])
def test_what_stays_wrong_is_sent_once(
    played: responses.RequestsMock, pauses: list[float], status: int
) -> None:
    played.get(f"{URL}/v1/looms", **problem(status))
    with pytest.raises(ApiError):
        Client(URL).looms()
    assert pauses == []


def test_retry_after_is_honoured(played: responses.RequestsMock, pauses: list[float]) -> None:
    played.get(f"{URL}/v1/looms", headers={"Retry-After": "4"}, **problem(429))
    played.get(f"{URL}/v1/looms", json={"looms": []})
    Client(URL).looms()
    assert pauses == [4.0]


def test_a_long_retry_after_is_raised(played: responses.RequestsMock, pauses: list[float]) -> None:
    played.get(f"{URL}/v1/looms", headers={"Retry-After": "3600"}, **problem(429))
    with pytest.raises(TooManyRequests) as caught:
        Client(URL).looms()
    assert caught.value.retry_after_s == 3600
    assert pauses == []


def test_no_connection_is_reported_with_the_address(played: responses.RequestsMock) -> None:
    played.get(f"{URL}/v1/looms", body=requests.exceptions.ConnectionError("refused"))
    with pytest.raises(ConnectionFailed, match=r"mill\.example.*Is the service running"):
        Client(URL, retries=0).looms()


def test_a_redirect_takes_the_token_nowhere(played: responses.RequestsMock) -> None:
    played.get(f"{URL}/v1/looms", status=307, headers={"Location": "http://evil.example/"})
    with pytest.raises(WeavabilityError, match="redirects to"):
        Client(URL, token="abc").looms()
    assert len(played.calls) == 1


def test_an_endless_answer_is_cut_off(
    played: responses.RequestsMock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("weavability_client._transport.MAX_ANSWER_BYTES", 100)
    played.get(f"{URL}/v1/looms", body=b"[" + b" " * 100, content_type="application/json")
    with pytest.raises(WeavabilityError, match="larger than 100 bytes"):
        Client(URL).looms()


def test_an_answer_at_the_cap_is_read(
    played: responses.RequestsMock, monkeypatch: pytest.MonkeyPatch
) -> None:
    body = b'{"looms": []}'
    monkeypatch.setattr("weavability_client._transport.MAX_ANSWER_BYTES", len(body))
    played.get(f"{URL}/v1/looms", body=body, content_type="application/json")
    assert Client(URL).looms() == ()


def test_a_session_of_the_callers_own_is_used_and_left_open(played: responses.RequestsMock) -> None:
    session = requests.Session()
    session.headers["X-Mill"] = "east"
    played.get(f"{URL}/v1/looms", json={"looms": []})
    with Client(URL, session=session) as client:
        client.looms()
    played.get(f"{URL}/v1/looms", json={"looms": []})
    client.looms()
    assert headers(played)["X-Mill"] == "east"


def test_a_closed_client_opens_again(played: responses.RequestsMock) -> None:
    played.get(f"{URL}/v1/looms", json={"looms": []})
    client = Client(URL)
    client.looms()
    client.close()
    client.close()
    assert client.looms() == ()


def by_reference(request: Any) -> tuple[int, dict[str, str], str]:
    """Answer as the service would, by the reference of the order."""
    reference = json.loads(request.body)["construction"]["reference"]
    if reference.startswith("bad"):
        refusal = {
            "status": 422,
            "errors": [{"pointer": "/construction/weave", "message": "no weave"}],
        }
        return 422, {"Content-Type": "application/problem+json"}, json.dumps(refusal)
    return 200, {"Content-Type": "application/json"}, json.dumps(ANSWER | {"reference": reference})


def batch(*references: str) -> list[dict[str, Any]]:
    return [
        {"construction": CONSTRUCTION | {"reference": each}, "loom_id": "L"} for each in references
    ]


def test_a_bad_item_spoils_only_itself_and_the_order_is_kept(
    played: responses.RequestsMock,
) -> None:
    played.add_callback("POST", VALIDATIONS, by_reference)
    results = list(Client(URL).validate_many(batch("a", "bad", "c", "d")))
    assert [result.index for result in results] == [0, 1, 2, 3]
    references = [result.report.reference if result.report else None for result in results]
    assert references == ["a", None, "c", "d"]
    assert isinstance(results[1].error, InvalidInput)
    with pytest.raises(InvalidInput, match="no weave"):
        results[1].unwrap()
    assert results[0].unwrap().reference == "a"


def test_an_item_that_is_no_json_spoils_only_itself(played: responses.RequestsMock) -> None:
    played.add_callback("POST", VALIDATIONS, by_reference)
    items = batch("a", "b")
    items[0]["construction"]["width_cm"] = float("nan")
    first, second = Client(URL).validate_many(items)
    assert isinstance(first.error, UsageError)
    assert second.report is not None


def test_typed_items_are_taken_too(played: responses.RequestsMock) -> None:
    played.add_callback("POST", VALIDATIONS, by_reference)
    item = ValidationRequest(construction=Construction.from_json(CONSTRUCTION), loom_id="L")
    (result,) = Client(URL).validate_many([item])
    assert result.unwrap().ok
    assert sent(played) == {"construction": CONSTRUCTION, "loom_id": "L"}


def test_progress_counts_up_to_the_total_where_it_is_known(played: responses.RequestsMock) -> None:
    played.add_callback("POST", VALIDATIONS, by_reference)
    seen: list[tuple[int, int | None]] = []
    for _ in Client(URL).validate_many(batch("a", "b"), progress=lambda *each: seen.append(each)):
        pass
    for _ in Client(URL).validate_many(iter(batch("c")), progress=lambda *each: seen.append(each)):
        pass
    assert seen == [(1, 2), (2, 2), (1, None)]


def test_a_wrong_token_ends_the_batch(played: responses.RequestsMock) -> None:
    played.post(VALIDATIONS, **problem(401))
    with pytest.raises(NotAuthenticated):
        list(Client(URL).validate_many(batch("a", "b")))


def test_a_service_out_of_reach_ends_the_batch(played: responses.RequestsMock) -> None:
    played.post(VALIDATIONS, body=requests.exceptions.ConnectionError("gone"))
    with pytest.raises(ConnectionFailed):
        list(Client(URL, retries=0, pool_size=1).validate_many(batch("a")))


@pytest.mark.slow
def test_one_client_serves_many_threads(played: responses.RequestsMock) -> None:
    played.add_callback("POST", VALIDATIONS, by_reference)
    client = Client(URL)
    wrong: list[str] = []

    def work(name: str) -> None:
        for number in range(5):
            wanted = f"{name}-{number}"
            report = client.validate(CONSTRUCTION | {"reference": wanted}, loom_id="L")
            if report.reference != wanted:
                wrong.append(wanted)

    threads = [threading.Thread(target=work, args=(f"t{number}",)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    assert len(played.calls) == 40


def test_not_found_says_what_to_look_at(played: responses.RequestsMock) -> None:
    played.get(f"{URL}/v1/looms/X", **problem(404, detail="There is no loom X."))
    with pytest.raises(NotFound, match=r"base_url.*There is no loom X\."):
        Client(URL).loom("X")


def test_every_public_name_is_exported_and_documented() -> None:
    for name in weavability_client.__all__:
        exported = getattr(weavability_client, name)
        assert name == "__version__" or exported.__doc__, name


def test_everything_public_says_what_it_is() -> None:
    package = Path(weavability_client.__file__).parent
    bare = []
    for path in package.rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        bare += [f"{path.name}: {each}" for each in undocumented(tree, path.stem)]
    assert bare == []


def undocumented(node: ast.Module | ast.ClassDef, name: str) -> Iterator[str]:
    """Public modules, classes, functions and methods without a docstring."""
    if ast.get_docstring(node) is None:
        yield name
    for each in node.body:
        match each:
            case ast.ClassDef(name=inner) if not inner.startswith("_"):
                yield from undocumented(each, inner)
            case ast.FunctionDef(name=inner) if not inner.startswith("_"):
                yield from () if ast.get_docstring(each) else (f"{name}.{inner}",)


@pytest.mark.slow
def test_importing_the_client_loads_nothing_of_the_server() -> None:
    program = (
        "import sys, weavability_client; "
        "print([n for n in sys.modules "
        "if n.split('.')[0] in ('weavability', 'flask', 'numpy', 'requests')])"
    )
    printed = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    ).stdout
    assert printed.strip() == "[]"
