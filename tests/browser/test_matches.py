"""The ranking of looms and the comparison of two reports, as a planner uses them."""

from __future__ import annotations

from typing import Any

from browser.tabs import Tab
from selenium.webdriver.remote.webelement import WebElement
from service.support import small_request

from weavability.service.batches.flat_order import query_of, write_fields
from weavability.service.http.links import pack
from weavability.service.requests.canonical import canonical_request


def order(**changes: Any) -> dict[str, Any]:
    return {**small_request()["construction"], "reference": "SO-1", "length_m": 3000, **changes}


def address_of(construction: dict[str, Any]) -> str:
    return f"/matches?{query_of(write_fields({'construction': construction}).cells)}"


def boxes(tab: Tab) -> list[WebElement]:
    return tab.all("[name=compare]")


def has_no_barrier(tab: Tab) -> None:
    """Look at a page in light and dark, and on a narrow screen."""
    tab.shorten("tbody tr:nth-child(n+5)")
    assert tab.barriers() == []
    tab.scheme("dark")
    assert tab.barriers(of="contrast") == []
    tab.scheme("light")
    tab.sized(390)
    assert tab.overflow_px() <= 0
    tab.sized(1280)


def test_two_looms_are_ticked_compared_and_can_be_sent_to_somebody(tab: Tab) -> None:
    tab.open(address_of(order()))
    assert not tab.one("#ranking button").is_enabled()
    first, second, third = boxes(tab)[:3]
    first.click()
    assert tab.one("#ranking button").text == "Tick one more loom to compare"
    second.click()
    assert not third.is_enabled()
    names = [each.get_attribute("value") for each in (first, second)]
    tab.press("Compare the two ticked looms")
    tab.until(lambda: f"{names[0]} and {names[1]}: what differs" in tab.text)
    assert tab.path.endswith(f"&compare={names[0]}&compare={names[1]}#compared")
    assert [each.text for each in tab.all(".sides h3")] == names
    tab.press("Speed and hours")
    tab.until(lambda: "Speed at which this cloth runs on this loom" in tab.text)
    tab.press("Limits of the loom")
    tab.until(lambda: "Shedding: " in tab.text)
    assert [each.is_selected() for each in boxes(tab)[:3]] == [True, True, False]
    assert len(tab.printed().pages) <= 6
    tab.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    shown = "return [...document.querySelector(arguments[0]).cells].map(each => each.offsetLeft)"
    headings, cells = (
        tab.driver.execute_script(shown, f"#matches {part} tr") for part in ("thead", "tbody")
    )
    assert headings == cells
    tab.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    has_no_barrier(tab)
    tab.driver.back()
    tab.until(lambda: not tab.all(".sides"))


def test_prices_and_what_is_on_the_looms_rank_anew_and_leave_no_trace_in_the_address(
    tab: Tab,
) -> None:
    now = {"construction": order(weave="2/2 twill Z"), "loom_id": "rapier-190-dobby"}
    link = f"{tab.url}/v1/validations/{pack(canonical_request(now))}"
    tab.open(address_of(order()))
    tab.press("Rank with change-overs or prices")
    tab.fill("Links to the reports", link)
    tab.fill("Currency", "EUR")
    tab.fill("Loom hour", "6,5")
    tab.fill("Yarn, warp A", "4.2")
    tab.fill("Rank looms of one verdict by", "cost")
    tab.one(".further button").click()
    tab.until(lambda: "EUR per m" in tab.text)
    assert tab.path == "/matches"
    assert "Change-over" in [each.text for each in tab.all("thead th")]
    has_no_barrier(tab)
    boxes(tab)[0].click()
    boxes(tab)[1].click()
    tab.press("Compare the two ticked looms")
    tab.until(lambda: "what differs" in tab.text)
    assert tab.path == "/matches#compared"
    tab.press("Costs")
    tab.until(lambda: "Loom hours: quantity x price" in tab.text)


def test_two_reports_are_compared_by_their_links(tab: Tab) -> None:
    one, other = (
        pack(canonical_request({"construction": order(**each), "loom_id": "rapier-190-dobby"}))
        for each in ({}, {"width_cm": 186, "weave": "2/2 twill Z"})
    )
    tab.open("/compare")
    tab.fill("First report", f"/v1/validations/{one}?reference=SO-1")
    tab.fill("Second report", str(other))
    tab.press("Compare")
    tab.until(lambda: "What differs" in tab.text)
    assert [each.text for each in tab.all("caption")][:2] == ["Order", "Findings"]
    rows = [" ".join(each.text.split()) for each in tab.all(".compared")[0:1]]
    assert rows == [
        "Order What SO-1 Second report Weave plain 2/2 twill Z Width of the cloth 150 cm 186 cm"
    ]
    has_no_barrier(tab)
    tab.fill("Second report", "hello")
    tab.press("Compare")
    tab.until(lambda: "This is no link to a report" in tab.text)
    assert tab.field("Second report").get_attribute("aria-invalid") == "true"
