"""Bundles, plans and photos made by hand, with every case that a sheet has to show."""

import numpy as np
from numpy.typing import NDArray

from colorcore.bundle import Bundle, PhotoRecord, SeenAgain
from colorcore.color.spaces import coded8_from_linear, linear_from_lab
from colorcore.finding import FoundSquare
from colorcore.stacking import Background, Placement, Plan, PlannedStack
from colorcore.swatch import PaletteColor, Swatch

WHITE = Background("#f4efe6", (94.6, 0.5, 5.0))
PIXELS_PER_SQUARE = 120
GAP = 24


def make_picture(lab: tuple[float, float, float], seed: int) -> NDArray[np.uint8]:
    """Return a dotted print (96, 96, 3) around a colour, the same for the same seed."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:96, 0:96]
    step = int(rng.integers(9, 25))
    dots = ((x % step) - step / 2) ** 2 + ((y % step) - step / 2) ** 2 < (step * 0.3) ** 2
    other = (lab[0] + (25 if lab[0] < 60 else -25), -lab[1], lab[2] / 2)
    colors = np.where(dots[..., None], np.array(other), np.array(lab))
    return coded8_from_linear(linear_from_lab(colors))


def make_swatch(row: int, column: int, *, seed: int = 0, photo: int = 0) -> Swatch:
    """Return a square whose colour follows from its seed."""
    rng = np.random.default_rng([seed, row, column, photo])
    hue = rng.uniform(0, 2 * np.pi)
    chroma = rng.uniform(3, 50)
    lab = (float(rng.uniform(18, 93)), float(chroma * np.cos(hue)), float(chroma * np.sin(hue)))
    left = GAP + column * (PIXELS_PER_SQUARE + GAP)
    top = GAP + row * (PIXELS_PER_SQUARE + GAP)
    turn = rng.uniform(-0.06, 0.06)
    half = PIXELS_PER_SQUARE / 2
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    quad = square @ spin.T + (left + half, top + half)
    found = FoundSquare(quad, row, column, 0.98)
    return Swatch(
        id=found.address if photo == 0 else f"{photo + 1}-{found.address}",
        photo=photo,
        row=row,
        column=column,
        corners=tuple((float(x), float(y)) for x, y in quad),
        lab=lab,
        lab_sd=(0.7, 0.9, 1.1),
        value_spread=float(rng.uniform(0, 50)),
        palette=(PaletteColor(lab, 0.8), PaletteColor((90.0, 0.0, 0.0), 0.2)),
        print_scale_inches=float(rng.uniform(0.3, 4)),
        stripe_degrees=None,
        busyness=float(rng.uniform(1, 15)),
        reads_as_solid=bool(rng.random() < 0.2),
        fabric=int(rng.integers(0, 60)),
        confidence=0.98,
        flags=("between-bands",) if rng.random() < 0.1 else (),
        side_inches=10.0,
        picture=make_picture(lab, int(rng.integers(1 << 30))),
    )


def make_bundle(rows: int = 6, columns: int = 7, *, seed: int = 1, photos: int = 1) -> Bundle:
    """Return a bundle with ``rows`` x ``columns`` squares in each photo."""
    squares = tuple(
        make_swatch(row, column, seed=seed, photo=photo)
        for photo in range(photos)
        for row in range(rows)
        for column in range(columns)
    )
    width, height = photo_size(rows, columns)
    records = tuple(
        PhotoRecord(
            path=f"kitchen table {photo + 1}.jpg",
            sha256=f"{photo:064x}",
            width=width,
            height=height,
            reference="paper",
            trust="B",
            trust_words="order by value is safe; a contrast near a threshold is not",
        )
        for photo in range(photos)
    )
    return Bundle(squares, records, (("bundlestacks", "0.1.0"),), "Harbour at dusk")


def seen_again(square: Swatch, row: int, column: int, photo: int = 1) -> SeenAgain:
    """Return where a square of a bundle lies once more, in another photo."""
    there = make_swatch(row, column, photo=photo)
    return SeenAgain(square.id, there.id, photo, row, column, there.corners)


def photo_size(rows: int, columns: int) -> tuple[int, int]:
    """Return width and height in pixels of the photo that ``make_photo`` draws."""
    step = PIXELS_PER_SQUARE + GAP
    return columns * step + GAP, rows * step + GAP


def make_photo(bundle: Bundle, photo: int = 0) -> NDArray[np.uint8]:
    """Return a picture (h, w, 3) of a bundle's squares on a brown table."""
    record = bundle.photos[photo]
    picture = np.full((record.height, record.width, 3), (136, 104, 78), dtype=np.uint8)
    for square in bundle.squares:
        if square.photo != photo:
            continue
        x, y = (int(v) for v in np.asarray(square.corners).min(axis=0).round())
        side = PIXELS_PER_SQUARE
        index = np.arange(side) * 96 // side
        picture[y : y + side, x : x + side] = square.picture[np.ix_(index, index)]
    return picture


def make_plan(bundle: Bundle, *, background: Background = WHITE, spare: int = 0) -> Plan:
    """Return a plan: the darkest third for the focal units, the others dealt in turn."""
    ordered = sorted(bundle.squares, key=lambda s: s.lab[0])
    lights = [s.lab[0] for s in ordered]
    low, high = np.quantile(lights, [1 / 3, 2 / 3])

    def place(square: Swatch) -> Placement:
        delta = square.lab[0] - background.lab[0]
        size = abs(delta)
        return Placement(
            square=square.id,
            band="dark" if square.lab[0] <= low else "light" if square.lab[0] > high else "medium",
            why="among the darkest of the bundle",
            chance=0.83 if square.lab[0] <= low and size < 70 else None,
            delta_l=delta,
            delta_e=size * 0.8,
            ratio=1 + size / 12,
            verdict="holds" if size >= 20 else "soft" if size >= 10 else "melts",
            locked=square.id == ordered[0].id,
        )

    third = (len(ordered) - spare) // 3
    placed = [place(s) for s in ordered]
    rest = placed[third : 3 * third]
    return Plan(
        pattern="Evening stars",
        size="throw",
        background=background,
        stacks=(
            PlannedStack("Star points", "focal", "dark", tuple(placed[:third])),
            PlannedStack("Fill one", "fill", "mixed", tuple(rest[0::2])),
            PlannedStack("Fill two", "fill", "mixed", tuple(rest[1::2])),
        ),
        left_over=tuple(placed[3 * third :]),
        margins=("B3 and C1 could change places: 0.8 L* apart, uncertainty 1.1",),
        evenness=(("mean L*, fill one less fill two", 1.4), ("spread of L*, ratio", 1.1)),
        second_look=("A4 melts into the background: look at it from across the room",),
        proof="no better deal exists",
    )
