"""The light over the table: a smooth field per channel, fitted to what ought to look alike.

Model, in the logarithm of linear light at place x, for lightness (1) and two tints (2, 3)::

    seen_1(x) = field_1(x) + material_1 + grain(x) + noise
    seen_k(x) = field_k(x) + material_k + kappa_k grain(x) + noise

``field`` is a polynomial of low total degree in Legendre products. ``material`` is known for a
reference, unknown but constant for the surface or a fabric that lies in several places. ``grain``
is what textured surfaces add: lighter and darker strips across the picture (planks, printed
lines), and at every place a tone that goes with tint (dark wood is redder). ``kappa`` is read from
what no smooth field follows; then seen_k - kappa_k seen_1 is free of grain and still shows the
light. How strong each part is, the samples tell (empirical Bayes: variances re-estimated with the
fit, as in MacKay 1992, Bayesian Interpolation, Neural Computation 4, 415-447), so a plain white
table gives a field of high degree, and planks one that bends only where planks cannot. Slopes
that squares show by themselves (``slopes``) bind the field alone. Samples that do not fit are
weighed down (Tukey's biweight).
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.light.samples import Samples
from colorcore.light.sampling import neighbours
from colorcore.light.slopes import Slopes, slope_along
from colorcore.ordering import median

Array = NDArray[np.float64]

DEGREE: Final = 5
_ROUNDS: Final = 4
_BIWEIGHT: Final = 4.7
_MATERIAL_SD: Final = 5.0
_CONSTANT_SD: Final = 3.0
_PLAIN: Final = 0.01
_STRIP_START: Final = 0.15
_NOISE_START: Final = 0.3
_TINT_SHARE: Final = 0.2
_MOST_KAPPA: Final = 3.0
_LEAST_STRIP: Final = 0.001
_NOISE_LEAST: Final = 0.3
_PRIOR_WEIGHT: Final = 10.0
_LEAST_PAIRS: Final = 20
_MOST_ALIKE: Final = 0.5
_CLOTH_FACTOR: Final = 1.3
"""Prints are alike over more than one cell: the slopes of rendered squares are off by this many of
the deviations that their cells would leave if each were independent."""
_CLOTH_SD: Final = 0.008
"""How unevenly plain cloth lies, cell by cell in log light: rendered squares keep 0.007 and up."""
_HOLDS: Final = 12
"""Slopes (two a square) that hold the light without the surface."""
# How far the light plausibly bends, by degree from 1 (half a picture = 1): lightness, tints.
_LIGHTNESS_SD: Final = (0.25, 0.10, 0.04, 0.02, 0.01)
_TINT_SD: Final = (0.06, 0.025, 0.012, 0.006, 0.004)
# Lightness as the eye weighs the sharpened channels; tints against the middle channel.
_TO_PARTS: Final = np.array([[0.25, 0.65, 0.10], [1.0, -1.0, 0.0], [0.0, -1.0, 1.0]])
_FROM_PARTS: Final = np.linalg.inv(_TO_PARTS)


@dataclass(frozen=True, eq=False)
class Variances:
    """Where a fit stands: variances of ``bends`` (2, 5) and ``strips`` (4,), of the ``noise``
    (S, 3) over its samples' own; their robust weights ``pull`` (S, 3); the ``worth`` of a sample
    that is like its neighbours; and the weights of ``slopes`` (R, 3)."""

    bends: Array
    strips: Array
    noise: Array
    pull: Array
    worth: float
    slopes: Array


@dataclass(frozen=True, eq=False)
class LightField:
    """A fitted field.

    ``size`` (width, height) of the picture; ``coefficients`` (P, 3) by sharpened channel;
    ``covariance`` (3, P, 3, P) of lightness and the two tints; ``samples`` with what neither field
    nor grain explains of their logs, ``unexplained`` (S, 3), and their ``weights`` (S,), 0 for
    those that do not belong. ``variances`` are where the fit ended.
    """

    size: tuple[int, int]
    coefficients: Array
    covariance: Array
    samples: Samples
    unexplained: Array
    weights: Array
    variances: Variances

    def log_light(self, xy: NDArray[np.floating[Any]]) -> Array:
        """Log of the light (..., 3) at places (..., 2); 0 is the light under which linear 1.0 is
        a perfect white."""
        return np.asarray(basis(xy, self.size, DEGREE) @ self.coefficients)

    def log_covariance(self, xy: NDArray[np.floating[Any]]) -> Array:
        """Covariance (..., 3, 3) between the channels of the mean log light over places
        (..., N, 2)."""
        phi = basis(xy, self.size, DEGREE).mean(axis=-2)
        parts = np.einsum("...jkq,...q->...jk", np.tensordot(phi, self.covariance, (-1, 1)), phi)
        return np.asarray(_FROM_PARTS @ parts @ _FROM_PARTS.T)


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


def fit_field(
    samples: Samples, size: tuple[int, int], *, start: LightField | None = None
) -> LightField:
    """Fit the light over a picture of ``size`` (width, height).

    ``start`` is a fit to nearly the same samples, whose variances and weights are gone on from.

    Raises
    ------
    ValueError
        If there is no sample of a known material.
    """
    if not samples.have_level:
        raise ValueError("no sample of a known material: the level of the light is open")
    unknown = ~samples.known_materials
    dummies = (samples.material[:, None] == np.flatnonzero(unknown)[None, :]).astype(np.float64)
    known = np.where(unknown[:, None], 0.0, samples.known)
    seen = (samples.log - known[samples.material]) @ _TO_PARTS.T
    smooth = np.hstack([basis(samples.xy, size, DEGREE), dummies])
    kappa, rough = _tint_of_grain(smooth, seen, samples)
    strips, strip_axes = _strips(samples)
    grained = samples.grained[samples.material]
    roughness = 1.4826 * float(median(np.abs(rough[grained]))) if grained.any() else 0.0
    if roughness < _PLAIN:
        strips, strip_axes = strips[:, :0], strip_axes[:0]
    model = _Model(
        smooth, strips, dummies.shape[1], strip_axes, kappa, *_slope_rows(samples.slopes, size)
    )
    known_from = start.variances if start and start.weights.size == len(samples) else None
    fit = _fit(model, seen - seen[:, :1] * kappa, samples, known_from)
    fields = fit.solution[: 3 * _TERMS].reshape(3, _TERMS)
    left = seen - seen[:, :1] * kappa - model.predict(fit.solution)
    left = left + left[:, :1] * kappa
    return LightField(
        size=size,
        coefficients=fields.T @ _FROM_PARTS.T,
        covariance=fit.covariance.reshape(3, _TERMS, 3, _TERMS),
        samples=samples,
        unexplained=left @ _FROM_PARTS.T,
        weights=fit.variances.pull.min(axis=1),
        variances=fit.variances,
    )


def _tint_of_grain(smooth: Array, seen: Array, samples: Samples) -> tuple[Array, Array]:
    """How tints go with lightness in what no smooth field follows, (3,), the first being 0; and
    that lightness (S,)."""
    weight = np.where(samples.grained[samples.material], 1.0, 1e-3)
    weighted = smooth * weight[:, None]
    normal = weighted.T @ smooth + 1e-6 * np.eye(smooth.shape[1])
    left = seen - smooth @ np.linalg.solve(normal, weighted.T @ seen)
    far = np.abs(left[:, 0])
    near = weight * (far < 5 * median(far) + 1e-9)
    variance = float(np.sum(near * left[:, 0] ** 2)) + 1e-6
    slopes = (near[:, None] * left[:, :1] * left[:, 1:]).sum(axis=0) / variance
    kappa = np.concatenate([[0.0], np.clip(slopes, -_MOST_KAPPA, _MOST_KAPPA)])
    return kappa, np.asarray(left[:, 0])


def _strips(samples: Samples) -> tuple[Array, NDArray[np.intp]]:
    """Which column and row of cells each grained sample lies in: columns (S, Q), their axis."""
    columns, axes = [], []
    grained = samples.grained[samples.material]
    for axis in (0, 1):
        present = np.unique(samples.bins[grained, axis])
        columns.append((samples.bins[:, axis, None] == present[None, :]) & grained[:, None])
        axes += [axis] * present.size
    return np.hstack(columns).astype(np.float64), np.array(axes, dtype=np.intp)


def _slope_rows(slopes: Slopes, size: tuple[int, int]) -> tuple[Array, Array, Array]:
    """What slopes of squares are (R, P) of the field's terms, what was seen and its noise (R, 3)
    for lightness and the two tints."""
    rows = slope_along(basis(slopes.xy, size, DEGREE)).reshape(-1, _TERMS)
    seen = (slopes.seen @ _TO_PARTS.T).reshape(-1, 3)
    left = np.sqrt(np.mean(np.square(slopes.left @ _TO_PARTS.T), axis=1))
    sd = np.hypot(_CLOTH_FACTOR * left, _CLOTH_SD)
    return rows, seen, np.repeat(sd, 2, axis=0)


@dataclass(frozen=True, eq=False)
class _Model:
    """Columns of the fit. The unknowns are, for lightness and for both tints less their share of
    it: the field (P each), the constants of unknown materials (U each), strips (Q each)."""

    smooth: Array
    strips: Array
    materials: int
    strip_axes: NDArray[np.intp]
    kappa: Array
    slopes: Array
    slopes_seen: Array
    slopes_sd: Array

    @property
    def groups(self) -> NDArray[np.intp]:
        """Which variance each strip's effect shares: by axis, lightness apart from the tints."""
        return np.concatenate([self.strip_axes + 2 * (k > 0) for k in range(3)])

    def normal(self, weight: Array, target: Array, slope_weight: Array) -> tuple[Array, Array]:
        """Normal matrix and right side for weights and targets (S, 3) and the slopes' (R, 3)."""
        p, u, q = _TERMS, self.materials, self.strips.shape[1]
        size = 3 * (p + u + q)
        normal, right = np.zeros((size, size)), np.zeros(size)
        whole = np.hstack([self.smooth, self.strips])
        shared = np.arange(p)
        for k in range(3):
            constants = range(3 * p + k * u, 3 * p + (k + 1) * u)
            strips = range(3 * (p + u) + k * q, 3 * (p + u) + (k + 1) * q)
            own = np.array([*range(k * p, (k + 1) * p), *constants, *strips])
            weighted = whole * weight[:, k : k + 1]
            gram, side = weighted.T @ whole, weighted.T @ target[:, k]
            slope = self.kappa[k]
            normal[np.ix_(own, own)] += gram
            right[own] += side
            if slope:
                normal[np.ix_(shared, shared)] += slope**2 * gram[:p, :p]
                normal[np.ix_(own, shared)] -= slope * gram[:, :p]
                normal[np.ix_(shared, own)] -= slope * gram[:p]
                right[shared] -= slope * side[:p]
            field = slice(k * p, (k + 1) * p)
            weighted = self.slopes * slope_weight[:, k : k + 1]
            normal[field, field] += weighted.T @ self.slopes
            right[field] += weighted.T @ self.slopes_seen[:, k]
        return normal, right

    def predict(self, solution: Array) -> Array:
        """What the model expects (S, 3)."""
        p, u = _TERMS, self.materials
        fields = solution[: 3 * p].reshape(3, p)
        constants = solution[3 * p : 3 * (p + u)].reshape(3, u)
        each = np.hstack([fields, constants])
        each[1:, :p] -= self.kappa[1:, None] * fields[0]
        effects = solution[3 * (p + u) :].reshape(3, -1)
        return np.asarray(self.smooth @ each.T + self.strips @ effects.T)


@dataclass(frozen=True, eq=False)
class _Fit:
    solution: Array
    covariance: Array
    variances: Variances


def _fit(model: _Model, target: Array, samples: Samples, known: Variances | None) -> _Fit:
    """Fit the unknowns, the variances of their groups and the robust weights together. How noisy
    the surface is it tells itself; what lies on it is at least as noisy as its ``sd`` says. What
    is ``known`` from a fit like it needs one more round alone."""
    p, u = _TERMS, model.materials
    grained = samples.grained[samples.material]
    expected = np.stack([np.square(_LIGHTNESS_SD), np.square(_TINT_SD)])
    groups = model.groups
    counts = np.maximum(np.bincount(groups, minlength=4), 1)
    base = 1 / np.square(samples.sd)[:, None]
    pairs = neighbours(samples.bins, grained)
    # Strips are wide at first: what they can explain as well is not taken for light.
    wide = _STRIP_START**2 * np.array([1.0, 1.0, _TINT_SHARE**2, _TINT_SHARE**2])
    slope_base = 1 / np.square(model.slopes_sd)
    noise = np.ones_like(target)
    if len(model.slopes) >= _HOLDS:
        # The surface counts for little at first: what it shows of shadows and patches of sun must
        # not bend the light before it is seen that no square bends so.
        noise[grained] = np.square(_NOISE_START / samples.sd[grained, None])
    start = noise, np.ones_like(target), 1.0, slope_base
    now = known or Variances(expected, wide, *start)
    for _ in range(1 if known else _ROUNDS):
        weight = base * now.pull / now.noise * np.where(grained, now.worth, 1.0)[:, None]
        normal, right = model.normal(weight, target, now.slopes)
        inverse = _inverse(normal, _prior(model, now.bends, now.strips))
        solution = inverse @ right
        size = np.square(solution) + np.diag(inverse)
        bends = _bends_of(size[: 3 * p].reshape(3, p), expected)
        sums = np.bincount(groups, size[3 * (p + u) :], 4)
        strips = np.maximum(sums / counts, _LEAST_STRIP**2)
        left = target - model.predict(solution)
        score = np.abs(left) / samples.sd[:, None]
        noise = np.ones_like(target)
        for grainy, least in ((True, _NOISE_LEAST), (False, 1.0)):
            these = np.flatnonzero(grained == grainy)
            if these.size:
                scale = np.maximum(1.4826 * median(score[these]), least)
                noise[these] = scale**2
        pull = np.clip(1 - (score / (_BIWEIGHT * np.sqrt(noise))) ** 2, 0.0, None) ** 2
        slopes = slope_base * _slope_pull(model, solution)
        now = Variances(bends, strips, noise, pull, _worth(left[:, 0], pairs), slopes)
    covariance = np.asarray(inverse[: 3 * p, : 3 * p], dtype=np.float64)
    return _Fit(solution, covariance, now)


def _slope_pull(model: _Model, solution: Array) -> Array:
    """Robust weights (R, 3) of slopes, over their noise: a cloth that shades off by itself says
    nothing of the light."""
    if not len(model.slopes):
        return model.slopes_seen
    fields = solution[: 3 * _TERMS].reshape(3, _TERMS)
    score = np.abs(model.slopes_seen - model.slopes @ fields.T) / model.slopes_sd
    scale = np.maximum(1.4826 * median(score), 1.0)
    return np.asarray(np.clip(1 - (score / (_BIWEIGHT * scale)) ** 2, 0.0, None) ** 2 / scale**2)


def _prior(model: _Model, bends: Array, strips: Array) -> Array:
    """Inverse prior variances of all unknowns."""
    prior = [1 / np.append(_CONSTANT_SD**2, bends[k])[_DEGREE_OF] for k in (0, 1, 1)]
    prior.append(np.full(3 * model.materials, 1 / _MATERIAL_SD**2))
    prior.append(1 / strips[model.groups])
    return np.concatenate(prior)


def _bends_of(size: Array, expected: Array) -> Array:
    """Variances (2, 5) of the fields' terms by degree, lightness and tints, from the squares that
    are expected of them (3, P)."""
    bends = np.empty_like(expected)
    for degree in range(1, DEGREE + 1):
        mine = size[:, degree == _DEGREE_OF]
        for kind, rows in ((0, mine[:1]), (1, mine[1:])):
            total = _PRIOR_WEIGHT * expected[kind, degree - 1] + rows.sum()
            bends[kind, degree - 1] = total / (_PRIOR_WEIGHT + rows.size)
    return bends


def _worth(left: Array, pairs: tuple[NDArray[np.intp], NDArray[np.intp]]) -> float:
    """What a cell is worth of an independent one, when neighbours are alike in what is left (S,):
    with correlation r between neighbours along both axes, ((1 - r) / (1 + r))^2 of one (effective
    number of a first-order autoregressive series, Bartlett 1935)."""
    if pairs[0].size < _LEAST_PAIRS:
        return 1.0
    low, high = (float(q) for q in np.quantile(left[pairs[0]], (0.05, 0.95)))
    a, b = (np.clip(left[i], low, high) for i in pairs)
    own, common = float(np.mean(a * a)), float(np.mean(a * b))
    alike = min(max(common / max(own, 1e-12), 0.0), _MOST_ALIKE)
    return ((1 - alike) / (1 + alike)) ** 2


def _inverse(normal: Array, prior: Array) -> Array:
    """Inverse of a positive definite matrix plus a diagonal."""
    import cv2

    whole = normal.copy()
    whole[np.diag_indices_from(whole)] += prior
    return np.asarray(cv2.invert(whole, flags=cv2.DECOMP_CHOLESKY)[1], dtype=np.float64)
