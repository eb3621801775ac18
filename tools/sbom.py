"""What the program is made of: a bill of materials (CycloneDX 1.6, JSON) and the list of licences.

python -m tools.sbom            writes both
python -m tools.sbom --check    ends with 1 where they are not those of the lock

Read from requirements/run.lock, which names every package with the digests of its files, and from what the
installed packages say of themselves. Without times, so that the same lock gives the same files.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "requirements" / "run.lock"
BILL = ROOT / "requirements" / "sbom.cdx.json"
PAGE = ROOT / "docs" / "reference" / "licences.md"
PINNED = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^\]]*\])?==([^\s;\\]+)")
DIGEST = re.compile(r"--hash=sha256:([0-9a-f]{64})")
LONGEST_NAME = 60
"""A licence field that is longer holds the text, not the name."""
COPYLEFT = re.compile(r"\b(A?GPL|LGPL|MPL|EPL|EUPL)", re.IGNORECASE)
NOT_SAID = "not said by the package"


@dataclass(frozen=True)
class Part:
    """A package of the lock.

    Attributes:
        digests: SHA-256 of each file that may be installed.
        licence: As the package says it; of one that is for another system, what was known of it before.
        needs: Names of the packages of the lock that it needs.
    """

    name: str
    version: str
    digests: tuple[str, ...]
    licence: str
    needs: tuple[str, ...]

    @property
    def purl(self) -> str:
        """Its package URL."""
        return f"pkg:pypi/{self.name}@{self.version}"


def plain(name: str) -> str:
    """A name as the index compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def pinned(lock: str) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Name, version and digests of each package of a lock."""
    for block in re.split(r"\n(?=[A-Za-z0-9])", lock):
        if found := PINNED.match(block):
            yield plain(found[1]), found[2], tuple(sorted(DIGEST.findall(block)))


def parts(lock: str, known: dict[str, str]) -> list[Part]:
    """Each package of a lock, by name.

    Args:
        lock: The text of the lock.
        known: Licences that were known before, by name.
    """
    listed = sorted(pinned(lock))
    names = {name for name, _version, _digests in listed}
    found = []
    for name, version, digests in listed:
        installed = _installed(name)
        licence = known.get(name, NOT_SAID) if installed is None else licence_of(installed)
        needs = () if installed is None else tuple(sorted(names & set(_needs(installed))))
        found.append(Part(name, version, digests, licence, needs))
    return found


def _installed(name: str) -> Distribution | None:
    try:
        return distribution(name)
    except PackageNotFoundError:
        return None


def licence_of(installed: Distribution) -> str:
    """What a package says of its licence: an expression, a name, or a classifier."""
    said = installed.metadata
    classified = [
        one.split(" :: ")[-1]
        for one in said.get_all("Classifier") or []
        if one.startswith("License :: ") and not one.endswith("OSI Approved")
    ]
    name = (said.get("License") or "").strip()
    short = name if name and len(name) <= LONGEST_NAME and "\n" not in name else ""
    return said.get("License-Expression") or short or ", ".join(classified) or NOT_SAID


def _needs(installed: Distribution) -> Iterator[str]:
    for line in installed.requires or []:
        needed = Requirement(line)
        if needed.marker is None or needed.marker.evaluate({"extra": ""}):
            yield plain(needed.name)


def bill(found: list[Part], program: str) -> str:
    """The bill of materials."""
    root = f"pkg:pypi/suffice@{program}"
    # Of some there are two versions, for older and newer Pythons.
    by_name: dict[str, list[str]] = {}
    for part in found:
        by_name.setdefault(part.name, []).append(part.purl)
    written = {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{uuid5(NAMESPACE_URL, root + LOCK.read_text(encoding='utf-8'))}",
        "version": 1,
        "metadata": {
            "component": {
                "type": "application",
                "bom-ref": root,
                "name": "suffice",
                "version": program,
                "purl": root,
                "licenses": [{"license": {"id": "Apache-2.0"}}],
            }
        },
        "components": [
            {
                "type": "library",
                "bom-ref": part.purl,
                "name": part.name,
                "version": part.version,
                "purl": part.purl,
                "licenses": [{"license": {"name": part.licence}}],
                "externalReferences": [
                    {
                        "type": "distribution",
                        "url": part.purl,
                        "hashes": [{"alg": "SHA-256", "content": one} for one in part.digests],
                    }
                ],
            }
            for part in found
        ],
        "dependencies": [
            {"ref": root, "dependsOn": [one for name in direct(found) for one in by_name[name]]},
            *(
                {
                    "ref": part.purl,
                    "dependsOn": [one for name in part.needs for one in by_name[name]],
                }
                for part in found
            ),
        ],
    }
    return json.dumps(written, indent=1, ensure_ascii=False) + "\n"


def direct(found: list[Part]) -> list[str]:
    """The packages that the program itself asks for."""
    ours = _installed("suffice")
    asked = set() if ours is None else set(_needs(ours))
    return list(dict.fromkeys(part.name for part in found if part.name in asked))


def page(found: list[Part]) -> str:
    """The list of licences, as a page."""
    needed_by: dict[str, list[str]] = {name: ["suffice"] for name in direct(found)}
    for part in found:
        for name in part.needs:
            if part.name not in needed_by.setdefault(name, []):
                needed_by[name].append(part.name)
    rows = [
        f"| {part.name} | {part.version} | {part.licence} |"
        f" {', '.join(needed_by.get(part.name, ['the set-up, or another system']))} |"
        for part in found
    ]
    shared = [part.name for part in found if COPYLEFT.search(part.licence)]
    return (
        "# Licences of what is installed\n\n"
        "Written by `make lock` from `requirements/run.lock` and from what each package says of itself; the same as a bill of\n"
        "materials (CycloneDX 1.6) is in `requirements/sbom.cdx.json`, with the digest of every file. Suffice itself: Apache-2.0.\n\n"
        f"Of those, {', '.join(shared) or 'none'} ask that changes to *them* be shared; they are used unchanged, as libraries.\n\n"
        "| package | version | licence | needed by |\n|---|---|---|---|\n" + "\n".join(rows) + "\n"
    )


def known_before() -> dict[str, str]:
    """Licences of the bill that is there."""
    if not BILL.exists():
        return {}
    components = json.loads(BILL.read_text(encoding="utf-8"))["components"]
    return {one["name"]: one["licenses"][0]["license"]["name"] for one in components}


def program_version() -> str:
    """The version in pyproject.toml."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    found = re.search(r'^version = "([^"]+)"', text, re.MULTILINE)
    assert found is not None
    return found[1]


def main(arguments: list[str]) -> int:
    """Write or check both files."""
    found = parts(LOCK.read_text(encoding="utf-8"), known_before())
    right = {BILL: bill(found, program_version()), PAGE: page(found)}
    if "--check" in arguments:
        wrong = [
            path.relative_to(ROOT)
            for path, text in right.items()
            if not path.exists() or path.read_text(encoding="utf-8") != text
        ]
        for path in wrong:
            print(f"{path} is not that of the lock: run .venv/bin/python -m tools.sbom")
        return 1 if wrong else 0
    for path, text in right.items():
        path.write_text(text, encoding="utf-8")
    print(f"{len(found)} packages in {BILL.relative_to(ROOT)} and {PAGE.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
