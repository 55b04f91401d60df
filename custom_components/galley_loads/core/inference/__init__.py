"""Inference: from the boat's load to what each appliance did.

The load is cut into *plateaus* (`plateaus`). A handful of competing *explanations*
(`explanation`) of the recent past is kept; each says which appliance is in which state of
its kind (`machine`), which unnamed loads run and how high the resting load lies. Every new
plateau extends each of them in all likely ways (`extend`), the best survive (`beam`).
After half an hour what the best one says is settled (`history`).
"""

from .learned import LearnedPower
from .tracker import Inference

__all__ = ["Inference", "LearnedPower"]
