"""What the rows and columns ask for: places among the squares that are less than half sure."""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.context import Company, expected, is_held, keep_company, lies_between
from colorcore.finding.faint import traced
from colorcore.finding.plane import fit_plane
from colorcore.finding.scene import Scene, score, shows_all_round, table_within
from colorcore.finding.singles import best_fit
from colorcore.finding.texture import ends_table, hides_table

Quads = NDArray[np.float64]
Scores = NDArray[np.float64]

_FEW = 4
# From this chance on, an empty place between squares is worth a second look; so it is where less
# than this of the table shows: one of nine that are empty, 99 of 100 that are not.
_MAY_BE, _WORTH_A_LOOK, _STANDS = 0.1, 0.15, 0.75
# So sure is a square between others of which only traces show; a table whose own steps exceed the
# noise more than this shows traces anywhere.
_TRACED, _PLAIN = 0.6, 4.5
# Between others, so little table in an outline of such a chance means that a square lies there.
_HIDDEN, _HELD = 0.6, 0.2
# What lies beside its place is looked for where so little of the table shows.
_MOSTLY_HIDDEN = 0.4
# An outline that slid off its square is tried from its place and from so far beside it, in sides;
# from this chance on, with all its sides showing, it is taken for good.
_BESIDE = ((0, 0), (0.05, 0), (-0.05, 0), (0, 0.05), (0, -0.05))
_GOOD = 0.9
# One that is less sure, or has less of a chance by itself, though others speak for it, may have
# slid: it is moved to where a square has more than this by itself.
_FIRM, _SLID, _ITS_OWN = 0.75, 0.3, 0.6
_NONE = np.zeros((0, 4, 2)), np.zeros(0)


def try_again(scene: Scene, quads: Quads, sure: Scores) -> tuple[Quads, Scores]:
    """Move outlines (N, 4, 2) that are hardly ``sure`` (N,), though others hold them, and those
    that the others alone speak for, to where a square shows next to them; returns all, and
    how sure they are then."""
    alone = score(scene, quads)
    firm = (sure > _FIRM) & (alone > _SLID)
    if firm.all() or firm.sum() < _FEW:
        return quads, sure
    company = keep_company(fit_plane(quads[firm], sure[firm], scene.size), quads[firm])
    places = expected(company, least=2)
    places = places[is_held(company, places)] if len(places) else places
    quads, sure = quads.copy(), sure.copy()
    for k in np.flatnonzero(~firm):
        near = np.array([choose.overlap(quads[k], place) > 0.5 for place in places], dtype=bool)
        if not near.any():
            continue
        start = company.plane.straighten(places[near][:1]) + np.array(_BESIDE)[:, None]
        fitted, chances = best_fit(scene, company, company.plane.picture(start))
        others = (sure > 0.5) & (np.arange(len(sure)) != k)
        free = choose.clear(fitted, quads[others], 0.15) & shows_all_round(scene, fitted)
        if sure[k] > 0.5:
            free &= score(scene, fitted) > max(_ITS_OWN, alone[k])
        best = int(np.argmax(np.where(free, chances, 0)))
        if free[best] and chances[best] > _GOOD:
            quads[k], sure[k] = fitted[best], chances[best]
    return quads, sure


def _beside(
    scene: Scene, company: Company, places: Quads, fitted: Quads, chances: Scores
) -> NDArray[np.bool_]:
    """Return which ``places`` (K, 4, 2) that others hold, and that hide the table, are squares
    after all; what shows beside one is put into ``fitted`` (K, 4, 2) and ``chances`` (K,).

    Laid by hand, a square lies off its row and column by more than sides are looked for."""
    found = np.zeros(len(places), bool)
    asked = is_held(company, places) & (chances < 0.5)
    if scene.rough < _PLAIN * scene.view.noise:
        # On a plain table in a light that falls off, an empty place framed by squares looks like
        # one, but for its texture.
        asked[asked] = hides_table(scene, places[asked], company.quads)
    for k in np.flatnonzero(asked):
        if table_within(scene, places[k]) > _MOSTLY_HIDDEN:
            continue
        start = company.plane.straighten(places[k]) + np.array(_BESIDE)[1:, None]
        moved, anew = best_fit(scene, company, company.plane.picture(start))
        best = int(np.argmax(anew))
        if anew[best] > 0.5:
            fitted[k], chances[k], found[k] = moved[best], anew[best], True
    return found


def may_be(scene: Scene, quads: Quads, sure: Scores) -> tuple[Quads, Scores]:
    """Return places (N, 4, 2) among the squares, next to two at least, where one more may be, and
    how sure: less than half, for a second look, but where sides of its own can just be traced, or
    where it hides the table, by a texture of its own or by the table's pattern."""
    if len(quads) < _FEW:
        return _NONE
    company = keep_company(fit_plane(quads, sure, scene.size), quads)
    found = expected(company, least=2)
    if not len(found):
        return _NONE
    fitted, chances = best_fit(scene, company, found)
    beside = _beside(scene, company, found, fitted, chances)
    # Between others, or with some chance by itself, what is of another texture is no table.
    between, cornered = lies_between(company, fitted), is_held(company, fitted)
    bare = np.ones(len(fitted))
    bare[cornered] = [table_within(scene, quad) for quad in fitted[cornered]]
    held = between | (cornered & (chances > _HELD))
    held[held] = hides_table(scene, fitted[held], quads)
    held[between] |= ends_table(scene, fitted[between], bare[between], company.gap)
    # An empty place among squares that hardly looks like the table is worth a second look.
    stands = between & (bare < _STANDS)
    chances = np.where(stands, np.maximum(chances, _WORTH_A_LOOK), chances)
    chances = np.where(held, np.maximum(chances, _TRACED), chances)
    good = np.flatnonzero(chances > _MAY_BE)
    good = good[choose.keep_best(fitted[good], chances[good])] if len(good) else good
    good = good[choose.clear(fitted[good], quads, 0.15)]
    fitted, held = fitted[good], held[good]
    chances = np.where(beside[good], chances[good], np.minimum(chances[good], 0.49))
    chances = np.where(held, np.maximum(chances, _TRACED), chances)
    if scene.rough < _PLAIN * scene.view.noise:
        faint = between[good] & ~shows_all_round(scene, fitted)
        faint &= traced(scene.surface.flat, fitted, company.gap)
        chances = np.where(faint, np.maximum(chances, _TRACED), chances)
        return fitted, chances
    # Among the steps of a patterned table sides are lost, but what lies there hides its pattern.
    hidden = cornered[good] & (bare[good] < _HIDDEN) & (chances > _HELD)
    return fitted, np.where(hidden, np.maximum(chances, _TRACED), chances)
