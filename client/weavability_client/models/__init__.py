"""What goes in and what comes out, as typed, frozen dataclasses.

The names are those of the API; every number's name ends in its unit. What a class does not know is
kept in its ``extra``. ``None`` means "not stated" going in and "not applicable" coming out.

The fields are generated from the service's OpenAPI document (``_generated``); the modules beside it
add what a caller does with them.
"""

from __future__ import annotations

from weavability_client.models import _generated
from weavability_client.models._generated import *  # noqa: F403 (named in its __all__)
from weavability_client.models.answer import Answer, Drawing
from weavability_client.models.changeovers import ChangeoverReport, SequenceReport
from weavability_client.models.findings import Assumption, Finding, Remedy, Severity, Verdict
from weavability_client.models.listings import (
    Evidence,
    LoomPark,
    MessageList,
    RuleSet,
    WeaveNotations,
    render,
)
from weavability_client.models.rates import RateSheet
from weavability_client.models.report import ChangedReport, Report, Setup
from weavability_client.models.ways_out import LoomMatch, MatchReport, RemedyReport, Window
from weavability_client.models.weaves import DesignSheet, WeaveSheet

__all__ = [
    "Answer",
    "Assumption",
    "ChangedReport",
    "ChangeoverReport",
    "DesignSheet",
    "Drawing",
    "Evidence",
    "Finding",
    "LoomMatch",
    "LoomPark",
    "MatchReport",
    "MessageList",
    "RateSheet",
    "Remedy",
    "RemedyReport",
    "Report",
    "RuleSet",
    "SequenceReport",
    "Setup",
    "Severity",
    "Verdict",
    "WeaveNotations",
    "WeaveSheet",
    "Window",
    "render",
]
__all__ += _generated.__all__
