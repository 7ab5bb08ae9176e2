"""The summary of an archive: by loom, by code and by verdict."""

from __future__ import annotations

import platform
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any, Final

import numpy as np

from weavability.answers.caution import CAUTION
from weavability.answers.columns import SEVERITY_RANKS
from weavability.checks.codes import CheckCode
from weavability.service.archive.archive_folder import Job
from weavability.service.archive.partition_judging import VERDICT_WORDS
from weavability_client.tables import text_table, words

_SEVERITIES: Final = tuple(each.value for each in SEVERITY_RANKS)
_LIBRARIES: Final = ("numpy", "pyarrow", "dask", "distributed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What was found, counted.

    Attributes:
        job: What it is the result of.
        orders: Orders that were judged.
        refused: Orders that cannot be judged.
        woven_nowhere: Orders that are not weavable on any loom.
        verdicts: Pairs by loom and verdict.
        codes: Pairs by loom, check and severity.
    """

    job: Job
    orders: int
    refused: int
    woven_nowhere: int
    verdicts: Mapping[str, Mapping[str, int]]
    codes: Mapping[str, Mapping[str, Mapping[str, int]]]

    def document(self) -> Mapping[str, Any]:
        """Return the object that is written as JSON; what was never found is left out."""
        job = self.job
        return {
            "input": job.input_name,
            "input_form": job.input_form,
            "input_digest": job.input_digest,
            "park_digest": job.park_digest,
            "ruleset": job.ruleset,
            "thresholds": job.thresholds,
            "orders": self.orders,
            "refused": self.refused,
            "woven_nowhere": self.woven_nowhere,
            "pairs": self.orders * len(self.verdicts),
            "verdicts": _added(self.verdicts.values()),
            "codes": self._codes(),
            "looms": {
                loom_id: {"verdicts": verdicts, "codes": self.codes[loom_id]}
                for loom_id, verdicts in self.verdicts.items()
            },
            "versions": {
                "weavability": job.version,
                "python": platform.python_version(),
                **{name: version(name) for name in _LIBRARIES},
            },
            "caution": CAUTION,
        }

    def _codes(self) -> Mapping[str, Mapping[str, int]]:
        of_looms = list(self.codes.values())
        found = (code.value for code in CheckCode if any(code.value in each for each in of_looms))
        return {code: _added(each.get(code, {}) for each in of_looms) for code in found}

    def tables(self) -> str:
        """Return the pairs by loom and verdict, and by check and severity, as text."""
        by_loom = text_table(
            ["loom", *map(words, VERDICT_WORDS)],
            [
                [loom_id, *(verdicts.get(word, 0) for word in VERDICT_WORDS)]
                for loom_id, verdicts in self.verdicts.items()
            ],
        )
        heaviest_first = _SEVERITIES[::-1]
        by_code = text_table(
            ["code", *(f"{each}s" for each in heaviest_first)],
            [
                [code, *(found.get(each, 0) for each in heaviest_first)]
                for code, found in self._codes().items()
            ],
        )
        return f"{by_loom}\n\n{by_code}"


def _added(several: Iterable[Mapping[str, int]]) -> Mapping[str, int]:
    total: dict[str, int] = {}
    for one in several:
        for name, count in one.items():
            total[name] = total.get(name, 0) + count
    return total


def summed(job: Job, counts: Iterable[Mapping[str, Any]]) -> Summary:
    """Add up the counts of all partitions."""
    looms = [str(each["loom_id"]) for each in job.looms]
    verdicts = np.zeros((len(looms), len(VERDICT_WORDS)), np.int64)
    codes = np.zeros((len(looms), len(CheckCode), len(_SEVERITIES)), np.int64)
    total = {"orders": 0, "refused": 0, "woven_nowhere": 0}
    for each in counts:
        verdicts += np.array(each["verdicts"], np.int64)
        codes += np.array(each["codes"], np.int64)
        total = {name: count + each[name] for name, count in total.items()}
    return Summary(
        job=job,
        **total,
        verdicts={
            loom_id: _named(VERDICT_WORDS, verdicts[place]) for place, loom_id in enumerate(looms)
        },
        codes={
            loom_id: {
                code.value: _named(_SEVERITIES, codes[place, column])
                for column, code in enumerate(CheckCode)
                if codes[place, column].any()
            }
            for place, loom_id in enumerate(looms)
        },
    )


def _named(names: Iterable[str], counts: Any) -> Mapping[str, int]:
    return {name: int(count) for name, count in zip(names, counts, strict=True) if count}
