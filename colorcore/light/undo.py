"""Undo a photo's light: references, the light over the table, what remains in doubt."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear
from colorcore.finding.model import Finding
from colorcore.light.blur import BLUR_NOTE, is_blurred
from colorcore.light.calibration import Calibration
from colorcore.light.choosing import choose_references
from colorcore.light.colorless import GREY_NOTE, is_grey
from colorcore.light.gathering import square_means
from colorcore.light.learning import camera_from
from colorcore.light.model import Reference
from colorcore.light.places import outlines_of
from colorcore.light.plausible import note_impossible
from colorcore.light.reckoning import Sight, reckon
from colorcore.light.sampling import SmallPicture, reduce_photo
from colorcore.light.second_look import look_again
from colorcore.light.slopes import read_across
from colorcore.light.trust import grade
from colorcore.light.uncertainty import make_doubts
from colorcore.photo import Photo

Array = NDArray[np.float64]

_GRADED = 7
_PATCHY = 0.02
_SHADED = 3


def undo_light(
    photo: Photo,
    finding: Finding,
    *,
    white: tuple[float, float] | None = None,
    references: Sequence[Reference] = (),
    same: Sequence[Sequence[int]] = (),
    chart_edition: str | None = None,
    small: SmallPicture | None = None,
) -> Calibration:
    """Work out a photo's light and what undoes it.

    Parameters
    ----------
    photo, finding
        The picture, and the squares, things and surface found in it.
    white : (x, y) or None
        A point on the sheet of white paper, in pixels of the upright picture.
    references : sequence of Reference
        References set by hand; then none are searched for.
    same : sequence of sequences of int
        Groups of indices into ``finding.squares`` that are the same fabric.
    chart_edition : str or None
        One of ``colorcore.color.charts.EDITIONS``; None takes the one that fits better.
    small : SmallPicture or None
        What ``reduce_photo`` gives of the photo, where it is known already.

    Raises
    ------
    ColorError
        If ``white`` or a reference does not lie on anything that can be measured.
    """
    small = small or reduce_photo(photo)
    blurred = is_blurred(photo, finding)
    sight = Sight(
        photo=photo,
        small=small,
        finding=finding,
        across=read_across(small, finding),
        blurred=blurred,
        same=same,
        edition=chart_edition,
    )
    chosen = choose_references(photo, small, finding, white, references)
    found = reckon(sight, chosen)
    again = None if white or references else look_again(sight, chosen, found)
    if again is not None:
        chosen, found = again, reckon(sight, again)
    used, light, tone, local = found.used, found.light, found.tone, found.local
    notes = list(chosen.notes)
    if blurred:
        notes.append(BLUR_NOTE)
    if found.crossed:
        notes.append(
            "The reference seems to lie in a shadow or in a patch of sun, or on the edge of "
            "one: lay it where the light is that of most squares."
        )
    if not used:
        notes.append(
            "No white paper, grey card or chart was found, so the light was guessed: lay a sheet "
            "of matt white paper beside the squares, or point to one."
        )
    if found.unlearned:
        notes.append(
            "The file names its camera, so what cameras usually do to the tones was undone: a grey "
            "card or a 24-patch chart beside the paper would show what this one did."
        )
    outlines = () if local.is_even else outlines_of(finding)
    shaded = sum(bool(local.flags(corners)) for corners in outlines)
    if (local.patchy_sd > _PATCHY or shaded >= _SHADED) and not blurred:
        notes.append(
            "A patch of sun or a shadow with edges seems to lie across the table, which cannot be "
            "undone square by square: draw a curtain or move into even shade, and take it again."
        )
    colorless = is_grey(photo)
    if colorless:
        notes.append(GREY_NOTE)
    camera = camera_from(chosen.charts, found.edition, light, tone)
    if chosen.charts:
        notes.append(f"the chart fits the values of one made {found.edition} best")
    calibration = Calibration(
        size=small.size,
        light=light,
        local=local,
        tone=tone,
        camera=camera,
        doubts=make_doubts(
            found.level, light, tone, camera, found.plain, chosen.charts, colorless=colorless
        ),
        references=used,
        reference="+".join(dict.fromkeys(r.kind for r in used)) or "none",
        trust="D",
        trust_words="",
        notes=(*notes, *exposure_notes(photo, finding)),
        chart_residual=camera.difference,
    )
    return _graded(calibration, finding, small, lost=chosen.lost)


def _graded(
    calibration: Calibration, finding: Finding, small: SmallPicture, *, lost: bool
) -> Calibration:
    corners = outlines_of(finding)
    means = square_means(small, corners)
    seen = np.isfinite(means[:, 0])
    corners, means = corners[seen], means[seen]
    total = order = np.zeros(0)
    impossible = ""
    if len(corners):
        colors = calibration.color_at(means, corners.mean(axis=1))
        lab = np.asarray(lab_from_linear(colors), dtype=np.float64)
        # What lies over the limit is darker than it was taken for, whatever it is.
        if not lost:
            impossible = note_impossible(calibration, finding, small, corners, lab)
        some = slice(None, None, max(1, len(corners) // _GRADED))
        total = calibration.lab_sd(corners[some], lab[some])[:, 0]
        order = calibration.order_sd(corners[some], lab[some])
    doubtful = "but that is overexposed" if lost else ""
    if impossible:
        doubtful = "but that cannot be right"
    letter, words = grade(
        calibration.reference, total, order, calibration.doubts.tone_open, doubtful=doubtful
    )
    notes = (impossible, *calibration.notes) if impossible else calibration.notes
    return replace(calibration, trust=letter, trust_words=words, notes=notes)


def exposure_notes(photo: Photo, finding: Finding) -> tuple[str, ...]:
    """Sentences on a photo that is too bright or too dark, with what to do."""
    if not finding.squares:
        return ()
    corners = np.concatenate([s.corners for s in finding.squares])
    x0, y0 = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    x1, y1 = np.ceil(corners.max(axis=0)).astype(int)
    step = max(1, int(max(x1 - x0, y1 - y0)) // 500)
    pixels = photo.pixels[y0:y1:step, x0:x1:step]
    if not pixels.size:
        return ()
    top = np.iinfo(pixels.dtype).max
    highest = np.maximum(np.maximum(pixels[..., 0], pixels[..., 1]), pixels[..., 2])
    bright = float(np.mean(highest >= top - top // 128))
    up_to = np.cumsum(np.bincount(highest.ravel()))
    level = int(np.searchsorted(up_to, 0.98 * highest.size)) / top
    if bright > 0.03:
        return (
            f"The photo is overexposed: {bright:.0%} of the layout is at the camera's limit. Tilt "
            "away from the window, tap to darken, and take it again.",
        )
    dim = 0.25 if not photo.scene_linear else 0.03
    if level < dim:
        return (
            "The photo is underexposed: even its brightest parts are dark. Let in more light or "
            "tap on a dark square to brighten, and take it again.",
        )
    return ()
