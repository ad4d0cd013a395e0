"""The light over the table: a smooth field per channel, fitted to what ought to look alike.

Model, in the logarithm of linear light at place x, for lightness and two tints in turn::

    seen(x) = field(x) + material + grain(x) + noise

``field`` is a polynomial of low total degree in Legendre products. ``material`` is known for a
reference, unknown but constant for the surface or a fabric that lies in several places. ``grain``
is what textured surfaces add: strips across the picture that are lighter or darker (planks,
printed lines), and lightness that goes with tint (dark wood is redder), neither of which is light.
How strong each part is, the samples tell (empirical Bayes: variances re-estimated with the fit, as
in MacKay 1992, Bayesian Interpolation, Neural Computation 4, 415-447), so a plain white table
gives a field of high degree, and planks one that bends only where planks cannot. Samples that do
not fit are weighed down (Tukey's biweight).
"""

from dataclasses import dataclass
from itertools import product
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DEGREE: Final = 5
_STRIPS: Final = (22, 9)
_ROUNDS: Final = 3
_UPDATES: Final = 4
_BIWEIGHT: Final = 4.7
_MATERIAL_SD: Final = 5.0
_CONSTANT_SD: Final = 3.0
_SLOPE_SD: Final = 3.0
_STRIP_START: Final = 0.02
_LEAST_STRIP: Final = 0.001
_NOISE_LEAST: Final = 0.3
_PRIOR_WEIGHT: Final = 0.3
# How far the light plausibly bends, by degree from 1 (half a picture = 1): lightness, tints.
_LIGHTNESS_SD: Final = (0.25, 0.12, 0.06, 0.03, 0.02)
_TINT_SD: Final = (0.06, 0.03, 0.015, 0.01, 0.006)
# Lightness as the eye weighs the sharpened channels; tints against the middle channel.
_TO_PARTS: Final = np.array([[0.25, 0.65, 0.10], [1.0, -1.0, 0.0], [0.0, -1.0, 1.0]])
_FROM_PARTS: Final = np.linalg.inv(_TO_PARTS)


@dataclass(frozen=True, eq=False)
class Samples:
    """What the field is fitted to.

    ``xy`` (S, 2) in picture pixels; ``log`` (S, 3) natural logarithm of sharpened light; ``sd``
    (S,) its noise; ``material`` (S,) index of what was seen there; ``known`` (K, 3) the log of
    each material's true light, NaN where unknown; ``grained`` (K,) whether it may have grain.
    """

    xy: Array
    log: Array
    sd: Array
    material: NDArray[np.intp]
    known: Array
    grained: NDArray[np.bool_]

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

    ``size`` (width, height) of the picture; ``coefficients`` (P, 3) by sharpened channel;
    ``covariance`` (3, P, P) of lightness and the two tints; ``samples`` with what the fit left
    over of their lightness, ``residual`` (S,), grain included, and their ``weights`` (S,), 0 for
    those that do not belong. ``bends`` (3, 5) how strongly each part bends, by degree.
    """

    size: tuple[int, int]
    coefficients: Array
    covariance: Array
    samples: Samples
    residual: Array
    weights: Array
    bends: Array

    def log_light(self, xy: NDArray[np.floating[Any]]) -> Array:
        """Log of the light (..., 3) at places (..., 2); 0 is the light under which linear 1.0 is
        a perfect white."""
        return np.asarray(basis(xy, self.size, DEGREE) @ self.coefficients)

    def log_covariance(self, xy: NDArray[np.floating[Any]]) -> Array:
        """Covariance (3, 3) between the channels of the mean log light over places (N, 2)."""
        phi = basis(xy, self.size, DEGREE).mean(axis=0)
        parts = np.einsum("p,kpq,q->k", phi, self.covariance, phi)
        return np.asarray(_FROM_PARTS @ np.diag(parts) @ _FROM_PARTS.T)


def basis(xy: NDArray[np.floating[Any]], size: tuple[int, int], degree: int) -> Array:
    """Return Legendre products (..., P) up to a total degree at places (..., 2).

    Both axes are scaled by the longer half side, so that a turned picture gives the same light.
    Beyond the picture's edge by a tenth, places count as that edge.
    """
    places = np.asarray(xy, dtype=np.float64)
    half = max(size) / 2
    u = np.clip((places[..., 0] - size[0] / 2) / half, -1.2, 1.2)
    v = np.clip((places[..., 1] - size[1] / 2) / half, -1.2, 1.2)
    pu, pv = _legendre(u, degree), _legendre(v, degree)
    return np.stack([pu[d - j] * pv[j] for d in range(degree + 1) for j in range(d + 1)], axis=-1)


def _legendre(t: Array, degree: int) -> list[Array]:
    terms = [np.ones_like(t), t]
    for n in range(1, degree):
        terms.append(((2 * n + 1) * t * terms[n] - n * terms[n - 1]) / (n + 1))
    return terms[: degree + 1]


_DEGREE_OF: Final = np.array([d for d in range(DEGREE + 1) for _ in range(d + 1)])
_TERMS: Final = len(_DEGREE_OF)


def fit_field(samples: Samples, size: tuple[int, int]) -> LightField:
    """Fit the light over a picture of ``size`` (width, height).

    Raises
    ------
    ValueError
        If there is no sample of a known material.
    """
    if not samples.have_level:
        raise ValueError("no sample of a known material: the level of the light is open")
    design, groups, target = _design(samples, size)
    red = _fit_part(design, groups, target @ _TO_PARTS[1], samples.sd, _TINT_SD)
    blue = _fit_part(design, groups, target @ _TO_PARTS[2], samples.sd, _TINT_SD)
    grained = samples.grained[samples.material]
    tint_left = np.where(grained[:, None], np.stack([red.left, blue.left], axis=1), 0.0)
    with_tint = np.hstack([design, tint_left])
    with_groups = np.concatenate([groups, np.full(2, _TINT_GROUP)])
    trusted = np.sqrt(red.weights * blue.weights)
    light = _fit_part(
        with_tint, with_groups, target @ _TO_PARTS[0], samples.sd, _LIGHTNESS_SD, trusted
    )
    parts = (light, red, blue)
    coefficients = np.stack([p.solution[:_TERMS] for p in parts], axis=1) @ _FROM_PARTS.T
    return LightField(
        size=size,
        coefficients=coefficients,
        covariance=np.stack([p.covariance for p in parts]),
        samples=samples,
        residual=light.left,
        weights=light.weights,
        bends=np.stack([p.bends for p in parts]),
    )


_CONSTANT, _MATERIAL, _TINT_GROUP = 0, 10, 11
_STRIP_GROUPS: Final = (12, 13, 14, 15)


def _design(samples: Samples, size: tuple[int, int]) -> tuple[Array, NDArray[np.intp], Array]:
    """Columns (S, Q), the group of each (its degree, or one of the above), the target (S, 3)."""
    phi = basis(samples.xy, size, DEGREE)
    unknown = ~samples.known_materials
    dummies = samples.material[:, None] == np.flatnonzero(unknown)[None, :]
    known = np.where(unknown[:, None], 0.0, samples.known)
    target = samples.log - known[samples.material]
    strips, groups = [], []
    for group, (axis, count) in zip(_STRIP_GROUPS, product((0, 1), _STRIPS), strict=True):
        strip = (samples.xy[:, axis] // (max(size) / count)).astype(np.intp)
        present = np.unique(strip)
        mine = strip[:, None] == present[None, :]
        strips.append(mine & samples.grained[samples.material][:, None])
        groups += [group] * present.size
    columns = [phi, dummies.astype(np.float64), *(s.astype(np.float64) for s in strips)]
    kinds = [*_DEGREE_OF, *[_MATERIAL] * dummies.shape[1], *groups]
    return np.hstack(columns), np.array(kinds, dtype=np.intp), target


@dataclass(frozen=True, eq=False)
class _Part:
    """The fit of lightness or of one tint. ``left`` is target less field and material."""

    solution: Array
    covariance: Array
    left: Array
    weights: Array
    bends: Array


def _fit_part(
    design: Array,
    groups: NDArray[np.intp],
    target: Array,
    sd: Array,
    bend_sd: tuple[float, ...],
    trusted: Array | None = None,
) -> _Part:
    """Fit one part, its variances and its robust weights together."""
    expected = np.square(bend_sd)
    variance = {
        _CONSTANT: _CONSTANT_SD**2, _MATERIAL: _MATERIAL_SD**2, _TINT_GROUP: _SLOPE_SD**2,
        **dict.fromkeys(_STRIP_GROUPS, _STRIP_START**2),
        **{d + 1: float(v) for d, v in enumerate(expected)},
    }  # fmt: skip
    base = (1.0 if trusted is None else trusted) / np.square(sd)
    pull = np.ones_like(sd)
    noise = 1.0
    members = {g: np.flatnonzero(groups == g) for g in variance}
    for _ in range(_ROUNDS):
        weighted = design * (base * pull)[:, None]
        normal, right = weighted.T @ design, weighted.T @ target
        for _ in range(_UPDATES):
            prior = np.array([1 / variance[int(g)] for g in groups])
            inverse = np.linalg.inv(normal / noise + np.diag(prior))
            solution = inverse @ right / noise
            spread = np.diag(inverse)
            for group, mine in members.items():
                if group in (_CONSTANT, _MATERIAL, _TINT_GROUP) or not mine.size:
                    continue
                size = float(np.sum(solution[mine] ** 2 + spread[mine]))
                if group in _STRIP_GROUPS:
                    variance[group] = max(size / mine.size, _LEAST_STRIP**2)
                else:
                    start = _PRIOR_WEIGHT * float(expected[group - 1])
                    variance[group] = (start + size) / (_PRIOR_WEIGHT + mine.size)
        score = np.abs(target - design @ solution) / sd
        scale = max(1.4826 * _weighted_median(score, base), _NOISE_LEAST)
        noise = scale**2
        pull = np.clip(1 - (score / (_BIWEIGHT * scale)) ** 2, 0.0, None) ** 2
    plain = np.where(np.isin(groups, (*_STRIP_GROUPS, _TINT_GROUP)), 0.0, solution)
    return _Part(
        solution=solution,
        covariance=np.asarray(inverse[:_TERMS, :_TERMS], dtype=np.float64),
        left=target - design @ plain,
        weights=pull,
        bends=np.sqrt([variance[d] for d in range(1, DEGREE + 1)]),
    )


def _weighted_median(values: Array, weight: Array) -> float:
    order = np.argsort(values)
    share = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(share, share[-1] / 2)])
