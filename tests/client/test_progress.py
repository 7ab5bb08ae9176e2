"""How far a batch has come, on a terminal and elsewhere."""

from __future__ import annotations

import io
import re

from weavability_client.progress import Progress


class Terminal(io.StringIO):
    """Looks like a terminal."""

    def isatty(self) -> bool:
        return True


def test_the_bar_fills_on_a_terminal() -> None:
    shown = Terminal()
    progress = Progress(shown)
    for done in range(1, 5):
        progress(done, 4)
    frames = shown.getvalue().split("\r")
    assert [frame.count("#") for frame in frames] == [0, 7, 15, 22, 30]
    assert shown.getvalue().endswith("] 4/4 orders\n")


def test_short_work_shows_no_bar() -> None:
    shown = Terminal()
    progress = Progress(shown, after_s=60)
    progress(4, 4)
    assert shown.getvalue() == ""


def test_without_a_total_the_orders_are_counted() -> None:
    shown = Terminal()
    progress = Progress(shown)
    progress(7, None)
    assert shown.getvalue() == "\r7 orders"


def test_elsewhere_a_line_a_quarter_is_written() -> None:
    shown = io.StringIO()
    progress = Progress(shown)
    for done in range(1, 101):
        progress(done, 100)
    assert re.findall(r"(\d+) of 100", shown.getvalue()) == ["25", "50", "75", "100"]


def test_elsewhere_nothing_is_written_where_nothing_is_wanted() -> None:
    shown = io.StringIO()
    progress = Progress(shown, elsewhere=False)
    progress(100, 100)
    assert shown.getvalue() == ""
