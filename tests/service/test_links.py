from __future__ import annotations

import json
import zlib
from base64 import urlsafe_b64encode
from random import Random

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from service.support import full_request, small_request

from weavability.service.http.links import LONGEST_REQUEST, LONGEST_TOKEN, pack, unpack
from weavability.service.http.problems import ProblemError
from weavability.service.requests.canonical import canonical, canonical_request, digest, normalised

JSON_OBJECTS = st.dictionaries(
    st.text(min_size=1, max_size=20),
    st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    max_size=8,
)


def sealed(content: bytes, *, check: int | None = None) -> str:
    """A token of the right form around any content."""
    packer = zlib.compressobj(wbits=-zlib.MAX_WBITS)
    body = packer.compress(content) + packer.flush()
    seal = (zlib.crc32(content) if check is None else check).to_bytes(4, "big")
    return "v1." + urlsafe_b64encode(body + seal).rstrip(b"=").decode()


@given(JSON_OBJECTS)
def test_unpacking_gives_what_was_packed(value: dict[str, object]) -> None:
    request = canonical(value)
    token = pack(request)
    assert token is not None
    assert unpack(token) == json.loads(request)
    assert all(sign.isalnum() or sign in "-_." for sign in token)


@given(JSON_OBJECTS)
def test_normalising_twice_changes_nothing(value: dict[str, object]) -> None:
    assert normalised(normalised(value)) == normalised(value)


@given(JSON_OBJECTS, st.randoms())
def test_the_order_of_names_does_not_matter(value: dict[str, object], dice: Random) -> None:
    names = list(value)
    dice.shuffle(names)
    assert canonical({name: value[name] for name in names}) == canonical(value)


def test_digests_depend_on_where_a_part_ends() -> None:
    assert digest(b"ab", b"c") != digest(b"a", b"bc") != digest(b"abc")


def test_the_dictionary_makes_a_link_short() -> None:
    token = pack(canonical_request(full_request()))
    assert token is not None
    assert len(token) < 300


def test_links_that_were_given_out_open_for_ever() -> None:
    # Made when version 1 was made; a change of its dictionary would break every link in use.
    token = "v1.w0yZsLhACX0jC4KWEwwjdM-S7D3cNiB5zwDFe0HAckAXUtjVAgAKzttl"
    request = unpack(token)
    assert isinstance(request, dict)
    loom_id = request.pop("loom_id")  # of the park of that time
    assert loom_id.endswith("190-dobby")
    assert {**request, "loom_id": "rapier-190-dobby"} == json.loads(
        canonical_request(small_request())
    )


def test_a_token_is_never_longer_than_an_address_may_be() -> None:
    dice = Random(1)
    made = []
    for size in range(2_000, 6_000, 100):
        text = "".join(dice.choice("0123456789abcdefghijklmnopqrstuvwxyz") for _ in range(size))
        token = pack(canonical({"x": text}))
        made.append(token is not None)
        assert token is None or len(token) <= LONGEST_TOKEN
    assert made[0] is True
    assert made[-1] is False


def test_a_request_too_long_to_unpack_is_not_packed() -> None:
    fits = b'"' + b"x" * (LONGEST_REQUEST - 2) + b'"'
    token = pack(fits)
    assert token is not None
    assert unpack(token) == "x" * (LONGEST_REQUEST - 2)
    assert pack(fits + b" ") is None


@pytest.mark.parametrize(
    "token",
    [
        "",
        "v1.",
        "v1.AAAA",
        "v2.AAAAAAAA",
        "nonsense",
        "v1." + "A" * LONGEST_TOKEN,
        "v1.***",
        "v1.ä",
        "v1.A",
        sealed(b"{}", check=0),
        sealed(b"not json"),
        sealed(b'{"a": 1, "a": 2}'),
        sealed(b"x" * 50_000_000),
    ],
    ids=lambda token: token[:12],
)
def test_what_is_no_link_is_refused(token: str) -> None:
    with pytest.raises(ProblemError) as caught:
        unpack(token)
    assert caught.value.kind.status in {400, 404}


def test_every_slip_in_copying_a_link_is_noticed() -> None:
    token = pack(canonical_request(small_request())) or ""
    for place in range(3, len(token)):
        other = "A" if token[place] != "A" else "B"
        spoilt = token[:place] + other + token[place + 1 :]
        try:
            found = unpack(spoilt)
        except ProblemError:
            continue
        # Only the unused bits of the last sign may differ unnoticed.
        assert place == len(token) - 1
        assert found == unpack(token)
    with pytest.raises(ProblemError):
        unpack(token[:-2])


@pytest.mark.parametrize("content", [b"{}", b"[]", b"null", b'{"loom_id": 3}', b'"x"'])
def test_the_content_of_a_link_is_judged_like_any_body(client: FlaskClient, content: bytes) -> None:
    answer = client.get(f"/v1/validations/{sealed(content)}")
    assert answer.status_code == 422
    assert answer.mimetype == "application/problem+json"


def test_a_damaged_link_is_not_found(client: FlaskClient) -> None:
    answer = client.get("/v1/validations/v1.AAAA")
    assert answer.status_code == 404
    assert "Copy all of it" in json.loads(answer.data)["detail"]
