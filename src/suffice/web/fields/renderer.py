"""Fields written by functions where Django renders a template for each option and each of its attributes.

A list of a hundred values is two hundred templates, each with a context of its own: of the 100 ms that the
clinic's policy took, 75 went there. What is written is the same to the letter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from django.forms.renderers import DjangoTemplates
from django.utils.formats import localize
from django.utils.html import conditional_escape, escape
from django.utils.safestring import SafeString

Widget = Mapping[str, Any]
"""What a field hands to its template."""
FOLDER: Final = "django/forms/widgets/"
INPUTS: Final = ("text", "hidden", "number", "email", "password", "date", "time", "checkbox")
OPTIONS: Final = ("radio_option", "checkbox_option")


class Renderer(DjangoTemplates):
    """Writes the fields that our forms are made of; anything else is a template as before."""

    def render(self, template_name: str, context: dict[str, Any], request: Any = None) -> str:
        """A field, or a form, as HTML."""
        write = WRITERS.get(template_name)
        if write is None:
            return super().render(template_name, context, request)
        return write(context["widget"]).strip()


def _shown(value: Any) -> str:
    """What `{{ value }}` writes."""
    return conditional_escape(value if isinstance(value, str) else str(localize(value)))


def _plain(value: Any) -> str:
    """What `{{ value|stringformat:'s' }}` writes: a number without the marks of a language."""
    return value if isinstance(value, SafeString) else escape(str(value))


def _attributes(widget: Widget) -> str:
    return "".join(
        f" {_shown(name)}" if value is True else f' {_shown(name)}="{_plain(value)}"'
        for name, value in widget["attrs"].items()
        if value is not False
    )


def _input(widget: Widget) -> str:
    value = "" if widget["value"] is None else f' value="{_plain(widget["value"])}"'
    start = f'<input type="{_shown(widget["type"])}" name="{_shown(widget["name"])}"'
    return f"{start}{value}{_attributes(widget)}>"


def _choice(widget: Widget) -> str:
    """One option to press, in its label where it stands among others without a template of ours."""
    if not widget["wrap_label"]:
        return _input(widget)
    of = widget["attrs"].get("id")
    start = f'<label for="{_shown(of)}">' if of else "<label>"
    return f"{start}{_input(widget)}\n {_shown(widget['label'])}</label>"


def _select(widget: Widget) -> str:
    options = "".join(_options(widget))
    return f'<select name="{_shown(widget["name"])}"{_attributes(widget)}>{options}\n</select>'


def _options(widget: Widget) -> Iterator[str]:
    for group, options, _index in widget["optgroups"]:
        if group:
            yield f'\n  <optgroup label="{_shown(group)}">'
        for one in options:
            value, label = _plain(one["value"]), _shown(one["label"])
            yield f'\n  <option value="{value}"{_attributes(one)}>{label}</option>\n'
        if group:
            yield "\n  </optgroup>"


WRITERS: Final[Mapping[str, Callable[[Widget], str]]] = {
    f"{FOLDER}select.html": _select,
    **{f"{FOLDER}{one}.html": _input for one in INPUTS},
    **{f"{FOLDER}{one}.html": _choice for one in OPTIONS},
}
