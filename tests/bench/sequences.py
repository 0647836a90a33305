"""Two published instances, written down from memory: G. Reinelt, "TSPLIB", ORSA Journal on Computing 3(4), 1991.

Both give their published optimum (2125 and 39), which a slip of the memory would hardly leave as it is; the entries
were not compared with the files. -1 in ``ESC07`` means that the column's node comes first.
"""

from __future__ import annotations

import numpy as np

FAR = 1e9

ESC07 = """
0 0 0 0 0 0 0 0 1000000
-1 0 100 200 75 0 300 100 0
-1 400 0 500 325 400 600 0 0
-1 700 800 0 550 700 900 800 0
-1 -1 250 225 0 275 525 250 0
-1 -1 100 200 -1 0 -1 -1 0
-1 -1 1100 1200 1075 1000 0 1100 0
-1 -1 0 500 325 400 600 0 0
-1 -1 -1 -1 -1 -1 -1 -1 0
"""

BR17 = """
0 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
5 3 0 72 72 48 48 24 24 3 3 5 3 0 48 48 24
48 48 74 0 0 6 6 12 12 48 48 48 48 74 6 6 12
48 48 74 0 0 6 6 12 12 48 48 48 48 74 6 6 12
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
0 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
5 3 0 72 72 48 48 24 24 3 3 5 3 0 48 48 24
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0
"""


def matrix(text: str, back: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """Costs and what comes before what; ``back`` makes a round tour a path to a copy of its first node."""
    given = np.array([row.split() for row in text.strip().splitlines()], dtype=np.float64)
    before = given == -1
    cost = np.where(before, FAR, given)
    if back:
        cost = np.vstack([np.hstack([cost, cost[:, :1]]), np.full(len(cost) + 1, FAR)])
        before = np.zeros(cost.shape, dtype=bool)
        before[1:, 0] = True
        before[-1, :-1] = True
    return cost, before
