"""A panel, its charger and a battery over a January, marched by the engine, against pvlib's ModelChain.

The coupled whole of the 12 V side by day: the sun of a typical year on a tilted panel, cell temperature, power, charge
controller, what the battery accepts and loses. ModelChain goes its own way from the record to the panel's watts.
Left out in both: snow, shade, mismatch beyond the kept share.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from sample_vans import one_room

from budget.answers.prepared import Prepared
from budget.tour.model import Tour

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
PLACE = {"latitude_deg": 36.1, "longitude_deg": -79.95, "altitude_m": 270.0}
PEAK_W, TILT_DEG, KEPT, CHARGER, VOLTS, ACCEPTED, STANDBY_W = 300.0, 50.0, 0.75, 0.95, 12.8, 0.97, 1.0


def three_weeks() -> Prepared:
    """Parked, nobody at home, a battery that never fills."""
    battery = {"capacity_ah": 5000.0, "start_share": 0.5, "zone": "outdoors", "max_charge_a": 1000.0,
               "chemistry": "agm", "charge_efficiency_share": ACCEPTED, "nominal_v": VOLTS}  # fmt: skip
    solar = {"peak_w": PEAK_W, "tilt_deg": TILT_DEG, "azimuth_deg": 180.0, "kept_share": KEPT,
             "charger_efficiency_share": CHARGER}  # fmt: skip
    van = one_room(power={"battery": battery, "solar": solar})
    stop = {"place": "plain", "arrive": "2027-01-03T00:00:00", **PLACE}
    tour = Tour.model_validate(
        {
            "title": "parked", "timezone": "Etc/GMT+5", "start": "2027-01-03T00:00:00", "end": "2027-01-24T00:00:00",
            "weather": {"source": "typical-year", "file": str(GREENSBORO)}, "schedule": "off", "stops": [stop],
            "schedules": {"off": {"steps": [{"at": "00:00", "air_c": "off", "water_c": "off"}]}},
        }
    )  # fmt: skip
    return Prepared.of(van, tour)


def chain_w(frame: pd.DataFrame) -> np.ndarray:
    """Watts of the panel by ModelChain at each hour's middle: Hay-Davies, Faiman, PVWatts, no losses. [W]"""
    system = pvlib.pvsystem.PVSystem(
        surface_tilt=TILT_DEG, surface_azimuth=180.0, module_parameters={"pdc0": PEAK_W, "gamma_pdc": -0.004},
        inverter_parameters={"pdc0": 1e9}, temperature_model_parameters={"u0": 25.0, "u1": 6.84},
    )  # fmt: skip
    here = pvlib.location.Location(PLACE["latitude_deg"], PLACE["longitude_deg"], altitude=PLACE["altitude_m"])
    chain = pvlib.modelchain.ModelChain(
        system, here, transposition_model="haydavies", aoi_model="no_loss", spectral_model="no_loss",
        dc_model="pvwatts", ac_model="pvwatts", temperature_model="faiman",
    )  # fmt: skip
    weather = frame[["ghi", "dni", "dhi", "temp_air", "wind_speed"]].copy()
    weather["albedo"] = np.where(weather["temp_air"] < 0.0, 0.6, 0.2)
    weather.index = weather.index + pd.Timedelta("30min")
    chain.run_model(weather)
    return np.nan_to_num(np.asarray(chain.results.dc, dtype=float))


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.filterwarnings("ignore::FutureWarning")  # pvlib's own calls of pandas
def test_the_sun_of_three_weeks_charges_the_battery_as_modelchain_says() -> None:
    """Tolerance 1 % of the charge: hours of sunrise and sunset, whose middle may have no sun for ModelChain."""
    prepared = three_weeks()
    many = prepared.run()
    assert many.flows is not None and many.stocks is not None
    sun_ah = many.flows[:, prepared.built.flows.solar_ah]
    theirs_ah = chain_w(prepared.weather.frame) * KEPT * CHARGER / VOLTS
    assert sun_ah.sum() > 1000.0
    assert sun_ah.sum() == pytest.approx(theirs_ah.sum(), rel=0.01)
    net_ah = theirs_ah - STANDBY_W / VOLTS
    charge_ah = many.stocks[:, prepared.built.stocks.charge_ah]
    gained_ah = np.where(net_ah > 0.0, ACCEPTED * net_ah, net_ah).sum()
    assert charge_ah[-1] - charge_ah[0] == pytest.approx(gained_ah, rel=0.01)
