"""Scores of an inferred history against the truth.

Definitions. Running time: an appliance runs from the start to the end of its run, pauses
within included; F1 over time. Estimated accuracy of assigned energy: Kolter and Johnson,
"REDD: a public data set for energy disaggregation research", SustKDD 2011:
1 - sum |estimate - truth| / (2 sum truth), here over a grid of ten seconds.
"""

from collections.abc import Iterable, Mapping, Sequence

type Span = tuple[float, float]


def merged(spans: Iterable[Span]) -> list[Span]:
    """Return spans in order, overlapping ones joined."""
    result: list[Span] = []
    for start, end in sorted(spans):
        if end <= start:
            continue
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return result


def length(spans: Iterable[Span]) -> float:
    """Return the total length of spans that do not overlap."""
    return sum(end - start for start, end in spans)


def overlap(one: Sequence[Span], two: Sequence[Span]) -> float:
    """Return the length that two ordered lists of spans have in common."""
    i = j = 0
    common = 0.0
    while i < len(one) and j < len(two):
        common += max(0.0, min(one[i][1], two[j][1]) - max(one[i][0], two[j][0]))
        if one[i][1] <= two[j][1]:
            i += 1
        else:
            j += 1
    return common


def f1(true_positive: float, false_positive: float, false_negative: float) -> float:
    """Return F1; 1 where there is nothing to find and nothing was found."""
    if true_positive + false_positive + false_negative == 0.0:
        return 1.0
    return 2.0 * true_positive / (2.0 * true_positive + false_positive + false_negative)


def running_time(
    truth: Mapping[str, Sequence[Span]], guess: Mapping[str, Sequence[Span]]
) -> dict[str, tuple[float, float, float]]:
    """Return hit, false and missed seconds of running time per appliance."""
    result: dict[str, tuple[float, float, float]] = {}
    for name in truth:
        true = merged(truth[name])
        said = merged(guess.get(name, ()))
        hit = overlap(true, said)
        result[name] = (hit, length(said) - hit, length(true) - hit)
    return result


def pooled_f1(counts: Iterable[tuple[float, float, float]]) -> float:
    """Return F1 of all counts together."""
    hit = false = missed = 0.0
    for a, b, c in counts:
        hit, false, missed = hit + a, false + b, missed + c
    return f1(hit, false, missed)


def macro_f1(counts: Iterable[tuple[float, float, float]]) -> float:
    """Return the mean F1 over appliances that ran or were said to run."""
    scores = [f1(*c) for c in counts if sum(c) > 0.0]
    return sum(scores) / len(scores) if scores else 1.0


def grid_counts(
    truth: Sequence[float], guess: Sequence[float], on_above_w: float
) -> tuple[float, float, float]:
    """Return hits, false and missed cells of two power series, on above a power."""
    hit = false = missed = 0
    for y, estimate in zip(truth, guess, strict=True):
        if y > on_above_w:
            if estimate > on_above_w:
                hit += 1
            else:
                missed += 1
        elif estimate > on_above_w:
            false += 1
    return float(hit), float(false), float(missed)


def estimated_accuracy(
    truth: Mapping[str, Sequence[float]], guess: Mapping[str, Sequence[float]]
) -> float:
    """Return Kolter and Johnson's estimated accuracy over all appliances."""
    wrong = total = 0.0
    for name, series in truth.items():
        said = guess[name]
        wrong += sum(abs(e - y) for y, e in zip(series, said, strict=True))
        total += sum(series)
    return 1.0 if total == 0.0 else 1.0 - wrong / (2.0 * total)


def match_spans(truth: Sequence[Span], guess: Sequence[Span]) -> list[tuple[int, int]]:
    """Pair spans one to one, largest overlap first; at least a third of the longer."""
    pairs: list[tuple[float, int, int]] = []
    for i, (a, b) in enumerate(truth):
        for j, (c, d) in enumerate(guess):
            common = min(b, d) - max(a, c)
            if common > max(b - a, d - c) / 3.0:
                pairs.append((common, i, j))
    pairs.sort(reverse=True)
    taken_i: set[int] = set()
    taken_j: set[int] = set()
    result: list[tuple[int, int]] = []
    for _, i, j in pairs:
        if i not in taken_i and j not in taken_j:
            taken_i.add(i)
            taken_j.add(j)
            result.append((i, j))
    return result
