"""Annealing over ordered batches, in chunks, compiled by numba; all state stays in the arrays handed in.

What is given: `job[n, 9]` ready, due, least, most, size, family, kilns as bits, cost of a tick late, of a tick waited;
`machine[m, 3]` capacity, first family, number of windows; `window[m, w, 2]`; `setup[f, f, 2]` time, cost; `weight[6]`
run, late, set-up time, set-up cost, no window, batch; `near[n, 3]` jobs of a family in order of least time, of due and
of ready time, each family in a block; `rank[n, 3]` where a job stands in them; `block[f, 2]` where the block of a
family begins and ends.

What is in hand: `row[m, n + 1]` batches of a kiln in order; `inside[b, k]` jobs of a batch; `fact[b, FACTS]` what is
known of a batch (see the constants); `home[n]` batch of a job; `many[m]` batches on each kiln; `tally` and `best_*`
below. Cost is the sum of the costs of all batches.

tally[0] moves tried, [1] moves taken, [2] cost in hand, [3] least cost, [5] random state, [6] moves since the last
better, [7] unused batches.
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

import numpy as np

from kilnpack.shapes.kernel.compiled import kernel, small

READY, DUE, LEAST, MOST, SIZE, FAMILY, KILNS, LATE_COST, WAIT_COST = range(9)
# facts of a batch; the last three are those tried for it
COUNT, FULL, HOLD, BEAR, FROM, KIND, MAY, ON, END, COST, FIRST_DUE, LAST_DUE, WINDOW, AT = range(14)
# sums over its jobs: cost of a tick late, that times due, cost of a tick waited
SLOPE, SLOPE_DUE, PULL = range(14, 17)
TRIED_END, TRIED_COST, TRIED_WINDOW = range(17, 20)
FACTS = 20
TALLY = 8
KINDS = 7
"""Kinds of moves: job to a batch, job to a new batch, jobs exchanged, batch moved, batches exchanged, batches joined,
batch parted."""


@small
def draw(tally):  # type: ignore[no-untyped-def]
    """Return a random number in [0, 1) and move the generator on (xorshift of 32 bits)."""
    word = tally[5]
    word = (word ^ (word << 13)) & 0xFFFFFFFF
    word = word ^ (word >> 17)
    word = (word ^ (word << 5)) & 0xFFFFFFFF
    tally[5] = word
    return word / 4294967296.0


@small
def renew(b, job, inside, fact):  # type: ignore[no-untyped-def]
    """Work out what is known of a batch from its jobs."""
    full = np.int64(0)
    hold = np.int64(0)
    bear = np.int64(1 << 60)
    ready = np.int64(0)
    may = np.int64(-1)
    first = np.int64(1 << 60)
    last = np.int64(-(1 << 60))
    slope = np.int64(0)
    slope_due = np.int64(0)
    pull = np.int64(0)
    for i in range(fact[b, COUNT]):
        j = inside[b, i]
        full += job[j, SIZE]
        hold = max(hold, job[j, LEAST])
        bear = min(bear, job[j, MOST])
        ready = max(ready, job[j, READY])
        may &= job[j, KILNS]
        first = min(first, job[j, DUE])
        last = max(last, job[j, DUE])
        slope += job[j, LATE_COST]
        slope_due += job[j, LATE_COST] * job[j, DUE]
        pull += job[j, WAIT_COST]
    fact[b, FULL] = full
    fact[b, HOLD] = hold
    fact[b, BEAR] = bear
    fact[b, FROM] = ready
    fact[b, MAY] = may
    fact[b, FIRST_DUE] = first
    fact[b, LAST_DUE] = last
    fact[b, SLOPE] = slope
    fact[b, SLOPE_DUE] = slope_due
    fact[b, PULL] = pull


@small
def put(b, m, at, row, many, fact):  # type: ignore[no-untyped-def]
    """Put a batch into the row of a kiln."""
    for i in range(many[m], at, -1):
        row[m, i] = row[m, i - 1]
        fact[row[m, i], AT] = i
    row[m, at] = b
    many[m] += 1
    fact[b, AT] = at
    fact[b, ON] = m


@small
def take(b, row, many, fact):  # type: ignore[no-untyped-def]
    """Take a batch out of the row of its kiln."""
    m = fact[b, ON]
    many[m] -= 1
    for i in range(fact[b, AT], many[m]):
        row[m, i] = row[m, i + 1]
        fact[row[m, i], AT] = i


@small
def spot(span, centre, row_count, tally):  # type: ignore[no-untyped-def]
    """Draw a place in a row, mostly near to one."""
    if draw(tally) < 0.6:
        at = centre + int(draw(tally) * (2 * span + 1)) - span
        return min(max(at, 0), row_count)
    return int(draw(tally) * (row_count + 1))


@small
def kin(j, tally, near, rank, block, family):  # type: ignore[no-untyped-def]
    """Draw another job of a family, mostly one like it by least time, due or ready time."""
    begin = block[family, 0]
    length = block[family, 1] - begin
    word = draw(tally)
    if word < 0.75:
        key = 0 if word < 0.4 else (1 if word < 0.6 else 2)
        reach = max(3, length // 12)
        at = rank[j, key] + int(draw(tally) * (2 * reach + 1)) - reach
        at = min(max(at, begin), begin + length - 1)
        return near[at, key]
    return near[begin + int(draw(tally) * length), 0]


@small
def timing(x, m, free, family, w, job, machine, window, setup, weight, inside, fact):  # type: ignore[no-untyped-def]
    """Return end, cost and window of a batch on a kiln that is free from a moment on, set up for a family."""
    time = setup[family, fact[x, KIND], 0]
    hold = fact[x, HOLD]
    earliest = max(free + time, fact[x, FROM])
    start = earliest
    while w < machine[m, 2]:
        start = max(earliest, window[m, w, 0] + time)
        if start + hold <= window[m, w, 1]:
            break
        w += 1
    end = start + hold
    cost = weight[5] + weight[0] * hold + weight[2] * time + weight[3] * setup[family, fact[x, KIND], 1]
    cost += fact[x, PULL] * end
    if w == machine[m, 2]:
        cost += weight[4]
    if end > fact[x, LAST_DUE]:
        cost += weight[1] * fact[x, COUNT] + fact[x, SLOPE] * end - fact[x, SLOPE_DUE]
    elif end > fact[x, FIRST_DUE]:
        late = np.int64(0)
        for k in range(fact[x, COUNT]):
            if end > job[inside[x, k], DUE]:
                late += 1
                cost += job[inside[x, k], LATE_COST] * (end - job[inside[x, k], DUE])
        cost += weight[1] * late
    return end, cost, w


@kernel
def settle(job, machine, window, setup, weight, row, many, inside, fact):  # type: ignore[no-untyped-def]
    """Work out the facts of all batches from their jobs and time every row; return the cost."""
    total = np.int64(0)
    for m in range(machine.shape[0]):
        free = np.int64(0)
        family = machine[m, 1]
        w = np.int64(0)
        for i in range(many[m]):
            x = row[m, i]
            renew(x, job, inside, fact)
            fact[x, KIND] = job[inside[x, 0], FAMILY]
            free, cost, w = timing(x, m, free, family, w, job, machine, window, setup, weight, inside, fact)
            fact[x, END] = free
            fact[x, COST] = cost
            fact[x, WINDOW] = w
            family = fact[x, KIND]
            total += cost
    return total


@kernel
def anneal(  # type: ignore[no-untyped-def]
    budget, heat, shares, job, machine, window, setup, weight, near, rank, block,
    row, many, inside, fact, home, spare, kept, kept_fact, best_row, best_many, best_home, tally,
):  # fmt: skip
    """Try `budget` moves at a temperature.

    Parameters
    ----------
    heat
        Annealing temperature in units of cost.
    shares
        shares[KINDS]: running totals of the shares of the kinds of moves, the last of them 1.
    spare
        spare[b]: stack of the numbers of unused batches.
    kept, kept_fact
        kept[2, k], kept_fact[2, FACTS]: the two batches before the move.
    """
    jobs = job.shape[0]
    machines = machine.shape[0]
    reach = np.zeros((2, 4), dtype=np.int64)
    for _ in range(budget):
        tally[0] += 1
        tally[6] += 1
        word = draw(tally)
        kind = np.int64(0)
        while kind < KINDS - 1 and word >= shares[kind]:
            kind += 1
        # reach[t]: kiln, first place touched, last place touched, place up to which it was timed anew
        parts = 0
        j = np.int64(draw(tally) * jobs)
        a = np.int64(home[j])
        b = np.int64(-1)
        opened = False
        emptied = False
        at_a = fact[a, AT]
        on_a = fact[a, ON]
        gone = np.int64(0)  # cost of batches that are no more
        content = kind in {0, 1, 2, 5, 6}
        # -- choose and test ------------------------------------------------------------------------------------
        if kind in {0, 2, 5}:
            other = kin(j, tally, near, rank, block, job[j, FAMILY])
            b = np.int64(home[other])
            if a == b:
                continue
            if kind == 0:
                if fact[b, FULL] + job[j, SIZE] > machine[fact[b, ON], 0]:
                    continue
                if (job[j, KILNS] >> fact[b, ON]) & 1 == 0:
                    continue
                if max(fact[b, HOLD], job[j, LEAST]) > min(fact[b, BEAR], job[j, MOST]):
                    continue
            elif kind == 2:
                shift = job[j, SIZE] - job[other, SIZE]
                if fact[b, FULL] + shift > machine[fact[b, ON], 0] or fact[a, FULL] - shift > machine[on_a, 0]:
                    continue
                if (job[j, KILNS] >> fact[b, ON]) & 1 == 0 or (job[other, KILNS] >> on_a) & 1 == 0:
                    continue
            else:
                if fact[b, FULL] + fact[a, FULL] > machine[fact[b, ON], 0]:
                    continue
                if (fact[a, MAY] >> fact[b, ON]) & 1 == 0:
                    continue
                if max(fact[b, HOLD], fact[a, HOLD]) > min(fact[b, BEAR], fact[a, BEAR]):
                    continue
        elif kind in {1, 6}:
            if fact[a, COUNT] == 1:
                continue
        elif kind == 4:
            m = np.int64(draw(tally) * machines)
            if many[m] == 0:
                continue
            centre = at_a if m == on_a else (at_a * many[m]) // max(1, many[on_a])
            b = np.int64(row[m, min(spot(6, centre, many[m], tally), many[m] - 1)])
            if a == b:
                continue
            if m != on_a:
                if (fact[a, MAY] >> m) & 1 == 0 or (fact[b, MAY] >> on_a) & 1 == 0:
                    continue
                if fact[a, FULL] > machine[m, 0] or fact[b, FULL] > machine[on_a, 0]:
                    continue
        # -- change ---------------------------------------------------------------------------------------------
        if content:
            for c in range(FACTS):
                kept_fact[0, c] = fact[a, c]
            for i in range(fact[a, COUNT]):
                kept[0, i] = inside[a, i]
            if kind in {1, 6}:
                tally[7] -= 1
                b = np.int64(spare[tally[7]])
                opened = True
                fact[b, COUNT] = 0
                fact[b, COST] = 0
                fact[b, END] = -1
                fact[b, WINDOW] = 0
                fact[b, KIND] = fact[a, KIND]
            for c in range(FACTS):
                kept_fact[1, c] = fact[b, c]
            for i in range(fact[b, COUNT]):
                kept[1, i] = inside[b, i]
            if kind == 2:
                for i in range(fact[a, COUNT]):
                    if inside[a, i] == j:
                        inside[a, i] = other
                for i in range(fact[b, COUNT]):
                    if inside[b, i] == other:
                        inside[b, i] = j
                home[j] = b
                home[other] = a
            else:
                # kind 6 parts the longest from the shortest, or the first due from the last due
                by_due = draw(tally) < 0.4
                key = DUE if by_due else LEAST
                edge = job[j, key]
                stay = np.int64(0)
                for i in range(kept_fact[0, COUNT]):
                    one = kept[0, i]
                    if kind == 5 or (kind == 6 and job[one, key] >= edge) or (kind < 2 and one == j):
                        inside[b, fact[b, COUNT]] = one
                        fact[b, COUNT] += 1
                        home[one] = b
                    else:
                        inside[a, stay] = one
                        stay += 1
                fact[a, COUNT] = stay
            if fact[a, COUNT] > 0:
                renew(a, job, inside, fact)
            renew(b, job, inside, fact)
            fits = fact[b, HOLD] <= fact[b, BEAR] and (fact[a, COUNT] == 0 or fact[a, HOLD] <= fact[a, BEAR])
            if opened:
                m = on_a
                if draw(tally) < 0.5:
                    m = np.int64(draw(tally) * machines)
                if (fact[b, MAY] >> m) & 1 == 0 or fact[b, FULL] > machine[m, 0] or fact[a, COUNT] == 0:
                    fits = False
                if fits:
                    centre = at_a if m == on_a else (at_a * many[m]) // max(1, many[on_a])
                    put(b, m, spot(4, centre, many[m], tally), row, many, fact)
            if not fits:
                if opened:
                    spare[tally[7]] = b
                    tally[7] += 1
                for t in range(2):
                    x = a if t == 0 else b
                    if t == 1 and opened:
                        break
                    for c in range(FACTS):
                        fact[x, c] = kept_fact[t, c]
                    for i in range(fact[x, COUNT]):
                        inside[x, i] = kept[t, i]
                        home[kept[t, i]] = x
                continue
            if fact[a, COUNT] == 0:
                emptied = True
                gone = fact[a, COST]
                take(a, row, many, fact)
                reach[0, 0] = on_a
                reach[0, 1] = at_a
                reach[0, 2] = at_a - 1
            else:
                reach[0, 0] = on_a
                reach[0, 1] = fact[a, AT]
                reach[0, 2] = fact[a, AT]
            reach[1, 0] = fact[b, ON]
            reach[1, 1] = fact[b, AT]
            reach[1, 2] = fact[b, AT]
            parts = 2
        elif kind == 3:
            m = on_a
            if draw(tally) < 0.5:
                m = np.int64(draw(tally) * machines)
            if (fact[a, MAY] >> m) & 1 == 0 or fact[a, FULL] > machine[m, 0]:
                continue
            centre = at_a if m == on_a else (at_a * many[m]) // max(1, many[on_a])
            length = many[m] - 1 if m == on_a else many[m]
            at = spot(6, centre, length, tally)
            if m == on_a and at == at_a:
                continue
            take(a, row, many, fact)
            put(a, m, at, row, many, fact)
            reach[0, 0] = on_a
            reach[0, 1] = at_a
            reach[0, 2] = at_a - 1
            reach[1, 0] = m
            reach[1, 1] = at
            reach[1, 2] = at
            parts = 2
        else:
            at_b = fact[b, AT]
            on_b = fact[b, ON]
            row[on_a, at_a] = b
            row[on_b, at_b] = a
            fact[a, AT] = at_b
            fact[a, ON] = on_b
            fact[b, AT] = at_a
            fact[b, ON] = on_a
            reach[0, 0] = on_a
            reach[0, 1] = at_a
            reach[0, 2] = at_a
            reach[1, 0] = on_b
            reach[1, 1] = at_b
            reach[1, 2] = at_b
            parts = 2
        if parts == 2 and reach[0, 0] == reach[1, 0]:
            reach[0, 1] = min(reach[0, 1], reach[1, 1])
            # what moved within a row: everything between is shifted
            reach[0, 2] = max(reach[0, 2], reach[1, 2], at_a)
            parts = 1
        # -- time the rows anew from the first place touched, until nothing differs any more ------------------------
        allowed = -heat * math.log(draw(tally) + 1e-12)
        delta = -gone
        for t in range(parts):
            m = reach[t, 0]
            i = reach[t, 1]
            free = np.int64(0)
            family = machine[m, 1]
            w = np.int64(0)
            if i > 0:
                before = row[m, i - 1]
                free = fact[before, END]
                family = fact[before, KIND]
                w = fact[before, WINDOW]
            while i < many[m]:
                x = row[m, i]
                free, cost, w = timing(x, m, free, family, w, job, machine, window, setup, weight, inside, fact)
                if i > reach[t, 2] and free == fact[x, END] and cost == fact[x, COST]:
                    break
                delta += cost - fact[x, COST]
                fact[x, TRIED_END] = free
                fact[x, TRIED_COST] = cost
                fact[x, TRIED_WINDOW] = w
                family = fact[x, KIND]
                i += 1
            reach[t, 3] = i
        if delta <= allowed:
            # -- keep -------------------------------------------------------------------------------------------
            tally[1] += 1
            tally[2] += delta
            for t in range(parts):
                for i in range(reach[t, 1], reach[t, 3]):
                    x = row[reach[t, 0], i]
                    fact[x, END] = fact[x, TRIED_END]
                    fact[x, COST] = fact[x, TRIED_COST]
                    fact[x, WINDOW] = fact[x, TRIED_WINDOW]
            if emptied:
                spare[tally[7]] = a
                tally[7] += 1
            if tally[2] < tally[3]:
                tally[3] = tally[2]
                tally[6] = 0
                for t in range(machines):
                    best_many[t] = many[t]
                    for i in range(many[t]):
                        best_row[t, i] = row[t, i]
                for i in range(jobs):
                    best_home[i] = home[i]
            continue
        # -- undo -----------------------------------------------------------------------------------------------
        if content:
            if opened:
                take(b, row, many, fact)
                spare[tally[7]] = b
                tally[7] += 1
            if emptied:
                put(a, on_a, at_a, row, many, fact)
            for t in range(2):
                x = a if t == 0 else b
                if t == 1 and opened:
                    break
                at = fact[x, AT]
                for c in range(FACTS):
                    fact[x, c] = kept_fact[t, c]
                fact[x, AT] = at
                for i in range(fact[x, COUNT]):
                    inside[x, i] = kept[t, i]
                    home[kept[t, i]] = x
        elif kind == 3:
            take(a, row, many, fact)
            put(a, on_a, at_a, row, many, fact)
        else:
            at_b = fact[a, AT]
            on_b = fact[a, ON]
            row[on_a, at_a] = a
            row[on_b, at_b] = b
            fact[b, AT] = at_b
            fact[b, ON] = on_b
            fact[a, AT] = at_a
            fact[a, ON] = on_a


def warm_up() -> None:
    """Compile the kernels, or load them compiled, by a few moves of two jobs."""
    from kilnpack.planning.batching import state

    problem = state.tiny_problem()
    arrays = state.given(problem)
    hand = state.hand_of(problem, arrays, (((0,), (1,)),), 1)
    anneal(np.int64(50), 1.0, np.linspace(0.1, 1.0, KINDS), *arrays, *hand.arrays)
