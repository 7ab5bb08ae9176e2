"""What an application holds between requests: settings and park; nothing of any request."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from flask import current_app

from weavability.service.park import Park
from weavability.service.settings import Settings

_KEY: Final = "weavability"


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Everything that a view may look up."""

    settings: Settings
    park: Park


def keep(extensions: dict[str, object], state: State) -> None:
    """Keep ``state`` among an application's extensions."""
    extensions[_KEY] = state


def current() -> State:
    """Return the state of the application that handles the request."""
    state = current_app.extensions[_KEY]
    if not isinstance(state, State):
        raise TypeError("the application was not made by create_app")
    return state
