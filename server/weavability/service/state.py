"""What an application holds between requests: settings, park and tokens; nothing of a request."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from flask import current_app

from weavability.service.access.rate_limit import Limiter
from weavability.service.access.tokens import Callers, load_callers
from weavability.service.requests.park import Park, load_park
from weavability.service.settings import Settings

_KEY: Final = "weavability"


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Everything that a view may look up.

    Attributes:
        callers: Who has a token; ``None`` where everybody may ask.
        limiter: Counts the requests of each caller.
    """

    settings: Settings
    park: Park
    callers: Callers | None = None
    limiter: Limiter = field(default_factory=Limiter)


def load(settings: Settings, *, park: Park | None = None) -> State:
    """Read the files that the settings name; the park only where none is given.

    Raises:
        ParkError: The park file cannot be used.
        TokenFileError: The token file cannot be used.
    """
    return State(
        settings=settings,
        park=park or load_park(settings.looms),
        callers=load_callers(settings.tokens) if settings.tokens else None,
    )


def keep(extensions: dict[str, object], state: State) -> None:
    """Keep ``state`` among an application's extensions."""
    extensions[_KEY] = state


def current() -> State:
    """Return the state of the application that handles the request."""
    state = current_app.extensions[_KEY]
    if not isinstance(state, State):
        raise TypeError("the application was not made by create_app")
    return state
