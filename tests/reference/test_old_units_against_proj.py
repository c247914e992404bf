"""Old units are as long as in the EPSG dataset.

SOURCE: EPSG Geodetic Parameter Dataset, units of length, as PROJ carries it.
"""

from __future__ import annotations

import pyproj
import pytest

from wherestood.plans.units import old_units

#: A thousand chains, to a millimetre.
PER_LENGTH = 5e-8
NAMES = {
    "foot": "foot", "yard": "yard", "link": "link", "chain": "chain",
    "mile": "Statute mile", "fathom": "fathom", "US survey foot": "US survey foot",
    "US survey link": "US survey link", "US survey chain": "US survey chain",
    "Clarke's foot": "Clarke's foot", "Clarke's link": "Clarke's link",
    "Clarke's chain": "Clarke's chain", "Sears' foot": "British foot (Sears 1922)",
    "Sears' link": "British link (Sears 1922)",
    "Sears' chain": "British chain (Sears 1922)", "Indian foot": "Indian foot",
}  # fmt: skip


@pytest.mark.parametrize("ours", NAMES)
def test_unit_is_as_long_as_in_the_epsg_dataset(ours: str) -> None:
    published = pyproj.get_units_map(auth_name="EPSG", category="linear")
    [unit] = [one for one in old_units() if one.name == ours]
    factor = published[NAMES[ours]].conv_factor
    assert unit.length_m == pytest.approx(factor, rel=PER_LENGTH)
    assert unit.mark == "seen"
