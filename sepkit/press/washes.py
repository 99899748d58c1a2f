"""The least washing of one screen that takes several inks.

In: the ink in it, the inks to come, what traces cost. Out: minutes that no sequence of them is below.
"""

from __future__ import annotations

from collections.abc import Collection

from sepkit.press.runs import Trace, wash_min


def least_washes(now: str, used: Collection[str], trace: Trace) -> float:
    """Return the least minutes of washing in which one screen takes all inks of ``used``, from the ink ``now`` on.

    An empty ``now`` is a clean screen. The shortest walk through all of them, by subsets (M. Held, R. M. Karp, 1962, A
    dynamic programming approach to sequencing problems, J. SIAM 10) over distances that may go by others of ``used``.
    """
    inks = sorted(set(used) | ({now} if now else set()))
    cost = [[0.0 if a == b else wash_min(a, b, trace) for b in inks] for a in inks]
    for k in (inks.index(ink) for ink in used):
        for a in range(len(inks)):
            for b in range(len(inks)):
                cost[a][b] = min(cost[a][b], cost[a][k] + cost[k][b])
    wanted = sum(1 << inks.index(ink) for ink in used)
    starts = [inks.index(now)] if now else [inks.index(ink) for ink in used]
    best = {(1 << at & wanted, at): 0.0 for at in starts}
    for _ in range(wanted.bit_count()):
        further: dict[tuple[int, int], float] = {}
        for (taken, at), minutes in best.items():
            for to in range(len(inks)):
                if wanted >> to & 1 and not taken >> to & 1:
                    key = (taken | 1 << to, to)
                    further[key] = min(further.get(key, float("inf")), minutes + cost[at][to])
        best = further | {key: minutes for key, minutes in best.items() if key[0] == wanted}
    return min(best.values())


def detour(inks: frozenset[str], trace: Trace) -> float:
    """Return the least minutes that an ink taken once more adds to the washing of a screen."""
    ways = ((a, i, b) for a in inks for i in inks for b in inks if i not in (a, b))
    more = (
        wash_min(a, i, trace) + wash_min(i, b, trace) - (0.0 if a == b else wash_min(a, b, trace)) for a, i, b in ways
    )
    return max(0.0, min(more, default=0.0))
