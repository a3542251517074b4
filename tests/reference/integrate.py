#!/usr/bin/python3
"""Integrals of a table, by numpy and scipy: outside truth for the tests of the curve room.

    integrate.py < TABLE

TABLE is CSV with x and y in its first two columns, x rising; lines that do not begin with a number
are passed over. Prints, each with all its digits:

    trapezoid VALUE
    simpson VALUE
    spline VALUE        (the integral of the cubic spline through the points)
"""

import sys

import numpy
import scipy.integrate
import scipy.interpolate


def read_table(stream):
    """The columns of a CSV table of numbers."""
    rows = []
    for line in stream:
        cells = line.split(",")
        try:
            rows.append([float(cell) for cell in cells])
        except ValueError:
            continue
    return numpy.array(rows).T


def main():
    x, y = read_table(sys.stdin)[:2]
    print("trapezoid", repr(float(numpy.trapz(y, x))))
    print("simpson", repr(float(scipy.integrate.simpson(y, x=x))))
    spline = scipy.interpolate.CubicSpline(x, y)
    print("spline", repr(float(spline.integrate(x[0], x[-1]))))


if __name__ == "__main__":
    main()
