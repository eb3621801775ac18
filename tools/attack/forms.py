"""The links and forms of a page, as a browser would follow and send them."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin, urlsplit


@dataclass(frozen=True)
class Form:
    """A form: where it is sent, how, and what it holds as the page has it.

    Attributes:
        values: Names and values; a name may stand several times.
        choices: What a name may be by the page: of selects, radios and named buttons.
        files: Names of file fields.
    """

    action: str
    method: str
    values: tuple[tuple[str, str], ...]
    choices: dict[str, tuple[str, ...]] = field(hash=False)
    files: tuple[str, ...] = ()


@dataclass
class _Open:
    action: str
    method: str
    values: list[tuple[str, str]] = field(default_factory=list)
    choices: dict[str, list[str]] = field(default_factory=dict)
    files: list[str] = field(default_factory=list)


class _Reader(HTMLParser):
    def __init__(self, path: str) -> None:
        super().__init__()
        self.path = path
        self.links: list[str] = []
        self.forms: list[Form] = []
        self._form: _Open | None = None
        self._select = ""
        self._text: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        of = {name: value or "" for name, value in attrs}
        if tag == "form":
            action = urljoin(self.path, of.get("action", "") or self.path)
            self._form = _Open(action, of.get("method", "get").upper())
        for name in ("href", "hx-get", "data-href"):
            if tag != "link" and name in of:
                self.links.append(urldefrag(urljoin(self.path, of[name])).url)
        if self._form is not None:
            self._field(self._form, tag, of)

    def _field(self, form: _Open, tag: str, of: dict[str, str]) -> None:
        name, value, kind = of.get("name", ""), of.get("value", ""), of.get("type", "text")
        if tag == "select":
            self._select = name
        elif tag == "option" and self._select:
            form.choices.setdefault(self._select, []).append(value)
            if "selected" in of:
                form.values.append((self._select, value))
        elif tag == "textarea" and name:
            form.values.append((name, ""))
        elif tag in {"input", "button"} and name:
            self._input(form, tag, name, value, kind, of)

    def _input(
        self, form: _Open, tag: str, name: str, value: str, kind: str, of: dict[str, str]
    ) -> None:
        if kind == "file":
            form.files.append(name)
        elif kind in {"radio", "checkbox"}:
            form.choices.setdefault(name, []).append(value or "on")
            if "checked" in of:
                form.values.append((name, value or "on"))
        elif tag == "button" or kind == "submit":
            form.choices.setdefault(name, []).append(value)
        else:
            form.values.append((name, value))

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = ""
        if tag == "form" and self._form is not None:
            form, self._form = self._form, None
            choices = {name: tuple(values) for name, values in form.choices.items()}
            self.forms.append(
                Form(form.action, form.method, tuple(form.values), choices, tuple(form.files))
            )


def read_page(path: str, html: str) -> tuple[list[str], list[Form]]:
    """The links of a page that stay on its server, and its forms."""
    reader = _Reader(path)
    reader.feed(html)
    links = [one for one in reader.links if not urlsplit(one).netloc and one.startswith("/")]
    return links, reader.forms
