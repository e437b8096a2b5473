"""A step of the usual van: a block of four air nodes, each with a lining of its own, and a lone leaf on the first.

What ``stepping`` does for any network, on numbers in fours that stay in registers, without asking which leaf hangs
where. The lone leaf is the boiler; a network without one passes zeros for it.
"""

from __future__ import annotations

from budget.compiled import jit
from budget.engine.arrays import FOUR
from budget.engine.block import invert_four


@jit
def read(row, place):
    """Four numbers of a row."""
    return row[place], row[place + 1], row[place + 2], row[place + 3]


@jit
def write(row, place, four):
    """Put four numbers into a row."""
    row[place] = four[0]
    row[place + 1] = four[1]
    row[place + 2] = four[2]
    row[place + 3] = four[3]


@jit
def times(a, b):
    """Products of four pairs."""
    return a[0] * b[0], a[1] * b[1], a[2] * b[2], a[3] * b[3]


@jit
def scaled(factor, a):
    """Four numbers times a factor."""
    return factor * a[0], factor * a[1], factor * a[2], factor * a[3]


@jit
def plus(a, b):
    """Sums of four pairs."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2], a[3] + b[3]


@jit
def minus(a, b):
    """Differences of four pairs."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2], a[3] - b[3]


@jit
def onto_first(a, value):
    """Four numbers, the first with something added."""
    return a[0] + value, a[1], a[2], a[3]


@jit
def prepare_four(span_s, capacity, pattern, work):
    """``stepping.prepare``, span_s being GAMMA times the step."""
    air = pattern.leaves
    lining = air - FOUR
    storage = read(capacity, lining)
    whole = plus(scaled(span_s, read(work.leaf_sum, lining)), storage)
    leaf = 1.0 / whole[0], 1.0 / whole[1], 1.0 / whole[2], 1.0 / whole[3]
    reach = scaled(span_s, read(work.leaf_g, lining))
    pull = times(reach, leaf)
    write(work.leaf_inverse, lining, leaf)
    write(work.leaf_pull, lining, pull)
    own = minus(read(capacity, air), times(reach, pull))
    if pattern.followers < lining:
        lone = pattern.followers
        inverse = 1.0 / (span_s * work.leaf_sum[lone] + capacity[lone])
        far = span_s * work.leaf_g[lone]
        pulled = far * inverse
        work.leaf_inverse[lone] = inverse
        work.leaf_pull[lone] = pulled
        own = onto_first(own, -far * pulled)
    matrix = work.inverse
    for j in range(4):
        write(matrix[j], 0, scaled(span_s, read(work.driven[j], 0)))
    for j in range(4):
        matrix[j, j] += own[j]
    invert_four(matrix)


@jit
def solve(columns, right):
    """The block's part of a stage."""
    low = plus(scaled(right[0], columns[0]), scaled(right[1], columns[1]))
    high = plus(scaled(right[2], columns[2]), scaled(right[3], columns[3]))
    return plus(low, high)


@jit
def next_four(before, lining_before, lone_before, columns, own, sent, kept, pull, lone_sent, lone_kept, lone_pull):
    """P times what came before: of the block, of its linings, of the lone leaf. [K]"""
    right = plus(times(own, before), times(sent, lining_before))
    after = solve(columns, onto_first(right, lone_sent * lone_before))
    return after, plus(times(kept, lining_before), times(pull, after)), lone_kept * lone_before + lone_pull * after[0]


@jit
def try_four(span_s, capacity, start_c, pattern, work):
    """The stages of ``stepping.try_step``, left in work.e1, e2, e3; returns the block's part of them. [K]"""
    air = pattern.leaves
    lining = air - FOUR
    lone = pattern.followers
    columns = read(work.inverse[0], 0), read(work.inverse[1], 0), read(work.inverse[2], 0), read(work.inverse[3], 0)
    own = read(capacity, air)
    storage = read(capacity, lining)
    pull = read(work.leaf_pull, lining)
    inverse = read(work.leaf_inverse, lining)
    sent = times(storage, pull)
    kept = times(storage, inverse)
    air_c = read(start_c, air)
    lining_c = read(start_c, lining)
    lone_c = lone_held = lone_pull = lone_inverse = lone_sent = lone_kept = 0.0
    if lone < lining:
        lone_c = start_c[lone]
        lone_held = capacity[lone] * lone_c + span_s * work.heat_w[lone]
        lone_pull = work.leaf_pull[lone]
        lone_inverse = work.leaf_inverse[lone]
        lone_sent = capacity[lone] * lone_pull
        lone_kept = capacity[lone] * lone_inverse

    held = plus(times(storage, lining_c), scaled(span_s, read(work.heat_w, lining)))
    right = plus(plus(times(own, air_c), scaled(span_s, read(work.heat_w, air))), times(pull, held))
    end = solve(columns, onto_first(right, lone_pull * lone_held))
    first = minus(end, air_c)
    lining_first = minus(plus(times(held, inverse), times(pull, end)), lining_c)
    lone_first = lone_held * lone_inverse + lone_pull * end[0] - lone_c
    second, lining_second, lone_second = next_four(
        first, lining_first, lone_first, columns, own, sent, kept, pull, lone_sent, lone_kept, lone_pull
    )
    third, lining_third, lone_third = next_four(
        second, lining_second, lone_second, columns, own, sent, kept, pull, lone_sent, lone_kept, lone_pull
    )
    write(work.e1, air, first)
    write(work.e2, air, second)
    write(work.e3, air, third)
    write(work.e1, lining, lining_first)
    write(work.e2, lining, lining_second)
    write(work.e3, lining, lining_third)
    if lone < lining:
        work.e1[lone] = lone_first
        work.e2[lone] = lone_second
        work.e3[lone] = lone_third
    return first, second, third
