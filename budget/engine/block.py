"""The dense block of the network, a few air nodes: its matrix inverted, and what the inverse gives."""

from __future__ import annotations

from budget.compiled import jit


@jit
def invert(matrix, size):
    """Invert a diagonally dominant matrix in place, two rows at a time; rows and columns past its edge are scratch."""
    if size % 2 == 1:
        for j in range(size):
            matrix[size, j] = 0.0
            matrix[j, size] = 0.0
        matrix[size, size] = 1.0
        size += 1
    for k in range(0, size, 2):
        a = matrix[k, k]
        b = matrix[k, k + 1]
        c = matrix[k + 1, k]
        d = matrix[k + 1, k + 1]
        scale = 1.0 / (a * d - b * c)
        a, b, c, d = d * scale, -b * scale, -c * scale, a * scale
        matrix[k, k] = 1.0
        matrix[k, k + 1] = 0.0
        matrix[k + 1, k] = 0.0
        matrix[k + 1, k + 1] = 1.0
        for j in range(0, size, 2):
            upper = matrix[k, j]
            upper_next = matrix[k, j + 1]
            lower = matrix[k + 1, j]
            lower_next = matrix[k + 1, j + 1]
            matrix[k, j] = a * upper + b * lower
            matrix[k, j + 1] = a * upper_next + b * lower_next
            matrix[k + 1, j] = c * upper + d * lower
            matrix[k + 1, j + 1] = c * upper_next + d * lower_next
        for i in range(size):
            if i != k and i != k + 1:
                first = matrix[i, k]
                second = matrix[i, k + 1]
                matrix[i, k] = 0.0
                matrix[i, k + 1] = 0.0
                for j in range(0, size, 2):
                    one = matrix[i, j] - first * matrix[k, j] - second * matrix[k + 1, j]
                    two = matrix[i, j + 1] - first * matrix[k, j + 1] - second * matrix[k + 1, j + 1]
                    matrix[i, j] = one
                    matrix[i, j + 1] = two


@jit
def times(a, b):
    """Product of two matrices of two rows, each written row by row."""
    return a[0] * b[0] + a[1] * b[2], a[0] * b[1] + a[1] * b[3], a[2] * b[0] + a[3] * b[2], a[2] * b[1] + a[3] * b[3]


@jit
def invert_four(matrix):
    """``invert`` of four rows: by blocks of two with a single division, since each waits for all before it.

    Of ((a, b), (c, d)): with the adjugate of a, the Schur complement times det a is d det a - c adj(a) b.
    """
    a = matrix[0, 0], matrix[0, 1], matrix[1, 0], matrix[1, 1]
    b = matrix[0, 2], matrix[0, 3], matrix[1, 2], matrix[1, 3]
    c = matrix[2, 0], matrix[2, 1], matrix[3, 0], matrix[3, 1]
    d = matrix[2, 2], matrix[2, 3], matrix[3, 2], matrix[3, 3]
    det = a[0] * a[3] - a[1] * a[2]
    adjugate = a[3], -a[1], -a[2], a[0]
    right = times(adjugate, b)
    left = times(c, adjugate)
    taken = times(c, right)
    p, q = det * d[0] - taken[0], det * d[1] - taken[1]
    r, s = det * d[2] - taken[2], det * d[3] - taken[3]
    rest = p * s - q * r
    over = 1.0 / (det * rest)
    scale = over * det
    lower = s * scale, -q * scale, -r * scale, p * scale  # inverse of the complement, over det a
    upper_right = times(right, lower)
    lower_left = times(lower, left)
    back = times(upper_right, left)
    scale = over * rest
    for k in range(2):
        matrix[0, k] = (adjugate[k] + back[k]) * scale
        matrix[1, k] = (adjugate[2 + k] + back[2 + k]) * scale
        matrix[0, 2 + k] = -upper_right[k]
        matrix[1, 2 + k] = -upper_right[2 + k]
        matrix[2, k] = -lower_left[k]
        matrix[3, k] = -lower_left[2 + k]
        matrix[2, 2 + k] = lower[k] * det
        matrix[3, 2 + k] = lower[2 + k] * det


@jit
def solve_block(into, block, pattern, work):
    """The block's part of a stage: into[leaves:] from work.right[leaves:], by columns of four."""
    leaves = pattern.leaves
    for k in range(0, block, 4):
        a = 0.0
        b = 0.0
        c = 0.0
        d = 0.0
        for j in range(block):
            value = work.right[leaves + j]
            a += work.inverse[j, k] * value
            b += work.inverse[j, k + 1] * value
            c += work.inverse[j, k + 2] * value
            d += work.inverse[j, k + 3] * value
        into[leaves + k] = a
        into[leaves + k + 1] = b
        into[leaves + k + 2] = c
        into[leaves + k + 3] = d
