"""The parts of a FITS file, by their headers alone: how long it says it is, before anything is unpacked or mapped.

A header may ask for any number of axes and pixels, and a packed file of a megabyte may hold a terabyte. Both are
refused here, from the first blocks. FITS standard 4.0, sections 3.3, 4.4.1 and 7.3 (doi:10.1051/0004-6361/201015362).
"""

import bz2
import gzip
import io
import math
import zipfile
from collections.abc import Callable
from typing import BinaryIO

from planner.errors import InvalidInputError

BLOCK = 2880  # bytes
CARD = 80  # bytes
MOST_AXES = 999  # of the standard
MOST_BLOCKS = 2000  # of one header
MOST_UNITS = 1000
MOST_PIXELS = 400_000_000
WHAT = "frame"


def _first_of_zip(file: BinaryIO) -> BinaryIO:
    """Return the first file of an archive, open for reading."""
    archive = zipfile.ZipFile(file)
    return archive.open(archive.infolist()[0])  # type: ignore[return-value]


PACKED: dict[bytes, Callable[[BinaryIO], BinaryIO]] = {
    b"\x1f\x8b": lambda file: gzip.GzipFile(fileobj=file), b"BZh": lambda file: bz2.BZ2File(file),  # type: ignore
    b"PK": _first_of_zip,
}


def unpacked(file: BinaryIO, named: object) -> BinaryIO:
    """Return a FITS file that is not packed: itself, or the units of a packed one up to its first image, in memory.

    Raises InvalidInputError if a header asks for more axes, pixels or units than a frame has, or has no end.
    """
    first = file.read(4)
    file.seek(0)
    opened = next((opener for magic, opener in PACKED.items() if first.startswith(magic)), None)
    if opened is None:
        _check_units(file, named)
        file.seek(0)
        return file
    kept = io.BytesIO()
    with file, opened(file) as stream:
        for _ in range(MOST_UNITS):
            raw, cards = _header(stream, named)
            if cards is None:
                break
            kept.write(raw)
            kept.write(stream.read(_padded(_data_size(cards, named))))
            if _is_image(cards):
                break
    kept.seek(0)
    return kept


def _check_units(file: BinaryIO, named: object) -> None:
    """Refuse a file whose headers ask for what no frame has."""
    end = file.seek(0, io.SEEK_END)
    file.seek(0)
    for _ in range(MOST_UNITS):
        cards = _header(file, named)[1]
        if cards is None:
            return
        place = file.tell() + _padded(_data_size(cards, named))
        if place >= end:
            return
        file.seek(place)
    raise InvalidInputError(WHAT, named, f"must have at most {MOST_UNITS} parts", "Give a frame saved as FITS.")


def _header(stream: BinaryIO, named: object) -> tuple[bytes, dict[str, str] | None]:
    """Return one header and its cards by keyword; None where no header begins."""
    raw = b""
    cards: dict[str, str] = {}
    for _ in range(MOST_BLOCKS):
        block = stream.read(BLOCK)
        if not raw and block[:8].rstrip() not in (b"SIMPLE", b"XTENSION"):
            return block, None
        raw += block
        for start in range(0, len(block), CARD):
            card = block[start:start + CARD].decode("ascii", "replace")
            if card[:8].rstrip() == "END":
                return raw, cards
            cards[card[:8].rstrip()] = card[10:].split("/")[0].strip()
        if len(block) < BLOCK:
            break
    raise InvalidInputError(WHAT, named, "has a header without an end", "Copy it again.")


def _data_size(cards: dict[str, str], named: object) -> int:
    """Return the bytes of data after a header, eq. 2 of the standard."""
    axes = _axes(cards, "NAXIS", named)
    if _is_image(cards) and math.prod(_axes(cards, "ZNAXIS", named) or axes) > MOST_PIXELS:
        raise InvalidInputError(WHAT, named, f"must have at most {MOST_PIXELS / 1e6:.0f} million pixels",
                                "Cut the frame.")
    pixels = math.prod(axes) if axes else 0
    return abs(_whole(cards, "BITPIX", 8)) // 8 * max(_whole(cards, "GCOUNT", 1), 1) * (
        max(_whole(cards, "PCOUNT", 0), 0) + pixels)


def _axes(cards: dict[str, str], key: str, named: object) -> list[int]:
    count = _whole(cards, key, 0)
    if not 0 <= count <= MOST_AXES:
        raise InvalidInputError(WHAT, named, f"must have at most {MOST_AXES} axes, {key} says {count}",
                                "Give a frame saved as FITS.")
    return [max(_whole(cards, f"{key}{axis}", 0), 0) for axis in range(1, count + 1)]


def _is_image(cards: dict[str, str]) -> bool:
    """Return whether a unit holds an image with rows and columns, packed into a table or not."""
    if "ZNAXIS" in cards:
        return True
    return cards.get("XTENSION", "'IMAGE").startswith("'IMAGE") and _whole(cards, "NAXIS", 0) in (2, 3)


def _whole(cards: dict[str, str], key: str, otherwise: int) -> int:
    try:
        return int(cards[key][:20])
    except (KeyError, ValueError):
        return otherwise


def _padded(size: int) -> int:
    return -(-size // BLOCK) * BLOCK
