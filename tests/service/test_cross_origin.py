"""Dashboards of other origins: what a browser lets their scripts send and read (CORS)."""

from __future__ import annotations

from typing import Any, Final

import pytest
from flask.testing import FlaskClient
from service.support import small_request

from weavability.service import Settings, create_app
from weavability.service.access.cross_origin import EXPOSED, as_origin
from weavability.service.access.tokens import Scope, make_token
from weavability.service.gunicorn import command
from weavability.service.openapi.documented_responses import HEADERS

BOARD: Final = "https://board.example"
OTHER: Final = "https://board.example.attacker.example"
PREFLIGHT: Final = {
    "Access-Control-Request-Method": "POST",
    "Access-Control-Request-Headers": "authorization,content-type",
}
TOKEN, LINES = make_token("board", [Scope.VALIDATE])
ALLOWED: Final = "Access-Control-Allow-Origin"


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> FlaskClient:
    path = tmp_path_factory.mktemp("tokens") / "tokens.toml"
    path.write_text(LINES, encoding="utf-8")
    origins = frozenset({BOARD, "http://[::1]:8000"})
    return create_app(Settings(tokens=path, allow_origins=origins)).test_client()


def shared(answer: Any) -> list[str]:
    """The headers by which a browser lets others read an answer."""
    return [name for name, _ in answer.headers if name.startswith("Access-Control-")]


def test_an_allowed_script_may_send_and_read(guarded: FlaskClient) -> None:
    asked = guarded.options("/v1/validations", headers={"Origin": BOARD, **PREFLIGHT})
    assert (asked.status_code, asked.data) == (204, b"")
    assert asked.headers[ALLOWED] == BOARD
    assert set(asked.headers["Access-Control-Allow-Methods"].split(", ")) >= {"POST", "QUERY"}
    sent = asked.headers["Access-Control-Allow-Headers"].lower().split(", ")
    assert {"authorization", "content-type", "if-none-match", "x-request-id"} <= set(sent)
    assert int(asked.headers["Access-Control-Max-Age"]) > 0

    answer = guarded.post(
        "/v1/validations",
        json=small_request(),
        headers={"Origin": BOARD, "Authorization": f"Bearer {TOKEN}"},
    )
    assert (answer.status_code, answer.headers[ALLOWED]) == (200, BOARD)
    exposed = answer.headers["Access-Control-Expose-Headers"].split(", ")
    assert {"ETag", "Content-Location", "X-Request-Id"} <= {*exposed} & {*answer.headers.keys()}
    assert "Origin" in answer.vary

    link = answer.get_json()["links"]["self"]
    same = {"Origin": BOARD, "Authorization": f"Bearer {TOKEN}"}
    for more, status in (({"If-None-Match": answer.headers["ETag"]}, 304), ({}, 200)):
        again = guarded.get(link, headers={**same, **more})
        assert (again.status_code, again.headers[ALLOWED]) == (status, BOARD)


@pytest.mark.parametrize("path", ["/v1/looms", "/nowhere"])
def test_an_allowed_script_reads_why_it_was_refused(guarded: FlaskClient, path: str) -> None:
    refused = guarded.get(path, headers={"Origin": BOARD, "Sec-Fetch-Site": "cross-site"})
    assert (refused.status_code, refused.headers[ALLOWED]) == (401, BOARD)
    assert refused.headers["WWW-Authenticate"].startswith("Bearer ")


@pytest.mark.parametrize("origin", [OTHER, "null", "https://BOARD.example", f"{BOARD}:443", "*"])
def test_others_read_nothing(guarded: FlaskClient, origin: str) -> None:
    asked = guarded.options("/v1/validations", headers={"Origin": origin, **PREFLIGHT})
    assert asked.status_code == 401  # it is no preflight, and so needs a token
    answer = guarded.get("/readyz", headers={"Origin": origin})
    for each in (asked, answer):
        assert not shared(each)
        assert "Origin" in each.vary


def test_nobody_is_let_in_with_what_a_browser_keeps(guarded: FlaskClient) -> None:
    """Neither to read with it, nor to weaken what our own pages may be used for."""
    for path in ("/board", "/readyz", "/evidence"):
        page = guarded.get(path, headers={"Origin": BOARD, "Accept": "text/html, */*"})
        assert page.headers[ALLOWED] == BOARD
        assert "Access-Control-Allow-Credentials" not in page.headers
        assert page.headers["X-Frame-Options"] == "DENY"
        assert page.headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert "frame-ancestors 'none'" in page.headers["Content-Security-Policy"]
        assert BOARD not in page.headers["Content-Security-Policy"]


def test_it_is_off_unless_an_origin_is_stated(client: FlaskClient) -> None:
    for answer in (
        client.options("/v1/validations", headers={"Origin": BOARD, **PREFLIGHT}),
        client.get("/v1/looms", headers={"Origin": BOARD}),
    ):
        assert not shared(answer)
        assert "Origin" not in answer.vary


def test_every_documented_header_can_be_read() -> None:
    assert set(HEADERS) <= set(EXPOSED)


class TestStating:
    @pytest.mark.parametrize(
        "text",
        [
            "", "*", "null", "board.example", "https://", "https://*.example", f"{BOARD}/",
            f"{BOARD}/x", "https://Board.example", "ftp://board.example", "https://a@b.example",
            f"{BOARD}:443", "http://board.example:80", "https://bücher.example", f"{BOARD},{BOARD}",
            f"{BOARD}\n", "https://-.example", "https://board.example:",
        ],
    )  # fmt: skip
    def test_what_is_no_origin_is_refused(
        self, text: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        with pytest.raises(ValueError, match=r"not an origin|usual port"):
            as_origin(text)
        with pytest.raises(SystemExit) as ended:
            command.main([f"--allow-origin={text}"])
        assert ended.value.code == 2
        assert "--allow-origin" in capsys.readouterr().err

    def test_the_command_takes_several(self) -> None:
        stated = ["--allow-origin", BOARD, "--allow-origin", "http://10.0.0.7:8000"]
        settings = command._settings(command._parser().parse_args(stated))
        assert settings.allow_origins == {BOARD, "http://10.0.0.7:8000"}
