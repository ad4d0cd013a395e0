"""A linear program, with whole numbers where asked, solved by HiGHS.

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
IndexVector = NDArray[np.int32]
_SLACK: Final = 1e-6


@dataclass(frozen=True, eq=False)
class Outcome:
    """What a solve gave: ``values`` (columns,), or None if there is no solution or none was found.

    ``bound`` is proven: no solution has a smaller objective. ``proven`` says that the values are
    optimal. Without whole columns, ``column_duals`` and ``row_duals`` are how much the objective
    would grow with each column and each row's bound, and ``row_values`` what the rows sum to.
    """

    values: FloatVector | None
    objective: float
    bound: float
    proven: bool
    column_duals: FloatVector
    row_duals: FloatVector
    row_values: FloatVector


class Program:
    """Columns, rows and solving."""

    def __init__(self) -> None:
        self.low: list[float] = []
        self.high: list[float] = []
        self._whole: list[bool] = []
        self._rows: list[tuple[IndexVector, FloatVector]] = []
        self.row_low: list[float] = []
        self.row_high: list[float] = []

    @property
    def columns(self) -> int:
        """How many columns there are."""
        return len(self.low)

    def add_columns(
        self, n: int, low: float = 0.0, high: float = np.inf, *, whole: bool = False
    ) -> IndexVector:
        """Add ``n`` columns and return their indices (n,)."""
        first = self.columns
        self.low += [low] * n
        self.high += [high] * n
        self._whole += [whole] * n
        return np.arange(first, first + n, dtype=np.int32)

    def add_row(
        self,
        columns: Sequence[int] | IndexVector,
        factors: float | Sequence[float] | FloatVector,
        low: float = -np.inf,
        high: float = np.inf,
    ) -> int:
        """Ask that ``low <= sum of factors x columns <= high``; return the row's index."""
        index = np.asarray(columns, dtype=np.int32)
        factor = np.broadcast_to(np.asarray(factors, dtype=np.float64), index.shape)
        keep = factor != 0
        self._rows.append((index[keep], factor[keep]))
        self.row_low.append(low)
        self.row_high.append(high)
        return len(self._rows) - 1

    def hold(self, cost: FloatVector, limit: float) -> None:
        """Ask that a goal reached before is not given up: cost (columns,) x columns <= limit."""
        columns = np.flatnonzero(cost).astype(np.int32)
        self.add_row(columns, cost[columns], high=limit + _SLACK * max(1.0, abs(limit)))

    def minimize(
        self,
        cost: FloatVector,
        *,
        start: FloatVector | None = None,
        seconds: float = 60.0,
        nodes: int | None = None,
    ) -> Outcome:
        """Return the columns (cost of each, (columns,)) that sum to least. ``start`` is a known
        solution to go on from; after ``seconds`` or so many ``nodes`` of the search tree the best
        one known is returned."""
        highspy, solver = _make_solver()
        for option, value in (
            ("output_flag", False),
            ("threads", 1),
            ("random_seed", 1),
            ("solver", "simplex"),
            ("time_limit", seconds),
            *((("mip_max_nodes", nodes),) if nodes is not None else ()),
            ("mip_rel_gap", 0.0),
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
        lp.col_cost_ = np.asarray(cost, dtype=np.float64)
        lp.col_lower_ = np.array(self.low)
        lp.col_upper_ = np.array(self.high)
        lp.row_lower_ = np.array(self.row_low)
        lp.row_upper_ = np.array(self.row_high)
        kinds = highspy.HighsVarType
        if any(self._whole):
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
        info, solution = solver.getInfo(), solver.getSolution()
        optimal = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        # 2 is HiGHS' word for 'feasible'; a search that was stopped may hold something else.
        found = optimal or info.primal_solution_status == 2
        objective = float(info.objective_function_value) if found else np.inf
        return Outcome(
            values=np.array(solution.col_value) if found else None,
            objective=objective,
            bound=float(info.mip_dual_bound) if any(self._whole) else objective,
            proven=optimal,
            column_duals=np.array(solution.col_dual),
            row_duals=np.array(solution.row_dual),
            row_values=np.array(solution.row_value),
        )


def _make_solver() -> tuple[Any, Any]:
    """Return the solver's module and a solver that writes nothing to the terminal."""
    highspy: Any = importlib.import_module("highspy")

    class QuietSolver(highspy.Highs):  # type: ignore[misc]
        # Some versions greet on standard output when callbacks are made ready; we use none.
        def enableCallbacks(self) -> None:
            pass

    return highspy, QuietSolver()
