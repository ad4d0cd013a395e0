"""Writing a rendered picture as the files that cameras and programs make."""

from pathlib import Path

from PIL import Image

from tests.scenes.icc import make_profile
from tests.scenes.scene import Scene

LABEL = "Rendered from reflectance spectra; no photograph."


def write_picture(scene: Scene, path: Path) -> None:
    """Write the picture by the path's suffix: .jpg, .png, .tif or .heic.

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
            path, format="HEIF", quality=scene.truth.options.get("quality", 80),
            icc_profile=profile, exif=exif,
        )
    else:
        raise ValueError(f"pictures are .jpg, .png, .tif or .heic; got {path.name}")


def _with_segments(jpeg: bytes, profile: bytes) -> bytes:
    """Return the JPEG with the profile, and a comment that says what it is, after its head."""
    marker = b"ICC_PROFILE\x00\x01\x01" + profile
    segments = b"\xff\xe2" + (len(marker) + 2).to_bytes(2, "big") + marker
    comment = LABEL.encode("ascii")
    segments += b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment
    head = 4 + int.from_bytes(jpeg[4:6], "big") if jpeg[2:4] == b"\xff\xe0" else 2
    return jpeg[:head] + segments + jpeg[head:]


