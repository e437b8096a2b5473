"""One step of a linear network of nodes: the integrator and its solver.

The three-stage, stiffly accurate, L-stable diagonally implicit Runge-Kutta method of order three (R. Alexander, SIAM
J. Numer. Anal. 14 (1977) 1006). All stages share one matrix. Leaves (linings, tanks, bottles: nodes with one
neighbour) are folded into their neighbour, so that only a small dense block of air nodes is factorised.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from budget.compiled import jit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OUTDOORS = -1

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
            work.network[i, j] = 0.0


@jit
def connect(a, b, g, pattern, work):
    """Put a conductance between node a and node b, or outdoors (b < 0). [W/K]"""
    leaves = pattern.leaves
    if a < leaves:
        work.leaf_sum[a] += g
        if b >= 0:
            work.leaf_g[a] += g
            work.network[b - leaves, b - leaves] += g
    elif b < 0:
        work.network[a - leaves, a - leaves] += g
    elif b < leaves:
        work.leaf_sum[b] += g
        work.leaf_g[b] += g
        work.network[a - leaves, a - leaves] += g
    else:
        work.network[a - leaves, a - leaves] += g
        work.network[b - leaves, b - leaves] += g
        work.network[a - leaves, b - leaves] -= g
        work.network[b - leaves, a - leaves] -= g


@jit
def prepare(h, capacity, burner, flows_on, slope_w_per_k, pattern, work):
    """Build and factorise the matrix of a step: storage, network, duct flows and the thermostat's slope.

    Leaves (nodes with one neighbour) are folded into their neighbour; the rest, a few air nodes, is a dense block.
    No pivoting: the matrix is diagonally dominant.
    """
    leaves = pattern.leaves
    block = pattern.nodes - leaves
    inverse = 1.0 / (GAMMA * h)
    matrix = work.matrix
    for i in range(block):
        for j in range(block):
            matrix[i, j] = work.network[i, j]
        matrix[i, i] += capacity[leaves + i] * inverse
    for i in range(leaves):
        own = 1.0 / (work.leaf_sum[i] + capacity[i] * inverse)
        work.leaf_inverse[i] = own
        work.leaf_pull[i] = work.leaf_g[i] * own
    for i in range(leaves):
        to = pattern.parent[i] - leaves
        matrix[to, to] -= work.leaf_g[i] * work.leaf_pull[i]
    if flows_on:
        for e in range(burner.flows):
            g = work.flow[e]
            to = burner.flow_to[e] - leaves
            source = burner.flow_from[e]
            matrix[to, to] += g
            if source >= 0:
                matrix[to, source - leaves] -= g
    if slope_w_per_k != 0.0:
        sensor = burner.sensor - leaves
        for i in range(block):
            matrix[i, sensor] += work.share[i] * slope_w_per_k
    for k in range(block):
        own = 1.0 / matrix[k, k]
        work.pivots[k] = own
        for i in range(k + 1, block):
            factor = matrix[i, k] * own
            matrix[i, k] = factor
            for j in range(k + 1, block):
                matrix[i, j] -= factor * matrix[k, j]


@jit
def solve_block(x, leaves, block, work):
    """Solve the prepared dense block for x[leaves:], in place."""
    matrix = work.matrix
    for k in range(block):
        value = x[leaves + k]
        for i in range(k + 1, block):
            x[leaves + i] -= matrix[i, k] * value
    for k in range(block - 1, -1, -1):
        value = x[leaves + k]
        for j in range(k + 1, block):
            value -= matrix[k, j] * x[leaves + j]
        x[leaves + k] = value * work.pivots[k]


@jit
def try_step(h, capacity, start_c, pattern, work):
    """One step of h seconds from start_c with the prepared matrix: stages in work.t1, t2, t3, the last the end.

    Each pass over the nodes finishes one stage of the leaves and opens the next.
    """
    n = pattern.nodes
    leaves = pattern.leaves
    block = n - leaves
    inverse = 1.0 / (GAMMA * h)
    ahead = A21 / GAMMA
    first = B1 / GAMMA
    second = B2 / GAMMA
    t1 = work.t1
    t2 = work.t2
    t3 = work.t3
    for i in range(leaves, n):
        work.storage[i] = capacity[i] * inverse
        t1[i] = work.storage[i] * start_c[i] + work.heat_w[i]
    for i in range(leaves):
        work.storage[i] = capacity[i] * inverse
        right = work.storage[i] * start_c[i] + work.heat_w[i]
        t1[i] = right * work.leaf_inverse[i]
        t1[pattern.parent[i]] += work.leaf_pull[i] * right
    solve_block(t1, leaves, block, work)
    for i in range(leaves, n):
        base = start_c[i] + ahead * (t1[i] - start_c[i])
        work.d2[i] = base
        t2[i] = work.storage[i] * base + work.heat_w[i]
    for i in range(leaves):
        value = t1[i] + work.leaf_pull[i] * t1[pattern.parent[i]]
        t1[i] = value
        base = start_c[i] + ahead * (value - start_c[i])
        work.d2[i] = base
        right = work.storage[i] * base + work.heat_w[i]
        t2[i] = right * work.leaf_inverse[i]
        t2[pattern.parent[i]] += work.leaf_pull[i] * right
    solve_block(t2, leaves, block, work)
    for i in range(leaves, n):
        base = start_c[i] + first * (t1[i] - start_c[i]) + second * (t2[i] - work.d2[i])
        t3[i] = work.storage[i] * base + work.heat_w[i]
    for i in range(leaves):
        value = t2[i] + work.leaf_pull[i] * t2[pattern.parent[i]]
        t2[i] = value
        base = start_c[i] + first * (t1[i] - start_c[i]) + second * (value - work.d2[i])
        right = work.storage[i] * base + work.heat_w[i]
        t3[i] = right * work.leaf_inverse[i]
        t3[pattern.parent[i]] += work.leaf_pull[i] * right
    solve_block(t3, leaves, block, work)
    for i in range(leaves):
        t3[i] += work.leaf_pull[i] * t3[pattern.parent[i]]
