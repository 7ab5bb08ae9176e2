"""What is shipped to run the service with: it must fit the service, and keep to good practice."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
import requests
import yaml
from jsonschema import Draft202012Validator
from prometheus_client.parser import text_string_to_metric_families
from service.servers import serving
from service.support import small_request

from weavability import __version__
from weavability.answers.validation import ruleset
from weavability.checks.registry import all_checks
from weavability.service.gunicorn import command
from weavability.service.http.links import LONGEST_TOKEN
from weavability.service.http.problems import KINDS
from weavability.service.requests.park import load_park
from weavability.service.resources import OPERATIONS
from weavability.service.settings import Settings

DEPLOY = Path(__file__).parents[2] / "server" / "deploy"
NGINX = (DEPLOY / "nginx.conf").read_text("utf-8")
CONTAINERFILE = (DEPLOY / "Containerfile").read_text("utf-8")


def manifests() -> dict[str, Any]:
    text = (DEPLOY / "kubernetes" / "weavability.yaml").read_text("utf-8")
    return {document["kind"]: document for document in yaml.safe_load_all(text)}


MANIFESTS = manifests()
POD = MANIFESTS["Deployment"]["spec"]["template"]["spec"]
CONTAINER = POD["containers"][0]
COMPOSE = yaml.safe_load((DEPLOY / "compose.yaml").read_text("utf-8"))["services"]
ALERTS = yaml.safe_load((DEPLOY / "alerts.yaml").read_text("utf-8"))
ALERT_RULES = [rule for group in ALERTS["groups"] for rule in group["rules"]]
Series = list[tuple[str, dict[str, str]]]
DASHBOARD = json.loads((DEPLOY / "dashboard.json").read_text("utf-8"))


def options(arguments: list[str]) -> Any:
    """Read a command line as the service does, which refuses what it does not know."""
    return command._parser().parse_args(arguments)


def array_after(word: str) -> list[str]:
    (found,) = re.findall(rf"^{word} (\[.*\])$", CONTAINERFILE, re.MULTILINE)
    return list(json.loads(found))


def test_the_image_has_the_version_of_the_service() -> None:
    assert CONTAINER["image"] == f"weavability:{__version__}"


@pytest.mark.parametrize(
    "arguments", [array_after("CMD"), COMPOSE["weavability"]["command"], CONTAINER["args"]]
)
def test_the_service_takes_the_options_and_requests_tokens(arguments: list[str]) -> None:
    parsed = options(arguments)
    assert parsed.tokens is not None
    assert not parsed.open
    assert command._complaint(parsed.bind, open_to_all=False, tokens=True) is None


@pytest.mark.parametrize(
    ("arguments", "limit"),
    [
        (COMPOSE["weavability"]["command"], COMPOSE["weavability"]["mem_limit"]),
        (CONTAINER["args"], CONTAINER["resources"]["limits"]["memory"]),
    ],
)
def test_memory_suffices_for_the_workers(arguments: list[str], limit: str) -> None:
    """A GiB each (``tests/bench/memory.py --largest``), however many processors there are."""
    (stated,) = (each for each in arguments if each.startswith("--workers="))
    assert int(re.split("[mM]", limit)[0]) >= 1024 * int(stated.partition("=")[2]) + 512


class TestContainer:
    def test_it_does_not_run_as_root(self) -> None:
        users = re.findall(r"^USER (\d+):(\d+)$", CONTAINERFILE, re.MULTILINE)
        assert users
        assert all(int(each) >= 10_000 for pair in users for each in pair)
        assert CONTAINERFILE.index("USER ") < CONTAINERFILE.index("ENTRYPOINT ")

    def test_what_it_copies_is_there(self) -> None:
        root = DEPLOY.parents[1]
        for line in re.findall(r"^COPY (?!--from)(.*)$", CONTAINERFILE, re.MULTILINE):
            for source in line.split()[:-1]:
                assert (root / source).exists(), source

    def test_packages_are_pinned_and_hashed(self) -> None:
        installs = re.findall(r"pip install (.*)", CONTAINERFILE)
        assert len(installs) == 2
        assert all("--require-hashes" in each or "--no-index" in each for each in installs)

    def test_no_image_is_a_moving_one(self) -> None:
        stages = re.findall(r"^FROM (\S+)(?: AS (\S+))?$", CONTAINERFILE, re.MULTILINE)
        own = {name for _, name in stages}
        images = [image for image, _ in stages if image not in own]
        images.append(COMPOSE["proxy"]["image"])
        assert len(images) == 2
        for each in images:
            assert re.fullmatch(r"\w+:[0-9][\w.-]*@sha256:[0-9a-f]{64}", each)

    @pytest.mark.parametrize("service", ["weavability", "proxy"])
    def test_compose_takes_every_right_away(self, service: str) -> None:
        stated = COMPOSE[service]
        assert stated["read_only"] is True
        assert stated["cap_drop"] == ["ALL"]
        assert "no-new-privileges:true" in stated["security_opt"]
        assert any(each.endswith(":/tmp") for each in stated["volumes"])

    def test_only_the_proxy_is_reached_from_outside(self) -> None:
        assert "ports" not in COMPOSE["weavability"]
        assert COMPOSE["weavability"]["networks"] == ["inside"]


SHAPES: dict[str, Any] = {
    "Deployment": {
        "properties": {
            "apiVersion": {"const": "apps/v1"},
            "spec": {"required": ["replicas", "selector", "template", "strategy"]},
        }
    },
    "Service": {
        "properties": {"apiVersion": {"const": "v1"}, "spec": {"required": ["selector", "ports"]}}
    },
    "HorizontalPodAutoscaler": {
        "properties": {
            "apiVersion": {"const": "autoscaling/v2"},
            "spec": {"required": ["scaleTargetRef", "minReplicas", "maxReplicas", "metrics"]},
        }
    },
    "PodDisruptionBudget": {
        "properties": {
            "apiVersion": {"const": "policy/v1"},
            "spec": {"required": ["selector"], "oneOf": [{"required": ["minAvailable"]}]},
        }
    },
    "NetworkPolicy": {
        "properties": {
            "apiVersion": {"const": "networking.k8s.io/v1"},
            "spec": {"required": ["podSelector", "policyTypes"]},
        }
    },
}
EVERY = {
    "type": "object",
    "required": ["apiVersion", "kind", "metadata", "spec"],
    "additionalProperties": False,
    "properties": {
        "apiVersion": {"type": "string"},
        "kind": {"type": "string"},
        "spec": {"type": "object"},
        "metadata": {
            "type": "object",
            "required": ["name"],
            "properties": {"name": {"pattern": "^[a-z0-9]([-a-z0-9]*[a-z0-9])?$"}},
        },
    },
}
PROBE = {
    "type": "object",
    "required": ["httpGet", "periodSeconds", "failureThreshold"],
    "additionalProperties": False,
    "properties": {
        "httpGet": {"type": "object", "required": ["path", "port"]},
        "periodSeconds": {"type": "integer", "minimum": 1},
        "timeoutSeconds": {"type": "integer", "minimum": 1},
        "failureThreshold": {"type": "integer", "minimum": 1},
    },
}


class TestKubernetes:
    @pytest.mark.parametrize("kind", SHAPES)
    def test_each_document_has_the_shape_of_its_kind(self, kind: str) -> None:
        for shape in (EVERY, SHAPES[kind]):
            assert list(Draft202012Validator(shape).iter_errors(MANIFESTS[kind])) == []

    def test_every_document_is_checked(self) -> None:
        assert MANIFESTS.keys() == SHAPES.keys()

    def test_labels_and_ports_meet(self) -> None:
        labels = MANIFESTS["Deployment"]["spec"]["template"]["metadata"]["labels"]
        selectors = [
            MANIFESTS["Deployment"]["spec"]["selector"]["matchLabels"],
            MANIFESTS["Service"]["spec"]["selector"],
            MANIFESTS["PodDisruptionBudget"]["spec"]["selector"]["matchLabels"],
            MANIFESTS["NetworkPolicy"]["spec"]["podSelector"]["matchLabels"],
        ]
        assert all(each == labels for each in selectors)
        ports = {each["name"]: each["containerPort"] for each in CONTAINER["ports"]}
        assert MANIFESTS["Service"]["spec"]["ports"][0]["targetPort"] in ports
        assert options(CONTAINER["args"]).bind.endswith(f":{ports['http']}")
        target = MANIFESTS["HorizontalPodAutoscaler"]["spec"]["scaleTargetRef"]
        assert target["name"] == MANIFESTS["Deployment"]["metadata"]["name"]

    @pytest.mark.parametrize("name", ["startupProbe", "readinessProbe", "livenessProbe"])
    def test_probes_ask_addresses_that_need_no_token(self, name: str) -> None:
        probe = CONTAINER[name]
        assert list(Draft202012Validator(PROBE).iter_errors(probe)) == []
        path = probe["httpGet"]["path"]
        assert ("GET", path) in OPERATIONS
        assert path == ("/healthz" if name == "livenessProbe" else "/readyz")

    def test_a_replica_has_time_to_finish(self) -> None:
        before_s = int(re.findall(r"sleep\((\d+)\)", str(CONTAINER["lifecycle"]["preStop"]))[0])
        grace_s = options(CONTAINER["args"]).grace_s
        assert POD["terminationGracePeriodSeconds"] > before_s + grace_s
        unready = CONTAINER["readinessProbe"]
        assert before_s >= unready["periodSeconds"] * unready["failureThreshold"]

    def test_no_update_goes_below_the_replicas_requested(self) -> None:
        spec = MANIFESTS["Deployment"]["spec"]
        assert spec["strategy"]["rollingUpdate"]["maxUnavailable"] == 0
        scaled = MANIFESTS["HorizontalPodAutoscaler"]["spec"]
        assert 2 <= scaled["minReplicas"] <= spec["replicas"] <= scaled["maxReplicas"]
        assert "cpu" in CONTAINER["resources"]["requests"]

    def test_it_has_no_rights_that_it_does_not_need(self) -> None:
        assert POD["securityContext"]["runAsNonRoot"] is True
        assert POD["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
        assert POD["automountServiceAccountToken"] is False
        assert CONTAINER["securityContext"] == {
            "allowPrivilegeEscalation": False,
            "readOnlyRootFilesystem": True,
            "capabilities": {"drop": ["ALL"]},
        }
        assert MANIFESTS["NetworkPolicy"]["spec"]["egress"] == []

    def test_what_is_mounted_is_what_is_read(self) -> None:
        mounted = {each["name"]: each["mountPath"] for each in CONTAINER["volumeMounts"]}
        assert mounted.keys() == {each["name"] for each in POD["volumes"]}
        parsed = options(CONTAINER["args"])
        assert str(parsed.looms.parent) == mounted["park"]
        assert str(parsed.tokens.parent) == mounted["tokens"]
        assert mounted["scratch"] == "/tmp"
        assert f"RUNTIME_DIRECTORY={mounted['counts']}\n" in CONTAINERFILE

    def test_who_may_call_is_marked(self) -> None:
        for rule in MANIFESTS["NetworkPolicy"]["spec"]["ingress"]:
            assert rule["from"]


class TestProxy:
    def directive(self, name: str) -> list[str]:
        return re.findall(rf"^\s*{name} ([^;]+);", NGINX, re.MULTILINE)

    def test_braces_and_ends(self) -> None:
        plain = re.sub(r"'[^']*'|\"[^\"]*\"|#.*", "", NGINX)
        assert plain.count("{") == plain.count("}")
        for line in plain.splitlines():
            assert not line.strip() or line.strip()[-1] in "{};", line

    def test_requests_are_taken_in_whole(self) -> None:
        """Batches too, and so are answers: no slow client holds a thread of the service."""
        assert set(self.directive("proxy_request_buffering")) == {"on"}
        assert set(self.directive("proxy_buffering")) == {"on"}
        assert "timeout" not in " ".join(self.directive("proxy_next_upstream")).split()

    def test_it_lets_through_what_the_service_reads_and_no_more(self) -> None:
        longest = Settings().max_body_bytes // 2**20
        assert set(self.directive("client_max_body_size")) == {f"{longest}m", "256m"}
        (_, size) = self.directive("large_client_header_buffers")[0].split()
        assert int(size.removesuffix("k")) * 1024 > LONGEST_TOKEN

    def test_it_closes_idle_connections_before_the_service_does(self) -> None:
        for each in self.directive("keepalive_timeout"):
            assert int(each.removesuffix("s")) < command._GUNICORN["keepalive"]

    def test_its_own_refusals_are_problems_of_known_types(self) -> None:
        written = re.findall(r"return (\d+) '(\{.*\})';", NGINX)
        assert len(written) >= 5
        for status, body in written:
            problem = json.loads(body)
            kind = KINDS[problem["type"].removeprefix("/problems/")]
            assert int(status) == problem["status"] == kind.status
            assert problem["title"] == kind.title

    def test_links_do_not_get_into_its_log(self) -> None:
        assert self.directive("access_log") == ["off"]

    def test_the_world_outside_does_not_see_the_metrics(self) -> None:
        assert "return 404" in NGINX[NGINX.index("location = /metrics") :].partition("}")[0]


def expressions() -> Iterator[str]:
    for panel in DASHBOARD["panels"]:
        for target in panel["targets"]:
            yield target["expr"]
    for variable in DASHBOARD["templating"]["list"]:
        if variable["type"] == "query":
            yield variable["query"]["query"]


@pytest.fixture(scope="module")
def scraped() -> Series:
    """What a running service writes after little traffic."""
    with serving("--workers", "1") as server:
        answer = requests.post(f"{server.url}/v1/validations", json=small_request(), timeout=30)
        assert answer.status_code == 200
        text = requests.get(f"{server.url}/metrics", timeout=30).text
    return [
        (sample.name, sample.labels)
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    ]


SELECTOR = re.compile(r"\b(weavability_\w+)(?:\{([^}]*)\})?")
MATCHER = re.compile(r'(\w+)(=~|!~|!=|=)"([^"]*)"(?:,|$)')
OF_THE_SCRAPER = {"instance", "job"}


def matches(labels: Mapping[str, str], name: str, how: str, value: str) -> bool:
    """Apply a matcher; ``$variables`` of the dashboard and labels of the scraper match all."""
    if name in OF_THE_SCRAPER or value.startswith("$"):
        return True
    pattern = value if "~" in how else re.escape(value)
    return (re.fullmatch(pattern, labels.get(name, "")) is None) == how.startswith("!")


def fed(expression: str, scraped: Series) -> list[str]:
    """The selectors of an expression that find no series."""
    starved = []
    for selector in SELECTOR.finditer(expression):
        stated = selector[2] or ""
        found = MATCHER.findall(stated)
        assert len(found) == len(re.findall('"', stated)) / 2, selector[0]
        if not any(
            name == selector[1] and all(matches(labels, *each) for each in found)
            for name, labels in scraped
        ):
            starved.append(selector[0])
    return starved


def grouped_by(expression: str) -> set[str]:
    """The labels by which an expression groups."""
    groups = re.findall(r"\bby \(([^)]*)\)", expression)
    return {label.strip() for group in groups for label in group.split(",")}


@pytest.mark.slow
def test_everything_known_is_counted_from_the_start(scraped: Series) -> None:
    """So that a first failure is a rise: a series that appears has risen from nothing."""
    has = [(name, {*labels.values()}) for name, labels in scraped]
    assert ("weavability_reloads_total", {"refused"}) in has
    assert ("weavability_verdicts_total", {"not_weavable"}) in has
    for slug in KINDS:
        assert ("weavability_rejections_total", {slug}) in has
    for check in all_checks():
        for severity in check.severities:
            assert ("weavability_findings_total", {check.code, severity}) in has
    for (method, path), operation in OPERATIONS.items():
        assert ("weavability_request_duration_seconds_count", {method, path}) in has
        for status in ("200", "304" if operation.conditional else "200", "500"):
            assert ("weavability_requests_total", {method, path, status}) in has


@pytest.mark.slow
def test_what_serves_is_named(scraped: Series) -> None:
    (labels,) = [labels for name, labels in scraped if name == "weavability_info"]
    assert labels == {
        "version": __version__, "park": load_park(None).digest, "ruleset": ruleset()
    }  # fmt: skip


class TestDashboard:
    @pytest.mark.slow
    def test_every_panel_is_fed(self, scraped: Series) -> None:
        assert [fed(each, scraped) for each in expressions() if fed(each, scraped)] == []

    @pytest.mark.slow
    def test_every_counter_is_shown(self, scraped: Series) -> None:
        shown = " ".join(expressions())
        for name in {name for name, _ in scraped}:
            if not name.endswith(("_count", "_sum")):
                assert name in shown

    @pytest.mark.slow
    def test_it_groups_by_labels_that_are_written(self, scraped: Series) -> None:
        known = {label for _, labels in scraped for label in labels}
        for each in expressions():
            assert grouped_by(each) <= known, each

    def test_panels_do_not_overlap(self) -> None:
        cells = [
            (x, y)
            for panel in DASHBOARD["panels"]
            for x in range(panel["gridPos"]["x"], panel["gridPos"]["x"] + panel["gridPos"]["w"])
            for y in range(panel["gridPos"]["y"], panel["gridPos"]["y"] + panel["gridPos"]["h"])
        ]
        assert len(cells) == len(set(cells))
        assert max(x for x, _ in cells) < 24
        ids = [panel["id"] for panel in DASHBOARD["panels"]]
        assert len(ids) == len(set(ids))


RULES: Any = {
    "type": "object",
    "required": ["groups"],
    "additionalProperties": False,
    "properties": {"groups": {"type": "array", "items": {"$ref": "#/$defs/group"}}},
    "$defs": {
        "group": {
            "type": "object",
            "required": ["name", "rules"],
            "additionalProperties": False,
            "properties": {
                "name": {"type": "string"},
                "rules": {"type": "array", "items": {"$ref": "#/$defs/rule"}},
            },
        },
        "rule": {
            "type": "object",
            "required": ["alert", "expr", "labels", "annotations"],
            "additionalProperties": False,
            "properties": {
                "alert": {"type": "string", "pattern": "^Weavability[A-Za-z]+$"},
                "expr": {"type": "string"},
                "for": {"type": "string", "pattern": "^[1-9][0-9]*[mh]$"},
                "labels": {
                    "type": "object",
                    "required": ["severity"],
                    "additionalProperties": {"enum": ["critical", "warning"]},
                },
                "annotations": {
                    "type": "object",
                    "required": ["summary", "description"],
                    "additionalProperties": {"type": "string", "maxLength": 240},
                },
            },
        },
    },
}
"""The form of a file of alert rules, as Prometheus reads it and as we write ours."""


class TestAlerts:
    def test_the_file_has_the_form_of_rules(self) -> None:
        assert list(Draft202012Validator(RULES).iter_errors(ALERTS)) == []
        names = [rule["alert"] for rule in ALERT_RULES]
        assert len(names) == len(set(names)) >= 5

    @pytest.mark.slow
    def test_every_rule_looks_at_what_is_written(self, scraped: Series) -> None:
        known = {label for _, labels in scraped for label in labels}
        for rule in ALERT_RULES:
            expression = rule["expr"]
            assert SELECTOR.search(expression), rule
            assert fed(expression, scraped) == [], rule
            assert grouped_by(expression) <= known, rule
            for opened, closed in ("()", "{}", "[]"):
                assert expression.count(opened) == expression.count(closed), rule

    def test_texts_name_labels_that_their_rule_keeps(self) -> None:
        for rule in ALERT_RULES:
            aggregated = re.search(r"\b(sum|count|histogram_quantile)\b", rule["expr"])
            kept = grouped_by(rule["expr"]) if aggregated else {"instance"}
            text = " ".join(rule["annotations"].values())
            assert set(re.findall(r"\$labels\.(\w+)", text)) <= kept, rule


def test_the_guide_states_what_the_command_takes() -> None:
    guide = (DEPLOY / "README.md").read_text("utf-8")
    known = command._parser().format_help()
    for option in set(re.findall(r"--[a-z][a-z-]+", guide)) - {"--rm"}:
        assert option in known, option
    for path in re.findall(r"^\| `([^`]+)`", guide, re.MULTILINE)[:7]:
        if not path.startswith("SIG"):
            assert (DEPLOY / path).exists(), path
