"""A mixed-integer linear program, solved by HiGHS, one goal after another.

Source of the solver: Huangfu and Hall (2018), 'Parallelizing the dual revised simplex method',
Mathematical Programming Computation 10. It is called through its own thin package, which loads
in a tenth of the time of a general one and takes a known deal as a start.
"""

import importlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

FloatVector = NDArray[np.float64]
_SLACK: Final = 1e-6


@dataclass(frozen=True, eq=False)
class Outcome:
    """What a solve gave: ``values`` (columns,), or None if there is no solution or none was found.

    ``bound`` is proven: no solution has a smaller objective. ``proven`` says that the values are
    optimal; ``impossible`` that there is no solution at all.
    """

    values: FloatVector | None
    objective: float
    bound: float
    proven: bool
    impossible: bool


class Program:
    """Columns, rows and solving. Rows and columns are only ever added, but for rows added last."""

    def __init__(self) -> None:
        self._low: list[float] = []
        self._high: list[float] = []
        self._whole: list[bool] = []
        self._rows: list[tuple[NDArray[np.int32], FloatVector, float, float]] = []

    @property
    def columns(self) -> int:
        """How many columns there are."""
        return len(self._low)

    def add_columns(
        self, n: int, low: float = 0.0, high: float = np.inf, *, whole: bool = False
    ) -> NDArray[np.int32]:
        """Add ``n`` columns and return their indices (n,)."""
        first = self.columns
        self._low += [low] * n
        self._high += [high] * n
        self._whole += [whole] * n
        return np.arange(first, first + n, dtype=np.int32)

    def fix(self, column: int, value: float) -> None:
        """Leave a column only one value."""
        self._low[column] = self._high[column] = value

    def add_row(
        self,
        columns: Sequence[int] | NDArray[np.int32],
        factors: float | Sequence[float] | FloatVector,
        low: float = -np.inf,
        high: float = np.inf,
    ) -> None:
        """Ask that ``low <= sum of factors x columns <= high``."""
        index = np.asarray(columns, dtype=np.int32)
        factor = np.broadcast_to(np.asarray(factors, dtype=np.float64), index.shape)
        keep = factor != 0
        self._rows.append((index[keep], factor[keep], low, high))

    def hold(self, cost: FloatVector, limit: float) -> None:
        """Ask that a goal reached before is not given up: cost x columns <= limit."""
        columns = np.flatnonzero(cost).astype(np.int32)
        self.add_row(columns, cost[columns], high=limit + _SLACK * max(1.0, abs(limit)))

    def minimize(
        self,
        cost: FloatVector,
        *,
        start: FloatVector | None = None,
        seconds: float = 10.0,
        relative_gap: float = 0.0,
    ) -> Outcome:
        """Return the columns of least cost. ``cost`` may be shorter than the columns: the rest
        cost nothing. ``start`` is a known solution."""
        highspy, solver = _make_solver()
        for option, value in (
            ("output_flag", False),
            ("threads", 1),
            ("random_seed", 1),
            ("time_limit", seconds),
            ("mip_rel_gap", relative_gap),
            ("mip_abs_gap", 1e-7),
            ("mip_feasibility_tolerance", 1e-7),
        ):
            solver.setOptionValue(option, value)
        solver.passModel(self._model(highspy, cost))
        if start is not None:
            known = highspy.HighsSolution()
            known.col_value = [float(value) for value in start]
            solver.setSolution(known)
        solver.run()
        return self._outcome(highspy, solver)

    def _model(self, highspy: Any, cost: FloatVector) -> Any:
        lp = highspy.HighsLp()
        lp.num_col_ = self.columns
        lp.num_row_ = len(self._rows)
        padded = np.zeros(self.columns)
        padded[: len(cost)] = cost
        lp.col_cost_ = padded
        lp.col_lower_ = np.array(self._low)
        lp.col_upper_ = np.array(self._high)
        lp.row_lower_ = np.array([row[2] for row in self._rows])
        lp.row_upper_ = np.array([row[3] for row in self._rows])
        kinds = highspy.HighsVarType
        lp.integrality_ = [kinds.kInteger if w else kinds.kContinuous for w in self._whole]
        lengths = [len(row[0]) for row in self._rows]
        matrix = lp.a_matrix_
        matrix.format_ = highspy.MatrixFormat.kRowwise
        matrix.start_ = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
        empty = np.zeros(0)
        matrix.index_ = np.concatenate([empty, *(row[0] for row in self._rows)]).astype(np.int32)
        matrix.value_ = np.concatenate([empty, *(row[1] for row in self._rows)])
        return lp

    def _outcome(self, highspy: Any, solver: Any) -> Outcome:
        states = highspy.HighsModelStatus
        state = solver.getModelStatus()
        info = solver.getInfo()
        optimal = state == states.kOptimal
        impossible = state in (states.kInfeasible, states.kUnboundedOrInfeasible)
        found = optimal or info.primal_solution_status == 2
        values = np.array(solver.getSolution().col_value) if found else None
        objective = float(info.objective_function_value) if found else np.inf
        bound = float(info.mip_dual_bound) if any(self._whole) else objective
        return Outcome(values, objective, bound, optimal, impossible)


def _make_solver() -> tuple[Any, Any]:
    """Return the solver's module and a solver that writes nothing to the terminal."""
    highspy: Any = importlib.import_module("highspy")

    class QuietSolver(highspy.Highs):  # type: ignore[misc]
        # Some versions greet on standard output when callbacks are made ready; we use none.
        def enableCallbacks(self) -> None:
            pass

    return highspy, QuietSolver()
