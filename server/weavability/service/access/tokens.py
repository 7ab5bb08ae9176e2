"""Callers by their tokens, of which the service stores only digests.

Programs send a token as a bearer (RFC 6750); browsers, which can send none by themselves, as the
password of HTTP Basic (RFC 7617) with any name. A browser keeps it and sends it with every further
request, also with one that another site makes it send. That site reads no answer, no request
changes anything here, and no page may be framed; what it can do is to spend the caller's limits.

A token is 256 random bits, so a plain SHA-256 keeps it: there is nothing to guess, and slow hashing
would only serve those who want to keep the service busy. Several tokens are good at once, so that
one can be replaced without a gap: add the new one, reload, change the caller, take the old one out.
"""

from __future__ import annotations

import binascii
import hmac
import re
import secrets
from base64 import b64decode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.textiles.sentences import Sentence, say
from weavability.textiles.toml_files import TomlFileError, parse_toml, read_text

MOST_TOKENS: Final = 1_000
LONGEST_FILE: Final = 2**20
MOST_PER_MIN: Final = 1_000_000
MOST_WORK_PER_MIN: Final = 100_000_000
_LIMITS: Final = MappingProxyType(
    {"requests_per_min": MOST_PER_MIN, "work_per_min": MOST_WORK_PER_MIN}
)
_TOKEN_BYTES: Final = 32
_PREFIX: Final = "wv_"
_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_DIGEST: Final = re.compile(r"[0-9a-f]{64}")
_BEARER: Final = re.compile(r"(?i:bearer) +([A-Za-z0-9._~+/-]{1,512}=*)")
_BASIC: Final = re.compile(r"(?i:basic) +([A-Za-z0-9+/]{1,2048}={0,2})")
_REALM: Final = 'Bearer realm="weavability"'
_OF_BROWSERS: Final = 'Basic realm="weavability", charset="UTF-8"'
_OPEN: Final = frozenset({"/", "/healthz", "/readyz", "/openapi.json", "/docs", "/evidence"})
_OPEN_BELOW: Final = ("/problems/", "/static/")
"""Addresses that need no token: none of them has or computes anything of a mill."""


class TokenFileError(ValueError):
    """The token file cannot be used; the message names file, token and field."""


class Scope(StrEnum):
    """The permissions of a token."""

    VALIDATE = "validate"  # everything under /v1
    METRICS = "metrics"  # /metrics


@dataclass(frozen=True, slots=True, kw_only=True)
class Caller:
    """Somebody with a token.

    Attributes:
        name: Identifies the caller in the log and nowhere else.
        digest: SHA-256 of the token.
        scopes: What the token allows.
        requests_per_min: The caller's own limit; the service's if there is none.
        work_per_min: The same for units of work.
    """

    name: str
    digest: bytes
    scopes: frozenset[Scope]
    requests_per_min: int | None = None
    work_per_min: int | None = None


@dataclass(frozen=True, slots=True)
class Callers:
    """Everybody with a token."""

    known: tuple[Caller, ...]

    def find(self, token: str) -> Caller | None:
        """Return the caller of ``token``; takes as long whether and wherever it is found."""
        digest = sha256(token.encode()).digest()
        found = None
        for caller in self.known:
            if hmac.compare_digest(caller.digest, digest):
                found = caller
        return found

    def admit(self, authorization: str, scope: Scope, *, browser: bool = False) -> Caller:
        """Return the caller who sent this ``Authorization`` header, if ``scope`` is theirs.

        Args:
            authorization: The header, empty if there is none.
            scope: What is needed.
            browser: Whether a browser asks, which then lets its user type the token.

        Raises:
            ProblemError: 401, there is no valid token; 403, it does not allow this.
        """
        if not authorization:
            raise _unauthorized(
                say(
                    "problem.no_token",
                    "Send Authorization: Bearer and your token, or, in a browser, any "
                    "name and the token as the password.",
                ),
                _OF_BROWSERS if browser else _REALM,
            )
        token = _token_in(authorization.strip())
        caller = None if token is None else self.find(token)
        if caller is None:
            raise _unauthorized(
                say(
                    "problem.unknown_token",
                    "This token is unknown, or is sent neither as a bearer token nor as "
                    "the password of HTTP Basic.",
                ),
                _OF_BROWSERS if browser else f'{_REALM}, error="invalid_token"',
            )
        if scope not in caller.scopes:
            raise _forbidden(scope)
        return caller


def _token_in(authorization: str) -> str | None:
    bearer = _BEARER.fullmatch(authorization)
    if bearer:
        return bearer[1]
    basic = _BASIC.fullmatch(authorization)
    if basic is None:
        return None
    try:
        _, colon, password = b64decode(basic[1], validate=True).decode().partition(":")
    except (binascii.Error, UnicodeDecodeError):
        return None
    return password if colon else None


def scope_of(path: str, *, page: bool = False) -> Scope | None:
    """Return the scope that an address needs; health and documents need none, all others do.

    Args:
        path: The address.
        page: Whether a page is requested: the one at ``/`` shows the park, the list does not.

    >>> scope_of("/v1/validations"), scope_of("/metrics"), scope_of("/readyz")
    (<Scope.VALIDATE: 'validate'>, <Scope.METRICS: 'metrics'>, None)
    >>> scope_of("/"), scope_of("/", page=True)
    (None, <Scope.VALIDATE: 'validate'>)
    """
    if path == "/metrics":
        return Scope.METRICS
    if path in _OPEN and not (page and path == "/"):
        return None
    return None if path.startswith(_OPEN_BELOW) else Scope.VALIDATE


def _unauthorized(detail: Sentence, challenge: str) -> ProblemError:
    return ProblemError(
        kind=problems.UNAUTHORIZED, detail=detail, headers={"WWW-Authenticate": challenge}
    )


def _forbidden(scope: Scope) -> ProblemError:
    return ProblemError(
        kind=problems.FORBIDDEN,
        detail=say(
            "problem.missing_scope",
            "This token does not have the scope {scope!r}.",
            scope=scope.value,
        ),
        headers={
            "WWW-Authenticate": f'{_REALM}, error="insufficient_scope", scope="{scope.value}"'
        },
    )


def load_callers(path: Path) -> Callers:
    """Read a token file.

    Raises:
        TokenFileError: The file cannot be read, or a token in it is wrong.
    """
    try:
        text = read_text(path, most_bytes=LONGEST_FILE)
    except TomlFileError as error:
        raise TokenFileError(f"{path.name} cannot be read: {error}") from None
    return parse_callers(text, name=path.name)


def parse_callers(text: str, *, name: str) -> Callers:
    """Read the text of a token file called ``name``: ``[[token]]`` tables in TOML.

    Raises:
        TokenFileError: With every fault of every token; no digest is repeated in it.
    """
    try:
        tables = parse_toml(text)
    except TomlFileError as error:
        raise TokenFileError(f"{name} is not TOML: {error}") from None
    stated = tables.pop("token", None)
    if tables or not isinstance(stated, list) or not 1 <= len(stated) <= MOST_TOKENS:
        raise TokenFileError(f"{name} must hold 1 to {MOST_TOKENS} [[token]] tables, nothing else")
    complaints = [*_complaints(stated), *_doubles(stated)]
    if complaints:
        raise TokenFileError("\n".join([f"{name} cannot be used:", *complaints]))
    return Callers(tuple(_caller(table) for table in stated))


def _caller(table: dict[str, Any]) -> Caller:
    return Caller(
        name=table["name"],
        digest=bytes.fromhex(table["sha256"]),
        scopes=frozenset(Scope(scope) for scope in table["scopes"]),
        requests_per_min=table.get("requests_per_min"),
        work_per_min=table.get("work_per_min"),
    )


def _complaints(stated: Sequence[Any]) -> Iterator[str]:
    for number, table in enumerate(stated, start=1):
        if not isinstance(table, dict):
            yield f"  token {number} is not a table"
            continue
        for field, wrong in _faults(table):
            yield f"  token {number}, {field}: {wrong}"


def _faults(table: dict[str, Any]) -> Iterator[tuple[str, str]]:
    for field in sorted(table.keys() - {"name", "sha256", "scopes", *_LIMITS}):
        yield field[:64], "there is no such field"
    if not _matches(_NAME, table.get("name")):
        yield "name", "1 to 64 letters, digits, dots, dashes and underscores"
    if not _matches(_DIGEST, table.get("sha256")):
        yield "sha256", "64 hexadecimal digits, lower case: the digest, never the token itself"
    scopes = table.get("scopes")
    if not isinstance(scopes, list) or not scopes or not all(map(_is_scope, scopes)):
        yield "scopes", f"one or more of {', '.join(Scope)}"
    for name, most in _LIMITS.items():
        limit = table.get(name, 1)
        if type(limit) is not int or not 1 <= limit <= most:
            yield name, f"a whole number from 1 to {most}"


def _is_scope(value: object) -> bool:
    return isinstance(value, str) and value in {*Scope}


def _matches(pattern: re.Pattern[str], value: object) -> bool:
    return isinstance(value, str) and pattern.fullmatch(value) is not None


def _doubles(stated: Sequence[Any]) -> Iterator[str]:
    """Yield the names and digests that several tokens have: both must be unique."""
    for field in ("name", "sha256"):
        values = [table.get(field) for table in stated if isinstance(table, dict)]
        for number, value in enumerate(values, start=1):
            if isinstance(value, str) and value in values[: number - 1]:
                yield f"  token {number}, {field}: another token has the same"


def make_token(name: str, scopes: Sequence[Scope]) -> tuple[str, str]:
    """Make a token; return it, and the lines by which a token file knows it.

    >>> token, lines = make_token("erp-1", [Scope.VALIDATE])
    >>> parse_callers(lines, name="tokens.toml").find(token).name
    'erp-1'

    Raises:
        ValueError: The name is none.
    """
    if not _NAME.fullmatch(name):
        raise ValueError(f"{name[:80]!r} is not a name: letters, digits, dots, dashes, at most 64")
    token = _PREFIX + secrets.token_urlsafe(_TOKEN_BYTES)
    listed = ", ".join(f'"{scope.value}"' for scope in scopes)
    digest = sha256(token.encode()).hexdigest()
    return token, f'[[token]]\nname = "{name}"\nsha256 = "{digest}"\nscopes = [{listed}]\n'
