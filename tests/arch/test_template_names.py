"""What a template asks of an object has its name in the sources: Django shows nothing for the rest.

A name that was changed in Python alone would leave a gap on a page that no type checker sees.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from arch.source_tree import ROOT, modules

TAG = re.compile(r"\{[{%][^}]*?[%}]\}")
QUOTED = re.compile(r"\"[^\"]*\"|'[^']*'")
ASKED = re.compile(r"\.([a-z_]\w*)")
WORD = re.compile(r"[A-Za-z_]\w*")
OF_DJANGO = {
    *("aria_describedby", "choice_label", "hidden_fields", "is_hidden", "non_field_errors"),
    *("widget_type", "counter", "get_full_path", "get_full_name", "last_login"),
}
"""What forms, loops, requests and users of Django answer to."""
OF_FILES = {"dark_narrow", "dark_wide", "light_narrow", "light_wide"}
"""Put together from a palette and a width."""


def asked(template: str) -> Iterator[str]:
    """The names that a template asks of objects."""
    for tag in TAG.findall(template):
        yield from ASKED.findall(QUOTED.sub("", tag))


def words_of_the_sources() -> set[str]:
    return {word for module in modules("src/suffice") for word in WORD.findall(module.text)}


def test_what_templates_ask_for_is_there() -> None:
    known = words_of_the_sources() | OF_DJANGO | OF_FILES
    found = {
        f"{path.name}: {name}"
        for path in sorted((ROOT / "src/suffice/web/templates").rglob("*.html"))
        for name in asked(path.read_text(encoding="utf-8"))
        if name not in known
    }
    assert found == set()


def test_names_are_found_in_both_kinds_of_tag_and_not_in_texts() -> None:
    template = "{% if row.range_text %}{{ row.far.near|join:\"a.b\" }}{% url 'x.y' %}{% endif %}"
    assert list(asked(template)) == ["range_text", "far", "near"]
