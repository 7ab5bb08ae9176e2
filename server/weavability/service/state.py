"""The state that an application keeps between requests: settings, park and tokens."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from flask import current_app

from weavability.looms.thresholds import Thresholds, put_in_force, read_thresholds, shipped
from weavability.service.access.rate_limit import Limiter
from weavability.service.access.tokens import Callers, load_callers
from weavability.service.requests.park import Park, load_park
from weavability.service.settings import Settings

_KEY: Final = "weavability"


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Everything that a view may look up.

    Attributes:
        describe: Makes the OpenAPI document.
        callers: Who has a token; ``None`` if nobody needs one.
        limiter: Counts the requests of each caller.
    """

    settings: Settings
    park: Park
    describe: Callable[[], Mapping[str, Any]]
    callers: Callers | None = None
    thresholds: Thresholds = field(default_factory=shipped)
    limiter: Limiter = field(default_factory=Limiter)


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
        callers=load_callers(settings.tokens) if settings.tokens else None,
        thresholds=read_thresholds(settings.thresholds),
    )


def keep(extensions: dict[str, object], state: State) -> None:
    """Keep ``state`` among an application's extensions; its thresholds hold for the process."""
    put_in_force(state.thresholds)
    extensions[_KEY] = state


def current() -> State:
    """Return the state of the application that handles the request."""
    state = current_app.extensions[_KEY]
    if not isinstance(state, State):
        raise TypeError("the application was not made by create_app")
    return state
