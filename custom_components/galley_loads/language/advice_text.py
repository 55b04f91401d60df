"""An answer as a person reads it on a terminal."""

from datetime import tzinfo
from typing import Final

from ..core.advice.answer import Advice, Verdict
from .report_tables import table
from .speech import ENGLISH, english

_WORDS: Final = {
    Verdict.COOK_NOW: "cook now",
    Verdict.WAIT: "wait",
    Verdict.HOLD_OFF: "hold off",
    Verdict.UNKNOWN: "cannot tell",
}
_ROWS: Final = 13
_SAYS: Final = ENGLISH.conventions


def advice_text(advice: Advice, zone: tzinfo) -> str:
    """Return the verdict, its reasons and a table of starts, on the boat's clock."""
    headline = f"{advice.dish}: {_WORDS[advice.verdict]}"
    if advice.verdict is Verdict.WAIT and advice.start_s is not None:
        headline += f" until {_SAYS.clock(advice.start_s, advice.at_s, zone)}"
    reasons = english(zone).say_all(advice.reasons)
    parts = [headline, *(f"  {reason}" for reason in reasons)]
    if advice.starts:
        parts.extend(("", _starts(advice, zone)))
    return "\n".join(parts) + "\n"


def _starts(advice: Advice, zone: tzinfo) -> str:
    every = max(-(-len(advice.starts) // _ROWS), 1)
    shown = [
        start
        for i, start in enumerate(advice.starts)
        if i % every == 0 or start.at_s == advice.start_s
    ]
    rows = [
        [
            _SAYS.clock(start.at_s, advice.at_s, zone),
            _SAYS.ampere_hours(start.drawn_ah),
            _SAYS.charge(start.soc_lowest),
            _SAYS.charge(start.soc_lowest_p10),
            _SAYS.chance(start.chance_above_reserve),
            "<" if start.at_s == advice.start_s else "",
        ]
        for start in shown
    ]
    header = ["start", "from bank", "lowest", "lowest, 1 in 10", "keeps reserve", ""]
    return table(header, rows, "<>>>><")
