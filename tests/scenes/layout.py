"""How the squares lie, and what lies beside them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.scenes import items, spectra
from tests.scenes.items import Item
from tests.scenes.prints import make_bundle, make_fabric
from tests.scenes.things import cutting_mat, place_thing

Points = NDArray[np.float64]
Rng = np.random.Generator


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """Choices of a layout; a kind of scene sets some, options override them.

    ``gap`` and ``jitter`` are shares of the side, ``hand`` degrees by which a square may be off,
    ``missing`` the share of places left empty, ``lap`` the share of a square that the next one
    leaves uncovered along the row and from row to row (1 and above: no overlap), later squares
    lying on earlier ones or the other way (``first_on_top``), ``uneven`` lets rows differ in length
    and start. ``side_inches`` is a square's side, ``long_inches`` the other
    side of a strip. ``framing`` says whether references must be in the picture. ``things`` are
    names of ``things.THINGS`` that lie about, reaching over the squares by ``overlap`` inches;
    ``lens`` bends straight lines by that share at the corners, ``sheen`` is the brightness of a
    window mirrored in the table; ``mat`` is the size of a cutting mat under the squares;
    ``bundle`` seeds a bundle of ``bundle_size`` squares that other pictures show too, of which
    this one shows those from ``first`` on; ``table_edge`` lets the table end within the picture.
    """

    rows: int = 6
    columns: int = 7
    side_inches: float = 10.0
    long_inches: float | None = None
    gap: float = 0.12
    jitter: float = 0.015
    hand: float = 1.5
    missing: float = 0.0
    lap: tuple[float, float] = (1.0, 1.0)
    first_on_top: bool = False
    uneven: bool = False
    surface: str = "board"
    theme: str = "mixed"
    families: tuple[str, ...] = ()
    copies: float = 0.0
    bundle: int | None = None
    bundle_size: int = 42
    first: int = 0
    pinked: bool = True
    crumpled: float = 1.0
    turn: float = 0.0
    tilt: float = 2.0
    margin: float = 0.04
    lens: float = 0.0
    sheen: float = 0.0
    aspect: float = 4 / 3
    framing: bool = True
    things: tuple[str, ...] = ()
    overlap: float = 0.0
    mat: tuple[float, float] | None = None
    table_edge: bool = False
    chart_reflectances: str = "BabelColor Average"
    chart_mirrored: bool = False
    chart_covered: bool = False
    camera: str = "nikon"
    blur: float = 0.55
    sharpening: float = 0.35
    noise: float = 1.0
    quality: int = 90
    exposure: float = 1.0
    profile: str = "srgb"


@dataclass(frozen=True, eq=False)
class Laid:
    """A square with its place in the layout and its number in the bundle."""

    item: Item
    row: int
    column: int
    piece: int


def lay_squares(how: Arrangement, rng: Rng) -> list[Laid]:
    """Return the squares in reading order."""
    width, height = how.side_inches, how.long_inches or how.side_inches
    step_x = width * (how.lap[0] if how.lap[0] < 1 else 1 + how.gap)
    step_y = height * (how.lap[1] if how.lap[1] < 1 else 1 + how.gap * width / height)
    places = []
    for row in range(how.rows):
        count, start = how.columns, 0.0
        if how.uneven:
            count = max(2, how.columns - int(rng.integers(0, 3)))
            start = float(rng.uniform(-0.4, 0.4)) * step_x
        for column in range(count):
            places.append((row, column, start + column * step_x, row * step_y))
    if how.missing:
        # The corners of the layout may go too, yet never a whole outer row or column.
        keep = rng.permutation(len(places))[round(len(places) * how.missing) :]
        places = [places[i] for i in sorted(keep)]
    seed = int(rng.integers(2**31)) if how.bundle is None else how.bundle
    fabrics = make_bundle(
        np.random.default_rng(seed),
        len(places) if how.bundle is None else how.bundle_size,
        theme=how.theme,
        copies=how.copies,
        families=how.families,
        side_inches=min(width, height),
    )
    if how.first + len(places) > len(fabrics):
        raise ValueError(
            f"bundle_size must be at least {how.first + len(places)}; got {how.bundle_size}"
        )
    laid = []
    for piece, (row, column, x, y) in enumerate(places, start=how.first):
        dx, dy = np.clip(rng.normal(0, how.jitter, 2), -2 * how.jitter, 2 * how.jitter) * width
        degrees = float(rng.uniform(-how.hand, how.hand))
        pose = items.pose_at(x + dx, y + dy, degrees, (width, height))
        cloth = items.cloth(
            fabrics[piece],
            np.random.default_rng([seed, piece]),
            (width, height),
            pose,
            pinked=how.pinked,
            crumpled=how.crumpled,
        )
        laid.append(Laid(cloth, row, column, piece))
    return laid


def lay_references(reference: str, how: Arrangement, laid: list[Laid], rng: Rng) -> list[Item]:
    """Return the references named in ``reference`` (joined by +), beside the squares.

    Raises
    ------
    ValueError
        If a name is not none, paper, grey, chart or fabric.
    """
    result: list[Item] = []
    low, high = bounds([one.item for one in laid])
    clear = 0.06 * how.side_inches + 0.4
    sides = list(rng.permutation(4))
    for part in reference.split("+"):
        if part == "none":
            continue
        side = sides.pop(0)
        size = _reference_size(part, how, rng)
        share = float(rng.uniform(0.2, 0.8))
        turn = float(rng.uniform(-8, 8)) + 90.0 * int(rng.integers(4))
        reach = _half_extent(size, turn)
        along = low + (high - low) * share
        x, y = float(along[0]), float(along[1])
        if side == 0:
            x = float(high[0]) + clear + reach[0]
        elif side == 1:
            y = float(high[1]) + clear + reach[1]
        elif side == 2:
            x = float(low[0]) - clear - reach[0]
        else:
            y = float(low[1]) - clear - reach[1]
        result.append(_reference(part, how, rng, size, (x, y), turn))
        if part == "chart" and how.chart_covered:
            result.append(_cover(result[-1], rng))
    return result


def bounds(laid: list[Item]) -> tuple[Points, Points]:
    """Return the least and largest x, y (2,) of items on the table, in inches."""
    corners = np.concatenate([item.on_table(item.corners) for item in laid])
    return corners.min(axis=0), corners.max(axis=0)


def lay_things(how: Arrangement, laid: list[Item], rng: Rng) -> list[Item]:
    """Return the other things that lie about."""
    low, high = bounds(laid)
    return [
        place_thing(
            name,
            rng,
            low,
            high,
            0.05 * how.side_inches + 0.3,
            int(rng.integers(4)),
            0.0 if name == "clear_ruler" else how.overlap,
        )
        for name in how.things
    ]


def lay_mat(how: Arrangement, laid: list[Item], rng: Rng) -> list[Item]:
    """Return the cutting mat, if any, more or less in the middle under the squares."""
    if how.mat is None:
        return []
    low, high = bounds(laid)
    x, y = (low + high) / 2 + rng.uniform(-1, 1, 2)
    pose = items.pose_at(float(x), float(y), float(rng.uniform(-4, 4)), how.mat)
    return [cutting_mat(rng, how.mat, pose)]


def find_edge(laid: list[Item], rng: Rng) -> Points:
    """Return a table (4, 2) that ends a little beyond what lies on it, on one or two sides."""
    low, high = bounds(laid)
    reach = 20 * float((high - low).max())
    low_x, low_y, high_x, high_y = low[0] - reach, low[1] - reach, high[0] + reach, high[1] + reach
    for side in rng.permutation(4)[: int(rng.integers(1, 3))]:
        beyond = float(rng.uniform(0.02, 0.07) * (high - low).max() + 0.5)
        if side == 0:
            high_x = high[0] + beyond
        elif side == 1:
            high_y = high[1] + beyond
        elif side == 2:
            low_x = low[0] - beyond
        else:
            low_y = low[1] - beyond
    return np.array([[low_x, low_y], [high_x, low_y], [high_x, high_y], [low_x, high_y]])


def _cover(chart: Item, rng: Rng) -> Item:
    """Return a card that hides a corner of a chart."""
    corner = chart.on_table(chart.corners[[int(rng.integers(4))]])[0]
    width = float(rng.uniform(0.3, 0.45)) * chart.size[0] * 2
    pose = items.pose_at(corner[0], corner[1], float(rng.uniform(0, 90)), (width, width * 0.7))
    ink = spectra.mix_ink(rng, float(rng.uniform(20, 80)), 0.6)
    return items.sheet("card", rng, (width, width * 0.7), ink, pose)


def _half_extent(size: tuple[float, float], degrees: float) -> tuple[float, float]:
    c, s = abs(np.cos(np.radians(degrees))), abs(np.sin(np.radians(degrees)))
    return ((size[0] * c + size[1] * s) / 2, (size[0] * s + size[1] * c) / 2)


def _reference_size(part: str, how: Arrangement, rng: Rng) -> tuple[float, float]:
    sizes: dict[str, tuple[tuple[float, float], ...]] = {
        "paper": ((8.5, 11.0), (8.27, 11.69), (8.5, 5.5)),
        "grey": ((8.0, 10.0), (4.0, 5.0)),
        "chart": ((10.9, 7.5), (8.5, 5.84)),
        "fabric": ((18.0, 9.0), (21.0, 11.0)),
    }
    if part not in sizes:
        raise ValueError(f"reference must be of none, {', '.join(sizes)}; got {part!r}")
    choice = sizes[part][int(rng.integers(len(sizes[part])))]
    shrink = 1.0 if how.side_inches >= 5 or part == "paper" else 0.6
    return (choice[0] * shrink, choice[1] * shrink)


def _reference(
    part: str,
    how: Arrangement,
    rng: Rng,
    size: tuple[float, float],
    at: tuple[float, float],
    turn: float,
) -> Item:
    if part == "chart":
        return items.chart(
            rng,
            size[0],
            lambda true_size: items.pose_at(*at, turn, true_size),
            spectra_set=how.chart_reflectances,
            mirrored=how.chart_mirrored,
        )
    pose = items.pose_at(*at, turn, size)
    if part == "fabric":
        known = make_fabric(rng, 1000, str(rng.choice(["solid", "tone_on_tone"])), 92, chroma=0.2)
        return items.cloth(known, rng, size, pose, pinked=False, kind="fabric")
    reflectance = spectra.flat(0.88 if part == "paper" else 0.18)
    return items.sheet(part, rng, size, reflectance, pose)
