"""What the circuits for ngspice have in common."""

from steffen import pieces


def rest_voltage(p):
    """E(s1) of battery.md as nested conditions over V(s1)."""
    n = int(p["rest.n"])
    x = [p[f"rest.soc.{i}"] for i in range(n)]
    y = [p[f"rest.V.{i}"] for i in range(n)]
    text = repr(y[-1])
    for start, end, a, b, c, d in reversed(list(pieces(x, y))):
        u = f"(V(s1)-{start!r})"
        text = f"(V(s1)<{end!r} ? {a!r}+{u}*({b!r}+{u}*({c!r}+{u}*({d!r}))) : {text})"
    return text
