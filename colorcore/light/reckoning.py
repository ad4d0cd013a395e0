"""Reckon light, tone curve and edges of light from references that were chosen."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import AFTER_2014
from colorcore.finding.model import Finding
from colorcore.light.assuming import assume_level, with_any_level
from colorcore.light.choosing import Chosen
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
from colorcore.light.places import box_round, grid_over, outlines_of
from colorcore.light.repeats import find_repeats
from colorcore.light.responses import (
    FAMILIES,
    FAMILIES_OF_CAMERAS,
    LINEAR_TONE,
    Family,
    tone_unlearned,
)
from colorcore.light.sampling import Cells, SmallPicture
from colorcore.light.slopes import Across
from colorcore.light.tone import ToneCurve
from colorcore.light.uncertainty import reference_covariance
from colorcore.photo import Photo

Array = NDArray[np.float64]

_TURNS: Final = 2
_SURE: Final = 5
_VAGUE_SD: Final = 0.008


@dataclass(frozen=True, eq=False, kw_only=True)
class Sight:
    """What the light is reckoned from, whatever serves as reference: the ``photo``, reduced too;
    what was found in it, whether it is ``blurred``, what ``across`` squares shows; and what the
    maker says: squares that are the ``same`` fabric, the chart's ``edition``."""

    photo: Photo
    small: SmallPicture
    finding: Finding
    across: Across
    blurred: bool
    same: Sequence[Sequence[int]] = ()
    edition: str | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class Reckoning:
    """The light as it is reckoned: ``used`` references and the ``plain`` ones with their cells;
    covariance (3, 3) of the log ``level``; ``edition`` of the chart; ``unlearned`` whether the tone
    curve is what cameras usually do; ``crossed`` whether a reference is lit otherwise than most."""

    used: tuple[Reference, ...]
    plain: list[tuple[Reference, Cells]]
    light: LightField
    tone: ToneCurve
    local: LocalLight
    level: Array
    edition: str
    unlearned: bool
    crossed: bool


def reckon(sight: Sight, chosen: Chosen) -> Reckoning:
    """Return the light by references that were chosen; by an assumed level where there are none."""
    photo, small, finding, across = sight.photo, sight.small, sight.finding, sight.across
    used = chosen.references
    materials, plain = read_materials(small, finding, used, sight.same)
    families = FAMILIES_OF_CAMERAS if photo.camera else FAMILIES
    unlearned = LINEAR_TONE if photo.scene_linear else tone_unlearned(families)
    edition = sight.edition or AFTER_2014
    on_charts = chart_materials(chosen.charts, edition)
    lightest = not photo.scene_linear
    samples = as_samples([*on_charts, *materials], across, unlearned, level_from_lightest=lightest)
    tone, crossed = unlearned, False
    if samples.have_level:
        level = reference_covariance(used) + chosen.clipping
        light = fit_field(samples, small.size)
        if not sight.same and _is_vague(light, finding):
            found = read_repeats(small, finding, find_repeats(small, finding, light, unlearned))
            if found:
                materials += found
                samples = as_samples(
                    [*on_charts, *materials], across, unlearned, level_from_lightest=lightest
                )
                light = fit_field(samples, small.size)
        if chosen.charts and sight.edition is None:
            edition = edition_of(chosen.charts, light, None if photo.scene_linear else families)
            on_charts = chart_materials(chosen.charts, edition)
        evidence = [evidence_of(r, cells) for r, cells in plain if tells_tone(r)]
        evidence += [neutrals_of(chart, edition) for chart in chosen.charts]
        full = [(r, reference_cells(small, r)) for r in chosen.full if tells_tone(r)]
        evidence += [evidence_of(r, cells) for r, cells in full if len(cells)]
        light, tone = _light_and_tone(
            light, [*on_charts, *materials], across, evidence, unlearned, families
        )
        boxes = [box_round(reference.outline) for reference in used]
        local = _local_light(sight, light, tone, used)
        light, open_sd = level_anew(light, local, boxes)
        uneven = crosses_reference(light)
        level = level + open_sd**2 + uneven**2
        # What blur smears over table and paper looks like a shadow's edge.
        crossed = max(open_sd, uneven) > CROSSED and not sight.blurred
    else:
        used = ()
        light = fit_field(with_any_level(samples, small.size), small.size)
        local = _local_light(sight, light, tone, ())
        outlines = outlines_of(finding)
        means = square_means(small, outlines)
        light, level = assume_level(light, local, small, outlines, means, tone)
    return Reckoning(
        used=used,
        plain=plain,
        light=light,
        tone=tone,
        local=local,
        level=level,
        edition=edition,
        unlearned=tone is unlearned and not tone.does_nothing,
        crossed=crossed,
    )


def _local_light(
    sight: Sight, light: LightField, tone: ToneCurve, references: Sequence[Reference]
) -> LocalLight:
    """Return shadows and patches of sun. In a blurred photo the gaps between squares show the
    squares beside them, so only what is known for table is asked."""
    if sight.blurred:
        return find_steps(light)
    return find_steps(light, find_overcast(sight.small, sight.finding, light, tone, references))


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
