"""A QR code as one SVG path, drawn by `provider/parts/qr.html`."""

from dataclasses import dataclass

import segno


@dataclass(frozen=True, slots=True)
class QrPicture:
    """`size` is the side of the square in modules, quiet zone included; `path` draws the dark ones."""

    size: int
    path: str


def qr_picture(text: str) -> QrPicture:
    """The code of a text, with the quiet edge of four modules that readers need."""
    rows = [bytes(row) for row in segno.make(text, micro=False).matrix_iter(border=4)]
    dark = (f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, module in enumerate(row) if module)
    return QrPicture(len(rows), "".join(dark))
