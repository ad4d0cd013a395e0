"""Undo a photo's light: references, the light over the table, what remains in doubt."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear
from colorcore.finding.model import Finding
from colorcore.light.assuming import assume_level
from colorcore.light.calibration import Calibration
from colorcore.light.camera import CameraFit
from colorcore.light.field import LightField, fit_field
from colorcore.light.gathering import choose_references, gather_samples, square_mean
from colorcore.light.model import Reference
from colorcore.light.sampling import SmallPicture, reduce_photo
from colorcore.light.sharpened import LINEAR_FROM_SHARP
from colorcore.light.tone import UNKNOWN_TONE
from colorcore.light.trust import grade
from colorcore.light.uncertainty import Doubts, reference_covariance
from colorcore.photo import Photo

Array = NDArray[np.float64]


def undo_light(
    photo: Photo,
    finding: Finding,
    *,
    white: tuple[float, float] | None = None,
    references: Sequence[Reference] = (),
    same: Sequence[Sequence[int]] = (),
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

    Raises
    ------
    ColorError
        If ``white`` or a reference does not lie on anything that can be measured.
    """
    small = reduce_photo(photo)
    chosen = choose_references(small, finding, white, references)
    used, notes = chosen.references, list(chosen.notes)
    tone = UNKNOWN_TONE
    samples = gather_samples(small, finding, used, same, tone)
    if not samples.have_level:
        samples, level = assume_level(small, finding, samples, tone)
        used = ()
        notes.append(
            "No white paper, grey card or chart was found, so the light was guessed: lay a sheet "
            "of matt white paper beside the squares, or point to one."
        )
    else:
        level = reference_covariance(used) + chosen.clipping
    light = fit_field(samples, small.size)
    calibration = Calibration(
        size=small.size,
        light=light,
        tone=tone,
        camera=CameraFit(LINEAR_FROM_SHARP),
        doubts=_doubts(photo, level, light),
        references=used,
        reference="+".join(dict.fromkeys(r.kind for r in used)) or "none",
        trust="D",
        trust_words="",
        notes=(*notes, *exposure_notes(photo, small, finding)),
    )
    return _graded(calibration, finding, small)


def _doubts(photo: Photo, level: Array, light: LightField) -> Doubts:
    slope = 0.0 if photo.scene_linear else 0.05
    return Doubts(
        level=level,
        slope_sd=slope,
        pivot=np.full(3, np.log(0.88)),
        floor=np.array([0.15, 0.25, 0.35]),
        per_chroma=np.array([0.006, 0.02, 0.02]),
    )


def _graded(calibration: Calibration, finding: Finding, small: SmallPicture) -> Calibration:
    deviations = []
    for square in finding.squares:
        mean = square_mean(small, square.corners)
        if mean is not None:
            middle = square.corners.mean(axis=0)
            lab = np.asarray(lab_from_linear(calibration.color_at(mean, middle)), dtype=np.float64)
            deviations.append(calibration.lab_sd(square.corners, lab)[0])
    letter, words = grade(calibration.reference, np.array(deviations))
    return replace(calibration, trust=letter, trust_words=words)


def exposure_notes(photo: Photo, small: SmallPicture, finding: Finding) -> tuple[str, ...]:
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
    bright = float(np.mean(pixels.max(axis=2) >= top - top // 128))
    level = float(np.quantile(pixels.max(axis=2), 0.98)) / top
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
