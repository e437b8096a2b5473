"""One step of a linear network of nodes: the integrator and its solver.

The three-stage, stiffly accurate, L-stable diagonally implicit Runge-Kutta method of order three (R. Alexander, SIAM
J. Numer. Anal. 14 (1977) 1006). All stages share one matrix. Leaves (linings, tanks, bottles: nodes with one
neighbour) are folded into their neighbour, so that only a small dense block of air nodes is inverted. Slow leaves may
be followers: held over a quarter of an hour, then moved by what it brought.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from budget.compiled import jit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OUTDOORS = -1

USUAL_ERROR_K = 0.07  # how far a step may stand from its embedded second-order twin

GAMMA = 0.43586652150845967
A21 = (1.0 - GAMMA) / 2.0
B1 = -(6.0 * GAMMA * GAMMA - 16.0 * GAMMA + 1.0) / 4.0
B2 = (6.0 * GAMMA * GAMMA - 20.0 * GAMMA + 5.0) / 4.0


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
def prepare(h, capacity, burner, flows_on, slope_w_per_k, pattern, work):
    """Build and invert the matrix of a step: storage, network, duct flows and the thermostat's slope.

    Leaves are folded into their neighbour; the rest, a few air nodes, is a dense block. It is inverted rather than
    factorised: a product has no chain of dependent steps. No pivoting: the matrix is diagonally dominant.
    """
    leaves = pattern.leaves
    block = pattern.nodes - leaves
    inverse = 1.0 / (GAMMA * h)
    matrix = work.inverse
    for k in range(block):
        node = leaves + k
        storage = capacity[node] * inverse
        work.storage[node] = storage
        own = work.network[k, k] + storage
        for i in range(pattern.first_leaf[k], pattern.first_leaf[k + 1]):
            storage = capacity[i] * inverse
            work.storage[i] = storage
            leaf = 1.0 / (work.leaf_sum[i] + storage)
            work.leaf_inverse[i] = leaf
            work.leaf_pull[i] = work.leaf_g[i] * leaf
            own -= work.leaf_g[i] * work.leaf_pull[i]
        for j in range(block):
            matrix[j, k] = work.network[k, j]
        matrix[k, k] = own
    if flows_on:
        for e in range(burner.flows):
            g = work.flow[e]
            to = burner.flow_to[e] - leaves
            source = burner.flow_from[e]
            matrix[to, to] += g
            if source >= 0:
                matrix[source - leaves, to] -= g
    if slope_w_per_k != 0.0:
        sensor = burner.sensor - leaves
        for k in range(block):
            matrix[sensor, k] += work.share[k] * slope_w_per_k
    invert(matrix, block)


@jit
def invert(matrix, size):
    """Invert a diagonally dominant matrix in place, four columns at a time: what lies past its edge is scratch."""
    for k in range(size):
        own = 1.0 / matrix[k, k]
        matrix[k, k] = 1.0
        for j in range(0, size, 4):
            matrix[k, j] *= own
            matrix[k, j + 1] *= own
            matrix[k, j + 2] *= own
            matrix[k, j + 3] *= own
        for i in range(size):
            if i != k:
                factor = matrix[i, k]
                matrix[i, k] = 0.0
                for j in range(0, size, 4):
                    a = matrix[i, j] - factor * matrix[k, j]
                    b = matrix[i, j + 1] - factor * matrix[k, j + 1]
                    c = matrix[i, j + 2] - factor * matrix[k, j + 2]
                    d = matrix[i, j + 3] - factor * matrix[k, j + 3]
                    matrix[i, j] = a
                    matrix[i, j + 1] = b
                    matrix[i, j + 2] = c
                    matrix[i, j + 3] = d


@jit
def solve_stage(base_c, new_c, pattern, work):
    """One stage: new_c from base_c, (storage + network) new = storage base + heat."""
    leaves = pattern.leaves
    block = pattern.nodes - leaves
    for k in range(block):
        node = leaves + k
        right = work.storage[node] * base_c[node] + work.heat_w[node]
        for i in range(pattern.first_leaf[k], pattern.first_leaf[k + 1]):
            own = work.storage[i] * base_c[i] + work.heat_w[i]
            new_c[i] = own * work.leaf_inverse[i]
            right += work.leaf_pull[i] * own
        work.right[k] = right
    for k in range(0, block, 4):
        a = 0.0
        b = 0.0
        c = 0.0
        d = 0.0
        for j in range(block):
            right = work.right[j]
            a += work.inverse[j, k] * right
            b += work.inverse[j, k + 1] * right
            c += work.inverse[j, k + 2] * right
            d += work.inverse[j, k + 3] * right
        new_c[leaves + k] = a
        new_c[leaves + k + 1] = b
        new_c[leaves + k + 2] = c
        new_c[leaves + k + 3] = d
    for k in range(block):
        for i in range(pattern.first_leaf[k], pattern.first_leaf[k + 1]):
            new_c[i] += work.leaf_pull[i] * new_c[leaves + k]


@jit
def try_step(start_c, pattern, work):
    """One step from start_c with the prepared matrix: stages in work.t1, t2, t3, the last the end."""
    first = B1 / GAMMA
    second = B2 / GAMMA
    solve_stage(start_c, work.t1, pattern, work)
    for i in range(pattern.followers, pattern.nodes):
        work.d2[i] = start_c[i] + (A21 / GAMMA) * (work.t1[i] - start_c[i])
    solve_stage(work.d2, work.t2, pattern, work)
    for i in range(pattern.followers, pattern.nodes):
        work.d3[i] = start_c[i] + first * (work.t1[i] - start_c[i]) + second * (work.t2[i] - work.d2[i])
    solve_stage(work.d3, work.t3, pattern, work)


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
        x = whole * span_s / capacity[i]
        rate = heat_w[i] + work.leaf_g[i] * temp_c[parent] - whole * temp_c[i]
        work.held_c[i] = temp_c[i] + rate * span_s / capacity[i] * (0.5 + x / 12.0) / (1.0 + x * (0.5 + x / 12.0))
        held_w[parent] += work.leaf_g[i] * work.held_c[i]


@jit
def move_followers(span_s, capacity, temp_c, heat_w, gained, pattern, work, integral):
    """Move the followers on by what the span brought; ``gained`` is the nodes' time integral over the span. [K s]"""
    for i in range(pattern.followers):
        held = work.held_c[i] * span_s
        joules = heat_w[i] * span_s + work.leaf_g[i] * gained[pattern.parent[i]] - work.leaf_sum[i] * held
        temp_c[i] += joules / capacity[i]
        integral[i] += held


@jit
def end_increment(node, work):
    """What the last stage alone adds to a node: its slope at the end of the step times GAMMA times the step. [K]"""
    return work.t3[node] - work.d3[node]


@jit
def step_error(start_c, first, last, work):
    """Largest difference of the step just tried from its embedded second-order twin, nodes first to last - 1. [K]

    The twin uses the first two stages alone; its weights differ from the method's by GAMMA (1, -2, 1).
    """
    largest = 0.0
    for i in range(first, last):
        error = work.t1[i] - start_c[i] - 2.0 * (work.t2[i] - work.d2[i]) + end_increment(i, work)
        largest = max(largest, abs(error))
    return largest
