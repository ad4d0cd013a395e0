"""How fast colours are converted, compared and filtered: python -m tests.bench.color_speed

Every figure is a ratio to a floor measured in the same run, best of seven.
"""

import warnings

import cv2
import numpy as np

from colorcore.color.difference import ciede2000, cmc
from colorcore.color.spaces import lab_from_linear
from colorcore.color.viewing import filter_for_distance
from tests.bench.timing import best

RUNS = 7


def main() -> None:
    cv2.setNumThreads(1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    from skimage.color import deltaE_ciede2000, deltaE_cmc, xyz2lab

    rng = np.random.default_rng(3)
    lab = rng.uniform([0, -90, -90], [100, 90, 90], (100_000, 3))
    other = rng.uniform([0, -90, -90], [100, 90, 90], (100_000, 3))

    print(f"{'100,000 pairs':32}{'ms':>8}{'of scikit-image':>17}{'of colour-science':>19}")
    rows = (
        ("CIEDE2000", ciede2000, deltaE_ciede2000, colour.difference.delta_E_CIE2000),
        (
            "CMC(2:1)",
            cmc,
            lambda a, b: deltaE_cmc(a, b, 2, 1),
            lambda a, b: colour.difference.delta_E_CMC(a, b, l=2, c=1),
        ),
    )
    for name, ours, image_library, color_library in rows:
        time_ours = best(lambda f=ours: f(lab, other), RUNS)  # type: ignore[misc]
        time_image = best(lambda f=image_library: f(lab, other), RUNS)  # type: ignore[misc]
        time_color = best(lambda f=color_library: f(lab, other), RUNS)  # type: ignore[misc]
        print(
            f"{name:32}{1e3 * time_ours:8.1f}{time_ours / time_image:17.2f}"
            f"{time_ours / time_color:19.2f}"
        )
    time_one = best(lambda: ciede2000(lab[0], other), RUNS)
    print(f"{'CIEDE2000, one against all':32}{1e3 * time_one:8.1f}")

    picture = rng.uniform(0, 1, (1000, 1000, 3)).astype(np.float32)
    floor = best(lambda: cv2.GaussianBlur(picture, (0, 0), 2.0), RUNS)
    print(f"\n{'1000 x 1000 pixels':32}{'ms':>8}{'of one Gaussian blur, sigma 2':>31}")
    mask = rng.uniform(0, 1, (1000, 1000)) > 0.1
    for label, call in (
        ("linear light to CIELAB, float32", lambda: lab_from_linear(picture)),
        ("the same by scikit-image", lambda: xyz2lab(picture)),
        ("seen from 6 ft at 40 ppi", lambda: filter_for_distance(picture, 40.0)),
        ("the same with a mask", lambda: filter_for_distance(picture, 40.0, valid=mask)),
    ):
        taken = best(call, RUNS)
        print(f"{label:32}{1e3 * taken:8.1f}{taken / floor:31.1f}")


if __name__ == "__main__":
    main()
