"""Known results of formulas, put into a saved workbook.

openpyxl writes formulas without results, so that a reader that does not calculate (a phone's preview) shows blanks.
"""

import io
from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from xml.sax import parseString  # only parts that openpyxl wrote a moment ago are parsed
from xml.sax.saxutils import XMLGenerator
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

Results = Mapping[str, Decimal]
_FIXED_TIME = (1980, 1, 1, 0, 0, 0)


def fill(saved: bytes, results: Mapping[str, Results], replaced: Mapping[str, bytes]) -> bytes:
    """Return the workbook with each formula's result as its cached value.

    `results` maps a part of the package (`xl/worksheets/sheet1.xml`) to the results by cell (`B7`); `replaced` maps
    parts to new content. KeyError for a formula whose result nobody gave. The same input gives the same bytes.
    """
    target = io.BytesIO()
    with ZipFile(io.BytesIO(saved)) as source, ZipFile(target, "w", ZIP_DEFLATED) as copy:
        for name in source.namelist():
            content = replaced.get(name) or source.read(name)
            if name in results:
                content = _with_results(content, results[name])
            copy.writestr(ZipInfo(name, _FIXED_TIME), content, ZIP_DEFLATED)
    return target.getvalue()


def _with_results(sheet: bytes, results: Results) -> bytes:
    target = io.BytesIO()
    parseString(sheet, _Filler(target, results))  # noqa: S317
    return target.getvalue()


class _Filler(XMLGenerator):
    """Copies a sheet and writes the result into the `<v>` that follows a cell's `<f>`."""

    def __init__(self, target: io.BytesIO, results: Results) -> None:
        super().__init__(target, "utf-8", short_empty_elements=True)
        self._results = results
        self._cell = ""
        self._has_formula = False

    def startElement(self, name: str, attrs: Any) -> None:
        super().startElement(name, attrs)
        if name == "c":
            self._cell, self._has_formula = attrs["r"], False
        elif name == "f":
            self._has_formula = True
        elif name == "v" and self._has_formula:
            self.characters(str(self._results[self._cell]))
