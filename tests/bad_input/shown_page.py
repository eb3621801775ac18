"""A page as a person meets it: what stands in its fields, and what is said at each of them."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = frozenset({"input", "meta", "link", "br", "img", "hr"})


class ShownPage(HTMLParser):
    """Reads the HTML of one page.

    Attributes:
        fields: What each field holds, by name: texts, and the choices that are pressed.
        choices: The names of fields with choices to press.
        sent_along: What the page sends without showing it: (name, value).
        said_at: What is said at an element, by its id.
        above: What is said of the form as a whole.
        answers: The answers that an open question offers: (name, token, words).
        text: All words of the page.
    """

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.fields: dict[str, list[str]] = {}
        self.choices: set[str] = set()
        self.sent_along: list[tuple[str, str]] = []
        self.said_at: dict[str, list[str]] = {}
        self.above: list[str] = []
        self.answers: list[tuple[str, str, str]] = []
        self.text = ""
        self._open: list[tuple[str, str, str]] = []
        self._textarea = ""
        self.feed(html.replace("\N{NO-BREAK SPACE}", " "))
        self.text = " ".join(self.text.split())
        self.above = [" ".join(line.split()) for line in self.above]

    def _inside(self, place: str) -> bool:
        return any(place in (tag, key) for tag, key, _kind in self._open)

    def _asked_at(self) -> str:
        return next((key for _tag, key, _kind in self._open if key.endswith("_error")), "")

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        name, kind = given.get("name", ""), given.get("type", "text")
        if tag == "input" and name:
            pressed = kind in {"radio", "checkbox"}
            if pressed:
                self.choices.add(name)
            if kind == "hidden":
                self.sent_along.append((name, given.get("value", "")))
            if not pressed or "checked" in given:
                self.fields.setdefault(name, []).append(given.get("value", ""))
            if pressed and name.endswith("-meant"):
                self.answers.append((name, given["value"], ""))
        if tag == "option" and "selected" in given:
            self.fields.setdefault(self._textarea, []).append(given.get("value", ""))
        if tag in {"textarea", "select"}:
            self._textarea = name
            self.fields.setdefault(name, []).extend([""] * (tag == "textarea"))
        if tag == "p" and (at := self._asked_at()) and given.get("class") != "hint":
            self.said_at.setdefault(at, []).append("")
        if tag == "li" and self._inside("what-is-wrong"):
            self.above.append("")
        if tag not in VOID:
            self._open.append((tag, given.get("id", ""), given.get("class", "")))

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        self.text += f" {data} " if data.strip() else " "
        if self._inside("textarea"):
            # A browser drops the first line break inside a text area; Django writes one.
            self.fields[self._textarea][-1] += data.removeprefix("\r\n").removeprefix("\n")
            return
        at = self._asked_at()
        if at and self._inside("p") and ("p", "", "hint") not in self._open:
            self.said_at[at][-1] += data.replace("▲", "")
        if self.above and self._inside("li") and self._inside("what-is-wrong"):
            self.above[-1] += data
        if self.answers and at and self._inside("label") and not self.answers[-1][2]:
            name, token, _words = self.answers[-1]
            self.answers[-1] = (name, token, data.strip())

    def said(self, field: str) -> list[str]:
        """What is said at a field, or of the form as a whole when `field` is 'the whole form'."""
        if field == "the whole form":
            return [" ".join(line.split()) for line in self.above]
        return [" ".join(line.split()) for line in self.said_at.get(f"id_{field}_error", [])]
