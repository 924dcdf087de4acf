"""The rounds of the search on overlap, thousands of moves a second: compiled when first called.

Importing this module takes half a second and its first run some more, so that only such a search does.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.packing.compiled_fill import Ints
from nesting.packing.compiling import compiled

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

OBSTACLE = 50.0
"""How much worse it is to lie on an obstacle than on a piece."""

_FADING = 0.98
"""What the weight of a pair is multiplied by after a round without overlap, down to 1."""

CLEAR, GIVEN_UP, PAUSED, MAP_MISSING = range(4)
"""What some rounds came to: no overlap, no less overlap for long, budget spent, a map to be made."""

ROUND_SIZE, ROUND_PLACE, IDLE, WANTED_STATIC, WANTED_ORBITING = range(5)
"""Entries of a tally: of the present round the pieces and how many were seen; rounds since the least
overlap; the pair of shapes whose map is missing."""


class Board(NamedTuple):
    """What does not change while pieces move.

    Attributes
    ----------
    first, ways
        The shapes that piece i may take: ``ways[first[i] : first[i + 1]]``.
    sizes
        Rows and columns of a shape's positions on a sheet, (shapes, sheets, 2); 0 if it has none.
    frames, atlas
        Depth maps, by standing and orbiting shape, as `Rasters` keeps them.
    blocked_first, blocked
        Frames of the obstacles' maps for shape s on sheet k, from ``blocked_first[s, k]`` to
        ``blocked_first[s, k] + blocked_count[s, k]``.
    field_first
        Where the field of shape s on sheet k starts, (shapes, sheets); empty if fields are not kept.
    """

    first: Ints
    ways: Ints
    sizes: Ints
    frames: Ints
    atlas: Singles
    blocked_first: Ints
    blocked_count: Ints
    blocked: Ints
    field_first: Ints


class State(NamedTuple):
    """Where the pieces lie, how they overlap, and what their pairs weigh.

    Attributes
    ----------
    at, best
        Shape, sheet, row and column of each piece, (n, 4): now, and when overlap was least.
    depths
        Depth of overlap of each pair, (n, n), in cells by their importance.
    weights
        Of each pair, (n, n).
    hits
        Weighted depth in obstacles of each piece.
    order
        The pieces of the present round.
    tally
        See `ROUND_SIZE` and its like.
    least
        The least overlap so far, (1,).
    fields
        Unweighted overlap of a shape with all obstacles and pieces at every position of a sheet.
    seen
        Where each piece lies according to the fields of each shape, (shapes, n, 4); -1 if nowhere yet.
    """

    at: Ints
    best: Ints
    depths: Doubles
    weights: Doubles
    hits: Doubles
    order: Ints
    tally: Ints
    least: Doubles
    fields: Singles
    seen: Ints


@compiled
def rounds(board: Board, state: State, patience: int, budget: int, seed: int) -> tuple[int, int]:
    """Give overlapping pieces their least costly places, round by round, in random order.

    After a round the pairs that overlap gain weight, the deepest most, and the others lose some.

    Parameters
    ----------
    board, state
        What there is; the state is changed.
    patience
        Rounds without less overlap after which to give up.
    budget
        Cells of maps to add before a pause.
    seed
        Of chance, up to 2³² - 1.

    Returns
    -------
    tuple
        What it came to, and the cells added.
    """
    np.random.seed(seed)  # of the compiled code's own generator
    tally, spent = state.tally, 0
    costs = np.empty(_most_cells(board), np.float32)
    lows = np.empty(_most_columns(board), np.float32)
    while True:
        while tally[ROUND_PLACE] < tally[ROUND_SIZE]:
            if spent >= budget:
                return PAUSED, spent
            i = state.order[tally[ROUND_PLACE]]
            if _troubled(state, i):
                if _missing(board, state, i):
                    return MAP_MISSING, spent
                spent += _improve(board, state, i, costs, lows)
            tally[ROUND_PLACE] += 1
        if tally[ROUND_SIZE] > 0:
            _reweigh(state)
            tally[IDLE] += 1
        now = overlap(state)
        if now < state.least[0] - 1e-6:
            state.least[0] = now
            state.best[:] = state.at
            tally[IDLE] = 0
        if now <= 0:
            return CLEAR, spent
        if tally[IDLE] >= patience:
            return GIVEN_UP, spent
        _begin(state)
        spent += len(state.order)


@compiled
def overlap(state: State) -> float:
    """Add up all depths, those in obstacles weighted."""
    return float(state.depths.sum() / 2 + state.hits.sum())


@compiled
def measure(board: Board, state: State, i: int) -> None:
    """Work out how deep piece i overlaps each other one, all maps being there."""
    shape, sheet, row, column = state.at[i]
    for j in range(len(state.at)):
        depth = 0.0
        if j != i and state.at[j, 1] == sheet:
            frame = board.frames[state.at[j, 0], shape]
            depth = _looked_up(board.atlas, frame, row - state.at[j, 2], column - state.at[j, 3])
        state.depths[i, j] = state.depths[j, i] = depth
    hit, first = 0.0, board.blocked_first[shape, sheet]
    for k in range(first, first + board.blocked_count[shape, sheet]):
        hit += _looked_up(board.atlas, board.blocked[k], row, column)
    state.hits[i] = OBSTACLE * hit


@compiled
def _looked_up(atlas: Singles, frame: Ints, row: int, column: int) -> float:
    k, m = row - frame[0], column - frame[1]
    if k < 0 or k >= frame[2] or m < 0 or m >= frame[3]:
        return 0.0
    return float(atlas[frame[4] + k * frame[3] + m])


@compiled
def _most_cells(board: Board) -> int:
    most = 1
    for s in range(board.sizes.shape[0]):
        for k in range(board.sizes.shape[1]):
            most = max(most, board.sizes[s, k, 0] * board.sizes[s, k, 1])
    return most


@compiled
def _most_columns(board: Board) -> int:
    return int(max(1, board.sizes[:, :, 1].max()))


@compiled
def _troubled(state: State, i: int) -> bool:
    return bool(state.hits[i] > 0 or state.depths[i].any())


@compiled
def _begin(state: State) -> None:
    """Start a round of all pieces that overlap, in random order."""
    size = 0
    for i in range(len(state.at)):
        if _troubled(state, i):
            state.order[size] = i
            size += 1
    for k in range(size - 1, 0, -1):
        other = np.random.randint(0, k + 1)
        state.order[k], state.order[other] = state.order[other], state.order[k]
    state.tally[ROUND_SIZE], state.tally[ROUND_PLACE] = size, 0


@compiled
def _missing(board: Board, state: State, i: int) -> bool:
    """Tell whether a map that piece i needs is not there, and which."""
    for w in range(board.first[i], board.first[i + 1]):
        way = board.ways[w]
        for j in range(len(state.at)):
            if j != i and board.frames[state.at[j, 0], way, 2] == 0:
                state.tally[WANTED_STATIC], state.tally[WANTED_ORBITING] = state.at[j, 0], way
                return True
    return False


@compiled
def _improve(board: Board, state: State, i: int, costs: Singles, lows: Singles) -> int:
    """Give piece i its least costly place, if there is a better one than its own; count the cells added."""
    cost = state.hits[i]
    for j in range(len(state.at)):
        cost += state.depths[i, j] * state.weights[i, j]
    best, spent, found = cost - 1e-6, 0, False
    shape = sheet = row = column = 0
    for w in range(board.first[i], board.first[i + 1]):
        way = board.ways[w]
        for k in range(board.sizes.shape[1]):
            rows, columns = board.sizes[way, k]
            if rows == 0:
                continue
            grid = costs[: rows * columns].reshape((rows, columns))
            spent += rows * columns + add_up(board, state, i, way, k, grid)
            low = _least(grid, lows[:columns])
            if low < best:
                best, shape, sheet, found = low, way, k, True
                row, column = _chosen(grid, low)
    if found:
        state.at[i] = shape, sheet, row, column
        measure(board, state, i)
    return spent


@compiled
def add_up(board: Board, state: State, i: int, way: int, sheet: int, grid: Singles) -> int:
    """Write the weighted overlap of a shape at every position of a sheet, piece i left out.

    Counts the cells added. With fields only heavy pairs, what moved, and piece i itself are added.
    """
    fields = board.field_first.size > 0
    if fields:
        cells, start = _refresh(board, state, way), board.field_first[way, sheet]
        grid[:] = state.fields[start : start + grid.size].reshape(grid.shape)
    else:
        grid[:] = 0.0
        cells = _add_obstacles(board, way, sheet, grid)
    for j in range(len(state.at)):
        if state.at[j, 1] != sheet:
            continue
        weight = state.weights[i, j] if j != i else 0.0
        if fields:
            weight -= 1.0
        if weight != 0:
            cells += _add_piece(board, state.at[j], way, weight, grid)
    return cells


@compiled
def _refresh(board: Board, state: State, way: int) -> int:
    """Bring the fields of a shape up to date with what has moved; count the cells added."""
    cells, seen = 0, state.seen[way]
    if len(seen) and seen[0, 0] < 0:
        for sheet in range(board.sizes.shape[1]):
            cells += _add_obstacles(board, way, sheet, _field(board, state, way, sheet))
    for j in range(len(seen)):
        if not _same(seen[j], state.at[j]):
            if seen[j, 0] >= 0:
                cells += _add_piece(board, seen[j], way, -1.0, _field(board, state, way, seen[j, 1]))
            seen[j] = state.at[j]
            cells += _add_piece(board, seen[j], way, 1.0, _field(board, state, way, seen[j, 1]))
    return cells


@compiled
def _same(one: Ints, other: Ints) -> bool:
    return bool(one[0] == other[0] and one[1] == other[1] and one[2] == other[2] and one[3] == other[3])


@compiled
def _field(board: Board, state: State, way: int, sheet: int) -> Singles:
    rows, columns = board.sizes[way, sheet]
    start = board.field_first[way, sheet]
    return state.fields[start : start + rows * columns].reshape((rows, columns))


@compiled
def _add_obstacles(board: Board, way: int, sheet: int, grid: Singles) -> int:
    cells, first = 0, board.blocked_first[way, sheet]
    for k in range(first, first + board.blocked_count[way, sheet]):
        cells += _add(grid, board.atlas, board.blocked[k], 0, 0, OBSTACLE)
    return cells


@compiled
def _add_piece(board: Board, at: Ints, way: int, weight: float, grid: Singles) -> int:
    return int(_add(grid, board.atlas, board.frames[at[0], way], at[2], at[3], weight))


@compiled
def _add(grid: Singles, atlas: Singles, frame: Ints, row: int, column: int, weight: float) -> int:
    """Add a map to the part of a grid that it covers."""
    rows, columns = grid.shape
    top, left, height, width, start = row + frame[0], column + frame[1], frame[2], frame[3], frame[4]
    low, high = max(top, 0), min(top + height, rows)
    first, last = max(left, 0), min(left + width, columns)
    if first >= last or low >= high:
        return 0
    # indices without a sign spare the check for negative ones, and the loop works on several at a time
    factor, flat, count = np.float32(weight), grid.ravel(), np.uint64(last - first)
    onto, part = np.uint64(low * columns + first), np.uint64(start + (low - top) * width + first - left)
    for _ in range(low, high):
        for m in range(count):
            flat[onto + m] += atlas[part + m] * factor
        onto += np.uint64(columns)
        part += np.uint64(width)
    return int((high - low) * (last - first))


@compiled
def _least(grid: Singles, lows: Singles) -> float:
    """Find the least entry; by columns first, which the processor does for several at a time."""
    lows[:] = grid[0]
    for k in range(1, grid.shape[0]):
        line = grid[k]
        for m in range(len(lows)):
            lows[m] = line[m] if line[m] < lows[m] else lows[m]
    return float(lows.min())


@compiled
def _chosen(grid: Singles, low: float) -> tuple[int, int]:
    """Choose one of the positions of least cost by chance."""
    count = 0
    flat = grid.ravel()
    for k in range(len(flat)):
        count += flat[k] == low
    left = np.random.randint(0, count)
    for k in range(len(flat)):
        if flat[k] == low:
            if left == 0:
                return k // grid.shape[1], k % grid.shape[1]
            left -= 1
    return 0, 0


@compiled
def _reweigh(state: State) -> None:
    """Add to the weights of the pairs that overlap, most to the deepest; let the others fade."""
    deepest = state.depths.max()
    if deepest <= 0:
        return
    weights, depths = state.weights, state.depths
    for i in range(len(weights)):
        for j in range(len(weights)):
            if depths[i, j] > 0:
                weights[i, j] += depths[i, j] / deepest
            else:
                weights[i, j] = max(weights[i, j] * _FADING, 1.0)
