"""A client that is generated from the document, against the running service."""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from service.servers import serving
from service.support import PARK_TEXT, full_request, small_request

pytestmark = pytest.mark.slow

OPENAPI = Path(__file__).parents[2] / "openapi"
PACKAGE = "generated_weavability_client"


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    where = tmp_path_factory.mktemp("generated")
    command = [
        *(sys.executable, "-m", "openapi_python_client", "generate", "--fail-on-warning"),
        *("--path", OPENAPI / "openapi.json", "--config", OPENAPI / "python-client.yaml"),
        *("--meta", "none", "--output-path", where / PACKAGE),
    ]
    path = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    made = subprocess.run(
        list(map(str, command)), capture_output=True, text=True, env={**os.environ, "PATH": path}
    )
    assert made.returncode == 0, made.stdout + made.stderr
    assert "warn" not in (made.stdout + made.stderr).lower()
    sys.path.insert(0, str(where))
    yield where
    sys.path.remove(str(where))
    for name in [each for each in sys.modules if each.partition(".")[0] == PACKAGE]:
        del sys.modules[name]


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    park = tmp_path_factory.mktemp("park") / "park.toml"
    park.write_text(PARK_TEXT, encoding="utf-8")
    with serving("--workers", "1", "--looms", str(park)) as server:
        yield server.url


def module(name: str) -> ModuleType:
    return importlib.import_module(f"{PACKAGE}.{name}")


@pytest.fixture
def client(generated: Path, address: str) -> Iterator[Any]:
    with module("client").Client(base_url=address) as client:
        yield client


def asked(body: dict[str, Any]) -> Any:
    return module("models.validation_request").ValidationRequest.from_dict(body)


def test_an_order_is_judged(client: Any) -> None:
    validate = module("api.validations.validate_construction")
    report = validate.sync(client=client, body=asked(full_request()))
    assert type(report).__name__ == "Report"
    assert report.verdict == "weavable_with_warnings"
    assert report.rates.speed_picks_per_min == 520
    token = report.links.additional_properties["self"].rpartition("/")[2]
    again = module("api.validations.show_validation").sync(client=client, token=token)
    assert again.validation_id == report.validation_id


def test_an_answer_in_short_has_a_type_of_its_own(client: Any) -> None:
    validate = module("api.validations.validate_construction")
    summary = validate.sync(client=client, body=asked(small_request()), fields="summary")
    assert type(summary).__name__ == "ReportSummary"
    assert summary.verdict == "weavable"


def test_a_sentence_has_its_key_and_typed_values(client: Any) -> None:
    validate = module("api.validations.validate_construction")
    report = validate.sync(client=client, body=asked(small_request()))
    density = next(each for each in report.assumptions if each.pointer.endswith("g_per_cm3"))
    assert density.reason_key == "assumption.fibre.density"
    source = density.reason_values["source"]
    assert type(source).__name__ == "NestedSentence"
    assert source.message_key == "part.fibre_source.density"
    listed = module("api.service.list_messages").sync(client=client, kind="problem")
    assert {each.kind for each in listed.messages} == {"problem"}


def test_a_bad_order_is_a_problem_with_pointers(client: Any) -> None:
    body = {**small_request(), "loom_id": "nowhere"}
    problem = module("api.validations.validate_construction").sync(client=client, body=asked(body))
    assert type(problem).__name__ == "Problem"
    assert [error.pointer for error in problem.errors] == ["/loom_id"]


def test_a_batch_is_answered_line_by_line(client: Any) -> None:
    line = json.dumps(small_request()).encode()
    file = module("types").File(payload=BytesIO(line + b"\n{\n" + line))
    answer = module("api.validations.validate_construction")._get_kwargs(body=file)
    lines = client.get_httpx_client().request(**answer).text.splitlines()
    assert [json.loads(each)["status"] for each in lines] == [200, 400, 200]


def test_the_park_and_the_checks_are_read(client: Any) -> None:
    park = module("api.looms.list_looms").sync(client=client)
    assert [loom.loom_id for loom in park.looms] == ["rapier-190-dobby", "air-jet-190-cam"]
    check = module("api.checks.show_check").sync(client=client, code="width.reed_space")
    assert check.code == "width.reed_space"


def test_changes_are_answered(client: Any) -> None:
    validate = module("api.validations.validate_construction")
    report = validate.sync(client=client, body=asked(small_request()))
    known = {"link": report.links.additional_properties["self"], "etag": "0" * 32}
    question = module("models.changes_request").ChangesRequest.from_dict({"items": [known]})
    changes = module("api.validations.list_validation_changes").sync(client=client, body=question)
    assert [item.etag for item in changes.items] == [report.validation_id]
