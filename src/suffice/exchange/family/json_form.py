"""JSON text into typed values, naming every fault with its place instead of stopping at the first.

msgspec converts fast but tells the first fault only; where it refuses, `faults` walks the document
beside the types and collects them all.
"""

from __future__ import annotations

import difflib
import enum
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin
from uuid import UUID

import msgspec

from suffice.clinical.entry import Fact
from suffice.errors import InputError, Problem
from suffice.message import Listed, Message, Words, message

DIGITS_MOST = 1000
"""No number of a file has more; beyond, reading one would take long."""
SHOWN = 40
"""Characters of a faulty value that a message repeats."""


def parse(content: bytes) -> object:
    """The JSON document in `content`; UTF-8, with or without byte order mark.

    Raises:
        InputError: JSON-001, when it is not JSON, or is but holds a key twice or a NaN, of which a
            reader would silently drop or invent something.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            _not_json(
                message("Byte {position} is not UTF-8 text.", position=error.start + 1),
                message("Save the file as UTF-8."),
            )
        ) from error
    try:
        return json.loads(
            text,
            object_pairs_hook=_object_without_repeats,
            parse_constant=_constant,
            parse_int=_integer,
        )
    except json.JSONDecodeError as error:
        place = message("line {line}, column {column}", line=error.lineno, column=error.colno)
        raise InputError(_not_json(_why_not(text, error), OR_AGAIN).at(place)) from error
    except RecursionError as error:
        raise InputError(
            _not_json(message("It nests too deeply."), message("Export the file again."))
        ) from error
    except _NotJsonError as error:
        raise InputError(_not_json(error.why, OR_AGAIN)) from error


OR_AGAIN: Final = message("Correct the file, or export it again.")


class _NotJsonError(ValueError):
    """What a JSON file may not hold, found while it is read."""

    def __init__(self, why: Message) -> None:
        super().__init__(str(why))
        self.why = why


def _why_not(text: str, error: json.JSONDecodeError) -> Message:
    begins = text.lstrip()[:1]
    if not begins:
        return message("It is empty.")
    if begins not in "{[":
        return message("It begins with {text} and not with a brace.", text=shown(text.lstrip()))
    around = " ".join(text[max(0, error.pos - SHOWN // 2) : error.pos + SHOWN // 2].split())
    return message("It is not JSON from here on: …{text}…", text=around)


def _object_without_repeats(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    for key in found:
        if key != _writable(key):
            # No message could name it, and no key of ours is like it.
            raise _NotJsonError(
                message(
                    "The key '{key}' has half of a two-part character.", key=_writable(key)[:SHOWN]
                )
            )
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise _NotJsonError(
            message("The key '{key}' appears twice in one object.", key=twice[:SHOWN])
        )
    return found


def _integer(text: str) -> int:
    if len(text) > DIGITS_MOST:
        raise _NotJsonError(message("A number has {digits} digits.", digits=len(text)))
    return int(text)


def _constant(name: str) -> object:
    raise _NotJsonError(message("{name} is not a JSON number.", name=name))


def faults(value: object, kind: Any, place: str) -> list[Problem]:
    """Everything in `value` that keeps it from being a `kind`; empty when nothing does.

    Args:
        value: As `parse` gives it.
        kind: A Struct, a union of tagged Structs, ``tuple[Struct, ...]`` or any simpler type.
        place: Where the value stands, such as ``entries[3].fact``.
    """
    if get_origin(kind) is Annotated:  # a field that says what it is
        return faults(value, get_args(kind)[0], place)
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        return _struct_faults(value, kind, place)
    if get_origin(kind) is tuple:
        return _list_faults(value, get_args(kind)[0], place)
    tagged = _tagged(kind)
    if tagged:
        return _tagged_faults(value, tagged, place)
    return _simple_faults(value, kind, place)


def _struct_faults(value: object, kind: type[msgspec.Struct], place: str) -> list[Problem]:
    if not isinstance(value, dict):
        return [_wrong_form(value, message("an object in braces"), place)]
    fields = {field.encode_name: field for field in msgspec.structs.fields(kind)}
    known = {*fields, *filter(None, [kind.__struct_config__.tag_field])}
    found = [_unknown_key(key, known, place) for key in value if key not in known]
    for name, field in fields.items():
        if name in value:
            found += faults(value[name], field.type, _path_of(place, name))
        elif field.required:
            found.append(_missing_key(name, place))
    return found or _lacks_all(value, kind, place) or _simple_faults(value, kind, place)


def _lacks_all(
    value: Mapping[str, object], kind: type[msgspec.Struct], place: str
) -> list[Problem]:
    """The problem of a fact none of whose fields is known of which one must be."""
    needs = kind.declared.needs if issubclass(kind, Fact) else None
    if needs is None or any(value.get(name) is not None for name in needs.fields):
        return []
    return [Problem(code="JSON-004", what=shown(value), why=needs.why, fix=needs.fix, where=place)]


def _list_faults(value: object, kind: Any, place: str) -> list[Problem]:
    if not isinstance(value, list):
        return [_wrong_form(value, message("a list in brackets"), place)]
    return [
        fault
        for index, item in enumerate(value)
        for fault in faults(item, kind, f"{place}[{index}]")
    ]


def _tagged(kind: Any) -> Mapping[object, type[msgspec.Struct]]:
    """The members of a union of tagged Structs by their tags; empty for any other type."""
    if get_origin(kind) not in {Union, UnionType}:
        return {}
    members = [member for member in get_args(kind) if hasattr(member, "__struct_config__")]
    return {member.__struct_config__.tag: member for member in members}


def _tagged_faults(
    value: object, members: Mapping[object, type[msgspec.Struct]], place: str
) -> list[Problem]:
    if not isinstance(value, dict):
        return [_wrong_form(value, message("an object in braces"), place)]
    tag_field = str(next(iter(members.values())).__struct_config__.tag_field)
    if tag_field not in value:
        return [_missing_key(tag_field, place)]
    tag = value[tag_field]
    if not isinstance(tag, str) or tag not in members:
        return [_wrong_form(tag, _one_of(map(str, members)), _path_of(place, tag_field))]
    return _struct_faults(value, members[tag], place)


def _simple_faults(value: object, kind: Any, place: str) -> list[Problem]:
    try:
        made = msgspec.convert(value, kind)
    except (msgspec.ValidationError, OverflowError, ValueError):
        return [_wrong_form(value, _expected(kind), place)]
    if isinstance(made, datetime) and made.tzinfo is None:
        return [_wrong_form(value, _expected(datetime), place)]
    return []


_PLAIN: Final[Mapping[Any, Words]] = {
    bool: message("true or false"),
    int: message("a whole number"),
    float: message("a number, with a point for decimals"),
    str: message("text in quotes"),
    UUID: message('a UUID such as "5c1e3b1c-6f5f-4d5e-9d0e-0a4d6f1f7a10"'),
    datetime: message(
        'a date and time with its offset from UTC, such as "2026-03-01T08:30:00+01:00"'
    ),
    NoneType: "null",
}


def _expected(kind: Any) -> Words:
    """The form of a type in words; empty for one that has no short form."""
    if kind in _PLAIN:
        return _PLAIN[kind]
    if get_origin(kind) is Literal:
        return _one_of(map(str, get_args(kind)))
    if get_origin(kind) in {Union, UnionType}:
        known = [one for one in map(_expected, get_args(kind)) if one]
        return message("{kinds}", kinds=Listed(tuple(known), "or")) if known else ""
    if isinstance(kind, type) and issubclass(kind, enum.Enum):
        return _one_of(str(member.value) for member in kind)
    return ""


def _one_of(names: Iterable[str]) -> Message:
    return message("one of {names}", names=Listed(tuple(f'"{name}"' for name in names)))


def _path_of(place: str, name: str) -> str:
    return f"{place}.{name}" if place else name


def _writable(text: str) -> str:
    """A text that can be written as UTF-8: half of a two-part character is spelt out."""
    return text.encode("utf-8", "backslashreplace").decode()


def shown(value: object) -> Words:
    """A value as the file has it, cut short."""
    try:
        text = _writable(json.dumps(value, ensure_ascii=False))
    except (ValueError, RecursionError):
        return message("a value too large to show")
    return text if len(text) <= SHOWN else text[:SHOWN] + "…"


def _not_json(why: Words, fix: Words) -> Problem:
    return Problem(
        code="JSON-001", what=message("The file cannot be read as JSON."), why=why, fix=fix
    )


def _missing_key(name: str, place: str) -> Problem:
    return Problem(
        code="JSON-002",
        what=message("The key '{name}' is missing.", name=name),
        why=message("The form requires it."),
        fix=message("Add '{name}'.", name=name),
        where=place,
    )


def _unknown_key(key: str, known: Sequence[str] | set[str], place: str) -> Problem:
    near = difflib.get_close_matches(key, sorted(known), n=1)
    return Problem(
        code="JSON-003",
        what=message("The key '{key}' is not known here.", key=key[:SHOWN]),
        why=message("What it says would be lost."),
        fix=message("Did you mean '{key}'?", key=near[0])
        if near
        else message("Known are {keys}.", keys=Listed(tuple(sorted(known)))),
        where=place,
    )


def _wrong_form(value: object, expected: Words, place: str) -> Problem:
    return Problem(
        code="JSON-004",
        what=message("{value} is not allowed here.", value=shown(value)),
        why=message("It must be {expected}.", expected=expected)
        if expected
        else message("It does not have the form that the page on family files gives."),
        fix=message("Correct the value."),
        where=place,
    )
