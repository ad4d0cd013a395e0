"""How well the maker's tools order values: python -m tests.bench.value_order

Kendall's tau against the published L* (D50) of the 24-patch chart for what people use to judge
value: a photo turned grey (Rec. 601 luma of the coded values), a red viewer and a green viewer (the
coded red or green channel alone), and for ours (L* computed from the same 8-bit picture).

Two ways to put the chart into sRGB: colour-science's own conversion as it stands, which leaves the
cyan patch's red far below zero, where no picture file can hold it; and as a file does hold it,
adapted by Bradford, clipped and rounded to 8 bits. Ours misses 1.00 by near-ties: the cyan patch
is clipped, and patches within a unit of L* change places between the D50 of the table and D65.
"""

import warnings

import numpy as np
from numpy.typing import NDArray

from colorcore.color.brightness import lightness_with_chroma
from colorcore.color.charts import (
    AFTER_2014,
    EDITIONS,
    PATCH_NAMES,
    chart_lab_d50,
    chart_linear,
)
from colorcore.color.spaces import (
    adapt_white,
    coded8_from_linear,
    lab_from_linear,
    linear_from_coded,
    linear_from_xyz,
    xyz_from_lab,
)

LUMA = np.array([0.299, 0.587, 0.114])
"""ITU-R BT.601-7, 2.5.1."""


def unclipped(edition: str) -> NDArray[np.float64]:
    """Coded sRGB (24, 3), out of range where the patch is out of gamut."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

    table = colour.CCS_COLOURCHECKERS[f"ColorChecker24 - {edition.title()}"]
    xyz = colour.xyY_to_XYZ(np.array(list(table.data.values())))
    return np.asarray(colour.XYZ_to_sRGB(xyz, table.illuminant))


def bradford(edition: str) -> NDArray[np.float64]:
    """Return the chart as linear sRGB (24, 3), adapted to D65 by Bradford alone."""
    adapted = adapt_white(xyz_from_lab(chart_lab_d50(edition), "D50"), "D50", "D65")
    return np.asarray(linear_from_xyz(adapted))


def main() -> None:
    from scipy.stats import kendalltau

    print(f"{'24-patch chart':22}{'picture':26}{'grey photo':>11}{'red':>7}{'green':>7}{'ours':>7}")
    for edition in EDITIONS:
        published = chart_lab_d50(edition)[:, 0]
        pictures = {
            "as computed, unclipped": unclipped(edition),
            "8-bit file, Bradford": coded8_from_linear(bradford(edition)) / 255,
        }
        for name, coded in pictures.items():
            ours = lab_from_linear(linear_from_coded(coded))[:, 0]
            taus = [
                kendalltau(values, published).statistic
                for values in (coded @ LUMA, coded[:, 0], coded[:, 1], ours)
            ]
            figures = "".join(
                f"{tau:{width}.2f}" for tau, width in zip(taus, (11, 7, 7, 7), strict=True)
            )
            print(f"{edition:22}{name:26}{figures}")

    labs = lab_from_linear(chart_linear(AFTER_2014))
    gain = lightness_with_chroma(labs) - labs[:, 0]
    most = np.argsort(-gain)[:5]
    print("\nlook lighter than their L* (Fairchild and Pirrotta 1991):")
    print(", ".join(f"{PATCH_NAMES[n]} +{gain[n]:.0f}" for n in most))


if __name__ == "__main__":
    main()
