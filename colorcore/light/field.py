"""The light over the table: a smooth field per channel, fitted to what ought to look alike.

Model, in the logarithm of linear light at place x and channel c::

    log seen(x, c) = field(x, c) + material(c) + noise

``field`` is a polynomial of low total degree in Legendre products; ``material`` is known for a
reference, unknown but constant for the surface or a fabric that lies in several places. Field and
materials are solved together, so that the surface gives the shape and the paper the level.
Samples that do not fit are weighed down (Tukey's biweight); the degree is the one that predicts
left-out blocks of the picture best.
"""

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_PRIOR_SD: Final = (3.0, 0.7, 0.4, 0.2, 0.12, 0.07, 0.05)
"""How far the log light may plausibly bend, by degree (half a picture = 1)."""
_FOLDS: Final = 5
MAX_DEGREE: Final = 5
_LEAST_SD: Final = 0.003


@dataclass(frozen=True, eq=False)
class Samples:
    """What the field is fitted to.

    ``xy`` (S, 2) in picture pixels; ``log`` (S, 3) natural logarithm of linear light; ``sd`` (S,)
    its noise; ``material`` (S,) index of what was seen there; ``known`` (K, 3) the log of each
    material's true linear light, NaN where unknown.
    """

    xy: Array
    log: Array
    sd: Array
    material: NDArray[np.intp]
    known: Array

    def __len__(self) -> int:
        return int(self.xy.shape[0])

    @property
    def known_materials(self) -> NDArray[np.bool_]:
        """Which materials (K,) have a known colour."""
        return np.asarray(np.isfinite(self.known).all(axis=1), dtype=np.bool_)

    @property
    def have_level(self) -> bool:
        """Whether any sample is of a known material."""
        return bool(len(self)) and bool(self.known_materials[self.material].any())


@dataclass(frozen=True, eq=False)
class LightField:
    """A fitted field.

    ``size`` (width, height) of the picture; ``degree``; ``coefficients`` (P, 3);
    ``covariance`` (P, P), to be scaled by ``spread`` (3, 3), the covariance of what the fit left
    over between the channels; ``residual`` (S, 3) and ``weights`` (S,) of the samples it rests on;
    ``materials`` (K, 3) fitted logs.
    """

    size: tuple[int, int]
    degree: int
    coefficients: Array
    covariance: Array
    spread: Array
    samples: Samples
    residual: Array
    weights: Array
    materials: Array

    def log_light(self, xy: NDArray[np.floating[Any]]) -> Array:
        """Log of the light (..., 3) at places (..., 2); 0 is the light under which linear 1.0 is
        a perfect white."""
        return np.asarray(basis(xy, self.size, self.degree) @ self.coefficients)

    def log_covariance(self, xy: NDArray[np.floating[Any]]) -> Array:
        """Covariance (3, 3) between the channels of the mean log light over places (N, 2)."""
        phi = basis(xy, self.size, self.degree).mean(axis=0)
        return np.asarray(float(phi @ self.covariance @ phi) * self.spread)


def basis(xy: NDArray[np.floating[Any]], size: tuple[int, int], degree: int) -> Array:
    """Return Legendre products (..., P) up to a total degree at places (..., 2).

    Both axes are scaled by the longer half side, so that a turned picture gives the same light.
    """
    places = np.asarray(xy, dtype=np.float64)
    half = max(size) / 2
    u = (places[..., 0] - size[0] / 2) / half
    v = (places[..., 1] - size[1] / 2) / half
    pu, pv = _legendre(u, degree), _legendre(v, degree)
    return np.stack([pu[d - j] * pv[j] for d in range(degree + 1) for j in range(d + 1)], axis=-1)


def _legendre(t: Array, degree: int) -> list[Array]:
    terms = [np.ones_like(t), t]
    for n in range(1, degree):
        terms.append(((2 * n + 1) * t * terms[n] - n * terms[n - 1]) / (n + 1))
    return terms[: degree + 1]


def terms(degree: int) -> int:
    """Return how many products there are up to a total degree."""
    return (degree + 1) * (degree + 2) // 2


def fit_field(
    samples: Samples, size: tuple[int, int], *, max_degree: int = MAX_DEGREE
) -> LightField:
    """Fit the light over a picture of ``size`` (width, height).

    Raises
    ------
    ValueError
        If there are no samples, or none of a known material.
    """
    if not len(samples):
        raise ValueError("no samples to fit the light to")
    if not samples.have_level:
        raise ValueError("no sample of a known material: the level of the light is open")
    highest = min(max_degree, MAX_DEGREE)
    start = _solve(samples, size, min(2, highest), robust=True)
    samples = _with_own_noise(samples, start)
    degree = _best_degree(samples, size, start.weights, highest)
    return _solve(samples, size, degree, robust=True)


def _design(samples: Samples, size: tuple[int, int], degree: int) -> tuple[Array, Array, Array]:
    """Design (S, P + U), right side (S, 3) and prior precision (P + U,), U unknown materials."""
    phi = basis(samples.xy, size, degree)
    unknown = ~samples.known_materials
    columns = np.flatnonzero(unknown)
    dummies = (samples.material[:, None] == columns[None, :]).astype(np.float64)
    target = samples.log - np.where(unknown[:, None], 0.0, samples.known)[samples.material]
    by_degree = [_PRIOR_SD[d] for d in range(degree + 1) for _ in range(d + 1)]
    precision = np.concatenate([1 / np.square(by_degree), np.full(columns.size, 1 / 25.0)])
    return np.hstack([phi, dummies]), target, precision


def _ridge(design: Array, target: Array, weight: Array, precision: Array) -> tuple[Array, Array]:
    """Solution (P, 3) and inverse normal matrix (P, P)."""
    weighted = design * weight[:, None]
    normal = weighted.T @ design + np.diag(precision)
    inverse = np.linalg.inv(normal)
    return np.asarray(inverse @ (weighted.T @ target)), np.asarray(inverse, dtype=np.float64)


def _solve(samples: Samples, size: tuple[int, int], degree: int, *, robust: bool) -> LightField:
    design, target, precision = _design(samples, size, degree)
    base = 1 / np.square(samples.sd)
    weight = base.copy()
    rounds = 8 if robust else 1
    for _ in range(rounds):
        solution, inverse = _ridge(design, target, weight, precision)
        left = target - design @ solution
        score = np.sqrt(np.mean(left**2, axis=1)) / samples.sd
        scale = max(_typical(score, base), 1e-3)
        pull = np.clip(1 - (score / (4.7 * max(scale, 0.5))) ** 2, 0, None) ** 2
        weight = base * pull if robust else base
    free = max(float(np.sum(weight / base)) - design.shape[1], 1.0)
    spread = (left * weight[:, None]).T @ left / free
    count = terms(degree)
    unknown = np.flatnonzero(~samples.known_materials)
    materials = samples.known.copy()
    materials[unknown] = solution[count:]
    return LightField(
        size=size,
        degree=degree,
        coefficients=solution[:count],
        covariance=inverse[:count, :count],
        spread=spread,
        samples=samples,
        residual=left,
        weights=weight / base,
        materials=materials,
    )


def _with_own_noise(samples: Samples, first: LightField) -> Samples:
    """Samples whose ``sd`` is what each material shows: a carpet is rougher than paper."""
    sd = samples.sd.copy()
    for k in range(samples.known.shape[0]):
        mine = samples.material == k
        if np.count_nonzero(mine) >= 4:
            off = np.sqrt(np.mean(first.residual[mine] ** 2, axis=1)) / samples.sd[mine]
            sd[mine] *= max(_typical(off, 1 / np.square(samples.sd[mine])), 0.3)
    return replace(samples, sd=np.maximum(sd, _LEAST_SD))


def _typical(score: Array, weight: Array) -> float:
    """Weighted median of how far samples lie off, as a standard deviation."""
    order = np.argsort(score)
    share = np.cumsum(weight[order])
    return float(score[order][np.searchsorted(share, share[-1] / 2)]) * 1.2


def _best_degree(
    samples: Samples, size: tuple[int, int], trusted: Array, max_degree: int
) -> int:
    """The degree that predicts left-out blocks best; the lower one unless clearly better."""
    fold = _blocks(samples.xy, size)
    known = samples.known_materials[samples.material]
    if not known.all():
        fold = np.where(known, _FOLDS, fold)
    best, best_error = 0, np.inf
    weight = trusted / np.square(samples.sd)
    for degree in range(max_degree + 1):
        if terms(degree) > len(samples) // 2 and degree > 1:
            break
        design, target, precision = _design(samples, size, degree)
        error = total = 0.0
        for k in range(_FOLDS):
            out = fold == k
            kept = np.where(out, 0.0, weight)
            if not out.any() or np.count_nonzero(kept) < 3:
                continue
            solution, _ = _ridge(design, target, kept, precision)
            left = target[out] - design[out] @ solution
            error += float(np.sum(weight[out, None] * left**2))
            total += float(np.sum(weight[out])) * 3
        if total == 0:
            break
        error /= total
        if error < best_error * 0.985:
            best, best_error = degree, error
    return best


def _blocks(xy: Array, size: tuple[int, int]) -> NDArray[np.intp]:
    """Fold of each sample: whole blocks of the picture go out together, since neighbours share
    their grain. References stay in, lest the level be lost."""
    block = max(size) / 7
    column = (xy[:, 0] // block).astype(np.intp)
    row = (xy[:, 1] // block).astype(np.intp)
    return (column * 2 + row * 3) % _FOLDS
