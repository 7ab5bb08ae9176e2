"""Thread orders such as ``24A 4B`` or ``3(2A 2B) 4C``: the yarn of every thread in turn."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from typing import Final, NoReturn

from weavability.textiles.digits import require_plain_digits
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import NO_WORDS, Sentence, say

LONGEST_TEXT: Final = 2_000
MOST_THREADS: Final = 100_000
DEEPEST_NESTING: Final = 8
LONGEST_MATCHED: Final = 80
EXAMPLE: Final = "24A 4B, 3(2A 2B) 4C"

_TOKEN: Final = re.compile(r"[\s,;]*(?:(\d+)|([A-Za-z][A-Za-z0-9_]*)|([()]))", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadOrder:
    """One repeat of a thread order.

    Attributes:
        text: The order in canonical form.
        sequence: The yarn of each thread of a repeat.
        counts: Threads of each yarn in a repeat, in the order of first appearance.
    """

    text: str
    sequence: tuple[str, ...]
    counts: Mapping[str, int]

    @property
    def threads(self) -> int:
        """Number of threads in a repeat."""
        return len(self.sequence)

    def remainder(self, total: int) -> int:
        """Return how many of ``total`` threads are left after the last whole repeat."""
        return total % len(self.sequence)

    def over(self, total: int) -> dict[str, int]:
        """Return the threads of each yarn over ``total``: whole repeats, then the start of one.

        >>> parse_order("24A 4B", known="AB").over(60)
        {'A': 52, 'B': 8}
        """
        repeats, rest = divmod(total, len(self.sequence))
        started = Counter(self.sequence[:rest])
        return {yarn: repeats * count + started[yarn] for yarn, count in self.counts.items()}


@dataclass(frozen=True, slots=True)
class _Run:
    """So many threads of a yarn, or so many times a group."""

    times: int
    what: str | tuple[_Run, ...]

    @property
    def threads(self) -> int:
        each = 1 if isinstance(self.what, str) else sum(run.threads for run in self.what)
        return self.times * each

    @property
    def sequence(self) -> tuple[str, ...]:
        if isinstance(self.what, str):
            return (self.what,) * self.times
        return tuple(yarn for run in self.what for yarn in run.sequence) * self.times

    @property
    def text(self) -> str:
        times = "" if self.times == 1 else str(self.times)
        return times + (self.what if isinstance(self.what, str) else f"({_text(self.what)})")


def _text(runs: tuple[_Run, ...]) -> str:
    return " ".join(run.text for run in runs)


def parse_order(
    text: str, *, known: Collection[str], spare: Collection[str] = (), called: str = "yarn"
) -> ThreadOrder:
    """Read a thread order.

    A term is a number and a yarn (``24A``), a yarn alone (one thread), or a number and a group in
    brackets (``3(2A 2B)``); terms are set apart by spaces or commas. The name of a yarn is a letter
    followed by letters, digits or ``_`` and is read as far as it goes: ``AB`` is the yarn AB, and
    ``2A2B`` would be two threads of a yarn A2B, so two terms need a space between them.

    Args:
        text: The order, at most 2,000 characters; a repeat has at most 100,000 threads.
        known: The yarns there are; each must occur.
        spare: Those of them that need not.
        called: What messages call that which a letter names.

    Raises:
        InputError: The order cannot be read, names an unknown yarn, or leaves one out.

    >>> parse_order("2(3A B), 2C", known={"A", "B", "C"}).counts
    {'A': 6, 'B': 2, 'C': 2}
    """
    if len(text) > LONGEST_TEXT:
        _refuse(
            text,
            say(
                "fault.thread_order.too_long",
                "Shorten the thread order to {most_characters} characters; use groups.",
                most_characters=LONGEST_TEXT,
            ),
        )
    require_plain_digits(text, allowed=f"for example {EXAMPLE}")
    return _parsed(text, frozenset(known), frozenset(spare), called)


@lru_cache(maxsize=64)
def _parsed(text: str, known: frozenset[str], spare: frozenset[str], called: str) -> ThreadOrder:
    runs = _Reader(text, known, called).read()
    threads = sum(run.threads for run in runs)
    if threads > MOST_THREADS:
        _refuse(
            text,
            say(
                "fault.thread_order.too_many_threads",
                "A repeat of {threads} threads is over the limit of {most_threads}.",
                threads=threads,
                most_threads=MOST_THREADS,
            ),
        )
    sequence = tuple(yarn for run in runs for yarn in run.sequence)
    counts = dict(Counter(sequence))
    unused = sorted(known - spare - counts.keys())
    if unused:
        _refuse(
            text,
            say(
                "fault.thread_order.unused_yarn",
                "Yarn {yarns} is not in the order: add it or remove the yarn.",
                yarns=", ".join(unused),
            ),
        )
    return ThreadOrder(text=_text(runs), sequence=sequence, counts=counts)


def _refuse(text: str, message: Sentence) -> NoReturn:
    raise InputError.of("", message, given=text[:LONGEST_TEXT], allowed=f"for example {EXAMPLE}")


class _Reader:
    """Reads the runs of an order, one token of look-ahead, nesting bounded."""

    def __init__(self, text: str, known: frozenset[str], called: str) -> None:
        self.text = text
        self.known = known
        self.called = called
        self.tokens = self._tokens()
        self.at = 0

    def _tokens(self) -> list[str]:
        tokens, end = [], 0
        stripped = self.text.rstrip(" \t\r\n,;")
        while end < len(stripped):
            match = _TOKEN.match(stripped, end)
            if match is None:
                rest = stripped[end:].lstrip(" \t\r\n,;")
                _refuse(
                    self.text,
                    say(
                        "fault.thread_order.no_meaning",
                        "{word!r} has no meaning in a thread order.",
                        word=rest[0],
                    ),
                )
            tokens.append(match[1] or match[2] or match[3])
            end = match.end()
        return tokens

    def read(self) -> tuple[_Run, ...]:
        runs = self._runs(depth=0)
        if self._peek() == ")":
            _refuse(
                self.text,
                say(
                    "fault.thread_order.bracket_not_opened",
                    "A bracket is closed that was never opened.",
                ),
            )
        return runs

    def _peek(self) -> str | None:
        return self.tokens[self.at] if self.at < len(self.tokens) else None

    def _runs(self, *, depth: int) -> tuple[_Run, ...]:
        runs: list[_Run] = []
        while self._peek() not in (None, ")"):
            for run in self._term(depth=depth):
                if runs and runs[-1].what == run.what:
                    run = _Run(runs.pop().times + run.times, run.what)
                runs.append(run)
        if not runs:
            nothing = (
                say(
                    "fault.thread_order.empty_bracket", "Write at least one thread in each bracket."
                )
                if depth
                else say("fault.thread_order.empty", "Write at least one thread.")
            )
            _refuse(self.text, nothing)
        return tuple(runs)

    def _term(self, *, depth: int) -> tuple[_Run, ...]:
        times = self._times()
        what = self._peek()
        self.at += 1
        if what == "(":
            inner = self._group(depth=depth + 1)
            return inner if times == 1 else (_Run(times, inner),)
        if what is None or not what[0].isalpha():
            _refuse(
                self.text,
                say(
                    "fault.thread_order.nothing_to_repeat",
                    "Name a {what} or open a bracket after {times}.",
                    what=self.called,
                    times=times,
                ),
            )
        self._check_known(what)
        return (_Run(times, what),)

    def _times(self) -> int:
        token = self._peek()
        if token is None or not token[0].isdigit():
            return 1
        self.at += 1
        times = int(token) if len(token) <= len(str(MOST_THREADS)) else MOST_THREADS + 1
        if not 1 <= times <= MOST_THREADS:
            _refuse(
                self.text,
                say(
                    "fault.thread_order.number",
                    "A number in the order must lie between 1 and {most}.",
                    most=MOST_THREADS,
                ),
            )
        return times

    def _group(self, *, depth: int) -> tuple[_Run, ...]:
        if depth > DEEPEST_NESTING:
            _refuse(
                self.text,
                say(
                    "fault.thread_order.nested_too_deep",
                    "Nest brackets at most {most_levels} deep.",
                    most_levels=DEEPEST_NESTING,
                ),
            )
        runs = self._runs(depth=depth)
        if self._peek() != ")":
            _refuse(
                self.text, say("fault.thread_order.bracket_not_closed", "A bracket is not closed.")
            )
        self.at += 1
        return runs

    def _check_known(self, yarn: str) -> None:
        if yarn in self.known:
            return
        names = ", ".join(sorted(self.known)[:20])
        by_lower = {each.lower(): each for each in self.known}
        near = get_close_matches(yarn[:LONGEST_MATCHED].lower(), by_lower, n=1, cutoff=0.7)
        if near:
            hint = say("part.did_you_mean_name", " Did you mean {name!r}?", name=by_lower[near[0]])
        elif any(map(str.isdigit, yarn)):
            hint = say(
                "part.names_end_at_a_space",
                " Names end at a space: write '2A 2B', not '2A2B'.",
            )
        else:
            hint = NO_WORDS
        _refuse(
            self.text,
            say(
                "fault.thread_order.unknown_yarn",
                "There is no yarn {yarn!r}; the yarns are {yarns}.{hint}",
                yarn=yarn,
                yarns=names,
                hint=hint,
            ),
        )
