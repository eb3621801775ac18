"""A linear program in whole numbers, put together row by row and solved by HiGHS (`scipy.optimize.milp`)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint, OptimizeResult

OPEN: Final = float("inf")
PROVEN: Final = 0
"""The status with which HiGHS says that nothing is better."""
INFEASIBLE: Final = 2
"""The status with which it says that there is no answer."""


class Solved(NamedTuple):
    """What came out.

    Attributes:
        values: Of each variable, rounded to whole numbers; None where no answer was found.
        is_proven: Whether nothing is better; or, without an answer, whether there is none.
    """

    values: NDArray[np.float64] | None
    is_proven: bool


class Program:
    """Variables between 0 and 1, and the rows that bind them."""

    def __init__(self) -> None:
        self._whole: list[int] = []
        self._entries: list[tuple[int, int, float]] = []
        self._low: list[float] = []
        self._high: list[float] = []
        self._bound: LinearConstraint | None = None

    def variable(self, *, is_whole: bool = True) -> int:
        """A new variable; where it is not whole the rows make it so."""
        self._whole.append(int(is_whole))
        self._bound = None
        return len(self._whole) - 1

    def row(self, terms: Mapping[int, float], low: float = -OPEN, high: float = OPEN) -> None:
        """A sum of variables, each times its factor, that lies between two values."""
        number = len(self._low)
        self._entries += [(number, column, factor) for column, factor in terms.items()]
        self._low.append(low)
        self._high.append(high)
        self._bound = None

    def at_most_one(self, columns: Iterable[int]) -> None:
        """At most one of these is 1."""
        terms = dict.fromkeys(columns, 1.0)
        if len(terms) > 1:
            self.row(terms, high=1)

    def solve(
        self,
        costs: Mapping[int, float],
        seconds: float,
        *,
        slack: float = 0.0,
        without: Iterable[int] = (),
    ) -> Solved:
        """The cheapest answer.

        Args:
            costs: What each variable costs; those that are left out cost nothing.
            seconds: After which the best so far is taken.
            slack: The share of the cost by which the answer may be dearer than the cheapest.
            without: Variables that are 0 this time.
        """
        if not self._whole:
            return Solved(np.zeros(0) if self._holds_empty() else None, is_proven=True)
        found = self._found(costs, without, self._whole, seconds, slack)
        if found.x is None:
            return Solved(None, found.status == INFEASIBLE)
        return Solved(np.round(found.x), found.status == PROVEN)

    def least(
        self, costs: Mapping[int, float], seconds: float, without: Iterable[int] = ()
    ) -> float | None:
        """No answer costs less: the cost where variables need not be whole; None where there is none."""
        if not self._whole:
            return 0.0 if self._holds_empty() else None
        found = self._found(costs, without, [0] * len(self._whole), seconds, 0.0)
        if found.x is None:
            return None if found.status == INFEASIBLE else -OPEN
        return float(found.fun)

    def _holds_empty(self) -> bool:
        """Whether each row holds where there is no variable, of which the solver makes no program."""
        return all(low <= 0 <= high for low, high in zip(self._low, self._high, strict=True))

    def _found(
        self,
        costs: Mapping[int, float],
        without: Iterable[int],
        whole: list[int],
        seconds: float,
        slack: float,
    ) -> OptimizeResult:
        # Whoever starts the program and plans no day does not wait for these.
        from scipy.optimize import Bounds, milp  # noqa: PLC0415

        factors, most = np.zeros(len(self._whole)), np.ones(len(self._whole))
        for column, cost in costs.items():
            factors[column] = cost
        most[list(without)] = 0
        return milp(
            factors,
            constraints=self._rows_as_matrix(),
            integrality=np.array(whole),
            bounds=Bounds(0, most),
            options={"time_limit": seconds, "mip_rel_gap": slack},
        )

    def _rows_as_matrix(self) -> LinearConstraint:
        """The rows as the solver reads them, put together once for as many questions as follow."""
        from scipy.optimize import LinearConstraint  # noqa: PLC0415
        from scipy.sparse import csc_array  # noqa: PLC0415

        if self._bound is None:
            entries = self._entries
            rows, columns, values = zip(*entries, strict=True) if entries else ((), (), ())
            shape = (len(self._low), len(self._whole))
            matrix = csc_array((values, (rows, columns)), shape=shape)
            self._bound = LinearConstraint(matrix, np.array(self._low), np.array(self._high))
        return self._bound
