"""The report and the set-up sheet as they are read and printed, for the orders of the demo."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
import requests
from browser.tabs import ROOT, Tab
from pypdf import PdfReader

ORDERS = ROOT / "server/weavability/data/demo_orders.toml"
MOST_PAGES = 4
READ = ("D-101", "D-104", "D-109")
"""Orders whose printed pages are read, which takes longer than printing them: the longest, and one
with a long order."""

_SHOW = "document.open(); document.write(arguments[0]); document.close()"


@pytest.fixture(scope="module")
def orders() -> list[dict[str, Any]]:
    tables = tomllib.loads(ORDERS.read_text("utf-8"))["order"]
    sent = ("construction", "loom_id", "prices")
    return [{name: each[name] for name in sent if name in each} for each in tables]


def link_of(tab: Tab, order: dict[str, Any]) -> str:
    unpriced = {name: value for name, value in order.items() if name != "prices"}
    answer = requests.post(f"{tab.url}/v1/validations", json=unpriced, timeout=30).json()
    return str(answer["links"]["self"])


def show_posted(tab: Tab, path: str, order: dict[str, Any]) -> None:
    """Show the page that a posted order gets, as a form shows it."""
    headers = {"Accept": "text/html"}
    page = requests.post(tab.url + path, json=order, headers=headers, timeout=30)
    assert page.status_code == 200, page.text
    tab.open("/problems/invalid-request")
    tab.driver.execute_script(_SHOW, page.text)
    tab.until(lambda: tab.one("h1").is_displayed() and tab.driver.execute_script(_LOADED))


_HEADINGS = "return [...document.querySelectorAll('h2, h3, caption')].map(each => each.textContent)"
_SMALLEST_PX = """
return Math.min(...[...document.querySelectorAll('.sheet *')]
  .filter(each => [...each.childNodes].some(node => node.nodeType == 3 && node.data.trim()))
  .map(each => parseFloat(getComputedStyle(each).fontSize)))
"""
_SMALLEST_DRAWN_PX = """
return Math.min(...[...document.querySelectorAll('.drawing text')]
  .map(each => each.getBoundingClientRect().height).filter(height => height > 0))
"""
_PAPER_PX = 695
"""Width of a printed page between its margins."""
_SQUEEZED = """
const tables = [...document.querySelectorAll(".lengths table")];
return tables.filter(each => tables.some(other => {
  const [one, two] = [each.getBoundingClientRect(), other.getBoundingClientRect()];
  const across = one.left < two.left && two.left < one.right;
  return across && one.top < two.bottom && two.top < one.bottom;
})).map(each => each.caption.textContent)
"""
_LOADED = "return [...document.styleSheets].length == 2 && document.documentElement.dataset.printed"


def lines(pdf: PdfReader) -> Iterator[list[str]]:
    for page in pdf.pages:
        yield [line.strip() for line in page.extract_text().splitlines() if line.strip()]


def test_every_report_prints_on_four_pages_with_a_header(
    tab: Tab, orders: list[dict[str, Any]]
) -> None:
    for order in orders:
        reference = order["construction"]["reference"]
        if "prices" in order:
            show_posted(tab, "/v1/validations", order)
        else:
            tab.open(f"{link_of(tab, order)}?reference={reference}")
        assert tab.one("h1").is_displayed()
        pdf = tab.printed()
        assert 2 <= len(pdf.pages) <= MOST_PAGES, (reference, len(pdf.pages))
        if reference not in READ:
            continue
        headings = set(tab.driver.execute_script(_HEADINGS))
        printed = list(lines(pdf))
        for number, page in enumerate(printed, start=1):
            assert page[0].startswith(f"{reference} · "), page[:3]
            assert re.search(r"Printed \d{4}-\d\d-\d\d", " ".join(page[:2]))
            assert f"Page {number} of {len(printed)}" in " ".join(page)
            assert page[-1] not in headings, (reference, number, page[-1])
        assert any(line.startswith("Sources") for line in printed[-1]), (reference, printed[-1])
        tab.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        tab.sized(_PAPER_PX)
        assert tab.driver.execute_script(_SQUEEZED) == [], reference
        assert tab.driver.execute_script(_SMALLEST_DRAWN_PX) * 72 / 96 >= 5.9, reference
        tab.sized(1280)
        tab.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_every_set_up_sheet_is_one_page_of_ten_points(
    tab: Tab, orders: list[dict[str, Any]]
) -> None:
    for order in orders:
        reference = order["construction"]["reference"]
        if "prices" in order:
            show_posted(tab, "/v1/setup-sheets", order)
        else:
            tab.open(f"{link_of(tab, order)}/setup-sheet?reference={reference}")
        assert tab.one(".band").is_displayed()
        pdf = tab.printed()
        assert len(pdf.pages) == 1, reference
        if reference not in READ:
            continue
        text = " ".join(*lines(pdf))
        assert (
            text.index(reference) < text.index(f"Loom {order['loom_id']}") < text.index("Rule set")
        )
        assert "Caution." in text
        refused = "Do not set it up" in text
        assert refused != ("Check before start" in text)
    tab.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    assert tab.driver.execute_script(_SMALLEST_PX) * 72 / 96 >= 9.99
    tab.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_what_does_not_fit_goes_on_under_the_same_band(
    tab: Tab, orders: list[dict[str, Any]]
) -> None:
    """A point draft over 300 ends with a lift plan of 200 picks takes several pages."""
    threading = [1 + min(end % 14, 14 - end % 14) for end in range(299)] + [5]
    lift_plan = [f"{(pick * 37) % 251 + 2:08b}" for pick in range(200)]
    order = {name: value for name, value in orders[2].items() if name != "prices"}
    construction = {
        **order["construction"],
        "weave": {"threading": threading, "lift_plan": lift_plan},
    }
    show_posted(tab, "/v1/setup-sheets", {**order, "construction": construction})
    printed = list(lines(tab.printed()))
    assert len(printed) > 1
    for page in printed:
        assert "D-103" in " ".join(page[:4])
    assert f"Page 2 of {len(printed)}" in " ".join(printed[1])
    for heading, row in (("2 Reed", "First dent"), ("4 Weft", "Mean feed"), ("5 Running", "Speed")):
        page = next(each for each in printed if heading in each)
        assert any(line.startswith(row) for line in page[page.index(heading) :]), (heading, page)


def test_report_and_sheet_have_no_barrier_and_fit_every_screen(
    tab: Tab, orders: list[dict[str, Any]]
) -> None:
    pages = [
        f"{link_of(tab, orders[3])}?window=setts&reference=D-104",
        f"{link_of(tab, orders[8])}/setup-sheet",
    ]
    for path, scheme in zip(pages, ("dark", "light"), strict=True):
        tab.scheme(scheme)
        tab.open(path)
        tab.driver.execute_script(
            "document.querySelectorAll('main details').forEach(each => { each.open = true })"
        )
        assert tab.barriers() == [], path
        tab.sized(390)
        assert tab.overflow_px() <= 0, path
        tab.sized(1280)
    tab.open(pages[0])
    tab.press("Set-up sheet")
    assert "Do not set it up" in tab.text
    tab.press("The report")
    assert tab.path.endswith("?reference=D-104")
