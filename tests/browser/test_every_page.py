"""What holds of every page: no barrier, nothing too wide, nothing that its policy forbids."""

from __future__ import annotations

import pytest
from browser.tabs import Tab

PAGES = ("/docs", "/evidence", "/problems/not-found")


@pytest.mark.parametrize("path", PAGES)
def test_it_has_no_barrier_and_fits_every_screen(tab: Tab, path: str) -> None:
    for scheme in ("light", "dark"):
        tab.scheme(scheme)
        tab.open(path)
        assert tab.barriers() == [], scheme
    tab.sized(390)
    tab.open(path)
    assert tab.overflow_px() <= 0


def test_a_page_that_is_not_there_says_so_in_words(tab: Tab) -> None:
    tab.open("/nowhere")
    assert "There is nothing at /nowhere" in tab.text
    assert tab.barriers() == []
    assert any("404" in each for each in tab.complaints())


def test_a_second_visit_still_runs_the_pages_script(tab: Tab) -> None:
    """The 304 carries the page's own policy, by which a browser judges the page that it kept."""
    for _ in range(2):
        tab.open("/docs")
        assert tab.one("form#access").is_displayed()
