"""What comes out of the rules of cutting.

There is no outcome that closes a circuit: what is not in this list cannot be asked for.
"""

from dataclasses import dataclass
from enum import StrEnum

from .questions import AnswerProblem, Question


class Reason(StrEnum):
    """Why a circuit is not cut. The order is that of the checks."""

    NO_RELAY = "no_relay"
    NEVER = "never"
    OTHER_LOADS = "other_loads"
    NO_APPLIANCE = "no_appliance"
    NOT_GALLEY = "not_galley"
    SHARED_RELAY = "shared_relay"
    STUCK = "stuck"
    NOT_PERMITTED = "not_permitted"
    CHECKING = "checking"
    RELAY_UNKNOWN = "relay_unknown"
    ALREADY_OPEN = "already_open"
    TIME_DIFFERS = "time_differs"
    READINGS_STALE = "readings_stale"
    METER_STALE = "meter_stale"
    RUN_OPEN = "run_open"
    RUN_DOUBTFUL = "run_doubtful"
    METER_DRAWS = "meter_draws"
    RESTING_UNKNOWN = "resting_unknown"
    DRAW_UNEXPLAINED = "draw_unexplained"
    DRAW_RESTLESS = "draw_restless"
    MAY_HOLD = "may_hold"
    RUN_DOWN = "run_down"
    IDLE_TOO_SHORT = "idle_too_short"
    KEPT = "kept"
    QUIET_HOURS = "quiet_hours"
    NOTHING_TO_SAVE = "nothing_to_save"


class Trouble(StrEnum):
    """What went wrong with a cut."""

    RELAY_DID_NOT_OPEN = "relay_did_not_open"
    DRAW_DID_NOT_FALL = "draw_did_not_fall"


class Unverified(StrEnum):
    """Why nobody knows whether a cut took effect."""

    TOO_SMALL_TO_SEE = "too_small_to_see"
    READINGS_STOPPED = "readings_stopped"
    LOAD_MOVED = "load_moved"


class Asker(StrEnum):
    """Who wanted a cut."""

    RULE = "rule"
    ANSWER = "answer"
    PERSON = "person"


@dataclass(frozen=True, slots=True)
class Cut:
    """Open the circuit's relay. `standby_w` is what that saves, None if not known."""

    circuit: str
    at_s: float
    by: Asker
    standby_w: float | None


@dataclass(frozen=True, slots=True)
class Ask:
    """Ask the crew whether to cut."""

    circuit: str
    at_s: float
    question: Question
    standby_w: float | None
    idle_since_s: float


@dataclass(frozen=True, slots=True)
class Refused:
    """A cut that was due, or that somebody wanted, does not happen."""

    circuit: str
    at_s: float
    by: Asker
    reason: Reason


@dataclass(frozen=True, slots=True)
class Verified:
    """The draw fell after a cut; by how much, W, where the load showed it."""

    circuit: str
    at_s: float
    fell_w: float | None


@dataclass(frozen=True, slots=True)
class NotVerified:
    """Whether the draw fell is not known."""

    circuit: str
    at_s: float
    why: Unverified


@dataclass(frozen=True, slots=True)
class Stuck:
    """A cut did not take effect; it is not tried again until somebody has looked."""

    circuit: str
    at_s: float
    trouble: Trouble


@dataclass(frozen=True, slots=True)
class Kept:
    """Nothing is cut before `until_s`. `switched_back`: the relay was closed by hand."""

    circuit: str
    at_s: float
    until_s: float
    switched_back: bool = False


@dataclass(frozen=True, slots=True)
class QuestionOver:
    """A question is no longer open: answered, too late, or settled by itself."""

    circuit: str
    at_s: float
    token: str


@dataclass(frozen=True, slots=True)
class AnswerRejected:
    """An answer that belongs to no open question; nothing was done."""

    at_s: float
    problem: AnswerProblem


type Outcome = (
    Cut
    | Ask
    | Refused
    | Verified
    | NotVerified
    | Stuck
    | Kept
    | QuestionOver
    | AnswerRejected
)
