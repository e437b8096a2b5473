"""A room without mass, sun or gains burns the degree-hours of a real year.

Weather: two typical-year files carried by the pvlib wheel; sums by plain arithmetic on their dry-bulb columns.
"""

import warnings
from pathlib import Path

import numpy as np
import pvlib
import pytest

from budget.engine.network import Furnace, Network

UA_W_PER_K = 80.0
YEARS = {
    "Sand Point": ("703165TY.csv", 136_475.1, 10_918.0, 2163.0),
    "Greensboro": ("723170TYA.CSV", 63_132.5, 5_050.6, 1979.4),
}


def dry_bulb_c(name: str) -> np.ndarray:
    path = Path(pvlib.__file__).parent / "data" / name
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the reader, about dates
        frame, _ = pvlib.iotools.read_tmy3(path, coerce_year=1990, map_variables=True)
    return frame["temp_air"].to_numpy(dtype=float)


@pytest.mark.parametrize("place", YEARS)
def test_a_massless_room_at_twenty_burns_the_degree_hours(place: str) -> None:
    """Sum of max(0, 20 - T) x 80 W/K over the year, and over its first 1416 hours (January and February)."""
    name, kelvin_hours, year_kwh, winter_kwh = YEARS[place]
    outdoor_c = dry_bulb_c(name)
    assert np.maximum(0.0, 20.0 - outdoor_c).sum() == pytest.approx(kelvin_hours, abs=0.06)  # one printed decimal
    room = Network(
        capacity_j_per_k=np.array([1000.0]),  # settles within a minute
        edge_from=np.array([0]),
        edge_to=np.array([-1]),
        edge_w_per_k=np.array([UA_W_PER_K]),
    )
    furnace = Furnace(sensor=0, share=np.ones(1), outputs_w=np.array([0.0, 5000.0]), efficiency=np.ones(2), band_k=0.02)
    hours = len(outdoor_c)
    march = room.march(
        start_c=np.array([20.0]), outdoor_c=outdoor_c, heat_w=np.zeros((hours, 1)),
        furnace=furnace, setpoint_c=np.full(hours, 20.0),
    )  # fmt: skip
    burned_kwh = march.fuel_j / 3.6e6
    # Half the thermostat's band, 0.01 K, of a mean difference of 7 to 16 K is 0.1 %.
    assert burned_kwh.sum() == pytest.approx(year_kwh, rel=0.0015)
    assert burned_kwh[:1416].sum() == pytest.approx(winter_kwh, rel=0.001)
