"""The sentences of the service by key, and how one is rendered in another language."""

from __future__ import annotations

from collections.abc import Mapping

from weavability_client._json import members
from weavability_client._record import Scalar
from weavability_client.models._generated import MessageListFields
from weavability_client.models.answer import Listing, Page


def render(patterns: Mapping[str, str], key: str, values: Mapping[str, object]) -> str:
    """Return the sentence of a key in the language of some patterns.

    Args:
        patterns: A pattern for each key, written as those of ``Client.messages`` are.
        key: The ``message_key``, ``reason_key`` or ``detail_key`` of an answer.
        values: The values beside it.

    Raises:
        KeyError: There is no pattern for the key, or none of the values has a name that it quotes.

    Example:
        >>> render({"part.price": "{price:.2f} je kg"}, "part.price", {"price": 4.2})
        '4.20 je kg'
    """
    shown = {name: _shown(patterns, name, value) for name, value in values.items()}
    return patterns[key].format_map(shown)


def _shown(patterns: Mapping[str, str], name: str, value: object) -> object:
    within = members(value)
    if within is not None:
        return render(
            patterns, str(within.get("message_key")), members(within.get("message_values")) or {}
        )
    if name in ("warp", "weft") and isinstance(value, str) and value.lower().startswith(name):
        return value[len(name) :].strip("_") or patterns["part.yarn"]
    if isinstance(value, float):
        return _Number(value)
    return _Whole(value) if isinstance(value, int) else value


class _Number(float):
    """A number whose thousands are separated by a space, if its format groups them."""

    def __format__(self, form: str) -> str:
        return super().__format__(form).replace("_", " ")


class _Whole(int):
    """A whole number whose thousands are separated by a space, if its format groups them."""

    def __format__(self, form: str) -> str:
        return super().__format__(form).replace("_", " ")


class MessageList(MessageListFields, Listing):
    """Every sentence that an answer may have; see ``MessageListFields``."""

    __slots__ = ()

    _texts = {"messages": lambda each: f"{each.key} {each.pattern}"}  # noqa: RUF012

    def patterns(self) -> dict[str, str]:
        """Return the English pattern of every key, for :func:`render` or a translator."""
        return {each.key: each.pattern for each in self.messages}

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a sentence."""
        return [
            each.picked("key", "kind", "pattern")
            | {"values": " ".join(value.name for value in each.values)}
            for each in self.messages
        ]

    def _page(self) -> Page:
        return Page(
            headline=f"messages: {len(self.messages)}",
            header=("key", "pattern"),
            rows=[(each.key, each.pattern) for each in self.messages],
            remarks=list(self.rules),
        )
