"""Pictures of the quilt against what is known of its parts."""

from xml.etree import ElementTree

import numpy as np
import pytest

from colorcore.color.spaces import lab_from_linear, linear_from_coded
from colorcore.errors import OutputError
from colorcore.piecing import pair
from colorcore.preview import (
    Cloth,
    Sewn,
    SewnFacet,
    View,
    cloth_from_color,
    cloth_from_swatch,
    paint,
    quilt_svg,
    sew,
    side_by_side,
)
from tests.piecing.making import make_quilt

WHITE = (95.0, 0.0, 3.0)


def make_sewn(name: str = "gatepost-stars") -> Sewn:
    layout, cuts, squares = make_quilt(name)
    pairing = pair(layout, cuts, squares, effort=0.1)
    cloths = {i: cloth_from_swatch(s) for i, s in squares.items()}
    cloths["background"] = cloth_from_color("background", WHITE)
    return sew(layout, pairing.supplies, cloths)


def quarters() -> Cloth:
    """A square of 4 in at 10 pixels per inch: red, green, blue and white quarters, clockwise from
    the top left."""
    picture = np.zeros((40, 40, 3), dtype=np.uint8)
    picture[:20, :20] = (255, 0, 0)
    picture[:20, 20:] = (0, 255, 0)
    picture[20:, 20:] = (0, 0, 255)
    picture[20:, :20] = 255
    return Cloth("Q", (50.0, 0.0, 0.0), picture, 10.0)


def square_facet(origin: tuple[float, float], turn: int) -> Sewn:
    polygon = np.array([(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)])
    return Sewn(2.0, 2.0, (SewnFacet(polygon, "Q", origin, turn),), {"Q": quarters()})


@pytest.mark.parametrize(
    ("turn", "top_left"),
    [(0, (255, 0, 0)), (90, (255, 255, 255)), (180, (0, 0, 255)), (270, (0, 255, 0))],
)
def test_cloth_turns_clockwise_in_picture_and_drawing(
    turn: int, top_left: tuple[int, int, int]
) -> None:
    """Turned once clockwise, the lower left corner comes to lie at the top left."""
    sewn = square_facet((1.0, 1.0), turn)
    picture = paint(sewn, 10)
    assert picture.shape == (20, 20, 3)
    assert tuple(int(v) for v in picture[4, 4]) == top_left
    # The drawing moves the same point of the cloth to the same place.
    svg = quilt_svg(sewn, words="a square")
    use = next(e for e in ElementTree.fromstring(svg).iter() if e.tag.endswith("use"))
    transform = use.get("transform") or ""
    corner = {0: (1.0, 1.0), 90: (1.0, 3.0), 180: (3.0, 3.0), 270: (3.0, 1.0)}[turn]
    assert _apply(transform, corner) == pytest.approx((0.0, 0.0), abs=1e-9)


def _apply(transform: str, point: tuple[float, float]) -> tuple[float, float]:
    """Carry a point through 'translate(..) rotate(..) translate(..)', the last one first."""
    import re

    x, y = point
    for name, numbers in reversed(re.findall(r"(\w+)\(([^)]*)\)", transform)):
        values = [float(v) for v in numbers.split()]
        if name == "translate":
            x, y = x + values[0], y + values[1]
        else:
            angle = np.radians(values[0])
            x, y = x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle)
    return x, y


def test_scale_is_true() -> None:
    """A print's dot of 1.5 in is 1.5 in wide in the picture."""
    picture = np.full((100, 100, 3), 255, dtype=np.uint8)
    picture[20:35, 30:45] = 0
    polygon = np.array([(0.0, 0.0), (6.0, 0.0), (6.0, 6.0), (0.0, 6.0)])
    sewn = Sewn(6.0, 6.0, (SewnFacet(polygon, "D", (2.0, 1.0), 0),),
                {"D": Cloth("D", (80.0, 0.0, 0.0), picture, 10.0)})  # fmt: skip
    shown = paint(sewn, 20)
    dark = shown[..., 0] < 128
    rows, columns = np.nonzero(dark[3:-3, 3:-3])
    assert np.ptp(columns) + 1 == pytest.approx(30, abs=2)
    assert (columns.min() + 3) / 20 == pytest.approx(1.0, abs=0.1)
    assert (rows.min() + 3) / 20 == pytest.approx(1.0, abs=0.1)


def test_every_slot_shows_its_own_fabric() -> None:
    layout, cuts, squares = make_quilt("gatepost-stars")
    pairing = pair(layout, cuts, squares, effort=0.1)
    cloths = {i: cloth_from_swatch(s) for i, s in squares.items()}
    cloths["background"] = cloth_from_color("background", WHITE)
    picture = paint(sew(layout, pairing.supplies, cloths), 8)
    assert picture.shape == (560, 480, 3)
    labs = lab_from_linear(linear_from_coded(picture))
    for facet in layout.facets:
        if len(facet.polygon) != 4 or facet.slot is None:
            continue
        (x0, y0), (x1, y1) = facet.polygon.min(axis=0) * 8, facet.polygon.max(axis=0) * 8
        shown = labs[int(y0) + 2 : int(y1) - 1, int(x0) + 2 : int(x1) - 1].reshape(-1, 3)
        wanted = np.array(squares[pairing.supplies[facet.slot].square].lab)
        assert np.abs(np.median(shown, axis=0) - wanted).max() < 3


def test_value_keeps_lightness_and_drops_colour() -> None:
    sewn = make_sewn()
    color = lab_from_linear(linear_from_coded(paint(sewn, 4)))
    value = lab_from_linear(linear_from_coded(paint(sewn, 4, view=View.VALUE)))
    assert np.abs(value[..., 1:]).max() < 0.5
    assert np.abs(value[..., 0] - color[..., 0]).max() < 1.0
    assert np.abs(color[..., 1:]).max() > 10


def test_across_a_room_a_fine_print_blends_to_its_mean() -> None:
    """Stripes of 1/16 in at 20 ft lie far above the eye's finest 60 cycles a degree."""
    picture = np.full((160, 160, 3), 255, dtype=np.uint8)
    picture[:, ::2] = 0
    polygon = np.array([(0.0, 0.0), (8.0, 0.0), (8.0, 8.0), (0.0, 8.0)])
    cloth = Cloth("S", (76.0, 0.0, 0.0), picture, 16.0, whole=True)
    sewn = Sewn(8.0, 8.0, (SewnFacet(polygon, "S", (0.0, 0.0), 0),), {"S": cloth})
    shown = paint(sewn, 16, view=View.ROOM, distance_inches=240)
    middle = lab_from_linear(linear_from_coded(shown[40:-40, 40:-40]))[..., 0]
    assert np.ptp(middle) < 1
    assert middle.mean() == pytest.approx(76.07, abs=1.5)


def test_a_region_is_cut_out_of_the_whole() -> None:
    sewn = make_sewn()
    whole = paint(sewn, 8)
    part = paint(sewn, 8, region=(10, 20, 30, 40))
    assert part.shape == (160, 160, 3)
    apart = np.abs(part.astype(int) - whole[160:320, 80:240].astype(int))
    assert np.percentile(apart, 99) <= 2


def test_drawing_carries_each_cloth_once_and_has_words() -> None:
    sewn = make_sewn()
    svg = quilt_svg(sewn, words='Stars & "chains"')
    root = ElementTree.fromstring(svg)
    assert root.get("aria-label") == 'Stars & "chains"'
    assert root.get("viewBox") == "0 0 60 70"
    images = [e for e in root.iter() if e.tag.endswith("image")]
    assert len(images) == 42
    assert "script" not in svg


def test_two_plans_side_by_side_at_one_scale() -> None:
    small, large = np.zeros((10, 20, 3), np.uint8), np.zeros((30, 40, 3), np.uint8)
    mounted = side_by_side([small, large], gap=5)
    assert mounted.shape == (30, 65, 3)
    assert mounted[20, 10, 0] == 255
    assert mounted[20, 30, 0] == 0
    with pytest.raises(OutputError):
        side_by_side([])


def test_a_picture_beyond_all_bounds_is_refused() -> None:
    sewn = make_sewn()
    with pytest.raises(OutputError, match="too large"):
        paint(sewn, 500)
