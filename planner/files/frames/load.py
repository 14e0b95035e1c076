"""Frames: FITS files in, one plane of float32 out, with what the header knows. Every way to go wrong is one line.

Plain, tile-compressed and scaled images are read, two-dimensional or with three planes of colour, or as a mosaic of a
colour-filter array, of which one colour is taken. The pixels stay in the mapped file until they are asked for. Only
keywords of the FITS standard and of wide use are asked (EXPTIME, DATE-OBS, RA, DEC, FILTER, SATURATE, BAYERPAT, XPIXSZ,
FOCALLEN, and the world coordinates).
"""

import io
import math
import os
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO, TypeVar

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.exposure.reasons import percent
from planner.files.frames.header import (
    header_exposure,
    header_saturation,
    header_scale,
    header_sky,
    header_temperature,
    header_text,
    header_time,
)
from planner.files.frames.solved import SolvedFrame, solved_frame
from planner.files.frames.unpack import BLOCK, MOST_PIXELS, unpacked
from planner.files.reading import InMemory
from planner.measure.robust import ERROR_OF_MEDIAN, SIGMA_PER_MEDIAN
from planner.measure.stars.plane import LARGEST_VALUE, Counts, Frame

Found = TypeVar("Found")
WHAT = "frame"
SUFFIXES = (".fits", ".fit", ".fts", ".fits.fz", ".fits.gz", ".fits.bz2")
LARGEST_FILE = 2**32  # bytes
SMALLEST_SIDE = 16
MOST_NAMED = 5  # axes of an image, and images, that an error names
LONGEST_PATH = 58  # characters of it that an error shows
# Pixels clip at their highest value where so many share it, more than lie below it within this share.
FEWEST_IN_HEAP, HEAP = 5, 0.1
MOST_ABOVE = 0.05  # share of pixels over a level at which they clip
COLOURS = ("red", "green", "blue")
# The colours of a mosaic in a cell of 2 x 2, row by row. The two greens are kept apart: their mean would smear a star
# along a diagonal.
MOSAICS = ("RGGB", "BGGR", "GRBG", "GBRG")


def read_frame(path: Path | str | InMemory, *, colour: str = "green", mosaic: str | None = None) -> Frame:
    """Return a frame.

    `path`: a FITS file; its first image of two or three axes is taken. `colour`: red, green or blue: the plane or the
    pixels taken where a frame has colours. `mosaic`: order of the colours, first row first: RGGB, BGGR, GRBG or GBRG,
    or none. From the header if absent.
    Raises InvalidInputError if the file is missing, too large, cut short, no FITS file, without an image, or the image
    is too small.
    Memory: pages of the file, which the system may drop; packed files whole.
    """
    _check_words(colour, mosaic)
    return _of_image(path, lambda file, hdu: _frame(file, hdu.header.copy(), _pixels(file, hdu), colour, mosaic))


def read_solved(path: Path | str | InMemory) -> SolvedFrame:
    """Return where a solved frame looks and when; its pixels stay in the file.

    Raises InvalidInputError as in `read_frame`, or if the header has no world coordinates or no time.
    """
    return _of_image(path, lambda file, hdu: solved_frame(file.name, hdu.header, hdu.shape[-2:]))


def _of_image(path: Path | str | InMemory, take: Callable[[Path | InMemory, Any], Found]) -> Found:
    """Return what is taken from the first image of a file; every way to go wrong is one line."""
    path = path if isinstance(path, InMemory) else Path(path).expanduser()
    from astropy.io import fits

    try:
        _check_file(path)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # headers in the field break the standard in small ways
            with _opened(path) as file, fits.open(file, memmap=True, do_not_scale_image_data=True) as units:
                hdu = _first_image(path, units)
                hdu.header.copy()  # reads it to its end
                _check_complete(path, file, units)
                return take(path, hdu)
    except InvalidInputError as error:
        if error.name != WHAT:
            raise
        raise InvalidInputError(WHAT, _ending(path), error.rule, error.remedy) from None
    except MemoryError:
        raise InvalidInputError(WHAT, _ending(path), "does not fit into memory", "Close other programs.") from None
    except Exception:  # the FITS library raises many kinds on a broken file
        raise InvalidInputError(WHAT, _ending(path), "is not a readable FITS file",
                                "Check that it is complete and a FITS file.") from None


def _ending(path: Path | InMemory) -> str:
    """Return a path by its end, where the name of the file is, to a length that an error shows whole."""
    text = " ".join(str(path).split())
    return text if len(text) <= LONGEST_PATH else f"…{text[-LONGEST_PATH:]}"


def _check_words(colour: str, mosaic: str | None) -> None:
    if colour not in COLOURS:
        raise InvalidInputError("colour", colour, "must be red, green or blue", "Choose one of them.")
    if mosaic is not None and mosaic.upper() not in (*MOSAICS, "NONE"):
        raise InvalidInputError("mosaic", mosaic, f"must be {', '.join(MOSAICS)} or none",
                                "Give the colours of the first two rows.")


def _check_file(path: Path | InMemory) -> None:
    """Refuse what is no regular file of a size that a frame can have."""
    try:
        if isinstance(path, Path) and not path.exists():
            raise InvalidInputError(WHAT, path, "is not there", "Check the path.")
        if isinstance(path, Path) and not path.is_file():
            raise InvalidInputError(WHAT, path, "must be a file", "Give the path of the file itself.")
        with io.BytesIO(path.data) if isinstance(path, InMemory) else path.open("rb") as file:
            first, size = file.read(10), _size(file)
    except (OSError, ValueError) as error:
        if isinstance(error, InvalidInputError):
            raise
        raise InvalidInputError(WHAT, path, f"cannot be read ({getattr(error, 'strerror', None) or error})",
                                "Check the path and its rights.") from None
    if size > LARGEST_FILE:
        raise InvalidInputError(WHAT, path, f"must be at most {LARGEST_FILE / 1e9:.1f} GB, it is {size / 1e9:.1f} GB",
                                "Split it.")
    if size == 0:
        raise InvalidInputError(WHAT, path, "is empty", "Check how it was written.")
    if not first.startswith(b"SIMPLE") and first[:2] not in (b"\x1f\x8b", b"BZ", b"PK"):
        raise InvalidInputError(WHAT, path, "is not a FITS file", "Give a frame saved as FITS.")


def _opened(path: Path | InMemory) -> BinaryIO:
    """Return a file open for reading, unpacked if it is packed, its headers checked."""
    file: BinaryIO = io.BytesIO(path.data) if isinstance(path, InMemory) else path.open("rb")
    try:
        return unpacked(file, path)
    except BaseException:
        file.close()
        raise


def _size(file: BinaryIO) -> int:
    return file.getbuffer().nbytes if isinstance(file, io.BytesIO) else os.fstat(file.fileno()).st_size


def _first_image(path: Path | InMemory, units: Any) -> Any:
    """Return the first unit that holds an image of two or three axes."""
    shapes = []
    for hdu in units:
        shape = getattr(hdu, "shape", ()) if getattr(hdu, "is_image", False) else ()
        if len(shape) in (2, 3) and min(shape) > 0:
            if math.prod(shape) > MOST_PIXELS:
                raise InvalidInputError(WHAT, path, f"must have at most {MOST_PIXELS / 1e6:.0f} million pixels",
                                        "Cut the frame.")
            return hdu
        if shape:
            more = f" × … ({len(shape)} axes)" if len(shape) > MOST_NAMED else ""
            shapes.append(" × ".join(map(str, shape[:-MOST_NAMED - 1:-1])) + more)
    if shapes:
        raise InvalidInputError(WHAT, path, "must hold an image with rows and columns, it holds "
                                f"{', '.join(shapes[:MOST_NAMED])}", "Give a single frame.")
    raise InvalidInputError(WHAT, path, "holds no image", "Give a frame saved as FITS.")


def _check_complete(path: Path | InMemory, file: BinaryIO, units: Any) -> None:
    """Refuse a file that ends before its last pixel, which memory mapping would only notice too late."""
    last = units[-1]
    info = last.fileinfo() if hasattr(last, "fileinfo") else None
    if not info or getattr(getattr(units, "_file", None), "compression", None):
        return
    # The last block may lack its padding; its data may not be missing.
    needed, size = info["datLoc"] + info["datSpan"], _size(file)
    if size <= needed - BLOCK:
        raise InvalidInputError(WHAT, path, f"is cut short: {percent(size / needed)} of it is there", "Copy it again.")


def _pixels(path: Path | InMemory, hdu: Any) -> np.ndarray:
    """Return the pixels as they lie in the file: two axes, or three planes first."""
    data = hdu.data
    if data is None or data.size == 0:
        raise InvalidInputError(WHAT, path, "holds no pixels", "Check how it was written.")
    while data.ndim == 3 and data.shape[0] == 1:
        data = data[0]
    if data.ndim == 3 and data.shape[0] not in (3, 4) and data.shape[2] in (3, 4):
        data = np.moveaxis(data, 2, 0)
    if data.ndim == 3 and data.shape[0] not in (3, 4):
        raise InvalidInputError(WHAT, path, f"must have one plane or three, it has {data.shape[0]}",
                                "Give a single frame.")
    return data


def _frame(path: Path | InMemory, header: Any, data: np.ndarray, colour: str, mosaic: str | None) -> Frame:
    notes: list[str] = []
    pattern = (mosaic or str(header.get("BAYERPAT", "none")).strip() or "none").upper()
    step, taken, second = 1, None, None
    if data.ndim == 3:
        data, taken = data[COLOURS.index(colour)], colour
        notes.append(f"The {colour} plane of {len(COLOURS)} is measured.")
    elif pattern in MOSAICS:
        (row, column), *more = [divmod(place, 2) for place in range(4) if pattern[place] == colour[0].upper()]
        whole, taken, step = data[: data.shape[0] // 2 * 2, : data.shape[1] // 2 * 2], colour, 2
        data = whole[row::2, column::2]
        for other_row, other_column in more:
            second = _counts(whole[other_row::2, other_column::2], header), other_column - column, other_row - row
        notes.append(f"The {colour} pixels of the colour mosaic {pattern} are measured.")
    if min(data.shape) < SMALLEST_SIDE:
        raise InvalidInputError(WHAT, path, f"must have at least {SMALLEST_SIDE} rows and columns, it has "
                                f"{data.shape[1]} × {data.shape[0]}", "Give a whole frame.")
    image = _counts(data, header)
    if not image.whole and not np.isfinite(image[:: max(1, len(data) // 256)]).any() and not np.isfinite(image).any():
        raise InvalidInputError(WHAT, path, f"holds no finite pixel within ±{LARGEST_VALUE:g}",
                                "Check how it was written.")
    if taken is None and pattern == "NONE" and mosaic is None and _looks_like_mosaic(image):
        notes.append("The pixels look like a colour mosaic: name its order with --mosaic, or none if it is not.")
    sky, ra, dec = header_sky(header, (image.shape[0] * step, image.shape[1] * step), notes)
    scale = header_scale(header) if sky is None else math.sqrt(abs(np.linalg.det(sky))) * u.arcsec / u.pix
    return Frame(
        path=Path(path.name) if isinstance(path, InMemory) else path,
        counts=image, second=second, pixel_step=step, colour=taken, exposure=header_exposure(header),
        time=header_time(header), ra=ra, dec=dec, image_scale=scale, sky=sky,
        temperature=header_temperature(header), filter_name=header_text(header, "FILTER"),
        saturation=_saturation(header, image, notes), notes=tuple(notes))


def _saturation(header: Any, image: Counts, notes: list[str]) -> float | None:
    """Return the level where pixels clip, or note that the header's cannot be one."""
    level = header_saturation(header)
    sample = image[:: max(1, image.shape[0] // 256)]
    heap = _heap(sample)
    if level is None or (heap is not None and heap < level):
        return heap
    above = float(np.mean(sample > level))
    if above <= MOST_ABOVE:
        return level
    name = next((key for key in ("SATURATE", "DATAMAX") if key in header), "BITPIX")
    notes.append(f"{name} of the header says that pixels clip at {level:g}, but {percent(above)} are above: not used.")
    return None


def _heap(sample: np.ndarray) -> float | None:
    """Return the highest value of some pixels if they pile up there, as where a converter of few bits ends."""
    top = float(np.max(sample, initial=-np.inf, where=np.isfinite(sample)))
    if not math.isfinite(top) or top <= 0:
        return None
    at_top, below = np.sum(sample == top), np.sum(sample >= (1 - HEAP) * top)
    return top if at_top >= FEWEST_IN_HEAP and 2 * at_top > below else None


def _looks_like_mosaic(image: Counts) -> bool:
    """Return whether the medians of the four places of a 2 x 2 cell differ by more than half the noise of a pixel."""
    rows, columns = (slice(max(0, size // 2 - 256) // 2 * 2, size // 2 + 256) for size in image.shape)
    middle = image[rows, columns]
    places = [middle[row::2, column::2] for row in (0, 1) for column in (0, 1)]
    medians = np.array([np.median(place) for place in places])
    noise = SIGMA_PER_MEDIAN * float(np.median(np.abs(places[0] - medians[0])))
    return bool(np.ptp(medians) > max(0.5 * noise, 10 * ERROR_OF_MEDIAN * noise / math.sqrt(places[0].size)))


def _counts(data: np.ndarray, header: Any) -> Counts:
    """Return pixels as they lie in the file, with what makes physical values of them."""
    if data.dtype.kind in "uf" and "ZBITPIX" in header:  # decompressed, scaled already
        return Counts(data)
    return Counts(data, float(header.get("BSCALE", 1) or 1), float(header.get("BZERO", 0) or 0),
                  header.get("BLANK") if data.dtype.kind in "iu" else None)
