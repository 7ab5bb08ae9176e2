"""Counters and histograms for Prometheus, over all worker processes.

Labels are bounded: methods and routes by the service's own tables, statuses by HTTP, verdicts,
codes and reasons by the registers. What a caller sends is never a label. Whatever is known in
advance is counted from 0 on, so that the first failure is a rise and no new series.

Worker processes count in files of one directory, which the environment names before the library is
imported: its documented multiprocess mode. The command sets it; see ``weavability.__main__``.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Iterable, Mapping
from functools import cache
from itertools import product
from pathlib import Path
from typing import Final

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    Info,
    disable_created_metrics,
    generate_latest,
    multiprocess,
    values,
)

from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import all_checks
from weavability.service.http.problems import KINDS

MEDIA_TYPE: Final = "text/plain"
PARAMETERS: Final = "version=0.0.4; charset=utf-8"
METHODS: Final = frozenset({"GET", "HEAD", "POST", "QUERY", "OPTIONS", "PUT", "PATCH", "DELETE"})
UNMATCHED: Final = "unmatched"
BUCKETS_S: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 120)
OUTCOMES: Final = ("done", "refused")
"""Of reloads."""

DIRECTORY: Final = "PROMETHEUS_MULTIPROC_DIR"
FILE_BYTES: Final = 2**20
"""Room of each file of counts; labels are bounded, and all of them together need less."""

# Without them the text is the same from one process and from several, before requests and after.
disable_created_metrics()  # type: ignore[no-untyped-call]

_NAMED: Final = ".db"
_UNNAMED: Final = ".new"
_FILES: Final = ("counter", "gauge_livesum", "histogram")
_log = logging.getLogger(__name__)


class Metrics:
    """Everything that is counted, in one registry."""

    def __init__(self, registry: CollectorRegistry) -> None:
        self._registry = registry
        self.requests = Counter(
            "weavability_requests",
            "Requests answered.",
            ["method", "route", "status"],
            registry=registry,
        )
        self.duration = Histogram(
            "weavability_request_duration_seconds",
            "From the first byte read to the last byte handed over.",
            ["method", "route"],
            buckets=BUCKETS_S,
            registry=registry,
        )
        self.in_flight = Gauge(
            "weavability_requests_in_flight",
            "Requests being answered.",
            multiprocess_mode="livesum",
            registry=registry,
        )
        self.verdicts = Counter(
            "weavability_verdicts", "Reports made, by verdict.", ["verdict"], registry=registry
        )
        self.findings = Counter(
            "weavability_findings",
            "Findings of all reports.",
            ["code", "severity"],
            registry=registry,
        )
        self.rejections = Counter(
            "weavability_rejections",
            "Requests answered with a problem, by its type.",
            ["reason"],
            registry=registry,
        )
        self.work = Counter(
            "weavability_work_units",
            "Units of work done, which the budgets of callers count.",
            registry=registry,
        )
        self.trials = Counter(
            "weavability_trials",
            "Changes of orders tried for remedies: probes of one check, and proofs by all.",
            ["kind"],
            registry=registry,
        )
        self.reloads = Counter(
            "weavability_reloads", "Reloads of park and tokens.", ["outcome"], registry=registry
        )
        self._begin_at_zero()

    def _begin_at_zero(self) -> None:
        for verdict in Verdict:
            self.verdicts.labels(verdict.value)
        for check in all_checks():
            for severity in check.severities:
                self.findings.labels(check.code, severity.value)
        for reason in KINDS:
            self.rejections.labels(reason)
        for kind in ("probe", "proof"):
            self.trials.labels(kind)
        for outcome in OUTCOMES:
            self.reloads.labels(outcome)

    def expect(self, methods: Iterable[str], route: str, statuses: Iterable[int]) -> None:
        """Count the answers of an address from 0 on."""
        for method, status in product(methods, statuses):
            self.duration.labels(method, route)
            self.requests.labels(method, route, status)

    def count_report(
        self, verdict: Verdict, findings: Iterable[tuple[CheckCode, Severity]]
    ) -> None:
        """Count a report and what it found."""
        self.verdicts.labels(verdict.value).inc()
        for code, severity in findings:
            self.findings.labels(code, severity.value).inc()

    def count_trials(self, probes: int, proofs: int) -> None:
        """Count what was tried for the remedies of an order on a loom."""
        self.trials.labels("probe").inc(probes)
        self.trials.labels("proof").inc(proofs)

    def written(self, info: Mapping[str, str]) -> bytes:
        """Return everything counted, by every process, in Prometheus' text format.

        Args:
            info: What serves, such as its version; the labels of ``weavability_info``.
        """
        said = CollectorRegistry()
        Info("weavability", "What serves: its version, park and rules.", registry=said).info(
            dict(info)
        )
        return generate_latest(said) + self._counted()

    def _counted(self) -> bytes:
        if not os.environ.get(DIRECTORY):
            return generate_latest(self._registry)
        shared = CollectorRegistry()
        multiprocess.MultiProcessCollector(shared)  # type: ignore[no-untyped-call]
        try:
            return generate_latest(shared)
        except FileNotFoundError:  # a reload has just deleted files
            return generate_latest(shared)


@cache
def metrics() -> Metrics:
    """Return what this process counts into."""
    return Metrics(CollectorRegistry())


def take_room() -> None:
    """Take the room that this process needs to count in, before it counts.

    The files of counts are mapped into memory. Were their room only taken as it is needed, a disk
    that is full would end the process at its next count. Without room a process counts for itself
    alone, and ``/metrics`` lacks what it counts. A file gets its name when it has its room: one
    that is empty, its process just begun or killed meanwhile, cannot be read.
    """
    directory = os.environ.get(DIRECTORY)
    if not directory or not hasattr(os, "posix_fallocate"):
        return
    paths = [Path(directory, f"{name}_{os.getpid()}{_UNNAMED}") for name in _FILES]
    try:
        for path in paths:
            with path.open("wb") as file:
                os.posix_fallocate(file.fileno(), 0, FILE_BYTES)
        for path in paths:
            path.rename(path.with_suffix(_NAMED))
    except OSError as error:
        for path in paths:
            path.unlink(missing_ok=True)
        _log.error("no room for counts, /metrics lacks those of this process: %s", error)
        values.ValueClass = values.MutexValue
        metrics.cache_clear()


def known_method(method: str) -> str:
    """Return a method as a label.

    >>> known_method("POST"), known_method("BREW")
    ('POST', 'other')
    """
    return method if method in METHODS else "other"


def forget(process_id: int) -> None:
    """Drop what was only true of a living worker; its counts stay. Called when it has ended."""
    if os.environ.get(DIRECTORY):
        multiprocess.mark_process_dead(process_id)  # type: ignore[no-untyped-call]


def begin_anew() -> None:
    """Delete the files of all worker processes, but not those of this one, the master.

    The counts begin at 0 again, as after a restart, so that workers that come and go with reloads
    do not leave files behind for ever.
    """
    directory = os.environ.get(DIRECTORY)
    for path in Path(directory).iterdir() if directory else ():
        if path.suffix in (_NAMED, _UNNAMED) and not path.stem.endswith(f"_{os.getpid()}"):
            path.unlink(missing_ok=True)
