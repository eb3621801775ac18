"""The same examples from Hypothesis whichever tests run, and in whichever order.

`derandomize` fixes the seed of a test and nothing else. Now and then Hypothesis draws, in place of
a random value, a constant that it finds in the project's own modules; it looks in those that are
imported *so far*, so one test alone draws other examples than the same test after a hundred others.
Here it looks in all source files of the package, imported or not. Hypothesis has no setting for
that: a function of its own is replaced, and tests/unit/test_fixed_draws.py notices should a later
release stop calling it.
"""

from __future__ import annotations

import ast
from pathlib import Path

from hypothesis.internal.conjecture import providers
from hypothesis.internal.constants_ast import Constants, ConstantVisitor

PACKAGE = Path(__file__).resolve().parents[1] / "src" / "suffice"


def constants_of_the_package() -> Constants:
    """What Hypothesis would find once every module of the package is imported."""
    # The empty sets that Hypothesis starts from are sorted ones: the order decides the draw.
    found = providers._local_constants
    for path in sorted(PACKAGE.rglob("*.py")):
        visitor = ConstantVisitor(limit=False)
        visitor.visit(ast.parse(path.read_bytes()))
        found |= visitor.constants
    return found


def fix_the_draws() -> None:
    """Let Hypothesis draw from the constants of the whole package from now on."""
    constants: list[Constants] = []

    def local_constants() -> Constants:
        if not constants:  # read only where a test draws
            constants.append(constants_of_the_package())
            providers.CONSTANTS_CACHE.cache.clear()
        return constants[0]

    providers._get_local_constants = local_constants
