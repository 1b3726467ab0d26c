"""The year-end workbook: what a tax preparer gets."""

from billing.workbook.year import build_workbook

__all__ = ["build_workbook"]
