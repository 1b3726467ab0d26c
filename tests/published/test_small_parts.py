"""Which pieces fit the small-parts cylinder and which balls pass the template.

16 CFR 1501.4: a cylinder 1.25 inches (31.75 mm) across, from 1 to 2.25 inches (57.15 mm) deep, in any orientation.
SOR/2011-17, Schedule 1: 31.7 mm across, from 25.4 to 57.1 mm deep.
16 CFR 1500.19(a)(2): a ball that passes a hole of 1.75 inches (44.45 mm).
The pieces were worked out by hand from these sizes.
"""

from decimal import Decimal

import pytest

from curriculum.screening import Facts, fits_cylinder, screen, screening_checks

US, CA = (Decimal("31.75"), Decimal("57.15")), (Decimal("31.7"), Decimal("57.1"))


def sides(*lengths):
    return tuple(Decimal(length) for length in lengths)


@pytest.mark.parametrize("cylinder", [US, CA])
@pytest.mark.parametrize(
    ("piece", "fits"),
    [
        (sides("0.5", "20", "30"), True),  # a small card
        (sides("0.5", "35", "35"), False),  # a card wider than the cylinder
        (sides("22", "22", "22"), True),  # a cube: diagonal 31.11
        (sides("23", "23", "23"), False),  # a cube: diagonal 32.53
        (sides("31", "0.5", "50"), True),  # in any order of its sides
        (sides("2", "2", "60"), True),  # a stick that leans: the longest line inside is 65.3
        (sides("2", "2", "66"), False),  # a longer stick
        (sides("0", "0", "0"), True),
    ],
)
def test_a_piece_fits_the_cylinder_or_does_not(cylinder, piece, fits):
    assert fits_cylinder(piece, *cylinder) is fits


def test_a_piece_at_the_edge_fits_the_cylinder_in_inches_only():
    edge = sides("0", "31.75", "40")

    assert fits_cylinder(edge, *US)
    assert not fits_cylinder(edge, *CA)


def test_a_piece_of_negative_size_is_refused():
    with pytest.raises(ValueError, match="negative"):
        fits_cylinder(sides("-1", "2", "3"), *US)


@pytest.mark.parametrize(("region", "cylinder"), [("US", US), ("CA", CA)])
def test_the_rule_file_holds_the_printed_sizes(region, cylinder):
    (check,) = [each for each in screening_checks() if each.code == "small_parts" and region in each.regions]

    assert (check.across, check.deep, check.under_months) == (*cylinder, 36)


@pytest.mark.parametrize(("across", "found"), [("0", False), ("44.4", True), ("44.45", True), ("44.5", False)])
def test_a_ball_passes_the_template_or_does_not(across, found):
    findings = screen(Facts(ball=Decimal(across)), "US")

    assert any(each.check.code == "small_ball" and not each.is_unknown for each in findings) is found
