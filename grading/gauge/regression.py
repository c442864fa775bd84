"""Linear least squares with the uncertainty of what it gives (JCGM 100:2008, H.3)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64


@dataclass(frozen=True, slots=True)
class LinearFit:
    """A fit y = X b. b: shape (p,); covariance: shape (p, p); residual_sd with its dof = n - p."""

    b: F64
    covariance: F64
    residual_sd: float
    dof: int
    sum_of_squares: float

    @property
    def u(self) -> F64:
        """Standard uncertainties of the coefficients, shape (p,)."""
        return np.sqrt(np.diag(self.covariance))

    def at(self, row: F64) -> tuple[float, float]:
        """The fitted value at one row of the design, shape (p,), and its standard uncertainty.

        The uncertainty is that of the fitted curve, covariance included (JCGM 100:2008, H.3.4), not
        that of a further single observation.
        """
        return float(row @ self.b), math.sqrt(max(0.0, float(row @ self.covariance @ row)))


def fit_linear(design: F64, y: F64) -> LinearFit:
    """Least squares by orthogonal factorisation of the column-scaled design (H.3.2 for a line).

    design: shape (n, p), full column rank, n > p; y: shape (n,). ValueError where that is not so.
    """
    n, p = design.shape
    if n <= p or y.shape != (n,):
        raise ValueError(f"{n} observations cannot give {p} coefficients and their uncertainty")
    scale = np.linalg.norm(design, axis=0)
    if not np.all(scale > 0.0):
        raise ValueError("a column of the design is zero")
    q, r = np.linalg.qr(design / scale)
    if np.abs(np.diag(r)).min() < 1e-13:
        raise ValueError("columns of the design depend on each other")
    inverse = np.linalg.solve(r, np.eye(p))
    b = inverse @ (q.T @ y)
    b = b + inverse @ (q.T @ (y - design / scale @ b))  # one refinement: the residual's own fit
    residual = y - design / scale @ b
    squares = float(residual @ residual)
    variance = squares / (n - p)
    covariance = variance * (inverse @ inverse.T) / np.outer(scale, scale)
    return LinearFit(b / scale, covariance, math.sqrt(variance), n - p, squares)


def line_design(x: F64, about: float = 0.0) -> F64:
    """Design of a straight line through abscissas x, shape (n,): columns 1 and x - about."""
    return np.column_stack([np.ones_like(x), x - about])
