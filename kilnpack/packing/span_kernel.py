"""Compiled fill of one shelf, row by row: bodies stand at whole steps of depth, and at any place along a row.

Positions across the shelf are exact: for two kinds in given turns and a whole number of steps between their axes the
forbidden stretch along a row is one interval, tabulated once. A fill walks the rows from the front and takes the
first free place; a sequence of kinds is improved by small changes. Arrays are plain, so that the state of a search
lives with its caller.

The fields of the packed arrays
-------------------------------
axes (n, 4)      ends x1, y1, x2, y2 of every primitive's axis, already turned
first (m + 1)    the primitives of turn t of a kind are first[t] .. first[t + 1]
profile (n)      profile class of a primitive
needs (c, c)     least distance of two axes by profile class, negative where heights never meet
twins            turns with the very same axes as turn t, t among them, are twins[twin_first[t] .. twin_first[t + 1]]
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

import numpy as np

from kilnpack.shapes.kernel.compiled import kernel, small

WIDE = 1e9
SAFE_MM = 2e-3
TOUCH_MM = 5e-4
ANY = 9999


@small
def next_random(state):  # type: ignore[no-untyped-def]
    """Advance a xorshift state and return a number in [0, 1)."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return float(x >> np.uint64(11)) / 9007199254740992.0


@kernel
def capsule_span(ax, ay, bx, by, r, y):  # type: ignore[no-untyped-def]
    """Return the stretch of the row at y inside a capsule; (WIDE, -WIDE) where it misses."""
    low = WIDE
    high = -WIDE
    rr = r * r
    d = y - ay
    if d * d < rr:
        half = math.sqrt(rr - d * d)
        low = ax - half
        high = ax + half
    if ax == bx and ay == by:
        return low, high
    d = y - by
    if d * d < rr:
        half = math.sqrt(rr - d * d)
        low = min(low, bx - half)
        high = max(high, bx + half)
    ux = bx - ax
    uy = by - ay
    length = math.sqrt(ux * ux + uy * uy)
    if uy != 0.0:
        for side in (-1.0, 1.0):
            nx = -side * uy / length * r
            ny = side * ux / length * r
            share = (y - ay - ny) / uy
            if 0.0 <= share <= 1.0:
                x = ax + nx + share * ux
                low = min(low, x)
                high = max(high, x)
    return low, high


@kernel
def parallelogram_span(p, q, r, y):  # type: ignore[no-untyped-def]
    """Return the row's stretch of offsets at which axis p, moved by the offset, is nearer than r to axis q."""
    ax = q[0] - p[0]
    ay = q[1] - p[1]
    bx = q[2] - p[0]
    by = q[3] - p[1]
    cx = q[2] - p[2]
    cy = q[3] - p[3]
    dx = q[0] - p[2]
    dy = q[1] - p[3]
    low, high = capsule_span(ax, ay, bx, by, r, y)
    if p[0] != p[2] or p[1] != p[3]:
        l2, h2 = capsule_span(bx, by, cx, cy, r, y)
        low = min(low, l2)
        high = max(high, h2)
        if q[0] != q[2] or q[1] != q[3]:
            l2, h2 = capsule_span(cx, cy, dx, dy, r, y)
            low = min(low, l2)
            high = max(high, h2)
            l2, h2 = capsule_span(dx, dy, ax, ay, r, y)
            low = min(low, l2)
            high = max(high, h2)
    return low, high


@kernel
def radius_there(points, start, end, z):  # type: ignore[no-untyped-def]
    """Return the largest radius at a height of the profile points[start:end] (height, radius), -1 where it is not."""
    if z < points[start, 0] or z > points[end - 1, 0]:
        return -1.0
    best = -1.0
    for k in range(start, end):
        if points[k, 0] == z:
            best = max(best, points[k, 1])
        if k + 1 < end and points[k, 0] < z < points[k + 1, 0]:
            share = (z - points[k, 0]) / (points[k + 1, 0] - points[k, 0])
            best = max(best, points[k, 1] + (points[k + 1, 1] - points[k, 1]) * share)
    return best


@kernel
def need_table(points, starts, foot_only, gap):  # type: ignore[no-untyped-def]
    """Return the distances that axes keep by profile class: greatest sum of radii at a common height, and the gap.

    points (n, 2): height and radius of all profiles; class c has the rows starts[c] .. starts[c + 1]. Negative where
    two never meet, or where one is a foot only.
    """
    count = starts.shape[0] - 1
    table = np.full((count, count), -1.0)
    for a in range(count):
        for b in range(a + 1):
            if foot_only[a] or foot_only[b]:
                continue
            best = -1.0
            for one, other in ((a, b), (b, a)):
                for k in range(starts[one], starts[one + 1]):
                    z = points[k, 0]
                    r = radius_there(points, starts[other], starts[other + 1], z)
                    if r >= 0.0:
                        best = max(best, r + radius_there(points, starts[one], starts[one + 1], z))
            if best >= 0.0:
                table[a, b] = best + gap
                table[b, a] = best + gap
    return table


@kernel
def pair_table(i, j, axes, first, profile, needs, step, starts, reach, buffer, used):  # type: ignore[no-untyped-def]
    """Tabulate the forbidden offsets of turn i against turn j; return the new fill of the buffer, -1 when full."""
    most = 0.0
    for p in range(first[i], first[i + 1]):
        for q in range(first[j], first[j + 1]):
            n = needs[profile[p], profile[q]]
            if n >= 0.0:
                top = max(abs(axes[q, 1]), abs(axes[q, 3])) + max(abs(axes[p, 1]), abs(axes[p, 3])) + n
                most = max(most, top)
    rows = np.int64(math.ceil((most + SAFE_MM) / step))
    if used + 2 * rows + 1 > buffer.shape[0]:
        return np.int64(-1)
    for k in range(used, used + 2 * rows + 1):
        buffer[k, 0] = WIDE
        buffer[k, 1] = -WIDE
    for p in range(first[i], first[i + 1]):
        p_disc = axes[p, 0] == axes[p, 2] and axes[p, 1] == axes[p, 3]
        for q in range(first[j], first[j + 1]):
            n = needs[profile[p], profile[q]] + SAFE_MM
            if n < SAFE_MM:
                continue
            if p_disc and axes[q, 0] == axes[q, 2] and axes[q, 1] == axes[q, 3]:
                x = axes[q, 0] - axes[p, 0]
                y = axes[q, 1] - axes[p, 1]
                for k in range(math.ceil((y - n) / step), math.floor((y + n) / step) + 1):
                    rest = n * n - (k * step - y) ** 2
                    if rest > 0.0:
                        half = math.sqrt(rest)
                        at = used + k + rows
                        buffer[at, 0] = min(buffer[at, 0], x - half)
                        buffer[at, 1] = max(buffer[at, 1], x + half)
            else:
                far = max(axes[q, 1], axes[q, 3]) - min(axes[p, 1], axes[p, 3]) + n
                near = min(axes[q, 1], axes[q, 3]) - max(axes[p, 1], axes[p, 3]) - n
                for k in range(max(-rows, math.floor(near / step)), min(rows, math.ceil(far / step)) + 1):
                    low, high = parallelogram_span(axes[p], axes[q], n, k * step)
                    at = used + k + rows
                    buffer[at, 0] = min(buffer[at, 0], low)
                    buffer[at, 1] = max(buffer[at, 1], high)
    starts[i, j] = used + rows
    reach[i, j] = rows
    return used + 2 * rows + 1


@kernel
def same_needs(i, i2, j, j2, first, profile, needs):  # type: ignore[no-untyped-def]
    """Return whether turns i and j keep the same distances, axis by axis, as i2 and j2, which have the same axes."""
    for p in range(first[i + 1] - first[i]):
        for q in range(first[j + 1] - first[j]):
            one = needs[profile[first[i] + p], profile[first[j] + q]]
            if one != needs[profile[first[i2] + p], profile[first[j2] + q]]:
                return False
    return True


@kernel
def known_pair(i, j, first, profile, needs, twin_first, twins, starts, reach, buffer, used):  # type: ignore[no-untyped-def]
    """Take the forbidden offsets of turn i against turn j from a known pair of the same axes, or from that pair turned.

    Nested bodies of one kind differ in height alone and often keep the same distances. Return the new fill of the
    buffer, -1 when full, -2 when no such pair is known.
    """
    for a in range(twin_first[i], twin_first[i + 1]):
        for b in range(twin_first[j], twin_first[j + 1]):
            i2 = twins[a]
            j2 = twins[b]
            if starts[i2, j2] >= 0 and same_needs(i, i2, j, j2, first, profile, needs):
                starts[i, j] = starts[i2, j2]
                reach[i, j] = reach[i2, j2]
                return used
    for a in range(twin_first[i], twin_first[i + 1]):
        for b in range(twin_first[j], twin_first[j + 1]):
            i2 = twins[a]
            j2 = twins[b]
            if starts[j2, i2] >= 0 and same_needs(i, i2, j, j2, first, profile, needs):
                rows = reach[j2, i2]
                if used + 2 * rows + 1 > buffer.shape[0]:
                    return np.int64(-1)
                for k in range(-rows, rows + 1):
                    buffer[used + rows + k, 0] = -buffer[starts[j2, i2] - k, 1]
                    buffer[used + rows + k, 1] = -buffer[starts[j2, i2] - k, 0]
                starts[i, j] = used + rows
                reach[i, j] = rows
                return used + 2 * rows + 1
    return np.int64(-2)


@kernel
def clip_to_region(kind, numbers, planes, x1, y1, inset, flat_inset, y, low, high):  # type: ignore[no-untyped-def]
    """Narrow [low, high] so that the point (x + x1, y + y1) keeps its inset inside a convex region.

    Kind 0 is a rectangle (x0, y0, x1, y1), 1 a disc (x, y, r), 2 a half disc (x, y, r, quarter turns of its flat
    side), 3 half planes n.p <= d.
    """
    py = y + y1
    if kind == 0:
        out = max(numbers[1] - py, py - numbers[3])
        if inset >= 0.0:
            if out > -inset:
                return WIDE, -WIDE
            return max(low, numbers[0] + inset - x1), min(high, numbers[2] - inset - x1)
        if out > -inset:
            return WIDE, -WIDE
        over = -inset
        if out > 0.0:
            over = math.sqrt(inset * inset - out * out)
        return max(low, numbers[0] - over - x1), min(high, numbers[2] + over - x1)
    if kind != 3:
        r = numbers[2] - inset
        d = py - numbers[1]
        if r < abs(d):
            return WIDE, -WIDE
        half = math.sqrt(r * r - d * d)
        low = max(low, numbers[0] - half - x1)
        high = min(high, numbers[0] + half - x1)
        if kind == 2:
            side = numbers[3]
            if side == 0.0 and d < flat_inset:
                return WIDE, -WIDE
            if side == 2.0 and -d < flat_inset:
                return WIDE, -WIDE
            if side == 1.0:
                high = min(high, numbers[0] - flat_inset - x1)
            elif side == 3.0:
                low = max(low, numbers[0] + flat_inset - x1)
        return low, high
    for k in range(planes.shape[0]):
        room = planes[k, 2] - max(inset, 0.0) - planes[k, 1] * py
        nx = planes[k, 0]
        if nx > 1e-12:
            high = min(high, room / nx - x1)
        elif nx < -1e-12:
            low = max(low, room / nx - x1)
        elif room < 0.0:
            return WIDE, -WIDE
    return low, high


@kernel
def room_table(  # type: ignore[no-untyped-def]
    t,
    axes,
    first,
    profile,
    kinds,
    numbers,
    plane_first,
    planes,
    insets,
    flats,
    blocks,
    block_needs,
    step,
    y0,
    rows,
    span,
    blocked,
):
    """Tabulate for turn t of a kind, row by row, the stretch inside all regions and what every block forbids.

    kinds (R), numbers (R, 4), planes by plane_first: the convex regions; insets, flats (R, c) by profile class.
    blocks (B, 5): disc (0, x, y, r, 0) or rectangle (1, x0, y0, x1, y1); block_needs (B, c), negative = no matter.
    """
    rect = np.zeros(4)
    for k in range(rows):
        y = y0 + k * step
        low = -WIDE
        high = WIDE
        for p in range(first[t], first[t + 1]):
            c = profile[p]
            for r in range(kinds.shape[0]):
                if insets[r, c] > WIDE / 2:
                    continue
                some = planes[plane_first[r] : plane_first[r + 1]]
                low, high = clip_to_region(
                    kinds[r],
                    numbers[r],
                    some,
                    axes[p, 0],
                    axes[p, 1],
                    insets[r, c] + SAFE_MM,
                    flats[r, c] + SAFE_MM,
                    y,
                    low,
                    high,
                )
                low, high = clip_to_region(
                    kinds[r],
                    numbers[r],
                    some,
                    axes[p, 2],
                    axes[p, 3],
                    insets[r, c] + SAFE_MM,
                    flats[r, c] + SAFE_MM,
                    y,
                    low,
                    high,
                )
        span[k, 0] = low
        span[k, 1] = high
        for b in range(blocks.shape[0]):
            low = WIDE
            high = -WIDE
            for p in range(first[t], first[t + 1]):
                n = block_needs[b, profile[p]]
                if n < 0.0:
                    continue
                n += SAFE_MM
                if axes[p, 0] == axes[p, 2] and axes[p, 1] == axes[p, 3]:
                    x0 = blocks[b, 1]
                    y1 = blocks[b, 2]
                    x2 = blocks[b, 3]
                    y3 = blocks[b, 4]
                    if blocks[b, 0] == 0.0:
                        n += blocks[b, 3]
                        x2 = x0
                        y3 = y1
                    off = max(y1 - y - axes[p, 1], y + axes[p, 1] - y3, 0.0)
                    if off < n:
                        half = math.sqrt(n * n - off * off)
                        low = min(low, x0 - half - axes[p, 0])
                        high = max(high, x2 + half - axes[p, 0])
                    continue
                if blocks[b, 0] == 0.0:
                    rect[0] = blocks[b, 1]
                    rect[1] = blocks[b, 2]
                    rect[2] = blocks[b, 1]
                    rect[3] = blocks[b, 2]
                    l2, h2 = parallelogram_span(axes[p], rect, n + blocks[b, 3], y)
                    low = min(low, l2)
                    high = max(high, h2)
                else:
                    for side in range(4):
                        rect[0] = blocks[b, 1] if side != 1 else blocks[b, 3]
                        rect[1] = blocks[b, 2] if side != 2 else blocks[b, 4]
                        rect[2] = blocks[b, 3] if side != 3 else blocks[b, 1]
                        rect[3] = blocks[b, 4] if side != 0 else blocks[b, 2]
                        l2, h2 = parallelogram_span(axes[p], rect, n, y)
                        low = min(low, l2)
                        high = max(high, h2)
            blocked[k, b, 0] = low
            blocked[k, b, 1] = high


@kernel
def find_row(  # type: ignore[no-untyped-def]
    t, row, rows, span, blocked, placed_turn, placed_x, placed_row, n, starts, reach, buffer, rightward, out,
):  # fmt: skip
    """Find the first row from `row` on with a free place for turn t; out[0] is the place. Return the row or -1."""
    while row < rows:
        low = span[row, 0]
        high = span[row, 1]
        if low <= high:
            x = low if rightward else high
            moved = True
            while moved and low <= x <= high:
                moved = False
                for b in range(blocked.shape[1]):
                    if blocked[row, b, 0] + TOUCH_MM < x < blocked[row, b, 1] - TOUCH_MM:
                        x = blocked[row, b, 1] if rightward else blocked[row, b, 0]
                        moved = True
                for m in range(n):
                    d = row - placed_row[m]
                    j = placed_turn[m]
                    if abs(d) <= reach[t, j]:
                        at = starts[t, j] + d
                        rel = x - placed_x[m]
                        if buffer[at, 0] + TOUCH_MM < rel < buffer[at, 1] - TOUCH_MM:
                            x = placed_x[m] + (buffer[at, 1] if rightward else buffer[at, 0])
                            moved = True
            if low <= x <= high:
                out[0] = x
                return row
        row += 1
    return np.int64(-1)


@kernel
def fill(  # type: ignore[no-untyped-def]
    order, quota, length, rightward,
    turn_first, group, pieces, second, second_use, mass, value, extent,
    counts, limit_kg, rows, span, blocked,
    axes, first, profile, twin_first, twins, needs, step, starts, reach, buffer, used,
    pointers, spare, placed_turn, placed_kind, placed_x, placed_row,
):  # fmt: skip
    """Fill a shelf by a sequence of kinds with quotas.

    used[0] is the fill of the pair buffer (-1 when it overflows). Returns (value, number placed).
    """
    n = np.int64(0)
    total = 0.0
    weight = 0.0
    out = np.zeros(1)
    for t in range(pointers.shape[0]):
        pointers[t] = 0
    for g in range(counts.shape[0]):
        spare[g] = counts[g]
    for s in range(length):
        k = order[s]
        for _ in range(quota[s]):
            if spare[group[k]] < pieces[k] or weight + mass[k] > limit_kg or n >= placed_x.shape[0]:
                break
            if second[k] >= 0 and spare[second[k]] < second_use[k]:
                break
            best = -1
            best_key = WIDE
            best_x = 0.0
            for t in range(turn_first[k], turn_first[k + 1]):
                if pointers[t] >= rows:
                    continue
                for m in range(n):
                    j = placed_turn[m]
                    if starts[t, j] < 0:
                        fresh = known_pair(
                            t, j, first, profile, needs, twin_first, twins, starts, reach, buffer, used[0]
                        )
                        if fresh == -2:
                            fresh = pair_table(t, j, axes, first, profile, needs, step, starts, reach, buffer, used[0])
                        used[0] = fresh
                        if fresh < 0:
                            return -1.0, np.int64(0)
                row = find_row(
                    t,
                    pointers[t],
                    rows,
                    span[t],
                    blocked[t],
                    placed_turn,
                    placed_x,
                    placed_row,
                    n,
                    starts,
                    reach,
                    buffer,
                    rightward,
                    out,
                )
                if row < 0:
                    pointers[t] = rows
                    continue
                pointers[t] = row
                key = row * step + extent[t]
                if key < best_key - 1e-9:
                    best_key = key
                    best = t
                    best_x = out[0]
            if best < 0:
                break
            placed_turn[n] = best
            placed_kind[n] = k
            placed_x[n] = best_x
            placed_row[n] = pointers[best]
            n += 1
            spare[group[k]] -= pieces[k]
            if second[k] >= 0:
                spare[second[k]] -= second_use[k]
            weight += mass[k]
            total += value[k]
    return total, n


@kernel
def change(order, quota, length, frame, kinds, top, state):  # type: ignore[no-untyped-def]
    """Change a sequence a little, in place; return its new length."""
    what = next_random(state)
    if what < 0.06:
        frame[0] = np.int64(next_random(state) * frame[2])
        return length
    if what < 0.1:
        frame[1] = 1 - frame[1]
        return length
    if length > 1 and what < 0.3:
        a = np.int64(next_random(state) * length)
        b = np.int64(next_random(state) * length)
        order[a], order[b] = order[b], order[a]
        quota[a], quota[b] = quota[b], quota[a]
        return length
    if length > 0 and what < 0.5:
        a = np.int64(next_random(state) * length)
        if next_random(state) < 0.5 and quota[a] < 30:
            quota[a] += 1
        elif quota[a] > 1:
            quota[a] -= 1
        return length
    if length > 0 and (what < 0.65 or length >= top):
        a = np.int64(next_random(state) * length)
        for m in range(a, length - 1):
            order[m] = order[m + 1]
            quota[m] = quota[m + 1]
        return length - 1
    if length > 0 and what < 0.75:
        a = np.int64(next_random(state) * length)
        order[a] = kinds[np.int64(next_random(state) * kinds.shape[0])]
        return length
    a = np.int64(next_random(state) * (length + 1))
    for m in range(length, a, -1):
        order[m] = order[m - 1]
        quota[m] = quota[m - 1]
    pick = next_random(state)
    order[a] = kinds[np.int64(pick * pick * kinds.shape[0])]
    quota[a] = 1 + np.int64(next_random(state) * next_random(state) * 12)
    return length + 1


@kernel
def climb(  # type: ignore[no-untyped-def]
    fills, heat, top, genome, frame, kinds, state,
    turn_first, group, pieces, second, second_use, mass, value, extent,
    counts, limit_kg, rows, span, blocked,
    axes, first, profile, twin_first, twins, needs, step, starts, reach, buffer, used,
    pointers, spare, placed_turn, placed_kind, placed_x, placed_row,
    best_genome, best_frame, best_turn, best_kind, best_x, best_row,
):  # fmt: skip
    """Improve a sequence by `fills` fills and keep the best; return (value, bodies, length of the best sequence).

    genome (2, L): kinds and quotas, -1 ends it, at most `top` of them; frame: [rotation, direction, rotations];
    kinds: those allowed, best value for room first. A worse sequence is kept while its loss is under `heat`, which
    falls to 0.
    """
    most = genome.shape[1]
    now = np.empty((2, most), np.int64)
    new = np.empty((2, most), np.int64)
    new_frame = np.empty(3, np.int64)
    length = np.int64(0)
    while length < top and genome[0, length] >= 0:
        now[0, length] = genome[0, length]
        now[1, length] = genome[1, length]
        length += 1
    now_value = -1.0
    best_value = -1.0
    best_n = np.int64(0)
    best_length = np.int64(0)
    for turn in range(fills):
        for m in range(length):
            new[0, m] = now[0, m]
            new[1, m] = now[1, m]
        for m in range(3):
            new_frame[m] = frame[m]
        new_length = length
        if turn > 0:
            new_length = change(new[0], new[1], new_length, new_frame, kinds, top, state)
            if next_random(state) < 0.4:
                new_length = change(new[0], new[1], new_length, new_frame, kinds, top, state)
        whole = new_length
        for m in range(kinds.shape[0]):
            if whole < most:
                new[0, whole] = kinds[m]
                new[1, whole] = ANY
                whole += 1
        f = new_frame[0]
        got, n = fill(
            new[0], new[1], whole, new_frame[1] == 1,
            turn_first, group, pieces, second, second_use, mass, value, extent,
            counts, limit_kg, rows[f], span[f], blocked[f],
            axes, first, profile, twin_first, twins, needs, step, starts, reach, buffer, used,
            pointers, spare, placed_turn, placed_kind, placed_x, placed_row,
        )  # fmt: skip
        if used[0] < 0:
            return best_value, best_n, best_length
        if got >= now_value - heat * (1.0 - turn / fills) * next_random(state):
            now_value = got
            length = new_length
            for m in range(new_length):
                now[0, m] = new[0, m]
                now[1, m] = new[1, m]
            for m in range(3):
                frame[m] = new_frame[m]
        if got > best_value + 1e-9:
            best_value = got
            best_n = n
            best_length = new_length
            for m in range(new_length):
                best_genome[0, m] = new[0, m]
                best_genome[1, m] = new[1, m]
            for m in range(3):
                best_frame[m] = new_frame[m]
            for m in range(n):
                best_turn[m] = placed_turn[m]
                best_kind[m] = placed_kind[m]
                best_x[m] = placed_x[m]
                best_row[m] = placed_row[m]
    return best_value, best_n, best_length


def warm_up() -> None:
    """Compile every kernel of the whole-load packer."""
    from kilnpack.packing.warm_load import warm_load

    warm_load()
