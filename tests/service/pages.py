"""Reading pages as a browser and a screen reader would."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser

_VOID = {"meta", "link", "input", "br", "img", "hr", "path", "rect"}


@dataclass(slots=True)
class Element:
    tag: str
    attributes: dict[str, str]
    inside: tuple[str, ...]
    text: str = ""


@dataclass(slots=True)
class Page:
    elements: list[Element] = field(default_factory=list)

    def all(self, tag: str) -> list[Element]:
        return [each for each in self.elements if each.tag == tag]

    def one(self, tag: str) -> Element:
        (found,) = self.all(tag)
        return found

    @property
    def ids(self) -> list[str]:
        return [each.attributes["id"] for each in self.elements if "id" in each.attributes]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.page = Page()
        self.open: list[Element] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        inside = tuple(each.tag for each in self.open)
        made = Element(tag, {name: value or "" for name, value in attrs}, inside)
        self.page.elements.append(made)
        if tag not in _VOID:
            self.open.append(made)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop().tag == tag, f"</{tag}> closes something else"

    def handle_data(self, data: str) -> None:
        for each in self.open:
            each.text += data


@lru_cache(maxsize=16)
def read(html: str) -> Page:
    """Read a page; everything opened in it must be closed in order."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert [each.tag for each in reader.open] == []
    return reader.page
