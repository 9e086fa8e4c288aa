"""Slope of a window and its one-sided 95 % bound, by scipy: standard input and output are JSON."""
import json
import math
import sys

try:
    import numpy
    import scipy.stats
except ImportError as missing:
    sys.exit(f"this check needs scipy and numpy for /usr/bin/python3: {missing}")


def judged(window):
    time_s = (numpy.array(window["at_us"]) - window["at_us"][0]) * 1e-6
    value = numpy.array(window["value_pa"])
    n = len(value)
    line = scipy.stats.linregress(time_s, value)
    residual = value - (line.intercept + line.slope * time_s)
    r1 = float(residual[:-1] @ residual[1:] / (residual @ residual))
    floor = math.exp(-(time_s[-1] / (n - 1)) / window["response_time_s"])
    r = max(0.0, r1 + (1 + 4 * r1) / n, floor)
    effective = n * (1 - r) / (1 + r)
    t = scipy.stats.t.ppf(0.95, effective - 2)
    error = line.stderr * math.sqrt((1 + r) / (1 - r))
    bound = abs(line.slope) + max(t * error, window["resolution_pa"] / window["window_s"])
    return {
        "slope": line.slope,
        "scatter": math.sqrt(float(residual @ residual) / (n - 2)),
        "autocorrelation": r1,
        "effective_count": effective,
        "bound": bound,
        "u_mean": float(numpy.std(value, ddof=1)) / math.sqrt(effective),
    }


json.dump([judged(window) for window in json.load(sys.stdin)], sys.stdout)
