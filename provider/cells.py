"""Text in files that spreadsheets open."""

# A cell that begins with one of these would be run as a formula.
RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")


def plain(text: str) -> str:
    """The text so that a spreadsheet shows it and never calculates it; for typed text, not for numbers of ours."""
    return f"'{text}" if text.startswith(RISKY) else text
