"""What the inner rooms say in English, said in the clinic's language.

The clinical and inference rooms speak English and know no settings. Whoever shows what they say
asks here for the clinic's language, in one of two ways:

- :func:`say` fills the gaps of a template. The template is looked up in the catalogue first, so
  the translation has its own order of words.
- :func:`reworded` takes a finished sentence, such as a refusal's reason, and finds the template
  it was made from: the catalogue holds the template of every such sentence (tools/messages.py
  gathers them, f-strings included). What stands in its gaps is reworded in turn where it is known,
  and its numbers get the decimal mark of the language; between quotation marks, as somebody typed
  it, it stays.

What is not in the catalogue stays as it is: an English sentence is better than none.

>>> reworded("The infant's physician decides.", "es")
"The infant's physician decides."
>>> say("({count} more red value.)", {"count": "1"}, "es")
'(1 valor de alarma más.)'
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path
from string import Formatter
from typing import Final, Literal

import msgspec

from suffice.clinical.reading.numeral import DecimalMark
from suffice.knowledge.policy import Language

FOLDER: Final = Path(__file__).parent / "locale"
SOURCE: Final = "en"
MARKS: Final[Mapping[str, DecimalMark]] = {"en": ".", "es": ","}

Unreviewed = Literal["none", "part", "all"]

LONGEST: Final = 1000
"""Characters up to which a sentence is looked up; ours are far shorter, and a search takes time."""
FEWEST_LETTERS: Final = 3
"""A template with fewer letters outside its gaps could be found in anything."""
STRONG_FROM: Final = 12
"""Letters outside its gaps from which a template is taken for what it seems, whatever fills them."""

_DECIMAL = re.compile(r"(?<![\w.])(\d+)\.(\d+)(?![\w.]|:\d)")
_ORDINAL = re.compile(r"\b(\d+)(?:st|nd|rd|th)\b")
_PLAIN = re.compile(r"[-+−<>~]?\s?\d[\d.,:+\s−-]*[\w%°/]{0,9}")
SHORT: Final = "\0"
"""Stands in a pattern where '?' makes a gap as short as can be."""
_NAME = re.compile(r"[\w.]*[_<>=][\w.<>=]*")
"""A name of a value, or a sign that compares: the same in every language."""
_QUOTES = "'\"‘’“”«»"


def decimal_mark(language: str) -> DecimalMark:
    """The mark before decimals."""
    return MARKS.get(language, ".")


def say(template: str, values: Mapping[str, str], language: Language) -> str:
    """A template with its gaps filled, in a language.

    Args:
        template: The English sentence with named gaps.
        values: What fills them, written out in that language already.
        language: The language; a template that is not in its catalogue stays English.
    """
    return _messages(language).plain.get(template, template).format(**values)


def translated(template: str, language: str, *, plural: str = "", count: int = 1) -> str:
    """The template of a message in a language; the English one where the catalogue lacks it.

    Args:
        template: The English template.
        language: The language.
        plural: The English template of more than one; empty where there is only one form.
        count: How many there are, which decides on the form.
    """
    found = catalogue(language)
    return found.ngettext(template, plural, count) if plural else found.gettext(template)


def unreviewed(language: str) -> Unreviewed:
    """How much of a translation no qualified reader has reviewed; none of the source language."""
    head = catalogue(language).info()
    count, whole = (int(head.get(name, 0)) for name in ("x-unreviewed", "x-messages"))
    return "none" if not count else "all" if count == whole else "part"


@lru_cache(maxsize=8)
def catalogue(language: str) -> NullTranslations:
    """The compiled catalogue of a language; an empty one for the source language."""
    path = FOLDER / language / "LC_MESSAGES" / "django.mo"
    if language == SOURCE or not path.exists():
        return NullTranslations()
    with path.open("rb") as compiled:
        return _Catalogue(compiled)


@lru_cache(maxsize=4096)
def reworded(sentence: str, language: Language) -> str:
    """An English sentence of the inner rooms in a language; an unknown one as it is."""
    if language == SOURCE or not 0 < len(sentence) <= LONGEST:
        return sentence
    known = _known(sentence, language)
    if known is None and sentence.endswith("."):
        # Some say a fragment as a sentence of its own.
        part = _known(sentence[:-1], language)
        known = f"{part}." if part else None
    return known or sentence


def _known(text: str, language: Language) -> str | None:
    """The translation of a text, or None where the catalogue has no template for it."""
    core = text.strip()
    if core != text:
        inner = _known(core, language) if core else None
        return None if inner is None else text.replace(core, inner)
    messages = _messages(language)
    if text in messages.plain:
        return messages.plain[text].replace("{{", "{").replace("}}", "}")
    for form in messages.forms:
        gaps = _gaps(text, form, language)
        if gaps is not None:
            filled = {
                name: value if name in form.quoted else _value(value, language)
                for name, value in gaps.items()
            }
            return form.translation.format(**filled)
    return localised(text, language) if _PLAIN.fullmatch(text) else None


def _gaps(text: str, form: Form, language: Language) -> dict[str, str] | None:
    """What stands in the gaps of a template, or None where the text is not made from it.

    Where gaps stand side by side a text can be parted in several ways; the one that leaves only
    what is known in them is taken first.
    """
    first: dict[str, str] | None = None
    for pattern in form.patterns:
        found = pattern.fullmatch(text)
        if found is None:
            return None
        gaps = found.groupdict()
        if all(_is_known(value, language) for value in gaps.values()):
            return gaps
        first = first or gaps
    return first if form.is_strong else None


def _is_known(value: str, language: Language) -> bool:
    is_same = _PLAIN.fullmatch(value) or _NAME.fullmatch(value)
    return is_same is not None or _known(value, language) is not None


def _value(value: str, language: Language) -> str:
    """What stands in a gap: reworded where it is known, else with the numbers of the language."""
    return _known(value, language) or localised(value, language)


def localised(text: str, language: str) -> str:
    """A text whose numbers are written as in a language: its decimal mark, no English ordinals.

    Versions and times stay.
    """
    if language == SOURCE:
        return text
    return _ORDINAL.sub(r"\1", _DECIMAL.sub(rf"\1{decimal_mark(language)}\2", text))


class Form(msgspec.Struct, frozen=True, kw_only=True):
    """A template as something to recognise.

    Attributes:
        patterns: Both match every sentence that is made from it, with a group for each gap; the
            first gives the earlier gaps as little as it can, the second as much.
        translation: The template in the other language.
        quoted: Gaps that stand between quotation marks.
        is_strong: Whether enough of it stands outside the gaps to be taken for itself.
        weight: The letters outside its gaps.
    """

    patterns: tuple[re.Pattern[str], ...]
    translation: str
    quoted: frozenset[str]
    is_strong: bool
    weight: int


class Messages(msgspec.Struct, frozen=True, kw_only=True):
    """A catalogue: whole messages by their text, and those with gaps, the most telling first."""

    plain: Mapping[str, str]
    forms: tuple[Form, ...]


class _Catalogue(GNUTranslations):
    """A compiled catalogue that can be read whole, which the standard library's cannot."""

    def pairs(self) -> dict[str, str]:
        """Message to translation; those with a form for more than one are left out."""
        whole: Mapping[object, str] = self._catalog  # type: ignore[attr-defined]  # typeshed omits it
        return {one: text for one, text in whole.items() if one and isinstance(one, str)}


@lru_cache(maxsize=8)
def _messages(language: Language) -> Messages:
    found = catalogue(language)
    if not isinstance(found, _Catalogue):
        return Messages(plain={}, forms=())
    plain = found.pairs()
    forms = [_form(message, text) for message, text in plain.items() if can_be_found(message)]
    telling = [form for form in forms if form.weight >= FEWEST_LETTERS]
    return Messages(plain=plain, forms=tuple(sorted(telling, key=lambda form: -form.weight)))


def can_be_found(message: str) -> bool:
    """Whether a sentence can tell that it was made from this template: it has each gap once."""
    names = [name for _literal, name, _spec, _conversion in Formatter().parse(message) if name]
    return bool(names) and len(names) == len(set(names))


def _form(message: str, translation: str) -> Form:
    pattern, quoted, letters, before = "", set(), 0, ""
    parts = list(Formatter().parse(message))
    for place, (literal, name, _spec, _conversion) in enumerate(parts):
        pattern += re.escape(literal)
        letters += sum(one.isalpha() for one in literal)
        before = literal or before
        if name is None:
            continue
        pattern += f"(?P<{name}>.+{SHORT})"
        after = parts[place + 1][0] if place + 1 < len(parts) else ""
        if literal[-1:] in _QUOTES and after[:1] in _QUOTES and literal and after:
            quoted.add(name)
    return Form(
        patterns=tuple(re.compile(pattern.replace(SHORT, end), re.DOTALL) for end in ("?", "")),
        translation=translation,
        quoted=frozenset(quoted),
        is_strong=letters >= STRONG_FROM,
        weight=letters,
    )
