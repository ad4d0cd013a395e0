"""Squares on a mat: what lies within the largest thing on the table, or hangs over its edge."""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.group import Explanation, Group, apart
from colorcore.finding.hanging import look_past_mat
from colorcore.finding.lattice import have_gaps, lay_lattice
from colorcore.finding.scene import Scene, look_within
from colorcore.finding.singles import explained, fill_in, lone_squares, propose, stand_alone
from colorcore.finding.within import of_one_cloth, repeats_itself
from colorcore.geometry import areas, holds

Quads = NDArray[np.float64]

# So many squares may lie on a mat though others were seen first; so sure squares are none's parts.
_PLENTY, _CERTAIN = 5, 0.98
# Squares in rows and columns are this sure on average.
_CLEAR = 0.9
# What stands out from a mat is accounted for to this share: in the main; by rows and columns that
# lie close; so well that nothing else need be asked; by squares on a mat, which are all that lies
# there. Less than a half may be patches of one print.
_MAINLY, _WHOLE, _CLEARLY, _ALL, _PATCHES = 0.7, 0.8, 0.9, 0.97, 0.5
# Fewer squares that are seen on a mat are believed if doubts are so much smaller.
_SURER = 0.25
# Squares that hang over the edge of a mat are several; others are given up only if these are so
# many more.
_SEVERAL, _ONE_MORE = 2.9, 0.5
# Outlines that hold so many others each may be several squares each.
_MANY_EACH = 4
# From this share of the picture on, a thing leaves no table around it.
_FILLS = 0.97


def on_a_mat(outer: Explanation) -> Explanation:
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


def over_an_edge(scene: Scene, others: float = 0.0) -> Explanation:
    """Look for squares that hang over the edge of a mat; none unless they are several, clear, more
    than ``others`` by the sum of their chances, and most of what stands out from it and from the
    table."""
    shapes, fits = np.zeros((0, 4, 2)), np.zeros(0)
    thing = _largest_thing(scene)
    past = None if thing is None else look_past_mat(scene, thing)
    if past is None:
        return Explanation(scene, shapes, fits, apart(shapes, fits))
    shapes, fits = propose(past)
    group = _by_themselves(past, shapes[fits > 0.88])
    clear = len(group.quads) > 0 and float(group.sure.mean()) > _CLEAR
    least = max(_SEVERAL, others + _ONE_MORE)
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
