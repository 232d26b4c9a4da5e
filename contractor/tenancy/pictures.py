"""Draw anew the pictures that people hand in: pixels only, whatever else the file held."""

import io
from typing import Any

from PIL import Image, ImageOps, UnidentifiedImageError

TYPES = ("JPEG", "PNG", "WEBP")


class NoPicture(ValueError):
    """The bytes are no picture that can be read."""


class TooManyPoints(ValueError):
    """Unpacked, the picture would have more points than are drawn."""

    def __init__(self, width: int = 0, height: int = 0) -> None:
        super().__init__(f"{width} times {height} points" if width else "more points than are read")
        self.width, self.height = width, height  # 0: so many that its head was not read on


def draw_anew(
    data: bytes, *, most_points: int, within: tuple[int, int], form: str, **how: Any
) -> bytes:
    """Draw a picture upright, within a width and a height [px], as "JPEG" or "PNG".

    Raises
    ------
    TooManyPoints
        If it would unpack to more; nothing was unpacked then.
    NoPicture
        If it cannot be read.
    """
    try:
        # The head alone tells the size; pixels are read only after it was judged.
        with Image.open(io.BytesIO(data), formats=TYPES) as picture:
            if picture.width * picture.height > most_points:
                raise TooManyPoints(picture.width, picture.height)
            drawn = ImageOps.exif_transpose(picture).convert("RGB" if form == "JPEG" else "RGBA")
    except TooManyPoints:
        raise
    except Image.DecompressionBombError as error:  # past a limit of the library's own
        raise TooManyPoints from error
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
        raise NoPicture from error
    drawn.thumbnail(within)
    out = io.BytesIO()
    drawn.save(out, form, **how)
    return out.getvalue()
