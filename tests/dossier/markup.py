"""Read a page back as a browser would, with the standard library's parser."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = frozenset({"meta", "br", "path", "use", "link", "img", "hr", "input", "wbr"})


class Tree(HTMLParser):
    """Start tags with attributes in order, text, and ids of a page."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.text: list[str] = []
        self.declarations: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        self.text.append(data)

    def handle_decl(self, decl: str) -> None:
        self.declarations.append(decl)

    def handle_comment(self, data: str) -> None:
        self.declarations.append(data)

    def of(self, *names: str) -> list[tuple[str, dict[str, str]]]:
        return [(tag, attributes) for tag, attributes in self.tags if tag in names]

    @property
    def ids(self) -> list[str]:
        return [attributes["id"] for _, attributes in self.tags if "id" in attributes]
