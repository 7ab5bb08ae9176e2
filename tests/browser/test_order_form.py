"""The start page as a new user, a phone and a browser without script meet it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import numpy as np
from browser.tabs import Tab
from PIL import Image
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

ORDER = (
    "/?loom_id=rapier-190-dobby&weave=2/2+twill+Z&warp_yarn_A=Ne+30&warp_fibre_A=cotton"
    "&weft_yarn_A=Ne+20&weft_fibre_A=cotton&ends_per_cm=32&picks_per_cm=24&width_cm=200"
    "&length_m=3000"
)
SHEET = (
    "loom_id;weave;warp_yarn_A;warp_fibre_A;weft_yarn_A;weft_fibre_A;ends_per_cm;picks_per_cm;"
    "width_cm;cloth\nrapier-190-dobby;plain;Ne 30;cotton;Ne 20;cotton;28;24;152,5;sheeting"
)


SEEN = """
const [one, bar] = [document.activeElement, document.getElementById("bar")];
const {top, bottom} = one.getBoundingClientRect();
return one === bar || (bottom > 0 && top < bar.getBoundingClientRect().top);
"""
"""Whether what has the focus is not wholly covered by the bar (WCAG 2.2, 2.4.11)."""


def write(tab: Tab, field: str, text: str) -> None:
    """Write into the field of a heading, in place of what is in it."""
    place = tab.one(f"#f-{field}")
    place.clear()
    place.send_keys(text)


def text_of(tab: Tab, field: str) -> str:
    return str(tab.one(f"#f-{field}").get_attribute("value"))


def stated(tab: Tab) -> dict[str, str]:
    return {name: texts[0] for name, texts in parse_qs(urlsplit(tab.path).query).items()}


def answer(tab: Tab) -> str:
    return tab.one("#answer").text


@contextmanager
def without_script(tab: Tab) -> Iterator[None]:
    command = "Emulation.setScriptExecutionDisabled"
    tab.driver.execute_cdp_cmd(command, {"value": True})
    try:
        yield
    finally:
        tab.driver.execute_cdp_cmd(command, {"value": False})


def test_a_new_user_states_an_order_follows_a_remedy_and_goes_back(tab: Tab) -> None:
    tab.open("/")
    assert "Describe the cloth" in answer(tab)
    write(tab, "weave", "2/2 twill Z")
    tab.until(lambda: "Still to state" in answer(tab))
    tab.fill("Loom", "rapier-190-dobby")
    tab.until(lambda: stated(tab).get("loom_id") == "rapier-190-dobby")
    tab.until(lambda: "4 shafts" in tab.one("#drawn").text)
    for field, text in {
        "warp_yarn_A": "Ne 30",
        "warp_fibre_A": "cotton",
        "weft_yarn_A": "Ne 20",
        "ends_per_cm": "32",
        "picks_per_cm": "24",
        "width_cm": "200",
    }.items():
        write(tab, field, text)
    tab.until(lambda: "Not weavable" in answer(tab))
    assert "The cloth needs 207.3 cm in the reed" in answer(tab)
    assert tab.driver.switch_to.active_element.get_attribute("id") == "f-width_cm"
    assert stated(tab)["width_cm"] == "200"
    tab.until(lambda: "Not weavable" in str(tab.one("#status").get_attribute("textContent")))
    tab.press("Weave it 183 cm wide")
    tab.until(lambda: stated(tab)["width_cm"] == "183" and text_of(tab, "width_cm") == "183")
    assert "Weavable, with warnings" in tab.one("#answer .verdict").text
    tab.driver.back()
    tab.until(lambda: text_of(tab, "width_cm") == "200" and "Not weavable" in answer(tab))
    tab.press("Report")
    tab.until(lambda: tab.path.startswith("/v1/validations/v1."))
    assert "2/2 twill" in tab.text


def test_units_yarns_and_prices_work_in_place(tab: Tab) -> None:
    tab.open(ORDER)
    tab.press("per inch")
    tab.until(lambda: stated(tab).get("ends_per_in") == "81.28")
    tab.press("Add a warp yarn")
    tab.until(lambda: bool(tab.all("#f-warp_yarn_B")))
    tab.until(lambda: tab.driver.switch_to.active_element.get_attribute("id") == "f-warp_yarn_B")
    tab.driver.switch_to.active_element.send_keys("Ne 30")
    tab.until(lambda: "thread order" in tab.one("#f-warp_order-note").text)
    tab.one("button[value=warp_B]").click()
    tab.until(lambda: not tab.all("#f-warp_yarn_B"))
    tab.press("Prices")
    tab.one("#f-prices-yarn_per_kg-warp-A").send_keys("4.2")
    tab.until(lambda: "Cost of the order" in answer(tab))
    assert "What is priced" in tab.one("#costing").text
    assert "prices" not in urlsplit(tab.path).query
    assert urlsplit(tab.path).fragment == "prices.yarn_per_kg.warp%20A=4.2"
    tab.driver.refresh()
    tab.until(lambda: "Cost of the order" in answer(tab))
    tab.until(lambda: "as soon as you pause" not in answer(tab))
    tab.press("Draw the window")
    tab.until(lambda: bool(tab.all("#window svg")))


def test_faults_are_beside_their_fields_and_lead_there(tab: Tab) -> None:
    tab.scheme("dark")
    tab.open(ORDER.replace("twill", "twil") + "&requirements.mass_g_per_m2.min=much")
    assert tab.barriers() == []
    assert "Did you mean" in tab.one("#f-weave-note").text
    assert tab.one("#f-weave").get_attribute("aria-invalid") == "true"
    tab.press("Mass, at least")
    focused = tab.driver.switch_to.active_element
    assert focused.get_attribute("id") == "f-requirements-mass_g_per_m2-min"
    write(tab, "requirements-mass_g_per_m2-min", "100")
    write(tab, "weave", "2/2 twill Z")
    tab.until(lambda: "Not weavable" in answer(tab))
    assert tab.one("#f-weave").get_attribute("aria-invalid") is None
    assert tab.all(".fault") == []


def test_it_works_without_script(tab: Tab) -> None:
    with without_script(tab):
        tab.open(ORDER)
        assert "Not weavable" in answer(tab)
        write(tab, "reference", "SO-7")
        tab.press("Weave it 183 cm wide")
        tab.until(lambda: stated(tab)["width_cm"] == "183")
        assert stated(tab)["reference"] == "SO-7"
        assert "Weavable, with warnings" in tab.one("#answer .verdict").text
        write(tab, "width_cm", "150" + Keys.ENTER)
        tab.until(lambda: stated(tab)["width_cm"] == "150")
        tab.press("Paste an order")
        tab.one("#pasted").send_keys(SHEET)
        tab.press("Read the order")
        tab.until(lambda: "Not understood: the column 'cloth'" in tab.text)
        assert text_of(tab, "width_cm") == "152.5"
        assert "Weavable" in answer(tab)


def test_what_is_pasted_fills_the_form(tab: Tab) -> None:
    warp = {"yarns": {"A": {"designation": "Nm 40", "fibre": "wool"}}, "ends_per_cm": 20}
    weft = {"yarns": {"A": {"designation": "Nm 40", "fibre": "wool"}}, "picks_per_cm": 18}
    order = {"warp": warp, "weft": weft, "weave": "plain", "width_cm": 150}
    tab.open("/")
    tab.press("Paste an order")
    tab.one("#pasted").send_keys(json.dumps({"construction": order, "prices": {"loom_hour": 6}}))
    tab.press("Read the order")
    tab.until(lambda: "looms can weave it" in answer(tab))
    assert stated(tab)["warp_yarn_A"] == "Nm 40"
    assert urlsplit(tab.path).fragment == "prices.loom_hour=6"
    tab.press("Start from an example")
    tab.press("Denim")
    tab.until(lambda: text_of(tab, "warp_yarn_A") == "Ne 7" and "Weavable" in answer(tab))


def test_an_order_that_no_address_holds_survives_a_reload_and_is_printed(
    tab: Tab, tmp_path: Path
) -> None:
    picture = tmp_path / "noise.png"
    noise = np.random.default_rng(1).integers(0, 2, (200, 440), np.uint8)
    Image.fromarray(noise * 255).convert("1").save(picture)
    tab.open(ORDER.replace("rapier-190-dobby", "rapier-190-jacquard").replace("=200", "=140"))
    tab.press("As rows, or from a picture")
    tab.one("#f-picture").send_keys(str(picture))
    tab.until(lambda: "too long for a link" in answer(tab))
    write(tab, "reference", "D-9")
    tab.until(
        lambda: tab.driver.execute_script(
            "return history.state.order.some(each => each[1] == 'D-9')"
        )
    )
    tab.driver.refresh()
    tab.until(lambda: text_of(tab, "reference") == "D-9" and "picks/min" in answer(tab))
    assert text_of(tab, "width_cm") == "140"
    tab.press("Start from an example")
    tab.press("Denim")
    tab.until(lambda: text_of(tab, "warp_yarn_A") == "Ne 7")
    tab.driver.back()
    tab.until(lambda: text_of(tab, "reference") == "D-9" and "picks/min" in answer(tab))
    form = tab.driver.current_window_handle
    tab.press("Set-up sheet")
    tab.until(lambda: len(tab.driver.window_handles) == 2)
    (sheet,) = {*tab.driver.window_handles} - {form}
    tab.driver.switch_to.window(sheet)
    try:
        tab.until(lambda: "D-9" in tab.text and "Reed" in tab.text)
    finally:
        tab.driver.close()
        tab.driver.switch_to.window(form)
    tab.press("Judge an order")
    tab.until(lambda: text_of(tab, "reference") == "" and "Describe the cloth" in answer(tab))
    assert tab.driver.execute_script("return history.state") is None


def test_a_picture_chosen_at_once_after_its_kind_has_rows_for_its_effects(
    tab: Tab, tmp_path: Path
) -> None:
    flower = Image.new("P", (244, 242))
    flower.putpalette([255, 255, 255, 192, 16, 48])
    flower.paste(1, (40, 40, 120, 120))
    flower.save(tmp_path / "flower.png")
    tab.open(ORDER.replace("dobby", "jacquard").replace("=200", "=140"))
    tab.press("As rows, or from a picture")
    tab.fill("A picture, a PNG, is", "design")
    tab.one("#f-picture").send_keys(str(tmp_path / "flower.png"))
    for colour in ("ffffff", "c01030"):
        tab.until(partial(tab.one, f"#effect-{colour}-weave"))
        tab.one(f"#effect-{colour}-weave").send_keys("8-end satin move 3")
    tab.until(lambda: "Cast the design out" in answer(tab))
    tab.press("Cast the design out")
    tab.until(lambda: '"columns":240' in stated(tab)["weave"])


def test_on_a_phone_the_verdict_is_a_bar_that_opens(tab: Tab) -> None:
    tab.sized(390, 800)
    tab.open(ORDER)
    assert tab.overflow_px() <= 0
    assert tab.barriers() == []
    bar = tab.one("#bar")
    assert "Not weavable" in bar.text
    for _ in range(60):
        ActionChains(tab.driver, duration=0).send_keys(Keys.TAB).perform()
        assert tab.driver.execute_script(SEEN), tab.driver.switch_to.active_element.text
    tab.driver.execute_script("document.getElementById('bar').focus()")
    assert 700 < bar.rect["y"] - tab.driver.execute_script("return scrollY") < 800
    bar.send_keys(Keys.ENTER)
    assert tab.driver.switch_to.active_element.text == "Result"
    panel = tab.driver.find_element(By.ID, "answer")
    tab.until(lambda: 0 < panel.rect["y"] - tab.driver.execute_script("return scrollY") < 400)
    assert "The cloth needs 207.3 cm" in panel.text
    tab.press("Weave it 183 cm wide")
    tab.until(lambda: "Weavable, with warnings" in tab.one("#bar").text)
