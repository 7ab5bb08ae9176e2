"""A browser tab as a person uses it: by labels, names and what is on the page."""

from __future__ import annotations

import base64
import io
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, Literal

from pypdf import PdfReader
from selenium.common.exceptions import NoSuchElementException, StaleElementReferenceException
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

ROOT: Final = Path(__file__).resolve().parents[2]
AXE: Final = ROOT / ".venv/browser/node_modules/axe-core/axe.min.js"
WITHIN_S: Final = 30.0
STANDARDS: Final = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
"""Rules of WCAG 2.2, levels A and AA, and what is good practice."""

_RUN_AXE: Final = """
const [rules, done] = arguments;
axe.run(document, {runOnly: rules, resultTypes: ["violations"]}).then(
  found => done(found.violations.map(each =>
    each.id + ": " + each.help + ": " + each.nodes.slice(0, 3).map(node => node.html).join(" "))),
  error => done(["axe failed: " + error]));
"""


_LAID_OUT = """
const done = arguments[0];
const loaded = document.readyState === "complete" ? Promise.resolve()
  : new Promise(go => addEventListener("load", go, {once: true}));
const pictures = () => [...document.images].map(each => each.decode().catch(() => {}));
loaded.then(() => Promise.all([document.fonts.ready, ...pictures()]))
  .then(() => requestAnimationFrame(() => requestAnimationFrame(() => done())));
"""


class Tab:
    """One tab; what the page's scripts and its policy complain of is in :meth:`complaints`."""

    def __init__(self, driver: Chrome, url: str) -> None:
        self.driver = driver
        self.url = url

    def open(self, path: str) -> None:
        """Go to an address of the service, or to another one."""
        self.driver.get(path if "://" in path else self.url + path)

    @property
    def path(self) -> str:
        """The address without the service's own."""
        return str(self.driver.current_url).removeprefix(self.url)

    @property
    def text(self) -> str:
        """What can be read on the page."""
        return self.one("body").text

    def all(self, selector: str) -> list[WebElement]:
        return list(self.driver.find_elements(By.CSS_SELECTOR, selector))

    def one(self, selector: str) -> WebElement:
        return self.driver.find_element(By.CSS_SELECTOR, selector)

    def field(self, label: str) -> WebElement:
        """The field of a label, by the beginning of its text."""
        for each in self.all("label"):
            if not each.text.strip().startswith(label):
                continue
            named = each.get_attribute("for")
            if named:
                return self.driver.find_element(By.ID, named)
            return each.find_element(By.CSS_SELECTOR, "input, select, textarea")
        raise NoSuchElementException(f"no label begins with {label!r}")

    def fill(self, label: str, value: str) -> None:
        """Write into a field, in place of what is in it."""
        field = self.field(label)
        if field.tag_name == "select":
            option = f".//option[normalize-space()={value!r} or @value={value!r}]"
            field.find_element(By.XPATH, option).click()
            return
        field.clear()
        field.send_keys(value)

    def press(self, name: str) -> None:
        """Press the button or follow the link of a name; the first that is visible."""
        for each in self.all("button, a, summary, [role=tab]"):
            if each.is_displayed() and each.text.strip().startswith(name):
                self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", each)
                each.click()
                return
        raise NoSuchElementException(f"nothing to press begins with {name!r}")

    def until(self, true: Callable[[], object], *, within_s: float = WITHIN_S) -> None:
        """Wait until something is true; a page that changes meanwhile is asked again."""
        deadline = time.monotonic() + within_s
        while True:
            try:
                if true():
                    return
            except (NoSuchElementException, StaleElementReferenceException):
                pass
            assert time.monotonic() < deadline, f"it did not come true in time:\n{self.text}"
            time.sleep(0.05)

    def sized(self, width_px: int, height_px: int = 900) -> None:
        """Give the page a width and a height, as on a screen of that size."""
        self._command(
            "Emulation.setDeviceMetricsOverride",
            {"width": width_px, "height": height_px, "deviceScaleFactor": 1, "mobile": False},
        )

    def scheme(self, name: str) -> None:
        """Prefer ``light`` or ``dark``."""
        feature = {"name": "prefers-color-scheme", "value": name}
        self._command("Emulation.setEmulatedMedia", {"features": [feature]})

    def shorten(self, selector: str) -> None:
        """Take out what repeats, so that a long page is looked at in a short time."""
        script = "document.querySelectorAll(arguments[0]).forEach(each => each.remove())"
        self.driver.execute_script(script, selector)

    def overflow_px(self) -> int:
        """By how much the page is wider than the window."""
        script = "return document.documentElement.scrollWidth - window.innerWidth"
        return int(self.driver.execute_script(script))

    def barriers(self, *, of: Literal["every kind", "contrast"] = "every kind") -> list[str]:
        """What keeps people from using the page, as far as a program can see it."""
        rules = {"type": "tag", "values": STANDARDS}
        if of == "contrast":
            rules = {"type": "rule", "values": ("color-contrast",)}
        if not self.driver.execute_script("return 'axe' in window"):
            self.driver.execute_script(AXE.read_text("utf-8"))
        return list(self.driver.execute_async_script(_RUN_AXE, rules))

    def complaints(self) -> list[str]:
        """What the browser has complained of since the last call; violations of the policy too."""
        entries = self.driver.get_log("browser")  # type: ignore[no-untyped-call]
        return [str(each["message"]) for each in entries]

    def printed(self) -> PdfReader:
        """The page as it is printed, once its styles, fonts and pictures are there and laid out."""
        self.driver.execute_async_script(_LAID_OUT)
        made = self._command("Page.printToPDF", {"preferCSSPageSize": True})
        return PdfReader(io.BytesIO(base64.b64decode(made["data"])))

    def picture(self, path: Path) -> None:
        """Save the whole page as a picture."""
        made = self._command("Page.captureScreenshot", {"captureBeyondViewport": True})
        path.write_bytes(base64.b64decode(made["data"]))

    def _command(self, name: str, parameters: dict[str, Any]) -> dict[str, Any]:
        made: dict[str, Any] = self.driver.execute_cdp_cmd(name, parameters)
        return made
