"""Boats drawn by chance, for judging what was not tuned on them.

Each lives off its sun, more or less: places and seasons of both hemispheres, skies with
spells of grey, banks of three chemistries, arrays that are scarce or that fill the bank
by noon, crews that run the engine only when the bank is low, every few days or daily.
"""

from datetime import date, timedelta
import random

from afloat import Hull, Sky

PLACES = (
    ("trade winds", 18.4, -64.6, "America/Puerto_Rico", 0),
    ("Azores", 38.5, -28.6, "Atlantic/Azores", 120),
    ("Hebrides", 57.0, -6.5, "Europe/London", 150),
    ("New Zealand", -36.1, 175.4, "Pacific/Auckland", 330),
    ("Balearics", 39.6, 2.9, "Europe/Madrid", 150),
    ("Tasmania", -43.0, 147.4, "Australia/Hobart", 340),
    ("Chesapeake", 38.9, -76.4, "America/New_York", 140),
    ("Society Islands", -17.5, -149.8, "Pacific/Tahiti", 200),
    ("Baltic", 58.8, 17.6, "Europe/Stockholm", 140),
    ("Patagonia", -46.6, -73.7, "America/Santiago", 330),
)
"""Name, latitude, longitude, clock, and the day of the year about which the boat is there."""


def drawn_hulls(seed: int, count: int) -> list[Hull]:
    """Return so many boats for a seed; another seed gives other boats."""
    rng = random.Random(f"fleet {seed}")
    places = rng.sample(PLACES, len(PLACES))
    return [_drawn(rng, seed, i, places[i % len(places)]) for i in range(count)]


def _drawn(
    rng: random.Random,
    seed: int,
    number: int,
    place: tuple[str, float, float, str, int],
) -> Hull:
    name, latitude, longitude, zone, season = place
    start = date(2026, 1, 1) + timedelta(days=season % 365 + rng.randint(-40, 40))
    grey = rng.uniform(0.2, 0.55)
    clear = rng.uniform(0.1, 0.9 - grey)
    chemistry = rng.choice(("lfp", "lfp", "nmc", "agm", "flooded"))
    lead = chemistry in ("agm", "flooded")
    background_w = rng.uniform(45, 90)
    heater_wh = rng.choice((0, 0, 250, 350))
    meals = rng.uniform(0.8, 1.2)
    day_wh = 24 * (background_w * 1.35 + 17) + 1.1 * (900 * meals + heater_wh)
    # From an array that hardly carries the day to one that fills the bank by noon.
    array_w = day_wh / 3.6 * rng.uniform(0.5, 1.2)
    nominal_v = rng.choice((12.0, 24.0)) if lead else rng.choice((12.8, 25.6))
    capacity_ah = day_wh * rng.uniform(1.1, 2.4) * (1.4 if lead else 1.0) / nominal_v
    reserve = rng.choice((45, 50)) if lead else rng.choice((20, 30, 35))
    habit: dict[str, float] = {}
    if rng.random() < 0.5:
        habit = {
            "engine_every_days": rng.choice((1, 2, 3)),
            "engine_hour": rng.uniform(8, 17),
            "engine_hours": rng.uniform(0.7, 1.8),
        }
    low = rng.uniform(0, 360)
    return Hull(
        f"{name} {seed}-{number}", latitude, longitude, zone, start.isoformat(),
        Sky(clear, 1 - clear - grey, grey, rng.uniform(0.5, 0.7), rng.uniform(2.6, 3.8)),
        capacity_ah * rng.uniform(0.88, 1.02), round(capacity_ah), nominal_v, reserve,
        lead, round(array_w), rng.uniform(0.1, 0.18), rng.choice((0, 0, 10)),
        rng.choice((60, 180)), (low, low + rng.uniform(15, 40), rng.uniform(0.4, 0.8)),
        rng.uniform(10, 28), background_w, heater_wh, meals, reserve + rng.uniform(-3, 3),
        habit, chemistry,
    )  # fmt: skip
