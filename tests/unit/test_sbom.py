"""The bill of materials and the list of licences are those of the lock, and hang together."""

from __future__ import annotations

import json
from types import SimpleNamespace
from typing import Any

import pytest

from tool_modules import tool_module

sbom = tool_module("sbom")

LOCK = f"""\
annotated-doc==0.0.7 \\
    --hash=sha256:{"b" * 64} \\
    --hash=sha256:{"a" * 64}
    # via typer
Some_Name[extra]==1.2 ; sys_platform == 'win32' \\
    --hash=sha256:{"c" * 64}
"""


def test_a_lock_is_read_with_every_digest() -> None:
    assert list(sbom.pinned(LOCK)) == [
        ("annotated-doc", "0.0.7", ("a" * 64, "b" * 64)),
        ("some-name", "1.2", ("c" * 64,)),
    ]


def test_what_is_for_another_system_keeps_the_licence_that_was_known() -> None:
    one, other = sbom.parts(LOCK, {"some-name": "MIT"})
    assert (one.licence, other.licence) == ("MIT", "MIT")
    assert sbom.parts(LOCK, {})[1].licence == sbom.NOT_SAID


@pytest.mark.parametrize(
    ("fields", "licence"),
    [
        ([("License-Expression", "MIT"), ("License", "other")], "MIT"),
        ([("License", "BSD-3-Clause")], "BSD-3-Clause"),
        ([("License", "Copyright (c) 2025\nall of the text")], sbom.NOT_SAID),
        (
            [("License", "x" * 61), ("Classifier", "License :: OSI Approved :: MIT License")],
            "MIT License",
        ),
        ([("Classifier", "License :: OSI Approved")], sbom.NOT_SAID),
    ],
)
def test_a_licence_is_the_name_and_never_the_text(
    fields: list[tuple[str, str]], licence: str
) -> None:
    installed: Any = SimpleNamespace(metadata=_Said(fields))
    assert sbom.licence_of(installed) == licence


class _Said:
    def __init__(self, fields: list[tuple[str, str]]) -> None:
        self.fields = fields

    def get(self, name: str) -> str | None:
        return next((value for key, value in self.fields if key == name), None)

    def get_all(self, name: str) -> list[str]:
        return [value for key, value in self.fields if key == name]


def test_the_files_are_those_of_the_lock(capsys: pytest.CaptureFixture[str]) -> None:
    assert sbom.main(["--check"]) == 0, capsys.readouterr().out


def test_a_file_that_is_not_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sbom, "page", lambda _found: "another")
    assert sbom.main(["--check"]) == 1
    assert "docs/reference/licences.md" in capsys.readouterr().out


def test_every_reference_of_the_bill_leads_somewhere() -> None:
    bill = json.loads(sbom.BILL.read_text(encoding="utf-8"))
    listed = [one["bom-ref"] for one in bill["components"]]
    assert len(listed) == len(set(listed)) == len(list(sbom.pinned(sbom.LOCK.read_text())))
    root = bill["metadata"]["component"]["bom-ref"]
    for one in bill["dependencies"]:
        assert one["ref"] in {root, *listed}
        assert set(one["dependsOn"]) <= set(listed)
        assert len(one["dependsOn"]) == len(set(one["dependsOn"]))
    assert all(one["externalReferences"][0]["hashes"] for one in bill["components"])
    (direct,) = (one["dependsOn"] for one in bill["dependencies"] if one["ref"] == root)
    assert any(one.startswith("pkg:pypi/django@") for one in direct)
