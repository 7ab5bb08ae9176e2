"""The documentation in a browser: found, read, and tried out."""

from __future__ import annotations

from browser.tabs import Tab
from selenium.webdriver.remote.webelement import WebElement


def call(tab: Tab, name: str) -> WebElement:
    return tab.one(f"#{name}")


def test_it_has_no_barrier_and_fits_every_screen(tab: Tab) -> None:
    tab.open("/docs")
    tab.shorten(".call:nth-of-type(n+2), tr:nth-child(n+6), [id^='schema-']:nth-of-type(n+4)")
    assert tab.barriers() == []
    tab.sized(390)
    tab.open("/docs")
    assert tab.overflow_px() <= 0
    assert not tab.one(".contents a").is_displayed()
    tab.press("Contents")
    assert tab.one(".contents a").is_displayed()


def test_a_search_leaves_what_holds_its_words(tab: Tab) -> None:
    tab.open("/docs")
    tab.fill("Search", "no such word anywhere")
    assert "Nothing here holds these words." in tab.text
    assert not [each.text for each in tab.all(".docs h2, .contents li") if each.is_displayed()]
    tab.fill("Search", "etag findings_cleared")
    assert call(tab, "list_validation_changes").is_displayed()
    assert not call(tab, "analyse_weave").is_displayed()
    assert tab.one(".contents a[href='#list_validation_changes']").is_displayed()
    assert not tab.one(".contents a[href='#analyse_weave']").is_displayed()
    tab.fill("Search", "")


def test_what_is_sent_as_csv_is_csv(tab: Tab) -> None:
    tab.open("/docs")
    form = call(tab, "validate_construction").find_element("tag name", "form")
    sends = form.find_element("css selector", ".sends")
    sends.find_element("xpath", "option[.='text/csv']").click()
    body = form.find_element("tag name", "textarea").get_attribute("value") or ""
    assert body.startswith("reference,loom_id,weave,")
    accept = form.find_element("css selector", ".accept")
    assert accept.get_attribute("value") == "text/csv"
    tab.driver.execute_script("arguments[0].requestSubmit()", form)
    tab.until(lambda: "verdict" in form.find_element("tag name", "output").text)
    answer = form.find_element("tag name", "output").text
    assert answer.startswith("200")


def test_the_samples_in_typescript_run_against_the_service_that_shows_them(tab: Tab) -> None:
    tab.open("/docs")
    samples = tab.driver.execute_script(
        "return [...document.querySelectorAll('.sample pre')].map(each => each.textContent)"
    )
    runnable = [each for each in samples if "await fetch" in each]
    assert len(runnable) * 3 == len(samples)
    assert all(tab.url in each for each in samples)
    for each in runnable:
        failed = tab.driver.execute_async_script(
            "const done = arguments[0], console = {log() {}};"
            f"(async () => {{ {each} }})().then(() => done(null), error => done(String(error)));"
        )
        assert failed is None, each[-400:]
