"""The books: what the boat's load was made of, as the truth is told."""

from array import array

from .boat import SimBoat
from .loads import Loads
from .options import SimOptions
from .supply import Supply
from .truth import Truth, meals_of


def truth_of(
    boat: SimBoat,
    options: SimOptions,
    loads: Loads,
    supply: Supply,
    start_s: float,
    end_s: float,
) -> Truth:
    """Return the truth about a span, as seen by the boat's own load meters."""
    kinds = {a.name: a.kind for a in boat.appliances}
    appliance_wh = dict.fromkeys(kinds, 0.0)
    for run in loads.runs:
        appliance_wh[run.appliance] += run.energy_wh
    conversion = boat.conversion
    background_wh = loads.ac_background_wh
    if options.dc_only:
        background_wh += loads.dc_background_wh * conversion
        load_wh = loads.dc_total.integral_j(end_s) / 3600 * conversion
        inverter_wh = (
            loads.dc_total.integral_j(end_s) - loads.dc_loads.integral_j(end_s)
        ) / 3600
        idle_wh = boat.inverter.idle_w * (end_s - start_s) / 3600
        background_wh += idle_wh * conversion
        conversion_wh = (inverter_wh - idle_wh) * conversion - loads.ac.integral_j(
            end_s
        ) / 3600
    else:
        load_wh = loads.ac.integral_j(end_s) / 3600
        conversion_wh = 0.0
        if any(a.supply == "dc" for a in boat.appliances):
            background_wh += loads.dc_background_wh * conversion
            load_wh += loads.dc_loads.integral_j(end_s) / 3600 * conversion
    return Truth(
        start_s=start_s,
        end_s=end_s,
        runs=loads.runs,
        meals=meals_of(loads.runs, kinds),
        grid=loads.grid,
        appliance_wh=appliance_wh,
        standby_wh=loads.standby_wh,
        standby_w={a.name: a.standby_w for a in boat.appliances},
        background_wh=background_wh,
        unnamed_wh=loads.unnamed_wh,
        conversion_wh=conversion_wh,
        load_wh=load_wh,
        soc=array("f", supply.soc[::6]),
        solar_w=array("f", supply.solar_w[::6]),
        engine_w=array("f", supply.engine_w[::6]),
    )
