"""One step of a linear network of nodes: the integrator and its solver.

The three-stage, stiffly accurate, L-stable diagonally implicit Runge-Kutta method of order three (R. Alexander, SIAM
J. Numer. Anal. 14 (1977) 1006). All stages share one matrix. Leaves (linings, tanks, bottles: nodes with one
neighbour) are folded into their neighbour, so that only a small dense block of air nodes is inverted. Slow leaves may
be followers: held over a quarter of an hour, then moved by what it brought.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from budget.compiled import jit, jit_apart
from budget.engine.arrays import FOUR
from budget.engine.block import invert, solve_block
from budget.engine.four import plus, prepare_four, scaled, try_four

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OUTDOORS = -1

USUAL_ERROR_K = 0.07  # how far a step may stand from its embedded second-order twin

GAMMA = 0.43586652150845967
A21 = (1.0 - GAMMA) / 2.0
B1 = -(6.0 * GAMMA * GAMMA - 16.0 * GAMMA + 1.0) / 4.0
B2 = (6.0 * GAMMA * GAMMA - 20.0 * GAMMA + 5.0) / 4.0

# A stage solves (storage + GAMMA h network) t = storage d + GAMMA h heat. With e1 = t1 - start, e2 = P e1 and
# e3 = P e2, where P = (storage + GAMMA h network)^-1 storage, all that is asked of a step is a sum of the three:
_A = A21 / GAMMA
_X = B1 / GAMMA + B2 / GAMMA * (1.0 - _A)
_Y = B2 / GAMMA * _A
END_2, END_3 = _X, _Y  # end - start = e1 + END_2 e2 + END_3 e3
MEAN_2, MEAN_3 = B2 * _A + GAMMA * _X, GAMMA * _Y  # mean - start = e1 + MEAN_2 e2 + MEAN_3 e3
MIDDLE_1, MIDDLE_2 = 1.0 - _A, _A  # what the second stage alone adds: its slope times GAMMA times the step
LAST_1, LAST_2, LAST_3 = 1.0 - _X, _X - _Y, _Y  # what the last stage alone adds
# The twin uses the first two stages alone; its weights differ from the method's by GAMMA (1, -2, 1).
ERROR_1, ERROR_2, ERROR_3 = 1.0 - 2.0 * MIDDLE_1 + LAST_1, LAST_2 - 2.0 * MIDDLE_2, LAST_3


@jit
def clear(pattern, work):
    """Empty the network before its conductances are put in."""
    for i in range(pattern.nodes):
        work.leaf_sum[i] = 0.0
        work.leaf_g[i] = 0.0
    block = pattern.nodes - pattern.leaves
    for i in range(block):
        for j in range(block):
            work.steady[i, j] = 0.0


@jit
def connect(a, b, g, leaves, work, block):
    """Put a conductance between node a and node b, or outdoors (b < 0), into leaves and a block matrix. [W/K]"""
    if a < leaves:
        work.leaf_sum[a] += g
        if b >= 0:
            work.leaf_g[a] += g
            block[b - leaves, b - leaves] += g
    elif b < 0:
        block[a - leaves, a - leaves] += g
    elif b < leaves:
        work.leaf_sum[b] += g
        work.leaf_g[b] += g
        block[a - leaves, a - leaves] += g
    else:
        block[a - leaves, a - leaves] += g
        block[b - leaves, b - leaves] += g
        block[a - leaves, b - leaves] -= g
        block[b - leaves, a - leaves] -= g


@jit
def lay_steady(pattern, work):
    """Start the network of a span from its steady part."""
    block = pattern.nodes - pattern.leaves
    for i in range(block):
        for j in range(block):
            work.network[i, j] = work.steady[i, j]


@jit
def lay_law(burner, flows_on, slope_w_per_k, pattern, work):
    """Put the network, the duct flows and the thermostat's slope together: work.driven."""
    if pattern.paired == 1:
        lay_block(FOUR, burner, flows_on, slope_w_per_k, pattern, work)
    else:
        lay_block(pattern.nodes - pattern.leaves, burner, flows_on, slope_w_per_k, pattern, work)


@jit
def lay_block(block, burner, flows_on, slope_w_per_k, pattern, work):
    """``lay_law`` for a block of so many rows."""
    leaves = pattern.leaves
    driven = work.driven
    for j in range(block):
        for k in range(block):
            driven[j, k] = work.network[j, k]
    if flows_on:
        for e in range(burner.flows):
            g = work.flow[e]
            to = burner.flow_to[e] - leaves
            source = burner.flow_from[e]
            driven[to, to] += g
            if source >= 0:
                driven[source - leaves, to] -= g
    if slope_w_per_k != 0.0:
        sensor = burner.sensor - leaves
        for k in range(block):
            driven[sensor, k] += work.share[k] * slope_w_per_k


@jit_apart
def prepare(h, capacity, pattern, work):
    """Build and invert the matrix of a step: storage, and GAMMA h times what ``lay_law`` laid.

    Leaves are folded into their neighbour; the rest, a few air nodes, is a dense block. It is inverted rather than
    factorised: a product has no chain of dependent steps. No pivoting: the matrix is diagonally dominant.
    """
    if pattern.paired == 1:
        prepare_four(GAMMA * h, capacity, pattern, work)
    else:
        prepare_block(h, capacity, pattern.nodes - pattern.leaves, pattern, work)


@jit
def prepare_block(h, capacity, block, pattern, work):
    """``prepare`` with a block of so many rows."""
    leaves = pattern.leaves
    span_s = GAMMA * h
    matrix = work.inverse
    for j in range(block):
        for k in range(block):
            matrix[j, k] = span_s * work.driven[j, k]
    for k in range(block):
        matrix[k, k] += capacity[leaves + k]
    for i in range(pattern.followers, leaves):
        storage = capacity[i]
        leaf = 1.0 / (span_s * work.leaf_sum[i] + storage)
        reach = span_s * work.leaf_g[i]
        pull = reach * leaf
        work.leaf_inverse[i] = leaf
        work.leaf_pull[i] = pull
        k = pattern.parent[i] - leaves
        matrix[k, k] -= reach * pull
    invert(matrix, block)


@jit
def first_stage(span_s, capacity, start_c, block, pattern, work):
    """What the first stage adds to each node, in work.e1. [K]"""
    leaves = pattern.leaves
    for i in range(leaves, leaves + block):
        work.right[i] = capacity[i] * start_c[i] + span_s * work.heat_w[i]
    for i in range(pattern.followers, leaves):
        own = capacity[i] * start_c[i] + span_s * work.heat_w[i]
        work.e1[i] = own * work.leaf_inverse[i] - start_c[i]
        work.right[pattern.parent[i]] += work.leaf_pull[i] * own
    solve_block(work.e1, block, pattern, work)
    for i in range(pattern.followers, leaves):
        work.e1[i] += work.leaf_pull[i] * work.e1[pattern.parent[i]]
    for i in range(leaves, leaves + block):
        work.e1[i] -= start_c[i]


@jit
def next_stage(capacity, before, after, block, pattern, work):
    """after = P before. [K]"""
    leaves = pattern.leaves
    for i in range(leaves, leaves + block):
        work.right[i] = capacity[i] * before[i]
    for i in range(pattern.followers, leaves):
        work.right[pattern.parent[i]] += work.leaf_pull[i] * (capacity[i] * before[i])
    solve_block(after, block, pattern, work)
    for i in range(pattern.followers, leaves):
        after[i] = work.leaf_inverse[i] * (capacity[i] * before[i]) + work.leaf_pull[i] * after[pattern.parent[i]]


@jit_apart
def try_step(h, capacity, start_c, pattern, work):
    """One step from start_c with the prepared matrix, left in work.e1, e2, e3.

    Returns its largest difference from the embedded second-order twin among the block's nodes. [K]
    """
    if pattern.paired == 1:
        first, second, third = try_four(GAMMA * h, capacity, start_c, pattern, work)
        error = plus(plus(scaled(ERROR_1, first), scaled(ERROR_2, second)), scaled(ERROR_3, third))
        return max(abs(error[0]), abs(error[1]), abs(error[2]), abs(error[3]))
    return try_block(h, capacity, start_c, pattern.nodes - pattern.leaves, pattern, work)


@jit
def try_block(h, capacity, start_c, block, pattern, work):
    """``try_step`` with a block of so many rows."""
    first_stage(GAMMA * h, capacity, start_c, block, pattern, work)
    next_stage(capacity, work.e1, work.e2, block, pattern, work)
    next_stage(capacity, work.e2, work.e3, block, pattern, work)
    largest = 0.0
    for i in range(pattern.leaves, pattern.leaves + block):
        error = ERROR_1 * work.e1[i] + ERROR_2 * work.e2[i] + ERROR_3 * work.e3[i]
        largest = max(largest, abs(error))
    return largest


@jit
def end_c(node, start_c, work):
    """A node's temperature at the end of the step just tried. [°C]"""
    return start_c[node] + work.e1[node] + END_2 * work.e2[node] + END_3 * work.e3[node]


@jit
def mean_c(node, start_c, work):
    """A node's mean temperature over the step just tried. [°C]"""
    return start_c[node] + work.e1[node] + MEAN_2 * work.e2[node] + MEAN_3 * work.e3[node]


@jit
def stage_increments(node, work):
    """What each stage alone adds to a node: its slope times GAMMA times the step. [K]"""
    e1, e2, e3 = work.e1[node], work.e2[node], work.e3[node]
    return e1, MIDDLE_1 * e1 + MIDDLE_2 * e2, LAST_1 * e1 + LAST_2 * e2 + LAST_3 * e3


@jit
def hold_followers(span_s, capacity, temp_c, heat_w, pattern, work, held_w):
    """Fix each follower's temperature for a span, and give held_w, the heat inputs with what followers send.

    A follower (tank, bottle, battery: slow beside the air) stands over the span at the mean of its own decay towards
    its surroundings as they are now, (1 - exp(-x))/x taken as 1/(1 + x/2 + x²/12).
    """
    for i in range(pattern.followers, pattern.nodes):
        held_w[i] = heat_w[i]
    for i in range(pattern.followers):
        parent = pattern.parent[i]
        whole = work.leaf_sum[i]
        k_per_w = span_s / capacity[i]
        x = whole * k_per_w
        mean = 0.5 + x * (1.0 / 12.0)
        rate = heat_w[i] + work.leaf_g[i] * temp_c[parent] - whole * temp_c[i]
        work.held_c[i] = temp_c[i] + rate * k_per_w * mean / (1.0 + x * mean)
        held_w[parent] += work.leaf_g[i] * work.held_c[i]


@jit
def move_followers(span_s, capacity, temp_c, heat_w, gained, pattern, work, integral):
    """Move the followers on by what the span brought; ``gained`` is the nodes' time integral over the span. [K s]"""
    for i in range(pattern.followers):
        held = work.held_c[i] * span_s
        joules = heat_w[i] * span_s + work.leaf_g[i] * gained[pattern.parent[i]] - work.leaf_sum[i] * held
        temp_c[i] += joules / capacity[i]
        integral[i] += held
