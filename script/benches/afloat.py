"""Boats over the seasons at five-minute steps: weather, array, bank and crew.

Made for judging advice, so it shares nothing with the code under judgement: the sun comes
from the reference library (its own solar position and Ineichen's clear sky), clouds from a
chain of day types with an hourly wandering cover put through Kasten and Czeplak's
transmission, the array from tilt, heading, shade and cell temperature, the bank from
charge, voltage under load and a share lost, the inverter from a curve with idle draw.
"""

from dataclasses import dataclass, field, replace
from math import cos, exp, radians, sin, sqrt
import random

import pandas as pd
import pvlib

STEP_S = 300
STEPS_PER_DAY = 86_400 // STEP_S
STEP_H = STEP_S / 3600.0


@dataclass(frozen=True)
class Sky:
    """Day types: shares of clear, broken and grey days, and how long a type lasts."""

    clear: float
    broken: float
    grey: float
    stays: float
    turbidity: float = 3.5


@dataclass(frozen=True)
class Hull:
    """One boat as it truly is, and as its boat file states it."""

    name: str
    latitude: float
    longitude: float
    time_zone: str
    start: str
    sky: Sky
    capacity_ah: float
    stated_capacity_ah: float
    nominal_v: float
    reserve_soc: float
    lead: bool
    array_w: float
    array_loss: float
    tilt_deg: float
    swings_deg: float
    shade: tuple[float, float, float]
    air_c: float
    background_w: float
    heater_wh: float
    meal_scale: float
    engine_below_soc: float
    engine_habit: dict[str, float] = field(default_factory=dict)
    """Every how many days, at what hour and for how long the engine runs anyway."""
    chemistry: str = ""
    """One of the boat file's chemistries; empty for AGM or LFP by `lead`."""


def hulls() -> list[Hull]:
    """Return the boats of the bench: four climates and seasons, both hemispheres."""
    return [
        Hull(
            "trade winds, February", 18.43, -64.62, "America/Puerto_Rico",
            "2026-01-12", Sky(0.55, 0.40, 0.05, 0.55, 3.6),
            560, 560, 12.8, 35, False, 950, 0.12, 0, 180, (100, 140, 0.7),
            27, 75, 0, 1.0, 33,
        ),
        Hull(
            "Azores, spring", 38.53, -28.62, "Atlantic/Azores",
            "2026-03-02", Sky(0.25, 0.45, 0.30, 0.55, 3.2),
            525, 560, 12.8, 35, False, 900, 0.16, 0, 180, (230, 260, 0.5),
            17, 70, 300, 1.0, 33,
        ),
        Hull(
            "Hebrides, summer", 57.0, -6.5, "Europe/London",
            "2026-05-25", Sky(0.15, 0.35, 0.50, 0.60, 2.8),
            300, 300, 25.6, 30, False, 950, 0.14, 10, 90, (170, 185, 0.6),
            13, 80, 0, 1.1, 30,
        ),
        Hull(
            "New Zealand, autumn", -36.1, 175.4, "Pacific/Auckland",
            "2026-03-20", Sky(0.40, 0.35, 0.25, 0.50, 3.0),
            800, 880, 12.0, 50, True, 1100, 0.15, 5, 60, (20, 45, 0.8),
            17, 65, 250, 0.8, 54,
        ),
    ]  # fmt: skip


@dataclass
class Voyage:
    """What truly was, by five-minute step."""

    hull: Hull
    start_s: float
    level_w_m2: list[float]
    clear_w: list[float]
    sun_w: list[float]
    cover: list[float]
    background_w: list[float]
    galley_w: list[float]
    engine_w: list[float]
    uses: list[tuple[int, int, str, float]]
    soc: list[float] = field(default_factory=list)
    taken_w: list[float] = field(default_factory=list)
    battery_w: list[float] = field(default_factory=list)
    volts: list[float] = field(default_factory=list)


def sail(hull: Hull, seed: int, days: int) -> Voyage:
    """Return a voyage of so many days."""
    rng = random.Random(f"{hull.name} {seed}")
    steps = days * STEPS_PER_DAY
    times = pd.date_range(hull.start, periods=steps, freq=f"{STEP_S}s", tz="UTC")
    middle = times + pd.Timedelta(seconds=STEP_S / 2)
    sun = pvlib.solarposition.get_solarposition(middle, hull.latitude, hull.longitude)
    zenith = sun["apparent_zenith"]
    mass = pvlib.atmosphere.get_absolute_airmass(
        pvlib.atmosphere.get_relative_airmass(zenith)
    )
    sky = pvlib.clearsky.ineichen(zenith, mass, hull.sky.turbidity)
    local = times.tz_convert(hull.time_zone)
    hours = [t.hour + t.minute / 60.0 for t in local]
    dates = [t.date() for t in local]
    cover, through = _clouds(hull.sky, rng, dates, steps)
    clear_w, sun_w = [], []
    heading = rng.uniform(0, 360)
    for i, (z, az, ghi, dni, dhi) in enumerate(
        zip(zenith, sun["azimuth"], sky["ghi"], sky["dni"], sky["dhi"], strict=True)
    ):
        heading += rng.gauss(0, hull.swings_deg / 60.0)
        gains = 1.0
        if z < 90 and hull.tilt_deg:
            gains = max(
                cos(radians(hull.tilt_deg))
                + sin(radians(hull.tilt_deg))
                * cos(radians(az - heading))
                * min(sin(radians(z)) / max(cos(radians(z)), 0.15), 4.0),
                0.2,
            )
        low, high, lost = hull.shade
        if low <= az <= high:
            gains *= 1.0 - lost
        out = []
        for beam, diffuse in ((1.0, 1.0), through[i]):
            direct = dni * max(cos(radians(z)), 0.0) * beam
            grey = dhi * diffuse + (ghi - dhi) * 0.25 * (1.0 - beam) * (z < 90)
            plane = direct * gains + grey
            cell_c = hull.air_c + 0.033 * plane
            power = hull.array_w * plane / 1000.0 * (1 - 0.004 * (cell_c - 25))
            out.append(max(power * (1 - hull.array_loss), 0.0))
        clear_w.append(out[0])
        sun_w.append(out[1])
    level = [float(v) for v in pvlib.clearsky.haurwitz(zenith)["ghi"]]
    background = _background(hull, rng, hours, dates)
    galley, uses = _galley(hull, rng, local, steps)
    voyage = Voyage(
        hull, times[0].timestamp(), level, clear_w, sun_w, cover, background, galley,
        [0.0] * steps, uses,
    )  # fmt: skip
    _live(voyage, hours)
    return voyage


def _clouds(
    sky: Sky, rng: random.Random, dates: list, steps: int
) -> tuple[list[float], list[tuple[float, float]]]:
    """Return cloud cover in eighths, and what beam and diffuse get through, by step."""
    kinds = ["clear"] * 1 + ["broken"] + ["grey"]
    shares = [sky.clear, sky.broken, sky.grey]
    kind = rng.choices(kinds, shares)[0]
    day = None
    cover, wander, gap = 4.0, 0.0, False
    keep = exp(-STEP_H / 2.5)
    covers, through = [], []
    mean = {"clear": 0.8, "broken": 4.2, "grey": 7.2}
    spread = {"clear": 0.7, "broken": 1.5, "grey": 0.8}
    level = mean[kind]
    for i in range(steps):
        if dates[i] != day:
            day = dates[i]
            if rng.random() > sky.stays:
                kind = rng.choices(kinds, shares)[0]
            level = mean[kind] + rng.gauss(0, 0.5)
        elif rng.random() < 0.25 / STEPS_PER_DAY * 2:
            kind = rng.choices(kinds, shares)[0]
            level = mean[kind] + rng.gauss(0, 0.5)
        wander = wander * keep + rng.gauss(0, spread[kind]) * sqrt(1 - keep * keep)
        cover += 0.25 * (min(max(level + wander, 0.0), 8.0) - cover)
        eighths = min(max(cover, 0.0), 8.0)
        whole = 1.0 - 0.75 * (eighths / 8.0) ** 3.4
        share = eighths / 8.0
        # Fair-weather clouds of about a kilometre pass in two or three minutes, so each
        # five minutes see other ones.
        if rng.random() < 0.9:
            gap = rng.random() > share
        if share > 0.93:
            beam = max(0.0, rng.gauss(0.03, 0.03))
            diffuse = whole * rng.uniform(1.0, 1.6) * 1.3
        elif gap:
            beam, diffuse = 1.0, 1.0 + 0.5 * share
        else:
            beam = max(rng.gauss(0.35 - 0.3 * share, 0.1), 0.0)
            diffuse = 1.0 + 0.8 * share
        if share < 0.12:
            beam, diffuse = 1.0, 1.0 + 0.3 * share
        covers.append(eighths)
        through.append((min(beam, 1.0), diffuse))
    return covers, through


def _background(
    hull: Hull, rng: random.Random, hours: list[float], dates: list
) -> list[float]:
    """Fridge by the warmth of the day, lights in the evening, the anchor watch."""
    day, factor, out = None, 1.0, []
    fridge = True
    for hour, date in zip(hours, dates, strict=True):
        if date != day:
            day, factor = date, exp(rng.gauss(0, 0.10))
        warmth = 1.0 + 0.25 * sin((hour - 9) / 24 * 6.283)
        if rng.random() < 0.3:
            fridge = rng.random() < 0.45 * warmth
        lights = 0.45 if 18.5 < hour < 22.5 else 0.0
        nav = 0.12 if hour > 22.5 or hour < 6 else 0.05
        power = hull.background_w * (0.45 + 0.75 * fridge + lights + nav) * factor
        out.append(power)
    return out


def _galley(
    hull: Hull, rng: random.Random, local: pd.DatetimeIndex, steps: int
) -> tuple[list[float], list[tuple[int, int, str, float]]]:
    """The crew's meals and hot water: AC power by step, and the list of uses."""
    out = [0.0] * steps
    uses: list[tuple[int, int, str, float]] = []
    plan = [
        ("breakfast", 8.0, 0.5, 0.85, 170, 20),
        ("lunch", 13.0, 0.6, 0.7, 220, 25),
        ("dinner", 19.0, 0.5, 0.92, 420, 45),
        ("hot drink", 10.5, 0.8, 0.7, 80, 5),
        ("hot drink", 16.5, 0.8, 0.6, 80, 5),
    ]
    for day in range(steps // STEPS_PER_DAY + 1):
        first = day * STEPS_PER_DAY
        if first >= steps:
            break
        shift = local[first].hour + local[first].minute / 60.0
        for label, hour, jitter, chance, wh, minutes in plan:
            if rng.random() > chance:
                continue
            energy = wh * hull.meal_scale * exp(rng.gauss(0, 0.3))
            at = (hour + rng.gauss(0, jitter) - shift) % 24
            _use(out, uses, first + int(at / STEP_H), minutes, label, energy)
        if hull.heater_wh and rng.random() < 0.75:
            at = (9.5 + rng.gauss(0, 0.5) - shift) % 24
            energy = hull.heater_wh * exp(rng.gauss(0, 0.2))
            _use(out, uses, first + int(at / STEP_H), 25, "hot water", energy)
    uses.sort()
    return out, uses


def _use(out, uses, start: int, minutes: float, label: str, energy: float) -> None:
    count = max(round(minutes / 5), 1)
    if start + count >= len(out):
        return
    power = energy / (count * STEP_H)
    for i in range(start, start + count):
        out[i] += power
    uses.append((start, start + count, label, energy))


def inverter_dc_w(ac_w: float, idle_w: float = 17.0) -> float:
    """Return what the true inverter takes: idle, a share, and a loss that grows squared."""
    return idle_w + ac_w / 0.935 + 8e-6 * ac_w * ac_w


def open_volts(hull: Hull, soc: float) -> float:
    """Return the resting voltage; a flat lithium curve or a sloping lead one."""
    share = max(min(soc, 100.0), -20.0) / 100.0
    if hull.lead:
        return hull.nominal_v / 12.0 * (11.9 + 0.8 * share)
    return hull.nominal_v / 12.8 * (12.95 + 0.35 * share + 0.3 * (share - 0.5) ** 3)


def step_bank(hull: Hull, soc: float, sun_w: float, other_w: float, demand_w: float):
    """Return charge, sun really taken, bank power and volts after one step."""
    net = sun_w + other_w - demand_w
    rest = open_volts(hull, soc)
    ohm = (
        0.012
        * (hull.nominal_v / 12.8) ** 2
        * 300
        / (hull.capacity_ah * hull.nominal_v / 12.8)
    )
    if net < 0:
        amps = -net / rest
        volts = rest - amps * ohm
        amps = -net / volts
        if hull.lead:
            rated = hull.capacity_ah / 20.0
            amps *= max(amps / rated, 1.0) ** 0.1
        return soc - 100 * amps * STEP_H / hull.capacity_ah, sun_w, net, volts
    keeps = 0.87 if hull.lead else 0.995
    volts = rest + min(net / rest * ohm * (3 if hull.lead else 1), 1.6)
    room_a = hull.capacity_ah * 0.5
    if hull.lead:
        room_a = hull.capacity_ah * max(0.22 * (100 - soc) / 20, 0.004)
    room_a = min(room_a, (100 - soc) / 100 * hull.capacity_ah / STEP_H / keeps)
    amps = min(net / volts, max(room_a, 0.0))
    into = amps * volts
    taken = sun_w - min(net - into, sun_w)
    return soc + 100 * amps * keeps * STEP_H / hull.capacity_ah, taken, into, volts


def _live(voyage: Voyage, hours: list[float]) -> None:
    """Let the bank live through the voyage; the crew runs the engine when it is low."""
    hull, soc, engine_until = voyage.hull, 75.0, -1
    habit = hull.engine_habit
    for i, hour in enumerate(hours):
        if habit and i // STEPS_PER_DAY % habit["engine_every_days"] == 0:
            since_h = hour - habit["engine_hour"]
            if 0.0 <= since_h < 0.1 and i > engine_until:
                engine_until = i + int(habit["engine_hours"] / STEP_H)
        if i > engine_until and 7.0 <= hour < 7.2 and soc < hull.engine_below_soc + 6:
            engine_until = i + 24
        if soc < hull.engine_below_soc and i > engine_until:
            engine_until = i + 18
        other = 900.0 if i <= engine_until else 0.0
        voyage.engine_w[i] = other
        demand = voyage.background_w[i] + inverter_dc_w(voyage.galley_w[i])
        soc, taken, battery, volts = step_bank(
            hull, soc, voyage.sun_w[i], other, demand
        )
        voyage.soc.append(soc)
        voyage.taken_w.append(taken)
        voyage.battery_w.append(battery)
        voyage.volts.append(volts)


@dataclass
class Outcome:
    """What cooking a dish at a step truly came to."""

    drawn_ah: float
    lowest: float
    refused_wh: float
    soc_end: float = 0.0


def cook(
    voyage: Voyage, start: int, count: int, energy_wh: float, look: int
) -> Outcome:
    """Return what a dish started at a step does; nothing else of the voyage changes."""
    hull = voyage.hull
    soc = voyage.soc[start - 1]
    end = min(start + look, len(voyage.soc))
    power = energy_wh / (count * STEP_H)
    drawn = refused = 0.0
    lowest = soc
    for i in range(start, min(start + look, len(voyage.soc))):
        ac = voyage.galley_w[i]
        cooking = i < start + count
        dish_dc = 0.0
        if cooking:
            dish_dc = inverter_dc_w(ac + power) - inverter_dc_w(ac)
        demand = voyage.background_w[i] + inverter_dc_w(ac) + dish_dc
        sun, other = voyage.sun_w[i], voyage.engine_w[i]
        soc, taken, battery, volts = step_bank(hull, soc, sun, other, demand)
        refused += (sun - taken) * STEP_H
        if cooking and battery < 0:
            drawn += dish_dc * (-battery / demand) / volts * STEP_H
        lowest = min(lowest, soc)
        if not cooking and abs(soc - voyage.soc[i]) < 1e-6:
            lowest = min(lowest, *voyage.soc[i : min(start + look, len(voyage.soc))])
            soc = voyage.soc[end - 1]
            refused += sum(
                (s - t) * STEP_H
                for s, t in zip(
                    voyage.sun_w[i + 1 : start + look],
                    voyage.taken_w[i + 1 : start + look],
                    strict=False,
                )
            )
            break
    return Outcome(drawn, lowest, refused, soc)


__all__ = ["Hull", "Outcome", "Sky", "Voyage", "cook", "hulls", "replace", "sail"]
