"""Every kind of picture file that a maker may bring, and every way it can be broken."""

import io
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from colorcore.errors import PhotoError
from colorcore.photo import open_photo, photo_from_array
from tests.hardening.amount import forget_peak, peak_megabytes

W, H = 120, 80


@pytest.fixture
def picture() -> NDArray[np.uint8]:
    """A smooth picture without symmetry, so that every turn shows."""
    y, x = np.mgrid[0:H, 0:W]
    channels = [x * 255 / W, y * 255 / H, (x + y) * 255 / (W + H)]
    return np.asarray(np.stack(channels, axis=2), dtype=np.uint8)


def _save(path: Path, pixels: NDArray[np.uint8], **options: object) -> Path:
    Image.fromarray(pixels).save(path, **options)
    return path


@pytest.mark.parametrize(
    ("name", "options", "tolerance"),
    [
        ("a.png", {}, 0),
        ("a.tif", {}, 0),
        ("a.tiff", {"compression": "tiff_lzw"}, 0),
        ("a.jpg", {"quality": 95}, 4),
        ("a.jpeg", {"quality": 95, "progressive": True}, 4),
        ("a.webp", {"lossless": True}, 0),
    ],
)
def test_opens_every_kind(tmp_path, picture, name, options, tolerance):
    photo = open_photo(_save(tmp_path / name, picture, **options))
    assert (photo.width, photo.height) == (W, H)
    assert np.abs(photo.pixels.astype(int) - picture).max() <= tolerance
    assert photo.encoding.is_srgb
    assert photo.notes == ()


@pytest.mark.parametrize("width", [W, W - 7])
def test_opens_heic(tmp_path, picture, width):
    import pillow_heif

    path = tmp_path / "a.heic"
    picture = np.ascontiguousarray(picture[:, :width])
    pillow_heif.from_pillow(Image.fromarray(picture)).save(path, quality=95)
    photo = open_photo(path)
    assert photo.pixels.shape == picture.shape
    assert np.abs(photo.pixels.astype(int) - picture).mean() < 2


def test_the_content_decides_not_the_name(tmp_path, picture):
    path = _save(tmp_path / "a.png", picture)
    assert np.array_equal(open_photo(path.rename(tmp_path / "a.jpg")).pixels, picture)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp", "a.tif"])
def test_turns_upright(tmp_path, picture, orientation, name):
    exif = Image.Exif()
    exif[0x0112] = orientation
    options = {"a.jpg": {"quality": 97, "subsampling": 0}, "a.webp": {"lossless": True}}
    # The stored pixels that an upright picture has under each orientation (CIPA DC-008, 4.6.5).
    stored = {
        1: picture, 2: picture[:, ::-1], 3: picture[::-1, ::-1], 4: picture[::-1],
        5: picture.swapaxes(0, 1), 6: np.rot90(picture), 7: np.rot90(picture, 2).swapaxes(0, 1),
        8: np.rot90(picture, -1),
    }[orientation]  # fmt: skip
    stored = np.ascontiguousarray(stored)
    path = _save(tmp_path / name, stored, exif=exif, **options.get(name, {}))
    got = open_photo(path).pixels.astype(int)
    assert got.shape == picture.shape
    assert np.abs(got - picture).mean() < 2


@pytest.mark.parametrize("suffix", [".png", ".tif"])
@pytest.mark.parametrize("grey", [False, True])
def test_keeps_sixteen_bits(tmp_path, suffix, grey):
    ramp = np.linspace(0, 65535, H * W).astype(np.uint16).reshape(H, W)
    values = ramp if grey else np.dstack([ramp, ramp[::-1], ramp[:, ::-1]])
    path = tmp_path / f"a{suffix}"
    assert cv2.imwrite(str(path), values if grey else np.ascontiguousarray(values[..., ::-1]))
    photo = open_photo(path)
    assert photo.pixels.dtype == np.uint16
    assert np.array_equal(photo.pixels, np.dstack([ramp] * 3) if grey else values)
    eight = photo_from_array((photo.pixels // 257).astype(np.uint8))
    assert np.abs(photo.linear(0, 0, W, H) - eight.linear(0, 0, W, H)).max() < 0.01


def test_a_chunk_that_promises_more_than_the_file_holds_is_no_reason_to_make_room(tmp_path):
    values = np.full((H, W, 3), 40000, np.uint16)
    data = bytearray(cv2.imencode(".png", values)[1].tobytes())
    at = data.index(b"IDAT") - 4
    data[at : at + 4] = struct.pack(">I", 0xBE000000)
    (tmp_path / "a.png").write_bytes(data)
    forget_peak()
    before = peak_megabytes()
    with pytest.raises(PhotoError, match="cut short; copy or export it again"):
        open_photo(tmp_path / "a.png")
    assert peak_megabytes() - before < 300


@pytest.mark.skipif(peak_megabytes() == 0, reason="nobody tells here how much memory is used")
@pytest.mark.parametrize("suffix", [".png", ".tif"])
def test_a_large_picture_is_not_copied_over_and_over(tmp_path, suffix):
    """Of 30 megapixels four bytes a pixel where it is decoded, three handed on in pieces and three
    as a whole."""
    options = {"compression": "tiff_lzw"} if suffix == ".tif" else {}
    Image.new("RGB", (6000, 5000), (90, 120, 60)).save(tmp_path / f"a{suffix}", **options)
    forget_peak()
    before = peak_megabytes()
    assert open_photo(tmp_path / f"a{suffix}").width == 6000
    assert peak_megabytes() - before < 12 * 30


@pytest.mark.parametrize("bits", [np.float32, np.int32])
def test_more_than_sixteen_bits_are_refused_before_they_are_decoded(tmp_path, bits, monkeypatch):
    Image.fromarray(np.ones((H, W), bits)).save(tmp_path / "a.tif")
    monkeypatch.setattr(cv2, "imdecode", lambda *_: pytest.fail("it was decoded"))
    with pytest.raises(PhotoError, match="8 or 16 bits a channel"):
        open_photo(tmp_path / "a.tif")


@pytest.mark.parametrize("mode", ["L", "1", "P", "LA", "RGBA"])
def test_other_modes_of_pixels(tmp_path, picture, mode):
    grey = np.repeat(np.asarray(Image.fromarray(picture).convert("L"))[..., None], 3, axis=2)
    image = Image.fromarray(picture).convert(mode)
    image.save(tmp_path / "a.png")
    got = open_photo(tmp_path / "a.png").pixels
    expected = {"L": grey, "LA": grey, "RGBA": picture}.get(mode)
    if expected is None:
        expected = np.asarray(image.convert("RGB"))
    assert np.array_equal(got, expected)


def test_transparent_parts_are_white_and_said(tmp_path, picture):
    alpha = np.full((H, W), 255, np.uint8)
    alpha[:40] = 0
    Image.fromarray(np.dstack([picture, alpha])).save(tmp_path / "a.png")
    photo = open_photo(tmp_path / "a.png")
    assert (photo.pixels[:40] == 255).all()
    assert np.array_equal(photo.pixels[40:], picture[40:])
    assert "transparent" in photo.notes[0]


def test_inks_without_a_profile_are_approximate_and_said(tmp_path):
    Image.new("CMYK", (W, H), (0, 0, 0, 0)).save(tmp_path / "a.jpg", quality=95)
    photo = open_photo(tmp_path / "a.jpg")
    assert photo.pixels.min() >= 250
    assert "approximate" in photo.notes[0]


def test_only_the_first_of_several_pictures(tmp_path, picture):
    other = Image.new("RGB", (W, H), "red")
    Image.fromarray(picture).save(tmp_path / "a.tif", save_all=True, append_images=[other])
    photo = open_photo(tmp_path / "a.tif")
    assert np.array_equal(photo.pixels, picture)
    assert "first" in photo.notes[0]


def test_a_photo_with_a_second_one_behind_it(tmp_path, picture):
    """Phones append a gain map or a film behind the end of the picture."""
    path = _save(tmp_path / "a.jpg", picture, quality=95)
    path.write_bytes(path.read_bytes() + b"\0\0\0\x18ftypmp42" + bytes(1000))
    assert open_photo(path).pixels.shape == (H, W, 3)


def test_large_pictures_are_reduced_and_it_is_said(tmp_path, picture):
    large = cv2.resize(picture, (W * 10, H * 10), interpolation=cv2.INTER_CUBIC)
    for name in ("a.jpg", "a.png"):
        photo = open_photo(_save(tmp_path / name, large), max_pixels=H * W * 30)
        assert photo.width * photo.height <= H * W * 30
        assert photo.width / photo.height == pytest.approx(W / H, rel=0.02)
        assert "megapixels" in photo.notes[0]
        back = cv2.resize(photo.pixels, (W, H), interpolation=cv2.INTER_AREA)
        assert np.abs(back.astype(int) - picture).mean() < 3


def test_a_jpeg_is_no_larger_than_asked_where_its_sides_do_not_divide(tmp_path, picture):
    odd = cv2.resize(picture, (401, 399))
    photo = open_photo(_save(tmp_path / "a.jpg", odd), max_pixels=40_000)
    assert photo.width * photo.height <= 40_000
    assert len(photo.notes) == 1


def _message(path: Path) -> str:
    with pytest.raises(PhotoError) as caught:
        open_photo(path)
    text = str(caught.value)
    assert str(path) in text
    assert text.endswith(".")
    assert "\n" not in text
    return text


def test_no_such_file(tmp_path):
    assert "no such file" in _message(tmp_path / "nowhere.jpg")


def test_a_folder(tmp_path):
    assert "folder" in _message(tmp_path)


def test_empty(tmp_path):
    (tmp_path / "a.jpg").touch()
    assert "empty" in _message(tmp_path / "a.jpg")


@pytest.mark.parametrize(
    "content", [b"hello, this is a text", b"GIF89a" + bytes(99), b"%PDF-1.7", b"\xff\xd8\xff"]
)
def test_not_a_picture(tmp_path, content):
    (tmp_path / "a.jpg").write_bytes(content)
    _message(tmp_path / "a.jpg")


@pytest.mark.parametrize("shape", [(1, 1), (1, 60000), (63, 500)])
def test_too_small(tmp_path, shape):
    path = _save(tmp_path / "a.png", np.zeros((*shape, 3), np.uint8))
    assert "64 pixels" in _message(path)


def test_a_bomb_is_refused_before_decoding(tmp_path):
    """A PNG head that promises 40,000 x 40,000 pixels, and a few bytes behind it."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        crc = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + crc

    head = struct.pack(">IIBBBBB", 40000, 40000, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(100))) + chunk(b"IEND", b"")
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + body)
    assert "smaller" in _message(tmp_path / "a.png")


@pytest.mark.parametrize("name", ["a.jpg", "p.jpg", "a.png", "a.tif", "a.webp", "a.heic"])
def test_cut_short_at_every_kind_of_place(tmp_path, name):
    noisy = np.random.default_rng(1).integers(0, 255, (H, W, 3), dtype=np.uint8)
    buffer = io.BytesIO()
    if name == "a.heic":
        import pillow_heif

        pillow_heif.from_pillow(Image.fromarray(noisy)).save(buffer)
    else:
        Image.fromarray(noisy).save(
            buffer,
            {"jpg": "JPEG", "png": "PNG", "tif": "TIFF", "webp": "WEBP"}[name[2:]],
            **({"progressive": True} if name[0] == "p" else {}),
        )
    whole = buffer.getvalue()
    path = tmp_path / name
    for share in (0.01, 0.05, 0.2, 0.5, 0.8, 0.95, 0.99):
        path.write_bytes(whole[: int(len(whole) * share)])
        _message(path)


def test_damaged_orientation_does_not_cost_the_picture(tmp_path, picture):
    path = _save(tmp_path / "a.jpg", picture, exif=b"Exif\0\0MM\0*\0\0\0\x08\xff\xff\xff\xff")
    assert open_photo(path).pixels.shape == (H, W, 3)


def test_small_pictures_average_light():
    checks = np.zeros((400, 600, 3), np.uint8)
    checks[::2, ::2] = checks[1::2, 1::2] = 255
    photo = photo_from_array(checks)
    small, scale = photo.small_linear(300)
    assert small.shape == (200, 300, 3)
    assert scale == pytest.approx(0.5)
    assert np.allclose(small, 0.5, atol=1e-3)


def test_small_linear_keeps_places(picture):
    """Bands are joined without a shift: a tall ramp stays a ramp."""
    ramp = np.repeat(np.linspace(0, 65535, 3001).astype(np.uint16)[:, None], 70, axis=1)
    photo = photo_from_array(np.dstack([ramp] * 3))
    small, _ = photo.small_linear(500)
    whole = cv2.resize(
        photo.linear(0, 0, 70, 3001), small.shape[1::-1], interpolation=cv2.INTER_AREA
    )
    assert np.abs(small - whole).max() < 2e-3


@pytest.mark.parametrize("size", [(3001, 2203), (3000, 2200), (2999, 4001)])
def test_small_keeps_places(size):
    """Reduced by whole numbers first, a ramp stays the ramp that it is when reduced at once."""
    height, width = size
    down, across = np.mgrid[0:height, 0:width].astype(np.float32)
    ramp = np.dstack([255 * across / width, 255 * down / height, np.full(size, 90, np.float32)])
    photo = photo_from_array(np.round(ramp).astype(np.uint8))
    small, scale = photo.small(700)
    assert max(small.shape) == 700
    assert scale == pytest.approx(700 / max(size))
    at_once = cv2.resize(photo.pixels, small.shape[1::-1], interpolation=cv2.INTER_AREA)
    assert np.abs(small.astype(int) - at_once).max() <= 2


def test_clipped_pixels_are_known():
    pixels = np.full((100, 100, 3), 128, np.uint8)
    pixels[:10, :, 0] = 255
    pixels[10:20] = 0
    mask = photo_from_array(pixels).clipped(0, 0, 100, 100)
    assert mask[:20].all()
    assert not mask[20:].any()
