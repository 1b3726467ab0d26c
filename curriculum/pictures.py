"""Small copies of photos for lists."""

from io import BytesIO
from typing import IO

from PIL import Image

SIDE = 320  # pixels: twice what a list shows, for sharp screens


def small_picture(photo: IO[bytes]) -> bytes:
    """A JPEG of at most SIDE pixels a side, from a JPEG of ours."""
    small = BytesIO()
    with Image.open(photo, formats=("JPEG",)) as picture:
        picture.draft("RGB", (SIDE, SIDE))  # so that it is not decoded in full
        picture.thumbnail((SIDE, SIDE))
        picture.save(small, "JPEG", quality=80)
    return small.getvalue()
