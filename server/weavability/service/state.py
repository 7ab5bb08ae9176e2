"""The state that an application keeps between requests: settings, park and tokens."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from flask import current_app

from weavability.looms.thresholds import Thresholds, put_in_force, read_thresholds, shipped
from weavability.service.access.request_guard import Guard, Limits
from weavability.service.access.tokens import load_callers
from weavability.service.requests.kept_answers import KeptAnswers
from weavability.service.requests.park import Park, load_park
from weavability.service.settings import Settings

_KEY: Final = "weavability"


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Everything that a view may look up.

    Attributes:
        describe: Makes the OpenAPI document.
        guard: Knows the callers and counts what they do.
        answers: The last answers.
    """

    settings: Settings
    park: Park
    describe: Callable[[], Mapping[str, Any]]
    guard: Guard
    answers: KeptAnswers
    thresholds: Thresholds = field(default_factory=shipped)


def load(
    settings: Settings, *, describe: Callable[[], Mapping[str, Any]], park: Park | None = None
) -> State:
    """Read the files that the settings name; the park only if none is given.

    Args:
        settings: Names the files.
        describe: Makes the OpenAPI document.
        park: The loom park.

    Raises:
        ParkError: The park file cannot be used.
        TokenFileError: The token file cannot be used.
        ThresholdFileError: The file of thresholds cannot be used.
    """
    return State(
        settings=settings,
        park=park or load_park(settings.looms),
        describe=describe,
        guard=Guard(
            load_callers(settings.tokens) if settings.tokens else None,
            Limits(requests_per_min=settings.requests_per_min, work_per_min=settings.work_per_min),
        ),
        answers=KeptAnswers(settings.kept_answers_bytes),
        thresholds=read_thresholds(settings.thresholds),
    )


def put_to_use(extensions: dict[str, object], state: State) -> None:
    """Keep ``state`` among an application's extensions; its thresholds hold for the process."""
    put_in_force(state.thresholds)
    keep(extensions, state)


def keep(extensions: dict[str, object], state: State) -> None:
    """Keep ``state`` among an application's extensions, and the thresholds in force as they are."""
    extensions[_KEY] = state


def current() -> State:
    """Return the state of the application that handles the request."""
    state = current_app.extensions[_KEY]
    if not isinstance(state, State):
        raise TypeError("the application was not made by create_app")
    return state
