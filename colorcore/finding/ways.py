"""The ways in which squares may lie on the table, tried in turn: apart, in rows that overlap, close
together with gaps or without, touching, and precut strips.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.evidence import bare_share
from colorcore.finding.group import Group, apart, close
from colorcore.finding.lattice import (
    have_gaps,
    lay_lattice,
    lay_strips,
    shown_by_chance,
    sides_shown,
)
from colorcore.finding.outlines import aspects
from colorcore.finding.packed import Packed, pack, unpack_bands
from colorcore.finding.scene import Scene, shows_all_round
from colorcore.finding.singles import (
    explained,
    fill_in,
    fill_in_bands,
    grow,
    lone_bands,
    lone_squares,
    regroup,
    stand_alone,
)
from colorcore.finding.strips import fill_in_strips, part_strips
from colorcore.finding.things import sheet_like
from colorcore.finding.within import of_one_cloth, repeats, repeats_itself, share_a_seam
from colorcore.geometry import areas, holds

Quads = NDArray[np.float64]
Scores = NDArray[np.float64]

# From this many squares of one size on, lying apart needs no second explanation.
_PLENTY = 5
# Squares that lie apart and account for so much need no other explanation, several that account for
# more than about a half hardly any.
_CLEARLY, _HALF = 0.9, 0.55
# Squares that account for less, and repeat one another, may be patches of one print.
_PATCHES = 0.5
# Rows and columns that lie close are believed when they account for this much.
_WHOLE = 0.8
# Rows that account for so much more than squares are looked at first.
_MORE = 0.1
# So many rows that are alike are looked at before rows and columns that lie close; squares this
# sure on average are no parts of rows.
_ROWS, _CERTAIN = 3, 0.98
# Squares of which so many show along all sides overlap nowhere.
_ALL_SHOW = 0.9
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
# Areas alike to this, as a logarithm, are of one size; squares that overlap account for so much
# more than those of their size that show by themselves.
_SAME_SIZE, _ON_TOP = 0.5, 0.1
# Where squares that are certain and paper account for nearly all, squares that touch lie on no more
# of the bare table than this share.
_OVER_TABLE = 0.25
# Outlines that hold so many others each may be several squares each; so many tell their cloth.
_MANY_EACH, _TOLD_BY = 4, 40


@dataclass(eq=False)
class _Looks:
    """What has been seen so far of a ``scene`` with ``shapes`` (N, 4, 2) and their ``fits`` (N,):
    ``sheets`` of paper and ``slender`` outlines among them; ``seeds``, the squares that show by
    themselves, and with all like them ``quads``, how ``sure`` they are and the ``share`` of what
    stands that they explain; ``bands``, the long outlines that are alike, and ``band_sure``."""

    scene: Scene
    shapes: Quads
    fits: Scores
    sheets: Quads
    slender: Quads
    seeds: tuple[Quads, Scores]
    quads: Quads
    sure: Scores
    share: float
    bands: Quads = field(default_factory=lambda: np.zeros((0, 4, 2)))
    band_sure: Scores = field(default_factory=lambda: np.zeros(0))
    several: bool = False

    @property
    def lone(self) -> Group:
        """The squares that lie apart."""
        return apart(self.quads, self.sure)

    @property
    def plenty(self) -> bool:
        """Whether so many lie apart that nothing else need be looked for."""
        return len(self.quads) >= _PLENTY

    @property
    def all_told(self) -> bool:
        """Whether a few squares that are certain account for nearly all that is no paper."""
        if len(self.quads) < 2 or float(self.sure.mean()) <= _CERTAIN:
            return False
        return explained(self.scene, np.concatenate([self.quads, self.sheets])) > _CLEARLY

    @property
    def all_show(self) -> bool:
        """Whether several squares are certain and nearly each shows along all its sides, as none
        does that another one covers."""
        certain = self.plenty and float(self.sure.mean()) > _CERTAIN
        return certain and float(shows_all_round(self.scene, self.quads).mean()) > _ALL_SHOW

    @property
    def margin(self) -> float:
        """What already finds several squares is given up only for so much more."""
        return 0.2 if self.plenty else 0.0

    @cached_property
    def near(self) -> tuple[Quads, Scores]:
        """Rows and columns of squares that lie close, and how sure each is."""
        return lay_lattice(self.scene, self.shapes, self.fits)

    @cached_property
    def whole(self) -> bool:
        """Whether rows and columns account for nearly all, and for more than squares apart do."""
        quads = self.near[0]
        least = max(_WHOLE, 0.9 * self.share)
        return len(quads) > len(self.quads) and explained(self.scene, quads) > least

    @cached_property
    def gaps(self) -> bool:
        """Whether table shows between rows and columns that account for nearly all."""
        return self.whole and have_gaps(self.scene, self.near[0])

    @cached_property
    def packed(self) -> Packed | None:
        """The squares that touch or overlap, by their seams."""
        return pack(self.scene, self.shapes, self.fits)

    def fill_in_bands(self) -> None:
        """Look for all long outlines like those that are known."""
        self.bands, self.band_sure = fill_in_bands(self.scene, self.bands, self.band_sure)


def on_the_table(scene: Scene, shapes: Quads, fits: Scores) -> Group:
    """Return the squares that explain best what stands out from the table: ``shapes`` (N, 4, 2)
    with their ``fits`` (N,). What may be there is tried in turn."""
    plain = sheet_like(scene, shapes)
    # No paper is as slender as a strip.
    slender = shapes[plain & (aspects(shapes) > _STRIP)]
    sheets = shapes[plain & (fits > 0.88) & (aspects(shapes) <= _STRIP)]
    shapes, fits = shapes[~plain], fits[~plain]
    long = np.concatenate([shapes[(aspects(shapes) > _STRIP) & (fits > 0.88)], slender])
    strips = _strips_apart(scene, long)
    if strips is not None:
        return strips
    seeds = lone_squares(scene, shapes[fits > 0.88])
    quads, sure = fill_in(scene, *stand_alone(scene, *seeds), sheets)
    share = explained(scene, quads)
    if len(quads) >= _PLENTY and share < _PATCHES and repeats(scene, quads):
        seeds = _around(scene, shapes[fits > 0.88], quads)
        if len(seeds[0]):
            (quads, sure), share = seeds, explained(scene, seeds[0])
    looks = _Looks(scene, shapes, fits, sheets, slender, seeds, quads, sure, share)
    for way in _WAYS:
        group = way(looks)
        if group is not None:
            return group
    return looks.lone


def _strips_apart(scene: Scene, long: Quads) -> Group | None:
    """Several long outlines that are alike, without the seams of squares that overlap."""
    if len(long) < _PLENTY:
        return None
    strips, sure = lone_bands(scene, long)
    if len(strips) >= _PLENTY and unpack_bands(scene, strips) is None:
        strips, sure = fill_in_strips(scene, strips, sure)
        if not share_a_seam(scene, strips):
            return apart(_upright(strips), sure)
    return None


def _clearly_apart(looks: _Looks) -> Group | None:
    """Several squares that account for nearly all."""
    return looks.lone if looks.plenty and looks.share > _CLEARLY else None


def _rows_apart(looks: _Looks) -> Group | None:
    """Rows apart from one another, each of squares that overlap: if their seams line up, nothing
    else explains that."""
    scene, sure = looks.scene, looks.sure
    looks.bands, looks.band_sure = lone_bands(scene, np.concatenate([looks.shapes, looks.slender]))
    looks.several = len(looks.bands) >= _ROWS
    if looks.several and not (looks.plenty and float(sure.mean()) > _CERTAIN):
        # Of rows that overlap, some may start as pale as the table and have another shape; squares
        # that are parts of them are never certain.
        looks.fill_in_bands()
    least = max(looks.share, min(_WHOLE, looks.share + _MORE))
    if len(looks.bands) < 2 or explained(scene, looks.bands) <= least:
        return None
    looks.fill_in_bands()
    packed = unpack_bands(scene, looks.bands)
    if packed is None:
        return None
    kept = looks.all_show or _of_prints(scene, packed.visible, looks.quads, sure)
    if looks.share <= _WHOLE or not kept:
        return close(packed.quads, packed.sure, packed.visible)
    # Rows of certain squares that nearly touch, with seams in their prints, or with shadows or
    # words between them.
    looks.bands, looks.band_sure = looks.bands[:0], looks.band_sure[:0]
    return None


def _several_apart(looks: _Looks) -> Group | None:
    """Several squares that account for more than a half."""
    return looks.lone if looks.plenty and looks.share > _HALF else None


def _grown(looks: _Looks) -> Group | None:
    """All that is like a few outlines which could not be believed by themselves."""
    if len(looks.quads) >= len(looks.seeds[0]):
        return None
    grown, sure = grow(looks.scene, *looks.seeds, looks.sheets)
    return apart(grown, sure) if len(grown) else None


def _with_gaps(looks: _Looks) -> Group | None:
    """Rows and columns with narrow gaps, unless rows of squares that overlap explain more."""
    scene, (near, sure) = looks.scene, looks.near
    if looks.gaps and looks.several:
        # Rows of overlapping squares hold outlines of squares as well, but rows tell of more.
        looks.fill_in_bands()
        packed = unpack_bands(scene, looks.bands)
        if packed is not None and explained(scene, looks.bands) > explained(scene, near):
            return close(packed.quads, packed.sure, packed.visible)
    if not looks.gaps or float(sure.mean()) <= _CLEAR:
        return None
    # Rows with gaps between them of squares that overlap hold outlines of squares, too.
    if looks.packed is not None and _overlap_more(scene, looks.packed, near):
        return close(looks.packed.quads, looks.packed.sure, looks.packed.visible)
    return apart(near, sure)


def _rows_or_strips(looks: _Looks) -> Group | None:
    """Long outlines that are alike: rows of squares that overlap, or strips."""
    if len(looks.bands) < 2:
        return None
    scene, share = looks.scene, looks.share
    looks.fill_in_bands()
    bands = looks.bands
    slender = float(np.median(aspects(bands))) > _STRIP
    # Several long shapes that are alike are hardly chance, whatever one large shape covers.
    many = len(bands) >= 4 and (len(bands) > len(looks.quads) or slender)
    if not many and explained(scene, bands) <= share + looks.margin / 2:
        return None
    packed = unpack_bands(scene, bands)
    if packed is not None:
        return close(packed.quads, packed.sure, packed.visible)
    strips, sure = part_strips(scene, looks.shapes[looks.fits > 0.85])
    mainly = len(strips) >= _PLENTY and explained(scene, strips) > max(_MAINLY, share)
    if mainly and not _of_prints(scene, strips, looks.quads, looks.sure):
        return apart(_upright(strips), sure)
    if len(bands) > 2 and slender:
        looks.bands, looks.band_sure = fill_in_strips(scene, bands, looks.band_sure)
        # The stripes of one print are alike too, but explain little of what lies there.
        if explained(scene, looks.bands) > 0.5 * share:
            return apart(_upright(looks.bands), looks.band_sure)
    return None


def _without_gaps(looks: _Looks) -> Group | None:
    """Rows and columns that all but touch, where more of their sides shows than of seams that run
    through, or than shows by chance."""
    scene, (near, sure) = looks.scene, looks.near
    clearly = looks.whole and float(sure.mean()) > _CLEAR
    if not looks.gaps and (not clearly or of_one_cloth(scene, near) or repeats_itself(scene, near)):
        return None
    packed = _of_several(looks.packed)
    alone = 0.0 if looks.gaps else shown_by_chance(scene, near)
    seams = alone if packed is None else sides_shown(scene, packed.visible)
    if sides_shown(scene, near) <= seams + _CLEARER or _parted(scene, near, packed, seams):
        return None
    return apart(near, sure)


def _touching(looks: _Looks) -> Group | None:
    """Squares that touch or overlap, by their seams."""
    scene, quads, sure = looks.scene, looks.quads, looks.sure
    packed = _of_several(looks.packed)
    if packed is None:
        return None
    if looks.all_told and bare_share(scene.channels, packed.visible).mean() > _OVER_TABLE:
        return None
    least = 0.8 * looks.share + 2 * looks.margin
    if len(quads) > 1 and _as_large(packed.quads, quads):
        # Squares of that very size show by themselves: others on top would account for more.
        least = max(least, looks.share + _ON_TOP)
    if len(quads) == 1:
        # The parts of the print of one square.
        certain = float(sure[0]) > _CERTAIN
        blocks = certain and _hidden_both_ways(packed)
        one_cloth = blocks or of_one_cloth(scene, packed.visible, groups=certain)
        if one_cloth or repeats_itself(scene, packed.visible):
            return None
    if explained(scene, packed.visible) <= least:
        return None
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


def _of_several(packed: Packed | None) -> Packed | None:
    """Return what is packed unless that is one square, which would touch no other and show by
    itself."""
    return None if packed is not None and len(packed.quads) == 1 else packed


def _strips_side_by_side(looks: _Looks) -> Group | None:
    """What looks like a few large squares may as well be strips side by side, but for parts of one
    print. Two that are certain are given up for nearly as much, several only for more."""
    scene, sure = looks.scene, looks.sure
    strips, strips_sure = part_strips(scene, looks.shapes[looks.fits > 0.85])
    certain = len(looks.quads) > 1 and float(sure.mean()) > _CERTAIN
    worth = 0.8 if not certain else _AS_MUCH if len(looks.quads) == 2 else 1.0
    least = max(_MAINLY, worth * looks.share)
    mainly = len(strips) >= _PLENTY and explained(scene, strips) > least
    if mainly and not of_one_cloth(scene, strips, pairs=True):
        return apart(_upright(strips), strips_sure)
    return None


def _few_apart(looks: _Looks) -> Group | None:
    """Two squares and more that account for most."""
    return looks.lone if len(looks.quads) > 1 and looks.share > _WHOLE else None


def _strips_laid_out(looks: _Looks) -> Group | None:
    """Strips that fill a large outline."""
    strips, sure = lay_strips(looks.scene, looks.shapes, looks.fits)
    least = max(_WHOLE, 0.9 * looks.share)
    if len(strips) and explained(looks.scene, strips) > least:
        return apart(strips, sure)
    return None


#: What may lie on the table, in the order in which it is tried: each returns its squares if they
#: explain enough, or None.
_WAYS: tuple[Callable[[_Looks], Group | None], ...] = (
    _clearly_apart,
    _rows_apart,
    _several_apart,
    _grown,
    _with_gaps,
    _rows_or_strips,
    _without_gaps,
    _touching,
    _strips_side_by_side,
    _few_apart,
    _strips_laid_out,
)


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


def _upright(bands: Quads) -> Quads:
    """Start bands that run down the picture with their short side."""
    run = (bands[:, 1] - bands[:, 0]).mean(axis=0)
    quarter = round(np.arctan2(run[1], run[0]) / (np.pi / 2))
    return np.roll(bands, quarter, axis=1)
