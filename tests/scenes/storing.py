"""Writing a rendered picture as the files that cameras and programs make."""

from pathlib import Path

import numpy as np
from PIL import Image

from tests.scenes import spectra
from tests.scenes.icc import make_profile
from tests.scenes.scene import Scene
from tests.scenes.sensor import BLACK, WHITE

LABEL = "Rendered from reflectance spectra; no photograph."


def write_picture(scene: Scene, path: Path) -> None:
    """Write the picture by the path's suffix: .jpg, .png, .tif, .heic or .dng (camera raw).

    Raises
    ------
    ValueError
        If the suffix is another.
    """
    profile = make_profile(scene.truth.profile)
    suffix = path.suffix.lower()
    if suffix in (".jpg", ".jpeg"):
        path.write_bytes(_with_segments(scene.jpeg, profile))
        return
    if suffix == ".dng":
        _write_raw(scene, path)
        return
    picture = Image.fromarray(scene.pixels)
    exif = Image.Exif()
    exif[0x010E] = LABEL
    if suffix == ".png":
        picture.save(path, icc_profile=profile, exif=exif)
    elif suffix in (".tif", ".tiff"):
        picture.save(path, icc_profile=profile, compression="tiff_deflate", description=LABEL)
    elif suffix in (".heic", ".heif"):
        from pillow_heif import register_heif_opener

        register_heif_opener()
        picture.save(
            path,
            format="HEIF",
            quality=scene.truth.options.get("quality", 80),
            icc_profile=profile,
            exif=exif,
        )
    else:
        raise ValueError(f"pictures are .jpg, .png, .tif, .heic or .dng; got {path.name}")


def _with_segments(jpeg: bytes, profile: bytes) -> bytes:
    """Return the JPEG with the profile, and a comment that says what it is, after its head."""
    marker = b"ICC_PROFILE\x00\x01\x01" + profile
    segments = b"\xff\xe2" + (len(marker) + 2).to_bytes(2, "big") + marker
    comment = LABEL.encode("ascii")
    segments += b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment
    head = 4 + int.from_bytes(jpeg[4:6], "big") if jpeg[2:4] == b"\xff\xe0" else 2
    return jpeg[:head] + segments + jpeg[head:]


def _write_raw(scene: Scene, path: Path) -> None:
    """Write a camera raw file (Adobe Digital Negative 1.4: uncompressed mosaic, one colour matrix
    for D65, the neutral as shot)."""
    import tifffile

    raw, camera = scene.camera_raw()
    native = camera.gains.min() / camera.gains
    # The matrix takes XYZ of the scene to the camera's own unbalanced RGB.
    matrix = np.diag(native) @ np.linalg.inv(camera.matrix) @ spectra.SRGB_FROM_XYZ
    tifffile.imwrite(
        path,
        raw,
        photometric=32803,
        planarconfig="contig",
        metadata=None,
        description=LABEL,
        extratags=[
            (254, "I", 1, 0, True),
            (33421, "H", 2, (2, 2), True),
            (33422, "B", 4, bytes((0, 1, 1, 2)), True),
            (50706, "B", 4, bytes((1, 4, 0, 0)), True),
            (50708, "s", 0, "Rendered scene", True),
            (50714, "I", 1, BLACK, True),
            (50717, "I", 1, WHITE, True),
            (50721, "2i", 9, _ratios(matrix), True),
            (50728, "2I", 3, _ratios(native), True),
            (50778, "H", 1, 21, True),
        ],
    )


def _ratios(values: spectra.Array) -> tuple[int, ...]:
    return tuple(part for v in np.ravel(values) for part in (round(float(v) * 100000), 100000))
