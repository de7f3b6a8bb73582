"""The march of the stores as plain loops over numbers, for :mod:`explore.machine_code` to translate.

They do what :mod:`explore.year.stratified_store` and :mod:`explore.year.mixed_store` do to arrays, operation by
operation in the same order, and give the same bits; read the physics there. A block of designs goes through the whole year
together, its state in one flat buffer: row k is ``s[k * LANES:(k + 1) * LANES]``. Rows so far apart by constants are what
lets the compiler take several designs at once. It does not where a loop looks into a table and writes as well, for what it
writes might be the table's: a look goes into rows by itself, and what is made of it is another loop. That halves the year
of mixed stores. A loop is translated by itself and calls no other, so that a place is put on the grid, and looked up, by
the same lines wherever one is asked for.
A comparison stands for ``max`` and ``min``: one machine instruction, and no question of NaN, which nobody hands in.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from explore.year.mixed_store import FINER, LEAST_SLOPE, NEWTON_STEPS
from explore.year.series import DEMAND, SUN, WARMING
from explore.year.stratified_store import LEAST_COLD
from explore.year.tally import FULLY_SERVED

Array = Any

LANES = 32
"""Designs of a block: several of the processor's vectors, so that the wait for one division or one look into a table is
another's time, and little enough to stay with what they look up in the near caches. Eight cost a third more, 64 give
nothing."""
VECTOR = 8
"""Of a block of mixed stores that is not full so many are done at least, a vector of the largest processors: few designs of
as many steps an hour, as a climber's are, so take a third of the time, full blocks as long as ever. Stratified stores come
in one group, and theirs took a quarter longer so."""
STRATIFIED = (
    "kind", "gain", "a1", "a2", "top", "heat_loss", "heat_unit", "least_half", "fall", "warm_up",
    "evaporating", "need", "half_drop",
)  # fmt: skip
"""Rows that :func:`stratified` is given."""
STRATIFIED_STATE = (
    "hot", "half", "collected", "lost", "dumped", "drawn", "served", "unserved", "longest", "stagnation",
)  # fmt: skip
"""Rows that it starts from and leaves behind."""
MIXED = (
    "kind", "gain", "a1", "a2", "rise", "top", "roof", "floor", "step", "loss", "warm_up", "evaporating", "most",
    "bank",
)  # fmt: skip
"""Rows that :func:`mixed` is given."""
MIXED_STATE = (
    "temperature", "water", "collected", "lost", "dumped", "drawn", "served", "unserved", "longest", "stagnation",
)  # fmt: skip
"""Rows that it starts from and leaves behind."""
SERIES = "float64[:,:,::1], float64[:,::1], float64[::1], float64[::1], uint8[::1]"
SIGNATURES = {
    "stratified": f"void(float64[:,::1], float64[:,::1], {SERIES})",
    "mixed": f"void({'float64[:,::1], ' * 8} int64, int64, {SERIES}, float64[::1])",
}
"""What each loop takes: said beforehand, a loop is translated once and not again for every kind of array."""


def stratified(
    given: Array, state: Array, pages: Array, sun: Array, air: Array, room: Array, hours: Array
) -> None:
    """March stratified stores through the year.

    ``given`` (rows, n) in the order of ``STRATIFIED``, ``state`` (rows, n) in that of ``STRATIFIED_STATE``, which is
    written to; ``pages`` (H or 0, 3, n) of a diary; ``sun`` (H, kinds), ``air``, ``room`` and bits of the ``hours`` (H,).
    """
    n = given.shape[1]
    kind = np.empty(LANES, dtype=np.int64)
    s = np.empty(32 * LANES)
    f, half, collected, lost, dumped, drawn, served, unserved, longest, stagnation = (
        0 * LANES, 1 * LANES, 2 * LANES, 3 * LANES, 4 * LANES, 5 * LANES, 6 * LANES, 7 * LANES, 8 * LANES, 9 * LANES,
    )  # fmt: skip
    gain, a1, a2, top, heat_loss, heat_unit, least_half, fall, warm_up, evaporating, need, half_drop = (
        11 * LANES, 12 * LANES, 13 * LANES, 14 * LANES, 15 * LANES, 16 * LANES, 17 * LANES, 18 * LANES,
        19 * LANES, 20 * LANES, 21 * LANES, 22 * LANES,
    )  # fmt: skip
    spare, hot_loss, cold_pull, warming, sunshine = 23 * LANES, 24 * LANES, 25 * LANES, 26 * LANES, 27 * LANES
    for start in range(0, n, LANES):
        for i in range(LANES):
            j = min(start + i, n - 1)
            kind[i] = int(given[0, j])
            for k in range(1, 13):
                s[(10 + k) * LANES + i] = given[k, j]
            for k in range(10):
                s[k * LANES + i] = state[k, j]
            s[spare + i] = 0.0
        around = np.nan
        for hour in range(len(hours)):
            bits = hours[hour]
            if len(pages):
                for i in range(min(LANES, n - start)):
                    pages[hour, 0, start + i] = s[served + i]
                    pages[hour, 1, start + i] = s[collected + i] - s[dumped + i]
                    pages[hour, 2, start + i] = s[f + i]
            if room[hour] != around:
                around = room[hour]
                for i in range(LANES):
                    above = s[top + i] - around
                    loss = s[heat_loss + i] * above / s[heat_unit + i]
                    s[hot_loss + i] = loss if loss < s[least_half + i] else s[least_half + i]
                    s[cold_pull + i] = s[fall + i] * 0.5 * above
                    heat = s[warm_up + i] * (s[evaporating + i] - around)
                    s[warming + i] = heat if heat > 0.0 else 0.0
            if bits & SUN:
                outside = air[hour]
                for i in range(LANES):
                    s[sunshine + i] = sun[hour, kind[i]]
                for i in range(LANES):
                    below = s[half + i]
                    x = (s[top + i] - below) - outside
                    heat = s[sunshine + i] * s[gain + i] - (s[a2 + i] * x + s[a1 + i]) * x
                    heat = heat if heat > 0.0 else 0.0
                    share = s[f + i] + heat / below
                    over = share - 1.0
                    over = over if over > 0.0 else 0.0
                    s[f + i] = share - over
                    over = over * below
                    booked = (s[collected + i] + heat) - over
                    rest = over / heat if over > 0.0 else 0.0
                    rest = rest if rest < 1.0 else 1.0
                    below = s[half_drop + i] if over > 0.0 else below
                    s[half + i] = below
                    x = (s[top + i] - below) - outside
                    heat = s[sunshine + i] * s[gain + i] - (s[a2 + i] * x + s[a1 + i]) * x
                    heat = (heat if heat > 0.0 else 0.0) * rest
                    s[collected + i] = booked + heat
                    s[spare + i] = heat
            for i in range(LANES):
                t = s[f + i] * s[hot_loss + i]
                s[lost + i] += t
                share = s[f + i] - t / s[half + i]
                s[f + i] = share
                x = s[cold_pull + i] - s[half + i] * s[fall + i]
                s[half + i] += x
                s[lost + i] += (1.0 - share) * x
            if bits & DEMAND:
                first = 1.0 if bits & WARMING else 0.0
                for i in range(LANES):
                    below = s[half + i]
                    share = s[f + i] + s[spare + i] / below
                    over = share - 1.0
                    over = over if over > 0.0 else 0.0
                    share = share - over
                    cold = 1.0 - share
                    available = share + over * below / s[half_drop + i]
                    warm = s[warming + i] * first
                    wanted = s[need + i] + warm
                    taken = available if available < wanted else wanted
                    share = available - taken
                    left = 1.0 - share
                    left = left if left > LEAST_COLD else LEAST_COLD
                    below = (below - s[half_drop + i]) * (cold / left) + s[half_drop + i]
                    s[half + i] = below
                    over = share - 1.0
                    over = over if over > 0.0 else 0.0
                    s[f + i] = share - over
                    s[spare + i] = over * below
                    given_share = taken - warm
                    given_share = (given_share if given_share > 0.0 else 0.0) / s[need + i]
                    given_share = given_share if given_share < 1.0 else 1.0
                    s[served + i] += given_share
                    s[drawn + i] += taken * s[half_drop + i]
                    row = s[unserved + i] + (1.0 - given_share)
                    row = row if given_share < FULLY_SERVED else 0.0
                    s[unserved + i] = row
                    s[longest + i] = row if row > s[longest + i] else s[longest + i]
            if bits & SUN:
                for i in range(LANES):
                    share = s[f + i] + s[spare + i] / s[half + i]
                    over = share - 1.0
                    over = over if over > 0.0 else 0.0
                    s[f + i] = share - over
                    s[spare + i] = 0.0
                    over = over * s[half + i]
                    s[dumped + i] += over
                    s[stagnation + i] += 1.0 if over > 0.0 else 0.0
        for i in range(min(LANES, n - start)):
            for k in range(10):
                state[k, start + i] = s[k * LANES + i]


def mixed(
    given: Array, state: Array, flow: Array, fraction: Array, cooling: Array, time_to: Array, work_to: Array,
    water_to: Array, widest: int, parts: int, pages: Array, sun: Array, air: Array, room: Array, hours: Array, asked: Array,
) -> None:  # fmt: skip
    """March fully mixed stores through the year, an hour of sun in ``parts`` steps, of sun and demand in ``FINER`` as many.

    ``given`` (rows, n) in the order of ``MIXED``, ``state`` (rows, n) in that of ``MIXED_STATE``, which is written
    to; ``flow``, ``fraction`` and ``cooling`` (n, K) over the store's temperature, and the sums of its discharge in hours,
    work and cooling water with the ``widest`` span of a search among them, see :mod:`explore.year.discharge`; ``pages``
    (H or 0, 3, n) of a diary; ``sun`` (H, kinds), ``air``, ``room``, bits of the ``hours`` and demand hours ``asked`` of
    the day at hand (H,).
    """
    n, size = flow.shape
    last_place, last_cell = size - 1.0, size - 2.0
    kind = np.empty(LANES, dtype=np.int64)
    s = np.empty(50 * LANES)
    tall = size * LANES
    grid = np.empty(6 * tall)
    T, water, collected, lost, dumped, drawn, served, unserved, longest, stagnation = (
        0 * LANES, 1 * LANES, 2 * LANES, 3 * LANES, 4 * LANES, 5 * LANES, 6 * LANES, 7 * LANES, 8 * LANES, 9 * LANES,
    )  # fmt: skip
    gain, a1, a2, rise, top, roof, floor, step, loss, warm_up, evaporating, most, bank = (
        11 * LANES, 12 * LANES, 13 * LANES, 14 * LANES, 15 * LANES, 16 * LANES, 17 * LANES, 18 * LANES,
        19 * LANES, 20 * LANES, 21 * LANES, 22 * LANES, 23 * LANES,
    )  # fmt: skip
    pull, sunshine, day_sum, spill, share, heat_drawn, left, came = (
        24 * LANES, 25 * LANES, 26 * LANES, 27 * LANES, 28 * LANES, 29 * LANES, 30 * LANES, 31 * LANES,
    )  # fmt: skip
    warmed, place, upper, lower, middle, used, work = (
        32 * LANES, 33 * LANES, 34 * LANES, 35 * LANES, 36 * LANES, 37 * LANES, 38 * LANES,
    )  # fmt: skip
    least, time, target, end, worked = 39 * LANES, 40 * LANES, 41 * LANES, 42 * LANES, 43 * LANES
    into, foot, head, rate, weak, strong = (
        44 * LANES, 45 * LANES, 46 * LANES, 47 * LANES, 48 * LANES, 49 * LANES,
    )  # fmt: skip
    cells, above = np.empty(LANES, dtype=np.uint32), np.uint64(LANES)
    of_power, of_cooling, of_time, of_work, of_water = (
        np.uint64(tall), np.uint64(2 * tall), np.uint64(3 * tall), np.uint64(4 * tall), np.uint64(5 * tall),
    )  # fmt: skip
    finer = FINER * parts
    part, fine = 1.0 / parts, 1.0 / finer
    banked = n > 0 and given[13, 0] < np.inf
    for start in range(0, n, LANES):
        width = min(LANES, (n - start + VECTOR - 1) // VECTOR * VECTOR)
        for i in range(width):
            j = min(start + i, n - 1)
            kind[i] = int(given[0, j])
            for k in range(1, 14):
                s[(10 + k) * LANES + i] = given[k, j]
            for k in range(10):
                s[k * LANES + i] = state[k, j]
            s[day_sum + i] = 0.0
            for k in range(size):
                grid[k * LANES + i] = flow[j, k]
                grid[tall + k * LANES + i] = fraction[j, k]
                grid[2 * tall + k * LANES + i] = cooling[j, k]
                grid[3 * tall + k * LANES + i] = time_to[j, k]
                grid[4 * tall + k * LANES + i] = work_to[j, k]
                grid[5 * tall + k * LANES + i] = water_to[j, k]
        around, so_far = np.nan, 0.0
        for hour in range(len(hours)):
            bits = hours[hour]
            if len(pages):
                for i in range(min(width, n - start)):
                    pages[hour, 0, start + i] = s[served + i]
                    pages[hour, 1, start + i] = s[collected + i] - s[dumped + i]
                    pages[hour, 2, start + i] = s[T + i]
            if room[hour] != around:
                around = room[hour]
                for i in range(width):
                    s[pull + i] = s[loss + i] * around
            outside = air[hour]
            if bits & SUN:
                for i in range(width):
                    s[sunshine + i] = sun[hour, kind[i]]
            if not bits & DEMAND:
                if bits & SUN:
                    for i in range(width):
                        s[spill + i] = 0.0
                    for _ in range(parts):
                        for i in range(width):
                            x = (s[T + i] + s[rise + i]) - outside
                            heat = s[sunshine + i] * s[gain + i] - (s[a2 + i] * x + s[a1 + i]) * x
                            heat = (heat if heat > 0.0 else 0.0) * (0.5 * part)
                            room_left = s[top + i] - s[T + i]
                            x = x + (heat if heat < room_left else room_left)
                            heat = s[sunshine + i] * s[gain + i] - (s[a2 + i] * x + s[a1 + i]) * x
                            heat = (heat if heat > 0.0 else 0.0) * part
                            s[collected + i] += heat
                            now = s[T + i] + heat
                            gone = ((now - heat * 0.5) * s[loss + i] - s[pull + i]) * part
                            now = now - gone
                            s[lost + i] += gone
                            over = now - s[top + i]
                            over = over if over > 0.0 else 0.0
                            s[T + i] = now - over
                            s[spill + i] += over
                    for i in range(width):
                        s[dumped + i] += s[spill + i]
                        s[stagnation + i] += 1.0 if s[spill + i] > 0.0 else 0.0
                else:
                    for i in range(width):
                        gone = s[T + i] * s[loss + i] - s[pull + i]
                        s[T + i] -= gone
                        s[lost + i] += gone
                continue
            so_far = 1.0 if bits & WARMING else so_far + 1.0
            for i in range(width):
                s[share + i] = 0.0
                s[heat_drawn + i] = 0.0
                s[spill + i] = 0.0
                s[left + i] = 0.0
            if bits & WARMING:
                for i in range(width):
                    heat = s[warm_up + i] * (s[evaporating + i] - around)
                    s[left + i] = heat if heat > 0.0 else 0.0
                    s[day_sum + i] = 0.0
            if bits & SUN:
                for k in range(finer):
                    if k > 0:
                        for i in range(width):
                            over = s[T + i] - s[top + i]
                            over = over if over > 0.0 else 0.0
                            s[T + i] -= over
                            s[spill + i] += over
                    for i in range(width):
                        x = (s[T + i] + s[rise + i]) - outside
                        heat = s[sunshine + i] * s[gain + i] - (s[a2 + i] * x + s[a1 + i]) * x
                        heat = (heat if heat > 0.0 else 0.0) * fine
                        s[collected + i] += heat
                        now = s[T + i] + heat
                        gone = (now * s[loss + i] - s[pull + i]) * fine
                        now = now - gone
                        s[lost + i] += gone
                        over = now - s[roof + i]
                        over = over if over > 0.0 else 0.0
                        now = now - over
                        s[spill + i] += over
                        s[came + i] = now - s[T + i]
                        s[T + i] = now
                    for i in range(width):
                        available = s[T + i] - s[floor + i]
                        available = available if available > 0.0 else 0.0
                        first = s[left + i] if s[left + i] < available else available
                        z = (available - first) / s[step + i]
                        x = s[came + i] / s[step + i]
                        x = x if x < z else z
                        x = z - 0.5 * x
                        low = x - 0.5 * z
                        s[warmed + i] = first
                        s[place + i] = z
                        s[upper + i] = x
                        s[lower + i] = low if low > 0.0 else 0.0
                    # The middle of the step. Where a step of Newton's changes nothing, no later one does.
                    for i in range(width):
                        held = s[lower + i] if s[lower + i] < last_place else last_place
                        cell = np.int32(held if held < last_cell else last_cell)
                        cells[i] = cell * LANES + i
                        s[into + i] = held - cell
                    for i in range(width):
                        s[foot + i] = grid[cells[i]]
                        s[head + i] = grid[cells[i] + above]
                    for i in range(width):
                        s[rate + i] = s[foot + i] + s[into + i] * (s[head + i] - s[foot + i])
                        held = s[upper + i] if s[upper + i] < last_place else last_place
                        cell = np.int32(held if held < last_cell else last_cell)
                        cells[i] = cell * LANES + i
                        s[into + i] = held - cell
                    for i in range(width):
                        s[foot + i] = grid[cells[i]]
                        s[head + i] = grid[cells[i] + above]
                    for i in range(width):
                        x = s[foot + i] + s[into + i] * (s[head + i] - s[foot + i])
                        x = s[upper + i] - 0.5 * (s[rate + i] if s[rate + i] < x else x)
                        x = x if x > s[lower + i] else s[lower + i]
                        s[middle + i] = x
                        held = x if x < last_place else last_place
                        cell = np.int32(held if held < last_cell else last_cell)
                        cells[i] = cell * LANES + i
                        s[into + i] = held - cell
                    for _ in range(NEWTON_STEPS):
                        for i in range(width):
                            s[foot + i] = grid[cells[i]]
                            s[head + i] = grid[cells[i] + above]
                        moved = 0
                        for i in range(width):
                            slope = s[head + i] - s[foot + i]
                            miss = ((s[foot + i] + s[into + i] * slope) * 0.5 + s[middle + i]) - s[upper + i]
                            slope = slope * 0.5 + 1.0
                            x = s[middle + i] - miss / (slope if slope > LEAST_SLOPE else LEAST_SLOPE)
                            x = x if x > s[lower + i] else s[lower + i]
                            x = x if x < s[upper + i] else s[upper + i]
                            moved += 1 if x != s[middle + i] else 0
                            s[middle + i] = x
                            held = x if x < last_place else last_place
                            cell = np.int32(held if held < last_cell else last_cell)
                            cells[i] = cell * LANES + i
                            s[into + i] = held - cell
                        if moved == 0:
                            break
                    for i in range(width):
                        s[foot + i] = grid[cells[i]]
                        s[head + i] = grid[cells[i] + above]
                        s[weak + i] = grid[cells[i] + of_power]
                        s[strong + i] = grid[cells[i] + of_power + above]
                        s[rate + i] = grid[cells[i] + of_cooling]
                        s[used + i] = grid[cells[i] + of_cooling + above]
                    for i in range(width):
                        s[used + i] = s[rate + i] + s[into + i] * (s[used + i] - s[rate + i])
                        power = s[weak + i] + s[into + i] * (s[strong + i] - s[weak + i])
                        rated = s[foot + i] + s[into + i] * (s[head + i] - s[foot + i])
                        taken = rated if rated < s[place + i] else s[place + i]
                        power = power if power < s[most + i] else s[most + i]
                        power = power if power > 0.0 else 0.0
                        s[work + i] = power * (taken / rated)
                        s[place + i] = taken
                    if banked:
                        for i in range(width):
                            lacking = (asked[hour] / s[bank + i] - s[day_sum + i]) * finer - s[share + i]
                            lacking = lacking if lacking > 0.0 else 0.0
                            lacking = s[work + i] if s[work + i] < lacking else lacking
                            s[place + i] *= lacking / s[work + i] if s[work + i] > 0.0 else 1.0
                            s[work + i] = lacking
                    for i in range(width):
                        s[share + i] += s[work + i]
                        heat = s[place + i] * s[step + i]
                        s[water + i] += heat * s[used + i]
                        heat = heat + s[warmed + i]
                        s[T + i] -= heat
                        s[heat_drawn + i] += heat
                        s[left + i] -= s[warmed + i]
                for i in range(width):
                    s[share + i] = s[share + i] / finer
            else:
                for i in range(width):
                    available = s[T + i] - s[floor + i]
                    available = available if available > 0.0 else 0.0
                    first = s[left + i] if s[left + i] < available else available
                    z = (available - first) / s[step + i]
                    s[warmed + i] = first
                    s[place + i] = z
                    held = z if z < last_place else last_place
                    cell = np.int32(held if held < last_cell else last_cell)
                    cells[i] = cell * LANES + i
                    s[into + i] = held - cell
                for i in range(width):
                    s[foot + i] = grid[cells[i] + of_time]
                    s[head + i] = grid[cells[i] + of_time + above]
                for i in range(width):
                    gone = s[T + i] * s[loss + i] - s[pull + i]
                    gone = gone if gone > 0.0 else 0.0
                    z = s[place + i]
                    x = s[foot + i] + s[into + i] * (s[head + i] - s[foot + i])
                    x = 0.5 * (gone * (x if x < 1.0 else 1.0)) / s[step + i]
                    x = x if x < 0.5 * z else 0.5 * z
                    s[least + i] = x
                    held = z - x
                    held = held if held < last_place else last_place
                    s[place + i] = held
                    cell = np.int32(held if held < last_cell else last_cell)
                    cells[i] = cell * LANES + i
                    s[into + i] = held - cell
                for i in range(width):
                    s[foot + i] = grid[cells[i] + of_time]
                    s[head + i] = grid[cells[i] + of_time + above]
                    s[weak + i] = grid[cells[i] + of_work]
                    s[strong + i] = grid[cells[i] + of_work + above]
                    s[rate + i] = grid[cells[i] + of_water]
                    s[used + i] = grid[cells[i] + of_water + above]
                for i in range(width):
                    x = s[foot + i] + s[into + i] * (s[head + i] - s[foot + i])
                    s[time + i] = x
                    x = x - 1.0
                    s[target + i] = x if x > 0.0 else 0.0
                    s[work + i] = s[weak + i] + s[into + i] * (s[strong + i] - s[weak + i])
                    s[used + i] = s[rate + i] + s[into + i] * (s[used + i] - s[rate + i])
                # Where the hour ends, and behind a bank where the work that the day lacks does.
                for sums in (of_time, of_work):
                    if sums == of_work:
                        if not banked:
                            break
                        for i in range(width):
                            lacking = asked[hour] / s[bank + i] - s[day_sum + i]
                            lacking = lacking if lacking > 0.0 else 0.0
                            x = s[work + i] - lacking
                            s[target + i] = x if x > s[worked + i] else s[worked + i]
                    for i in range(width):
                        s[lower + i] = 0.0
                    span = widest
                    while span:
                        for i in range(width):
                            x = s[lower + i] + span
                            x = x if x < last_cell else last_cell
                            held = grid[np.uint32(np.int32(x) * LANES + i) + sums]
                            s[lower + i] = x if held <= s[target + i] else s[lower + i]
                        span //= 2
                    for i in range(width):
                        cells[i] = np.int32(s[lower + i]) * LANES + i
                    for i in range(width):
                        s[foot + i] = grid[cells[i] + sums]
                        s[head + i] = grid[cells[i] + sums + above]
                    for i in range(width):
                        slope = s[head + i] - s[foot + i]
                        x = (s[target + i] - s[foot + i]) / (slope if slope > 0.0 else 1.0)
                        s[upper + i] = s[lower + i] + (x if slope > 0.0 else 0.0)
                    if sums == of_work:
                        for i in range(width):
                            s[end + i] = s[upper + i] if s[target + i] > s[worked + i] else s[end + i]
                            s[worked + i] = s[target + i]
                        break
                    for i in range(width):
                        x = s[upper + i] if s[upper + i] > s[least + i] else s[least + i]
                        x = x if x < s[place + i] else s[place + i]
                        s[end + i] = x
                        cell = np.int32(x if x < last_cell else last_cell)
                        cells[i] = cell * LANES + i
                        s[into + i] = x - cell
                    for i in range(width):
                        s[foot + i] = grid[cells[i] + of_work]
                        s[head + i] = grid[cells[i] + of_work + above]
                    for i in range(width):
                        s[worked + i] = s[foot + i] + s[into + i] * (s[head + i] - s[foot + i])
                for i in range(width):
                    x = s[end + i]
                    cell = np.int32(x if x < last_cell else last_cell)
                    cells[i] = cell * LANES + i
                    s[into + i] = x - cell
                for i in range(width):
                    s[foot + i] = grid[cells[i] + of_time]
                    s[head + i] = grid[cells[i] + of_time + above]
                    s[weak + i] = grid[cells[i] + of_water]
                    s[strong + i] = grid[cells[i] + of_water + above]
                for i in range(width):
                    running = s[time + i] - (s[foot + i] + s[into + i] * (s[head + i] - s[foot + i]))
                    low = s[weak + i] + s[into + i] * (s[strong + i] - s[weak + i])
                    s[water + i] += (s[used + i] - low) * s[step + i]
                    heat = (s[place + i] - s[end + i]) * s[step + i] + s[warmed + i]
                    now = s[T + i] - heat
                    gone = (now + 0.5 * running * heat) * s[loss + i] - s[pull + i]
                    s[T + i] = now - gone
                    s[lost + i] += gone
                    x = s[work + i] - s[worked + i]
                    s[share + i] = x if x < s[most + i] else s[most + i]
                    s[heat_drawn + i] = heat
            if bits & SUN:
                for i in range(width):
                    over = s[T + i] - s[top + i]
                    over = over if over > 0.0 else 0.0
                    s[T + i] -= over
                    over = s[spill + i] + over
                    s[dumped + i] += over
                    s[stagnation + i] += 1.0 if over > 0.0 else 0.0
            for i in range(width):
                given_share = s[share + i]
                s[drawn + i] += s[heat_drawn + i]
                if banked:
                    s[day_sum + i] = s[day_sum + i] + given_share
                    s[served + i] += given_share * s[bank + i]
                    lags = s[day_sum + i] * s[bank + i] < so_far * FULLY_SERVED
                    row = s[unserved + i] + 1.0 if lags else 0.0
                else:
                    s[served + i] += given_share
                    row = s[unserved + i] + (1.0 - given_share)
                    row = row if given_share < FULLY_SERVED else 0.0
                s[unserved + i] = row
                s[longest + i] = row if row > s[longest + i] else s[longest + i]
        for i in range(min(width, n - start)):
            for k in range(10):
                state[k, start + i] = s[k * LANES + i]
