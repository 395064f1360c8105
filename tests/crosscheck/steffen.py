"""Steffen's monotone cubic interpolation (M. Steffen 1990, A&A 239, 443)."""

from math import copysign


def slopes(x, y):
    n = len(x)
    h = [x[i + 1] - x[i] for i in range(n - 1)]
    s = [(y[i + 1] - y[i]) / h[i] for i in range(n - 1)]

    def at_end(h0, h1, s0, s1):
        p = s0 * (1 + h0 / (h0 + h1)) - s1 * h0 / (h0 + h1)
        if p * s0 <= 0:
            return 0.0
        return 2 * s0 if abs(p) > 2 * abs(s0) else p

    inner = []
    for i in range(1, n - 1):
        p = (s[i - 1] * h[i] + s[i] * h[i - 1]) / (h[i - 1] + h[i])
        signs = copysign(1.0, s[i - 1]) + copysign(1.0, s[i])
        inner.append(signs * min(abs(s[i - 1]), abs(s[i]), 0.5 * abs(p)))
    return [at_end(h[0], h[1], s[0], s[1]), *inner, at_end(h[-1], h[-2], s[-1], s[-2])]


def pieces(x, y):
    """(start, end, a, b, c, d) of each interval: a + b u + c u^2 + d u^3, u = x - start"""
    p = slopes(x, y)
    for i in range(len(x) - 1):
        h = x[i + 1] - x[i]
        s = (y[i + 1] - y[i]) / h
        yield (x[i], x[i + 1], y[i], p[i], (3 * s - 2 * p[i] - p[i + 1]) / h,
               (p[i] + p[i + 1] - 2 * s) / (h * h))


def value(x, y, at):
    """Ends are held."""
    if at <= x[0] or at >= x[-1]:
        return y[0] if at <= x[0] else y[-1]
    for start, end, a, b, c, d in pieces(x, y):
        if at <= end:
            u = at - start
            return a + u * (b + u * (c + u * d))
    raise AssertionError
