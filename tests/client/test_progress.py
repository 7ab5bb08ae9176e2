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


def test_elsewhere_nothing_is_written_where_nothing_is_needed() -> None:
    shown = io.StringIO()
    progress = Progress(shown, elsewhere=False)
    progress(100, 100)
    assert shown.getvalue() == ""


def test_after_a_second_the_bar_shows_rate_and_time_left() -> None:
    shown = Terminal()
    seconds = iter([0.0, 0.0, 0.5, 2.0, 4.0])
    progress = Progress(shown, clock=lambda: next(seconds))
    progress(1, 1000)
    progress(100, 1000)
    progress(1000, 1000)
    frames = shown.getvalue().split("\r")[1:]
    assert frames[0].endswith("1/1000 orders")
    assert frames[1].endswith("100/1000 orders, 50/s, 19 s left")
    assert frames[2].rstrip(" \n").endswith("1000/1000 orders, 250/s")
    assert len(frames[2].rstrip("\n")) >= len(frames[1])


def test_a_slow_start_has_no_rate_and_what_was_done_before_is_in_none() -> None:
    shown = Terminal()
    seconds = iter([0.0, 1.5, 1.5, 2.0, 2.0])
    progress = Progress(shown, before=600, clock=lambda: next(seconds))
    progress(600, 1000)
    progress(700, 1000)
    frames = shown.getvalue().split("\r")[1:]
    assert frames[0].endswith("600/1000 orders")
    assert frames[1].endswith("700/1000 orders, 50/s, 7 s left")


def test_a_bar_that_cannot_be_shown_stops_no_work() -> None:
    class Closed(Terminal):
        def write(self, text: str) -> int:
            raise BrokenPipeError

    Progress(Closed())(1, 2)
