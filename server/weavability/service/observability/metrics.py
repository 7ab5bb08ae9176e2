"""Counters and histograms for Prometheus, over all worker processes.

Labels are bounded: methods and routes by the service's own tables, statuses by HTTP, verdicts,
codes and reasons by the registers. What a caller sends is never a label.

Worker processes count in memory-mapped files of one directory. The files are named by the slot of
the worker, not by its process id: a worker that takes the place of another goes on in its files, so
that reloads and crashes do not leave files behind for ever.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Final

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    generate_latest,
    multiprocess,
    values,
)

from weavability.checks.finding import Finding, Verdict

MEDIA_TYPE: Final = "text/plain"
PARAMETERS: Final = "version=0.0.4; charset=utf-8"
METHODS: Final = frozenset({"GET", "HEAD", "POST", "QUERY", "OPTIONS", "PUT", "PATCH", "DELETE"})
UNMATCHED: Final = "unmatched"
BUCKETS_S: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 120)
MASTER: Final = "master"
_DIRECTORY: Final = "PROMETHEUS_MULTIPROC_DIR"


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
        self.reloads = Counter(
            "weavability_reloads", "Reloads of park and tokens.", ["outcome"], registry=registry
        )

    def count_report(self, verdict: Verdict, findings: Iterable[Finding]) -> None:
        """Count a report and what it found."""
        self.verdicts.labels(verdict.value).inc()
        for finding in findings:
            self.findings.labels(finding.code, finding.severity.value).inc()

    def written(self) -> bytes:
        """Return everything counted, by every process, in Prometheus' text format."""
        directory = os.environ.get(_DIRECTORY)
        if not directory:
            return generate_latest(self._registry)
        shared = CollectorRegistry()
        multiprocess.MultiProcessCollector(shared, path=directory)  # type: ignore[no-untyped-call]
        return generate_latest(shared)


@cache
def metrics() -> Metrics:
    """Return what this process counts into."""
    return Metrics(CollectorRegistry())


def known_method(method: str) -> str:
    """Return a method as a label.

    >>> known_method("POST"), known_method("BREW")
    ('POST', 'other')
    """
    return method if method in METHODS else "other"


class Slots:
    """Numbers the worker processes: the least number that no living worker has."""

    def __init__(self) -> None:
        self._taken: dict[object, int] = {}

    def take(self, worker: object) -> int:
        """Give ``worker`` a number."""
        free = set(range(len(self._taken) + 1)) - set(self._taken.values())
        self._taken[worker] = min(free)
        return self._taken[worker]

    def free(self, worker: object) -> int | None:
        """Take back the number of a worker that has ended."""
        return self._taken.pop(worker, None)


_identity = MASTER


def share_between_processes(directory: Path) -> None:
    """Count in files of ``directory`` from now on; called before anything is counted."""
    os.environ[_DIRECTORY] = str(directory)
    values.ValueClass = values.MultiProcessValue(  # type: ignore[no-untyped-call]
        lambda: _identity
    )


def identify(slot: int) -> None:
    """Let this process count into the files of ``slot``; called in a new worker."""
    global _identity
    _identity = f"w{slot}"


def forget(slot: int) -> None:
    """Drop what was only true of a living worker; its counts stay."""
    multiprocess.mark_process_dead(f"w{slot}")  # type: ignore[no-untyped-call]
