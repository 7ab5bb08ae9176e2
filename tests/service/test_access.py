"""Tokens: who may ask what, and what a token file may say."""

from __future__ import annotations

import hmac
import re
from base64 import b64encode
from hashlib import sha256
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from service.support import PARK_TEXT, small_request

from weavability.service import Settings, create_app
from weavability.service.access import tokens
from weavability.service.access.tokens import (
    MOST_TOKENS,
    Scope,
    TokenFileError,
    load_callers,
    make_token,
    parse_callers,
    scope_of,
)
from weavability.service.gunicorn import command
from weavability.service.requests.park import parse_park

ERP, ERP_LINES = make_token("erp", [Scope.VALIDATE])
ERP_NEXT, ERP_NEXT_LINES = make_token("erp-next", [Scope.VALIDATE])
PROBE, PROBE_LINES = make_token("probe", [Scope.METRICS])
BOTH, BOTH_LINES = make_token("both", [Scope.VALIDATE, Scope.METRICS])
FILE = "\n".join([ERP_LINES, ERP_NEXT_LINES, PROBE_LINES, BOTH_LINES])
CHALLENGE = 'Bearer realm="weavability"'
OF_BROWSERS = 'Basic realm="weavability", charset="UTF-8"'
ACCEPT_OF_BROWSERS = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> FlaskClient:
    path = tmp_path_factory.mktemp("tokens") / "tokens.toml"
    path.write_text(FILE, encoding="utf-8")
    park = parse_park(PARK_TEXT, name="park.toml")
    return create_app(Settings(tokens=path), park=park).test_client()


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


def basic(user_and_password: str) -> dict[str, str]:
    encoded = b64encode(user_and_password.encode(errors="surrogatepass")).decode()
    return {"Authorization": f"Basic {encoded}"}


class TestOverHttp:
    def test_a_valid_token_is_let_in(self, guarded: FlaskClient) -> None:
        answer = guarded.post("/v1/validations", json=small_request(), headers=bearer(ERP))
        assert answer.status_code == 200

    def test_old_and_new_are_good_at_once(self, guarded: FlaskClient) -> None:
        for token in (ERP, ERP_NEXT):
            assert guarded.get("/v1/looms", headers=bearer(token)).status_code == 200

    def test_without_a_token_it_says_how(self, guarded: FlaskClient) -> None:
        answer = guarded.get("/v1/looms")
        assert answer.status_code == 401
        # RFC 6750, section 3.1: no error code where no credentials were sent.
        assert answer.headers["WWW-Authenticate"] == CHALLENGE
        assert answer.get_json(force=True)["type"] == "/problems/unauthorized"

    @pytest.mark.parametrize(
        "authorization",
        [
            "Basic " + "a" * 5000, "Basic YQ", "Basic YQ==x", "Bearer wrong", "Bearer {token}x",
            "Bearer {digest}", "Basic {token}", "{token}",
            "Bearer", "Bearer {token} {token}", 'Bearer "{token}"', "Bearer é",
            "Bearer " + "a" * 5000,
        ],
    )  # fmt: skip
    def test_a_wrong_one_is_refused(self, guarded: FlaskClient, authorization: str) -> None:
        digest = sha256(ERP.encode()).hexdigest()
        sent = authorization.format(token=ERP, digest=digest)
        answer = guarded.get("/v1/looms", headers={"Authorization": sent})
        assert answer.status_code == 401
        assert answer.headers["WWW-Authenticate"] == f'{CHALLENGE}, error="invalid_token"'
        assert ERP not in answer.text

    @pytest.mark.parametrize("scheme", ["bearer", "BEARER", "Bearer  "])
    def test_the_scheme_is_not_sensitive_to_case(self, guarded: FlaskClient, scheme: str) -> None:
        answer = guarded.get("/v1/looms", headers={"Authorization": f"{scheme} {ERP}"})
        assert answer.status_code == 200

    @pytest.mark.parametrize(
        ("path", "name", "status"),
        [
            ("/v1/looms", "erp", 200), ("/v1/looms", "probe", 403), ("/v1/looms", "both", 200),
            ("/metrics", "erp", 403), ("/metrics", "probe", 200), ("/metrics", "both", 200),
        ],
    )  # fmt: skip
    def test_scopes_divide(self, guarded: FlaskClient, path: str, name: str, status: int) -> None:
        token = {"erp": ERP, "probe": PROBE, "both": BOTH}[name]
        answer = guarded.get(path, headers=bearer(token))
        assert answer.status_code == status
        if status == 403:
            needed = "metrics" if path == "/metrics" else "validate"
            assert (
                f'error="insufficient_scope", scope="{needed}"'
                in answer.headers["WWW-Authenticate"]
            )

    @pytest.mark.slow
    @pytest.mark.parametrize("path", ["/", "/healthz", "/readyz", "/openapi.json",
                                      "/problems/unauthorized", "/static/plain.css"])  # fmt: skip
    def test_health_and_documents_need_none(self, guarded: FlaskClient, path: str) -> None:
        assert guarded.get(path, buffered=True).status_code == 200

    @pytest.mark.slow
    def test_a_browser_is_challenged_for_the_token_and_takes_no_cookie(
        self, guarded: FlaskClient
    ) -> None:
        report = guarded.post("/v1/validations", json=small_request(), headers=bearer(ERP))
        link = report.get_json()["links"]["self"]
        for path in (link, "/"):
            refused = guarded.get(path, headers={"Accept": ACCEPT_OF_BROWSERS})
            assert (refused.status_code, refused.headers["WWW-Authenticate"]) == (401, OF_BROWSERS)
            assert refused.headers["Cache-Control"] == "no-store"
        page = guarded.get(link, headers={"Accept": ACCEPT_OF_BROWSERS, **basic(f"anna:{ERP}")})
        assert (page.status_code, page.mimetype) == (200, "text/html")
        assert "Set-Cookie" not in {*refused.headers.keys(), *page.headers.keys()}
        wrong = guarded.get(link, headers={"Accept": ACCEPT_OF_BROWSERS, **basic("anna:wrong")})
        assert (wrong.status_code, wrong.headers["WWW-Authenticate"]) == (401, OF_BROWSERS)
        # What a page fetches may be above the address at which the token was typed.
        fetched = guarded.get("/v1/looms", headers={"Sec-Fetch-Site": "same-origin"})
        assert fetched.headers["WWW-Authenticate"] == OF_BROWSERS

    @pytest.mark.parametrize(
        ("user_and_password", "status"),
        [
            ("anna:{token}", 200), (":{token}", 200), ("Jürgen:{token}", 200),
            ("{token}", 401), ("{token}:", 401), ("a:b:{token}", 401), ("anna:{token} ", 401),
            ("anna:", 401), ("", 401), ("anna:{digest}", 401), ("anna:\ud800", 401),
        ],
    )  # fmt: skip
    def test_the_password_is_the_token(
        self, guarded: FlaskClient, user_and_password: str, status: int
    ) -> None:
        digest = sha256(ERP.encode()).hexdigest()
        sent = basic(user_and_password.format(token=ERP, digest=digest))
        assert guarded.post("/v1/weaves", json={"weave": "plain"}, headers=sent).status_code == (
            status
        )

    def test_who_types_a_token_is_its_caller(
        self, tmp_path: Path, caplog: pytest.LogCaptureFixture
    ) -> None:
        """In the log and for the limits; what was typed is not logged."""
        path = tmp_path / "tokens.toml"
        path.write_text(f"{ERP_LINES}requests_per_min = 12\n{PROBE_LINES}", encoding="utf-8")
        caller = create_app(Settings(tokens=path)).test_client()
        sent = (bearer(ERP), basic(f"anna:{ERP}"), basic(f"otto:{ERP}"))
        with caplog.at_level("INFO"):
            answers = [caller.get("/v1/checks", headers=each, buffered=True) for each in sent]
        assert [each.status_code for each in answers] == [200, 200, 429]
        facts = [vars(record)["facts"] for record in caplog.records if "facts" in vars(record)]
        assert [each["caller"] for each in facts] == ["erp", "erp", "erp"]
        assert caller.get("/metrics", headers=basic(f"anna:{PROBE}")).status_code == 200
        assert not any(each in f"{facts} {caplog.text}" for each in ("anna", "otto", ERP))

    @pytest.mark.parametrize("path", ["/v1", "/v1/nowhere", "/v1/validations/v1.x", "/v1/looms/"])
    def test_what_does_not_exist_is_not_shown_to_strangers(
        self, guarded: FlaskClient, path: str
    ) -> None:
        assert guarded.get(path).status_code == 401

    def test_the_wrong_method_is_not_shown_to_strangers(self, guarded: FlaskClient) -> None:
        assert guarded.delete("/v1/looms").status_code == 401

    def test_without_a_token_file_everybody_may_ask(self, client: FlaskClient) -> None:
        assert client.get("/v1/looms").status_code == 200
        assert client.get("/metrics").status_code == 200


def test_every_digest_is_compared_wherever_the_token_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    callers = parse_callers(FILE, name="tokens.toml")
    compared: list[bytes] = []

    def counting(known: bytes, given: bytes) -> bool:
        compared.append(known)
        return hmac.compare_digest(known, given)

    class Counting:
        compare_digest = staticmethod(counting)

    monkeypatch.setattr(tokens, "hmac", Counting)
    for token in (ERP, BOTH, "unknown"):
        compared.clear()
        callers.find(token)
        assert len(compared) == 4


@given(st.text(max_size=200))
def test_only_the_token_itself_opens(other: str) -> None:
    callers = parse_callers(FILE, name="tokens.toml")
    if other not in (ERP, ERP_NEXT, PROBE, BOTH) and not re.search("[\ud800-\udfff]", other):
        assert callers.find(other) is None


class TestMakingTokens:
    def test_a_token_holds_256_random_bits(self) -> None:
        made = {make_token("erp", [Scope.VALIDATE])[0] for _ in range(50)}
        assert len(made) == 50
        assert all(re.fullmatch(r"wv_[A-Za-z0-9_-]{43}", token) for token in made)

    def test_the_lines_do_not_hold_the_token(self) -> None:
        assert ERP not in ERP_LINES
        assert sha256(ERP.encode()).hexdigest() in ERP_LINES

    def test_the_command_keeps_token_and_lines_apart(
        self, capsys: pytest.CaptureFixture[str]
    ) -> None:
        arguments = ["--new-token", "dashboard", "--scope", "validate", "--scope", "metrics"]
        assert command.main(arguments) == 0
        out, err = capsys.readouterr()
        token = err.split()[-1]
        caller = parse_callers(out, name="tokens.toml").find(token)
        assert caller is not None
        assert caller.name == "dashboard"
        assert caller.scopes == {Scope.VALIDATE, Scope.METRICS}
        assert token not in out

    @pytest.mark.parametrize("name", ["", "a b", 'a"b', "a\nb", "x" * 65, "-a", "ä"])
    def test_a_name_that_is_none_is_refused(
        self, name: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert command.main([f"--new-token={name}"]) == 2
        assert "name" in capsys.readouterr().err


class TestTokenFile:
    @pytest.mark.parametrize(
        ("change", "said"),
        [
            (('name = "erp"', 'name = "e r p"'), "token 1, name"),
            (('name = "erp"', ""), "token 1, name"),
            (('name = "erp-next"', 'name = "erp"'), "token 2, name: another token"),
            (('sha256 = "', 'sha256 = "x'), "token 1, sha256"),
            (('scopes = ["validate"]', "scopes = []"), "token 1, scopes"),
            (('scopes = ["validate"]', 'scopes = ["all"]'), "token 1, scopes"),
            (('scopes = ["validate"]', 'scopes = "validate"'), "token 1, scopes"),
            (('name = "erp"', 'name = "erp"\ntoken = "x"'), "token 1, token: there is no such"),
            (('name = "erp"', 'name = "erp"\nrequests_per_min = 0'), "token 1, requests_per_min"),
            (('name = "erp"', 'name = "erp"\nrequests_per_min = true'), "token 1, requests_per_"),
            (("[[token]]", "[[tokens]]"), "[[token]] tables"),
            (("[[token]]", "[[token"), "is not TOML"),
        ],
    )
    def test_what_is_wrong_is_reported(self, change: tuple[str, str], said: str) -> None:
        with pytest.raises(TokenFileError) as caught:
            parse_callers(FILE.replace(*change, 1), name="tokens.toml")
        assert said in str(caught.value)
        assert not re.search("[0-9a-f]{64}", str(caught.value))

    def test_all_faults_are_reported_at_once(self) -> None:
        text = FILE.replace('name = "erp"', "name = 1").replace('["metrics"]', "[]")
        with pytest.raises(TokenFileError) as caught:
            parse_callers(text, name="tokens.toml")
        assert "token 1, name" in str(caught.value)
        assert "token 3, scopes" in str(caught.value)

    def test_the_same_digest_twice_is_a_slip(self) -> None:
        double = ERP_LINES + ERP_LINES.replace('"erp"', '"other"')
        with pytest.raises(TokenFileError, match="token 2, sha256: another token"):
            parse_callers(double, name="tokens.toml")

    @pytest.mark.parametrize(("number", "good"), [(MOST_TOKENS, True), (MOST_TOKENS + 1, False)])
    def test_how_many_there_may_be(self, number: int, good: bool) -> None:
        text = "".join(
            f'[[token]]\nname = "t{each}"\nsha256 = "{each:064x}"\nscopes = ["metrics"]\n'
            for each in range(number)
        )
        if good:
            assert len(parse_callers(text, name="t").known) == number
        else:
            with pytest.raises(TokenFileError):
                parse_callers(text, name="t")

    @pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"#" * (2**20 + 1)])
    def test_a_file_that_is_none_is_refused(self, tmp_path: Path, content: bytes) -> None:
        path = tmp_path / "tokens.toml"
        path.write_bytes(content)
        with pytest.raises(TokenFileError, match=r"tokens\.toml"):
            load_callers(path)

    def test_a_missing_file_ends_the_command(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        arguments = ["--bind", "0.0.0.0:80", "--tokens", str(tmp_path / "none.toml")]
        assert command.main(arguments) == 2
        assert "none.toml cannot be read" in capsys.readouterr().err


@pytest.mark.parametrize(
    "path", ["/v1", "/v1/looms", "/v1//looms", "/v1/%00", "/v10", "/V1/looms", "/metrics/", "/new"]
)
def test_whatever_is_not_open_needs_validate(path: str) -> None:
    """So that no page that is added is open because nobody thought of it."""
    assert scope_of(path) is Scope.VALIDATE


@pytest.mark.parametrize("path", ["/docs", "/evidence", "/problems/busy", "/static/plain.css"])
def test_what_has_nothing_of_a_mill_is_open(path: str) -> None:
    assert scope_of(path, page=True) is None
