"""What a form says of a field that cannot be taken: the value, the rule, the next act, and a code.

Django's own sentences name neither the value nor what to do; these take their place in our forms.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.utils.translation import gettext_lazy

from suffice.errors import Problem
from suffice.message import message
from suffice.web.shown.wording import in_words

SHOWN = 60
"""Characters of a value that a message repeats; the field itself shows all of them."""


def words_of(problem: Problem) -> str:
    """A problem as a person reads it at the field; its code comes last, for the manual."""
    return f"{problem_text(problem)} ({problem.code})"


def problem_text(problem: Problem, *, with_fix: bool = True) -> str:
    """A problem in the language of the page, without its code."""
    parts = [problem.what, problem.why, problem.fix if with_fix else ""]
    return " ".join(in_words(part) for part in parts if part)


class SpokenForm(forms.Form):
    """A form that says in our words what Django finds wrong with a field.

    Attributes:
        left_empty: What stands beside a field that may be left empty.
    """

    left_empty = gettext_lazy("optional")

    def add_error(self, field: str | None, error: Any) -> None:
        """Note what is wrong with a field, or with the form as a whole."""
        if field is not None and isinstance(error, ValidationError):
            error = [
                _error_words(one, self[field]) for one in getattr(error, "error_list", [error])
            ]
        super().add_error(field, error)


def goes_together(why: object, fix: object) -> str:
    """The words for a field that stands empty and is needed because of another one."""
    return words_of(Problem(code="FORM-008", what="", why=str(why), fix=str(fix)))


def _error_words(error: ValidationError, bound: BoundField) -> str:
    """One of Django's errors in our words; ours, which carry no code of Django's, as they are."""
    say = _WORDS.get(error.code or "")
    if say is None:
        return " ".join(error.messages)
    return words_of(say(bound, error.params or {}))


def _written(bound: BoundField) -> str:
    value = bound.data
    text = value if isinstance(value, str) else getattr(value, "name", "")
    return f"'{text[:SHOWN]}…'" if len(text) > SHOWN else f"'{text}'"


def _required(bound: BoundField, _params: Mapping[str, Any]) -> Problem:
    if isinstance(bound.field, forms.BooleanField):
        return Problem(
            code="FORM-001",
            what=message("This is not ticked."),
            why=message("It cannot be stored without this."),
            fix=message("Tick it once it is so."),
        )
    chosen = isinstance(bound.field, forms.ChoiceField | forms.FileField)
    return Problem(
        code="FORM-001",
        what=message("Nothing is chosen here.") if chosen else message("Nothing is written here."),
        why=message("It cannot be stored without this."),
        fix=message("Choose one.") if chosen else message("Fill it in."),
    )


def _no_choice(bound: BoundField, _params: Mapping[str, Any]) -> Problem:
    choices = getattr(bound.field, "choices", [])
    names = ", ".join(str(words) for value, words in choices if value)
    return Problem(
        code="FORM-002",
        what=_written(bound),
        why=message("is not among the choices."),
        fix=message("Choose one of: {names}.", names=str(names)),
    )


def _not_of_its_kind(bound: BoundField, _params: Mapping[str, Any]) -> Problem:
    """A number that is none; anything else is a hidden mark, which only the page itself writes."""
    field = bound.field
    if not isinstance(field, forms.IntegerField):  # the root of Django's fields for numbers
        return Problem(
            code="FORM-007",
            what=_written(bound),
            why=message("is not a mark that this page makes."),
            fix=message(
                "Nothing was stored. Copy what you need, load the page again and enter it there."
            ),
        )
    whole = not isinstance(field, forms.FloatField)
    return _no_number(_written(bound), whole=whole)


def no_number(text: str) -> str:
    """The words for a text that stands where a number must."""
    return words_of(_no_number(f"'{text}'", whole=False))


def _no_number(written: str, *, whole: bool) -> Problem:
    return Problem(
        code="FORM-003",
        what=written,
        why=message("is not a whole number.") if whole else message("is not a number."),
        fix=message("Write it in digits, for example 6."),
    )


def _too_low(bound: BoundField, params: Mapping[str, Any]) -> Problem:
    return Problem(
        code="FORM-004",
        what=_written(bound),
        why=message(
            "is less than {limit}, the least that can be.", limit=str(params["limit_value"])
        ),
        fix=message("Correct it."),
    )


def _too_high(bound: BoundField, params: Mapping[str, Any]) -> Problem:
    return Problem(
        code="FORM-004",
        what=_written(bound),
        why=message(
            "is more than {limit}, the most that can be.", limit=str(params["limit_value"])
        ),
        fix=message("Correct it."),
    )


def _too_long(_bound: BoundField, params: Mapping[str, Any]) -> Problem:
    return Problem(
        code="FORM-005",
        what=message("The text has {count} characters.", count=str(params["show_value"])),
        why=message("At most {limit} fit here.", limit=str(params["limit_value"])),
        fix=message("Shorten it, or divide it."),
    )


def _nul(_bound: BoundField, _params: Mapping[str, Any]) -> Problem:
    return Problem(
        code="FORM-006",
        what=message("The text has a NUL character, which cannot be seen."),
        why=message("It cannot be stored."),
        fix=message("Type the text again instead of pasting it."),
    )


def _empty_file(bound: BoundField, _params: Mapping[str, Any]) -> Problem:
    return Problem(
        code="FORM-009",
        what=message("The file {name} is empty.", name=str(_written(bound))),
        why=message("There is nothing to import."),
        fix=message("Choose the file with the family or the rows."),
    )


_WORDS: Mapping[str, Callable[[BoundField, Mapping[str, Any]], Problem]] = {
    "required": _required,
    "invalid_choice": _no_choice,
    "invalid": _not_of_its_kind,
    "min_value": _too_low,
    "max_value": _too_high,
    "max_length": _too_long,
    "null_characters_not_allowed": _nul,
    "empty": _empty_file,
}
