"""Undo a photo's light: references, the light over the table, what remains in doubt."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import AFTER_2014
from colorcore.color.spaces import lab_from_linear
from colorcore.finding.model import Finding
from colorcore.light.assuming import assume_level
from colorcore.light.blur import BLUR_NOTE, is_blurred
from colorcore.light.calibration import Calibration
from colorcore.light.choosing import choose_references
from colorcore.light.colorless import GREY_NOTE, is_grey
from colorcore.light.field import LightField, fit_field
from colorcore.light.gathering import (
    Material,
    as_samples,
    chart_materials,
    read_materials,
    read_repeats,
    reference_cells,
    square_means,
)
from colorcore.light.learning import (
    Evidence,
    camera_from,
    edition_of,
    evidence_of,
    neutrals_of,
    tells_tone,
    tone_from,
)
from colorcore.light.local import (
    CROSSED,
    LocalLight,
    crosses_reference,
    find_steps,
    level_anew,
)
from colorcore.light.model import Reference
from colorcore.light.overcast import find_overcast
from colorcore.light.places import grid_over, outlines_of
from colorcore.light.plausible import note_impossible
from colorcore.light.repeats import find_repeats
from colorcore.light.responses import (
    FAMILIES,
    FAMILIES_OF_CAMERAS,
    LINEAR_TONE,
    Family,
    tone_unlearned,
)
from colorcore.light.sampling import SmallPicture, reduce_photo
from colorcore.light.slopes import Across, read_across
from colorcore.light.tone import ToneCurve
from colorcore.light.trust import grade
from colorcore.light.uncertainty import make_doubts, reference_covariance
from colorcore.photo import Photo

Array = NDArray[np.float64]

_TURNS = 2
_SURE = 5
_GRADED = 7
_PATCHY = 0.02
_SHADED = 3
_VAGUE_SD = 0.008


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
    chosen = choose_references(photo, small, finding, white, references)
    used, notes = chosen.references, list(chosen.notes)
    blurred = is_blurred(photo, finding)
    if blurred:
        notes.append(BLUR_NOTE)
    materials, plain = read_materials(small, finding, used, same)
    families = FAMILIES_OF_CAMERAS if photo.camera else FAMILIES
    unlearned = LINEAR_TONE if photo.scene_linear else tone_unlearned(families)
    across = read_across(small, finding)
    edition = chart_edition or AFTER_2014
    on_charts = chart_materials(chosen.charts, edition)
    lightest = not photo.scene_linear
    samples = as_samples([*on_charts, *materials], across, unlearned, level_from_lightest=lightest)
    if samples.have_level:
        level = reference_covariance(used) + chosen.clipping
        light = fit_field(samples, small.size)
        if not same and _is_vague(light, finding):
            found = read_repeats(small, finding, find_repeats(small, finding, light, unlearned))
            if found:
                materials += found
                samples = as_samples(
                    [*on_charts, *materials], across, unlearned, level_from_lightest=lightest
                )
                light = fit_field(samples, small.size)
        if chosen.charts and chart_edition is None:
            edition = edition_of(chosen.charts, light, None if photo.scene_linear else families)
            on_charts = chart_materials(chosen.charts, edition)
        evidence = [evidence_of(r, cells) for r, cells in plain if tells_tone(r)]
        evidence += [neutrals_of(chart, edition) for chart in chosen.charts]
        full = [(r, reference_cells(small, r)) for r in chosen.full if tells_tone(r)]
        evidence += [evidence_of(r, cells) for r, cells in full if len(cells)]
        light, tone = _light_and_tone(
            light, [*on_charts, *materials], across, evidence, unlearned, families
        )
        local = _local_light(small, finding, light, tone, blurred)
        light, open_sd = level_anew(light, local, [_box(r.outline) for r in used])
        uneven = crosses_reference(light)
        level = level + open_sd**2 + uneven**2
        # What blur smears over table and paper looks like a shadow's edge.
        if max(open_sd, uneven) > CROSSED and not blurred:
            notes.append(
                "The reference seems to lie in a shadow or in a patch of sun, or on the edge of "
                "one: lay it where the light is that of most squares."
            )
    else:
        used, tone = (), unlearned
        samples, level = assume_level(small, finding, samples, tone)
        light = fit_field(samples, small.size)
        notes.append(
            "No white paper, grey card or chart was found, so the light was guessed: lay a sheet "
            "of matt white paper beside the squares, or point to one."
        )
        local = _local_light(small, finding, light, tone, blurred)
    if tone is unlearned and not tone.does_nothing:
        notes.append(
            "The file names its camera, so what cameras usually do to the tones was undone: a grey "
            "card or a 24-patch chart beside the paper would show what this one did."
        )
    shaded = sum(local.overcast_step(corners) != 0 for corners in outlines_of(finding))
    if (local.patchy_sd > _PATCHY or shaded >= _SHADED) and not blurred:
        notes.append(
            "A patch of sun or a shadow with edges seems to lie across the table, which cannot be "
            "undone square by square: draw a curtain or move into even shade, and take it again."
        )
    colorless = is_grey(photo)
    if colorless:
        notes.append(GREY_NOTE)
    camera = camera_from(chosen.charts, edition, light, tone)
    if chosen.charts:
        notes.append(f"the chart fits the values of one made {edition} best")
    calibration = Calibration(
        size=small.size,
        light=light,
        local=local,
        tone=tone,
        camera=camera,
        doubts=make_doubts(level, light, tone, camera, plain, chosen.charts, colorless=colorless),
        references=used,
        reference="+".join(dict.fromkeys(r.kind for r in used)) or "none",
        trust="D",
        trust_words="",
        notes=(*notes, *exposure_notes(photo, finding)),
        chart_residual=camera.difference,
    )
    return _graded(calibration, finding, small, lost=chosen.lost)


def _local_light(
    small: SmallPicture, finding: Finding, light: LightField, tone: ToneCurve, blurred: bool
) -> LocalLight:
    """Return shadows and patches of sun. In a blurred photo the gaps between squares show the
    squares beside them, so only what is known for table is asked."""
    overcast = () if blurred else (find_overcast(small, finding, light, tone),)
    return find_steps(light, *overcast)


def _box(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the upright or turned rectangle (4, 2) around an outline (K, 2), which may be a
    contour of many points."""
    import cv2

    return np.asarray(cv2.boxPoints(cv2.minAreaRect(outline.astype(np.float32))), np.float64)


def _is_vague(light: LightField, finding: Finding) -> bool:
    """Whether references and surface leave the light over the squares more open than repeated
    prints would."""
    corners = outlines_of(finding)[::4]
    if not len(corners):
        return False
    places = grid_over(corners, 2).reshape(len(corners), -1, 2)
    variances = light.log_covariance(places).mean(axis=(-1, -2))
    return float(np.sqrt(variances.max())) > _VAGUE_SD


def _light_and_tone(
    light: LightField,
    materials: Sequence[Material],
    across: Across,
    evidence: Sequence[Evidence],
    unlearned: ToneCurve,
    families: Sequence[Family],
) -> tuple[LightField, ToneCurve]:
    """Fit tone curve and light in turn: each has to be allowed for in the other."""
    count = sum(len(item.xy) for item in evidence)
    if unlearned is LINEAR_TONE or count < 2:
        return light, unlearned
    tone = unlearned
    for _ in range(_TURNS):
        tone = tone_from(evidence, light, families)
        samples = as_samples(materials, across, tone, level_from_lightest=count < _SURE)
        light = fit_field(samples, light.size, start=light)
    return light, tone


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
