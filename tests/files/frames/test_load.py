"""Frames from files: every kind of FITS image gives the same pixels, every broken one a line."""

import bz2
import contextlib
import gzip
import time
import tracemalloc
import zipfile

import numpy as np
import pytest
from astropy import units as u
from astropy.io import fits

from planner.errors import InvalidInputError
from planner.files.frames.load import read_frame
from planner.files.reading import InMemory

COUNTS = np.random.default_rng(1).integers(900, 60000, (120, 150)).astype(np.uint16)


def written(folder, data, name="frame.fits", compressed=False, **header):
    path = folder / name
    unit = fits.CompImageHDU(data) if compressed else fits.PrimaryHDU(data)
    for key, value in header.items():
        unit.header[key.replace("_", "-")] = value
    (fits.HDUList([fits.PrimaryHDU(), unit]) if compressed else unit).writeto(path)
    return path


@pytest.mark.parametrize("kind", ["u16", "i16", "i32", "f32", "f64", "u8", "compressed", "gzip", "extension"])
def test_every_kind_gives_the_same_pixels(tmp_path, kind):
    counts = COUNTS // 256 if kind == "u8" else COUNTS // 2 if kind == "i16" else COUNTS
    types = {"u8": np.uint8, "i16": np.int16, "i32": np.int32, "f32": np.float32, "f64": float}
    path = written(tmp_path, counts.astype(types.get(kind, np.uint16)), compressed=kind == "compressed")
    if kind == "gzip":
        packed = tmp_path / "frame.fits.gz"
        packed.write_bytes(gzip.compress(path.read_bytes()))
        path = packed
    if kind == "extension":
        path = tmp_path / "extension.fits"
        fits.HDUList([fits.PrimaryHDU(), fits.ImageHDU(counts)]).writeto(path)
    frame = read_frame(path)
    assert frame.image.dtype == np.float32
    assert frame.image.flags.c_contiguous
    assert np.array_equal(frame.image, counts.astype(np.float32))
    assert frame.pixel_step == 1


def test_compressed_floats_come_back_within_their_noise(tmp_path):
    data = np.random.default_rng(2).normal(1000, 10, (120, 150)).astype(np.float32)
    frame = read_frame(written(tmp_path, data, compressed=True))
    assert np.abs(frame.image - data).max() < 5  # half a quantum: the noise over 4, at most


def test_scaled_integers_and_blanks(tmp_path):
    unit = fits.PrimaryHDU(np.arange(20 * 30, dtype=np.int16).reshape(20, 30))
    unit.header["BSCALE"], unit.header["BZERO"], unit.header["BLANK"] = 0.5, 100.0, 7
    path = tmp_path / "scaled.fits"
    unit.writeto(path)
    with fits.open(path) as units:
        expected = units[0].data  # astropy's own scaling
    image = read_frame(path).image
    assert np.isnan(image[0, 7])
    assert np.array_equal(image, expected.astype(np.float32), equal_nan=True)


def test_an_image_of_a_thousand_axes_is_refused_in_a_short_line(tmp_path):
    cards = [("SIMPLE", "T"), ("BITPIX", 8), ("NAXIS", 999), *((f"NAXIS{axis}", 1) for axis in range(1, 1000))]
    text = "".join(f"{name:8}= {value:>20}".ljust(80) for name, value in cards) + "END".ljust(80)
    path = tmp_path / "axes.fits"
    path.write_bytes(text.ljust(-(-len(text) // 2880) * 2880).encode() + bytes(2880))
    with pytest.raises(InvalidInputError, match=r"it holds 1 × 1 × 1 × 1 × 1 × … \(999 axes\)\. Give") as caught:
        read_frame(path)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(("zero", "scale"), [(1e308, 1e308), (2e38, 3e33), (0.0, 1e20)])
def test_values_that_no_camera_counts_hold_nothing(tmp_path, zero, scale):
    # 1e308 times any count is beyond a double, 3e33 times 30 000 near the end of float32; a warning is an error here.
    path = tmp_path / "huge.fits"
    fits.PrimaryHDU(COUNTS.astype(np.int16)).writeto(path)
    with fits.open(path, mode="update", do_not_scale_image_data=True) as units:
        units[0].header["BZERO"], units[0].header["BSCALE"] = zero, scale
    with pytest.raises(InvalidInputError, match=r"huge\.fits: holds no finite pixel within"):
        read_frame(path)


def test_one_huge_value_costs_its_pixel(tmp_path):
    counts = COUNTS.astype(float)
    counts[3, 4], counts[5, 6] = 1e300, -1e30
    frame = read_frame(written(tmp_path, counts))
    assert np.argwhere(np.isnan(frame.image)).tolist() == [[3, 4], [5, 6]]
    assert np.array_equal(np.isnan(frame.image) | (frame.image == COUNTS), np.ones(COUNTS.shape, dtype=bool))


@pytest.mark.parametrize("last", [False, True])
def test_one_plane_of_colour(tmp_path, last):
    planes = np.stack([COUNTS, COUNTS // 2, COUNTS // 3])
    path = written(tmp_path, np.moveaxis(planes, 0, 2) if last else planes)
    for index, colour in enumerate(("red", "green", "blue")):
        frame = read_frame(path, colour=colour)
        assert np.array_equal(frame.image, planes[index].astype(np.float32))
        assert frame.colour == colour


@pytest.mark.parametrize(("mosaic", "colour", "row", "column"), [
    ("RGGB", "red", 0, 0), ("RGGB", "green", 0, 1), ("RGGB", "blue", 1, 1), ("BGGR", "red", 1, 1),
    ("GRBG", "green", 0, 0), ("GRBG", "red", 0, 1), ("GBRG", "red", 1, 0), ("gbrg", "blue", 0, 1),
])
def test_one_colour_of_a_mosaic(tmp_path, mosaic, colour, row, column):
    frame = read_frame(written(tmp_path, COUNTS, BAYERPAT=mosaic), colour=colour)
    assert np.array_equal(frame.image, COUNTS[row::2, column::2])
    assert frame.pixel_step == 2
    if colour == "green":
        other, columns, rows = frame.second
        assert np.array_equal(other, COUNTS[row + rows::2, column + columns::2])
    assert read_frame(tmp_path / "frame.fits", mosaic="none").pixel_step == 1


def test_a_mosaic_that_nobody_named_is_noticed(tmp_path):
    random = np.random.default_rng(3)
    plain = random.normal(1000, 10, (200, 240)).astype(np.float32)
    assert read_frame(written(tmp_path, plain)).notes == ()
    coloured = plain.copy()
    coloured[::2, ::2] += 60
    path = written(tmp_path, coloured, name="coloured.fits")
    assert "look like a colour mosaic" in read_frame(path).notes[0]
    assert read_frame(path, mosaic="none").notes == ()
    assert "The green pixels of the colour mosaic" in read_frame(path, mosaic="RGGB").notes[0]


def test_the_header_is_read(tmp_path):
    path = written(tmp_path, COUNTS, EXPTIME=60.0, DATE_OBS="2026-03-14T21:15:30.5", RA=150.5, DEC="-12.5",
                   FILTER=" Green ", SATURATE=61000)
    frame = read_frame(path)
    assert frame.exposure == 60 * u.s
    assert frame.time == "2026-03-14T21:15:30.500000"
    assert (frame.ra, frame.dec) == (150.5 * u.deg, -12.5 * u.deg)
    assert frame.filter_name == "Green"
    assert frame.saturation == 61000
    assert frame.sky is None
    assert frame.image_scale is None


def test_a_header_in_hours_and_degrees(tmp_path):
    frame = read_frame(written(tmp_path, COUNTS, RA="10 02 00", DEC="-12 30 00"))
    assert frame.ra.to_value(u.deg) == pytest.approx(150.5)
    assert frame.dec.to_value(u.deg) == pytest.approx(-12.5)


@pytest.mark.parametrize("header", [
    {"EXPTIME": -5.0}, {"EXPTIME": "long"}, {"DATE_OBS": "yesterday"}, {"DATE_OBS": "26/10/92"},
    {"RA": 999.0, "DEC": 5.0}, {"RA": "x", "DEC": "y"}, {"CTYPE1": "RA---TAN", "CTYPE2": "nonsense"}, {"CTYPE1": 5},
    {"SATURATE": "no"}, {"BAYERPAT": "XYZ"}, {"DATE_OBS": "2026-03-14"},
])
def test_a_header_of_nonsense_counts_as_not_given(tmp_path, header):
    frame = read_frame(written(tmp_path, COUNTS, **header))
    assert frame.exposure is None
    assert frame.time is None
    assert frame.ra is None
    assert frame.sky is None
    assert frame.pixel_step == 1


@pytest.mark.parametrize(("turn", "flip"), [(0, 1), (30, 1), (200, -1)])
def test_world_coordinates(tmp_path, turn, flip):
    # By hand: 2 arcsec per pixel, rows grow towards position angle `turn`, east on the left of them unless flipped.
    angle = np.radians(turn)
    scale = 2 / 3600
    header = {"CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN", "CRVAL1": 150.0, "CRVAL2": 40.0, "CRPIX1": 75.5,
              "CRPIX2": 60.5, "CD1_1": -flip * scale * np.cos(angle), "CD1_2": scale * np.sin(angle),
              "CD2_1": flip * scale * np.sin(angle), "CD2_2": scale * np.cos(angle)}
    path = tmp_path / "wcs.fits"
    unit = fits.PrimaryHDU(COUNTS)
    unit.header.update(header)
    unit.writeto(path)
    frame = read_frame(path)
    assert frame.image_scale.value == pytest.approx(2, rel=1e-4)
    assert frame.ra.to_value(u.deg) == pytest.approx(150, abs=1e-6)
    east, north = frame.sky @ [0.0, 1.0]
    assert np.degrees(np.arctan2(east, north)) % 360 == pytest.approx(turn, abs=0.01)
    east, north = frame.sky @ [-1.0, 0.0]
    assert np.degrees(np.arctan2(east, north)) % 360 == pytest.approx((turn + 90 * flip) % 360, abs=0.01)


def broken(folder, kind):
    """Return a path that holds no usable frame."""
    path = folder / "bad.fits"
    good = written(folder, COUNTS, name="good.fits")
    if kind == "text":
        path.write_text("not a frame\n")
    elif kind == "empty":
        path.write_bytes(b"")
    elif kind == "fake":
        path.write_bytes(b"SIMPLE  = nonsense" * 200)
    elif kind == "cut":
        path.write_bytes(good.read_bytes()[:20000])
    elif kind == "cut header":
        path.write_bytes(good.read_bytes()[:1000])
    elif kind == "cut compressed":
        whole = written(folder, COUNTS, name="whole.fits", compressed=True).read_bytes()
        path.write_bytes(whole[: len(whole) * 2 // 3])
    elif kind == "folder":
        path.mkdir()
    elif kind == "table":
        table = fits.BinTableHDU.from_columns([fits.Column("a", "E", array=np.zeros(4))])
        fits.HDUList([fits.PrimaryHDU(), table]).writeto(path)
    else:
        arrays = {"line": np.arange(100.0), "nan": np.full((50, 50), np.nan), "small": np.zeros((10, 40), np.float32),
                  "cube": np.zeros((5, 40, 40), np.float32), "four axes": np.zeros((2, 3, 40, 40), np.float32),
                  "nothing": None}
        fits.PrimaryHDU(arrays[kind]).writeto(path)
    return path


@pytest.mark.parametrize(("kind", "words"), [
    ("text", "is not a FITS file"), ("empty", "is empty"), ("fake", "has a header without an end"),
    ("cut", "is cut short: 5"), ("cut header", "is not a readable FITS file"), ("cut compressed", "is cut short"),
    ("folder", "must be a file"), ("table", "holds no image"), ("line", "must hold an image with rows and columns"),
    ("nan", "holds no finite pixel"), ("small", "must have at least 16 rows"), ("cube", "must have one plane or three"),
    ("four axes", "must hold an image with rows and columns"), ("nothing", "holds no image"),
])
def test_broken_files_are_one_line(tmp_path, kind, words):
    with pytest.raises(InvalidInputError) as caught:
        read_frame(broken(tmp_path, kind))
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("path", ["/no/such.fits", "a\0b", ""])
def test_paths_that_are_none(path):
    with pytest.raises(InvalidInputError, match=r"is not there|cannot be read|must be a file"):
        read_frame(path)


@pytest.mark.parametrize("words", [{"colour": "purple"}, {"mosaic": "RGBG"}])
def test_words_are_checked(tmp_path, words):
    with pytest.raises(InvalidInputError, match="must be"):
        read_frame(written(tmp_path, COUNTS), **words)


@pytest.mark.parametrize("seed", range(40))
def test_damaged_files_never_end_in_a_traceback(tmp_path, seed):
    random = np.random.default_rng(seed)
    raw = bytearray(written(tmp_path, COUNTS, compressed=seed % 2 == 1, EXPTIME=5.0, CTYPE1="RA---TAN").read_bytes())
    for place in random.integers(0, min(len(raw), 9000), 60):
        raw[place] = random.integers(0, 256)
    path = tmp_path / "damaged.fits"
    path.write_bytes(bytes(raw[: random.integers(3000, len(raw) + 1)]))
    with contextlib.suppress(InvalidInputError):
        assert read_frame(path).image.ndim == 2


def _header(**cards):
    lines = [f"{key:<8}= {value:>20}".ljust(80) for key, value in {"SIMPLE": "T", "BITPIX": 16, **cards}.items()]
    return ("".join(lines) + "END".ljust(80)).ljust(2880).encode()


GREEDY = {
    "axes": (_header(NAXIS=99999999999), "must have at most 999 axes"),
    "pixels": (_header(NAXIS=2, NAXIS1=10**9, NAXIS2=10**9), "at most 400 million pixels"),
    "digits": (_header(NAXIS=2, NAXIS1="9" * 20, NAXIS2="9" * 20), "at most 400 million pixels"),
    "no end": (_header(NAXIS=2, NAXIS1=4, NAXIS2=4).replace(b"END", b"   ") * 3, "without an end"),
}


@pytest.mark.parametrize("pack", [lambda data: data, gzip.compress, bz2.compress], ids=["plain", "gzip", "bzip2"])
@pytest.mark.parametrize("kind", GREEDY)
def test_a_header_that_asks_for_too_much_is_refused_at_once(tmp_path, kind, pack):
    data, match = GREEDY[kind]
    path = tmp_path / "greedy.fits"
    path.write_bytes(pack(data))
    start = time.process_time()
    for given in (path, InMemory("greedy.fits", pack(data))):
        with pytest.raises(InvalidInputError, match=match):
            read_frame(given)
    assert time.process_time() - start < 1


def test_a_packed_file_is_unpacked_no_further_than_its_image(tmp_path):
    whole = written(tmp_path, COUNTS).read_bytes()
    bomb = tmp_path / "bomb.fits.gz"
    with gzip.open(bomb, "wb") as file:  # 400 MB of zeros behind the image
        file.write(whole)
        for _ in range(400):
            file.write(bytes(10**6))
    tracemalloc.start()
    try:
        frame = read_frame(bomb)
        assert tracemalloc.get_traced_memory()[1] < 20e6
    finally:
        tracemalloc.stop()
    assert np.array_equal(frame.image, COUNTS.astype(np.float32))


@pytest.mark.parametrize("pack", ["bzip2", "zip"])
def test_other_packings_are_read(tmp_path, pack):
    path = written(tmp_path, COUNTS)
    packed = tmp_path / "packed.fits"
    if pack == "zip":
        with zipfile.ZipFile(packed, "w") as archive:
            archive.write(path, "frame.fits")
    else:
        packed.write_bytes(bz2.compress(path.read_bytes()))
    for given in (packed, InMemory("packed.fits", packed.read_bytes())):
        assert np.array_equal(read_frame(given).image, COUNTS.astype(np.float32))


def test_the_scale_of_a_header_is_that_of_its_pixels_behind_its_optics(tmp_path):
    # 206.265 × 4 µm / 1000 mm
    path = written(tmp_path, COUNTS, name="scale.fits", XPIXSZ=4.0, FOCALLEN=1000.0)
    assert read_frame(path).image_scale.to_value(u.arcsec / u.pix) == pytest.approx(0.82506, rel=1e-5)
    for name, more in (("lost", {"XPIXSZ": 4.0}), ("odd", {"XPIXSZ": 4.0, "FOCALLEN": 0.0})):
        assert read_frame(written(tmp_path, COUNTS, name=f"{name}.fits", **more)).image_scale is None


def test_a_converter_of_few_bits_clips_where_its_values_pile_up(tmp_path):
    rows, columns = np.indices((120, 150))
    noise = np.random.default_rng(2).normal(300, 8, (120, 150))
    star = 9000 * np.exp(-((columns - 70) ** 2 + (rows - 60) ** 2) / 8)
    for name, counts, clips in (("clipped", np.minimum(noise + star, 4095), 4095), ("whole", noise + star, 65535),
                                ("coarse", noise // 8, 65535),
                                ("bright", 50000 + 16 * np.random.default_rng(3).integers(-3, 4, noise.shape), 65535)):
        path = written(tmp_path, np.round(counts).astype(np.uint16), name=f"{name}.fits")
        assert read_frame(path).saturation == clips, name
