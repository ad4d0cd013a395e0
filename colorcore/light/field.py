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
from colorcore.light.sharpened import LIGHTNESS
from colorcore.light.slopes import Slopes, slope_along
from colorcore.ordering import median, quantiles

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
_PRIOR_WEIGHT: Final = 1.0
"""How many terms of the field the expected bends count for."""
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
_TOGETHER: Final = ((1,), (2, 3, 4, 5))
"""Degrees that share how far they bend: what bends little in one bends little in the next. A slope
may be steep however evenly it falls."""
# Lightness, and tints against the middle channel.
_TO_PARTS: Final = np.stack([LIGHTNESS, [1.0, -1.0, 0.0], [0.0, -1.0, 1.0]])
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
# Lightness is one kind of part, the tints are another: which each part is, and (2, 3) the same.
_KINDS: Final = np.array([0, 1, 1])
_OF_KIND: Final = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 1.0]])
# Which degrees go together: by degree from 1 on, and (P, 2) by term; the constant is in neither.
_FAMILY: Final = np.array([k for k, degrees in enumerate(_TOGETHER) for _ in degrees])
_OF_FAMILY: Final = np.stack([np.isin(_DEGREE_OF, d) for d in _TOGETHER], 1).astype(np.float64)


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
    fields = fit.solution[:, :_TERMS]
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
        """Which variance each strip's effect (3, Q) shares: by axis, lightness apart from the
        tints."""
        return np.stack([self.strip_axes + 2 * (k > 0) for k in range(3)])

    def normal(self, weight: Array, target: Array, slope_weight: Array) -> "_Normal":
        """Normal equations for weights and targets (S, 3) and the slopes' (R, 3)."""
        p = _TERMS
        whole = np.hstack([self.smooth, self.strips])
        own: list[Array] = []
        shared: list[Array] = []
        right: list[Array] = []
        for k in range(3):
            weighted = whole.T * weight[:, k]
            gram, side = weighted @ whole, weighted @ target[:, k]
            slope = self.kappa[k]
            if k:
                own[0][:p, :p] += slope**2 * gram[:p, :p]
                right[0][:p] -= slope * side[:p]
                shared.append(-slope * gram[:, :p])
            weighted = self.slopes.T * slope_weight[:, k]
            gram[:p, :p] += weighted @ self.slopes
            side[:p] += weighted @ self.slopes_seen[:, k]
            own.append(gram)
            right.append(side)
        return _Normal(own, shared, right)

    def predict(self, solution: Array) -> Array:
        """What the model expects (S, 3) of a solution (3, P + U + Q)."""
        p, smooth = _TERMS, self.smooth.shape[1]
        each = solution[:, :smooth].copy()
        each[1:, :p] -= self.kappa[1:, None] * solution[0, :p]
        return np.asarray(self.smooth @ each.T + self.strips @ solution[:, smooth:].T)


@dataclass(frozen=True, eq=False)
class _Normal:
    """Normal equations of N unknowns a channel: the channels' ``own`` matrices (N, N) and right
    sides ``right`` (N,), and what each tint has in ``shared`` (N, P) with the field of lightness,
    its share of that. Beyond this the channels have nothing to do with one another."""

    own: list[Array]
    shared: list[Array]
    right: list[Array]

    def solve(self, prior: Array) -> tuple[Array, Array, Array]:
        """Return solution (3, N), its variances (3, N) and the fields' covariance (3 P, 3 P), with
        ``prior`` (3, N) as inverse variances added, which make it positive definite.

        By blocks (Schur complement): three small matrices are inverted instead of a large one.
        """
        p = _TERMS
        lightness, right = self.own[0].copy(), self.right[0].copy()
        tints = []
        for k in (1, 2):
            inverse = _inverse(self.own[k], prior[k])
            share = inverse @ self.shared[k - 1]
            lightness[:p, :p] -= self.shared[k - 1].T @ share
            right[:p] -= share.T @ self.right[k]
            tints.append((inverse, share))
        first = _inverse(lightness, prior[0])
        field = first[:p, :p]
        solutions, variances = [first @ right], [np.diag(first)]
        covariance = np.empty((3, p, 3, p))
        covariance[0, :, 0] = field
        for k, (inverse, share) in enumerate(tints, 1):
            moved = share @ field
            solutions.append(inverse @ self.right[k] - share @ solutions[0][:p])
            variances.append(np.diag(inverse) + np.einsum("np,np->n", moved, share))
            covariance[k, :, 0] = -moved[:p]
            covariance[0, :, k] = -moved[:p].T
            for other, (_, theirs) in enumerate(tints, 1):
                covariance[k, :, other] = moved[:p] @ theirs[:p].T
            covariance[k, :, k] += inverse[:p, :p]
        return np.stack(solutions), np.stack(variances), covariance.reshape(3 * p, 3 * p)


@dataclass(frozen=True, eq=False)
class _Fit:
    """``solution`` (3, P + U + Q) and ``covariance`` (3 P, 3 P) of its fields."""

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
    counts = np.maximum(np.bincount(groups.ravel(), minlength=4), 1)
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
        normal = model.normal(weight, target, now.slopes)
        prior = _prior(model, now.bends, now.strips)
        solution, variances, covariance = normal.solve(prior)
        known_share = 1 - variances[:, :p] * prior[:, :p]
        bends = _bends_of(np.square(solution[:, :p]), known_share, expected)
        size = np.square(solution[:, p + u :]) + variances[:, p + u :]
        sums = np.bincount(groups.ravel(), size.ravel(), 4)
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
    return _Fit(solution, covariance, now)


def _slope_pull(model: _Model, solution: Array) -> Array:
    """Robust weights (R, 3) of slopes, over their noise: a cloth that shades off by itself says
    nothing of the light."""
    if not len(model.slopes):
        return model.slopes_seen
    fields = solution[:, :_TERMS]
    score = np.abs(model.slopes_seen - model.slopes @ fields.T) / model.slopes_sd
    scale = np.maximum(1.4826 * median(score), 1.0)
    return np.asarray(np.clip(1 - (score / (_BIWEIGHT * scale)) ** 2, 0.0, None) ** 2 / scale**2)


def _prior(model: _Model, bends: Array, strips: Array) -> Array:
    """Inverse prior variances (3, P + U + Q) of all unknowns."""
    prior = [
        np.concatenate(
            [
                1 / np.append(_CONSTANT_SD**2, bends[min(k, 1)])[_DEGREE_OF],
                np.full(model.materials, 1 / _MATERIAL_SD**2),
                1 / strips[model.groups[k]],
            ]
        )
        for k in range(3)
    ]
    return np.stack(prior)


def _bends_of(size: Array, known: Array, expected: Array) -> Array:
    """Variances (2, 5) of the fields' terms by degree, lightness and tints, from the squares of
    their means (3, P) and how far each term is known (3, P), 0 to 1, over what was ``expected``.
    Terms that go together share one factor."""
    surprise = _OF_KIND @ (size / expected[_KINDS][:, _DEGREE_OF - 1]) @ _OF_FAMILY
    factor = (_PRIOR_WEIGHT + surprise) / (_PRIOR_WEIGHT + _OF_KIND @ known @ _OF_FAMILY)
    return np.asarray(expected * factor[:, _FAMILY])


def _worth(left: Array, pairs: tuple[NDArray[np.intp], NDArray[np.intp]]) -> float:
    """What a cell is worth of an independent one, when neighbours are alike in what is left (S,):
    with correlation r between neighbours along both axes, ((1 - r) / (1 + r))^2 of one (effective
    number of a first-order autoregressive series, Bartlett 1935)."""
    if pairs[0].size < _LEAST_PAIRS:
        return 1.0
    low, high = quantiles(left[pairs[0]], 0.05, 0.95)
    a, b = (np.clip(left[i], low, high) for i in pairs)
    own, common = float(np.mean(a * a)), float(np.mean(a * b))
    alike = min(max(common / max(own, 1e-12), 0.0), _MOST_ALIKE)
    return ((1 - alike) / (1 + alike)) ** 2


def _inverse(normal: Array, prior: Array) -> Array:
    """Inverse of a positive definite matrix plus a diagonal."""
    whole = normal.copy()
    whole[np.diag_indices_from(whole)] += prior
    return np.asarray(np.linalg.inv(whole))
