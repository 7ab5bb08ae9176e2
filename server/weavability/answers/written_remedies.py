"""Write proved changes down as remedies: fields, what they clear, and what else they change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from weavability.answers.altered import Pricing, alterations, figures_of
from weavability.answers.few_names import listed
from weavability.answers.field_changes import Change, Write, form_of, value_at
from weavability.answers.trials import Proof, Trials
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Alteration, FieldChange, Remedy
from weavability.checks.requirement import CODES as REQUIREMENTS
from weavability.textiles.construction import Construction

AS_ASSUMED: Final = ", met if what is assumed is so"
"""What a remedy leaves of a requirement if it does not bring all of its band inside the limits."""

_MAY_BE_LARGE: Final = " Less of it may do: the trials of a search were used up."


@dataclass(frozen=True, kw_only=True)
class RemedyWriter:
    """Writes what the trials of one order on one loom proved.

    Attributes:
        trials: They proved it.
        pricing: For the change of cost; ``None`` if no prices are stated.
    """

    trials: Trials
    pricing: Pricing | None = None

    def remedy(self, proof: Proof, *, may_be_large: bool = False) -> Remedy:
        """Write a proved change down, with what else it changes.

        Args:
            proof: What was proved.
            may_be_large: Whether it is not proved that no step less would do: the steps are then
                left out, and the message says so.
        """
        order = self.trials.fit.cloth.construction
        changes = tuple(
            _stated(order, write, step=None if may_be_large else write.step)
            for write in proof.change.writes
        )
        first = changes[0]
        rejected = proof.rejected_if_assumed
        warned = proof.mends - proof.clears - rejected
        return {
            "pointer": first["pointer"],
            "from": first["from"],
            "to": first["to"],
            "unit": first["unit"],
            "message": proof.change.message
            + _left("note", proof.eases)
            + _left("warning", warned.difference(REQUIREMENTS))
            + _left("warning", warned.intersection(REQUIREMENTS), AS_ASSUMED)
            + (_left_in_doubt(rejected) if self.trials.errors else "")
            + (_MAY_BE_LARGE if may_be_large else ""),
            "clears": sorted(proof.clears),
            "leaves_notes": sorted(proof.eases),
            "leaves_warnings": sorted(proof.mends - proof.clears),
            "rejected_if_assumed": sorted(rejected),
            "brings": sorted(proof.brings),
            "verdict": proof.verdict,
            "distance": proof.distance,
            "changes": changes,
            "alters": tuple(self._alters(proof.change)),
        }

    @cached_property
    def _figures(self) -> Mapping[str, float]:
        return figures_of(self.trials.fit)

    def _alters(self, change: Change) -> Iterator[Alteration]:
        trial = self.trials.trial(change)
        if trial is None:
            return
        after = trial.on_loom()
        but_for_speed = self._figures if trial.is_as_woven else None
        yield from alterations(self._figures, figures_of(after, but_for_speed))
        if self.pricing is not None:
            yield from self.pricing.alteration(self.trials.fit, after)


def _left(severity: str, eased: Iterable[CheckCode], besides: str = "") -> str:
    codes = sorted(eased)
    left = f"a {severity}" if len(codes) == 1 else f"{severity}s"
    return f" It leaves {left} of {listed(codes)}{besides}." if codes else ""


def _left_in_doubt(rejected: Iterable[CheckCode]) -> str:
    codes = ", ".join(sorted(rejected))
    return f" It leaves the order not weavable ({codes}) if what is assumed is so." if codes else ""


def _stated(order: Construction, write: Write, *, step: float | None) -> FieldChange:
    """Write the change of a field in the form that the order uses."""
    form = form_of(order, write.field)
    now = value_at(order, write.field)
    return {
        "pointer": form.pointer,
        "from": round(now * form.per_metric, 6) if form.in_inches and now is not None else now,
        "to": write.to,
        "unit": write.unit,
        "step": step,
    }
