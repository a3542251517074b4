#!/usr/bin/python3
"""Smoothed values and slopes of a table, by scipy: outside truth for the tests of the curve room.

    smooth.py savgol WINDOW ORDER < TABLE
    smooth.py local WINDOW ORDER < TABLE
    smooth.py spline < TABLE

TABLE is CSV with x, y and, for `spline`, the standard uncertainty of y in a third column; x rising.
Prints "VALUE SLOPE" for each row, each with all its digits.

savgol  scipy.signal.savgol_filter over WINDOW points (odd), polynomial ORDER, x evenly spaced; at
        both ends the polynomial of the last whole window goes on.
local   numpy.polyfit of ORDER to the (up to) WINDOW points around each point, whatever their
        spacing; windows are cut at the ends.
spline  scipy.interpolate.UnivariateSpline with weights 1/u and its smoothing factor s = n.
"""

import sys

import numpy
import scipy.interpolate
import scipy.signal

sys.dont_write_bytecode = True
from integrate import read_table  # noqa: E402


def savgol(x, y, window, order):
    spacing = (x[-1] - x[0]) / (len(x) - 1)
    value = scipy.signal.savgol_filter(y, window, order, mode="interp")
    slope = scipy.signal.savgol_filter(y, window, order, deriv=1, delta=spacing, mode="interp")
    return value, slope


def local(x, y, window, order):
    half = window // 2
    value = numpy.empty_like(y)
    slope = numpy.empty_like(y)
    for i in range(len(x)):
        near = slice(max(0, i - half), min(len(x), i + half + 1))
        fit = numpy.polyfit(x[near] - x[i], y[near], order)
        value[i], slope[i] = fit[-1], fit[-2]
    return value, slope


def spline(x, y, u):
    fit = scipy.interpolate.UnivariateSpline(x, y, w=1 / u, s=len(x))
    return fit(x), fit.derivative()(x)


def main():
    table = read_table(sys.stdin)
    kind = sys.argv[1]
    if kind == "spline":
        value, slope = spline(*table[:3])
    else:
        way = {"savgol": savgol, "local": local}[kind]
        value, slope = way(table[0], table[1], int(sys.argv[2]), int(sys.argv[3]))
    for one in zip(value, slope):
        print(*(repr(float(number)) for number in one))


if __name__ == "__main__":
    main()
