"""The same examples from Hypothesis whichever tests run, and in whichever order.

`derandomize` fixes the seed of a test and nothing else. Now and then Hypothesis draws, in place of
a random value, a constant that it finds in the project's own modules; it looks in those that are
imported *so far*, so one test alone draws other examples than the same test after a hundred others.
Here it looks in all source files of the package, imported or not. Hypothesis has no setting for
that: a function of its own is replaced, and tests/unit/test_fixed_draws.py notices should a later
release stop calling it. What was found is kept beside the checkout's other working files until a
source file changes, since every process of every run asks for it.
"""

from __future__ import annotations

import ast
import pickle
from collections.abc import Mapping
from pathlib import Path

import hypothesis
from hypothesis.internal.conjecture import providers
from hypothesis.internal.constants_ast import Constants, ConstantVisitor

from kept_file import VAR, kept

PACKAGE = Path(__file__).resolve().parents[1] / "src" / "suffice"
KEPT = VAR / "constants"
KINDS = ("integers", "floats", "bytes", "strings")


def sources() -> dict[str, bytes]:
    """Every module of the package, by its path."""
    return {str(path.relative_to(PACKAGE)): path.read_bytes() for path in PACKAGE.rglob("*.py")}


def constants_of(modules: Mapping[str, bytes]) -> Constants:
    """What Hypothesis would find once all of them are imported."""
    visitor = ConstantVisitor(limit=False)
    for _, text in sorted(modules.items()):
        visitor.visit(ast.parse(text))
    return visitor.constants


def constants_kept(modules: Mapping[str, bytes], folder: Path) -> Constants:
    """The same, read from a file of the folder where one was kept for these very sources."""

    def made() -> bytes:
        found = constants_of(modules)
        return pickle.dumps({kind: set(getattr(found, kind)) for kind in KINDS})

    sources = {**modules, "hypothesis": hypothesis.__version__.encode()}
    return Constants(**pickle.loads(kept(folder, sources, made)))


def constants_of_the_package() -> Constants:
    """What Hypothesis would find once every module of the package is imported."""
    # The empty sets that Hypothesis starts from are sorted ones: the order decides the draw.
    return providers._local_constants | constants_kept(sources(), KEPT)


def fix_the_draws() -> None:
    """Let Hypothesis draw from the constants of the whole package from now on."""
    constants: list[Constants] = []

    def local_constants() -> Constants:
        if not constants:  # read only where a test draws
            constants.append(constants_of_the_package())
            providers.CONSTANTS_CACHE.cache.clear()
        return constants[0]

    providers._get_local_constants = local_constants
