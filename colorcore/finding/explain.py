"""Which squares explain the picture: on the table, past its own pattern, on a mat, or in a net."""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.blocks import true_aspect
from colorcore.finding.closer import look_closer
from colorcore.finding.cornered import more_by_corners, squares_by_corners
from colorcore.finding.doubts import may_be, try_again
from colorcore.finding.group import Explanation, Group, apart
from colorcore.finding.mats import on_a_mat, over_an_edge
from colorcore.finding.nets import scenes_with_nets
from colorcore.finding.scene import Scene
from colorcore.finding.singles import explained, propose
from colorcore.finding.things import sheet_like
from colorcore.finding.through import are_fields
from colorcore.finding.ways import on_the_table
from colorcore.finding.within import of_one_cloth, repeats_itself
from colorcore.finding.woven import are_woven, look_past
from colorcore.geometry import areas

Quads = NDArray[np.float64]

# From this many squares on, nothing else need be looked for where they account for so much.
_PLENTY, _CLEARLY = 5, 0.9
# Squares that are fewer and account for less may not be all.
_WHOLE = 0.8
# Squares on a mat account for this much of what stands out from it.
_ALL = 0.97
# An outline of other sides than this, as a logarithm, is no square.
_OBLONG = 0.2
# What lies past checks is this sure on average; squares less sure may lie on a mat.
_CLEAR, _UNSURE = 0.9, 0.95
# What accounts for less may have the wrong table: squares in a net of another are believed rather
# than so many times fewer.
_HALF, _MORE_IN_NETS = 0.6, 2
# Squares are larger than the checks of a tablecloth by so much; what may be checks is no surer.
_LARGER, _ASKED = 1.5, 0.4


def explain(scene: Scene) -> Explanation:
    """Return the squares that explain the picture best."""
    seen = _explain(scene)
    if explained(seen.scene, seen.group.visible) > _HALF:
        return seen
    for other in scenes_with_nets(scene):
        netted = _explain(other)
        where, quads, sure = netted.scene, netted.group.visible, netted.group.sure
        if len(quads) < max(_PLENTY, _MORE_IN_NETS * len(seen.group.quads)):
            continue
        clear = float(sure.mean()) > _CLEAR and explained(where, quads) > _WHOLE
        # The fields of a trellis share their colours.
        if clear and not (of_one_cloth(where, quads) or repeats_itself(where, quads)):
            return netted
    return seen


def _explain(scene: Scene) -> Explanation:
    shapes, fits = propose(scene)
    group = on_the_table(scene, shapes, fits)
    checks = _of_the_table(scene, group)
    if not checks.any():
        return _settled(scene, shapes, fits, group)
    past = look_past(scene, group.quads[checks], shapes, fits)
    others, how_well = propose(past)
    # A bold cloth stands out from itself as well.
    least = _LARGER * float(np.median(areas(group.quads[checks])))
    large = areas(others) > least
    others, how_well = others[large], how_well[large]
    seen = _settled(past, others, how_well, on_the_table(past, others, how_well))
    found = seen.group
    clear = len(found.quads) > 0 and float(found.sure.mean()) > _CLEAR
    larger = clear and float(np.median(areas(found.quads))) > least
    if larger and not _of_the_table(seen.scene, found).any():
        return seen
    # Not one larger square: whatever these are, the maker is asked.
    return Explanation(scene, shapes, fits, apart(group.quads, np.minimum(group.sure, _ASKED)))


def _of_the_table(scene: Scene, group: Group) -> NDArray[np.bool_]:
    """Return which of a ``group`` of squares are the table's own, its checks, or the fields of a
    ruler that lies on it: none, or most of them."""
    checks = are_woven(scene, group.quads)
    return checks if checks.any() else are_fields(scene.surface.flat, group.visible)


def _settled(scene: Scene, shapes: Quads, fits: NDArray[np.float64], group: Group) -> Explanation:
    """Look again at the table around a ``group`` of squares, and within a mat that may hold them
    or others; return the squares that explain the picture best."""
    if not group.covered.any():
        sheets = shapes[sheet_like(scene, shapes)]
        closer = look_closer(scene, group.quads, group.sure, sheets)
        if closer is not None:
            scene, quads, sure = closer
            group = apart(quads, sure)
    seen = Explanation(scene, shapes, fits, group)
    few = len(group.quads) < _PLENTY or float(group.sure.mean()) <= _UNSURE
    # Squares laid out over a mat as if it were a block of them leave some of it over.
    if few or group.covered.any() or explained(scene, group.quads) < _CLEARLY:
        seen = on_a_mat(seen)
    if not len(seen.group.quads):
        hanging = over_an_edge(scene)
        if not len(hanging.group.quads):
            return Explanation(scene, shapes, fits, apart(*squares_by_corners(scene)))
        seen = hanging
    elif _is_no_square(seen) or (
        seen.scene is not scene and explained(seen.scene, seen.group.quads) < _ALL
    ):
        hanging = over_an_edge(scene, float(seen.group.sure.sum()))
        seen = hanging if len(hanging.group.quads) else seen
    group, seen_in = seen.group, seen.scene
    lone = len(group.quads) < _PLENTY and not group.covered.any()
    if lone and explained(seen_in, group.quads) < _WHOLE:
        more = apart(*more_by_corners(seen_in, group.quads, group.sure))
        seen = Explanation(seen_in, seen.shapes, seen.fits, more)
    return seen if seen.group.covered.any() else _with_doubtful(seen)


def _is_no_square(seen: Explanation) -> bool:
    """Whether all that was found is one outline that is no square."""
    one = len(seen.group.quads) == 1
    return one and abs(np.log(true_aspect(seen.group.quads[0], seen.scene.size))) > _OBLONG


def _with_doubtful(seen: Explanation) -> Explanation:
    """Give squares in doubt another try, and add the places between where one more may be."""
    known, settled = try_again(seen.scene, seen.group.quads, seen.group.sure)
    quads, sure = may_be(seen.scene, known, settled)
    group = apart(np.concatenate([known, quads]), np.concatenate([settled, sure]))
    return Explanation(seen.scene, seen.shapes, seen.fits, group)
