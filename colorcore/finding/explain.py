"""Which explanation fits the picture: squares apart, strips, touching, overlapping, on a mat."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.blocks import true_aspect
from colorcore.finding.closer import look_closer
from colorcore.finding.cornered import more_by_corners, squares_by_corners
from colorcore.finding.doubts import may_be, try_again
from colorcore.finding.hanging import look_past_mat
from colorcore.finding.lattice import (
    have_gaps,
    lay_lattice,
    lay_strips,
    shown_by_chance,
    sides_shown,
)
from colorcore.finding.nets import scenes_with_nets
from colorcore.finding.outlines import aspects
from colorcore.finding.packed import Packed, pack, unpack_bands
from colorcore.finding.scene import Scene, look_within
from colorcore.finding.singles import (
    explained,
    fill_in,
    fill_in_bands,
    grow,
    lone_bands,
    lone_squares,
    propose,
    regroup,
    stand_alone,
)
from colorcore.finding.strips import fill_in_strips, part_strips
from colorcore.finding.things import sheet_like
from colorcore.finding.through import are_fields
from colorcore.finding.within import of_one_cloth, repeats, repeats_itself, share_a_seam
from colorcore.finding.woven import are_woven, look_past
from colorcore.geometry import areas, holds

Quads = NDArray[np.float64]

# From this many squares of one size on, lying apart needs no second explanation.
_PLENTY = 5
# Squares that lie apart and account for so much need no other explanation.
_CLEARLY = 0.9
# Squares that account for less, and repeat one another, may be patches of one print.
_PATCHES = 0.5
# Rows and columns that lie close are believed when they account for this much.
_WHOLE = 0.8
# Squares that hang over the edge of a mat are several.
_SEVERAL, _ONE_MORE = 2.9, 0.5
# An outline of other sides than this, as a logarithm, is no square.
_OBLONG = 0.2
# Squares on a mat account for this much of what stands out from it.
_ALL = 0.97
# Rows that account for so much more than squares are looked at first.
_MORE = 0.1
# So many rows that are alike are looked at before rows and columns that lie close; squares this
# sure on average are no parts of rows.
_ROWS, _CERTAIN = 3, 0.98
# What takes the place of two squares that are certain must explain this share of what they do.
_AS_MUCH = 0.9
# Strips are believed that account for this much.
_MAINLY = 0.7
# Squares in rows and columns are this sure on average, and where they may as well touch or overlap,
# so much more of their sides shows than of seams that run through, or, where no seams do and no
# table shows between, than shows by chance.
_CLEAR, _CLEARER = 0.9, 0.03
# Squares that overlap show less than this of the most hidden one; they are believed rather than
# squares with gaps between them when they account for so much more.
_HIDDEN, _OVERLAP_GAIN = 0.7, 0.03
# Squares that overlap show along one side to this share at least.
_SHOWN_ONE_WAY = 0.5
# Longer than this for their width, pieces that are alike are precut strips.
_STRIP = 3.0
# Squares less sure on average may lie on a mat; fewer that are seen there are believed all the same
# if doubts are so much smaller.
_UNSURE, _SURER = 0.95, 0.25
# From this share of the picture on, a thing leaves no table around it.
_FILLS = 0.97
# Squares are larger than the checks of a tablecloth by so much; what may be checks is no surer.
_LARGER, _ASKED = 1.5, 0.4
# Areas alike to this, as a logarithm, are of one size; squares that overlap account for so much
# more than those of their size that show by themselves.
_SAME_SIZE, _ON_TOP = 0.5, 0.1
# What accounts for less may have the wrong table: squares in a net of another are believed rather
# than so many times fewer.
_HALF, _MORE_IN_NETS = 0.6, 2
# Outlines that hold so many others each may be several squares each; so many tell their cloth.
_MANY_EACH, _TOLD_BY = 4, 40


@dataclass(frozen=True, eq=False)
class Group:
    """Squares in the view: ``quads`` (N, 4, 2), ``sure`` (N,) the chance of each, ``visible``
    (N, 4, 2) what shows of it, ``covered`` (N,) True where others lie on top, and ``placed``
    (N,) True where only rows and columns say that it is there."""

    quads: Quads = field(repr=False)
    sure: NDArray[np.float64] = field(repr=False)
    visible: Quads = field(repr=False)
    covered: NDArray[np.bool_] = field(repr=False)
    placed: NDArray[np.bool_] = field(repr=False)

    def pick(self, keep: NDArray[np.bool_]) -> "Group":
        """Return the squares that ``keep`` (N,) names."""
        return Group(
            self.quads[keep],
            self.sure[keep],
            self.visible[keep],
            self.covered[keep],
            self.placed[keep],
        )


def apart(quads: Quads, sure: NDArray[np.float64]) -> Group:
    """Return squares of which none covers another as a group."""
    no = np.zeros(len(quads), bool)
    return Group(quads, sure, quads, no, no)


def close(quads: Quads, sure: NDArray[np.float64], visible: Quads) -> Group:
    """Return squares of which parts may be covered as a group."""
    covered = areas(visible) < 0.97 * areas(quads)
    return Group(quads, sure, visible, covered, np.zeros(len(quads), bool))


@dataclass(frozen=True, eq=False)
class Explanation:
    """The ``scene`` that was looked at, the ``shapes`` (N, 4, 2) that stand out in it with their
    ``fits`` (N,), and the ``group`` of squares."""

    scene: Scene
    shapes: Quads = field(repr=False)
    fits: NDArray[np.float64] = field(repr=False)
    group: Group


def explain(scene: Scene) -> Explanation:
    """Return the squares that explain the picture best."""
    seen = _explain(scene)
    if explained(seen.scene, seen.group.visible) > _HALF:
        return seen
    for other in scenes_with_nets(scene):
        netted = _explain(other)
        quads, sure = netted.group.quads, netted.group.sure
        if len(quads) < max(_PLENTY, _MORE_IN_NETS * len(seen.group.quads)):
            continue
        clear = float(sure.mean()) > _CLEAR and explained(other, quads) > _WHOLE
        # The fields of a trellis share their colours.
        if clear and not (of_one_cloth(other, quads) or repeats_itself(other, quads)):
            return netted
    return seen


def _explain(scene: Scene) -> Explanation:
    shapes, fits = propose(scene)
    group = _on_the_table(scene, shapes, fits)
    checks = _of_the_table(scene, group)
    if not checks.any():
        return _settled(scene, shapes, fits, group)
    past = look_past(scene, group.quads[checks], shapes, fits)
    others, how_well = propose(past)
    # A bold cloth stands out from itself as well.
    least = _LARGER * float(np.median(areas(group.quads[checks])))
    large = areas(others) > least
    others, how_well = others[large], how_well[large]
    seen = _settled(past, others, how_well, _on_the_table(past, others, how_well))
    found = seen.group
    clear = len(found.quads) > 0 and float(found.sure.mean()) > _CLEAR
    larger = clear and float(np.median(areas(found.quads))) > least
    if larger and not _of_the_table(past, found).any():
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
        seen = _on_a_mat(seen)
    if not len(seen.group.quads):
        hanging = _over_an_edge(scene)
        if not len(hanging.group.quads):
            return Explanation(scene, shapes, fits, apart(*squares_by_corners(scene)))
        seen = hanging
    elif _is_no_square(seen) or (
        seen.scene is not scene and explained(seen.scene, seen.group.quads) < _ALL
    ):
        hanging = _over_an_edge(scene, float(seen.group.sure.sum()) + _ONE_MORE)
        seen = hanging if len(hanging.group.quads) else seen
    group, seen_in = seen.group, seen.scene
    lone = len(group.quads) < _PLENTY and not group.covered.any()
    if lone and explained(seen_in, group.quads) < _WHOLE:
        more = apart(*more_by_corners(seen_in, group.quads, group.sure))
        seen = Explanation(seen_in, seen.shapes, seen.fits, more)
    return seen if seen.group.covered.any() else _with_doubtful(seen)


def _with_doubtful(seen: Explanation) -> Explanation:
    """Give squares in doubt another try, and add the places between where one more may be."""
    known, settled = try_again(seen.scene, seen.group.quads, seen.group.sure)
    quads, sure = may_be(seen.scene, known, settled)
    group = apart(np.concatenate([known, quads]), np.concatenate([settled, sure]))
    return Explanation(seen.scene, seen.shapes, seen.fits, group)


def _on_the_table(scene: Scene, shapes: Quads, fits: NDArray[np.float64]) -> Group:
    plain = sheet_like(scene, shapes)
    # No paper is as slender as a strip.
    slender = shapes[plain & (aspects(shapes) > _STRIP)]
    sheets = shapes[plain & (fits > 0.88) & (aspects(shapes) <= _STRIP)]
    shapes, fits = shapes[~plain], fits[~plain]
    long = np.concatenate([shapes[(aspects(shapes) > _STRIP) & (fits > 0.88)], slender])
    if len(long) >= _PLENTY:
        strips, strips_sure = lone_bands(scene, long)
        if len(strips) >= _PLENTY and unpack_bands(scene, strips) is None:
            strips, strips_sure = fill_in_strips(scene, strips, strips_sure)
            if not share_a_seam(scene, strips):
                return apart(_upright(strips), strips_sure)
    seeds = lone_squares(scene, shapes[fits > 0.88])
    quads, sure = fill_in(scene, *stand_alone(scene, *seeds), sheets)
    share = explained(scene, quads)
    if len(quads) >= _PLENTY and share < _PATCHES and repeats(scene, quads):
        seeds = _around(scene, shapes[fits > 0.88], quads)
        if len(seeds[0]):
            (quads, sure), share = seeds, explained(scene, seeds[0])
    lone = apart(quads, sure)
    plenty = len(quads) >= _PLENTY
    if plenty and share > _CLEARLY:
        return lone
    bands, band_sure = lone_bands(scene, np.concatenate([shapes, slender]))
    several = len(bands) >= _ROWS
    if several and not (plenty and float(sure.mean()) > _CERTAIN):
        # Of rows that overlap, some may start as pale as the table and have another shape; squares
        # that are parts of them are never certain.
        bands, band_sure = fill_in_bands(scene, bands, band_sure)
    least = max(share, min(_WHOLE, share + _MORE))
    if len(bands) >= 2 and explained(scene, bands) > least:
        # Rows apart from one another: if their seams line up, nothing else explains that.
        bands, band_sure = fill_in_bands(scene, bands, band_sure)
        packed = unpack_bands(scene, bands)
        if packed is not None:
            if share <= _WHOLE or not _of_prints(scene, packed.visible, quads, sure):
                return close(packed.quads, packed.sure, packed.visible)
            # Rows of certain squares that nearly touch, with seams in their prints.
            bands, band_sure = bands[:0], band_sure[:0]
    if plenty and share > 0.55:
        return lone
    if len(quads) < len(seeds[0]):
        grown, grown_sure = grow(scene, *seeds, sheets)
        if len(grown):
            return apart(grown, grown_sure)
    near, near_sure = lay_lattice(scene, shapes, fits)
    whole = len(near) > len(quads) and explained(scene, near) > max(_WHOLE, 0.9 * share)
    gaps = whole and have_gaps(scene, near)
    if gaps and several:
        # Rows of overlapping squares hold outlines of squares as well, but rows tell of more.
        bands, band_sure = fill_in_bands(scene, bands, band_sure)
        packed = unpack_bands(scene, bands)
        if packed is not None and explained(scene, bands) > explained(scene, near):
            return close(packed.quads, packed.sure, packed.visible)
    if gaps and float(near_sure.mean()) > _CLEAR:
        # Rows with gaps between them of squares that overlap hold outlines of squares, too.
        packed = pack(scene, shapes, fits)
        if packed is not None and _overlap_more(scene, packed, near):
            return close(packed.quads, packed.sure, packed.visible)
        return apart(near, near_sure)
    # What already finds several squares is given up only for much more.
    margin = 0.2 if plenty else 0.0
    if len(bands) >= 2:
        bands, band_sure = fill_in_bands(scene, bands, band_sure)
        slender_bands = float(np.median(aspects(bands))) > _STRIP
        # Several long shapes that are alike are hardly chance, whatever one large shape covers.
        many = len(bands) >= 4 and (len(bands) > len(quads) or slender_bands)
        if many or explained(scene, bands) > share + margin / 2:
            packed = unpack_bands(scene, bands)
            if packed is not None:
                return close(packed.quads, packed.sure, packed.visible)
            strips, strips_sure = part_strips(scene, shapes[fits > 0.85])
            mainly = len(strips) >= _PLENTY and explained(scene, strips) > max(_MAINLY, share)
            if mainly and not _of_prints(scene, strips, quads, sure):
                return apart(_upright(strips), strips_sure)
            if len(bands) > 2 and slender_bands:
                bands, band_sure = fill_in_strips(scene, bands, band_sure)
                # The stripes of one print are alike too, but explain little of what lies there.
                if explained(scene, bands) > 0.5 * share:
                    return apart(_upright(bands), band_sure)
    packed = pack(scene, shapes, fits)
    if packed is not None and len(packed.quads) == 1:
        # One square touches no other, and would show by itself.
        packed = None
    clearly = whole and float(near_sure.mean()) > _CLEAR
    if gaps or (clearly and not (of_one_cloth(scene, near) or repeats_itself(scene, near))):
        alone = 0.0 if gaps else shown_by_chance(scene, near)
        seams = alone if packed is None else sides_shown(scene, packed.visible)
        if sides_shown(scene, near) > seams + _CLEARER and not _parted(scene, near, packed, seams):
            return apart(near, near_sure)
    least = 0.8 * share + 2 * margin
    if packed is not None and len(quads) > 1 and _as_large(packed.quads, quads):
        # Squares of that very size show by themselves: others on top would account for more.
        least = max(least, share + _ON_TOP)
    if packed is not None and len(quads) == 1:
        # The parts of the print of one square.
        certain = float(sure[0]) > _CERTAIN
        blocks = certain and _hidden_both_ways(packed)
        one_cloth = blocks or of_one_cloth(scene, packed.visible, groups=certain)
        if one_cloth or repeats_itself(scene, packed.visible):
            packed = None
    if packed is not None and explained(scene, packed.visible) > least:
        if float(np.min(areas(packed.visible) / areas(packed.quads))) > _HIDDEN:
            # Narrow gaps look like seams too, but then each square shows by itself.
            quads, sure = regroup(scene, packed.visible)
            if len(quads) >= 0.9 * len(packed.quads):
                # One that shows too little by itself is held by the seams around it.
                quads, sure = quads[sure > 0.5], sure[sure > 0.5]
                left = choose.clear(packed.visible, quads, 0.5)
                return apart(
                    np.concatenate([quads, packed.visible[left]]),
                    np.concatenate([sure, packed.sure[left]]),
                )
        return close(packed.quads, packed.sure, packed.visible)
    strips, strips_sure = part_strips(scene, shapes[fits > 0.85])
    # A few large squares may as well be strips side by side, but for parts of one print. Two that
    # are certain are given up for nearly as much, several only for more.
    certain = len(quads) > 1 and float(sure.mean()) > _CERTAIN
    worth = 0.8 if not certain else _AS_MUCH if len(quads) == 2 else 1.0
    mainly = len(strips) >= _PLENTY and explained(scene, strips) > max(_MAINLY, worth * share)
    if mainly and not of_one_cloth(scene, strips, pairs=True):
        return apart(_upright(strips), strips_sure)
    if len(quads) > 1 and share > _WHOLE:
        return lone
    strips, strips_sure = lay_strips(scene, shapes, fits)
    if len(strips) and explained(scene, strips) > max(_WHOLE, 0.9 * share):
        return apart(strips, strips_sure)
    return lone


def _around(scene: Scene, shapes: Quads, quads: Quads) -> tuple[Quads, NDArray[np.float64]]:
    """Return those of ``shapes`` (K, 4, 2) that are clear squares, if one of them lies around all
    of ``quads`` (N, 4, 2), and how sure."""
    whole, sure = stand_alone(
        scene, *lone_squares(scene, shapes[areas(shapes) > areas(quads).sum()])
    )
    middles = quads.mean(axis=1)
    if any(holds(quad, middles).all() for quad in whole):
        return whole, sure
    return whole[:0], sure[:0]


def _parted(scene: Scene, near: Quads, packed: Packed | None, seams: float) -> bool:
    """Whether what a few squares ``near`` (N, 4, 2) hold are many ``packed`` ones: their ``seams``
    show more than by chance, and they differ as cloths do."""
    if packed is None or len(packed.quads) < _MANY_EACH * len(near):
        return False
    some = packed.visible[:: max(1, len(packed.visible) // _TOLD_BY)]
    clear = seams > shown_by_chance(scene, packed.visible)
    return clear and not of_one_cloth(scene, some)


def _of_prints(scene: Scene, parts: Quads, quads: Quads, sure: NDArray[np.float64]) -> bool:
    """Whether ``parts`` (M, 4, 2) are parts of the prints of several squares ``quads`` (N, 4, 2)
    that are certain."""
    certain = len(quads) > 1 and float(sure.mean()) > _CERTAIN
    return certain and of_one_cloth(scene, parts, pairs=True)


def _overlap_more(scene: Scene, packed: Packed, near: Quads) -> bool:
    """Whether squares that clearly overlap account for more than ``near`` (N, 4, 2) do."""
    hidden = float(np.min(areas(packed.visible) / areas(packed.quads))) < _HIDDEN
    clearly = hidden and float(packed.sure.mean()) > _CLEAR
    return clearly and explained(scene, packed.visible) > explained(scene, near) + _OVERLAP_GAIN


def _hidden_both_ways(packed: Packed) -> bool:
    """Whether most of the squares would be mostly covered along both sides: nobody lays them so."""
    full, shown = (
        np.linalg.norm(np.roll(q, -1, axis=1) - q, axis=2)[:, :2]
        for q in (packed.quads, packed.visible)
    )
    return float(np.median((shown / full).max(axis=1))) < _SHOWN_ONE_WAY


def _as_large(quads: Quads, others: Quads) -> bool:
    """Whether outlines (N, 4, 2) are of the size of others (M, 4, 2)."""
    size, other = (float(np.median(areas(q))) for q in (quads, others))
    return bool(abs(np.log(size / other)) < _SAME_SIZE)


def _on_a_mat(outer: Explanation) -> Explanation:
    """Look within the largest thing as if it were a mat with squares on it; return what was seen
    there if it explains more, else what was given."""
    mat = _largest_thing(outer.scene)
    if mat is None:
        return outer
    scene = look_within(outer.scene, mat)
    if scene is None:
        return outer
    shapes, fits = propose(scene)
    clear = shapes[fits > 0.88]
    group = _by_themselves(scene, clear)
    if len(group.quads) == 1:
        group = _of_many(scene, clear, group)
    one, share = len(group.quads) == 1, explained(scene, group.quads)
    if one or share <= _CLEARLY:
        # Of squares that nearly touch few stand alone, or so few that they mislead, or the mat
        # looks like one.
        near, near_sure = lay_lattice(scene, shapes, fits)
        theirs = explained(scene, near) if len(near) > len(group.quads) else 0.0
        more = theirs > max(_WHOLE, _CLEARLY if one else share)
        if more and float(near_sure.mean()) > _CLEAR and have_gaps(scene, near):
            group, share = apart(near, near_sure), theirs
    many = len(group.quads) >= _PLENTY and len(outer.group.quads) > 0
    surer = many and float((1 - group.sure).mean()) < _SURER * float((1 - outer.group.sure).mean())
    better = surer and share > _CLEARLY
    if not better and float(group.sure.sum()) <= max(2.0, float(outer.group.sure.sum())):
        return outer
    # What is a square by itself may be a square of cloth with a print of blocks, which leave some
    # of it over; on a mat squares are all that lies there.
    lone = len(outer.group.quads) == 1 and float(outer.group.sure[0]) > _CERTAIN
    groups = lone and share < _ALL
    if len(outer.group.quads) and (
        of_one_cloth(scene, group.quads, groups=groups) or repeats_itself(scene, group.quads)
    ):
        return outer
    if share < _PATCHES or _lie_within(group.quads, outer.group):
        return outer
    return Explanation(scene, shapes, fits, group)


def _is_no_square(seen: Explanation) -> bool:
    """Whether all that was found is one outline that is no square."""
    one = len(seen.group.quads) == 1
    return one and abs(np.log(true_aspect(seen.group.quads[0], seen.scene.size))) > _OBLONG


def _over_an_edge(scene: Scene, least: float = _SEVERAL) -> Explanation:
    """Look for squares that hang over the edge of a mat; none unless they are clear, ``least`` by
    the sum of their chances, and most of what stands out from it and from the table."""
    shapes, fits = np.zeros((0, 4, 2)), np.zeros(0)
    thing = _largest_thing(scene)
    past = None if thing is None else look_past_mat(scene, thing)
    if past is None:
        return Explanation(scene, shapes, fits, apart(shapes, fits))
    shapes, fits = propose(past)
    group = _by_themselves(past, shapes[fits > 0.88])
    clear = len(group.quads) > 0 and float(group.sure.mean()) > _CLEAR
    if not clear or float(group.sure.sum()) <= least or explained(past, group.quads) < _MAINLY:
        group = group.pick(np.zeros(len(group.quads), bool))
    return Explanation(past, shapes, fits, group)


def _lie_within(parts: Quads, group: Group) -> bool:
    """Whether most of ``parts`` (N, 4, 2) lie within several squares that are certain, some to
    each: parts of their prints."""
    if len(group.quads) < 2 or float(group.sure.mean()) <= _CERTAIN:
        return False
    smaller = areas(parts) < float(np.median(areas(group.quads))) / 2
    within = np.any([holds(quad, parts.mean(axis=1)) for quad in group.quads], axis=0)
    return float((smaller & within).mean()) > _PATCHES


def _by_themselves(scene: Scene, shapes: Quads) -> Group:
    """Return the squares that show all round among ``shapes`` (N, 4, 2)."""
    return apart(*fill_in(scene, *stand_alone(scene, *lone_squares(scene, shapes))))


def _of_many(scene: Scene, shapes: Quads, one: Group) -> Group:
    """Return the many squares among ``shapes`` (N, 4, 2) that show by themselves where ``one``
    outline holds them all, as that of a mat as long as wide does, or that one."""
    smaller = areas(shapes) < areas(one.quads)[0] / _MANY_EACH
    many = _by_themselves(scene, shapes[smaller])
    clearly = len(many.quads) >= _PLENTY and float(many.sure.mean()) > _CLEAR
    if not clearly or explained(scene, many.quads) <= _CLEARLY:
        return one
    return one if of_one_cloth(scene, many.quads) else many


def _largest_thing(scene: Scene) -> NDArray[np.bool_] | None:
    """Return where the largest thing on the table lies (h, w), without holes, or None if nothing
    is large enough to hold squares. What fills the whole picture has no rim to look at."""
    standing = cv2.morphologyEx(
        (~scene.table).astype(np.uint8), cv2.MORPH_OPEN, np.ones((9, 9), np.uint8)
    )
    contours, _ = cv2.findContours(standing, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return None
    contour = max(contours, key=cv2.contourArea)
    if not 0.1 < cv2.contourArea(contour) / standing.size < _FILLS:
        return None
    mask = np.zeros_like(standing)
    cv2.drawContours(mask, [contour], -1, 1, -1)
    return mask > 0


def _upright(bands: Quads) -> Quads:
    """Start bands that run down the picture with their short side."""
    run = (bands[:, 1] - bands[:, 0]).mean(axis=0)
    quarter = round(np.arctan2(run[1], run[0]) / (np.pi / 2))
    return np.roll(bands, quarter, axis=1)
