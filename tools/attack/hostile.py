"""Values that no field expects, and files that no import expects."""

from __future__ import annotations

import io
import random
import struct
import zipfile
import zlib

VALUES: tuple[bytes, ...] = (
    *(one.encode("utf-8", "surrogatepass") for one in (
        "", " ", "0", "-1", "+1", "00", "1", "3150", "1.5", "1,5", "1e9", "1e309", "-1e309", "NaN", "nan", "inf",
        "-Infinity", "0x10", "1_000", "²", "³⁴", "٣", "१२", "１２", "½", "Ⅷ", "9" * 30, "9" * 5000,
        "-0", "on", "true", "None", "null", "[]", "{}", "[[" * 500, "a" * 300, "a" * 70_000, "é" * 400,
        "\x00", "a\x00b", "\x1b[31m", "\r\nX-Injected: yes", "\t", "\u2028", "\ufeff", "\u202eabc", "\ud800",
        "\U0001f37c", "e\u0301" * 50, "<script>alert(1)</script>", "'\"><img src=x onerror=alert(1)>",
        "{{ 7*7 }}", "{% load x %}", "%s%s%n", "%(name)s", "{name}", "{0.__class__}", "' OR 1=1 --",
        "; DROP TABLE record_entry", "../../etc/passwd", "..\\..\\x", "/dev/zero", "file:///etc/passwd",
        "http://127.0.0.1:1/", "//elsewhere.example/", "javascript:alert(1)", "\\\\elsewhere\\x",
        "0001-01-01T00:00", "0001-01-01T00:00+14:00", "0000-00-00", "9999-12-31T23:59",
        "9999-12-31T23:59-14:00", "-0001-01-01", "2026-02-30T10:00", "2026-11-25T24:00", "2026-11-25T10:30",
        "2026-11-25", "2026-W10", "10:30", "24:61", "1 Jan", "25/11/2026", "2026-10-25T02:30", "2026-03-29T02:30",
        "2026-11-25T10:30+25:00", "2026-11-25T10:30Z", "20261125T103000Z", "1969-12-31T23:59",
        "5 lb 3 oz", "7 lb 99 oz", "3.150 kg", "3150 g", "1/0", "36.6", "98.6 F", "Europe/Madrid", "Mars/Phobos",
        "UTC", "../UTC", "es", "xx", "tlh-Latn", "00000000-0000-0000-0000-000000000000", "uuid",
        "{00000000-0000-4000-8000-000000000000}", "weight", "__proto__", "constructor", "id", "pk", "*", "?", "#", "&",
        "a=b", "a&b=c", ";", "|", "`id`", "$(id)", "1" + "0" * 308, "1." + "0" * 400 + "1", "٫٥", "−5", "–", "…",
    )),
    b"\xff\xfe", b"\xc3\x28", b"\xed\xa0\x80", b"\xf0\x28\x8c\x28", bytes(range(256)),
)  # fmt: skip
"""As they are sent; not all of them are text."""

HEADERS: tuple[tuple[str, str], ...] = (
    ("Accept-Language", "es"), ("Accept-Language", "x" * 3000), ("Accept-Language", "*;q=²"),
    ("Accept-Encoding", "gzip;q=nonsense, br"), ("Host", "elsewhere.example"), ("Host", "a" * 300), ("Host", "[::1"),
    ("Host", "localhost:99999"), ("Referer", "http://elsewhere.example/"), ("Referer", "\x01"), ("Origin", "null"),
    ("Origin", "https://elsewhere.example"), ("HX-Request", "true"), ("HX-Request", "²"), ("HX-Target", "x" * 500),
    ("HX-Current-URL", "http://["), ("HX-Current-URL", "%"), ("HX-Trigger-Name", "\xe9"),
    ("HX-Boosted", "true"), ("HX-History-Restore-Request", "true"), ("If-None-Match", '"' * 50),
    ("If-Modified-Since", "yesterday"), ("If-Modified-Since", "Thu, 01 Jan 0001 00:00:00 GMT"), ("Range", "bytes=9-1"),
    ("Range", "bytes=0-0,1-1,2-2"), ("X-Forwarded-For", "1.2.3.4"), ("X-Forwarded-Proto", "https"),
    ("X_Forwarded_For", "1.2.3.4"), ("X-HTTP-Method-Override", "DELETE"), ("Content-Type", "application/json"),
    ("Content-Type", "multipart/form-data"), ("Content-Type", "multipart/form-data; boundary=" + "b" * 300),
    ("Content-Type", "text/plain; charset=utf-7"), ("Content-Type", "application/x-www-form-urlencoded; charset=x"),
    ("Content-Encoding", "gzip"), ("Expect", "the unexpected"), ("Cookie", "sessionid=²; csrftoken=\x7f"),
    ("Cookie", '=; ;;=a; sessionid="\\0"'), ("Authorization", "Basic ????"), ("Date", "never"),
    ("X-Csrftoken", "x" * 200), ("Connection", "close"), ("Purpose", "prefetch"), ("Sec-Fetch-Site", "cross-site"),
)  # fmt: skip
METHODS = (
    "GET",
    "GET",
    "GET",
    "POST",
    "POST",
    "POST",
    "HEAD",
    "PUT",
    "DELETE",
    "OPTIONS",
    "PATCH",
    "TRACE",
    "FOO",
)

CSV = b"infant,sex,birth date,birth time,date,time,weight g\n1,female,2026-11-01,06:00,2026-11-05,09:00,3010\n"


def files(dice: random.Random) -> dict[str, bytes]:
    """Files that an import might be sent, by what is wrong with them."""
    deep = 100_000
    return {
        "empty": b"",
        "one byte": b"\xef",
        "a BOM alone": b"\xef\xbb\xbf",
        "JSON with a BOM": b"\xef\xbb\xbf" + b'{"format": "suffice family"}',
        "JSON in UTF-16": '{"format": "suffice family"}'.encode("utf-16"),
        "deep arrays": b"[" * deep,
        "deep arrays, closed": b"[" * deep + b"]" * deep,
        "deep objects": b'{"a":' * deep + b"1" + b"}" * deep,
        "a long number": b'{"format": ' + b"9" * 100_000 + b"}",
        "a long fraction": b'{"format": 1e999999999}',
        "twice the same name": b'{"format": 1, "format": 2}',
        "a lone surrogate": b'{"format": "\\ud800"}',
        "NaN": b'{"format": NaN}',
        "NULs": b"\x00" * 10_000,
        "a NUL in a cell": CSV.replace(b"3010", b"30\x0010"),
        "UTF-16": CSV.decode().encode("utf-16"),
        "UTF-16, cut": CSV.decode().encode("utf-16")[:-1],
        "UTF-32": CSV.decode().encode("utf-32"),
        "UTF-7": CSV.decode().encode("utf-7"),
        "latin-1": CSV + "ñ,female,2026-11-01,06:00,2026-11-05,09:00,3010\n".encode("latin-1"),
        "not UTF-8": CSV + b"\xff\xfe\xfd,,,,,,\n",
        "a wide header": b",".join(b"weight %d g" % n for n in range(100_000)) + b"\n1\n",
        "a wide row": CSV + b"," * 500_000 + b"\n",
        "a header of commas": b"," * 500_000 + b"\n1\n",
        "a long line": b"a" * 2_000_000,
        "a long cell": CSV + b'"' + b"x" * 2_000_000 + b'",female\n',
        "an open quote": CSV + b'"' + CSV * 1000,
        "lines of nothing": CSV + b"\n" * 500_000,
        "returns alone": CSV.replace(b"\n", b"\r"),
        "many rows": CSV + CSV.splitlines(keepends=True)[1] * 20_000,
        "superscript digits": CSV.replace(b"3010", "³⁰¹⁰".encode()),
        "digits of other scripts": CSV.replace(b"3010", "٣٠١٠".encode()),
        "formulas": CSV.replace(b"3010", b"=1+1") + b'"=cmd|\' /C calc\'!A0",,,,,,\n',
        "year 1": CSV.replace(b"2026-11-05", b"0001-01-01"),
        "year 9999": CSV.replace(b"2026-11-05", b"9999-12-31"),
        "a birth in year 1": CSV.replace(b"2026-11-01", b"0001-01-01"),
        "an archive": _archive(b"weights.csv", CSV),
        "a bomb": _archive(b"weights.csv", b"0" * 50_000_000),
        "a bomb in gzip": zlib.compress(b"0" * 50_000_000, 9),
        "a picture of 60000 by 60000": _picture(60_000, 60_000),
        "a picture of 0 by 0": _picture(0, 0),
        "a picture, cut": _picture(100, 100)[:40],
        "a vector with an entity": b'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "aaaa">]><svg>&a;</svg>',
        "a page": b"<html><script>alert(1)</script></html>",
        "noise": dice.randbytes(50_000),
    }  # fmt: skip


def _archive(name: bytes, content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name.decode(), content)
    return out.getvalue()


def _picture(width: int, height: int) -> bytes:
    """A PNG that says that it is so large; its rows are one byte each, squeezed."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    rows = zlib.compress(b"\x00" * min(height * (width // 8 + 1), 5_000_000), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
