"""What goes on beyond an outline's corners: a square ends there, a table's edge and print do not.

The edge of a table, the checks of a cloth, the joints of tiles and boards give an outline straight
sides as clear as those of a square. But they run on: past the corner, in the gap beside the next
square, the same step is still there. At the rim of the layout, where no rows and columns say that a
square must lie, that tells one from the other.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.evidence import SideEvidence

Quads = NDArray[np.float64]

# Where the step is looked for beyond a corner: from and to, as shares of the gap, and no further
# than this, as a share of the side.
_FROM, _TO, _FURTHEST = 0.25, 0.75, 0.2
# Gaps narrower than this are too full of shadow to tell.
_NARROWEST = 0.04
# Places along a side and beyond each corner; places across, either way, out to this share of it.
_ALONG, _BEYOND, _ACROSS, _REACH = 16, 6, 4, 0.05
# Which of the channels are colour, and from what step on it is looked at by itself.
_COLOR, _CLEAR = slice(0, 3), 3.0
# Of a side that runs out of the picture this share must show to be looked at, and have a step along
# this share of what shows.
_SHOWS_SIDE, _FAINT = 0.15, 0.6
# Sides that are faint count all the same where the table ends at each of them so far; none counts
# where it starts so far, with the table inside.
_ENDS, _FALLS = 0.3, -0.5
# A side of which less shows runs out of the picture; of a whole outline this much must show.
_WHOLE, _FAINTEST = 0.95, 0.2


def runs_on(channels: NDArray[np.float32], quads: Quads, gap: float) -> Quads:
    """Return how far the step across each side of outlines (N, 4, 2) goes on beyond both of its
    corners (N, 4), as a share of the step at the side itself, 0 to 1.

    ``channels`` (h, w, C) is what the view shows, CIELAB first, which by itself may go on as well;
    ``gap`` is the distance between squares in sides of a square. A side that ends out of the
    picture goes by its other end; where both ends are out, or the gap is too narrow to tell, the
    answer is 0.
    """
    if not len(quads) or not gap >= _NARROWEST:
        return np.zeros((len(quads), 4))
    ahead = np.linspace(_FROM, _TO, _BEYOND) * min(gap, _FURTHEST)
    places = np.concatenate([-ahead, np.linspace(0.04, 0.96, _ALONG), 1 + ahead])
    steps, seen = _steps(channels, quads, places)
    parts = slice(0, _BEYOND), slice(_BEYOND, -_BEYOND), slice(len(places) - _BEYOND, None)
    first, own, last = (_mean(steps[:, :, part], seen[:, :, part]) for part in parts)
    known = [seen[:, :, part].any(axis=2) for part in (parts[0], parts[2])]
    found = np.zeros(own.shape[:2])
    # Where two stripes of a tablecloth cross there may be no table, while along each there is: then
    # only their colour goes on.
    for some, clear in ((slice(None), 0.0), (_COLOR, _CLEAR)):
        size = np.square(own[..., some]).sum(axis=-1)
        on = [(end * own)[..., some].sum(axis=-1) / np.maximum(size, 1e-6) for end in (first, last)]
        least = np.minimum(*(np.where(k, o, np.inf) for k, o in zip(known, on, strict=True)))
        told = np.isfinite(least) & (size >= clear**2)
        found = np.maximum(found, np.where(told, least, 0.0))
    return np.asarray(np.clip(found, 0, 1))


def _mean(steps: Quads, seen: NDArray[np.bool_]) -> Quads:
    weight = seen[..., None] / np.maximum(seen.sum(axis=2), 1)[:, :, None, None]
    return np.asarray((steps * weight).sum(axis=2))


def _steps(
    channels: NDArray[np.float32], quads: Quads, places: NDArray[np.float64]
) -> tuple[Quads, NDArray[np.bool_]]:
    """Return the step from inside to outside (N, 4, K, C) at ``places`` (K,) along each side, and
    where (N, 4, K) the picture shows it."""
    depth = np.linspace(0.4, 1.0, _ACROSS)
    reach = np.maximum(4.0, _REACH * choose.sides(quads))
    read, seen = read_across(channels, quads, places, np.concatenate([-depth, depth]), reach)
    return read[:, :, :, _ACROSS:].mean(axis=3) - read[:, :, :, :_ACROSS].mean(axis=3), seen


def read_across(
    channels: NDArray[np.float32],
    quads: Quads,
    places: NDArray[np.float64],
    depth: NDArray[np.float64],
    reach: NDArray[np.float64],
) -> tuple[Quads, NDArray[np.bool_]]:
    """Return what lies across the sides of outlines (N, 4, 2), also beyond their corners.

    ``places`` (K,) along each side: 0 its first corner, 1 its second; ``depth`` (D,) outward, in
    units of ``reach`` (N,) pixels. Returns values (N, 4, K, D, C), and where (N, 4, K) the picture
    shows all of them.
    """
    height, width = channels.shape[:2]
    run = np.roll(quads, -1, axis=1) - quads
    length = np.maximum(np.linalg.norm(run, axis=2, keepdims=True), 1e-6)
    outward = np.stack([run[..., 1], -run[..., 0]], axis=-1) / length * reach[:, None, None]
    foot = quads[:, :, None] + run[:, :, None] * places[:, None] - 0.5
    spot = (foot[:, :, :, None] + outward[:, :, None, None] * depth[:, None]).astype(np.float32)
    x, y = spot[..., 0], spot[..., 1]
    seen = ((x >= 0) & (y >= 0) & (x <= width - 1) & (y <= height - 1)).all(axis=-1)
    read = cv2.remap(
        channels, x.reshape(-1, len(depth)), y.reshape(-1, len(depth)),
        cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return read.reshape(*x.shape, -1).astype(np.float64), seen


def own_step(sides: SideEvidence, on: Quads) -> NDArray[np.float64]:
    """Return how much of the step at the sides of outlines (N,) ends at their corners (0 to 1), by
    what runs ``on`` (N, 4)."""
    step = np.where(sides.seen > _SHOWS_SIDE, sides.step, 0)
    return np.asarray((step * (1 - on)).sum(axis=1) / np.maximum(step.sum(axis=1), 1e-6))


def own_share(sides: SideEvidence, on: Quads) -> NDArray[np.float64]:
    """Return how much of the sides of outlines (N,) shows, alike all along, and ends at their
    corners (0 to 1), by what runs ``on`` (N, 4); sides out of the picture do not count."""
    seen = sides.seen > _SHOWS_SIDE
    share = np.where(seen, _of_seen(sides, sides.share) * sides.even * (1 - on), 0)
    return np.asarray(share.sum(axis=1) / np.maximum(seen.sum(axis=1), 1))


def faint_side(sides: SideEvidence) -> NDArray[np.bool_]:
    """Return which outlines (N,) have a side that hardly shows, where a floor, a shadow or a print
    of the table has none; all of them must if a part is out of the picture."""
    looked = sides.seen > _SHOWS_SIDE
    share = np.where(looked, _of_seen(sides, sides.share), np.inf)
    rise = np.where(looked, _of_seen(sides, sides.outside - sides.inside), np.inf).min(axis=1)
    cut = sides.seen.min(axis=1) < _WHOLE
    mean = np.where(looked, share, 0).mean(axis=1)
    faint = np.where(cut, share.min(axis=1) < _FAINT, mean < _FAINTEST) & (rise < _ENDS)
    return np.asarray(faint | (cut & ((looked.sum(axis=1) < 2) | (rise < _FALLS))))


def _of_seen(sides: SideEvidence, values: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return means along sides (N, 4) as means along what shows of them."""
    return np.asarray(values / np.maximum(sides.seen, 1e-6), dtype=np.float64)
