"""The quilt as a scalable drawing with the photographed fabrics inside."""

import base64
from typing import Final
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, linear_from_lab
from colorcore.preview.cloth import Cloth
from colorcore.preview.sewn import Sewn, SewnFacet

_CLOTH_PIXELS_PER_INCH: Final = 24.0


def quilt_svg(
    sewn: Sewn,
    *,
    words: str,
    region: tuple[float, float, float, float] | None = None,
    pixels_per_inch: float = _CLOTH_PIXELS_PER_INCH,
) -> str:
    """Return a quilt, or a region of it, as SVG; one unit of the drawing is one inch.

    ``words`` describe the picture for those who do not see it. Each cloth is carried once.
    """
    left, top, right, bottom = region or (0.0, 0.0, sewn.width, sewn.height)
    shown = [
        f
        for f in sewn.facets
        if f.box[0] < right and f.box[2] > left and f.box[1] < bottom and f.box[3] > top
    ]
    ids = {name: f"cloth{i}" for i, name in enumerate(dict.fromkeys(f.cloth for f in shown))}
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="{_n(left)} {_n(top)} {_n(right - left)} {_n(bottom - top)}" role="img" '
        f"aria-label={quoteattr(words)}><defs>"
    ]
    for name, key in ids.items():
        out.append(_define(sewn.cloths[name], key, pixels_per_inch))
    for number, facet in enumerate(shown):
        if sewn.cloths[facet.cloth].picture is not None:
            out.append(f'<clipPath id="part{number}"><path d="{_path(facet)}"/></clipPath>')
    out.append("</defs>")
    for number, facet in enumerate(shown):
        cloth = sewn.cloths[facet.cloth]
        if cloth.picture is None:
            out.append(f'<path d="{_path(facet)}" fill="{_hex(cloth.lab)}"/>')
        elif cloth.whole:
            out.append(f'<path d="{_path(facet)}" fill="url(#{ids[facet.cloth]})"/>')
        else:
            out.append(
                f'<g clip-path="url(#part{number})"><use href="#{ids[facet.cloth]}" '
                f'transform="{_lay(facet)}"/></g>'
            )
    out.append('<g fill="none" stroke="#000" stroke-opacity=".16" stroke-width=".05">')
    out += [f'<path d="{_path(facet)}"/>' for facet in shown]
    out.append("</g></svg>")
    return "".join(out)


def _define(cloth: Cloth, key: str, pixels_per_inch: float) -> str:
    if cloth.picture is None:
        return ""
    picture = coded8_from_linear(
        np.clip(cloth.linear(min(pixels_per_inch, cloth.pixels_per_inch)), 0, 1)
    )
    width = cloth.picture.shape[1] / cloth.pixels_per_inch
    height = cloth.picture.shape[0] / cloth.pixels_per_inch
    image = f'href="{_jpeg(picture)}" width="{_n(width)}" height="{_n(height)}"'
    if cloth.whole:
        return (
            f'<pattern id="{key}" patternUnits="userSpaceOnUse" width="{_n(width)}" '
            f'height="{_n(height)}"><image {image}/></pattern>'
        )
    return f'<image id="{key}" {image}/>'


def _lay(facet: SewnFacet) -> str:
    """Move the cloth so that its origin lies at the facet's box, then turn it in place."""
    x0, y0, x1, y1 = facet.box
    x, y = facet.origin
    corner = {0: (x0, y0), 90: (x1, y0), 180: (x1, y1), 270: (x0, y1)}[facet.turn]
    turned = f" rotate({facet.turn})" if facet.turn else ""
    return f"translate({_n(corner[0])} {_n(corner[1])}){turned} translate({_n(-x)} {_n(-y)})"


def _path(facet: SewnFacet) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in facet.polygon.tolist()) + "Z"


def _n(value: float) -> str:
    return f"{round(value, 4):g}"


def _hex(lab: tuple[float, float, float]) -> str:
    red, green, blue = coded8_from_linear(np.clip(linear_from_lab(np.array(lab)), 0, 1))
    return f"#{red:02x}{green:02x}{blue:02x}"


def _jpeg(picture: NDArray[np.uint8]) -> str:
    import cv2

    _, data = cv2.imencode(
        ".jpg", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 82]
    )
    return "data:image/jpeg;base64," + base64.b64encode(data.tobytes()).decode("ascii")
