"""An independent reader of a tagged PDF: what a screen reader would meet, and what is wrong with it.

It knows nothing of what wrote the file. It reads the structure from the catalogue down and the text from
the content streams through each font's own map to Unicode.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any, NamedTuple

import pikepdf

PAINTS = frozenset(
    {"S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "Do", "sh", "Tj", "TJ", "'", '"', "EI"}
)
"""Operators that put something on the page."""
HEADINGS = re.compile(r"H([1-6])$")
LEAST_ALT = 20
"""Letters below which a text for a drawing says too little."""


class Tag(NamedTuple):
    """One element of the structure: its type in the standard, its own text, its text with all below."""

    kind: str
    text: str


class Seen(NamedTuple):
    """What was read of a file."""

    tags: tuple[Tag, ...]
    faults: tuple[str, ...]
    pages: int

    @property
    def text(self) -> str:
        """All that is read aloud, in its order."""
        return "\n".join(tag.text for tag in self.tags if tag.text)

    def of(self, *kinds: str) -> list[str]:
        """The texts of the elements of these types."""
        return [tag.text for tag in self.tags if tag.kind in kinds]


def see(pdf: bytes, *, language: str, fonts: frozenset[str] = frozenset({"FiraGO"})) -> Seen:
    """Read a file; `fonts` are the families that it may use."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        texts: dict[tuple[int, int], str] = {}
        faults = list(_head_faults(opened, language))
        for number, page in enumerate(opened.pages):
            faults += _page_faults(page, number, texts, fonts)
        tags = tuple(_tags(opened, texts))
        faults += _tag_faults(opened, tags)
        return Seen(tags, tuple(dict.fromkeys(faults)), len(opened.pages))


def _head_faults(pdf: pikepdf.Pdf, language: str) -> Iterator[str]:
    root = pdf.Root
    if not bool(root.get("/MarkInfo", {}).get("/Marked", False)):
        yield "not marked as tagged"
    if str(root.get("/Lang", "")) != language:
        yield f"language is {root.get('/Lang', 'missing')}"
    if not bool(root.get("/ViewerPreferences", {}).get("/DisplayDocTitle", False)):
        yield "the title is not displayed"
    meta = root.Metadata.read_bytes().decode() if "/Metadata" in root else ""
    if not re.search(r"<dc:title>.*?<rdf:li[^>]*>[^<]+<", meta, re.DOTALL):
        yield "no title"
    if not re.search(r"pdfuaid:part(?:>|=\")1", meta):
        yield "not said to be PDF/UA-1"
    if "/StructTreeRoot" not in root:
        yield "no structure"


def _page_faults(
    page: pikepdf.Page, number: int, texts: dict[tuple[int, int], str], allowed: frozenset[str]
) -> Iterator[str]:
    if str(page.obj.get("/Tabs", "")) != "/S":
        yield "tab order does not follow the structure"
    maps: dict[str, dict[int, str]] = {}
    for name, font in page.resources.get("/Font", {}).items():
        yield from _font_faults(font, allowed)
        maps[name] = _to_unicode(font)
    marked: list[int | None] = []
    instead: list[str | None] = []
    font_name = ""
    for operands, operator in pikepdf.parse_content_stream(page):
        what = str(operator)
        if what in {"BDC", "BMC"}:
            properties = operands[1] if len(operands) > 1 else {}
            if not isinstance(properties, pikepdf.Dictionary):
                properties = {}
            above = marked[-1] if marked else None
            marked.append(int(properties["/MCID"]) if "/MCID" in properties else above)
            said = str(properties["/ActualText"]) if "/ActualText" in properties else None
            if said is not None and marked[-1] is not None:
                texts[number, marked[-1]] = texts.get((number, marked[-1]), "") + said
            instead.append(said if said is not None else instead[-1] if instead else None)
        elif what == "EMC":
            marked.pop()
            instead.pop()
        elif what == "Tf":
            font_name = str(operands[0])
        elif what in PAINTS and not marked:
            yield "paint outside marked content"
        is_read = marked and marked[-1] is not None and instead[-1] is None
        if what in {"Tj", "TJ", "'", '"'} and is_read:
            key = (number, marked[-1])
            texts[key] = texts.get(key, "") + _shown(operands, maps.get(font_name, {}))


def _font_faults(font: Any, allowed: frozenset[str]) -> Iterator[str]:
    below = font.DescendantFonts[0] if "/DescendantFonts" in font else font
    name = str(font.get("/BaseFont", "")).lstrip("/").partition("+")[2]
    if name.partition("-")[0] not in allowed:
        yield f"font {name} is not ours"
    described = below.get("/FontDescriptor", {})
    if not any(key in described for key in ("/FontFile", "/FontFile2", "/FontFile3")):
        yield f"font {name} is not embedded"
    if "/ToUnicode" not in font:
        yield f"font {name} has no map to Unicode"


def _to_unicode(font: Any) -> dict[int, str]:
    if "/ToUnicode" not in font:
        return {}
    source = font.ToUnicode.read_bytes().decode("latin-1")
    found: dict[int, str] = {}
    for block in re.findall(r"beginbfchar(.*?)endbfchar", source, re.DOTALL):
        for code, text in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            found[int(code, 16)] = bytes.fromhex(text).decode("utf-16-be")
    for block in re.findall(r"beginbfrange(.*?)endbfrange", source, re.DOTALL):
        for low, high, text in re.findall(r"<(\w+)>\s*<(\w+)>\s*<(\w+)>", block):
            first = bytes.fromhex(text).decode("utf-16-be")
            for step in range(int(high, 16) - int(low, 16) + 1):
                found[int(low, 16) + step] = first[:-1] + chr(ord(first[-1]) + step)
    return found


def _shown(operands: Any, letters: dict[int, str]) -> str:
    pieces = operands[-1] if isinstance(operands[-1], pikepdf.Array) else [operands[-1]]
    raw = b"".join(bytes(one) for one in pieces if isinstance(one, pikepdf.String))
    codes = (int.from_bytes(raw[at : at + 2], "big") for at in range(0, len(raw), 2))
    return "".join(letters.get(code, "\N{REPLACEMENT CHARACTER}") for code in codes)


def _tags(pdf: pikepdf.Pdf, texts: dict[tuple[int, int], str]) -> Iterator[Tag]:
    root = pdf.Root.get("/StructTreeRoot")
    if root is None:
        return
    roles = {str(key): str(value) for key, value in root.get("/RoleMap", {}).items()}
    places = {page.obj.objgen: number for number, page in enumerate(pdf.pages)}
    yield from _below(root, roles, places, texts, None)


def _below(node: Any, roles: Any, places: Any, texts: Any, page: Any) -> Iterator[Tag]:
    for child in _children(node):
        if isinstance(child, pikepdf.Dictionary) and "/S" in child:
            kind = str(child.S)
            while kind in roles:
                kind = roles[kind]
            own = child.get("/Pg", page)
            yield Tag(kind.lstrip("/"), _text_below(child, places, texts, own).strip())
            yield from _below(child, roles, places, texts, own)


def _children(node: Any) -> list[Any]:
    below = node.get("/K", [])
    return list(below) if isinstance(below, pikepdf.Array) else [below]


def _text_below(node: Any, places: Any, texts: Any, page: Any) -> str:
    said = ""
    for child in _children(node):
        if isinstance(child, pikepdf.Dictionary):
            own = child.get("/Pg", page)
            if "/S" in child:
                said += _text_below(child, places, texts, own)
            elif "/MCID" in child:
                said += texts.get((places[own.objgen], int(child.MCID)), "")
        elif page is not None:
            said += texts.get((places[page.objgen], int(child)), "")
    return said


def _tag_faults(pdf: pikepdf.Pdf, tags: tuple[Tag, ...]) -> Iterator[str]:
    last = 0
    for tag in tags:
        heading = HEADINGS.match(tag.kind)
        if heading:
            level = int(heading[1])
            if level > last + 1:
                yield f"heading {level} follows heading {last}"
            last = level
            if not tag.text:
                yield "an empty heading"
    if not last:
        yield "no heading"
    for element in _elements(pdf):
        kind = str(element.S)
        if kind == "/Table" and not any(_has_scope(one) for one in _within(element, "/TH")):
            yield "a table without heads"
        if kind in {"/Figure", "/Formula"} and len(str(element.get("/Alt", ""))) < LEAST_ALT:
            yield "a drawing without a text"
        if kind == "/L" and not any(True for _ in _within(element, "/LBody")):
            yield "a list without items"


def _has_scope(cell: Any) -> bool:
    given = cell.get("/A", {})
    parts = list(given) if isinstance(given, pikepdf.Array) else [given]
    return any(isinstance(one, pikepdf.Dictionary) and "/Scope" in one for one in parts)


def _within(node: Any, kind: str) -> Iterator[Any]:
    for child in _children(node):
        if isinstance(child, pikepdf.Dictionary) and "/S" in child:
            if str(child.S) == kind:
                yield child
            yield from _within(child, kind)


def _elements(pdf: pikepdf.Pdf) -> Iterator[Any]:
    root = pdf.Root.get("/StructTreeRoot")
    stack = [root] if root is not None else []
    while stack:
        for child in _children(stack.pop()):
            if isinstance(child, pikepdf.Dictionary) and "/S" in child:
                yield child
                stack.append(child)
