"""What holds of every page: no barrier, nothing too wide, nothing that its policy forbids."""

from __future__ import annotations

import pytest
from browser.tabs import Tab

PAGES = {
    "/evidence": "tr:nth-child(n+6), section:nth-of-type(n+6)",
    "/problems/not-found": "",
    "/v1/checks": "",
    "/v1/checks/sett.tight": "",
    "/v1/looms": "",
    "/v1/looms/rapier-190-jacquard": "",
    "/v1/weaves": "tr:nth-child(n+12)",
}
"""Every page without a test file of its own, and what repeats on it."""


@pytest.mark.parametrize("path", PAGES)
def test_it_has_no_barrier_and_fits_every_screen(tab: Tab, path: str) -> None:
    tab.open(path)
    tab.sized(390)
    assert tab.overflow_px() <= 0
    tab.sized(1280)
    assert tab.overflow_px() <= 0
    if PAGES[path]:
        tab.shorten(PAGES[path])
    assert tab.barriers() == []
    tab.scheme("dark")
    assert tab.barriers(of="contrast") == []


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
