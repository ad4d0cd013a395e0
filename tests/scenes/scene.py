"""A rendered photograph and what is true of it."""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import area
from tests.scenes import layout, sensor, view
from tests.scenes.items import Item, rectangle
from tests.scenes.layout import Arrangement, Laid
from tests.scenes.lights import Lighting, make_lighting
from tests.scenes.render import Stage, render_light, true_print
from tests.scenes.sensor import Development
from tests.scenes.spectra import Camera, set_up_camera
from tests.scenes.surfaces import make_surface
from tests.scenes.truth import (
    PatchTruth,
    ReferenceTruth,
    SquareTruth,
    ThingTruth,
    Truth,
    address,
)

Points = NDArray[np.float64]
REFERENCES = ("paper", "grey", "chart", "fabric")


@dataclass(frozen=True, eq=False)
class Scene:
    """A picture (H, W, 3) uint8, coded as its profile says, and its truth.

    ``jpeg`` is the file that the camera would have stored; ``pixels`` are what it decodes to.
    """

    pixels: NDArray[np.uint8] = field(repr=False)
    jpeg: bytes = field(repr=False)
    truth: Truth
    _stage: Stage = field(repr=False)
    _how: Development = field(repr=False)
    _laid: tuple[Laid, ...] = field(repr=False)

    def linear_camera(self) -> NDArray[np.uint16]:
        """Return the picture as a raw developer gives it without a tone curve: (H, W, 3) 16 bit
        linear light, white balanced, sRGB primaries. Renders again."""
        how = replace(self._how, profile="srgb")
        return sensor.expose(render_light(self._stage), self._stage.camera, how, self.truth.seed)

    def true_print(self, square_address: str, pixels_per_inch: float = 20.0) -> NDArray[np.float32]:
        """Return a square's print as it truly is (N, M, 3), before any light, lens or crease fell
        on it: linear light, sRGB primaries, D65, 1.0 a perfect white; may leave 0 to 1.

        Raises
        ------
        KeyError
            If no square has this address.
        """
        by_address = {address(one.row, one.column): one.item for one in self._laid}
        return true_print(by_address[square_address], pixels_per_inch)

    def camera_raw(self) -> tuple[NDArray[np.uint16], Camera]:
        """Return what the sensor stores (H, W) behind its colour mosaic, see ``sensor.mosaic``,
        and the camera. Renders again."""
        light = render_light(self._stage)
        return sensor.mosaic(light, self._stage.camera, self._how, self.truth.seed), (
            self._stage.camera
        )


def build_scene(
    kind: str,
    seed: int,
    how: Arrangement,
    *,
    megapixels: float,
    light: str,
    tone: str,
    reference: str,
) -> Scene:
    """Return the scene of an arrangement. Same arguments, same picture."""
    rng = np.random.default_rng([seed, *kind.encode()])
    laid = layout.lay_squares(how, rng)
    beside = layout.lay_references(reference, how, laid, rng)
    references = [item for item in beside if item.kind in REFERENCES]
    things = [item for item in beside if item.kind not in REFERENCES]
    things += layout.lay_things(how, [one.item for one in laid] + references, rng)
    under = layout.lay_mat(how, [one.item for one in laid], rng)
    seen = _view(how, laid, [*under, *references], megapixels, rng)
    longer = max(seen.width, seen.height)
    lighting = make_lighting(light, rng, (seen.width / longer, seen.height / longer))
    laid = _with_glare(laid, lighting.glare, rng)
    surface = make_surface(how.surface, rng)
    shares, level = _light_level(lighting)
    camera = _camera(how, shares, rng)
    squares = [one.item for one in laid]
    if how.first_on_top:
        squares.reverse()
    everything = (*under, *references, *squares, *things)
    floor = make_surface(str(rng.choice(["carpet", "wood", "board"])), rng)
    edge = layout.find_edge([*under, *squares, *references], rng) if how.table_edge else None
    stage = Stage(surface, everything, lighting, camera, seen, seed, floor, edge, how.sheen)
    development = Development(
        gain=how.exposure * lighting.exposure * float(rng.uniform(0.86, 0.97)) / (0.9 * level),
        vignette=lighting.vignette,
        noise=how.noise * max(1.0, 0.8 * megapixels**0.25),
        blur=how.blur,
        sharpening=how.sharpening,
        tone=tone,
        quality=how.quality,
        profile=how.profile,
    )
    linear = sensor.expose(render_light(stage), camera, development, seed)
    jpeg = sensor.compress(sensor.develop(linear, development), how.quality)
    pixels = cv2.cvtColor(
        cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB
    )
    outlines = _outlines(everything, seen)
    found = [
        _square_truth(one, outlines, seen, _light_on(one.item, seen, lighting, level))
        for one in laid
    ]
    truth = Truth(
        kind=kind,
        seed=seed,
        width=seen.width,
        height=seen.height,
        light=light,
        tone=tone,
        surface=surface.name,
        camera=how.camera,
        profile=how.profile,
        side_inches=how.side_inches,
        pixels_per_inch=float(np.median([_scale(seen, one.item) for one in laid])),
        view=seen.matrix,
        squares=tuple(truth for truth in found if truth.visible_share > 0.02),
        references=tuple(_reference_truth(item, outlines, seen) for item in references),
        things=tuple(_thing_truth(item, seen) for item in (*under, *things)),
        options=_changed(how, reference, megapixels),
    )
    return Scene(np.asarray(pixels), jpeg, truth, stage, development, tuple(laid))


def _changed(how: Arrangement, reference: str, megapixels: float) -> dict[str, Any]:
    default = Arrangement()
    changed = {name: value for name, value in vars(how).items() if value != getattr(default, name)}
    return {"reference": reference, "megapixels": megapixels, **changed}


def _view(
    how: Arrangement,
    laid: list[Laid],
    references: list[Item],
    megapixels: float,
    rng: np.random.Generator,
) -> view.View:
    shown = [one.item for one in laid] + (references if how.framing else [])
    points = np.concatenate([item.on_table(item.corners) for item in shown])
    return view.frame(
        points,
        megapixels=megapixels,
        aspect=how.aspect,
        turn=how.turn,
        tilt=how.tilt,
        tilt_towards=float(rng.uniform(0, 2 * np.pi)),
        distance=float(rng.uniform(1.1, 1.8)),
        margin=how.margin,
        lens=how.lens,
    )


def _with_glare(laid: list[Laid], count: int, rng: np.random.Generator) -> list[Laid]:
    chosen = set(rng.choice(len(laid), min(count, len(laid)), replace=False).tolist())
    return [
        replace(one, item=replace(one.item, gloss=float(rng.uniform(0.3, 0.9))))
        if index in chosen
        else one
        for index, one in enumerate(laid)
    ]


def _light_level(lighting: Lighting) -> tuple[dict[str, float], float]:
    """Return each illuminant's share of the light and the level that exposure goes by."""
    axis = np.linspace(0.02, 0.98, 60, dtype=np.float32)
    fields = lighting.fields(axis[None, :], axis[:, None] * np.float32(0.75))
    total = np.asarray(sum(fields.values()))
    whole = float(total.mean())
    shares = {name: float(np.mean(f)) / whole for name, f in fields.items()}
    return shares, float(np.percentile(total, 97))


def _camera(how: Arrangement, shares: dict[str, float], rng: np.random.Generator) -> Camera:
    """Return a camera whose automatic white balance is a little off, more so under a lamp."""
    error = np.array([1 + rng.normal(0, 0.02), 1.0, 1 + rng.normal(0, 0.03)])
    lamp = sum(share for name, share in shares.items() if name in ("A", "LED-B3"))
    error *= np.array([1 + 0.06 * lamp, 1.0, 1 - 0.10 * lamp])
    return set_up_camera(how.camera, shares, error)


def _scale(seen: view.View, item: Item) -> float:
    return seen.pixels_per_inch(item.on_table(np.array([item.size]) / 2)[0])


def _light_on(
    item: Item, seen: view.View, lighting: Lighting, level: float
) -> tuple[float, float, float]:
    """Return the 5th, 50th and 95th percentile of the light on an item, as shares of ``level``."""
    steps = (np.arange(24) + 0.5) / 24
    inches = np.stack(np.meshgrid(steps * item.size[0], steps * item.size[1]), -1).reshape(-1, 2)
    places = seen.pixels(item.on_table(inches)).astype(np.float32) / max(seen.width, seen.height)
    total = sum(lighting.fields(places[:, 0], places[:, 1]).values())
    low, middle, high = np.percentile(np.asarray(total) / level, [5, 50, 95])
    return float(low), float(middle), float(high)


@dataclass(frozen=True, eq=False)
class _Outlines:
    """Outlines (K, 2) of all items in the picture, bottom first, their least and largest x, y
    (N, 2), and which hide what is below (N,): clear plastic hides nothing."""

    items: tuple[Item, ...]
    edges: list[Points]
    low: Points
    high: Points
    solid: NDArray[np.bool_]

    def above(self, item: Item, corners: Points) -> list[Points]:
        """Return the outlines of what may hide parts of a quad that belongs to an item."""
        near = (self.high > corners.min(axis=0)) & (self.low < corners.max(axis=0))
        hiding = self.solid & near.all(axis=1)
        hiding[: self.items.index(item) + 1] = False
        return [self.edges[i] for i in np.flatnonzero(hiding)]


def _outlines(everything: tuple[Item, ...], seen: view.View) -> _Outlines:
    edges = [seen.pictured(item.on_table(_solid_outline(item))) for item in everything]
    return _Outlines(
        everything,
        edges,
        low=np.array([edge.min(axis=0) for edge in edges]),
        high=np.array([edge.max(axis=0) for edge in edges]),
        solid=np.array([not np.any((i.opacity > 0) & (i.opacity < 1)) for i in everything]),
    )


def _square_truth(
    one: Laid, outlines: _Outlines, seen: view.View, light: tuple[float, float, float]
) -> SquareTruth:
    item = one.item
    corners = seen.pictured(item.on_table(item.corners))
    visible, share = _visible(corners, outlines.above(item, corners), seen)
    facts = item.truth
    frame = np.array([seen.width, seen.height])
    return SquareTruth(
        address=address(one.row, one.column),
        row=one.row,
        column=one.column,
        corners=corners,
        visible=visible,
        visible_share=share,
        cut_off=bool(np.any(corners < 0) or np.any(corners > frame)),
        colors=facts["colors"],
        fabric=facts["fabric"],
        family=facts["family"],
        scale_inches=facts["scale_inches"],
        stripe_degrees=facts["stripe_degrees"],
        pinking_pitch_inches=facts["pinking_pitch_inches"],
        glare=item.gloss > 0,
        piece=one.piece,
        light=light,
    )


def _visible(corners: Points, covers: list[Points], seen: view.View) -> tuple[Points, float]:
    """Return the largest part of a quad that nothing covers and the share of all that shows."""
    frame = np.array([seen.width, seen.height], dtype=np.float64)
    low, high = corners.min(axis=0), corners.max(axis=0)
    if not covers and np.all(low >= 0) and np.all(high <= frame):
        return corners, 1.0
    # Eight steps a pixel on small squares, fewer on large ones: well under a quarter pixel.
    fine = float(np.clip(3000 / (high - low).max(), 1, 8))
    origin = np.floor(low) - 1
    width, height = (np.ceil((high - origin + 1) * fine)).astype(int)

    def draw(mask: NDArray[np.uint8], polygon: Points, value: int) -> None:
        fixed = np.round(((polygon - origin) * fine - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(mask, [fixed], value, shift=4)

    mask = np.zeros((height, width), np.uint8)
    draw(mask, corners, 1)
    whole = cv2.countNonZero(mask)
    for edge in covers:
        draw(mask, edge, 0)
    inside = np.zeros_like(mask)
    draw(inside, rectangle(*frame), 1)
    mask &= inside
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not outlines:
        return np.zeros((0, 2)), 0.0
    largest = max(outlines, key=cv2.contourArea)
    smooth = cv2.approxPolyDP(largest, max(1.0, 0.25 * fine), True)[:, 0].astype(np.float64)
    if area(smooth) < 0:
        smooth = smooth[::-1]
    return (smooth + 0.5) / fine + origin, cv2.countNonZero(mask) / whole


def _solid_outline(item: Item) -> Points:
    if "outline" in item.truth:
        return np.asarray(item.truth["outline"])
    return item.corners


def _reference_truth(item: Item, outlines: _Outlines, seen: view.View) -> ReferenceTruth:
    facts = item.truth
    patches = []
    for patch in facts.get("patches", ()):
        x0, y0, x1, y1 = patch["box"]
        box = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        corners = seen.pictured(item.on_table(box))
        share = _visible(corners, outlines.above(item, corners), seen)[1]
        patches.append(PatchTruth(patch["name"], tuple(patch["lab"]), corners, share))
    lab = facts["colors"]().lab if "colors" in facts else facts.get("lab")
    return ReferenceTruth(
        kind=item.kind,
        corners=seen.pictured(item.on_table(item.corners)),
        lab=tuple(lab) if lab else None,
        luminance=facts.get("luminance"),
        patches=tuple(patches),
        mirrored=bool(facts.get("mirrored", False)),
    )


def _thing_truth(item: Item, seen: view.View) -> ThingTruth:
    return ThingTruth(item.kind, seen.pictured(item.on_table(_solid_outline(item))))


def save_scene(scene: Scene, path: str | Path) -> None:
    """Write the picture (.jpg, .png, .tif, .heic or .dng) and its truth (.json) beside it."""
    from tests.scenes.storing import write_picture

    path = Path(path)
    write_picture(scene, path)
    path.with_suffix(".json").write_text(scene.truth.to_json(), encoding="utf-8")
